"""Everything that is wrong with a dialect file: its form, and what its lines mean.

The form is looked through as in loading (dialect.py), by the same walk. What is told beside that
does not keep a dialect from being loaded: a setting that the vocabulary lacks, a word that no
setting of its list can have, a value that is read back as another.
"""

import re
from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import combinations
from operator import itemgetter
from pathlib import Path
from typing import Any

from cfgaudit.dialects.collect import EMPTY, Destination, goal_of, plain_value, target_of
from cfgaudit.dialects.dialect import (
    Fault,
    FormChecker,
    FormFault,
    MappedLine,
    MappedLines,
    Node,
    as_text,
    dialect_text,
    placed,
)
from cfgaudit.dialects.line_reader import is_open, resolved
from cfgaudit.dialects.spec import (
    CannotWrite,
    Holder,
    SpecForm,
    WordLists,
    read_with,
    write_with,
)
from cfgaudit.dialects.template import ANY, Pieces, Template, covers_all
from cfgaudit.reading.shapes import Assignment
from cfgaudit.reading.toml import Key, TomlError, parsed
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Either,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Value,
    WordSet,
)
from cfgaudit.vocabulary.paths import (
    declared_with_holes,
    did_you_mean,
    every_declared,
    index_names,
    vocabulary,
)
from cfgaudit.vocabulary.units import UnitError, convert, number_text


class LineChecker:
    """Looks through the meaning of the mapping lines once; `problems` gives what it finds."""

    def __init__(self, tables: WordLists) -> None:
        self.tables = tables
        # who states a path, and with which constants beside it
        self.first: dict[tuple[str, ...], tuple[str, Template]] = {}
        self.misfits: dict[Key, str] = {}  # words that some setting of theirs can't take
        self.held: set[tuple[Hashable, Kind]] = set()  # word lists, or specs, that a kind can take
        self.fitting: set[Key] = set()  # words that some setting of theirs can

    def problems(self, entries: Sequence[MappedLines]) -> Iterator[FormFault]:
        """Everything wrong with the lines, in their order."""
        for entry in entries:
            openers = tuple(opener for _, opener in entry.openers)
            for key, opener in entry.openers:
                for holder in opener.holders:
                    yield from self._index(holder, key)
            rests = _rests([template.line for _, template in entry.map])
            for number, (key, template) in enumerate(entry.map):
                guards = not template.holders and _is_guard(template.line, number, rests)
                yield from self._line(MappedLine(openers, template), key, guards=guards)
            yield from _unreachable(entry)
        for key, said in self.misfits.items():
            if key not in self.fitting:
                yield FormFault(key, said)

    def _line(self, line: MappedLine, at: Key, *, guards: bool = False) -> Iterator[FormFault]:
        template = line.template
        if not line.targets and not guards:
            yield FormFault(at, f"{template.line!r} states nothing; list it as known", 0)
        for holder in template.holders:
            if holder.is_index:
                yield from self._index(holder, at)
        for holder in line.targets:
            yield from self._holder(holder, at, line)
            yield from self._twice(holder, at, line)
        for holder in line.holders:
            if holder.is_index and holder.spec.form is SpecForm.WORDS:
                self._index_words(holder, line.targets)

    def _index(self, holder: Holder, at: Key) -> Iterator[FormFault]:
        if not holder.target.isupper():
            said = f"{{{holder.target}}} is no setting, and no index, which has capitals only"
            yield FormFault(at, said, holder.at)
        elif holder.spec.form is SpecForm.WORDS and holder.spec.table not in self.tables.words:
            yield FormFault(at, self._no_table("words", holder.spec.table), holder.at)

    def _index_words(self, holder: Holder, stating: Sequence[Holder]) -> None:
        """Note which words of an index's list the paths that it is in can take."""
        name, index = holder.spec.table, holder.target
        for path in (h.target for h in stating):
            goal = goal_of(path, declared_with_holes)
            if goal is None or resolved(path, {index: ""}) == path:
                continue
            names = dict(index_names(goal.declared)).get(index, ())
            for theirs, ours in self.tables.words.get(name, {}).items():
                key: Key = ("words", name, theirs)
                there = resolved(path, {index: ours})
                if goal_of(there, declared_with_holes) and (not names or ours in names):
                    self.fitting.add(key)
                else:
                    said = f"words.{name}: {theirs} = {ours}, but {there} is no setting"
                    self.misfits.setdefault(key, said)

    def _no_table(self, sort: str, name: str) -> str:
        known = self.tables.words if sort == "words" else self.tables.flags
        return f"there is no table {sort}.{name}{did_you_mean(name, known)}"

    def _holder(self, holder: Holder, at: Key, line: MappedLine) -> Iterator[FormFault]:
        path = holder.target.partition("[")[0]
        goal = goal_of(holder.target, declared_with_holes)
        if goal is None:
            patterns = [entry.pattern for entry in vocabulary()]
            hint = "" if path in patterns else did_you_mean(path, patterns)
            yield FormFault(at, f"{holder.target} is no setting of the vocabulary{hint}", holder.at)
            return
        for word in path.split("."):
            empty = holder.constant is not None and is_open(holder.target)  # of whichever list
            named = path.startswith(("pads.", "ports.")) and word != "ID"  # `pads.LED.use`
            if word.isupper() and word not in line.indices and not empty and not named:
                said = f"{line.template.line!r} does not say which {word} {holder.target} is about"
                yield FormFault(at, said, holder.at)
        if holder.constant is not None:
            yield from _constant(holder, goal, at, line.indices)
        elif goal.kind is EMPTY:
            said = f"a part of it, or {holder.target} = none, is expected"
            yield FormFault(at, f"{holder.target} is a slot: {said}", holder.at)
        else:
            yield from self._spec(holder, goal.kind, at)

    def _spec(self, holder: Holder, kind: Kind, at: Key) -> Iterator[FormFault]:
        spec, flags = holder.spec, holder.spec.form in (SpecForm.FLAGS, SpecForm.OTHERS)
        if spec.table and spec.table not in (self.tables.flags if flags else self.tables.words):
            sort = "flags" if flags else "words"
            yield FormFault(at, self._no_table(sort, spec.table), holder.at)
            return
        if spec.form is SpecForm.WORDS:
            self._words(holder, kind)
        elif flags:
            if not isinstance(kind, WordSet):
                said = f"{holder.target}: flags are for a set of words; it is {kind.says}"
                yield FormFault(at, said, holder.at)
                return
            for word in self.tables.flags[spec.table]:
                if kind.choices and word not in kind.choices:
                    said = f"{word}: {holder.target} is {kind.says}"
                    yield FormFault(("flags", spec.table, word), said)
        elif spec.form is SpecForm.NOT and not isinstance(kind, Bool):
            said = f"{holder.target}: `not` is for on or off; it is {kind.says}"
            yield FormFault(at, said, holder.at)
        yield from _number(holder._replace(spec=spec.beside or spec), kind, at)
        if not (spec.beside or spec).by:
            yield from self._way_back(holder, kind, at)

    def _words(self, holder: Holder, kind: Kind) -> None:
        """Note which words the setting can take: several settings may share one list."""
        name = holder.spec.table
        if (name, kind) in self.held:
            return
        self.held.add((name, kind))
        for theirs, ours in self.tables.words[name].items():
            key: Key = ("words", name, theirs)
            try:
                kind.read(ours)
                self.fitting.add(key)
            except BadValue:
                said = f"words.{name}: {theirs} = {ours}, but {holder.target} is {kind.says}"
                self.misfits.setdefault(key, said)

    def _way_back(self, holder: Holder, kind: Kind, at: Key) -> Iterator[FormFault]:
        """Values that, once written, are read back as others."""
        if (holder.spec, kind) in self.held:
            return
        for value in kind.choices if isinstance(kind, PadUse) else kind.samples():
            try:
                text = write_with(holder.spec, kind, value, self.tables)
                if holder.spec.cut is not None:
                    text = str(holder.spec.cut.put(0, int(text)))
            except CannotWrite:
                continue
            try:
                back = read_with(holder.spec, kind, text, self.tables)
            except BadValue as error:
                said = f"{holder.target}: {_shown(value)} is written {text!r}, then: {error}"
                yield FormFault(at, said, holder.at)
                return
            if back != value:
                said = f"is written {text!r} and read back as {_shown(back)}"
                yield FormFault(at, f"{holder.target}: {_shown(value)} {said}", holder.at)
                return
        self.held.add((holder.spec, kind))

    def _twice(self, holder: Holder, at: Key, line: MappedLine) -> Iterator[FormFault]:
        """A path that another key states too. A constant, or a part of a list, may come again."""
        if holder.constant is not None or "[" in holder.target or target_of(holder.target).part:
            return
        bound = sorted(h.target for h in line.holders if h.is_index)
        place = (holder.target, *bound)
        key, first = self.first.setdefault(place, (_key_of(line), line.template))
        if key != _key_of(line) and not _tell_apart(first, line.template):
            yield FormFault(at, f"{holder.target} is stated by {first.line!r} already", holder.at)


def _tell_apart(one: Template, other: Template) -> bool:
    """Whether two lines say different things of one setting: a dump has the one or the other.

    So `show {NAME} {overlay.elements.NAME.shown = on}` and its `hide` do.
    """
    if _front(one) == _front(other) != "":
        return True  # one key, worded in two ways: `port 2: console` and `port 2: console, shared`
    said = {holder.target: holder.constant for holder in one.constants}
    return any(said.get(h.target, h.constant) != h.constant for h in other.constants)


_KEY = re.compile(r"(?:[^:={}]|\{[^{}.]*\})+[:=](?= )")


def _front(template: Template) -> str:
    """The key that a colon ends, with its indices; empty where the line has none.

    >>> _KEY.match("port {ID: words ports}: at {ports.ID.baud: Bd}")[0]
    'port {ID: words ports}:'
    """
    found = _KEY.match(template.line)
    return found[0] if found else ""


def _rests(lines: Sequence[str]) -> dict[tuple[str, ...], int]:
    """The keys of mapping lines that end in `...`, by their words: where the last of each stands.

    >>> _rests(["compass offset ...", "compass {sensors.compass.enabled} ..."])
    {('compass',): 1}
    """
    cut = [line.partition("{") for line in lines]
    return {
        tuple(front.split()): number
        for number, (front, brace, rest) in enumerate(cut)
        if brace and rest.endswith("...")
    }


def _is_guard(line: str, number: int, rests: Mapping[tuple[str, ...], int]) -> bool:
    """Whether a shorter key's line, further down, would take the lines of this one."""
    words = tuple(line.split())
    return any(rests.get(words[:count], -1) > number for count in range(1, len(words)))


def _unreachable(entry: MappedLines) -> Iterator[FormFault]:
    """Mapping lines that never read a line, since one before them fits all that they fit."""
    earlier = _WordTree()
    for number, (key, template) in enumerate(entry.map):
        before = min(
            (found for found in earlier.like(template) if covers_all(found[1], template)),
            default=None,
            key=itemgetter(0),
        )
        if before is not None:
            said = f"is never reached: {before[1].line!r} stands before it and fits all its lines"
            yield FormFault(key, f"{template.line!r} {said}", 0)
        earlier.add(number, template)


class _WordTree:
    """Mapping lines by their words, so that not each one is held against all before it."""

    def __init__(self) -> None:
        self.ending: list[tuple[int, Template]] = []
        self.below: dict[Pieces | None, _WordTree] = {}

    def add(self, number: int, template: Template) -> None:
        """Put a line under its words, up to the first that it can do without."""
        at = self
        for word in _fixed(template, optional=False):
            at = at.below.setdefault(word, _WordTree())
        at.ending.append((number, template))

    def like(self, template: Template) -> Iterator[tuple[int, Template]]:
        """The lines that have its words, or placeholders in their place, as far as they go."""
        reached = [self]
        for at in reached:
            yield from at.ending
        for word in _fixed(template, optional=True):
            ways = [at.below.get(way) for at in reached for way in {word, None}]
            reached = [at for at in ways if at is not None]
            for at in reached:
                yield from at.ending


def _fixed(template: Template, *, optional: bool) -> Iterator[Pieces | None]:
    """Each word of a line that is nothing but text; None for one that is not."""
    words = [template.key] if template.form is Assignment else []
    for slot in template.slots:
        if slot.optional and not optional:
            break
        words.append(slot.pieces)
    for pieces in words:
        yield pieces if ANY not in pieces and all(isinstance(p, str) for p in pieces) else None


def _key_of(line: MappedLine) -> str:
    own = line.template.head or line.template.line
    return "/".join([*(opener.line for opener in line.chain), own])


def _constant(
    holder: Holder, goal: Destination, at: Key, indices: frozenset[str]
) -> Iterator[FormFault]:
    if indices.intersection((holder.constant or "").split()):
        return  # what it is, the line itself tells
    try:
        goal.kind.read(holder.constant or "")
    except BadValue as error:
        yield FormFault(at, f"{holder.target} = {holder.constant}: {error}", holder.at)


def _number(holder: Holder, kind: Kind, at: Key) -> Iterator[FormFault]:
    """What is wrong with the unit of a number, and with the setting that it goes by."""
    if holder.spec.unit:
        yield from _unit(holder, kind, at)
    if holder.spec.by:
        goal = goal_of(holder.spec.by, declared_with_holes)
        if goal is None or goal.kind.number is None:
            yield FormFault(at, f"{holder.spec.by} is no setting with a number", holder.at)


def _unit(holder: Holder, kind: Kind, at: Key) -> Iterator[FormFault]:
    wanted = kind.unit
    if not isinstance(kind, Quantity | Quantities | Either) or not wanted:
        said = f"{holder.target} has no unit; {holder.spec.unit} is given"
        yield FormFault(at, said, holder.at)
        return
    try:
        convert(holder.spec.scale, holder.spec.unit, wanted)
    except UnitError as error:
        yield FormFault(at, f"{holder.target} is in {wanted}: {error}", holder.at)


def _shown(value: Value) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, frozenset):
        return ", ".join(sorted(value))
    return number_text(value) if isinstance(value, int | float) else str(value)


def check_file(path: Path) -> tuple[Fault, ...]:
    """Everything wrong with a dialect file, in the order of its lines. Raises DialectError.

    Only a file that can't be read raises.
    """
    return check_text(dialect_text(path))


def check_text(text: str) -> tuple[Fault, ...]:
    """Everything wrong with a dialect's text, in the order of its lines."""
    try:
        data = parsed(text)
    except TomlError as error:
        return (Fault(error.line, error.column, str(error)),)
    form = FormChecker(data)
    dialect = form.dialect("", Node)
    entries = form.entries(dialect.look)
    said = [*form.faults, *_shared_bits(dialect.tables), *_values(data, "given", ())]
    for version in _table(data, "factory"):
        said += _values(_table(data, "factory"), version, ("factory",))
    return tuple(placed([*said, *LineChecker(dialect.tables).problems(entries)], text))


def _shared_bits(tables: WordLists) -> Iterator[FormFault]:
    """Flags of one set that share a bit."""
    for name, flags in tables.flags.items():
        for (one, bit), (other, second) in combinations(flags.items(), 2):
            if bit & second:
                said = f"flags.{name}: {one} = {bit} and {other} = {second} share a bit"
                yield FormFault(("flags", name, other), said)


def _values(data: Mapping[str, Any], name: str, at: Key) -> Iterator[FormFault]:
    """Paths that are no settings, and values that they can't have, in a table of plain values."""
    for path, value in _table(data, name).items():
        goal = target_of(path)
        if goal.part or "[" in path:
            continue
        try:
            plain_value(path, as_text(value))
        except BadValue as error:
            patterns = [entry.pattern for entry in every_declared(path)]
            hint = did_you_mean(path, patterns) if "is no setting" in str(error) else ""
            said = str(error) if path in str(error) else f"{path}: {error}"
            yield FormFault((*at, name, path), f"{said}{hint}")


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    value = data.get(name, {})
    return value if isinstance(value, Mapping) else {}
