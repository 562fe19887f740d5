"""Where results go: standard output, or a file that is written whole or not at all."""

import os
import sys
from pathlib import Path

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.reports.screen import Screen

_WIDEST = 100  # characters; longer lines are hard to read


def screen_width() -> int:
    """The width to lay out for: the terminal's, within reason; 80 in a pipe."""
    return max(40, min(_WIDEST, _columns() or 80))


def _columns() -> int:
    """What COLUMNS says, else the terminal; 0 where neither tells."""
    said = os.environ.get("COLUMNS", "")
    if said.isascii() and said.isdigit() and int(said):
        return int(said)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns if sys.__stdout__ else 0
    except (OSError, ValueError):
        return 0


def wants_colour(choice: str) -> bool:
    """Whether to colour: the flag first, then the environment's usual words, then the terminal."""
    if choice != "auto":
        return choice == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR") or os.environ.get("CLICOLOR_FORCE", "0") not in ("", "0"):
        return True
    return sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


def put_screen(screen: Screen, output: str | None, colour: str) -> None:
    """Print a screen, or write it to a file without colour."""
    if output is None and wants_colour(colour):
        put_text(screen.coloured(), None)
    else:
        put_text(screen.plain(), output)


def put_text(text: str, output: str | None) -> None:
    """Print a text, or write it to a file atomically."""
    if output is None:
        _print(text)
        return
    from cfgaudit.cli.writing import write_atomically

    write_atomically(Path(output), text.encode("utf-8", "backslashreplace"))
    click.echo(f"written: {output}", err=True)


def _print(text: str) -> None:
    """Print to standard output at once. A reader that has gone is no fault; a full disk is."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        # what is still held back must go nowhere, or the interpreter speaks of it when it ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(error, BrokenPipeError):
            reason = (error.strerror or str(error)).lower()
            raise InputError(f"standard output can't be written: {reason}") from None
