"""Reads many versions of one dump: what a line does is worked out once, and then remembered.

The outcome is that of a plain reading, entry for entry. A line does the same wherever the same
contexts are open and the version is the same; only its place may have moved.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from cfgaudit.dialects.collect import Collector, FactoryValues, Target
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.raw import Leftover
from cfgaudit.dialects.reader import OpenContext, Reader, read_settings
from cfgaudit.reading.document import Document, Statement, front
from cfgaudit.reading.shapes import Look, Unread
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import BOUNDS, Place
from cfgaudit.settings import DumpFacts, Raw, Settings, Stated, Trouble


class Effect(NamedTuple):
    """What one line does to a reading."""

    stated: tuple[Stated, ...] = ()
    parts: tuple[tuple[Target, Stated, str], ...] = ()
    empty: tuple[str, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    leftovers: tuple[Leftover, ...] = ()
    frames: tuple[OpenContext, ...] | None = None  # the contexts then open; None where they stay
    context: int = 0  # the number of those
    ended: bool = False
    simple: bool = True  # it states something, or not even that, and does nothing else


@dataclass
class Memory:
    """What lines did, for one dialect and one version of its firmware."""

    dialect: Dialect
    root: OpenContext
    factory: FactoryValues
    # by contexts and by the statement, which the memories hold and so give the same id again
    known: dict[int, dict[int, Effect]] = field(default_factory=dict)
    anywhere: dict[tuple[int, str], tuple[int, Effect]] = field(default_factory=dict)
    contexts: dict[tuple[int, ...], int] = field(default_factory=dict)
    kept: list[tuple[OpenContext, ...]] = field(default_factory=list)  # so that no id is used again
    leftovers: list[Leftover] = field(default_factory=list)
    raw: dict[str, Raw] = field(default_factory=dict)

    def here(self, context: int) -> dict[int, Effect]:
        """What lines did in a stack of contexts."""
        return self.known.setdefault(context, {})

    def context_of(self, frames: Sequence[OpenContext]) -> int:
        """The number of a stack of contexts, the same for the same frames."""
        key = tuple(map(id, frames))
        if key not in self.contexts:
            self.contexts[key] = len(self.contexts)
            self.kept.append(tuple(frames))
        return self.contexts[key]


class Memories:
    """The memories of all dialects and versions that one command meets."""

    def __init__(self) -> None:
        self._found: dict[tuple[int, tuple[int, ...]], Memory] = {}
        self._cut: dict[Look, dict[tuple[int, str], Statement]] = {}

    @property
    def held(self) -> int:
        """How many statements are remembered, each at its place."""
        return sum(map(len, self._cut.values()))

    def of(self, dialect: Dialect, version: tuple[int, ...]) -> Memory:
        """The memory for a dialect and a version."""
        key = id(dialect), version
        if key not in self._found:
            factory = FactoryValues(dialect.factory_for(version))
            self._found[key] = Memory(dialect, OpenContext(dialect.root), factory)
        return self._found[key]

    def statements(self, document: Document) -> Sequence[Statement] | None:
        """A document's statements, the same objects for the same lines at the same places.

        They are held here, so what a line did can be looked up by them. None of a document that
        was repaired, or is read in part: it had better be read plainly.
        """
        look = document.look
        if document.part is not None or document.repairs or document.bounds != BOUNDS:
            return None
        known = self._cut.setdefault(look, {})
        lines = document.lines
        found = [known.get(key) for key in enumerate(lines)]
        continued = _continued(lines, look.continues)
        if None in found or continued:
            found = [
                known.setdefault((index, line), _statement(index, line, look))
                if statement is None and index not in continued
                else statement
                for index, (line, statement) in enumerate(zip(lines, found, strict=True))
            ]
        for start, stop in continued.values():
            key = start, "\n".join(lines[start:stop])
            if key not in known:
                known[key] = next(s for s in document.statements if s.first == start)
            found[start:stop] = [known[key], *[None] * (stop - start - 1)]
        return [statement for statement in found if statement is not None]

    def read(self, document: Document, dialect: Dialect) -> Settings:
        """As read_settings, and quicker where much of the document was read before."""
        statements = self.statements(document)
        if statements is None:
            return read_settings(document, dialect)
        return _Remembering(document, dialect, self, statements).settings()


class _Recorder(Collector):
    """A collector that also notes what is stated, until it is told to begin anew."""

    def begin(self) -> None:
        self.noted: list[Stated] = []
        self.noted_parts: list[tuple[Target, Stated, str]] = []
        self.noted_empty: list[str] = []

    def _add(self, stated: Stated) -> None:
        self.noted.append(stated)
        super()._add(stated)

    def _add_part(self, target: Target, stated: Stated, row: str) -> None:
        self.noted_parts.append((target, stated, row))
        super()._add_part(target, stated, row)

    def state_empty(self, path: str, text: str, place: Place | None) -> None:
        self.noted_empty.append(path)
        super().state_empty(path, text, place)

    def add_again(self, stated: Stated) -> None:
        """Take what a line stated, without noting it."""
        super()._add(stated)

    def replay(self, effect: Effect) -> None:
        """Do what a line did."""
        for path in effect.empty:
            self.elements.setdefault(path, {})
        for stated in effect.stated:
            super()._add(stated)
        for target, stated, row in effect.parts:
            super()._add_part(target, stated, row)
        self.troubles += effect.troubles


class _Remembering(Reader):
    """A reader with a memory."""

    def __init__(
        self,
        document: Document,
        dialect: Dialect,
        memories: Memories,
        statements: Sequence[Statement],
    ) -> None:
        super().__init__(document, dialect)
        self.memories = memories
        self.recorder = _Recorder(dialect.tables, dialect.off)
        self.recorder.begin()
        self.collector = self.recorder
        self.statements = statements

    def _facts(self) -> DumpFacts:
        unread = sum(isinstance(statement.shape, Unread) for statement in self.statements)
        count, notes = len(self.statements), self.document.notes
        return DumpFacts(self.file, self.dialect.name, count, unread, count, notes)

    def _read_all(self, heads: set[int]) -> None:
        memory = self.memories.of(self.dialect, self.version)
        self.frames = [memory.root]
        context = memory.context_of(self.frames)
        here = memory.here(context)
        add = self.recorder.add_again
        odd = False  # between the marks of a merge, or in blocks too deep: nothing is remembered
        for statement in self.statements:
            effect = None if odd else here.get(id(statement))
            if effect is None:
                now = self._first_time(memory, context, statement, heads)
                odd = self.merging or bool(self.too_deep)
            elif effect.simple:
                for stated in effect.stated:
                    add(stated)
                continue
            else:
                now = self._again(effect, context)
            if now != context:
                context, here = now, memory.here(now)

    def _again(self, effect: Effect, context: int) -> int:
        """Do what a line did; gives the number of the contexts then open."""
        self.recorder.replay(effect)
        self.leftovers += effect.leftovers
        self.ended = self.ended or effect.ended
        if effect.frames is None:
            return context
        self.frames = list(effect.frames)
        return effect.context

    def _first_time(
        self, memory: Memory, context: int, statement: Statement, heads: set[int]
    ) -> int:
        """Read a line that was not read at this place; it may have been at another one."""
        line = self.document.lines[statement.first]
        odd = self.merging or self.too_deep or len(statement.joints) > 1 or statement.line in heads
        if odd:
            self._read_one(statement, line.strip(), heads)
            return memory.context_of(self.frames)
        seen = memory.anywhere.get((context, line))
        if seen is not None:
            effect = _moved(seen[1], statement, statement.first - seen[0])
            memory.here(context)[id(statement)] = effect
            return self._again(effect, context)
        effect, sure = self._learn(memory, statement, line)
        if sure:
            memory.here(context)[id(statement)] = effect
            memory.anywhere[context, line] = (statement.first, effect)
        return context if effect.frames is None else effect.context

    def _learn(self, memory: Memory, statement: Statement, line: str) -> tuple[Effect, bool]:
        """Read a line and note what it does, and whether that may be remembered."""
        self.recorder.begin()
        troubles, leftovers = len(self.collector.troubles), len(self.leftovers)
        frames, ended, self.ended = list(self.frames), self.ended, False
        self._read_one(statement, line.strip(), set())
        changed = len(frames) != len(self.frames) or any(
            one is not other for one, other in zip(frames, self.frames, strict=True)
        )
        effect = Effect(
            tuple(self.recorder.noted),
            tuple(self.recorder.noted_parts),
            tuple(self.recorder.noted_empty),
            tuple(self.collector.troubles[troubles:]),
            tuple(self.leftovers[leftovers:]),
            tuple(self.frames) if changed else None,
            memory.context_of(self.frames) if changed else 0,
            self.ended,
        )
        self.ended = ended or self.ended
        effect = effect._replace(simple=effect == Effect(effect.stated))
        return effect, not (self.merging or self.too_deep)

    def _factory(self) -> FactoryValues:
        return self.memories.of(self.dialect, self.version).factory

    def _raw(self) -> dict[str, Raw]:
        memory = self.memories.of(self.dialect, self.version)
        if memory.leftovers != self.leftovers or not self.leftovers:
            memory.raw, memory.leftovers = super()._raw(), self.leftovers
        return memory.raw


def _continued(lines: Sequence[str], mark: str) -> dict[int, tuple[int, int]]:
    """For the index of each line that a mark joins to others: where these begin and stop."""
    goes_on = [
        i for i, ln in enumerate(lines) if mark and mark in ln and ln.rstrip().endswith(mark)
    ]
    found: dict[int, tuple[int, int]] = {}
    for index in goes_on:
        start = found[index][0] if index in found else index
        stop = min(index + 2, len(lines))
        found.update(dict.fromkeys(range(start, stop), (start, stop)))
    return found


def _statement(index: int, line: str, look: Look) -> Statement:
    """A line as the document would cut it."""
    if not (look.prompts or look.lead or look.continues):
        return Statement(parse_line(line), index)
    column = front(line, look)
    return Statement(parse_line(line[column:]), index, ((0, index, column),))


def _moved(effect: Effect, statement: Statement, by: int) -> Effect:
    """What a line does, at another place."""
    return effect._replace(
        stated=tuple(_at(stated, by) for stated in effect.stated),
        parts=tuple(
            (target, _at(stated, by), f"{statement.line}") for target, stated, _ in effect.parts
        ),
        troubles=tuple(t._replace(place=_place_at(t.place, by)) for t in effect.troubles),
        leftovers=tuple(entry._replace(statement=statement) for entry in effect.leftovers),
    )


def _at(stated: Stated, by: int) -> Stated:
    return stated._replace(place=_place_at(stated.place, by))


def _place_at(place: Place | None, by: int) -> Place | None:
    return None if place is None else place._replace(line=place.line + by)
