"""Writes list settings: one line an element, or elements in slots that have names."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from cfgaudit.craft.kinds import FILTER_KINDS
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.placing import Placed, Placer, fits
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.reading.shapes import Assignment

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
