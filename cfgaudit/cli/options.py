"""The options that several commands share."""

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

import click

from cfgaudit.cli.limits import no_limits_option

F = TypeVar("F", bound=Callable[..., Any])

STATUS = "Exit status: 0 fine, 1 {one}, 2 it could not be done."


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


def together(*options: Callable[[Any], Any]) -> Callable[[F], F]:
    """Several options as one decorator, in the order given."""

    def decorate(function: F) -> F:
        for option in reversed(options):
            function = option(function)
        return function

    return decorate


dialect_option = click.option(
    "--dialect", metavar="NAME|FILE", help="Read in this dialect instead of recognising one."
)
with_option = click.option(
    "--with",
    "extra",
    metavar="[DUMP=]FILE",
    multiple=True,
    help="Another dump of the same craft.",
)
stdin_option = click.option(
    "--stdin-name", metavar="NAME", default="standard input", help="What to call `-` in reports."
)
build_option = click.option(
    "--build",
    metavar="[DUMP=]FILE",
    multiple=True,
    help="The craft's build sheet (cfgaudit.toml can name it).",
)
reading_options = together(dialect_option, with_option, stdin_option, no_limits_option)

secrets_option = click.option(
    "--secrets", is_flag=True, help="Show owner, serial, home's place and the like, not (hidden)."
)

output_options = together(
    click.option("--output", metavar="FILE", help="Write here, whole or not at all."),
    click.option(
        "--color",
        type=click.Choice(["auto", "always", "never"]),
        default="auto",
        help="Colour the screen; auto does on a terminal, unless NO_COLOR is set.",
    ),
)


def format_option(*formats: str) -> Callable[[F], F]:
    """The --format option with the formats that a command has."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(formats),
        default=formats[0],
        help=f"How to report ({formats[0]}, if not told otherwise).",
    )


today_option = click.option(
    "--today",
    metavar="DATE",
    type=Day(),
    help="The day to judge waivers by, as 2026-12-31 (the machine's, if not told otherwise).",
)

fail_option = click.option(
    "--fail-on",
    type=click.Choice(["error", "warning", "note", "never"]),
    help="Exit 1 on findings at or above this level (error, if not told otherwise).",
)

listing_options = together(
    click.option("--waived", is_flag=True, help="List what the folder's settings waive."),
    click.option("--unchecked", is_flag=True, help="List what could not be checked."),
)

baseline_options = together(
    click.option("--baseline", metavar="FILE", help="Report only what FILE does not know."),
    click.option("--update-baseline", is_flag=True, help="Make that file know all there is now."),
)
