"""Puts another value where a dump states one: the value's own stretch, and nothing else."""

import re
from collections.abc import Mapping, Sequence

from cfgaudit.craft.kinds import Bool, Either, Filters, Switches, value_text
from cfgaudit.craft.spelling import BadValue
from cfgaudit.craft.values import Value
from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.elements import parts_of
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.placing import ON_OFF, SPELLINGS, kind_of
from cfgaudit.dialects.spec import CannotWrite, Form, Tables, read_with, write_with
from cfgaudit.dialects.splicing import Rework, Splice, together
from cfgaudit.dialects.tracing import (
    Mark,
    Traced,
    lines_of_statement,
    place_of,
    whole_of,
)
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.shapes import Assignment, Row, Span

_WORD = re.compile(r"[^\s,]+")


class NeedsLines(Exception):  # noqa: N818 (an answer: whole lines must be written)
    """The value has no stretch of its own that could hold the new one."""


def revalue(traced: Traced, path: str, value: Value, tables: Tables) -> Rework:
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
    assert isinstance(kind, Switches | Filters)  # nothing else has parts
    if not isinstance(value, tuple):
        raise CannotWrite(f"{path} is a list")
    return _elements(traced, marks, value, tables)


def _elements(
    traced: Traced, marks: Sequence[Mark], elements: tuple[object, ...], tables: Tables
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


def is_on(slot: Mapping[str, Mark], tables: Tables) -> bool:
    """Whether a slot holds an element: a channel or a cutoff above nought."""
    for name in ("channel", "cutoff"):
        if name in slot:
            value = value_of(slot[name], tables)
            return isinstance(value, int | float) and value > 0
    return False


def value_of(mark: Mark, tables: Tables) -> Value | None:
    """What a mark's text means; None where it can't be read."""
    try:
        return read_with(mark.spec, kind_of(mark.path), mark.text, tables)
    except (BadValue, CannotWrite):
        return None


def put(traced: Traced, mark: Mark, value: Value, tables: Tables) -> Rework:
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


def spelled(dialect: Dialect, mark: Mark, value: Value, tables: Tables) -> str:
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
