"""The screen of `allot`: who goes where and what that changes; or who competes, and what helps."""

from collections.abc import Iterator, Sequence

from cfgaudit.dialects.editor import LineChange
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_lines import change_lines
from cfgaudit.rules.rule import listed
from cfgaudit.work.allot import (
    CONSOLE,
    JOINT,
    Allotment,
    AllotProblem,
    SheetEdit,
    Want,
    Way,
    described,
)

_TITLES = {
    "rate": "A lower rate",
    "inverter": "An inverter",
    "share": "A shared port",
    "usb": "A plug",
    "new-port": "One more port",
    "leave-out": "Do without",
}


def plan_head(screen: Screen, name: str, file: str, allotment: Allotment) -> None:
    """Who it is, and whether all have a port."""
    problem = allotment.problem
    devices = len(problem.wants) - 1
    screen.paragraph(
        f"{name} · {file}: {devices} device{'s want' if devices != 1 else ' wants'} a port, "
        f"{len(problem.ports)} ports",
        indent=0,
    )
    screen.blank()
    if allotment.competing is None:
        screen.line(Piece("Every device has a port", "strong"))
    else:
        who, places = allotment.competing
        some = f"for {listed(list(places))}" if places else "and no port can serve it"
        names = _names(who)
        verb = "compete" if len(who) > 1 or JOINT in who[0] else "wants a port,"
        screen.line(Piece("NOT POSSIBLE", "error"))
        screen.paragraph(f"{names} {verb} {some}.")


def _names(who: Sequence[str]) -> str:
    return listed([one.replace(JOINT, " with ") for one in who])


def plan_table(screen: Screen, allotment: Allotment) -> None:
    """A row a device: its port, whether it moves, what it asks."""
    if allotment.competing is not None:
        screen.blank()
        screen.line(Piece("As far as it goes", "strong"))
    screen.table([_row(allotment, want) for want in allotment.problem.wants])
    if allotment.free:
        screen.paragraph(f"Nobody needs {listed(list(allotment.free))}.")
    same: dict[str, list[str]] = {}
    for aside in allotment.problem.asides:
        same.setdefault(aside.why, []).append(aside.name)
    for why, names in same.items():
        screen.paragraph(f"Left aside: {listed(names)} ({why}).")


def _row(allotment: Allotment, want: Want) -> tuple[Piece | str, ...]:
    port = allotment.placed.get(want.name)
    if port is None:
        how = Piece("no port", "error")
    elif want.port == port:
        how = Piece("stays", "quiet")
    else:
        how = Piece(f"from {want.port}" if want.port else "new", "strong")
    beside = [pair for pair in allotment.shared if want.name in pair]
    asks = "" if want.name == CONSOLE else described(want)
    if beside:
        asks += f"; shared with {next(n for n in beside[0] if n != want.name)}"
    return want.name, Piece(port or "-", "strong"), how, asks


def plan_ways(screen: Screen, ways: Sequence[Way]) -> None:
    """What would free a port, each title once."""
    if not ways:
        return
    screen.blank()
    screen.line(Piece("What would free one", "strong"))
    for kind, title in _TITLES.items():
        for number, way in enumerate(way for way in ways if way.kind == kind):
            says = way.says.removeprefix("one more port ").removeprefix("do without ")
            rest = f" ({way.left} still without a port then)" if way.left else ""
            screen.paragraph(f"{says}{rest}.", label=title if number == 0 else "", hang=16)


def plan_edits(
    screen: Screen, edits: Sequence[SheetEdit], changes: Sequence[LineChange], unsaid: Sequence[str]
) -> None:
    """The edits of sheet and dump."""
    if edits:
        screen.blank()
        screen.line(Piece("In the build sheet, once it is soldered so", "strong"))
        for edit in edits:
            where = f"  # {edit.place}, was {edit.old}" if edit.place else ""
            screen.line("    ", f'{edit.path} = "{edit.new}"{where}')
    change_lines(screen, changes, (), can_write=False)
    for text in unsaid:
        screen.paragraph(f"({text}.)", indent=4)


def plan_why(screen: Screen, problem: AllotProblem) -> None:
    """For every device, why each port that can't serve it can't."""
    screen.blank()
    screen.line(Piece("Why not", "strong"))
    for want in problem.wants:
        screen.line("  ", Piece(want.name, "strong"))
        rows = list(_barred(problem, want))
        for ports, says in rows:
            screen.paragraph(f"{says}.", label=ports, indent=4, hang=max(8, len(ports) + 2))
        if not rows:
            screen.paragraph("every port would do.", indent=4)


def _barred(problem: AllotProblem, want: Want) -> Iterator[tuple[str, str]]:
    """Ports with the same reasons together."""
    same: dict[str, list[str]] = {}
    for port in problem.ports:
        bars = problem.bars(want.name, port)
        if bars:
            same.setdefault("; ".join(bar.says for bar in bars), []).append(port)
    for says, ports in same.items():
        yield ", ".join(ports), says


def plan_lacks(screen: Screen, problem: AllotProblem, listed_all: bool) -> None:
    """What could not be looked at, for the sheet does not tell."""
    lacks = problem.lacks
    if not lacks:
        return
    screen.blank()
    count = len(lacks)
    what = "one thing" if count == 1 else f"{count} things"
    more = "" if listed_all else " (--why lists them)"
    screen.paragraph(
        f"The sheet does not tell {what} that could stand in the way{more}; the plan takes for "
        "granted that none does.",
        indent=0,
    )
    if listed_all:
        for path in lacks:
            screen.line("    ", path.removeprefix("sheet."))
