import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.flight import (
    Fall,
    curve_falls,
    loop_divisor,
    rate_share,
    stick_curve,
    stick_rate_dps,
)

expos = st.floats(0, 1)
rates = st.floats(1, 2000)


@given(rates, rates, expos)
def test_the_curve_ends_at_max_and_starts_with_the_centre_s_slope(
    centre: float, top: float, expo: float
) -> None:
    assert stick_rate_dps(1, centre, top, expo) == pytest.approx(top)
    assert stick_rate_dps(1e-9, centre, top, expo) == pytest.approx(centre * 1e-9, rel=1e-4)


@given(st.floats(-1, 1), rates, rates, expos)
def test_left_mirrors_right(x: float, centre: float, top: float, expo: float) -> None:
    left = stick_rate_dps(-x, centre, top, expo)
    assert left == pytest.approx(-stick_rate_dps(x, centre, top, expo))


@given(rates, rates, expos)
def test_a_centre_below_max_never_falls(first: float, second: float, expo: float) -> None:
    centre, top = sorted((first, second))
    assert curve_falls(stick_curve(centre, top, expo)) == ()


def test_without_expo_the_curve_bends_least() -> None:
    """Hand calculation, 200 in the middle and 600 at the end, at half stick: 200 / 2 + 400 / 4 =
    200 where nothing is said of expo, 200 / 2 + 400 / 8 = 150 with all of it."""
    assert stick_rate_dps(0.5, 200, 600) == pytest.approx(200)
    assert stick_rate_dps(0.5, 200, 600, 1) == pytest.approx(150)
    assert stick_curve(200, 600)[50] == pytest.approx(200)


def test_a_centre_far_above_max_falls_towards_the_end() -> None:
    """Hand calculation, expo 0: 900 x - 800 x^2 peaks at x = 900 / 1600 = 0.5625 with 253.1;
    on 1 % steps at 0.56 with 253.12, and ends at 100."""
    curve = stick_curve(900, 100)
    (fall,) = curve_falls(curve)
    assert (fall.start_percent, fall.end_percent) == (56, 100)
    assert fall.drop_dps == pytest.approx(153.12)
    assert max(curve) == pytest.approx(253.12)


@pytest.mark.parametrize(
    ("x", "expo", "rate"), [(0.5, 0.0, 200.0), (0.5, 1.0, 145.0), (-0.5, 0.3, -183.5)]
)
def test_the_curve_between_middle_and_end(x: float, expo: float, rate: float) -> None:
    """Hand calculation, centre 180, max 620: 90 + 440 * .5 * bend, where the bend at half stick
    is .5 without expo, .25 with all of it and .7 * .5 + .3 * .25 = .425 with three tenths."""
    assert stick_rate_dps(x, 180, 620, expo) == pytest.approx(rate)


def test_more_expo_softens_the_middle() -> None:
    assert stick_rate_dps(0.3, 100, 700, 1.0) < stick_rate_dps(0.3, 100, 700, 0.0)


def test_each_separate_fall_is_told() -> None:
    assert curve_falls((0.0, 2.0, 1.0, 3.0, 2.5, 2.0)) == (Fall(1, 2, 1.0), Fall(3, 5, 1.0))
    assert curve_falls(()) == ()


def test_the_rate_is_weighed_against_the_gyro() -> None:
    assert rate_share(-1900, 2000) == pytest.approx(0.95)


def test_round_figures_still_divide() -> None:
    assert loop_divisor(8000, 4000) == 2
    assert loop_divisor(8000, 2667) == 3
    assert loop_divisor(8000, 3000) is None
    assert loop_divisor(4000, 8000) is None


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="x must"):
        stick_rate_dps(1.1, 100, 700)
    with pytest.raises(ValueError, match="expo"):
        stick_rate_dps(0.5, 100, 700, 1.5)
    with pytest.raises(ValueError, match="max_dps"):
        stick_rate_dps(0.5, 100, float("inf"))
    with pytest.raises(ValueError, match="full_scale_dps"):
        rate_share(700, 0)
