"""Switches as swept, the overlay's boxes, video frequencies and their products."""

import pytest

from cfgaudit.pictures import overlay, switches, video
from tests.pictures.crafts import craft, sheet

SWITCHES = """
[receiver]
low = 1000 us
high = 2000 us
[switches]
arm = 5: 1700..2100 us
buzzer = 5: 1500..1599 us, 5: 1800..1900 us
self_level = 6: 1300..2100 us
[failsafe]
channels.5 = 1850 us
channels.6 = hold
"""


def test_each_function_has_the_stretches_where_it_is_on_and_neighbours_are_one() -> None:
    channel, other = switches.data(craft(SWITCHES))
    lanes = {lane.function: lane.spans for lane in channel.lanes}
    # hand: positions 1000..1499, 1500..1599, 1600..1699, 1700..1799, 1800..1900, 1901..2000
    assert lanes == {"arm": ((1700, 2000),), "buzzer": ((1500, 1599), (1800, 1900))}
    assert [lane.spans for lane in other.lanes] == [((1300, 2000),)]


def test_rest_and_link_loss_are_told_for_each_function() -> None:
    made = switches.picture(craft(SWITCHES), None)
    rows = {row[1]: row for row in made.table.rows}
    assert rows["arm"][3:] == ("off", "on", "1850 us")
    assert rows["self_level"][3:] == ("off", "-", "held at its last pulse")


def test_the_arming_region_is_drawn_apart() -> None:
    body = switches.picture(craft(SWITCHES), None).drawing.body
    assert body.count("span arming") == 1


OVERLAY = """
[overlay]
enabled = on
standard = ntsc
elements.battery_voltage.shown = on
elements.battery_voltage.row = 1
elements.battery_voltage.column = 1
elements.flight_timer.shown = on
elements.flight_timer.row = 1
elements.flight_timer.column = 7
elements.warnings.shown = on
elements.warnings.row = 13
elements.warnings.column = 20
elements.heading.shown = off
"""


def test_boxes_that_share_a_cell_or_leave_the_grid_are_marked() -> None:
    # Published (Maxim MAX7456): 30 × 13 for NTSC. Hand: battery_voltage takes columns 1 to 7, the
    # timer begins at 7; 20 letters of warnings from column 20 would end at 39.
    told = overlay.data(craft(OVERLAY))
    by = {one.name: one for one in told.elements}
    assert (told.columns, told.rows) == (30, 13)
    assert by["battery_voltage"].under == ("flight_timer",)
    assert by["flight_timer"].under == ("battery_voltage",)
    assert by["warnings"].cut_off
    assert "heading" not in by


def test_the_picture_marks_three_faults() -> None:
    assert overlay.picture(craft(OVERLAY), None).drawing.body.count("element faulty") == 3


def at(mhz: float) -> str:
    return f"[video.transmitter]\nenabled = on\nfrequency = {mhz} MHz\n"


def test_four_neighbours_of_one_raster_have_twelve_products_one_on_a_used_frequency() -> None:
    # hand calculation: 2 × 5695 − 5658 = 5732, which the third of them uses
    others = [(str(mhz), craft(at(mhz))) for mhz in (5695, 5732, 5769)]
    told = video.data(craft(at(5658)), None, others)
    assert len(told.products) == 12
    assert told.products[0].gap_mhz == 0
    assert {p.product_mhz for p in told.products if p.first_mhz == 5695} >= {5732.0}


def test_one_craft_alone_has_no_products() -> None:
    made = video.picture(craft(at(5800)), None)
    assert "has no products" in " ".join(made.notes)
    assert "local rules decide" in made.notes[0]


def test_the_sheet_s_range_is_drawn() -> None:
    built = sheet('[devices.sender]\nkind = "video_transmitter"\nfrequencies = "5700..5900 MHz"\n')
    assert video.data(craft(at(5800)), built).range_mhz == pytest.approx((5700, 5900))
