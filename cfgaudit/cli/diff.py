"""`cfgaudit diff`: what changed between two dumps."""

import click

from cfgaudit.audit.engine import audit, new_and_cleared
from cfgaudit.changes.diff import diff
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import dialect_option, format_option, output_options, stdin_option
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.raw import raw_renames


@click.command()
@click.argument("old")
@click.argument("new")
@dialect_option
@stdin_option
@format_option("terminal", "json")
@output_options
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
    foreign = before.dialect.name != after.dialect.name  # then their own keys tell nothing
    shown = [
        c for c in every if everything or not (c.craft_own or c.volatile or (foreign and c.raw))
    ]
    hidden = [c for c in every if c not in shown]
    brought, cleared = new_and_cleared(audit(before.settings), audit(after.settings))
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
