"""One edit of a dump: another value in its place, a whole line in place of one, or a new line."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.patch import Rework, Splice, reworked, together
from cfgaudit.dialects.placing import (
    ON_OFF,
    SPELLINGS,
    ListWriter,
    Placed,
    Placer,
    kind_of,
    parts_of,
)
from cfgaudit.dialects.reader import cut_of
from cfgaudit.dialects.template import (
    CannotWrite,
    Form,
    WordLists,
    open_shape,
    read_with,
    write_with,
)
from cfgaudit.dialects.tracing import (
    FrameKey,
    Mark,
    Traced,
    base_of,
    lines_of_statement,
    place_of,
    trace,
    whole_of,
)
from cfgaudit.dialects.writer import closing
from cfgaudit.reading.document import Document, Statement, read_document
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Look,
    Opener,
    Row,
    Section,
    Span,
)
from cfgaudit.reading.statements import parse_line
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Either,
    Filters,
    SwitchRanges,
    Value,
    value_text,
    version_numbers,
)


def insertions(traced: Traced, placed: Placed, paths: Sequence[str]) -> Iterator[Rework]:
    """The places for a new line, the best first: each puts it under its context lines."""
    look = traced.dialect.look
    chain = tuple(_key(head, look) for _, head in placed.chain)
    depth = _deepest(traced, chain)
    heads = [head for _, head in placed.chain[depth:]]
    forms = [form for form, _ in placed.chain[depth:]]
    closers = [
        closing(head, look)
        for form, head in zip(reversed(forms), reversed(heads), strict=True)
        if form is Opener
    ]
    for at in dict.fromkeys(_places(traced, chain, depth, paths)):
        lead = _front_of(traced, at) if not heads else ""
        lines = [*heads, lead + placed.text, *closers]
        below = lines_of_statement(traced.document.statements[at])[-1] if at >= 0 else -1
        if forms and forms[0] in (Section, Opener) and _airy(traced, forms[0]) and below >= 0:
            lines.insert(0, "")
        yield Rework(below=below, lines=tuple(lines))


def _key(head: str, look: Look) -> FrameKey:
    """A context line as the frame that it opens."""
    shape = open_shape(parse_line(head), look)
    if isinstance(shape, Section | Opener):
        return type(shape), shape.name.text
    assert isinstance(shape, Assignment | Directive | Row)  # a context line was compiled so
    return type(shape), " ".join(span.text for span in cut_of(shape))


def _deepest(traced: Traced, chain: tuple[FrameKey, ...]) -> int:
    """How many of the context lines are there already, from the outermost."""
    for depth in range(len(chain), 0, -1):
        if any(frames[:depth] == chain[:depth] for frames in traced.frames):
            return depth
    return 0


def _places(
    traced: Traced, chain: tuple[FrameKey, ...], depth: int, paths: Sequence[str]
) -> Iterator[int]:
    """The statements that the new lines may follow."""
    inside = [
        number for number in _settings(traced) if traced.frames[number][:depth] == chain[:depth]
    ]
    if depth == len(chain):
        direct = [number for number in inside if len(traced.frames[number]) == depth]
        like = _like(traced, direct, paths)
        if like is not None:
            yield like
        yield from reversed(direct[-1:])
    else:
        like = _like(traced, [n for n in inside if len(traced.frames[n]) > depth], paths)
        if like is not None:
            run = traced.runs[like][depth]
            block = [n for n in inside if traced.runs[n][depth : depth + 1] == (run,)]
            yield _behind(traced, block[-1])
    yield from (_behind(traced, number) for number in inside[-1:])
    yield from reversed(_settings(traced)[-1:])
    yield -1


def _settings(traced: Traced) -> list[int]:
    """The statements that say something: no blank, comment, noise or end."""
    return [
        number
        for number, statement in enumerate(traced.document.statements)
        if number in traced.read and not isinstance(statement.shape, Blank | Comment | Closer)
    ]


def _like(traced: Traced, among: Sequence[int], paths: Sequence[str]) -> int | None:
    """The last statement that states what is nearest to a path: most words in common."""
    here = set(among)
    best, most = None, 0
    for mark in traced.marks:
        if mark.statement in here:
            shared = max((_shared(mark.path, path) for path in paths), default=0)
            if shared and shared >= most:
                best, most = mark.statement, shared
    return best


def _shared(one: str, other: str) -> int:
    count = 0
    for mine, theirs in zip(one.split("."), other.split("."), strict=False):
        if mine != theirs:
            break
        count += 1
    return count


def _behind(traced: Traced, at: int) -> int:
    """A statement, or the line that closes the block which it is the last of."""
    statements = traced.document.statements
    while (
        at + 1 < len(statements)
        and isinstance(statements[at + 1].shape, Closer)
        and len(traced.frames[at + 1]) < len(traced.frames[at])  # else it ends the dump
    ):
        at += 1
    return at


def _front_of(traced: Traced, at: int) -> str:
    """The blanks that stand before the statement which the new line follows."""
    if at < 0:
        return ""
    statement = traced.document.statements[at]
    if isinstance(statement.shape, Section | Opener):
        return ""
    line = traced.document.text.lines[statement.first]
    return line[: len(line) - len(line.lstrip())]


def _airy(traced: Traced, form: type) -> bool:
    """Whether the dump leaves a line free before its sections or blocks."""
    statements = traced.document.statements
    heads = [n for n, statement in enumerate(statements) if isinstance(statement.shape, form)]
    return any(n and isinstance(statements[n - 1].shape, Blank) for n in heads)


_WORD = re.compile(r"[^\s,]+")


class NeedsLines(Exception):  # noqa: N818 (an answer: whole lines must be written)
    """The value has no stretch of its own that could hold the new one."""


def revalue(traced: Traced, path: str, value: Value, tables: WordLists) -> Rework:
    """The change that puts a value where the path is stated.

    Raises NeedsLines where it is not stated by stretches of its own, or by others than the new
    value needs; CannotWrite where the stretch has no way to say the value.
    """
    marks = traced.of(path)
    if not marks:
        raise NeedsLines
    if marks[-1].statement < 0:
        raise CannotWrite(f"{path} stands in the head line, which the firmware writes of itself")
    kind = kind_of(path)
    if marks[-1].path == path:
        return put(traced, marks[-1], value, tables)
    assert isinstance(kind, SwitchRanges | Filters)  # nothing else has parts
    if not isinstance(value, tuple):
        raise CannotWrite(f"{path} is a list")
    return _elements(traced, marks, value, tables)


def _elements(
    traced: Traced, marks: Sequence[Mark], elements: tuple[object, ...], tables: WordLists
) -> Rework:
    """Each element into the stretches of one that is there, where there are as many."""
    slots: dict[str, dict[str, Mark]] = {}
    for mark in marks:
        goal = target_of(mark.path)
        if not goal.part:  # a line that says: none
            raise NeedsLines
        slots.setdefault(goal.label or f"row {mark.statement}", {})[goal.part] = mark
    filled = [slot for slot in slots.values() if is_on(slot, tables)]
    if len(filled) != len(elements):
        raise NeedsLines
    made: list[Rework] = []
    for slot, element in zip(filled, elements, strict=True):
        parts = parts_of(element)
        for name, value in parts.items():
            if name in slot:
                made.append(put(traced, slot[name], value, tables))
            elif name != "kind" or not _is_given(traced.dialect, next(iter(slot.values())), value):
                raise NeedsLines
        if "q" in slot and "q" not in parts:
            made.append(put(traced, slot["q"], 0.0, tables))
    return together(made)


def _is_given(dialect: Dialect, mark: Mark, value: Value) -> bool:
    before, _, _ = mark.path.rpartition(".")
    return dialect.given.get(f"{before}.kind") == value


def is_on(slot: Mapping[str, Mark], tables: WordLists) -> bool:
    """Whether a slot holds an element: a channel or a cutoff above nought."""
    for name in ("channel", "cutoff"):
        if name in slot:
            value = value_of(slot[name], tables)
            return isinstance(value, int | float) and value > 0
    return False


def value_of(mark: Mark, tables: WordLists) -> Value | None:
    """What a mark's text means; None where it can't be read."""
    try:
        return read_with(mark.spec, kind_of(mark.path), mark.text, tables)
    except (BadValue, CannotWrite):
        return None


def put(traced: Traced, mark: Mark, value: Value, tables: WordLists) -> Rework:
    """A value in a mark's stretch; nothing to do where it says that value already."""
    if mark.span is None or _is_word_among_numbers(mark, value):
        raise NeedsLines
    if value_of(mark, tables) == value:
        return Rework()
    text = spelled(traced.dialect, mark, value, tables)
    statement = traced.document.statements[mark.statement]
    text = _quoted_as(_as_before(text, mark), mark, statement)
    if mark.spec.many or len(lines_of_statement(statement)) > 1:
        return _put_words(traced.document, statement, mark, mark.span, text)
    line, column = place_of(statement, mark.span.start)
    end = place_of(statement, mark.span.end - 1)[1] + 1 if mark.span.text else column
    return Rework((Splice(line, column, end, text),))


def _is_word_among_numbers(mark: Mark, value: Value) -> bool:
    """Whether a stretch holds a number in steps of its own, so that a word needs another line."""
    return (
        isinstance(value, str)
        and mark.spec.form is Form.SCALED
        and isinstance(kind_of(mark.path), Either)
    )


def spelled(dialect: Dialect, mark: Mark, value: Value, tables: WordLists) -> str:
    """A value in the dump's spelling. Raises CannotWrite."""
    kind = kind_of(mark.path)
    if dialect.keys_are_paths:
        return value_text(kind, value)
    if isinstance(value, frozenset | tuple) and not value and mark.spec.form is not Form.FLAGS:
        return min(dialect.off, default="none")
    return write_with(mark.spec, kind, value, tables)


def _as_before(text: str, mark: Mark) -> str:
    """On and off in the pair of words that stands there."""
    for pair in SPELLINGS:
        if mark.text in pair and text in ON_OFF and isinstance(kind_of(mark.path), Bool):
            return pair[ON_OFF.index(text)]
    return text


def _quoted_as(text: str, mark: Mark, statement: Statement) -> str:
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
    return f'"{text}"' if between in text else text


def _put_words(
    document: Document, statement: Statement, mark: Mark, span: Span, text: str
) -> Rework:
    """Word by word, each on the line that it is on; a list may grow or shrink at its end."""
    old = [Span(m.group(), span.start + m.start()) for m in _WORD.finditer(span.text)]
    new = _WORD.findall(text) if mark.spec.many else [text]
    if not mark.spec.many:
        old = [span]
    same = min(len(old), len(new))
    splices: list[Splice] = []
    for word, instead in zip(old[:same], new[:same], strict=True):
        line, column = place_of(statement, word.start)
        if word.text != instead:
            splices.append(Splice(line, column, column + len(word.text), instead))
    if len(new) > len(old) and old:
        line, column = place_of(statement, old[-1].end - 1)
        gap = span.text[old[-2].end - span.start : old[-1].start - span.start] if old[1:] else " "
        joint = gap if "," in gap else " "
        splices.append(Splice(line, column + 1, column + 1, joint + joint.join(new[same:])))
    elif len(old) > len(new):
        line, column = place_of(statement, old[same - 1].end - 1)
        end_line, end = place_of(statement, old[-1].end - 1)
        if not same or line != end_line:
            return rewritten(document, statement, span.start, text)
        splices.append(Splice(line, column + 1, end + 1, ""))
    return Rework(tuple(splices))


def rewritten(document: Document, statement: Statement, start: int, text: str) -> Rework:
    """All of a statement from `start` on put anew, on its first line; a comment behind it stays."""
    whole = whole_of(statement.shape)
    if whole is None:
        raise NeedsLines
    first, column = place_of(statement, start)
    last, end = place_of(statement, max(whole[1] - 1, whole[0]))
    lines = [line for line in lines_of_statement(statement) if line >= first]
    if first == last:
        return Rework((Splice(first, column, end + 1, text),))
    text += document.text.lines[last][end + 1 :]
    return Rework(
        (Splice(first, column, len(document.text.lines[first]), text),),
        frozenset(line for line in lines if line > first),
    )


class WholeLine(NamedTuple):
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

    def lines(self, path: str, value: Value) -> list[WholeLine]:
        """The lines that state it. Raises CannotWrite."""
        kind = kind_of(path)
        stock = {**self.stock, path: value}
        if isinstance(kind, SwitchRanges | Filters) and isinstance(value, tuple):
            placed = ListWriter(self.placer, stock, self.counts, self.slots).lines(path, value)
        else:
            placed = [self.placer.place(path, stock)]
        lines = [self.read(entry) for entry in dict.fromkeys(placed)]
        _see_that_they_say(path, lines)
        return lines

    def plain_lines(self, path: str, value: Value, sections: Sequence[str]) -> list[WholeLine]:
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

    def read(self, placed: Placed) -> WholeLine:
        """A line with what it states by itself."""
        text = "\n".join([*(head for _, head in placed.chain), placed.text])
        document = read_document(
            "written", text.encode("utf-8", "surrogatepass"), self.dialect.look
        )
        traced = trace(document, self.dialect, self.version)
        last = len(document.statements) - 1
        return WholeLine(placed, tuple(mark for mark in traced.marks if mark.statement == last))


def _see_that_they_say(path: str, lines: Sequence[WholeLine]) -> None:
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


def _slots(traced: Traced, tables: WordLists) -> dict[str, dict[str, bool]]:
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
    traced: Traced, path: str, lines: Sequence[WholeLine], writer: LineWriter
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


def _with_line(traced: Traced, line: WholeLine) -> Iterator[Document]:
    """The document with a line in it: in place of the one that states the same, else put in."""
    at = _standing(traced, line)
    if at is not None:
        yield with_rework(traced.document, _merged(traced, at, line))
        return
    yield from _new_line(traced, line)


def _new_line(traced: Traced, line: WholeLine) -> Iterator[Document]:
    """The document with a line put in, where it is read as what it is."""
    for rework in insertions(traced, line.placed, line.paths):
        made = trace(with_rework(traced.document, rework), traced.dialect)
        if len(made.marks) - len(traced.marks) == len(line.marks):
            yield made.document


def _standing(traced: Traced, line: WholeLine) -> int | None:
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


def _merged(traced: Traced, at: int, line: WholeLine) -> Rework:
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
