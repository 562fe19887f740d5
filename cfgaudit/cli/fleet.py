"""`cfgaudit fleet`: all the craft of a folder at once."""

from collections.abc import Iterator, Sequence
from fnmatch import fnmatch
from itertools import islice
from pathlib import Path

import click

from cfgaudit.changes.diff import odd_ones
from cfgaudit.cli import InputError, reason_of, say
from cfgaudit.cli.auditing import (
    audited,
    audited_together,
    blind_to,
    exit_status,
    most,
    tell_left_out,
)
from cfgaudit.cli.folder import changes_told
from cfgaudit.cli.inputs import Inputs, read_bytes, shared_out
from cfgaudit.cli.options import (
    AUDIT_STATUSES,
    AskedOfAll,
    JudgedBy,
    ReadBy,
    bounds_asked_for,
    bundle,
    judging_options,
    output_options,
    reading_options,
    secrets_option,
)
from cfgaudit.cli.output import Output, watched
from cfgaudit.dialects.opening import Opened
from cfgaudit.reading.text import BOUNDS
from cfgaudit.reports.compare import masked_row
from cfgaudit.reports.fleet import Roster, roster_json, roster_screen

_TOP = 100_000  # bytes: more than most dumps have
_FEW = 50  # dumps, up to which each craft is told by itself


together_options = bundle(
    "asked",
    AskedOfAll,
    click.option(
        "--list", "listed", metavar="FILE", help="A file of paths, or - for standard input."
    ),
    click.option("--shelf", metavar="FILE", help="Keep what is found here, and go on from it."),
    click.option("--workers", type=click.IntRange(1, 256), help="Processes; else one a core."),
    click.option(
        "--engine",
        type=click.Choice(["processes", "dask"]),
        default="processes",
        help="Who works on it.",
    ),
    click.option("--scheduler", metavar="ADDRESS", help="Of the cluster, with --engine dask."),
    click.option("--query", metavar="SQL", help="Ask craft, finding, setting of a --shelf."),
    click.option("--parquet", metavar="DIR", help="Write the tables of a --shelf here."),
    click.option(
        "--limits", metavar="FILE", help="Write what most craft keep as [[limit]] tables."
    ),
    click.option("--long", "every", is_flag=True, help="Everything, not one screen of it."),
)


@click.command(epilog=AUDIT_STATUSES)
@click.argument("places", metavar="DIR...", nargs=-1)
@click.option("--match", metavar="PATTERN", multiple=True, help="Only files so named, as '*.dump'.")
@reading_options(stdin=False)
@output_options("terminal", "json")
@secrets_option
@judging_options(fail_on=True)
@together_options
def command(
    places: tuple[str, ...],
    match: tuple[str, ...],
    reading: ReadBy,
    out: Output,
    secrets: bool,
    judging: JudgedBy,
    asked: AskedOfAll,
) -> int:
    """Audit all the craft whose dumps lie in each DIR, and what they do to one another.

    A file that no dialect knows is passed over, and so is what lies in folders below; a DUMP may
    be named in a DIR's place. A further dump of one craft, as of its speed controllers, is named
    with `--with DUMP=FILE` and then is no craft of its own.

    More than fifty dumps, archives (zip, tar) and those of a --list are told of together: what
    their craft have in common, which one is odd among its like, what most of them keep. Then what
    craft do to one another is not looked at.
    """
    if not (places or asked.listed or asked.shelf):
        raise click.UsageError("Missing argument 'DIR...'.")
    single = bool(reading.extra or judging.build or secrets or bounds_asked_for() != BOUNDS)
    if asked != AskedOfAll() or (not single and _many(places, match)):
        from cfgaudit.cli.fleet_whole import whole_fleet  # a few dumps want no processes

        if single:
            raise click.UsageError(
                "--with, --build, --secrets and --no-limits are for craft told one by one"
            )
        return whole_fleet(places, match, reading, out, judging, asked)
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
    for line in dict.fromkeys(changes_told(inputs.folder(dump)) for dump in dumps):
        if line:
            say(line)
    together = audited_together(inputs, dumps, settings, judging)
    odd = odd_ones(list(zip(together.names, settings, strict=True)))
    odd = odd if secrets else tuple(masked_row(row) for row in odd)
    blind = tuple(blind_to(inputs, *one) for one in zip(dumps, audits, strict=True))
    found = Roster(together.names, tuple(audits), odd, together, tuple(passed_over), blind)
    if out.form == "terminal":
        tell_left_out(", ".join(places), odd, "setting")
    out.put(
        lambda width: roster_screen(found, width, most()),
        lambda: roster_json(found, most()),
        inputs.other_names,
    )
    status = exit_status(inputs, dumps[0], judging, audits, together.findings)
    return 2 if found.unknown else status


def _many(places: Sequence[str], match: Sequence[str]) -> bool:
    """Whether there are more craft than can be told of one by one."""
    from cfgaudit.audit.sources import is_archive, sources

    if any(is_archive(place) for place in places):
        return True
    return len(list(islice(sources(places, match), _FEW + 1))) > _FEW


def _read(
    inputs: Inputs, places: Sequence[str], match: Sequence[str], reading: ReadBy
) -> tuple[dict[str, Opened], list[str]]:
    """The dumps that a dialect knows, by file, and the other files. A file named is always read."""
    named = {place for place in places if not Path(place).is_dir()}
    joined = {Path(entry.rpartition("=")[2]).resolve() for entry in reading.extra}
    crafts: dict[str, Opened] = {}
    passed_over: list[str] = []
    files = list(dict.fromkeys(file for place in places for file in _in(place, match)))
    for file in watched(files, "reading"):
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
