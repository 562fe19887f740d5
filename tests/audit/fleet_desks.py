"""What audits in a process of its own, as tests of whole fleets want it."""

import os
import signal
import time

from cfgaudit.audit.record import Desk, Record
from cfgaudit.rules.book import book
from tests.benchmarks.fleets import dialects


def desk() -> Desk:
    """A desk by the corpus' dialects and the whole book."""
    return Desk(dialects(), book(), stamp="first")


def later_desk() -> Desk:
    """The same under another stamp, as of a later version."""
    return Desk(dialects(), book(), stamp="second")


class Fragile(Desk):
    """A desk whose process one dump ends."""

    def record(self, source: str, data: bytes) -> Record:
        """As Desk does, but for a dump that says so."""
        if data.startswith(b"end the process"):
            os.kill(os.getpid(), signal.SIGKILL)
        return super().record(source, data)


def fragile_desk() -> Fragile:
    """A desk that can be ended."""
    return Fragile(dialects(), book(), stamp="first")


def no_desk() -> Desk:
    """Fails before anything is audited."""
    raise RuntimeError("no desk here")


class Single:
    """Can do one thing at a time, and says when it is asked for two."""

    def __init__(self) -> None:
        self._busy = False

    def stamp(self, source: str) -> str:
        """As Auditing does."""
        return ""

    def record(self, source: str, data: bytes) -> Record:
        """As Auditing does; the reason says whether it was busy."""
        busy, self._busy = self._busy, True
        time.sleep(0.01)
        self._busy = False
        return Record(source, "", reason="busy" if busy else "free")
