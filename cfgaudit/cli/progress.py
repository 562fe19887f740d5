"""How far long work has come: one line on the standard error of a terminal, from a second on."""

import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Final, TypeVar

from cfgaudit.cli.output import screen_width
from cfgaudit.reading.safe import safe

if TYPE_CHECKING:  # most work is done before it would be loaded
    from rich.progress import Progress, TaskID

T = TypeVar("T")
AFTER: Final = 1.0  # s: work that takes less says nothing
_AGAIN: Final = 0.2  # s between two words
_HEIGHT: Final = 24  # lines of a terminal; one is used
_MINUTE: Final = 60.0
_ROUGH: Final = 90.0  # s: from here on it is told in minutes


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
    line = ProgressLine()
    try:
        for done, item in enumerate(items):
            taken = time.monotonic() - line.began
            line.say(partial(_told, doing, done, len(items), taken, so_far))
            yield item
    finally:
        line.end()


def _told(doing: str, done: int, total: int, taken: float, so_far: Callable[[], str] | None) -> str:
    return how_far(doing, done, total, taken, so_far() if so_far is not None else "")


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
