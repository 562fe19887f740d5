"""Sentences under titles: a key, a colon, and words that name values between commas."""

import pytest

from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import taught
from cfgaudit.teach.words import ARMS, CONTROLS
from cfgaudit.teach.write import read_draft
from cfgaudit.vocabulary.kinds import Filter, SwitchRange
from tests.teach.test_exact import said
from tests.teach.test_shapes import asked, read, values

MOTORS = (
    "Motors",
    "------",
    "front left motor: pad K2, output 2, turns clockwise",
    "front right motor: pad K4, output 4, turns anticlockwise",
    "rear left motor: pad K3, output 3, turns anticlockwise",
    "rear right motor: pad K1, output 1, turns clockwise",
)
SWITCHES = (
    "Switches",
    "========",
    "arm: channel 5 from 1700 to 2100",
    "self level: channel 6 from 1300 to 2100",
    "buzzer: channel 8 from 1750 to 2100",
    "motor kill: channel 11 from 1700 to 2100",
    "position hold: off",
)


PORTS = (
    "Serial ports",
    "------------",
    "port 1: receiver at 420000 baud",
    "port 2: telemetry at 57600 baud, inverted",
    "port 3: video transmitter at 9600 baud, half duplex",
    "port 4: unused",
)


def dump(*blocks: tuple[str, ...]) -> Settings:
    return read(*(line for block in blocks for line in (*block, "")))


@pytest.mark.parametrize("rule", [("---------",), ("=========",), ()])
def test_a_title_states_nothing_and_the_line_below_it_does(rule: tuple[str, ...]) -> None:
    """Without a rule three titles with a blank line above tell that such lines are titles."""
    found = dump(
        ("Telemetry", *rule, "telemetry: no", "telemetry protocol: crsf"),
        ("Video", *rule, "frequency: 5769 MHz", "power: 25 mW"),
        ("Compass", *rule, "barometer: yes", "accelerometer: yes"),
    )
    assert found["telemetry.enabled"].value is False
    assert found["video.transmitter.power"].value == 25.0
    assert "video.transmitter.enabled" not in found
    assert "sensors.compass.enabled" not in found
    titles = {1, 5 + len(rule) - 1, 9 + 2 * len(rule) - 1}
    assert not titles & {stated.place.line for stated in found.stated.values() if stated.place}


@pytest.mark.parametrize("said", ["turns ", ""])
def test_a_motors_line_names_its_pad_its_output_and_its_turn(said: str) -> None:
    """What stands in every line of a row, and now so, now so, is a value without a name, too."""
    found = values(dump(tuple(line.replace("turns ", said) for line in MOTORS)))
    arms = {"front_left": (2, "cw"), "front_right": (4, "ccw")}
    arms |= {"rear_left": (3, "ccw"), "rear_right": (1, "cw")}
    assert found == {
        **{f"motors.{arm}.output": number for arm, (number, _) in arms.items()},
        **{f"motors.{arm}.spin": turn for arm, (_, turn) in arms.items()},
        **{f"pads.K{number}.use": f"motor {arm}" for arm, (number, _) in arms.items()},
    }


def corners(*pitch: int) -> list[str]:
    """Four motors by their numbers, each with the corner where it sits and its row of the mixer."""
    sits = ("rear right", "front right", "rear left", "front left")
    rows = zip(sits, (-1, -1, 1, 1), pitch, (1, -1, -1, 1), strict=True)
    return [
        f"motor {n}: pad K{n}, {sits}, turns {'anti' * (yaw > 0)}clockwise, roll {roll}, "
        f"pitch {own}, yaw {yaw}"
        for n, (sits, roll, own, yaw) in enumerate(rows, 1)
    ]


def test_where_a_motor_sits_may_be_said_by_a_corner_that_has_no_name_before_it() -> None:
    found = values(read("Motors", "------", *corners(-1, 1, -1, 1)))
    assert found["pads.K1.use"] == "motor rear_right"
    assert found["motors.front_left.spin"] == "ccw"
    assert found["motors.front_left.mix.pitch"] == 1.0
    assert found["motors.rear_left.mix.yaw"] == -1.0


def test_a_sign_that_was_told_counts_more_than_what_the_others_make_likely() -> None:
    lines = ["Motors", "------", *corners(1, -1, 1, -1)]
    state = asked(*lines)
    assert read(*lines)["motors.rear_right.mix.pitch"].value == -1.0  # all of them turned
    said_so = [line for line in taught(state).draft.text.splitlines() if "# turned: " in line]
    assert [line.split()[2] for line in said_so] == ["motors.ARM.mix.pitch"]
    found = taught(said(state, 3, "motors.rear_right.mix.pitch = 1")).settings
    told = {arm: found[f"motors.{arm}.mix.pitch"].value for arm in ARMS[:4]}
    assert told == {"rear_right": 1, "front_right": -1, "rear_left": 1, "front_left": -1}


@pytest.mark.parametrize("joint", [" and ", " & ", ", "])
def test_two_roles_of_a_port_are_both_read_or_none(joint: str) -> None:
    ports = (f"port 1: receiver{joint}telemetry at 420000 baud", *PORTS[3:])
    found = values(dump(("Serial ports", "------------", *ports)))
    roles = next((own for path, own in found.items() if path.endswith("1.roles")), None)
    assert roles == frozenset({"receiver", "telemetry"})
    strange = tuple(line.replace("telemetry at", "heronry at") for line in ports)
    found = values(dump(("Serial ports", "------------", *strange)))
    assert not [path for path in found if path.endswith("1.roles")]


def test_rows_of_one_kind_are_read_though_one_says_more_and_one_less() -> None:
    found = values(dump(PORTS))
    ports = {path.replace("uart", ""): value for path, value in found.items()}
    assert ports == {
        "ports.1.roles": frozenset({"receiver"}),
        "ports.1.baud": 420000.0,
        "ports.2.roles": frozenset({"telemetry"}),
        "ports.2.baud": 57600.0,
        "ports.2.inverted": True,
        "ports.3.roles": frozenset({"video_control"}),
        "ports.3.baud": 9600.0,
        "ports.3.half_duplex": True,
        "ports.4.roles": frozenset(),
    }


@pytest.mark.parametrize(("words", "says"), [("inverted", True), ("not inverted", False)])
def test_what_is_denied_at_the_end_of_a_row_is_off(words: str, says: bool) -> None:
    lines = tuple(line.replace("inverted", words) for line in PORTS)
    assert values(dump(lines))["ports.uart2.inverted"] is says


def test_a_switch_in_words_is_read_and_one_that_is_off_is_that_of_a_function() -> None:
    """The sticks' channels tell that channels count from 1."""
    sticks = [f"{axis} from: channel {n}" for n, axis in enumerate(CONTROLS, 1)]
    found = values(dump(("Receiver", "--------", *sticks), SWITCHES))
    assert {path: value for path, value in found.items() if path.startswith("switches.")} == {
        "switches.arm": (SwitchRange(5, 1700.0, 2100.0),),
        "switches.self_level": (SwitchRange(6, 1300.0, 2100.0),),
        "switches.buzzer": (SwitchRange(8, 1750.0, 2100.0),),
        "switches.motors_kill": (SwitchRange(11, 1700.0, 2100.0),),
        "switches.position_hold": (),
    }
    assert "position.enabled" not in found


def test_pairs_of_a_word_and_a_value_are_each_axis_gains_and_rates() -> None:
    found = values(
        dump(
            (
                "Control loop",
                "------------",
                "roll gains: P 45, I 80, D 30, FF 95",
                "pitch gains: P 48, I 84, D 33, FF 99",
                "yaw gains: P 42, I 82, D 0, FF 88",
                "roll rate: centre 180 deg/s, most 620 deg/s, expo 0.30",
                "pitch rate: centre 170 deg/s, most 610 deg/s, expo 0.25",
                "yaw rate: centre 150 deg/s, most 480 deg/s, expo 0.20",
            )
        )
    )
    for axis, gains in {"roll": (45, 80, 30, 95), "yaw": (42, 82, 0, 88)}.items():
        own = tuple(found[f"banks.1.gains.{axis}.{part}"] for part in ("p", "i", "d", "ff"))
        assert own == gains
    rates = tuple(found[f"banks.1.rates.pitch.{part}"] for part in ("centre", "max", "expo"))
    assert rates == (170.0, 610.0, 0.25)


def test_what_is_held_and_what_is_a_pulse_stand_in_one_row() -> None:
    rows = [f"channel {n}: set to {us} us" for n, us in enumerate((1500, 1500, 1000, 1500), 1)]
    found = values(dump(("Failsafe", "--------", *rows, "channel 5: keep")))
    expected = {1: 1500.0, 2: 1500.0, 3: 1000.0, 4: 1500.0, 5: "hold"}
    assert found == {f"failsafe.channels.{n}": value for n, value in expected.items()}


def test_a_key_with_an_ordinal_is_a_further_place_of_the_list() -> None:
    found = values(
        dump(("Filters", "-------", "D lowpass: pt1 90 Hz", "D second lowpass: pt1 120 Hz"))
    )
    assert found == {"filters.dterm": (Filter("pt1", 90.0), Filter("pt1", 120.0))}


def test_no_angle_of_the_board_is_guessed_where_no_word_tells_its_axis() -> None:
    lines = ("board turned: 0 deg", "board tipped forward: 0 deg", "board tipped right: 0 deg")
    assert not [path for path in dump(("Mounting", "--------", *lines)) if "rotation" in path]


def test_the_number_of_an_auxiliary_control_in_a_list_is_not_its_channel() -> None:
    found = dump(
        ("Receiver", "--------", "channel order: roll, pitch, throttle, yaw, aux 1, aux 2")
    )
    names = ("roll", "pitch", "throttle", "yaw", "aux1", "aux2")
    assert [found[f"receiver.map.{name}"].value for name in names] == [1, 2, 3, 4, 5, 6]
    assert "receiver.channels" not in found


def test_nothing_is_wrong_with_a_draft_of_sentences_and_it_reads_another_craft() -> None:
    sticks = [f"{axis} from: channel {n}" for n, axis in enumerate(CONTROLS, 1)]
    lines = (*MOTORS, *PORTS, "Receiver", "--------", *sticks, *SWITCHES)
    draft = taught(asked(*lines)).draft
    assert check_text(draft.text) == ()
    other = (
        "\n".join(lines)
        .replace("pad K2, output 2, turns clockwise", "pad K9, output 7, turns anticlockwise")
        .replace("telemetry at 57600 baud, inverted", "video transmitter at 115200 baud")
        .replace("buzzer: channel 8 from 1750 to 2100", "buzzer: off")
    )
    found = open_dump("b.dump", other.encode(), [], read_draft(draft)).settings.stated
    assert found["motors.front_left.output"].value == 7
    assert found["motors.front_left.spin"].value == "ccw"
    assert found["pads.K9.use"].value == "motor front_left"
    assert found["ports.uart2.roles"].value == frozenset({"video_control"})
    assert "ports.uart2.inverted" not in found
    assert found["switches.buzzer"].value == ()


def test_a_word_behind_a_length_says_which_way_it_counts() -> None:
    lines = [
        f"{end}{side}Arm: 95mm {way}, 120mm {side.casefold()}"
        for end, way in (("front", "forward"), ("rear", "back"))
        for side in ("Left", "Right")
    ]
    found = taught(asked("layout: quadX", *lines)).settings
    assert {arm: (found[f"frame.arms.{arm}.x"].value, found[f"frame.arms.{arm}.y"].value)
            for arm in ("front_left", "front_right", "rear_left", "rear_right")} == {
        "front_left": (0.095, -0.12), "front_right": (0.095, 0.12),
        "rear_left": (-0.095, -0.12), "rear_right": (-0.095, 0.12),
    }  # fmt: skip


@pytest.mark.parametrize(
    "line",
    [
        "stick order: throttle roll pitch yaw",
        "channel_order = TAER",
        "channelOrder: throttle, roll, pitch, yaw",
        "channel order TAER1234",
        "order ......... throttle roll pitch yaw",
        "channel map [throttle roll pitch yaw]",
    ],
)
def test_a_line_that_names_the_sticks_in_their_order_says_their_channels(line: str) -> None:
    found = values(read(line, "lowest = 1000"))
    order = ("throttle", "roll", "pitch", "yaw")
    assert {f"receiver.map.{name}": n for n, name in enumerate(order, 1)}.items() <= found.items()
    assert not values(
        read(line.lower().replace("order", "trim").replace("map", "trim"), "lowest = 1000")
    )


def of_group(found: Settings, group: str) -> dict[str, object]:
    return {path: value for path, value in values(found).items() if path.split(".")[0] == group}


def test_pairs_with_words_between_them_are_values_and_the_words_are_none() -> None:
    found = read(
        "The board is turned yaw:90 roll:0 pitch:0 degrees against the frame",
        "The turn sense is read rate:8000 and flown every:2",
        "The pack is of kind:lipo with cells:6 and holds capacity:1300 mAh",
        "A cell is full:420 warns:350 empty:330 hundredths",
        "Home is flown at height:40 speed:8 and comes down at:15 tenths",
    )
    assert of_group(found, "board")["board.rotation.yaw"] == 90.0
    assert of_group(found, "gyro") == {"gyro.sample_rate": 8000.0}
    assert of_group(found, "battery") == {
        "battery.chemistry": "lipo", "battery.cells": 6, "battery.capacity": 1300.0,
        "battery.full_cell": 4.2, "battery.empty_cell": 3.3,
    }  # fmt: skip
    assert of_group(found, "home")["home.descent"] == 1.5


def test_another_number_behind_a_name_that_is_not_known_does_not_leave_a_line_unread() -> None:
    lines = ["The turn sense is read rate:8000 and flown every:2"]
    draft = read_draft(taught(asked(*lines)).draft)
    other = Document("b.dump", read_text(b"The turn sense is read rate:4000 and flown every:1"))
    assert values(read_settings(other, draft)) == {"gyro.sample_rate": 4000.0}


def test_rows_of_labels_are_told_apart_by_their_first_word_and_a_mark_may_stand_behind() -> None:
    found = read(
        "bank 1",
        "  rol     p 42 i 76 d 30 ff 80 *",
        "  pit     p 45 i 80 d 33 ff 84 *",
        "  yaw     p 40 i 80 d 0 ff 75",
        "  rol     mid 100dps max 360dps expo 0.30 *",
        "  pit     mid 100dps max 360dps expo 0.30",
        "  yaw     mid 90dps max 300dps expo 0.15",
        "bank 2",
        "  rol     p 48 i 86 d 34 ff 104",
        "  pit     p 51 i 90 d 37 ff 108 *",
        "  yaw     p 45 i 88 d 2 ff 92",
        "  rol     mid 160dps max 560dps expo 0.40",
        "  pit     mid 160dps max 560dps expo 0.40",
        "  yaw     mid 130dps max 440dps expo 0.25 *",
    )
    banks = of_group(found, "banks")
    assert banks["banks.1.gains.roll.p"] == 42
    assert banks["banks.2.gains.pitch.ff"] == 108
    assert banks["banks.1.rates.yaw.max"] == 300.0
    assert banks["banks.2.rates.roll.expo"] == 0.4


def test_a_dump_of_whole_sentences_is_read_without_their_full_stops() -> None:
    found = read(
        "Receiver link is ibus with 14 channels.",
        "Receiver low end is 1010 us.",
        "Receiver centre is 1502 us.",
        "Receiver high end is 1990 us.",
        "Channel 1 is roll.",
        "Channel 2 is pitch.",
        "Channel 3 is throttle.",
        "Channel 4 is yaw.",
        "Arm switch is channel 5 from 1800 to 2100 us.",
        "Self level switch is channel 6 from 900 to 1250 us.",
        "Motor kill switch is channel 7 from 1800 to 2100 us.",
        "Overlay off switch is channel 9 from 1700 to 2100 us.",
        "Battery has 4 cells.",
    )
    told = values(found)
    assert told["receiver.centre"] == 1502.0
    assert told["receiver.map.yaw"] == 4
    assert told["switches.arm"] == (SwitchRange(5, 1800.0, 2100.0),)


def test_records_in_brackets_with_pairs_that_commas_part_are_read_pair_by_pair() -> None:
    found = read(
        '[CRAFT] name="Sand Martin", home="Lower weir, north bank"',
        "[PORT s1] role=receiver, baud=100000, inverted=yes, half_duplex=no",
        "[PORT s2] role=telemetry, baud=57600, inverted=no, half_duplex=no",
        "[PORT s3] role=gps, baud=38400, inverted=no, half_duplex=no",
        "[GYRO] rate=6400Hz, range=2000deg/s",
        "[FILTER gyro 1] type=biquad, cutoff=220Hz",
        "[FILTER gyro 2] type=pt1, cutoff=400Hz",
        "[FILTER dterm 1] type=pt3, cutoff=110Hz",
        "[BATTERY] type=lihv, cells=3, capacity=650mAh",
        "[CELL] full=4.35V, warn=3.55V, empty=3.30V",
        "[PID 1 roll] p=41, i=70, d=28, ff=90",
        "[PID 1 pitch] p=43, i=72, d=30, ff=92",
        "[PID 1 yaw] p=40, i=70, d=0, ff=70",
    )
    told = values(found)
    assert told["ports.uart1.roles"] == frozenset({"receiver"})
    assert told["ports.uart1.inverted"] is True
    assert told["gyro.sample_rate"] == 6400.0
    assert told["battery.cells"] == 3
    assert told["filters.dterm"] == (Filter("pt3", 110.0, 0.0),)  # its 1 counts it
    assert told["banks.1.gains.yaw.ff"] == 70
    assert told["craft.name"] == "Sand Martin"


def test_lines_that_look_like_calls_are_read_by_what_stands_between_their_brackets() -> None:
    found = read(
        'craft(name "Heron 4")',
        "serial(A, receiver, 420000, plain, twowire)",
        "serial(B, telemetry, 57600, plain, twowire)",
        "gyro(rate 8kHz, range 2000dps)",
        "battery(kind lipo, cells 4)",
        "battery(size 1500mAh)",
        "battery(full 4.20, warn 3.50, empty 3.30)",
        "lost(notice 400ms)",
        "lost(throttle 1260)",
        "gain(1, roll, p 44, i 80, d 30, ff 90)",
        "gain(1, pitch, p 46, i 84, d 32, ff 94)",
        "gain(1, yaw, p 40, i 80, d 0, ff 80)",
        "telemetry(plain, twowire)",
    )
    told = values(found)
    assert told["battery.cells"] == 4
    assert told["banks.1.gains.pitch.i"] == 84
    assert "telemetry.enabled" not in told  # plain is not off


def test_a_mark_that_each_line_ends_with_is_not_asked_of_another_dump() -> None:
    lines = ["rx_min 1010us *", "rx_mid 1502us *", "rx_max 1995us *", "cells 4 *"]
    draft = read_draft(taught(asked(*lines)).draft)
    other = Document("b.dump", read_text("\n".join(one[:-2] for one in lines).encode()))
    assert values(read_settings(other, draft))["receiver.centre"] == 1502.0
