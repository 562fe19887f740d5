"""What a craft does that nobody steers: the fall, the lift at a throttle, the way down, blind."""

from math import sqrt
from typing import Final, NamedTuple

from cfgaudit.physics.guards import not_negative, positive

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


def impact_energy_j(mass_kg: float, height_m: float) -> float:
    """Energy at the ground of a fall without drag: m g h. Textbook."""
    return positive("mass_kg", mass_kg) * GRAVITY_M_PER_S2 * not_negative("height_m", height_m)


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
