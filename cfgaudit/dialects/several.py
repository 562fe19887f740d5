"""Several dumps in one text, as a paste may hold them: where each of them begins."""

from itertools import pairwise

from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.template import ANY, Pieces, match_text
from cfgaudit.reading.document import Document
from cfgaudit.reading.shapes import Blank, Comment
from cfgaudit.reading.statements import parse_line

_FEWEST = 5  # lines that say something, before what stands behind an end mark is a dump
_APART = 10  # lines between two head lines: both sides of a merge may have one, close together


class NoSuchPart(LookupError):  # noqa: N818 (it is an answer, not a fault)
    """A dump was asked for by a number that is too great; `count` says how many there are."""

    def __init__(self, count: int) -> None:
        super().__init__(count)
        self.count = count


def parts_of(document: Document, dialect: Dialect) -> tuple[range, ...]:
    """The lines of each dump in a text, by index; mostly one dump and the whole text."""
    lines = document.lines
    starts = [0, *_begun(lines, dialect)]
    ends = [*starts[1:], len(lines)]
    return tuple(range(start, end) for start, end in zip(starts, ends, strict=True))


def told(parts: tuple[range, ...], number: int, name: str) -> str:
    """What is to be said of a text of several dumps, of which one was read."""
    lines = [str(part.start + 1) for part in parts]
    begin = f"{', '.join(lines[:-1])} and {lines[-1]}"
    other = 2 if number == 1 else 1
    return (
        f"it holds {len(parts)} dumps, which begin at lines {begin}; this is number {number} "
        f"({name}#{other} names number {other})"
    )


def _begun(lines: tuple[str, ...], dialect: Dialect) -> list[int]:
    """Where the second dump begins, and each one after it."""
    behind = _behind_end_marks(lines, "end" if dialect.keys_are_paths else dialect.look.end)
    starts = set(behind)
    heads = _heads(lines, dialect)
    for before, head in pairwise(heads):
        if head - before >= _APART and not any(before < start <= head for start in behind):
            starts.add(_upwards(lines, head, dialect))
    return sorted(starts)


def _behind_end_marks(lines: tuple[str, ...], mark: str) -> list[int]:
    """The first line that says anything behind each end mark, if enough others do."""
    found: list[int] = []
    if not mark or mark not in lines:
        return found
    first = next(i for i, line in enumerate(lines) if mark in line and line.strip() == mark)
    if sum(bool(line.strip()) for line in lines[first + 1 :]) < _FEWEST:
        return found  # what most dumps are: the mark, and nothing behind it
    filled = [index for index, line in enumerate(lines) if line.strip()]
    for number, index in enumerate(filled[:-_FEWEST]):
        if lines[index].strip() == mark:
            found.append(filled[number + 1])
    return found


def _heads(lines: tuple[str, ...], dialect: Dialect) -> list[int]:
    heads = [(_telling(pieces), pieces) for pieces in dialect.head]
    text = "\n".join(lines)
    if sum(text.count(telling) for telling, _ in heads) < 2:
        return []  # two dumps have two head lines
    return [
        index
        for index, line in enumerate(lines)
        for telling, pieces in heads
        if telling in line and match_text(pieces, line.strip()) is not None
    ]


def _telling(pieces: Pieces) -> str:
    literals = [piece for piece in pieces if isinstance(piece, str) and piece != ANY]
    return max(literals, key=len, default="")


def _upwards(lines: tuple[str, ...], head: int, dialect: Dialect) -> int:
    """The first of the lines without a setting that stand right above a head line."""
    start = head
    while start > 0 and _says_nothing(lines[start - 1].strip(), dialect):
        start -= 1
    return start


def _says_nothing(line: str, dialect: Dialect) -> bool:
    if isinstance(parse_line(line), Blank | Comment):
        return True
    return any(match_text(pieces, line) is not None for pieces in dialect.ignore)
