"""Reads a document and keeps what an edit must know: which text, by which spec, states what."""

from typing import NamedTuple

from cfgaudit.dialects.collect import Collector, target_of
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.reader import OpenContext, Reader
from cfgaudit.dialects.template import Spec
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.shapes import Assignment, Directive, Opener, Row, Section, Shape, Span
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Settings

FrameKey = tuple[type, str]  # the form of a section, block or group, and its name


class Mark(NamedTuple):
    """One stretch of a dump that states a setting, or a part of one element of a list.

    `statement` is its index in the document; -1 for a head line, which the firmware writes. A
    value that no text of its own says (a constant of its line) has no `span`.
    """

    path: str
    spec: Spec
    text: str
    statement: int
    span: Span | None


class Traced(NamedTuple):
    """A document that was read: its marks in order, and each statement's open frames."""

    document: Document
    dialect: Dialect
    settings: Settings
    marks: tuple[Mark, ...]
    frames: tuple[tuple[FrameKey, ...], ...]  # one a statement, after it was read
    runs: tuple[tuple[int, ...], ...]  # which opening of each frame it is, by statement index
    read: frozenset[int]  # the statements that are neither noise nor end mark

    def of(self, path: str) -> list[Mark]:
        """The marks of a setting, those of its elements' parts among them, in order."""
        return [mark for mark in self.marks if base_of(mark.path) == path]


def base_of(path: str) -> str:
    """The setting that a part of a list's element belongs to."""
    return target_of(path).path


class _TracingCollector(Collector):
    """Notes where each value stands while it is taken."""

    def __init__(self, document: Document, dialect: Dialect) -> None:
        super().__init__(dialect.tables, dialect.off)
        self.document = document
        self.marks: list[Mark] = []
        self.at = -1  # the index of the statement that is being read

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
        """Take one value, and note where it stands."""
        if place is not None:
            self.marks.append(Mark(path, spec, text, self.at, self._span(place, spec, text)))
        super().state(path, spec, text, place, origin=origin, row=row)

    def state_empty(self, path: str, text: str, place: Place | None) -> None:
        """Take an empty list; its line is noted, as its word stands for no value by itself."""
        self.marks.append(Mark(path, Spec(), text, self.at, None))
        super().state_empty(path, text, place)

    def _span(self, place: Place, spec: Spec, text: str) -> Span | None:
        """The stretch of the statement's own text that a place names."""
        if not place.column or self.at < 0:
            return None
        statement = self.document.statements[self.at]
        offset = offset_of(statement, place.line - 1, place.column - 1)
        whole = body_of(statement.shape)
        if whole is None:
            return None
        if spec.many:  # it takes the rest of the line, however that is cut
            return Span(whole.text[offset - whole.start :], offset)
        return Span(text, offset)


class _TracingReader(Reader):
    """A reading that also notes the frames around each statement."""

    def __init__(self, document: Document, dialect: Dialect, version: tuple[int, ...]) -> None:
        super().__init__(document, dialect, version)
        self.notes = _TracingCollector(document, dialect)
        self.collector = self.notes
        self.index = {id(s): number for number, s in enumerate(document.statements)}
        self.opened: dict[int, int] = {}  # a frame to the index of its opening statement
        self.kept: list[OpenContext] = []  # so that no frame's identity is used twice
        self.around: dict[int, tuple[OpenContext, ...]] = {}

    def _read(self, statement: Statement) -> None:
        self.notes.at = self.index[id(statement)]
        super()._read(statement)
        for frame in self.frames[1:]:
            if id(frame) not in self.opened:
                self.opened[id(frame)] = self.notes.at
                self.kept.append(frame)
        self.around[self.notes.at] = tuple(self.frames[1:])


def trace(document: Document, dialect: Dialect, version: tuple[int, ...] = ()) -> Traced:
    """Read a document and note where everything stands. Never raises."""
    reader = _TracingReader(document, dialect, version)
    settings = reader.settings()
    frames: list[tuple[FrameKey, ...]] = []
    runs: list[tuple[int, ...]] = []
    around: tuple[OpenContext, ...] = ()
    for number in range(len(document.statements)):
        around = reader.around.get(number, around)  # a line that was passed over changes nothing
        frames.append(tuple((frame.form or object, frame.name) for frame in around))
        runs.append(tuple(reader.opened[id(frame)] for frame in around))
    return Traced(
        document,
        dialect,
        settings,
        tuple(reader.notes.marks),
        tuple(frames),
        tuple(runs),
        frozenset(reader.around),
    )


def offset_of(statement: Statement, line: int, column: int) -> int:
    """Where a place in a file (both from 0) stands in the statement's joined text."""
    offset = column
    for start, index, first in statement.joints:
        if index == line and first <= column:
            offset = start + column - first
    return offset


def place_of(statement: Statement, offset: int) -> tuple[int, int]:
    """The line and column (both from 0) of an offset in the statement's joined text."""
    return statement.at(offset)


def lines_of_statement(statement: Statement) -> list[int]:
    """The indices of the lines that a statement is made of."""
    return list(dict.fromkeys(joint[1] for joint in statement.joints)) or [statement.first]


def body_of(shape: Shape) -> Span | None:
    """What a statement says, without its comment; of an assignment, the value alone."""
    if isinstance(shape, Assignment):
        return shape.value
    return shape.body if isinstance(shape, Directive | Row) else None


def whole_of(shape: Shape) -> tuple[int, int] | None:
    """Where what a statement says begins and ends, without its comment."""
    if isinstance(shape, Assignment):
        return shape.key.start, shape.value.end
    if isinstance(shape, Section | Opener):
        return None
    body = body_of(shape)
    return None if body is None else (body.start, body.end)
