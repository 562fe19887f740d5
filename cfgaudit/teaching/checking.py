"""Everything that is wrong with a dialect file, with the lines of the file."""

import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from itertools import combinations
from pathlib import Path
from typing import Any, NamedTuple

from cfgaudit.craft.spelling import BadValue
from cfgaudit.dialects.collect import plain_value, target_of
from cfgaudit.dialects.load import KEYS, build_dialect
from cfgaudit.dialects.model import DialectError
from cfgaudit.dialects.spec import SpecError, Tables
from cfgaudit.reading.look import Look
from cfgaudit.reading.toml_places import Key, line_of, places
from cfgaudit.teaching.checking_lines import LineChecker


class Problem(NamedTuple):
    """One thing wrong: the line of the file (from 1), and what it is."""

    line: int
    message: str


def check_file(path: Path) -> tuple[Problem, ...]:
    """Everything wrong with a dialect file, in the order of its lines. Raises DialectError.

    Only a file that can't be read raises.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise DialectError(f"{path}: {(error.strerror or str(error)).lower()}") from None
    except UnicodeDecodeError:
        raise DialectError(f"{path}: is not UTF-8") from None
    return check_text(text)


def check_text(text: str) -> tuple[Problem, ...]:
    """Everything wrong with a dialect's text, in the order of its lines."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return (_syntax(str(error), text),)
    except RecursionError:
        return (Problem(1, "tables or lists lie too deep in each other"),)
    found = [Problem(line_of(places(text), key), said) for key, said in _problems(data)]
    return tuple(sorted(dict.fromkeys(found)))


def _syntax(said: str, text: str) -> Problem:
    """TOML's own complaint; it names the line, or the end of the document."""
    before, _, rest = said.partition(" (at line ")
    number = rest.split(",")[0]
    line = int(number) if number.isdigit() else text.count("\n") + 1
    return Problem(line, before.partition(" (at ")[0])


def _problems(data: Mapping[str, Any]) -> Iterator[tuple[Key, str]]:
    yield from _fields(data)
    if not isinstance(data.get("name"), str) or not data.get("name"):
        yield ("name",), 'name = "..." is expected'
    tables = Tables(_lists(data, "words"), _lists(data, "flags"))
    yield from _flags(data)
    yield from _values(data, "given")
    for version in _table(data, "factory"):
        yield from _values(_table(data, "factory"), version, ("factory", version))
    yield from LineChecker(_look(data), tables).problems(_entries(data))
    yield from _rest(data)


def _rest(data: Mapping[str, Any]) -> Iterator[tuple[Key, str]]:
    """What loading alone finds: of each part the first fault, where nothing above has told it."""
    for key in KEYS["top"] & data.keys() - {"name"}:
        try:
            build_dialect({"name": "checked", key: data[key]}, "")
        except DialectError as error:
            said = str(error).removeprefix(": ")
            if "is no key of a dialect" not in said and "a positive number" not in said:
                yield (key,), said
        except (TypeError, AttributeError, ValueError) as error:
            yield (key,), f"{key} can't be used: {error}"


def _fields(data: Mapping[str, Any]) -> Iterator[tuple[Key, str]]:
    """Keys that a dialect does not have."""
    yield from _unknown(data, KEYS["top"], ())
    yield from _unknown(_table(data, "look"), KEYS["look"], ("look",))
    for name in ("lines", "versions"):
        entries = data.get(name, [])
        for number, entry in enumerate(entries if isinstance(entries, list) else ()):
            if isinstance(entry, Mapping):
                yield from _unknown(entry, KEYS[name], (name, number))


def _unknown(
    table: Mapping[str, Any], allowed: frozenset[str], above: Key
) -> Iterator[tuple[Key, str]]:
    for key in table:
        if key not in allowed:
            near = get_close_matches(key, sorted(allowed), n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            yield (*above, key), f"{key} is no key of a dialect{hint}"


def _flags(data: Mapping[str, Any]) -> Iterator[tuple[Key, str]]:
    """Flags that are no positive numbers, and those that share a bit."""
    for name, flags in _lists(data, "flags").items():
        good: dict[str, int] = {}
        for word, bit in flags.items():
            if isinstance(bit, int) and not isinstance(bit, bool) and bit > 0:
                good[word] = bit
            else:
                yield ("flags", name, word), f"flags.{name}.{word}: a positive number is expected"
        for (one, bit), (other, second) in combinations(good.items(), 2):
            if bit & second:
                said = f"flags.{name}: {one} = {bit} and {other} = {second} share a bit"
                yield ("flags", name, other), said


def _values(data: Mapping[str, Any], name: str, at: Key = ()) -> Iterator[tuple[Key, str]]:
    """Paths that are no settings, and values that they can't have, in a table of plain values."""
    for path, value in _table(data, name).items():
        text = ("on" if value else "off") if isinstance(value, bool) else str(value)
        goal = target_of(path)
        if goal.part or "[" in path:
            continue
        try:
            plain_value(path, text)
        except BadValue as error:
            from cfgaudit.craft.vocabulary import nearest

            near = nearest(path) if "is no setting" in str(error) else []
            hint = f"; did you mean {near[0]}?" if near else ""
            said = str(error) if path in str(error) else f"{path}: {error}"
            yield (*(at or (name,)), path), f"{said}{hint}"


def _look(data: Mapping[str, Any]) -> Look:
    try:
        return build_dialect({"name": "checked", "look": data.get("look", {})}, "").look
    except (DialectError, SpecError, TypeError, AttributeError):
        return Look()


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    value = data.get(name, {})
    return value if isinstance(value, Mapping) else {}


def _lists(data: Mapping[str, Any], name: str) -> dict[str, dict[str, Any]]:
    """The tables of words or flags, by name."""
    return {
        key: {str(k): v if name == "flags" else _text(v) for k, v in table.items()}
        for key, table in _table(data, name).items()
        if isinstance(table, Mapping)
    }


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value)


def _entries(data: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    entries = data.get("lines", [])
    if not isinstance(entries, list):
        return []
    return [entry if isinstance(entry, Mapping) else {} for entry in entries]
