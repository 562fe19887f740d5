"""Wire gauges."""

from math import pi
from typing import Final

from cfgaudit.physics.guards import finite, positive

MM_PER_INCH: Final = 25.4
FOOT_M: Final = 0.3048
# Annealed copper at 20 degrees Celsius, IACS (from memory): 1.7241e-8 ohm metre.
COPPER_OHM_M: Final = 1.7241e-8
# Bend radius of thin coaxial cable over its outer diameter (common practice).
BEND_FACTORS: Final = (5.0, 10.0)


def awg_diameter_mm(gauge: float) -> float:
    """0.005 inch * 92^((36 - n) / 39), in millimetres. Definition of AWG (ASTM B258,
    from memory)."""
    return float(0.005 * 92 ** ((36 - finite("gauge", gauge)) / 39)) * MM_PER_INCH


def awg_area_mm2(gauge: float) -> float:
    """Cross-section of a solid wire of that gauge."""
    return pi * awg_diameter_mm(gauge) ** 2 / 4


def awg_ohm_per_m(gauge: float) -> float:
    """Resistance of a metre of copper at 20 degrees Celsius: resistivity over cross-section."""
    return COPPER_OHM_M / (awg_area_mm2(gauge) * 1e-6)


def bend_radius_mm(outer_diameter_mm: float) -> tuple[float, float]:
    """(tightest, comfortable) bend radius of a thin coaxial cable: 5 and 10 diameters."""
    positive("outer_diameter_mm", outer_diameter_mm)
    return BEND_FACTORS[0] * outer_diameter_mm, BEND_FACTORS[1] * outer_diameter_mm
