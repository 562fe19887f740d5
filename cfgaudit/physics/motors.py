"""Motors, propellers, and what speed controllers are sent: speeds, frames, pulses."""

from math import pi, sqrt
from typing import Final

from cfgaudit.physics.guards import between, not_negative, positive

# Dry air at 20 degrees Celsius: 331.3 m/s at 0, and with the root of the absolute temperature;
# ideal gas (textbook).
SOUND_M_PER_S: Final = 331.3 * sqrt(1 + 20 / 273.15)


def no_load_rpm(kv_rpm_per_v: float, voltage_v: float) -> float:
    """Kv * V, the speed without a propeller. Definition of Kv."""
    return positive("kv_rpm_per_v", kv_rpm_per_v) * not_negative("voltage_v", voltage_v)


def rotation_hz(rpm: float) -> float:
    """Turns a second: the motors' fundamental."""
    return not_negative("rpm", rpm) / 60


def rpm_of_hz(frequency_hz: float) -> float:
    """Turns a minute of a frequency."""
    return not_negative("frequency_hz", frequency_hz) * 60


def blade_pass_hz(rpm: float, blades: int) -> float:
    """Blades * rpm / 60. Published examples: 52 at 3360 rpm, 2912 Hz; 5 at 1200 rpm, 100 Hz."""
    return positive("blades", blades) * rotation_hz(rpm)


def tip_speed_m_per_s(diameter_m: float, rpm: float) -> float:
    """pi * D * rpm / 60. Geometry."""
    return pi * positive("diameter_m", diameter_m) * rotation_hz(rpm)


def tip_mach(diameter_m: float, rpm: float) -> float:
    """Tip speed over the speed of sound at 20 degrees Celsius."""
    return tip_speed_m_per_s(diameter_m, rpm) / SOUND_M_PER_S


def motor_range_hz(
    kv_rpm_per_v: float,
    empty_v: float,
    full_v: float,
    idle_share: float,
    loaded_share: float = 1.0,
) -> tuple[float, float]:
    """(idle, full) fundamental: idle share of an empty pack's speed, full throttle of a full one's.

    `idle_share` and `loaded_share` are parts of 1. The propeller holds a motor below Kv * V,
    commonly to 0.7..0.85 of it at full throttle (common practice); 1 gives the upper bound.
    """
    between("idle_share", idle_share, 0, 1)
    between("loaded_share", loaded_share, 0.05, 1)
    if not positive("empty_v", empty_v) <= positive("full_v", full_v):
        raise ValueError(f"empty_v {empty_v!r} is above full_v {full_v!r}")
    lowest = rotation_hz(no_load_rpm(kv_rpm_per_v, empty_v) * idle_share)
    return lowest, rotation_hz(no_load_rpm(kv_rpm_per_v, full_v) * loaded_share)


def range_missed(followed: tuple[float, float], needed: tuple[float, float]) -> float:
    """Part of the `needed` range, (low, high), that `followed` leaves out: 0 to 1.

    Geometry. A needed range of one frequency is left out whole or not at all.
    """
    (low, high), (first, last) = followed, needed
    if not low <= high or not first <= last:
        raise ValueError(f"a range goes upwards, not {followed!r} and {needed!r}")
    if first == last:
        return 0.0 if low <= first <= high else 1.0
    return 1 - max(min(high, last) - max(low, first), 0.0) / (last - first)


# Bits a second of the digital links.
DIGITAL_BIT_RATES: dict[str, int] = {
    "dshot150": 150_000,
    "dshot300": 300_000,
    "dshot600": 600_000,
    "dshot1200": 1_200_000,
}

# Shortest and longest pulse, microseconds, as the names of the links promise.
PULSE_RANGES_US: dict[str, tuple[float, float]] = {
    "pwm": (1000.0, 2000.0),
    "oneshot125": (125.0, 250.0),
    "oneshot42": (42.0, 84.0),
    "multishot": (5.0, 25.0),
}

FRAME_BITS: Final = 16
REPORT_BITS: Final = 21
REPORT_RATE_FACTOR: Final = 1.25
TURN_ROUND_S: Final = 30e-6


def is_digital(protocol: str) -> bool:
    """True for a digital link, False for a pulse link; ValueError for an unknown word."""
    if protocol in DIGITAL_BIT_RATES:
        return True
    if protocol in PULSE_RANGES_US:
        return False
    raise ValueError(f"unknown speed-controller protocol {protocol!r}")


def digital_frame_time_s(bit_rate_hz: float, reports: bool = False) -> float:
    """Seconds of one command, and of the report that follows it on the same wire.

    16 bits out; with reports about 30 us to turn round, then 21 bits at 5/4 of the rate.
    """
    positive("bit_rate_hz", bit_rate_hz)
    out = FRAME_BITS / bit_rate_hz
    if not reports:
        return out
    back = REPORT_BITS / (REPORT_RATE_FACTOR * bit_rate_hz)
    return out + TURN_ROUND_S + back


def longest_pulse_us(protocol: str) -> float:
    """Longest pulse of a pulse link, microseconds; ValueError for a digital or unknown one."""
    if is_digital(protocol):
        raise ValueError(f"{protocol} is digital and has no pulse length")
    return PULSE_RANGES_US[protocol][1]


def pulse_on_wire_us(protocol: str, stated_us: float) -> float:
    """The pulse that a stated one becomes on the wire, microseconds.

    Many dumps state every pulse on the plain pulse's scale of 1000..2000 us, whichever pulse
    link is in use, and the firmware maps it onto the link's own range. So a pulse beyond twice
    the link's own longest is taken to be on that scale; any other one is taken as it stands, and
    so is one that would be none there, being far below the plain pulse's shortest.
    ValueError for a digital or unknown link.
    """
    longest = longest_pulse_us(protocol)
    if not_negative("stated_us", stated_us) <= 2 * longest:
        return stated_us
    shortest, (low, high) = PULSE_RANGES_US[protocol][0], PULSE_RANGES_US["pwm"]
    mapped = shortest + (longest - shortest) * (stated_us - low) / (high - low)
    return mapped if mapped > 0 else stated_us


def pulse_duty(pulse_us: float, update_rate_hz: float) -> float:
    """Part of the update period that a pulse fills; at 1 or above the pulses run together."""
    return (
        not_negative("pulse_us", pulse_us) * 1e-6 * not_negative("update_rate_hz", update_rate_hz)
    )
