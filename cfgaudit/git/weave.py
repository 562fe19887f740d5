"""What becomes of each unit that two sides may have changed; and the merged text put together."""

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import NamedTuple

from cfgaudit.dialects.patch import Splice, spliced
from cfgaudit.git.pieces import Heads, MergeUnit, PieceKey
from cfgaudit.vocabulary.paths import covers

_MISSING = ("nothing is said",)
_ONE_THING = (  # settings that mean one thing together: half of each side's would mean neither
    ("video.transmitter.band", "video.transmitter.channel", "video.transmitter.frequency"),
    ("ports.*.roles", "ports.*.baud"),
    ("switches.*",),
)


class MergedLines(NamedTuple):
    """Lines that go into the merged text, and what they set; of ours, so kept to the byte."""

    lines: tuple[str, ...] = ()
    ours: bool = False
    sets: tuple[tuple[str, Hashable], ...] = ()


class Clash(NamedTuple):
    """The same setting, said differently by both sides."""

    ours: MergedLines
    base: MergedLines
    theirs: MergedLines


Choice = MergedLines | Clash | None  # None: it goes


class Decision(NamedTuple):
    """What becomes of each of our units of one key, and of those of theirs that we lack."""

    ours: list[Choice]
    more: dict[int, Choice]  # by which of their units it is


def said(unit: MergeUnit | None, *, ours: bool = False) -> MergedLines:
    """A unit as it stands; nothing where there is none."""
    if unit is None:
        return MergedLines()
    return MergedLines(unit.lines, ours, tuple((item.key, item.means) for item in unit.items))


def decide(
    base: Sequence[MergeUnit], ours: Sequence[MergeUnit], theirs: Sequence[MergeUnit]
) -> Decision:
    """Merge the units of one key, in the order of each side."""
    if max(len(base), len(ours), len(theirs)) > 1:
        return _decide_list(base, ours, theirs)
    was = base[0] if base else None
    if ours and theirs:
        return Decision([meet(was, ours[0], theirs[0])], {})
    if ours:
        if was is None:
            return Decision([said(ours[0], ours=True)], {})
        if ours[0].sets == was.sets:
            return Decision([None], {})
        return Decision([Clash(said(ours[0], ours=True), said(was), MergedLines())], {})
    if not theirs or (was is not None and theirs[0].sets == was.sets):
        return Decision([], {})
    if was is None:
        return Decision([], {0: said(theirs[0])})
    return Decision([], {0: Clash(MergedLines(), said(was), said(theirs[0]))})


def meet(base: MergeUnit | None, ours: MergeUnit, theirs: MergeUnit) -> MergedLines | Clash:
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
    ours: MergeUnit, theirs: MergeUnit, keys: Sequence[tuple[str, int]], *, tail: bool = False
) -> MergedLines | None:
    """Our lines with some of their values in place of ours; None where that can't be written."""
    places = [dict(zip(unit.sets, unit.items, strict=True)) for unit in (ours, theirs)]
    splices: list[Splice] = []
    sets = dict(zip(ours.sets, ((item.key, item.means) for item in ours.items), strict=True))
    for key in keys:
        old, new = places[0][key], places[1][key]
        if old.start < 0 or new.start < 0:
            return None
        splices.append(Splice(old.line, old.start, old.start + len(old.text), new.text))
        sets[key] = new.key, new.means
    lines = list(ours.lines)
    if tail:
        head = lines[-1].rstrip().removesuffix(ours.tail)
        lines[-1] = head if ours.tail else head + "  "
        lines[-1] = (lines[-1] + theirs.tail).rstrip()
    return MergedLines(tuple(spliced(lines, splices)), False, tuple(sets.values()))


def _decide_list(
    base: Sequence[MergeUnit], ours: Sequence[MergeUnit], theirs: Sequence[MergeUnit]
) -> Decision:
    """Merge what is said in several statements: one side's, or a clash; never a mixture."""
    was, mine, others = ([unit.sets for unit in side] for side in (base, ours, theirs))
    kept: list[Choice] = [said(unit, ours=True) for unit in ours]
    if others in (was, mine):
        return Decision(kept, {})
    if mine == was:
        return _take(base, ours, theirs)
    pairs: list[Choice] = []
    for number, unit in enumerate(ours):
        other = theirs[number] if number < len(theirs) else None
        before = said(base[number]) if number < len(base) else MergedLines()
        same = other is not None and other.sets == unit.sets
        own = said(unit, ours=True)
        pairs.append(own if same else Clash(own, before, said(other)))
    rest = list(range(len(ours), len(theirs)))
    if not pairs:
        return Decision([], {n: Clash(MergedLines(), _nth(base, n), said(theirs[n])) for n in rest})
    for number in rest:
        more = said(theirs[number])
        pairs[-1] = _longer(pairs[-1], more._replace(lines=(*theirs[number].lead, *more.lines)))
    return Decision(pairs, {})


def _take(
    base: Sequence[MergeUnit], ours: Sequence[MergeUnit], theirs: Sequence[MergeUnit]
) -> Decision:
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
    return Decision(taken, {n: said(theirs[n]) for n in range(len(ours), len(theirs))})


def _nth(units: Sequence[MergeUnit], number: int) -> MergedLines:
    return said(units[number]) if number < len(units) else MergedLines()


def _longer(choice: Choice, more: MergedLines) -> Clash:
    """A clash with one more line on their side."""
    clash = choice if isinstance(choice, Clash) else None
    if clash is None:
        assert isinstance(choice, MergedLines)  # of ours, as both sides say it
        clash = Clash(choice, choice._replace(ours=False), choice._replace(ours=False))
    theirs = MergedLines(clash.theirs.lines + more.lines, False, clash.theirs.sets + more.sets)
    return clash._replace(theirs=theirs)


UnitsByKey = Mapping[PieceKey, Sequence[MergeUnit]]
Name = tuple[PieceKey, int]  # a unit of one side: its key, and which of that key


@dataclass
class MergedPiece:
    """One unit of the merged text: where it stands, the lines above it, what it says.

    `number` tells which unit of its key it is, in the order in which they are to be said. `choice`
    None is a gap: where something stood that went, or only the lines above it are left.
    """

    unit: MergeUnit
    lead: MergedLines
    choice: Choice
    number: int = 0

    @property
    def stays(self) -> bool:
        """Whether it says something."""
        return self.choice is not None


class Weave:
    """Three dumps as units, and the merged one as pieces, in the order of ours."""

    def __init__(
        self, base: Sequence[MergeUnit], ours: Sequence[MergeUnit], theirs: Sequence[MergeUnit]
    ) -> None:
        self._base, self._ours, self._theirs = _named(base), _named(ours), _named(theirs)
        self.pieces: list[MergedPiece] = []
        self._of: dict[Name, MergedPiece] = {}
        self._more: dict[Name, Choice] = {}
        self._order = list(self._theirs)
        self._rank = {name: rank for rank, name in enumerate(self._order)}
        self._heads: dict[Heads, list[MergedPiece]] = {}
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
        self._join_clashes()

    def _decide(self) -> None:
        sides = [_by_key(side) for side in (self._base, self._ours, self._theirs)]
        chosen: dict[Name, Choice] = {}
        for key in dict.fromkeys([*sides[1], *sides[2]]):
            if key[0] == "set":
                verdict = decide(*(side.get(key, []) for side in sides))
                chosen |= {(key, n): choice for n, choice in enumerate(verdict.ours)}
                self._more |= {(key, n): choice for n, choice in verdict.more.items()}
        for keys in _torn_apart(sides):
            self._clash(keys, sides, chosen)
        for name, unit in self._ours.items():
            choice = chosen[name] if unit.is_setting else self._other(name, unit)
            self._add(name, MergedPiece(unit, self._lead(name, unit, choice), choice, name[1]))

    def _clash(
        self, keys: Iterable[PieceKey], sides: Sequence[UnitsByKey], chosen: dict[Name, Choice]
    ) -> None:
        """Make a clash of all units of some keys that the sides do not have alike."""
        for key in keys:
            base, ours, theirs = (side.get(key, []) for side in sides)
            made = {**chosen, **self._more}
            if any(isinstance(made.get((key, n)), Clash) for n in range(len(ours) + len(theirs))):
                continue  # it is one already
            for n in range(max(len(ours), len(theirs))):
                clash = Clash(_nth(ours, n)._replace(ours=True), _nth(base, n), _nth(theirs, n))
                if clash.ours.sets != clash.theirs.sets:
                    (chosen if n < len(ours) else self._more)[key, n] = clash

    def _add(self, name: Name, piece: MergedPiece, index: int | None = None) -> None:
        """Put a piece in, at the end if not told otherwise."""
        self.pieces.insert(len(self.pieces) if index is None else index, piece)
        self._of[name] = piece
        if piece.unit.opens is not None:
            self._heads.setdefault(piece.unit.opens, []).append(piece)

    def _other(self, name: Name, unit: MergeUnit) -> Choice:
        """What becomes of a line of ours that sets nothing; heads are looked at in the end."""
        own = said(unit, ours=True)
        was, other = self._base.get(name), self._theirs.get(name)
        if name[0][0] in ("line", "unread", "noise", "end") and was and not other:
            return None
        if name[0][0] == "bottom" or other is None:
            return own
        before = was.lines if was else ()
        if other.lines in (before, unit.lines) or unit.lines == before:
            return own if unit.lines != before or other.lines == before else said(other)
        if not (other.tail and unit.tail) or other.tail == unit.tail:  # one says less
            return own if unit.tail else said(other)
        return Clash(own, said(was), said(other))

    def _lead(self, name: Name, unit: MergeUnit, choice: Choice) -> MergedLines:
        """The comments and blank lines above a unit: merged, and none of either side's lost."""
        was = self._base[name].lead if name in self._base else ()
        if choice is None:
            lines = _said_more((*unit.lead, unit.tail), self._notes_of(name))
            return MergedLines(lines) if lines else MergedLines()
        theirs = self._theirs[name].lead if name in self._theirs else was
        if theirs in (was, unit.lead):
            return MergedLines(unit.lead, ours=True)
        if unit.lead == was:
            return MergedLines(theirs)
        new = _new(theirs, was, unit.lead)
        return MergedLines((*unit.lead, *new)) if new else MergedLines(unit.lead, ours=True)

    def _notes_of(self, name: Name) -> tuple[str, ...]:
        """The comments of a unit of the base: those above it, and the one behind it."""
        unit = self._base.get(name)
        return () if unit is None else (*unit.lead, unit.tail)

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
        lines = _said_more((*unit.lead, unit.tail), self._notes_of(name))
        if not lines:
            return
        before = (self._order[rank] for rank in range(self._rank[name] - 1, -1, -1))
        known = (self._of[other] for other in before if other in self._of)
        index = next((self._index(piece) + 1 for piece in known), 0)
        self._add(name, MergedPiece(unit, MergedLines(lines), None, name[1]), index)

    def _put(self, name: Name, unit: MergeUnit, choice: Choice) -> None:
        if name in self._of:
            return
        for depth in range(1, len(unit.heads) + 1):
            self._ensure(unit.heads[:depth])
        if name in self._of:  # it was the end of a block that had to be opened again
            return
        piece = MergedPiece(unit, MergedLines(unit.lead), choice, name[1])
        self._add(name, piece, self._spot(name, unit))

    def _ensure(self, heads: Heads) -> None:
        """Bring back a head that we took out, with the end of its block."""
        if any(piece.stays for piece in self._heads.get(heads, ())):
            return
        for name in self._order:
            unit = self._theirs[name]
            if unit.opens == heads or (unit.closes and unit.heads == heads):
                self._put(name, unit, said(unit))

    def _spot(self, name: Name, unit: MergeUnit) -> int:
        """Where a unit of theirs goes: behind what stands before it there."""
        if unit.closes:
            return self._end_of(unit.heads)
        before = (self._order[rank] for rank in range(self._rank[name] - 1, -1, -1))
        spots = (self._behind(other, unit) for other in before)
        index = next((spot for spot in spots if spot is not None), 0)
        earlier = self._of.get((name[0], name[1] - 1))  # what is said twice holds as said last
        if earlier is not None and earlier.unit.heads == unit.heads:
            index = max(index, self._index(earlier) + 1)
        # behind what we added there; and a head behind all lines that it would take for its own
        while index < len(self.pieces) and _is_plain(self.pieces[index].unit, unit.heads):
            if unit.opens is None and id(self.pieces[index].unit) not in self._added:
                break
            index += 1
        return index

    def _behind(self, name: Name, unit: MergeUnit) -> int | None:
        """The index for a unit right behind another one of theirs; None where that can't be."""
        other, piece = self._theirs[name], self._of.get(name)
        if piece is None:
            return None
        if other.opens is not None and other.heads == unit.heads:
            return self._end_of(other.opens)
        as_head = other.opens == unit.heads and other.opens is not None
        beside = other.heads == unit.heads == piece.unit.heads and not other.closes
        if not (as_head or beside):
            return None
        return self._index(piece) + 1

    def _index(self, piece: MergedPiece) -> int:
        """Where a piece stands; what was put in last is found first."""
        last = len(self.pieces) - 1
        return next(n for n in range(last, -1, -1) if self.pieces[n] is piece)

    def _end_of(self, heads: Heads) -> int:
        """The index behind everything that stands under a head, the head included."""
        for index in range(len(self.pieces), 0, -1):
            unit = self.pieces[index - 1].unit
            if unit.opens == heads or _is_under(unit, heads):
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
                        piece.lead, piece.choice = MergedLines(), None
                head = self._of[name]
                head.lead, head.choice = self._lead(name, unit, None), None

    def _join_clashes(self) -> None:
        """Make one conflict of what would be several: of a section gone, of a list of rows."""
        named = (self._ours, self._base, self._theirs)
        sides: list[Sequence[MergeUnit]] = [list(side.values()) for side in named]
        for heads in sorted(self._heads, key=len):
            there = [any(u.opens == heads for u in side) for side in sides]
            if there[1] and not (there[0] and there[2]):
                runs: list[Sequence[MergeUnit]] = [
                    [u for u in side if _is_in(u, heads)] for side in sides
                ]
                self._join([piece for piece in self.pieces if _is_in(piece.unit, heads)], runs)
        for key in dict.fromkeys(piece.unit.key for piece in self.pieces):
            clashing = [p for p in self.pieces if p.unit.key == key and isinstance(p.choice, Clash)]
            runs = [_run_of(side, key) for side in sides]
            if clashing and max(sum(u.key == key for u in run) for run in runs) > 1:
                own = {id(unit) for run in runs for unit in run}
                at = [n for n, piece in enumerate(self.pieces) if id(piece.unit) in own]
                if at:  # where another line parts ours, each clash stays by itself
                    self._join(self.pieces[at[0] : at[-1] + 1], runs)

    def _join(self, pieces: Sequence[MergedPiece], runs: Sequence[Sequence[MergeUnit]]) -> None:
        """Put one conflict of the runs of units in place of the pieces, if they are just those."""
        own = {id(unit) for run in runs for unit in run}
        if not any(isinstance(piece.choice, Clash) for piece in pieces):
            return
        if any(piece.stays and id(piece.unit) not in own for piece in pieces):
            return
        ours, base, theirs = map(_all_said, runs)
        first = pieces[0]
        first.choice = Clash(ours, base, theirs)
        for piece in pieces[1:]:
            piece.lead, piece.choice = MergedLines(), None

    def _matters(self, unit: MergeUnit) -> bool:
        """Whether a head must stay for this unit below it."""
        if unit.opens is not None:
            name = (unit.key, 0)
            return name in self._theirs or name not in self._base
        return unit.key[0] in ("set", "line", "unread")


def _is_in(unit: MergeUnit, heads: Heads) -> bool:
    return unit.opens == heads or _is_under(unit, heads)


def _run_of(side: Sequence[MergeUnit], key: PieceKey) -> Sequence[MergeUnit]:
    """The units of one key with their heads; none where something else stands between them."""
    at = [number for number, unit in enumerate(side) if unit.key == key]
    if not at:
        return ()
    start = at[0]
    many = any(unit.opens for unit in side[at[0] : at[-1]])  # then the first head belongs to it too
    while many and start and _is_under(side[at[0]], side[start - 1].opens or ()):
        start -= 1
    run = side[start : at[-1] + 1]
    return run if all(unit.key == key or unit.opens or unit.closes for unit in run) else ()


def _all_said(units: Sequence[MergeUnit]) -> MergedLines:
    """Units one below the other, with the comments between them."""
    lines = [line for n, u in enumerate(units) for line in (*(u.lead if n else ()), *u.lines)]
    return MergedLines(
        tuple(lines), False, tuple((item.key, item.means) for u in units for item in u.items)
    )


def _new(lines: Iterable[str], *known: Sequence[str]) -> tuple[str, ...]:
    """Those of the lines above a unit that say something and stand there more often than known."""
    left = reduce(or_, map(Counter, known), Counter[str]())
    new = []
    for line in filter(str.strip, lines):
        if left[line]:
            left[line] -= 1
        else:
            new.append(line)
    return tuple(new)


def _said_more(lines: Sequence[str], known: Sequence[str]) -> tuple[str, ...]:
    """Those that say something and stand there more often than known, all of them."""
    now, before = Counter(lines), Counter(known)
    return tuple(line for line in lines if line.strip() and now[line] > before[line])


def _is_under(unit: MergeUnit, heads: Heads) -> bool:
    return bool(heads) and unit.heads[: len(heads)] == heads


def _is_plain(unit: MergeUnit, heads: Heads) -> bool:
    return unit.heads == heads and unit.key[0] in ("set", "line", "unread")


def _torn_apart(sides: Sequence[UnitsByKey]) -> Iterator[Iterable[PieceKey]]:
    """The keys of what means one thing together, where the merge would be neither side's."""
    stated: dict[tuple[object, ...], list[dict[str, list[Hashable]]]] = {}
    keys: dict[tuple[object, ...], dict[PieceKey, None]] = {}
    for number, side in enumerate(sides):
        for key, units in side.items():
            for item in (item for unit in units for item in unit.items):
                for which, patterns in enumerate(_ONE_THING):
                    if any(covers(pattern, item.key) for pattern in patterns):
                        group = (which, *item.key.split(".")[:2])
                        values = stated.setdefault(group, [{}, {}, {}])[number]
                        values.setdefault(item.key, []).append(item.means)
                        keys.setdefault(group, {})[key] = None
    for group, (was, mine, others) in stated.items():
        apart = [k for k in {*mine, *others} if mine.get(k) != others.get(k)]
        if not all(mine.get(k) == was.get(k) for k in apart) and not all(
            others.get(k) == was.get(k) for k in apart
        ):
            yield keys[group]


def _named(units: Iterable[MergeUnit]) -> dict[Name, MergeUnit]:
    counts: Counter[PieceKey] = Counter()
    found: dict[Name, MergeUnit] = {}
    for unit in units:
        found[unit.key, counts[unit.key]] = unit
        counts[unit.key] += 1
    return found


def _by_key(side: dict[Name, MergeUnit]) -> dict[PieceKey, list[MergeUnit]]:
    found: dict[PieceKey, list[MergeUnit]] = {}
    for (key, _), unit in side.items():
        found.setdefault(key, []).append(unit)
    return found
