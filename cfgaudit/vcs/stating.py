"""What each statement of a dump sets, and under which heads it stands: a reading that looks on."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from cfgaudit.changes.meaning import meaning
from cfgaudit.craft.settings import Origin, Settings, Stated
from cfgaudit.dialects.collect import Collector, Target, target_of
from cfgaudit.dialects.frames import Frame
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.raw import key_depths, raw_settings
from cfgaudit.dialects.reader import Reader
from cfgaudit.dialects.spec import Spec
from cfgaudit.dialects.template import match_text, open_shape
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.place import Place
from cfgaudit.reading.shapes import Closer

Step = tuple[str, str, int]  # the form of a head, its name, which of that name it is
Context = tuple[Step, ...]  # the heads that a statement stands under, the outermost first


class Item(NamedTuple):
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
    items: list[Item] = field(default_factory=list)


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
        self._steps: dict[int, tuple[Frame, Step]] = {}  # the frame is kept, so its id is its own
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

    def _context(self, frames: Sequence[Frame]) -> Context:
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

    def _item(self, seen: Seen, note: tuple[str, Place, str, Hashable], group: str) -> Item:
        key, place, text, means = note
        line = self.document.text.lines[place.line - 1]
        start = place.column - 1
        if start < 0 or line[start : start + len(text)] != text or key in ("", "raw "):
            start = -1
        return Item(key, group, means, place.line - 1 - seen.statement.first, start, text)


def _owners(document: Document) -> list[int]:
    """For each line, the first line of the statement that it belongs to."""
    owners: list[int] = []
    firsts = {statement.first for statement in document.statements}
    for number in range(len(document.text.lines)):
        owners.append(number if number in firsts or not owners else owners[-1])
    return owners
