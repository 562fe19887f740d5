"""`cfgaudit compare`: several craft side by side."""

from pathlib import Path

import click

from cfgaudit.changes.compare import compare
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    dialect_option,
    format_option,
    output_options,
    secrets_option,
    stdin_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.craft.settings import Settings
from cfgaudit.reports.secret_changes import masked_row


@click.command()
@click.argument("dumps", metavar="DUMP DUMP...", nargs=-1, required=True)
@dialect_option
@stdin_option
@format_option("terminal", "json")
@output_options
@secrets_option
@click.option(
    "--all", "everything", is_flag=True, help="Craft-own settings and firmware-own lines too."
)
def command(
    dumps: tuple[str, ...],
    dialect: str | None,
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
    everything: bool,
) -> int:
    """Compare two or more craft: a row a setting that differs, a column a craft."""
    if len(dumps) < 2:
        raise click.UsageError("compare wants at least two dumps")
    inputs = Inputs(dialect, stdin_name)
    opened = [inputs.open(dump) for dump in dumps]
    crafts = [(dump, entry.settings) for dump, entry in zip(dumps, opened, strict=True)]
    rows = compare(crafts, everything=everything)
    if not everything and len({entry.dialect.name for entry in opened}) > 1:
        rows = tuple(row for row in rows if not row.raw)  # no two dialects share their own keys
    if not secrets:
        rows = tuple(masked_row(row) for row in rows)
    names = [_name(dump, settings) for dump, settings in crafts]
    if form == "json":
        from cfgaudit.reports.json_changes import compare_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(compare_json(names, rows)), output)
    else:
        from cfgaudit.reports.terminal_changes import compare_screen

        put_screen(compare_screen(names, rows, screen_width()), output, color)
    return 0


def _name(dump: str, settings: Settings) -> str:
    """The craft's own name, else its file's."""
    if "craft.name" in settings:
        return str(settings["craft.name"].value)
    return Path(dump).stem
