"""`cfgaudit dialect check`: everything that is wrong with a dialect file."""

from pathlib import Path

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.options import format_option, output_options
from cfgaudit.cli.output import put_screen, put_text, screen_width


@click.command()
@click.argument("file")
@format_option("terminal", "json")
@output_options
def command(file: str, form: str, output: str | None, color: str) -> int:
    """Tell everything that is wrong with the dialect FILE, each with its line.

    Exit status 1 where something is.
    """
    from cfgaudit.dialects.dialect import DialectError
    from cfgaudit.teach.checking import check_file

    try:
        problems = check_file(Path(file))
    except DialectError as error:
        raise InputError(str(error)) from None
    if form == "json":
        from cfgaudit.reports.json_report import dumped
        from cfgaudit.reports.json_teaching import problems_json

        put_text(dumped(problems_json(problems, file)), output)
    else:
        from cfgaudit.reports.terminal_teaching import problems_screen

        put_screen(problems_screen(problems, file, screen_width()), output, color)
    return 1 if problems else 0
