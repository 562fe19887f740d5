from itertools import combinations
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.video import (
    RASTERS_MHZ,
    best_set,
    closest_spacing_mhz,
    dbm_of_mw,
    exempt_power_mw,
    in_ism,
    nearest_product_mhz,
    third_order_products,
)

plans = st.lists(st.integers(5650, 5950), min_size=4, max_size=9, unique=True)


@given(plans, st.integers(1, 4))
def test_the_best_set_is_as_good_as_any_other(plan: list[int], count: int) -> None:
    chosen = best_set(plan, count)
    assert chosen.complete
    assert set(chosen.frequencies_mhz) <= set(plan)
    assert len(chosen.frequencies_mhz) == count
    others = combinations(sorted(plan), count)
    assert (chosen.product_gap_mhz, chosen.spacing_mhz) == max(
        (nearest_product_mhz(o), closest_spacing_mhz(o)) for o in others
    )


@given(plans)
def test_products_are_never_further_off_than_the_closest_spacing(plan: list[int]) -> None:
    assert nearest_product_mhz(plan) <= closest_spacing_mhz(plan)


@given(plans)
def test_the_order_of_a_plan_does_not_matter(plan: list[int]) -> None:
    assert best_set(plan, 3) == best_set(plan[::-1], 3)


def test_a_search_that_is_cut_says_so_and_still_tells_true_figures() -> None:
    plan = [f for raster in RASTERS_MHZ.values() for f in raster]
    cut = best_set(plan, 6, most_steps=3)
    assert not cut.complete
    assert cut.product_gap_mhz == nearest_product_mhz(cut.frequencies_mhz)
    assert cut.spacing_mhz == closest_spacing_mhz(cut.frequencies_mhz)


def test_a_frequency_twice_in_a_plan_is_one() -> None:
    with pytest.raises(ValueError, match="cannot choose 2 of 1"):
        best_set([5800, 5800], 2)
    with pytest.raises(ValueError, match="cannot choose 0"):
        best_set([5800], 0)


def test_one_craft_alone_has_all_the_room() -> None:
    assert third_order_products([5800]) == ()
    assert nearest_product_mhz([5800]) == closest_spacing_mhz([5800]) == inf


def test_two_craft_on_one_frequency_have_none() -> None:
    assert nearest_product_mhz([5800, 5800]) == 0


@given(st.floats(0.01, 5000))
def test_milliwatts_and_decibels_undo_each_other(power_mw: float) -> None:
    assert 10 ** (dbm_of_mw(power_mw) / 10) == pytest.approx(power_mw)


def test_the_band_s_edges_belong_to_it() -> None:
    assert in_ism(5725)
    assert in_ism(5875)
    assert not in_ism(5724.9)
    assert in_ism(2400)
    assert in_ism(2483.5)
    assert not in_ism(2483.6)


def test_the_lower_power_holds_to_the_lower_band_s_edges() -> None:
    """From memory: ERC Recommendation 70-03, annex 1: 10 mW in 2400 to 2483.5 MHz, else 25 mW."""
    assert [exempt_power_mw(mhz) for mhz in (2399.9, 2400, 2483.5, 2483.6)] == [25, 10, 10, 25]


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="power_mw"):
        dbm_of_mw(0)
    with pytest.raises(ValueError, match="frequency_mhz"):
        third_order_products([5800, -1])
