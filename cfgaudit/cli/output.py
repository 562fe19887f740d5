"""Where results go: standard output, or files that are written whole or not at all."""

import os
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from cfgaudit.cli import InputError, reason_of, say
from cfgaudit.cli.files import is_stdout, refuse_own_input, write_atomically
from cfgaudit.reports.screen import Screen

if TYPE_CHECKING:
    from cfgaudit.reports.review import Review

_WIDEST = 100  # characters; longer lines are hard to read


class Output(NamedTuple):
    """How to report, and where to."""

    form: str = "terminal"
    output: str | None = None
    color: str = "auto"

    def put(
        self,
        screen: Callable[[int], Screen],
        data: Callable[[], object],
        also: Callable[[], Mapping[str, str]] | None = None,
    ) -> None:
        """Report as the screen of a width, or as JSON, whichever is asked for.

        `also` gives by name of a port or pad what else it is called; whatever names one tells it.
        """
        if self.form == "json":
            from cfgaudit.reports.data import called, dumped

            self.put_text(dumped(data() if also is None else called(data(), also())))
        else:
            made = screen(screen_width())
            if also is not None:
                made.explain_names(also())
            self.put_screen(made)

    def put_screen(self, screen: Screen) -> None:
        """Print a screen, or write it to a file without colour."""
        if self.output is None and wants_colour(self.color):
            self.put_text(screen.coloured())
        else:
            self.put_text(screen.plain())

    def put_text(self, text: str) -> None:
        """Print a text, or write it to a file."""
        if self.output is None:
            put_text(text)
        else:
            write_and_tell(self.output, text.encode("utf-8", "backslashreplace"))


def screen_width() -> int:
    """The width to lay out for: the terminal's, within reason; 80 in a pipe."""
    return max(40, min(_WIDEST, _columns() or 80))


def _columns() -> int:
    """What COLUMNS says, else the terminal; 0 where neither tells."""
    said = os.environ.get("COLUMNS", "")
    if said.isascii() and said.isdigit() and int(said[:9]):
        return int(said[:9])
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


def put_text(text: str) -> None:
    """Print to standard output at once. A reader that has gone is no fault; a full disk is."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        _speechless(error)


def put_bytes(data: bytes) -> None:
    """The same for bytes as they are."""
    try:
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    except OSError as error:
        _speechless(error)


def _speechless(error: OSError) -> None:
    """Raises InputError for what can't be printed, unless the reader has gone."""
    # what is still held back must go nowhere, or the interpreter speaks of it when it ends
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if not isinstance(error, BrokenPipeError):
        raise InputError(f"standard output can't be written: {reason_of(error)}") from None


def write_and_tell(file: str, data: bytes) -> None:
    """Write a file that was asked for, and say so. Raises InputError."""
    if is_stdout(file):
        put_bytes(data)
        return
    refuse_own_input(file)
    write_atomically(Path(file), data)
    say(f"written: {file}")


def review_text(form: str, review: "Review", fail_on: str) -> str:
    """What is told, as SARIF, JUnit XML (by what fails) or lines for GitHub; only that is loaded.

    Markdown is not among them, since check and diff tell other things in it.
    """
    if form == "sarif":
        from cfgaudit.reports.sarif import sarif_text

        return sarif_text(review)
    if form == "junit":
        from cfgaudit.reports.junit import junit_text

        return junit_text(review, fail_on)
    if form == "github":
        from cfgaudit.reports.github import github_text

        return github_text(review)
    raise ValueError(form)
