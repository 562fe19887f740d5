"""Reads a dialect's TOML file; everything wrong with it is said with file and key."""

import tomllib
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from cfgaudit.craft.versions import version_numbers
from cfgaudit.dialects.model import Dialect, DialectError, Node, Variation
from cfgaudit.dialects.spec import SpecError, Tables
from cfgaudit.dialects.template import Template, compile_template, text_pieces
from cfgaudit.reading.look import Look
from cfgaudit.reading.shapes import Opener, Section

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
    if template.head:
        node.exact.setdefault((template.form, template.head), []).append(template)
    else:
        node.loose.setdefault(template.form, []).append(template)


def _tables(data: Mapping[str, Any], file: str) -> Tables:
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
    return Tables(words, flags)


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
