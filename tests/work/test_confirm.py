"""What was written is held against what is read back, and what did not take is told apart."""

from pathlib import Path

import pytest

from cfgaudit.dialects.dialect import load_dialect
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import PLAIN, read_plain
from cfgaudit.settings import Settings
from cfgaudit.work.confirm import Again, Confirmed, ReadBack, _divided, again, confirm
from tests.dialects.demo import CORPUS, DUMPS, dialects, opened


def plain(text: str) -> Opened:
    return open_dump("intended.cfg", text.encode(), (), PLAIN)


def dipper(*swaps: tuple[str, str]) -> Opened:
    """Dipper's dump with lines swapped for others."""
    text = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return open_dump("readback.dump", text.encode(), dialects())


def fate(intended: str, readback: Opened, before: Settings | None = None) -> Confirmed:
    (entry,) = confirm(plain(intended), readback, before).entries
    return entry


@pytest.mark.parametrize("path", DUMPS, ids=lambda path: path.stem)
def test_a_dump_read_back_as_it_was_written_took_whole(path: Path) -> None:
    outcome = confirm(opened(path), opened(path))
    assert outcome.amiss == ()
    assert len(outcome.entries) > 10
    assert {entry.fate for entry in outcome.entries} == {ReadBack.TAKEN}


# sedge counts cells in 0.01 V, heights in 0.1 m, board turns in 1/8 deg, levers in 20 us from 500
# (corpus/dialects/sedge.toml); by hand, 90.3 lies between 90.25 and 90.375, 1705 between 1700
# and 1720.
@pytest.mark.parametrize(
    ("intended", "line", "step"),
    [
        ("home.altitude = 40.02 m", ("home_height = 400", "home_height = 400"), "0.1 m"),
        ("home.altitude = 39.95 m", ("home_height = 400", "home_height = 400"), "0.1 m"),
        ("board.rotation.yaw = 90.3 deg", ("board_yaw = 720", "board_yaw = 722"), "0.125 deg"),
        ("board.rotation.yaw = 90.3 deg", ("board_yaw = 720", "board_yaw = 723"), "0.125 deg"),
        ("switches.arm = 5: 1705..2100 us", ("ch5 60-80", "ch5 60-80"), "20 us"),
        ("motors.front_left.mix.thrust = 0.99951", ("hum = 4", "hum = 4"), "0.001"),
    ],
)
def test_rounding_by_the_firmwares_own_step_is_no_difference_and_is_said(
    intended: str, line: tuple[str, str], step: str
) -> None:
    entry = fate(intended, dipper(line))
    assert entry.fate is ReadBack.ROUNDED
    assert entry.why == f"the firmware's step is {step}"


@pytest.mark.parametrize(
    ("intended", "line"),
    [
        ("home.altitude = 40.1 m", ("home_height = 400", "home_height = 400")),  # a whole step
        ("home.altitude = 40.25 m", ("home_height = 400", "home_height = 400")),  # more than one
        ("switches.arm = 6: 1705..2100 us", ("ch5 60-80", "ch5 60-80")),  # another channel
        ("failsafe.action = land", ("then = go_back", "then = go_back")),  # no number
    ],
)
def test_what_no_rounding_explains_did_not_take(intended: str, line: tuple[str, str]) -> None:
    assert fate(intended, dipper(line)).fate in (ReadBack.OTHER, ReadBack.CLAMPED)


# A firmware that prints numbers with a point keeps what it prints; a volt is no step of it.
POINTS = """
name = "tern"
[[lines]]
map = ["cell.empty {battery.empty_cell: V}",
       "cell.full {battery.full_cell: V}", "idle {esc.idle: %}"]
"""


def points(file: Path, empty: str, full: str, idle: str) -> Opened:
    file.write_text(POINTS, encoding="utf-8")
    text = f"cell.empty {empty}\ncell.full {full}\nidle {idle}\n"
    known = load_dialect(file)
    return open_dump("readback.dump", text.encode(), (known,), known)


@pytest.mark.parametrize(
    ("intended", "printed", "fate"),
    [
        ("battery.empty_cell = 3.3 V", ("2.90", "4.2", "5"), ReadBack.OTHER),
        ("battery.empty_cell = 3.314 V", ("3.31", "4.2", "5"), ReadBack.ROUNDED),
        ("battery.full_cell = 4.25 V", ("3.3", "4.2", "5"), ReadBack.ROUNDED),
        ("battery.full_cell = 4.35 V", ("3.3", "4.2", "5"), ReadBack.OTHER),
        ("esc.idle = 5.5 %", ("3.3", "4.2", "5"), ReadBack.ROUNDED),  # whole numbers, as it shows
    ],
)
def test_a_number_with_a_point_is_rounded_by_its_last_digit_alone(
    intended: str, printed: tuple[str, str, str], fate: ReadBack, tmp_path: Path
) -> None:
    (entry,) = confirm(plain(intended), points(tmp_path / "tern.toml", *printed)).entries
    assert entry.fate is fate


def test_the_last_digit_is_seen_in_what_is_intended_too(tmp_path: Path) -> None:
    file = tmp_path / "tern.toml"
    outcome = confirm(points(file, "3.3", "4.2", "5.5"), points(file, "3.3", "4.2", "5"))
    assert [entry.path for entry in outcome.amiss] == ["esc.idle"]


def test_a_value_that_is_still_the_factorys_was_ignored() -> None:
    entry = fate("battery.warn_cell = 3.5 V", dipper(("cell_low = 350", "cell_low = 345")))
    assert (entry.fate, entry.why) == (ReadBack.IGNORED, "still the factory value")


def test_a_value_that_is_still_what_it_was_before_was_ignored() -> None:
    before = dipper().settings
    entry = fate("banks.1.rates.roll.max = 640 deg/s", dipper(), before)
    assert (entry.fate, entry.why) == (ReadBack.IGNORED, "still what it was before")
    assert fate("banks.1.rates.roll.max = 640 deg/s", dipper()).fate is ReadBack.OTHER


def test_a_setting_that_is_not_told_while_the_factory_value_stands_was_ignored() -> None:
    entry = fate("esc.idle = 6 %", dipper(("trickle = 550\n", "")))
    assert (entry.fate, entry.found) == (ReadBack.IGNORED, "5 %")
    assert "not stated" in entry.why


def test_a_number_stopped_on_its_way_was_clamped() -> None:
    before = dipper().settings  # 100 m
    entry = fate("home.ceiling = 150 m", dipper(("height_lid = 1000", "height_lid = 1200")), before)
    assert entry.fate is ReadBack.CLAMPED
    entry = fate("home.ceiling = 150 m", dipper(("height_lid = 1000", "height_lid = 800")), before)
    assert entry.fate is ReadBack.OTHER  # it went the other way


def test_nothing_is_called_clamped_where_nothing_tells_what_it_was() -> None:
    entry = fate("home.speed = 12.35 m/s", dipper(("home_speed = 700", "home_speed = 1000")))
    assert entry.fate is ReadBack.OTHER
    assert "--before" in entry.why


# Hand calculation: 8000 / 5 = 1600 and 8000 / 6 = 1333.3; 1500 lies between them, 1700 does not
# lie between the neighbours of 8000 / 6. A port at 115,385 is 0.16 % off 115,200.
@pytest.mark.parametrize(
    ("path", "wanted", "found", "base", "is_divided"),
    [
        ("loop.rate", 1500.0, 1600.0, 8000.0, True),
        ("loop.rate", 1500.0, 1333.0, 8000.0, True),
        ("loop.rate", 1700.0, 1333.0, 8000.0, False),
        ("loop.rate", 1500.0, 1500.0 + 7, 8000.0, False),
        ("loop.rate", 1500.0, 1600.0, None, False),
        ("ports.uart1.baud", 115200.0, 115385.0, None, True),
        ("ports.uart1.baud", 115200.0, 57600.0, None, False),
        ("home.altitude", 40.0, 39.9, None, False),
    ],
)
def test_a_rate_that_a_divider_rounds_is_rounded(
    path: str, wanted: float, found: float, base: float | None, is_divided: bool
) -> None:
    assert bool(_divided(path, wanted, found, base)) is is_divided


def test_a_dump_that_is_cut_off_or_of_another_craft_is_told_first() -> None:
    text = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    cut = open_dump("cut.dump", text[: len(text) // 2].encode(), dialects())
    assert any("behind it" in doubt for doubt in confirm(dipper(), cut).doubts)
    assert confirm(dipper(), dipper()).doubts == ()
    other = plain("craft.name = Kingfisher 9\n")
    assert any("another craft" in doubt for doubt in confirm(other, dipper()).doubts)


def test_what_did_not_take_is_given_as_the_lines_to_type_again() -> None:
    intended, readback = dipper(("home_speed = 700", "home_speed = 800")), dipper()
    outcome = confirm(intended, readback)
    assert [entry.path for entry in outcome.amiss] == ["home.speed"]
    (change,) = again(intended, readback, outcome).changes
    assert "home_speed = 800" in change.forth.lines
    assert again(intended, intended, confirm(intended, intended)) == Again()


def test_what_was_clamped_is_not_to_be_typed_again() -> None:
    intended = dipper(("height_lid = 1000", "height_lid = 1500"))
    readback = dipper(("height_lid = 1000", "height_lid = 1200"))
    outcome = confirm(intended, readback, dipper().settings)
    assert [entry.fate for entry in outcome.amiss] == [ReadBack.CLAMPED]
    assert again(intended, readback, outcome).changes == ()


def test_a_value_beyond_what_the_setting_takes_stops_at_its_limit() -> None:
    wanted = plain("receiver.ends.1.high = 2700 us")
    assert wanted.settings["receiver.ends.1.high"].doubt
    text = "[travel 0]\nspans = 1000..2000", "[travel 0]\nspans = 1000..2500"
    (entry,) = confirm(wanted, dipper(text), dipper().settings).entries
    assert (entry.fate, entry.why) == (ReadBack.CLAMPED, "the highest value of this setting")


def test_a_setting_that_is_not_read_back_is_lacking() -> None:
    entry = fate("home.speed = 7 m/s", dipper(("home_speed = 700\n", "")))
    assert (entry.fate, entry.why, entry.found) == (ReadBack.LACKING, "not read back", "")


def test_a_setting_whose_value_can_not_be_read_back_is_there_with_another_one() -> None:
    readback = dipper(("cells = 4", "cells = heron"))
    entry = fate("battery.cells = 4", readback)
    assert (entry.fate, entry.found) == (ReadBack.OTHER, "what can't be read")
    assert entry.found_at is not None
    assert readback.document.lines[entry.found_at.line - 1].strip() == "cells = heron"
    assert "heron" in entry.why


def test_a_setting_that_the_firmware_has_no_line_for_is_lacking_for_that() -> None:
    entry = fate("overlay.elements.speed.row = 4\n", dipper())
    assert entry.fate is ReadBack.LACKING
    entry = fate("range_finder.kind = 4\nbattery.cells = 4", dipper())
    assert entry.path == "battery.cells"  # what is no setting can't be confirmed


def test_another_name_in_another_version_is_told() -> None:
    old = opened(CORPUS / "factory" / "sedge-2.3.0.dump")
    new = opened(CORPUS / "factory" / "sedge-2.4.1.dump")
    entries = {entry.path: entry for entry in confirm(old, new).entries}
    assert entries["battery.warn_cell"].renamed == "cell_low"
    assert entries["battery.empty_cell"].renamed == ""


def test_a_line_without_a_neutral_meaning_is_held_by_its_text() -> None:
    intended, readback = dipper(("calm = 40", "calm = 41")), dipper(("murmur = 3\n", ""))
    amiss = {entry.path: entry for entry in confirm(intended, readback).amiss}
    assert {path: entry.fate for path, entry in amiss.items()} == {
        "pack/calm": ReadBack.OTHER,
        "pack/murmur": ReadBack.LACKING,
    }
    assert all(entry.raw for entry in amiss.values())


def test_a_mistyped_key_is_told_and_not_to_be_typed_again() -> None:
    intended, readback = dipper(("home_speed = 700", "home_sped = 700")), dipper()
    outcome = confirm(intended, readback)
    (entry,) = [one for one in outcome.amiss if one.raw]
    assert entry.why == "not read back; did you mean home_speed?"
    assert again(intended, readback, outcome).by_hand == ()


def test_lines_of_another_dialect_are_counted_and_not_compared() -> None:
    outcome = confirm(opened(CORPUS / "wagtail.dump"), dipper())
    assert outcome.uncompared > 10
    assert not any(entry.raw for entry in outcome.entries)


def test_what_the_firmware_writes_of_itself_is_not_intended() -> None:
    paths = {entry.path for entry in confirm(dipper(), dipper()).entries}
    assert not paths & {"firmware.version", "firmware.name", "board.name", "board.revision"}
    assert "sensors.accelerometer.trim.roll" not in paths  # it moves by itself
    assert {"craft.name", "battery.cells"} <= paths


def test_the_dialect_and_the_plain_form_confirm_one_another() -> None:
    wanted = read_plain((CORPUS / "dipper.cfg").read_text(encoding="utf-8"))
    outcome = confirm(Opened(dipper().document, PLAIN, wanted), dipper())
    assert outcome.amiss == ()


def test_what_is_hidden_is_not_intended() -> None:
    outcome = confirm(plain('[craft]\nowner = "(hidden)"\n[home]\naltitude = 40 m\n'), dipper())
    assert [entry.path for entry in outcome.entries] == ["home.altitude"]
    assert (outcome.doubts, outcome.unread) == ((), ())
