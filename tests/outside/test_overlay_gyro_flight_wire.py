"""Areas J, K, N, and the fall: short facts, one test each."""

import pytest

from cfgaudit.physics.flight import (
    FULL_SCALES_DPS,
    GRAVITY_M_PER_S2,
    blind_distance_m,
    codes_per_dps,
    descent_time_s,
    fall_height_m,
    fall_speed_m_per_s,
    fall_time_s,
    frames_missed,
    ground_speed_m_per_s,
    height_left_m,
    lift_of_weight,
    sample_rate_hz,
)
from cfgaudit.physics.power import FOOT_M, awg_diameter_mm, awg_ohm_per_m, bend_radius_mm
from cfgaudit.physics.video import grid


def test_the_overlay_grid_is_30_by_13_or_16() -> None:
    """Published: Maxim MAX7456 data sheet."""
    assert grid("ntsc") == (30, 13)
    assert grid("pal") == (30, 16)


@pytest.mark.parametrize(
    ("full_scale", "codes"), [(250, 131), (500, 65.5), (1000, 32.8), (2000, 16.4)]
)
def test_gyro_scales_are_the_published_ones(full_scale: float, codes: float) -> None:
    """Published: InvenSense RM-MPU-6000A rev 4.2, to three figures."""
    assert full_scale in FULL_SCALES_DPS
    assert codes_per_dps(full_scale) == pytest.approx(codes, rel=2e-3)


def test_the_gyro_s_sample_rate_divides_8_khz_or_1_khz() -> None:
    """Published: InvenSense RM-MPU-6000A rev 4.2: output rate / (1 + divider)."""
    assert sample_rate_hz(8000, 0) == 8000
    assert sample_rate_hz(8000, 7) == 1000
    assert sample_rate_hz(1000, 4) == 200


@pytest.mark.parametrize(
    ("gauge", "ohm_per_1000_ft"), [(10, 0.9989), (20, 10.15), (24, 25.67), (30, 103.2)]
)
def test_copper_wire_has_the_resistance_of_the_table(gauge: int, ohm_per_1000_ft: float) -> None:
    """Published: copper wire table, four figures at 20 degrees Celsius."""
    assert awg_ohm_per_m(gauge) * 1000 * FOOT_M == pytest.approx(ohm_per_1000_ft, rel=1e-3)


def test_awg_36_is_five_mils_and_awg_0000_is_460() -> None:
    """From memory: ASTM B258, the two ends that define the series."""
    assert awg_diameter_mm(36) == pytest.approx(0.005 * 25.4, rel=1e-12)
    assert awg_diameter_mm(-3) == pytest.approx(0.460 * 25.4, rel=1e-12)


def test_thin_coaxial_cable_bends_to_6_or_11_mm() -> None:
    """Common practice: 5 to 10 times 1.13 mm, 5.65 and 11.3."""
    assert bend_radius_mm(1.13) == pytest.approx((5.65, 11.3))


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
