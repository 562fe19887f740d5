"""`cfgaudit mend`: the smallest change that clears what has a known mend."""

from collections.abc import Callable, Sequence

import click

from cfgaudit.audit.engine import Finding
from cfgaudit.cli import did_you_mean
from cfgaudit.cli.auditing import exit_status, judge_of
from cfgaudit.cli.inputs import Inputs, refuse_stream, refuse_unmerged, write_back
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
from cfgaudit.reports.mend import mend_json, mend_screen
from cfgaudit.rules.book import book, find
from cfgaudit.work.mend import mend, not_choices


@click.command()
@click.argument("dump")
@reading_options()
@click.option(
    "--only", metavar="RULE", multiple=True, help="Mend only what this rule, or area, finds."
)
@write_option
@lines_option
@output_options("terminal", "json")
@judging_options(fail_on=True)
def command(
    dump: str,
    reading: ReadBy,
    only: tuple[str, ...],
    write: bool,
    lines: bool,
    out: Output,
    judging: JudgedBy,
) -> int:
    """The smallest change of DUMP that clears what has a known mend, and its way back.

    Shown as lines of the dump's own dialect; the dump is audited again with the change in it.
    Propellers off while settings are changed.
    """
    files = (dump, *reading.extra)
    refuse_stream(write, files)
    inputs = Inputs(reading)
    dumps = inputs.open_each(dump, reading.extra)
    refuse_unmerged(*(opened.settings for opened in dumps), then="mend")
    done = mend(
        dumps, judge_of(inputs, dump, judging), _chosen(only),
        lambda finding: not_choices(finding) or finding.rule.id in only,
    )  # fmt: skip
    changes = line_changes(done.before, done.after)
    written = write_back(files, done.before, done.after) if write else ()
    if lines:
        out.put_lines(changes)
        return exit_status(inputs, dump, judging, [done.last])
    out.put(
        lambda width: mend_screen(done, changes, written, width=width),
        lambda: mend_json(done, changes, written),
        inputs.other_names,
    )
    return exit_status(inputs, dump, judging, [done.last])


def _chosen(only: Sequence[str]) -> Callable[[Finding], bool]:
    """Whether a finding is to be mended, by what --only names. Raises UsageError."""
    areas = {rule.area for rule in book()}
    for name in only:
        if find(name) is None and name not in areas and not name.startswith("house/"):
            hint = did_you_mean(name, [*(rule.id for rule in book()), *sorted(areas)])
            raise click.UsageError(f"--only: there is no rule {name!r}.{hint}")
    return lambda finding: not only or finding.rule.id in only or finding.rule.area in only
