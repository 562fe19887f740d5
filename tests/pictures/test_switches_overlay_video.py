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
    # hand: down is 1000, up 2000; the buzzer's 1500..1599 and its other range end inside, so
    # channel 5 has a middle, halfway: 1500
    assert rows["arm"][3:] == ("off", "off", "on", "on", "1850 us")
    assert rows["buzzer"][3:6] == ("off", "on", "off")
    assert rows["self_level"][3:] == ("off", "-", "on", "-", "held at its last pulse")


def test_positions_rest_and_link_loss_are_drawn() -> None:
    body = switches.picture(craft(SWITCHES), None).drawing.body
    for drawn, times in (("down 1000", 2), ("middle 1500", 1), ("up 2000 us", 2)):
        assert body.count(drawn) == times
    assert body.count("mark rest") == 2
    assert body.count("mark loss") == 1  # the other channel is held


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


def test_an_element_with_a_place_is_drawn_where_nothing_says_whether_it_is_shown() -> None:
    told = overlay.data(craft(OVERLAY.replace("elements.flight_timer.shown = on\n", "")))
    assert told.taken == ("flight_timer",)
    assert {one.name for one in told.elements} == {"battery_voltage", "flight_timer", "warnings"}
    assert any("nothing says if it is shown: flight_timer" in note for note in overlay.notes(told))


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


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (at(5800), ""),
        (at(5945), "5,945 MHz"),
        (
            at(5800) + 'band = "R"\nchannel = 1\n[video.plan]\nR = 5658 MHz, 5695 MHz\n',
            "142 MHz off",
        ),
    ],
)
def test_a_frequency_that_is_wrong_is_marked_and_says_why(text: str, says: str) -> None:
    # published (47 CFR 18.301): 5,800 ± 75 MHz; by hand: 5800 - 5658 is 142
    made = video.picture(craft(text), None)
    assert made.drawing.body.count("line bad") == (2 if says else 0)
    assert bool(says) == ("▲ 5," in made.drawing.body)
    assert says in made.says


def test_a_frequency_beyond_the_transmitter_s_range_is_marked() -> None:
    built = sheet('[devices.sender]\nkind = "video_transmitter"\nfrequencies = "5700..5780 MHz"\n')
    made = video.picture(craft(at(5800)), built)
    assert "▲ 5,800" in made.drawing.body
    assert "5,700 to 5,780 MHz" in made.says
