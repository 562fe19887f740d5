"""Devices to ports so that every constraint holds; or who competes, and what would free a port."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, product
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.serial import (
    RECEIVER_LINKS,
    STANDARD_BAUDS,
    allowed_error,
    nearest_divider,
    receiver_link,
)
from cfgaudit.reading.text import Place
from cfgaudit.rules.rule import grouped, usual_limits
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import Port
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.sheet import PORT_ROLES, Device, SheetPort
from cfgaudit.work.matching import Competing, Graph, best_matching, deficiency, smallest_competing

CONSOLE: Final = "the console"  # it asks for a port like a device; no device is called so
CONSOLE_ROLE: Final = "console"
_SELDOM: Final = ("camera", "flight_log", "esc_reports")  # these mostly do without a port
_SHARERS: Final = ("receiver", "telemetry")


class Want(NamedTuple):
    """What one device asks of a port. None, or an empty text, where the sheet does not tell.

    `rate` is in Bd; `by_link` says that rate, framing and level are its link's own, which nobody
    can choose; `port` is where it is wired now, and `wires` how.
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
    wires: str = ""

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
    wants = [want_of(part) for part in sheet.devices if not asides[part.name]]
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


def want_of(part: Device) -> Want:
    """What a device asks of a port; of a receiver what its link is, where the sheet tells that."""
    protocol = part.protocol if part.states("protocol") else ""
    link = RECEIVER_LINKS.get(protocol) if part.kind == "receiver" else None
    rate = part.rate if part.states("rate") else float(link.baud) if link else None
    framing = part.framing if part.states("framing") else link.framing if link else ""
    inverted = part.inverted if part.states("inverted") else link.inverted if link else None
    one_wire = part.one_wire if part.states("one_wire") else None
    port = part.port if part.states("port") else ""
    wires = part.wires if part.states("wires") else ""
    one_wire = True if one_wire is None and wires == "one_wire" else one_wire
    return Want(
        part.name, part.role(), rate, framing, inverted, one_wire, protocol, link is not None,
        port, wires,
    )  # fmt: skip


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


_ROUNDING: Final = 1e-9
_ANY_FRAMING: Final = ("8N1", "8E2")  # one of each allowed error, where none is stated
_ANY_SAMPLING: Final = (16, 8)


class Bar(NamedTuple):
    """One reason why a port can't serve a device.

    `kind` is one of usb, rate-high, rate-off, inverter, one-wire.
    """

    kind: str
    says: str


class PortFit(NamedTuple):
    """What stands in the way, and the paths without which something could not be looked at."""

    bars: tuple[Bar, ...] = ()
    lacks: tuple[str, ...] = ()


def fit(want: Want, port: SheetPort, *, software: bool = False) -> PortFit:
    """How a port goes with what a device asks for. What is not stated is no bar, but is told.

    `software` says that software times its bits, whatever the sheet says of its kind.
    """
    software = software or (port.states("kind") and port.kind == "software")
    if port.states("kind") and port.kind == "usb":
        if want.name == CONSOLE:
            return PortFit()
        return PortFit((Bar("usb", "it is the USB plug, and nothing can be soldered to it"),))
    if want.name == CONSOLE:
        return PortFit()
    parts = [_kind(port), _highest(want, port, software), _divided(want, port, software)]
    parts += [_level(want, port), _one_wire(want, port)]
    bars = tuple(bar for part in parts for bar in part.bars)
    lacks = tuple(dict.fromkeys(path for part in parts for path in part.lacks))
    return PortFit(bars, lacks)


def _kind(port: SheetPort) -> PortFit:
    return PortFit() if port.states("kind") else PortFit(lacks=(port.path("kind"),))


def _highest(want: Want, port: SheetPort, software: bool) -> PortFit:
    if want.rate is None:
        return PortFit(lacks=(want.path("rate"),))
    most = usual_limits()["serial.software_most"].value
    is_stated = port.states("highest_rate")
    if software and want.rate > most and not (is_stated and port.highest_rate < want.rate):
        says = f"software times its bits, which goes up to {grouped(most)} Bd"
        return PortFit((Bar("rate-high", f"{says}, and {grouped(want.rate)} Bd is wanted"),))
    if not is_stated:
        return PortFit(lacks=(port.path("highest_rate"),))
    if want.rate <= port.highest_rate:
        return PortFit()
    says = f"it reaches {grouped(port.highest_rate)} Bd, and {grouped(want.rate)} Bd is wanted"
    return PortFit((Bar("rate-high", says),))


def _divided(want: Want, port: SheetPort, software: bool) -> PortFit:
    """Whether a UART's divider comes near enough; a port timed by software has none."""
    if want.rate is None or software:
        return PortFit()
    if not port.states("clock"):
        return PortFit(lacks=(port.path("clock"),))
    samplings = (port.oversampling,) if port.states("oversampling") else _ANY_SAMPLING
    framings = (want.framing,) if want.framing else _ANY_FRAMING
    bars = [
        _off(want.rate, port.clock, sampling, framing)
        for sampling, framing in product(samplings, framings)
    ]
    if all(bars):
        return PortFit((Bar("rate-off", bars[0]),))
    if not any(bars):
        return PortFit()
    lacks = [port.path("oversampling")] if len(samplings) > 1 else []
    return PortFit(lacks=(*lacks, *([want.path("framing")] if len(framings) > 1 else [])))


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


def _level(want: Want, port: SheetPort) -> PortFit:
    if want.inverted is False or (port.states("inverter") and port.inverter):
        return PortFit()
    if want.inverted is None:
        return PortFit(lacks=(want.path("inverted"),))
    if not port.states("inverter"):
        return PortFit(lacks=(port.path("inverter"),))
    says = "the device's idle level is low, and the port has no inverter"
    return PortFit((Bar("inverter", says),))


def _one_wire(want: Want, port: SheetPort) -> PortFit:
    if want.one_wire is False or (port.states("one_wire") and port.one_wire):
        return PortFit()
    if want.one_wire is None:
        return PortFit(lacks=(want.path("one_wire"),))
    if not port.states("one_wire"):
        return PortFit(lacks=(port.path("one_wire"),))
    says = "the device talks and listens on one wire, and the port can't"
    return PortFit((Bar("one-wire", says),))


def lower_rate(want: Want, port: SheetPort, *, software: bool = False) -> float | None:
    """The highest usual rate in Bd below the wanted one at which a port would serve a device.

    None where the link's own rate is wanted, or no lower one helps.
    """
    if want.by_link or want.rate is None:
        return None
    for baud in reversed(STANDARD_BAUDS):
        slower = want._replace(rate=float(baud))
        if baud < want.rate and not fit(slower, port, software=software).bars:
            return float(baud)
    return None


def described(want: Want) -> str:
    """What a device asks of a port, in a few words: `100,000 Bd 8E2, inverted, one wire`."""
    rate = "a rate not stated" if want.rate is None else f"{grouped(want.rate)} Bd"
    parts = [f"{rate} {want.framing}".rstrip()]
    parts += ["inverted"] if want.inverted else []
    parts += ["one wire"] if want.one_wire else []
    return ", ".join(parts)


Pairs = tuple[tuple[str, str], ...]  # (receiver, telemetry) that share a port
_MOST_CHOICES: Final = 64
JOINT: Final = " + "  # between two who share a port


class AllotProblem(NamedTuple):
    """Who wants a port, which ports there are, and how each goes with each."""

    wants: tuple[Want, ...]
    ports: tuple[str, ...]
    fits: Mapping[str, Mapping[str, PortFit]]  # by who, then by port
    asides: tuple[Aside, ...]
    software: frozenset[str]

    def want(self, name: str) -> Want:
        """One of those who want a port."""
        return next(want for want in self.wants if want.name == name)

    def bars(self, who: str, port: str) -> tuple[Bar, ...]:
        """What stands in the way between one, or two who share, and a port."""
        return tuple(bar for name in who.split(JOINT) for bar in self.fits[name][port].bars)

    @property
    def lacks(self) -> tuple[str, ...]:
        """The paths of the sheet without which something could not be looked at."""
        told = [path for want in self.wants if want.name != CONSOLE for path in lacking(want)]
        told += [path for row in self.fits.values() for one in row.values() for path in one.lacks]
        return tuple(dict.fromkeys(told))


class Allotment(NamedTuple):
    """Who goes on which port. `competing` is None where everybody has one."""

    problem: AllotProblem
    placed: Mapping[str, str]
    shared: Pairs
    competing: Competing | None

    @property
    def left_out(self) -> tuple[str, ...]:
        """Those without a port."""
        return tuple(w.name for w in self.problem.wants if w.name not in self.placed)

    @property
    def free(self) -> tuple[str, ...]:
        """The ports that nobody needs."""
        taken = set(self.placed.values())
        return tuple(port for port in self.problem.ports if port not in taken)


def problem_of(sheet: Sheet, dump: Settings | None = None) -> AllotProblem:
    """What a sheet asks. A dump tells what the sheet does not.

    It tells on which port the console is, where a device is whose port the sheet lacks, and which
    ports software times. A console on a port that the sheet does not list, such as a plug, keeps
    it. Raises NotStated where the sheet has no device, or no port.
    """
    names = sheet.ports.names()
    if not names:
        raise NotStated("sheet.ports.ID")
    wants, asides = wants_of(sheet)
    craft = Craft(dump or Settings())
    wants = tuple(_where_the_dump_has_it(want, wants, craft, names) for want in wants)
    console = console_of(craft.settings)
    usb = [name for name in names if sheet.ports[name].states("kind") and _is(sheet, name, "usb")]
    if console and console not in names and not usb:
        asides = (*asides, Aside(CONSOLE, f"the dump has it on {console}, no port of the sheet"))
    else:
        keep = console if console in names and not (usb and console not in usb) else ""
        wants = (*wants, Want(CONSOLE, CONSOLE_ROLE, port=keep or (usb[0] if usb else "")))
    software = frozenset(name for name in names if _by_software(sheet, craft, name))
    fits = {
        w.name: {name: fit(w, sheet.ports[name], software=name in software) for name in names}
        for w in wants
    }
    return AllotProblem(wants, tuple(names), fits, asides, software)


def _by_software(sheet: Sheet, craft: Craft, name: str) -> bool:
    """Whether software times a port's bits, by the sheet, else by the dump."""
    if sheet.ports[name].states("kind"):
        return _is(sheet, name, "software")
    part = craft.ports[name]
    return part.states("software_driven") and part.software_driven


def _where_the_dump_has_it(
    want: Want, wants: Sequence[Want], craft: Craft, names: Sequence[str]
) -> Want:
    """A device with the port that the dump has its role on, where the sheet has none.

    Two devices of one role, or two ports that carry it, leave it open.
    """
    if want.port or not want.role or sum(other.role == want.role for other in wants) > 1:
        return want
    ports = [
        name
        for name in craft.ports.names()
        if craft.ports[name].states("roles") and want.role in craft.ports[name].roles
    ]
    return want._replace(port=ports[0]) if len(ports) == 1 and ports[0] in names else want


def _is(sheet: Sheet, port: str, kind: str) -> bool:
    return sheet.ports[port].kind == kind


def graph_of(problem: AllotProblem, shared: Pairs) -> Graph:
    """The ports that would do for each; two who share count as one."""
    who = [want.name for want in problem.wants]
    for receiver, telemetry in shared:
        who[who.index(receiver)] = f"{receiver}{JOINT}{telemetry}"
        who.remove(telemetry)
    return {
        one: tuple(port for port in problem.ports if not problem.bars(one, port)) for one in who
    }


def choices(problem: AllotProblem) -> Iterator[Pairs]:
    """Every way to let telemetry share with receivers, none at all first."""
    pairs = [
        (receiver.name, telemetry.name)
        for receiver in problem.wants
        for telemetry in problem.wants
        if not why_no_sharing(receiver, telemetry)
    ]
    told = 0
    for size in range(len(pairs) + 1):
        for some in combinations(pairs, size):
            names = [name for pair in some for name in pair]
            if len(set(names)) == len(names) and told < _MOST_CHOICES:
                told += 1
                yield some


def allot(problem: AllotProblem) -> Allotment:
    """The best plan: as many as can be with a port, as few moved and as few sharing as can be.

    Then hardware goes before software, and the sheet's order settles what is left. Raises
    ModuleNotFoundError without networkx.
    """
    best: tuple[tuple[int, ...], Pairs, dict[str, str]] | None = None
    for shared in choices(problem):
        placed = _placed(problem, shared)
        score = _score(problem, shared, placed)
        if best is None or score < best[0]:
            best = score, shared, placed
    assert best is not None  # not to share is always one of the choices
    _, shared, placed = best
    return Allotment(problem, placed, shared, smallest_competing(graph_of(problem, shared)))


def _placed(problem: AllotProblem, shared: Pairs) -> dict[str, str]:
    graph = graph_of(problem, shared)
    short = deficiency(graph) > 0
    rank = {one: min(number, 99) for number, one in enumerate(graph)}

    def cost(one: str, port: str) -> tuple[int, ...]:
        names = one.split(JOINT)
        # Where some must go without, those who come first in importance get a port.
        return (rank[one] * short, _moved(problem, names, port), int(port in problem.software))

    found = best_matching(graph, cost)
    return {name: port for one, port in found.items() for name in one.split(JOINT)}


def _moved(problem: AllotProblem, names: Sequence[str], port: str) -> int:
    return sum(problem.want(name).port not in ("", port) for name in names)


def _score(problem: AllotProblem, shared: Pairs, placed: Mapping[str, str]) -> tuple[int, ...]:
    return (
        len(problem.wants) - len(placed),
        sum(_moved(problem, (name,), port) for name, port in placed.items()),
        len(shared),
        len({port for port in placed.values() if port in problem.software}),
    )


_NEW_PORT = "\0new"  # no port of a sheet is called so


class Way(NamedTuple):
    """One way to free a port, and how many would still be left without one after it.

    `kind` is one of rate, inverter, share, leave-out, new-port, usb.
    """

    kind: str
    says: str
    left: int
    devices: tuple[str, ...]
    port: str = ""


def ways_of(allotment: Allotment, sheet: Sheet) -> tuple[Way, ...]:
    """Every single change that lets more have a port; none where all have one."""
    if allotment.competing is None:
        return ()
    graph = graph_of(allotment.problem, allotment.shared)
    found = [
        *_on_other_ports(allotment.problem, allotment.competing, graph, sheet),
        *_by_sharing(allotment, graph),
        *_by_more(allotment.problem, allotment.competing, graph),
    ]
    short = deficiency(graph)
    return tuple(way for way in found if way.left < short)


def _on_other_ports(
    problem: AllotProblem, competing: Competing, graph: Graph, sheet: Sheet
) -> Iterator[Way]:
    for who in competing.who:
        if JOINT in who or who == CONSOLE:
            continue
        want = problem.want(who)
        for port in problem.ports:
            if port in graph[who]:
                continue
            left = deficiency({**graph, who: (*graph[who], port)})
            kinds = {bar.kind for bar in problem.bars(who, port)}
            if kinds <= {"rate-high", "rate-off"}:
                yield from _slower(want, port, left, sheet, port in problem.software)
            elif kinds == {"inverter"}:
                says = f"an inverter in {who}'s wire: then {port} serves it"
                yield Way("inverter", says, left, (who,), port)


def _slower(want: Want, port: str, left: int, sheet: Sheet, software: bool) -> Iterator[Way]:
    rate = lower_rate(want, sheet.ports[port], software=software)
    if rate is not None:
        says = (
            f"{want.name} at {grouped(rate)} Bd, if its messages still fit in: then {port} "
            "serves it"
        )
        yield Way("rate", says, left, (want.name,), port)


def _by_sharing(allotment: Allotment, graph: Graph) -> Iterator[Way]:
    problem = allotment.problem
    sharing = {name for pair in allotment.shared for name in pair}
    for receiver in problem.wants:
        for telemetry in problem.wants:
            rate = shareable_at(receiver, telemetry)
            if rate is None or sharing & {receiver.name, telemetry.name}:
                continue
            # At the receiver's own rate telemetry goes wherever the receiver goes.
            fewer = {who: ports for who, ports in graph.items() if who != telemetry.name}
            says = (
                f"{telemetry.name} at {grouped(rate)} Bd: then it can go out on "
                f"{receiver.name}'s port, whose way back is free"
            )
            yield Way("share", says, deficiency(fewer), (telemetry.name, receiver.name))


def _by_more(problem: AllotProblem, competing: Competing, graph: Graph) -> Iterator[Way]:
    for who in competing.who:
        names = tuple(who.split(JOINT))
        more = deficiency({**graph, who: (*graph[who], _NEW_PORT)})
        if who == CONSOLE:
            yield Way("usb", "a USB plug for the console", more, names)
            continue
        asks = " and ".join(described(problem.want(name)) for name in names)
        yield Way("new-port", f"one more port for {' and '.join(names)}: {asks}", more, names)
    for who in competing.who:
        if who != CONSOLE:
            names = tuple(who.split(JOINT))
            fewer = {one: ports for one, ports in graph.items() if one != who}
            says = f"do without {' and '.join(names)}"
            yield Way("leave-out", says, deficiency(fewer), names)


class SheetEdit(NamedTuple):
    """A device's new port; `old` is empty, and `place` None, where none was stated."""

    device: str
    old: str
    new: str
    place: Place | None

    @property
    def path(self) -> str:
        """The key in the sheet."""
        return f"devices.{self.device}.port"


def sheet_edits(allotment: Allotment, sheet: Settings) -> tuple[SheetEdit, ...]:
    """The edits that the build sheet would take."""
    found = []
    for want in allotment.problem.wants:
        new = allotment.placed.get(want.name, "")
        if want.name != CONSOLE and new and new != want.port:
            stated = sheet.stated.get(want.path("port"))
            found.append(SheetEdit(want.name, want.port, new, stated.place if stated else None))
    return tuple(found)


def dump_wants(allotment: Allotment, settings: Settings) -> Mapping[str, Value]:
    """What the dump must state: each port's roles, and what those that carry something ask.

    A role that no device of the sheet has stays beside one that stays, and on a port that the plan
    gives nobody, so that nothing goes that the sheet does not tell of. It goes where what it shared
    the port with does: it hung on the same wires.
    """
    craft = Craft(settings)
    wants = {want.name: want for want in allotment.problem.wants}
    moved = {wants[name].role for name in allotment.placed} - {"", CONSOLE_ROLE}
    named = dict.fromkeys((*craft.ports.names(), *allotment.placed.values()))
    found: dict[str, Value] = {}
    for port in named:
        part = craft.ports[port]
        mine = [wants[name] for name, at in allotment.placed.items() if at == port]
        roles = frozenset(want.role for want in mine if want.role)
        before = part.roles if part.states("roles") else frozenset()
        if mine and roles <= before:
            roles = before - (moved - roles)
        elif not mine:
            known = port in allotment.problem.ports
            was_shared = known and before & moved
            roles = before & {CONSOLE_ROLE} if was_shared else before
        if (mine or part.states("roles")) and not (part.states("roles") and part.roles == roles):
            found[part.path("roles")] = roles
        for want in mine:
            if want.role:
                found |= as_it_asks(want, part, stays=want.port in ("", port))
    return found


def kept_roles(
    allotment: Allotment, settings: Settings, wanted: Mapping[str, Value]
) -> Iterator[tuple[str, str]]:
    """Each port that the plan gives nobody and a role that stays on it: no device is wired there.

    `wanted` is what the dump must state.
    """
    craft = Craft(settings)
    for name in allotment.free:
        part = craft.ports[name]
        if part.states("roles") and part.path("roles") not in wanted:
            yield from ((name, role) for role in sorted(part.roles - {CONSOLE_ROLE}))


def as_it_asks(want: Want, port: Port, *, stays: bool) -> dict[str, Value]:
    """Rate, level and wires of a port as its device asks for them, where the sheet tells.

    A device that `stays` keeps its wires, crossed ones too; one that moves is soldered anew, the
    usual way.
    """
    found: dict[str, Value] = {}
    if want.rate is not None:
        found[port.rate_path(want.role)] = want.rate
    if want.inverted is not None:
        found[port.path("inverted")] = want.inverted
    if want.one_wire is not None:
        found[port.path("half_duplex")] = want.one_wire
    if not want.one_wire and (want.wires or (not stays and port.states("pins_swapped"))):
        found[port.path("pins_swapped")] = stays and want.wires == "tx_to_tx"
    return found


def console_of(settings: Settings) -> str:
    """The port that the dump has the console on; empty where it names none."""
    craft = Craft(settings)
    for name in craft.ports.names():
        part = craft.ports[name]
        if part.states("roles") and CONSOLE_ROLE in part.roles:
            return name
    return ""
