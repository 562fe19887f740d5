"""Whether one port can serve one device, and if not, everything that stands in the way."""

from itertools import product
from typing import Final, NamedTuple

from cfgaudit.bench.wants import CONSOLE, Want
from cfgaudit.craft.sheet_board import SheetPort
from cfgaudit.physics.serial import STANDARD_BAUDS, allowed_error, nearest_divider
from cfgaudit.rules.wording import grouped

_ROUNDING: Final = 1e-9
_ANY_FRAMING: Final = ("8N1", "8E2")  # one of each allowed error, where none is stated
_ANY_SAMPLING: Final = (16, 8)


class Bar(NamedTuple):
    """One reason why a port can't serve a device.

    `kind` is one of usb, rate-high, rate-off, inverter, one-wire.
    """

    kind: str
    says: str


class Fit(NamedTuple):
    """What stands in the way, and the paths without which something could not be looked at."""

    bars: tuple[Bar, ...] = ()
    lacks: tuple[str, ...] = ()


def fit(want: Want, port: SheetPort) -> Fit:
    """How a port goes with what a device asks for. What is not stated is no bar, but is told."""
    if port.states("kind") and port.kind == "usb":
        if want.name == CONSOLE:
            return Fit()
        return Fit((Bar("usb", "it is the USB plug, and nothing can be soldered to it"),))
    if want.name == CONSOLE:
        return Fit()
    parts = [_kind(port), _highest(want, port), _divided(want, port), _level(want, port)]
    parts.append(_one_wire(want, port))
    bars = tuple(bar for part in parts for bar in part.bars)
    lacks = tuple(dict.fromkeys(path for part in parts for path in part.lacks))
    return Fit(bars, lacks)


def _kind(port: SheetPort) -> Fit:
    return Fit() if port.states("kind") else Fit(lacks=(port.path("kind"),))


def _highest(want: Want, port: SheetPort) -> Fit:
    if want.rate is None:
        return Fit(lacks=(want.path("rate"),))
    if not port.states("highest_rate"):
        return Fit(lacks=(port.path("highest_rate"),))
    if want.rate <= port.highest_rate:
        return Fit()
    says = f"it reaches {grouped(port.highest_rate)} Bd, and {grouped(want.rate)} Bd is wanted"
    return Fit((Bar("rate-high", says),))


def _divided(want: Want, port: SheetPort) -> Fit:
    """Whether a UART's divider comes near enough; a port timed by software has none."""
    if want.rate is None or (port.states("kind") and port.kind == "software"):
        return Fit()
    if not port.states("clock"):
        return Fit(lacks=(port.path("clock"),))
    samplings = (port.oversampling,) if port.states("oversampling") else _ANY_SAMPLING
    framings = (want.framing,) if want.framing else _ANY_FRAMING
    bars = [
        _off(want.rate, port.clock, sampling, framing)
        for sampling, framing in product(samplings, framings)
    ]
    if all(bars):
        return Fit((Bar("rate-off", bars[0]),))
    if not any(bars):
        return Fit()
    lacks = [port.path("oversampling")] if len(samplings) > 1 else []
    return Fit(lacks=(*lacks, *([want.path("framing")] if len(framings) > 1 else [])))


def _off(rate: float, clock: float, sampling: int, framing: str) -> str:
    """How far off the nearest rate is, where that is more than a frame forgives; else empty."""
    made = nearest_divider(clock, rate, sampling)
    allowed = allowed_error(framing)
    if abs(made.error) <= allowed + _ROUNDING:
        return ""
    return (
        f"its nearest rate to {grouped(rate)} Bd is {grouped(made.true_baud)} Bd (divider "
        f"{made.divider:g}), {abs(made.error) * 100:.2f} % off where {framing} forgives "
        f"{allowed * 100:.1f} %"
    )


def _level(want: Want, port: SheetPort) -> Fit:
    if want.inverted is False or (port.states("inverter") and port.inverter):
        return Fit()
    if want.inverted is None:
        return Fit(lacks=(want.path("inverted"),))
    if not port.states("inverter"):
        return Fit(lacks=(port.path("inverter"),))
    says = "the device's idle level is low, and the port has no inverter"
    return Fit((Bar("inverter", says),))


def _one_wire(want: Want, port: SheetPort) -> Fit:
    if want.one_wire is False or (port.states("one_wire") and port.one_wire):
        return Fit()
    if want.one_wire is None:
        return Fit(lacks=(want.path("one_wire"),))
    if not port.states("one_wire"):
        return Fit(lacks=(port.path("one_wire"),))
    says = "the device talks and listens on one wire, and the port can't"
    return Fit((Bar("one-wire", says),))


def lower_rate(want: Want, port: SheetPort) -> float | None:
    """The highest usual rate in Bd below the wanted one at which a port would serve a device.

    None where the link's own rate is wanted, or no lower one helps.
    """
    if want.by_link or want.rate is None:
        return None
    for baud in reversed(STANDARD_BAUDS):
        if baud < want.rate and not fit(want._replace(rate=float(baud)), port).bars:
            return float(baud)
    return None


def described(want: Want) -> str:
    """What a device asks of a port, in a few words: `100,000 Bd 8E2, inverted, one wire`."""
    rate = "a rate not stated" if want.rate is None else f"{grouped(want.rate)} Bd"
    parts = [f"{rate} {want.framing}".rstrip()]
    parts += ["inverted"] if want.inverted else []
    parts += ["one wire"] if want.one_wire else []
    return ", ".join(parts)
