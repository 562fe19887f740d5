"""Dumps in columns, and lines in which words name the values behind them: what is read of them."""

from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.teach.write import draft_dialect, read_draft, read_dumps
from cfgaudit.vocabulary.paths import declared
from tests.teach.test_sentences import of_group
from tests.teach.test_shapes import read, values


def chosen(*lines: str) -> dict[str, tuple[str, str]]:
    """What stands in first place for each value, sure or not: its text, and how it is written."""
    reading = read_dumps(["a.dump"], [read_text("\n".join(lines).encode())])
    return {
        made.chosen.path(sample): (sample.text, made.chosen.fit.spec)
        for made in reading.proposals
        if made.chosen is not None
        for sample in made.seen.samples
    }


SHEET = (
    "=== BATTERY ===",
    "item             setting  in        remark",
    "------------  ----------  --------  ------",
    "chem                   1            # 0 lipo, 1 lihv, 2 liion",
    "cells                  6            # 0 auto",
    "size                 320  10mAh",
    "cell full           4350  mV",
    "cell warn           3560  mV",
    "cell flat           3380  mV",
    "",
    "=== FAILSAFE ===",
    "item             setting  in        remark",
    "------------  ----------  --------  ------",
    "after                  5  0.1s",
    "wait                  15  0.1s",
    "then                   2            # 0 cut, 1 land, 2 home, 3 hold",
)


def test_a_sheet_of_columns_is_read_by_its_names_of_several_words_units_and_listed_codes() -> None:
    assert chosen(*SHEET) == {
        "battery.chemistry": ("1", "words"), "battery.cells": ("6", ""),
        "battery.capacity": ("320", "10 mAh"), "battery.full_cell": ("4350", "0.001 V"),
        "battery.warn_cell": ("3560", "0.001 V"), "battery.empty_cell": ("3380", "0.001 V"),
        "failsafe.detect_after": ("5", "0.1 s"), "failsafe.hold_for": ("15", "0.1 s"),
        "failsafe.action": ("2", "words"),
    }  # fmt: skip


def test_a_table_names_its_columns_and_a_column_in_front_may_count_its_rows() -> None:
    found = chosen(
        *SHEET,
        "=== MOTORS ===",
        "mtr   arm      fwd   right   out  turn    lift   roll  pitch    yaw",
        "----  ----  ------  ------  ----  ----   -----  -----  -----  -----",
        "1     FL       110    -110     1  CW      1.00   1.00   1.00  -1.00",
        "2     BL      -110    -110     2  CCW     1.00   1.00  -1.00   1.00",
        "3     BR      -110     110     3  CW      1.00  -1.00  -1.00  -1.00",
        "4     FR       110     110     4  CCW     1.00  -1.00   1.00   1.00",
    )
    assert found["motors.rear_left.output"] == ("2", "")
    assert found["motors.rear_left.spin"] == ("CCW", "words")
    assert found["motors.rear_left.mix.pitch"][0] == "-1.00"


def test_bars_part_the_key_of_several_cells_from_the_value_and_the_remark() -> None:
    found = chosen(
        "bat    | cells         | 4",
        "bat    | mah           | 1950",
        "bat    | full          | 4200                                | mV",
        "fail   | then          | H                                   | H home, L land, C cut",
        "arm    | by            | 1                                   | 0 sticks, 1 switch",
        "home   | height        | 40                                  | m",
        "home   | ceiling       | 110                                 | m",
        "gyro   | rate          | 6400                                | Hz",
    )
    assert found["battery.cells"] == ("4", "")
    assert found["battery.capacity"] == ("1950", "mAh")
    assert found["arming.by"] == ("1", "words")
    assert found["home.altitude"] == ("40", "m")
    assert found["gyro.sample_rate"] == ("6400", "Hz")


def test_words_before_their_values_are_labels_where_lines_of_one_sort_share_them() -> None:
    found = chosen(
        "port 1 does console at 115200bd",
        "port 2 does receiver at 420000bd",
        "port 3 does nothing at 9600bd",
        "port 4 does telemetry at 57600bd",
        "port usb does nothing at 115200bd",
        "switch arm channel 5 between 1750us and 2100us",
        "switch auto-level channel 6 between 900us and 1650us",
        "switch sounder channel 7 between 1700us and 2100us",
        "switch log channel 8 between 1350us and 2100us",
    )
    assert found["ports.uart2.roles"] == ("receiver", "words")
    assert found["ports.uart4.baud"] == ("57600", "Bd")
    assert found["switches.arm.channel"] == ("5", "")
    assert (found["switches.arm.low"], found["switches.arm.high"]) == (
        ("1750", "us"),
        ("2100", "us"),
    )


def test_a_unit_stands_in_brackets_behind_a_key_or_a_blank_behind_the_number() -> None:
    found = chosen(
        "[Battery]",
        "Full cell (mV) = 4200",
        "Empty cell (mV) = 3300",
        "Capacity (mAh) = 1300",
        "[Signal lost]",
        "Noticed after (0.1 s) = 6",
        "Land at most = 75 s",
    )
    assert found["battery.full_cell"] == ("4200", "0.001 V")
    assert found["battery.capacity"] == ("1300", "mAh")
    assert found["failsafe.detect_after"] == ("6", "0.1 s")
    assert found["failsafe.land_for"] == ("75", "s")


def test_sections_may_have_two_indices() -> None:
    lines: list[str] = []
    for bank in (1, 2):
        for axis in ("roll", "pitch", "yaw"):
            lines += [f"[Tune {bank} {axis}]", f"P = {40 + bank}", "I = 70", "D = 30",
                      "Feed forward = 60"]  # fmt: skip
    found = chosen(*lines)
    assert found["banks.2.gains.pitch.p"][0] == "42"
    assert found["banks.1.gains.yaw.ff"][0] == "60"


def test_a_line_of_a_longer_key_is_not_taken_for_the_shorter_one() -> None:
    """Of mapping lines the first that fits wins."""
    draft = draft_dialect(["a.dump"], [read_text("\n".join(RECEIVER).encode())]).text
    assert draft.index("dead yaw {receiver.yaw_deadband") < draft.index("dead {receiver.deadband")


RECEIVER = (
    "=== RX ===",
    "item             setting  in",
    "------------  ----------  --------",
    "dead                   5  us",
    "dead yaw               8  us",
    "channels              16",
    "low                 1000  us",
    "mid                 1500  us",
    "high                2000  us",
)


ROLES = ("console", "receiver", "nothing", "telemetry")


def test_a_line_may_have_several_words_each_with_its_value_behind_it() -> None:
    found = chosen(
        *(f"port {n} line upside-down off one-wire off crossed {n % 2}" for n in range(1, 5)),
        *(f"port {n} does {role} at {n}9600bd" for n, role in enumerate(ROLES, 1)),
        "port usb prompt-after 2s",
        "rc travel low 1000us mid 1500us high 2000us",
    )
    assert [found[f"ports.uart{n}.pins_swapped"][0] for n in (1, 2)] == ["1", "0"]
    assert found["ports.uart3.half_duplex"][0] == "off"
    assert [found[f"ports.uart{n}.roles"][0] for n in range(1, 5)] == list(ROLES)
    assert [found[f"receiver.{end}"][0] for end in ("low", "centre", "high")] == [
        "1000", "1500", "2000",
    ]  # fmt: skip


def test_lines_of_a_longer_key_that_means_nothing_are_kept_from_the_shorter_one() -> None:
    sheet = (
        "=== SENSORS ===",
        "item             setting  in        remark",
        "------------  ----------  --------  ------",
        "barometer            yes  y/n",
        "barometer offset      12  Pa",
        "compass              yes  y/n",
        "compass offset        31",
        "accelerometer        yes  y/n",
    )
    draft = draft_dialect(["a.dump"], [read_text("\n".join(sheet).encode())])
    assert '"compass offset ...",' in draft.text
    document = Document("a.dump", read_text("\n".join(sheet).encode()), read_draft(draft).look)
    settings = read_settings(document, read_draft(draft))
    assert settings.stated["sensors.compass.enabled"].value is True
    assert not settings.troubles


BETWEEN = (
    "-- receiver --",
    "channels ............ 12",
    "pulse low ........... 1010 us",
    "pulse high .......... 1990 us",
    "ch    control    on link loss",
    "1     throttle   hold",
    "2     roll       1500 us",
    "3     pitch      1500 us",
    "4     yaw        1500 us",
    "5     aux1       1010 us",
    "6     aux2       hold",
    "-- switches --",
    "function      ch    from us   to us",
    "arm           8     1700      2100",
    "level         5     900       1250",
    "hold alt      5     1350      1650",
    "motor kill    10    1850      2100",
    "-- arming --",
    "arm by .............. switch",
    "max tilt ............ 20 deg",
    "-- overlay --",
    "element        show   row   col",
    "battery volt   yes    12    1",
    "flight timer   yes    11    23",
    "warnings       no     9     5",
    "-- finder --",
    "finder buzzer ....... yes",
    "buzzer on link loss . no",
)


def stated(*lines: str) -> dict[str, str]:
    """What a dump states through the dialect that was worked out of it, in the plain form."""
    text = read_text("\n".join(lines).encode())
    dialect = read_draft(draft_dialect(["a.dump"], [text], "trial"))
    found = read_settings(Document("a.dump", text, dialect.look), dialect)
    values = {path: one.value for path, one in found.stated.items() if not one.doubt}
    entries = {path: declared(path) for path in values}
    return {path: entry.kind.spell(values[path]) for path, entry in entries.items() if entry}


def test_a_table_between_other_lines_is_read_below_its_head_row() -> None:
    found = stated(*BETWEEN)
    assert found["switches.altitude_hold"] == "5: 1350..1650 us"
    assert found["switches.motors_kill"] == "10: 1850..2100 us"
    assert found["overlay.elements.flight_timer.shown"] == "on"
    assert found["overlay.elements.warnings.shown"] == "off"


def test_the_number_of_an_auxiliary_control_is_not_taken_for_the_channel_of_its_row() -> None:
    found = stated(*BETWEEN)
    told = {n: found.get(f"failsafe.channels.{n}") for n in (1, 2, 5, 6)}
    assert told == {1: "hold", 2: "1500 us", 5: "1010 us", 6: "hold"}


def test_a_row_of_a_channel_tells_which_control_it_carries() -> None:
    found = stated(*BETWEEN)
    told = {name: found.get(f"receiver.map.{name}") for name in ("throttle", "yaw", "aux2")}
    assert told == {"throttle": "1", "yaw": "4", "aux2": "6"}


def test_numbered_rows_of_the_axes_alone_are_no_controls_of_channels() -> None:
    rows = (
        "ch   control   P    I",
        "1    roll      52   66",
        "2    pitch     55   69",
        "3    yaw       60   64",
    )
    assert not any(
        path.startswith("receiver.map")
        for path in stated("cells ...... 6", *rows, "link ....... IBUS")
    )


def test_a_label_that_begins_as_a_row_of_the_table_above_is_not_taken_for_one() -> None:
    found = stated(*BETWEEN)
    assert found["switches.arm"] == "8: 1700..2100 us"
    assert found["arming.by"] == "switch"


def test_dots_lead_from_a_label_to_its_value_though_one_is_all_that_there_is_room_for() -> None:
    found = stated(*BETWEEN)
    assert found["arming.max_tilt"] == "20 deg"
    assert (found["finder.buzzer"], found["finder.buzzer_on_link_loss"]) == ("on", "off")


def test_dots_between_two_numbers_lead_to_no_value() -> None:
    rows = ("arm ch5 1700us .. 2100us", "buzzer ch6 1400us .. 2100us", "hover ch7 900us .. 1700us")
    assert not any(head.endswith("..") for head in heads_of(*rows))


def heads_of(*lines: str) -> list[str]:
    reading = read_dumps(["a.dump"], [read_text("\n".join(lines).encode())])
    return [made.family.head for made in reading.proposals]


def test_cells_begin_below_their_titles_and_rows_among_numbered_ones_may_have_names() -> None:
    found = chosen(
        "pad   job      timer  stream",
        "s1    motor    2      11",
        "s2    lights   3      21",
        "bz    buzzer   -      -",
        "",
        "arm          out  spin  esc      x mm   y mm",
        "front-left   3    cw    normal   101    -118",
        "front-right  1    ccw   reversed 101    118",
        "rear-left    4    ccw   reversed -96    -118",
        "rear-right   2    cw    normal   -96    118",
    )
    assert found["pads.bz.use"] == ("buzzer", "words")
    assert found["pads.s1.timer"] == ("2", "")
    assert found["esc.rear_left.direction"] == ("reversed", "words")
    assert found["frame.arms.rear_left.x"] == ("-96", "0.001 m")


def test_a_letter_in_front_counts_banks() -> None:
    terms = [("P gain", "p"), ("I gain", "i"), ("D gain", "d"), ("feed fwd", "ff")]
    found = chosen(
        *(
            f"{bank} {axis} {term} = {110 + number}"
            for bank in "AB"
            for axis in ("roll", "pitch", "yaw")
            for number, (term, _) in enumerate(terms)
        ),
        "battery cells = 4",
    )
    assert found["banks.2.gains.pitch.p"] == ("110", "")
    assert found["banks.1.gains.yaw.ff"] == ("113", "")


def test_parts_of_a_path_are_names_beside_numbered_ones_with_the_same_behind_them() -> None:
    found = chosen(
        "pad.m1.use = motor", "pad.m1.timer = 3", "pad.m2.use = motor", "pad.m2.timer = 8",
        "pad.lamp.use = leds", "pad.lamp.timer = 4", "pad.bz.use = beeper",
    )  # fmt: skip
    assert found["pads.lamp.timer"] == ("4", "")
    assert found["pads.bz.use"] == ("beeper", "words")
    assert found["pads.m2.timer"] == ("8", "")


def test_a_line_of_its_own_may_name_a_word_and_then_another_value() -> None:
    found = chosen(
        "receiver link sbus channels 16",
        "frame layout quad-x props inward",
        "position talks nmea rate 5Hz",
        "port 1 use receiver invert enable crossed disable",
        "port 2 use telemetry invert disable crossed disable",
        "port 3 use nothing invert disable crossed disable",
    )
    assert found["receiver.link"] == ("sbus", "words")
    assert found["frame.layout"] == ("quad-x", "words")
    assert found["position.protocol"] == ("nmea", "words")
    assert [found[f"ports.uart{n}.inverted"][0] for n in (1, 2)] == ["enable", "disable"]


def test_shown_and_hidden_elements_are_one_sort_and_the_grid_tells_what_rows_count_from() -> None:
    text = "\n".join(
        [
            "osd standard ntsc columns 30 rows 13",
            "osd show batt row 11 col 2",
            "osd show amps row 12 col 2",
            "osd show craft row 13 col 12",
            "osd hide speed row 5 col 2",
            "osd hide climb row 6 col 22",
            "osd hide horizon row 6 col 8",
        ]
    )
    draft = draft_dialect(["a.dump"], [read_text(text.encode())])
    made = read_draft(draft)
    settings = read_settings(Document("a.dump", read_text(text.encode()), made.look), made)
    stated = {path: one.value for path, one in settings.stated.items()}
    assert stated["overlay.elements.craft_name.row"] == 13
    assert stated["overlay.elements.speed.shown"] is False
    assert stated["overlay.elements.current.shown"] is True


PADS = [
    "pad  serves           timer  stream",
    "p1   motor 2          T3     A2",
    "p2   motor 3          T3     A4",
    "p3   motor 1          T8     B1",
    "p4   motor 4          T8     B3",
    "p5   lights           T4     A6",
    "p6   beeper           -      -",
    "p7   camera buttons   T11    -",
    "p8   pack voltage     -      -",
    "p9   pack current     -      -",
    "p10  free             -      -",
]
CORNERS = [
    "motor  corner       output  turns  thrust",
    "1      rear left    4       cw     1.000",
    "2      front right  1       cw     1.000",
    "3      front left   3       ccw    1.000",
    "4      rear right   2       ccw    1.000",
]


def test_a_motor_has_the_number_of_the_row_that_names_its_corner() -> None:
    """And not that of its output. The pads' rows are a table: they are full below its titles."""
    found = values(read("Pads", "----", *PADS, "", "Motors", "------", *CORNERS))
    assert {path: use for path, use in found.items() if f"{use}".startswith("motor ")} == {
        "pads.p1.use": "motor front_right",
        "pads.p2.use": "motor front_left",
        "pads.p3.use": "motor rear_left",
        "pads.p4.use": "motor rear_right",
    }
    assert found["pads.p8.use"] == "voltage_sense"
    assert found["pads.p9.use"] == "current_sense"


def test_cells_that_a_semicolon_parts_are_read_by_their_place_though_some_are_empty() -> None:
    found = read(
        "KEY;VALUE;UNIT;DEFAULT",
        "CRAFT_NAME;Sand Martin;;noname",
        "RX_CHANNELS;14;;8",
        "RX_MIN;1010;us;1000",
        "RX_CENTRE;1502;us;1500",
        "RX_MAX;1995;us;2000",
        "BATT_CELLS;4;;4",
        "BATT_CELL_FULL;420;0.01V;420",
        "BATT_CELL_WARN;350;0.01V;340",
        "BATT_CELL_EMPTY;330;0.01V;320",
        "BATT_CAPACITY;1300;mAh;1000",
        "FAILSAFE_DELAY;5;0.1s;3",
        "ESC_IDLE;70;0.1%;50",
        "ESC_PROTOCOL;PWM;;PWM",
    )
    assert of_group(found, "battery") == {
        "battery.cells": 4, "battery.full_cell": 4.2, "battery.warn_cell": 3.5,
        "battery.empty_cell": 3.3, "battery.capacity": 1300.0,
    }  # fmt: skip
    assert of_group(found, "failsafe") == {"failsafe.detect_after": 0.5}
    assert of_group(found, "esc") == {"esc.idle": 7.0, "esc.protocol": "pwm"}


def test_the_one_row_below_a_head_row_is_a_record_of_what_its_first_title_says() -> None:
    found = read(
        "vetch 0.9.14 (2025-02-09) print of all tables",
        "",
        "ESC   PROTOCOL  IDLE[%]  RPM_REPORT  REVERSIBLE",
        "      dshot600  7.0      yes         no",
        "",
        "BATTERY  TYPE  CELLS  CAPACITY[mAh]  FULL[V]  WARN[V]  EMPTY[V]",
        "         lihv  3      450            4.35     3.55     3.30",
    )
    assert of_group(found, "esc") == {
        "esc.protocol": "dshot600", "esc.idle": 7.0, "esc.reports": True,
        "esc.reversible_thrust": False,
    }  # fmt: skip
    assert of_group(found, "battery") == {
        "battery.chemistry": "lihv", "battery.cells": 3, "battery.capacity": 450.0,
        "battery.full_cell": 4.35, "battery.warn_cell": 3.55, "battery.empty_cell": 3.3,
    }  # fmt: skip


def test_two_lines_of_a_key_and_a_value_are_no_record_and_no_table() -> None:
    found = chosen("make   lipo", "cells  4", "full   4.20", "warn   3.50", "empty  3.30")
    assert found["battery.chemistry"][0] == "lipo"
    assert found["battery.cells"][0] == "4"


HEADED = (
    "% arms: out, corner, turn (cw or ccw), thrust, roll, pitch, yaw in hundredths",
    "ARMS",
    "1    BR   cw   100  -100  -100  -100",
    "2    FR   ccw  100  -100   100   100",
    "3    BL   ccw  100   100  -100   100",
    "4    FL   cw   100   100   100  -100",
    "",
    "% lie: how the board is turned, tenths of a degree: yaw, roll, pitch",
    "LIE",
    "board     1800  0  0",
    "compass   2700  0  0",
    "",
    "% pack: word, value",
    "PACK",
    "cells       4",
    "capacity    850 mAh",
    "",
    "% homing: metres",
    "HOMING",
    "height     35",
    "roof       90",
)


def test_a_lone_word_is_a_title_and_the_remark_above_lists_the_columns_of_its_rows() -> None:
    found = read(*HEADED)
    assert of_group(found, "board") == {
        "board.rotation.yaw": 180.0, "board.rotation.roll": 0.0, "board.rotation.pitch": 0.0,
    }  # fmt: skip
    assert of_group(found, "home")["home.altitude"] == 35.0
    assert of_group(found, "battery")["battery.cells"] == 4
    motors = of_group(found, "motors")
    assert motors["motors.rear_right.mix.yaw"] == -1.0
    assert motors["motors.front_left.mix.pitch"] == 1.0


def test_a_remark_that_says_how_lines_are_written_names_their_values() -> None:
    found = read(
        "; -- serial ports: open <port> <baud> <roles...>",
        "open usb 115200 console",
        "open ser1 9600 video",
        "open ser2 420000 rx",
        "open ser3 115200 none",
    )
    assert values(found)["ports.uart2.baud"] == 420000.0
    assert values(found)["ports.uart2.roles"] == frozenset({"receiver"})
    assert values(found)["ports.uart1.roles"] == frozenset({"video_control"})


def test_rows_of_filters_for_the_gyro_and_for_the_d_term_are_two_lists() -> None:
    found = chosen(
        "FILTER  ON     KIND  CUT[Hz]",
        "1       gyro   pt1   350",
        "2       gyro   pt1   600",
        "3       dterm  pt3   180",
        "4       dterm  pt1   280",
    )
    assert found["filters.gyro[].cutoff"] == ("600", "Hz")  # the last that is of it
    assert found["filters.dterm[].cutoff"] == ("280", "Hz")
