"""What a dump that nobody knows is read as, shape by shape, and where nothing is stated."""

import pytest

from cfgaudit.reading.text import read_text
from cfgaudit.reports.teaching import unread_screen
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import Answer, State, answered, begun, taught
from cfgaudit.teach.codes import codes_in
from cfgaudit.teach.words import AXES
from cfgaudit.vocabulary.kinds import Filter, SwitchRange

KEYS = {
    "battery_full_cell": "4200", "battery_warn_cell": "3500", "battery_empty_cell": "3300",
    "failsafe_throttle": "1250", "receiver_channels": "16", "home_altitude_m": "40",
    "failsafe_hold_ms": "500", "gyro_rate_hz": "8000",
}  # fmt: skip
READ = {
    "battery.full_cell": 4.2, "battery.warn_cell": 3.5, "battery.empty_cell": 3.3,
    "failsafe.throttle": 1250.0, "receiver.channels": 16, "home.altitude": 40.0,
    "failsafe.hold_for": 0.5, "gyro.sample_rate": 8000.0,
}  # fmt: skip


def asked(*lines: str) -> State:
    return begun(["a.dump"], [read_text("\n".join(lines).encode())])


def read(*lines: str) -> Settings:
    return taught(asked(*lines)).settings


def values(settings: Settings) -> dict[str, object]:
    return {path: stated.value for path, stated in settings.stated.items()}


@pytest.mark.parametrize(
    ("title", "row"),
    [
        ("name\tvalue\tmin\tmax\tdefault", "{key}\t{value}\t0\t9000\t7"),
        ("key,default,value", "{key},7,{value}"),
        ("no\tname\tvalue", "12\t{key}\t{value}"),
        ("name value default", "{key}   {value}  7"),
        ("setting | min | value", "{key} | 0 | {value}"),
        ("| name | value | unit |", "| {key} | {value} | - |"),
    ],
)
def test_the_column_that_the_head_row_calls_the_value_is_read(title: str, row: str) -> None:
    rows = [row.format(key=key, value=value) for key, value in KEYS.items()]
    assert values(read(title, *rows)) == READ


@pytest.mark.parametrize("row", ["{key} -> {value}", "- {key}: {value}", "{key} = {value};"])
def test_signs_beside_a_value_are_none_of_it(row: str) -> None:
    found = values(read(*(row.format(key=key, value=value) for key, value in KEYS.items())))
    assert found == READ


@pytest.mark.parametrize("row", ["{key};{value}", "{key}({value})"])
def test_a_shape_that_cannot_be_taken_apart_states_nothing_and_the_builder_is_told(
    row: str,
) -> None:
    state = asked(*(row.format(key=key, value=value) for key, value in KEYS.items()))
    assert not taught(state).settings.stated
    said = unread_screen(state, "a.dump", "a.toml", 80).plain()
    assert "Of 8 lines of a.dump 0 could be read" in said
    assert "cfgaudit dialect try a.dump --dialect a.toml" in said


def test_a_dump_that_is_read_is_not_told_to_be_unreadable() -> None:
    state = asked(*(f"{key} = {value}" for key, value in KEYS.items()))
    assert not unread_screen(state, "a.dump", "a.toml", 80).plain()


def test_a_number_that_fits_in_two_steps_is_not_at_work() -> None:
    """90 may be 90 s or, in tenths, the more usual 9 s; 900 s would not be usual in any way."""
    assert "failsafe.land_for" not in read("failsafe_land_time = 90", "failsafe_hold_s = 0.5")


def test_a_pulse_that_no_controller_runs_on_is_not_taken_as_it_stands() -> None:
    """1250, 1380 and 2480 are tenths of a microsecond of another way to speak to controllers."""
    found = read("esc_pulse_rest = 1250", "esc_pulse_low = 1380", "esc_pulse_high = 2480")
    assert not found.stated


def test_limits_of_a_whole_pack_are_shared_by_its_cells() -> None:
    found = read(
        "battery_cells = 6",
        "battery_full = 252",
        "battery_warn = 213",
        "battery_empty = 198",
    )
    assert found["battery.full_cell"].value == pytest.approx(25.2 / 6)
    assert found["battery.warn_cell"].value == pytest.approx(21.3 / 6)


def test_angles_printed_as_radians_are_degrees() -> None:
    found = read("board_roll = 0.000000", "board_pitch = 0.000000", "board_yaw = 1.570796")
    assert found["board.rotation.yaw"].value == 90.0


def test_remarks_tell_what_numbers_stand_for() -> None:
    assert codes_in("0 = off, 1 = hold") == {"0": "off", "1": "hold"}
    assert codes_in("mute: buzzer 1, lights 4") == {"1": "buzzer", "4": "lights"}
    assert codes_in("lengths in steps of 5") == {}
    found = read(
        "# failsafe action: 0 land, 1 return home, 2 hold",
        "failsafe_action = 1",
        "failsafe_hold_s = 0.5",
    )
    assert found["failsafe.action"].value == "return_home"


def test_one_of_two_words_tells_the_other() -> None:
    """Which way one motor turns tells what the other number stands for."""
    turns = {"front_left": 1, "front_right": -1, "rear_right": 1, "rear_left": -1}
    lines = [f"motor_{arm}_turn = {turn}" for arm, turn in turns.items()]
    state = answered(asked(*lines), Answer("motors.front_left.spin", "cw"))
    found = taught(state).settings
    assert found["motors.front_right.spin"].value == "ccw"
    assert found["motors.rear_right.spin"].value == "cw"


def test_an_answer_of_nothing_tells_no_step() -> None:
    """35 may be tenths or hundredths of a degree, and 0 is 0 in both."""
    lines = ["accel_trim_roll = 0", "accel_trim_pitch = 35"]
    state = answered(asked(*lines), Answer("sensors.accelerometer.trim.roll", "0 deg"))
    assert "sensors.accelerometer.trim.pitch" not in taught(state).settings
    state = answered(asked(*lines), Answer("sensors.accelerometer.trim.pitch", "0.35 deg"))
    assert taught(state).settings["sensors.accelerometer.trim.pitch"].value == 0.35


def test_a_pair_that_is_no_setting_is_passed_over_unit_and_all() -> None:
    """The last pair of each line is nothing that is known, and has a unit glued on."""
    found = read(
        "battery full=4.2V warn=3.5V empty=3.3V glow=12g",
        "receiver channels=16 glow=4g",
        "failsafe hold=0.5s throttle=1250us glow=9g",
    )
    assert found["battery.warn_cell"].value == 3.5
    assert found["failsafe.throttle"].value == 1250.0


def test_a_setting_of_the_only_bank_is_read_where_no_line_says_which() -> None:
    lines = ["gain_roll_p = 45", "gain_pitch_p = 47", "gain_yaw_p = 44"]
    found = read(*lines)
    assert found["banks.1.gains.pitch.p"].value == 47
    two = read(*(f"first_{line}" for line in lines), *(f"other_{line}" for line in lines))
    assert not [path for path in two.stated if path.startswith("banks.")]


def test_the_unit_behind_every_number_of_a_line_is_told_as_it_stands() -> None:
    state = asked(
        "arming:", "  by: switch", "home:", "  altitude: 30 m", "camera:", "  tilt: 5 deg"
    )
    assert '"altitude: {home.altitude: m} m"' in taught(state).draft.text


def test_what_a_section_of_another_matter_says_is_not_taken() -> None:
    """How far the camera is tilted is no limit to arming, whatever else the dump says."""
    lines = ("camera:", "  tilt: 25 deg", "  standard: pal", "overlay:", "  enabled: yes", "home:")
    assert "arming.max_tilt" not in read(*lines, "  altitude: 30 m")


def test_a_part_of_a_path_that_says_nothing_itself_is_an_index() -> None:
    roles = {"a": "receiver", "b": "telemetry", "c": "none", "usb": "console"}
    lines = [f"port/{name}/role = {role}" for name, role in roles.items()]
    found = read(*lines, *(f"port/{name}/baud = 57600" for name in roles))
    assert found["ports.b.baud"].value == 57600
    assert found["ports.a.roles"].value == frozenset({"receiver"})


def test_keys_of_words_that_a_colon_ends_are_read_though_commas_part_what_is_behind() -> None:
    sticks = ("roll", "pitch", "throttle", "yaw")
    found = read(
        "receiver:",
        *(f"  {stick} channel: {number}" for number, stick in enumerate(sticks, 1)),
        "switches:",
        "  arm: channel 5, 1700 to 2100 us",
        "  return home: channel 8, 1700 to 2100 us",
        "  hold position: channel 6, 900 to 1300 us",
        "  beeper: none",
        "home:",
        "  altitude: 30 m",
    )
    assert found["switches.return_home"].value == (SwitchRange(8, 1700.0, 2100.0),)
    assert found["switches.arm"].value == (SwitchRange(5, 1700.0, 2100.0),)


def test_the_last_number_of_a_line_is_no_list() -> None:
    """A band's number, its name and eight frequencies: nothing of it is stated, rather than one of
    the eight, or all of them under a number that is not the band's name.
    """
    bands = {"1": "A", "2": "B", "3": "E"}
    lines = [
        f"video/plan/band-{number} := {name} {' '.join(str(5650 + 20 * n) for n in range(8))}"
        for number, name in bands.items()
    ]
    found = read(*lines, "video/band := 1", "video/power-mw := 25")
    assert found["video.transmitter.power"].value == 25
    assert [path for path in found.stated if "plan" in path] == []


def test_a_row_of_ports_is_not_read_in_part() -> None:
    """That the port with a name carries no receiver says nothing while the others aren't read."""
    roles = {"north": "RX", "south": "VTX", "west": "TELEM", "usb": "CONSOLE"}
    uses = [f"uart/{name}/use := {role}" for name, role in roles.items()]
    rates = [f"uart/{name}/baud := 115200" for name in roles]
    levels = [f"uart/{name}/invert := false" for name in roles if name != "usb"]
    found = read(*sorted([*uses, *rates, *levels]), "motor/poles := 12", "imu/gyro-hz := 3200")
    assert not [path for path in found if path.startswith("ports.")]


STICKS = [f"stick {n} channel {at}" for at, n in enumerate(("roll", "pitch", "throttle", "yaw"), 1)]
TURNED = ("switch arm 5 1700 2100", "switch level 6 900 1300", "switch home 7 1300 2100")
ROWS = (
    "function      ch    from us   to us",
    "arm           8     1700      2100",
    "level         5     900       1250",
    "hold alt      5     1350      1650",
)


def test_a_row_of_dashes_says_that_a_function_is_on_no_channel() -> None:
    found = values(read(*STICKS, *ROWS, "self right    -     -         -", "link sbus"))
    assert found["switches.self_right"] == ()
    assert found["switches.arm"] == (SwitchRange(8, 1700.0, 2100.0),)


def test_a_channel_beyond_all_others_says_that_a_function_is_on_none() -> None:
    found = values(read(*STICKS, *TURNED, "switch buzzer 255 0 0"))
    assert found["switches.buzzer"] == ()
    assert found["switches.return_home"] == (SwitchRange(7, 1300.0, 2100.0),)


def test_a_function_whose_word_nobody_knows_leaves_the_others_read() -> None:
    found = values(read(*STICKS, *TURNED, "switch zork 8 1500 2100"))
    assert found["switches.arm"] == (SwitchRange(5, 1700.0, 2100.0),)
    assert not any(path.endswith("zork") for path in found)


def test_a_list_of_video_frequencies_is_a_plan_and_tells_what_channels_count_from() -> None:
    settings = ("video_tx_band = reed", "video_tx_freq = 5785 MHz", "video_tx_channel = 3")
    found = values(read(*settings, "video_band_reed = 5745, 5765, 5785, 5805 MHz"))
    assert found["video.plan.reed"] == (5745.0, 5765.0, 5785.0, 5805.0)
    assert found["video.transmitter.channel"] == 3
    counted = ("video_tx_band = reed", "video_tx_freq = 5785 MHz", "video_tx_channel = 2")
    found = values(read(*counted, "video_band_reed = 5745, 5765, 5785, 5805 MHz"))
    assert found["video.transmitter.channel"] == 3


def test_pulses_in_per_cent_are_of_half_the_travel_where_some_lie_below_the_middle() -> None:
    parts = ("channel = 5", "from = -60 %", "to = +120 %")
    other = ("channel = 6", "from = -100 %", "to = -20 %")
    third = ("channel = 7", "from = 40 %", "to = 120 %")
    found = values(
        read(*STICKS, "[switch arm]", *parts, "[switch level]", *other,
             "[switch home]", *third)
    )  # fmt: skip
    assert found["switches.arm"] == (SwitchRange(5, 1200.0, 2100.0),)
    assert found["switches.self_level"] == (SwitchRange(6, 1000.0, 1400.0),)


def test_a_word_beside_places_on_the_screen_is_a_setting_of_its_own() -> None:
    rows = (
        "osd_timer = 15, 23",
        "osd_warnings = 11, 6",
        "osd_altitude = 3, 22",
        "osd_horizon = off",
    )
    found = values(read("# osd: row, col from 1", "osd_standard = pal", *rows))
    assert found["overlay.standard"] == "pal"
    assert (found["overlay.elements.altitude.row"], found["overlay.elements.altitude.column"]) == (
        3,
        22,
    )
    assert found["overlay.elements.altitude.shown"] is True
    assert found["overlay.elements.horizon.shown"] is False


def test_a_range_may_have_its_unit_at_both_ends() -> None:
    rows = (
        "arm: ch5 1750us..2100us",
        "selfLevel: ch6 1300us..2100us",
        "beeper: ch8 1700us..2100us",
    )
    found = values(read("[switches]", *rows))
    assert found["switches.arm"] == (SwitchRange(5, 1750.0, 2100.0),)
    assert found["switches.buzzer"] == (SwitchRange(8, 1700.0, 2100.0),)


def test_gains_behind_their_letters_are_numbers_each() -> None:
    lines = [f"{axis}Gains: p4{n} i7{n} d3{n} ff8{n}" for n, axis in enumerate(AXES)]
    found = values(read("[set1]", *lines, "[set2]", *lines))
    assert {part: found[f"banks.2.gains.pitch.{part}"] for part in ("p", "i", "d", "ff")} == {
        "p": 41.0, "i": 71.0, "d": 31.0, "ff": 81.0,
    }  # fmt: skip


def test_rows_of_channels_that_name_their_controls_are_the_map() -> None:
    rows = ["throttle", "roll", "pitch", "yaw", "aux1", "aux2"]
    found = values(read(*(f"channel {n} {name}" for n, name in enumerate(rows, 1))))
    assert {path: n for path, n in found.items() if path.startswith("receiver.map.")} == {
        f"receiver.map.{name}": n for n, name in enumerate(rows, 1)
    }


def test_two_words_beside_rows_of_numbers_are_a_name_and_its_value() -> None:
    rows = [f"travel {n} 100{n} 150{n} 199{n}" for n in range(1, 5)]
    found = values(read(*rows, "travel source measured"))
    assert found["receiver.ends.3.low"] == 1003.0
    assert found["receiver.ends.3.centre"] == 1503.0


ELEMENTS = ("volts", "cell", "amps", "timer", "warnings", "speed")


def test_what_is_hidden_where_others_have_their_places_is_not_shown() -> None:
    """A remark says what places count from; no other row tells."""
    rows = [f"osd {name} {14 - n} {2 + n}" for n, name in enumerate(ELEMENTS)]
    found = values(read("# rows and columns count from 1", *rows, "osd horizon off"))
    assert found["overlay.elements.horizon.shown"] is False
    assert found["overlay.elements.speed.shown"] is True
    assert found["overlay.elements.speed.row"] == 9


def test_rows_that_say_shown_or_hidden_before_the_place_are_read_whole() -> None:
    rows = [f"osd {name} shown {14 - n} {2 + n}" for n, name in enumerate(ELEMENTS)]
    rows.append("osd horizon hidden 3 4")
    found = values(read("! osd: element, shown or hidden, row, column from 1", *rows))
    assert found["overlay.elements.horizon.shown"] is False
    assert found["overlay.elements.cell_voltage.shown"] is True
    assert found["overlay.elements.cell_voltage.column"] == 3


@pytest.mark.parametrize(
    ("key", "one", "two"), [("duplex", "half", "full"), ("wires", "one", "two")]
)
def test_a_port_of_one_wire_is_told_by_its_word(key: str, one: str, two: str) -> None:
    ports = [f"[port{n}]\njob = {job}\n{key} = {said}" for n, job, said in
             ((1, "receiver", two), (2, "gps", two), (3, "telemetry", one))]  # fmt: skip
    found = values(read(*"\n".join(ports).split("\n")))
    told = {p: v for p, v in found.items() if p.endswith("half_duplex")}
    assert list(told.values()) == [False, False, True]


TREE = (
    "ports:", "    usb:", "        baud: 115200 Bd",
    "receiver:", "    link: sbus", "    sticks:",
    "        roll: 1", "        pitch: 2", "        throttle: 3", "        yaw: 4",
)  # fmt: skip
RANGES = {
    "switches.arm": (SwitchRange(5, 1750.0, 2100.0),),
    "switches.return_home": (SwitchRange(7, 1700.0, 2100.0),),
    "switches.self_level": (SwitchRange(6, 900.0, 1700.0),),
}


@pytest.mark.parametrize(
    ("channel", "words"),
    [("channel: {}", (5, 7, 6)), ("on: AUX {}", (1, 3, 2))],  # common practice: behind the sticks
)
def test_what_is_indented_below_an_item_of_a_list_is_said_of_it(
    channel: str, words: tuple[int, ...]
) -> None:
    lows = ((1750, 2100), (1700, 2100), (900, 1700))
    lines = [
        line
        for name, number, (low, high) in zip(
            ("arm", "return home", "level"), words, lows, strict=True
        )
        for line in (
            f"    - does: {name}",
            f"      {channel.format(number)}",
            f"      range: {low} to {high} us",
        )
    ]
    found = values(read(*TREE, "switches:", *lines))
    assert {path: value for path, value in found.items() if path.startswith("switches")} == RANGES


def test_what_an_auxiliary_channel_does_on_loss_is_read_of_the_channel_behind_the_sticks() -> None:
    lines = ("    values:", "        AUX 1: hold", "        AUX 2: 1200 us", "        AUX 3: hold")
    found = values(read(*TREE, "failsafe:", "    after: 400 ms", *lines))
    assert {path: v for path, v in found.items() if path.startswith("failsafe.channels")} == {
        "failsafe.channels.5": "hold", "failsafe.channels.6": 1200.0, "failsafe.channels.7": "hold",
    }  # fmt: skip


def test_places_in_a_list_of_what_the_screen_shows_are_those_of_elements_that_are_shown() -> None:
    names = ("cell volts", "pack volts", "flight time", "warnings", "satellites")
    items = [
        line
        for row, name in enumerate(names, 2)
        for line in (f"        - show: {name}", f"          at: {{row: {row}, column: 9}}")
    ]
    head = ("# places on the screen count from 1", "", *TREE)
    found = values(read(*head, "overlay:", "    on: yes", "    elements:", *items))
    assert found["overlay.elements.battery_voltage.shown"] is True
    assert found["overlay.elements.battery_voltage.row"] == 3
    assert found["overlay.elements.satellites.column"] == 9


def test_words_and_a_colon_name_what_stands_behind_them_in_braces() -> None:
    log = "flight log: {on: yes, kept on: flash, rate: 250 Hz, size: 16 MB}"
    found = values(read(*TREE, log, "telemetry: {on: yes, protocol: ibus, rate: 10 Hz}"))
    assert found["flight_log.device"] == "flash"
    assert found["flight_log.size"] == 16
    assert found["telemetry.protocol"] == "ibus"
    assert found["telemetry.rate"] == 10


def test_a_pad_that_the_line_of_its_thing_names_is_used_for_that() -> None:
    found = values(
        read(*TREE, "finder:", "    beeper: {on: yes, pad: B1}", "    lights: {on: yes, pad: L1}")
    )
    assert (found["pads.B1.use"], found["pads.L1.use"]) == ("buzzer", "led_strip")


BLOCKS = (
    "receiver:", "- link: sbus", "- channels: 16", "",
    "receiverSticks:", "- roll: 1", "- pitch: 2", "- throttle: 3", "- yaw: 4", "",
    "switches:       # us from 1500",
    "- {do: arm, ch: 5, from: +250, to: +600}",
    "- {do: goHome, ch: 7, from: +200, to: +600}",
    "- {do: level, ch: 6, from: -600, to: +200}", "",
    "overlay:        # at row/column, the first is 0",
    "- use: yes",
    "- {show: packVolts, at: 14/2}",
    "- {show: cellVolts, at: 15/2}",
    "- {show: satellites, at: 2/23}",
    "- {hide: horizon, at: 8/8}",
    "- {hide: throttle, at: 5/2}",
)  # fmt: skip


def test_blocks_in_braces_are_told_apart_by_their_first_value() -> None:
    found = values(read(*BLOCKS))
    assert {path: value for path, value in found.items() if path.startswith("switches")} == RANGES
    assert found["overlay.elements.satellites.shown"] is True
    assert found["overlay.elements.horizon.shown"] is False
    assert found["overlay.elements.satellites.row"] == 3  # the first is 0, ours is 1
    assert found["overlay.elements.horizon.column"] == 9


def test_of_two_opposites_the_one_tells_the_other() -> None:
    arms = ("noseLeft", "noseRight", "tailLeft", "tailRight")
    turns = ("anticlock", "clock", "clock", "anticlock")
    motors = [
        line
        for arm, turn in zip(arms, turns, strict=True)
        for line in (f"- at: {arm}", f"  output: {arms.index(arm) + 1}", f"  turns: {turn}")
    ]
    found = values(read(*BLOCKS, "", "motors:", *motors))
    assert found["motors.front_left.spin"] == "ccw"
    assert found["motors.rear_left.spin"] == "cw"


def test_a_pad_that_carries_an_arm_carries_its_motor() -> None:
    uses = {"a": "noseLeft", "b": "noseRight", "c": "tailLeft", "d": "tailRight", "z": "buzzer"}
    pads = [line for pad, use in uses.items() for line in (f"- pad: {pad}", f"  carries: {use}")]
    found = values(read(*BLOCKS, "", "pads:", *pads))
    assert found["pads.a.use"] == "motor front_left"
    assert found["pads.z.use"] == "buzzer"


def test_settings_of_all_motors_may_stand_beside_the_corners_of_a_craft() -> None:
    arms = ("front left", "front right", "back right", "back left")
    motors = [
        line
        for number, arm in enumerate(arms, 1)
        for line in (f"    {arm}:", f"        output: {number}", "        esc reversed: no")
    ]
    signal = ("    signal:", "        protocol: dshot300", "        idle: 6 %")
    found = values(read(*TREE, "motors:", "    magnets: 12", *motors, *signal))
    assert found["motors.rear_left.output"] == 4
    assert found["esc.protocol"] == "dshot300"


def test_a_remark_goes_on_in_the_next_line_and_may_begin_with_a_number() -> None:
    rows = [f"pad m{n} 1 t{n} d{n}" for n in range(1, 4)]
    lines = (
        "! all settings of the craft", "! a remark begins so", "", "! pad, job, timer, stream",
        "! job: 0 free, 2 lights, 4 buzzer",
        *rows, "pad led 2 t5 d6", "pad bz 4 - -", "pad m5 0 t4 -", "",
        "! 0 nmea, 1 ubx", "gps talk 1", "! fixes in ten seconds", "gps pace 100",
    )  # fmt: skip
    found = values(read(*lines))
    assert found["position.protocol"] == "ubx"
    assert (found["pads.led.timer"], found["pads.led.dma"]) == ("t5", "d6")


def test_lines_with_other_numbers_of_values_are_no_rows() -> None:
    lines = (
        "sensor accel 1", "sensor accel-calibrated 1", "sensor accel-scale 4096 4101 4089",
        "sensor baro 1", "sensor baro-smooth 20", "sensor compass 0", "sensor compass-zero 1 2 3",
    )  # fmt: skip
    found = values(read(*lines))
    assert found["sensors.accelerometer.enabled"] is True
    assert found["sensors.compass.enabled"] is False


def test_of_as_many_measures_as_values_each_is_that_of_one() -> None:
    told = "! hundredths of a millivolt for an amp; tenths of a millivolt at no amps"
    others = ("battery cells 4", "battery capacity 1500", "battery full 420", "battery warn 350")
    found = values(read("! all of it", "! in steps", "", *others, told, "battery amps 2500 -35"))
    assert found["battery.current_offset"] == -3.5  # 35 tenths


def test_a_letter_and_a_number_that_counts_on_say_where_a_key_stands() -> None:
    lines = (
        "; receiver", "X1LINK=SBUS", "X2CHANNELS=16",
        "X3ROLL=2", "X4PITCH=3", "X5THROTTLE=1", "X6YAW=4",
        "X7LOW=1000", "X8MIDDLE=1500", "X9HIGH=2000",
        "; switches: channel, from, to in us",
        "S1ARM=5 1750 2100", "S2LEVEL=6 900 1700", "S3HOME=7 1700 2100",
        "S4FLIPOVER=0", "S5KILL=0",
        "; the screen",
        "O1CELLVOLTS=1 11 3      ; shown, row, column: rows and columns from 0",
        "O2AMPS=1 11 19", "O3TIMER=1 12 3", "O4WARNINGS=1 8 5", "O5HORIZON=0 4 11",
    )  # fmt: skip
    found = values(read(*lines))
    idle: dict[str, object] = {"switches.self_right": (), "switches.motors_kill": ()}
    switches = {path: value for path, value in found.items() if path.startswith("switches")}
    assert switches == RANGES | idle  # a lone 0 says that no channel switches them
    assert (found["receiver.link"], found["receiver.map.throttle"]) == ("sbus", 1)
    assert found["overlay.elements.cell_voltage.row"] == 12
    assert found["overlay.elements.horizon.shown"] is False


def test_what_stands_above_the_rows_of_a_table_tells_of_its_letters_and_counts() -> None:
    lines = (
        "[Ports]", "# jobs: R receiver, T telemetry, G GPS, X unused",
        "# port, job, baud, inverted (Y/N)",
        "1, R, 115200, N", "2, G, 38400, N", "3, T, 57600, Y", "4, X, 9600, N", "",
        "[Overlay]", "# element, visible (Y/N), column, row; the top left corner is 1, 1",
        "Battery voltage, Y, 2, 15", "Cell voltage, Y, 3, 14", "Satellites, N, 24, 2",
        "Altitude, Y, 22, 3",
    )  # fmt: skip
    found = values(read(*lines))
    assert found["ports.uart2.roles"] == frozenset({"position"})
    assert found["overlay.elements.satellites.column"] == 24
    assert found["overlay.elements.satellites.shown"] is False


def test_what_is_counted_and_half_of_a_divider_are_no_settings() -> None:
    counts = ("", "counts:", "- compassSwings: 100", "- lowPacks: 298", "- gyroErrors: 9")
    found = values(read(*BLOCKS, "", "battery:", "- resistor: 10.1 k", "- cells: 4", *counts))
    assert found["battery.cells"] == 4
    assert not {"battery.divider", "sensors.compass.rotation.yaw"} & found.keys()


NESTED = """{
  "ports": [
    { "port": "a", "use": "console", "baud": 115200, "inverted": false },
    { "port": "b", "use": "receiver", "baud": 100000, "inverted": true },
    { "port": "c", "use": null, "baud": 38400, "inverted": false }
  ],
  "pads": {
    "o1": { "use": "buzzer", "timer": "t2", "dma": "d1" },
    "o2": { "use": "leds", "timer": "t3", "dma": null },
    "in1": { "use": "voltage", "timer": null, "dma": null }
  },
  "switches": [
    { "does": "arm", "channel": 5, "from_us": 1800, "to_us": 2100 },
    { "does": "level", "channel": 7, "from_us": 900, "to_us": 1250 },
    { "does": "buzzer", "channel": 9, "from_us": 1700, "to_us": 2100 }
  ],
  "battery": {
    "cells": 4,
    "chemistry": "lihv"
  }
}"""


def test_objects_on_one_line_are_rows_of_things() -> None:
    found = values(read(*NESTED.split("\n")))
    assert found["ports.b.roles"] == frozenset({"receiver"})
    assert found["ports.b.inverted"] is True
    assert found["pads.o1.use"] == "buzzer"
    assert found["pads.in1.use"] == "voltage_sense"
    assert "pads.in1.timer" not in found
    assert found["battery.cells"] == 4


def test_what_stands_in_brackets_is_cut_as_it_would_be_without_them() -> None:
    found = values(
        read(
            "rx.channels = 14",
            "switch.join = any",
            "switch.arm = [ch5 1800..2100us]",
            "switch.level = [ch6 900..1300us, ch7 1301..1700us]",
            "switch.buzzer = [ch8 1700..2100us]",
            "switch.osd_off = [ch8 900..1200us]",
            "switch.failsafe = [ch9 1800..2100us]",
            "",
            "dterm.filters = [pt2 95Hz]",
            "gyro.filters = [pt1 170Hz, notch 240Hz q3.2]",
            "video.freq = 5730MHz",
            "video.plan.h = [5668MHz, 5699MHz, 5730MHz, 5761MHz]",
            "video.plan.k_mhz = [5674, 5705, 5736, 5767]",
            "video.powers = [10mW, 25mW, 150mW]",
        )
    )
    assert found["switches.arm"] == (SwitchRange(5, 1800, 2100),)
    assert found["switches.failsafe"] == (SwitchRange(9, 1800, 2100),)
    assert found["video.plan.h"] == (5668, 5699, 5730, 5761)
    assert found["video.plan.k"] == (5674, 5705, 5736, 5767)
    assert found["video.plan.powers"] == (10, 25, 150)
    assert found["filters.dterm"] == (Filter("pt2", 95),)


SHEET = """\
{open}SERIAL SOCKETS{close}
  socket | carries            | speed  | upside down
{rule}
  usb    | console            | 115200 | no
  s1     | receiver+telemetry | 100000 | yes
  s2     | nothing            | 57600  | no
  s3     | gps                | 115200 | no

{open}SOLDER PADS{close}
  pad | does            | timer
{rule}
  A1  | motor bow left  | T3.1
  A2  | motor bow right | T3.2
  A3  | motor aft left  | T3.3
  A4  | motor aft right | T3.4
  B1  | beeper          | T8.2

{open}FRAME AND MOTORS{close}
  shape ........... four arms, cross
  arm       | output | turns     | lift | roll | pitch | yaw
{rule}
  bow left  | 1      | clockwise | 100  | 100  | 100   | -100
  bow right | 2      | anticlock | 100  | -100 | 100   | 100
  aft left  | 3      | anticlock | 100  | 100  | -100  | 100
  aft right | 4      | clockwise | 100  | -100 | -100  | -100

{open}SPEED CONTROLLERS{close}
  signal .......... dshot 600
  idle ............ 5.5 %
  brushed ......... no
  pulse at rest ... 1000 us
  shortest pulse .. 1070 us

{open}RECEIVER{close}
  link ............ sbus
  order of sticks . roll=1 pitch=2 throttle=3 yaw=4

{open}SWITCHES{close}
  what        | channel | from | to
{rule}
  arm         | 5       | 1700 | 2100
  hold height | 6       | 1301 | 1700
  come home   | 7       | 1700 | 2100"""


@pytest.mark.parametrize("rule", ["", "  -------+-----+------", "  ------ | ------ | ----"])
@pytest.mark.parametrize("head", ["[*]", "<< * >>", "( * )", "== * ==", "## *", "-- *", "*:"])
def test_tables_that_bars_part_are_read_below_any_title(head: str, rule: str) -> None:
    before, behind = head.split("*")
    sheet = SHEET.format(open=before, close=behind, rule=rule)
    found = values(read(*filter(None, sheet.split("\n"))))
    assert found["ports.uart1.roles"] == frozenset({"receiver", "telemetry"})
    assert found["ports.uart2.roles"] == frozenset()
    assert found["pads.A2.use"] == "motor front_right"
    assert found["motors.rear_left.spin"] == "ccw"
    assert found["motors.rear_right.mix.pitch"] == -1
    assert found["esc.protocol"] == "dshot600"
    assert found["switches.altitude_hold"] == (SwitchRange(6, 1301, 1700),)


@pytest.mark.parametrize("aux", ["chan.aux{} = {}", "CHANAUX{}={}", "channel aux {} {}"])
def test_channels_behind_the_sticks_are_told_by_their_numbers(aux: str) -> None:
    stick = aux.replace("aux {}", "{}").replace("aux{}", "{}").replace("AUX{}", "{}")
    names = ("ROLL", "PITCH", "THR", "YAW") if aux.isupper() else ("roll", "pitch", "thr", "yaw")
    lines = [stick.format(name, n) for n, name in enumerate(names, 1)]
    lines += [aux.format(n, n + 4) for n in range(1, 5)]
    found = values(read("receiver link crsf", *lines))
    assert found["receiver.map.throttle"] == 3
    assert [found[f"receiver.map.aux{n}"] for n in range(1, 5)] == [5, 6, 7, 8]


def test_channels_that_a_line_names_are_each_its_own() -> None:
    lines = ("[RECEIVER]", "link: sbus", "sticks: roll=1 pitch=2 throttle=3 yaw=4")
    found = values(read(*lines, "knobs and switches: aux1=5 aux2=6 aux3=8"))
    assert (found["receiver.map.aux1"], found["receiver.map.aux3"]) == (5, 8)


def test_a_longer_word_for_a_role_never_falls_to_a_part_of_it() -> None:
    ports = ("receiver, camera", "telemetry", "satellite receiver", "video transmitter")
    lines = [f"port {n}\n  job: {job}\n  speed: 115200" for n, job in enumerate(ports, 1)]
    found = values(read(*"\n".join(["serial ports:", *lines]).split("\n")))
    said = [value for path, value in found.items() if path.endswith(".roles")]
    assert sum("receiver" in roles for roles in said if isinstance(roles, frozenset)) <= 1


def test_of_a_set_of_words_no_part_is_read() -> None:
    found = values(read("[arming]", "armed by: switch", "checks left out: compass, satellites"))
    assert found.get("arming.waived") != frozenset({"compass"})


def test_to_parts_the_key_from_the_value_behind_a_verb() -> None:
    found = values(
        read(
            "bind port 1 to console at 115200 baud",
            "bind port 2 to receiver at 100000 baud",
            "bind port 3 to gps at 38400 baud",
            "bind arm to channel 5 from 1700 to 2100 us",
            "bind level flight to channel 6 from 900 to 1350 us",
            "bind buzzer to channel 7 from 1700 to 2100 us",
            "map throttle to channel 1",
            "map roll to channel 2",
            "map pitch to channel 3",
            "map yaw to channel 4",
            "map aux1 to channel 5",
            "disable port 1 inversion",
            "enable port 2 inversion",
            "disable port 3 inversion",
            "set arming max tilt to 30 deg",
            "set arming throttle limit to 1040 us",
            "set bank 1 roll p i d ff to 57 86 37 80",
            "set bank 1 pitch p i d ff to 60 91 40 84",
            "set bank 1 yaw p i d ff to 51 82 3 66",
            "allow arming tilt 30 deg",
        )
    )
    assert found["ports.uart2.roles"] == frozenset({"receiver"})
    assert found["ports.uart3.baud"] == 38400
    assert (found["ports.uart1.inverted"], found["ports.uart2.inverted"]) == (False, True)
    assert found["switches.self_level"] == (SwitchRange(6, 900, 1350),)
    assert found["receiver.map.aux1"] == 5
    assert found["arming.max_tilt"] == 30
    assert found["banks.1.gains.yaw.ff"] == 66


def test_elements_that_are_shown_or_not_have_their_places_either_way() -> None:
    lines = [
        f"{verb} screen item {name} at row {row} column {column}"
        for verb, name, row, column in (
            ("enable", "battery voltage", 12, 3),
            ("disable", "cell voltage", 11, 3),
            ("enable", "satellites", 1, 25),
            ("enable", "altitude", 6, 23),
            ("disable", "crosshair", 7, 15),
            ("enable", "speed", 16, 3),
        )
    ]
    found = values(read("osd rows 16", "osd columns 30", *lines))
    cell, speed = ("overlay.elements.cell_voltage", "overlay.elements.speed")
    assert (found[f"{cell}.shown"], found[f"{speed}.shown"]) == (False, True)
    assert (found[f"{cell}.row"], found[f"{speed}.column"]) == (11, 3)


DEEDS = ("arm", "level", "hold height", "go home", "beeper", "osd off", "level")
LEGEND = "# do: 0 nothing, 1 arm, 2 level, 3 hold height, 4 go home, 5 beeper, 6 osd off"


@pytest.mark.parametrize(
    "row", ["{key}{n} = {value}", "SW{n}{key}={value}", "sw{n}_{key}: {value}"]
)
@pytest.mark.parametrize("coded", [False, True])
def test_rows_by_a_number_are_of_what_their_first_line_says(row: str, coded: bool) -> None:
    codes = {deed: f"{n}" for n, deed in enumerate(dict.fromkeys(DEEDS), 1)}
    lines = [LEGEND] if coded else []
    for n, deed in enumerate([*DEEDS, "none"], 1):
        do = codes.get(deed, "0") if coded else deed
        rest = (("ch", 0), ("min", 0), ("max", 0)) if deed == "none" else (
            ("ch", n + 4), ("min", 1000 + n), ("max", 1500 + n)
        )  # fmt: skip
        pairs = (("do", do), *rest)
        lines += [row.format(key=key, n=n, value=value) for key, value in pairs]
    sticks = [f"chan {name} {n}" for n, name in enumerate(("roll", "pitch", "thr", "yaw"), 1)]
    state = asked("[receiver]", *sticks, "", "[switches]", *lines)
    found = values(taught(state).settings)
    assert found["switches.arm"] == (SwitchRange(5, 1001, 1501),)
    assert found["switches.overlay_off"] == (SwitchRange(10, 1006, 1506),)
    assert found["switches.self_level"] == (SwitchRange(6, 1002, 1502), SwitchRange(11, 1007, 1507))
    assert not [raw.key for raw in taught(state).settings.raw.values() if not raw.known]


FLOWN = {
    f"banks.{bank}.gains.{axis}.{term}": float(value)
    for bank, rows in (("1", ("39 66 27", "42 70 30")), ("2", ("46 75 33", "49 79 36")))
    for axis, row in zip(AXES, rows, strict=False)
    for term, value in zip("pid", row.split(), strict=True)
}


def test_profiles_that_lines_of_their_own_begin_and_end_are_banks() -> None:
    dump = ["port 1 role receiver", "port 1 baud 420000"]
    for number, name, rows in (
        (1, "survey", ("39 66 27", "42 70 30")),
        (2, "chase", ("46 75 33", "49 79 36")),
    ):
        dump.append(f'profile {number} begin "{name}"')
        for axis, row in zip(AXES, rows, strict=False):
            p, i, d = row.split()
            dump.append(f"  gains {axis} p {p} i {i} d {d}")
        dump.append(f"profile {number} end")
    found = values(read(*dump))
    assert {path: value for path, value in found.items() if path.startswith("banks.")} == FLOWN


def test_the_arm_that_the_line_of_a_motor_names_tells_the_motor_s_output() -> None:
    arms = ("front-left", "front-right", "rear-right", "rear-left")
    lines = [f"motor {number} at {arm}" for number, arm in enumerate(arms, 1)]
    turns = ("cw", "ccw", "cw", "ccw")
    lines += [f"motor {number} turns {turn}" for number, turn in enumerate(turns, 1)]
    found = values(read(*lines))
    for number, (arm, turn) in enumerate(zip(arms, turns, strict=True), 1):
        own = arm.replace("-", "_")
        assert (found[f"motors.{own}.output"], found[f"motors.{own}.spin"]) == (number, turn)
    told = [f"motor {number} output {5 - number}" for number in range(1, 5)]
    found = values(read(*lines, *told))  # where a line tells the outputs, the numbers do not
    assert "motors.front_left.output" not in found or found["motors.front_left.output"] == 4


@pytest.mark.parametrize(
    ("line", "path", "value"),
    [
        ("motor type brushless", "esc.brushed", False),
        ("motor pole-pairs 7", "motors.poles", 14),
        ("motor poles 14", "motors.poles", 14),
        ("channel 15 is signal-strength", "receiver.signal_channel", 15),
    ],
)
def test_words_of_the_trade_that_tell_a_value(line: str, path: str, value: object) -> None:
    around = ["esc signal dshot600", "esc idle 5 %", "motor stop-at-idle off"]
    sticks = [f"channel {n} is {c}" for n, c in enumerate(("roll", "pitch", "throttle", "yaw"), 1)]
    sticks += [f"channel {n} is aux{n - 4}" for n in range(5, 9)]
    found = values(read(*around, *sticks, line))
    assert found.get(path) == value
    assert not [p for p in found if p.startswith("receiver.map.spare")]


@pytest.mark.parametrize(
    ("remark", "value"), [("0.1 %", 4.8), ("in 0.1 %, at rest", 4.8), ("tenths of a percent", 4.8)]
)
def test_what_a_step_is_may_stand_alone_in_a_remark(remark: str, value: float) -> None:
    found = values(read("ESCPROT=DSHOT600", f"ESCIDLE=48   ; {remark}", "ESCREPORTS=1"))
    assert found["esc.idle"] == pytest.approx(value)


def test_a_key_that_goes_on_behind_its_number_is_not_read_as_the_shorter_one() -> None:
    lines = ["GYROFILT1=PT2", "GYROFILT1FREQ=135  ; Hz", "GYROFILT2=NOTCH"]
    lines += ["GYROFILT2FREQ=215  ; Hz", "GYROFILT2Q=24   ; 0.1"]
    found = values(read(*lines))
    assert found["filters.gyro"] == (Filter("pt2", 135.0, 0.0), Filter("notch", 215.0, 2.4))


def test_a_list_in_one_unit_is_no_sentence() -> None:
    lines = ["[video transmitter]", "powers: 10, 50, 200 mW", "power: 200 mW", "band: w"]
    lines += ["channel: 2", "frequency: 5.696 GHz", "[frequency plan]"]
    lines += ["band w: 5654, 5696, 5731, 5768 MHz", "band y: 5673, 5709, 5746, 5783 MHz"]
    found = values(read(*lines))
    assert found["video.plan.powers"] == (10.0, 50.0, 200.0)
    assert found["video.transmitter.channel"] == 2  # by the plan, in another unit


def test_a_remark_that_names_the_corner_tells_what_places_count_from() -> None:
    rows = ["battery voltage  yes  12  2", "cell voltage     yes  11  2"]
    rows += ["flight timer     yes  12  22", "warnings         yes  8   9"]
    head = ["[screen overlay]", "enabled: yes", "# row 1, column 1 is the top left corner"]
    found = values(read(*head, "element          shown  row  column", *rows))
    assert found["overlay.elements.warnings.row"] == 8
    assert found["overlay.elements.flight_timer.column"] == 22


def test_a_title_with_commas_is_no_list_of_columns() -> None:
    lines = ["# gyro, loop and filters", "gyro rate 8000 Hz", "gyro range 2000 deg/s"]
    lines += ["loop period 250 us", "filter gyro 1 pt2 160 Hz", "filter gyro 2 notch 230 Hz q 2.8"]
    found = values(read(*lines))
    assert found["gyro.sample_rate"] == 8000.0
    assert found["gyro.full_scale"] == 2000.0


def test_a_word_that_some_lines_share_is_the_value_of_a_label_that_has_others() -> None:
    lines = [f"pad a{n} use motor timer 5 dma {n + 1}" for n in range(4)]
    lines += ["pad d12 use led-strip timer 4 dma 6", "pad e9 use buzzer timer 1 dma 7"]
    lines += ["pad c1 use current-sense timer 2 dma 8"]
    found = values(read(*lines))
    assert found["pads.a0.use"] == "motor"
    assert found["pads.d12.use"] == "led_strip"
    assert (found["pads.e9.use"], found["pads.e9.timer"]) == ("buzzer", "1")


def test_letters_at_the_end_of_keys_count_ports_and_x10_says_how_large_a_step_is() -> None:
    rows = [
        f"port_{what}_{letter} {value}"
        for what, values in (
            ("baud", ("115200", "57600", "9600")),
            ("job", ("console", "telemetry", "receiver")),
            ("inverted", ("0", "0", "1")),
        )
        for letter, value in zip("abc", values, strict=True)
    ]
    others = ["esc_idle_pct_x10 65", "home_speed_cm_s 720", "home_altitude_m 35"]
    found = values(read(*rows, *others))
    assert [found[f"ports.{letter}.baud"] for letter in "abc"] == [115200.0, 57600.0, 9600.0]
    assert [found[f"ports.{letter}.inverted"] for letter in "abc"] == [False, False, True]
    assert (found["esc.idle"], found["home.speed"]) == (6.5, 7.2)


def test_initials_in_a_key_name_its_three_numbers() -> None:
    found = values(
        read(
            "rate_max_rpy_dps 480,460,320",
            "rate_expo_rpy_pct 25,20,12",
            "gain_p_rpy 52,55,48",
            "gain_i_rpy 84,88,80",
            "gain_d_rpy 35,38,0",
        )
    )
    assert [found[f"banks.1.rates.{a}.max"] for a in AXES] == [480.0, 460.0, 320.0]
    assert [found[f"banks.1.gains.{a}.d"] for a in AXES] == [35.0, 38.0, 0.0]


def test_a_list_of_words_behind_a_key_is_no_row_among_keys_and_values() -> None:
    keyed = [f"{key} {value}" for key, value in KEYS.items()]
    found = values(read(*keyed, "receiver_channel_order thr,roll,pitch,yaw,aux1,aux2"))
    assert found.items() >= READ.items()
    assert [found[f"receiver.map.{c}"] for c in ("throttle", "roll", "aux2")] == [1, 2, 6]


@pytest.mark.parametrize("row", ["{kind} {key} {value}", "{key}:{kind} = {value}"])
def test_how_a_number_is_kept_is_no_index(row: str) -> None:
    kinds = ["u8", "f32", "u16", "i32"]
    rows = [
        row.format(kind=kinds[number % 4], key=key, value=value)
        for number, (key, value) in enumerate(KEYS.items())
    ]
    axes = [row.format(kind="f32", key=f"gain.{axis}.p", value="48.0") for axis in AXES]
    axes += [row.format(kind="f32", key=f"gain.{axis}.i", value="80.0") for axis in AXES]
    axes += [row.format(kind="f32", key=f"gain.{axis}.d", value="34.0") for axis in AXES]
    found = values(read(*rows, *axes))
    assert found.items() >= READ.items()
    assert [found[f"banks.1.gains.{axis}.p"] for axis in AXES] == [48.0] * 3


def test_pairs_behind_a_word_that_begins_every_line_are_taken_apart() -> None:
    keyed = [f"set {key} {value}" for key, value in KEYS.items()]
    gains = [
        f"set gains_{axis} p={p} i=80 d=36" for axis, p in zip(AXES, (48, 50, 45), strict=True)
    ]
    found = values(read(*keyed, *gains))
    assert [found[f"banks.1.gains.{axis}.p"] for axis in AXES] == [48.0, 50.0, 45.0]


def test_names_and_values_may_be_parted_by_a_colon_without_a_blank() -> None:
    rows = [
        "battery cells:6 chemistry:li-ion capacity:8400mAh",
        "home height:45m speed:9.5m/s descend:1.5m/s",
        "stickmap roll:2 pitch:3 throttle:1 yaw:4",
        "lost notice:0.5s wait:1.5s then:go-home",
        "gyro sample:4000 range:2000",
    ]
    found = values(read(*rows))
    assert (found["battery.cells"], found["battery.chemistry"]) == (6, "liion")
    assert (found["home.altitude"], found["home.speed"]) == (45.0, 9.5)
    assert [found[f"receiver.map.{c}"] for c in ("throttle", "roll", "pitch", "yaw")] == [
        1,
        2,
        3,
        4,
    ]
    assert (found["failsafe.hold_for"], found["failsafe.action"]) == (1.5, "return_home")


STORE = [
    "rcv.lo=1050", "rcv.mid=1500", "rcv.hi=1950", "rcv.dead=4", "rcv.chs=12",
    "rcv.pls.min=890", "bat.cells=6", "bat.mah=1300", "bat.mah.warn=20", "bat.vdiv=110",
    "lost.det.ms=400", "lost.hold.s10=15", "lost.land.s=40", "bzr.on=1", "tlm.on=1", "tlm.half=0",
    "log.hz=1000", "log.raw=0", "home.alt.m=35", "home.spd.cms=800",
]  # fmt: skip


def test_short_forms_are_read_that_nobody_listed_and_no_word_is_passed_over() -> None:
    found = values(read(*STORE))
    assert (found["receiver.low"], found["receiver.high"]) == (1050.0, 1950.0)
    assert found["finder.buzzer"] is True
    assert "telemetry.enabled" not in found  # `tlm.half` may not say it
    assert "esc.pulse_min" not in found  # `rcv.pls.min` is the receiver's
    assert "flight_log.enabled" not in found  # `log.raw` is something else than on and off
    assert found["battery.capacity"] == 1300.0
    alone = values(read(*(line for line in STORE if line != "bat.mah=1300")))
    assert "battery.capacity" not in alone  # `bat.mah.warn` is none


def test_a_ten_at_the_end_of_a_key_is_the_size_of_a_step() -> None:
    found = values(read(*STORE))
    assert (found["failsafe.detect_after"], found["failsafe.hold_for"]) == (0.4, 1.5)


def test_a_switch_on_channel_0_is_on_none_where_the_others_stand_behind_the_sticks() -> None:
    rows = [
        f"sw.{name}.{what}={value}"
        for name, values_ in (
            ("arm", (5, 1700, 2100)),
            ("level", (6, 900, 1300)),
            ("home", (8, 1700, 2100)),
            ("kill", (9, 1800, 2100)),
            ("log", (0, 900, 900)),
        )
        for what, value in zip(("ch", "lo", "hi"), values_, strict=True)
    ]
    found = values(read(*STORE, *rows))
    assert found["switches.arm"] == (SwitchRange(5, 1700.0, 2100.0),)
    assert found["switches.flight_log"] == ()


def test_the_words_of_a_remark_over_the_columns_below_name_them() -> None:
    rows = [
        "#      no role       baud    invert  duplex",
        "serial usb console   115200  -       -",
        "serial 1  position   115200  plain   full",
        "serial 2  receiver   100000  flipped full",
        "serial 3  video      4800    plain   half",
        "serial 4  unused     9600    plain   full",
    ]
    found = values(read(*(f"{key} {value}" for key, value in KEYS.items()), "", *rows))
    assert found["ports.uart2.roles"] == frozenset({"receiver"})
    assert [found[f"ports.uart{n}.inverted"] for n in (1, 2)] == [False, True]
    assert [found[f"ports.uart{n}.half_duplex"] for n in (2, 3)] == [False, True]
    assert "ports.usb.inverted" not in found


def test_a_column_of_auxiliaries_counts_from_behind_the_sticks() -> None:
    rows = [
        "#      what         aux  from   to",
        "switch arm          1    1800   2100",
        "switch level        2    900    1250",
        "switch go-home      4    1650   2100",
        "switch beeper       5    1700   2100",
        "switch motor-stop   3    1850   2100",
    ]
    found = values(read(*(f"{key} {value}" for key, value in KEYS.items()), "", *rows))
    assert found["switches.arm"] == (SwitchRange(5, 1800.0, 2100.0),)


def test_an_element_at_nought_and_nought_that_is_hidden_tells_no_beginning() -> None:
    rows = [
        "#    item          col row shown",
        *(
            f"show {name:13} {column:3} {row:3}   {shown}"
            for name, column, row, shown in (
                ("pack-volts", 1, 11, "yes"),
                ("cell-volts", 1, 10, "yes"),
                ("amps", 9, 11, "yes"),
                ("mode", 22, 11, "yes"),
                ("link-quality", 0, 0, "no"),
                ("satellites", 1, 2, "yes"),
            )
        ),
    ]
    found = values(read(*(f"{key} {value}" for key, value in KEYS.items()), "", *rows))
    assert found["overlay.elements.mode.shown"] is True
    assert "overlay.elements.mode.row" not in found  # from 0 or from 1: it is asked


SENTENCES = [
    "Channel 1 carries throttle",
    "Channel 2 carries roll",
    "Channel 3 carries pitch",
    "Channel 4 carries yaw",
    "Port A talks to the receiver at 100000 baud (inverted, separate wires)",
    "Port B talks to the position receiver at 115200 baud (not inverted, separate wires)",
    "Port C talks to the video transmitter at 4800 baud (not inverted, single wire)",
    "Port D talks to the telemetry radio at 57600 baud (not inverted, separate wires)",
    "Arming answers to channel 6 between 1700 and 2100 microseconds",
    "Self-levelling answers to channel 5 between 900 and 1250 microseconds",
    "Return home answers to channel 8 between 1750 and 2100 microseconds",
    "Motor kill answers to channel 9 between 1800 and 2100 microseconds",
    "Pack voltage is shown at column 2, row 12",
    "Current draw is shown at column 10, row 12",
    "Flight mode is shown at column 13, row 11",
]


def test_lines_that_say_of_many_things_the_same_with_a_verb_are_sentences() -> None:
    found = values(read(*SENTENCES))
    assert found["ports.b.roles"] == frozenset({"position"})
    assert found["ports.c.roles"] == frozenset({"video_control"})
    assert [found[f"ports.{port}.baud"] for port in "abcd"] == [100000, 115200, 4800, 57600]
    assert [found[f"ports.{port}.inverted"] for port in "ab"] == [True, False]
    assert [found[f"ports.{port}.half_duplex"] for port in "bc"] == [False, True]
    assert found["switches.arm"] == (SwitchRange(6, 1700.0, 2100.0),)
    assert found["switches.return_home"] == (SwitchRange(8, 1750.0, 2100.0),)
    assert "position.rate" not in found
    assert "arming.by" not in found


GAINS = (
    "   Roll:  proportional 52, integral 78, damping 40, feed-forward 70",
    "   Pitch: proportional 56, integral 82, damping 44, feed-forward 74",
    "   Yaw:   proportional 50, integral 78, damping 5, feed-forward 60",
)


def test_titles_with_ordinals_and_names_of_their_own_are_of_one_sort() -> None:
    other = [line.replace("5", "4") for line in GAINS]
    rows = ['First gain set, "Survey"', *GAINS, "", 'Second gain set, "Ferry"', *other]
    found = values(read(*(f"{key}: {value}" for key, value in KEYS.items()), "", *rows))
    assert (found["banks.1.gains.pitch.p"], found["banks.2.gains.pitch.p"]) == (56.0, 46.0)


def test_what_lines_would_say_in_two_ways_is_not_read() -> None:
    other = [line.replace("5", "4") for line in GAINS]
    found = values(read(*(f"{key}: {value}" for key, value in KEYS.items()), *GAINS, *other))
    assert not [path for path in found if path.startswith("banks.")]


def test_a_list_of_which_a_line_is_not_understood_is_not_read_in_part() -> None:
    rows = [f"{key} {value}" for key, value in KEYS.items()]
    part = [
        "d_soft_a_kind pt1", "d_soft_a_hz 90", "d_soft_b_kind pt1", "d_soft_b_hz 120",
    ]  # fmt: skip
    found = values(read(*rows, *part))
    assert found.get("filters.dterm", ()) in ((), (Filter("pt1", 90.0), Filter("pt1", 120.0)))


def test_an_element_told_with_its_column_first_teaches_the_others_past_an_even_one() -> None:
    rows = [
        "osd.pvolt=1,14", "osd.amps=10,14", "osd.mode=13,13", "osd.warn=8,10", "osd.sats=1,2",
        "osd.rssi=off",
    ]  # fmt: skip
    state = asked(*(f"{key}={value}" for key, value in KEYS.items()), *rows)
    head = "overlay.elements"
    first = len(KEYS) + 1
    for line, name, row, column in ((first, "battery_voltage", 15, 2), (first + 2, "mode", 14, 14)):
        for leaf, value in (("shown", "on"), ("row", f"{row}"), ("column", f"{column}")):
            state = answered(state, Answer("", value, f"{head}.{name}.{leaf}", line))
    found = values(taught(state).settings)
    assert (found[f"{head}.satellites.row"], found[f"{head}.satellites.column"]) == (3, 2)
