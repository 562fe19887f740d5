"""`cfgaudit allot`: which device goes on which port."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import click

from cfgaudit.cli.building import open_sheet
from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import format_option, output_options, reading_options
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.craft.sheet import Sheet
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import NotStated

if TYPE_CHECKING:
    from cfgaudit.dialects.editor import Dumps, LineChange
    from cfgaudit.reports.screen import Screen
    from cfgaudit.work.allot import Allotment, SheetEdit, Way


class _Changed(NamedTuple):
    """What the plan changes in sheet and dump, and what the dump has no line for."""

    edits: Sequence["SheetEdit"]
    changes: Sequence["LineChange"] = ()
    unsaid: Sequence[str] = ()


class _Planned(NamedTuple):
    """A plan, what would free a port where there are too few, and what it changes."""

    plan: "Allotment"
    ways: "Sequence[Way]"
    changed: _Changed


@click.command()
@click.argument("build")
@click.argument("dump", required=False)
@reading_options
@click.option("--why", is_flag=True, help="Say for every device why a port can't serve it.")
@format_option("terminal", "json")
@output_options
def command(
    build: str,
    dump: str | None,
    dialect: str | None,
    extra: tuple[str, ...],
    stdin_name: str,
    why: bool,
    form: str,
    output: str | None,
    color: str,
) -> int:
    """Which device of the build sheet BUILD goes on which port, so that every constraint holds.

    With DUMP the settings that the plan changes are shown as lines of its own dialect. Exit 1
    where not all can have a port; then it says who competes, and what would free one.
    """
    _see_that_networkx_is_there()
    stated = open_sheet(build)
    dumps = _dumps(dump, Inputs(dialect, stdin_name), extra, stdin_name)
    planned = _planned(build, stated, dumps)
    if form == "json":
        from cfgaudit.reports.json_allot import allot_json
        from cfgaudit.reports.json_report import dumped

        told = allot_json((build, dump), planned.plan, planned.ways, *planned.changed)
        put_text(dumped(told), output)
    else:
        put_screen(_screen(build, Sheet(stated), planned, why), output, color)
    return int(planned.plan.competing is not None)


def _planned(build: str, stated: Settings, dumps: "Dumps") -> _Planned:
    """The plan with what follows from it. Raises InputError where there is nothing to plan."""
    from cfgaudit.dialects.editor import joined
    from cfgaudit.work.allot import allot, console_of, problem_of, ways_of

    sheet = Sheet(stated)
    try:
        problem = problem_of(sheet, console_of(joined(dumps)) if dumps else "")
    except NotStated as lack:
        what = "port" if "ports" in lack.path else "device"
        raise InputError(f"{build} has no {what}, so there is nothing to allot") from None
    plan = allot(problem)
    return _Planned(plan, ways_of(plan, sheet), _changed(plan, stated, dumps))


def _screen(build: str, sheet: Sheet, planned: _Planned, why: bool) -> "Screen":
    from cfgaudit.reports import terminal_allot as draw
    from cfgaudit.reports.screen import Screen

    screen = Screen(screen_width())
    draw.plan_head(screen, _name(sheet), build, planned.plan)
    draw.plan_ways(screen, planned.ways)
    draw.plan_table(screen, planned.plan)
    draw.plan_edits(screen, *planned.changed)
    if why:
        draw.plan_why(screen, planned.plan.problem)
    draw.plan_lacks(screen, planned.plan.problem, listed_all=why)
    return screen


def _see_that_networkx_is_there() -> None:
    try:
        import networkx  # noqa: F401 (only whether it is there)
    except ModuleNotFoundError as error:
        if error.name != "networkx":
            raise
        raise InputError(
            "allot needs networkx; install it with: pip install 'cfgaudit[bench]'"
        ) from None


def _dumps(dump: str | None, inputs: Inputs, extra: Sequence[str], stdin_name: str) -> "Dumps":
    if dump is None:
        if extra:
            raise click.UsageError("--with goes with a DUMP")
        return ()
    from cfgaudit.cli.changing import open_each

    return open_each(inputs, dump, extra, stdin_name)


def _changed(plan: "Allotment", stated: Settings, dumps: "Dumps") -> _Changed:
    """What the plan changes; nothing where not all can have a port."""
    if plan.competing is not None:
        return _Changed(())
    from cfgaudit.work.allot import dump_wants, sheet_edits

    edits = sheet_edits(plan, stated)
    if not dumps:
        return _Changed(edits)
    from cfgaudit.dialects.editor import edit_dumps, joined, line_changes

    after, refused = edit_dumps(dumps, dump_wants(plan, joined(dumps)))
    unsaid = [f"{path} can't be written: {reason}" for path, reason in refused.items()]
    return _Changed(edits, line_changes(dumps, after), unsaid)


def _name(sheet: Sheet) -> str:
    return sheet.who.name if sheet.who.states("name") else "this craft"
