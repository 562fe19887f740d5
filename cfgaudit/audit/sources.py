"""Where the dumps of a fleet come from: folders, archives, lists of files; one after another."""

import tarfile
import zipfile
from collections.abc import Callable, Iterable, Iterator
from fnmatch import fnmatch
from functools import partial
from os import scandir
from pathlib import Path
from typing import IO, NamedTuple

from cfgaudit.reading.text import BOUNDS

_TAR = (".tar", ".tar.gz", ".tgz", ".tar.bz2", ".tar.xz")


class Source(NamedTuple):
    """One dump to audit: a file, or its bytes where it lies in an archive.

    `reason` says why there is nothing to audit; `known` is the digest that it had when it was
    audited before.
    """

    name: str
    data: bytes | None = None
    reason: str = ""
    known: str = ""

    def read(self) -> bytes:
        """The bytes, one more than are read at most of a file that is too large.

        Raises OSError.
        """
        if self.data is not None:
            return self.data
        with Path(self.name).open("rb") as file:
            return file.read(BOUNDS.file_bytes + 1)


def sources(places: Iterable[str], match: Iterable[str] = ()) -> Iterator[Source]:
    """Every dump of each place, as it comes: of a folder its files, of an archive its members.

    What lies in folders below, hidden files and settings files are passed over; a file that is
    named itself never is. Nothing is held but one folder's scan. Raises nothing: a place that
    can't be read is a source with the reason.
    """
    patterns = tuple(match)
    for place in places:
        try:
            if is_archive(place):
                yield from _archived(place, patterns)
            elif Path(place).is_dir():
                yield from _inside(place, patterns)
            else:
                yield Source(place)
        except (OSError, zipfile.BadZipFile, tarfile.TarError, EOFError) as error:
            yield Source(place, reason=reason_of(error))


def is_archive(place: str) -> bool:
    """Whether a file is an archive, by its name."""
    return place.casefold().endswith((".zip", *_TAR)) and not Path(place).is_dir()


def reason_of(error: Exception) -> str:
    """Why a file can't be read, in a few words, the same for all files with that fault."""
    strerror = getattr(error, "strerror", None)
    return f"can't be read: {(strerror or str(error) or type(error).__name__).lower()}"


def _wanted(name: str, patterns: tuple[str, ...]) -> bool:
    leaf = name.rpartition("/")[2]
    if not leaf or leaf.startswith(".") or leaf in ("cfgaudit.toml", "pyproject.toml"):
        return False
    return not patterns or any(fnmatch(leaf, pattern) for pattern in patterns)


def _inside(place: str, patterns: tuple[str, ...]) -> Iterator[Source]:
    folder = Path(place)
    with scandir(folder) as entries:
        for entry in entries:
            if _wanted(entry.name, patterns) and entry.is_file():
                yield Source((folder / entry.name).as_posix())


def _archived(place: str, patterns: tuple[str, ...]) -> Iterator[Source]:
    """The members of an archive, each named behind the archive's own name."""
    if place.casefold().endswith(".zip"):
        with zipfile.ZipFile(place) as packed:
            for entry in packed.infolist():
                if not entry.is_dir() and _wanted(entry.filename, patterns):
                    yield _member(place, entry.filename, partial(packed.open, entry))
        return
    with tarfile.open(place, "r|*") as tape:
        for member in tape:
            if member.isfile() and _wanted(member.name, patterns):
                yield _member(place, member.name, partial(tape.extractfile, member))


def _member(place: str, name: str, opened: Callable[[], IO[bytes] | None]) -> Source:
    """One member; no more of it is unpacked than is read of a file."""
    full = f"{place}/{name}"
    try:
        file = opened()
        return Source(full, b"" if file is None else file.read(BOUNDS.file_bytes + 1))
    except (OSError, zipfile.BadZipFile, tarfile.TarError, EOFError, RuntimeError, ValueError) as e:
        return Source(full, reason=reason_of(e))


def ending_of(source: str) -> str:
    """How a file's name ends, such as `.dump`; empty for none, and for one too long to be one.

    >>> ending_of("club.zip!a/dipper.dump")
    '.dump'
    """
    stem, dot, ending = source.rpartition(".")
    return f".{ending.lower()}" if dot and stem and ending.isalnum() and len(ending) < 9 else ""
