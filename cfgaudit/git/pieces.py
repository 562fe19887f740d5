"""A dump as units to merge: each statement, the comments above it, what it sets, under a key."""

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cfgaudit.changes.diff import meaning
from cfgaudit.dialects.collect import Mention
from cfgaudit.dialects.comments import tail_of
from cfgaudit.dialects.line_reader import Role, StatementReading
from cfgaudit.dialects.raw import key_depths, raw_settings
from cfgaudit.dialects.reader import Reading
from cfgaudit.reading.document import Document
from cfgaudit.reading.shapes import Assignment
from cfgaudit.reading.text import Place

Step = tuple[str, str, int]  # the form of a head, its name, which of that name it is
Heads = tuple[Step, ...]  # the heads that a statement stands under, the outermost first


class StatedItem(NamedTuple):
    """One value that a statement sets: which, what it means, and where its text stands.

    `line` counts the statement's own lines from 0; `start` is -1 where no stretch is the value.
    """

    key: str
    group: str  # items of one group are merged together: the elements of a list
    means: Hashable
    line: int
    start: int
    text: str


class SeenStatement(NamedTuple):
    """One statement as it was read: its values, its heads, and those of what it opens."""

    entry: StatementReading
    heads: Heads = ()
    opens: Heads | None = None
    closes: bool = False
    ends: bool = False  # the mark at the end of the dump
    items: tuple[StatedItem, ...] = ()


def seen_in(reading: Reading, depths: Mapping[str, int]) -> Iterator[SeenStatement]:
    """What each statement sets, under which heads; `depths` are those of the raw keys."""
    counts: Counter[tuple[Heads, str, str]] = Counter()
    now: Heads = ()
    ended = False
    for entry in reading.statements:
        role, before, depth = entry.role, now, len(entry.context.chain)
        items = tuple(_items(reading.document, entry, depths))
        now = before[:depth]
        if role is Role.OPENS:
            head = entry.context
            form, name = head.form.__name__ if head.form else "", " ".join(head.name.split())
            above = before[: depth - 1]
            counts[above, form, name] += 1
            now = (*above, (form, name, counts[above, form, name]))
            yield SeenStatement(entry, above, now)
        elif role is Role.CLOSES and depth < len(before):
            yield SeenStatement(entry, before[: depth + 1], closes=True)
        elif role in (Role.CLOSES, Role.END):
            yield SeenStatement(entry, ends=True)
        elif role is Role.HEAD or (role is Role.NOISE and ended):
            yield SeenStatement(entry, items=items)
        else:
            yield SeenStatement(entry, now, items=items)
        ended = ended or role is Role.END


def _items(
    document: Document, entry: StatementReading, depths: Mapping[str, int]
) -> Iterator[StatedItem]:
    for mention in entry.mentions:
        if mention.place is not None:
            target = mention.target
            group = mention.path if target.label or not target.part else target.path
            yield _item(document, entry, (mention.path, group), mention.place, _sense(mention))
    for leftover in entry.leftovers:
        for key, raw in raw_settings([leftover], document.name, depths).items():
            place = raw.place or Place(document.name, entry.statement.line)
            name = f"raw {key}"
            yield _item(document, entry, (name, name), place, (raw.value, raw.value))


def _sense(mention: Mention) -> tuple[str, Hashable]:
    """A value's text and what it means; its text where it came to nothing."""
    stated = mention.stated
    return mention.text, ("text", mention.text) if stated is None else meaning(stated.value)


def _item(
    document: Document,
    entry: StatementReading,
    names: tuple[str, str],
    place: Place,
    sense: tuple[str, Hashable],
) -> StatedItem:
    (key, group), (text, means) = names, sense
    line, start = document.text.lines[place.line - 1], place.column - 1
    if start < 0 or line[start : start + len(text)] != text or key in ("", "raw "):
        start = -1
    return StatedItem(key, group, means, place.line - 1 - entry.statement.first, start, text)


PieceKey = tuple[Hashable, ...]


@dataclass(frozen=True)
class MergeUnit:
    """A statement: its key, the comments and blank lines above it, its lines, what it sets.

    Several units of one dump have the same key where it says the same setting more than once.
    """

    key: PieceKey
    heads: Heads
    lead: tuple[str, ...]
    lines: tuple[str, ...]
    first: int  # the index of its first line; of its lead, len(lead) less
    items: tuple[StatedItem, ...] = ()
    tail: str = ""
    opens: Heads | None = None
    closes: bool = False

    @property
    def sets(self) -> dict[tuple[str, int], Hashable]:
        """What it sets: a key, which of that key in this statement, and what it means."""
        count: Counter[str] = Counter()
        found: dict[tuple[str, int], Hashable] = {}
        for item in self.items:
            found[item.key, count[item.key]] = item.means
            count[item.key] += 1
        return found

    @property
    def is_setting(self) -> bool:
        """Whether it is merged by what it sets."""
        return self.key[0] == "set"


class Links:
    """Which names belong together: those that some statement says in one breath."""

    def __init__(self) -> None:
        self._above: dict[Hashable, Hashable] = {}

    def top(self, name: Hashable) -> Hashable:
        """The one name that stands for all that belong together."""
        while name in self._above:
            name = self._above[name]
        return name

    def join(self, names: Sequence[Hashable]) -> None:
        """Note that these belong together."""
        first = self.top(names[0])
        for name in names[1:]:
            other = self.top(name)
            if other != first:
                self._above[other] = first


def units_of(readings: Sequence[Reading], depths: Mapping[str, int]) -> list[list[MergeUnit]]:
    """The units of each dump, keyed alike in all of them."""
    links = Links()
    sides = [list(seen_in(reading, depths)) for reading in readings]
    for side in sides:
        for seen in side:
            names = _names(seen)
            if names:
                links.join(names)
    return [
        list(_units(reading.document, side, links))
        for reading, side in zip(readings, sides, strict=True)
    ]


def common_depths(readings: Iterable[Reading]) -> dict[str, int]:
    """How many words are a line's key, so that the lines of every side are told apart."""
    depths: dict[str, int] = {}
    for reading in readings:
        for head, depth in key_depths(reading.leftovers).items():
            depths[head] = max(depth, depths.get(head, 0))
    return depths


def _names(seen: SeenStatement) -> list[Hashable]:
    """What a statement's key can be: its settings; and its own key, where it has one."""
    names: list[Hashable] = [item.group for item in seen.items]
    shape = seen.entry.statement.shape
    if names and isinstance(shape, Assignment):
        above = tuple(name for _, name, _ in seen.heads)
        names.append((*above, " ".join(shape.key.text.split())))
    return names


def _units(document: Document, side: Sequence[SeenStatement], links: Links) -> Iterable[MergeUnit]:
    counts: Counter[PieceKey] = Counter()
    lead: list[str] = []
    last = len(document.text.lines)
    firsts = [*(seen.entry.statement.first for seen in side), last]
    for seen, first, after in zip(side, firsts, firsts[1:], strict=False):
        lines = document.text.lines[first:after]
        if seen.entry.role is Role.SILENT:
            lead += lines
            continue
        key = _key(seen, lines, links)
        if key[0] != "set":
            counts[key] += 1
            key = (*key, counts[key])
        items = seen.items if key[0] == "set" else ()
        tail = tail_of(document, seen.entry.statement)
        yield MergeUnit(
            key, seen.heads, tuple(lead), lines, first, items, tail, seen.opens, seen.closes
        )
        lead = []
    yield MergeUnit(("bottom",), (), tuple(lead), (), last)


def _key(seen: SeenStatement, lines: Sequence[str], links: Links) -> PieceKey:
    if seen.ends:
        return ("end",)
    if seen.opens is not None:
        return "head", seen.opens
    if seen.closes:
        return "closer", seen.heads
    names = _names(seen)
    if names:
        return "set", links.top(names[0])
    if seen.entry.noise >= 0:
        return "noise", seen.entry.noise, seen.heads
    text = tuple(" ".join(line.split()) for line in lines)
    if seen.entry.role is Role.UNREAD:
        return "unread", text
    return "line", seen.heads, text
