"""Area I: bands, powers and third-order products."""

from itertools import permutations

import pytest

from cfgaudit.physics.radio import (
    ISM_MHZ,
    RASTERS_MHZ,
    dbm_of_mw,
    field_to_eirp_mw,
    in_ism,
    mw_of_dbm,
    nearest_product_mhz,
    third_order_products,
)


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
    """Common practice: A 5865..5725, B 5733..5866, F 5740..5880, R 5658..5917."""
    ends = {band: (raster[0], raster[-1]) for band, raster in RASTERS_MHZ.items() if band != "E"}
    assert ends == {"A": (5865, 5725), "B": (5733, 5866), "F": (5740, 5880), "R": (5658, 5917)}


def test_50_millivolts_a_metre_at_3_m_are_three_quarters_of_a_milliwatt() -> None:
    """Published: 47 CFR 15.249. Hand calculation: (0.05 * 3)^2 / 30 = 0.75 mW."""
    assert field_to_eirp_mw(0.050, 3) == pytest.approx(0.75, rel=1e-12)


def test_25_milliwatts_are_13_98_dbm() -> None:
    """Hand calculation: 10 log10 25 = 13.979."""
    assert dbm_of_mw(25) == pytest.approx(13.98, abs=0.005)
    assert mw_of_dbm(dbm_of_mw(25)) == pytest.approx(25, rel=1e-12)


def test_four_evenly_spaced_channels_land_on_each_other() -> None:
    """Hand calculation: R1..R4 are 37 apart; 2 * 5695 - 5658 = 5732 = R3. 4 * 3 = 12 products."""
    first_four = RASTERS_MHZ["R"][:4]
    assert len(third_order_products(first_four)) == 12
    assert nearest_product_mhz(first_four) == 0


def test_six_well_chosen_channels_keep_12_mhz() -> None:
    """Hand calculation: 6 * 5 = 30 products; the nearest, 2 * 5760 - 5658 = 5862, is 18 from
    5880, 2 * 5800 - 5695 = 5905 is 12 from 5917, and none comes closer."""
    used = (5658, 5695, 5760, 5800, 5880, 5917)
    assert len(third_order_products(used)) == 30
    assert nearest_product_mhz(used) == 12
    assert min(abs(2 * a - b - f) for a, b in permutations(used, 2) for f in used) == 12
