"""`cfgaudit allot`: which device goes on which port."""

from typing import TYPE_CHECKING

import click

from cfgaudit.cli import InputError, see_that_it_is_installed
from cfgaudit.cli.inputs import Inputs, open_sheet
from cfgaudit.cli.options import ReadBy, lines_option, output_options, reading_options
from cfgaudit.cli.output import Output
from cfgaudit.craft.sheet import Sheet
from cfgaudit.dialects.editor import Dumps, edit_dumps, line_changes
from cfgaudit.dialects.opening import joined
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import NotStated

if TYPE_CHECKING:
    from cfgaudit.reports.allot import AllotReport


@click.command()
@click.argument("build")
@click.argument("dump", required=False)
@reading_options()
@click.option("--why", is_flag=True, help="Say for every device why a port can't serve it.")
@lines_option
@output_options("terminal", "json")
def command(
    build: str, dump: str | None, reading: ReadBy, why: bool, lines: bool, out: Output
) -> int:
    """Which device of the build sheet BUILD goes on which port, so that every constraint holds.

    With DUMP the settings that the plan changes are shown as lines of its own dialect. Exit 1
    where not all can have a port; then it says who competes, and what would free one.
    """
    see_that_it_is_installed("networkx", "allot", "bench")
    from cfgaudit.reports.allot import allot_json, allot_screen  # which want networkx

    stated = open_sheet(build)
    if dump is None and reading.extra:
        raise click.UsageError("--with goes with a DUMP")
    inputs = Inputs(reading)
    dumps = inputs.open_each(dump, reading.extra) if dump is not None else ()
    report = _planned((build, dump), stated, dumps)
    if lines:
        if dump is None:
            raise click.UsageError("--lines goes with a DUMP, in whose dialect they are")
        out.put_lines(report.changes)
        return int(report.plan.competing is not None)
    out.put(
        lambda width: allot_screen(report, width, why=why),
        lambda: allot_json(report, inputs.other_names(stated)),
        lambda: inputs.other_names(stated),
    )
    return int(report.plan.competing is not None)


def _planned(names: tuple[str, str | None], stated: Settings, dumps: Dumps) -> "AllotReport":
    """The plan with what follows from it. Raises InputError where there is nothing to plan."""
    from cfgaudit.reports.allot import AllotReport
    from cfgaudit.work.allot import (
        allot,
        dump_wants,
        kept_roles,
        problem_of,
        sheet_edits,
        ways_of,
    )

    sheet = Sheet(stated)
    try:
        problem = problem_of(sheet, joined(dumps) if dumps else None)
    except NotStated as lack:
        what = "port" if "ports" in lack.path else "device"
        raise InputError(f"{names[0]} has no {what}, so there is nothing to allot") from None
    plan = allot(problem)
    report = AllotReport(names, sheet, plan, ways_of(plan, sheet))
    if plan.competing is not None:  # nothing is changed where not all can have a port
        return report
    report = report._replace(edits=sheet_edits(plan, stated))
    if not dumps:
        return report
    wanted = dump_wants(plan, joined(dumps))
    after, refused = edit_dumps(dumps, wanted)
    unsaid = [
        f"{path} can't be written: {reason}"
        for path, reason in refused.items()
        if wanted[path] is not False  # what the firmware has no word for is off
    ]
    kept = tuple(kept_roles(plan, joined(dumps), wanted))
    return report._replace(changes=line_changes(dumps, after), unsaid=unsaid, kept=kept)
