"""What happens after the link is gone: the fall, and the way flown blind."""

from math import sqrt
from typing import Final

from cfgaudit.physics.guards import not_negative, positive

# Standard gravity, CGPM 1901 (from memory).
GRAVITY_M_PER_S2: Final = 9.80665


def ground_speed_m_per_s(height_m: float) -> float:
    """Speed at the ground of a fall without drag: sqrt(2 g h). Textbook; drag makes it less."""
    return sqrt(2 * GRAVITY_M_PER_S2 * not_negative("height_m", height_m))


def fall_time_s(height_m: float) -> float:
    """Time of a fall without drag: sqrt(2 h / g). Textbook."""
    return sqrt(2 * not_negative("height_m", height_m) / GRAVITY_M_PER_S2)


def impact_energy_j(mass_kg: float, height_m: float) -> float:
    """Energy at the ground of a fall without drag: m g h. Textbook."""
    return positive("mass_kg", mass_kg) * GRAVITY_M_PER_S2 * not_negative("height_m", height_m)


def blind_distance_m(speed_m_per_s: float, blind_s: float) -> float:
    """Way flown while nobody steers: speed times time until the failsafe acts."""
    return not_negative("speed_m_per_s", speed_m_per_s) * not_negative("blind_s", blind_s)
