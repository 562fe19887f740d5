"""Stick curve: the turn rate that a stick deflection asks for.

Our own convention. Stick x in -1..1, rates in deg/s, expo in 0..1:

    rate(x) = centre * x + (max - centre) * x * ((1 - expo) * |x| + expo * x^2)

`centre` is the slope at the middle (what the rate would be at full stick if the curve were
straight), `max` the rate at full stick. Expo 0 bends by a square, 1 by a cube, which is softer
near the middle. It rises throughout when 0 <= centre <= max; a centre well above max makes it
fall towards the end.
"""

from typing import NamedTuple

from cfgaudit.physics.guards import between, finite, positive


def stick_rate_dps(x: float, centre_dps: float, max_dps: float, expo: float = 0.0) -> float:
    """Rate in deg/s at stick x; odd in x. ValueError outside -1..1 or expo outside 0..1."""
    between("x", x, -1, 1)
    between("expo", expo, 0, 1)
    bend = (1 - expo) * abs(x) + expo * x * x
    extra = finite("max_dps", max_dps) - finite("centre_dps", centre_dps)
    return centre_dps * x + extra * x * bend


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
