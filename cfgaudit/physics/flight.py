"""What a craft does at a stick's word (the loop's rate, the turn rate that a stick asks for), and
what it does that nobody steers: the fall, the lift at a throttle, the way down, blind.
"""

from functools import lru_cache
from math import sqrt
from typing import Final, NamedTuple

from cfgaudit.physics.guards import between, finite, not_negative, positive

# Standard gravity, CGPM 1901 (from memory).
GRAVITY_M_PER_S2: Final = 9.80665


def ground_speed_m_per_s(height_m: float) -> float:
    """Speed at the ground of a fall without drag: sqrt(2 g h). Textbook; drag makes it less."""
    return sqrt(2 * GRAVITY_M_PER_S2 * not_negative("height_m", height_m))


def fall_time_s(height_m: float) -> float:
    """Time of a fall without drag: sqrt(2 h / g). Textbook."""
    return sqrt(2 * not_negative("height_m", height_m) / GRAVITY_M_PER_S2)


def fall_height_m(seconds: float) -> float:
    """Height lost in a fall without drag that begins at rest: g t^2 / 2. Textbook."""
    return GRAVITY_M_PER_S2 * not_negative("seconds", seconds) ** 2 / 2


def fall_speed_m_per_s(seconds: float) -> float:
    """Speed of a fall without drag that began at rest: g t. Textbook."""
    return GRAVITY_M_PER_S2 * not_negative("seconds", seconds)


def blind_distance_m(speed_m_per_s: float, blind_s: float) -> float:
    """Way flown while nobody steers: speed times time until the failsafe acts."""
    return not_negative("speed_m_per_s", speed_m_per_s) * not_negative("blind_s", blind_s)


class Lift(NamedTuple):
    """Thrust as a part of the craft's weight: it lies between the two. 1 carries it."""

    least: float
    most: float


def lift_of_weight(throttle: float, hover_throttle: float) -> Lift:
    """Lift at a throttle, reckoned from the one that hovers; both as parts of full throttle.

    Thrust goes with the square of the speed of turning (the propeller's thrust coefficient,
    T = C n^2; textbook, from memory). Where throttle sets that speed the lift is
    (throttle / hover)^2; where the firmware evens thrust out it is throttle / hover. What a
    firmware does lies between. Idle, drag and a sagging pack are left out.
    """
    share = not_negative("throttle", throttle) / positive("hover_throttle", hover_throttle)
    return Lift(*sorted((share, share * share)))


def descent_time_s(height_m: float, descent_m_per_s: float) -> float:
    """Time of a way down at one speed: height over speed."""
    return not_negative("height_m", height_m) / positive("descent_m_per_s", descent_m_per_s)


def height_left_m(height_m: float, descent_m_per_s: float, seconds: float) -> float:
    """Height that is left after some time of going down at one speed; 0 on the ground."""
    gone = not_negative("descent_m_per_s", descent_m_per_s) * not_negative("seconds", seconds)
    return max(0.0, not_negative("height_m", height_m) - gone)


def frames_missed(silence_s: float, period_s: float) -> float:
    """Frames of a link that a silence swallows: its length over the time between two."""
    return not_negative("silence_s", silence_s) / positive("period_s", period_s)


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


def rate_share(greatest_dps: float, full_scale_dps: float) -> float:
    """Greatest stick rate as a part of what the gyro can measure."""
    return abs(finite("greatest_dps", greatest_dps)) / positive("full_scale_dps", full_scale_dps)
