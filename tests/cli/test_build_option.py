"""`--build`, and the build sheets that a folder's settings name."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.schemas import validate
from tests.test_startup import loaded, ours

BENCH = "cfgaudit.work"
RULE = "power/rail-out-of-range"
GOOD = '[rails.5V]\nvoltage = 5\n[devices.gnss]\nrail = "5V"\nsupply = "4.5..5.5 V"\n'
BAD = GOOD.replace("voltage = 5", "voltage = 12")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the first part of two dumps, the dialects and no build sheet."""
    for name, rest in (("dipper", "\n[pad "), ("wagtail", "\npad ")):
        first, found, _ = (CORPUS / f"{name}.dump").read_text(encoding="utf-8").partition(rest)
        assert found
        (tmp_path / f"{name}.dump").write_text(f"{first}\n", encoding="utf-8")
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    say(tmp_path, "")
    (tmp_path / "good.toml").write_text(GOOD, encoding="utf-8")
    (tmp_path / "bad.toml").write_text(BAD, encoding="utf-8")
    return tmp_path


def say(folder: Path, craft: str) -> None:
    text = f'[cfgaudit]\ndialects = ["dialects"]\n{craft}'
    (folder / "cfgaudit.toml").write_text(text, encoding="utf-8")


def checked(monkeypatch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> list[Any]:
    answer = call(monkeypatch, ["check", *arguments, "--format", "json"], cwd=folder)
    assert answer.status in (0, 1), answer.err
    told = json.loads(answer.out)
    validate(told, "check")
    dumps: list[Any] = told["dumps"]
    return dumps


def refused(monkeypatch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> str:
    answer = call(monkeypatch, arguments, cwd=folder)
    assert (answer.status, answer.out) == (2, "")
    return answer.err


def fired(dump: dict[str, Any]) -> list[str]:
    return [finding["rule"] for finding in dump["findings"] if finding["rule"] == RULE]


def test_without_a_sheet_the_rules_that_want_one_are_not_checked(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (dump,) = checked(monkeypatch, folder, "dipper.dump")
    assert dump["build"] is None
    wanting = [entry for entry in dump["not_checked"] if entry["wants_build"]]
    assert RULE in [entry["rule"] for entry in wanting]
    assert all(entry["lacks"] == ["the build sheet"] for entry in wanting)


def test_the_last_lines_say_how_many_rules_want_a_sheet(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    out = " ".join(call(monkeypatch, ["check", "dipper.dump"], cwd=folder).out.split())
    assert " a build sheet (--build)" in out
    short = folder / "short.cfg"
    short.write_text("craft.name = reed\nbattery.cells = 4\n", encoding="utf-8")
    out = " ".join(call(monkeypatch, ["check", "short.cfg"], cwd=folder).out.split())
    assert " a build sheet (--build), " in out
    assert "wholly or in part, " in out
    out = call(monkeypatch, ["check", "dipper.dump", "--unchecked"], cwd=folder).out
    assert "lacks the build sheet" in out


def test_a_sheet_named_with_the_option_is_what_the_rules_look_at(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (dump,) = checked(monkeypatch, folder, "dipper.dump", "--build", "good.toml")
    assert (dump["build"], fired(dump)) == ("good.toml", [])
    assert RULE not in [entry["rule"] for entry in dump["not_checked"]]
    (dump,) = checked(monkeypatch, folder, "dipper.dump", "--build", "bad.toml")
    (finding,) = [entry for entry in dump["findings"] if entry["rule"] == RULE]
    assert {(place["file"], place["line"]) for place in finding["places"]} == {
        ("bad.toml", 2),
        ("bad.toml", 4),
        ("bad.toml", 5),
    }


def test_each_craft_has_the_sheet_that_is_named_with_its_dump(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    both = ["dipper.dump", "wagtail.dump"]
    one = ["--build", "wagtail.dump=bad.toml"]
    told = checked(monkeypatch, folder, *both, *one, "--build", "dipper.dump=good.toml")
    assert [fired(dump) for dump in told] == [[], [RULE]]
    told = checked(monkeypatch, folder, *both, *one)
    assert [dump["build"] for dump in told] == [None, "bad.toml"]
    err = refused(monkeypatch, folder, "check", *both, "--build", "bad.toml")
    assert "--build dipper.dump=bad.toml" in err
    err = refused(
        monkeypatch, folder, "check", "dipper.dump", "--build", "bad.toml", "--build", "good.toml"
    )
    assert "one craft has one build sheet" in err


@pytest.mark.parametrize(
    "craft",
    [
        '[craft]\nbuild = "bad.toml"',
        '[craft.dipper]\nbuild = "bad.toml"',
        '[craft]\nbuild = "good.toml"\n[craft.dipper]\nbuild = "bad.toml"',
    ],
)
def test_the_folder_s_settings_name_the_sheet_of_one_craft_or_of_all(
    monkeypatch: pytest.MonkeyPatch, folder: Path, craft: str
) -> None:
    say(folder, craft)
    (dump,) = checked(monkeypatch, folder, "dipper.dump")
    assert (Path(dump["build"]).name, fired(dump)) == ("bad.toml", [RULE])
    (dump,) = checked(monkeypatch, folder, "dipper.dump", "--build", "good.toml")
    assert fired(dump) == []


def test_a_craft_is_known_by_its_name_before_its_file(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    say(folder, '[craft."Wagtail 3"]\nbuild = "bad.toml"\n[craft.wagtail]\nbuild = "good.toml"')
    (dump,) = checked(monkeypatch, folder, "wagtail.dump")
    assert fired(dump) == [RULE]
    say(folder, '[craft.wagtail]\nbuild = "bad.toml"')
    (dump,) = checked(monkeypatch, folder, "wagtail.dump")
    assert fired(dump) == [RULE]
    (dump,) = checked(monkeypatch, folder, "dipper.dump")
    assert dump["build"] is None


def told(monkeypatch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> str:
    """What check says on standard error."""
    return call(monkeypatch, ["check", *arguments], cwd=folder).err


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("DIPPER", "; letter case counts: dipper"),
        ("diper", "; did you mean dipper?"),
    ],
)
def test_a_table_of_no_craft_is_told_with_its_line_and_what_is_nearly_so(
    monkeypatch: pytest.MonkeyPatch, folder: Path, name: str, hint: str
) -> None:
    say(folder, f'[craft]\nbuild = "good.toml"\n[craft.{name}]\nbuild = "bad.toml"\n')
    line = f"cfgaudit.toml:5: [craft.{name}] is of no craft here{hint}\n"
    assert told(monkeypatch, folder, "dipper.dump") == line


def test_a_dump_that_was_not_read_may_be_of_a_craft_with_a_capital(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "turnstone.dump").write_text("[craft]\nname = Turnstone\n", encoding="utf-8")
    say(folder, '[craft.Turnstone]\nbuild = "bad.toml"\n')
    assert "Turnstone" not in told(monkeypatch, folder, "dipper.dump")


def test_a_table_of_a_craft_that_was_not_read_is_nothing_to_tell(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    say(folder, '[craft.wagtail]\nbuild = "good.toml"\n')
    assert told(monkeypatch, folder, "dipper.dump") == ""
    say(folder, '[craft.dipper]\nbuild = "good.toml"\n[craft.heron]\nbuild = "good.toml"\n')
    assert told(monkeypatch, folder, "dipper.dump") == "", "the craft has what is its own"
    say(folder, '[craft.DIPPER]\nbuild = "bad.toml"\n')
    assert told(monkeypatch, folder, "dipper.dump", "--build", "good.toml") == ""


def test_a_sheet_is_looked_for_beside_the_settings_that_name_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    say(folder, '[craft]\nbuild = "bad.toml"')
    (folder / "below").mkdir()
    shutil.copy(folder / "dipper.dump", folder / "below")
    (dump,) = checked(monkeypatch, folder, "below/dipper.dump")
    assert dump["build"] == "bad.toml"


@pytest.mark.parametrize(
    ("craft", "told"),
    [
        ('[craft]\nbuild = "no.toml"', "cfgaudit.toml:4: build: there is no no.toml"),
        ("[craft]\nbuild = 3", "cfgaudit.toml:4: build wants the name of a file"),
        ('[craft]\nsheet = "x"', "cfgaudit.toml:4: sheet is no setting of [craft]"),
        ('[craft.dipper]\nbuilt = "x"', "cfgaudit.toml:4: built is no setting of a craft; build"),
        ("[craft.dipper]\n", 'cfgaudit.toml:3: [craft.dipper] wants build = "FILE"'),
        ("[[craft]]\n", "cfgaudit.toml:3: [craft] must be a table"),
    ],
)
def test_settings_that_name_a_sheet_wrongly_are_refused_with_their_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path, craft: str, told: str
) -> None:
    say(folder, craft)
    assert told in refused(monkeypatch, folder, "check", "dipper.dump")


def test_every_fault_of_a_sheet_is_told_and_nothing_is_audited(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "x.toml").write_text("[motor]\n[battery]\ncells = 99\n", encoding="utf-8")
    err = refused(monkeypatch, folder, "check", "dipper.dump", "--build", "x.toml")
    assert "x.toml has 2 faults:\nx.toml:1: " in err
    assert "\nx.toml:3: battery.cells: 99 is not" in err
    err = refused(monkeypatch, folder, "check", "dipper.dump", "--build", "none.toml")
    assert "none.toml can't be read" in err


def test_a_diff_brings_the_findings_of_the_sheet_of_its_side(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    shutil.copy(folder / "dipper.dump", folder / "later.dump")
    asked = ["diff", "dipper.dump", "later.dump", "--format", "json"]
    both = call(monkeypatch, [*asked, "--build", "bad.toml"], cwd=folder)
    assert json.loads(both.out)["findings_new"] == []
    sides = ["--build", "dipper.dump=good.toml", "--build", "later.dump=bad.toml"]
    told = json.loads(call(monkeypatch, [*asked, *sides], cwd=folder).out)
    assert [finding["rule"] for finding in told["findings_new"]] == [RULE]
    one = json.loads(call(monkeypatch, [*asked, *sides[2:]], cwd=folder).out)
    assert one["findings_new"] == [], "a side without a sheet was not checked for it"


def test_compare_lists_what_differs_in_the_sheets_that_are_named(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    asked = ["compare", "dipper.dump", "wagtail.dump", "--format", "json"]
    sides = ["--build", "dipper.dump=good.toml", "--build", "wagtail.dump=bad.toml"]
    told = json.loads(call(monkeypatch, [*asked, *sides], cwd=folder).out)
    validate(told, "compare")
    rows = {row["path"]: row for row in told["rows"] if row["path"].startswith("sheet.")}
    assert list(rows) == ["sheet.rails.5V.voltage"]
    assert rows["sheet.rails.5V.voltage"]["class"] == "power"
    assert rows["sheet.rails.5V.voltage"]["origins"] == ["sheet", "sheet"]
    plain = json.loads(call(monkeypatch, asked, cwd=folder).out)
    assert not [row for row in plain["rows"] if row["path"].startswith("sheet.")]


def test_show_lists_the_sheet_where_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    out = call(monkeypatch, ["show", "dipper.dump", "sheet.rails", "battery.cells"]).out
    assert "sheet.rails.pack.voltage" in out
    assert "13.2..16.8 V" in out
    assert "battery.cells" in out
    assert "sheet." not in call(monkeypatch, ["show", "dipper.dump"]).out
    asked = ["show", "dipper.dump", "--build", "wagtail.build.toml", "--format", "json"]
    told = json.loads(call(monkeypatch, asked).out)
    validate(told, "show")
    entry = told["settings"]["sheet.motors.front_left.output"]
    assert (entry["origin"], entry["file"], entry["unit"]) == ("sheet", "wagtail.build.toml", "")
    assert told["settings"]["sheet.rails.pack.voltage"]["value"] == [13.2, 16.8]


def test_show_suggests_a_near_miss_in_the_sheet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answer = call(monkeypatch, ["show", "dipper.dump", "sheet.battery.cell"])
    assert answer.status == 2
    assert "did you mean sheet.battery.cells" in answer.err


def test_explain_knows_the_sheet_s_settings_and_the_rules_that_look_at_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out = call(monkeypatch, ["explain", "sheet.motors.ARM.wires"]).out
    assert "sheet.motors.ARM.wires" in out
    assert "straight, swapped" in out
    assert out == call(monkeypatch, ["explain", "sheet.motors.front_left.wires"]).out
    assert "build sheet" in call(monkeypatch, ["explain", RULE]).out
    err = call(monkeypatch, ["explain", "sheet.motors.ARM.wire"]).err
    assert "Did you mean sheet.motors.ARM.wires" in err


def test_a_waiver_may_name_a_setting_of_the_sheet(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    waiver = f'[[waive]]\nrule = "{RULE}"\nat = "sheet.devices.gnss.rail"\n'
    say(folder, waiver + 'because = "it has a regulator of its own"\nuntil = 2030-01-01\n')
    asked = ["dipper.dump", "--build", "bad.toml", "--today", "2026-01-01"]
    (dump,) = checked(monkeypatch, folder, *asked)
    (finding,) = [entry for entry in dump["findings"] if entry["rule"] == RULE]
    assert finding["waived"]["until"] == "2030-01-01"


def test_an_empty_table_of_a_sheet_is_told_and_the_audit_goes_on(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    text = (folder / "good.toml").read_text(encoding="utf-8")
    (folder / "odd.toml").write_text(f"{text}\n[devices.lamp]\n", encoding="utf-8")
    said = call(monkeypatch, ["check", "dipper.dump", "--build", "odd.toml"], cwd=folder)
    assert said.err == "odd.toml: nothing is stated in [devices.lamp]: taken as not there\n"
    good = call(monkeypatch, ["check", "dipper.dump", "--build", "good.toml"], cwd=folder)
    told = said.out.replace("odd.toml", "good.toml")  # lines may break elsewhere
    assert (said.status, told.split()) == (good.status, good.out.split())


def test_nothing_of_the_sheet_is_loaded_where_none_is_given(folder: Path) -> None:
    shutil.copy(CORPUS / "dipper.dump", folder)  # the whole one, which has nothing to mend
    modules = ours(loaded("check", "dipper.dump", cwd=folder))
    assert not [name for name in modules if name.startswith(("cfgaudit.craft.sheet", BENCH))]
    modules = ours(loaded("check", "dipper.dump", "--build", "good.toml", cwd=folder))
    assert "cfgaudit.craft.sheet" in modules
    # what a finding's lines and its sure mends are told by; a device asks things of its port
    told = {BENCH, *(f"{BENCH}.{name}" for name in ("causes", "mend", "allot", "matching"))}
    assert not [name for name in modules - told if name.startswith(BENCH)]


def test_a_dump_of_another_craft_than_its_file_is_called_by_is_told(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    say(folder, '[craft.dipper]\nbuild = "good.toml"\n[craft.plover]\nbuild = "good.toml"\n')
    (folder / "plover.dump").write_bytes((folder / "dipper.dump").read_bytes())
    line = "plover.dump is a dump of dipper, so [craft.plover] of cfgaudit.toml is not used"
    assert line in told(monkeypatch, folder, "plover.dump")
    assert line not in told(monkeypatch, folder, "dipper.dump")


def test_a_diff_tells_how_two_build_sheets_differ(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    shutil.copy(folder / "dipper.dump", folder / "later.dump")
    both = ["--build", "dipper.dump=good.toml", "--build", "later.dump=bad.toml"]
    asked = ["diff", "dipper.dump", "later.dump"]
    told = call(monkeypatch, [*asked, *both], cwd=folder).out
    assert "sheet.rails.5V.voltage  5 V to 12 V" in told
    one = call(monkeypatch, [*asked, "--build", "good.toml"], cwd=folder).out
    assert "sheet." not in one
    patch = call(monkeypatch, [*asked, *both, "--format", "json-patch"], cwd=folder).out
    assert json.loads(patch) == []  # which is of the dumps
