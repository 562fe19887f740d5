"""`allot` from the command line: screens, exit status, machine output, the missing extra."""

import json
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, call, environment, run
from tests.reports.schemas import validate
from tests.test_startup import loaded

SHORT = """\
[craft]
name = "Plover"
[ports.usb]
kind = "usb"
[ports.a]
kind = "hardware"
highest_rate = 115200
clock = "36 MHz"
oversampling = 16
inverter = false
one_wire = false
[ports.s]
kind = "software"
highest_rate = 19200
inverter = true
one_wire = false
[devices.position]
kind = "position"
port = "a"
rate = 115200
framing = "8N1"
inverted = false
one_wire = false
[devices.telemetry]
kind = "telemetry"
rate = 57600
framing = "8N1"
inverted = false
one_wire = false
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "short.build.toml").write_text(SHORT, encoding="utf-8")
    sheet = (CORPUS / "dipper.build.toml").read_text(encoding="utf-8")
    port = "[ports.uart1]\n"
    head, _, rest = sheet.partition(port)
    moved = head + port + rest.replace("inverter = true", "inverter = false", 1)
    (tmp_path / "moved.build.toml").write_text(moved, encoding="utf-8")
    for name in ("dipper.dump", "cfgaudit.toml"):
        shutil.copy(CORPUS / name, tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    for name in ("dipper", "sandpiper", "wagtail", "goosander"):
        shutil.copy(CORPUS / f"{name}.build.toml", tmp_path)
    return tmp_path


def told(monkeypatch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> dict[str, Any]:
    answer = call(monkeypatch, ["allot", *arguments, "--format", "json"], cwd=folder)
    said: dict[str, Any] = json.loads(answer.out)
    validate(said, "allot")
    assert answer.status == int(not said["possible"])
    return said


@pytest.mark.parametrize("name", ["dipper", "sandpiper", "wagtail", "goosander"])
def test_the_craft_of_the_corpus_stay_as_they_are_wired(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    files = [f"{name}.build.toml", f"{name}.dump"]
    answer = call(monkeypatch, ["allot", *files])
    assert answer.status == 0
    assert "Every device has a port" in answer.out
    said = told(monkeypatch, CORPUS, *files)
    assert said["sheet_edits"] == said["files"] == said["lacks"] == said["unsaid"] == []


def test_a_move_is_shown_as_edits_of_the_sheet_and_lines_of_the_dump(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """Dipper's receiver is inverted; without an inverter on uart1 it goes to a free port."""
    out = call(monkeypatch, ["allot", "moved.build.toml", "dipper.dump"], cwd=folder).out
    assert 'devices.receiver.port = "uart4"' in out
    assert "was uart1" in out
    assert "    [port brook4]\n" in out
    assert "    speed = 1000\n" in out
    assert "    upside_down = yes\n" in out, "the link's own level goes with it"
    assert "--write" not in out
    said = told(monkeypatch, folder, "moved.build.toml", "dipper.dump")
    (edit,) = said["sheet_edits"]
    assert (edit["old"], edit["new"]) == ("uart1", "uart4")


def test_what_is_not_possible_says_who_competes_and_what_would_free_a_port(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = call(monkeypatch, ["allot", "short.build.toml"], cwd=folder)
    assert answer.status == 1
    assert "NOT POSSIBLE\n  telemetry and position compete for a.\n" in answer.out
    assert "telemetry at 19,200 Bd" in answer.out
    said = told(monkeypatch, folder, "short.build.toml")
    assert said["competing"] == {"who": ["telemetry", "position"], "ports": ["a"]}


def test_why_says_for_each_device_what_stands_in_the_way(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    short = call(monkeypatch, ["allot", "short.build.toml"], cwd=folder).out
    long = call(monkeypatch, ["allot", "short.build.toml", "--why"], cwd=folder).out
    why = "it reaches 19,200 Bd, and 57,600 Bd is wanted."
    assert why not in short
    assert why in long


def test_lines_fit_on_a_narrow_screen(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    for name in ("short", "moved", "dipper"):
        out = call(monkeypatch, ["allot", f"{name}.build.toml", "--why"], cwd=folder).out
        assert max(len(line) for line in out.splitlines()) <= 80


def test_the_answer_does_not_depend_on_hashing(folder: Path) -> None:
    outs = {
        run(
            "allot", "short.build.toml", "--why", cwd=folder, env=environment(PYTHONHASHSEED=seed)
        ).out
        for seed in ("0", "1", "4")
    }
    assert len(outs) == 1


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (SHORT.partition("[devices")[0], "has no device"),
        ('[devices.t]\nkind = "telemetry"\n', "has no port"),
        ('[ports.a]\nkind = "hardwear"\n', "did you mean hardware?"),
    ],
)
def test_a_sheet_that_can_t_be_allotted_says_so_in_a_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str, says: str
) -> None:
    (tmp_path / "x.toml").write_text(text, encoding="utf-8")
    answer = call(monkeypatch, ["allot", "x.toml"], cwd=tmp_path)
    assert answer.status == 2
    assert says in answer.err
    assert answer.out == ""


def test_without_networkx_one_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "networkx", None)
    answer = call(monkeypatch, ["allot", "dipper.build.toml"])
    assert answer.status == 2
    assert answer.err == (
        "Error: allot needs networkx; install it with: pip install 'cfgaudit[bench]'\n"
    )


def test_networkx_is_loaded_by_allot_alone() -> None:
    assert "networkx" in loaded("allot", "dipper.build.toml")
    assert "networkx" not in loaded("bench", "dipper.build.toml")
