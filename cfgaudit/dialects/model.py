"""A dialect as data: its look, its mapping lines in a tree of contexts, its tables."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from cfgaudit.craft.versions import is_of, is_older
from cfgaudit.dialects.spec import Tables
from cfgaudit.dialects.template import Pieces, Template
from cfgaudit.reading.look import Look


class DialectError(ValueError):
    """A dialect file that can't be used; the message has file, key and what was expected."""


class Node:
    """The mapping lines of one context, and the contexts that open inside of it."""

    def __init__(self, opener: Template | None = None) -> None:
        self.opener = opener
        self.exact: dict[tuple[type, str], list[Template]] = {}
        self.loose: dict[type, list[Template]] = {}
        self.known: dict[tuple[type, str], list[Template]] = {}
        self.children: list[Node] = []
        self.grouping = False  # whether a line that is no head nor opens a block opens one of them

    def templates(self) -> list[Template]:
        """Every mapping line of this context, in no particular order of kinds."""
        found = [template for entry in self.exact.values() for template in entry]
        return found + [template for entry in self.loose.values() for template in entry]


class Variation(NamedTuple):
    """What was different in firmware older than `before`."""

    before: tuple[int, ...]
    renames: Mapping[str, str]  # today's key to the key of then
    tables: Tables


@dataclass(frozen=True, eq=False)  # one is the same as another only if it is that one
class Dialect:
    """One firmware's dump format."""

    name: str
    about: str = ""
    file: str = ""
    look: Look = Look()  # noqa: RUF009 (frozen, so shared safely)
    off: frozenset[str] = frozenset()
    head: tuple[Pieces, ...] = ()
    ignore: tuple[Pieces, ...] = ()
    given: Mapping[str, str] = field(default_factory=dict)
    tables: Tables = Tables({}, {})  # noqa: RUF009 (frozen, so shared safely)
    build: Callable[[], Node] = Node  # compiles the mapping lines, when they are wanted
    variations: tuple[Variation, ...] = ()
    factory: Mapping[tuple[int, ...], Mapping[str, str]] = field(default_factory=dict)
    keys_are_paths: bool = False  # the plain form: a key is a neutral path
    volatile: tuple[str, ...] = ()  # paths and keys that move by themselves; * is any one word

    @cached_property
    def root(self) -> Node:
        """The mapping lines. Raises DialectError at first use where one of them is wrong."""
        return self.build()

    def tables_for(self, version: tuple[int, ...]) -> Tables:
        """The word lists and flag sets, older spellings added where the version is older."""
        words = {name: dict(table) for name, table in self.tables.words.items()}
        flags = {name: dict(table) for name, table in self.tables.flags.items()}
        for variation in self.variations:
            if version and is_older(version, variation.before):
                for name, table in variation.tables.words.items():
                    words[name] = {**table, **words.get(name, {})}
                for name, bits in variation.tables.flags.items():
                    flags[name] = dict(bits)
        return Tables(words, flags)

    def old_keys(self, version: tuple[int, ...]) -> dict[str, str]:
        """Old key to today's key, for a dump of this version (of any, if it is not known)."""
        return {
            then: today
            for variation in self.variations
            if not version or is_older(version, variation.before)
            for today, then in variation.renames.items()
        }

    def factory_for(self, version: tuple[int, ...]) -> dict[str, str]:
        """Factory values of a version, if the dialect knows that version; else none."""
        known = [entry for entry in sorted(self.factory) if not is_older(version, entry)]
        if not known or not is_of(version, known[-1]):
            return {}
        values: dict[str, str] = {}
        for entry in known:
            values.update(self.factory[entry])
        return values
