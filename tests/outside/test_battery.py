"""Area H: cells, dividers, current sensors."""

import pytest

from cfgaudit.physics.power import (
    adc_code,
    cell_limits,
    current_full_scale_a,
    divider_ratio,
    full_scale_v,
    possible_cell_counts,
    step_per_cell_v,
    voltage_of_code,
)


def test_cell_limits_are_the_published_ones() -> None:
    """Published: Samsung SDI INR18650-15L, 4.2 and 2.5 V; Microchip DS20001984, 4.20 and 4.35 V.
    Common practice: 3.0 V floor and 3.5 V warning of a LiPo cell."""
    assert (cell_limits("liion").floor_v, cell_limits("liion").full_v) == (2.5, 4.2)
    assert (cell_limits("lipo").floor_v, cell_limits("lipo").warn_v) == (3.0, 3.5)
    assert cell_limits("lipo").full_v == 4.20
    assert cell_limits("lihv").full_v == 4.35


def test_a_full_three_cell_pack_reads_like_an_empty_four_cell_one() -> None:
    """Hand calculation: 3 * 4.2 = 12.6 V > 4 * 3.0 = 12.0 V, so 12.3 V may be either."""
    assert possible_cell_counts(12.6, 3.0, 4.2) == (3, 4)
    assert possible_cell_counts(12.3, 3.0, 4.2) == (3, 4)
    assert possible_cell_counts(11.1, 3.0, 4.2) == (3,)


def test_10k_over_1k_sees_up_to_36_3_volts() -> None:
    """Published formula: ST RM0440. Hand calculation: 3.3 * 11 = 36.3; 25.2 / 11 = 2.2909 V;
    2.2909 / 3.3 * 4095 = 2842.8."""
    divider = divider_ratio(10_000, 1000)
    assert full_scale_v(3.3, divider) == pytest.approx(36.3)
    assert adc_code(25.2, 3.3, divider) == 2843
    assert voltage_of_code(2843, 3.3, divider) == pytest.approx(25.2, abs=36.3 / 4095)


def test_91k_over_10k_does_not_see_a_full_eight_cell_pack() -> None:
    """Hand calculation: 3.3 * 10.1 = 33.33 V < 8 * 4.2 = 33.6 V."""
    seen = full_scale_v(3.3, divider_ratio(91_000, 10_000))
    assert seen == pytest.approx(33.33, abs=0.005)
    assert seen < 8 * 4.2


def test_one_step_of_a_36_3_volt_input_is_under_ten_millivolts_a_cell() -> None:
    """Hand calculation: 36.3 / 4095 = 8.864 mV; over one cell the same, over four 2.216 mV."""
    assert step_per_cell_v(3.3, 11, 1) * 1000 == pytest.approx(8.864, abs=5e-4)
    assert step_per_cell_v(3.3, 11, 4) * 1000 == pytest.approx(2.216, abs=5e-4)


@pytest.mark.parametrize(("mv_per_a", "rated_a"), [(26.4, 50), (13.2, 100), (8.8, 150), (6.6, 200)])
def test_hall_sensors_reach_their_rating_before_the_input_saturates(
    mv_per_a: float, rated_a: float
) -> None:
    """Published: Allegro ACS759 at 3.3 V, both ways. Its swing is 1.32 V of the 1.65 V above the
    middle, so the input's own end lies at 1650 / mV/A, a quarter above the rating."""
    end_a = current_full_scale_a(3.3, mv_per_a, offset_mv=1650)
    assert end_a == pytest.approx(rated_a * 1.25, rel=1e-9)
