"""What is wrong with the mapping lines of a dialect: paths, units, word lists, ways back."""

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from cfgaudit.craft.kinds import (
    Bool,
    Either,
    Int,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Words,
    WordSet,
    unit_of,
)
from cfgaudit.craft.spelling import BadValue, read_value
from cfgaudit.craft.values import Value
from cfgaudit.craft.vocabulary import Declared, vocabulary
from cfgaudit.dialects.collect import ELEMENT_PARTS, target_of
from cfgaudit.dialects.spec import CannotWrite, Form, SpecError, Tables, read_with, write_with
from cfgaudit.dialects.template import Holder, Template, compile_template
from cfgaudit.reading.look import Look
from cfgaudit.reading.toml_places import Key
from cfgaudit.units import UnitError, convert, number_text

Found = tuple[Key, str]


class LineChecker:
    """Looks through the mapping lines once; `problems` gives what it finds."""

    def __init__(self, look: Look, tables: Tables) -> None:
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
                read_value(kind, ours)
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
        read_value(kind, holder.constant or "")
    except BadValue as error:
        yield at, f"{holder.target} = {holder.constant}: {error}"


def _unit(holder: Holder, kind: Kind, at: Key) -> Iterator[Found]:
    wanted = unit_of(kind)
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
