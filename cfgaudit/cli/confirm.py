"""`cfgaudit confirm`: whether what was written took."""

import click

from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.cli.options import (
    dialect_option,
    format_option,
    output_options,
    secrets_option,
    stdin_option,
    together,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.dialects.opening import Opened
from cfgaudit.reports.secrets import is_secret
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.work.confirm import Confirmation, Confirmed, confirm

with_readback = click.option(
    "--with", "extra", metavar="FILE", multiple=True, help="Another dump read back from the craft."
)


@click.command()
@click.argument("intended")
@click.argument("readback")
@together(dialect_option, with_readback, stdin_option)
@click.option("--before", metavar="FILE", help="What the craft had before, if it was kept.")
@format_option("terminal", "json")
@output_options
@secrets_option
def command(
    intended: str,
    readback: str,
    dialect: str | None,
    extra: tuple[str, ...],
    stdin_name: str,
    before: str | None,
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
) -> int:
    """Whether what was written took: every setting of INTENDED against the READBACK dump.

    INTENDED may state some settings only, as a dump or in the plain form. Exit 1 where one did
    not take; what the firmware's own steps rounded did.
    """
    if [intended, readback, before, *extra].count("-") > 1:
        raise click.UsageError("standard input can be read once; `-` is named twice")
    inputs = Inputs(dialect, stdin_name)
    wanted = _intended(inputs, intended, stdin_name, dialect)
    found = inputs.open(readback, extra)
    old = inputs.open(before).settings if before else None
    outcome = confirm(wanted, found, old)
    shown = outcome if secrets else _masked(outcome, wanted.settings, found.settings)
    names = (wanted.document.name, found.document.name)
    if form == "json":
        from cfgaudit.reports.json_confirm import confirm_json
        from cfgaudit.reports.json_report import dumped

        put_text(dumped(confirm_json(names, shown)), output)
    else:
        from cfgaudit.reports.terminal_confirm import confirm_screen

        put_screen(confirm_screen(names, shown, width=screen_width()), output, color)
    return int(bool(outcome.amiss))


def _intended(inputs: Inputs, file: str, stdin_name: str, dialect: str | None) -> Opened:
    """What is intended, in the dialect that it shows: it may be in the plain form."""
    data, name = read_bytes(file, stdin_name)
    opened = inputs.open_bytes(file, data, name)
    if not opened.dialect.name and dialect is not None:
        return inputs.open_bytes(file, data, name, dialect)
    return opened


def _masked(outcome: Confirmation, *both: Settings) -> Confirmation:
    """The outcome with every value hidden that is a secret of either dump."""

    def hidden(entry: Confirmed) -> Confirmed:
        name = entry.renamed or entry.path
        tables = [side.raw if entry.raw else side.stated for side in both]
        known = [table[n] for table in tables for n in {entry.path, name} if n in table]
        if not any(is_secret(one) for one in known):
            return entry
        return entry._replace(intended=HIDDEN, found=HIDDEN if entry.found else "")

    return outcome._replace(entries=tuple(hidden(entry) for entry in outcome.entries))
