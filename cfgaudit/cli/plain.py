"""`cfgaudit plain`: a dump in the plain form."""

import click

from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import output_options, reading_options, secrets_option
from cfgaudit.cli.output import put_text


@click.command()
@click.argument("dump")
@reading_options
@output_options
@secrets_option
def command(
    dump: str,
    dialect: str | None,
    extra: tuple[str, ...],
    stdin_name: str,
    output: str | None,
    color: str,
    secrets: bool,
) -> int:
    """Print DUMP in the plain form: sorted, with units, made to be read and versioned."""
    from cfgaudit.dialects.plain import write_plain
    from cfgaudit.reports.safe import safe_lines
    from cfgaudit.reports.secrets import masked_settings

    settings = Inputs(dialect, stdin_name).open(dump, extra).settings
    settings = settings if secrets else masked_settings(settings)
    if not len(settings):
        click.echo(f"{dump}: no dialect gives this dump a neutral meaning", err=True)
    put_text(safe_lines(write_plain(settings)), output)
    return 0
