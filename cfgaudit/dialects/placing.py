"""Finds the line of a dialect that states a setting, and fills it in; lists element by element."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from cfgaudit.dialects.collect import ELEMENT_PARTS, target_of
from cfgaudit.dialects.dialect import Dialect, Node
from cfgaudit.dialects.template import (
    ANY,
    CannotWrite,
    Form,
    Holder,
    Pieces,
    Slot,
    Template,
    write_with,
)
from cfgaudit.reading.shapes import Assignment, Directive
from cfgaudit.settings import Origin, Settings
from cfgaudit.vocabulary.kinds import (
    FILTER_KINDS,
    BadValue,
    Bool,
    Filter,
    Kind,
    SwitchRange,
    Value,
    read_value,
)
from cfgaudit.vocabulary.paths import declared

_BRACES = re.compile(r"\{[^{}]*\}")
ON_OFF = ("on", "off")
# How dumps spell on and off, apart from a dialect's own word lists.
SPELLINGS = (ON_OFF, ("yes", "no"), ("true", "false"), ("1", "0"), ("enabled", "disabled"))
_SIGN = re.compile(r"\s*[=:]\s*")


@dataclass(frozen=True)
class MappedLine:
    """A mapping line with the context lines that it stands under, the outermost first."""

    chain: tuple[Template, ...]
    template: Template

    @property
    def holders(self) -> tuple[Holder, ...]:
        """The placeholders of the line and of its context lines."""
        return tuple(holder for part in (*self.chain, self.template) for holder in part.holders)

    @cached_property
    def indices(self) -> frozenset[str]:
        """The indices that the line and its context lines bind."""
        return frozenset(holder.target for holder in self.holders if holder.is_index)


@dataclass(frozen=True)
class Placed:
    """A line as text, under its context lines as text, each with its template's form."""

    chain: tuple[tuple[type, str], ...]
    text: str


def lines_of(node: Node, chain: tuple[Template, ...] = ()) -> Iterator[MappedLine]:
    """Every mapping line below a context."""
    for template in node.templates():
        yield MappedLine(chain, template)
    for child in node.children:
        assert child.opener is not None  # every context but the outermost has one
        yield from lines_of(child, (*chain, child.opener))


def on_off_of(settings: Settings) -> tuple[str, str]:
    """How a dump spells on and off: as most of its lines do."""
    counts = dict.fromkeys(SPELLINGS, 0)
    for path, stated in settings.stated.items():
        found = declared(path) if stated.origin is Origin.DUMP else None
        if found is not None and isinstance(found.kind, Bool):
            for pair in SPELLINGS:
                counts[pair] += stated.text in pair
    return max(SPELLINGS, key=counts.__getitem__)


def kind_of(target: str) -> Kind:
    """The kind of a setting, or of a part of one element. Raises CannotWrite."""
    goal = target_of(target)
    found = declared(goal.path)
    if found is None:
        raise CannotWrite(f"{target} is no setting of the vocabulary")
    parts = ELEMENT_PARTS.get(type(found.kind), {})
    return parts.get(goal.part, found.kind) if goal.part else found.kind


def fits(pattern: str, target: str, indices: frozenset[str]) -> dict[str, str] | None:
    """What the indices of a placeholder's path must be for it to be this target.

    >>> fits("ports.ID.baud", "ports.uart2.baud", frozenset({"ID"}))
    {'ID': 'uart2'}
    """
    wanted, given = _steps(pattern), _steps(target)
    if len(wanted) != len(given):
        return None
    binds: dict[str, str] = {}
    for word, step in zip(wanted, given, strict=True):
        if word in indices:
            if binds.setdefault(word, step) != step:
                return None
        elif word != step:
            return None
    return binds


def _steps(path: str) -> list[str]:
    before, bracket, rest = path.partition("[")
    label, _, part = rest.partition("].")
    return [*before.split("."), "[", label, part] if bracket else before.split(".")


def filled(path: str, binds: Mapping[str, str]) -> str:
    """The path with its indices filled in."""
    before, bracket, rest = path.partition("[")
    text = ".".join(binds.get(word, word) for word in before.split("."))
    if not bracket:
        return text
    label, _, part = rest.partition("].")
    return f"{text}[{binds.get(label, label)}].{part}"


class Placer:
    """Writes one line at a time, in the words of one version of a firmware."""

    def __init__(
        self, dialect: Dialect, version: tuple[int, ...], on_off: tuple[str, str] = ON_OFF
    ) -> None:
        self.dialect = dialect
        self.on_off = on_off
        self.tables = dialect.tables_for(version)
        self.lines = tuple(lines_of(dialect.root))
        self.heads = tuple(piece for pieces in dialect.head for piece in pieces)
        self.names_then: dict[str, str] = {}  # today's key to the key of that version
        newest_first = sorted(dialect.variations, key=lambda entry: entry.before, reverse=True)
        for variation in newest_first:
            if version and version < variation.before:
                self.names_then.update(variation.renames)

    @property
    def nothing(self) -> str:
        """The dialect's word for: nothing here. Empty where it has none."""
        return min(self.dialect.off, default="")

    def place(self, target: str, stock: Mapping[str, Value]) -> Placed:
        """The line that states a target; everything else in it is taken from the stock too.

        Lines that state the value as a constant come first: they are the firmware's own way.
        Raises CannotWrite with the reason of the first line that came into question.
        """
        why = ""
        if any(isinstance(piece, Holder) and piece.target == target for piece in self.heads):
            why = f"{target} stands in the head line, which the firmware writes of itself"
        for _, _, line, binds in self._candidates(target):
            try:
                return self.fill(line, binds, stock, target)
            except CannotWrite as error:
                why = why or str(error)
        raise CannotWrite(why or f"{self.dialect.name} has no line for {target}")

    def _candidates(self, target: str) -> list[tuple[bool, int, MappedLine, dict[str, str]]]:
        """Lines with a placeholder for a target: constants first, then the most literal path."""
        found: list[tuple[bool, int, MappedLine, dict[str, str]]] = []
        for line in self.lines:
            for holder in (*line.template.constants, *line.template.holders):
                binds = None if holder.is_index else fits(holder.target, target, line.indices)
                if binds is not None:
                    found.append((holder.constant is None, len(binds), line, binds))
        return sorted(found, key=lambda candidate: candidate[:2])

    def fill(
        self,
        line: MappedLine,
        binds: Mapping[str, str],
        stock: Mapping[str, Value],
        target: str = "",
        empty: bool = False,
    ) -> Placed:
        """The line with its values; where `empty`, with a word for nothing as its value."""
        self._check_constants(line.template, binds, stock, target)
        chain = tuple((part.form, self._head(part, binds)) for part in line.chain)
        template = line.template
        if template.form is Assignment:
            sign = _SIGN.search(_BRACES.sub(lambda found: "\0" * len(found.group()), template.line))
            assert sign is not None  # it was read as an assignment
            key = self._pieces(template.key, binds, stock)
            key = self.names_then.get(template.head, key) if template.head else key
            value = self.nothing if empty else self._value(template, binds, stock)
            text = f"{self._lead()}{key}{sign.group()}{value}".rstrip()
        else:
            text = self._words(template, binds, stock, target)
        if any(ord(letter) < 32 and letter != "\t" for letter in text) or "\x85" in text:
            raise CannotWrite("the value holds a line end or a control character")
        return Placed(chain, text)

    def _lead(self) -> str:
        return f"{self.dialect.look.lead} " if self.dialect.look.lead else ""

    def _check_constants(
        self, template: Template, binds: Mapping[str, str], stock: Mapping[str, Value], target: str
    ) -> None:
        for holder in template.constants:
            path = filled(holder.target, binds)
            try:
                value = read_value(kind_of(path), holder.constant or "")
            except BadValue as error:
                raise CannotWrite(f"{template.line!r}: {error}") from None
            if path not in stock:
                raise CannotWrite(f"the line for it would also state {path}, which is not known")
            if stock[path] != value:
                if path == target:  # a line for another value is no reason by itself
                    raise CannotWrite("")
                raise CannotWrite(f"the line for it would also say {path} = {holder.constant}")

    def _head(self, template: Template, binds: Mapping[str, str]) -> str:
        """A context line as text."""
        texts = iter([self._index(holder, binds) for holder in template.holders])
        return _BRACES.sub(lambda _: next(texts), template.line)

    def _value(
        self, template: Template, binds: Mapping[str, str], stock: Mapping[str, Value]
    ) -> str:
        return "".join(self._pieces(slot.pieces, binds, stock) for slot in template.slots)

    def _words(
        self, template: Template, binds: Mapping[str, str], stock: Mapping[str, Value], target: str
    ) -> str:
        between = " " if template.form is Directive else _between(template.line)
        texts: list[str] = []
        lacking = ""  # an optional value that is not known: nothing by position may follow it
        for slot in template.slots:
            paths = [
                filled(piece.target, binds)
                for piece in slot.pieces
                if isinstance(piece, Holder) and not piece.is_index
            ]
            absent = next((path for path in paths if path not in stock), "")
            if slot.optional and (absent or (lacking and not slot.name)):
                if target in paths:
                    raise CannotWrite(f"its line needs {lacking} too, which is not known")
                lacking = lacking or ("" if slot.name else absent)
                continue
            texts.append(self._slot(slot, binds, stock, between))
        if template.head and texts:
            texts[0] = self.names_then.get(template.head, texts[0])
        return between.join(texts)

    def _slot(
        self, slot: Slot, binds: Mapping[str, str], stock: Mapping[str, Value], between: str
    ) -> str:
        text = self._pieces(slot.pieces, binds, stock)
        many = any(isinstance(piece, Holder) and piece.spec.many for piece in slot.pieces)
        if many:
            text = between.join(text.split())
        elif '"' not in text and (between in text or text != text.strip()):
            text = f'"{text}"'
        return f"{slot.name}={text}" if slot.name else text

    def _pieces(self, pieces: Pieces, binds: Mapping[str, str], stock: Mapping[str, Value]) -> str:
        texts: list[str] = []
        for piece in pieces:
            if isinstance(piece, Holder):
                named = piece.is_index
                text = self._index(piece, binds) if named else self._text(piece, binds, stock)
                texts.append(text)
            else:  # of a word that the dialect does not understand, nothing is known
                texts.append((self.nothing or "-") if piece == ANY else piece)
        return "".join(texts)

    def _index(self, holder: Holder, binds: Mapping[str, str]) -> str:
        """An index in the dump's words."""
        if holder.target not in binds:
            raise CannotWrite(f"which {holder.target} its line is about is not known")
        ours = binds[holder.target]
        table = self.tables.words.get(holder.spec.table)
        if table is not None:
            theirs = next((word for word, own in table.items() if own == ours), None)
            if theirs is None:
                raise CannotWrite(f"the dialect has no word for {ours} in {holder.spec.table}")
            return theirs
        if holder.spec.base != 1:
            if not ours.isdigit():
                raise CannotWrite(f"{ours} is no number to count by")
            return str(int(ours) - 1 + holder.spec.base)
        return ours

    def _text(self, holder: Holder, binds: Mapping[str, str], stock: Mapping[str, Value]) -> str:
        """A value in the dump's spelling."""
        path = filled(holder.target, binds)
        if path not in stock and target_of(path).part == "q":
            value: Value = 0.0  # a stage without a quality
        elif path not in stock:
            raise CannotWrite(f"its line needs {path} too, which is not known")
        else:
            value = stock[path]
        empty = isinstance(value, frozenset | tuple) and not value
        if empty and holder.spec.form is not Form.FLAGS:
            return self.nothing or "none"
        kind = kind_of(path)
        text = write_with(holder.spec, kind, value, self.tables)
        if isinstance(kind, Bool) and holder.spec.form is not Form.WORDS:
            return self.on_off[ON_OFF.index(text)]
        return text


def _between(line: str) -> str:
    return "," if "," in _BRACES.sub("", line) else "\t"


_COUNTED: Final = tuple(str(number) for number in range(1, 100))


@dataclass(frozen=True)
class ListWriter:
    """Writes list settings with the stock of all that is known.

    `counts` has how many elements each list had before: slots that fall free are switched off.
    `slots` has the slots of each list that the dump names, in its order, and whether each is on.
    """

    placer: Placer
    stock: Mapping[str, Value]
    counts: Mapping[str, int]
    slots: Mapping[str, Mapping[str, bool]] = field(default_factory=dict)

    def lines(self, path: str, elements: Sequence[object]) -> list[Placed]:
        """The lines that state a list. Raises CannotWrite."""
        whole, listed, any_name = self._ways(path)
        if whole:
            return [self.placer.place(path, self.stock)]
        labels = list(dict.fromkeys((*self.slots.get(path, ()), *listed)))
        if any_name and not set(labels) - {*listed, *_COUNTED}:
            # the dialect does not list the names of these slots: they are counted
            count = max(len(elements), self.counts.get(path, 0), 1)
            labels = list(dict.fromkeys((*labels, *_COUNTED[:count])))
        if labels:
            return self._in_slots(path, elements, labels)
        if not elements:
            return [self._empty(path)]
        made: list[Placed] = []
        for element in elements:
            parts = {f"{path}.{name}": part for name, part in parts_of(element).items()}
            stock = {**self.stock, **parts}
            made += dict.fromkeys(self.placer.place(target, stock) for target in parts)
        return made

    def _ways(self, path: str) -> tuple[bool, list[str], bool]:
        """Whether one value states it whole; its slots; whether there are slots of any name."""
        whole, any_name = False, False
        labels: list[str] = []
        for line in self.placer.lines:
            tables = {h.target: h.spec.table for h in line.holders if h.is_index}
            for holder in line.template.holders:
                before, bracket, _ = holder.target.partition("[")
                if holder.is_index or fits(before, path, line.indices) is None:
                    continue
                label = target_of(holder.target).label
                words = self.placer.tables.words.get(tables.get(label, ""), {})
                whole = whole or not bracket
                any_name = any_name or (label in tables and not words)
                if bracket:
                    labels += words.values() if label in tables else [label]
        return whole, labels, any_name

    def _empty(self, path: str) -> Placed:
        """The line that says that a list has no element."""
        try:
            return self.placer.place(path, self.stock)  # a constant says it
        except CannotWrite as error:
            why = error
        for line in self.placer.lines:
            goals = {holder.target for holder in line.template.holders if not holder.is_index}
            parents = {goal.rpartition(".")[0] for goal in goals}
            if len(parents) != 1 or line.template.form is not Assignment or not self.placer.nothing:
                continue
            binds = fits(parents.pop(), path, line.indices)
            if binds is not None:
                return self.placer.fill(line, binds, self.stock, empty=True)
        raise why

    def _in_slots(self, path: str, elements: Sequence[object], labels: list[str]) -> list[Placed]:
        """Each element in the first free slot that can hold it; the other slots are off."""
        free = list(labels)
        made: list[Placed] = []
        for element in elements:
            why = CannotWrite(f"the dialect has no more than {len(labels)} places for {path}")
            for label in free:
                try:
                    made += self._slot(path, label, parts_of(element))
                except CannotWrite as error:
                    why = error
                    continue
                free.remove(label)
                break
            else:
                raise why
        there = self.slots.get(path, {})
        for label in free:
            if there.get(label, True):
                made += self._off(path, label)
        return made

    def _slot(self, path: str, label: str, parts: Mapping[str, Value]) -> list[Placed]:
        """The lines that put one element into one slot."""
        own = {f"{path}[{label}].{name}": part for name, part in parts.items()}
        given = self.placer.dialect.given.get(f"{path}[{label}].kind")
        if given is not None and given != parts["kind"]:
            raise CannotWrite(f"the dialect's place for a {given} can't hold a {parts['kind']}")
        own = {goal: part for goal, part in own.items() if not given or not goal.endswith(".kind")}
        stock = {**self.stock, **own}
        return list(dict.fromkeys(self.placer.place(target, stock) for target in own))

    def _off(self, path: str, label: str) -> list[Placed]:
        """The lines that switch one slot off: whatever its kind, a cutoff of 0."""
        for kind in FILTER_KINDS:
            try:
                return self._slot(path, label, {"kind": kind, "cutoff": 0.0})
            except CannotWrite:
                continue
        raise CannotWrite(f"the dialect can't switch off the {label} place of {path}")


def parts_of(element: object) -> dict[str, Value]:
    """One element's parts by name; a stage without a quality has none to state."""
    if isinstance(element, SwitchRange):
        return {"channel": element.channel, "low": element.low, "high": element.high}
    if isinstance(element, Filter):
        parts: dict[str, Value] = {"kind": element.kind, "cutoff": element.cutoff}
        return {**parts, "q": element.q} if element.q else parts
    raise CannotWrite(f"{element} is no element of a list of ranges or stages")
