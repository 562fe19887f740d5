"""Area I: bands, powers and third-order products."""

import pytest

from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.physics.video import (
    ISM_MHZ,
    RASTERS_MHZ,
    dbm_of_mw,
    in_ism,
    nearest_product_mhz,
    third_order_products,
)
from cfgaudit.rules.rule import Level


def test_the_ism_band_is_5800_plus_and_minus_75_mhz() -> None:
    """Published: 47 CFR 18.301."""
    assert ISM_MHZ == (5800 - 75, 5800 + 75)


def test_the_channels_outside_the_ism_band_are_the_known_ones() -> None:
    """Hand calculation: which of the common rasters' numbers lie beyond 5725..5875."""
    outside = [
        f"{band}{n}"
        for band, raster in RASTERS_MHZ.items()
        for n, frequency in enumerate(raster, start=1)
        if not in_ism(frequency)
    ]
    assert outside == [*(f"E{n}" for n in range(1, 9)), "F8", "R1", "R2", "R7", "R8"]


def test_the_rasters_are_those_in_common_use() -> None:
    """Common practice, written out by hand: A down and B, F up in even steps, R in steps of 37;
    E has no step."""
    assert RASTERS_MHZ == {
        "A": (5865, 5845, 5825, 5805, 5785, 5765, 5745, 5725),
        "B": (5733, 5752, 5771, 5790, 5809, 5828, 5847, 5866),
        "E": (5705, 5685, 5665, 5645, 5885, 5905, 5925, 5945),
        "F": (5740, 5760, 5780, 5800, 5820, 5840, 5860, 5880),
        "R": (5658, 5695, 5732, 5769, 5806, 5843, 5880, 5917),
    }


def test_25_milliwatts_are_13_98_dbm() -> None:
    """Hand calculation: 10 log10 25 = 13.979."""
    assert dbm_of_mw(25) == pytest.approx(13.98, abs=0.005)


def test_four_evenly_spaced_channels_land_on_each_other() -> None:
    """Hand calculation: R1..R4 are 37 apart; 2 * 5695 - 5658 = 5732 = R3. 4 * 3 = 12 products."""
    first_four = RASTERS_MHZ["R"][:4]
    assert len(third_order_products(first_four)) == 12
    assert nearest_product_mhz(first_four) == 0


def test_six_well_chosen_channels_keep_12_mhz() -> None:
    """Hand calculation: 6 * 5 = 30 products, written out: twice the first less each other one.
    5905 lies 12 from 5917 and 5683 lies 12 from 5695; the next, 5862 and 5640, lie 18 off."""
    used = (5658, 5695, 5760, 5800, 5880, 5917)
    by_hand = [
        *(5621, 5556, 5516, 5436, 5399),  # 11316 less each
        *(5732, 5630, 5590, 5510, 5473),  # 11390
        *(5862, 5825, 5720, 5640, 5603),  # 11520
        *(5942, 5905, 5840, 5720, 5683),  # 11600
        *(6102, 6065, 6000, 5960, 5843),  # 11760
        *(6176, 6139, 6074, 6034, 5954),  # 11834
    ]
    products = third_order_products(used)
    assert sorted(product.product_mhz for product in products) == sorted(by_hand)
    assert nearest_product_mhz(used) == 12
    assert [(p.first_mhz, p.second_mhz, p.nearest_mhz) for p in products[:2]] == [
        (5800, 5695, 5917),
        (5800, 5917, 5695),
    ]
    assert products[2].gap_mhz == 18


def test_four_evenly_spaced_craft_are_told_all_four_sums() -> None:
    """Hand calculation: R1..R4 stand at 0..3 in steps of 37; 2a - b is among them, and neither a
    nor b, for (a, b) = (1, 0), (1, 2), (2, 1), (2, 3): 5732, 5658, 5769 and 5695 MHz."""
    texts = [f"video.transmitter.frequency = {f} MHz" for f in RASTERS_MHZ["R"][:4]]
    found = audit_fleet([read_plain(text) for text in texts]).findings
    (finding,) = [one for one in found if one.rule.id == "fleet/intermodulation"]
    figures = dict(finding.figures)
    assert figures["products"] == 4
    assert {figures[f"product_{n}_mhz"] for n in range(1, 5)} == {5732, 5658, 5769, 5695}


def test_six_craft_on_well_chosen_channels_are_left_in_peace() -> None:
    """Hand calculation, as above: the nearest product is 12 off, and the closest two are 35."""
    texts = [
        f"craft.name = craft {f}\nvideo.transmitter.frequency = {f} MHz"
        for f in (5658, 5695, 5760, 5800, 5880, 5917)
    ]
    fleet = audit_fleet([read_plain(text) for text in texts])
    assert fleet.not_checked == ()
    # sums of three there are: 5658 + 5917 - 5695 = 5880, for one
    assert {finding.level for finding in fleet.findings} <= {Level.NOTE}
