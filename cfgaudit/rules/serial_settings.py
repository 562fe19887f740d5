"""How ports are set: rates that nobody uses, bits timed by software, one wire or two."""

from collections.abc import Iterator, Mapping
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Port
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.messages import receiver_link
from cfgaudit.physics.serial import RECORDER_BAUDS, STANDARD_BAUDS, rate_error
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, rule
from cfgaudit.rules.wiring import ports_by_roles
from cfgaudit.rules.wording import grouped, listed


def _wired(craft: Craft) -> list[Port]:
    """The ports that carry something. USB is left out: its cable knows no rate and no wires."""
    ports = ports_by_roles(craft)
    return [port for port in ports if port.roles and not port.name.startswith("usb")]


@rule("serial/baud-not-standard", Level.NOTE)
def baud_not_standard(craft: Craft) -> Iterator[Yielded]:
    """A port runs at a rate that is no standard one, nor one that its role is known for.

    Receiver links that have a rate of their own are left to receiver/link-port-mismatch.

    In the air: nothing where the device runs at the same rate; after a slip of the finger the
    device is not heard at all.
    Mend: set the rate that the device's papers name, at both ends.
    Source: common practice.
    """
    yield from each(_wired(craft), lambda port: _odd_rates(craft, port))


def _odd_rates(craft: Craft, port: Port) -> Iterator[Yielded]:
    by_path: dict[str, list[str]] = {}
    for role in sorted(port.roles):
        by_path.setdefault(port.rate_path(role), []).append(role)
    yield from each(by_path.values(), lambda roles: _odd_rate(craft, port, roles))


def _odd_rate(craft: Craft, port: Port, roles: list[str]) -> Iterator[Yielded]:
    baud = port.rate_for(roles[0])
    if baud in STANDARD_BAUDS or any(_known_for(craft, role, baud) for role in roles):
        return
    nearest = min(STANDARD_BAUDS, key=lambda standard: abs(rate_error(baud, standard)))
    off = rate_error(baud, nearest) * 100
    yield Fires(
        f"Port {port.name} runs at {grouped(baud)} Bd for {listed(roles)}, which is no standard "
        f"rate; the nearest is {grouped(nearest)} Bd, {grouped(abs(off))} % away.",
        (port.rate_path(roles[0]),),
        (("baud", baud), ("nearest_baud", float(nearest)), ("off_percent", off)),
        advice="Set both ends to a standard rate, unless the device's papers name this one.",
    )


def _known_for(craft: Craft, role: str, baud: float) -> bool:
    if role == "receiver":
        return receiver_link(craft.receiver.link) is not None
    return role == "flight_log" and baud in RECORDER_BAUDS


@rule("serial/software-port-too-fast", Level.WARNING, limits=("serial.software_most",))
def software_port_too_fast(craft: Craft, most: float) -> Iterator[Yielded]:
    """A port whose bits are timed by software runs faster than software can time them well.

    In the air: bytes go missing whenever the processor is busy: position, telemetry or video
    control drop out at random.
    Mend: move the role to a port with a UART, or slow both ends down.
    Source: common practice.
    """
    ports = _wired(craft)
    told = any(port.states("software_driven") for port in ports)
    yield from each(ports, lambda port: _too_fast(port, most, told))


def _too_fast(port: Port, most: float, told: bool) -> Iterator[Yielded]:
    rates = {port.rate_path(role): port.rate_for(role) for role in sorted(port.roles)}
    path, baud = max(rates.items(), key=lambda item: item[1])
    if baud <= most:
        return
    if not told:  # the dump has no word for it: said once, not for each port
        raise NotStated("ports.ID.software_driven")
    if port.software_driven:
        yield Fires(
            f"Software times the bits of port {port.name}, which is set to {grouped(baud)} Bd; "
            f"above {grouped(most)} Bd bytes go missing.",
            (path, port.path("software_driven")),
            (("baud", baud), ("most_baud", most)),
            advice=f"Move {listed(sorted(port.roles))} to a port with a UART, or set both ends to "
            f"{grouped(most)} Bd or less.",
        )


# Where a device says how many wires it talks on.
_SAID_AT: Final[Mapping[str, str]] = {
    "telemetry": "telemetry.half_duplex",
    "video_control": "video.transmitter.half_duplex",
}
_WIRES: Final = {True: "one wire", False: "two wires"}


@rule("serial/half-duplex-mismatch", Level.WARNING)
def half_duplex_mismatch(craft: Craft) -> Iterator[Yielded]:
    """A device talks on one wire and its port is set to two, or the other way round.

    Telemetry and video control say for themselves on how many wires they talk. A position
    receiver has two, and so has a receiver link that talks both ways. A one-way link is not
    judged: it has a single wire, and which pin that is soldered to the dump does not tell.

    In the air: one of the two ends listens on a pin where nothing comes in: the device is
    deaf, or the board hears its own words.
    Mend: set the port to the wires that the device has.
    Source: common practice.
    """
    carriers = [
        (port, role)
        for port in _wired(craft)
        for role in ("receiver", "telemetry", "position", "video_control")
        if role in port.roles
    ]
    yield from each(carriers, lambda carrier: _wires_differ(craft, *carrier))


def _wires_differ(craft: Craft, port: Port, role: str) -> Iterator[Yielded]:
    if role == "receiver" and not _talks_both_ways(craft.receiver.link):
        return
    said_at = _SAID_AT.get(role, "")
    one_wire = bool(said_at) and bool(craft.settings.need(said_at))
    if one_wire == port.half_duplex:
        return
    at_port = port.path("half_duplex")
    also = said_at or ("receiver.link" if role == "receiver" else port.path("roles"))
    yield Fires(
        f"{_talker(craft, role)} talks on {_WIRES[one_wire]}, but port {port.name}, which carries "
        f"it, is set to {_WIRES[port.half_duplex]}.",
        (at_port, also),
        (("wires_of_device", 2.0 - one_wire), ("wires_of_port", 2.0 - port.half_duplex)),
        mend=() if said_at else (Edit(at_port, "off"),),
        advice="Set both to the number of wires that are soldered." if said_at else "",
    )


def _talks_both_ways(link: str) -> bool:
    known = receiver_link(link)
    return link == "mavlink" if known is None else known.two_way


def _talker(craft: Craft, role: str) -> str:
    if role == "receiver":
        return f"The {craft.receiver.link} link"
    named = {"position": "The position receiver", "video_control": "The video transmitter"}
    return named.get(role, role.capitalize())


RULES = (baud_not_standard, software_port_too_fast, half_duplex_mismatch)
