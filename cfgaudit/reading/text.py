"""From bytes to lines of text and back to the same bytes; places in it, and how much is read."""

import codecs
import errno
import re
import sys
from pathlib import Path
from typing import NamedTuple


class Bounds(NamedTuple):
    """The most that is read of one dump, and reported of it."""

    file_bytes: int = 16_000_000  # a thousand times a long dump
    line: int = 10_000  # characters; a longer line is kept, and said to be unread
    depth: int = 64  # blocks inside of each other; deeper ones are said to be unread
    findings: int = 1_000  # shown of one dump; more are counted


BOUNDS = Bounds()
NO_BOUNDS = Bounds(sys.maxsize, sys.maxsize, sys.maxsize, sys.maxsize)


def bounded_bytes(path: Path, most: int = BOUNDS.file_bytes) -> bytes:
    """A file's bytes. Raises OSError, also for a file that is larger: it may have no end."""
    with path.open("rb") as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, f"it is larger than {most / 1e6:,.0f} MB")
    return data


class Place(NamedTuple):
    """A stretch of one line. Lines and columns count from 1; `end` is the column behind it.

    `column` is 0 where a whole line is meant.
    """

    file: str
    line: int
    column: int = 0
    end: int = 0

    def __str__(self) -> str:
        return (
            f"{self.file}:{self.line}:{self.column}" if self.column else f"{self.file}:{self.line}"
        )


# Line ends; a bare carriage return is one too, as old terminals write them.
_LINE_END = re.compile(r"\r\n|\n|\r")

_BOMS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class FileText(NamedTuple):
    """A file's text: its lines, their ends, and what is needed to write the same bytes again."""

    lines: tuple[str, ...]
    ends: tuple[str, ...]  # one a line; the last is empty where the file ends without one
    encoding: str = "utf-8"
    bom: bytes = b""
    notes: tuple[str, ...] = ()  # what had to be guessed, in plain words

    def to_bytes(self) -> bytes:
        """The file's bytes, exactly as read."""
        text = "".join(part for pair in zip(self.lines, self.ends, strict=True) for part in pair)
        return self.bom + text.encode(self.encoding)


def read_text(data: bytes) -> FileText:
    """Decode bytes: by byte-order mark, else UTF-8, else Latin-1, which any bytes are.

    Never raises: a decoding that would not give the same bytes back is not used.
    """
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            text = _decode_exactly(data[len(bom) :], encoding)
            if text is not None:
                notes = () if encoding == "utf-8" else (f"read as {encoding.upper()}",)
                return _split(text, encoding, bom, notes)
    text = _decode_exactly(data, "utf-8")
    if text is not None:
        return _split(text, "utf-8", b"", ())
    note = "not valid UTF-8; read as Latin-1, so letters beyond ASCII may look wrong"
    return _split(data.decode("latin-1"), "latin-1", b"", (note,))


def _decode_exactly(data: bytes, encoding: str) -> str | None:
    try:
        text = data.decode(encoding)
        return text if text.encode(encoding) == data else None
    except UnicodeError:
        return None


def _split(text: str, encoding: str, bom: bytes, notes: tuple[str, ...]) -> FileText:
    if "\r" not in text:  # the common case, and the fast one
        lines = text.split("\n")
        ends = ["\n"] * (len(lines) - 1) + [""]
    else:
        lines = _LINE_END.split(text)
        ends = [*_LINE_END.findall(text), ""]
    if not lines[-1]:
        lines, ends = lines[:-1], ends[:-1]
    return FileText(tuple(lines), tuple(ends), encoding, bom, notes)
