"""From a dump's bytes to settings: dumps told apart, the dialect recognised, then read."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, tee
from pathlib import Path
from typing import NamedTuple

from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.line_reader import telling
from cfgaudit.dialects.reader import HEAD_LINES, Reading, read
from cfgaudit.dialects.template import ANY, is_mark, match_text
from cfgaudit.reading.document import Document, read_document
from cfgaudit.reading.pasted import MOST_RESTS
from cfgaudit.reading.shapes import Assignment, Blank, Comment, Look, Section
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import BOUNDS, Bounds
from cfgaudit.settings import Settings, TroubleKind
from cfgaudit.vocabulary.paths import declared

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
    literal = max(mark.split(ANY), key=len)
    marks = [i for i, line in enumerate(lines) if literal in line and is_mark(line.strip(), mark)]
    if not mark or not marks:
        return found
    first = marks[0]
    if sum(bool(line.strip()) for line in lines[first + 1 :]) < _FEWEST:
        return found  # what most dumps are: the mark, and nothing behind it
    filled = [index for index, line in enumerate(lines) if line.strip()]
    for number, index in enumerate(filled[:-_FEWEST]):
        if index in marks:
            found.append(filled[number + 1])
    return found


def _heads(lines: tuple[str, ...], dialect: Dialect) -> list[int]:
    heads = [(telling(pieces), pieces) for pieces in dialect.head]
    text = "\n".join(lines)
    if sum(text.count(literal) for literal, _ in heads) < 2:
        return []  # two dumps have two head lines
    return [
        index
        for index, line in enumerate(lines)
        for literal, pieces in heads
        if literal in line and match_text(pieces, line.strip()) is not None
    ]


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


GENERIC = Dialect(name="")
# Where each line begins with a word in brackets, which would be a section's head: `[pad 1] use=x`.
_BRACKETED = Dialect(name="", look=Look(blanks="[]"))


class Opened(NamedTuple):
    """A dump that was read: the document, the dialect (GENERIC where none fits), the settings."""

    document: Document
    dialect: Dialect
    settings: Settings


def bundled_dialects() -> tuple[Dialect, ...]:
    """The dialects inside the package."""
    folder = Path(__file__).parent / "bundled"
    return tuple(load_dialect(file) for file in sorted(folder.glob("*.toml")))


def open_dump(
    name: str,
    data: bytes,
    dialects: Iterable[Dialect],
    chosen: Dialect | None = None,
    *,
    part: int = 1,
    bounds: Bounds = BOUNDS,
) -> Opened:
    """Read a dump in the chosen dialect, else in the one that it shows.

    Of a text that holds several dumps, the first, or the one whose number is given. Raises
    NoSuchPart where there are not so many, and nothing else.
    """
    known = dialects if part == 1 else list(dialects)
    document = read_document(name, data, bounds=bounds)
    dialect = _by_looks(document, chosen or recognise(document, known))
    document = _in_look(document, dialect)
    parts = parts_of(document, dialect)
    if part > len(parts):
        raise NoSuchPart(len(parts))
    if len(parts) > 1:
        own, said = parts[part - 1], (told(parts, part, name),)
        document = replace(document, part=own, remarks=said)
        if part > 1 and chosen is None:
            dialect = _by_looks(document, recognise(document, known))
            document = _in_look(document, dialect)
    return _whole(read(document, dialect))


def _by_looks(document: Document, dialect: Dialect) -> Dialect:
    """The dialect; in place of the one for any dump, one in whose look most lines can be read."""
    if dialect is not GENERIC or 2 * len(document.unread) <= len(document.lines):
        return dialect
    other = replace(document, look=_BRACKETED.look)
    return _BRACKETED if 2 * len(other.unread) <= len(document.lines) else dialect


def _whole(reading: Reading) -> Opened:
    """What was read, with the lines put together that a page or a mail broke."""
    document, dialect, settings = reading.document, reading.dialect, reading.settings
    unread = any(trouble.kind is TroubleKind.UNREAD for trouble in settings.troubles)
    if unread or any(not raw.known for raw in settings.raw.values()):
        from cfgaudit.dialects.wrapped import put_together  # of a dump read whole no line is broken

        whole = put_together(reading)
        if whole is not document:
            return Opened(whole, dialect, read(whole, dialect).settings)
    return Opened(document, dialect, settings)


def open_every(
    name: str, data: bytes, dialects: Iterable[Dialect], chosen: Dialect | None = None
) -> tuple[Opened, ...]:
    """Each of the dumps that a text holds: mostly one. Never raises."""
    one, other = tee(dialects)  # they may be loaded as they are taken
    first = open_dump(name, data, one, chosen)
    if first.document.part is None:
        return (first,)
    count = len(parts_of(replace(first.document, part=None), first.dialect))
    others = list(other)
    more = (open_dump(name, data, others, chosen, part=n) for n in range(2, count + 1))
    return (first, *more)


def _in_look(document: Document, dialect: Dialect) -> Document:
    return document if dialect.look == document.look else replace(document, look=dialect.look)


def recognise(document: Document, dialects: Iterable[Dialect]) -> Dialect:
    """The dialect whose head line the dump has; else plain paths; else the best-fitting one.

    Dialects may be loaded as they are taken: none is taken behind the one that fits.
    """
    seen: list[Dialect] = []
    lines = [line.strip() for _, line in document.top(HEAD_LINES)]
    for dialect in dialects:
        seen.append(dialect)
        if any(dialect.head_in(line) is not None for line in lines):
            return dialect
    broken = list(_broken_heads(document))
    for dialect in seen if broken else ():
        if any(dialect.head_in(line) is not None for line in broken):
            return dialect
    if _plain_share(document) > 0.5:
        from cfgaudit.dialects.plain import PLAIN

        return PLAIN
    return _best_fit(document, seen)


def _broken_heads(document: Document) -> Iterator[str]:
    """Lines of a dump's top that may have been broken, each with what may be its rests."""
    from cfgaudit.reading.wrapping import (
        fills,
        widths_of,
    )  # most dumps have a head line that is whole

    if document.wrapped:  # some were put together by their looks: all may be of one width
        document = replace(document, rests=())
    lines = document.lines
    top = [line for _, line in document.top(HEAD_LINES)]
    width = min(widths_of(lines), default=0)
    for number, line in enumerate(top) if width else ():
        cut = worded = line
        for above, below in pairwise(top[number : number + MOST_RESTS]):
            if not fills(above, below, width):
                break
            cut, worded = cut + below, f"{worded.rstrip()} {below}"
            yield from (cut.strip(), worded.strip())


def _plain_share(document: Document) -> float:
    """The share of a dump's assignments whose keys are neutral paths."""
    section, hits, count = "", 0, 0
    for statement in document.statements:
        shape = statement.shape
        if isinstance(shape, Section):
            section = shape.name.text + "."
        elif isinstance(shape, Assignment):
            count += 1
            hits += declared(section + shape.key.text) is not None
    return hits / count if count else 0.0


_MOSTLY, _SELDOM = 0.6, 0.2  # shares: from this one on, most of it fits; up to this, hardly any
_FEW, _SOME = 5, 10  # settings: fewer fit by chance; so many are no chance where a dialect is short


def _best_fit(document: Document, dialects: Sequence[Dialect]) -> Dialect:
    """The dialect that maps most of the dump's settings, else most of whose lines it has.

    A dialect that is not finished maps few of the settings; but the dump has nearly all its lines.
    """
    from cfgaudit.dialects.lines import idle_lines  # most dumps have a head line

    best, most = GENERIC, (0.0, 0.0)
    for dialect in dialects:
        if dialect.keys_are_paths:
            continue
        reading = read(replace(document, look=dialect.look), dialect)
        stated = sum(entry.place is not None for entry in reading.settings.stated.values())
        unknown = sum(not raw.known for raw in reading.settings.raw.values())
        share = stated / (stated + unknown) if stated >= _FEW else 0.0
        lines = dialect.lines if stated >= _SOME else ()
        used = 1 - len(idle_lines(dialect, [reading])) / len(lines) if lines else 0.0
        used = used if share > _SELDOM else 0.0
        if max(share, used) > _MOSTLY and (share, used) > most:
            best, most = dialect, (share, used)
    return best


def joined(dumps: Sequence[Opened]) -> Settings:
    """The settings of one craft from all its dumps."""
    settings = dumps[0].settings
    for other in dumps[1:]:
        settings = settings.joined(other.settings)
    return settings
