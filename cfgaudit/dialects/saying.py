"""A change of a dump as lines of its dialect, to be typed in; and those that take it back."""

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from cfgaudit.craft.settings import Origin
from cfgaudit.craft.values import Value
from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.lining import line_writer, version_of
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.placing import Placed, Placer, on_off_of
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.dialects.splicing import Hunk, hunks
from cfgaudit.dialects.tracing import (
    Traced,
    base_of,
    lines_of_statement,
    place_of,
    trace,
    whole_of,
)
from cfgaudit.dialects.writer import Block


class Said(NamedTuple):
    """Lines of a dialect; and what no line of it can say, in plain words."""

    lines: tuple[str, ...]
    unsaid: tuple[str, ...] = ()


class LineChange(NamedTuple):
    """One file's change: its hunks, the lines to type in, and those to take it back with."""

    file: str
    dialect: str
    hunks: tuple[Hunk, ...]
    forth: Said
    back: Said


def line_changes(before: Sequence[Opened], after: Sequence[Opened]) -> tuple[LineChange, ...]:
    """How each dump of a craft was changed, of those that were."""
    made = [line_change(old, new) for old, new in zip(before, after, strict=True)]
    return tuple(change for change in made if change is not None)


def line_change(before: Opened, after: Opened) -> LineChange | None:
    """How a dump was changed; None where it was not."""
    made = hunks(before.document.text, after.document.text)
    if not made:
        return None
    old = trace(before.document, before.dialect)
    new = trace(after.document, after.dialect)
    olds = _stretch([(hunk.line, len(hunk.old)) for hunk in made])
    moved, news = 0, []
    for hunk in made:
        news.append((hunk.line + moved, len(hunk.new)))
        moved += len(hunk.new) - len(hunk.old)
    return LineChange(
        before.document.name,
        before.dialect.name,
        made,
        _said(new, _stretch(news), old, olds),
        _said(old, olds, new, _stretch(news)),
    )


def _stretch(runs: Sequence[tuple[int, int]]) -> frozenset[int]:
    return frozenset(line for start, count in runs for line in range(start, start + count))


def _said(traced: Traced, changed: frozenset[int], other: Traced, gone: frozenset[int]) -> Said:
    """The lines that say what one side of a change states, and what they leave unsaid."""
    block = Block()
    for number in _statements(traced, changed):
        block.add(Placed(_chain(traced, number), _text(traced, number)))
    mine = _stated_on(traced, changed)
    theirs = [path for path in _stated_on(other, gone) if path not in mine]
    unsaid = [
        f"line {other.document.statements[number].line} goes: {_text(other, number)}"
        for number in _rows_that_go(traced, changed, other, gone)
    ]
    for path in theirs:  # the other side's lines state it, and no line of this side does
        stated = traced.settings.stated.get(path)
        if stated is None:
            unsaid.append(f"{path} is not stated then: the line that states it must go")
        elif stated.origin is Origin.FACTORY:
            unsaid += _said_anew(traced, path, stated.value, block)
    return Said(tuple(block.text(traced.dialect.look)), tuple(unsaid))


def _rows_that_go(
    traced: Traced, changed: frozenset[int], other: Traced, gone: frozenset[int]
) -> list[int]:
    """The other side's lines without another in their place: no line says that they go.

    They are of lists that have a line an element, and fewer elements on this side, if not none.
    """
    mine = Counter(_rows(traced, changed).values())
    found: list[int] = []
    for number, path in _rows(other, gone).items():
        mine[path] -= 1
        stated = traced.settings.stated.get(path)
        if mine[path] < 0 and stated and stated.origin is Origin.DUMP and stated.value != ():
            found.append(number)
    return found


def _rows(traced: Traced, lines: frozenset[int]) -> dict[int, str]:
    """The statements on these lines that state one element of a list each, with its path."""
    numbers = set(_statements(traced, lines))
    goals = [(mark.statement, target_of(mark.path)) for mark in traced.marks]
    return {
        number: goal.path
        for number, goal in goals
        if number in numbers and goal.part and not goal.label
    }


def _said_anew(traced: Traced, path: str, value: Value, block: Block) -> list[str]:
    """Add the lines for a factory value that no line of the dump states; else say why not."""
    version = version_of(traced)
    placer = Placer(traced.dialect, version, on_off_of(traced.settings))
    try:
        lines = line_writer(traced, placer, {}).lines(path, value)
    except CannotWrite as error:
        return [f"{path} goes back to the factory value, which no line says: {error}"]
    for line in lines:
        block.add(line.placed)
    return []


def _stated_on(traced: Traced, lines: frozenset[int]) -> list[str]:
    """The settings that statements on these lines state, in order."""
    numbers = set(_statements(traced, lines))
    return list(
        dict.fromkeys(base_of(mark.path) for mark in traced.marks if mark.statement in numbers)
    )


def _statements(traced: Traced, lines: frozenset[int]) -> list[int]:
    """The statements on these lines that say something."""
    return [
        number
        for number, statement in enumerate(traced.document.statements)
        if whole_of(statement.shape) is not None
        and number in traced.read
        and lines.intersection(lines_of_statement(statement))
    ]


def _chain(traced: Traced, number: int) -> tuple[tuple[type, str], ...]:
    """The context lines that a statement stands under, as the dump has them."""
    return tuple(
        (form, _text(traced, opener))
        for (form, _), opener in zip(traced.frames[number], traced.runs[number], strict=True)
    )


def _text(traced: Traced, number: int) -> str:
    """A statement as the dump has it, without prompt and comment; a pasted one as it is read."""
    document = traced.document
    statement, text = document.statements[number], document.texts[number]
    whole = whole_of(statement.shape)
    if whole is None:
        return text.strip()
    lines = [document.text.lines[line] for line in lines_of_statement(statement)]
    lead = document.look.lead
    had_lead = lead and lines[0][: statement.column].rstrip().endswith(lead)
    text = text[whole[0] : whole[1]]
    if len(lines) > 1 and not document.repairs:  # a continued line stays in its parts
        lines[-1] = lines[-1][: place_of(statement, whole[1] - 1)[1] + 1]
        lines[0] = lines[0][place_of(statement, whole[0])[1] :]
        text = "\n".join(lines)
    return f"{lead} {text}" if had_lead else text
