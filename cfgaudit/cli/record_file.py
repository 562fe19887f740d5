"""The bench's record as a file: read and added to by one run at a time, so that none is lost."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.writing import write_atomically
from cfgaudit.work.record import RecordEntry, RecordError, read_record, with_entry


def read_entries(path: Path) -> tuple[RecordEntry, ...]:
    """What is recorded; nothing where there is no file. Raises InputError."""
    return _entries(path, _text(path))


def _entries(path: Path, text: str) -> tuple[RecordEntry, ...]:
    try:
        return read_record(text)
    except RecordError as error:
        raise InputError(f"{path} {error}") from None


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        return ""
    except UnicodeDecodeError:
        raise InputError(f"{path} is not UTF-8 text") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} can't be read: {reason}") from None


@contextmanager
def recording(path: Path) -> Iterator["Recorder"]:
    """The record while nobody else can add to it. Raises InputError."""
    with _alone(path):
        text = _text(path)
        yield Recorder(path, text, _entries(path, text))


class Recorder:
    """A record that can be added to; what stands in the file is kept byte for byte."""

    def __init__(self, path: Path, text: str, entries: tuple[RecordEntry, ...]) -> None:
        self._path, self._text, self.entries = path, text, entries

    def add(self, entry: RecordEntry) -> None:
        """Write one more entry, the file whole or not at all. Raises InputError."""
        self._text = with_entry(self._text, entry)
        self.entries = (*self.entries, entry)
        write_atomically(self._path, self._text.encode("utf-8"))


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Hold the lock of the record, waiting for whoever has it.

    The record itself is replaced when it is written, so it can't hold the lock: its folder does.
    """
    try:
        held = _take(path.resolve())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} can't be locked: {reason}") from None
    try:
        yield
    finally:
        os.close(held)  # which gives the lock back


if sys.platform == "win32":  # there a folder can't be opened: a file beside the record holds it

    def _take(path: Path) -> int:
        import msvcrt

        held = os.open(path.with_name(f".{path.name}.lock"), os.O_RDWR | os.O_CREAT)
        msvcrt.locking(held, msvcrt.LK_LOCK, 1)
        return held

else:

    def _take(path: Path) -> int:
        import fcntl

        held = os.open(path.parent, os.O_RDONLY)
        try:
            fcntl.flock(held, fcntl.LOCK_EX)
        except OSError:
            os.close(held)
            raise
        return held
