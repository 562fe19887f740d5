"""Digital filters: response and delay of the stages between gyro and motors.

Frequencies in hertz, delays in seconds. A stage is a `BiquadSection`; a chain is a sequence of
stages, each at its own rate. Delay here is *group* delay, -d(phase)/d(2 pi f): how late a movement
made of frequencies near f comes out. Phase delay, -phase / (2 pi f), is given beside it.

Sources: one-pole forms, common practice; biquads, W3C Note "Audio EQ Cookbook" (2021-06-08).
"""

from cmath import exp, phase
from collections.abc import Iterable, Sequence
from math import acos, cos, log10, sin, sqrt, tau
from typing import Final, NamedTuple

from cfgaudit.physics.guards import finite, positive

BUTTERWORTH_Q: Final = 1 / sqrt(2)
KINDS: Final = ("pt1", "pt2", "pt3", "biquad", "notch")


class BiquadSection(NamedTuple):
    """(b0 + b1/z + b2/z^2) / (1 + a1/z + a2/z^2) at `rate_hz`, `repeat` times in a row."""

    b: tuple[float, float, float]
    a: tuple[float, float]
    rate_hz: float
    repeat: int = 1


def above_nyquist(cutoff_hz: float, rate_hz: float) -> bool:
    """True when a cutoff is at or above half the rate it runs at, where it means nothing."""
    return finite("cutoff_hz", cutoff_hz) >= positive("rate_hz", rate_hz) / 2


def pt_cutoff_factor(order: int) -> float:
    """Factor on the cutoff of each of `order` equal one-pole stages, so that all give -3 dB there.

    Hand calculation: 1 / sqrt(2^(1/n) - 1); 1 for n = 1, 1.5538 for 2, 1.9615 for 3.
    """
    return 1 / sqrt(2 ** (1 / positive("order", order)) - 1)


def one_pole(cutoff_hz: float, rate_hz: float, order: int = 1) -> BiquadSection:
    """`order` one-pole low-passes y += k (x - y) in a row, together -3 dB near `cutoff_hz`.

    k = dt / (RC + dt), RC = 1 / (2 pi f).
    """
    _in_band(cutoff_hz, rate_hz)
    if order not in (1, 2, 3):
        raise ValueError(f"order must be 1, 2 or 3, not {order!r}")
    turn = tau * cutoff_hz * pt_cutoff_factor(order) / rate_hz
    k = turn / (1 + turn)
    return BiquadSection((k, 0.0, 0.0), (k - 1, 0.0), rate_hz, order)


def low_pass(cutoff_hz: float, rate_hz: float, q: float = BUTTERWORTH_Q) -> BiquadSection:
    """Second-order low-pass; q 1/sqrt(2) is Butterworth's. Source: W3C Audio EQ Cookbook, LPF."""
    cosine, alpha = _cookbook(cutoff_hz, rate_hz, q)
    edge = (1 - cosine) / 2
    return _normalised((edge, 1 - cosine, edge), (1 + alpha, -2 * cosine, 1 - alpha), rate_hz)


def notch(centre_hz: float, rate_hz: float, q: float) -> BiquadSection:
    """Notch at `centre_hz`, centre / q wide. Source: W3C Audio EQ Cookbook, notch."""
    cosine, alpha = _cookbook(centre_hz, rate_hz, q)
    return _normalised((1.0, -2 * cosine, 1.0), (1 + alpha, -2 * cosine, 1 - alpha), rate_hz)


def zero_hz(part: BiquadSection) -> float | None:
    """The frequency that a stage lets nothing through of, below half its rate; None without one.

    A zero on the unit circle at e^(j w): b0 = b2 and b1 = -2 b0 cos w. A low-pass has its zeros at
    half the rate, so none below it.

    >>> round(zero_hz(notch(200.0, 8000.0, 3.5)), 6), zero_hz(low_pass(200.0, 8000.0))
    (200.0, None)
    """
    b0, b1, b2 = part.b
    if not b0 or abs(b0 - b2) > 1e-12 or abs(b1) >= 2 * abs(b0):
        return None
    return acos(-b1 / (2 * b0)) * part.rate_hz / tau


def stage(kind: str, cutoff_hz: float, rate_hz: float, q: float | None = None) -> BiquadSection:
    """A stage by its word: pt1, pt2, pt3, biquad (q 1/sqrt(2) if none), notch (needs q).

    Raises ValueError for another word, a cutoff of 0 or at half the rate or above, a bad q.
    """
    if kind in ("pt1", "pt2", "pt3"):
        return one_pole(cutoff_hz, rate_hz, int(kind[2]))
    if kind == "biquad":
        return low_pass(cutoff_hz, rate_hz, BUTTERWORTH_Q if q is None else q)
    if kind == "notch":
        if q is None:
            raise ValueError("a notch needs its q")
        return notch(cutoff_hz, rate_hz, q)
    raise ValueError(f"filter kind must be one of {', '.join(KINDS)}, not {kind!r}")


def _in_band(cutoff_hz: float, rate_hz: float) -> None:
    positive("cutoff_hz", cutoff_hz)
    if above_nyquist(cutoff_hz, rate_hz):
        raise ValueError(f"cutoff_hz {cutoff_hz:g} is not below half of rate_hz {rate_hz:g}")


def _cookbook(frequency_hz: float, rate_hz: float, q: float) -> tuple[float, float]:
    """cos(w0) and alpha = sin(w0) / (2 Q) of the cookbook."""
    _in_band(frequency_hz, rate_hz)
    turn = tau * frequency_hz / rate_hz
    return cos(turn), sin(turn) / (2 * positive("q", q))


def _normalised(
    b: tuple[float, float, float], a: tuple[float, float, float], rate_hz: float
) -> BiquadSection:
    b0, b1, b2 = b
    a0, a1, a2 = a
    return BiquadSection((b0 / a0, b1 / a0, b2 / a0), (a1 / a0, a2 / a0), rate_hz)


def response(part: BiquadSection, frequency_hz: float) -> complex:
    """Complex response at a frequency below half the stage's rate: H(e^(j 2 pi f / rate))."""
    if not 0 <= finite("frequency_hz", frequency_hz) <= part.rate_hz / 2:
        raise ValueError(f"frequency_hz {frequency_hz:g} is beyond half of {part.rate_hz:g}")
    z = exp(-1j * tau * frequency_hz / part.rate_hz)
    above = part.b[0] + z * (part.b[1] + z * part.b[2])
    below = 1 + z * (part.a[0] + z * part.a[1])
    if not (frequency_hz and below):  # every stage passes 0 Hz; of low cutoffs rounding says else
        return 1 + 0j
    return (above / below) ** part.repeat


def chain_response(parts: Iterable[BiquadSection], frequency_hz: float) -> complex:
    """Response of stages in series: the product of theirs; 1 for none."""
    whole = 1 + 0j
    for part in parts:
        whole *= response(part, frequency_hz)
    return whole


def magnitude_db(gain: complex) -> float:
    """20 log10 |gain|; minus infinity for 0 (a notch at its centre)."""
    size = abs(gain)
    return 20 * log10(size) if size else float("-inf")


def phase_delay_s(part: BiquadSection, frequency_hz: float) -> float:
    """-phase / (2 pi f) of one stage, phase taken in -pi..pi a single pass of the stage.

    Single passes of these stages stay within half a turn; repeats add up, so nothing wraps.
    """
    positive("frequency_hz", frequency_hz)
    once = response(BiquadSection(part.b, part.a, part.rate_hz), frequency_hz)
    return -phase(once) * part.repeat / (tau * frequency_hz)


def group_delay_s(part: BiquadSection, frequency_hz: float) -> float:
    """-d(phase) / d(2 pi f) of one stage, in closed form.

    Hand calculation: for a polynomial P(z) = sum c_k z^k with z = e^(-jw), the delay in samples
    is Re(sum k c_k z^k / P); the stage's is the numerator's less the denominator's.
    """
    if not 0 <= finite("frequency_hz", frequency_hz) <= part.rate_hz / 2:
        raise ValueError(f"frequency_hz {frequency_hz:g} is beyond half of {part.rate_hz:g}")
    z = exp(-1j * tau * frequency_hz / part.rate_hz)
    # A symmetric numerator has linear phase: one sample, also where the response is zero.
    above = 1.0 if part.b[0] == part.b[2] else _delay_samples(part.b, z)
    samples = above - _delay_samples((1.0, *part.a), z)
    return samples * part.repeat / part.rate_hz


def _delay_samples(coefficients: Sequence[float], z: complex) -> float:
    value = sum(c * z**k for k, c in enumerate(coefficients))
    return (sum(k * c * z**k for k, c in enumerate(coefficients)) / value).real
