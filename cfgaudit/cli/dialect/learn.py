"""`cfgaudit dialect learn`: a setting's key from dumps before and after it was changed."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import read_bytes
from cfgaudit.cli.options import format_option, output_options
from cfgaudit.cli.output import put_screen, put_text, screen_width

if TYPE_CHECKING:  # loaded where it is called
    from cfgaudit.reading.shapes import Look
    from cfgaudit.teach.learn import Learnt, Lesson


@click.command()
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
@format_option("terminal", "json")
@output_options
def command(
    before: str,
    after: str,
    change: str,
    was: str,
    pairs: tuple[tuple[str, str, str], ...],
    into: str | None,
    form: str,
    output: str | None,
    color: str,
) -> int:
    """Work out which key of a dump a setting is, from dumps before and after it was changed.

    BEFORE and AFTER are dumps of one craft with that one change between them. Further pairs
    sharpen the answer. Exit status 1 where several keys explain the change equally well.
    """
    from cfgaudit.teach.learn import CannotLearn, equals, learn

    path, sign, value = (part.strip() for part in change.partition("="))
    if not sign:
        raise click.UsageError(f"--set {change!r}: PATH=VALUE is expected")
    lessons = [_lesson(before, after, value, was)]
    lessons += [_lesson(one, other, given, "") for one, other, given in pairs]
    text, look = _read_dialect(into) if into is not None else ("", None)
    try:
        found = learn(path, lessons, look)
    except CannotLearn as error:
        raise InputError(str(error)) from None
    best = equals(found)
    if into is not None and len(best) == 1 and best[0].lines:
        _add(Path(into), text, best[0], path, lessons)
    _report(path, best, found, form, output, color)
    if into is not None and len(best) > 1:
        click.echo(f"{into} is left alone: which of the keys it is, is not clear", err=True)
    elif into is not None and not best[0].lines:
        click.echo(f"{into} is left alone: a dialect has no line that says so", err=True)
    return 1 if len(best) > 1 else 0


def _report(
    path: str,
    best: Sequence["Learnt"],
    found: Sequence["Learnt"],
    form: str,
    output: str | None,
    color: str,
) -> None:
    if form == "json":
        from cfgaudit.reports.json_report import dumped
        from cfgaudit.reports.json_teaching import learnt_json

        put_text(dumped(learnt_json(path, best, found)), output)
    else:
        from cfgaudit.reports.terminal_teaching import learnt_screen

        put_screen(learnt_screen(path, best, found, screen_width()), output, color)


def _lesson(before: str, after: str, value: str, was: str) -> "Lesson":
    from cfgaudit.reading.text import read_text
    from cfgaudit.teach.learn import Lesson

    texts = [read_text(read_bytes(dump, "standard input")[0]) for dump in (before, after)]
    return Lesson(texts[0], texts[1], value, was)


def _read_dialect(file: str) -> "tuple[str, Look | None]":
    """The text of a dialect file, and the look that it gives a dump. Raises InputError."""
    from cfgaudit.dialects.dialect import DialectError
    from cfgaudit.teach.adding import look_of

    if file == "-":
        raise click.UsageError("--into names a file to add to; standard input is none")
    try:
        text = read_bytes(file, "")[0].decode("utf-8")
        return text, look_of(text)
    except UnicodeDecodeError:
        raise InputError(f"{file}: is not UTF-8") from None
    except DialectError as error:
        raise InputError(f"{file}: {error}") from None


def _add(file: Path, text: str, one: "Learnt", path: str, lessons: Sequence["Lesson"]) -> None:
    """Add what was learnt to a dialect file, all of which is kept. Raises InputError."""
    from cfgaudit.cli.writing import write_atomically
    from cfgaudit.dialects.dialect import DialectError
    from cfgaudit.teach.adding import added
    from cfgaudit.teach.write import CannotAdd

    try:
        made = added(text, one, path, lessons)
    except DialectError as error:
        raise InputError(f"{file}: {error}") from None
    except CannotAdd as error:
        at = f"{file}:{error.line}" if error.line else str(file)
        raise InputError(f"{at}: {error}; if it is right, add by hand: {_by_hand(one)}") from None
    if made == text:
        click.echo(f"{file} is left alone: it reads {path} so already", err=True)
        return
    write_atomically(file, made.encode("utf-8"))
    click.echo(f"added to {file}: {'; '.join(one.lines)}", err=True)


def _by_hand(one: "Learnt") -> str:
    """The lines, and what they stand under, in one line."""
    under = f" under {' / '.join(one.under)}" if one.under else ""
    return "; ".join(one.lines) + under
