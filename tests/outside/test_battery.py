"""Area H: cells, dividers, current sensors."""

import pytest

from cfgaudit.physics.power import (
    cell_limits,
    current_full_scale_a,
    full_scale_v,
    step_per_cell_v,
)


def test_cell_limits_are_the_published_ones() -> None:
    """Published: Samsung SDI INR18650-15L, 4.2 and 2.5 V; Microchip DS20001984, 4.20 and 4.35 V.
    Common practice: 3.0 V floor and 3.5 V warning of a LiPo cell."""
    assert (cell_limits("liion").floor_v, cell_limits("liion").full_v) == (2.5, 4.2)
    assert (cell_limits("lipo").floor_v, cell_limits("lipo").warn_v) == (3.0, 3.5)
    assert cell_limits("lipo").full_v == 4.20
    assert cell_limits("lihv").full_v == 4.35


def test_10k_over_1k_sees_up_to_36_3_volts() -> None:
    """Ohm's law: (10 + 1) / 1 = 11. Hand calculation: 3.3 * 11 = 36.3."""
    assert full_scale_v(3.3, 11) == pytest.approx(36.3)


def test_91k_over_10k_does_not_see_a_full_eight_cell_pack() -> None:
    """Ohm's law: (91 + 10) / 10 = 10.1. Hand: 3.3 * 10.1 = 33.33 V < 8 * 4.2 = 33.6 V."""
    seen = full_scale_v(3.3, 10.1)
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
