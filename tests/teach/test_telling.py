"""What an answer without a line is taken to be about: the one line that fits it, or none."""

from textwrap import dedent

import pytest

from cfgaudit.dialects.plain import read_plain
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import (
    Answer,
    Question,
    State,
    answer_from,
    answered,
    question_of_setting,
    taught,
    with_all,
)
from cfgaudit.teach.telling import contradiction, problem_of
from cfgaudit.teach.words import CONTROLS
from cfgaudit.teach.write import read_draft
from cfgaudit.vocabulary.kinds import SwitchRange
from cfgaudit.vocabulary.paths import vocabulary
from tests.teach.test_shapes import STICKS, TURNED, asked


def told(state: State, **answers: str) -> State:
    for path, value in answers.items():
        state = answered(state, Answer(path.replace("__", "."), value))
    return state


def stated(state: State) -> Settings:
    return taught(state).settings


def test_a_stick_is_not_tied_to_a_line_that_is_another_channel_by_its_words() -> None:
    """4 is the video channel; that it would be the yaw stick's too is chance."""
    state = asked("video_channel = 4", "video_power_mw = 25", "stick_scheme = TAER")
    state = told(state, receiver__map__roll="2", receiver__map__yaw="4")
    assert not [path for path in stated(state) if path.startswith("receiver.map.")]
    assert [one.answer.asked for one in taught(state).unplaced] == [
        "receiver.map.roll",
        "receiver.map.yaw",
    ]
    found = stated(told(state, video__transmitter__channel="4"))
    assert found["video.transmitter.channel"].value == 4


def test_of_two_lines_with_one_value_none_is_taken_unless_their_words_tell() -> None:
    lines = ["failsafe_stork = 1.0", "failsafe_heron = 1.0"]
    state = told(asked(*lines), failsafe__hold_for="1 s")
    assert "failsafe.hold_for" not in stated(state)
    assert [str(one.why) for one in taught(state).unplaced] == ["lines 1 and 2 fit it equally well"]
    state = told(asked(*lines, "failsafe_hold = 1.0"), failsafe__hold_for="1 s")
    place = stated(state)["failsafe.hold_for"].place
    assert place is not None
    assert place.line == 3
    assert not taught(state).unplaced


def test_the_line_that_the_builder_tells_is_taken_whatever_else_fits() -> None:
    state = asked("failsafe_stork = 1.0", "failsafe_heron = 1.0")
    found = stated(answered(state, Answer("failsafe.hold_for", "1 s", line=2)))
    place = found["failsafe.hold_for"].place
    assert place is not None
    assert place.line == 2


def test_a_number_that_is_none_of_a_few_codes_stands_for_no_word() -> None:
    """450 is a frequency: that it would stand for the kind of a filter is no reading."""
    state = asked("gyro_filter_1 = 0", "gyro_filter_2 = 450")
    state = told(state, filters__gyro="pt1 450 Hz")
    assert "pt1" not in taught(state).draft.text


def test_an_answer_that_a_line_is_read_otherwise_is_told_with_the_line_and_both() -> None:
    lines = ["battery_cells = 4", "battery_full_cell = 4.20 V", "battery_warn_cell = 3.50 V"]
    state = told(asked(*lines), battery__warn_cell="3.6 V", battery__full_cell="4.2 V")
    [one] = taught(state).unplaced
    assert one.answer.asked == "battery.warn_cell"
    assert one.why == "line 3 is read as 3.5 V, your answer is 3.6 V"


def test_angles_that_are_all_alike_are_left_and_one_that_differs_is_taken() -> None:
    lines = ["board turned: 0 deg", "board tipped forward: 0 deg", "board tipped right: 0 deg"]
    state = told(asked(*lines), board__rotation__yaw="0 deg")
    assert "board.rotation.yaw" not in stated(state)
    assert [one.why for one in taught(state).unplaced] == ["lines 1, 2 and 3 fit it equally well"]
    lines[0] = "board turned: 90 deg"
    place = stated(told(asked(*lines), board__rotation__yaw="90 deg"))["board.rotation.yaw"].place
    assert place is not None
    assert place.line == 1


def test_a_port_that_the_builder_calls_otherwise_takes_his_name() -> None:
    lines = [f"port {n}: {job}" for n, job in enumerate(("receiver", "telemetry", "console"), 1)]
    known = read_plain("ports.1.roles = receiver\nports.3.roles = console\n")
    found = stated(with_all(asked(*lines), known))
    assert {"ports.1.roles", "ports.3.roles"} <= set(found)


def test_a_pad_of_another_letter_keeps_its_own_name() -> None:
    table = """
        PADS
        Pad  Used for            Timer
        ---  -----------------   -----
        D1   motor front right   T2
        D2   motor front left    T2
        E1   led strip           T8
        E2   buzzer              -
        F1   free                -
    """
    known = read_plain("pads.d1.use = motor front_right\npads.d2.use = motor front_left\n")
    found = stated(with_all(asked(*dedent(table).splitlines()[1:]), known))
    assert {path.casefold(): str(found[path].value) for path in found if path.endswith("use")} == {
        "pads.d1.use": "motor front_right",
        "pads.d2.use": "motor front_left",
        "pads.e1.use": "led_strip",
        "pads.e2.use": "buzzer",
        "pads.f1.use": "free",
    }


def test_what_no_line_can_say_is_not_asked_for() -> None:
    """Two lines are left: neither is about a place, so no answer about home could be used."""
    state = asked("stork: heron", "battery_cells = 4")
    paths = set()
    while (one := question_of_setting(state)) is not None:
        paths.add(one.path)
        state = answered(state, Answer(one.path))
    assert not [path for path in paths if path.startswith("home.")]


SWITCHES = [
    "wag: channel 5 from 1700 to 2100",
    "self level: channel 6 from 1300 to 2100",
    "buzzer: channel 8 from 1700 to 2100",
    "motor kill: channel 11 from 1700 to 2100",
    "position hold: channel 7 from 1700 to 2100",
]


def test_a_switch_of_a_name_that_nobody_knows_is_asked_for_and_found_by_its_range() -> None:
    sticks = [f"{stick} from: channel {n}" for n, stick in enumerate(CONTROLS, 1)]
    state = asked("Receiver", "--------", *sticks, "", "Switches", "--------", *SWITCHES)
    assert "switches.arm" not in stated(state)
    first = question_of_setting(state)
    assert first is not None
    assert (first.path, [line.number for line in first.lines]) == ("switches.arm", [10])
    found = stated(told(state, switches__arm="5: 1700..2100 us"))
    assert found["switches.arm"].value == (SwitchRange(5, 1700.0, 2100.0),)
    found = stated(told(state, switches__arm="6: 1300..2100 us"))
    assert "switches.arm" not in found  # that line is the levelling switch's
    assert "switches.self_level" in found


def test_an_answer_that_is_about_no_switch_names_none() -> None:
    rows = (*STICKS, *TURNED, "switch zork 9 1500 2100", "sender channel 9")
    state = answered(asked(*rows), Answer("video.transmitter.channel", "9"))
    assert '"zork" =' not in taught(state).draft.text
    state = answered(state, Answer("switches.buzzer", "9: 1500..2100 us"))
    assert '"zork" = "buzzer"' in taught(state).draft.text


def test_a_question_is_answered_by_its_kin_as_well() -> None:
    """The builder knows the second element's row; what rows count from is told by any."""
    names = ("volts", "cell", "amps", "mah", "timer", "warnings", "speed", "sats", "signal")
    lines = [f"osd {name} {14 - n} {2 + 2 * n}" for n, name in enumerate(names)]
    state = asked("# osd: what, row, column", "osd on", *lines, "osd horizon off")
    found = question_of_setting(state)
    assert found is not None
    assert found.path == "overlay.elements.battery_voltage.row"
    known = read_plain("overlay.elements.cell_voltage.row = 13\n", "known.cfg")
    answer = answer_from(known, found)
    assert (answer.asked, answer.value) == ("overlay.elements.cell_voltage.row", "13")
    assert stated(answered(state, answer))["overlay.elements.current.row"].value == 12


def test_a_list_that_could_only_be_read_in_part_is_not_read() -> None:
    """The second stage stands in a shape of its own: half of a list would be another list."""
    state = asked("[gyroFilter]", "stage1: pt1 140Hz", "stage2: notch 240Hz q3")
    state = told(state, filters__gyro="pt1 140 Hz, notch 240 Hz q 3")
    assert "filters.gyro" not in stated(state)
    assert [one.answer.asked for one in taught(state).unplaced] == ["filters.gyro"]


def test_off_is_on_only_where_words_say_so() -> None:
    """Of two lines that may be it, the one that says off is it: the other would be turned round."""
    state = asked("follow peaks on", "follow peaks low 150 hz", "follow motors off")
    found = stated(told(state, notches__motor__enabled="off"))["notches.motor.enabled"]
    assert found.value is False
    assert found.place is not None
    assert found.place.line == 3


def test_a_verb_before_a_value_is_part_of_its_line() -> None:
    state = told(asked("allow arming by switch", "allow arming tilt 30 deg"), arming__by="switch")
    assert stated(state)["arming.by"].value == "switch"
    assert stated(state)["arming.max_tilt"].value == 30.0


def test_motors_whose_arms_are_not_known_are_no_arms() -> None:
    """That motor 1 is the rear right one says nothing of motor 2."""
    pads = ["pad M1 motor_1", "pad M2 motor_2", "pad LED led_strip", "pad BUZ buzzer"]
    found = stated(told(asked(*pads), pads__M1__use="motor rear_right"))
    assert found["pads.M1.use"].value == "motor rear_right"
    assert "pads.M2.use" not in found


@pytest.mark.parametrize(
    ("known", "path"),
    [
        ("pads.p1.use = camera_key", "pads.p1.use"),  # his p1 is the dump's s1, or its 01
        ("pads.s5.use = led_strip\npads.k1.use = camera_key", ""),  # he calls none of them k
        ("pads.s1.use = buzzer\npads.k1.use = camera_key", "pads.s1.use"),
    ],
)
def test_a_pad_of_another_letter_is_another_pad_where_the_builder_has_both(
    known: str, path: str
) -> None:
    asked = Question("pads.s1.use", "", "", (), 1, 1)
    assert answer_from(read_plain(known), asked).path == path


def test_a_stick_s_channel_is_no_number_of_a_line_that_names_no_stick() -> None:
    """Its link is 4 and its dead band 3 5: that yaw is on 4 and pitch on 3 is chance."""
    state = asked("rx_typ 4", "rx_nch 16", "rx_dbd 3 5", "vt_pwr 2 1", "esc_proto 6")
    known = read_plain("".join(f"receiver.map.{s} = {n}\n" for n, s in enumerate(CONTROLS, 1)))
    found = stated(with_all(state, known))
    assert not [path for path in found if path.startswith("receiver.map.")]


def test_any_setting_can_be_asked_for_also_one_in_no_group() -> None:
    patterns = [entry.pattern for entry in vocabulary()]
    assert "switches_join" in patterns
    for pattern in patterns:
        asked = Question(pattern, "", "", (), 1, 0)
        assert answer_from(read_plain("ports.usb.roles = console\n"), asked).asked == pattern


def test_no_answer_without_a_line_makes_a_number_count_in_an_odd_step() -> None:
    """A height of 35 m is no switch's 1750 in steps of 0.02 m; and 100 m no 20 in fives."""
    lines = ["HOMING 6 1750 2100", "not_nearer 20", "heron 9"]
    for path, value in (("home.altitude", "35 m"), ("home.ceiling", "100 m")):
        assert path not in stated(told(asked(*lines), **{path: value})).stated


def test_a_loop_that_counts_the_gyro_s_samples_is_read_as_a_share_of_them() -> None:
    state = told(asked("gyro_rate 8000 Hz", "loop every 2", "heron 9"), **{"loop.rate": "4 kHz"})
    draft = read_draft(taught(state).draft)
    other = Document("b.dump", read_text(b"gyro_rate 4000 Hz\nloop every 2\nheron 9"))
    assert read_settings(other, draft).stated["loop.rate"].value == 2000.0


def test_an_answer_with_its_line_is_the_word_that_may_say_it_and_leaves_the_others() -> None:
    line = "The receiver speaks how:twoway420 over channels:16"
    state = asked(line, "heron 9")
    state = answered(state, Answer("receiver.link", "crsf", line=1))
    found = stated(state).stated
    assert found["receiver.link"].value == "crsf"
    assert found["receiver.channels"].value == 16
    other = Document("b.dump", read_text(line.replace("16", "12").encode() + b"\nheron 9"))
    again = read_settings(other, read_draft(taught(state).draft)).stated
    assert again["receiver.channels"].value == 12
    assert again["receiver.link"].value == "crsf"


MOTORS = (
    "Motor 1 stands at:aft_right way:clockwise lift:1.00",
    "Motor 2 stands at:fore_right way:against lift:1.00",
    "Motor 3 stands at:aft_left way:against lift:1.00",
    "Motor 4 stands at:fore_left way:clockwise lift:1.00",
)


def test_a_turn_is_said_by_what_differs_as_turns_do_and_not_by_a_motor_s_number_or_corner() -> None:
    state = asked(*MOTORS, "heron 9")
    state = answered(state, Answer("", "ccw", "motors.rear_left.spin", 3))
    spins = {path: one.value for path, one in stated(state).stated.items() if "spin" in path}
    turns = {
        "motors.rear_right.spin": "cw", "motors.front_right.spin": "ccw",
        "motors.rear_left.spin": "ccw", "motors.front_left.spin": "cw",
    }  # fmt: skip
    assert spins.items() <= turns.items()
    assert len(spins) >= 3


def test_a_line_with_an_open_end_does_not_take_the_lines_of_a_longer_key() -> None:
    lines = ["set 1 is flown now"]
    lines += [
        f"set {n} axis {axis} gains p:4{n} i:8{n} d:3{n}"
        for n in (1, 2)
        for axis in ("roll", "pitch", "yaw")
    ]
    state = told(asked(*lines), **{"banks.active": "1"})
    found = stated(state).stated
    assert found["banks.active"].value == 1
    assert found["banks.2.gains.yaw.p"].value == 42


@pytest.mark.parametrize(
    ("line", "path", "value"),
    [
        ("notches follow motors:yes overtones:3 floor:95", "notches.motor.harmonics", "5"),
        ("gains 42 78 29", "banks.1.gains.roll.p", "52"),
    ],
)
def test_a_number_that_none_of_several_can_be_is_asked_about_again(
    line: str, path: str, value: str
) -> None:
    assert contradiction(line, path, value).startswith("the line says ")


def test_a_value_beyond_what_a_setting_can_have_is_no_answer() -> None:
    assert "is not" in problem_of("motors.rear_right.mix.yaw", "16")


def test_a_range_that_is_told_takes_a_function_from_a_word_that_was_thought_to_mean_it() -> None:
    lines = [
        "% fits: function, channel counted from 0, from, to",
        "FITS",
        "ARM       4  1750  2100",
        "LEVEL     5  1300  2100",
        "HOMING    6  1750  2100",
        "HORN      7  1700  2100",
        "FLIPBACK  8  1650  2100",
        "KILL     10  1750  2100",
        "",
        "RADIO",
        "channels 12",
        "",
        "PACK",
        "cells 4",
        "",
        "GONE",
        "notice 350 ms",
    ]
    state = told(asked(*lines), **{"switches.return_home": "7: 1750..2100"})
    found = stated(state).stated
    assert found["switches.return_home"].value == (SwitchRange(7, 1750.0, 2100.0),)
    assert found["switches.return_home"].place is not None
    assert found["switches.return_home"].place.line == 5


def test_an_element_whose_row_and_column_are_one_number_tells_nothing_of_others() -> None:
    lines = ["show signal 1 1", "show amps 9 11", "show timer 22 9", "show mode 3 12", "heron 9"]
    state = asked(*lines)
    for leaf in ("row", "column"):
        state = answered(state, Answer("", "1", f"overlay.elements.signal_strength.{leaf}", 1))
    found = stated(state).stated
    assert "overlay.elements.signal_strength.row" in found
    assert "overlay.elements.current.row" not in found
