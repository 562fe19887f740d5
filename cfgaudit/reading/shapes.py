"""The shapes that a line can have: frozen, without a position, so that equal lines share one."""

from typing import NamedTuple


class Span(NamedTuple):
    """A stretch of a line: its text and the index at which it starts."""

    text: str
    start: int

    @property
    def end(self) -> int:
        """The index behind the last character."""
        return self.start + len(self.text)


class Blank:
    """Nothing, or only blanks."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Blank)

    def __hash__(self) -> int:
        return hash(Blank)

    def __repr__(self) -> str:
        return "Blank()"


class Comment(NamedTuple):
    """A line that is all comment; `body` is what stands behind the mark."""

    mark: str
    body: Span


class Section(NamedTuple):
    """A section head; `name` without its brackets."""

    name: Span


class Opener(NamedTuple):
    """The line that begins a block; `name` is what stands between the begin word and the end."""

    name: Span


class Closer(NamedTuple):
    """The line that ends a block or, outside of one, the dump."""

    name: Span


class Assignment(NamedTuple):
    """A key and a value; the value's span is empty where nothing stands behind the sign."""

    key: Span
    sign: str
    value: Span


class Directive(NamedTuple):
    """A word and its arguments; `words` in reading/words.py cuts the body."""

    body: Span


class Row(NamedTuple):
    """Cells between commas or tabs; `cells` in reading/words.py cuts the body."""

    body: Span


class Unread(NamedTuple):
    """A line that the grammar can't read: the column (from 1), and what was expected there."""

    column: int
    expected: str


Shape = Blank | Comment | Section | Opener | Closer | Assignment | Directive | Row | Unread
