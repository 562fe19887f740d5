"""The rate that a port really makes, against the rate of the device on it."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Port
from cfgaudit.physics.serial import Divider, allowed_error, nearest_divider, rate_error
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, rule
from cfgaudit.rules.wiring_sheet import on_their_ports, sheet_port
from cfgaudit.rules.wording import grouped
from cfgaudit.units import number_text

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.craft.sheet_board import SheetPort
    from cfgaudit.craft.sheet_devices import Device

_ROUNDING = 1e-9


@rule("serial/baud-mismatch", Level.ERROR, sheet=True)
def baud_mismatch(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The rate that the port's divider gives is too far from the rate that the device talks at.

    The port is set to a rate; of its clock it can only make the nearest whole division. What
    comes out may differ from the device's rate by what a frame of its framing forgives. A port
    that software times has no divider: there the set rate counts.

    In the air: bytes are read wrongly, all of them or now and then as things get warm: no
    position, no telemetry, a receiver that drops out.
    Mend: set the device's own rate; where the clock can't make it, set both ends to a rate that
    it can, or sample 8 times a bit where the port is able to.
    Source: ST RM0008 and RM0090 for the divider, Microchip USART "Error Tolerance" for what is
    allowed: 2.0 % with 8 bits, 1.5 % with parity (published).
    """

    def device(pair: tuple["Device", Port]) -> Iterator[Yielded]:
        part, port = pair
        board = sheet.ports[sheet_port(sheet, port)]
        if board.kind != "usb":  # its cable knows no rate
            yield from _off(part, port, board)

    yield from each(on_their_ports(craft, sheet), device)


def _made(board: "SheetPort", baud: float) -> Divider:
    """What the port makes of a rate; software makes it as it is told. Raises NotStated."""
    if board.kind == "software":
        return Divider(0, 0.0, baud, 0.0)
    return nearest_divider(board.clock, baud, int(board.oversampling))


def _off(device: "Device", port: Port, board: "SheetPort") -> Iterator[Yielded]:
    role = device.role()
    baud, wanted, allowed = port.rate_for(role), device.rate, allowed_error(device.framing)
    made = _made(board, baud)
    error = rate_error(made.true_baud, wanted)
    if abs(error) <= allowed + _ROUNDING:
        return
    divided = (
        f", which its clock of {grouped(board.clock)} Hz makes {_rate(made.true_baud)} Bd "
        f"(divider {number_text(made.divider)})"
        if made.steps
        else ""
    )
    mend = _mend(port, role, board, wanted, allowed)
    clock = (("clock_hz", board.clock),) if made.steps else ()
    yield Fires(
        f"Port {port.name} is set to {grouped(baud)} Bd{divided}; {device.name} talks "
        f"{grouped(wanted)} Bd: {error * 100:+.2f} %, where {device.framing} forgives "
        f"{allowed * 100:.1f} %.",
        (port.rate_path(role), device.path("rate"), *_clock_paths(board, made)),
        (
            ("set_baud", baud),
            ("true_baud", made.true_baud),
            ("device_baud", wanted),
            ("error_percent", error * 100),
            ("allowed_percent", allowed * 100),
            ("divider", made.divider),
            *clock,
        ),
        mend=mend,
        advice="" if mend else _advice(board, wanted, allowed),
    )


def _rate(baud: float) -> str:
    return f"{baud:,.1f}".removesuffix(".0")


def _clock_paths(board: "SheetPort", made: Divider) -> tuple[str, ...]:
    return (board.path("clock"), board.path("oversampling")) if made.steps else ()


def _mend(
    port: Port, role: str, board: "SheetPort", wanted: float, allowed: float
) -> tuple[Edit, ...]:
    """The device's own rate, where the port can make it and nothing else runs at its rate."""
    alone = len(port.roles) == 1 or port.rate_path(role) != port.path("baud")
    if alone and abs(_made(board, wanted).error) <= allowed + _ROUNDING:
        return (Edit(port.rate_path(role), f"{number_text(wanted)} Bd"),)
    return ()


def _advice(board: "SheetPort", wanted: float, allowed: float) -> str:
    best = _made(board, wanted)
    if abs(best.error) <= allowed + _ROUNDING:
        return f"Both ends of this port must run at {grouped(wanted)} Bd."
    way = f"Of {grouped(wanted)} Bd this clock makes {_rate(best.true_baud)} Bd at best"
    other = 24 - int(board.oversampling)  # 16 and 8
    if abs(nearest_divider(board.clock, wanted, other).error) <= allowed + _ROUNDING:
        return f"{way}; with {other} samples a bit it would do."
    return f"{way}: set both ends to a lower rate, or use a port with another clock."


RULES = (baud_mismatch,)
