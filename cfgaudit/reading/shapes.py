"""The shapes that a line can have: frozen, without a position, so that equal lines share one."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a line: its text and the index at which it starts."""

    text: str
    start: int

    @property
    def end(self) -> int:
        """The index behind the last character."""
        return self.start + len(self.text)


@dataclass(frozen=True, slots=True)
class Blank:
    """Nothing, or only blanks."""


@dataclass(frozen=True, slots=True)
class Comment:
    """A line that is all comment; `body` is what stands behind the mark."""

    mark: str
    body: Span


@dataclass(frozen=True, slots=True)
class Section:
    """A section head; `name` without its brackets."""

    name: Span


@dataclass(frozen=True, slots=True)
class Opener:
    """The line that begins a block; `name` is what stands between the begin word and the end."""

    name: Span


@dataclass(frozen=True, slots=True)
class Closer:
    """The line that ends a block or, outside of one, the dump."""

    name: Span


@dataclass(frozen=True, slots=True)
class Assignment:
    """A key and a value; the value's span is empty where nothing stands behind the sign."""

    key: Span
    sign: str
    value: Span


@dataclass(frozen=True, slots=True)
class Directive:
    """A word and its arguments; `words` in reading/words.py cuts the body."""

    body: Span


@dataclass(frozen=True, slots=True)
class Row:
    """Cells between commas or tabs; `cells` in reading/words.py cuts the body."""

    body: Span


@dataclass(frozen=True, slots=True)
class Unread:
    """A line that the grammar can't read: the column (from 1), and what was expected there."""

    column: int
    expected: str


Shape = Blank | Comment | Section | Opener | Closer | Assignment | Directive | Row | Unread
