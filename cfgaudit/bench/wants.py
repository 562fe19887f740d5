"""What each device of a build sheet asks of a serial port, and which devices ask for none."""

from collections.abc import Iterator
from typing import Final, NamedTuple

from cfgaudit.craft.sheet import Sheet
from cfgaudit.craft.sheet_devices import PORT_ROLES, Device
from cfgaudit.physics.messages import RECEIVER_LINKS, receiver_link

CONSOLE: Final = "the console"  # it asks for a port like a device; no device is called so
CONSOLE_ROLE: Final = "console"
_SELDOM: Final = ("camera", "flight_log", "esc_reports")  # these mostly do without a port
_SHARERS: Final = ("receiver", "telemetry")


class Want(NamedTuple):
    """What one device asks of a port. None, or an empty text, where the sheet does not tell.

    `rate` is in Bd; `by_link` says that rate, framing and level are its link's own, which nobody
    can choose; `port` is where it is wired now.
    """

    name: str
    role: str
    rate: float | None = None
    framing: str = ""
    inverted: bool | None = None
    one_wire: bool | None = None
    protocol: str = ""
    by_link: bool = False
    port: str = ""

    def path(self, leaf: str) -> str:
        """The build sheet's path of one of its settings."""
        return f"sheet.devices.{self.name}.{leaf}"


class Aside(NamedTuple):
    """A device that no port is looked for, and why."""

    name: str
    why: str


def wants_of(sheet: Sheet) -> tuple[tuple[Want, ...], tuple[Aside, ...]]:
    """The devices that want a port, the receiver first; and those that want none.

    Raises NotStated where the sheet has no device.
    """
    asides = {part.name: _no_port(sheet, part) for part in sheet.devices}
    wants = [_want(part) for part in sheet.devices if not asides[part.name]]
    order = list(PORT_ROLES.values())
    wants.sort(key=lambda want: order.index(want.role) if want.role else len(order))
    return tuple(wants), tuple(Aside(name, why) for name, why in asides.items() if why)


def _no_port(sheet: Sheet, part: Device) -> str:
    """Why a device wants no port; empty where it wants one."""
    if not part.states("kind"):
        return "its kind is not stated"
    if not part.role() and not part.states("port"):
        return "nothing for a port" if part.kind != "other" else "no port is stated"
    if part.kind == "telemetry" and _rides(sheet, part):
        return f"it goes in the frames of the {part.protocol} link"
    if part.kind == "receiver" and part.states("protocol") and part.protocol == "ppm":
        return "a pulse train needs a pad and no port"
    if part.states("port"):
        return ""
    if part.states("pad"):
        return f"it is on pad {part.pad}"
    if part.kind in _SELDOM and not part.states("rate"):
        return "neither port nor rate is stated, so it is taken to need none"
    return ""


def _rides(sheet: Sheet, part: Device) -> bool:
    """Whether telemetry travels back on a two-way receiver link that is there."""
    if not part.states("protocol"):
        return False
    link = receiver_link(part.protocol)
    return (
        link is not None
        and link.two_way
        and any(
            other.states("protocol") and other.protocol == part.protocol
            for other in sheet.devices_of("receiver")
        )
    )


def _want(part: Device) -> Want:
    protocol = part.protocol if part.states("protocol") else ""
    link = RECEIVER_LINKS.get(protocol) if part.kind == "receiver" else None
    rate = part.rate if part.states("rate") else float(link.baud) if link else None
    framing = part.framing if part.states("framing") else link.framing if link else ""
    inverted = part.inverted if part.states("inverted") else link.inverted if link else None
    one_wire = part.one_wire if part.states("one_wire") else None
    port = part.port if part.states("port") else ""
    return Want(
        part.name, part.role(), rate, framing, inverted, one_wire, protocol, link is not None, port
    )


def lacking(want: Want) -> Iterator[str]:
    """What the sheet does not tell of a device that wants a port, as paths."""
    for leaf in ("rate", "framing", "inverted", "one_wire"):
        if getattr(want, leaf) in (None, ""):
            yield want.path(leaf)


def why_no_sharing(receiver: Want, telemetry: Want) -> str:
    """Why telemetry can't go out beside a receiver on one port; empty where it can.

    A one-way link leaves the port's sending side free, and a port has one rate, one framing and
    one level for both (common practice). What the sheet does not tell forbids it.
    """
    link = receiver_link(receiver.protocol)
    if (receiver.role, telemetry.role) != _SHARERS:
        return "only telemetry can share a port, and only the receiver's"
    if link is None:
        return f"nothing tells whether {receiver.name}'s link leaves the way back free"
    if link.two_way:
        return f"the {receiver.protocol} link itself talks both ways"
    other = receiver_link(telemetry.protocol)
    if other is not None and other.two_way:
        return f"{telemetry.protocol} goes back in the frames of its own link"
    if receiver.one_wire is not False or telemetry.one_wire is not False:
        return "with one wire for both directions there is no way back"
    for leaf, word in (("framing", "framing"), ("inverted", "idle level"), ("rate", "rate")):
        mine, theirs = getattr(receiver, leaf), getattr(telemetry, leaf)
        if mine is None or theirs is None or mine != theirs:
            return f"a port has one {word} for both directions"
    return ""


def shareable_at(receiver: Want, telemetry: Want) -> float | None:
    """The rate in Bd at which telemetry could share the receiver's port; None where none helps."""
    if receiver.rate is None or receiver.rate == telemetry.rate:
        return None
    changed = telemetry._replace(rate=receiver.rate)
    return None if why_no_sharing(receiver, changed) else receiver.rate
