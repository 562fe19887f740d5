"""A dialect as data: its look, its mapping lines in a tree of contexts, its tables."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from typing import Any, NamedTuple

from cfgaudit.dialects.template import (
    Pieces,
    SpecError,
    Template,
    WordLists,
    compile_template,
    text_pieces,
)
from cfgaudit.reading.shapes import Look, Opener, Section
from cfgaudit.vocabulary.kinds import is_of, is_older, version_numbers


class DialectError(ValueError):
    """A dialect file that can't be used; the message has file, key and what was expected."""


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

    @cached_property
    def root(self) -> Node:
        """The mapping lines. Raises DialectError at first use where one of them is wrong."""
        return self.build()

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


_TOP = {
    "name", "about", "look", "given", "words", "flags", "lines", "versions", "factory",
    "keys_are_paths", "volatile", "secret",
}  # fmt: skip
_LOOK = {
    "prompts", "lead", "continues", "opens", "closes", "end", "off", "head", "ignore",
}  # fmt: skip
_LINES = {"under", "map", "known"}
_VERSIONS = {"before", "renames", "words", "flags"}
# The keys that a dialect file can have, for whoever looks for others.
KEYS = {
    "top": frozenset(_TOP),
    "look": frozenset(_LOOK),
    "lines": frozenset(_LINES),
    "versions": frozenset(_VERSIONS),
}


def load_dialect(path: Path) -> Dialect:
    """Load a dialect file. Raises DialectError with file, line where known, and what is wrong."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "is not UTF-8"
        raise DialectError(f"{path}: {reason}") from None
    except RecursionError:
        raise DialectError(f"{path}: tables or lists lie too deep in each other") from None
    except tomllib.TOMLDecodeError as error:
        raise DialectError(f"{path}: {error}") from None
    return build_dialect(data, str(path))


def build_dialect(data: Mapping[str, Any], file: str) -> Dialect:
    """Make a dialect of a parsed file. Raises DialectError."""
    _only(data, _TOP, file, "")
    look_table = _table(data, "look", file)
    _only(look_table, _LOOK, file, "look.")
    look = Look(
        prompts=_texts(look_table, "prompts", file),
        lead=_word(look_table, "lead", file),
        continues=_word(look_table, "continues", file),
        opens=_texts(look_table, "opens", file),
        closes=_texts(look_table, "closes", file),
        end=_word(look_table, "end", file),
        ignore=_texts(look_table, "ignore", file),
    )
    name = data.get("name")
    if not isinstance(name, str) or not name:
        raise DialectError(f'{file}: name = "..." is expected')
    try:
        return Dialect(
            name=name,
            about=str(data.get("about", "")),
            file=file,
            look=look,
            off=frozenset(word.casefold() for word in _texts(look_table, "off", file)),
            head=tuple(text_pieces(line) for line in _texts(look_table, "head", file)),
            ignore=tuple(text_pieces(line) for line in look.ignore),
            given={key: _text(value) for key, value in _table(data, "given", file).items()},
            tables=_tables(data, file),
            build=partial(_tree, _entries(data, "lines", file), look, file),
            variations=tuple(_variation(entry, file) for entry in _entries(data, "versions", file)),
            factory=_factory(data, file),
            keys_are_paths=bool(data.get("keys_are_paths", False)),
            volatile=_texts(data, "volatile", file),
            secret=_texts(data, "secret", file),
        )
    except SpecError as error:
        raise DialectError(f"{file}: {error}") from None


def _tree(entries: list[Mapping[str, Any]], look: Look, file: str) -> Node:
    try:
        return _compiled(entries, look, file)
    except SpecError as error:
        raise DialectError(f"{file}: {error}") from None


def _compiled(entries: list[Mapping[str, Any]], look: Look, file: str) -> Node:
    root = Node()
    nodes: dict[tuple[str, ...], Node] = {(): root}
    for entry in entries:
        _only(entry, _LINES, file, "lines.")
        under = entry.get("under", [])
        path = (under,) if isinstance(under, str) else _texts(entry, "under", file)
        for depth in range(1, len(path) + 1):
            if path[:depth] not in nodes:
                opener = compile_template(path[depth - 1], look)
                nodes[path[:depth]] = node = Node(opener)
                above = nodes[path[: depth - 1]]
                above.children.append(node)
                above.grouping = above.grouping or opener.form not in (Section, Opener)
        node = nodes[path]
        for line in _texts(entry, "map", file):
            _add(node, compile_template(line, look))
        for line in _texts(entry, "known", file):
            template = compile_template(line, look)
            node.known.setdefault((template.form, template.head), []).append(template)
    return root


def _add(node: Node, template: Template) -> None:
    node.lines.append(template)
    if template.head:
        node.exact.setdefault((template.form, template.head), []).append(template)
    else:
        node.loose.setdefault(template.form, []).append(template)


def _tables(data: Mapping[str, Any], file: str) -> WordLists:
    words = {
        name: {str(key): _text(value) for key, value in table.items()}
        for name in _table(data, "words", file)
        for table in [_table(data["words"], name, file)]
    }
    flags: dict[str, dict[str, int]] = {}
    for name in _table(data, "flags", file):
        for key, value in _table(data["flags"], name, file).items():
            if not isinstance(value, int) or isinstance(value, bool) or value <= 0:
                raise DialectError(f"{file}: flags.{name}.{key}: a positive number is expected")
            flags.setdefault(name, {})[key] = value
    return WordLists(words, flags)


def _factory(data: Mapping[str, Any], file: str) -> dict[tuple[int, ...], dict[str, str]]:
    """The factory values, by the firmware's version."""
    return {
        version_numbers(version): {
            key: _text(value) for key, value in _table(data["factory"], version, file).items()
        }
        for version in _table(data, "factory", file)
    }


def _variation(entry: Mapping[str, Any], file: str) -> Variation:
    _only(entry, _VERSIONS, file, "versions.")
    before = version_numbers(str(entry.get("before", "")))
    if not before:
        raise DialectError(f'{file}: versions: before = "a version" is expected')
    renames = {str(today): _text(then) for today, then in _table(entry, "renames", file).items()}
    return Variation(before, renames, _tables(entry, file))


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value)


def _table(data: Mapping[str, Any], key: str, file: str) -> Mapping[str, Any]:
    table = data.get(key, {})
    if not isinstance(table, Mapping):
        raise DialectError(f"{file}: {key}: a table is expected")
    return table


def _entries(data: Mapping[str, Any], key: str, file: str) -> list[Mapping[str, Any]]:
    value = data.get(key, [])
    if not isinstance(value, list) or not all(isinstance(entry, Mapping) for entry in value):
        raise DialectError(f"{file}: {key}: a list of tables is expected")
    return value


def _word(data: Mapping[str, Any], key: str, file: str) -> str:
    value = data.get(key, "")
    if not isinstance(value, str):
        raise DialectError(f"{file}: {key}: a text is expected")
    return value


def _texts(data: Mapping[str, Any], key: str, file: str) -> tuple[str, ...]:
    value = data.get(key, [])
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise DialectError(f"{file}: {key}: a list of texts is expected")
    return tuple(value)


def _only(data: Mapping[str, Any], allowed: set[str], file: str, where: str) -> None:
    for key in data:
        if key not in allowed:
            from difflib import get_close_matches

            near = get_close_matches(key, allowed, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise DialectError(f"{file}: {where}{key} is no key of a dialect{hint}")
