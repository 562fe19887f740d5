"""The options that several commands share, in bundles: a command takes one object for each."""

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import wraps
from typing import Any, NamedTuple, TypeVar, cast

import click

from cfgaudit.cli.files import FORCE, FORM, NO_LIMITS, noted, noting, refuse_own_input
from cfgaudit.cli.output import Output
from cfgaudit.reading.text import BOUNDS, NO_BOUNDS, Bounds

Command = TypeVar("Command", bound=Callable[..., Any])
Option = Callable[[Any], Any]


def statuses(one: str, two: str = "it could not be done") -> str:
    """What each exit status of a command means, for the end of its help."""
    return f"Exit status: 0 fine, 1 {one}, 2 {two}."


AUDIT_STATUSES = statuses(
    "findings at or above --fail-on", "it could not be done, or a dump was not audited"
)


class ReadBy(NamedTuple):
    """How dumps are read."""

    dialect: str | None = None
    extra: tuple[str, ...] = ()  # other dumps of the same craft
    stdin_name: str = "standard input"  # what `-` is called in reports
    settings_file: str | None = None  # instead of those that are found upwards from a dump
    no_settings: bool = False
    dialect_of: tuple[str, ...] = ()  # DUMP=DIALECT, for one of several

    def dialect_for(self, dump: str) -> str | None:
        """The dialect that was asked for, for a dump."""
        own = (entry for entry in self.dialect_of if entry.startswith(f"{dump}="))
        return next((entry[len(dump) + 1 :] for entry in own), self.dialect)

    def refuse_strangers(self, dumps: Sequence[str]) -> None:
        """Raise UsageError for a dialect of a dump that is none of those given."""
        for entry in self.dialect_of:
            if not any(entry.startswith(f"{dump}=") for dump in dumps):
                raise click.UsageError(
                    f"--dialect-of {entry} names none of the dumps, which are "
                    f"{' and '.join(dumps)}; DUMP=NAME|FILE is expected"
                )


class JudgedBy(NamedTuple):
    """What a craft is judged by, besides its folder's settings."""

    build: tuple[str, ...] = ()
    today: datetime | None = None  # None is the machine's day
    fail_on: str | None = None  # None is as the folder's settings say


class Day(click.DateTime):
    """A day as the user writes it."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        """The day. Fails as click has it for what is none."""
        try:
            return datetime.strptime(value, "%Y-%m-%d")
        except ValueError:
            self.fail(f"{value!r} is no day; write it as 2026-12-31", param, ctx)


def bundle(name: str, kind: type[Any], *options: Option) -> Callable[[Command], Command]:
    """Options that reach the command as one object, a `kind` made of what they say by name.

    What no option is there for is as `kind` has it.
    """
    fields = tuple(kind.__annotations__)

    def decorate(function: Command) -> Command:
        @wraps(function)
        def collected(*arguments: Any, **given: Any) -> Any:
            said = {field: given.pop(field) for field in fields if field in given}
            return function(*arguments, **given, **{name: kind(**said)})

        for option in reversed(options):
            option(collected)  # which notes itself on the function
        return cast(Command, collected)

    return decorate


def bounds_asked_for() -> Bounds:
    """How much of a stranger's file the command that is running reads."""
    return NO_BOUNDS if noted(NO_LIMITS) else BOUNDS


def _one_dialect(context: click.Context, _: click.Parameter, given: tuple[str, ...]) -> str | None:
    """The dialect of every dump. Raises UsageError for two: the second would win unseen."""
    named = list(dict.fromkeys(given))
    if len(named) > 1:
        each = any(option.name == "dialect_of" for option in context.command.params)
        instead = "for one of the dumps, say --dialect-of DUMP=NAME|FILE" if each else "give one"
        raise click.UsageError(
            f"--dialect is for every dump, and {' and '.join(named)} are two: {instead}"
        )
    return named[0] if named else None


_DIALECT = click.option(
    "--dialect",
    metavar="NAME|FILE",
    multiple=True,
    callback=_one_dialect,
    help="Read in this dialect instead of recognising one.",
)
_DIALECT_OF = click.option(
    "--dialect-of",
    metavar="DUMP=NAME|FILE",
    multiple=True,
    help="Read this one of the dumps in this dialect.",
)
_STDIN = click.option(
    "--stdin-name",
    metavar="NAME",
    default=ReadBy().stdin_name,
    help="What to call `-` in reports.",
)
_LIMITS = click.option(
    "--no-limits",
    is_flag=True,
    expose_value=False,
    callback=noting(NO_LIMITS),
    help="Read files, lines and blocks of any size; report every finding and difference.",
)
_SETTINGS = click.option(
    "--settings",
    "settings_file",
    metavar="FILE",
    help="Go by this cfgaudit.toml, not by the one of the dump's folder.",
)
_NO_SETTINGS = click.option("--no-settings", is_flag=True, help="Go by no cfgaudit.toml.")
_OUTPUT = click.option("--output", metavar="FILE", help="Write here, whole or not at all.")
force_option = click.option(
    "--force",
    is_flag=True,
    expose_value=False,
    callback=noting(FORCE),
    help="Replace a file that is marked as not to be written, too.",
)
_COLOR = click.option(
    "--color",
    type=click.Choice(["auto", "always", "never"]),
    default="auto",
    help="Colour the screen; auto does on a terminal, unless NO_COLOR is set.",
)
_BUILD = click.option(
    "--build",
    metavar="[DUMP=]FILE",
    multiple=True,
    help="The craft's build sheet (cfgaudit.toml can name it).",
)
_TODAY = click.option(
    "--today",
    metavar="DATE",
    type=Day(),
    help="The day to judge waivers by, as 2026-12-31 (the machine's, if not told otherwise).",
)
_FAIL_ON = click.option(
    "--fail-on",
    type=click.Choice(["error", "warning", "note", "never"]),
    help="Exit 1 on findings at or above this level (error, if not told otherwise).",
)


def reading_options(
    *,
    extra: str = "Another dump of the same craft.",
    owner: str = "[DUMP=]",
    stdin: bool = True,
    limits: bool = True,
    several: bool = False,
) -> Callable[[Command], Command]:
    """The parameter `reading`. `extra` is the help of --with, empty where there is none.

    Of `several` dumps each may have a dialect of its own.
    """
    further = click.option(
        "--with", "extra", metavar=f"{owner}FILE", multiple=True, help=extra or None
    )
    options = [_DIALECT, _DIALECT_OF] if several else [_DIALECT]
    options += [further] if extra else []
    options += [_STDIN] if stdin else []
    options += [_LIMITS] if limits else []
    options += [_SETTINGS, _NO_SETTINGS]
    return bundle("reading", ReadBy, *options)


def judging_options(*, today: bool = True, fail_on: bool = False) -> Callable[[Command], Command]:
    """The parameter `judging`."""
    options = [_BUILD, *([_FAIL_ON] if fail_on else []), *([_TODAY] if today else [])]
    return bundle("judging", JudgedBy, *options)


def output_options(*formats: str, color: bool = True) -> Callable[[Command], Command]:
    """The parameter `out`, with the formats that a command has; the first is the usual one."""
    form = click.option(
        "--format",
        "form",
        type=click.Choice(formats),
        default=formats[0] if formats else None,
        callback=noting(FORM),
        help=f"How to report ({formats[0] if formats else ''}, if not told otherwise).",
    )
    options = [*([form] if formats else []), _OUTPUT, force_option, *([_COLOR] if color else [])]

    def decorate(function: Command) -> Command:
        @wraps(function)
        def kept(*arguments: Any, out: Output, **given: Any) -> Any:
            refuse_own_input(out.output)  # before anything is done
            return function(*arguments, out=out, **given)

        return bundle("out", Output, *options)(cast(Command, kept))

    return decorate


secrets_option = click.option(
    "--secrets", is_flag=True, help="Show owner, serial, home's place and the like, not (hidden)."
)
links_option = click.option(
    "--links",
    metavar="URL",
    default="",
    help="Where the repository can be seen: in Markdown, lines are links below it.",
)
write_option = click.option(
    "--write",
    is_flag=True,
    help="Edit the file in place, keeping every other byte; what it was is kept as FILE.before.",
)
lines_option = click.option(
    "--lines", is_flag=True, help="Only the lines to type in, under those that open them."
)
stdin_option = _STDIN


class AskedOfAll(NamedTuple):
    """What is asked of many craft that are told of together."""

    listed: str | None = None  # a file of paths, `-` for standard input
    shelf: str | None = None
    workers: int | None = None
    engine: str = "processes"
    scheduler: str | None = None
    query: str | None = None
    parquet: str | None = None
    limits: str | None = None
    every: bool = False
