"""Everything that is wrong with a dialect file, with the lines of the file."""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from itertools import combinations
from pathlib import Path
from typing import Any, NamedTuple

from cfgaudit.dialects.collect import ELEMENT_PARTS, plain_value, target_of
from cfgaudit.dialects.dialect import KEYS, DialectError, build_dialect
from cfgaudit.dialects.template import (
    CannotWrite,
    Form,
    Holder,
    SpecError,
    Template,
    WordLists,
    compile_template,
    read_with,
    write_with,
)
from cfgaudit.reading.shapes import Look
from cfgaudit.reading.toml import Key, line_of, places
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Either,
    Int,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Value,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import Declared, vocabulary
from cfgaudit.vocabulary.units import UnitError, convert, number_text

Found = tuple[Key, str]


class LineChecker:
    """Looks through the mapping lines once; `problems` gives what it finds."""

    def __init__(self, look: Look, tables: WordLists) -> None:
        self.look = look
        self.tables = tables
        self.first: dict[tuple[str, ...], tuple[str, str]] = {}  # who states a path, and how
        self.misfits: dict[Key, str] = {}  # words that some setting of theirs can't take
        self.fitting: set[Key] = set()  # words that some setting of theirs can

    def problems(self, entries: Sequence[Mapping[str, Any]]) -> Iterator[Found]:
        """Everything wrong with the lines, in their order."""
        for number, entry in enumerate(entries):
            at: Key = ("lines", number)
            under = entry.get("under", [])
            chain = [under] if isinstance(under, str) else under
            if not _are_texts(chain):
                yield (*at, "under"), "under: a text or a list of texts is expected"
                chain = []
            openers: list[Template] = []
            for line in chain:
                template, said = self._compiled(line)
                if template is None:
                    yield (*at, "under"), said
                else:
                    openers.append(template)
                    for holder in template.holders:
                        yield from self._index(holder, (*at, "under"))
            for name in ("map", "known"):
                yield from self._lines(entry.get(name, []), (*at, name), openers)
        for key, said in self.misfits.items():
            if key not in self.fitting:
                yield key, said

    def _lines(self, lines: object, at: Key, openers: Sequence[Template]) -> Iterator[Found]:
        if not isinstance(lines, list) or not _are_texts(lines):
            yield at, f"{at[-1]}: a list of texts is expected"
            return
        for number, line in enumerate(lines):
            template, said = self._compiled(line)
            if template is None:
                yield (*at, number), said
            elif at[-1] == "map":
                yield from self._line(template, (*at, number), openers)

    def _compiled(self, line: str) -> tuple[Template | None, str]:
        try:
            return compile_template(line, self.look), ""
        except SpecError as error:
            return None, str(error)

    def _line(self, template: Template, at: Key, openers: Sequence[Template]) -> Iterator[Found]:
        indices = {
            holder.target
            for part in (*openers, template)
            for holder in part.holders
            if holder.is_index
        }
        stating = [h for h in (*template.constants, *template.holders) if not h.is_index]
        if not stating:
            yield at, f"{template.line!r} states nothing; list it as known"
        for holder in template.holders:
            if holder.is_index:
                yield from self._index(holder, at)
        for holder in stating:
            yield from self._holder(holder, at, indices, template.line)
            yield from self._twice(holder, at, template, openers)

    def _index(self, holder: Holder, at: Key) -> Iterator[Found]:
        if not holder.target.isupper():
            yield at, f"{{{holder.target}}} is no setting, and no index, which has capitals only"
        elif holder.spec.form is Form.WORDS and holder.spec.table not in self.tables.words:
            yield at, self._no_table("words", holder.spec.table)

    def _no_table(self, sort: str, name: str) -> str:
        known = self.tables.words if sort == "words" else self.tables.flags
        near = get_close_matches(name, list(known), n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        return f"there is no table {sort}.{name}{hint}"

    def _holder(self, holder: Holder, at: Key, indices: set[str], line: str) -> Iterator[Found]:
        path = holder.target.partition("[")[0]
        entry = pattern_of(path) or pattern_of(path.rpartition(".")[0])
        if entry is None:
            near = get_close_matches(path, [d.pattern for d in vocabulary()], n=1, cutoff=0.6)
            hint = f"; did you mean {near[0]}?" if near else ""
            yield at, f"{holder.target} is no setting of the vocabulary{hint}"
            return
        for word in path.split("."):
            if word.isupper() and word not in indices:
                yield at, f"{line!r} does not say which {word} {holder.target} is about"
        kind = _kind(holder.target, entry)
        if holder.constant is not None:
            yield from _constant(holder, kind, at)
        elif kind is not None:
            yield from self._spec(holder, kind, at)

    def _spec(self, holder: Holder, kind: Kind, at: Key) -> Iterator[Found]:
        spec = holder.spec
        if spec.form is Form.WORDS and spec.table not in self.tables.words:
            yield at, self._no_table("words", spec.table)
            return
        if spec.form is Form.FLAGS and spec.table not in self.tables.flags:
            yield at, self._no_table("flags", spec.table)
            return
        if spec.form is Form.WORDS:
            self._words(holder, kind)
        elif spec.form is Form.FLAGS:
            if not isinstance(kind, WordSet):
                yield at, f"{holder.target}: flags are for a set of words; it is {kind.says}"
                return
            for word in self.tables.flags[spec.table]:
                if kind.choices and word not in kind.choices:
                    yield ("flags", spec.table, word), f"{word}: {holder.target} is {kind.says}"
        elif spec.form is Form.NOT and not isinstance(kind, Bool):
            yield at, f"{holder.target}: `not` is for on or off; it is {kind.says}"
        if spec.unit:
            yield from _unit(holder, kind, at)
        yield from self._way_back(holder, kind, at)

    def _words(self, holder: Holder, kind: Kind) -> None:
        """Note which words the setting can take: several settings may share one list."""
        name = holder.spec.table
        for theirs, ours in self.tables.words[name].items():
            key: Key = ("words", name, theirs)
            try:
                kind.read(ours)
                self.fitting.add(key)
            except BadValue:
                said = f"words.{name}: {theirs} = {ours}, but {holder.target} is {kind.says}"
                self.misfits.setdefault(key, said)

    def _way_back(self, holder: Holder, kind: Kind, at: Key) -> Iterator[Found]:
        """Values that, once written, are read back as others."""
        for value in _samples(kind):
            try:
                text = write_with(holder.spec, kind, value, self.tables)
            except CannotWrite:
                continue
            try:
                back = read_with(holder.spec, kind, text, self.tables)
            except BadValue as error:
                yield at, f"{holder.target}: {_shown(value)} is written {text!r}, then: {error}"
                return
            if back != value:
                said = f"is written {text!r} and read back as {_shown(back)}"
                yield at, f"{holder.target}: {_shown(value)} {said}"
                return

    def _twice(
        self, holder: Holder, at: Key, template: Template, openers: Sequence[Template]
    ) -> Iterator[Found]:
        """A path that another key states too. A constant, or a part of a list, may come again."""
        if holder.constant is not None or "[" in holder.target or target_of(holder.target).part:
            return
        bound = sorted(h.target for p in (*openers, template) for h in p.holders if h.is_index)
        place = (holder.target, *bound)
        own = (_key_of(template, openers), template.line)
        before = self.first.setdefault(place, own)
        if before[0] != own[0]:
            yield at, f"{holder.target} is stated by {before[1]!r} already"


def _key_of(template: Template, openers: Sequence[Template]) -> str:
    return "/".join([*(opener.line for opener in openers), template.head or template.line])


def _are_texts(items: object) -> bool:
    return isinstance(items, list) and all(isinstance(item, str) for item in items)


def pattern_of(path: str) -> Declared | None:
    """The declaration that a placeholder's path falls under, its own indices in capitals."""
    words = path.split(".")
    for entry in vocabulary():
        wanted = entry.pattern.split(".")
        if len(wanted) != len(words):
            continue
        if all(w == word or (w.isupper() and _may_be(word, w, entry)) for w, word in
               zip(wanted, words, strict=True)):  # fmt: skip
            return entry
    return None


def _may_be(word: str, index: str, entry: Declared) -> bool:
    if word.isupper():
        return True
    choices = dict(entry.choices).get(index, ())
    if choices:
        return word in choices
    if index == "AXIS":
        return word in ("roll", "pitch", "yaw")
    return word.isdigit() if index == "N" else True


def _kind(target: str, entry: Declared) -> Kind | None:
    part = target.rpartition(".")[2]
    parts = ELEMENT_PARTS.get(type(entry.kind), {})
    if parts and ("[" in target or target.partition("[")[0] != entry.pattern):
        return parts.get(part)
    return entry.kind


def _constant(holder: Holder, kind: Kind | None, at: Key) -> Iterator[Found]:
    if kind is None:
        return
    try:
        kind.read(holder.constant or "")
    except BadValue as error:
        yield at, f"{holder.target} = {holder.constant}: {error}"


def _unit(holder: Holder, kind: Kind, at: Key) -> Iterator[Found]:
    wanted = kind.unit
    if not isinstance(kind, Quantity | Quantities | Either) or not wanted:
        yield at, f"{holder.target} has no unit; {holder.spec.unit} is given"
        return
    try:
        convert(holder.spec.scale, holder.spec.unit, wanted)
    except UnitError as error:
        yield at, f"{holder.target} is in {wanted}: {error}"


def _samples(kind: Kind) -> tuple[Value, ...]:
    """Values of a kind to send there and back."""
    if isinstance(kind, Bool):
        return (True, False)
    if isinstance(kind, Words):
        return kind.choices
    if isinstance(kind, PadUse):
        return kind.choices[1:]
    if isinstance(kind, WordSet):
        return tuple(frozenset({word}) for word in kind.choices)
    if isinstance(kind, Int):
        return tuple(n for n in (1, 2, 5, 12) if kind.low <= n <= kind.high)
    if isinstance(kind, Quantity):
        return tuple(float(n) for n in (1, 2, 5, 100, 1500) if kind.low <= n <= kind.high)
    return ()


def _shown(value: Value) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, frozenset):
        return ", ".join(sorted(value))
    return number_text(value) if isinstance(value, int | float) else str(value)


class Fault(NamedTuple):
    """One thing wrong: the line of the file (from 1), and what it is."""

    line: int
    message: str


def check_file(path: Path) -> tuple[Fault, ...]:
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


def check_text(text: str) -> tuple[Fault, ...]:
    """Everything wrong with a dialect's text, in the order of its lines."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return (_syntax(str(error), text),)
    except RecursionError:
        return (Fault(1, "tables or lists lie too deep in each other"),)
    found = [Fault(line_of(places(text), key), said) for key, said in _problems(data)]
    return tuple(sorted(dict.fromkeys(found)))


def _syntax(said: str, text: str) -> Fault:
    """TOML's own complaint; it names the line, or the end of the document."""
    before, _, rest = said.partition(" (at line ")
    number = rest.split(",")[0]
    line = int(number) if number.isdigit() else text.count("\n") + 1
    return Fault(line, before.partition(" (at ")[0])


def _problems(data: Mapping[str, Any]) -> Iterator[tuple[Key, str]]:
    yield from _fields(data)
    if not isinstance(data.get("name"), str) or not data.get("name"):
        yield ("name",), 'name = "..." is expected'
    tables = WordLists(_lists(data, "words"), _lists(data, "flags"))
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
            from cfgaudit.vocabulary.paths import nearest

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
