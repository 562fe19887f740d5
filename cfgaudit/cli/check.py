"""`cfgaudit check`: audit dumps."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import click

from cfgaudit.audit.engine import RANK, Audit, Finding
from cfgaudit.cli.auditing import audited, audited_together
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    fail_option,
    format_option,
    output_options,
    reading_options,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.reports.screen import Screen
from cfgaudit.rules.rule import Level

if TYPE_CHECKING:  # one dump alone has no use for it
    from cfgaudit.audit.fleet import FleetAudit


@click.command()
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@reading_options
@format_option("terminal", "json")
@output_options
@fail_option
@today_option
@click.option("--waived", is_flag=True, help="List what the folder's settings waive.")
@click.option("--unchecked", is_flag=True, help="List what could not be checked.")
def command(
    dumps: tuple[str, ...],
    dialect: str | None,
    extra: tuple[str, ...],
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    fail_on: str | None,
    today: datetime | None,
    waived: bool,
    unchecked: bool,
) -> int:
    """Audit DUMPs: findings by level, then what could not be checked, then a verdict.

    With several DUMPs, `--with DUMP=FILE` says whose craft FILE belongs to.
    """
    inputs = Inputs(dialect, stdin_name)
    theirs = shared_out(dumps, extra)
    crafts = [inputs.open(dump, own).settings for dump, own in zip(dumps, theirs, strict=True)]
    audits = audited(inputs, dumps, crafts, today)
    fleet = audited_together(inputs, dumps, crafts, today) if len(crafts) > 1 else None
    if form == "json":
        put_text(_json(audits, fleet), output)
    else:
        put_screen(_screen(audits, fleet, unchecked, waived), output, color)
    findings = [finding for entry in audits for finding in entry.findings]
    findings += fleet.findings if fleet else ()
    return exit_status(findings, fail_on or inputs.folder(dumps[0]).fail_on)


def _json(audits: Sequence[Audit], fleet: "FleetAudit | None") -> str:
    from cfgaudit.reports.json_report import check_json, dumped

    if fleet is None:
        return dumped(check_json(audits, None))
    from cfgaudit.reports.json_fleet import fleet_json

    return dumped(check_json(audits, fleet_json(fleet)))


def _screen(
    audits: Sequence[Audit], fleet: "FleetAudit | None", unchecked: bool, waived: bool
) -> Screen:
    from cfgaudit.reports.terminal_check import check_screen

    screen = check_screen(audits, width=screen_width(), unchecked=unchecked, waived=waived)
    if fleet is not None:
        from cfgaudit.reports.terminal_fleet import fleet_lines

        fleet_lines(screen, fleet, waived)
    return screen


def exit_status(findings: Sequence[Finding], fail_on: str) -> int:
    """1 where a finding is at or above the level, else 0."""
    if fail_on == "never":
        return 0
    limit = RANK[Level(fail_on)]
    return int(any(RANK[finding.level] <= limit for finding in findings))
