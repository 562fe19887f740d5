"""Serial lines: what a UART can time, how long a frame is, how many bytes messages take."""

from collections.abc import Iterable, Mapping, Sequence
from math import ceil
from typing import Final, NamedTuple

from cfgaudit.physics.guards import not_negative, positive

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
    try:
        return BITS_PER_BYTE[framing]
    except KeyError:
        known = ", ".join(BITS_PER_BYTE)
        raise ValueError(f"framing must be one of {known}, not {framing!r}") from None


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


def sampling_limits(data_and_parity_bits: int, samples_per_bit: int = 16) -> tuple[float, float]:
    """(slowest, fastest) sender that a sampling receiver still reads, as parts of its own rate.

    Source: Microchip (Atmel) USART "Error Tolerance": Rslow = S(D+1) / (S - 1 + D*S + SF),
    Rfast = S(D+2) / ((D+1)S + SM); S samples a bit, D data and parity bits; SF and SM the first
    and the middle sample of the majority vote: 8 and 9 at 16 samples, 4 and 5 at 8.
    """
    positive("data_and_parity_bits", data_and_parity_bits)
    if samples_per_bit not in (8, 16):
        raise ValueError(f"samples_per_bit must be 8 or 16, not {samples_per_bit!r}")
    d, s = data_and_parity_bits, samples_per_bit
    first, middle = s // 2, s // 2 + 1
    slow = s * (d + 1) / (s - 1 + d * s + first)
    fast = s * (d + 2) / ((d + 1) * s + middle)
    return slow, fast


def allowed_error(framing: str) -> float:
    """How far one end may be off, as a fraction: 0.020 for 8 bits, 0.015 with parity.

    Source: Microchip (Atmel) USART "Error Tolerance", recommended maximum receiver error at 16
    samples a bit. It leaves the other end as much again.
    """
    bits_per_byte(framing)
    return 0.020 if framing[1] == "N" else 0.015


def ideal_allowed_error(framing: str) -> float:
    """Error at which even an ideal receiver reads the last bit wrongly, both ends together.

    Hand calculation: the middle of the last bit is sampled (bits - 0.5) bit times after the
    start edge and may be half a bit off: 0.5 / 9.5 = 5.26 % for 8N1, 2.63 % an end.
    """
    return 0.5 / (bits_per_byte(framing) - 0.5)


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


def frame_time_s(length_bytes: float, baud: float, framing: str = "8N1") -> float:
    """Seconds that `length_bytes` take on the wire without gaps."""
    not_negative("length_bytes", length_bytes)
    return length_bytes * bits_per_byte(framing) / positive("baud", baud)


# NMEA 0183 (secondary source): at most 82 characters with $ and CRLF. Receivers exceed it, so a
# longer sentence is a reason to warn and never one to reject.
NMEA_LONGEST_BYTES: Final = 82
NMEA_DEFAULT_BAUD: Final = 4800

# Typical lengths with $ and CRLF as written by pynmea2 1.19 (reference library).
NMEA_TYPICAL_BYTES: Final[Mapping[str, int]] = {
    "GGA": 67,
    "RMC": 80,
    "GSA": 49,
    "GSV": 70,
    "VTG": 43,
    "GLL": 41,
}

# u-blox UBX-18010854 (published): position, velocity, time message, 92 bytes of payload; two
# bytes of head, class, identifier, two of length, two of checksum.
BINARY_POSITION_PAYLOAD_BYTES: Final = 92
BINARY_POSITION_OVERHEAD_BYTES: Final = 8
BINARY_POSITION_BYTES: Final = BINARY_POSITION_PAYLOAD_BYTES + BINARY_POSITION_OVERHEAD_BYTES

# MAVLink (mavlink.io, published): header and checksum around the payload, unsigned.
MAVLINK_OVERHEAD_BYTES: Final[Mapping[int, int]] = {1: 8, 2: 12}
MAVLINK_SIGNATURE_BYTES: Final = 13  # from memory
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


def nmea_messages(rate_hz: float, sentences: Sequence[str] | None = None) -> Messages:
    """(bytes, rate) of NMEA sentences at typical length; six longest ones when not named.

    An unknown sentence counts with the longest length.
    """
    not_negative("rate_hz", rate_hz)
    if sentences is None:
        return tuple((float(NMEA_LONGEST_BYTES), rate_hz) for _ in NMEA_TYPICAL_BYTES)
    return tuple(
        (float(NMEA_TYPICAL_BYTES.get(name, NMEA_LONGEST_BYTES)), rate_hz) for name in sentences
    )


def binary_position_messages(rate_hz: float) -> Messages:
    """(bytes, rate) of the binary position message, 100 bytes a fix."""
    return ((float(BINARY_POSITION_BYTES), not_negative("rate_hz", rate_hz)),)


def position_messages(protocol: str, rate_hz: float) -> Messages:
    """(bytes, rate) of a position link: `nmea` six sentences of 82 bytes, `ubx` one of 100."""
    if protocol == "nmea":
        return nmea_messages(rate_hz)
    if protocol == "ubx":
        return binary_position_messages(rate_hz)
    raise ValueError(f"protocol must be nmea or ubx, not {protocol!r}")


def log_fills_after_s(size_bytes: float, rate_hz: float) -> float:
    """Seconds until a flight log of bare records fills its store: size over record times rate.

    Raises ValueError for a rate that is not above zero: such a log never fills.
    """
    return not_negative("size_bytes", size_bytes) / (
        LOG_RECORD_BYTES * positive("rate_hz", rate_hz)
    )


def mavlink_bytes(payload_bytes: int, version: int = 2, signed: bool = False) -> int:
    """Bytes on the wire of a MAVLink message: payload + 8 (v1), + 12 (v2), + 13 if signed.

    Source: mavlink.io, packet serialization. Version 2 may cut trailing zero bytes of the
    payload, so this is the longest that the message gets. Raises ValueError for a payload
    outside 1..255, another version, or a signed version 1.
    """
    if not 1 <= payload_bytes <= 255:
        raise ValueError(f"payload_bytes must lie in 1..255, not {payload_bytes!r}")
    if version not in MAVLINK_OVERHEAD_BYTES:
        raise ValueError(f"version must be 1 or 2, not {version!r}")
    if signed and version == 1:
        raise ValueError("MAVLink version 1 has no signature")
    return payload_bytes + MAVLINK_OVERHEAD_BYTES[version] + signed * MAVLINK_SIGNATURE_BYTES


def mavlink_messages(
    rates_hz: Mapping[str, float] = MAVLINK_USUAL_RATES_HZ, version: int = 2
) -> Messages:
    """(bytes, rate) of a telemetry stream; ValueError for a message without a known payload."""
    unknown = [name for name in rates_hz if name not in MAVLINK_PAYLOAD_BYTES]
    if unknown:
        raise ValueError(f"no payload size known for {', '.join(unknown)}")
    return tuple(
        (float(mavlink_bytes(MAVLINK_PAYLOAD_BYTES[name], version)), not_negative(name, rate))
        for name, rate in rates_hz.items()
    )


class ReceiverLink(NamedTuple):
    """A serial receiver link.

    `frame_bytes` every `period_s` at `baud`, in `framing`; `inverted` tells the idle level is
    low, `two_way` that telemetry goes back on the link itself, `channels` how many it carries.
    """

    frame_bytes: int
    framing: str
    baud: int
    period_s: float
    inverted: bool
    two_way: bool
    channels: int
    source: str

    @property
    def load(self) -> float:
        """Part of the link's time that the frames take."""
        return load_fraction(((self.frame_bytes, 1 / self.period_s),), self.baud, self.framing)


# De-facto links that several makers share. No standard: the sources are common practice or memory.
RECEIVER_LINKS: Final[Mapping[str, ReceiverLink]] = {
    # Head 0x0F, 16 channels of 11 bits in 22 bytes, flags, tail; sent each 7 ms or each 14 ms.
    "sbus": ReceiverLink(25, "8E2", 100_000, 0.014, True, False, 16, "common practice"),
    # Two bytes of head, 14 channels of two bytes, two of checksum.
    "ibus": ReceiverLink(32, "8N1", 115_200, 0.007, False, False, 14, "from memory"),
    # Three bytes of head, 12 channels of two bytes, two of checksum; longer with 16 channels.
    "sumd": ReceiverLink(29, "8N1", 115_200, 0.010, False, False, 12, "from memory"),
    # Address, length, kind, 22 bytes of channels, checksum; 250 frames a second is one usual rate.
    "crsf": ReceiverLink(26, "8N1", 420_000, 0.004, False, True, 16, "from memory"),
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
    known = RECEIVER_LINKS.get(link)
    return known.period_s if known else None


def pulse_train_gap_s(
    channels: int,
    frame_s: float = PULSE_TRAIN_FRAME_S,
    longest_pulse_s: float = PULSE_TRAIN_LONGEST_PULSE_S,
) -> float:
    """Seconds left for the gap that marks a frame's end, all channels at their longest.

    Common practice: eight channels of 2 ms leave 4 ms of 20 ms. Negative: they do not fit.
    """
    positive("channels", channels)
    return positive("frame_s", frame_s) - channels * positive("longest_pulse_s", longest_pulse_s)


def packed_channels(values: Sequence[int]) -> bytes:
    """16 channel values of 11 bits, least significant bit first, in 22 bytes (common practice)."""
    if len(values) != 16 or any(not 0 <= value <= 2047 for value in values):
        raise ValueError("need 16 values in 0..2047")
    whole = sum(value << 11 * index for index, value in enumerate(values))
    return whole.to_bytes(22, "little")
