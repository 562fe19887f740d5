"""Writes settings in a dialect: the dump's own lines, read back before they are given out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cfgaudit.craft.kinds import FILTER_KINDS, Filters, Kind, Switches, value_text
from cfgaudit.craft.settings import Origin, Settings, TroubleKind
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.craft.vocabulary import vocabulary
from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.placing import Placed, Placer, filled, fits, kind_of, lines_of
from cfgaudit.dialects.reader import Reader
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.reading.document import read_document
from cfgaudit.reading.look import Look
from cfgaudit.reading.shapes import Assignment, Opener, Section

_RANKS = {Opener: 0, Section: 2}  # groups lie between: a block would be taken for one of theirs


def write_settings(
    dialect: Dialect,
    values: Mapping[str, Value],
    version: tuple[int, ...] = (),
    known: Settings | None = None,
) -> str:
    """The lines of the dialect that state these values, context lines included.

    A line that states several settings takes those not given from `known`. Raises CannotWrite
    where the dialect can't say a value; what is given out was read back and found equal.
    """
    holds = {
        path: stated.value for path, stated in (known or Settings()).stated.items()
        if not stated.doubt
    }  # fmt: skip
    writer = _Writer(Placer(dialect, version), values, {**holds, **values})
    text = writer.text()
    _check(dialect, text, version, values, holds)
    return text


def mapped_paths(dialect: Dialect) -> frozenset[str]:
    """The patterns of the vocabulary that some line of the dialect states."""
    patterns = [entry.pattern for entry in vocabulary()]
    if dialect.keys_are_paths:
        return frozenset(patterns)
    found: set[str] = set()
    for line in lines_of(dialect.root):
        for holder in (*line.template.holders, *line.template.constants):
            if not holder.is_index:
                path = holder.target.partition("[")[0]
                found |= {
                    pattern
                    for pattern in patterns
                    for way in (path, path.rpartition(".")[0])
                    if _meets(pattern, way)
                }
    return frozenset(found)


def _meets(pattern: str, path: str) -> bool:
    """Whether a placeholder's path falls under a pattern of the vocabulary."""
    wanted, given = pattern.split("."), path.split(".")
    if len(wanted) != len(given):
        return False
    return all(
        a == b or (a.isupper() and (b.isupper() or kind_fits(pattern, path)))
        for a, b in zip(wanted, given, strict=True)
    )


def kind_fits(pattern: str, path: str) -> bool:
    """Whether a path without indices is declared by this very pattern."""
    return next((entry.pattern for entry in vocabulary() if entry.pattern == path), pattern) == (
        pattern
    )


@dataclass
class _Block:
    """The lines under one context line, and the contexts that open inside of it."""

    lines: list[str] = field(default_factory=list)
    inner: dict[tuple[type, str], "_Block"] = field(default_factory=dict)

    def add(self, placed: Placed) -> None:
        """Add a line under its context lines, once."""
        block = self
        for head in placed.chain:
            block = block.inner.setdefault(head, _Block())
        block.lines.append(placed.text)

    def text(self, look: Look) -> list[str]:
        """All lines: a context's own first, then blocks, groups and sections inside of it."""
        found = list(self.lines)
        for (form, head), block in sorted(
            self.inner.items(), key=lambda item: _RANKS.get(item[0][0], 1)
        ):
            found += [head, *block.text(look)]
            if form is Opener:
                found.append(_closing(head, look))
        return found


def _closing(head: str, look: Look) -> str:
    word, _, name = head.partition(" ")
    if head.endswith("{"):
        return "}"
    if word in look.opens and look.closes:
        return look.closes[min(look.opens.index(word), len(look.closes) - 1)]
    return f"end {name}".rstrip() if word not in look.opens else "end"


@dataclass
class _Writer:
    """One writing: what is wanted, and the stock of all that is known."""

    placer: Placer
    values: Mapping[str, Value]
    stock: dict[str, Value]
    block: _Block = field(default_factory=_Block)
    said: set[Placed] = field(default_factory=set)

    def text(self) -> str:
        """The lines of every wanted value."""
        dialect = self.placer.dialect
        for path, value in self.values.items():
            kind = kind_of(path)
            if dialect.keys_are_paths:
                self._say(Placed((), f"{path} = {value_text(kind, value)}"))
            elif isinstance(kind, Switches | Filters):
                self._list(path, kind, value)
            else:
                self._say(self.placer.place(path, self.stock))
        return "\n".join([*self.block.text(dialect.look), ""])

    def _say(self, placed: Placed) -> None:
        if placed not in self.said:
            self.said.add(placed)
            self.block.add(placed)

    def _list(self, path: str, kind: Kind, value: Value) -> None:
        """A list of elements: as one value, by slots that have names, or one line an element."""
        elements = value if isinstance(value, tuple) else ()
        targets = self._targets(path)
        labels = list(dict.fromkeys(target_of(t).label for t in targets if "[" in t))
        if not targets or path in targets:
            self._say(self.placer.place(path, self.stock))
        elif labels:
            self._slots(path, elements, labels)
        elif elements:
            for element in elements:
                part_stock = {f"{path}.{name}": part for name, part in _parts(element).items()}
                for target in part_stock:
                    self._say(self.placer.place(target, {**self.stock, **part_stock}))
        else:
            self._say(self._empty(path))

    def _targets(self, path: str) -> list[str]:
        """What placeholders there are for a setting or for the parts of its elements."""
        found: list[str] = []
        for line in self.placer.lines:
            for holder in line.template.holders:
                if holder.is_index:
                    continue
                parent = holder.target.partition("[")[0]
                for way in (parent, parent.rpartition(".")[0]):
                    binds = fits(way, path, line.indices)
                    if binds is not None:
                        found.append(filled(holder.target, binds))
        return found

    def _empty(self, path: str) -> Placed:
        """The line that says that a list has no element."""
        try:
            return self.placer.place(path, self.stock)  # a constant says it
        except CannotWrite as error:
            why = error
        for line in self.placer.lines:
            goals = {holder.target for holder in line.template.holders if not holder.is_index}
            parents = {goal.rpartition(".")[0] for goal in goals}
            binds = fits(next(iter(parents)), path, line.indices) if len(parents) == 1 else None
            if binds is not None and line.template.form is Assignment and self.placer.nothing:
                return self.placer.fill(line, binds, self.stock, empty=True)
        raise why

    def _slots(self, path: str, elements: Sequence[object], labels: list[str]) -> None:
        """Elements in slots: each in the first free slot that can hold it; the rest are off."""
        before = self.stock_before(path)
        free = [label for label in labels if not label.isupper()]
        if len(free) < len(labels):  # slots of any name
            count = max(len(elements), before, 1)
            free += [str(number) for number in range(1, count + 1) if str(number) not in free]
        for element in elements:
            why: CannotWrite | None = None
            for label in free:
                try:
                    placed = self._slot(path, label, _parts(element))
                except CannotWrite as error:
                    why = why or error
                    continue
                free.remove(label)
                for line in placed:
                    self._say(line)
                break
            else:
                raise why or CannotWrite(f"the dialect has {len(labels)} places for {path}")
        self._switch_off(path, free)

    def stock_before(self, path: str) -> int:
        """How many elements a list had that is about to be written anew."""
        return self.counts.get(path, 0)

    counts: Mapping[str, int] = field(default_factory=dict)

    def _slot(self, path: str, label: str, parts: Mapping[str, Value]) -> list[Placed]:
        """The lines that put one element into one slot."""
        stock = {f"{path}[{label}].{name}": part for name, part in parts.items()}
        given = self.placer.dialect.given.get(f"{path}[{label}].kind")
        placed: list[Placed] = []
        for target, part in stock.items():
            try:
                placed.append(self.placer.place(target, {**self.stock, **stock}))
            except CannotWrite:
                if not (target.endswith(".kind") and given == part):
                    raise
        return list(dict.fromkeys(placed))

    def _switch_off(self, path: str, labels: Sequence[str]) -> None:
        for label in labels:
            for kind in FILTER_KINDS:
                try:
                    placed = self._slot(path, label, {"kind": kind, "cutoff": 0.0})
                except CannotWrite:
                    continue
                for line in placed:
                    self._say(line)
                break
