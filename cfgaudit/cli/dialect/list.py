"""`cfgaudit dialect list`: the dialects known here."""

import click

from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import format_option, output_options
from cfgaudit.cli.output import put_screen, put_text, screen_width


@click.command()
@format_option("terminal", "json")
@output_options
def command(form: str, output: str | None, color: str) -> int:
    """List the dialects that hold for this folder: name, file, how many settings they map."""
    from cfgaudit.cli.errors import InputError
    from cfgaudit.dialects.dialect import DialectError, load_dialect
    from cfgaudit.dialects.opening import bundled_dialects
    from cfgaudit.dialects.writer import mapped_paths
    from cfgaudit.vocabulary.paths import vocabulary

    try:
        known = [load_dialect(path) for path in Inputs().folder("-").dialects]
        counted = [(d, len(mapped_paths(d))) for d in (*known, *bundled_dialects())]
    except DialectError as error:
        raise InputError(str(error)) from None
    every = len(vocabulary())
    if form == "json":
        from cfgaudit.reports.json_report import dumped
        from cfgaudit.reports.json_teaching import list_json

        put_text(dumped(list_json(counted, every)), output)
    else:
        from cfgaudit.reports.terminal_teaching import list_screen

        put_screen(list_screen(counted, every, screen_width()), output, color)
    return 0
