"""What a command tells to do next can be done, and what can't be taken is said in plain words."""

import shlex
import shutil
import tomllib
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call

UNKNOWN = """; rushes 3.1 on board Fen 2
craft name: Teal
craft keeper: north team
loop rate hz: 4000
idle throttle percent: 5.5
battery cells: 4
; listing ends
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "teal.dump").write_text(UNKNOWN)
    return tmp_path


@pytest.mark.parametrize("more", [[], ["--name", "reeds"]])
def test_what_dialect_new_says_is_next_goes_on_with_its_own_file(
    monkeypatch: pytest.MonkeyPatch, folder: Path, more: list[str]
) -> None:
    made = call(
        monkeypatch, ["dialect", "new", "teal.dump", *more, "--output", "rushes.toml"], cwd=folder
    )
    following = shlex.split(made.err.partition("Next: cfgaudit ")[2].splitlines()[0])
    answer = call(monkeypatch, [*following, "--most", "0", "--no-remember"], cwd=folder)
    assert answer.status == 0, answer.err
    assert {path.name for path in folder.iterdir()} == {"teal.dump", "rushes.toml"}


@pytest.mark.parametrize("made", ["rushes.toml", "known/rushes.toml", "../outside.toml"])
def test_a_dialect_is_remembered_as_it_is_reached_from_the_settings(
    monkeypatch: pytest.MonkeyPatch, folder: Path, made: str
) -> None:
    (folder / "boat" / "known").mkdir(parents=True)
    shutil.move(folder / "teal.dump", folder / "boat")
    asked = ["dialect", "new", "teal.dump", "--remember", "--output", made]
    assert call(monkeypatch, asked, cwd=folder / "boat").status == 0
    said = tomllib.loads((folder / "boat" / "cfgaudit.toml").read_text())
    assert said["cfgaudit"]["dialects"] == [made]


@pytest.mark.parametrize("time", ["yesterday 25:00", "24:00", "soon", "2026-13-40 10:00"])
def test_a_time_that_is_none_is_refused_without_codes(
    monkeypatch: pytest.MonkeyPatch, time: str
) -> None:
    asked = ["bench", "dipper.build.toml", "dipper.dump", "--done", "x", "--at", time]
    answer = call(monkeypatch, asked)
    assert answer.status == 2
    assert "yesterday 16:45" in answer.err
    assert "%" not in answer.err


@pytest.mark.parametrize("subject", ["battery.warn_cell", "esc.idle_least", "failsafe"])
def test_an_option_that_does_nothing_for_a_subject_is_refused(
    monkeypatch: pytest.MonkeyPatch, subject: str
) -> None:
    answer = call(monkeypatch, ["explain", subject, "--for", "dipper.dump"])
    assert answer.status == 2
    assert "--for goes with one rule" in answer.err


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        ('build = "dipper.build.toml"\n[craft.egret]\nbuild = "e.toml"\n', False),
        ('build = "dipper.build.toml"\n[craft.Dipper]\nbuild = "e.toml"\n', True),
        ('[craft.egret]\nbuild = "e.toml"\n', True),
    ],
)
def test_a_table_of_another_craft_is_told_only_where_it_may_be_this_ones(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, tables: str, told: bool
) -> None:
    shutil.copy(CORPUS / "dipper.dump", tmp_path)
    shutil.copy(CORPUS / "dipper.build.toml", tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    (tmp_path / "cfgaudit.toml").write_text(
        f'[cfgaudit]\ndialects = ["dialects"]\n[craft]\n{tables}'
    )
    answer = call(monkeypatch, ["check", "dipper.dump"], cwd=tmp_path)
    assert ("is of no craft here" in answer.err) is told


def test_a_craft_whose_firmware_is_not_named_is_told_by_its_board(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.cfg").write_text(
        'craft.name = "Redshank"\nboard.name = "Sluice 2"\n', encoding="utf-8"
    )
    said = call(monkeypatch, ["show", "a.cfg"], cwd=tmp_path)
    assert said.out.startswith("Redshank · Sluice 2 · a.cfg: ")


def test_no_error_stands_below_a_warning(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    said = "battery.chemistry = gold\nfailsafe.action = none\n"  # the first has no cause
    sends = "video.transmitter.enabled = on\nvideo.transmitter.power = 200 mW\n"
    (tmp_path / "a.cfg").write_text(said + sends)
    out = call(monkeypatch, ["check", "a.cfg", "--color", "never"], cwd=tmp_path).out
    first, unlisted, power = (
        out.index(f"\n{head}") for head in ("1  When the link", "ERROR", "2  The video")
    )
    assert first < unlisted < power


def test_an_earlier_dump_of_another_craft_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name in ("Redshank", "Curlew"):
        (tmp_path / f"{name}.cfg").write_text(f"craft.name = {name}\nbattery.cells = 4\n")
    said = call(monkeypatch, ["check", "Redshank.cfg", "--since", "Curlew.cfg"], cwd=tmp_path)
    assert "Curlew.cfg may be another craft's: it has another craft.name." in said.err


def test_a_build_sheet_that_states_nothing_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a.cfg").write_text("craft.name = Redshank\nbattery.cells = 4\n")
    (tmp_path / "a.toml").write_text("# nothing yet\n")
    said = call(monkeypatch, ["check", "a.cfg", "--build", "a.toml"], cwd=tmp_path)
    assert "a.toml: the build sheet states nothing" in said.err


def test_two_dumps_in_one_file_are_one_finding(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    one = [f"banks.{n}.gains.roll.{term} = 40" for n in (1, 2, 3) for term in ("p", "i", "d", "ff")]
    text = "\n".join(["craft.name = Redshank", *one, "craft.name = Curlew", *one])
    (tmp_path / "a.cfg").write_text(text + "\n")
    out = call(monkeypatch, ["check", "a.cfg", "--long"], cwd=tmp_path).out
    assert out.count("dump/said-twice") == 1
    assert "13 settings are stated more than once, 1 of them with different" in out
    assert "from about line 14 on" in " ".join(out.split())
