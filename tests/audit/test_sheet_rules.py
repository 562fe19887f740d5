"""Rules that ask for the build sheet: what they are given, and what is said where it is missing."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.rule import BUILD_SHEET, Fires, Lacks, Level, Yielded, rule, usual_limits
from cfgaudit.settings import Origin
from cfgaudit.testing import FixtureError, load_fixture

DUMP = read_plain("battery.cells = 3\n", "reed.cfg")
SHEET = read_sheet(b"[battery]\ncells = 4\n", "reed.build.toml")


@rule("battery/cells-other", Level.ERROR, ("esc.idle_least",), sheet=True)
def cells_other(craft: Craft, sheet: Sheet, least: float) -> Iterator[Yielded]:
    """The dump counts other cells than the pack has.

    In the air: the warning comes too late.
    Mend: set the pack's cells.
    Source: hand calculation.
    """
    if craft.battery.cells != sheet.battery.cells:
        paths = (craft.battery.path("cells"), sheet.battery.path("cells"))
        yield Fires("They differ.", paths, (("least", least),))
    yield Lacks(sheet.battery.path("capacity")) if least < 0 else Lacks("battery.capacity")


@rule("battery/cells-told", Level.NOTE, ("esc.idle_least",), sheet="wanted")
def cells_told(craft: Craft, sheet: Sheet | None, least: float) -> Iterator[Yielded]:
    """Somebody counts the cells.

    In the air: nothing.
    Mend: nothing.
    Source: hand calculation.
    """
    counted = float(sheet.battery.cells) if sheet else 0.0
    yield Fires("Counted.", ("battery.cells",), (("in_sheet", counted), ("least", least)))


def test_a_rule_that_wants_a_sheet_is_checked_without_one_too() -> None:
    assert (cells_told.sheet, cells_told.sheet_wanted) == (False, True)
    for sheet, cells in ((None, 0.0), (SHEET, 4.0)):
        outcome = audit(DUMP, (cells_told,), sheet=sheet)
        assert outcome.not_checked == ()
        assert dict(outcome.findings[0].figures)["in_sheet"] == cells


def test_a_rule_gets_the_craft_then_the_sheet_then_its_limits() -> None:
    (finding,) = audit(DUMP, (cells_other,), sheet=SHEET).findings
    assert dict(finding.figures) == {"least": usual_limits()["esc.idle_least"].value}


def test_a_finding_has_its_place_in_the_dump_and_in_the_sheet() -> None:
    (finding,) = audit(DUMP, (cells_other,), sheet=SHEET).findings
    assert [(place.file, place.line) for place in finding.places] == [
        ("reed.cfg", 1),
        ("reed.build.toml", 2),
    ]
    assert finding.origins == (Origin.DUMP, Origin.SHEET)


def test_without_a_sheet_the_rule_is_not_run_and_lacks_the_sheet() -> None:
    outcome = audit(DUMP, (cells_other,))
    assert (outcome.findings, outcome.checked, outcome.sheet) == ((), 0, None)
    (entry,) = outcome.not_checked
    assert entry.lacks == (BUILD_SHEET,)
    assert entry.wants_sheet


def test_a_sheet_that_does_not_state_enough_is_told_by_the_path() -> None:
    (entry,) = audit(DUMP, (cells_other,), sheet=read_sheet(b"", "x")).not_checked
    assert entry.lacks == ("sheet.battery.cells",)
    assert not entry.wants_sheet


def test_a_finding_s_fingerprint_hangs_on_what_the_sheet_states() -> None:
    other = read_sheet(b"[battery]\n\n\ncells = 6\n", "x")
    same = read_sheet(b"# moved\n[battery]\ncells = 4\n", "y")
    (one,) = audit(DUMP, (cells_other,), sheet=SHEET).findings
    (two,) = audit(DUMP, (cells_other,), sheet=other).findings
    (three,) = audit(DUMP, (cells_other,), sheet=same).findings
    assert one.fingerprint == three.fingerprint != two.fingerprint


def test_a_fixture_with_a_faulty_sheet_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "power" / "x.toml"
    file.parent.mkdir()
    case = '[[fires]]\nname = "a"\ndump = "a = 1"\nsheet = "[motor]"\n'
    file.write_text(f'rule = "power/x"\n{case}{case}', encoding="utf-8")
    with pytest.raises(FixtureError, match=r"fires 'a': sheet: sheet:1: there is no motor"):
        load_fixture(file)
