"""`cfgaudit diff`: what changed between two dumps."""

from dataclasses import dataclass, replace
from datetime import datetime

import click

from cfgaudit.audit.engine import Audit, Finding, new_and_cleared
from cfgaudit.changes.diff import Change, diff
from cfgaudit.cli.auditing import audited
from cfgaudit.cli.building import sheets
from cfgaudit.cli.flood import gravest, most, tell_left_out
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    STATUS,
    build_option,
    format_option,
    output_options,
    reading_options,
    secrets_option,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.cli.reviewing import FORMATS
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.secret_changes import masked_change


@click.command(epilog=STATUS.format(one="differences, with --exit-code"))
@click.argument("old")
@click.argument("new")
@reading_options
@build_option
@format_option("terminal", "json", *FORMATS, "json-patch")
@output_options
@secrets_option
@today_option
@click.option("--all", "everything", is_flag=True, help="Craft-own and counting settings too.")
@click.option("--stat", is_flag=True, help="Only how many changes there are, by class and area.")
@click.option("--summary", is_flag=True, help="Only one line.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where there are differences.")
def command(
    old: str,
    new: str,
    dialect: str | None,
    extra: tuple[str, ...],
    build: tuple[str, ...],
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
    today: datetime | None,
    everything: bool,
    stat: bool,
    summary: bool,
    exit_code: bool,
) -> int:
    """What changed from OLD to NEW, in order of risk, with the findings it brings and clears.

    `~` is changed, `+` stated in NEW alone, `-` stated in OLD alone. Either may be `-`, standard
    input.

    `--with FILE` belongs to both sides, `--with OLD=FILE` or `--with NEW=FILE` to that side;
    so does `--build FILE`.
    """
    inputs = Inputs(dialect, stdin_name)
    report = _report(inputs, (old, new), extra, build, today, everything)
    names = (stdin_name if old == "-" else old, stdin_name if new == "-" else new)
    report = replace(report, names=names, shown=_masked(report.shown, secrets))
    if not summary and not stat:
        report.tell_left_out(form)
    if form != "terminal":
        put_text(report.text(form, inputs.folder(new).fail_on), output)
    elif summary:
        put_text(report.summary(), output)
    else:
        put_screen(report.stat() if stat else report.screen(), output, color)
    return int(exit_code and bool(report.shown))


def _masked(changes: list[Change], secrets: bool) -> list[Change]:
    return changes if secrets else [masked_change(change) for change in changes]


@dataclass(frozen=True)
class _Report:
    """What is reported: the changes listed and those counted, the findings brought and cleared."""

    names: tuple[str, str]
    shown: list[Change]
    hidden: list[Change]
    audits: tuple[Audit, Audit]  # before and after
    found: tuple[tuple[Finding, ...], tuple[Finding, ...]]  # brought and cleared

    def text(self, form: str, fail_on: str) -> str:
        """A report for programs or for review."""
        if form in FORMATS:
            return self._review(form, fail_on)
        from cfgaudit.reports.json_report import dumped

        if form == "json-patch":
            from cfgaudit.reports.json_patch import json_patch

            return dumped(json_patch(self.shown))
        from cfgaudit.reports.json_changes import diff_json

        return dumped(diff_json(*self.names, self.shown, len(self.hidden), *self.found))

    def _review(self, form: str, fail_on: str) -> str:
        from cfgaudit.cli.reviewing import review_text
        from cfgaudit.reports.review import review_of_change

        if form == "markdown":
            from cfgaudit.reports.markdown import diff_markdown

            review = review_of_change(self.audits[1], *self.found)
            return diff_markdown(self.names, self.shown, self.hidden, review)
        review = review_of_change(self.audits[1], *map(gravest, self.found))
        return review_text(form, review, fail_on)

    def summary(self) -> str:
        from cfgaudit.reports.terminal_changes import summary

        return summary(self.shown, self.hidden, *self.found) + "\n"

    def stat(self) -> Screen:
        from cfgaudit.reports.terminal_changes import stat_screen

        return stat_screen(self.shown, self.summary().rstrip(), screen_width())

    def screen(self) -> Screen:
        from cfgaudit.reports.terminal_changes import diff_screen

        return diff_screen(
            self.shown,
            self.hidden,
            *self.found,
            names=self.names,
            audits=self.audits,
            width=screen_width(),
            most=most(),
        )

    def tell_left_out(self, form: str) -> None:
        """Say what of a long report is left out; what is for programs has everything."""
        if form in ("json", "json-patch", "markdown"):
            return
        if form == "terminal":
            tell_left_out(" to ".join(self.names), self.shown, "change")
        brought, cleared = self.found
        tell_left_out(self.names[1], brought, "finding")
        tell_left_out(self.names[0], cleared, "finding")


def _report(
    inputs: Inputs,
    dumps: tuple[str, str],
    extra: tuple[str, ...],
    build: tuple[str, ...],
    today: datetime | None,
    everything: bool,
) -> _Report:
    """What changed from the first dump to the second, secrets and all."""
    theirs = shared_out(dumps, extra, one_craft=True)
    before, after = (inputs.open(dump, own) for dump, own in zip(dumps, theirs, strict=True))
    renames = raw_renames(before.settings.raw, after.dialect.old_keys(()))
    every = diff(before.settings, after.settings, renames)
    foreign = before.dialect.name != after.dialect.name
    shown = [change for change in every if everything or listed(change, foreign)]
    hidden = [change for change in every if not (everything or listed(change, foreign))]
    both = (before.settings, after.settings)
    built = sheets(inputs, dumps, both, build, one_craft=True)
    if None in built:  # what only one side could be checked for is no change
        built = [None, None]
    first, second = audited(inputs, dumps, both, today, built, tell=False)
    return _Report(dumps, shown, hidden, (first, second), new_and_cleared(first, second))


def listed(change: Change, foreign: bool) -> bool:
    """Whether a change is listed unasked; no two dialects share the keys of their own."""
    return not (change.craft_own or change.volatile or (foreign and change.raw))
