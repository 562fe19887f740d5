"""Gyro scales and sample rates, and stick curves: the turn rate that a stick asks for."""

from functools import lru_cache
from typing import Final, NamedTuple

from cfgaudit.physics.guards import between, finite, not_negative, positive

FULL_SCALES_DPS: Final = (250.0, 500.0, 1000.0, 2000.0)
CODES_PER_SIDE: Final = 32768


def codes_per_dps(full_scale_dps: float) -> float:
    """Codes a degree per second of a 16-bit gyro: 32768 / full scale; 16.4 at 2000 deg/s."""
    return CODES_PER_SIDE / positive("full_scale_dps", full_scale_dps)


def sample_rate_hz(base_rate_hz: float, divider: int) -> float:
    """base / (1 + divider); the base is 8 kHz, or 1 kHz with the gyro's own filter on."""
    return positive("base_rate_hz", base_rate_hz) / (1 + not_negative("divider", divider))


def loop_divisor(sample_rate_hz: float, loop_rate_hz: float) -> int | None:
    """Samples to a loop turn when that is a whole number, else None.

    Rates given in round figures count as whole within 0.1 %: 8000 and 2667 Hz make 3.
    """
    ratio = positive("sample_rate_hz", sample_rate_hz) / positive("loop_rate_hz", loop_rate_hz)
    whole = round(ratio)
    return whole if whole >= 1 and abs(ratio - whole) <= 1e-3 * whole else None


def stick_rate_dps(x: float, centre_dps: float, max_dps: float, expo: float = 0.0) -> float:
    """Rate in deg/s at stick x; odd in x. ValueError outside -1..1 or expo outside 0..1."""
    between("x", x, -1, 1)
    between("expo", expo, 0, 1)
    bend = (1 - expo) * abs(x) + expo * x * x
    extra = finite("max_dps", max_dps) - finite("centre_dps", centre_dps)
    return centre_dps * x + extra * x * bend


@lru_cache(maxsize=256)  # the craft of a club have their rates in common
def stick_curve(centre_dps: float, max_dps: float, expo: float = 0.0) -> tuple[float, ...]:
    """Rates at 0, 1, 2 ... 100 % of the stick's way from the middle to one end (101 values)."""
    return tuple(stick_rate_dps(n / 100, centre_dps, max_dps, expo) for n in range(101))


class Fall(NamedTuple):
    """The curve falls from `start_percent` to `end_percent` of the stick by `drop_dps`."""

    start_percent: int
    end_percent: int
    drop_dps: float


def curve_falls(curve: tuple[float, ...]) -> tuple[Fall, ...]:
    """Stretches in which a curve of 1 % steps falls, in order; empty when it never does.

    Steps smaller than 1e-9 of the greatest value are rounding.
    """
    slack = 1e-9 * max((abs(v) for v in curve), default=0.0)
    falls: list[Fall] = []
    start: int | None = None
    for n in range(1, len(curve) + 1):
        falling = n < len(curve) and curve[n] < curve[n - 1] - slack
        if falling and start is None:
            start = n - 1
        elif not falling and start is not None:
            falls.append(Fall(start, n - 1, curve[start] - curve[n - 1]))
            start = None
    return tuple(falls)


def greatest_rate_dps(centre_dps: float, max_dps: float, expo: float = 0.0) -> float:
    """Greatest rate, of either sign, anywhere on the curve, deg/s (1 % steps)."""
    return max(abs(v) for v in stick_curve(centre_dps, max_dps, expo))


def rate_share(greatest_dps: float, full_scale_dps: float) -> float:
    """Greatest stick rate as a part of what the gyro can measure."""
    return abs(finite("greatest_dps", greatest_dps)) / positive("full_scale_dps", full_scale_dps)
