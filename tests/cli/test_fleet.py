"""check and compare with several craft: what they do to one another."""

import json
from pathlib import Path

import pytest

from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.reports.check import together_lines
from cfgaudit.reports.screen import Screen
from cfgaudit.settings import Origin, Settings, Stated
from tests.cli.calling import call
from tests.reports.schemas import validate

TEAL = "[craft]\nname = teal\n[video.transmitter]\nenabled = on\nfrequency = 5800 MHz\n"
GOLDEN = ["dipper.dump", "sandpiper.dump", "wagtail.dump", "goosander.dump"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    texts = {
        "teal": TEAL,
        "coot": TEAL.replace("teal", "coot").replace("5800", "5810"),
        "rail": TEAL.replace("teal", "rail").replace("5800", "5860"),
        "off": TEAL.replace("teal", "knot").replace("on\n", "off\n", 1),
        "mute": "[craft]\nname = smew\n",
    }
    for name, text in texts.items():
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    return tmp_path


def together(out: str) -> str:
    """The part of a screen about all the craft, its lines as one; empty where there is none."""
    _, mark, rest = out.partition("\nTogether · ")
    return " ".join((mark + rest.partition("\nIn all: ")[0]).split())


def test_a_clash_stands_below_the_dumps_with_each_place_in_its_own_file(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = call(monkeypatch, ["check", "teal.cfg", "rail.cfg", "coot.cfg"], cwd=folder)
    said = together(answer.out)
    assert said.startswith("Together · teal, rail and coot ERROR fleet/same-frequency ")
    assert "teal.cfg:5:13 video.transmitter.frequency coot.cfg:5:13" in said
    assert said.endswith(
        "1 error. Do not fly them together before the errors are cleared. "
        "A clean audit is no proof that a craft is safe."
    )
    assert "fleet/" not in answer.out.partition("\nTogether")[0]


@pytest.mark.parametrize(
    ("dumps", "level", "status"),
    [
        (["teal", "coot"], "error", 1),
        (["teal", "coot"], "never", 0),
        (["teal", "rail"], "error", 0),
        (["teal", "off"], "error", 0),
        (["teal"], "error", 0),
    ],
)
def test_the_status_counts_what_the_craft_do_to_one_another(
    monkeypatch: pytest.MonkeyPatch, folder: Path, dumps: list[str], level: str, status: int
) -> None:
    files = [f"{dump}.cfg" for dump in dumps]
    for form in ("terminal", "json"):
        asked = ["check", *files, "--fail-on", level, "--format", form]
        assert call(monkeypatch, asked, cwd=folder).status == status


def test_one_craft_alone_has_no_part_together_even_in_two_dumps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = ["check", "wagtail.dump", "--with", "wagtail-esc.dump"]
    assert together(call(monkeypatch, asked).out) == ""
    assert json.loads(call(monkeypatch, [*asked, "--format", "json"]).out)["fleet"] is None


def test_a_craft_that_does_not_say_its_frequency_keeps_no_other_from_being_checked(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    asked = ["check", "teal.cfg", "mute.cfg", "coot.cfg"]
    answer = call(monkeypatch, asked, cwd=folder)
    assert answer.status == 1
    assert (
        "Not checked for smew, for want of video.transmitter.frequency: "
        "fleet/same-frequency, fleet/intermodulation and fleet/three-way-mix."
    ) in together(answer.out)
    fleet = json.loads(call(monkeypatch, [*asked, "--format", "json"], cwd=folder).out)["fleet"]
    lack = {"craft": 1, "path": "video.transmitter.frequency", "called": {}}
    assert [entry["lacks"] for entry in fleet["not_checked"]] == [[lack], [lack], [lack]]
    (finding,) = fleet["findings"]
    assert finding["crafts"] == [0, 2]
    assert [place["file"] for place in finding["places"]] == ["teal.cfg", "coot.cfg"]


def test_compare_shows_a_clash_below_its_table_and_nothing_where_there_is_none(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = call(monkeypatch, ["compare", "teal.cfg", "coot.cfg"], cwd=folder)
    assert answer.status == 0
    assert answer.out.index("differs.") < answer.out.index("\nTogether · teal and coot")
    assert "fleet/same-frequency" in together(answer.out)
    assert together(call(monkeypatch, ["compare", "teal.cfg", "rail.cfg"], cwd=folder).out) == ""
    said = call(monkeypatch, ["compare", "teal.cfg", "coot.cfg", "--format", "json"], cwd=folder)
    fleet = json.loads(said.out)["fleet"]
    assert [finding["rule"] for finding in fleet["findings"]] == ["fleet/same-frequency"]


def test_the_golden_craft_may_fly_together(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["check", *GOLDEN])
    assert answer.status == 0
    assert together(answer.out).endswith(
        "Goosander Nothing found. A clean audit is no proof that a craft is safe."
    )
    assert together(call(monkeypatch, ["compare", *GOLDEN]).out) == ""


@pytest.mark.parametrize("command", ["check", "compare"])
def test_machine_output_of_several_craft_fits_its_schema(
    monkeypatch: pytest.MonkeyPatch, folder: Path, command: str
) -> None:
    files = ["teal.cfg", "mute.cfg", "coot.cfg"]
    said = call(monkeypatch, [command, *files, "--format", "json"], cwd=folder).out
    validate(json.loads(said), command)


def test_a_factory_frequency_is_told_with_the_craft_whose_it_is() -> None:
    path = "video.transmitter.frequency"
    stated = {path: Stated(path, 5800.0, origin=Origin.FACTORY)}
    stated |= {"craft.name": Stated("craft.name", "teal")}
    screen = Screen(80)
    crafts = [Settings(stated), Settings({path: Stated(path, 5800.0)})]
    together_lines(screen, audit_fleet(crafts))
    assert f"teal  {path} (factory value)" in screen.plain()
