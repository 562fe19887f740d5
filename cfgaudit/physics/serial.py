"""Serial lines: what a UART can time, how long a frame is, how many bytes messages take."""

from collections.abc import Iterable, Mapping
from math import ceil
from typing import Final, NamedTuple

from cfgaudit.physics.guards import known, not_negative, positive

# Common practice: a start bit, eight data bits, a parity bit for E or O, one or two stop bits.
BITS_PER_BYTE: dict[str, int] = {
    "8N1": 10,
    "8N2": 11,
    "8E1": 11,
    "8O1": 11,
    "8E2": 12,
    "8O2": 12,
}

# Common practice: rates that terminals, modems and receivers have offered for decades.
STANDARD_BAUDS: tuple[int, ...] = (
    1200,
    2400,
    4800,
    9600,
    19200,
    38400,
    57600,
    115200,
    230400,
    460800,
    921600,
)

# Common practice: rates that recorders of a flight log take besides.
RECORDER_BAUDS: tuple[int, ...] = (250_000, 500_000, 1_000_000, 1_500_000, 2_000_000)

# The register's width (ST RM0008).
MOST_DIVIDER_STEPS: Final = 0xFFFF


def bits_per_byte(framing: str) -> int:
    """Bits on the wire for one byte: 8N1 10, 8E1 11, 8E2 12.

    Raises ValueError for a framing that is not in BITS_PER_BYTE.
    """
    return known("framing", framing, BITS_PER_BYTE)


class Divider(NamedTuple):
    """What a UART makes of a wanted rate.

    `steps` is the register's whole number, `divider` the same as the data sheet writes it
    (sixteenths at 16 samples a bit, eighths at 8), `true_baud` the rate on the wire and `error`
    (true - wanted) / wanted.
    """

    steps: int
    divider: float
    true_baud: float
    error: float


def nearest_divider(clock_hz: float, baud: float, samples_per_bit: int = 16) -> Divider:
    """The divider that comes nearest to `baud`.

    Source: ST RM0008 and RM0090, fractional baud rate generation: baud = fclk /
    (8 * (2 - OVER8) * USARTDIV), USARTDIV in sixteenths (OVER8 = 0) or eighths (OVER8 = 1). So
    baud = fclk / steps with steps = samples * USARTDIV a whole number, 1.0 being the smallest
    USARTDIV and 16 bits the register's width. A rate out of reach gives the nearest end.
    """
    positive("clock_hz", clock_hz)
    positive("baud", baud)
    if samples_per_bit not in (8, 16):
        raise ValueError(f"samples_per_bit must be 8 or 16, not {samples_per_bit!r}")
    # Nearest divider, an exact half going down as in the manuals' tables (36 MHz, 115200: 312.5).
    wanted = ceil(clock_hz / baud - 0.5)
    steps = min(max(wanted, samples_per_bit), MOST_DIVIDER_STEPS)
    true_baud = clock_hz / steps
    return Divider(steps, steps / samples_per_bit, true_baud, true_baud / baud - 1)


def rate_error(true_baud: float, wanted_baud: float) -> float:
    """(true - wanted) / wanted, as a signed fraction."""
    return positive("true_baud", true_baud) / positive("wanted_baud", wanted_baud) - 1


def allowed_error(framing: str) -> float:
    """How far one end may be off, as a fraction: 0.020 for 8 bits, 0.015 with parity.

    Source: Microchip (Atmel) USART "Error Tolerance", recommended maximum receiver error at 16
    samples a bit. It leaves the other end as much again.
    """
    bits_per_byte(framing)
    return 0.020 if framing[1] == "N" else 0.015


def load_fraction(
    messages: Iterable[tuple[float, float]], baud: float, framing: str = "8N1"
) -> float:
    """Part of a link's time that its messages take; above 1 they do not fit.

    `messages` are (bytes, rate_hz). Hand calculation: sum(bytes * rate) * bits per byte / baud.
    """
    return bytes_per_second(messages) * bits_per_byte(framing) / positive("baud", baud)


def bytes_per_second(messages: Iterable[tuple[float, float]]) -> float:
    """Sum over (bytes, rate_hz) of bytes * rate."""
    return sum(
        not_negative("bytes", length) * not_negative("rate_hz", rate) for length, rate in messages
    )


# NMEA 0183 (secondary source): at most 82 characters with $ and CRLF. Receivers exceed it, so a
# longer sentence is a reason to warn and never one to reject.
NMEA_LONGEST_BYTES: Final = 82
NMEA_SENTENCES: Final = ("GGA", "RMC", "GSA", "GSV", "VTG", "GLL")  # of each fix

# u-blox UBX-18010854 (published): position, velocity, time message, 92 bytes of payload; two
# bytes of head, class, identifier, two of length, two of checksum.
BINARY_POSITION_BYTES: Final = 92 + 8

# MAVLink version 2 (mavlink.io, published): header and checksum around the payload, unsigned.
MAVLINK_OVERHEAD_BYTES: Final = 12
# Base payloads without extension fields (mavlink.io, published).
MAVLINK_PAYLOAD_BYTES: Final[Mapping[str, int]] = {
    "HEARTBEAT": 9,
    "ATTITUDE": 28,
    "GPS_RAW_INT": 30,
    "SYS_STATUS": 31,
}
# Rates of a modest telemetry stream (common practice).
MAVLINK_USUAL_RATES_HZ: Final[Mapping[str, float]] = {
    "HEARTBEAT": 1.0,
    "ATTITUDE": 10.0,
    "GPS_RAW_INT": 5.0,
    "SYS_STATUS": 2.0,
}

# What a bare flight log writes each time. Hand calculation, two bytes a number: time 4, gyro 6,
# sticks 8, three terms of three axes 18, motors 8. An assumption: the dump does not tell it.
LOG_RECORD_BYTES: Final = 44.0

Messages = tuple[tuple[float, float], ...]


def position_messages(protocol: str, rate_hz: float) -> Messages:
    """(bytes, rate) of a position link: `nmea` six sentences of 82 bytes, `ubx` one of 100."""
    not_negative("rate_hz", rate_hz)
    if protocol == "nmea":
        return tuple((float(NMEA_LONGEST_BYTES), rate_hz) for _ in NMEA_SENTENCES)
    if protocol == "ubx":
        return ((float(BINARY_POSITION_BYTES), rate_hz),)
    raise ValueError(f"protocol must be nmea or ubx, not {protocol!r}")


def log_fills_after_s(size_bytes: float, rate_hz: float) -> float:
    """Seconds until a flight log of bare records fills its store: size over record times rate.

    Raises ValueError for a rate that is not above zero: such a log never fills.
    """
    return not_negative("size_bytes", size_bytes) / (
        LOG_RECORD_BYTES * positive("rate_hz", rate_hz)
    )


def mavlink_messages(rates_hz: Mapping[str, float]) -> Messages:
    """(bytes, rate) of a telemetry stream; ValueError for a message without a known payload.

    Version 2 may cut trailing zero bytes of a payload, so this is the longest that each gets.
    """
    unknown = [name for name in rates_hz if name not in MAVLINK_PAYLOAD_BYTES]
    if unknown:
        raise ValueError(f"no payload size known for {', '.join(unknown)}")
    return tuple(
        (float(MAVLINK_PAYLOAD_BYTES[name] + MAVLINK_OVERHEAD_BYTES), not_negative(name, rate))
        for name, rate in rates_hz.items()
    )


class ReceiverLink(NamedTuple):
    """A serial receiver link.

    `frame_bytes` every `period_s` at `baud`, in `framing`; `inverted` tells the idle level is
    low, `two_way` that telemetry goes back on the link itself.
    """

    frame_bytes: int
    framing: str
    baud: int
    period_s: float
    inverted: bool
    two_way: bool


# De-facto links that several makers share. No standard: `sbus` is common practice, the others are
# from memory.
RECEIVER_LINKS: Final[Mapping[str, ReceiverLink]] = {
    # Head 0x0F, 16 channels of 11 bits in 22 bytes, flags, tail; sent each 7 ms or each 14 ms.
    "sbus": ReceiverLink(25, "8E2", 100_000, 0.014, True, False),
    # Two bytes of head, 14 channels of two bytes, two of checksum.
    "ibus": ReceiverLink(32, "8N1", 115_200, 0.007, False, False),
    # Three bytes of head, 12 channels of two bytes, two of checksum; longer with 16 channels.
    "sumd": ReceiverLink(29, "8N1", 115_200, 0.010, False, False),
    # Address, length, kind, 22 bytes of channels, checksum; 250 frames a second is one usual rate.
    "crsf": ReceiverLink(26, "8N1", 420_000, 0.004, False, True),
}

# One wire, a pulse train: no UART takes part.
PULSE_TRAIN_FRAME_S: Final = 0.020
PULSE_TRAIN_LONGEST_PULSE_S: Final = 0.002


def receiver_link(link: str) -> ReceiverLink | None:
    """Facts of a serial receiver link, or None for one whose frames are not fixed (or not serial).

    `ppm` is a pulse train and `mavlink` runs at whatever rate both ends agree on.
    """
    return RECEIVER_LINKS.get(link)


def receiver_frame_period_s(link: str) -> float | None:
    """Seconds between two frames of a receiver link, `ppm` included; None where not fixed."""
    if link == "ppm":
        return PULSE_TRAIN_FRAME_S
    fixed = RECEIVER_LINKS.get(link)
    return fixed.period_s if fixed else None


def pulse_train_gap_s(channels: int) -> float:
    """Seconds left for the gap that marks a frame's end, all channels at their longest.

    Common practice: eight channels of 2 ms leave 4 ms of 20 ms. Negative: they do not fit.
    """
    return PULSE_TRAIN_FRAME_S - positive("channels", channels) * PULSE_TRAIN_LONGEST_PULSE_S
