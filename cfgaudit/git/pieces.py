"""A dump as units to merge: each statement, the comments above it, what it sets, under a key."""

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from cfgaudit.changes.diff import meaning
from cfgaudit.dialects.collect import Collector, Target, target_of
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.raw import key_depths, raw_settings
from cfgaudit.dialects.reader import OpenContext, Reader
from cfgaudit.dialects.template import Spec, match_text, open_shape
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.shapes import Assignment, Blank, Closer, Comment, Directive, Row, Unread
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Settings, Stated

Step = tuple[str, str, int]  # the form of a head, its name, which of that name it is
Context = tuple[Step, ...]  # the heads that a statement stands under, the outermost first


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


@dataclass
class Seen:
    """One statement as it was read: its values, its context, the context that it opens."""

    statement: Statement
    context: Context = ()
    opens: Context | None = None
    closes: bool = False
    noise: int = -1  # which pattern of the dialect's noise it is, if any
    ends: bool = False  # the mark at the end of the dump
    raw_key: str = ""
    items: list[StatedItem] = field(default_factory=list)


class _Recorder(Collector):
    """A collector that also notes each value with its place."""

    def __init__(self, dialect: Dialect) -> None:
        super().__init__(dialect.tables, dialect.off)
        self.notes: list[tuple[str, Place, str, Hashable]] = []
        self._last: Stated | None = None

    def state(
        self,
        path: str,
        spec: Spec,
        text: str,
        place: Place | None,
        *,
        origin: Origin = Origin.DUMP,
        row: str = "",
    ) -> None:
        """Take one value, and note what it came to; its text where it came to nothing."""
        self._last = None
        super().state(path, spec, text, place, origin=origin, row=row)
        if place is not None:
            last = self._last
            means = ("text", text) if last is None else meaning(last.value)
            self.notes.append((path, place, text, means))

    def state_empty(self, path: str, text: str, place: Place | None) -> None:
        """Take it that a list is empty, and note it."""
        super().state_empty(path, text, place)
        if place is not None:
            self.notes.append((path, place, text, ()))

    def _add(self, stated: Stated) -> None:
        self._last = stated
        super()._add(stated)

    def _add_part(self, target: Target, stated: Stated, row: str) -> None:
        self._last = stated
        super()._add_part(target, stated, row)


class Witness(Reader):
    """A reader that remembers what each statement set, and under which heads it stood."""

    def __init__(self, document: Document, dialect: Dialect) -> None:
        super().__init__(document, dialect)
        self._recorder = _Recorder(dialect)
        self.collector = self._recorder
        self.seen = {statement.first: Seen(statement) for statement in document.statements}
        self._steps: dict[
            int, tuple[OpenContext, Step]
        ] = {}  # the frame is kept, so its id is its own
        self._counts: dict[tuple[Context, str, str], int] = {}
        self._now: Context = ()
        self.outcome: Settings = self.settings()
        self._give_out()

    def depths(self) -> dict[str, int]:
        """For each first word of the lines that nothing maps, how many words are its key."""
        return key_depths(self.leftovers)

    def add_raw(self, depths: Mapping[str, int]) -> None:
        """Give the lines that nothing maps their raw keys, by the depths of all sides."""
        for leftover in self.leftovers:
            seen = self.seen[leftover.statement.first]
            for key, raw in raw_settings([leftover], self.file, depths).items():
                place = raw.place or Place(self.file, leftover.statement.line)
                name = f"raw {key}"
                seen.items.append(self._item(seen, (name, place, raw.value, raw.value), name))

    def _ignored(self, statement: Statement, line: str) -> bool:
        found = super()._ignored(statement, line)
        seen = self.seen[statement.first]
        seen.context = () if self.ended else self._now
        if found:
            bare = self.document.text.lines[statement.first][statement.column :].strip()
            fitting = [
                number
                for number, (_, pieces) in enumerate(self.noise)
                if any(match_text(pieces, text) is not None for text in (line, bare))
            ]
            seen.noise = fitting[0] if fitting else 0
        return found

    def _read(self, statement: Statement) -> None:
        before = list(self.frames)
        super()._read(statement)
        seen = self.seen[statement.first]
        if len(self.frames) > 1 and not any(self.frames[-1] is frame for frame in before):
            seen.context = self._context(self.frames[:-1])
            seen.opens = self._context(self.frames)
        elif isinstance(open_shape(statement.shape, self.dialect.look), Closer):
            inside = before[: len(self.frames) + 1] if len(before) > len(self.frames) else []
            seen.closes, seen.context = bool(inside), self._context(inside)
        else:
            seen.context = self._context(self.frames)
        self._now = self._context(self.frames)

    def _context(self, frames: Sequence[OpenContext]) -> Context:
        context: Context = ()
        for frame in frames[1:]:
            if id(frame) not in self._steps:
                form = frame.form.__name__ if frame.form else ""
                name = " ".join(frame.name.split())
                number = self._counts.get((context, form, name), 0) + 1
                self._counts[context, form, name] = number
                self._steps[id(frame)] = frame, (form, name, number)
            context += (self._steps[id(frame)][1],)
        return context

    def _give_out(self) -> None:
        """Hand each noted value to the statement that it stands in; find the end mark."""
        owner = _owners(self.document)
        for path, place, text, means in self._recorder.notes:
            seen = self.seen[owner[place.line - 1]]
            target = target_of(path)
            whole = not target.part or bool(target.label)
            seen.items.append(
                self._item(seen, (path, place, text, means), path if whole else target.path)
            )
        end = self.dialect.look.end
        for first, seen in self.seen.items():
            bare_end = isinstance(seen.statement.shape, Closer) and not seen.closes
            if bare_end or (end and self.document.text.lines[first].strip() == end):
                seen.ends, seen.context = True, ()

    def _item(self, seen: Seen, note: tuple[str, Place, str, Hashable], group: str) -> StatedItem:
        key, place, text, means = note
        line = self.document.text.lines[place.line - 1]
        start = place.column - 1
        if start < 0 or line[start : start + len(text)] != text or key in ("", "raw "):
            start = -1
        return StatedItem(key, group, means, place.line - 1 - seen.statement.first, start, text)


def _owners(document: Document) -> list[int]:
    """For each line, the first line of the statement that it belongs to."""
    owners: list[int] = []
    firsts = {statement.first for statement in document.statements}
    for number in range(len(document.text.lines)):
        owners.append(number if number in firsts or not owners else owners[-1])
    return owners


Key = tuple[Hashable, ...]
TAIL = "(comment behind it)"


@dataclass(frozen=True)
class MergeUnit:
    """A statement: its key, the comments and blank lines above it, its lines, what it sets.

    Several units of one dump have the same key where it says the same setting more than once.
    """

    key: Key
    context: Context
    lead: tuple[str, ...]
    lines: tuple[str, ...]
    first: int  # the index of its first line; of its lead, len(lead) less
    items: tuple[StatedItem, ...] = ()
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


def units_of(witnesses: Sequence[Witness], depths: Mapping[str, int]) -> list[list[MergeUnit]]:
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


def _units(witness: Witness, links: Links) -> Iterable[MergeUnit]:
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
        yield MergeUnit(
            key, seen.context, tuple(lead), lines, first, items, tail, seen.opens, seen.closes
        )
        lead = []
    yield MergeUnit(("bottom",), (), tuple(lead), (), last)


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
