"""What `allot` tells: who goes where, or who competes and what helps; screen and data."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from cfgaudit.craft.sheet import Sheet
from cfgaudit.dialects.editor import LineChange
from cfgaudit.reports.data import head, spot_json
from cfgaudit.reports.lines import files_json, typed_changes
from cfgaudit.reports.screen import Piece, Screen, named_in
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


class AllotReport(NamedTuple):
    """A plan, what would free a port where there are too few, and what it changes."""

    names: tuple[str, str | None]  # the sheet's file and the dump's
    sheet: Sheet
    plan: Allotment
    ways: Sequence[Way]
    edits: Sequence[SheetEdit] = ()
    changes: Sequence[LineChange] = ()
    unsaid: Sequence[str] = ()  # what the dump has no line for
    kept: Sequence[tuple[str, str]] = ()  # a port, and a role on it that no device has


def allot_screen(report: AllotReport, width: int, *, why: bool) -> Screen:
    """Who goes where, or who competes; with `why` also why not elsewhere."""
    screen = Screen(width)
    who = report.sheet.who
    name = who.name if who.states("name") else "this craft"
    _head_lines(screen, name, report.names[0], report.plan)
    _way_lines(screen, report.ways)
    _plan_table(screen, report.plan)
    _edit_lines(screen, report)
    if why:
        _why_not_lines(screen, report.plan.problem)
    _lack_lines(screen, report.plan.problem, listed_all=why)
    return screen


def _head_lines(screen: Screen, name: str, file: str, allotment: Allotment) -> None:
    """Who it is, and whether all have a port."""
    problem = allotment.problem
    devices = sum(want.name != CONSOLE for want in problem.wants)
    screen.say(
        f"{name} · {file}: {devices} device{'s want' if devices != 1 else ' wants'} a port, "
        f"{len(problem.ports)} ports"
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
        if CONSOLE in allotment.left_out:
            screen.paragraph(
                "As far as it goes, the plan leaves NO PORT for the console: with it in the craft "
                "no setting could be changed any more."
            )


def _names(who: Sequence[str]) -> str:
    return listed([one.replace(JOINT, " with ") for one in who])


def _plan_table(screen: Screen, allotment: Allotment) -> None:
    """A row a device: its port, whether it moves, what it asks."""
    if allotment.competing is not None:
        screen.heading("As far as it goes")
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


def _way_lines(screen: Screen, ways: Sequence[Way]) -> None:
    """What would free a port, each title once."""
    if not ways:
        return
    screen.heading("What would free one")
    for kind, title in _TITLES.items():
        told = []
        for way in (way for way in ways if way.kind == kind):
            says = way.says.removeprefix("one more port ").removeprefix("do without ")
            told.append(
                f"{says} ({way.left} still without a port then)." if way.left else f"{says}."
            )
        screen.labelled(title, told, hang=16)


def _edit_lines(screen: Screen, report: AllotReport) -> None:
    """The edits of sheet and dump."""
    if report.edits:
        screen.heading("In the build sheet, once it is soldered so")
        for edit in report.edits:
            where = f"  # {edit.place}, was {edit.old}" if edit.place else ""
            screen.line("    ", f'{edit.path} = "{edit.new}"{where}')
    typed_changes(screen, report.changes, (), can_write=False)
    for text in report.unsaid:
        screen.paragraph(f"({text}.)", indent=4)
    for port, role in report.kept:
        screen.paragraph(
            f"{port} keeps {role}, which no device of the sheet has there: tell the sheet what is "
            "wired, or take the role off. `check` warns of it."
        )


def _why_not_lines(screen: Screen, problem: AllotProblem) -> None:
    """For every device, why each port that can't serve it can't."""
    screen.heading("Why not")
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


def _lack_lines(screen: Screen, problem: AllotProblem, listed_all: bool) -> None:
    """What could not be looked at, for the sheet does not tell."""
    lacks = problem.lacks
    if not lacks:
        return
    screen.blank()
    count = len(lacks)
    what = "one thing" if count == 1 else f"{count} things"
    more = "" if listed_all else " (--why lists them)"
    screen.say(
        f"The sheet does not tell {what} that could stand in the way{more}; the plan takes for "
        "granted that none does."
    )
    if listed_all:
        for path in lacks:
            screen.line("    ", path.removeprefix("sheet."))


def allot_json(report: AllotReport, also: Mapping[str, str]) -> dict[str, Any]:
    """The whole output of allot; `also` gives by name of a port what else it is called."""
    plan, problem = report.plan, report.plan.problem
    return {
        **head(),
        "build": report.names[0],
        "dump": report.names[1],
        "possible": plan.competing is None,
        "ports": list(problem.ports),
        "called": named_in(problem.ports, also),
        "devices": [_device(plan, want) for want in problem.wants if want.name != CONSOLE],
        "console": plan.placed.get(CONSOLE),
        "shared": [{"receiver": one, "telemetry": other} for one, other in plan.shared],
        "free": list(plan.free),
        "without": [{"name": aside.name, "why": aside.why} for aside in problem.asides],
        "competing": _competing(plan),
        "ways": [
            {
                "kind": way.kind,
                "says": way.says,
                "devices": list(way.devices),
                "port": way.port or None,
                "left": way.left,
            }
            for way in report.ways
        ],
        "lacks": list(problem.lacks),
        "sheet_edits": [
            {"path": edit.path, "old": edit.old or None, "new": edit.new, **spot_json(edit.place)}
            for edit in report.edits
        ],
        "files": files_json(report.changes, ()),
        "unsaid": list(report.unsaid),
        "kept": [{"port": port, "role": role} for port, role in report.kept],
    }


def _competing(allotment: Allotment) -> dict[str, Any] | None:
    if allotment.competing is None:
        return None
    who, places = allotment.competing
    return {"who": [name for one in who for name in one.split(JOINT)], "ports": list(places)}


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
