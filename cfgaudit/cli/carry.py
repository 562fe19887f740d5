"""`cfgaudit carry`: the change that gives one craft the settings of another."""

from collections.abc import Sequence
from datetime import datetime

import click

from cfgaudit.audit.engine import Audit
from cfgaudit.cli.changing import judge_of, open_each, refuse_stream, write_back, write_option
from cfgaudit.cli.check import exit_status
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    build_option,
    fail_option,
    format_option,
    output_options,
    reading_options,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.editor import LineChange, joined, line_changes
from cfgaudit.settings import Settings
from cfgaudit.work.carry import Carried, carry, is_named


@click.command()
@click.argument("source", metavar="FROM")
@click.argument("target", metavar="TO")
@reading_options
@build_option
@click.option(
    "--only", metavar="PATH", multiple=True, help="Only this setting, what is below it, or a*b."
)
@write_option
@format_option("terminal", "json")
@output_options
@fail_option
@today_option
def command(
    source: str,
    target: str,
    dialect: str | None,
    extra: tuple[str, ...],
    stdin_name: str,
    build: tuple[str, ...],
    only: tuple[str, ...],
    write: bool,
    form: str,
    output: str | None,
    color: str,
    fail_on: str | None,
    today: datetime | None,
) -> int:
    """The change that gives TO the settings of FROM, craft-own ones left alone.

    Shown as lines of TO's dialect; TO is audited again with the change in it. `--with FROM=FILE`
    or `--with TO=FILE` says whose craft FILE belongs to; the build sheet is TO's.
    """
    theirs = shared_out((source, target), extra)
    files = (target, *theirs[1])
    refuse_stream(write, files)
    inputs = Inputs(dialect, stdin_name)
    proven = inputs.open(source, theirs[0]).settings
    dumps = open_each(inputs, target, theirs[1], stdin_name)
    _known(only, proven)
    done = carry(proven, dumps, only)
    judge = judge_of(inputs, target, dumps, build, today)
    audits = (judge(joined(done.before)), judge(joined(done.after)))
    changes = line_changes(done.before, done.after)
    written = write_back(files, done.before, done.after) if write else ()
    _report((source, target), done, changes, written, audits, form, output, color)
    return exit_status(audits[1].findings, fail_on or inputs.folder(target).fail_on)


def _report(
    names: tuple[str, str],
    done: Carried,
    changes: Sequence[LineChange],
    written: Sequence[str],
    audits: tuple[Audit, Audit],
    form: str,
    output: str | None,
    color: str,
) -> None:
    if form == "json":
        from cfgaudit.reports.json_carry import carry_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(carry_json(names, done, changes, written, audits)), output)
        return
    from cfgaudit.reports.terminal_carry import carry_screen

    screen = carry_screen(names, done, changes, written, audits, width=screen_width())
    put_screen(screen, output, color)


def _known(only: Sequence[str], proven: Settings) -> None:
    """See that each path of --only names something. Raises UsageError."""
    for name in only:
        if not any(is_named(path, (name,)) for path in proven.stated):
            from difflib import get_close_matches

            near = get_close_matches(name, list(proven.stated), n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise click.UsageError(f"--only: FROM states nothing at {name!r}.{hint}")
