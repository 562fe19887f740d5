"""A dump as a list of units: a statement with the comments above it, under a key of its own."""

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from cfgaudit.reading.document import Document
from cfgaudit.reading.shapes import Assignment, Blank, Comment, Directive, Row, Unread
from cfgaudit.vcs.stating import Context, Item, Seen, Witness

Key = tuple[Hashable, ...]
TAIL = "(comment behind it)"


@dataclass(frozen=True)
class Unit:
    """A statement: its key, the comments and blank lines above it, its lines, what it sets.

    Several units of one dump have the same key where it says the same setting more than once.
    """

    key: Key
    context: Context
    lead: tuple[str, ...]
    lines: tuple[str, ...]
    first: int  # the index of its first line; of its lead, len(lead) less
    items: tuple[Item, ...] = ()
    tail: str = ""
    opens: Context | None = None
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


def units_of(witnesses: Sequence[Witness], depths: Mapping[str, int]) -> list[list[Unit]]:
    """The units of each dump, keyed alike in all of them."""
    links = Links()
    for witness in witnesses:
        witness.add_raw(depths)
        for seen in witness.seen.values():
            names = _names(seen)
            if names:
                links.join(names)
    return [list(_units(witness, links)) for witness in witnesses]


def common_depths(witnesses: Iterable[Witness]) -> dict[str, int]:
    """How many words are a line's key, so that the lines of every side are told apart."""
    depths: dict[str, int] = {}
    for witness in witnesses:
        for head, depth in witness.depths().items():
            depths[head] = max(depth, depths.get(head, 0))
    return depths


def _names(seen: Seen) -> list[Hashable]:
    """What a statement's key can be: its settings; and its own key, where it has one."""
    names: list[Hashable] = [item.group for item in seen.items]
    shape = seen.statement.shape
    if names and isinstance(shape, Assignment):
        above = tuple(name for _, name, _ in seen.context)
        names.append((*above, " ".join(shape.key.text.split())))
    return names


def _units(witness: Witness, links: Links) -> Iterable[Unit]:
    document = witness.document
    counts: Counter[Key] = Counter()
    lead: list[str] = []
    last = len(document.text.lines)
    firsts = [*witness.seen, last][1:]
    for (first, seen), after in zip(witness.seen.items(), firsts, strict=True):
        lines = document.text.lines[first:after]
        if isinstance(seen.statement.shape, Blank | Comment) and not seen.items and not seen.ends:
            lead += lines
            continue
        key = _key(seen, lines, links)
        if key[0] != "set":
            counts[key] += 1
            key = (*key, counts[key])
        items = tuple(seen.items) if key[0] == "set" else ()
        tail = _tail(document, seen, lines) if items else ""
        yield Unit(
            key, seen.context, tuple(lead), lines, first, items, tail, seen.opens, seen.closes
        )
        lead = []
    yield Unit(("bottom",), (), tuple(lead), (), last)


def _key(seen: Seen, lines: Sequence[str], links: Links) -> Key:
    if seen.ends:
        return ("end",)
    if seen.opens is not None:
        return "head", seen.opens
    if seen.closes:
        return "closer", seen.context
    names = _names(seen)
    if names:
        return "set", links.top(names[0])
    if seen.noise >= 0:
        return "noise", seen.noise, seen.context
    text = tuple(" ".join(line.split()) for line in lines)
    if isinstance(seen.statement.shape, Unread):
        return "unread", text
    return "line", seen.context, text


def _tail(document: Document, seen: Seen, lines: Sequence[str]) -> str:
    """The comment behind a statement's last line."""
    shape = seen.statement.shape
    span = None
    if isinstance(shape, Assignment):
        span = shape.value
    elif isinstance(shape, Directive | Row):
        span = shape.body
    if span is None:
        return ""
    joints = seen.statement.joints
    place = seen.statement.place(document.name, span)
    if not joints:
        return lines[0][span.end :].strip()
    if len(joints) > 1:  # a comment behind joined lines is within the last of them
        start, _, column = joints[-1]
        return lines[-1][max(0, span.end - start) + column :].strip()
    return lines[0][place.end - 1 :].strip()
