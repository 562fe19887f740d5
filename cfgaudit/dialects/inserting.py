"""Where a new line belongs in a dump: beside its like, below the right head, before the end."""

from collections.abc import Iterator, Sequence

from cfgaudit.dialects.placing import Placed
from cfgaudit.dialects.splicing import Rework
from cfgaudit.dialects.template import open_shape
from cfgaudit.dialects.tracing import FrameKey, Traced, lines_of_statement
from cfgaudit.dialects.views import cut_of
from cfgaudit.dialects.writer import closing
from cfgaudit.reading.look import Look
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
)
from cfgaudit.reading.statements import parse_line


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
        lead = _front(traced, at) if not heads else ""
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


def _front(traced: Traced, at: int) -> str:
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
