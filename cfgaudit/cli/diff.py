"""`cfgaudit diff`: what changed between two dumps."""

from dataclasses import dataclass
from datetime import datetime

import click

from cfgaudit.audit.engine import Finding, new_and_cleared
from cfgaudit.changes.diff import diff
from cfgaudit.changes.model import Change
from cfgaudit.cli.auditing import audited
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    format_option,
    output_options,
    reading_options,
    secrets_option,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.secret_changes import masked_change


@click.command()
@click.argument("old")
@click.argument("new")
@reading_options
@format_option("terminal", "json")
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

    `--with FILE` belongs to both sides, `--with OLD=FILE` or `--with NEW=FILE` to that side.
    """
    inputs = Inputs(dialect, stdin_name)
    theirs = shared_out((old, new), extra, one_craft=True)
    before, after = inputs.open(old, theirs[0]), inputs.open(new, theirs[1])
    renames = raw_renames(before.settings.raw, after.dialect.old_keys(()))
    every = diff(before.settings, after.settings, renames)
    foreign = before.dialect.name != after.dialect.name
    shown = [change for change in every if everything or _listed(change, foreign)]
    hidden = [change for change in every if not (everything or _listed(change, foreign))]
    both = (before.settings, after.settings)
    found = new_and_cleared(*audited(inputs, (old, new), both, today, tell=False))
    report = _Report(
        (old, new), shown if secrets else [masked_change(c) for c in shown], hidden, found
    )
    if form == "json":
        put_text(report.json(), output)
    elif summary:
        put_text(report.summary(), output)
    else:
        put_screen(report.stat() if stat else report.screen(), output, color)
    return int(exit_code and bool(shown))


@dataclass(frozen=True)
class _Report:
    """What is reported: the changes listed and those counted, the findings brought and cleared."""

    names: tuple[str, str]
    shown: list[Change]
    hidden: list[Change]
    found: tuple[tuple[Finding, ...], tuple[Finding, ...]]

    def json(self) -> str:
        from cfgaudit.reports.json_changes import diff_json
        from cfgaudit.reports.json_report import dumped

        return dumped(diff_json(*self.names, self.shown, len(self.hidden), *self.found))

    def summary(self) -> str:
        from cfgaudit.reports.terminal_changes import summary

        return summary(self.shown, self.hidden, *self.found) + "\n"

    def stat(self) -> Screen:
        from cfgaudit.reports.terminal_changes import stat_screen

        return stat_screen(self.shown, screen_width())

    def screen(self) -> Screen:
        from cfgaudit.reports.terminal_changes import diff_screen

        return diff_screen(
            self.shown, self.hidden, *self.found, names=self.names, width=screen_width()
        )


def _listed(change: Change, foreign: bool) -> bool:
    """Whether a change is listed unasked; no two dialects share the keys of their own."""
    return not (change.craft_own or change.volatile or (foreign and change.raw))
