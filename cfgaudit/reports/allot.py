"""The screen of `allot`: who goes where and what that changes; or who competes, and what helps.

Machine output, version 1: the JSON of allot."""

from collections.abc import Iterator, Sequence
from typing import Any

from cfgaudit import __version__
from cfgaudit.dialects.editor import LineChange
from cfgaudit.reports.data import VERSION
from cfgaudit.reports.lines import change_lines, files_json
from cfgaudit.reports.screen import Piece, Screen
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


def allot_json(
    names: tuple[str, str | None],
    allotment: Allotment,
    ways: Sequence[Way],
    edits: Sequence[SheetEdit],
    changes: Sequence[LineChange],
    unsaid: Sequence[str],
) -> dict[str, Any]:
    """The whole output of allot; `names` are the sheet's and the dump's."""
    problem = allotment.problem
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "build": names[0],
        "dump": names[1],
        "possible": allotment.competing is None,
        "ports": list(problem.ports),
        "devices": [_device(allotment, want) for want in problem.wants if want.name != CONSOLE],
        "console": allotment.placed.get(CONSOLE),
        "shared": [{"receiver": one, "telemetry": other} for one, other in allotment.shared],
        "free": list(allotment.free),
        "without": [{"name": aside.name, "why": aside.why} for aside in problem.asides],
        "competing": _competing(allotment),
        "ways": [_way(way) for way in ways],
        "lacks": list(problem.lacks),
        "sheet_edits": [_edit(edit) for edit in edits],
        "files": files_json(changes, ()),
        "unsaid": list(unsaid),
    }


def _competing(allotment: Allotment) -> dict[str, Any] | None:
    if allotment.competing is None:
        return None
    who, places = allotment.competing
    return {"who": [name for one in who for name in one.split(JOINT)], "ports": list(places)}


def _way(way: Way) -> dict[str, Any]:
    return {
        "kind": way.kind,
        "says": way.says,
        "devices": list(way.devices),
        "port": way.port or None,
        "left": way.left,
    }


def _edit(edit: SheetEdit) -> dict[str, Any]:
    return {
        "path": edit.path,
        "old": edit.old or None,
        "new": edit.new,
        "file": edit.place.file if edit.place else None,
        "line": edit.place.line if edit.place else None,
    }


def _device(allotment: Allotment, want: Want) -> dict[str, Any]:
    bars = {port: allotment.problem.bars(want.name, port) for port in allotment.problem.ports}
    return {
        "name": want.name,
        "role": want.role or None,
        "rate": want.rate,
        "framing": want.framing or None,
        "inverted": want.inverted,
        "one_wire": want.one_wire,
        "wired": want.port or None,
        "port": allotment.placed.get(want.name),
        "excluded": [
            {"port": port, "reasons": [{"kind": bar.kind, "says": bar.says} for bar in some]}
            for port, some in bars.items()
            if some
        ],
    }
