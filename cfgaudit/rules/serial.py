"""Serial ports: which roles share, rates, loads, wires."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.serial import (
    LOG_RECORD_BYTES,
    MAVLINK_USUAL_RATES_HZ,
    NMEA_SENTENCES,
    RECORDER_BAUDS,
    STANDARD_BAUDS,
    Divider,
    allowed_error,
    bits_per_byte,
    load_fraction,
    mavlink_messages,
    nearest_divider,
    position_messages,
    rate_error,
    receiver_link,
)
from cfgaudit.rules.rule import (
    FRAME_RATE,
    Edit,
    Fires,
    Lacks,
    Level,
    Yielded,
    each,
    grouped,
    in_groups,
    listed,
    rule,
)
from cfgaudit.rules.wiring import (
    SHARERS,
    carrying,
    devices_in,
    give_a_port,
    how_grave,
    is_usb,
    on_their_ports,
    ports_by_roles,
    roles_as_wired,
    same,
    sheet_port,
)
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import Port
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.sheet import Device, SheetPort


STREAMING = ("receiver", "position", "telemetry", "flight_log")  # roles whose messages are known


class Stream(NamedTuple):
    """What a role sends: (name, bytes, Hz) of each message, how a byte is framed, said where."""

    messages: tuple[tuple[str, float, float], ...]
    paths: tuple[str, ...]
    framing: str = "8N1"

    def load(self, baud: float) -> float:
        """The part of a link's time that it takes at a rate in Bd; above 1 it does not fit."""
        return load_fraction([(size, hz) for _, size, hz in self.messages], baud, self.framing)


def stream_of(craft: Craft, role: str) -> Stream | None:
    """What a role sends, or None where its messages are not known. Raises NotStated."""
    if role == "receiver":
        return _receiver_stream(craft.receiver.link)
    if role == "position":
        protocol, fixes = craft.position.protocol, craft.position.rate
        names = list(NMEA_SENTENCES) if protocol == "nmea" else ["fix"]
        sizes = position_messages(protocol, fixes)
        messages = tuple((n, size, hz) for n, (size, hz) in zip(names, sizes, strict=True))
        return Stream(messages, ("position.rate", "position.protocol"))
    if role == "telemetry":
        return _telemetry_stream(craft)
    return Stream((("record", LOG_RECORD_BYTES, craft.flight_log.rate),), ("flight_log.rate",))


def _receiver_stream(link: str) -> Stream | None:
    known = receiver_link(link)
    if known is not None:
        frame = ("frame", float(known.frame_bytes), 1 / known.period_s)
        return Stream((frame,), ("receiver.link",), known.framing)
    return None if link == "mavlink" else Stream((), ("receiver.link",))


def _telemetry_stream(craft: Craft) -> Stream | None:
    """The MAVLink stream: the heartbeat once a second, the rest at the stated rate."""
    if craft.telemetry.protocol.lower() != "mavlink":
        return None
    rates = dict.fromkeys(MAVLINK_USUAL_RATES_HZ, craft.telemetry.rate)
    rates["HEARTBEAT"] = MAVLINK_USUAL_RATES_HZ["HEARTBEAT"]
    sizes = mavlink_messages(rates)
    messages = tuple((name, size, hz) for name, (size, hz) in zip(rates, sizes, strict=True))
    return Stream(messages, ("telemetry.rate", "telemetry.protocol"))


# Links that come over a serial port; a pulse train needs none (common practice).
SERIAL_LINKS: Final = ("sbus", "ibus", "sumd", "crsf", "mavlink")


def _ports(craft: Craft, _: "Sheet | None" = None) -> list[Port]:
    return ports_by_roles(craft)


@rule("serial/roles-cannot-share", Level.ERROR, sheet="wanted", over=_ports)
def roles_cannot_share(craft: Craft, sheet: "Sheet | None", port: Port) -> Iterator[Yielded]:
    """Two roles stand on one port that only one of them can use at a time.

    In the air: one of the two is deaf or both read rubbish; with the receiver among them the
    craft does not obey.
    Mend: move all roles but one to other ports; what the build sheet has nowhere needs none.
    Telemetry may stay beside a receiver whose link leaves the way back free.
    Source: common practice.
    """
    roles = sorted(port.roles)
    path = port.path("roles")
    pairs = [pair for pair in combinations(roles, 2) if pair != SHARERS]
    figures = (("roles", float(len(roles))),)
    if pairs:
        yield Fires(
            f"Port {port.name} carries {listed(roles)}; only one of them can talk on it at a time.",
            (path,),
            figures,
            mend=_only_what_is_wired(sheet, port) if sheet else (),
            advice=f"Leave one role on {port.name} and move the others to free ports.",
        )
    elif tuple(roles) == SHARERS:
        reason, because = _way_back_taken(craft, port)
        if reason:
            yield Fires(
                f"Port {port.name} carries receiver and telemetry, but {reason}.",
                (path, because),
                figures,
                advice="Move telemetry to a port of its own.",
            )


def _only_what_is_wired(sheet: "Sheet", port: Port) -> tuple[Edit, ...]:
    """What leaves a port the role of the one device that is wired to it; nothing for two."""
    wired = roles_as_wired(sheet).items()
    own = port.roles & set().union(*(roles for name, roles in wired if same(name, port.name)))
    return (Edit(port.path("roles"), min(own)),) if len(own) == 1 else ()


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


@rule("serial/role-twice", Level.ERROR, sheet="wanted", over=lambda *_: _ONLY_ONE)
def role_twice(craft: Craft, sheet: "Sheet | None", role: str) -> Iterator[Yielded]:
    """A role that only one port may carry stands on two.

    In the air: the firmware takes one of the ports and does not say which; if it is the one
    with nothing on it, the receiver, the position or the video control is missing.
    Mend: take the role off the port that the device is not wired to.
    Source: common practice.
    """
    ports = carrying(craft, role)
    if len(ports) > 1:
        wired = [name for name, roles in roles_as_wired(sheet).items() if role in roles]
        there = [port for port in ports if any(same(port.name, name) for name in wired)]
        bare = [port for port in ports if port not in there]
        yield Fires(
            f"The {role} role stands on {len(ports)} ports: {listed([p.name for p in ports])}.",
            tuple(port.path("roles") for port in ports),
            (("ports", float(len(ports))),),
            mend=_as_wired(craft, sheet, role, bare) if sheet and len(there) == 1 else (),
            advice=f"Keep {role} on the port that the device is wired to.",
            level=_ONLY_ONE[role],
        )


def _as_wired(craft: Craft, sheet: "Sheet", role: str, ports: Sequence[Port]) -> tuple[Edit, ...]:
    """What takes a role off ports, and gives each what is wired to it and stands nowhere else."""
    wired = roles_as_wired(sheet)
    edits = []
    for port in ports:
        asked = set().union(*(roles for name, roles in wired.items() if same(name, port.name)))
        asked = {one for one in asked if not carrying(craft, one)}
        edits.append(
            Edit(port.path("roles"), ", ".join(sorted((port.roles | asked) - {role})) or "none")
        )
    return tuple(edits)


# What hardly ever idles low, and what of it the craft is deaf without (common practice).
_IDLES_HIGH: Final[Mapping[str, Level]] = {
    "position": Level.ERROR,
    "video_control": Level.WARNING,
    "esc_reports": Level.WARNING,
    "camera_control": Level.WARNING,
}


@rule("serial/inverted-odd", Level.WARNING, sheet="wanted")
def inverted_odd(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """A port has its idle level turned round for a device that hardly ever wants that.

    An error for a position receiver. What the build sheet says of the device counts instead.

    In the air: not one byte is understood: a position never comes, and with it no way home.
    Mend: leave the level as it is usual, unless the device's papers say otherwise.
    Source: common practice: such devices talk as a UART does.
    """
    parts = devices_in(sheet)
    told_of = {part.role() for part in parts if part.states("kind") and part.states("inverted")}

    def port(part: Port) -> Iterator[Yielded]:
        odd = sorted((part.roles & _IDLES_HIGH.keys()) - told_of)
        if odd and part.states("inverted") and part.inverted:
            yield Fires(
                f"Port {part.name} carries {listed(odd)} with its idle level turned round: hardly "
                "any such device wants that.",
                (part.path("inverted"), part.path("roles")),
                mend=(Edit(part.path("inverted"), "off"),),
                choice="what the device's papers say of its idle level",
                level=Level.ERROR if "position" in odd else None,
            )

    yield from each(ports_by_roles(craft), port)


@rule("serial/receiver-unassigned", Level.ERROR, sheet="wanted")
def receiver_unassigned(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
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
            advice=give_a_port(craft, "receiver", sheet),
        )


@rule("serial/no-console-left", Level.ERROR)
def no_console_left(craft: Craft) -> Iterator[Yielded]:
    """No port, USB included, is left for the settings console.

    In the air: nothing at once; but the owner is locked out of the settings, and whatever else
    this audit finds can't be put right.
    Mend: give one port, best the USB one, the console role before saving.
    Source: common practice. A dump that says nothing of a USB port leaves open what that one does.
    """
    if carrying(craft, "console"):
        return
    ports = ports_by_roles(craft)
    if not any(port.name.startswith("usb") for port in ports):
        raise NotStated("ports.usb.roles")
    usb = [port for port in ports if port.name.startswith("usb") and not port.roles]
    yield Fires(
        f"None of the {len(ports)} ports carries the console: the settings can't be reached.",
        tuple(port.path("roles") for port in ports),
        (("ports", float(len(ports))),),
        advice=give_a_port(craft, "console"),
    ).mended(Edit(port.path("roles"), "console") for port in usb[:1])


_SOLDERED: Final[tuple[str, ...]] = (
    "receiver",
    "position",
    "esc_reports",
    "video_control",
    "camera_control",
)


@rule("serial/device-on-usb", Level.ERROR, sheet="wanted", over=_ports)
def device_on_usb(craft: Craft, sheet: "Sheet | None", port: Port) -> Iterator[Yielded]:
    """The USB port carries the role of a device that is soldered on.

    In the air: the device, wherever its wires end, is not heard: without the receiver the sticks
    do nothing, without the position the way home is not known. A warning for the others.
    Mend: give the role to the port that the device's wires end at, and the console to USB.
    Source: common practice: USB is a plug, and nothing can be soldered to it.
    """
    held = [role for role in _SOLDERED if role in port.roles]
    if not held or not is_usb(sheet, port):
        return
    yield Fires(
        f"Port {port.name} is the USB plug, and carries {listed(held)}: nothing can be soldered to "
        "it.",
        (port.path("roles"),),
        (("roles", float(len(held))),),
        advice=f"Follow the wires, and give {listed(held)} to the port where they end; leave "
        f"{port.name} to the console.",
        level=how_grave(held),
    )


_FULL, _NEARLY_FULL = 1.0, 0.8
_ROUNDING = 1e-9


def _streams(craft: Craft) -> list[tuple[Port, str]]:
    ports = ports_by_roles(craft)
    return [(port, role) for port in ports for role in STREAMING if role in port.roles]


@rule("serial/link-overloaded", Level.ERROR, over=_streams)
def link_overloaded(craft: Craft, load: tuple[Port, str]) -> Iterator[Yielded]:
    """A link has more to carry than its rate allows: error from 100 %, warning from 80 %.

    In the air: messages are cut or come late: the position lags behind the craft, telemetry
    drops the battery call, receiver frames go missing. Telemetry other than MAVLink can't be
    summed and is not checked; a flight log is taken as 44 bytes a record.
    Mend: set a higher rate at both ends, or send less.
    Source: NMEA 0183 sentence length (82), u-blox UBX-18010854, mavlink.io; receiver frames
    and the record length: common practice.
    """
    port, role = load
    stream = stream_of(craft, role)
    if stream is None:
        yield Lacks(_HOW_MUCH if role == "telemetry" else FRAME_RATE)
        return
    baud = port.rate_for(role)
    share = stream.load(baud)
    if share + _ROUNDING < _NEARLY_FULL:
        return
    bits = bits_per_byte(stream.framing)
    told = ", ".join(
        f"{n} {grouped(size)} bytes × {grouped(hz)} Hz" for n, size, hz in stream.messages
    )
    yield Fires(
        f"The {role} link on {port.name} is {grouped(share * 100)} % full: {told}; at {bits} bits "
        "a byte "
        f"that is {grouped(share * baud)} bit/s on {grouped(baud)} Bd.",
        (port.rate_path(role), *stream.paths),
        (
            ("load_percent", share * 100),
            ("bits_per_second", share * baud),
            ("baud", baud),
            ("bits_per_byte", float(bits)),
            *((f"{name}_bytes", size) for name, size, _ in stream.messages),
            *((f"{name}_hz", rate) for name, _, rate in stream.messages),
        ),
        advice=_faster(craft, role, share * baud),
        level=Level.ERROR if share + _ROUNDING >= _FULL else Level.WARNING,
    )


_HOW_MUCH: Final = "how much the telemetry protocol sends"


def _faster(craft: Craft, role: str, bits_per_second: float) -> str:
    link = receiver_link(craft.receiver.link) if role == "receiver" else None
    if link is not None:  # it talks at one rate only
        return f"Set the port to the link's own rate, {grouped(link.baud)} Bd."
    enough = [baud for baud in STANDARD_BAUDS if bits_per_second / baud < _NEARLY_FULL]
    if enough:
        return f"Set both ends to {grouped(enough[0])} Bd or more, or send less."
    return "No standard rate carries this: send less."


@rule("serial/baud-mismatch", Level.ERROR, sheet=True, over=on_their_ports)
def baud_mismatch(craft: Craft, sheet: "Sheet", pair: tuple["Device", Port]) -> Iterator[Yielded]:
    """The rate that the port's divider gives is too far from the rate that the device talks at.

    The port is set to a rate; of its clock it can only make the nearest whole division. What
    comes out may differ from the device's rate by what a frame of its framing forgives. A port
    that software times has no divider, and of one whose clock is not told nobody knows it: there
    the set rate counts. Where no framing is told, what differs by more than any forgives is told.

    In the air: bytes are read wrongly, all of them or now and then as things get warm: no
    position, no telemetry, a receiver that drops out.
    Mend: set the device's own rate; where the clock can't make it, set both ends to a rate that
    it can, or sample 8 times a bit where the port is able to.
    Source: ST RM0008 and RM0090 for the divider, Microchip USART "Error Tolerance" for what is
    allowed: 2.0 % with 8 bits, 1.5 % with parity (published).
    """
    device, port = pair
    board = sheet_port(sheet, port)
    if not board.states("kind"):
        yield Lacks(board.path("kind"))
    elif board.kind == "usb":  # its cable knows no rate
        return
    yield from _off(device, port, board)


def _made(board: "SheetPort", baud: float) -> Divider:
    """What the port makes of a rate: it as it is told where software or nobody knows what does."""
    timed = board.states("kind") and board.kind == "software"
    if timed or not (board.states("clock") and board.states("oversampling")):
        return Divider(0, 0.0, baud, 0.0)
    return nearest_divider(board.clock, baud, int(board.oversampling))


_FRAMINGS: Final = ("8N1", "8E1", "8E2")


def _off(device: "Device", port: Port, board: "SheetPort") -> Iterator[Yielded]:
    role = device.role()
    baud, wanted, made = port.rate_for(role), device.rate, _made(board, port.rate_for(role))
    framings = (device.framing,) if device.states("framing") else _FRAMINGS
    forgives = [allowed_error(framing) for framing in framings]
    error = rate_error(made.true_baud, wanted)
    if board.states("kind") and board.kind != "software":
        unknown = [leaf for leaf in ("clock", "oversampling") if not board.states(leaf)]
        yield from (Lacks(board.path(leaf)) for leaf in unknown[:1])
    if min(forgives) + _ROUNDING < abs(error) <= max(forgives) + _ROUNDING:
        yield Lacks(device.path("framing"))
    allowed = max(forgives)
    if abs(error) <= allowed + _ROUNDING:
        return
    divided = (
        f", which its clock of {grouped(board.clock)} Hz makes {_rate(made.true_baud)} Bd "
        f"(divider {number_text(made.divider)})"
        if made.steps
        else ""
    )
    clock = (("clock_hz", board.clock),) if made.steps else ()
    clocked = (board.path("clock"), board.path("oversampling")) if made.steps else ()
    yield Fires(
        f"Port {port.name} is set to {grouped(baud)} Bd{divided}; {device.name} talks "
        f"{grouped(wanted)} Bd: {error * 100:+.2f} %, where "
        f"{device.framing if len(forgives) == 1 else 'a frame'} forgives {allowed * 100:.1f} %.",
        (port.rate_path(role), device.path("rate"), *clocked),
        (
            ("set_baud", baud),
            ("true_baud", made.true_baud),
            ("device_baud", wanted),
            ("error_percent", error * 100),
            ("allowed_percent", allowed * 100),
            ("divider", made.divider),
            *clock,
        ),
        advice=_advice(board, wanted, allowed),
    ).mended(_mend(port, role, board, wanted, allowed))


def _rate(baud: float) -> str:
    return f"{baud:,.1f}".removesuffix(".0")


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


def _wired(craft: Craft, _: "Sheet | None" = None) -> list[Port]:
    """The ports that carry something. USB is left out: its cable knows no rate and no wires."""
    ports = ports_by_roles(craft)
    return [port for port in ports if port.roles and not port.name.startswith("usb")]


@rule("serial/baud-not-standard", Level.NOTE, over=_wired)
def baud_not_standard(craft: Craft, port: Port) -> Iterator[Yielded]:
    """A port runs at a rate that is no standard one, nor one that its role is known for.

    Receiver links that have a rate of their own are left to receiver/link-port-mismatch.

    In the air: nothing where the device runs at the same rate; after a slip of the finger the
    device is not heard at all.
    Mend: set the rate that the device's papers name, at both ends.
    Source: common practice.
    """
    by_path = in_groups(sorted(port.roles), port.rate_path)
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


@rule(
    "serial/software-port-too-fast",
    Level.WARNING,
    sheet="wanted",
    limits=("serial.software_most",),
)
def software_port_too_fast(craft: Craft, sheet: "Sheet | None", most: float) -> Iterator[Yielded]:
    """A port whose bits are timed by software runs faster than software can time them well.

    The dump or the build sheet says who times them. An error where it carries the receiver or the
    position.

    In the air: bytes go missing whenever the processor is busy: sticks, position, telemetry or
    video control drop out at random.
    Mend: move the role to a port with a UART, or slow both ends down.
    Source: common practice.
    """
    ports = _wired(craft)
    told = any(port.states("software_driven") for port in ports)
    yield from each(ports, lambda port: _too_fast(port, sheet, most, told))


def _fastest(port: Port) -> tuple[str, float]:
    """The highest rate that a port is set to for one of its roles, and where."""
    rates = {port.rate_path(role): port.rate_for(role) for role in sorted(port.roles)}
    return max(rates.items(), key=lambda item: item[1])


def _too_fast(port: Port, sheet: "Sheet | None", most: float, told: bool) -> Iterator[Yielded]:
    path, baud = _fastest(port)
    if baud <= most:
        return
    board = sheet_port(sheet, port) if sheet else None
    if board is not None and board.states("kind") and not port.states("software_driven"):
        software, where = board.kind == "software", board.path("kind")
    else:
        if not told:  # the dump has no word for it: said once, not for each port
            raise NotStated("ports.ID.software_driven")
        software, where = port.software_driven, port.path("software_driven")
    if software:
        yield Fires(
            f"Software times the bits of port {port.name}, which is set to {grouped(baud)} Bd; "
            f"above {grouped(most)} Bd bytes go missing.",
            (path, where),
            (("baud", baud), ("most_baud", most)),
            advice=f"Move {listed(sorted(port.roles))} to a port with a UART, or set both ends to "
            f"{grouped(most)} Bd or less.",
            level=how_grave(port.roles),
        )


@rule("serial/above-port-rate", Level.WARNING, sheet=True, over=_wired)
def above_port_rate(craft: Craft, sheet: "Sheet", port: Port) -> Iterator[Yielded]:
    """A port is set to a higher rate than the build sheet says that it reaches.

    An error where it carries the receiver, the position or the optical flow.

    In the air: its bytes come out at another rate, or not at all: the device is deaf.
    Mend: move the role to a port that reaches the rate, or slow both ends down.
    Source: the build sheet.
    """
    board = sheet_port(sheet, port)
    path, baud = _fastest(port)
    if not board.states("highest_rate") or baud <= board.highest_rate:
        return
    yield Fires(
        f"Port {port.name} is set to {grouped(baud)} Bd, and the build sheet says that it reaches "
        f"{grouped(board.highest_rate)} Bd.",
        (path, board.path("highest_rate")),
        (("baud", baud), ("highest_baud", board.highest_rate)),
        advice=f"Move {listed(sorted(port.roles))} to a port that reaches {grouped(baud)} Bd, or "
        f"set both ends to {grouped(board.highest_rate)} Bd or less.",
        level=how_grave(port.roles),
    )


# Where a device says how many wires it talks on.
_SAID_AT: Final[Mapping[str, str]] = {
    "telemetry": "telemetry.half_duplex",
    "video_control": "video.transmitter.half_duplex",
}
_WIRES: Final = {True: "one wire", False: "two wires"}


def _carriers(craft: Craft, _: "Sheet | None") -> list[tuple[Port, str]]:
    roles = ("receiver", "telemetry", "position", "video_control")
    return [(port, role) for port in _wired(craft) for role in roles if role in port.roles]


@rule("serial/half-duplex-mismatch", Level.WARNING, sheet="wanted", over=_carriers)
def half_duplex_mismatch(
    craft: Craft, sheet: "Sheet | None", carrier: tuple[Port, str]
) -> Iterator[Yielded]:
    """A device talks on one wire and its port is set to two, or the other way round.

    A build sheet says on how many wires a device talks. Else telemetry and video control say it
    for themselves, a position receiver has two wires, and so has a receiver link that talks both
    ways; a one-way link is then not judged: it has a single wire, and which pin that is soldered
    to the dump does not tell. An error where it is the receiver, the position or the optical flow.

    In the air: one of the two ends listens on a pin where nothing comes in: the device is
    deaf, or the board hears its own words.
    Mend: set the port to the wires that the device has.
    Source: the build sheet; common practice.
    """
    port, role = carrier
    device = _fitted(sheet, port, role)
    board = sheet_port(sheet, port) if sheet else None
    if (
        device is not None
        and device.one_wire
        and board is not None
        and board.states("one_wire")
        and not board.one_wire
    ):
        yield Fires(
            f"{device.name} talks on {_WIRES[True]}, and by the build sheet port {port.name} can't "
            "join its two on one: no setting helps.",
            (port.path("half_duplex"), device.path("one_wire"), board.path("one_wire")),
            (("wires_of_device", 1.0), ("wires_of_port", 2.0)),
            advice=f"Solder {device.name} to a port that can do one wire, or join the two outside "
            "of the board as its papers say.",
            level=how_grave({role}),
        )
        return
    if device is None and role == "receiver":
        known = receiver_link(craft.receiver.link)
        if not (craft.receiver.link == "mavlink" if known is None else known.two_way):
            return
    said_at = _SAID_AT.get(role, "") if device is None else device.path("one_wire")
    if device is not None:
        one_wire = device.one_wire
    else:
        one_wire = bool(said_at) and bool(craft.settings.need(said_at))
    if one_wire == port.half_duplex:
        return
    at_port = port.path("half_duplex")
    also = said_at or ("receiver.link" if role == "receiver" else port.path("roles"))
    sure = device is not None or not said_at
    yield Fires(
        f"{device.name if device else _talker(craft, role)} talks on {_WIRES[one_wire]}, but port "
        f"{port.name}, which carries it, is set to {_WIRES[port.half_duplex]}.",
        (at_port, also),
        (("wires_of_device", 2.0 - one_wire), ("wires_of_port", 2.0 - port.half_duplex)),
        advice="Set both to the number of wires that are soldered.",
        level=how_grave({role}),
    ).mended([Edit(at_port, "on" if one_wire else "off")] if sure else [])


def _fitted(sheet: "Sheet | None", port: Port, role: str) -> "Device | None":
    """The device of a role that is wired to a port and says on how many wires it talks."""
    for device in devices_in(sheet):
        told = all(device.states(leaf) for leaf in ("kind", "port", "one_wire"))
        if told and same(device.port, port.name) and device.role() == role:
            return device
    return None


def _talker(craft: Craft, role: str) -> str:
    if role == "receiver":
        return f"The {craft.receiver.link} link"
    named = {"position": "The position receiver", "video_control": "The video transmitter"}
    return named.get(role, role.capitalize())


RULES = (
    roles_cannot_share,
    role_twice,
    inverted_odd,
    receiver_unassigned,
    no_console_left,
    device_on_usb,
    link_overloaded,
    baud_mismatch,
    baud_not_standard,
    software_port_too_fast,
    above_port_rate,
    half_duplex_mismatch,
)
