"""`cfgaudit diff`: what changed between two dumps."""

from typing import TYPE_CHECKING

import click

from cfgaudit.audit.engine import new_and_cleared
from cfgaudit.changes.diff import Change, diff
from cfgaudit.cli.auditing import (
    Sheets,
    audited_change,
    blind_to,
    fail_on,
    gravest,
    most,
    tell_left_out,
)
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    REVIEW_FORMATS,
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
    secrets_option,
    statuses,
)
from cfgaudit.cli.output import Output, screen_width
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.reports.data import dumped
from cfgaudit.reports.diff import (
    DiffReport,
    diff_json,
    diff_screen,
    is_listed,
    json_patch,
    stat_screen,
    summary,
)

if TYPE_CHECKING:  # a screen has no use for it
    from cfgaudit.audit.blind import Blindness


@click.command(epilog=statuses("differences, with --exit-code"))
@click.argument("old")
@click.argument("new")
@reading_options(several=True)
@output_options("terminal", "json", *REVIEW_FORMATS, "json-patch")
@secrets_option
@judging_options()
@click.option("--everything", is_flag=True, help="Craft-own and counting settings too.")
@click.option("--stat", is_flag=True, help="Only how many changes there are, by class and area.")
@click.option("--summary", "one_line", is_flag=True, help="Only one line.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where there are differences.")
def command(
    old: str,
    new: str,
    reading: ReadBy,
    out: Output,
    secrets: bool,
    judging: JudgedBy,
    everything: bool,
    stat: bool,
    one_line: bool,
    exit_code: bool,
) -> int:
    """What changed from OLD to NEW, in order of risk, with the findings it brings and clears.

    `~` is changed, `+` stated in NEW alone, `-` stated in OLD alone. Either may be `-`, standard
    input.

    `--with FILE` belongs to both sides, `--with OLD=FILE` or `--with NEW=FILE` to that side;
    so does `--build FILE`. `--dialect-of OLD=FILE` reads that side in a dialect of its own.
    """
    inputs = Inputs(reading)
    before, after = inputs.open_all((old, new), one_craft=True)
    report = changed(inputs, (old, new), (before, after), judging, everything)
    names = [reading.stdin_name if name == "-" else name for name in (old, new)]
    report = report._replace(names=(names[0], names[1]))
    report = report if secrets else report.masked()
    if out.form in ("terminal", *REVIEW_FORMATS[:3]) and not one_line and not stat:
        tell_change_left_out(report, changes=out.form == "terminal")
    if out.form in REVIEW_FORMATS:
        blind = blind_to(inputs, new, report.audits[1])
        out.put_text(_reviewed(report, out.form, fail_on(inputs, new, judging), blind))
    elif out.form == "terminal" and one_line:
        out.put_text(summary(report) + "\n")
    elif out.form == "terminal" and stat:
        out.put_screen(stat_screen(report, screen_width()))
    elif out.form == "json-patch":
        out.put_text(dumped(json_patch(report.listed)))
    else:
        out.put(lambda width: diff_screen(report, width, most()), lambda: diff_json(report))
    return int(exit_code and bool(report.listed))


def changed(
    inputs: Inputs,
    names: tuple[str, str],
    both: tuple[Opened, Opened],
    judging: JudgedBy,
    everything: bool,
    sheets: Sheets | None = None,
) -> DiffReport:
    """What changed from the first dump to the second, secrets and all."""
    before, after = both
    renames = raw_renames(before.settings.raw, after.dialect.old_keys(()))
    foreign = before.dialect.name != after.dialect.name
    shown: list[Change] = []
    hidden: list[Change] = []
    for change in diff(before.settings, after.settings, renames):
        (shown if everything or is_listed(change, foreign) else hidden).append(change)
    settings = (before.settings, after.settings)
    audits = audited_change(inputs, names, settings, judging, sheets)
    return DiffReport(names, shown, hidden, audits, *new_and_cleared(*audits))


def tell_change_left_out(report: DiffReport, *, changes: bool = True) -> None:
    """Say what of a long report is left out."""
    if changes:
        tell_left_out(" to ".join(report.names), report.listed, "change")
    tell_left_out(report.names[1], report.brought, "finding")
    tell_left_out(report.names[0], report.cleared, "finding")


def _reviewed(report: DiffReport, form: str, level: str, blind: "Blindness | None") -> str:
    """A report for review."""
    from cfgaudit.reports.review import review_of_change, review_text  # no screen wants them

    after = report.audits[1]
    if form == "markdown":
        from cfgaudit.reports.markdown import diff_markdown

        brought, cleared = report.brought, report.cleared
        return diff_markdown(report, review_of_change(after, brought, cleared, blind))
    review = review_of_change(after, gravest(report.brought), gravest(report.cleared), blind)
    return review_text(form, review, level)
