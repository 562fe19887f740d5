"""`cfgaudit dialect learn`: a setting's key from dumps before and after it was changed."""

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import read_bytes
from cfgaudit.cli.options import format_option, output_options
from cfgaudit.cli.output import put_screen, put_text, screen_width

if TYPE_CHECKING:  # loaded where it is called
    from cfgaudit.teaching.learn import Learnt, Lesson


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
    from cfgaudit.teaching.learn import CannotLearn, equals, learn

    path, sign, value = (part.strip() for part in change.partition("="))
    if not sign:
        raise click.UsageError(f"--set {change!r}: PATH=VALUE is expected")
    lessons = [_lesson(before, after, value, was)]
    lessons += [_lesson(one, other, given, "") for one, other, given in pairs]
    try:
        found = learn(path, lessons)
    except CannotLearn as error:
        raise InputError(str(error)) from None
    best = equals(found)
    if into is not None and len(best) == 1 and best[0].lines:
        _add(Path(into), best[0])
    _report(path, best, found, form, output, color)
    if into is not None and len(best) > 1:
        click.echo(f"{into} is left alone: which of the keys it is, is not clear", err=True)
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
    from cfgaudit.reading.lines import read_text
    from cfgaudit.teaching.learn import Lesson

    texts = [read_text(read_bytes(dump, "standard input")[0]) for dump in (before, after)]
    return Lesson(texts[0], texts[1], value, was)


def _add(file: Path, one: "Learnt") -> None:
    """Add a line to a dialect file, if it is still a dialect then. Raises InputError."""
    from cfgaudit.cli.writing import write_atomically
    from cfgaudit.dialects.load import build_dialect
    from cfgaudit.dialects.model import DialectError
    from cfgaudit.teaching.learn import as_toml

    text = read_bytes(str(file), "")[0].decode("utf-8", "surrogateescape")
    added = text + ("" if text.endswith("\n") else "\n") + as_toml(one)
    try:
        build_dialect(tomllib.loads(added), str(file)).root  # noqa: B018 (compiles the lines)
    except (DialectError, tomllib.TOMLDecodeError) as error:
        by_hand = "; ".join(one.lines)
        raise InputError(
            f"{file}: the line can't be added at its end ({error}); add it by hand: {by_hand}"
        ) from None
    write_atomically(file, added.encode("utf-8", "surrogateescape"))
    click.echo(f"added to {file}: {'; '.join(one.lines)}", err=True)
