"""Serial ports and pads: who may share, what is missing, what does not fit."""

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Port
from cfgaudit.physics.messages import receiver_link
from cfgaudit.physics.serial import STANDARD_BAUDS, bits_per_byte
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Yielded, each, rule
from cfgaudit.rules.streams import STREAMING, Stream, stream_of
from cfgaudit.rules.wiring import carrying, give_a_port, ports_by_roles
from cfgaudit.rules.wording import grouped, listed

# Links that come over a serial port; a pulse train needs none (common practice).
SERIAL_LINKS: Final = ("sbus", "ibus", "sumd", "crsf", "mavlink")
_SHARERS: Final = ("receiver", "telemetry")


@rule("serial/roles-cannot-share", Level.ERROR)
def roles_cannot_share(craft: Craft) -> Iterator[Yielded]:
    """Two roles stand on one port that only one of them can use at a time.

    In the air: one of the two is deaf or both read rubbish; with the receiver among them the
    craft does not obey.
    Mend: move all roles but one to other ports. Telemetry may stay beside a receiver whose link
    leaves the way back free.
    Source: common practice.
    """
    yield from each(ports_by_roles(craft), lambda port: _sharing(craft, port))


def _sharing(craft: Craft, port: Port) -> Iterator[Yielded]:
    roles = sorted(port.roles)
    path = port.path("roles")
    pairs = [pair for pair in combinations(roles, 2) if pair != _SHARERS]
    figures = (("roles", float(len(roles))),)
    if pairs:
        yield Fires(
            f"Port {port.name} carries {listed(roles)}; only one of them can talk on it at a time.",
            (path,),
            figures,
            advice=f"Leave one role on {port.name} and move the others to free ports.",
        )
    elif tuple(roles) == _SHARERS:
        reason, because = _way_back_taken(craft, port)
        if reason:
            yield Fires(
                f"Port {port.name} carries receiver and telemetry, but {reason}.",
                (path, because),
                figures,
                advice="Move telemetry to a port of its own.",
            )


def _way_back_taken(craft: Craft, port: Port) -> tuple[str, str]:
    """Why telemetry can't go back beside the receiver, and the setting that says so."""
    link = craft.receiver.link
    known = receiver_link(link)
    if known is not None and known.two_way:
        return f"the {link} link itself talks both ways", "receiver.link"
    if link == "mavlink" and craft.telemetry.protocol.lower() != "mavlink":
        return "the mavlink link itself talks both ways", "receiver.link"
    if known is not None and port.half_duplex:
        return "the port is set to one wire, so there is no way back", port.path("half_duplex")
    return "", ""


# Roles that only one port may carry, with how grave it is that two do (common practice).
_ONLY_ONE: Final[Mapping[str, Level]] = {
    "receiver": Level.ERROR,
    "position": Level.ERROR,
    "video_control": Level.ERROR,
    "telemetry": Level.WARNING,
}


@rule("serial/role-twice", Level.ERROR)
def role_twice(craft: Craft) -> Iterator[Yielded]:
    """A role that only one port may carry stands on two.

    In the air: the firmware takes one of the ports and does not say which; if it is the one
    with nothing on it, the receiver, the position or the video control is missing.
    Mend: take the role off the port that the device is not wired to.
    Source: common practice.
    """
    yield from each(_ONLY_ONE, lambda role: _on_several(craft, role))


def _on_several(craft: Craft, role: str) -> Iterator[Yielded]:
    ports = carrying(craft, role)
    if len(ports) > 1:
        yield Fires(
            f"The {role} role stands on {len(ports)} ports: {listed([p.name for p in ports])}.",
            tuple(port.path("roles") for port in ports),
            (("ports", float(len(ports))),),
            advice=f"Keep {role} on the port that the device is wired to.",
            level=_ONLY_ONE[role],
        )


@rule("serial/receiver-unassigned", Level.ERROR)
def receiver_unassigned(craft: Craft) -> Iterator[Yielded]:
    """The receiver link is a serial one and no port carries the receiver.

    In the air: the sticks do nothing; the craft does not arm, or goes straight to failsafe.
    Mend: give the receiver role to the port that the receiver is wired to.
    Source: common practice.
    """
    link = craft.receiver.link
    if link in SERIAL_LINKS and not carrying(craft, "receiver"):
        yield Fires(
            f"The receiver talks {link}, which is serial, but no port carries the receiver.",
            ("receiver.link",),
            advice=give_a_port(craft, "receiver"),
        )


@rule("serial/no-console-left", Level.ERROR)
def no_console_left(craft: Craft) -> Iterator[Yielded]:
    """No port, USB included, is left for the settings console.

    In the air: nothing at once; but the owner is locked out of the settings, and whatever else
    this audit finds can't be put right.
    Mend: give one port, best the USB one, the console role before saving.
    Source: common practice.
    """
    if carrying(craft, "console"):
        return
    ports = ports_by_roles(craft)
    usb = [port for port in ports if port.name.startswith("usb") and not port.roles]
    yield Fires(
        f"None of the {len(ports)} ports carries the console: the settings can't be reached.",
        tuple(port.path("roles") for port in ports),
        (("ports", float(len(ports))),),
        mend=(Edit(usb[0].path("roles"), "console"),) if usb else (),
        advice="" if usb else give_a_port(craft, "console"),
    )


_FULL, _NEARLY_FULL = 1.0, 0.8
_ROUNDING = 1e-9


@rule("serial/link-overloaded", Level.ERROR)
def link_overloaded(craft: Craft) -> Iterator[Yielded]:
    """A link has more to carry than its rate allows: error from 100 %, warning from 80 %.

    In the air: messages are cut or come late: the position lags behind the craft, telemetry
    drops the battery call, receiver frames go missing. Telemetry other than MAVLink can't be
    summed and is not checked; a flight log is taken as 44 bytes a record.
    Mend: set a higher rate at both ends, or send less.
    Source: NMEA 0183 sentence length (82), u-blox UBX-18010854, mavlink.io; receiver frames
    and the record length: common practice.
    """
    loads = [
        (port, role) for port in ports_by_roles(craft) for role in STREAMING if role in port.roles
    ]
    yield from each(loads, lambda load: _overload(craft, *load))


def _overload(craft: Craft, port: Port, role: str) -> Iterator[Yielded]:
    stream = stream_of(craft, role)
    if stream is None:
        yield Lacks(f"{role}.protocol" if role == "telemetry" else "receiver.link")
        return
    baud = port.rate_for(role)
    load = stream.load(baud)
    if load + _ROUNDING < _NEARLY_FULL:
        return
    bits = bits_per_byte(stream.framing)
    yield Fires(
        f"The {role} link on {port.name} is {grouped(load * 100)} % full: "
        f"{_messages_text(stream)}; at {bits} bits a byte "
        f"that is {grouped(load * baud)} bit/s on {grouped(baud)} Bd.",
        (port.rate_path(role), *stream.paths),
        (
            ("load_percent", load * 100),
            ("bits_per_second", load * baud),
            ("baud", baud),
            ("bits_per_byte", float(bits)),
            *((f"{name}_bytes", size) for name, size, _ in stream.messages),
            *((f"{name}_hz", rate) for name, _, rate in stream.messages),
        ),
        advice=_faster(craft, role, load * baud),
        level=Level.ERROR if load + _ROUNDING >= _FULL else Level.WARNING,
    )


def _faster(craft: Craft, role: str, bits_per_second: float) -> str:
    link = receiver_link(craft.receiver.link) if role == "receiver" else None
    if link is not None:  # it talks at one rate only
        return f"Set the port to the link's own rate, {grouped(link.baud)} Bd."
    enough = [baud for baud in STANDARD_BAUDS if bits_per_second / baud < _NEARLY_FULL]
    if enough:
        return f"Set both ends to {grouped(enough[0])} Bd or more, or send less."
    return "No standard rate carries this: send less."


def _messages_text(stream: Stream) -> str:
    return ", ".join(
        f"{name} {grouped(size)} bytes × {grouped(rate)} Hz" for name, size, rate in stream.messages
    )


RULES = (
    roles_cannot_share,
    role_twice,
    receiver_unassigned,
    no_console_left,
    link_overloaded,
)
