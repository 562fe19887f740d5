"""Lines of a dump under the scopes that they stand in, and scopes of one sort."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.shapes import (
    Assignment,
    Directive,
    Row,
    Span,
)


class Phrase(NamedTuple):
    """One value of a sentence: the words that name it, where it stands, and its unit."""

    label: str
    span: Span
    unit: str = ""
    flag: bool = False  # its being there says it
    turned: bool = False  # the word behind it says that it counts the other way: `95 mm back`


_NOTHING = Span("", 0)
# What an item of a list is, before what is told of it on the lines below: `- switch for: arm`.
LIST_ITEM = re.compile(r"[-*+] (?P<key>[A-Za-z][\w -]*): +(?P<value>\S.*)")


@dataclass(frozen=True)
class ScopedLine:
    """One line that states something: its head, its parts, and the remark above it."""

    document: Document
    statement: Statement
    shape: Assignment | Directive | Row
    head: str
    parts: tuple[Span, ...]  # the value, the words behind the head, or all cells
    negated: bool
    remark: str
    before: str = ""  # what stands before the head and says on or off: `no `, `disable `
    header: str = ""  # the head row that says which word is the value
    titles: tuple[str, ...] = ()  # the names of the columns that the parts stand in
    behind: str = ""  # the remark behind it
    labels: frozenset[int] = frozenset()  # the parts that name the value behind them
    skeleton: str = ""  # those words, of the longest line of its sort
    indexed: bool = False  # the first part tells the lines of its sort apart
    count: str = ""  # the number of its row, where a word behind it names the row
    barred: bool = False  # bars part the key from the value
    more: bool = False  # other cells of a table stand behind the value
    unit: str = ""  # as another cell of a table states it, and the size of a step
    step: str = ""
    whole: str = ""  # of a value in brackets or braces: all but what varies in it
    index: tuple[str, ...] = ()  # the words of its own indices, where its head has `\0`
    phrases: tuple[Phrase, ...] = ()  # the values of a sentence
    rest: Span = _NOTHING  # what stands behind the key of a sentence
    opening: str = ""  # what stands before that in a block, with `\0` for its index
    switched_off: str = ""  # the key of a line that says nothing but off, beside switches
    lead: str = ""  # the word before the key that says of what kind the value is: `u16 `

    @property
    def is_cut(self) -> bool:
        """Whether what is its key and what its value is known."""
        cut = self.whole or self.header or self.barred or self.labels or self.titles
        return bool(cut or self.phrases)

    @property
    def sort(self) -> str:
        """What lines of one sort have alike besides their keys: brackets, and labels."""
        return self.whole or self.skeleton

    @property
    def line(self) -> str:
        """The line without prompt and comment, as a mapping would begin from it."""
        if isinstance(self.shape, Assignment):
            return self.shape.key.text
        return self.shape.body.text


@dataclass
class Scope:
    """A section, block or group: the line that begins it, what stands in it."""

    form: type
    line: str  # as a context line of a dialect: `[port 1]`, `begin port 1`, `bank 1`
    cut: tuple[str, ...]  # its words
    remark: str = ""
    row: tuple[str, str] = ("", "")  # of a numbered row: its line with two `\0`, and their words
    idle: dict[str, tuple[str, ...]] = field(default_factory=dict)  # lines of rows of nothing
    entries: list[ScopedLine] = field(default_factory=list)
    inner: list["Scope"] = field(default_factory=list)

    def heads(self) -> frozenset[str]:
        """What stands in it, by name; of a table, the titles of its columns."""
        own = {entry.opening or entry.head for entry in self.entries}
        if self.entries and isinstance(self.entries[0].shape, Row):
            own |= {span.text for span in self.entries[0].parts}
        own |= {title for entry in self.entries[:1] for title in entry.titles}
        return frozenset(own) | {scope.sort for scope in self.inner if scope.cut}

    @property
    def sort(self) -> str:
        """Its first word; of an item of a list all that it shares with the others."""
        return " ".join(self.cut[:-1]) if LIST_ITEM.fullmatch(self.line) else self.cut[0]

    def lengths(self) -> frozenset[str]:
        """What stands in it, by name and by the number of words of its value."""
        return self.heads() | {f"{entry.head} {length_of(entry)}" for entry in self.entries}


@dataclass(frozen=True)
class Kin:
    """Scopes of one sort: `before`, the varying word (or none), `after`."""

    form: type
    line: str  # with `\0` where the word varies
    varies: bool
    names: tuple[str, ...]  # the words that stay
    remark: str
    members: tuple[tuple[str, Scope], ...]  # the word, and the scope under it


def scopes_within(scope: Scope) -> Iterator[Scope]:
    """A scope, and all that stand in it."""
    yield scope
    for below in list(scope.inner):
        yield from scopes_within(below)


def length_of(entry: ScopedLine) -> int:
    """How many words its values have; a list is a list, however long."""
    return min(5, sum(len(span.text.split()) for span in entry.parts))
