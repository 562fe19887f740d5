"""Where results go: standard output, or files that are written whole or not at all.

And how far long work has come: one line on the standard error of a terminal, from a second on.
"""

import os
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar

from cfgaudit.cli import InputError, reason_of, say
from cfgaudit.cli.files import is_stdout, refuse_own_input, write_atomically
from cfgaudit.reading.safe import safe
from cfgaudit.reports.screen import Screen

if TYPE_CHECKING:  # most work is done before it would be loaded
    from rich.progress import Progress, TaskID

    from cfgaudit.dialects.editor import LineChange

T = TypeVar("T")
_WIDEST = 100  # characters; longer lines are hard to read
AFTER: Final = 1.0  # s: work that takes less says nothing
_AGAIN: Final = 0.2  # s between two words
_HEIGHT: Final = 24  # lines of a terminal; one is used
_MINUTE: Final = 60.0
_ROUGH: Final = 90.0  # s: from here on it is told in minutes


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

    def put_lines(self, changes: "Sequence[LineChange]") -> None:
        """Report only the lines to type in; that nothing is known to save them is said beside."""
        from cfgaudit.reports.lines import lines_text, unsaved_in  # most commands have none

        self.put_text(lines_text(changes))
        if unsaved := unsaved_in(changes):
            say(unsaved)

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


class ProgressLine:
    """A line that is written over and over, and gone at the end; on no terminal it says nothing."""

    def __init__(self) -> None:
        self._shown: tuple[Progress, TaskID] | None = None
        self._terminal = sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self.began = time.monotonic()
        self._next = self.began + AFTER

    def say(self, text: Callable[[], str]) -> None:
        """Say how far it is, unless that was said a moment ago; the text is made where it is."""
        if not self._terminal or time.monotonic() < self._next:
            return
        self._next = time.monotonic() + _AGAIN
        if self._shown is None:
            from rich.console import Console
            from rich.progress import Progress, TextColumn

            column = TextColumn("{task.description}", markup=False)
            # both sizes, as rich takes what the environment says of them for numbers
            console = Console(stderr=True, width=screen_width(), height=_HEIGHT)
            shown = Progress(column, console=console, transient=True)
            shown.start()
            self._shown = shown, shown.add_task("")
        shown, task = self._shown
        shown.update(task, description=safe(text()))

    def end(self) -> None:
        """Take the line away."""
        if self._shown is not None:
            self._shown[0].stop()
            self._shown = None


def watched(items: Sequence[T], doing: str, so_far: Callable[[], str] | None = None) -> Iterator[T]:
    """The items one by one, with a line that says how far it is, what was found and how long yet.

    `doing` is the work in one word, `so_far` what was found, said anew each time.
    """
    line, done = ProgressLine(), 0

    def told() -> str:
        found = so_far() if so_far is not None else ""
        return how_far(doing, done, len(items), time.monotonic() - line.began, found)

    try:
        for done, item in enumerate(items):  # noqa: B007 (it is told)
            line.say(told)
            yield item
    finally:
        line.end()


def how_far(doing: str, done: int, total: int, taken: float, found: str = "") -> str:
    """How far work has come after `taken` seconds, and how long it will take yet at that pace.

    >>> how_far("auditing", 731, 2000, 73.1, "9 errors so far")
    'auditing 731 of 2,000, 9 errors so far, about 2 min left'
    >>> how_far("reading", 0, 12, 1.5)
    'reading 0 of 12'
    """
    said = [f"{doing} {done:,} of {total:,}", *([found] if found else [])]
    if done:
        left = taken / done * (total - done)
        least = f"{left / _MINUTE:.0f} min" if left >= _ROUGH else f"{max(left, 1):.0f} s"
        said.append(f"about {least} left")
    return ", ".join(said)
