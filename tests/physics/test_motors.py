import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.motors import (
    blade_pass_hz,
    motor_range_hz,
    no_load_rpm,
    range_missed,
    rotation_hz,
    rpm_of_hz,
    tip_speed_m_per_s,
)


def test_the_range_runs_from_an_empty_pack_at_idle_to_a_full_one_at_full() -> None:
    """Hand calculation: 2000 * 14 * 0.05 / 60 = 23.3 Hz; 2000 * 16.8 * 0.8 / 60 = 448 Hz."""
    low, high = motor_range_hz(2000, 14.0, 16.8, 0.05, 0.8)
    assert (low, high) == pytest.approx((23.333, 448), abs=1e-3)


@given(st.floats(0, 2000))
def test_turns_a_second_and_a_minute_undo_each_other(hz: float) -> None:
    assert rotation_hz(rpm_of_hz(hz)) == pytest.approx(hz)


@pytest.mark.parametrize(
    ("followed", "needed", "missed"),
    [
        ((100, 500), (20, 500), 1 / 6),
        ((100, 300), (20, 500), 7 / 12),
        ((0, 600), (20, 500), 0),
        ((500, 600), (20, 400), 1),
        ((100, 500), (50, 50), 1),
        ((100, 500), (100, 100), 0),
    ],
)
def test_the_part_of_a_range_that_another_leaves_out(
    followed: tuple[float, float], needed: tuple[float, float], missed: float
) -> None:
    """Hand calculation: 80 of 480; 80 and 200 of 480."""
    assert range_missed(followed, needed) == pytest.approx(missed)


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="kv_rpm_per_v"):
        no_load_rpm(0, 12)
    with pytest.raises(ValueError, match="blades"):
        blade_pass_hz(1000, 0)
    with pytest.raises(ValueError, match="diameter_m"):
        tip_speed_m_per_s(-0.1, 1000)
    with pytest.raises(ValueError, match="idle_share"):
        motor_range_hz(2000, 14, 16.8, 5)
    with pytest.raises(ValueError, match="empty_v"):
        motor_range_hz(2000, 17, 16.8, 0.05)
    with pytest.raises(ValueError, match="upwards"):
        range_missed((500, 100), (20, 500))
