"""The options that several commands share."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from cfgaudit.cli.limits import no_limits_option

F = TypeVar("F", bound=Callable[..., Any])


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
        "--color", type=click.Choice(["auto", "always", "never"]), default="auto", help="Colour."
    ),
)


def format_option(*formats: str) -> Callable[[F], F]:
    """The --format option with the formats that a command has."""
    return click.option(
        "--format", "form", type=click.Choice(formats), default=formats[0], help="How to report."
    )


today_option = click.option(
    "--today",
    metavar="DATE",
    type=click.DateTime(["%Y-%m-%d"]),
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
