"""Area G: speeds, frequencies, tips."""

from math import pi

import pytest

from cfgaudit.physics.motors import (
    SOUND_M_PER_S,
    blade_pass_hz,
    no_load_rpm,
    tip_mach,
    tip_speed_m_per_s,
)


def test_a_1750_kv_motor_at_22_2_volts_runs_at_38850_rpm() -> None:
    """Hand calculation: 1750 * 22.2 = 38850; 3 * 38850 / 60 = 1942.5 Hz."""
    rpm = no_load_rpm(1750, 22.2)
    assert rpm == pytest.approx(38_850, abs=1e-6)
    assert blade_pass_hz(rpm, 3) == pytest.approx(1942.5, abs=1e-6)


@pytest.mark.parametrize(("blades", "rpm", "hz"), [(52, 3360, 2912), (5, 1200, 100)])
def test_blade_pass_matches_published_fans(blades: int, rpm: float, hz: float) -> None:
    """Published: worked examples of fan noise."""
    assert blade_pass_hz(rpm, blades) == pytest.approx(hz)


def test_a_five_inch_tip_passes_mach_0_7_at_38850_rpm() -> None:
    """Hand calculation: pi * 0.127 m * 647.5 /s = 258.34 m/s; / 343.2 = 0.753."""
    assert tip_speed_m_per_s(0.127, 38_850) == pytest.approx(pi * 0.127 * 647.5)
    assert tip_speed_m_per_s(0.127, 38_850) == pytest.approx(258.34, abs=0.01)
    assert tip_mach(0.127, 38_850) == pytest.approx(0.753, abs=5e-4)


def test_sound_runs_at_343_metres_a_second_at_20_degrees() -> None:
    """From memory: 343.2 m/s in dry air at 20 degrees Celsius."""
    assert pytest.approx(343.2, abs=0.1) == SOUND_M_PER_S
