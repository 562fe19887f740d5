"""What becomes of one setting that two sides may have changed: ours, theirs, both, or a clash."""

from collections.abc import Hashable, Sequence
from typing import NamedTuple

from cfgaudit.vcs.units import Unit

_MISSING = ("nothing is said",)


class Said(NamedTuple):
    """Lines that go into the merged text, and what they set; of ours, so kept to the byte."""

    lines: tuple[str, ...] = ()
    ours: bool = False
    sets: tuple[tuple[str, Hashable], ...] = ()


class Clash(NamedTuple):
    """The same setting, said differently by both sides."""

    ours: Said
    base: Said
    theirs: Said


Choice = Said | Clash | None  # None: it goes


class Verdict(NamedTuple):
    """What becomes of each of our units of one key, and of those of theirs that we lack."""

    ours: list[Choice]
    more: dict[int, Choice]  # by which of their units it is


def said(unit: Unit | None, *, ours: bool = False) -> Said:
    """A unit as it stands; nothing where there is none."""
    if unit is None:
        return Said()
    return Said(unit.lines, ours, tuple((item.key, item.means) for item in unit.items))


def decide(base: Sequence[Unit], ours: Sequence[Unit], theirs: Sequence[Unit]) -> Verdict:
    """Merge the units of one key, in the order of each side."""
    if max(len(base), len(ours), len(theirs)) > 1:
        return _decide_list(base, ours, theirs)
    was = base[0] if base else None
    if ours and theirs:
        return Verdict([meet(was, ours[0], theirs[0])], {})
    if ours:
        if was is None:
            return Verdict([said(ours[0], ours=True)], {})
        if ours[0].sets == was.sets:
            return Verdict([None], {})
        return Verdict([Clash(said(ours[0], ours=True), said(was), Said())], {})
    if not theirs or (was is not None and theirs[0].sets == was.sets):
        return Verdict([], {})
    if was is None:
        return Verdict([], {0: said(theirs[0])})
    return Verdict([], {0: Clash(Said(), said(was), said(theirs[0]))})


def meet(base: Unit | None, ours: Unit, theirs: Unit) -> Said | Clash:
    """Merge two wordings of one statement, value by value."""
    mine, others = ours.sets, theirs.sets
    was = base.sets if base else {}
    clash = Clash(said(ours, ours=True), said(base), said(theirs))
    if mine.keys() != others.keys():
        if mine == was:
            return said(theirs)
        return said(ours, ours=True) if others == was else clash
    taken = []
    for key in mine:
        before = was.get(key, _MISSING)
        if mine[key] != others[key] and others[key] != before:
            if mine[key] != before:
                return clash
            taken.append(key)
    before_tail = base.tail if base else ""
    if len({before_tail, ours.tail, theirs.tail}) == 3 and ours.tail and theirs.tail:
        return clash
    if base is not None and ours.lines == base.lines:
        return said(ours, ours=True) if theirs.lines == ours.lines else said(theirs)
    tail = theirs.tail != before_tail and ours.tail == before_tail
    if not taken and not tail:
        return said(ours, ours=True)
    patched = patch(ours, theirs, taken, tail=tail)
    if patched is None:
        return said(theirs) if mine == was and ours.tail == before_tail else clash
    return patched


def patch(
    ours: Unit, theirs: Unit, keys: Sequence[tuple[str, int]], *, tail: bool = False
) -> Said | None:
    """Our lines with some of their values in place of ours; None where that can't be written."""
    places = [dict(zip(unit.sets, unit.items, strict=True)) for unit in (ours, theirs)]
    edits: set[tuple[int, int, str, str]] = set()
    sets = dict(zip(ours.sets, ((item.key, item.means) for item in ours.items), strict=True))
    for key in keys:
        old, new = places[0][key], places[1][key]
        if old.start < 0 or new.start < 0:
            return None
        edits.add((old.line, old.start, old.text, new.text))
        sets[key] = new.key, new.means
    lines = list(ours.lines)
    if tail:
        head = lines[-1].rstrip().removesuffix(ours.tail)
        lines[-1] = head if ours.tail else head + "  "
        lines[-1] = (lines[-1] + theirs.tail).rstrip()
    for line, start, old_text, new_text in sorted(edits, reverse=True):
        row = lines[line]
        lines[line] = row[:start] + new_text + row[start + len(old_text) :]
    return Said(tuple(lines), False, tuple(sets.values()))


def _decide_list(base: Sequence[Unit], ours: Sequence[Unit], theirs: Sequence[Unit]) -> Verdict:
    """Merge what is said in several statements: one side's, or a clash; never a mixture."""
    was, mine, others = ([unit.sets for unit in side] for side in (base, ours, theirs))
    kept: list[Choice] = [said(unit, ours=True) for unit in ours]
    if others in (was, mine):
        return Verdict(kept, {})
    if mine == was:
        return _take(base, ours, theirs)
    pairs: list[Choice] = []
    for number, unit in enumerate(ours):
        other = theirs[number] if number < len(theirs) else None
        before = said(base[number]) if number < len(base) else Said()
        same = other is not None and other.sets == unit.sets
        own = said(unit, ours=True)
        pairs.append(own if same else Clash(own, before, said(other)))
    rest = list(range(len(ours), len(theirs)))
    if not pairs:
        return Verdict([], {n: Clash(Said(), _nth(base, n), said(theirs[n])) for n in rest})
    for number in rest:
        pairs[-1] = _longer(pairs[-1], said(theirs[number]))
    return Verdict(pairs, {})


def _take(base: Sequence[Unit], ours: Sequence[Unit], theirs: Sequence[Unit]) -> Verdict:
    """Their units in place of ours, which are as they were."""
    taken: list[Choice] = []
    for number, unit in enumerate(ours):
        other = theirs[number] if number < len(theirs) else None
        if other is None:
            taken.append(None)
        elif other.sets == unit.sets:
            taken.append(said(unit, ours=True))
        elif unit.lines == base[number].lines or unit.sets.keys() != other.sets.keys():
            taken.append(said(other))
        else:
            taken.append(patch(unit, other, list(unit.sets)) or said(other))
    return Verdict(taken, {n: said(theirs[n]) for n in range(len(ours), len(theirs))})


def _nth(units: Sequence[Unit], number: int) -> Said:
    return said(units[number]) if number < len(units) else Said()


def _longer(choice: Choice, more: Said) -> Clash:
    """A clash with one more line on their side."""
    clash = choice if isinstance(choice, Clash) else None
    if clash is None:
        assert isinstance(choice, Said)  # of ours, as both sides say it
        clash = Clash(choice, choice._replace(ours=False), choice._replace(ours=False))
    theirs = Said(clash.theirs.lines + more.lines, False, clash.theirs.sets + more.sets)
    return clash._replace(theirs=theirs)
