"""Where results go: standard output, or a file that is written whole or not at all."""

import os
import shutil
import sys
import tempfile
from pathlib import Path

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.reports.screen import Screen

_WIDEST = 100  # characters; longer lines are hard to read


def screen_width() -> int:
    """The width to lay out for: the terminal's, within reason; 80 in a pipe."""
    return max(40, min(_WIDEST, shutil.get_terminal_size((80, 24)).columns))


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


def write_atomically(path: Path, data: bytes) -> None:
    """Write a file whole or not at all: to a neighbour, then in one move. Raises InputError."""
    temporary = ""
    try:
        path = path.resolve()  # a link stays a link; the file behind it is replaced
        if path.exists() and not path.is_file():  # a device or a pipe is written to, not replaced
            path.write_bytes(data)
            return
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".", delete=False) as file:
            temporary = file.name
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            shutil.copymode(path, temporary)
        else:
            Path(temporary).chmod(0o666 & ~_umask())
        Path(temporary).replace(path)
    except OSError as error:
        if temporary:
            Path(temporary).unlink(missing_ok=True)
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} can't be written: {reason}") from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
