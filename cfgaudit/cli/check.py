"""`cfgaudit check`: audit dumps."""

import click

from cfgaudit.audit.engine import RANK, Audit, audit
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import fail_option, format_option, output_options, reading_options
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.rules.rule import Level


@click.command()
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@reading_options
@format_option("terminal", "json")
@output_options
@fail_option
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
    unchecked: bool,
) -> int:
    """Audit DUMPs: findings by level, then what could not be checked, then a verdict."""
    inputs = Inputs(dialect, stdin_name)
    audits = [audit(inputs.open(dump, extra).settings) for dump in dumps]
    if form == "json":
        from cfgaudit.reports.json_report import check_json, dumped

        put_text(dumped(check_json(audits)), output)
    else:
        from cfgaudit.reports.terminal_check import check_screen

        put_screen(check_screen(audits, width=screen_width(), unchecked=unchecked), output, color)
    return exit_status(audits, fail_on or inputs.folder(dumps[0]).fail_on)


def exit_status(audits: list[Audit], fail_on: str) -> int:
    """1 where a finding is at or above the level, else 0."""
    if fail_on == "never":
        return 0
    limit = RANK[Level(fail_on)]
    return int(any(RANK[finding.level] <= limit for entry in audits for finding in entry.findings))
