"""Serial links: bits in a byte, the rate a divider really gives, how wrong a rate may be, load.

Errors and loads are fractions: 0.02 is 2 per cent. Nonsense input raises ValueError.
"""

from collections.abc import Iterable
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
