"""One edit of a dump: another value in its place, a whole line in place of one, or a new line."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise, zip_longest
from typing import NamedTuple

from cfgaudit.dialects.collect import Mention, by_number
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.line_reader import Role, of_list
from cfgaudit.dialects.lines import kind_of
from cfgaudit.dialects.patch import Rework, Splice, reworked, together
from cfgaudit.dialects.raw import whole_of
from cfgaudit.dialects.reader import Reading, read
from cfgaudit.dialects.spec import CannotWrite, spelled_as, whole_number
from cfgaudit.dialects.template import cut_of, open_shape
from cfgaudit.dialects.writing import (
    LineWriter,
    Placed,
    WholeLine,
    closing,
    empty_slots,
    is_on,
    parts_of,
)
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.pasted import rests_moved
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Directive,
    Look,
    Opener,
    Row,
    Section,
    Span,
)
from cfgaudit.reading.statements import parser_of
from cfgaudit.reading.text import Place
from cfgaudit.vocabulary.kinds import Either, Filters, Quantities, SwitchRanges, Value
from cfgaudit.vocabulary.units import is_unit

FrameKey = tuple[type, str]  # the form of a section, block or group, and its name


def frames_at(reading: Reading, number: int) -> tuple[FrameKey, ...]:
    """The contexts that are open after a statement, the outermost first."""
    chain = reading.statements[number].context.chain
    return tuple((context.form or object, context.name) for context in chain)


@dataclass(frozen=True)
class InsertionSite:
    """Where new lines may go that stand under the same context lines.

    What it works out of the reading is worked out once, however many lines there are.
    """

    reading: Reading
    chain: tuple[tuple[type, str], ...]

    @cached_property
    def _keys(self) -> tuple[FrameKey, ...]:
        return tuple(_key(head, self.reading.dialect.look) for _, head in self.chain)

    @cached_property
    def _depth(self) -> int:
        """How many of the context lines are there already, from the outermost."""
        reading, keys = self.reading, self._keys
        there = [frames_at(reading, number) for number in range(len(reading.statements))]
        depths = range(len(keys), 0, -1)
        return next((d for d in depths if any(f[:d] == keys[:d] for f in there)), 0)

    @property
    def is_there(self) -> bool:
        """Whether the dump has all the context lines."""
        return self._depth == len(self.chain)

    @cached_property
    def _inside(self) -> list[int]:
        """The statements below those context lines that are there."""
        depth, key = self._depth, self._keys[: self._depth]
        return [n for n in self._says if frames_at(self.reading, n)[:depth] == key]

    @cached_property
    def _says(self) -> list[int]:
        """The statements that say something: no blank, comment, noise or end."""
        return [number for number, entry in enumerate(self.reading.statements) if entry.says]

    @cached_property
    def _direct(self) -> list[int]:
        """The statements that a new line may stand among: below no further context line."""
        openers = self.reading.openers
        return [n for n in self._inside if (len(openers[n]) == self._depth) == self.is_there]

    @cached_property
    def _stating(self) -> dict[str, tuple[int, int]]:
        """The last mark, by number, that begins with these words, and its statement."""
        here, found = set(self._direct), {}
        for number, mark in enumerate(self.reading.marks):
            if mark.statement in here:
                for words in _beginnings(mark.path):
                    found[words] = (number, mark.statement)
        return found

    def _like(self, paths: Sequence[str]) -> int | None:
        """The last statement that states what is nearest to a path: most words in common."""
        best: tuple[int, int, int] | None = None
        for path in paths:
            near = next((w for w in _beginnings(path) if w in self._stating), None)
            if near is not None:
                found = (near.count("."), *self._stating[near])
                best = max(best, found) if best is not None else found
        return best[2] if best is not None else None

    @cached_property
    def _ends(self) -> list[int]:
        """The places that are as good for one line as for another, the best first."""
        heads = (n for n, entry in enumerate(self.reading.statements) if entry.role is Role.HEAD)
        return [
            *(self._direct[-1:] if self.is_there else ()),
            *(_behind(self.reading, number, self._depth) for number in self._inside[-1:]),
            *self._says[-1:],
            max(heads, default=-1),
        ]

    def places(self, paths: Sequence[str]) -> Iterator[int]:
        """The statements that a line which states these paths may follow, the best first."""
        like, depth, openers = self._like(paths), self._depth, self.reading.openers
        if like is not None and self.is_there:
            yield like
        elif like is not None:
            run = openers[like][depth]
            block = [n for n in self._inside if openers[n][depth : depth + 1] == (run,)]
            yield _behind(self.reading, block[-1], depth)
        yield from self._ends

    def rework(self, at: int, texts: Iterable[str]) -> Rework:
        """Lines put in behind a statement, below those context lines that are not there yet."""
        heads = [head for _, head in self.chain[self._depth :]]
        forms = [form for form, _ in self.chain[self._depth :]]
        closers = [
            closing(head, self.reading.dialect.look)
            for form, head in zip(reversed(forms), reversed(heads), strict=True)
            if form is Opener
        ]
        lead = _front_of(self.reading, at) if not heads else ""
        lines = [*heads, *(lead + text for text in texts), *closers]
        statements = self.reading.document.statements
        below = lines_of_statement(statements[at])[-1] if at >= 0 else -1
        apart = forms and forms[0] in (Section, Opener) and below >= 0
        if apart and _airy(self.reading, forms[0]):
            lines.insert(0, "")
        return Rework(below=below, lines=tuple(lines))


def insertions(reading: Reading, placed: Placed, paths: Sequence[str]) -> Iterator[Rework]:
    """The places for a new line, the best first: each puts it under its context lines."""
    ground = InsertionSite(reading, placed.chain)
    for at in dict.fromkeys(ground.places(paths)):
        yield ground.rework(at, [placed.text])


def with_new_lines(
    reading: Reading, document: Document, lines: Iterable[tuple[Placed, Sequence[str]]]
) -> Document:
    """The reading's document, splices made, with new lines in it, each in its best place.

    Each line comes with the paths that it states.
    """
    grounds: dict[tuple[tuple[type, str], ...], InsertionSite] = {}
    texts: dict[InsertionSite, dict[int, list[str]]] = {}
    for placed, paths in lines:
        ground = grounds.setdefault(placed.chain, InsertionSite(reading, placed.chain))
        ways = texts.setdefault(ground, {})
        whole = ways and not ground.is_there  # its context lines come once
        at = next(iter(ways)) if whole else next(ground.places(paths))
        ways.setdefault(at, []).append(placed.text)
    blocks = [ground.rework(at, new) for ground, ways in texts.items() for at, new in ways.items()]
    # The lowest first, so that the places of the others stay; of one place, the last first.
    for rework in sorted(blocks, key=lambda rework: rework.below)[::-1]:
        document = with_rework(document, rework)
    return document


def _beginnings(path: str) -> Iterator[str]:
    """A path, and its first words, ever fewer."""
    while path:
        yield path
        path = path.rpartition(".")[0]


def _key(head: str, look: Look) -> FrameKey:
    """A context line as the frame that it opens."""
    shape = open_shape(parser_of(look)(head), look)
    if isinstance(shape, Section | Opener):
        return type(shape), shape.name.text
    assert isinstance(shape, Assignment | Directive | Row)  # a context line was compiled so
    return type(shape), " ".join(span.text for span in cut_of(shape))


def _behind(reading: Reading, at: int, depth: int) -> int:
    """A statement, or the line that closes the block of so much depth which it is the last of."""
    statements, openers = reading.document.statements, reading.openers
    while (
        at + 1 < len(statements)
        and isinstance(statements[at + 1].shape, Closer)
        and depth <= len(openers[at + 1]) < len(openers[at])  # else it ends the dump
    ):
        at += 1
    return at


def _front_of(reading: Reading, at: int) -> str:
    """The blanks that stand before the statement which the new line follows."""
    if at < 0:
        return ""
    statement = reading.document.statements[at]
    if isinstance(statement.shape, Section | Opener):
        return ""
    return _indent(reading.document, statement)


def _indent(document: Document, statement: Statement) -> str:
    """The blanks before a statement."""
    line = document.text.lines[statement.first]
    return line[: len(line) - len(line.lstrip())]


def _airy(reading: Reading, form: type) -> bool:
    """Whether the dump leaves a line free before its sections or blocks."""
    statements = reading.document.statements
    heads = [n for n, statement in enumerate(statements) if isinstance(statement.shape, form)]
    return any(n and isinstance(statements[n - 1].shape, Blank) for n in heads)


_WORD = re.compile(r"[^\s,]+")


def lines_of_statement(statement: Statement) -> list[int]:
    """The indices of the lines that a statement is made of."""
    return list(dict.fromkeys(joint[1] for joint in statement.joints)) or [statement.first]


class NeedsLines(Exception):  # noqa: N818 (an answer: whole lines must be written)
    """The value has no stretch of its own that could hold the new one."""


def revalue(reading: Reading, path: str, value: Value, writer: LineWriter) -> Rework:
    """The change that puts a value where the path is stated.

    Raises NeedsLines where it is not stated by stretches of its own, or by others than the new
    value needs; CannotWrite where the stretch has no way to say the value.
    """
    marks = reading.of(path)
    if not marks:
        raise NeedsLines
    if marks[-1].statement < 0:
        raise CannotWrite(f"{path} stands in the head line, which the firmware writes of itself")
    kind = kind_of(path)
    if marks[-1].path == path:
        return put(reading, marks[-1], value, writer)
    if not isinstance(value, tuple):
        raise CannotWrite(f"{path} is a list")
    if isinstance(kind, Quantities):
        return _numbers(reading, marks, value, writer)
    assert isinstance(kind, SwitchRanges | Filters)  # nothing else has parts
    return _elements(reading, marks, value, writer)


def _elements(
    reading: Reading, marks: Sequence[Mention], elements: tuple[object, ...], writer: LineWriter
) -> Rework:
    """Each element into the stretches of one that is there, where there are as many."""
    slots: dict[str, dict[str, Mention]] = {}
    for mark in marks:
        goal = mark.target
        if not goal.part:  # a line that says: none
            raise NeedsLines
        slots.setdefault(goal.label or f"row {mark.statement}", {})[goal.part] = mark
    filled = [slot for slot in slots.values() if is_on(slot)]
    if len(filled) != len(elements):
        raise NeedsLines
    made: list[Rework] = []
    for slot, element in zip(filled, elements, strict=True):
        parts = parts_of(element)
        for name, value in parts.items():
            if name in slot:
                made.append(put(reading, slot[name], value, writer))
            elif name != "kind" or not _is_given(reading.dialect, next(iter(slot.values())), value):
                raise NeedsLines
        if "q" in slot and "q" not in parts:
            made.append(put(reading, slot["q"], 0.0, writer))
    return together(made)


def _numbers(
    reading: Reading, marks: Sequence[Mention], values: tuple[object, ...], writer: LineWriter
) -> Rework:
    """Each number of a list into the line of its own; lines that are over say 0."""
    places = {mark.target.label: mark for mark in marks}
    if len(values) > len(places):
        path = marks[0].target.path
        raise CannotWrite(f"the dump has no more than {len(places)} lines for {path}")
    rest = [0.0] * (len(places) - len(values))
    numbers = [float(value) for value in values if isinstance(value, int | float)] + rest
    labels = sorted(places, key=by_number)
    return together(
        put(reading, places[label], number, writer)
        for label, number in zip(labels, numbers, strict=True)
    )


def _is_given(dialect: Dialect, mark: Mention, value: Value) -> bool:
    before, _, _ = mark.path.rpartition(".")
    return dialect.given.get(f"{before}.kind") == value


def put(reading: Reading, mark: Mention, value: Value, writer: LineWriter) -> Rework:
    """A value in a mark's stretch; nothing to do where it says that value already."""
    if mark.span is None:
        raise NeedsLines
    if mark.value == value and not mark.spec.by:
        return Rework()
    statement = reading.document.statements[mark.statement]
    template = reading.statements[mark.statement].template
    if writer.has_constant(mark.path, value, template):
        raise NeedsLines
    text = writer.spelled(template, mark.spec, mark.path, value)
    if mark.spec.cut is not None:
        text = _packed(reading, mark, text, writer)
    if text == mark.text:
        return Rework()
    text = _quoted_as(text, mark, statement)
    if mark.spec.many or len(lines_of_statement(statement)) > 1:
        return _put_words(reading.document, statement, mark, mark.span, text)
    line, column = statement.at(mark.span.start)
    end = statement.at(mark.span.end - 1)[1] + 1 if mark.span.text else column
    text = _parted_as(reading.document, text, mark.span.text, (line, column, end))
    if isinstance(kind_of(mark.path), Either) and isinstance(value, str) is not isinstance(
        mark.value, str
    ):
        behind = _unit_behind(reading, mark)
        if isinstance(value, str):
            end += len(behind)
        elif not behind:
            text += _unit_of_others(reading, mark)
    return Rework((Splice(line, column, end, text),))


def _parted_as(document: Document, text: str, read: str, at: tuple[int, int, int]) -> str:
    """A text with the signs between its words that those which it replaces have.

    `read` has blanks in the place of the signs, which stand `at` a line from a column to another.
    Raises NeedsLines where there are not as many words.
    """
    if document.look.parts == document.look.cells:
        return text
    stands = document.text.lines[at[0]][at[1] : at[2]]
    old, new = list(re.finditer(r"\S+", read)), text.split()
    if len(old) != len(new):
        raise NeedsLines
    gaps = [stands[a.end() : b.start()] for a, b in pairwise(old)]
    return "".join(part for pair in zip_longest(new, gaps, fillvalue="") for part in pair)


_UNIT_BEHIND = re.compile(r"[ \t]*([^\s,;]+)")


def _unit_behind(reading: Reading, mark: Mention) -> str:
    """The unit behind a mark's number, with the blanks before it; empty where there is none."""
    if mark.span is None or not mark.span.text:
        return ""
    line, column = reading.document.statements[mark.statement].at(mark.span.end - 1)
    found = _UNIT_BEHIND.match(reading.document.text.lines[line], column + 1)
    return found[0] if found is not None and is_unit(found[1]) else ""


def _unit_of_others(reading: Reading, mark: Mention) -> str:
    """The unit that numbers have behind them in other lines of a mark's mapping."""
    template = reading.statements[mark.statement].template
    for other in reading.marks:
        alike = other.statement >= 0 and reading.statements[other.statement].template is template
        if alike and not isinstance(other.value, str) and other.spec == mark.spec:
            return _unit_behind(reading, other)
    return ""


def _packed(reading: Reading, mark: Mention, text: str, writer: LineWriter) -> str:
    """The number of which a mark's text is a part, with all that is wanted of its other parts."""
    template = reading.statements[mark.statement].template
    number = whole_number(mark.text)
    for other in reading.marks:
        if other.statement != mark.statement or other.span != mark.span or not other.spec.cut:
            continue
        part = text
        if other.path != mark.path:
            if other.stated is None:
                continue
            value = writer.stock.get(other.path, other.stated.value)
            part = writer.spelled(template, other.spec, other.path, value)
        number = other.spec.cut.put(number, int(part))
    return spelled_as(number, mark.text)


def _quoted_as(text: str, mark: Mention, statement: Statement) -> str:
    """The text in quotes where the line would take it apart, or where the old one had them."""
    if '"' in text or mark.spec.many:
        return text
    if mark.text.startswith('"') and mark.text.endswith('"'):
        return f'"{text}"'
    shape = statement.shape
    if isinstance(shape, Assignment):
        return text
    cut_by_tabs = isinstance(shape, Row) and "," not in shape.body.text
    between = "\t" if cut_by_tabs else "," if isinstance(shape, Row) else " "
    apart = between in text and between not in mark.text  # else a unit is a word of its own
    return f'"{text}"' if apart else text


def _put_words(
    document: Document, statement: Statement, mark: Mention, span: Span, text: str
) -> Rework:
    """Word by word, each on the line that it is on; a list may grow or shrink at its end."""
    old = [Span(m.group(), span.start + m.start()) for m in _WORD.finditer(span.text)]
    new = _WORD.findall(text) if mark.spec.many else [text]
    if not mark.spec.many:
        old = [span]
    same = min(len(old), len(new))
    if document.look.parts != document.look.cells and len(old) != len(new):
        raise NeedsLines  # which sign parts one more word is not known
    splices: list[Splice] = []
    for word, instead in zip(old[:same], new[:same], strict=True):
        line, column = statement.at(word.start)
        if word.text != instead:
            splices.append(Splice(line, column, column + len(word.text), instead))
    if len(new) > len(old) and old:
        line, column = statement.at(old[-1].end - 1)
        gap = span.text[old[-2].end - span.start : old[-1].start - span.start] if old[1:] else " "
        joint = gap if "," in gap else " "
        splices.append(Splice(line, column + 1, column + 1, joint + joint.join(new[same:])))
    elif len(old) > len(new):
        line, column = statement.at(old[same - 1].end - 1)
        end_line, end = statement.at(old[-1].end - 1)
        if not same or line != end_line:
            return rewritten(document, statement, span.start, text)
        splices.append(Splice(line, column + 1, end + 1, ""))
    return Rework(tuple(splices))


def rewritten(document: Document, statement: Statement, start: int, text: str) -> Rework:
    """All of a statement from `start` on put anew, on its first line; a comment behind it stays."""
    whole = whole_of(statement.shape)
    if whole is None:
        raise NeedsLines
    first, column = statement.at(start)
    last, end = statement.at(max(whole[1] - 1, whole[0]))
    lines = [line for line in lines_of_statement(statement) if line >= first]
    if first == last:
        return Rework((Splice(first, column, end + 1, text),))
    text += document.text.lines[last][end + 1 :]
    return Rework(
        (Splice(first, column, len(document.text.lines[first]), text),),
        frozenset(line for line in lines if line > first),
    )


def relined(reading: Reading, path: str, value: Value, writer: LineWriter) -> Iterator[Document]:
    """The document with the lines that state a value, in every way to place them, best first.

    Raises CannotWrite where the dialect has no line for it.
    """
    if reading.dialect.keys_are_paths:
        for line in writer.plain_lines(path, value, sections_of(reading)):
            yield from _with_line(reading, line, writer)
        return
    lines = writer.lines(path, value)
    by_row = any(m.target.path == path and not m.target.label for m in lines[0].marks)
    if by_row and isinstance(value, tuple):
        yield from _rows(reading, path, lines, writer)
        return
    ways = iter([reading.document])
    for line in lines:
        first = next(ways, None)
        if first is None:
            return
        ways = _with_line(_read_anew(reading, first), line, writer)
    yield from ways


def new_lines(
    reading: Reading, path: str, value: Value, writer: LineWriter, sections: Sequence[str]
) -> list[WholeLine]:
    """The lines that state a value, where none of them has one to take the place of.

    Empty where there is such a line, a list has a line an element (see `relined`), or a line
    would leave doubt. Raises CannotWrite where the dialect has no line for it.
    """
    if reading.dialect.keys_are_paths:
        lines = writer.plain_lines(path, value, sections)[:1]
    else:
        lines = writer.lines(path, value)
        if any(mark.target.path == path and not mark.target.label for mark in lines[0].marks):
            return []
    if any(_row_of(reading, line) is not None for line in lines):
        return []
    marks = [mark for line in lines for mark in line.marks]
    unlike = any(m.path in reading.stating or m.stated is None or m.stated.doubt for m in marks)
    return [] if unlike else lines


def sections_of(reading: Reading) -> list[str]:
    """The names of the sections and blocks that a statement stands in, in order."""
    return [context.name for entry in reading.statements for context in entry.context.chain]


def _rows(
    reading: Reading, path: str, lines: Sequence[WholeLine], writer: LineWriter
) -> Iterator[Document]:
    """A list with a line an element: the lines there are used first, what is over goes out."""
    there = list(dict.fromkeys(mark.statement for mark in reading.of(path)))
    if not there:
        ways: Iterator[Document] = iter([reading.document])
        for line in lines:
            first = next(ways, None)
            if first is None:
                return
            ways = _new_line(_read_anew(reading, first), line)
        yield from ways
        return
    now = reading
    for at, line in zip(there, lines, strict=False):
        now = _again(now, _merged(now, at, line, writer))
    over = [
        number
        for at in there[len(lines) :]
        for number in lines_of_statement(now.document.statements[at])
    ]
    now = _again(now, Rework(out=frozenset(over)))
    last = now.document.statements[there[min(len(there), len(lines)) - 1]]
    front = _indent(now.document, now.document.statements[there[0]])
    new = tuple(front + line.placed.text for line in lines[len(there) :])
    yield _again(now, Rework(below=lines_of_statement(last)[-1], lines=new)).document


def _again(reading: Reading, rework: Rework) -> Reading:
    return _read_anew(reading, with_rework(reading.document, rework))


def _read_anew(reading: Reading, document: Document) -> Reading:
    return read(document, reading.dialect, reading.version)


def with_rework(document: Document, rework: Rework) -> Document:
    """The document with its text reworked."""
    text = reworked(document.text, rework)
    part = document.part
    if part is not None:  # the lines of this dump, of several in one text
        part = range(part.start, part.stop + len(text.lines) - len(document.text.lines))
    rests, before = document.rests, document.text.lines
    if rests is not None and text.lines != before:
        rests = rests_moved(rests, before, text.lines)
    return replace(document, text=text, part=part, rests=rests)


def _with_line(reading: Reading, line: WholeLine, writer: LineWriter) -> Iterator[Document]:
    """The document with a line in it: in place of the one that states the same, else put in."""
    at = _standing(reading, line)
    if at is not None:
        yield with_rework(reading.document, _merged(reading, at, line, writer))
        return
    yield from _new_line(reading, line)


def _new_line(reading: Reading, line: WholeLine) -> Iterator[Document]:
    """The document with a line put in, where it is read as what it is."""
    for rework in insertions(reading, line.placed, line.paths):
        made = _again(reading, rework)
        if len(made.marks) - len(reading.marks) == len(line.marks):
            yield made.document


def _standing(reading: Reading, line: WholeLine) -> int | None:
    """The statement that states most of what a line does, the last of equals."""
    wanted = set(line.paths)
    overlap: dict[int, int] = {}
    for mark in reading.marks:
        if mark.path in wanted and mark.statement >= 0:
            overlap[mark.statement] = overlap.get(mark.statement, 0) + 1
    if not overlap:
        return _row_of(reading, line)
    most = max(overlap.values())
    return max(at for at, count in overlap.items() if count == most)


def _row_of(reading: Reading, line: WholeLine) -> int | None:
    """The row that a line is about: one that holds no element yet, or one that it empties."""
    goals = {mark.target for mark in line.marks if mark.target.label}
    for number, entry in enumerate(reading.statements) if goals else ():
        for slot in empty_slots(entry):
            if any(slot.label == goal.label and of_list(slot.path, goal.path) for goal in goals):
                return number
    for slot in line.empties:
        for mark in reading.marks:
            goal = mark.target
            if goal.label == slot.label and goal.part and of_list(slot.path, goal.path):
                return mark.statement
    return None


def _merged(reading: Reading, at: int, line: WholeLine, writer: LineWriter) -> Rework:
    """A line in place of a statement: value by value where both say the same things."""
    old = [mark for mark in reading.marks if mark.statement == at]
    if [mark.path for mark in old] == list(line.paths):
        values = [mark.value for mark in line.marks]
        try:
            return together(
                put(reading, mark, value, writer)
                for mark, value in zip(old, values, strict=True)
                if value is not None
            )
        except (NeedsLines, CannotWrite):  # of this line's mapping; the other line's can
            pass
    statement = reading.document.statements[at]
    whole = whole_of(statement.shape)
    if whole is None:
        raise CannotWrite("the line for it can't be put in the place of the one that stands there")
    text = line.placed.text
    lead = reading.dialect.look.lead
    front = reading.document.text.lines[statement.first][: statement.column].rstrip()
    if lead and front.endswith(lead):
        text = text.removeprefix(f"{lead} ")
    return rewritten(reading.document, statement, whole[0], text)


class OwnLine(NamedTuple):
    """A line without a neutral meaning, or of a `part` one field of a line, which is `value` then.

    `place` is where the dump has another one that it stands for; None where it has none.
    """

    name: str
    placed: Placed
    place: Place | None
    value: str = ""
    part: bool = False


def put_own(reading: Reading, line: OwnLine) -> Iterator[Document]:
    """The document with a line that no mapping covers, in every way to place it, best first."""
    if line.place is not None:
        made = _in_place(reading.document, _by_line(reading.document), line, line.place)
        yield from [with_rework(reading.document, made)] if made is not None else []
    elif not line.part:
        for rework in insertions(reading, line.placed, []):
            yield with_rework(reading.document, rework)


def put_all_own(reading: Reading, lines: Sequence[OwnLine]) -> Document | None:
    """The document with all these lines, each in the best way; None where that can't be told."""
    at = _by_line(reading.document)
    reworks: list[Rework] = []
    new: list[OwnLine] = []
    for line in lines:
        made = None
        if line.place is not None:
            made = _in_place(reading.document, at, line, line.place)
        elif not line.part:
            new.append(line)
            continue
        if made is None or made.out:
            return None
        reworks.append(made)
    document = with_rework(reading.document, together(reworks))
    return with_new_lines(reading, document, ((line.placed, ()) for line in new))


def _by_line(document: Document) -> dict[int, Statement]:
    return {statement.line: statement for statement in document.statements}


def _in_place(
    document: Document, at: Mapping[int, Statement], line: OwnLine, place: Place
) -> Rework | None:
    """A line in the place of another; None where that is a head of more."""
    if line.part:
        return Rework((Splice(place.line - 1, place.column - 1, place.end - 1, line.value),))
    there = at[place.line]
    whole = whole_of(there.shape)
    return rewritten(document, there, whole[0], line.placed.text) if whole is not None else None
