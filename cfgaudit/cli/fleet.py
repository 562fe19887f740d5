"""`cfgaudit fleet`: all the craft of a folder at once."""

from collections.abc import Iterator, Sequence
from fnmatch import fnmatch
from pathlib import Path

import click

from cfgaudit.changes.compare import odd_ones
from cfgaudit.cli import InputError, reason_of
from cfgaudit.cli.auditing import audited, audited_together, exit_status, most, tell_left_out
from cfgaudit.cli.inputs import Inputs, read_bytes, shared_out
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
    secrets_option,
    statuses,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.opening import Opened
from cfgaudit.reports.compare import masked_row
from cfgaudit.reports.fleet import Roster, roster_json, roster_screen

_TOP = 100_000  # bytes: more than most dumps have


@click.command(epilog=statuses("findings at or above --fail-on"))
@click.argument("places", metavar="DIR...", nargs=-1, required=True)
@click.option("--match", metavar="PATTERN", multiple=True, help="Only files so named, as '*.dump'.")
@reading_options(stdin=False)
@output_options("terminal", "json")
@secrets_option
@judging_options(fail_on=True)
def command(
    places: tuple[str, ...],
    match: tuple[str, ...],
    reading: ReadBy,
    out: Output,
    secrets: bool,
    judging: JudgedBy,
) -> int:
    """Audit all the craft whose dumps lie in each DIR, and what they do to one another.

    A file that no dialect knows is passed over, and so is what lies in folders below; a DUMP may
    be named in a DIR's place. A further dump of one craft, as of its speed controllers, is named
    with `--with DUMP=FILE` and then is no craft of its own.
    """
    inputs = Inputs(reading)
    crafts, passed_over = _read(inputs, places, match, reading)
    if not crafts:
        raise InputError(f"no dialect knows any file in {', '.join(places)}")
    dumps = list(crafts)
    theirs = shared_out(dumps, reading.extra)
    settings = [
        inputs.joined(crafts[dump], own).settings for dump, own in zip(dumps, theirs, strict=True)
    ]
    audits = audited(inputs, dumps, settings, judging)
    together = audited_together(inputs, dumps, settings, judging)
    odd = odd_ones(list(zip(together.names, settings, strict=True)))
    odd = odd if secrets else tuple(masked_row(row) for row in odd)
    found = Roster(together.names, tuple(audits), odd, together, tuple(passed_over))
    if out.form == "terminal":
        tell_left_out(", ".join(places), odd, "setting")
    out.put(lambda width: roster_screen(found, width, most()), lambda: roster_json(found, most()))
    return exit_status(inputs, dumps[0], judging, audits, together.findings)


def _read(
    inputs: Inputs, places: Sequence[str], match: Sequence[str], reading: ReadBy
) -> tuple[dict[str, Opened], list[str]]:
    """The dumps that a dialect knows, by file, and the other files. A file named is always read."""
    named = {place for place in places if not Path(place).is_dir()}
    joined = {Path(entry.rpartition("=")[2]).resolve() for entry in reading.extra}
    crafts: dict[str, Opened] = {}
    passed_over: list[str] = []
    for file in dict.fromkeys(file for place in places for file in _in(place, match)):
        if Path(file).resolve() in joined:
            continue
        if file in named or _is_dump(inputs, file, reading.dialect):
            crafts[file] = inputs.open(file)
        else:
            passed_over.append(file)
    return crafts, passed_over


def _in(place: str, match: Sequence[str]) -> Iterator[str]:
    """A file by itself; the files of a folder in the order of their names, but hidden ones."""
    folder = Path(place)
    if not folder.is_dir():
        yield place
        return
    try:
        inside = sorted(folder.iterdir())
    except OSError as error:
        raise InputError(f"{place} can't be read: {reason_of(error)}") from None
    for path in inside:
        wanted = not match or any(fnmatch(path.name, pattern) for pattern in match)
        if wanted and path.is_file() and not path.name.startswith("."):
            yield path.as_posix()


def _is_dump(inputs: Inputs, file: str, dialect: str | None) -> bool:
    """Whether a dialect knows a file by its top; a picture or a long log is not read whole.

    One that was named on the command line knows a file if it reads any setting there.
    """
    try:
        data, name = read_bytes(file, "")
    except InputError:  # too large, or not to be read
        return False
    cut = data.rfind(b"\n", 0, _TOP)
    cut += cut % 2  # no letter of two bytes is cut, whichever of them is the line end
    top = data if len(data) <= _TOP else data[: cut if cut > 0 else _TOP]
    opened = inputs.open_bytes(file, top, name, dialect)
    if dialect is not None:
        return any(entry.place for entry in opened.settings.stated.values())
    return bool(opened.dialect.name)
