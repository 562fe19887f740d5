"""`cfgaudit carry`: the change that gives one craft the settings of another."""

from collections.abc import Sequence

import click

from cfgaudit.audit.engine import Audit, new_and_cleared
from cfgaudit.cli import InputError, did_you_mean
from cfgaudit.cli.auditing import exit_status, judge_of
from cfgaudit.cli.inputs import (
    Inputs,
    refuse_silent,
    refuse_stream,
    refuse_unmerged,
    shared_out,
    write_back,
)
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    lines_option,
    output_options,
    reading_options,
    write_option,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.editor import line_changes
from cfgaudit.dialects.opening import joined
from cfgaudit.reports.carry import CarryReport, carry_json, carry_screen
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.work.carry import carry, carry_soundly, is_named


@click.command()
@click.argument("source", metavar="FROM")
@click.argument("target", metavar="TO")
@reading_options(several=True)
@click.option(
    "--only", metavar="PATH", multiple=True, help="Only this setting, what is below it, or a*b."
)
@click.option(
    "--except", "excepted", metavar="PATH", multiple=True, help="All but this; as for --only."
)
@write_option
@lines_option
@click.option("--anyway", is_flag=True, help="Bring what the audit calls an error too.")
@output_options("terminal", "json")
@judging_options(fail_on=True)
def command(
    source: str,
    target: str,
    reading: ReadBy,
    only: tuple[str, ...],
    excepted: tuple[str, ...],
    write: bool,
    lines: bool,
    anyway: bool,
    out: Output,
    judging: JudgedBy,
) -> int:
    """The change that gives TO the settings of FROM, craft-own ones left alone.

    Shown as lines of TO's dialect; TO is audited again with the change in it, and what brings an
    error by itself is left unless --only or --anyway asks for it. `--with FROM=FILE`
    or `--with TO=FILE` says whose craft FILE belongs to; the build sheet is TO's, or with
    `--build FROM=FILE` FROM's. Where sheets or dumps tell that the two are not of one size, gains,
    filters, idle and the landing's throttle are left too.
    """
    reading.refuse_strangers((source, target))
    theirs = shared_out((source, target), reading.extra)
    files = (target, *theirs[1])
    refuse_stream(write, files)
    inputs = Inputs(reading)
    proven = inputs.open(source, theirs[0]).settings
    dumps = inputs.open_each(target, theirs[1])
    refuse_silent((source, proven), (target, joined(dumps)))
    refuse_unmerged(proven, *(opened.settings for opened in dumps), then="carry")
    _see_that_they_are_stated("--only", only, proven)
    _see_that_they_are_stated("--except", excepted, proven)
    of_source = tuple(one for one in judging.build if one.startswith(f"{source}="))
    judging = judging._replace(build=tuple(one for one in judging.build if one not in of_source))
    judge = judge_of(inputs, target, judging)
    sheets = (
        inputs.sheets((source,), (proven,), of_source, tell=False)[0],
        inputs.sheets((target,), (joined(dumps),), judging.build, tell=False)[0],
    )
    if only or anyway:
        done = carry(proven, dumps, only, excepted, sheets=sheets)
    else:
        done = carry_soundly(proven, dumps, judge, excepted, sheets)
    audits = (judge(joined(done.before)), judge(joined(done.after)))
    changes = line_changes(done.before, done.after)
    if write and not anyway:
        _refuse_errors(*audits)
    written = write_back(files, done.before, done.after) if write else ()
    if lines:
        out.put_lines(changes)
        return exit_status(inputs, target, judging, audits[1:])
    report = CarryReport((source, target), done, changes, written, audits)
    out.put(
        lambda width: carry_screen(report, width),
        lambda: carry_json(report),
        inputs.other_names,
    )
    return exit_status(inputs, target, judging, audits[1:])


def _refuse_errors(before: Audit, after: Audit) -> None:
    """See that the change brings no error. Raises InputError."""
    worse = [f for f in new_and_cleared(before, after)[0] if f.level is Level.ERROR]
    if worse:
        rules = ", ".join(dict.fromkeys(finding.rule.id for finding in worse))
        raise InputError(
            f"nothing was written: with it the audit finds {rules}; leave the settings out "
            "with --except, or say --anyway"
        )


def _see_that_they_are_stated(option: str, names: Sequence[str], proven: Settings) -> None:
    """See that each path of an option names something. Raises UsageError."""
    for name in names:
        if not any(is_named(path, (name,)) for path in proven.stated):
            hint = did_you_mean(name, proven.stated)
            raise click.UsageError(f"{option}: FROM states nothing at {name!r}.{hint}")
