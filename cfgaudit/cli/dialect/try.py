"""`cfgaudit dialect try`: what a dialect makes of a dump."""

# ruff: noqa: N999 (the module is called as the command is)

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import dialect_option, format_option, output_options, stdin_option
from cfgaudit.cli.output import put_screen, put_text, screen_width

if TYPE_CHECKING:  # loaded where it is called
    from cfgaudit.teach.coverage import Coverage


@click.command()
@click.argument("dump")
@dialect_option
@stdin_option
@format_option("terminal", "json")
@output_options
def command(
    dump: str, dialect: str | None, stdin_name: str, form: str, output: str | None, color: str
) -> int:
    """Show what a dialect makes of DUMP: lines read, keys mapped, rules that can run.

    Last comes what to map next: the settings for which the most rules wait.
    """
    from cfgaudit.teach.coverage import coverage

    opened = Inputs(dialect, stdin_name).open(dump)
    found = _masked(coverage(opened), opened.dialect.secret)
    name = opened.dialect.name or "no dialect"
    if form == "json":
        from cfgaudit.reports.json_report import dumped
        from cfgaudit.reports.json_teaching import coverage_json

        put_text(dumped(coverage_json(found, opened.document.name, name)), output)
    else:
        from cfgaudit.reports.terminal_teaching import coverage_screen

        screen = coverage_screen(found, opened.document.name, name, screen_width())
        put_screen(screen, output, color)
    return 0


def _masked(found: "Coverage", secret: Sequence[str]) -> "Coverage":
    """The coverage with every secret hidden."""
    from cfgaudit.dialects.raw import is_secret_path
    from cfgaudit.reports.secrets import mask
    from cfgaudit.vocabulary.declare import HIDDEN

    return found._replace(
        unknown=tuple(mask(raw) for raw in found.unknown),
        failed=tuple(
            trouble._replace(message=f"{trouble.path}: {HIDDEN}")
            if is_secret_path(trouble.path, secret)
            else trouble
            for trouble in found.failed
        ),
    )
