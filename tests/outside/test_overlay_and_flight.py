"""Area J, and the fall: short facts, one test each."""

import pytest

from cfgaudit.physics.flight import (
    GRAVITY_M_PER_S2,
    blind_distance_m,
    descent_time_s,
    fall_height_m,
    fall_speed_m_per_s,
    fall_time_s,
    frames_missed,
    ground_speed_m_per_s,
    height_left_m,
    lift_of_weight,
)
from cfgaudit.physics.video import grid


def test_the_overlay_grid_is_30_by_13_or_16() -> None:
    """Published: Maxim MAX7456 data sheet."""
    assert grid("ntsc") == (30, 13)
    assert grid("pal") == (30, 16)


def test_a_fall_from_100_m_ends_at_44_metres_a_second() -> None:
    """Hand calculation: sqrt(2 * 9.80665 * 100) = sqrt(1961.33) = 44.287."""
    assert GRAVITY_M_PER_S2 == 9.80665
    assert ground_speed_m_per_s(100) == pytest.approx(44.287, abs=5e-4)


def test_a_second_and_a_half_at_12_metres_a_second_are_18_m() -> None:
    """Hand calculation: 1.5 * 12."""
    assert blind_distance_m(12, 1.5) == 18


def test_a_fall_of_a_second_is_4_9_m_and_of_half_a_second_a_quarter_of_that() -> None:
    """Hand calculation: 9.80665 / 2 = 4.903325 m, at 9.80665 m/s; 0.5 s: 1.22583125 m."""
    assert fall_height_m(1) == pytest.approx(4.903325, rel=1e-12)
    assert fall_speed_m_per_s(1) == pytest.approx(9.80665, rel=1e-12)
    assert fall_height_m(0.5) == pytest.approx(1.22583125, rel=1e-12)


@pytest.mark.parametrize("height", [0.5, 4.9, 40.0, 120.0])
def test_a_fall_through_a_height_lasts_until_it_is_fallen_through(height: float) -> None:
    """Energy: m g h = m v^2 / 2, whatever the time; textbook."""
    seconds = fall_time_s(height)
    assert fall_height_m(seconds) == pytest.approx(height, rel=1e-12)
    assert fall_speed_m_per_s(seconds) == pytest.approx(ground_speed_m_per_s(height), rel=1e-12)


def test_half_the_hover_throttle_lifts_a_quarter_to_a_half_of_the_weight() -> None:
    """Published in every propeller chart: thrust goes with the square of the turns, T = C_T rho
    n^2 D^4. Hand calculation: (15 / 30)^2 = 0.25, 15 / 30 = 0.5; (36 / 30)^2 = 1.44, 1.2."""
    assert lift_of_weight(0.15, 0.30) == pytest.approx((0.25, 0.5))
    assert lift_of_weight(0.36, 0.30) == pytest.approx((1.2, 1.44))
    assert lift_of_weight(0.30, 0.30) == pytest.approx((1.0, 1.0))


def test_the_power_of_a_hovering_disc_grows_with_the_thrust_to_the_one_and_a_half() -> None:
    """Momentum theory: P = T^(3/2) / sqrt(2 rho A), and at one pitch P goes with n^3; so thrust
    goes with n^2, as the least lift below hover says."""
    for turns in (0.4, 0.7, 0.9):
        thrust = lift_of_weight(turns, 1.0).least
        assert thrust**1.5 == pytest.approx(turns**3, rel=1e-12)


def test_40_m_at_1_5_metres_a_second_take_26_7_s_and_after_20_s_10_m_are_left() -> None:
    """Hand calculation: 40 / 1.5 = 26.67; 40 - 1.5 * 20 = 10; after 30 s the ground."""
    assert descent_time_s(40, 1.5) == pytest.approx(26.6667, abs=1e-4)
    assert height_left_m(40, 1.5, 20) == 10
    assert height_left_m(40, 1.5, 30) == 0


def test_a_silence_of_0_4_s_swallows_100_frames_that_come_every_4_ms() -> None:
    """Hand calculation: 0.4 / 0.004."""
    assert frames_missed(0.4, 0.004) == pytest.approx(100)
