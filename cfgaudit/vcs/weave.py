"""Puts a merged dump together: our text, with what the other side brought where it belongs."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cfgaudit.vcs.decide import Choice, Said, decide, said
from cfgaudit.vcs.stating import Context
from cfgaudit.vcs.units import Key, Unit

Name = tuple[Key, int]  # a unit of one side: its key, and which of that key


@dataclass
class Piece:
    """One unit of the merged text: where it stands, the lines above it, what it says.

    `number` tells which unit of its key it is, in the order in which they are to be said. `choice`
    None is a gap: where something stood that went, or only the lines above it are left.
    """

    unit: Unit
    lead: Said
    choice: Choice
    number: int = 0

    @property
    def stays(self) -> bool:
        """Whether it says something."""
        return self.choice is not None


class Weave:
    """Three dumps as units, and the merged one as pieces, in the order of ours."""

    def __init__(self, base: Sequence[Unit], ours: Sequence[Unit], theirs: Sequence[Unit]) -> None:
        self._base, self._ours, self._theirs = _named(base), _named(ours), _named(theirs)
        self.pieces: list[Piece] = []
        self._of: dict[Name, Piece] = {}
        self._more: dict[Name, Choice] = {}
        self._order = list(self._theirs)
        self._rank = {name: rank for rank, name in enumerate(self._order)}
        self._heads: dict[Context, list[Piece]] = {}
        alone = self._ours.keys() - self._base.keys() - self._theirs.keys()
        self._added = {id(self._ours[name]) for name in alone}
        self._decide()
        for name in self._order:
            if name not in self._ours:
                self._bring(name)
        for name in self._order:
            if name in self._base and name not in self._of:
                self._keep_note(name)
        self._drop_empty_heads()

    def _decide(self) -> None:
        sides = [_by_key(side) for side in (self._base, self._ours, self._theirs)]
        chosen: dict[Name, Choice] = {}
        for key in dict.fromkeys([*sides[1], *sides[2]]):
            if key[0] == "set":
                verdict = decide(*(side.get(key, []) for side in sides))
                chosen |= {(key, n): choice for n, choice in enumerate(verdict.ours)}
                self._more |= {(key, n): choice for n, choice in verdict.more.items()}
        for name, unit in self._ours.items():
            choice = chosen[name] if unit.is_setting else self._other(name, unit)
            self._add(name, Piece(unit, self._lead(name, unit, choice), choice, name[1]))

    def _add(self, name: Name, piece: Piece, index: int | None = None) -> None:
        """Put a piece in, at the end if not told otherwise."""
        self.pieces.insert(len(self.pieces) if index is None else index, piece)
        self._of[name] = piece
        if piece.unit.opens is not None:
            self._heads.setdefault(piece.unit.opens, []).append(piece)

    def _other(self, name: Name, unit: Unit) -> Choice:
        """What becomes of a line of ours that sets nothing; heads are looked at in the end."""
        own = said(unit, ours=True)
        was, other = self._base.get(name), self._theirs.get(name)
        if name[0][0] in ("line", "unread", "noise", "end") and was and not other:
            return None
        if name[0][0] == "bottom" or was is None or other is None or was.lines != unit.lines:
            return own
        return own if other.lines == unit.lines else said(other)

    def _lead(self, name: Name, unit: Unit, choice: Choice) -> Said:
        """The comments and blank lines above a unit: merged, and none of either side's lost."""
        was = self._base[name].lead if name in self._base else ()
        if choice is None:
            return Said(unit.lead, ours=True) if _new(unit.lead, was) else Said()
        theirs = self._theirs[name].lead if name in self._theirs else was
        if theirs in (was, unit.lead):
            return Said(unit.lead, ours=True)
        if unit.lead == was:
            return Said(theirs)
        new = _new(theirs, (*was, *unit.lead))
        return Said((*unit.lead, *new)) if new else Said(unit.lead, ours=True)

    def _bring(self, name: Name) -> None:
        """Put a unit of theirs that we lack in its place, if it is to come."""
        unit = self._theirs[name]
        if name in self._more:
            self._put(name, unit, self._more[name])
        elif not unit.is_setting and name not in self._base:
            self._put(name, unit, said(unit))

    def _keep_note(self, name: Name) -> None:
        """Keep the comments that they put above what we took out."""
        unit = self._theirs[name]
        lines = _new(unit.lead, self._base[name].lead)
        if not lines:
            return
        before = (self._order[rank] for rank in range(self._rank[name] - 1, -1, -1))
        known = (self._of[other] for other in before if other in self._of)
        index = next((self._index(piece) + 1 for piece in known), 0)
        self._add(name, Piece(unit, Said(lines), None, name[1]), index)

    def _put(self, name: Name, unit: Unit, choice: Choice) -> None:
        if name in self._of:
            return
        for depth in range(1, len(unit.context) + 1):
            self._ensure(unit.context[:depth])
        if name in self._of:  # it was the end of a block that had to be opened again
            return
        piece = Piece(unit, Said(unit.lead), choice, name[1])
        self._add(name, piece, self._spot(name, unit))

    def _ensure(self, context: Context) -> None:
        """Bring back a head that we took out, with the end of its block."""
        if any(piece.stays for piece in self._heads.get(context, ())):
            return
        for name in self._order:
            unit = self._theirs[name]
            if unit.opens == context or (unit.closes and unit.context == context):
                self._put(name, unit, said(unit))

    def _spot(self, name: Name, unit: Unit) -> int:
        """Where a unit of theirs goes: behind what stands before it there."""
        if unit.closes:
            return self._end_of(unit.context)
        before = (self._order[rank] for rank in range(self._rank[name] - 1, -1, -1))
        spots = (self._behind(other, unit) for other in before)
        index = next((spot for spot in spots if spot is not None), 0)
        earlier = self._of.get((name[0], name[1] - 1))  # what is said twice holds as said last
        if earlier is not None and earlier.unit.context == unit.context:
            index = max(index, self._index(earlier) + 1)
        # behind what we added there; and a head behind all lines that it would take for its own
        while index < len(self.pieces) and _is_plain(self.pieces[index].unit, unit.context):
            if unit.opens is None and id(self.pieces[index].unit) not in self._added:
                break
            index += 1
        return index

    def _behind(self, name: Name, unit: Unit) -> int | None:
        """The index for a unit right behind another one of theirs; None where that can't be."""
        other, piece = self._theirs[name], self._of.get(name)
        if piece is None:
            return None
        if other.opens is not None and other.context == unit.context:
            return self._end_of(other.opens)
        as_head = other.opens == unit.context and other.opens is not None
        beside = other.context == unit.context == piece.unit.context and not other.closes
        if not (as_head or beside):
            return None
        return self._index(piece) + 1

    def _index(self, piece: Piece) -> int:
        """Where a piece stands; what was put in last is found first."""
        last = len(self.pieces) - 1
        return next(n for n in range(last, -1, -1) if self.pieces[n] is piece)

    def _end_of(self, context: Context) -> int:
        """The index behind everything that stands under a head, the head included."""
        for index in range(len(self.pieces), 0, -1):
            unit = self.pieces[index - 1].unit
            if unit.opens == context or _is_under(unit, context):
                return index
        return len(self.pieces)

    def _drop_empty_heads(self) -> None:
        """Take out the heads that they took out, where nothing is left below them."""
        for name, unit in self._ours.items():
            opens = unit.opens
            if opens is None or name in self._theirs or name not in self._base:
                continue
            below = [piece for piece in self.pieces if _is_under(piece.unit, opens)]
            if not any(piece.stays and self._matters(piece.unit) for piece in below):
                for piece in below:
                    if piece.stays:
                        piece.lead, piece.choice = Said(), None
                head = self._of[name]
                head.lead, head.choice = self._lead(name, unit, None), None

    def _matters(self, unit: Unit) -> bool:
        """Whether a head must stay for this unit below it."""
        if unit.opens is not None:
            name = (unit.key, 0)
            return name in self._theirs or name not in self._base
        return unit.key[0] in ("set", "line", "unread")


def _new(lines: Iterable[str], known: Sequence[str]) -> tuple[str, ...]:
    """Those of the lines above a unit that say something and are not known."""
    return tuple(line for line in lines if line.strip() and line not in known)


def _is_under(unit: Unit, context: Context) -> bool:
    return bool(context) and unit.context[: len(context)] == context


def _is_plain(unit: Unit, context: Context) -> bool:
    return unit.context == context and unit.key[0] in ("set", "line", "unread")


def _named(units: Iterable[Unit]) -> dict[Name, Unit]:
    counts: Counter[Key] = Counter()
    found: dict[Name, Unit] = {}
    for unit in units:
        found[unit.key, counts[unit.key]] = unit
        counts[unit.key] += 1
    return found


def _by_key(side: dict[Name, Unit]) -> dict[Key, list[Unit]]:
    found: dict[Key, list[Unit]] = {}
    for (key, _), unit in side.items():
        found.setdefault(key, []).append(unit)
    return found
