"""`cfgaudit compare`: several craft side by side."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.changes.compare import RowOfCraft, compare
from cfgaudit.cli.auditing import audited_together
from cfgaudit.cli.flood import most, tell_left_out
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    build_option,
    format_option,
    output_options,
    reading_options,
    secrets_option,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.secret_changes import masked_row
from cfgaudit.settings import Settings

if TYPE_CHECKING:
    from cfgaudit.audit.fleet import FleetAudit


@click.command()
@click.argument("dumps", metavar="DUMP DUMP...", nargs=-1, required=True)
@reading_options
@build_option
@format_option("terminal", "json")
@output_options
@secrets_option
@today_option
@click.option(
    "--all", "everything", is_flag=True, help="Craft-own settings and firmware-own lines too."
)
def command(
    dumps: tuple[str, ...],
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
) -> int:
    """Compare two or more craft: a row a setting that differs, a column a craft.

    `--with DUMP=FILE` adds a further dump to the craft of one of the DUMPs. With `--build
    DUMP=FILE` the build sheets are compared too.
    """
    if len(dumps) < 2:
        raise click.UsageError("compare wants at least two dumps")
    inputs = Inputs(dialect, stdin_name)
    theirs = shared_out(dumps, extra)
    opened = [inputs.open(dump, own) for dump, own in zip(dumps, theirs, strict=True)]
    crafts = [(dump, entry.settings) for dump, entry in zip(dumps, opened, strict=True)]
    if build:
        crafts = _built(inputs, crafts, build)
    rows = _rows(crafts, everything, len({entry.dialect.name for entry in opened}) == 1, secrets)
    names = [_name(dump, settings, secrets) for dump, settings in crafts]
    fleet = audited_together(inputs, dumps, [settings for _, settings in crafts], today)
    if form == "json":
        from cfgaudit.reports.json_changes import compare_json
        from cfgaudit.reports.json_fleet import fleet_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(compare_json(names, rows, fleet_json(fleet))), output)
    else:
        put_screen(_screen(names, rows, crafts, fleet), output, color)
    return 0


def _screen(
    names: Sequence[str],
    rows: Sequence[RowOfCraft],
    crafts: Sequence[tuple[str, Settings]],
    fleet: "FleetAudit",
) -> Screen:
    """The screen; how many rows of a long one are left out is said on standard error."""
    from cfgaudit.reports.terminal_changes import compare_screen
    from cfgaudit.reports.terminal_fleet import fleet_lines

    tell_left_out(", ".join(name for name, _ in crafts), rows, "setting")
    screen = compare_screen(names, rows, crafts, screen_width(), most())
    if fleet.findings or fleet.not_checked or fleet.waived:
        fleet_lines(screen, fleet)
    return screen


def _built(
    inputs: Inputs, crafts: Sequence[tuple[str, Settings]], build: tuple[str, ...]
) -> list[tuple[str, Settings]]:
    """The craft with what their build sheets state beside it."""
    from cfgaudit.cli.building import beside, sheets

    names, stated = [name for name, _ in crafts], [settings for _, settings in crafts]
    found = sheets(inputs, names, stated, build)
    return list(zip(names, map(beside, stated, found), strict=True))


def _rows(
    crafts: Sequence[tuple[str, Settings]], everything: bool, one_dialect: bool, secrets: bool
) -> tuple[RowOfCraft, ...]:
    """The rows to show."""
    rows = compare(crafts, everything=everything)
    if not everything and not one_dialect:
        rows = tuple(row for row in rows if not row.raw)  # no two dialects share their own keys
    return rows if secrets else tuple(masked_row(row) for row in rows)


def _name(dump: str, settings: Settings, secrets: bool) -> str:
    """The craft's own name, else its file's."""
    named = settings.stated.get("craft.name")
    if named is not None and (secrets or not named.secret):
        return str(named.value)
    return Path(dump).stem
