"""Runs the LALR tables that lark built of a grammar: text in, what a shaper makes of it out.

Lark itself takes longer to import than a whole dump takes to read, so it is left to build the
tables (see grammars.py), and this small machine runs them. Lark's own parser of the same
grammar is the measure in the tests: both must give the same for any text.
"""

import re
from collections.abc import Callable
from typing import Any, NamedTuple

END = "$END"  # the terminal that stands for the end of the text


class Misread(ValueError):  # noqa: N818 (it is an answer, not a fault)
    """A text that the grammar can't read; `position` is where it stopped, from 0."""

    def __init__(self, position: int) -> None:
        super().__init__(f"unreadable from index {position}")
        self.position = position


class Token(NamedTuple):
    """A terminal as it stands in the text: its name, its text, and its index, from 0."""

    kind: str
    text: str
    start: int


class Production(NamedTuple):
    """One production: what it makes, of how many symbols, and which of those count.

    `inlined`: a lone child stands for the whole (`?part`); `spliced`: its children go straight
    into whatever it is part of (the repetitions that lark makes of `*` and `+`).
    """

    origin: str
    size: int
    kept: tuple[int, ...]
    inlined: bool = False
    spliced: bool = False


class State(NamedTuple):
    """One state: the terminals that it reads, in order; what to do at each; where to go on."""

    reads: tuple[str, ...]
    shifts: dict[str, int]
    reductions: dict[str, int]  # the index of a production
    gotos: dict[str, int]


class Tables(NamedTuple):
    """All that there is to know of a grammar."""

    terminals: dict[str, str]  # name: regular expression
    ignored: frozenset[str]
    productions: tuple[Production, ...]
    states: tuple[State, ...]
    start: int
    end: int


class _Splice(list[Any]):
    """Children on their way into the production that holds them."""


_Scan = Callable[[str, int], "re.Match[str] | None"]
# A production as it is run: its size, whether all its symbols are its children just as they
# stand, else which of them count; what it makes, whether a lone child stands for it, its shape.
_Plan = tuple[int, bool, tuple[int, ...], str, bool, Callable[[list[Any]], Any]]


class Parser:
    """A grammar's parser; each production's children go to the shaper's method of its name."""

    def __init__(self, tables: Tables, shaper: object) -> None:
        self._tables = tables
        self._scans: dict[tuple[str, ...], _Scan] = {}
        self._by_state: list[_Scan | None] = [None] * len(tables.states)
        splices = any(production.spliced for production in tables.productions)
        self._plans: list[_Plan] = [
            (
                production.size,
                not splices and len(production.kept) == production.size,
                production.kept,
                production.origin,
                production.inlined,
                _Splice if production.spliced else getattr(shaper, production.origin, _same),
            )
            for production in tables.productions
        ]

    def parse(self, text: str) -> Any:
        """What the shaper's `start` makes of the text. Raises Misread."""
        every, ignored = self._tables.states, self._tables.ignored
        number = self._tables.start
        states: list[int] = [number]
        values: list[Any] = []
        at, stop, length = 0, 0, len(text)
        while True:
            kind = END
            if at < length:
                match = (self._by_state[number] or self._scan(number))(text, at)
                if match is None:
                    raise Misread(at)
                kind, stop = match.lastgroup or "", match.end()
                if kind in ignored:
                    at = stop
                    continue
            while (rule := every[number].reductions.get(kind)) is not None:
                number = self._reduce(rule, states, values)
            following = every[number].shifts.get(kind)
            if following is None:
                if kind is END and number == self._tables.end:
                    return values[0]
                raise Misread(at)
            number = following
            states.append(number)
            values.append(Token(kind, text[at:stop], at))
            at = stop

    def _reduce(self, rule: int, states: list[int], values: list[Any]) -> int:
        """Put what a production makes in place of its symbols; the state to go on in."""
        size, whole, kept, origin, inlined, shape = self._plans[rule]
        children: list[Any] = []
        if size:
            base = len(values) - size
            children = values[base:] if whole else self._chosen(values, base, kept)
            del values[base:], states[base + 1 :]
        lone = inlined and len(children) == 1
        values.append(children[0] if lone else shape(children))
        number = self._tables.states[states[-1]].gotos[origin]
        states.append(number)
        return number

    def _chosen(self, values: list[Any], base: int, kept: tuple[int, ...]) -> list[Any]:
        """The children that count, those of repetitions among them."""
        children: list[Any] = []
        for index in kept:
            child = values[base + index]
            if type(child) is _Splice:
                children += child
            else:
                children.append(child)
        return children

    def _scan(self, number: int) -> _Scan:
        """The scanner of a state; states that read the same terminals share one."""
        reads = self._tables.states[number].reads
        if reads not in self._scans:
            patterns = (f"(?P<{name}>{self._tables.terminals[name]})" for name in reads)
            self._scans[reads] = re.compile("|".join(patterns)).match
        scan = self._by_state[number] = self._scans[reads]
        return scan


def _same(children: list[Any]) -> list[Any]:
    return children
