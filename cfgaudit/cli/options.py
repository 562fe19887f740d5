"""The options that several commands share."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

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
reading_options = together(dialect_option, with_option, stdin_option)

secrets_option = click.option(
    "--secrets", is_flag=True, help="Show owner and serial too, instead of (hidden)."
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
