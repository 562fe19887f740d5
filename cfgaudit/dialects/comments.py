"""The comments of a dump, each with what it is about: what stands behind it, or before it."""

import re
from collections.abc import Iterator, Sequence

from cfgaudit.dialects.line_reader import Role, StatementReading
from cfgaudit.dialects.raw import body_of
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.shapes import Assignment, Closer, Comment, Directive, Opener, Row, Section
from cfgaudit.settings import Annotation

MARKS = ("#", ";", "//", "/*", "--", "%")  # as in grammar/statements.lark
_MARK = re.compile("|".join(map(re.escape, MARKS)))
_SAYING = (Role.STATES, Role.LEFT, Role.OPENS)


def annotations_of(
    document: Document, statements: Sequence[StatementReading]
) -> Iterator[Annotation]:
    """Every comment, in order: one line's is about the next line that says something."""
    above: list[Annotation] = []
    lines = document.text.lines
    for entry in statements:
        statement = entry.statement
        last = statement.joints[-1][1] if statement.joints else statement.first
        if not (above or _MARK.search(lines[last])):
            continue  # as most lines
        if isinstance(statement.shape, Comment):
            if entry.role is Role.SILENT:  # no head line, nor what a firmware always writes
                said = " ".join(statement.shape.body.text.split())
                above += [Annotation("", said, statement.place(document.name))] if said else []
            continue
        tail = "" if entry.role is Role.NOISE else tail_of(document, statement)
        said = _without_mark(tail)
        if not (said or (above and entry.role in _SAYING)):
            continue
        about = _subject(entry)
        yield from (note._replace(about=about) for note in above)
        above = []
        if said:
            yield Annotation(about, said, statement.place(document.name))
    yield from above


def tail_of(document: Document, statement: Statement) -> str:
    """The comment behind a statement's last line, its mark first; empty where there is none."""
    span, joints = body_of(statement.shape), statement.joints
    if isinstance(statement.shape, Section | Opener | Closer):
        span = statement.shape.name
    lines = document.text.lines
    if span is None or not _MARK.search(lines[joints[-1][1] if joints else statement.first]):
        return ""
    if not joints:
        tail = lines[statement.first][span.end :]
    elif len(joints) > 1:  # a comment behind joined lines is within the last of them
        start, last, column = joints[-1]
        tail = lines[last][max(0, span.end - start) + column :]
    else:
        place = statement.place(document.name, span)
        tail = lines[place.line - 1][place.end - 1 :]
    if isinstance(statement.shape, Section | Opener | Closer):
        tail = tail.lstrip(' \t]{}"')
    return tail.strip()


def _without_mark(tail: str) -> str:
    mark = next((mark for mark in MARKS if tail.startswith(mark)), "")
    said = tail.removeprefix(mark)
    return " ".join((said.removesuffix("*/") if mark == "/*" else said).split()) if mark else ""


def _subject(entry: StatementReading) -> str:
    """What a line is about: its first setting, its own key, or the section that it opens."""
    if entry.mentions:
        return entry.mentions[0].path
    above, shape = entry.context.path, entry.statement.shape
    if entry.role is Role.OPENS or not isinstance(shape, Assignment | Directive | Row):
        return above
    body = shape.key if isinstance(shape, Assignment) else shape.body
    words = body.text.split() or [""]  # of blanks that no grammar skips, there is none
    word = " ".join(words) if isinstance(shape, Assignment) else words[0]
    return f"{above}/{word}" if above else word
