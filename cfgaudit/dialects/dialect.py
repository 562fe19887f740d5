"""A dialect as data: its look, its mapping lines in a tree of contexts, its tables.

Loading a file is looking through its form: one walk makes the dialect and finds every fault, each
with its place and what was expected. Loading raises the first; `dialect check` tells them all, and
with them what checking.py says of their meaning. The mapping lines are walked over when they are
first wanted: of several dialects one reads the dump.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache, partial
from pathlib import Path
from typing import Any, NamedTuple

from cfgaudit.dialects.spec import Holder, SpecError, WordLists
from cfgaudit.dialects.template import (
    Bound,
    Pieces,
    Template,
    compile_template,
    match_text,
    text_pieces,
)
from cfgaudit.reading.shapes import Closer, Look, Opener, Section, celled, title_signs
from cfgaudit.reading.text import bounded_bytes
from cfgaudit.reading.toml import Key, Places, TomlError, parsed
from cfgaudit.vocabulary.kinds import is_of, is_older, version_numbers
from cfgaudit.vocabulary.paths import did_you_mean


class DialectError(ValueError):
    """A dialect file that can't be used; the message has file, place and what was expected."""


class Fault(NamedTuple):
    """One thing wrong with a dialect file: where, what, and the key that it is about.

    Line and column count from 1; 0 is a column that can't be told.
    """

    line: int
    column: int
    message: str
    key: Key = ()

    def __str__(self) -> str:
        place = f"{self.line}:{self.column}" if self.column else f"{self.line}"
        return f"{place}: {self.message}"


class FormFault(NamedTuple):
    """A fault before its place is looked up: the key, what is wrong, and the letter of a text."""

    key: Key
    message: str
    letter: int | None = None


class MappedLines(NamedTuple):
    """One entry of `lines`, compiled: its context lines and, by their keys, its own lines."""

    under: tuple[str, ...]
    openers: tuple[tuple[Key, Template], ...]
    map: tuple[tuple[Key, Template], ...]
    known: tuple[tuple[Key, Template], ...]


class Node:
    """The mapping lines of one context, and the contexts that open inside of it."""

    def __init__(self, opener: Template | None = None) -> None:
        self.opener = opener
        self.lines: list[Template] = []  # every mapping line, as the dialect has them
        self.exact: dict[tuple[type, str], list[Template]] = {}
        self.loose: dict[type, list[Template]] = {}
        self.known: dict[tuple[type, str], list[Template]] = {}
        self.children: list[Node] = []
        self.grouping = False  # whether a line that is no head nor opens a block opens one of them


@dataclass(frozen=True)
class MappedLine:
    """A mapping line with the context lines that it stands under, the outermost first."""

    chain: tuple[Template, ...]
    template: Template

    @cached_property
    def holders(self) -> tuple[Holder, ...]:
        """The placeholders of the line and of its context lines."""
        return tuple(holder for part in (*self.chain, self.template) for holder in part.holders)

    @cached_property
    def targets(self) -> tuple[Holder, ...]:
        """What the line itself states, its constants first."""
        own = (*self.template.constants, *self.template.holders)
        return tuple(holder for holder in own if not holder.is_index)

    @cached_property
    def indices(self) -> frozenset[str]:
        """The indices that the line and its context lines bind."""
        return frozenset(holder.target for holder in self.holders if holder.is_index)


def _lines_below(node: Node, chain: tuple[Template, ...] = ()) -> Iterator[MappedLine]:
    """Every mapping line below a context."""
    for template in node.lines:
        yield MappedLine(chain, template)
    for child in node.children:
        assert child.opener is not None  # every context but the outermost has one
        yield from _lines_below(child, (*chain, child.opener))


class Variation(NamedTuple):
    """What was different in firmware older than `before`."""

    before: tuple[int, ...]
    renames: Mapping[str, str]  # today's key to the key of then
    tables: WordLists


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
    tables: WordLists = WordLists({}, {})  # noqa: RUF009 (frozen, so shared safely)
    build: Callable[[], Node] = Node  # compiles the mapping lines, when they are wanted
    variations: tuple[Variation, ...] = ()
    factory: Mapping[tuple[int, ...], Mapping[str, str]] = field(default_factory=dict)
    keys_are_paths: bool = False  # the plain form: a key is a neutral path
    volatile: tuple[str, ...] = ()  # paths and keys that move by themselves; * is any one word
    secret: tuple[str, ...] = ()  # paths and keys that are private, told in the same way
    before: tuple[
        str, ...
    ] = ()  # what is typed first when settings are typed in: it opens a session
    after: tuple[str, ...] = ()  # what is typed last: it goes back to a bank, saves, closes

    @cached_property
    def root(self) -> Node:
        """The mapping lines. Raises DialectError at first use where one of them is wrong."""
        return self.build()

    @cached_property
    def lines(self) -> tuple[MappedLine, ...]:
        """Every mapping line, with those that it stands under. Raises DialectError as `root`."""
        return tuple(_lines_below(self.root))

    def head_in(self, line: str) -> Bound | None:
        """What the placeholders of a head line take of a line; None where it is none."""
        taken = (match_text(pieces, line) for pieces in self.head)
        return next((bound for bound in taken if bound is not None), None)

    def tables_for(self, version: tuple[int, ...]) -> WordLists:
        """The word lists and flag sets, older spellings added where the version is older."""
        words = {name: dict(table) for name, table in self.tables.words.items()}
        flags = {name: dict(table) for name, table in self.tables.flags.items()}
        for variation in self.variations:
            if version and is_older(version, variation.before):
                for name, table in variation.tables.words.items():
                    words[name] = {**table, **words.get(name, {})}
                for name, bits in variation.tables.flags.items():
                    flags[name] = dict(bits)
        return WordLists(words, flags)

    def old_keys(self, version: tuple[int, ...]) -> dict[str, str]:
        """Old key to today's key, for a dump of this version (of any, if it is not known)."""
        return {
            then: today
            for variation in self.variations
            if not version or is_older(version, variation.before)
            for today, then in variation.renames.items()
        }

    def keys_then(self, version: tuple[int, ...]) -> dict[str, str]:
        """Today's key to the key of a version; of two old ones that of the oldest that fits."""
        found: dict[str, str] = {}
        for variation in sorted(self.variations, key=lambda entry: entry.before, reverse=True):
            if version and is_older(version, variation.before):
                found.update(variation.renames)
        return found

    def factory_for(self, version: tuple[int, ...]) -> dict[str, str]:
        """Factory values of a version, if the dialect knows that version; else none."""
        known = [entry for entry in sorted(self.factory) if not is_older(version, entry)]
        if not known or not is_of(version, known[-1]):
            return {}
        values: dict[str, str] = {}
        for entry in known:
            values.update(self.factory[entry])
        return values


_KEYS = {
    "": ("name", "about", "look", "given", "words", "flags", "lines", "versions", "factory",
         "keys_are_paths", "volatile", "secret", "typing"),
    "typing": ("before", "after"),
    "look": ("prompts", "lead", "continues", "starts", "opens", "closes", "end", "off", "head",
             "ignore", "titles", "blanks", "edges", "fillers", "remarks", "cells", "colons"),
    "lines": ("under", "map", "known"),
    "versions": ("before", "renames", "words", "flags"),
}  # fmt: skip


def load_dialect(path: Path) -> Dialect:
    """Load a dialect file. Raises DialectError with file, line, column and what is wrong.

    One that is as it was is the same dialect, with what it remembers of the lines of dumps.
    """
    return _loaded(path, dialect_text(path))


@lru_cache(maxsize=16)
def _loaded(path: Path, text: str) -> Dialect:
    try:
        data = parsed(text)
    except TomlError as error:
        raise DialectError(f"{path}:{Fault(error.line, error.column, str(error))}") from None
    return build_dialect(data, str(path), text)


def dialect_text(path: Path) -> str:
    """The text of a dialect file. Raises DialectError where it can't be read."""
    try:
        return bounded_bytes(path).decode("utf-8").replace("\r\n", "\n")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "is not UTF-8"
        raise DialectError(f"{path}: {reason}") from None


def build_dialect(data: Mapping[str, Any], file: str, text: str = "") -> Dialect:
    """Make a dialect of a parsed file. Raises DialectError; the text tells its line and column."""
    form = FormChecker(data)
    made = form.dialect(file, partial(_tree, data, file, text))
    _raise_first(form.faults, file, text)
    return made


def _tree(data: Mapping[str, Any], file: str, text: str) -> Node:
    """The mapping lines in the tree of their contexts. Raises DialectError."""
    form = FormChecker(data)
    entries = form.entries(form.look())
    _raise_first(form.faults, file, text)
    root = Node()
    nodes: dict[tuple[str, ...], Node] = {(): root}
    for entry in entries:
        for depth, (_, opener) in enumerate(entry.openers, 1):
            path = entry.under[:depth]
            if path not in nodes:
                nodes[path] = node = Node(opener)
                above = nodes[path[:-1]]
                above.children.append(node)
                above.grouping = above.grouping or opener.form not in (Section, Opener)
        node = nodes[entry.under]
        for _, template in entry.map:
            _add(node, template)
        for _, template in entry.known:
            node.known.setdefault((template.form, template.head), []).append(template)
    return root


def _add(node: Node, template: Template) -> None:
    node.lines.append(template)
    if template.head:
        node.exact.setdefault((template.form, template.head), []).append(template)
    else:
        node.loose.setdefault(template.form, []).append(template)


def _raise_first(faults: Sequence[FormFault], file: str, text: str) -> None:
    if not faults:
        return
    if not text:
        raise DialectError(f"{file}: {faults[0].message}")
    raise DialectError(f"{file}:{placed(faults, text)[0]}")


def placed(faults: Sequence[FormFault], text: str) -> list[Fault]:
    """The faults with their places in the file, in the order of these; each once."""
    places = Places(text)
    found = [Fault(*places.of(key, letter), message, key) for key, message, letter in faults]
    return sorted(dict.fromkeys(found), key=lambda fault: (fault.line, fault.column, fault.message))


class FormChecker:
    """A walk over the form of a parsed dialect file; `faults` has what it found."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        self.data = data
        self.faults: list[FormFault] = []

    def dialect(self, file: str, build: Callable[[], Node]) -> Dialect:
        """All but the mapping lines; what is wrong is left out."""
        self._only(self.data, "", ())
        name = self.data.get("name")
        if not isinstance(name, str) or not name:
            self._say(("name",), 'name = "..." is expected')
        look, table = self.look(), self._table(self.data, "look")
        typing = self._table(self.data, "typing")
        self._only(typing, "typing", ("typing",))
        return Dialect(
            name=str(name),
            about=str(self.data.get("about", "")),
            file=file,
            look=look,
            off=frozenset(word.casefold() for word in self._texts(table, "off", ("look",))),
            head=self._patterns(table, "head"),
            ignore=self._patterns(table, "ignore"),
            given={key: as_text(v) for key, v in self._table(self.data, "given").items()},
            tables=self.tables(self.data, ()),
            build=build,
            variations=tuple(self._variations()),
            factory=self._factory(),
            keys_are_paths=bool(self.data.get("keys_are_paths", False)),
            volatile=self._texts(self.data, "volatile"),
            secret=self._texts(self.data, "secret"),
            before=self._texts(typing, "before", ("typing",)),
            after=self._texts(typing, "after", ("typing",)),
        )

    def look(self) -> Look:
        """How the dump looks."""
        table = self._table(self.data, "look")
        self._only(table, "look", ("look",))
        sign = self._word(table, "cells")
        return Look(
            prompts=self._texts(table, "prompts", ("look",)),
            lead=self._word(table, "lead"),
            continues=self._word(table, "continues"),
            starts=tuple(filter(None, self._texts(table, "starts", ("look",)))),
            opens=self._texts(table, "opens", ("look",)),
            closes=self._texts(table, "closes", ("look",)),
            end=self._word(table, "end"),
            ignore=tuple(celled(t, sign) for t in self._texts(table, "ignore", ("look",))),
            titles=self._titles(table),
            blanks=self._word(table, "blanks"),
            edges=self._word(table, "edges"),
            fillers=self._texts(table, "fillers", ("look",)),
            remarks=self._texts(table, "remarks", ("look",)),
            cells=sign,
            colons=bool(table.get("colons", False)),
        )

    def _titles(self, table: Mapping[str, Any]) -> tuple[str, ...]:
        """The section heads of a look, each with a star for the name and a sign beside it."""
        titles = self._texts(table, "titles", ("look",))
        for number, title in enumerate(titles):
            if title_signs(title) is None:
                said = "a title is one * for the name, and signs before it or behind it: `-- * --`"
                self._say(("look", "titles", number), said)
        return titles

    def entries(self, look: Look) -> list[MappedLines]:
        """The mapping lines, compiled; those that are wrong are left out."""
        found: list[MappedLines] = []
        for number, entry in enumerate(self._tables("lines")):
            at: Key = ("lines", number)
            self._only(entry, "lines", at)
            alone = isinstance(entry.get("under"), str)
            under = (entry["under"],) if alone else self._texts(entry, "under", at)
            openers = tuple(self._compiled(under, (*at, "under"), look, alone=alone))
            lines = [
                tuple(self._compiled(self._texts(entry, name, at), (*at, name), look))
                for name in ("map", "known")
            ]
            found.append(MappedLines(under, openers, *lines))
        return found

    def _compiled(
        self, lines: Sequence[str], at: Key, look: Look, *, alone: bool = False
    ) -> Iterator[tuple[Key, Template]]:
        for number, line in enumerate(lines):
            key = at if alone else (*at, number)
            try:
                template = compile_template(line, look)
            except SpecError as error:
                self._say(key, str(error), error.at)
                continue
            if template.form is Closer:
                self._say(key, f"{line!r} ends a block or the dump, and says nothing else", 0)
            elif template.form in (Section, Opener) and "under" not in at:
                self._say(key, f"{line!r} begins a section or a block: it belongs into under", 0)
            else:
                yield key, template

    def _patterns(self, table: Mapping[str, Any], name: str) -> tuple[Pieces, ...]:
        found: list[Pieces] = []
        sign = self._word(table, "cells")
        for number, line in enumerate(self._texts(table, name, ("look",))):
            try:
                found.append(text_pieces(celled(line, sign)))
            except SpecError as error:
                self._say(("look", name, number), str(error), error.at)
        return tuple(found)

    def tables(self, data: Mapping[str, Any], at: Key) -> WordLists:
        """The word lists and the flag sets of the file, or of an entry of `versions`."""
        words = {
            name: {str(key): as_text(value) for key, value in table.items()}
            for name, table in self._named_tables(data, "words", at)
        }
        flags: dict[str, dict[str, int]] = {}
        for name, table in self._named_tables(data, "flags", at):
            for key, value in table.items():
                if isinstance(value, int) and not isinstance(value, bool) and value > 0:
                    flags.setdefault(name, {})[key] = value
                else:
                    said = f"flags.{name}.{key}: a positive number is expected"
                    self._say((*at, "flags", name, key), said)
        return WordLists(words, flags)

    def _named_tables(
        self, data: Mapping[str, Any], sort: str, at: Key
    ) -> Iterator[tuple[str, Mapping[str, Any]]]:
        for name in self._table(data, sort, at):
            yield name, self._table(data[sort], name, (*at, sort))

    def _factory(self) -> dict[tuple[int, ...], dict[str, str]]:
        """The factory values, by the firmware's version."""
        return {
            version_numbers(version): {key: as_text(value) for key, value in table.items()}
            for version, table in self._named_tables(self.data, "factory", ())
        }

    def _variations(self) -> Iterator[Variation]:
        for number, entry in enumerate(self._tables("versions")):
            at: Key = ("versions", number)
            self._only(entry, "versions", at)
            before = version_numbers(str(entry.get("before", "")))
            if not before:
                self._say((*at, "before"), 'versions: before = "a version" is expected')
            renames = self._table(entry, "renames", at)
            texts = {str(today): as_text(then) for today, then in renames.items()}
            yield Variation(before, texts, self.tables(entry, at))

    def _say(self, key: Key, message: str, letter: int | None = None) -> None:
        self.faults.append(FormFault(key, message, letter))

    def _table(self, data: Mapping[str, Any], key: str, at: Key = ()) -> Mapping[str, Any]:
        table = data.get(key, {})
        if isinstance(table, Mapping):
            return table
        self._say((*at, key), f"{key}: a table is expected")
        return {}

    def _tables(self, key: str) -> list[Mapping[str, Any]]:
        value = self.data.get(key, [])
        if isinstance(value, list) and all(isinstance(entry, Mapping) for entry in value):
            return value
        self._say((key,), f"{key}: a list of tables is expected")
        return []

    def _word(self, data: Mapping[str, Any], key: str) -> str:
        value = data.get(key, "")
        if isinstance(value, str):
            return value
        self._say(("look", key), f"{key}: a text is expected")
        return ""

    def _texts(self, data: Mapping[str, Any], key: str, at: Key = ()) -> tuple[str, ...]:
        value = data.get(key, [])
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(value)
        either = "a text or a list of texts" if key == "under" else "a list of texts"
        self._say((*at, key), f"{key}: {either} is expected")
        return ()

    def _only(self, data: Mapping[str, Any], place: str, at: Key) -> None:
        for key in data:
            if key not in _KEYS[place]:
                name = f"{place}.{key}" if place else key
                hint = did_you_mean(key, _KEYS[place])
                self._say((*at, key), f"{name} is no key of a dialect{hint}")


def as_text(value: object) -> str:
    """A plain value of a dialect file as the plain form spells it."""
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value)
