from math import inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.filters import (
    KINDS,
    BiquadSection,
    above_nyquist,
    chain_response,
    group_delay_s,
    low_pass,
    magnitude_db,
    notch,
    one_pole,
    phase_delay_s,
    pt_cutoff_factor,
    response,
    stage,
)

RATE_HZ = 8000.0
cutoffs = st.floats(20, 1500)


def any_stage(kind: str, cutoff_hz: float) -> BiquadSection:
    return stage(kind, cutoff_hz, RATE_HZ, 2.0 if kind == "notch" else None)


@given(st.sampled_from(KINDS), cutoffs)
def test_every_stage_passes_a_steady_value(kind: str, cutoff_hz: float) -> None:
    assert response(any_stage(kind, cutoff_hz), 0) == pytest.approx(1.0)


@given(st.sampled_from(["pt1", "pt2", "pt3", "biquad"]), cutoffs, st.floats(0, 3900))
def test_low_passes_damp_more_the_higher_the_frequency(
    kind: str, cutoff_hz: float, at_hz: float
) -> None:
    part = any_stage(kind, cutoff_hz)
    assert abs(response(part, at_hz)) >= abs(response(part, at_hz + 100)) - 1e-12


@given(st.sampled_from(KINDS), cutoffs)
def test_the_delay_is_the_slope_of_the_phase(kind: str, cutoff_hz: float) -> None:
    """Hand calculation: a central difference over 2 mHz at 20 Hz, phase = -delay * 2 pi f."""
    part, at_hz, step = any_stage(kind, cutoff_hz * 1.05 + 5), 20.0, 1e-3
    above = phase_delay_s(part, at_hz + step) * (at_hz + step)
    below = phase_delay_s(part, at_hz - step) * (at_hz - step)
    assert group_delay_s(part, at_hz) == pytest.approx((above - below) / (2 * step), rel=1e-4)


@given(st.sampled_from(["pt1", "pt2", "pt3", "biquad"]), st.floats(20, 700))
def test_a_higher_cutoff_delays_less(kind: str, cutoff_hz: float) -> None:
    slow, fast = any_stage(kind, cutoff_hz), any_stage(kind, cutoff_hz * 2)
    assert group_delay_s(fast, 0) < group_delay_s(slow, 0)


@pytest.mark.parametrize("order", [1, 2, 3])
def test_stages_in_a_row_are_3_db_down_near_their_common_cutoff(order: int) -> None:
    gain = response(one_pole(50, 64_000, order), 50)
    assert magnitude_db(gain) == pytest.approx(-3.01, abs=0.1)


def test_a_notch_lets_nothing_through_at_its_centre_and_still_has_a_delay() -> None:
    part = notch(2000, RATE_HZ, 3.0)
    assert abs(response(part, 2000)) < 1e-12
    assert group_delay_s(part, 2000) > 0


def test_a_butterworth_low_pass_is_3_db_down_at_its_cutoff() -> None:
    assert abs(response(low_pass(300, RATE_HZ), 300)) == pytest.approx(1 / sqrt(2), rel=1e-9)


def test_an_empty_chain_changes_nothing() -> None:
    assert chain_response([], 50) == 1


def test_a_chain_may_run_at_several_rates() -> None:
    """Hand calculation: |H|^2 = k^2 / (1 + c^2 - 2 c cos w), c = 1 - k, of y += k (x - y). Both
    stages have k = u / (1 + u) = .1357552, u = 2 pi 200 / 8000 = .1570796; w is 2.25 deg for the
    first and 4.5 deg for the second: .9325677 and .7757222, together .7234135, root .8505372."""
    chain = [one_pole(200, 8000), one_pole(100, 4000)]
    assert abs(chain_response(chain, 50)) == pytest.approx(0.8505372, abs=1e-7)


def test_the_delay_of_a_one_pole_at_rest_is_its_time_constant() -> None:
    """Hand calculation: RC form, delay (1 - k) / k samples = RC / dt samples, exactly RC; at
    100 Hz that is 1 / 628.3185 = 1.591549 ms."""
    assert group_delay_s(one_pole(100, RATE_HZ), 0) * 1000 == pytest.approx(1.591549, abs=1e-6)


@pytest.mark.parametrize(("at_hz", "lags"), [(100.0, True), (150.0, True), (250.0, False)])
def test_a_notch_lags_below_its_centre_and_leads_above(at_hz: float, lags: bool) -> None:
    """Textbook: the phase of a notch jumps by half a turn at its centre."""
    assert (phase_delay_s(notch(200, RATE_HZ, 3.5), at_hz) > 0) is lags


def test_a_cutoff_at_half_the_rate_is_above_nyquist() -> None:
    assert above_nyquist(4000, 8000)
    assert not above_nyquist(3999.9, 8000)
    for kind in KINDS:
        with pytest.raises(ValueError, match="half of rate_hz"):
            any_stage(kind, 4000)


def test_nothing_at_all_is_minus_infinity_decibels() -> None:
    assert magnitude_db(0) == -inf


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="q"):
        stage("notch", 200, RATE_HZ)
    with pytest.raises(ValueError, match="sieve"):
        stage("sieve", 200, RATE_HZ)
    with pytest.raises(ValueError, match="cutoff_hz"):
        stage("pt1", 0, RATE_HZ)
    with pytest.raises(ValueError, match="order"):
        one_pole(100, RATE_HZ, 4)
    with pytest.raises(ValueError, match="frequency_hz"):
        response(one_pole(100, RATE_HZ), 5000)
    with pytest.raises(ValueError, match="frequency_hz"):
        group_delay_s(one_pole(100, RATE_HZ), -1)
    with pytest.raises(ValueError, match="order"):
        pt_cutoff_factor(0)
