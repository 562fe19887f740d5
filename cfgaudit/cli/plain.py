"""`cfgaudit plain`: a dump in the plain form; or files in that form put into their one form."""

from pathlib import Path

import click

from cfgaudit.cli import InputError, Refusing, say
from cfgaudit.cli.files import write_atomically
from cfgaudit.cli.inputs import Inputs, refuse_unmerged
from cfgaudit.cli.options import ReadBy, output_options, reading_options, secrets_option
from cfgaudit.cli.output import Output, put_text
from cfgaudit.dialects.plain import (
    PLAIN,
    CannotFormat,
    first_difference,
    formatted,
    write_plain,
)
from cfgaudit.reading.safe import safe
from cfgaudit.reports.screen import safe_lines
from cfgaudit.reports.secrets import masked_settings
from cfgaudit.settings import Settings, TroubleKind


@click.command()
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@reading_options()
@output_options()
@secrets_option
@click.option("--write", is_flag=True, help="Put files that are in the plain form in order.")
@click.option("--check", is_flag=True, help="Exit 1 where --write would change a file.")
def command(
    dumps: tuple[str, ...], reading: ReadBy, out: Output, secrets: bool, write: bool, check: bool
) -> int:
    """Print DUMP in the plain form: sorted, with units, made to be read and versioned.

    With --write or --check the DUMPs are files in that form already: one order, one spelling of
    values, every comment kept.
    """
    inputs = Inputs(reading)
    if write or check:
        if write and check:
            raise click.UsageError("--write and --check can't both be had")
        if reading.extra or out.output or secrets or (write and "-" in dumps):
            raise click.UsageError("--write and --check work on files in place, and on these alone")
        return _in_place(inputs, dumps, write)
    if len(dumps) > 1:
        raise click.UsageError("one DUMP can be printed; --write and --check take several")
    settings = inputs.open(dumps[0], reading.extra).settings
    refuse_unmerged(settings, then="write it in the plain form")
    for path, lines in settings.contested.items():
        raise InputError(
            f"{dumps[0]}: {path} is stated more than once, with different values, on lines "
            f"{lines}. Keep the line that is meant"
        )
    _tell_of_losses(settings)
    settings = settings if secrets else masked_settings(settings)
    if not len(settings):
        say(f"{dumps[0]}: no dialect gives this dump a neutral meaning")
    out.put_text(safe_lines(write_plain(settings)))
    return 0


_MOST_LOSSES = 20  # lines that are named; the rest is counted


def _tell_of_losses(settings: Settings) -> None:
    """Say which lines the plain form will not hold, as they can't be read or mean nothing known."""
    lost = [
        f"{trouble.place}: {trouble.message}; it is not in the plain form"
        for trouble in settings.troubles
        if trouble.place and trouble.kind is not TroubleKind.TRUNCATED
    ]
    meant = any(dump.dialect == PLAIN.name for dump in settings.dumps)
    lost += [
        f"{raw.place}: {raw.key} is no setting; it is not in the plain form"
        for raw in settings.raw.values()
        if meant and raw.place and not raw.known
    ]
    for line in lost[:_MOST_LOSSES]:
        say(line)
    if len(lost) > _MOST_LOSSES:
        say(f"{len(lost) - _MOST_LOSSES} lines more are not in the plain form")


def _in_place(inputs: Inputs, dumps: tuple[str, ...], write: bool) -> int:
    """Put every file in order, or say which are not; one that can't be does not stop the others."""
    differ = refused = 0
    for dump in dumps:
        try:
            differ += _one_in_place(inputs, dump, write)
        except InputError as error:
            say(f"Error: {error.message}")
            refused += 1
    return 2 if refused else int(bool(differ) and not write)


def _one_in_place(inputs: Inputs, dump: str, write: bool) -> bool:
    """Whether a file was not in its one form. Raises InputError."""
    opened = inputs.open(dump)
    if not opened.dialect.keys_are_paths:
        raise InputError(
            f"{dump} is not in the plain form; `cfgaudit plain DUMP --output FILE` writes it"
        )
    if opened.document.part is not None:
        raise InputError(f"{dump} is one of several dumps in a file; each wants a file of its own")
    before = opened.document.to_bytes()
    with Refusing(CannotFormat):
        after = formatted(dump, before)
    if before == after:
        return False
    if write:
        write_atomically(Path(dump), after, was=before)
        say(f"written: {dump}")
    else:
        line = first_difference(before, after)
        put_text(f"{safe(dump)}:{line}: not in the one form (cfgaudit plain --write)\n")
    return True
