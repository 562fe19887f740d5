"""Ports, links, battery and rails: the numbers in the pictures."""

import pytest

from cfgaudit.pictures import battery, load, ports, rails
from cfgaudit.vocabulary.declare import NotStated
from tests.pictures.crafts import corpus_craft, corpus_sheet, craft, sheet

PORTS = """
[ports.uart1]
roles = position
baud = 9600
half_duplex = off
inverted = off
pins_swapped = off
[ports.uart2]
roles = telemetry
baud = 57600
[ports.uart3]
roles = none
[position]
protocol = ubx
rate = 10 Hz
[telemetry]
protocol = marsh talk
"""


def test_a_binary_position_link_of_ten_fixes_overfills_a_slow_port() -> None:
    # Published (u-blox UBX-18010854): 92 + 8 bytes a fix. Hand calculation: 100 bytes × 10 bits ×
    # 10 Hz = 10,000 bit/s over 9,600 = 104.17 %.
    link = next(one for one in load.data(craft(PORTS)) if one.role == "position")
    assert link.percent == pytest.approx(104.1667, abs=1e-3)
    assert link.bits_per_second == pytest.approx(10_000)


def test_a_link_whose_messages_are_not_known_has_no_bar_and_says_so() -> None:
    link = next(one for one in load.data(craft(PORTS)) if one.role == "telemetry")
    assert link.percent is None
    assert link.sends == "its messages are not known"
    assert "bar over" in load.picture(craft(PORTS), None).drawing.body


def test_what_a_link_lacks_is_named() -> None:
    (link,) = load.data(craft("[ports.uart1]\nroles = position\nbaud = 9600\n"))
    assert link.sends == "position.protocol is not stated"


def test_ports_alike_in_dump_and_sheet_do_not_differ() -> None:
    told = ports.data(corpus_craft("dipper"), corpus_sheet("dipper"))
    assert told.built
    assert not [row for row in told.rows if row.differs]
    assert next(row for row in told.rows if row.port == "uart1").wired == ("receiver, 100,000 Bd",)


def test_each_way_that_a_port_and_its_device_can_differ_is_told() -> None:
    built = sheet(
        '[devices.finder]\nkind = "position"\nport = "uart1"\nrate = 38400\ninverted = true\n'
        'one_wire = true\nwires = "tx_to_tx"\n'
        '[devices.radio]\nkind = "telemetry"\nport = "uart3"\n'
    )
    rows = {row.port: row for row in ports.data(craft(PORTS), built).rows}
    assert rows["uart1"].differs == (
        "9,600 Bd is set, finder talks at 38,400 Bd",
        "finder is inverted, the port is set otherwise",
        "finder talks on one wire, the port does not",
        "transmit goes to transmit, the pins are not swapped",
    )
    assert rows["uart2"].differs == ("telemetry is set, and nothing of the kind is wired",)
    assert rows["uart3"].differs == ("radio is wired, and telemetry is not set",)


def test_without_a_sheet_nothing_is_said_of_wires() -> None:
    told = ports.data(craft(PORTS), None)
    assert not [row for row in told.rows if row.differs or row.wired]


BATTERY = """
[battery]
chemistry = lipo
cells = 8
empty_cell = 2.9 V
warn_cell = 3.5 V
full_cell = 4.2 V
detect_cell = 4.3 V
voltage_from = adc
divider = 10.1
"""


def test_the_input_s_end_for_each_cell_is_the_published_divider_s() -> None:
    # Hand calculation: 91k over 10k is 10.1; 3.3 V × 10.1 = 33.33 V, over 8 cells 4.16625 V, below
    # the 4.20 V of a full cell. One code (ST RM0440, 12 bits): 33.33 / 4095 / 8 = 1.0174 mV.
    told = battery.data(craft(BATTERY), None)
    assert told.seen_v == pytest.approx(4.16625)
    assert told.step_v == pytest.approx(0.0010174, abs=1e-7)
    assert "less than 5 % of room" in " ".join(battery.picture(craft(BATTERY), None).notes)


def test_a_threshold_that_the_chemistry_does_not_bear_is_marked() -> None:
    told = battery.data(craft(BATTERY), None)
    assert [word for word, volts in told.thresholds if told.fault(word, volts)] == ["empty"]
    drawn = battery.picture(craft(BATTERY), None).drawing.body
    assert drawn.count("▲ empty") == drawn.count("line bad") == 1


def test_thresholds_out_of_order_are_marked() -> None:
    text = BATTERY.replace("2.9", "3.6")
    told = battery.data(craft(text), None)
    faults = {word: told.fault(word, volts) for word, volts in told.thresholds}
    assert faults == {"empty": "not below warn", "warn": "not above empty",
                      "full": "", "counting": ""}  # fmt: skip
    assert battery.picture(craft(text), None).drawing.body.count("line bad") == 2


@pytest.mark.parametrize(("divider", "marked"), [("10.1", True), ("11", False)])
def test_the_input_s_end_is_marked_where_a_charged_pack_goes_beyond(
    divider: str, marked: bool
) -> None:
    # hand calculation: 33.33 V over 8 cells is 4.17 V, 36.3 V is 4.54 V; a charged cell has 4.20 V
    made = battery.picture(craft(BATTERY.replace("10.1", divider)), None)
    assert ("▲ input" in made.drawing.body) is marked
    assert ("edge" in made.drawing.body) is marked


def test_cells_counted_when_switched_on_come_from_the_sheet() -> None:
    text = BATTERY.replace("cells = 8", "cells = auto")
    assert battery.data(craft(text), None).seen_v is None
    told = battery.data(craft(text), sheet("[battery]\ncells = 6\n"))
    assert told.seen_v == pytest.approx(33.33 / 6)
    assert told.cells_say == "by the build sheet"


def test_a_rail_s_loads_are_summed_by_hand() -> None:
    # Hand calculation for Dipper's 5V rail: 100 + 250 + 60 + 600 + 30 + 15 mA = 1.055 A
    told = {rail.name: rail for rail in rails.data(corpus_sheet("dipper"))}
    assert told["5V"].total == pytest.approx(1.055)
    assert not told["5V"].overloaded
    assert told["video"].volts == "10 V"


def test_a_rail_that_gives_too_little_and_one_that_gives_too_much() -> None:
    built = sheet(
        '[rails.low]\nvoltage = "5 V"\nrating = "500 mA"\n'
        '[devices.a]\nkind = "camera"\nrail = "low"\ncurrent = "400 mA"\nsupply = "7..20 V"\n'
        '[devices.b]\nkind = "led"\nrail = "low"\ncurrent = "200 mA"\n'
        '[devices.c]\nkind = "buzzer"\nrail = "low"\n'
    )
    (rail,) = rails.data(built)
    assert rail.overloaded
    assert rail.misfits == ("a bears 7–20 V",)
    assert [load.name for load in rail.loads if load.amperes is None] == ["c"]


def test_without_a_sheet_there_are_no_rails() -> None:
    with pytest.raises(NotStated):
        rails.data(None)
