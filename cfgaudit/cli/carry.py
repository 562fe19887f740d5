"""`cfgaudit carry`: the change that gives one craft the settings of another."""

from collections.abc import Sequence

import click

from cfgaudit.cli import did_you_mean
from cfgaudit.cli.auditing import exit_status, judge_of
from cfgaudit.cli.changing import refuse_stream, write_back, write_option
from cfgaudit.cli.inputs import Inputs, shared_out
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.editor import line_changes
from cfgaudit.dialects.opening import joined
from cfgaudit.reports.carry import CarryReport, carry_json, carry_screen
from cfgaudit.settings import Settings
from cfgaudit.work.carry import carry, is_named


@click.command()
@click.argument("source", metavar="FROM")
@click.argument("target", metavar="TO")
@reading_options()
@click.option(
    "--only", metavar="PATH", multiple=True, help="Only this setting, what is below it, or a*b."
)
@write_option
@output_options("terminal", "json")
@judging_options(fail_on=True)
def command(
    source: str,
    target: str,
    reading: ReadBy,
    only: tuple[str, ...],
    write: bool,
    out: Output,
    judging: JudgedBy,
) -> int:
    """The change that gives TO the settings of FROM, craft-own ones left alone.

    Shown as lines of TO's dialect; TO is audited again with the change in it. `--with FROM=FILE`
    or `--with TO=FILE` says whose craft FILE belongs to; the build sheet is TO's.
    """
    theirs = shared_out((source, target), reading.extra)
    files = (target, *theirs[1])
    refuse_stream(write, files)
    inputs = Inputs(reading)
    proven = inputs.open(source, theirs[0]).settings
    dumps = inputs.open_each(target, theirs[1])
    _see_that_they_are_stated(only, proven)
    done = carry(proven, dumps, only)
    judge = judge_of(inputs, target, judging)
    audits = (judge(joined(done.before)), judge(joined(done.after)))
    changes = line_changes(done.before, done.after)
    written = write_back(files, done.before, done.after) if write else ()
    report = CarryReport((source, target), done, changes, written, audits)
    out.put(lambda width: carry_screen(report, width), lambda: carry_json(report))
    return exit_status(inputs, target, judging, audits[1:])


def _see_that_they_are_stated(only: Sequence[str], proven: Settings) -> None:
    """See that each path of --only names something. Raises UsageError."""
    for name in only:
        if not any(is_named(path, (name,)) for path in proven.stated):
            hint = did_you_mean(name, proven.stated)
            raise click.UsageError(f"--only: FROM states nothing at {name!r}.{hint}")
