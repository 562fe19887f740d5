"""What a builder says of a line: a mapping line by example, and for lines of its sort."""

from collections.abc import Sequence

import pytest

from cfgaudit.cli.teaching import to_pass_on
from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import (
    NOTHING_SAID,
    Answer,
    CandidateLine,
    LineQuestion,
    State,
    answered,
    begun,
    checked_of_line,
    question,
    question_of_setting,
    read_otherwise,
    said_of_line,
    taught,
    turned_round,
    undone,
)
from cfgaudit.teach.exact import SaidOfLine, exact_lines
from cfgaudit.teach.lines import WordTables
from cfgaudit.teach.telling import contradiction
from cfgaudit.teach.words import CONTROLS
from cfgaudit.teach.write import read_draft, read_dumps
from cfgaudit.vocabulary.kinds import BadValue, Filter, SwitchRange
from tests.teach.measure import Case, cases, plain, reader_of
from tests.teach.test_looks import LOOKS
from tests.teach.test_shapes import asked


def said(state: State, line: int, *settings: str) -> State:
    """The state after what a line was told to state, as `path = value`."""
    of_line = LineQuestion(CandidateLine(line, ""), (), 1, 0)
    for answer in said_of_line(of_line, "; ".join(settings)):
        state = answered(state, answer)
    return state


def read(state: State, lines: Sequence[str] | None = None) -> Settings:
    """What the dialect as it stands reads, of these lines or of the dump."""
    dialect = read_draft(taught(state).draft)
    text = read_text("\n".join(lines).encode()) if lines else state.texts[0]
    return read_settings(Document("a.dump", text, dialect.look), dialect)


def values(found: Settings, group: str) -> dict[str, object]:
    return {p: s.value for p, s in found.stated.items() if p.startswith(f"{group}.")}


def test_each_value_told_is_read_in_its_place_and_in_its_step() -> None:
    state = said(
        asked("stork 42 12000", "heron 9"), 1, "battery.full_cell = 4.2 V", "home.ceiling = 120 m"
    )
    assert read(state)["battery.full_cell"].value == 4.2
    other = read(state, ["stork 43 11000", "heron 9"])
    assert (other["battery.full_cell"].value, other["home.ceiling"].value) == (4.3, 110.0)


def test_a_number_is_read_in_no_step_that_no_firmware_would_choose() -> None:
    """2 is not 1500 us in steps of 750; in per cent of half the travel from the middle 0 is."""
    state = said(asked("rook lane 2 to 0", "heron 9"), 1, "failsafe.channels.2 = 1500 us")
    other = read(state, ["rook lane 2 to -46", "heron 9"])
    assert other["failsafe.channels.2"].value == 1270.0


def test_a_line_behind_what_counts_the_lines_may_be_told_of() -> None:
    lines = [*LOOKS["I (12) cfg: a_b=1us"](), "I (9990) cfg: wobble=42"]
    state = asked(*lines)
    assert taught(state).draft.text.count("(*) cfg:") == 1
    state = said(state, len(lines), "battery.full_cell = 4.2 V")
    assert read(state)["battery.full_cell"].value == 4.2


def test_equal_numbers_are_taken_in_the_order_told() -> None:
    state = asked("stork=100 100 -100 100", "heron=9")
    mix = [f"motors.front_left.mix.{part} = {n}" for part, n in
           (("thrust", 1), ("roll", 1), ("pitch", -1), ("yaw", 1))]  # fmt: skip
    found = read(said(state, 1, *mix), ["stork=100 90 -80 70", "heron=9"])
    assert list(values(found, "motors").values()) == [1.0, 0.9, -0.8, 0.7]


def test_lines_of_its_sort_are_read_by_the_names_of_the_same_list() -> None:
    """Each differs in a word that names another element; row 14 is printed as 14."""
    lines = [f"ROOK{n}{word}=1 {14 - n} {2 + n}" for n, word in
             enumerate(("VOLTS", "AMPS", "MODE", "SATS"))]  # fmt: skip
    state = said(
        asked(*lines, "heron 9"), 2,
        "overlay.elements.current.shown = on", ".row = 13", ".column = 3",
    )  # fmt: skip
    assert values(read(state), "overlay") == {
        f"overlay.elements.{element}.{part}": value
        for n, element in enumerate(("battery_voltage", "current", "mode", "satellites"))
        for part, value in (("shown", True), ("row", 14 - n), ("column", 2 + n))
    }


def test_a_list_on_several_lines_is_read_whole_from_whichever_was_told() -> None:
    lines = ["sieve 0 1 260 0", "sieve 1 5 410 35", "sieve 2 0 0 0", "heron 9"]
    for line in (1, 2):
        state = said(asked(*lines), line, "filters.gyro = pt1 260 Hz, notch 410 Hz q 3.5")
        wanted = (Filter("pt1", 260.0), Filter("notch", 410.0, 3.5))
        assert read(state)["filters.gyro"].value == wanted


def test_a_list_of_which_a_part_stands_nowhere_is_not_read_in_part() -> None:
    state = said(
        asked("sieve 0 1 260 0", "heron 9"), 1, "filters.gyro = pt1 260 Hz, notch 410 Hz q 3.5"
    )
    assert "filters.gyro" not in read(state)
    assert [one.answer.path for one in taught(state).unplaced] == ["filters.gyro"]


def test_the_ends_of_a_range_are_found_on_the_lines_below() -> None:
    lines = ["rook lane 5", "rook least 1700", "rook most 2100", "heron 9"]
    state = said(asked(*lines), 1, "switches.arm = 5: 1700..2100 us")
    assert read(state)["switches.arm"].value == (SwitchRange(5, 1700.0, 2100.0),)


def test_of_counted_lines_the_number_and_what_is_behind_are_left_open() -> None:
    lines = [f"{700 + n} lane aux{n} on {4 + n} {9 - n}" for n in range(1, 7)]
    found = read(said(asked(*lines), 2, "receiver.map.aux2 = 6"))
    assert values(found, "receiver") == {f"receiver.map.aux{n}": 4 + n for n in range(1, 7)}


def test_two_counts_are_taken_out_of_one_number() -> None:
    """Row 14, column 2 of rows that are 32 wide, both from 0: 13 * 32 + 1."""
    state = said(
        asked("rook volts 417", "heron 9"), 1,
        "overlay.elements.battery_voltage.row = 14", ".column = 2",
    )  # fmt: skip
    found = read(state, [f"rook volts {2 * 32 + 20}", "heron 9"])
    assert list(values(found, "overlay").values()) == [3, 21]


def test_a_pulse_may_be_counted_from_the_middle() -> None:
    """In half per cents of 1000 us: 40 is 1500 + 5 * 40."""
    state = said(asked("stork 5 40 120", "heron 9"), 1, "switches.arm = 5: 1700..2100 us")
    found = read(state, ["stork 6 -100 20", "heron 9"])
    assert found["switches.arm"].value == (SwitchRange(6, 1000.0, 1600.0),)


def test_what_no_word_says_is_read_of_that_very_line_alone() -> None:
    state = said(asked("stork every 4", "heron 9"), 1, "flight_log.rate = 800 Hz")
    assert read(state)["flight_log.rate"].value == 800.0
    assert "flight_log.rate" not in read(state, ["stork every 8", "heron 9"])


def test_a_line_in_a_block_of_several_is_read_in_each_of_them() -> None:
    arms = ("front left", "front right", "rear right", "rear left")
    blocks = [
        line
        for n, arm in enumerate(arms)
        for line in (f"[motor {arm}]", f"turns = {'cw' if n % 2 else 'ccw'}", f"stork = {n + 1}")
    ]
    found = read(said(asked(*blocks), 6, "motors.front_right.output = 2"))
    outputs = {p: value for p, value in values(found, "motors").items() if p.endswith("output")}
    assert outputs == {
        f"motors.{arm}.output": n
        for n, arm in enumerate((arm.replace(" ", "_") for arm in arms), 1)
    }
    assert found["motors.front_left.spin"].value == "ccw"


def test_what_all_of_a_line_says_in_a_block_of_several_is_said_of_each_that_has_it() -> None:
    arms = ("FL", "FR", "RR", "RL")
    blocks = [
        line
        for n, arm in enumerate(arms)
        for line in (f"[motor {arm}]", f"output = {n + 1}", f"stork = {'e' if n % 2 else 'w'}")
    ]
    state = said(asked(*blocks), 3, "motors.front_left.mix.yaw = 0.8")
    yaws = {p: v for p, v in values(read(state), "motors").items() if p.endswith("yaw")}
    assert yaws == {"motors.front_left.mix.yaw": 0.8, "motors.rear_right.mix.yaw": 0.8}


def test_three_arms_told_by_their_numbers_tell_the_fourth() -> None:
    lines = [f"m{n} turn {'cw' if n % 2 else 'ccw'}" for n in range(1, 5)]
    state = asked(*lines, "heron 9")
    for line, arm, spin in (
        (1, "rear_right", "cw"),
        (2, "front_right", "ccw"),
        (3, "rear_left", "cw"),
    ):
        state = said(state, line, f"motors.{arm}.spin = {spin}")
    assert read(state)["motors.front_left.spin"].value == "ccw"


def test_the_signs_of_where_an_arm_stands_tell_the_others() -> None:
    """And their numbers then are known of other lines, which count them alike."""
    seats = ("74 -74", "74 74", "-74 74", "-74 -74")
    lines = [f"roost {n} {seat}" for n, seat in enumerate(seats)]
    lines += [f"wing {n} {4 - n}" for n in range(4)]
    state = said(
        asked(*lines, "heron 9"), 3,
        "frame.arms.rear_right.x = -74 mm", "frame.arms.rear_right.y = 74 mm",
    )  # fmt: skip
    found = values(read(state), "frame")
    assert found["frame.arms.front_left.y"] == found["frame.arms.rear_left.x"] == -0.074
    outputs = values(read(said(state, 5, "motors.front_left.output = 4")), "motors")
    assert outputs["motors.rear_left.output"] == 1


def test_a_name_that_one_line_was_told_of_is_known_of_the_lines_beside_it() -> None:
    lines = [f"BITTERN{n}_{part},{n + k}" for n in range(1, 6) for k, part in enumerate(("A", "B"))]
    state = said(asked(*lines, "HERON,9"), 1, "overlay.elements.altitude.row = 2")
    state = said(state, 2, "overlay.elements.altitude.column = 3")
    found = values(read(said(state, 5, "overlay.elements.speed.row = 4")), "overlay")
    assert found["overlay.elements.speed.column"] == 5


def test_what_all_of_a_line_says_is_said_of_its_like_in_the_same_words() -> None:
    """No pulse is told by `1`: a channel that has it holds, and one with `2` does not."""
    lines = [f"rook {n} {2 if n < 3 else 1} 1500" for n in range(8)]
    found = values(
        read(said(asked(*lines, "heron 9"), 6, "failsafe.channels.6 = hold")), "failsafe"
    )
    assert found == {f"failsafe.channels.{n}": "hold" for n in range(4, 9)}


def test_lines_that_differ_in_two_names_are_read_by_both() -> None:
    lines = [f"tern_{n}_{axis} {40 + n} {60 + axis} 3 9" for n in range(2) for axis in range(3)]
    state = said(
        asked(*lines, "heron 9"), 1, "banks.1.gains.roll.p = 40", ".i = 60", ".d = 3", ".ff = 9"
    )
    found = values(read(state), "banks")
    assert (found["banks.2.gains.yaw.p"], found["banks.2.gains.yaw.i"]) == (41, 62)


def test_a_number_for_several_that_are_on_or_off_is_none_of_them() -> None:
    """All are off in a nought; what a 2 is, nobody said."""
    lines = [f"rook {n} {96 + n} {2 if n == 3 else 0}" for n in range(1, 5)]
    ports = [f"ports.uart1.{part} = off" for part in ("inverted", "half_duplex", "pins_swapped")]
    found = values(
        read(said(asked(*lines, "heron 9"), 1, "ports.uart1.baud = 9700 Bd", *ports)), "ports"
    )
    assert {p.split(".")[1] for p in found if p.endswith("inverted")} <= {"uart1", "uart2", "uart4"}


def test_a_number_that_grows_from_line_to_line_is_no_value_on_or_off() -> None:
    lines = [f"rook {n} {302 + n}" for n in range(1, 6)]
    state = said(
        asked(*lines, "heron 9"), 1,
        "overlay.elements.mode.shown = on", ".row = 4", ".column = 4",
    )  # fmt: skip
    found = read(state)
    assert found["overlay.elements.mode.row"].value == 4
    assert [p for p in found.stated if p.startswith("overlay.elements.mode")]


def test_codes_of_roles_are_no_sum_of_bits() -> None:
    """Where a line has 3 and another 5, and none has more than there are roles."""
    lines = [f"tern{n} {n} 0" for n in range(1, 6)]
    state = said(asked(*lines, "heron 9"), 1, "ports.uart1.roles = console")
    state = said(state, 2, "ports.uart2.roles = receiver")
    found = values(read(state), "ports")
    assert "ports.uart3.roles" not in found


def test_a_channel_may_be_counted_behind_the_sticks() -> None:
    state = said(asked("rook 3 32 48", "heron 9"), 1, "switches.arm = 7: 1700..2100 us")
    found = read(state, ["rook 1 32 48", "heron 9"])
    assert found["switches.arm"].value == (SwitchRange(5, 1700.0, 2100.0),)


def test_numbers_that_a_dash_joins_are_places_of_their_own() -> None:
    lines = [f"chan | {n} | {990 + n}-1500-{2000 + n} lost=1500" for n in range(1, 5)]
    state = said(
        asked(*lines, "heron 9"), 1,
        "receiver.ends.1.low = 991 us", ".centre = 1500 us", ".high = 2001 us",
        "failsafe.channels.1 = 1500 us",
    )  # fmt: skip
    assert values(read(state), "receiver")["receiver.ends.4.high"] == 2004.0


def test_a_nought_behind_a_list_is_none_of_it() -> None:
    lines = ["reed 1 5728 5752 0", "reed 2 5733 5751 5769", "heron 9"]
    state = said(asked(*lines), 1, "video.plan.1 = 5728 MHz, 5752 MHz")
    assert values(read(state), "video") == {
        "video.plan.1": (5728.0, 5752.0),
        "video.plan.2": (5733.0, 5751.0, 5769.0),
    }


def test_codes_of_pads_go_by_the_numbers_of_the_motors() -> None:
    seats = ("74 -74", "74 74", "-74 74", "-74 -74")
    lines = [f"roost {n} {seat}" for n, seat in enumerate(seats, 1)]
    lines += [f"perch_{n}_has {code}" for n, code in enumerate((24, 21, 23, 22, 30, 0), 1)]
    state = said(
        asked(*lines, "heron 9"), 1,
        "frame.arms.front_left.x = 74 mm", "frame.arms.front_left.y = -74 mm",
    )  # fmt: skip
    found = values(read(said(state, 5, "pads.1.use = motor rear_left")), "pads")
    arms = ("rear_left", "front_left", "rear_right", "front_right")
    assert found == {f"pads.{n}.use": f"motor {arm}" for n, arm in enumerate(arms, 1)}


def test_a_line_in_the_very_words_of_others_tells_nothing() -> None:
    """Which element stands there is on none of them."""
    lines = [f"at {{row: {n}, column: 2}}" for n in range(2, 6)]
    state = said(asked(*lines, "heron 9"), 1, "overlay.elements.speed.row = 2", ".column = 2")
    assert not values(read(state), "overlay")


def test_a_code_of_a_number_is_known_of_other_lines_that_have_it() -> None:
    lines = [f"tern_{n} {code} 1" for n, code in enumerate((4, 3, 5, 4, 5), 1)]
    state = said(
        asked(*lines, "heron 9"), 1, "ports.uart1.baud = 115.2 kBd", "ports.uart1.inverted = on"
    )
    bauds = {p: v for p, v in values(read(state), "ports").items() if p.endswith("baud")}
    assert bauds == {"ports.uart1.baud": 115200.0, "ports.uart4.baud": 115200.0}


def test_free_places_of_a_sort_are_not_asked_about_before_the_lines_that_are_none() -> None:
    """One told line tells of its like; those with nothing but noughts are left."""
    lines = [f"roost {n} {970 + n} {1471 + n} {1972 + n}" for n in range(1, 5)]
    lines += [f"roost {n} 0 0 0" for n in range(5, 13)]
    state = asked(*lines, "wader 7 9", "heron 9")
    first = question(state)
    assert isinstance(first, LineQuestion)
    assert first.line.number <= 4
    ends = [f"receiver.ends.{first.line.number}.{part} = {n} us" for part, n in
            zip(("low", "centre", "high"), first.line.text.split()[2:], strict=True)]  # fmt: skip
    after = said(state, first.line.number, *ends)
    then = question(after)
    assert isinstance(then, LineQuestion)
    assert then.line.text == "wader 7 9"


def test_lines_of_one_name_are_asked_about_together() -> None:
    """The next sort is asked about of the element that was told, then each other element once."""
    lines = [f"BITTERN{n}_{part},{n * k}" for n in range(1, 7) for k, part in
             ((1, "A"), (2, "B"))]  # fmt: skip
    state = asked(*lines, "HERON,9")
    for part in ("row", "column"):
        now = question(state)
        assert isinstance(now, LineQuestion)
        number = now.line.text.removeprefix("BITTERN")[0]
        value = now.line.text.partition(",")[2]
        state = said(state, now.line.number, f"overlay.elements.speed.{part} = {value}")
        if part == "row":
            first = number
    assert number == first


def test_a_line_that_has_our_very_word_tells_of_other_words_of_the_list() -> None:
    names = ("arm", "self-level", "buzzer", "overlay off")
    rows = [f"- {{do: {name.replace(' ', '_')}, ch: {n}, from: +200, to: +600}}" for n, name in
            enumerate(names, 5)]  # fmt: skip
    state = said(asked(*rows, "heron 9"), 1, "switches.arm = 5: 1700..2100 us")
    found = values(read(state), "switches")
    assert found["switches.self_level"] == (SwitchRange(6, 1700.0, 2100.0),)
    assert len(found) == 4


def test_a_told_line_is_no_longer_what_it_was_taken_for() -> None:
    """Bands are called about as long as each other; the row of powers was taken for none."""
    rows = ["A 5865 5845 5825 5805", "B 5733 5752 5771 5790", "STEPS 10 25 200 600"]
    told = "video.plan.A = 5865 MHz, 5845 MHz, 5825 MHz, 5805 MHz"
    state = said(asked("[video]", *rows, "heron 9"), 2, told)
    assert set(values(read(state), "video")) == {"video.plan.A", "video.plan.B"}
    after = said(state, 4, "video.plan.powers = 10 mW, 25 mW, 200 mW, 600 mW")
    assert values(read(after), "video")["video.plan.powers"] == (10.0, 25.0, 200.0, 600.0)


@pytest.mark.parametrize(
    ("reply", "fault"),
    [
        ("return home height = 40 m", "perhaps: home.altitude"),
        ("receiver.inverted = off", "perhaps: .*ports.ID.inverted"),
        ("foo = 3", "vocabulary; `cfgaudit explain` lists them"),
        ("home.altitude", "a value is expected"),
        ("home.altitude = 40 apples", "home.altitude: "),
        ("", "PATH = VALUE is expected"),
        (".row = 3", "no setting of the vocabulary"),
    ],
)
def test_a_reply_that_can_t_be_taken_says_what_is_expected(reply: str, fault: str) -> None:
    with pytest.raises(BadValue, match=fault):
        said_of_line(LineQuestion(CandidateLine(1, ""), (), 1, 0), reply)


@pytest.mark.parametrize(
    ("line", "reply", "fault"),
    [
        ("longest pulse: 1950 us", "esc.pulse_max = 1960 us", "the line says 1950 us"),
        ("longest pulse: 1950 us", "esc.pulse_max = 1950 us", ""),
        ("hold 0.4s", "failsafe.hold_for = 400 ms", ""),
        ("hold 0.4s", "failsafe.hold_for = 4 s", "the line says 0.4s"),
        ("warn 14.0 V", "battery.warn_cell = 3.5 V", ""),  # of four cells
        ("each 4 turns", "flight_log.rate = 800 Hz", "the line says 4. .* type 800 Hz !"),
        ("each 4 turns", "flight_log.rate = 800 Hz !", ""),  # reckoned from another one
        ("nod 5", "banks.1.gains.pitch.p = 52", "the line says 5"),  # a digit was lost
        ("nod 520", "banks.1.gains.pitch.p = 52", ""),
        ("turn 250", "loop.rate = 4000 Hz", ""),  # its period
        ("warn 350 low", "battery.warn_cell = 3.5 V", ""),
        ("reports on", "esc.reports = off", "the line says on"),
        ("arm 5 900 1300", "switches.arm = 5: 1700..2100 us", "the line says 900 to 1300"),
        ("arm 5 1700 2100", "switches.arm = 5: 1700..2100 us", ""),
        ("mute reports on", "esc.reports = off", ""),
        ("link sbus", "receiver.link = crsf", "the line says sbus"),
        ("M1: motor rear right", "pads.m1.use = motor front right", "the line says rear right"),
        ("M1: motor rear right", "pads.m1.use = motor rear right", ""),
        ("job: telemetry", "ports.2.roles = receiver", "the line says telemetry"),
        ("job: telemetry, gps", "ports.2.roles = telemetry, position", ""),
        ("at row 14, column 2", "overlay.elements.current.row = 2", "the line says row 14"),
        ("at row 14, column 2", "overlay.elements.current.row = 15", ""),  # from 0
        ("arm 1 counter-clockwise", "motors.rear_left.spin = ccw", ""),
        ("arm 1 counter clockwise", "motors.rear_left.spin = cw", "says counter clockwise"),
        ("m 3: turns anticlockwise, yaw 1", "motors.rear_left.spin = cw", "says anticlockwise"),
        ("m 3: turns anticlockwise, yaw 1", "motors.rear_left.spin = ccw", ""),
        ("m 3: runs wrongly round, yaw 1", "motors.rear_left.spin = cw", ""),
    ],
)
def test_a_value_that_the_line_says_otherwise_in_its_unit_or_word_is_refused(
    line: str, reply: str, fault: str
) -> None:
    of_line = LineQuestion(CandidateLine(1, line), (), 1, 0)
    if fault:
        with pytest.raises(BadValue, match=fault):
            said_of_line(of_line, reply)
    else:
        assert said_of_line(of_line, reply)


def test_a_line_that_would_take_what_others_say_is_not_taken() -> None:
    names = ("arm", "self level", "buzzer", "motor kill", "position hold")
    rows = [f"{name}: channel {n} from 1700 to 2100" for n, name in enumerate(names, 5)]
    sticks = [f"{stick} from: channel {n}" for n, stick in enumerate(CONTROLS, 1)]
    lines = ["Receiver", "--------", *sticks, "", "Switches", "--------", *rows, "heron 9 7"]
    state = asked(*lines)
    before = values(read(state), "switches")
    assert before["switches.arm"] == (SwitchRange(5, 1700.0, 2100.0),)
    after = said(state, len(lines), "switches.arm = 9: 1700..2100 us")
    assert values(read(after), "switches") == before
    assert [one.answer.path for one in taught(after).unplaced] == ["switches.arm"]


def test_a_number_stands_for_a_guess() -> None:
    of_line = LineQuestion(CandidateLine(7, ""), ("home.altitude", "home.ceiling"), 1, 0)
    (answer,) = said_of_line(of_line, "2 = 100 m")
    assert (answer.path, answer.value, answer.line) == ("home.ceiling", "100 m", 7)


def test_an_answer_about_a_line_is_taken_back_whole() -> None:
    state = answered(asked("stork 42 12000", "heron 9"), Answer("battery.cells", "4"))
    after = said(state, 1, "battery.full_cell = 4.2 V", "home.ceiling = 120 m")
    assert (after.questions, undone(after)) == (2, state)


def test_no_line_is_asked_about_twice_nor_its_like_where_nobody_knows() -> None:
    state = asked(*(f"stork {n} {n + 3}" for n in range(5)), "heron 9 3", "rook 4")
    seen: list[int] = []
    while (one := question(state)) is not None:
        if isinstance(one, LineQuestion):
            seen.append(one.line.number)
            state = answered(state, Answer("", path="nothing", line=one.line.number))
        else:
            state = answered(state, Answer(one.path))
    assert len(seen) == len(set(seen)) <= 3


def test_a_line_that_says_nothing_of_the_craft_says_no_setting() -> None:
    state = asked("receiver speaks: heronry", "heron 9")
    before = question_of_setting(state)
    assert before is not None
    assert [line.number for line in before.lines] == [1]
    after = question_of_setting(answered(state, Answer("", path=NOTHING_SAID, line=1)))
    assert after is None or not after.lines


def test_words_that_no_list_knows_tell_nothing_of_lines_of_its_sort() -> None:
    """A channel is a number: `one` and `two` are none that anybody can count on from it."""
    lines = ["rook one 1200", "rook two 1300", "rook three 1400"]
    found = read(said(asked(*lines), 1, "failsafe.channels.1 = 1200 us"))
    assert values(found, "failsafe") == {"failsafe.channels.1": 1200.0}


@pytest.mark.long
@pytest.mark.parametrize("case", list(cases()), ids=lambda case: case.name)
def test_each_line_of_a_firmware_can_be_told_what_it_states(case: Case) -> None:
    """And where a mapping line is made of it, a dialect can have that line."""
    text = to_pass_on(case.dump.name, case.dump.read_bytes())
    reading = read_dumps([case.dump.name], [text])
    reader, made = reader_of(case, plain(case.truth)), 0
    seen = reading.seen.look._asdict()
    look = {name: seen[name] for name in ("titles", "lead", "blanks", "colons") if seen[name]}
    look = {name: list(said) if isinstance(said, tuple) else said for name, said in look.items()}
    look |= {name: list(seen[name]) for name in ("opens", "closes") if seen[name]}
    for number in range(1, len(text.lines) + 1):
        told = [SaidOfLine(answer.path, answer.value) for answer in reader(number)]
        tables = WordTables()
        lines = list(exact_lines(reading.roots[0], number, told, tables)) if told else []
        entries = [{"under": list(one.under), "map": [one.line]} for one in lines]
        content = {
            "name": "reed", "look": look, "lines": entries,
            "words": tables.lists, "flags": tables.flags,
        }  # fmt: skip
        assert build_dialect(content, "reed").root is not None
        made += bool(lines)
    assert made > 0


def test_a_number_that_no_word_says_is_not_said_of_other_numbers() -> None:
    """In rows of 30 columns place 20 is in the first one: that tells nothing of place 400."""
    case = next(case for case in cases() if case.name == "hornwort")
    text, truth = to_pass_on(case.dump.name, case.dump.read_bytes()), plain(case.truth)
    line = 1 + next(n for n, line in enumerate(text.lines) if line.startswith("Satellites place"))
    place = "overlay.elements.satellites"
    state = said(begun([case.dump.name], [text]), line, f"{place}.row = 1", f"{place}.column = 21")
    found = read(state).stated
    assert found[f"{place}.column"].value == 21
    assert [
        path for path in found if "elements" in path and found[path].value != truth[path].value
    ] == []


def test_lines_that_are_read_in_part_are_asked_about_once() -> None:
    uses = ["console 115200 0", "telemetry 57600 4", "position 38400 1", "receiver 420000 2"]
    state = asked(*(f"port {n} use {use}" for n, use in enumerate(uses, 1)), "heron = 9")
    lines = set()
    while (one := question(state)) is not None:
        if isinstance(one, LineQuestion) and one.line.number < 5:
            lines.add(one.line.number)
            state = answered(state, Answer("", path="nothing", line=one.line.number))
        elif isinstance(one, LineQuestion):
            state = answered(state, Answer("", path="nothing", line=one.line.number))
        else:
            state = answered(state, Answer(one.path))
    assert "ports.uart1.baud" in read(state).stated
    assert len(lines) == 1


def test_a_nought_of_a_number_that_says_several_to_be_on_or_off_is_none_of_them() -> None:
    lines = [f"line s{n} flags {flags}" for n, flags in enumerate((2, 0, 4, 0), 1)]
    off = [f"ports.s1.{leaf} = off" for leaf in ("inverted", "pins_swapped")]
    found = read(said(asked(*lines), 1, "ports.s1.half_duplex = on", *off))
    assert values(found, "ports.s2") == {
        f"ports.s2.{leaf}": False for leaf in ("half_duplex", "inverted", "pins_swapped")
    }
    assert not values(found, "ports.s3")


def test_names_with_numbers_are_told_by_theirs() -> None:
    lines = [f"order {name} {n}" for n, name in enumerate([*CONTROLS, "knob-1", "knob-2"], 1)]
    found = read(said(asked(*lines), 5, "receiver.map.aux1 = 5"))
    assert found["receiver.map.aux2"].value == 6


def test_of_two_words_the_other_one_is_known_though_a_name_differs_too() -> None:
    lines = [f"prop {arm} turned {code}" for arm, code in zip("abcd", "1001", strict=True)]
    arms = {"rear_left": 1, "rear_right": 2}
    state = asked(*lines)
    for arm, line in arms.items():
        state = said(state, line, f"motors.{arm}.spin = {'ccw' if arm == 'rear_left' else 'cw'}")
    lone = read(said(asked("esc turned FR 0", "esc turned RR 1", "esc turned RL 0"), 2,
                     "esc.rear_right.direction = reversed"))  # fmt: skip
    assert values(lone, "esc") == {
        "esc.front_right.direction": "normal",
        "esc.rear_right.direction": "reversed",
        "esc.rear_left.direction": "normal",
    }
    assert read(state)["motors.rear_right.spin"].value == "cw"


def test_a_line_with_an_empty_list_is_asked_about() -> None:
    ports = [f"port {n}\n  wiring: [{word}]" for n, word in enumerate(("", "crossed", "", ""), 1)]
    lines = "\n".join(["ports:", *ports]).split("\n")
    state = asked(*lines)
    seen = []
    while isinstance(one := question(state), LineQuestion):
        seen.append(one.line.text)
        state = answered(state, Answer("", line=one.line.number))
    assert any("[]" in text for text in seen)


def test_what_stands_in_brackets_is_found_where_it_is_told() -> None:
    lines = ("sw.level = [ch6 900..1300us, ch7 1301..1700us]", "g = [pt1 170Hz, notch 240Hz q3.2]")
    state = said(asked(*lines), 1, "switches.self_level = 6: 900..1300 us, 7: 1301..1700 us")
    state = said(state, 2, "filters.gyro = pt1 170 Hz, notch 240 Hz q 3.2")
    found = read(state, ["sw.level = [ch5 900..1300us, ch7 1500..1700us]", lines[1]])
    ranges = (SwitchRange(5, 900, 1300), SwitchRange(7, 1500, 1700))
    assert found["switches.self_level"].value == ranges
    assert found["filters.gyro"].value == (Filter("pt1", 170), Filter("notch", 240, 3.2))


def test_a_list_goes_on_in_no_line_of_another_name() -> None:
    lines = (
        "self level: channel 6, 900 to 1200 us and 1201 to 1700 us",
        "hold altitude: channel 6, 1201 to 1700 us",
    )
    told = "6: 900..1200 us, 6: 1201..1700 us"
    state = said(asked(*lines), 1, f"switches.self_level = {told}")
    both = (SwitchRange(6, 900, 1200), SwitchRange(6, 1201, 1700))
    assert read(state)["switches.self_level"].value == both
    mapped = [line for line in taught(state).draft.text.splitlines() if "{switches.self" in line]
    assert not any("hold altitude" in line for line in mapped)


def test_a_list_goes_on_in_lines_that_begin_with_other_words_of_it() -> None:
    lines = (
        'gyro { kind "one pole" cut 170 }',
        'gyro { kind "notch" cut 240 q 3.2 }',
        'dterm { kind "notch" cut 90 q 2.0 }',
    )
    state = said(asked(*lines), 1, "filters.gyro = pt1 170 Hz, notch 240 Hz q 3.2")
    both = (Filter("pt1", 170), Filter("notch", 240, 3.2))
    assert read(state)["filters.gyro"].value == both


def test_the_other_sign_than_the_line_has_is_asked_for_once() -> None:
    state = asked("heron a 100 100 -100 -90", "heron b 100 -100 -100 90", "heron c 90 1 2 3")
    mix = "motors.front_left.mix.thrust = 1; .roll = 1; .pitch = -1; .yaw = {}"
    first = LineQuestion(CandidateLine(1, "heron a 100 100 -100 -90"), (), 1, 0)
    assert turned_round(state, said_of_line(first, mix.format("-0.9"))) == ""
    fault = turned_round(state, said_of_line(first, mix.format("0.9")))
    assert "says -90" in fault
    assert "0.9 !" in fault
    state = said(state, 1, *mix.format("0.9").split("; "))
    second = LineQuestion(CandidateLine(2, "heron b 100 -100 -100 90"), (), 1, 0)
    mix = "motors.rear_left.mix.thrust = 1; .roll = -1; .pitch = -1; .yaw = -0.9"
    assert turned_round(state, said_of_line(second, mix)) == ""


def test_bits_that_a_remark_tells_stay_known_when_one_of_them_is_told() -> None:
    head = "# jobs, added up: 1 console, 2 receiver, 4 telemetry, 8 position, 16 video control"
    lines = [head, *(f"port {n} jobs {job}" for n, job in enumerate((1, 2, 4, 8, 16), 1))]
    before = values(read(asked(*lines)), "ports")
    found = values(read(said(asked(*lines), 6, "ports.uart5.roles = video_control")), "ports")
    assert before == found
    assert len(found) == 5


def test_a_value_that_is_read_otherwise_so_far_is_asked_for() -> None:
    state = asked(
        "gains", "-----", "roll P 45 I 80 D 30", "pitch P 5 I 88 D 38", "yaw P 40 I 70 D 0"
    )
    path = "banks.1.gains.pitch.p"
    assert read(state)[path].value == 5
    assert read_otherwise(state, path, "52", 4).startswith("line 4 is read as 5 so far")
    assert read_otherwise(state, path, "5", 4) == ""
    assert read_otherwise(state, "home.altitude", "30 m") == ""


def test_a_number_beside_the_lines_own_is_asked_for_unless_they_count_from_nought() -> None:
    plugs = [f"plug {n} heron {n + 4}" for n in range(1, 5)]
    first = LineQuestion(CandidateLine(1, plugs[0]), (), 1, 0)
    with pytest.raises(BadValue, match=r"the line says 1, and .* number 2"):
        checked_of_line(asked(*plugs), first, "ports.2.roles = position")
    assert checked_of_line(asked(*plugs), first, "ports.2.roles = position !")
    assert checked_of_line(asked(*plugs), first, "ports.1.roles = position")
    from_0 = ["plug 0 heron 5", *plugs]
    second = LineQuestion(CandidateLine(2, plugs[0]), (), 1, 0)
    assert checked_of_line(asked(*from_0), second, "ports.2.roles = position")
    third = LineQuestion(CandidateLine(3, plugs[1]), (), 1, 0)
    with pytest.raises(BadValue, match="number 1"):  # counted so, plug 2 is the third
        checked_of_line(asked(*from_0), third, "ports.1.roles = position")


def test_a_count_from_nought_is_one_less_never_one_more() -> None:
    line = "heron channel 3"
    assert contradiction(line, "receiver.signal_channel", "4") == ""
    assert "3" in contradiction(line, "receiver.signal_channel", "2")
    assert "400" in contradiction("heron 400", "esc.update_rate", "401")
