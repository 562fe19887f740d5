"""`cfgaudit mend`: the smallest change that clears what has a known mend."""

from collections.abc import Callable, Sequence
from datetime import datetime

import click

from cfgaudit.audit.engine import Finding
from cfgaudit.cli.changing import judge_of, open_each, refuse_stream, write_back, write_option
from cfgaudit.cli.check import exit_status
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    build_option,
    fail_option,
    format_option,
    output_options,
    reading_options,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.editor import line_changes
from cfgaudit.rules.book import book, find
from cfgaudit.work.mend import mend


@click.command()
@click.argument("dump")
@reading_options
@build_option
@click.option(
    "--only", metavar="RULE", multiple=True, help="Mend only what this rule, or area, finds."
)
@write_option
@format_option("terminal", "json")
@output_options
@fail_option
@today_option
def command(
    dump: str,
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
    """The smallest change of DUMP that clears what has a known mend, and its way back.

    Shown as lines of the dump's own dialect; the dump is audited again with the change in it.
    Propellers off while settings are changed.
    """
    refuse_stream(write, (dump, *extra))
    inputs = Inputs(dialect, stdin_name)
    dumps = open_each(inputs, dump, extra, stdin_name)
    done = mend(dumps, judge_of(inputs, dump, dumps, build, today), _chosen(only))
    changes = line_changes(done.before, done.after)
    written = write_back((dump, *extra), done.before, done.after) if write else ()
    if form == "json":
        from cfgaudit.reports.json_mend import mend_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(mend_json(done, changes, written)), output)
    else:
        from cfgaudit.reports.terminal_mend import mend_screen

        put_screen(mend_screen(done, changes, written, width=screen_width()), output, color)
    return exit_status(done.last.findings, fail_on or inputs.folder(dump).fail_on)


def _chosen(only: Sequence[str]) -> Callable[[Finding], bool]:
    """Whether a finding is to be mended, by what --only names. Raises UsageError."""
    for name in only:
        areas = {rule.area for rule in book()}
        if find(name) is None and name not in areas and not name.startswith("house/"):
            from difflib import get_close_matches

            near = get_close_matches(name, [*(rule.id for rule in book()), *sorted(areas)], n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise click.UsageError(f"--only: there is no rule {name!r}.{hint}")
    return lambda finding: not only or finding.rule.id in only or finding.rule.area in only
