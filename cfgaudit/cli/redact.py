"""`cfgaudit redact`: a dump to pass on, with what is private hidden."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.limits import no_limits_option
from cfgaudit.cli.options import dialect_option, stdin_option
from cfgaudit.reading.safe import is_unsafe

if TYPE_CHECKING:  # loaded where it is used
    from cfgaudit.dialects.redaction import Hidden


@click.command()
@click.argument("dump")
@dialect_option
@stdin_option
@no_limits_option
@click.option("--output", metavar="FILE", help="Write here, whole or not at all.")
@click.option("--check", is_flag=True, help="Write nothing; exit 1 if something would be hidden.")
@click.option("--keep-name", is_flag=True, help="Leave the craft's own name in.")
def command(
    dump: str,
    dialect: str | None,
    stdin_name: str,
    output: str | None,
    check: bool,
    keep_name: bool,
) -> int:
    """Print DUMP with owner, name, serial numbers, positions and the like hidden.

    Every other byte stays, so the dump is read and audited as before. What was hidden is listed
    on standard error, by line and key. Look the result over before it is passed on: no list of
    patterns knows everything that is private.
    """
    if check and output is not None:
        raise click.UsageError("--check writes nothing, so it takes no --output")
    from cfgaudit.dialects.redaction import redact

    opened = Inputs(dialect, stdin_name).open(dump)
    done = redact(opened, names=not keep_name)
    _tell(opened.document.name, done.hidden, check)
    if check:
        return int(bool(done.hidden))
    _put(done.data, output)
    return 0


def _tell(name: str, hidden: "tuple[Hidden, ...]", only_checked: bool) -> None:
    """List what was hidden, and never a value."""
    from cfgaudit.reports.safe import safe

    for entry in hidden:
        click.echo(
            f"{safe(name)}:{entry.line}:{entry.column}: {safe(entry.what)}: {entry.why}", err=True
        )
    many = "nothing" if not hidden else f"{len(hidden):,} stretch{'es' * (len(hidden) > 1)}"
    click.echo(f"{safe(name)}: {many} {'to hide' if only_checked else 'hidden'}", err=True)


def _put(data: bytes, output: str | None) -> None:
    """Write the dump's bytes as they are; only not to a screen that would obey some of them."""
    if output is not None:
        from cfgaudit.cli.writing import write_atomically

        write_atomically(Path(output), data)
        click.echo(f"written: {output}", err=True)
        return
    if sys.stdout.isatty() and any(
        is_unsafe(letter) and letter not in "\r\n" for letter in data.decode("utf-8", "replace")
    ):
        raise InputError("the dump holds characters that a terminal obeys: give --output FILE")
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    except OSError as error:
        if isinstance(error, BrokenPipeError):
            raise
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"standard output can't be written: {reason}") from None
