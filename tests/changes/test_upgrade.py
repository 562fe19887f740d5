"""What becomes of a setting when the firmware changes: each fate, and losses that were seeded."""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as budget
from hypothesis import strategies as st

from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.editor import edit
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.settings import Raw, Settings, Stated
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.work.upgrade import MUST_BE_DONE, Fate, Fated, Side, review, upgrade
from tests.dialects.demo import (
    CORPUS,
    dialects,
    dumped,
    opened,
    read,
    version_of,
)

CRAFT = {  # the craft with the two versions that its upgrade is between
    "dipper": ("2.3.0", "sedge-2.4.1"),
    "sandpiper": ("2.3.0", "sedge-2.4.1"),
    "goosander": ("1.11.0", "marl-1.12.0"),
    "wagtail": ("6.9.0", "osier-7.2.0"),
}


WAGTAIL = (CORPUS / "wagtail.dump").read_text(encoding="utf-8")


def before(craft: str) -> Opened:
    return opened(CORPUS / "upgrades" / f"{craft}-{CRAFT[craft][0]}.dump")


def after(craft: str) -> Opened:
    return opened(CORPUS / f"{craft}.dump")


def untouched(craft: str) -> tuple[Opened, Opened]:
    old, new = CRAFT[craft]
    name = new.partition("-")[0]
    return opened(CORPUS / f"factory/{name}-{old}.dump"), opened(CORPUS / f"factory/{new}.dump")


def states(**values: Value) -> Settings:
    paths = {name.replace("__", "."): value for name, value in values.items()}
    return Settings(stated={path: Stated(path, value) for path, value in paths.items()})


def raws(**values: str) -> Settings:
    return Settings(raw={key: Raw(key, value) for key, value in values.items()})


def fates(found: tuple[Fated, ...]) -> dict[str, Fate]:
    return {entry.path: entry.fate for entry in found}


def one_fate(old: Side, new: Side, **names: str) -> Fated:
    (found,) = upgrade(old, new, keys={}, names={k.replace("__", "."): v for k, v in names.items()})
    return found


def idle(value: float | None) -> Settings:
    return Settings() if value is None else states(esc__idle=value)


TABLE = [  # before, after, the factory's before, the factory's after: what became of it
    (5.0, 5.0, 4.5, 4.5, Fate.KEPT),
    (5.0, 5.0, None, None, Fate.KEPT),
    (4.5, 4.5, 4.5, 4.5, Fate.KEPT),
    (5.0, 4.5, 4.5, 4.5, Fate.LOST),
    (5.0, 6.0, 4.5, 6.0, Fate.LOST),
    (4.5, 6.0, 4.5, 6.0, Fate.FOLLOWED),
    (4.5, 4.5, 4.5, 6.0, Fate.HELD),
    (5.0, 5.0, 4.5, 6.0, Fate.HELD),
    (6.0, 6.0, 4.5, 6.0, Fate.HELD),
    (5.0, 5.5, 4.5, 4.5, Fate.CHANGED),
    (5.0, 5.5, None, 4.5, Fate.CHANGED),
    (4.5, 5.5, 4.5, 4.5, Fate.CHANGED),
    (5.0, 5.5, None, None, Fate.UNTOLD),
    (5.0, 5.5, 4.5, None, Fate.UNTOLD),
    (4.5, 5.5, 4.5, None, Fate.UNTOLD),
    (5.0, 4.5, None, 4.5, Fate.UNTOLD),
    (5.0, None, 4.5, None, Fate.RETIRED),
    (5.0, None, 4.5, 6.0, Fate.LOST),  # a dump of what differs leaves the factory's value out
    (None, 6.0, 4.5, 4.5, Fate.CHANGED),
    (None, 6.0, None, 4.5, Fate.NEW),
]


@pytest.mark.parametrize(("old", "new", "old_factory", "new_factory", "fate"), TABLE)
def test_a_setting_has_the_one_fate_that_fits(
    old: float | None,
    new: float | None,
    old_factory: float | None,
    new_factory: float | None,
    fate: Fate,
) -> None:
    found = one_fate(Side(idle(old), idle(old_factory)), Side(idle(new), idle(new_factory)))
    assert found.fate is fate


def test_the_recorded_values_tell_as_a_dump_of_an_untouched_board_does() -> None:
    old = Side(replace(idle(5.0), factory={"esc.idle": 4.5}))
    new = Side(replace(idle(4.5), factory={"esc.idle": 4.5}))
    assert one_fate(old, new).fate is Fate.LOST
    # a dump goes before what is recorded
    assert one_fate(old, replace(new, factory=idle(4.0))).fate is Fate.CHANGED


def test_what_cannot_be_told_may_be_lost_unless_it_was_the_factorys() -> None:
    assert one_fate(Side(idle(5.0)), Side(idle(4.5))).may_be_lost
    assert one_fate(Side(idle(5.0), idle(4.5)), Side(idle(4.4))).may_be_lost
    assert not one_fate(Side(idle(4.5), idle(4.5)), Side(idle(4.4))).may_be_lost


def test_another_name_or_word_for_the_same_value_is_told() -> None:
    low = Stated("battery.warn_cell", 3.5, text="350")
    old = Side(Settings(stated={low.path: low}))
    found = one_fate(old, old, battery__warn_cell="murmur")
    assert (found.fate, found.old_name, found.guess) == (Fate.CARRIED, "murmur", False)
    volts = Side(Settings(stated={low.path: low._replace(text="3.5 V")}))
    assert one_fate(old, volts).fate is Fate.RESCALED
    padded = Side(Settings(stated={low.path: low._replace(text="0350.0")}))
    assert one_fate(old, padded).fate is Fate.KEPT


def test_a_member_of_a_table_that_is_still_there_may_be_lost_and_is_not_retired() -> None:
    old = Side(states(ports__uart1__baud=115200, ports__uart2__baud=57600))
    new = Side(states(ports__uart1__baud=115200))
    assert fates(upgrade(old, new, keys={}, names={})) == {
        "ports.uart1.baud": Fate.KEPT,
        "ports.uart2.baud": Fate.UNTOLD,
    }
    assert one_fate(Side(states(ports__uart2__baud=57600)), Side(Settings())).fate is Fate.RETIRED


def test_what_you_took_out_and_the_factory_has_again_may_be_lost() -> None:
    untouched = {f"a{number}": "x" for number in range(20)}
    before = {key: text for key, text in untouched.items() if key != "a7"}
    factory = raws(**untouched)

    def found(old: Mapping[str, str], new: Mapping[str, str]) -> dict[str, Fate]:
        sides = (Side(raws(**old), factory), Side(raws(**new), factory))
        told = upgrade(*sides, keys={}, names={})
        assert all(entry.may_be_lost is (entry.fate is Fate.UNTOLD) for entry in told)
        return {path: fate for path, fate in fates(told).items() if fate is not Fate.KEPT}

    assert found(before, untouched) == {"a7": Fate.UNTOLD}
    assert found(before, before) == {}
    assert found(untouched, untouched) == {}
    # a dump that leaves out what is the factory's tells nothing of that
    assert found({"a1": "x"}, untouched) == {}


def test_a_line_that_you_took_out_is_told_and_no_line_is_made_up_for_it(tmp_path: Path) -> None:
    old = (CORPUS / "upgrades" / "goosander-1.11.0.dump").read_text(encoding="utf-8")
    (row,) = re.findall(r"^.*lamp-test.*\n", old, re.M)[:1]
    (tmp_path / "old.dump").write_text(old.replace(row, ""), encoding="utf-8")
    found = review(opened(tmp_path / "old.dump"), after("goosander"), *untouched("goosander"))
    (entry,) = [one for one in found.fates if one.old is None and one.may_be_lost]
    assert "lamp-test" in entry.path
    assert (entry.fate, entry.path in dict(found.lines.refused)) == (Fate.UNTOLD, True)
    assert "lamp-test" not in found.lines.text


def test_what_goes_unsaid_where_something_is_off_may_be_lost_and_comes_back_with_it() -> None:
    new = edited(
        CORPUS / "wagtail.dump",
        next(line for line in WAGTAIL.splitlines() if line.startswith("voice ")),
        "no voice",
    )
    found = review(before("wagtail"), new, *untouched("wagtail"))
    lost = {entry.path for entry in found.fates if entry.fate is Fate.LOST}
    assert lost == {*SEEDED["wagtail"], "telemetry.enabled"}
    silent = {entry.path for entry in found.fates if entry.may_be_lost}
    assert silent == {
        f"telemetry.{word}" for word in ("protocol", "rate", "inverted", "half_duplex")
    }
    assert "voice parcels" in found.lines.text
    assert found.lines.refused == ()


def test_a_key_between_the_same_neighbours_with_the_same_value_is_guessed_to_be_renamed() -> None:
    old, new = raws(chime="2", whisper="55", hush="0"), raws(chime="2", trickle="55", hush="0")
    found = {entry.path: entry for entry in upgrade(Side(old), Side(new), keys={}, names={})}
    renamed = found["trickle"]
    assert (renamed.fate, renamed.old_name, renamed.guess) == (Fate.CARRIED, "whisper", True)
    other = raws(chime="2", trickle="56", hush="0")
    found = {entry.path: entry for entry in upgrade(Side(old), Side(other), keys={}, names={})}
    assert not found["trickle"].guess


def test_no_line_says_that_a_craft_was_calibrated() -> None:
    lines = [f"sensors.accelerometer.calibrated = {word}\n" for word in ("on", "off", "off")]
    old, new, factory = (open_dump("x.cfg", line.encode(), (), PLAIN) for line in lines)
    found = review(old, new, None, factory)
    assert found.lines.text == ""
    assert ("sensors.accelerometer.calibrated", "calibrate") in [
        (path, why.split()[0]) for path, why in found.lines.refused
    ]


def test_a_raw_key_is_carried_by_the_dialect_or_by_a_guess_that_is_marked() -> None:
    (known,) = upgrade(
        Side(raws(hum="7")), Side(raws(murmur="7")), keys={"hum": "murmur"}, names={}
    )
    assert (known.path, known.fate, known.old_name) == ("murmur", Fate.CARRIED, "hum")
    assert not known.guess
    (guessed,) = upgrade(Side(raws(soft_start="7")), Side(raws(softstart="7")), keys={}, names={})
    assert (guessed.path, guessed.fate, guessed.guess) == ("softstart", Fate.CARRIED, True)


def test_a_raw_value_that_is_lost_under_a_new_name_is_found_by_the_untouched_boards() -> None:
    old = Side(raws(soft_start="7"), raws(soft_start="3"))
    new = Side(raws(softstart="3"), raws(softstart="3"))
    (found,) = upgrade(old, new, keys={}, names={})
    assert (found.path, found.fate, found.guess) == ("softstart", Fate.LOST, True)


def test_a_line_that_says_no_is_one_with_the_line_that_does_not() -> None:
    said, denied = Settings(raw={"guards": Raw("guards", "")}), raws(**{"no guards": ""})
    (found,) = upgrade(Side(said, denied), Side(denied, denied), keys={}, names={})
    assert (found.path, found.fate) == ("guards", Fate.LOST)


def test_what_moves_by_itself_is_lost_only_where_it_is_back_at_the_factorys() -> None:
    def flown(hours: str) -> Settings:
        return Settings(raw={"hours": Raw("hours", hours, volatile=True)})

    assert one_fate(Side(flown("3")), Side(flown("4"))).fate is Fate.MOVES
    assert one_fate(Side(flown("3"), flown("0")), Side(flown("4"), flown("0"))).fate is Fate.MOVES
    assert one_fate(Side(flown("3"), flown("0")), Side(flown("0"), flown("0"))).fate is Fate.LOST


SEEDED = {  # what the demo craft lost, as one reads it in their dumps
    "dipper": {"failsafe.detect_after", "battery.empty_cell"},
    "sandpiper": {"failsafe.throttle"},
    "goosander": {"home.ceiling"},
    "wagtail": {"arming.max_tilt", "failsafe.detect_after", "failsafe.hold_for"},
}


@pytest.mark.parametrize("craft", CRAFT)
@pytest.mark.parametrize("with_dumps", [True, False])
def test_the_losses_of_the_demo_craft_are_found_and_no_other(craft: str, with_dumps: bool) -> None:
    factory = untouched(craft) if with_dumps else ()
    found = review(before(craft), after(craft), *factory)
    assert {entry.path for entry in found.fates if entry.fate is Fate.LOST} == SEEDED[craft]
    assert found.may_be_lost == 0
    assert set(found.lines.brings) == SEEDED[craft]


def upgraded(craft: str, values: Mapping[str, Value]) -> tuple[Opened, set[str]]:
    """The dump of the new firmware with these values in it.

    And the paths that it can't state beside the others, as where what is off has no place, or
    that it states beyond them.
    """
    new = after(craft)
    done = edit(new, values)
    data = done.opened.document.to_bytes()
    beyond = dumped(done.opened.settings).keys() - values.keys()
    return open_dump(f"{craft}.dump", data, dialects()), {*done.refused, *beyond}


def in_force(opened: Opened, factory: Opened) -> dict[str, Value]:
    """What a board has, what its dump leaves out being the factory's."""
    left_out = {**opened.settings.factory, **dumped(factory.settings)}
    return {
        path: value
        for path, value in {**left_out, **dumped(opened.settings)}.items()
        if not path.startswith(("firmware.", "board.name", "board.revision"))
    }


@pytest.mark.parametrize("craft", CRAFT)
@given(data=st.data())
@budget(max_examples=5)
def test_every_seeded_loss_is_found_nothing_kept_is_and_the_lines_clear_it(
    craft: str, data: st.DataObject
) -> None:
    old, (old_factory, new_factory) = before(craft), untouched(craft)
    yours = in_force(old, old_factory)
    then, now = dumped(old_factory.settings), dumped(new_factory.settings)
    can_be_lost = sorted(
        path
        for path in yours.keys() & then.keys() & now.keys()
        if yours[path] not in (then[path], now[path])
        and path not in MUST_BE_DONE  # no line brings back a calibration
    )
    assert len(can_be_lost) > 5
    lost = data.draw(st.sets(st.sampled_from(can_be_lost)))
    new, left_out = upgraded(craft, {**yours, **{path: now[path] for path in lost}})
    lost -= left_out  # it stands in a line whose other settings would have no place
    found = review(old, new, old_factory, new_factory)
    assert {e.path for e in found.fates if e.fate is Fate.LOST and not e.raw} == lost
    untold = left_out | (yours.keys() - dumped(old.settings).keys())  # the old dump is silent on it
    assert {e.path for e in found.fates if e.may_be_lost and not e.raw} <= untold

    back = read(found.lines.text, new.dialect, version_of(new.settings))
    assert set(found.lines.brings) | {path for path, _ in found.lines.refused} >= lost
    assert not [path for path, _ in found.lines.refused if path in lost]
    mended = new._replace(
        settings=replace(new.settings, stated={**new.settings.stated, **written(back)})
    )
    again = review(old, mended, old_factory, new_factory)
    assert not [e for e in again.fates if e.fate is Fate.LOST and not e.raw]


def written(settings: Settings) -> dict[str, Stated]:
    """What pasted lines state: it takes the place of what the board had."""
    return {path: settings.stated[path] for path in dumped(settings)}


def edited(path: Path, old: str, new: str) -> Opened:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    return open_dump(path.name, text.replace(old, new).encode(), dialects())


OWN_LINES = [  # an own line of each firmware, set before and at the factory's value after
    ("dipper", "soft_start = 3", "soft_start = 5", "drive/soft_start", "[drive]\nsoft_start = 5\n"),
    (
        "goosander",
        "sleep-after,5,s,1",
        "sleep-after,9,s,1",
        "waking/sleep-after",
        "begin waking\nsleep-after,9,s,1\nend waking\n",
    ),
    ("wagtail", "\nno guards\n", "\nguards\n", "guards", "guards\n"),
]


@pytest.mark.parametrize(("craft", "now", "then", "key", "line"), OWN_LINES)
def test_an_own_line_that_was_lost_is_found_and_written_back(
    craft: str, now: str, then: str, key: str, line: str
) -> None:
    path = CORPUS / "upgrades" / f"{craft}-{CRAFT[craft][0]}.dump"
    found = review(edited(path, now, then), after(craft), *untouched(craft))
    lost = {entry.path for entry in found.fates if entry.fate is Fate.LOST}
    assert lost == {*SEEDED[craft], key}
    assert line in found.lines.text


def one_line(name: str, line: str, text: str) -> Opened:
    """A dump of one line, in a dialect of that line."""
    of = build_dialect({"name": name, "lines": [{"map": [line]}]}, f"{name}.toml")
    return open_dump(f"{name}.dump", f"{text}\n".encode(), (), of)


def test_what_the_new_firmware_can_t_say_is_refused_with_a_reason() -> None:
    old = one_line("fine", "low = {battery.warn_cell: 0.01 V}", "low = 352")
    new = one_line("coarse", "warn = {battery.warn_cell: 0.1 V}", "warn = 36")
    found = review(old, new)
    assert found.lines.text == ""
    ((path, why),) = found.lines.refused
    assert path == "battery.warn_cell"
    assert "not a whole number of steps" in why


def test_a_row_that_would_have_to_go_is_not_brought_back_by_lines() -> None:
    line = "when {FUNCTION} {switches.FUNCTION.channel} {switches.FUNCTION.low: us} " + (
        "{switches.FUNCTION.high: us}"
    )
    old = one_line("rows", line, "when buzzer 8 1700 2100")
    new = one_line("rows", line, "when buzzer 8 1700 2100\nwhen buzzer 9 1700 2100")
    found = review(old, new)
    why = "no line says it: line 2 goes: when buzzer 9 1700 2100"
    assert (found.lines.text, found.lines.refused) == ("", (("switches.buzzer", why),))
    back = review(new, old)
    assert back.lines.text == "when buzzer 9 1700 2100\n"


def test_a_line_that_nobody_understands_speaks_against_what_is_called_retired() -> None:
    dump = CORPUS / "dipper.dump"
    lines = dump.read_bytes().splitlines(keepends=True)
    put = [*lines, b"heron_lock 7\n"]
    strange = open_dump(dump.name, b"".join(put), dialects())
    said = (
        f"1 line of dipper.dump not understood, and not in the other dump (line {len(put)}): what "
    )
    assert review(before("dipper"), strange).notes == (
        f"{said}is called lost or retired may stand there.",
    )
    assert review(strange, after("dipper")).notes == (f"{said}stands there is not compared.",)
    assert review(strange, strange).notes == ()


def test_what_a_dump_that_is_cut_off_lacks_is_not_simply_lost() -> None:
    data = (CORPUS / "wagtail.dump").read_bytes()
    cut = open_dump("cut.dump", data[: data.index(b"\n", len(data) // 2) + 1], dialects())
    (note,) = review(after("wagtail"), cut).notes
    assert note.startswith("cut.dump is cut off (the dump lacks its end mark, ")
    assert note.endswith("Read it out anew first.")
    assert review(before("wagtail"), after("wagtail")).notes == ()


def test_dumps_that_do_not_go_together_are_remarked_on() -> None:
    old_factory, new_factory = untouched("dipper")
    assert review(before("dipper"), after("dipper"), old_factory, new_factory).notes == ()
    swapped = review(before("dipper"), after("dipper"), new_factory, old_factory).notes
    assert swapped[0] == (
        "sedge-2.4.1.dump is of the firmware sedge 2.4.1, but dipper-2.3.0.dump of sedge 2.3.0."
    )
    other = review(before("dipper"), after("sandpiper")).notes
    assert "each its own serial number" in other[0]
    foreign = review(before("dipper"), after("wagtail"))
    assert any("two dialects" in note for note in foreign.notes)
    assert not [entry for entry in foreign.fates if entry.raw]
