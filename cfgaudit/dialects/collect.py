"""What a statement's words come to, and how a dump's statements add up to settings."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple

from cfgaudit.dialects.spec import Spec, SpecForm, WordLists, read_with
from cfgaudit.reading.shapes import Span
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Raw, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Filter,
    Kind,
    NotListed,
    Quantities,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    Words,
)
from cfgaudit.vocabulary.paths import Declared, declared


class Target(NamedTuple):
    """Where a placeholder's value goes: a setting, or a part of one element of a list setting."""

    path: str
    part: str = ""
    label: str = ""  # the slot, where elements are put together from several lines


class Destination(NamedTuple):
    """What a path of a dialect states: where the value goes, its declaration, its kind."""

    target: Target
    declared: Declared
    kind: Kind


@lru_cache(maxsize=20_000)
def goal_of(path: str, find: Callable[[str], Declared | None] = declared) -> Destination | None:
    """The goal of a path; None where it is no setting of the vocabulary, nor a part of one.

    Of a path whose indices are still open, `find` is `declared_with_holes`. What this refuses is
    refused when a dump is read.

    >>> goal_of("filters.gyro[first].cutoff").target
    Target(path='filters.gyro', part='cutoff', label='first')
    """
    target = target_of(path, find)
    entry = find(target.path)
    if entry is None:
        return None
    if target.label and not target.part:
        kind: Kind | None = EMPTY if entry.kind.parts else None
        if isinstance(entry.kind, Quantities):
            kind = entry.kind.number
        return None if kind is None else Destination(target, entry, kind)
    if not target.part:
        return Destination(target, entry, entry.kind)
    part = entry.kind.parts.get(target.part)
    return None if part is None else Destination(target, entry, part)


@lru_cache(maxsize=20_000)
def target_of(path: str, find: Callable[[str], Declared | None] = declared) -> Target:
    """Take a path apart: `filters.gyro[first].cutoff` is part cutoff of slot first.

    `filters.gyro[first]` is the slot itself, of which a line says that it is empty, and
    `video.plan.1[3]` a number of a list.
    """
    before, bracket, rest = path.partition("[")
    if bracket:
        label, _, part = rest.partition("]")
        return Target(before, part.removeprefix("."), label)
    parent, _, leaf = path.rpartition(".")
    if find(path) is None:
        above = find(parent)
        if above is not None and leaf in above.kind.parts:
            return Target(parent, leaf)
    return Target(path)


_NOUGHT = ("channel", "cutoff")  # the parts whose nought says that a slot holds no element
EMPTY = Words(("none",))  # what a line says of a slot that holds no element


class Mention(NamedTuple):
    """One value that a statement states: of a setting, or of a part of one element of a list.

    `path` may name a part, as a dialect does. `span` is the value's stretch of the statement's own
    text; None where a constant of the line says it, or a head line, which the firmware writes.
    `stated` is what it came to; None where that is nothing. `statement` is the index of its
    statement among those of a reading, which tells it; -1 for a head line.
    """

    path: str
    spec: Spec
    text: str
    target: Target
    span: Span | None = None
    place: Place | None = None
    stated: Stated | None = None
    statement: int = -1

    @property
    def value(self) -> Value | None:
        """What its text means; None where it can't be read."""
        return None if self.stated is None else self.stated.value


def _unbound(path: str, found: Declared) -> str:
    """The index of a path that no line tells, as it stands in the pattern still; else nothing."""
    before = path.partition("[")[0]
    pairs = zip(before.split("."), found.pattern.split("."), strict=False)
    return next((word for word, own in pairs if word == own and word.isupper()), "")


class ValueReader:
    """Reads the values of one dialect's text. What can't be read is a trouble, never an error.

    A word without a list of the dialect is one of ours, and in the plain form can be no other.
    """

    def __init__(self, tables: WordLists, off: frozenset[str], *, plain: bool = False) -> None:
        self.tables, self.off, self._plain = tables, off, plain
        self.troubles: list[Trouble] = []

    def mention(
        self,
        path: str,
        spec: Spec,
        text: str,
        place: Place | None,
        span: Span | None = None,
        origin: Origin = Origin.DUMP,
    ) -> Mention:
        """Take one value; one that can't be is doubted."""
        goal = goal_of(path)
        if goal is None:
            self._trouble(f"{path} is no setting of the vocabulary", place, path)
            return Mention(path, spec, text, target_of(path), span, place)
        target, kind = goal.target, goal.kind
        if not path.islower() and (index := _unbound(path, goal.declared)):
            said = f"the dialect's line does not say which {index} {path} is about"
            self._trouble(said, place, path)
            return Mention(path, spec, text, target, span, place)
        if spec.by:  # what it is hangs on another setting, which the whole dump has to tell
            return Mention(path, spec, text, target, span, place)
        try:
            value = self._value(spec, kind, text)
        except BadValue as error:
            no_list = spec.form is SpecForm.PLAIN and bool(kind.choices) and not self._plain
            not_listed = isinstance(error, NotListed) or no_list
            sort = TroubleKind.NOT_LISTED if not_listed else TroubleKind.IMPOSSIBLE
            self._trouble(str(error), place, target.path, sort)
            return Mention(path, spec, text, target, span, place)
        if value is None:
            return Mention(path, spec, text, target, span, place)
        off = (target.part in _NOUGHT or target.label) and not value  # it holds no element
        doubt = "" if off else self._doubt(target.path, kind, value, place)
        stated = Stated(path, value, place, origin, text, doubt)
        return Mention(path, spec, text, target, span, place, stated)

    def _value(self, spec: Spec, kind: Kind, text: str) -> Value | None:
        """The value; None where the dump says that there is none of a kind that can't be none."""
        if isinstance(kind, Text) and text in self.off and _is_no_name(text):
            return None  # a dash stands where a name would
        try:
            return kind.writable(read_with(spec, kind, text, self.tables), text)
        except BadValue:
            if text.strip().casefold() not in self.off:
                raise
            return kind.nothing

    def _trouble(
        self,
        message: str,
        place: Place | None,
        path: str,
        sort: TroubleKind = TroubleKind.IMPOSSIBLE,
    ) -> None:
        self.troubles.append(Trouble(sort, message, place, path))

    def _doubt(self, path: str, kind: Kind, value: Value, place: Place | None) -> str:
        reason = kind.beyond(value)
        if not reason:
            return ""
        power = kind.likely_power(value)
        figures = (("value", float(value)),) if isinstance(value, int | float) else ()
        message, sort = reason, TroubleKind.IMPOSSIBLE
        if power:
            factor = f"{10 ** abs(power):,}"
            way = "large" if power < 0 else "small"
            message = f"{reason}; it would fit if it were not {factor} times or more too {way}"
            sort = TroubleKind.UNIT
        self.troubles.append(Trouble(sort, message, place, path, figures))
        return reason


def _is_no_name(text: str) -> bool:
    return text in ("null", "nil") or not any(map(str.isalnum, text))


class Collector:
    """What was stated so far, in the order of the dump.

    A list of which one element lacks a part (a switch's range of which only the channel is known)
    is not stated: it is neither the rest of it nor none.
    """

    def __init__(self) -> None:
        self.stated: dict[str, Stated] = {}
        self.repeats: list[tuple[Stated, Stated]] = []
        self.elements: dict[str, dict[str, dict[str, Stated]]] = {}
        self.idle: dict[str, Raw] = {}  # what is said of elements that are switched off

    def take(self, mentions: Iterable[Mention], row: int) -> None:
        """Take what one statement states; `row` tells it from others."""
        for mention in mentions:
            stated = mention.stated
            if stated is None:
                continue
            if mention.target.part or mention.target.label:
                slots = self.elements.setdefault(mention.target.path, {})
                self._add_part(slots, mention.target, stated, row)
            else:
                self._note_repeat(self.stated.get(stated.path), stated)
                self.stated[stated.path] = stated

    def _note_repeat(self, before: Stated | None, stated: Stated) -> None:
        if before is not None and before.origin is stated.origin is Origin.DUMP:
            self.repeats.append((stated, before))

    def _add_part(
        self, slots: dict[str, dict[str, Stated]], target: Target, stated: Stated, row: int
    ) -> None:
        key = f"[{target.label}]" if target.label else f"{row}"
        slot = slots.get(key, {})
        if stated.origin is Origin.DUMP and not _from_dump(slot):
            slots.pop(key, None)  # the order is the dump's; what was given has no place in it
        slots[key] = slot
        self._note_repeat(slot.get(target.part), stated)
        slot[target.part] = stated

    def put_together(self) -> None:
        """Make list settings of their elements' parts."""
        for path, slots in self.elements.items():
            found = declared(path)
            labels = [label for label, slot in slots.items() if _from_dump(slot)]
            filled = [slots[label] for label in labels]
            if found is None or not filled:
                continue
            parts = [part for slot in filled for part in slot.values()]
            if isinstance(found.kind, Quantities):
                self.stated[path] = _numbers(path, slots)
                continue
            named = [{name: part.value for name, part in slot.items()} for slot in filled]
            made = [found.kind.element(values) for values in named]
            if any(e is None and not is_off(v) for e, v in zip(made, named, strict=True)):
                continue  # half an element: what the list is, is not known
            for label, slot, element in zip(labels, filled, made, strict=True):
                if element is None:
                    self._keep_idle(f"{path}[{label.strip('[]')}]", slot)
            value: Value = tuple(e for e in made if isinstance(e, Filter))
            if isinstance(found.kind, SwitchRanges):  # a range said twice is one; a stage is two
                value = tuple(dict.fromkeys(e for e in made if isinstance(e, SwitchRange)))
            doubt = next((part.doubt for part in parts if part.doubt), "")
            dumped = [part for part in parts if part.origin is Origin.DUMP]
            text = ", ".join(part.text for part in dumped)
            self.stated[path] = Stated(path, value, dumped[0].place, Origin.DUMP, text, doubt)

    def _keep_idle(self, name: str, slot: Mapping[str, Stated]) -> None:
        """Keep the values of an element that is off: they count as soon as it is on again."""
        for part, stated in slot.items():
            if stated.origin is Origin.DUMP:
                key = f"{name}.{part}"
                self.idle[key] = Raw(key, stated.text, stated.place, known=True, part=True)


def is_off(parts: Mapping[str, Value]) -> bool:
    """Whether the parts of an element say that its slot holds none: channel or cutoff nought."""
    nought = any(name in parts and parts[name] == 0 for name in _NOUGHT)
    return nought or parts.get("") == EMPTY.choices[0]


def _numbers(path: str, slots: Mapping[str, Mapping[str, Stated]]) -> Stated:
    """A list of numbers of which each has a line of its own, in the order of their labels."""
    parts = [slot[""] for _, slot in sorted(slots.items(), key=lambda item: by_number(item[0]))]
    held = [part for part in parts if part.value]
    value = tuple(float(part.value) for part in held if isinstance(part.value, int | float))
    doubt = next((part.doubt for part in held if part.doubt), "")
    text = ", ".join(part.text for part in held)
    return Stated(path, value, parts[0].place, Origin.DUMP, text, doubt)


def by_number(label: str) -> tuple[int, str]:
    """A key that sorts labels with numbers in them by these."""
    digits = "".join(letter for letter in label if letter.isdecimal())
    return (int(digits[:9]) if digits else 0, label)


def _from_dump(slot: dict[str, Stated]) -> bool:
    return any(part.origin is Origin.DUMP for part in slot.values())


def plain_value(path: str, text: str) -> Value:
    """The value of a path in the plain form's spelling. Raises BadValue."""
    found = declared(path)
    if found is None:
        raise BadValue(f"{path} is no setting of the vocabulary")
    return found.kind.writable(found.kind.read(text), text)


class FactoryValues(Mapping[str, Value]):
    """Factory values by path, each read from its text when it is asked for and not before.

    One whose text can't be read is not there: asking for it raises KeyError.
    """

    def __init__(self, texts: Mapping[str, str]) -> None:
        self.texts = texts

    def __getitem__(self, path: str) -> Value:
        try:
            return plain_value(path, self.texts[path])
        except BadValue:
            raise KeyError(path) from None

    def __iter__(self) -> Iterator[str]:
        return iter(self.texts)

    def __len__(self) -> int:
        return len(self.texts)
