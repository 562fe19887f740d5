"""Area F: filters at 8 kHz, looked at at 50 Hz.

Delays here are group delays: that is what the reference library's figures turn out to be.
"""

from math import atan, sin, sqrt, tau

import numpy as np
import pytest
from scipy import signal

from cfgaudit.physics.filters import (
    BiquadSection,
    group_delay_s,
    low_pass,
    notch,
    one_pole,
    pt_cutoff_factor,
    response,
)

RATE_HZ, AT_HZ = 8000.0, 50.0


def reference(part: BiquadSection, at_hz: float) -> tuple[complex, float]:
    """Response and group delay (s) by scipy.signal, straight from the coefficients."""
    b, a = np.array(part.b), np.array((1.0, *part.a))
    once = complex(signal.freqz(b, a, worN=[at_hz], fs=part.rate_hz)[1][0])
    samples = float(signal.group_delay((b, a), w=[at_hz], fs=part.rate_hz)[1][0])
    return once**part.repeat, samples * part.repeat / part.rate_hz


@pytest.mark.parametrize(
    ("part", "magnitude", "delay_us"),
    [
        (one_pole(150, RATE_HZ), 0.943150683, 936.92),
        (low_pass(150, RATE_HZ), 0.993908629, 1645.39),
        (notch(200, RATE_HZ, 3.5), 0.997122643, 272.62),
    ],
    ids=["pt1", "low-pass", "notch"],
)
def test_stages_have_the_magnitude_and_delay_computed_elsewhere(
    part: BiquadSection, magnitude: float, delay_us: float
) -> None:
    """Reference library: scipy 1.17.1."""
    assert abs(response(part, AT_HZ)) == pytest.approx(magnitude, abs=1e-9)
    assert group_delay_s(part, AT_HZ) * 1e6 == pytest.approx(delay_us, abs=0.01)


@pytest.mark.parametrize("at_hz", [1.0, 20.0, 50.0, 190.0, 1000.0, 3900.0])
@pytest.mark.parametrize(
    "part",
    [
        one_pole(150, RATE_HZ),
        one_pole(90, RATE_HZ, 2),
        one_pole(90, RATE_HZ, 3),
        low_pass(150, RATE_HZ),
        low_pass(300, RATE_HZ, 1.3),
        notch(200, RATE_HZ, 3.5),
    ],
)
def test_responses_and_delays_follow_the_reference_library(
    part: BiquadSection, at_hz: float
) -> None:
    """Reference library: scipy.signal freqz and group_delay."""
    expected, delay = reference(part, at_hz)
    assert response(part, at_hz) == pytest.approx(expected, rel=1e-9)
    assert group_delay_s(part, at_hz) == pytest.approx(delay, rel=1e-6, abs=1e-12)


def test_the_butterworth_low_pass_is_the_library_s() -> None:
    """Reference library: scipy.signal.butter(2), bilinear with the same warping."""
    b, a = signal.butter(2, 150, fs=RATE_HZ)
    part = low_pass(150, RATE_HZ, 1 / sqrt(2))
    assert np.allclose(part.b, b, atol=1e-12)
    assert np.allclose((1.0, *part.a), a, atol=1e-12)


def test_the_cookbook_notch_is_the_library_s_at_another_q() -> None:
    """Reference library: iirnotch widens by tan; Q' = w0 / (2 atan(alpha)) makes them one."""
    turn = tau * 200 / RATE_HZ
    alpha = sin(turn) / (2 * 3.5)
    b, a = signal.iirnotch(200, turn / (2 * atan(alpha)), fs=RATE_HZ)
    part = notch(200, RATE_HZ, 3.5)
    assert np.allclose(part.b, b, atol=1e-12)
    assert np.allclose((1.0, *part.a), a, atol=1e-12)


def test_cookbook_coefficients_are_those_of_the_note() -> None:
    """Published: W3C Audio EQ Cookbook, LPF: b0 = b2 = (1 - cos w0) / 2, a0 = 1 + alpha,
    a1 = -2 cos w0, a2 = 1 - alpha; written out here for w0 = pi / 2, Q = 1: alpha = 1/2."""
    part = low_pass(2000, RATE_HZ, 1.0)
    assert part.b == pytest.approx((1 / 3, 2 / 3, 1 / 3), abs=1e-12)
    assert part.a == pytest.approx((0.0, 1 / 3), abs=1e-12)


@pytest.mark.parametrize(("order", "factor"), [(1, 1.0), (2, 1.553773974), (3, 1.961459177)])
def test_stages_in_a_row_need_a_higher_cutoff_each(order: int, factor: float) -> None:
    """Hand calculation: 1 / sqrt(2^(1/n) - 1), from |1 / (1 + j/F)|^n = 1 / sqrt 2."""
    assert pt_cutoff_factor(order) == pytest.approx(factor, abs=1e-9)


def test_four_stages_in_series_delay_by_the_sum_of_their_delays() -> None:
    """Reference library: scipy 1.17.1, group delays added: 3837.88 us at 50 Hz."""
    chain = [
        one_pole(250, RATE_HZ),
        one_pole(500, RATE_HZ),
        low_pass(100, RATE_HZ),
        notch(200, RATE_HZ, 3.5),
    ]
    delay_s = sum(group_delay_s(part, AT_HZ) for part in chain)
    assert delay_s * 1e6 == pytest.approx(3837.88, abs=0.01)
