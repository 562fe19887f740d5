"""`cfgaudit dialect`: make, try, teach and check a dialect."""

import re
import shlex
from collections.abc import Sequence
from pathlib import Path

import click

from cfgaudit.cli import InputError, Refusing, say
from cfgaudit.cli.files import write_atomically
from cfgaudit.cli.inputs import Inputs, read_bytes
from cfgaudit.cli.options import ReadBy, output_options, reading_options, stdin_option
from cfgaudit.cli.output import Output
from cfgaudit.cli.teaching import drafted, refuse_empty, remembered, teach
from cfgaudit.dialects.checking import check_file
from cfgaudit.dialects.dialect import Dialect, DialectError, load_dialect
from cfgaudit.dialects.lines import idle_lines, mapped_paths
from cfgaudit.dialects.opening import bundled_dialects, open_dump
from cfgaudit.dialects.reader import read
from cfgaudit.reading.shapes import Look
from cfgaudit.reading.text import read_text
from cfgaudit.reading.toml import CannotAdd
from cfgaudit.reports import dialects as told
from cfgaudit.reports.data import dumped
from cfgaudit.reports.screen import safe_lines
from cfgaudit.reports.teaching import fields_json, not_read
from cfgaudit.reports.wording import counted, not_told_of
from cfgaudit.teach.adding import added, look_of
from cfgaudit.teach.coverage import coverage
from cfgaudit.teach.learn import CannotLearn, LearntKey, Lesson, equals, part_of
from cfgaudit.teach.learn import learn as learnt_of
from cfgaudit.vocabulary.paths import vocabulary


@click.group()
def command() -> None:
    """Teach the tool a firmware's dump: its names, its units, its words."""


@command.command(short_help="Work out a dialect from dumps that none knows.")
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@click.option("--name", metavar="NAME", default="", help="What to call the dialect.")
@click.option(
    "--remember/--no-remember",
    default=False,
    help="With --output: write cfgaudit.toml, so that the dialect is found.",
)
@output_options("toml", "json", color=False)
@stdin_option
def new(dumps: tuple[str, ...], name: str, remember: bool, out: Output, stdin_name: str) -> int:
    """Write a dialect file for the firmware that made DUMP; several dumps of it tell more.

    Lines that are sure are at work, doubtful ones stand as comments with what they may be and
    why. `dialect teach` asks for what is missing. As JSON: each field with its candidates.
    """
    if name and not re.fullmatch(r"[\w.-]+", name):
        raise click.UsageError(f"--name {name!r}: letters, figures, - and _ are expected")
    draft, names, texts = drafted(dumps, name, stdin_name)
    refuse_empty(draft, names)
    missing = not_read(draft, names[0], texts[0])
    shown = dumped(fields_json(draft, missing)) if out.form == "json" else safe_lines(draft.text)
    out.put_text(shown)
    into = out.output is not None and out.form == "toml"
    more = [*(["--name", name] if name else []), *(["--output", str(out.output)] if into else [])]
    say(
        f"{counted(draft.active, 'line')} at work, {counted(draft.doubtful, 'value')} doubtful, "
        f"{draft.unknown} unknown; read the comments before you trust it."
    )
    if missing:
        say(not_told_of(missing))
    say(f"Next: cfgaudit dialect teach {shlex.join([*dumps, *more])}")
    if out.output is not None and into and remember:
        remembered(Path(out.output), Path(dumps[0]), remember, ask=False)
    return 0


command.add_command(teach)


@command.command("try", short_help="What a dialect makes of a dump, and what to map next.")
@click.argument("dump")
@reading_options(extra="", limits=False)
@output_options("terminal", "json")
def try_(dump: str, reading: ReadBy, out: Output) -> int:
    """Show what a dialect makes of DUMP: lines read, keys mapped, rules that can run.

    Last comes what to map next: the settings for which the most rules wait.
    """
    opened = Inputs(reading).open(dump)
    found = told.masked_coverage(coverage(opened), opened.dialect.secret)
    names = (opened.document.name, opened.dialect.name or "no dialect")
    out.put(
        lambda width: told.coverage_screen(found, *names, width),
        lambda: told.coverage_json(found, *names),
    )
    return 0


@command.command(short_help="Find a setting's key from two dumps, before and after a change.")
@click.argument("before")
@click.argument("after")
@click.option(
    "--set", "change", metavar="PATH=VALUE", required=True, help="What was set between the two."
)
@click.option("--was", metavar="VALUE", default="", help="The value before, where it is known.")
@click.option(
    "--pair",
    "pairs",
    metavar="BEFORE AFTER VALUE",
    nargs=3,
    multiple=True,
    help="Two more dumps, and what the same setting was set to.",
)
@click.option("--into", metavar="FILE", help="Add what was learnt to this dialect file.")
@output_options("terminal", "json")
def learn(
    before: str,
    after: str,
    change: str,
    was: str,
    pairs: tuple[tuple[str, str, str], ...],
    into: str | None,
    out: Output,
) -> int:
    """Work out which key of a dump a setting is, from dumps before and after it was changed.

    BEFORE and AFTER are dumps of one craft with that one change between them. Further pairs
    sharpen the answer. PATH may be a part of a switch's range, such as `switches.arm.low`. Exit
    status 1 where several keys explain the change equally well.
    """
    path, sign, value = (part.strip() for part in change.partition("="))
    if not sign:
        raise click.UsageError(f"--set {change!r}: PATH=VALUE is expected")
    lessons = [_lesson(before, after, value, was)]
    lessons += [_lesson(one, other, given, "") for one, other, given in pairs]
    text, look = _read_dialect(into) if into is not None else ("", None)
    with Refusing(CannotLearn):
        found = learnt_of(path, lessons, look)
    best, part = equals(found), part_of(path)
    if into is not None and len(best) == 1 and best[0].lines and part is None:
        _add(Path(into), text, best[0], path, lessons)
    out.put(
        lambda width: told.learnt_screen(path, best, found, width),
        lambda: told.learnt_json(path, best, found),
    )
    if into is not None and len(best) > 1:
        say(f"{into} is left alone: which of the keys it is, is not clear")
    elif into is not None and part is not None:
        say(
            f"{into} is left alone: a line with {part[1]} and not the rest of {part[0]} "
            f"states nothing; with --set {shlex.quote(f'{part[0]}=VALUE')} all of it is learnt"
        )
    elif into is not None and not best[0].lines:
        say(f"{into} is left alone: a dialect has no line that says so")
    return 1 if len(best) > 1 else 0


def _lesson(before: str, after: str, value: str, was: str) -> Lesson:
    texts = [read_text(read_bytes(dump, "standard input")[0]) for dump in (before, after)]
    return Lesson(texts[0], texts[1], value, was)


def _read_dialect(file: str) -> tuple[str, Look | None]:
    """The text of a dialect file, and the look that it gives a dump. Raises InputError."""
    if file == "-":
        raise click.UsageError("--into names a file to add to; standard input is none")
    try:
        text = read_bytes(file, "")[0].decode("utf-8")
        return text, look_of(text)
    except UnicodeDecodeError:
        raise InputError(f"{file}: is not UTF-8") from None
    except DialectError as error:
        raise InputError(f"{file}: {error}") from None


def _add(file: Path, text: str, one: LearntKey, path: str, lessons: Sequence[Lesson]) -> None:
    """Add what was learnt to a dialect file, all of which is kept. Raises InputError."""
    try:
        made = added(text, one, path, lessons)
    except DialectError as error:
        raise InputError(f"{file}: {error}") from None
    except CannotAdd as error:
        at = f"{file}:{error.line}" if error.line else str(file)
        under = f" under {' / '.join(one.under)}" if one.under else ""
        by_hand = "; ".join(one.lines) + under
        raise InputError(f"{at}: {error}; if it is right, add by hand: {by_hand}") from None
    if made == text:
        say(f"{file} is left alone: it reads {path} so already")
        return
    write_atomically(file, made.encode("utf-8"), was=text.encode("utf-8"))
    say(f"added to {file}: {'; '.join(one.lines)}")


@command.command(short_help="Everything that is wrong with a dialect file.")
@click.argument("file")
@click.argument("dumps", metavar="[DUMP]...", nargs=-1)
@output_options("terminal", "json")
def check(file: str, dumps: tuple[str, ...], out: Output) -> int:
    """Tell everything that is wrong with the dialect FILE, each with its line.

    Of DUMPs of its firmware, tell also which lines of FILE read nothing in any of them. Exit status
    1 where something is wrong.
    """
    with Refusing(DialectError):
        problems = check_file(Path(file))
        idle = () if problems else _idle(load_dialect(Path(file)), dumps)
    out.put(
        lambda width: told.problems_screen(problems, file, width, idle),
        lambda: told.problems_json(problems, file, idle),
    )
    return 1 if problems else 0


def _idle(dialect: Dialect, dumps: Sequence[str]) -> Sequence[str]:
    """The lines of a dialect that read nothing in any of the dumps; none where none is given."""
    opened = [open_dump(d, read_bytes(d, "standard input")[0], (), dialect) for d in dumps]
    return idle_lines(dialect, [read(o.document, dialect) for o in opened]) if dumps else ()


@command.command("list", short_help="The dialects known here.")
@output_options("terminal", "json")
def list_(out: Output) -> int:
    """List the dialects that hold for this folder: name, file, how many settings they map."""
    with Refusing(DialectError):
        known = [load_dialect(path) for path in Inputs().folder("-").dialects]
        counted = [(d, len(mapped_paths(d))) for d in (*known, *bundled_dialects())]
    every = len(vocabulary())
    out.put(
        lambda width: told.list_screen(counted, every, width),
        lambda: told.list_json(counted, every),
    )
    return 0
