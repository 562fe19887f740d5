"""The marked block of git attributes: put in, found again, taken out without a trace."""

import codecs
import re
from collections.abc import Sequence
from typing import NamedTuple

BEGIN = b"# cfgaudit begins; `cfgaudit git uninstall` takes these lines out"
MADE = b"# this file was made for these lines"
END = b"# cfgaudit ends"
DRIVER = "cfgaudit"
_BLOCK = re.compile(
    rb"(?:(?<=\n)|\A)" + re.escape(BEGIN) + rb"\r?\n(.*?)" + re.escape(END) + rb"(?:\r?\n|\Z)", re.S
)
_QUOTED = re.compile(r'"((?:[^"\\]|\\.)*)"|(\S+)')


class BadPattern(ValueError):  # noqa: N818 (the pattern is, no fault of ours)
    """A pattern that git attributes can't hold; the message says why."""


class Block(NamedTuple):
    """Our block: the patterns in it, and whether the file was made for it."""

    patterns: tuple[str, ...]
    made: bool = False


def found_in(data: bytes) -> Block | None:
    """Our block in a file of attributes, if it is there."""
    match = _BLOCK.search(_without_bom(data)[1])
    if match is None:
        return None
    lines = match.group(1).decode("utf-8", "surrogateescape").splitlines()
    made = bool(lines) and lines[0].encode("utf-8", "surrogateescape") == MADE
    return Block(tuple(_pattern(line) for line in lines if not line.startswith("#")), made)


def with_block(data: bytes | None, patterns: Sequence[str]) -> bytes:
    """The file with our block, before the user's lines: so theirs overrule ours.

    None where there is no file yet. Raises BadPattern.
    """
    there = found_in(data or b"")
    made = data is None or (there is not None and there.made)
    bom, rest = _without_bom(without_block(data) or b"" if data is not None else b"")
    newline = b"\r\n" if b"\r\n" in (rest or data or b"") else b"\n"
    texts = [f"{quoted(pattern)} diff={DRIVER} merge={DRIVER}" for pattern in patterns]
    rows = [text.encode("utf-8", "surrogateescape") for text in texts]
    lines = [BEGIN, *([MADE] if made else []), *rows, END]
    return bom + b"".join(line + newline for line in lines) + rest


def without_block(data: bytes) -> bytes | None:
    """The file without our block, to the byte as it was; None where it is to be removed."""
    block = found_in(data)
    bom, rest = _without_bom(data)
    rest = _BLOCK.sub(b"", rest)
    return None if block is not None and block.made and not rest else bom + rest


def quoted(pattern: str) -> str:
    """A pattern as attributes hold it. Raises BadPattern.

    >>> quoted("*.dump"), quoted("my craft/*.txt")
    ('*.dump', '"my craft/*.txt"')
    """
    if not pattern.strip() or any(letter < " " or letter == "\x7f" for letter in pattern):
        raise BadPattern(f"{pattern!r} is no pattern: it is empty or has control characters")
    if pattern.startswith(("!", "[attr]")):
        raise BadPattern(f"{pattern!r}: git attributes take no pattern that begins so")
    if pattern[0] in '#"' or any(letter.isspace() for letter in pattern):
        inner = pattern.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{inner}"'
    return pattern


def _pattern(line: str) -> str:
    match = _QUOTED.match(line.strip())
    if match is None:
        return ""
    if match.group(1) is None:
        return match.group(2)
    return re.sub(r"\\(.)", r"\1", match.group(1))


def _without_bom(data: bytes) -> tuple[bytes, bytes]:
    bom = codecs.BOM_UTF8 if data.startswith(codecs.BOM_UTF8) else b""
    return bom, data[len(bom) :]
