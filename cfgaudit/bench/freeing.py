"""What would free a port where there are too few: each way is tried out before it is told."""

from collections.abc import Iterator
from typing import NamedTuple

from cfgaudit.bench.allot import JOINT, Allotment, Graph, Problem, graph_of
from cfgaudit.bench.fitting import described, lower_rate
from cfgaudit.bench.matching import Competing, deficiency
from cfgaudit.bench.wants import CONSOLE, Want, shareable_at
from cfgaudit.craft.sheet import Sheet
from cfgaudit.rules.wording import grouped

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
    problem: Problem, competing: Competing, graph: Graph, sheet: Sheet
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
                yield from _slower(want, port, left, sheet)
            elif kinds == {"inverter"}:
                says = f"an inverter in {who}'s wire: then {port} serves it"
                yield Way("inverter", says, left, (who,), port)


def _slower(want: Want, port: str, left: int, sheet: Sheet) -> Iterator[Way]:
    rate = lower_rate(want, sheet.ports[port])
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


def _by_more(problem: Problem, competing: Competing, graph: Graph) -> Iterator[Way]:
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
