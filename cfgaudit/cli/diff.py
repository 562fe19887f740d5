"""`cfgaudit diff`: what changed between two dumps."""

import click

from cfgaudit.audit.engine import audit, new_and_cleared
from cfgaudit.changes.diff import diff
from cfgaudit.changes.model import Change
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    dialect_option,
    format_option,
    output_options,
    secrets_option,
    stdin_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.reports.secrets import masked_change


@click.command()
@click.argument("old")
@click.argument("new")
@dialect_option
@stdin_option
@format_option("terminal", "json")
@output_options
@secrets_option
@click.option("--all", "everything", is_flag=True, help="Craft-own and counting settings too.")
@click.option("--stat", is_flag=True, help="Only how many changes there are, by class and area.")
@click.option("--summary", is_flag=True, help="Only one line.")
@click.option("--exit-code", is_flag=True, help="Exit 1 where there are differences.")
def command(
    old: str,
    new: str,
    dialect: str | None,
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
    everything: bool,
    stat: bool,
    summary: bool,
    exit_code: bool,
) -> int:
    """What changed from OLD to NEW, in order of risk, with the findings it brings and clears."""
    inputs = Inputs(dialect, stdin_name)
    before, after = inputs.open(old), inputs.open(new)
    renames = raw_renames(before.settings.raw, after.dialect.old_keys(()))
    every = diff(before.settings, after.settings, renames)
    foreign = before.dialect.name != after.dialect.name
    shown = [change for change in every if everything or _listed(change, foreign)]
    hidden = [change for change in every if not (everything or _listed(change, foreign))]
    brought, cleared = new_and_cleared(audit(before.settings), audit(after.settings))
    if not secrets:
        shown = [masked_change(change) for change in shown]
    if form == "json":
        from cfgaudit.reports.json_changes import diff_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(diff_json(old, new, shown, len(hidden), brought, cleared)), output)
    else:
        from cfgaudit.reports import terminal_changes as screens

        if summary:
            put_text(screens.summary(shown, hidden, brought, cleared) + "\n", output)
        elif stat:
            put_screen(screens.stat_screen(shown, screen_width()), output, color)
        else:
            screen = screens.diff_screen(
                shown, hidden, brought, cleared, names=(old, new), width=screen_width()
            )
            put_screen(screen, output, color)
    return int(exit_code and bool(shown))


def _listed(change: Change, foreign: bool) -> bool:
    """Whether a change is listed unasked; no two dialects share the keys of their own."""
    return not (change.craft_own or change.volatile or (foreign and change.raw))
