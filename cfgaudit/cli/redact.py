"""`cfgaudit redact`: a dump to pass on, with what is private hidden."""

import sys

import click

from cfgaudit.cli import InputError, say
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import ReadBy, output_options, reading_options
from cfgaudit.cli.output import Output, put_bytes, write_and_tell
from cfgaudit.dialects.redaction import Hidden, Redacted, redact_whole
from cfgaudit.reading.safe import is_unsafe

_MOST_LINES = 12  # that are named


@click.command()
@click.argument("dump")
@reading_options(extra="")
@output_options(color=False)
@click.option("--check", is_flag=True, help="Write nothing; exit 1 if something would be hidden.")
@click.option("--keep-name", is_flag=True, help="Leave the craft's own name in.")
def command(dump: str, reading: ReadBy, out: Output, check: bool, keep_name: bool) -> int:
    """Print DUMP with owner, name, serial numbers, positions and the like hidden.

    Every other byte stays, so the dump is read and audited as before. What was hidden is listed
    on standard error, by line and key. Of a file with several dumps every one is searched. Look the
    result over before it is passed on: no list of
    patterns knows everything that is private.
    """
    if check and out.output is not None:
        raise click.UsageError("--check writes nothing, so it takes no --output")
    inputs = Inputs(reading)
    parts = inputs.open_parts(dump)
    name = parts[0].document.name
    done = redact_whole(parts, lambda data: inputs.parts_in(dump, data, name), names=not keep_name)
    _tell(name, done.hidden, check)
    _tell_left(name, done)
    if not any(part.dialect.name for part in parts):
        say(f"{name}: no dialect fits, so what is private was told by keys and looks alone")
    if check:
        return int(bool(done.hidden))
    if out.output is not None:
        write_and_tell(out.output, done.data)
    elif sys.stdout.isatty() and _acts(done.data):
        raise InputError("the dump holds characters that a terminal obeys: give --output FILE")
    else:
        put_bytes(done.data)
    return 0


def _tell(name: str, hidden: tuple[Hidden, ...], only_checked: bool) -> None:
    """List what was hidden, and never a value."""
    for entry in hidden:
        say(f"{name}:{entry.line}:{entry.column}: {entry.what}: {entry.why}")
    many = "nothing" if not hidden else f"{len(hidden):,} stretch{'es' * (len(hidden) > 1)}"
    say(f"{name}: {many} {'to hide' if only_checked else 'hidden'}")


def _tell_left(name: str, done: Redacted) -> None:
    """Say where somebody's own words stay: no pattern knows whom they are about."""
    if done.left:
        lines = ", ".join(map(str, done.left[:_MOST_LINES]))
        more = f" and {len(done.left) - _MOST_LINES} more" * (len(done.left) > _MOST_LINES)
        said = "lines" if len(done.left) > 1 else "line"
        say(f"{name}: words stay that somebody wrote, on {said} {lines}{more}: read them")
    if done.remarks:
        what = f"{done.remarks:,} remarks stay" if done.remarks > 1 else "a remark stays"
        say(f"{name}: {what} on lines of their own")


def _acts(data: bytes) -> bool:
    """Whether a screen would obey some of it."""
    return any(
        is_unsafe(letter) and letter not in "\r\n" for letter in data.decode("utf-8", "replace")
    )
