"""Rows whose columns a remark above them names, and what tells how they are counted."""

from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.teach.write import draft_dialect, read_draft


def read(*lines: str) -> dict[str, object]:
    """What the drafted dialect reads of a dump, as it stands."""
    text = read_text("\n".join(("# loach 1.2.0 dump", *lines, "")).encode())
    dialect = read_draft(draft_dialect(("a.dump",), (text,), "loach"))
    document = Document("a.dump", text, dialect.look)
    return {path: s.value for path, s in read_settings(document, dialect).stated.items()}


GAINS = {
    "banks.1.gains.roll.p": 4.8, "banks.1.gains.roll.i": 3.2, "banks.1.gains.roll.d": 1.9,
    "banks.1.gains.pitch.ff": 0.6, "banks.2.gains.yaw.i": 3.6,
    "banks.1.rates.roll.centre": 70.0, "banks.1.rates.pitch.max": 220.0,
    "banks.2.rates.yaw.expo": 0.35,
}  # fmt: skip


def test_a_remark_names_the_columns_of_the_rows_below_it() -> None:
    found = read(
        *(line for bank, scale in ((1, "70"), (2, "45")) for line in (
            f"[Profile {bank}]",
            "# axis, P, I, D, feedforward",
            f"Roll, {'4.8' if bank == 1 else '4.2'}, 3.2, 1.9, 0.6",
            "Pitch, 5.1, 3.4, 2.1, 0.6",
            f"Yaw, 7.5, {'4.0' if bank == 1 else '3.6'}, 0.0, 0.4",
            "# rates: axis, center and maximum in degrees a second, expo in per cent",
            f"Roll, {scale}, 220, 40",
            f"Pitch, {scale}, 220, 40",
            f"Yaw, 50, 140, {30 if bank == 1 else 35}",
            "",
        )),
    )  # fmt: skip
    assert {path: found.get(path) for path in GAINS} == GAINS


def test_a_remark_of_another_mark_names_the_words_behind_a_verb() -> None:
    found = read(
        "! words after a ! are remarks",
        "channel 1 roll",
        "channel 2 pitch",
        "channel 3 throttle",
        "channel 4 yaw",
        "channel 5 aux1",
        "",
        "! switch: function, channel, from us, to us",
        "switch arm 7 1700 2100",
        "switch level 5 900 1350",
        "switch beeper 6 1700 2100",
        "",
        "! motor: number, corner, direction from above, what its esc is set to",
        "motor 1 rear_right ccw normal",
        "motor 2 front_right cw normal",
        "motor 3 rear_left cw normal",
        "motor 4 front_left ccw reversed",
        "",
        "! gyro: sample rate, loop rate (Hz), full scale (deg/s)",
        "gyro 4000 2000 1000",
    )
    arm = found["switches.arm"]
    assert isinstance(arm, tuple)
    assert [(one.channel, one.low, one.high) for one in arm] == [(7, 1700, 2100)]
    assert found["motors.rear_right.spin"] == "ccw"
    assert found["esc.front_left.direction"] == "reversed"
    rates = [found.get(path) for path in ("gyro.sample_rate", "loop.rate", "gyro.full_scale")]
    assert rates == [4000, 2000, 1000]


def test_where_nothing_tells_how_channels_are_counted_no_switch_is_read() -> None:
    rows = ("switch arm 7 1700 2100", "switch level 5 900 1350", "switch beeper 6 1700 2100")
    legend = "! switch: function, channel, from us, to us"
    assert "switches.arm" not in read("! a dump", legend, *rows)
    # the last of eight channels is the eighth: counted from 0 it would be 7
    found = read("! a dump", "receiver channels 7", "", legend, *rows)
    assert "switches.arm" in found


def test_an_axis_behind_another_label_is_of_that_label() -> None:
    found = read("receiver deadband 6 yaw 10", "receiver smoothing auto", "receiver channels 9")
    assert (found.get("receiver.deadband"), found.get("receiver.yaw_deadband")) == (6, 10)
    assert "receiver.map.yaw" not in found


def test_words_in_brackets_are_a_list_however_many_there_are() -> None:
    found = read(
        *(line for n, roles in enumerate(("[ console ]", "[ receiver ]", "[ gps ]", "[ ]"), 1)
          for line in (f"[port {n}]", f"use {roles}", "baud 115200", "")),
    )  # fmt: skip
    assert found["ports.uart2.roles"] == frozenset({"receiver"})
    assert found["ports.uart3.roles"] == frozenset({"position"})
    assert found["ports.uart4.roles"] == frozenset()


def test_a_number_has_the_arm_that_a_line_names_for_it() -> None:
    places = ("front_left", "front_right", "rear_left", "rear_right")
    found = read(
        *(line for n, place in enumerate(places, 1)
          for line in (f"motor_{n}_position = {place}",
                       f"motor_{n}_direction = {'cw' if n in (1, 4) else 'ccw'}")),
    )  # fmt: skip
    spins = [found.get(f"motors.{place}.spin") for place in places]
    assert spins == ["cw", "ccw", "ccw", "cw"]


def test_lamps_at_the_corners_number_no_motor() -> None:
    found = read(
        "led place 1 front_right", "led place 2 front_left", "led place 3 rear_left",
        "led place 4 rear_right", "motor 1 direction cw", "motor 2 direction ccw",
        "motor 3 direction ccw", "motor 4 direction cw",
    )  # fmt: skip
    assert not [path for path in found if path.endswith(".spin")]
