"""`cfgaudit diff`: what changed between two dumps."""

from itertools import zip_longest
from typing import TYPE_CHECKING

import click

from cfgaudit.audit.engine import new_and_cleared
from cfgaudit.changes.diff import Change, comment_changes, diff, one_craft, told_changes
from cfgaudit.cli.auditing import (
    Sheets,
    audited,
    audited_change,
    blind_to,
    causes_of_change,
    fail_on,
    gravest,
    most,
    tell_left_out,
)
from cfgaudit.cli.files import REVIEW_FORMATS
from cfgaudit.cli.inputs import Inputs, beside, refuse_foreign
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    links_option,
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
from cfgaudit.reports.wording import not_audited
from cfgaudit.settings import Settings

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
@links_option
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
    links: str,
    exit_code: bool,
) -> int:
    """What changed from OLD to NEW, in order of risk, with the findings it brings and clears.

    `~` is changed, `+` stated in NEW alone, `-` stated in OLD alone. Either may be `-`, standard
    input.

    `--with FILE` belongs to both sides, `--with OLD=FILE` or `--with NEW=FILE` to that side;
    so does `--build FILE`; what differs between two build sheets is told as well. `--dialect-of
    OLD=FILE` reads that side in a dialect of its own.
    """
    inputs = Inputs(reading)
    before, after = inputs.open_all((old, new), one_craft=True)
    refuse_foreign(reading, (old, new), (before, after))
    exact = out.form == "json-patch"  # which must give the new one to the key
    report = changed(inputs, (old, new), (before, after), judging, everything, exact=exact)
    pairs = zip_longest(inputs.further(old, before), inputs.further(new, after))
    further = [
        changed(
            inputs,
            (f"{old}#{number}", f"{new}#{number}"),
            (one or _nothing(other), other or _nothing(one)),
            judging,
            everything,
        )
        for number, (one, other) in enumerate(pairs, 2)
    ]
    report = report._replace(further=tuple(further))
    names = [reading.stdin_name if name == "-" else name for name in (old, new)]
    report = report._replace(names=(names[0], names[1]))
    report = report if secrets else report.masked()
    if out.form in ("terminal", *REVIEW_FORMATS[:3]) and not one_line and not stat:
        tell_change_left_out(report, changes=out.form == "terminal")
    if out.form in REVIEW_FORMATS:
        blind = blind_to(inputs, new, report.audits[1])
        level = fail_on(inputs, new, judging)
        out.put_text(_reviewed(inputs, new, report, out.form, level, links, blind))
    elif out.form == "terminal" and one_line:
        out.put_text(summary(report) + "\n")
    elif out.form == "terminal" and stat:
        out.put_screen(stat_screen(report, screen_width()))
    elif out.form == "json-patch":
        out.put_text(dumped(json_patch(report.listed)))
    else:
        out.put(
            lambda width: diff_screen(report, width, most()),
            lambda: diff_json(report),
            inputs.other_names,
        )
    if out.form in REVIEW_FORMATS and not_audited(report.audits[1].settings):
        return 2  # what a job goes by is never green where nobody looked
    return int(exit_code and report.differs)


def changed(
    inputs: Inputs,
    names: tuple[str, str],
    both: tuple[Opened, Opened],
    judging: JudgedBy,
    everything: bool,
    sheets: Sheets | None = None,
    *,
    exact: bool = False,
) -> DiffReport:
    """What changed from the first dump to the second, secrets and all."""
    before, after = both
    renames = raw_renames(before.settings.raw, after.dialect.old_keys(()))
    foreign = before.dialect.name != after.dialect.name
    same = one_craft(before.settings, after.settings)
    shown: list[Change] = []
    hidden: list[Change] = []
    settings = (before.settings, after.settings)
    sheets = sheets or inputs.sheets(names, settings, judging.build, one_craft=True)
    sides = settings
    if judging.build and not exact:  # what was built otherwise is then a change, too
        built = sheets if None not in sheets else (None, None)
        sides = (beside(settings[0], built[0]), beside(settings[1], built[1]))
    for change in (diff if exact else told_changes)(*sides, renames):
        listed = everything or is_listed(change, foreign=foreign, one_craft=same)
        (shown if listed else hidden).append(change)
    audits = audited_change(inputs, names, settings, judging, sheets)
    made = DiffReport(names, shown, hidden, audits, *new_and_cleared(*audits), one_craft=same)
    if audits[1].sheet is None and sheets[1] is not None:
        own = audited(inputs, names[1:], settings[1:], judging, sheets=sheets[1:], tell=False)
        made = made._replace(by_own_sheet=own[0])
    if foreign or not same:
        return made
    return made._replace(comments=comment_changes((before.settings,), (after.settings,)))


def _nothing(other: Opened | None) -> Opened:
    """What a file says in place of a dump that only the other file has."""
    assert other is not None  # one of the two files has it
    return Opened(other.document, other.dialect, Settings())


def tell_change_left_out(report: DiffReport, *, changes: bool = True) -> None:
    """Say what of a long report is left out."""
    if changes:
        tell_left_out(" to ".join(report.names), report.listed, "change")
    tell_left_out(report.names[1], report.brought, "finding")
    tell_left_out(report.names[0], report.cleared, "finding")


def _reviewed(
    inputs: Inputs,
    dump: str,
    report: DiffReport,
    form: str,
    level: str,
    links: str,
    blind: "Blindness | None",
) -> str:
    """A report for review."""
    from cfgaudit.reports.review import review_of_change, review_text  # no screen wants them

    after, also = report.audits[1], inputs.other_names()
    if form == "markdown":
        from cfgaudit.reports.markdown import diff_markdown

        every = [report, *report.further]
        return "\n".join(
            diff_markdown(
                one,
                review_of_change(
                    one.audits[1], one.brought, one.cleared, blind if one is report else None
                )._replace(also=also),
                causes_of_change(inputs, dump, one.audits),
                links,
            )
            for one in every
        )
    review = review_of_change(after, gravest(report.brought), gravest(report.cleared), blind)
    for one in report.further:
        more = review_of_change(one.audits[1], gravest(one.brought), gravest(one.cleared))
        review = review._replace(
            parts=(*review.parts, *more.parts), cleared=(*review.cleared, *more.cleared)
        )
    return review_text(form, review._replace(also=also), level)
