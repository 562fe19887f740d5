"""What a mapping line can say beyond one value in one place: each form read, and written back.

The firmware, tern, is made up for these tests; the values are reckoned by hand beside them.
"""

from collections.abc import Mapping
from fractions import Fraction
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.dialect import Dialect, build_dialect
from cfgaudit.dialects.editor import edit, line_change
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.spec import (
    CannotWrite,
    Spec,
    SpecForm,
    WordLists,
    read_with,
    shortest,
    write_with,
)
from cfgaudit.settings import TroubleKind
from cfgaudit.vocabulary.kinds import Filter, Quantities, SwitchRange, Value, WordSet

WORDS = {
    "hold": {"-1": "hold"},
    "auto": {"0": "auto"},
    "smooth": {"0": "off", "1": "auto"},
    "arms": {"21": "front_left", "22": "front_right"},
    "uses": {"0": "free", "30": "buzzer"},
    "kinds": {"1": "pt1", "2": "pt2"},
    "deeds": {"1": "arm", "2": "buzzer"},
}
FLAGS = {"checks": {"tilt": 1, "throttle": 2, "receiver": 4}}


def tern(*lines: str, **more: object) -> Dialect:
    data = {"name": "tern", "words": WORDS, "flags": FLAGS, "lines": [{"map": list(lines)}]}
    return build_dialect({**data, **more}, "tern.toml")


def dump(text: str, of: Dialect) -> Opened:
    return open_dump("a.dump", text.encode(), (), of)


def values(opened: Opened) -> dict[str, Value]:
    return {path: stated.value for path, stated in opened.settings.stated.items()}


def written(opened: Opened, wanted: Mapping[str, Value]) -> str:
    """The dump with the wanted values, which are read again from it."""
    done = edit(opened, wanted)
    assert done.refused == {}
    text = done.opened.document.to_bytes()
    again = values(open_dump("b.dump", text, (), opened.dialect))
    assert {path: again[path] for path in wanted} == dict(wanted)
    return text.decode()


BITS = tern(
    "P{ID}_BITS,{ports.ID.inverted: bit 1}{ports.ID.half_duplex: bit 2 not}"
    "{ports.ID.pins_swapped: bit 4}"
)


@given(st.integers(0, 15), st.booleans(), st.booleans(), st.booleans())
def test_single_bits_are_settings_and_a_bit_that_is_none_stays(
    number: int, one: bool, two: bool, four: bool
) -> None:
    opened = dump(f"Puart1_BITS,{number}\n", BITS)
    names = ("inverted", "half_duplex", "pins_swapped")
    bits = (bool(number & 1), not number & 2, bool(number & 4))
    assert values(opened) == {f"ports.uart1.{n}": bit for n, bit in zip(names, bits, strict=True)}
    wanted = {f"ports.uart1.{n}": on for n, on in zip(names, (one, two, four), strict=True)}
    ours = one * 1 + (not two) * 2 + four * 4 + (number & 8)
    assert written(opened, wanted) == f"Puart1_BITS,{ours}\n"


def test_a_bit_may_be_a_word() -> None:
    opened = dump("EAR_BITS,9\n", tern("EAR_BITS,{receiver.smoothing: bit 8 words smooth}"))
    assert values(opened) == {"receiver.smoothing": "auto"}
    assert written(opened, {"receiver.smoothing": "off"}) == "EAR_BITS,1\n"


def test_the_bits_that_are_not_set_may_be_what_is_meant() -> None:
    opened = dump("CHECKS,5\n", tern("CHECKS,{arming.waived: not flags checks}"))
    assert values(opened) == {"arming.waived": frozenset({"throttle"})}  # 7 less 5
    assert written(opened, {"arming.waived": frozenset({"tilt", "receiver"})}) == "CHECKS,2\n"


@given(st.integers(1, 64), st.integers(1, 100))
def test_two_settings_share_one_number(row: int, column: int) -> None:
    name = "overlay.elements.mode"
    of = tern(f"mode {{{name}.row: over 100 from 0}}{{{name}.column: below 100 from 0}}")
    opened = dump("mode 1302\n", of)
    assert values(opened) == {f"{name}.row": 14, f"{name}.column": 3}
    text = written(opened, {f"{name}.row": row, f"{name}.column": column})
    assert text == f"mode {(row - 1) * 100 + column - 1}\n"


def test_a_part_that_has_no_room_in_its_number_is_refused() -> None:
    name = "overlay.elements.mode"
    of = tern(f"mode {{{name}.row: over 100}}{{{name}.column: below 100}}")
    assert (
        "no room"
        in edit(dump("mode 1302\n", of), {f"{name}.column": 100}).refused[f"{name}.column"]
    )


@pytest.mark.parametrize(
    ("line", "text", "path", "value", "other", "text_then"),
    [
        # a number that stands for a word, beside numbers
        ("C{N} = {failsafe.channels.N: words hold or us}", "C6 = -1", "failsafe.channels.6",
         "hold", 1200.0, "C6 = 1200"),
        ("cells = {battery.cells: words auto or 1}", "cells = 6", "battery.cells",
         6, "auto", "cells = 0"),
        # a period in microseconds for a rate: 1,000,000 / 250 = 4000 Hz
        ("turn = {loop.rate: 1000000/n Hz}", "turn = 250", "loop.rate", 4000.0, 8000.0,
         "turn = 125"),
        # 1 / 37.878788 A/V = 0.0264 V/A, and 1 / 0.02 V/A = 50 A/V
        ("steep,{battery.current_scale: 1/n V/A}", "steep,37.878788", "battery.current_scale",
         26.4, 20.0, "steep,50.000000"),
        # radians, as printed: 90 deg are pi / 2
        ("yaw,{board.rotation.yaw: rad}", "yaw,1.570796", "board.rotation.yaw", 90.0, 0.0,
         "yaw,0.000000"),
        # a number is printed as it was: six digits
        ("idle,{esc.idle: 100 %}", "idle,0.055000", "esc.idle", 5.5, 6.25, "idle,0.062500"),
        ("arm,{frame.arms.front_left.x: m}", "arm,0.078000", "frame.arms.front_left.x", 0.078,
         0.08, "arm,0.080000"),
        # a turned sign
        ("mix,{motors.front_left.mix.yaw: -1}", "mix,1.000000", "motors.front_left.mix.yaw",
         -1.0, 0.5, "mix,-0.500000"),
        # a number that stands for no value of a list
        ("plan {video.plan.1: list MHz but 0}", "plan 5728 5752 0 0", "video.plan.1",
         (5728.0, 5752.0), (5800.0,), "plan 5800 0 0 0"),
    ],
)  # fmt: skip
def test_a_form_of_writing_a_value_is_read_and_written_back(
    line: str, text: str, path: str, value: Value, other: Value, text_then: str
) -> None:
    of = tern(line)
    opened = dump(text + "\n", of)
    assert values(opened) == {path: value}
    assert written(opened, {path: other}) == text_then + "\n"
    assert written(dump(text_then + "\n", of), {path: value}) == text + "\n"


@given(st.integers(-1800, 1800))
def test_radians_with_six_digits_hold_every_tenth_of_a_degree(tenths: int) -> None:
    of = tern("yaw,{board.rotation.yaw: rad}")
    printed = f"{tenths / 10 * pi / 180:.6f}"
    assert values(dump(f"yaw,{printed}\n", of)) == {"board.rotation.yaw": tenths / 10}
    text = written(dump("yaw,3.000000\n", of), {"board.rotation.yaw": tenths / 10})
    assert float(text.removeprefix("yaw,")) == float(printed)


@given(st.fractions(-100, 100), st.fractions(0, 1))
def test_the_shortest_number_of_a_stretch_lies_in_it(low: Fraction, width: Fraction) -> None:
    found = shortest(low, low + width)
    assert low <= found <= low + width or not width


SHARES = tern(
    "gyro = {gyro.sample_rate: kHz}",
    "each = {loop.rate: gyro.sample_rate/n}",
    "log = {flight_log.rate: loop.rate/n}",
    "cells = {battery.cells: words auto or 1}",
    "warn = {battery.warn_cell: 0.01/battery.cells V}",
)
DIVIDED = "log = 8\neach = 2\ngyro = 8\nwarn = 1400\ncells = 4\n"


def test_a_value_may_hang_on_another_line_wherever_that_stands() -> None:
    found = values(dump(DIVIDED, SHARES))
    assert (found["loop.rate"], found["flight_log.rate"]) == (4000.0, 500.0)  # 8 kHz by 2, by 8
    assert found["battery.warn_cell"] == 3.5  # 14.00 V of four cells


def test_what_hangs_on_a_setting_that_is_not_known_is_not_stated() -> None:
    opened = dump(DIVIDED.replace("cells = 4", "cells = 0"), SHARES)
    assert "battery.warn_cell" not in opened.settings
    assert edit(opened, {"battery.warn_cell": 3.4}).refused.keys() == {"battery.warn_cell"}


def test_what_hangs_on_a_setting_that_changes_keeps_its_value() -> None:
    assert written(dump(DIVIDED, SHARES), {"battery.cells": 6, "gyro.sample_rate": 4000.0}) == (
        "log = 8\neach = 1\ngyro = 4\nwarn = 2100\ncells = 6\n"
    )


OUTPUTS = tern(
    "OUT{ID},{ARM: words arms}{pads.ID.use = motor ARM}{motors.ARM.output = ID}",
    "OUT{ID},{pads.ID.use: words uses}",
)


def test_an_index_in_a_constant_joins_two_settings() -> None:
    opened = dump("OUT1,22\nOUT2,21\nOUT3,0\n", OUTPUTS)
    assert values(opened) == {
        "pads.1.use": "motor front_right", "motors.front_right.output": 1,
        "pads.2.use": "motor front_left", "motors.front_left.output": 2,
        "pads.3.use": "free",
    }  # fmt: skip
    swapped: dict[str, Value] = {
        "pads.1.use": "motor front_left", "motors.front_left.output": 1,
        "pads.2.use": "motor front_right", "motors.front_right.output": 2,
    }  # fmt: skip
    assert sorted(written(opened, swapped).split()) == ["OUT1,21", "OUT2,22", "OUT3,0"]


def test_half_of_what_such_a_line_says_is_refused() -> None:
    opened = dump("OUT1,22\nOUT3,0\n", OUTPUTS)
    assert (
        "pads.3.use"
        in edit(opened, {"motors.front_right.output": 3}).refused["motors.front_right.output"]
    )


def test_a_list_may_have_a_row_a_number() -> None:
    of = tern("PLAN{N}_{SEAT},{video.plan.N[SEAT]: MHz}")
    opened = dump("PLAN1_1,5728\nPLAN1_10,5800\nPLAN1_2,5752\nPLAN1_11,0\n", of)
    assert values(opened) == {"video.plan.1": (5728.0, 5752.0, 5800.0)}
    assert written(opened, {"video.plan.1": (5700.0, 5710.0)}) == (
        "PLAN1_1,5700\nPLAN1_10,0\nPLAN1_2,5710\nPLAN1_11,0\n"
    )
    five = tuple(float(n) for n in range(5700, 5705))
    assert edit(opened, {"video.plan.1": five}).refused.keys() == {"video.plan.1"}


ROWS = tern(
    "fit {SLOT} 0 0 0 0{switches.FUNCTION[SLOT] = none}",
    "fit {SLOT} {FUNCTION: words deeds} {switches.FUNCTION[SLOT].channel} "
    "{switches.FUNCTION[SLOT].low: us} {switches.FUNCTION[SLOT].high: us}",
)
FITTED = "fit 0 1 5 1700 2100\nfit 1 0 0 0 0\nfit 2 0 0 0 0\n"


def test_a_new_range_takes_an_empty_row_and_leaves_one_when_it_goes() -> None:
    opened = dump(FITTED, ROWS)
    arm = SwitchRange(5, 1700.0, 2100.0)
    assert values(opened) == {"switches.arm": (arm,)}
    horn = SwitchRange(6, 1300.0, 1500.0)
    more = written(opened, {"switches.buzzer": (horn,), "switches.arm": (arm, horn)})
    assert more == "fit 0 1 5 1700 2100\nfit 1 2 6 1300 1500\nfit 2 1 6 1300 1500\n"
    less = written(dump(more, ROWS), {"switches.arm": (horn,)})
    assert sorted(less.splitlines())[-1] in ("fit 2 0 0 0 0", "fit 2 1 6 1300 1500")
    assert len(less.splitlines()) == 3


def test_no_row_of_another_function_is_taken() -> None:
    opened = dump("fit 0 1 5 1700 2100\n", ROWS)
    why = edit(opened, {"switches.buzzer": (SwitchRange(6, 1300.0, 1500.0),)}).refused
    assert "no empty row" in why["switches.buzzer"]


def test_a_slot_that_a_word_of_its_own_empties_holds_nothing() -> None:
    of = tern(
        "S{SLOT}_KIND,0{filters.gyro[SLOT] = none}",
        "S{SLOT}_KIND,{filters.gyro[SLOT].kind: words kinds}",
        "S{SLOT}_CUT,{filters.gyro[SLOT].cutoff: Hz}",
    )
    opened = dump("S1_KIND,2\nS1_CUT,90\nS2_KIND,0\nS2_CUT,150\n", of)
    assert values(opened) == {"filters.gyro": (Filter("pt2", 90.0),)}


def test_a_line_of_another_row_than_the_open_one_is_left_alone() -> None:
    rows = {
        "under": "L{N}_DEED,{FUNCTION: words deeds}",
        "map": [
            "L{N}_FROM,{switches.FUNCTION[N].low: us}{switches.FUNCTION[N].channel = N}",
            "L{N}_TO,{switches.FUNCTION[N].high: us}",
        ],
    }
    of = tern(lines=[rows])
    right = dump("L5_DEED,1\nL5_FROM,1700\nL5_TO,2100\n", of)
    assert values(right) == {"switches.arm": (SwitchRange(5, 1700.0, 2100.0),)}
    assert values(dump("L5_DEED,1\nL6_FROM,1700\nL6_TO,2100\n", of)) == {}
    moved = edit(right, {"switches.arm": (SwitchRange(6, 1700.0, 2100.0),)})
    assert moved.refused.keys() == {"switches.arm"}  # no line is turned into one of lane 6


def test_a_row_of_which_no_line_says_whose_it_is_states_nothing_and_is_a_fault() -> None:
    line = "sw{SLOT}_ch {switches.FUNCTION[SLOT].channel}"
    (fault,) = check_text(f'name = "tern"\n[[lines]]\nmap = ["{line}"]\n')
    assert "does not say which FUNCTION" in fault.message
    opened = dump("sw0_ch 5\n", tern(line))
    assert values(opened) == {}
    assert "does not say which FUNCTION" in opened.settings.troubles[0].message


def test_an_end_mark_may_hold_a_count() -> None:
    of = tern("led = {finder.led}", look={"end": "(* rows)"})
    assert dump("led = on\n(1 rows)\n", of).settings.troubles == ()
    (trouble,) = dump("led = on\n", of).settings.troubles
    assert trouble.kind is TroubleKind.TRUNCATED


def test_what_is_typed_stands_between_what_opens_a_session_and_what_saves() -> None:
    of = tern("led = {finder.led}", typing={"before": ["let me"], "after": ["bank 1", "keep"]})
    opened = dump("led = on\n", of)
    change = line_change(opened, edit(opened, {"finder.led": False}).opened)
    assert change is not None
    assert change.forth.lines == ("let me", "led = off", "bank 1", "keep")
    assert change.back.lines == ("let me", "led = on", "bank 1", "keep")
    assert change.hunks[0].new == ("led = off\n",)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("a = {finder.led: bit 3}", "a bit is worth 1, 2, 4, 8"),
        ("a = {motors.poles: over 0}", "a number above 0"),
        ("a = {loop.rate: 0/n Hz}", "a number other than 0"),
        ("a = {loop.rate: craft.name/n}", "craft.name is no setting with a number"),
        ("a = {arming.waived: not flags chekcs}", "there is no table flags.chekcs"),
    ],
)
def test_a_form_that_means_nothing_is_told(line: str, said: str) -> None:
    text = f"name = 'tern'\n[flags]\nchecks = {{ tilt = 1 }}\n[[lines]]\nmap = ['{line}']\n"
    assert said in check_text(text)[0].message


SPEC = Spec(SpecForm.WORDS, table="roles")
ROLE_KIND = WordSet(("video_control", "camera_control", "position"))
ROLES = {"roles": {"video sender": "video_control", "video": "camera_control", "gps": "position"}}


@pytest.mark.parametrize(
    ("text", "roles"),
    [
        ("video sender", frozenset({"video_control"})),
        ("gps video sender", frozenset({"position", "video_control"})),
        ("video, gps", frozenset({"camera_control", "position"})),
    ],
)
def test_several_words_of_a_word_list_are_one_in_a_set(text: str, roles: frozenset[str]) -> None:
    read = read_with(SPEC, ROLE_KIND, text, WordLists(ROLES, {}))
    assert read == roles
    written = write_with(SPEC, ROLE_KIND, read, WordLists(ROLES, {}))
    assert read_with(SPEC, ROLE_KIND, written, WordLists(ROLES, {})) == roles


def test_the_unit_behind_a_list_is_that_of_each_number() -> None:
    spec, kind, none = (
        Spec(SpecForm.SCALED, unit="mW", many=True),
        Quantities("mW", 0, 10_000),
        WordLists({}, {}),
    )
    assert read_with(spec, kind, "25 100 400 mW", none) == (25.0, 100.0, 400.0)
    assert read_with(spec, kind, "0.025 0.1 W", none) == (25.0, 100.0)
    assert write_with(spec, kind, (25.0, 200.0), none, "25 100 mW") == "25 200 mW"
    with pytest.raises(CannotWrite):
        write_with(spec, kind, (25.0, 200.0), none, "0.025 0.1 W")


TITLED = tern(
    look={"titles": ["-- * --", "*:"]},
    lines=[
        {"under": "-- motor {ARM} --", "map": ["output = {motors.ARM.output}"]},
        {"under": "pack:", "map": ["cells {battery.cells}"]},
    ],
)
DECORATED = """---- motor front_left --------
output = 2
-- motor front_right --
output = 1
pack:
cells 4
"""


def test_a_look_may_have_section_heads_of_its_own() -> None:
    opened = dump(DECORATED, TITLED)
    read = {"motors.front_left.output": 2, "motors.front_right.output": 1, "battery.cells": 4}
    assert values(opened) == read
    text = written(opened, {"motors.front_right.output": 3, "battery.cells": 6})
    assert text == DECORATED.replace("output = 1", "output = 3").replace("cells 4", "cells 6")


@pytest.mark.parametrize("line", ["-- motor = 4 --", "-- cells", "cells: 4", ":", "-- --"])
def test_what_states_something_or_has_no_words_is_no_such_head(line: str) -> None:
    assert values(dump(f"pack:\n{line}\ncells 4\n", TITLED)) == {"battery.cells": 4}


PACE = tern("loop {loop.rate: Hz}", "low {battery.warn_cell: 0.01 V}", "name {craft.name}")


@pytest.mark.parametrize("line", ["loop 4 kHz", "loop 4000 Hz", "loop 4000"])
def test_a_number_at_the_end_of_a_line_of_words_may_have_its_unit_behind_it(line: str) -> None:
    assert values(dump(f"{line}\n", PACE)) == {"loop.rate": 4000.0}


def test_a_number_is_written_back_in_the_unit_that_stands_behind_it() -> None:
    assert written(dump("loop 4 kHz\n", PACE), {"loop.rate": 8000.0}) == "loop 8 kHz\n"


@pytest.mark.parametrize("line", ["loop fast kHz", "loop 4 laps", "name 4 V", "loop 4  kHz  Hz"])
def test_a_word_behind_that_is_no_unit_of_a_number_leaves_the_line_unread(line: str) -> None:
    assert values(dump(f"{line}\n", PACE)) == {}


@pytest.mark.parametrize("title", ["*", "", "--", "-- * -- * --", "one two * three"])
def test_a_title_without_one_star_and_a_sign_beside_it_is_a_fault(title: str) -> None:
    text = f'name = "tern"\n[look]\ntitles = ["-- * --", "{title}"]\n'
    (fault,) = check_text(text)
    assert (fault.line, "a title is one *" in fault.message) == (3, True)
