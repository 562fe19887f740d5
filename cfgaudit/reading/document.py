"""A dump as a document: its text, its statements with their places, and its way back to bytes."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import count
from typing import NamedTuple

from cfgaudit.reading.lines import Text, read_text
from cfgaudit.reading.look import Look
from cfgaudit.reading.place import Place
from cfgaudit.reading.shapes import Shape, Span, Unread
from cfgaudit.reading.statements import parse_line


class Statement(NamedTuple):
    """One statement: its shape, and where its text came from.

    `first` is its first line's, from 0. `joints` is empty where the statement is that whole
    line; else it lists (index in the joined text, line index, column index) for each line that
    the statement is made of.
    """

    shape: Shape
    first: int
    joints: tuple[tuple[int, int, int], ...] = ()

    @property
    def line(self) -> int:
        """The number of its first line, from 1."""
        return self.first + 1

    @property
    def column(self) -> int:
        """How many characters of prompt and lead word stand before it."""
        return self.joints[0][2] if self.joints else 0

    def place(self, file: str, span: Span | None = None) -> Place:
        """Where a span of this statement stands; without a span, its first line."""
        if span is None:
            return Place(file, self.line)
        start, line, column = 0, self.first, 0
        for joint in self.joints:
            if joint[0] <= span.start or joint is self.joints[0]:
                start, line, column = joint
        first = span.start - start + column + 1
        return Place(file, line + 1, first, first + len(span.text))


@dataclass(frozen=True)
class Document:
    """A dump that was read with one look. `to_bytes` gives the file back, byte for byte."""

    name: str
    text: Text
    look: Look = field(default_factory=Look)

    @cached_property
    def statements(self) -> tuple[Statement, ...]:
        """Every statement, blank lines and comments included, in the order of the file."""
        if not (self.look.prompts or self.look.lead or self.look.continues):
            return tuple(map(Statement, map(parse_line, self.text.lines), count()))
        return tuple(
            [
                Statement(parse_line(text), joints[0][1], joints)
                for text, joints in _joined(self.text, self.look)
            ]
        )

    @property
    def unread(self) -> tuple[tuple[Statement, Unread], ...]:
        """The statements that the grammar could not read."""
        return tuple((s, s.shape) for s in self.statements if isinstance(s.shape, Unread))

    def to_bytes(self) -> bytes:
        """The file's bytes, exactly as read."""
        return self.text.to_bytes()


def read_document(name: str, data: bytes, look: Look | None = None) -> Document:
    """Read a dump's bytes. Never raises, whatever the bytes.

    >>> read_document("a.dump", b"[pack]\\r\\nlow = 3.5").to_bytes()
    b'[pack]\\r\\nlow = 3.5'
    """
    return Document(name, read_text(data), look or Look())


def _joined(text: Text, look: Look) -> Iterator[tuple[str, tuple[tuple[int, int, int], ...]]]:
    """Each statement's text without prompt and lead word, continued lines joined."""
    pending = ""
    joints: list[tuple[int, int, int]] = []
    for index, line in enumerate(text.lines):
        column = 0 if joints else _front(line, look)
        part = line[column:]
        goes_on = bool(look.continues) and part.rstrip().endswith(look.continues)
        if goes_on:
            part = part.rstrip()[: -len(look.continues)].rstrip() + " "
        if joints:  # a continued line's own indentation is no part of the value
            column = len(line) - len(line.lstrip())
            part = part[column:] if column < len(part) else part.lstrip()
        joints.append((len(pending), index, column))
        pending += part
        if not goes_on:
            yield pending, tuple(joints)
            pending, joints = "", []
    if joints:
        yield pending, tuple(joints)


def _front(line: str, look: Look) -> int:
    """How many characters of prompt and lead word stand before the statement."""
    column = 0
    for prompt in look.prompts:
        if line.startswith(prompt):
            column = len(prompt)
            while line[column : column + 1] in (" ", "\t"):
                column += 1
            break
    if look.lead and line.startswith(look.lead + " ", column):
        column += len(look.lead) + 1
    return column
