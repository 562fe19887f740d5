"""Speed-controller links: how long a command takes on the wire, and how one is packed.

Common practice throughout: the makers share these links and no standards body has published them.
"""

from typing import Final

from cfgaudit.physics.guards import between, not_negative, positive

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


def digital_frame_time_s(
    bit_rate_hz: float, reports: bool = False, turn_round_s: float = TURN_ROUND_S
) -> float:
    """Seconds of one command, and of the report that follows it on the same wire.

    16 bits out; with reports about 30 us to turn round, then 21 bits at 5/4 of the rate.
    """
    positive("bit_rate_hz", bit_rate_hz)
    out = FRAME_BITS / bit_rate_hz
    if not reports:
        return out
    back = REPORT_BITS / (REPORT_RATE_FACTOR * bit_rate_hz)
    return out + not_negative("turn_round_s", turn_round_s) + back


def longest_pulse_us(protocol: str) -> float:
    """Longest pulse of a pulse link, microseconds; ValueError for a digital or unknown one."""
    if is_digital(protocol):
        raise ValueError(f"{protocol} is digital and has no pulse length")
    return PULSE_RANGES_US[protocol][1]


def frame_time_s(protocol: str, reports: bool = False) -> float:
    """Seconds that one command of `protocol` holds the wire: a frame, or the longest pulse.

    Reports on the signal wire need a digital link; asking for them on a pulse link raises
    ValueError.
    """
    if is_digital(protocol):
        return digital_frame_time_s(DIGITAL_BIT_RATES[protocol], reports)
    if reports:
        raise ValueError(f"{protocol} is a pulse protocol and carries no reports")
    return longest_pulse_us(protocol) * 1e-6


def pulse_on_wire_us(protocol: str, stated_us: float) -> float:
    """The pulse that a stated one becomes on the wire, microseconds.

    Many dumps state every pulse on the plain pulse's scale of 1000..2000 us, whichever pulse
    link is in use, and the firmware maps it onto the link's own range. So a pulse beyond twice
    the link's own longest is taken to be on that scale; any other one is taken as it stands.
    ValueError for a digital or unknown link.
    """
    longest = longest_pulse_us(protocol)
    if not_negative("stated_us", stated_us) <= 2 * longest:
        return stated_us
    shortest, (low, high) = PULSE_RANGES_US[protocol][0], PULSE_RANGES_US["pwm"]
    return shortest + (longest - shortest) * (stated_us - low) / (high - low)


def pulse_duty(pulse_us: float, update_rate_hz: float) -> float:
    """Part of the update period that a pulse fills; at 1 or above the pulses run together."""
    return (
        not_negative("pulse_us", pulse_us) * 1e-6 * not_negative("update_rate_hz", update_rate_hz)
    )


def packed_command(throttle: int, request: int) -> int:
    """The 16 bits of a digital command.

    p = throttle * 2 + request (11 + 1 bits), then four bits of checksum,
    (p ^ p >> 4 ^ p >> 8) & 15. Raises ValueError beyond 0..2047 and 0..1.
    """
    between("throttle", throttle, 0, 2047)
    between("request", request, 0, 1)
    packet = throttle << 1 | request
    checksum = (packet ^ packet >> 4 ^ packet >> 8) & 0x0F
    return packet << 4 | checksum
