"""Writes whole lines into a dump: in place of the one that is there, else where they belong."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from cfgaudit.craft.kinds import Filters, Switches, value_text
from cfgaudit.craft.values import Value
from cfgaudit.craft.versions import version_numbers
from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.elements import ListWriter
from cfgaudit.dialects.inserting import insertions
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.placing import Placed, Placer, kind_of
from cfgaudit.dialects.spec import CannotWrite, Tables
from cfgaudit.dialects.splicing import Rework, reworked, together
from cfgaudit.dialects.tracing import (
    Mark,
    Traced,
    base_of,
    lines_of_statement,
    trace,
    whole_of,
)
from cfgaudit.dialects.valuing import NeedsLines, is_on, put, rewritten, value_of
from cfgaudit.reading.document import Document, read_document
from cfgaudit.reading.shapes import Section


class Line(NamedTuple):
    """A line of the dialect and what it states when it is read by itself."""

    placed: Placed
    marks: tuple[Mark, ...]

    @property
    def paths(self) -> tuple[str, ...]:
        """What it states, in its own order."""
        return tuple(mark.path for mark in self.marks)


@dataclass(frozen=True)
class LineWriter:
    """Writes the lines that state a setting, with the stock of all that is known."""

    dialect: Dialect
    version: tuple[int, ...]
    placer: Placer
    stock: Mapping[str, Value]
    counts: Mapping[str, int]  # how many elements each list had before
    slots: Mapping[str, Mapping[str, bool]]  # each list's slots in the dump, and which are on

    def lines(self, path: str, value: Value) -> list[Line]:
        """The lines that state it. Raises CannotWrite."""
        kind = kind_of(path)
        stock = {**self.stock, path: value}
        if isinstance(kind, Switches | Filters) and isinstance(value, tuple):
            placed = ListWriter(self.placer, stock, self.counts, self.slots).lines(path, value)
        else:
            placed = [self.placer.place(path, stock)]
        lines = [self.read(entry) for entry in dict.fromkeys(placed)]
        _see_that_they_say(path, lines)
        return lines

    def plain_lines(self, path: str, value: Value, sections: Sequence[str]) -> list[Line]:
        """The ways to state it in the plain form: below the nearest section, else a new one."""
        text = value_text(kind_of(path), value)
        words = path.split(".")
        heads = [".".join(words[:cut]) for cut in range(len(words) - 1, 0, -1)]
        there = [head for head in heads if head in sections]
        ways = [*there, *(head for head in heads[:1] if head not in there)]
        made = [
            Placed(((Section, f"[{head}]"),), f"{path[len(head) + 1 :]} = {text}") for head in ways
        ]
        if not sections:
            made = [Placed((), f"{path} = {text}")]
        lines = [self.read(placed) for placed in made]
        _see_that_they_say(path, lines)
        return lines

    def read(self, placed: Placed) -> Line:
        """A line with what it states by itself."""
        text = "\n".join([*(head for _, head in placed.chain), placed.text])
        document = read_document(
            "written", text.encode("utf-8", "surrogatepass"), self.dialect.look
        )
        traced = trace(document, self.dialect, self.version)
        last = len(document.statements) - 1
        return Line(placed, tuple(mark for mark in traced.marks if mark.statement == last))


def _see_that_they_say(path: str, lines: Sequence[Line]) -> None:
    """Raises CannotWrite where nothing that lines state by themselves is of a setting."""
    if not any(base_of(of) == path for line in lines for of in line.paths):
        raise CannotWrite("a line with that value in it could not be read back")


def line_writer(traced: Traced, placer: Placer, wanted: Mapping[str, Value]) -> LineWriter:
    """A writer for a dump: what it states and what is wanted of it are known."""
    known = {path: entry.value for path, entry in traced.settings.stated.items() if not entry.doubt}
    counts = {path: len(value) for path, value in known.items() if isinstance(value, tuple)}
    stock = {**known, **wanted}
    return LineWriter(
        traced.dialect, version_of(traced), placer, stock, counts, _slots(traced, placer.tables)
    )


def _slots(traced: Traced, tables: Tables) -> dict[str, dict[str, bool]]:
    """The slots of each list, in the dump's order, and whether each is on."""
    found: dict[str, dict[str, dict[str, Mark]]] = {}
    for mark in traced.marks:
        goal = target_of(mark.path)
        if goal.label:
            found.setdefault(goal.path, {}).setdefault(goal.label, {})[goal.part] = mark
    return {
        path: {label: is_on(slot, tables) for label, slot in slots.items()}
        for path, slots in found.items()
    }


def version_of(traced: Traced) -> tuple[int, ...]:
    """The firmware's version as the dump tells it."""
    stated = traced.settings.stated.get("firmware.version")
    return version_numbers(str(stated.value)) if stated else ()


def relined(traced: Traced, path: str, value: Value, writer: LineWriter) -> Iterator[Document]:
    """The document with the lines that state a value, in every way to place them, best first.

    Raises CannotWrite where the dialect has no line for it.
    """
    if traced.dialect.keys_are_paths:
        names = [name for run in traced.frames for _, name in run]
        for line in writer.plain_lines(path, value, names):
            yield from _with_line(traced, line)
        return
    lines = writer.lines(path, value)
    if any(target_of(of).path == path and not target_of(of).label for of in lines[0].paths) and (
        isinstance(value, tuple)
    ):
        yield from _rows(traced, path, lines, writer)
        return
    ways = iter([traced.document])
    for line in lines:
        first = next(ways, None)
        if first is None:
            return
        ways = _with_line(trace(first, traced.dialect), line)
    yield from ways


def _rows(
    traced: Traced, path: str, lines: Sequence[Line], writer: LineWriter
) -> Iterator[Document]:
    """A list with a line an element: the lines there are used first, what is over goes out."""
    there = list(dict.fromkeys(mark.statement for mark in traced.of(path)))
    if not there:
        ways: Iterator[Document] = iter([traced.document])
        for line in lines:
            first = next(ways, None)
            if first is None:
                return
            ways = _new_line(trace(first, traced.dialect), line)
        yield from ways
        return
    now = traced
    for at, line in zip(there, lines, strict=False):
        now = _again(now, _merged(now, at, line))
    over = [
        number
        for at in there[len(lines) :]
        for number in lines_of_statement(now.document.statements[at])
    ]
    now = _again(now, Rework(out=frozenset(over)))
    last = now.document.statements[there[min(len(there), len(lines)) - 1]]
    front = _front(now.document, there[0])
    new = tuple(front + line.placed.text for line in lines[len(there) :])
    yield _again(now, Rework(below=lines_of_statement(last)[-1], lines=new)).document


def _front(document: Document, at: int) -> str:
    """The blanks before a statement."""
    line = document.text.lines[document.statements[at].first]
    return line[: len(line) - len(line.lstrip())]


def _again(traced: Traced, rework: Rework) -> Traced:
    return trace(with_rework(traced.document, rework), traced.dialect)


def with_rework(document: Document, rework: Rework) -> Document:
    """The document with its text reworked."""
    text = reworked(document.text, rework)
    part = document.part
    if part is not None:  # the lines of this dump, of several in one text
        part = range(part.start, part.stop + len(text.lines) - len(document.text.lines))
    return replace(document, text=text, part=part)


def _with_line(traced: Traced, line: Line) -> Iterator[Document]:
    """The document with a line in it: in place of the one that states the same, else put in."""
    at = _standing(traced, line)
    if at is not None:
        yield with_rework(traced.document, _merged(traced, at, line))
        return
    yield from _new_line(traced, line)


def _new_line(traced: Traced, line: Line) -> Iterator[Document]:
    """The document with a line put in, where it is read as what it is."""
    for rework in insertions(traced, line.placed, line.paths):
        made = trace(with_rework(traced.document, rework), traced.dialect)
        if len(made.marks) - len(traced.marks) == len(line.marks):
            yield made.document


def _standing(traced: Traced, line: Line) -> int | None:
    """The statement that states most of what a line does, the last of equals."""
    wanted = set(line.paths)
    overlap: dict[int, int] = {}
    for mark in traced.marks:
        if mark.path in wanted and mark.statement >= 0:
            overlap[mark.statement] = overlap.get(mark.statement, 0) + 1
    if not overlap:
        return None
    most = max(overlap.values())
    return max(at for at, count in overlap.items() if count == most)


def _merged(traced: Traced, at: int, line: Line) -> Rework:
    """A line in place of a statement: value by value where both say the same things."""
    tables = traced.dialect.tables_for(version_of(traced))
    old = [mark for mark in traced.marks if mark.statement == at]
    if [mark.path for mark in old] == list(line.paths):
        values = [value_of(mark, tables) for mark in line.marks]
        try:
            return together(
                put(traced, mark, value, tables)
                for mark, value in zip(old, values, strict=True)
                if value is not None
            )
        except NeedsLines:
            pass
    statement = traced.document.statements[at]
    whole = whole_of(statement.shape)
    if whole is None:
        raise CannotWrite("the line for it can't be put in the place of the one that stands there")
    text = line.placed.text
    lead = traced.dialect.look.lead
    front = traced.document.text.lines[statement.first][: statement.column].rstrip()
    if lead and front.endswith(lead):
        text = text.removeprefix(f"{lead} ")
    return rewritten(traced.document, statement, whole[0], text)
