"""Gyro: scale, sample rate and the ratio of sampling to loop.

Source: InvenSense RM-MPU-6000A rev 4.2 (published).
"""

from typing import Final

from cfgaudit.physics.guards import not_negative, positive

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
