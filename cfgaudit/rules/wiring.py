"""Ports and pads against the build sheet: what is soldered where, and what the dump says of it."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar, cast

from cfgaudit.craft.craft import Craft, if_stated, there
from cfgaudit.physics.serial import ReceiverLink, allowed_error, rate_error, receiver_link
from cfgaudit.reading.text import Place
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Lacks,
    Level,
    NotApplicable,
    Yielded,
    each,
    grouped,
    in_groups,
    lacking,
    listed,
    rule,
)
from cfgaudit.vocabulary.declare import Members, NotStated, Part
from cfgaudit.vocabulary.dump import Pad, Port
from cfgaudit.vocabulary.kinds import Value

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.sheet import Device, SheetPort


P = TypeVar("P", bound=Part)


def ports_by_roles(craft: Craft) -> list[Port]:
    """The ports that state what they carry. Raises NotStated where none does."""
    return [craft.ports[name] for name in _stated(craft.ports, "roles")]


def carrying(craft: Craft, role: str) -> list[Port]:
    """The ports that carry a role, in the dump's order.

    Raises NotStated where no port states its roles, or where none carries the role but what
    one of them carries is not stated or can't be trusted.
    """
    ports = [port for port in ports_by_roles(craft) if role in port.roles]
    return ports or _none_trusted(craft, "ports", "roles")


def pads_by_use(craft: Craft) -> list[Pad]:
    """The pads that state their use. Raises NotStated where none does."""
    return [craft.pads[name] for name in _uses(craft)]


def _uses(craft: Craft) -> Mapping[str, str]:
    """What each pad that says so is for, by its name. Raises NotStated where none does."""
    return cast(Mapping[str, str], _stated(craft.pads, "use"))


def _pads_for(craft: Craft, kinds: Collection[str]) -> list[Pad]:
    """The pads that are for one of these things. Raises NotStated where no pad states its use."""
    uses = _uses(craft)
    wanted = {use for use in set(uses.values()) if use.split()[0] in kinds}
    return [craft.pads[name] for name, use in uses.items() if use in wanted]


def pads_used_for(craft: Craft, use: str) -> list[Pad]:
    """The pads with a use, in the dump's order. Raises NotStated as `carrying` does.

    And where none has it while all that are stated are motors': a dump that tells of a motor on
    which pad it is says nothing of the other pads.
    """
    pads = _pads_for(craft, (use,))
    if not pads and use != _MOTOR and all(_kind(pad) == _MOTOR for pad in pads_by_use(craft)):
        raise NotStated("pads.ID.use")
    return pads or _none_trusted(craft, "pads", "use")


_MOTOR: Final = "motor"  # the first word of its pad's use


def _stated(parts: Members[P], leaf: str) -> Mapping[str, Value]:
    stated = parts.stated(leaf)
    if not stated:
        raise NotStated(f"{parts.pattern}.{leaf}")
    return stated


def _none_trusted(craft: Craft, group: str, leaf: str) -> list[P]:
    """No part, unless what one says is missing or can't be trusted: then NotStated is raised."""
    for path in unreadable(craft):
        if path.startswith(f"{group}.") and path.endswith(f".{leaf}"):
            raise NotStated(path)
    for name in craft.settings.below(group):  # one that says other things, as a short dump does
        craft.settings.need(f"{group}.{name}.{leaf}")
    craft.settings.need_all(group, leaf, f"{group}.ID.{leaf}")
    return []


def unreadable(craft: Craft) -> list[str]:
    """Paths that the dump states with a value that can't be read or trusted."""
    settings = craft.settings
    troubled = [trouble.path for trouble in settings.troubles if trouble.path not in settings]
    return [*settings.doubted, *filter(None, troubled)]


SHARERS: Final = ("receiver", "telemetry")  # roles that can stand on one port
# What several parts may be at one place: reports come in turn, lamps and sounders act together.
_SEVERAL: Final = ("esc_reports", "led_strip", "buzzer", "voltage_sense", "current_sense")


class _Joint(NamedTuple):
    """A part of the build sheet at a port, a pad or an output, by the path that says so."""

    name: str
    serves: str  # the role or use; empty where its kind has none, or is not stated
    path: str


def _joints(sheet: "Sheet") -> dict[str, list[_Joint]]:
    """What the build sheet has at each place. Raises NotStated where there is nothing."""
    found: dict[str, list[_Joint]] = {}
    for part in there(sheet.devices):
        for leaf in ("port", "pad"):
            if part.states(leaf):
                known = part.states("kind")
                serves = (part.role() if leaf == "port" else part.pad_use()) if known else ""
                _join(found, sheet, leaf, _Joint(part.name, serves, part.path(leaf)))
    for motor in there(sheet.motors):
        for leaf in ("output", "pad"):
            if motor.states(leaf):
                whose = f"{motor.name}'s motor"
                _join(found, sheet, leaf, _Joint(whose, whose, motor.path(leaf)))
    if not found:
        raise NotStated("sheet.devices.NAME.port")
    return found


def _join(found: dict[str, list[_Joint]], sheet: "Sheet", leaf: str, joint: _Joint) -> None:
    at = str(sheet.settings.need(joint.path))
    place = next((one for one in found if same(one, f"{leaf} {at}")), f"{leaf} {at}")
    found.setdefault(place, []).append(joint)


def _at_odds_there(joints: list[_Joint]) -> bool:
    """Whether one place can't be all these parts'."""
    return any(
        one.serves != other.serves or one.serves not in _SEVERAL
        for one, other in combinations(joints, 2)
        if one.serves and other.serves
        if tuple(sorted((one.serves, other.serves))) != SHARERS
    )


def _so_in_the_dump(craft: Craft, place: str, joints: list[_Joint]) -> bool:
    """Whether the dump has all of a place's parts there as well."""
    kind, _, at = place.partition(" ")
    if kind == "port":
        port = port_named(craft, at)
        return port.states("roles") and port.roles >= {joint.serves for joint in joints}
    if kind == "pad":
        return False
    arms = [craft.motors.arms[joint.path.split(".")[2]] for joint in joints]
    return {arm.output if arm.states("output") else None for arm in arms} == {int(at)}


def said_twice(sheet: "Sheet | None") -> dict[str, list[_Joint]]:
    """The places at which the build sheet has parts of which one alone can be there."""
    every = if_stated(lambda: _joints(sheet), {}) if sheet is not None else {}
    return {place: joints for place, joints in every.items() if _at_odds_there(joints)}


@rule("sheet/place-twice", Level.ERROR, sheet=True)
def place_twice(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The build sheet has two parts at one port, pad or output that only one of them can be on.

    In the air: nothing yet: one of the two is somewhere else, and what is held against the sheet
    may be told wrongly until it says where.
    Mend: propellers off, follow the wires of both, and correct the build sheet.
    Source: common practice. What can be at one place together is left in peace: telemetry beside
    a receiver, reports of several speed controllers, two strips of lamps, two sounders. Where the
    dump has them there too, serial/roles-cannot-share or motor/output-twice says so instead.
    """
    placed = [part for part in there(sheet.devices) if part.states("port") or part.states("pad")]
    yield from lacking(placed, "kind")
    for place, joints in _joints(sheet).items():
        if _at_odds_there(joints) and not _so_in_the_dump(craft, place, joints):
            names = listed([joint.name for joint in joints])
            yield Fires(
                f"The build sheet has {names} on {place}, where only one of them can be.",
                tuple(joint.path for joint in joints),
                (("parts", float(len(joints))),),
                advice=f"Follow the wires of {names}, then correct the build sheet.",
            )


def devices_in(sheet: "Sheet | None", kind: str = "") -> "list[Device]":
    """The devices of the build sheet, or those of a kind; perhaps none, as without a sheet."""
    devices = there(sheet.devices) if sheet is not None else []
    return [one for one in devices if not kind or (one.states("kind") and one.kind == kind)]


def give_a_port(craft: Craft, role: str, sheet: "Sheet | None" = None) -> str:
    """Advice that names the port that the sheet has its device on, else those that carry nothing.

    USB, without pins, is only for a console.
    """
    wired = [port for port, roles in roles_as_wired(sheet).items() if role in roles]
    if any(same(place, f"port {port}") for port in wired for place in said_twice(sheet)):
        return (
            f"Look first where its wires end: the build sheet has more than one device on "
            f"{listed(wired)}. Correct that, then give the port that it is on the {role} role."
        )
    if wired:
        return f"Give {listed(wired)}, where the build sheet has it, the {role} role."
    free = [
        port.name
        for port in ports_by_roles(craft)
        if not port.roles and (role == "console" or not port.name.startswith("usb"))
    ]
    if free:
        return f"Give a free port the {role} role: {_set_so_first(craft, role, free)}."
    return f"No port is free: take a role off one, then give it the {role} role."


def _set_so_first(craft: Craft, role: str, free: list[str]) -> str:
    """The free ports; first, and saying so, the one that stands as the receiver's link wants it.

    Its rate and level outlast the role: a reset or a slip took that, and left these.
    """
    stated = role == "receiver" and craft.receiver.states("link")
    link = receiver_link(craft.receiver.link) if stated else None
    fits = [name for name in free if link is not None and stands_for(craft.ports[name], link)]
    if link is None or len(fits) != 1:
        return ", ".join(free)
    level = ", inverted," if craft.ports[fits[0]].states("inverted") and link.inverted else ""
    rest = [name for name in free if name not in fits]
    others = f"; else {', '.join(rest)}" if rest else ""
    return f"{fits[0]}, which is set to {grouped(link.baud)} Bd{level} already{others}"


def stands_for(port: Port, link: ReceiverLink) -> bool:
    """Whether a port states the rate that a link has, and no other level than the link's."""
    if not port.states("baud"):
        return False
    off = abs(rate_error(port.baud, float(link.baud)))
    level = not port.states("inverted") or port.inverted == link.inverted
    return level and off <= allowed_error(link.framing) + _ROUNDING


_ROUNDING: Final = 1e-9


def roles_as_wired(sheet: "Sheet | None") -> dict[str, set[str]]:
    """The roles that the build sheet's devices ask for, by the port that each is wired to."""
    found: dict[str, set[str]] = {}
    for part in devices_in(sheet):
        if part.states("port") and part.states("kind") and part.role():
            found.setdefault(part.port, set()).add(part.role())
    return found


def put_as_wired(craft: Craft, sheet: "Sheet", role: str, at: Port) -> tuple[Edit, ...]:
    """What gives a role to the port that its device is wired to, and to none else.

    A role that stands in its way there makes room where the sheet has its device elsewhere, and
    goes to that port where there is but one: two that are crossed change places. None where the
    sheet does not tell that, or where another device of the role may be on another port.
    """
    wired = {port.casefold(): roles for port, roles in roles_as_wired(sheet).items()}
    elsewhere = set().union(*(roles for port, roles in wired.items() if port != at.name.casefold()))
    if role in elsewhere or not at.states("roles"):
        return ()
    kept = at.roles & (wired.get(at.name.casefold(), set()) | {"console"})
    if at.roles - kept - elsewhere:
        return ()
    rest = [port for port in ports_by_roles(craft) if port.name != at.name]
    now = {at: kept | {role}, **{port: port.roles - {role} for port in rest if role in port.roles}}
    for moved in at.roles - kept - set().union(*(port.roles for port in rest)):
        homes = [name for name, roles in wired.items() if moved in roles]
        for port in rest:
            if [port.name.casefold()] == homes:
                now[port] = now.get(port, port.roles) | {moved}
    return tuple(
        Edit(port.path("roles"), ", ".join(sorted(roles)) or "none")
        for port, roles in now.items()
        if roles != port.roles
    )


def same(one: str, other: str) -> bool:
    """Whether two names of a port or a pad are one: dumps and boards differ in capitals."""
    return one.casefold() == other.casefold()


def port_named(craft: Craft, name: str) -> Port:
    """The dump's port of that name, in the dump's own spelling; one that states nothing if none."""
    found = [known for known in craft.ports.names() if same(known, name)]
    return craft.ports[found[0] if found else name]


def on_their_ports(craft: Craft, sheet: "Sheet") -> list[tuple["Device", Port]]:
    """The devices wired to a port that carries their role, each with that port.

    Raises NotStated where no port states its roles or there is no device.
    """
    ports = ports_by_roles(craft)
    return [
        (device, port)
        for device in sheet.devices
        if device.states("port") and device.states("kind") and device.role()
        for port in ports
        if same(port.name, device.port) and device.role() in port.roles
    ]


def sheet_port(sheet: "Sheet", port: Port) -> "SheetPort":
    """The build sheet's port of a name that the dump has; one that states nothing if none."""
    found = [name for name in sheet.ports.names() if same(name, port.name)]
    return sheet.ports[found[0] if found else port.name]


def is_usb(sheet: "Sheet | None", port: Port) -> bool:
    """Whether a port is the USB plug: as the build sheet says, else by its name."""
    board = sheet_port(sheet, port) if sheet else None
    if board is not None and board.states("kind"):
        return board.kind == "usb"
    return port.name.startswith("usb")


_IDLE = {True: "low", False: "high"}


@rule("serial/inversion-mismatch", Level.ERROR, sheet=True, over=on_their_ports)
def inversion_mismatch(
    craft: Craft, sheet: "Sheet", pair: tuple["Device", Port]
) -> Iterator[Yielded]:
    """A device idles at the level that its port takes for a start bit.

    The port is set the other way, or is set to what it has no inverter for.

    In the air: not one byte is understood: a receiver never binds the sticks, a position never
    comes. Where the board has no inverter no setting helps.
    Mend: set the port as the device idles; without an inverter move the device to a port that
    has one, or tap its signal before the device turns it round.
    Source: common practice.
    """
    device, port = pair
    at, board = port.path("inverted"), sheet_port(sheet, port)
    if (port.inverted or device.inverted) and not board.states("inverter"):
        yield Lacks(board.path("inverter"))
    told = board.states("inverter")
    able = board.inverter if told else True  # what is set counts while no look tells otherwise
    hears = port.inverted and able
    if device.inverted == hears == port.inverted:
        return
    no_inverter = f"; {port.name} has no inverter" if not able else ""
    others = [
        other.name
        for other in there(sheet.ports)
        if other.states("inverter") and other.inverter and not sheet.devices_on(other.name)
    ]
    fitted = listed(others) if others else "none is free on this board"
    needless = not able and not device.inverted  # asked of a port that can't, and not wanted
    yield Fires(
        f"{device.name} idles {_IDLE[device.inverted]}, and its port {port.name} "
        f"{'is set to expect' if needless else 'expects'} "
        f"{_IDLE[port.inverted if needless else hears]}{no_inverter}: not one byte is understood.",
        (at, device.path("inverted"), *((board.path("inverter"),) if told else ())),
        (("device_inverted", float(device.inverted)), ("port_inverted", float(port.inverted))),
        advice=f"Move {device.name} to a port with an inverter: {fitted}.",
    ).mended([Edit(at, "on" if device.inverted else "off")] if able or needless else [])


@rule("serial/port-not-on-board", Level.ERROR, sheet=True)
def port_not_on_board(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The dump names a port that the board does not have; a warning where it carries nothing.

    In the air: whatever the port is to carry does not work: no position, no telemetry, no
    sticks.
    Mend: give the role to a port that the board has, or look whether the dump is another
    board's.
    Source: the board's ports as the build sheet states them.
    """
    there = [port.name for port in sheet.ports]
    named = craft.ports.names()
    if not named:
        raise NotStated("ports.ID")
    every = [craft.ports[name] for name in named]
    gone = [port for port in every if not any(same(port.name, name) for name in there)]
    serving = [port for port in gone if port.states("roles") and port.roles]
    for ports in (serving, [port for port in gone if port not in serving]):
        if ports:
            yield _not_there(craft, ports, there, serve=ports is serving)


def _not_there(craft: Craft, ports: list[Port], there: list[str], *, serve: bool) -> Fires:
    """Ports that the board does not have, all of which serve something or none."""
    names = listed([port.name for port in ports])
    given = listed([role for port in ports for role in sorted(port.roles)]) if serve else ""
    heads = listed([f"[ports.{port.name}]" for port in ports])
    one = len(ports) == 1
    return Fires(
        f"The board has no port {names}, which the dump "
        f"{f'gives to {given}' if serve else 'names'}; it has {listed(there)}.",
        tuple(port.path("roles") if serve else first_stated(craft, port) for port in ports),
        (("ports_of_board", float(len(there))),),
        advice=(
            f"Give {'its' if one else 'their'} roles to a port of the board." if serve else _WHOSE
        )
        + f" If the board has {'it' if one else 'them'}, say so in the build sheet: {heads} with "
        f"{'its' if one else 'their'} kind.",
        level=Level.ERROR if serve else Level.WARNING,
    )


_WHOSE = "Look whether the dump is another board's."


def first_stated(craft: Craft, part: Part) -> str:
    """The first path that the dump states of a part."""
    stated = craft.settings.below(part.path("").rstrip("."))
    return next(paths[0] for paths in stated.values())


@rule("serial/wired-elsewhere", Level.ERROR, sheet=True, over=lambda _, sheet: sheet.devices)
def wired_elsewhere(craft: Craft, sheet: "Sheet", device: "Device") -> Iterator[Yielded]:
    """A device is wired to one port, and its role stands elsewhere.

    A warning for a log, a camera's control and a range finder.

    In the air: the device and the board never hear each other: no sticks, no position, no
    telemetry, whichever it is.
    Mend: give the role to the port that the wires end at, or solder the device to the port that
    has the role.
    Source: the wiring as the build sheet states it.
    """
    if not device.states("port") or not device.role():
        return
    role, wired = device.role(), port_named(craft, device.port)
    carriers = carrying(craft, role)
    if any(port.name == wired.name for port in carriers):
        return
    if is_usb(sheet, wired):
        yield Fires(
            f"The build sheet has {device.name} on {wired.name}, the USB plug, to which nothing "
            "can be soldered.",
            (device.path("port"), *(port.path("roles") for port in carriers)),
            (("ports_with_role", float(len(carriers))),),
            advice=f"Follow the wires of {device.name}, and correct its port in the build sheet.",
        )
        return
    given = (
        f"gives {role} to {listed([port.name for port in carriers])}"
        if carriers
        else (f"gives {role} to no port")
    )
    held = sorted(wired.roles) if wired.states("roles") else []
    also = f"; {wired.name} carries {listed(held)}" if held else ""
    to = "the port that has it" if carriers else "a free port and give that the role"
    yield Fires(
        f"{device.name} is wired to {wired.name}, and the dump {given}{also}.",
        (wired.path("roles"), *(port.path("roles") for port in carriers), device.path("port")),
        (("ports_with_role", float(len(carriers))),),
        advice=f"Give {role} to {wired.name}, or solder {device.name} to {to}.",
        level=Level.WARNING if role in _AT_LEISURE else Level.ERROR,
    ).mended(put_as_wired(craft, sheet, role, wired))


@rule("serial/nothing-wired", Level.WARNING, sheet=True)
def nothing_wired(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """A port carries a role, and no device is wired to it.

    The console needs none. A role whose device is wired to another port is left to
    serial/wired-elsewhere.

    In the air: what the role promises is not there: the craft waits for a position that never
    comes, or the port listens to noise on bare pads.
    Mend: take the role off, or tell the build sheet what is wired there.
    Source: the wiring as the build sheet states it.
    """
    devices = list(sheet.devices)
    wired = {part.port.casefold() for part in devices if part.states("port")}
    served = {part.role() for part in devices if part.states("kind") and part.states("port")}
    unwired = [part for part in devices if part.states("kind") and not part.states("port")]

    def port(part: Port) -> Iterator[Yielded]:
        bare = sorted(part.roles - {"console"} - served)
        if not bare or part.name.casefold() in wired:
            return
        for device in unwired:  # one that may well be on this port
            if device.role() in bare and not device.states("pad"):
                raise NotStated(device.path("port"))
        kept = ", ".join(sorted(part.roles - set(bare))) or "none"
        yield Fires(
            f"Port {part.name} carries {listed(bare)}, and nothing is wired to it.",
            (part.path("roles"),),
            (("roles", float(len(bare))),),
            mend=(Edit(part.path("roles"), kept),),
        )

    yield from each(ports_by_roles(craft), port)


# Roles without which the craft is deaf, or blind where it relies on what they bring.
VITAL_ROLES: Final = ("receiver", "position", "optical_flow")
# Roles that nothing in the air waits for.
_AT_LEISURE: Final = ("flight_log", "camera_control", "range_finder")


def how_grave(roles: Collection[str]) -> Level:
    """An error where the craft is deaf or blind without one of the roles, else a warning."""
    return Level.ERROR if any(role in VITAL_ROLES for role in roles) else Level.WARNING


@rule("serial/pins-swapped", Level.ERROR, sheet=True, over=on_their_ports)
def pins_swapped(craft: Craft, sheet: "Sheet", pair: tuple["Device", Port]) -> Iterator[Yielded]:
    """A port's pins are set to change places and the wires do so already, or neither does.

    A warning where it is none of the receiver, the position and the optical flow. A device on one
    wire has no pins to swap and is not judged.

    In the air: both ends talk on the same wire and listen on the other: nothing is heard.
    Mend: set the swap as the wires are soldered.
    Source: common practice.
    """
    part, port = pair
    if part.wires == "one_wire" or (part.states("one_wire") and part.one_wire):
        return
    alike, swapped = part.wires == "tx_to_tx", port.pins_swapped
    if alike != swapped:
        how = "transmit to transmit" if alike else "transmit to receive"
        yield Fires(
            f"{part.name} is wired {how} to {port.name}, whose pins are "
            f"{'' if swapped else 'not '}set to change places: both ends talk on one wire.",
            (port.path("pins_swapped"), part.path("wires")),
            (("tx_to_tx", float(alike)), ("swapped", float(swapped))),
            mend=(Edit(port.path("pins_swapped"), "on" if alike else "off"),),
            level=how_grave({part.role()}),
        )


@rule("pads/use-without-wire", Level.WARNING, sheet=True)
def use_without_wire(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """A pad is given a use, and nothing is soldered to it.

    A use that is soldered to another pad is left to pads/not-as-soldered, and one that stands on
    two pads, one of them wired, to pads/used-twice.

    An error for a motor and for what measures the pack.

    In the air: the use does nothing: no lights, no buzzer. A motor stands still; off a bare pad the
    pack reads as anything, and nothing warns of an empty one.
    Mend: solder what is missing, or say in the build sheet what is soldered to it; else free the
    pad.
    Source: the wiring as the build sheet states it.
    """
    pads = [pad for pad in pads_by_use(craft) if pad.use != "free"]
    soldered = _soldered(sheet)

    def check(pad: Pad) -> Iterator[Yielded]:
        there = any(same(at, pad.name) for at, _, _ in soldered)
        if not there and not any(_serves(pad.use, use) for _, use, _ in soldered):
            yield _bare(sheet, pad)

    yield from each(pads, check)


@rule("pads/not-as-soldered", Level.WARNING, sheet=True)
def not_as_soldered(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """A wire ends at a pad that the dump gives to something else, or leaves free.

    An error for a motor, for what measures the pack and for a receiver's pulses; and where one
    of these uses is given to a pad to which something else is soldered.

    In the air: with two motors' wires changed about each answers for the other, and the craft flips
    as it leaves the ground; so it does with a motor that gets no signal. A sense wire's pad left
    out, the pack is read off a bare one, and nothing warns of an empty one; a lamp stays dark.
    Mend: give the pad the use that is soldered to it.
    Source: the wiring as the build sheet states it.
    """
    pads = pads_by_use(craft)

    def check(wire: tuple[str, str, str]) -> Iterator[Yielded]:
        at, use, _ = wire
        if not use:  # what it is the sheet does not say, or it needs no pad
            return
        named = [pad for pad in pads if same(pad.name, at)]
        given = named[0].use if named else ""
        if _serves(given, use):
            return
        others = [pad for pad in pads if _serves(pad.use, use) and not same(pad.name, at)]
        if not named:
            craft.settings.need_all("pads", "use", f"pads.{at}.use")
        kind, _, arm = use.partition(" ")
        old = _why_the_sheet(craft, sheet, arm) if kind == _MOTOR else ""
        yield _soldered_otherwise(wire, named[0] if named else None, others, old)

    yield from each(_soldered(sheet), check)


# What is looked at where two facts of the dump speak against one sheet.
SHEET_MAY_BE_OLD: Final = (
    "what the dump says of outputs and of pads agrees, so it may be the build sheet that is old"
)


_PAD_MAY_BE_MISTYPED: Final = (
    "the build sheet has the motor on the dump's output, so it may be the sheet's pad that is wrong"
)


def _why_the_sheet(craft: Craft, sheet: "Sheet", arm: str) -> str:
    """Why it may be the build sheet that has a motor's pad wrong; empty where nothing says so."""
    if told_by_both(craft, sheet, arm):
        return SHEET_MAY_BE_OLD
    own, wired = craft.motors.arms[arm], sheet.motors[arm]
    alike = own.states("output") and wired.states("output") and own.output == wired.output
    return _PAD_MAY_BE_MISTYPED if alike and _pads_of_motor(craft, arm) else ""


def _pads_of_motor(craft: Craft, arm: str) -> list[str]:
    """The pads that the dump gives to an arm's motor; perhaps none."""
    pads = there(craft.pads)
    return [pad.name for pad in pads if pad.states("use") and pad.use == f"{_MOTOR} {arm}"]


def told_by_both(craft: Craft, sheet: "Sheet", arm: str) -> bool:
    """Whether an arm's output and its pad in the dump agree, and neither with the build sheet.

    They agree where the sheet has the pad at that output, or tells of no pad there.
    """
    own, wired = craft.motors.arms[arm], sheet.motors[arm]
    given = _pads_of_motor(craft, arm)
    if not (given and own.states("output") and wired.states("output") and wired.states("pad")):
        return False
    if own.output == wired.output or any(same(at, wired.pad) for at in given):
        return False
    wires = [
        motor.pad
        for motor in there(sheet.motors)
        if motor.states("output") and motor.states("pad") and motor.output == own.output
    ]
    return not wires or any(same(at, one) for at in given for one in wires)


def _serves(given: str, use: str) -> bool:
    """Whether a pad's use is what is soldered to it; the dump may not name a motor's arm."""
    return given in (use, use.split()[0])


def _soldered_otherwise(
    wire: tuple[str, str, str], pad: Pad | None, others: list[Pad], old: str
) -> Fires:
    at, use, path = wire
    said = "is not named by the dump" if pad is None else f"is given to {pad.use}"
    if pad is not None and pad.use == "free":
        said = "is free in the dump"
    also = f"; {use} is given to {listed([other.name for other in others])}" if others else ""
    grave = {use.split()[0], pad.use.split()[0] if pad else ""} & set(_GRAVE_USES)
    senses = use in _SENSES
    takes = pad is not None and pad.use == "free" and not old and not (senses and others)
    edits = [Edit(pad.path("use"), use)] if pad is not None and takes else []
    edits += [Edit(other.path("use"), "free") for other in others if edits]
    return Fires(
        f"Pad {at} has {use} soldered to it, and {said}{also}.",
        (
            *((pad.path("use"),) if pad is not None else ()),
            *(other.path("use") for other in others),
            path,
        ),
        (("pads_with_the_use", float(len(others))),),
        advice=_by_the_wire(at, use, others, bool(old)),
        choice=old or (_drives_it(at, use) if others and edits else ""),
        level=Level.ERROR if grave else Level.WARNING,
        air=_WIRED_ELSEWHERE.get(use.split()[0], ""),
    ).mended(edits)


_SENSES: Final = ("voltage_sense", "current_sense")  # what measures the pack, by a pad of its own
_WIRED_ELSEWHERE: Final = {
    "motor": "it answers for another motor, or gets no signal, and the craft flips as it leaves "
    "the ground.",
    "voltage_sense": "the pack is read off another wire or a bare pad, and nothing warns of an "
    "empty one.",
    "current_sense": "the current is read off another wire or a bare pad: what is left in the "
    "pack is not known.",
    "pulse_input": "the receiver is not heard, and the sticks do nothing.",
    "led_strip": "the lights stay dark.",
    "buzzer": "the buzzer is silent: a craft in the grass is not heard.",
}


def _drives_it(at: str, use: str) -> str:
    """Why a use is not moved in the dump unasked to the pad at which its wire ends."""
    kind = use.partition(" ")[0]
    if kind == _MOTOR:
        return f"with the propellers off, at which pad the wire of {use} ends"
    return f"whether pad {at} drives it: a pad for a signal gives some milliamperes"


def _by_the_wire(at: str, use: str, others: list[Pad], old: bool) -> str:
    if use in _SENSES and not old:
        to = f"solder it to {listed([other.name for other in others])}" if others else "follow it"
        why = (
            "as a rule that pad alone has the divider, and the pack's voltage on another one "
            "breaks the processor"
            if use == "voltage_sense"
            else "as a rule that pad alone measures it"
        )
        return (
            f"Pack off, before it is plugged in again: look where the wire ends, and {to}: {why}. "
            f"Only where the board's papers have it at {at}, give that pad the use."
        )
    if not old:
        return f"Give {at} to {use}, or solder it where that use is."
    return (
        f"Follow the wire from pad {at}: where it is {use}'s give {at} to it, else the build sheet "
        "is old, and is to be corrected."
    )


def _soldered(sheet: "Sheet") -> list[tuple[str, str, str]]:
    """All that is soldered to a pad: the pad, the use, the path. Raises NotStated if nothing is."""
    found = [
        (part.pad, part.pad_use() if part.states("kind") else "", part.path("pad"))
        for part in there(sheet.devices)
        if part.states("pad")
    ]
    found += [
        (motor.pad, f"motor {motor.name}", motor.path("pad"))
        for motor in there(sheet.motors)
        if motor.states("pad")
    ]
    if not found:
        raise NotStated("sheet.devices.NAME.pad")
    return found


def _bare(sheet: "Sheet", pad: Pad) -> Yielded:
    """What to say of a pad without a wire; a lack where the wire's pad is not stated."""
    kind, _, arm = pad.use.partition(" ")
    if kind == "motor":
        motors = [arm] if arm else sheet.motors.names()
        lacking = [name for name in motors if not sheet.motors[name].states("pad")]
        if lacking or not motors:
            return Lacks(
                sheet.motors[lacking[0]].path("pad") if lacking else "sheet.motors.ARM.pad"
            )
    for device in there(sheet.devices):
        on_nothing = not device.states("pad") and not device.states("port")
        if device.states("kind") and device.pad_use() == kind and on_nothing:
            return Lacks(device.path("pad"))
    grave = kind in ("motor", "voltage_sense", "current_sense")
    return Fires(
        f"Pad {pad.name} is given to {pad.use}, and nothing is soldered to it.",
        (pad.path("use"),),
        (("wires", 0.0),),
        advice="Pack off: look whether its wire ends there; solder it, or put it into the build "
        "sheet.",
        level=Level.ERROR if kind in ("motor", "voltage_sense") else Level.WARNING,
        air=_NOTHING_THERE.get(kind, ""),
    ).mended([] if grave else [Edit(pad.path("use"), "free")])


_NOTHING_THERE: Final = {
    "motor": "that motor stands still, and the craft flips as it leaves the ground.",
    "voltage_sense": "off a bare pad the pack reads as anything, and nothing warns of an empty "
    "one.",
    "current_sense": "off a bare pad the current reads as anything: what is left in the pack is "
    "not known.",
    "pulse_input": "no receiver is heard there, and the sticks do nothing.",
    "led_strip": "the lights stay dark.",
    "buzzer": "the buzzer is silent: a craft in the grass is not heard.",
}


# Uses that one pad at most can serve; the first four can bring a craft down (common practice).
_GRAVE_USES: Final = ("motor", "voltage_sense", "current_sense", "pulse_input")
_LIGHT_USES: Final = ("led_strip", "camera_key", "buzzer")


@rule("pads/used-twice", Level.ERROR)
def used_twice(craft: Craft) -> Iterator[Yielded]:
    """One pad is given two uses, or one use that a single pad serves is given to two pads.

    In the air: only one of the two works: a motor may stand still, or the pack's voltage is
    read off the wrong pad.
    Mend: say for each pad the one use that is soldered to it.
    Source: common practice. A second pad for the lights, the buzzer or the camera key is a
    warning.
    """
    uses = _uses(craft)
    for use, times in Counter(uses.values()).items():
        if times > 1 and use != "motor" and use.split()[0] in _GRAVE_USES + _LIGHT_USES:
            same = [name for name, its in uses.items() if its == use]
            yield Fires(
                f"{len(same)} pads are given to {use}: {listed(same)}.",
                tuple(craft.pads[name].path("use") for name in same),
                (("pads", float(len(same))),),
                advice=f"Keep {use} on the pad that it is soldered to.",
                level=Level.WARNING if use in _LIGHT_USES else Level.ERROR,
            )
    yield from _stated_again(craft)


def _stated_again(craft: Craft) -> Iterator[Yielded]:
    """Pads whose use the dump states twice, each time another."""
    uses: dict[str, dict[str, Place | None]] = {}
    for holds, other in craft.settings.repeats:
        if holds.path.startswith("pads.") and holds.path.endswith(".use"):
            said = uses.setdefault(holds.path, {})
            for one in (holds, other):
                if not one.doubt and one.value != "free":
                    said.setdefault(str(one.value), one.place)
    for path, said in uses.items():
        if len(said) > 1:
            yield Fires(
                f"Pad {path.split('.')[1]} is given {len(said)} uses: {listed(list(said))}.",
                (path,),
                (("uses", float(len(said))),),
                advice="Keep the use that is soldered to the pad.",
                places=tuple(place for place in list(said.values())[1:] if place),
            )


# Uses that set the pace of the timer behind the pad. A buzzer, a voltage or a current does not.
_TIMED_USES: Final = ("motor", "pulse_input", "led_strip", "camera_key")
_GROUNDING_USES: Final = ("motor", "pulse_input")  # with one of these the craft does not fly


@rule("pads/timer-shared", Level.ERROR)
def timer_shared(craft: Craft) -> Iterator[Yielded]:
    """Pads that need different paces hang on one timer, which can only run at one.

    Motors, the lights, the camera's key and a pulse train coming in each need a pace of their
    own. Without a motor or a pulse train among them it is a warning.

    In the air: whichever is set up last wins: the motors of that timer stand still or run
    wild, or the lights stay dark.
    Mend: move one of the uses to a pad on another timer.
    Source: common practice: one timer has one clock and one period for all its channels.
    """
    timed = _pads_for(craft, _TIMED_USES)
    if len({_kind(pad) for pad in timed}) < 2:
        return
    if not any(pad.states("timer") for pad in timed):  # the dump has no word for it
        raise NotStated("pads.ID.timer")
    yield from lacking(timed, "timer")
    told = [pad for pad in timed if pad.states("timer")]
    for same in in_groups(told, lambda pad: pad.timer.casefold()).values():
        yield from _at_odds(craft, same)


def _at_odds(craft: Craft, same: list[Pad]) -> Iterator[Yielded]:
    kinds = sorted({_kind(pad) for pad in same}, key=_TIMED_USES.index)
    if len(kinds) < 2:
        return
    in_order = sorted(same, key=lambda pad: kinds.index(_kind(pad)))
    yield Fires(
        f"Timer {same[0].timer} must run at {len(kinds)} paces at once: "
        f"{listed([f'{pad.use} on {pad.name}' for pad in in_order])}.",
        tuple(path for pad in in_order for path in (pad.path("use"), pad.path("timer"))),
        (("pads", float(len(same))), ("paces", float(len(kinds)))),
        advice=_pad_elsewhere(craft, kinds[1:]),
        level=Level.ERROR if kinds[0] in _GROUNDING_USES else Level.WARNING,
    )


def _pad_elsewhere(craft: Craft, uses: list[str]) -> str:
    """Advice what to move, that names the free pads whose timer nothing else runs."""
    pads = [pad for pad in pads_by_use(craft) if pad.states("timer")]
    taken = {pad.timer.casefold() for pad in pads if _kind(pad) in _TIMED_USES}
    free = [pad for pad in pads if pad.use == "free" and pad.timer.casefold() not in taken]
    names = listed([pad.name for pad in free]) if free else ""
    if len(uses) > 1:
        told = f"; free: {names}" if names else ""
        return f"Move {listed(uses)} to pads, each on a timer of its own{told}."
    if names:
        return f"Move {uses[0]} to a free pad on a timer of its own: {names}."
    return f"Move {uses[0]} to a pad on a timer of its own."


@rule("pads/stream-shared", Level.ERROR)
def stream_shared(craft: Craft) -> Iterator[Yielded]:
    """Two pads feed from one stream of memory transfer, which serves one at a time.

    Without a motor or a pulse train among them it is a warning.

    In the air: one of the two gets no command: a motor stands still, at once or as the lights
    come on.
    Mend: move one of them to a pad with a stream of its own.
    Source: common practice: one stream moves one block of memory at a time.
    """
    used = _pads_for(craft, _TIMED_USES)
    if not any(pad.states("dma") for pad in used):
        raise NotStated("pads.ID.dma") if len(used) > 1 else NotApplicable("One pad needs none.")
    told = [pad for pad in used if pad.states("dma")]
    for shared in in_groups(told, lambda pad: pad.dma.casefold()).values():
        if len(shared) > 1:
            grave = any(_kind(pad) in _GROUNDING_USES for pad in shared)
            yield Fires(
                f"Stream {shared[0].dma} serves {len(shared)} pads: "
                f"{listed([f'{pad.use} on {pad.name}' for pad in shared])}.",
                tuple(path for pad in shared for path in (pad.path("dma"), pad.path("use"))),
                (("pads", float(len(shared))),),
                advice="Look at both lines: one may be mistyped. Else move one of the two to a pad "
                "with a stream of its own.",
                level=Level.ERROR if grave else Level.WARNING,
            )


def _kind(pad: Pad) -> str:
    """What a pad is for, without the arm of a motor."""
    return pad.use.split()[0]


RULES = (
    place_twice,
    inversion_mismatch,
    port_not_on_board,
    wired_elsewhere,
    nothing_wired,
    pins_swapped,
    use_without_wire,
    not_as_soldered,
    used_twice,
    timer_shared,
    stream_shared,
)
