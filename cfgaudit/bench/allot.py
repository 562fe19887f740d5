"""Devices to ports so that every constraint holds; or who competes for too few of them."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Final, NamedTuple

from cfgaudit.bench.fitting import Bar, Fit, fit
from cfgaudit.bench.matching import (
    Competing,
    best_matching,
    deficiency,
    smallest_competing,
)
from cfgaudit.bench.wants import (
    CONSOLE,
    CONSOLE_ROLE,
    Aside,
    Want,
    lacking,
    wants_of,
    why_no_sharing,
)
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.sheet import Sheet

Graph = Mapping[str, tuple[str, ...]]
Pairs = tuple[tuple[str, str], ...]  # (receiver, telemetry) that share a port
_MOST_CHOICES: Final = 64
JOINT: Final = " + "  # between two who share a port


class Problem(NamedTuple):
    """Who wants a port, which ports there are, and how each goes with each."""

    wants: tuple[Want, ...]
    ports: tuple[str, ...]
    fits: Mapping[str, Mapping[str, Fit]]  # by who, then by port
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

    problem: Problem
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

    @property
    def moves(self) -> tuple[Want, ...]:
        """Those who go elsewhere than where they are wired."""
        return tuple(
            want
            for want in self.problem.wants
            if want.port and self.placed.get(want.name, want.port) != want.port
        )


def problem_of(sheet: Sheet, console: str = "") -> Problem:
    """What a sheet asks; `console` is the port that the dump has the console on, if any.

    Raises NotStated where the sheet has no device, or no port.
    """
    names = sheet.ports.names()
    if not names:
        raise NotStated("sheet.ports.ID")
    wants, asides = wants_of(sheet)
    usb = [name for name in names if sheet.ports[name].states("kind") and _is(sheet, name, "usb")]
    keep = console if console in names and not (usb and console not in usb) else ""
    wants = (*wants, Want(CONSOLE, CONSOLE_ROLE, port=keep or (usb[0] if usb else "")))
    fits = {w.name: {name: fit(w, sheet.ports[name]) for name in names} for w in wants}
    software = frozenset(
        name for name in names if sheet.ports[name].states("kind") and _is(sheet, name, "software")
    )
    return Problem(wants, tuple(names), fits, asides, software)


def _is(sheet: Sheet, port: str, kind: str) -> bool:
    return sheet.ports[port].kind == kind


def graph_of(problem: Problem, shared: Pairs) -> Graph:
    """The ports that would do for each; two who share count as one."""
    who = [want.name for want in problem.wants]
    for receiver, telemetry in shared:
        who[who.index(receiver)] = f"{receiver}{JOINT}{telemetry}"
        who.remove(telemetry)
    return {
        one: tuple(port for port in problem.ports if not problem.bars(one, port)) for one in who
    }


def choices(problem: Problem) -> Iterator[Pairs]:
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


def allot(problem: Problem) -> Allotment:
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


def _placed(problem: Problem, shared: Pairs) -> dict[str, str]:
    graph = graph_of(problem, shared)
    short = deficiency(graph) > 0
    rank = {one: min(number, 99) for number, one in enumerate(graph)}

    def cost(one: str, port: str) -> tuple[int, ...]:
        names = one.split(JOINT)
        # Where some must go without, those who come first in importance get a port.
        return (rank[one] * short, _moved(problem, names, port), int(port in problem.software))

    found = best_matching(graph, cost)
    return {name: port for one, port in found.items() for name in one.split(JOINT)}


def _moved(problem: Problem, names: Sequence[str], port: str) -> int:
    return sum(problem.want(name).port not in ("", port) for name in names)


def _score(problem: Problem, shared: Pairs, placed: Mapping[str, str]) -> tuple[int, ...]:
    return (
        len(problem.wants) - len(placed),
        sum(_moved(problem, (name,), port) for name, port in placed.items()),
        len(shared),
        len({port for port in placed.values() if port in problem.software}),
    )
