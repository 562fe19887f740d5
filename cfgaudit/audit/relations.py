"""What holds between the settings of a fleet's craft: learnt from them, and offered as limits.

Five sorts: two settings are equal, one is at most the other, one is so many times the other, two
make a third, and where one is so the other is so. A relation is told where at least twenty craft
state its settings, nearly all of them keep it, and chance would not: if the settings were drawn
each by itself, as often as in the fleet, so many craft keeping it would come up less than once in
a hundred fleets, by Chernoff's bound on the binomial tail, over all the relations that were tried
(Bonferroni). The craft that break one are odd, which is not wrong.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import reduce
from itertools import combinations
from math import isclose, log
from operator import or_
from typing import NamedTuple

from cfgaudit.audit.odd import (
    Columns,
    FleetRow,
    columns_of,
    compared,
    number,
)
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Quantity
from cfgaudit.vocabulary.paths import declared
from cfgaudit.vocabulary.units import number_text

LEAST = 20  # craft that state the settings
_KEPT = 0.95  # of them keep it
_LUCK = 0.01
_VALUES = 12  # different values, at most, of a setting on which another hangs
_SIBLINGS = 8  # settings side by side, at most, among which sums are looked for
_SLACK = 0.03  # a ratio is told where it varies no more: dumps round
_TOLD = 40  # of each sort
_NAMES = 50  # craft that are named


class Relation(NamedTuple):
    """What holds between settings. `kind` is equal, ordered, ratio, sum or if_then.

    equal, ordered: paths[0] is equal to, or at most, paths[1]. ratio: paths[0] is from low to
    high times paths[1]. sum: paths[0] is the others together. if_then: where paths[1] is `when`,
    paths[0] is `then`.
    """

    kind: str
    paths: tuple[str, ...]
    low: float = 1.0
    high: float = 1.0
    when: str = ""
    then: str = ""

    def kept(self, values: Mapping[str, str]) -> bool | None:
        """Whether a craft keeps it; None where it does not state the settings, or need not."""
        if self.kind == "if_then":
            then, when = (values.get(path) for path in self.paths)
            return None if then is None or when != self.when else then == self.then
        numbers = [number(path, values[path]) for path in self.paths if path in values]
        known = [found for found in numbers if found is not None]
        if len(known) < len(self.paths):
            return None
        return _kept(self, known)

    @property
    def says(self) -> str:
        """The relation in words."""
        first, *rest = self.paths
        if self.kind == "equal":
            return f"{first} is {rest[0]}"
        if self.kind == "ordered":
            return f"{first} is at most {rest[0]}"
        if self.kind == "ratio":
            low, high = number_text(round(self.low, 4)), number_text(round(self.high, 4))
            times = low if low == high else f"{low} to {high}"
            return f"{first} is {times} times {rest[0]}"
        if self.kind == "sum":
            return f"{first} is {' and '.join(rest)} together"
        return f"where {rest[0]} is {self.when}, {first} is {self.then}"


class LearntRelation(NamedTuple):
    """A relation, the craft that could keep it, and those that break it."""

    relation: Relation
    craft: int
    breaking: int
    names: tuple[str, ...]  # of those that break it, the first fifty in order

    def limit(self, level: str = "note") -> str:
        """The relation as `[[limit]]` tables for a house's settings file."""
        kept = f"{self.craft - self.breaking} of {self.craft} craft have it so"
        return "\n\n".join(_tables(self.relation, level, kept))


def _kept(relation: Relation, numbers: Sequence[float]) -> bool:
    first, *rest = numbers
    if relation.kind == "ordered":
        return first <= rest[0]
    if relation.kind == "ratio":
        low, high = sorted((relation.low * rest[0], relation.high * rest[0]))
        return low - 1e-9 <= first <= high + 1e-9
    return isclose(first, sum(rest), abs_tol=1e-9)


def _tables(relation: Relation, level: str, because: str) -> Iterator[str]:
    first, *rest = relation.paths
    names = ", ".join(f'"{path}"' for path in rest)
    wanted: list[str]
    when = ""
    if relation.kind == "if_then":
        wanted = [f"equals = {_quoted(relation.then)}"]
        when = f'when = {{ setting = "{rest[0]}", equals = {_quoted(relation.when)} }}\n'
    elif relation.kind == "ratio":
        wanted = [
            f'{word} = {{ setting = "{rest[0]}", times = {number_text(times)} }}'
            for word, times in (("at_least", relation.low), ("at_most", relation.high))
        ]
    elif relation.kind == "sum":
        wanted = [f"equals = {{ sum = [{names}] }}"]
    else:
        word = "equals" if relation.kind == "equal" else "at_most"
        wanted = [f"{word} = {{ setting = {names} }}"]
    for line in wanted:
        yield (
            f'[[limit]]\nsetting = "{first}"\n{line}\n{when}'
            f'level = "{level}"\nbecause = "{because}"'
        )


def _quoted(text: str) -> str:
    """A value's text as a TOML string."""
    return f"'{text}'" if '"' in text else f'"{text}"'


class RelationsLearning:
    """Learns relations from the craft of a fleet, shown one after another.

    They are looked for in a sample, and counted over all.
    """

    def __init__(self, sample: Sequence[FleetRow]) -> None:
        self._found = [relation for _, relation in _candidates(sample)]
        self._craft = [0] * len(self._found)
        self._breaking = [0] * len(self._found)
        self._names: list[list[str]] = [[] for _ in self._found]

    def add(self, block: Columns) -> None:
        """Count some craft; what several of them have is looked at once."""
        for at, relation in enumerate(self._found):
            paths = relation.paths
            shown = list(block.together(paths[0], paths[1:]))
            broken: set[tuple[str | None, ...]] = set()
            for values, n in Counter(shown).items():
                stated = {p: v for p, v in zip(paths, values, strict=True) if v is not None}
                kept = relation.kept(stated)
                if kept is not None:
                    self._craft[at] += n
                    if not kept:
                        self._breaking[at] += n
                        broken.add(values)
            if broken:
                pairs = zip(block.names, shown, strict=True)
                names = [*self._names[at], *(name for name, values in pairs if values in broken)]
                self._names[at] = sorted(names)[:_NAMES]

    def learnt(self) -> tuple[LearntRelation, ...]:
        """The relations that most craft keep, those first that chance explains least."""
        every = [
            LearntRelation(relation, craft, breaking, tuple(names))
            for relation, craft, breaking, names in zip(
                self._found, self._craft, self._breaking, self._names, strict=True
            )
        ]
        return tuple(one for one in every if one.craft >= LEAST and one.breaking <= 0.1 * one.craft)


class _Column(NamedTuple):
    """The numbers of one setting, craft by craft; None where it is not stated."""

    path: str
    numbers: tuple[float | None, ...]
    values: int  # different ones


def _candidates(rows: Sequence[FleetRow]) -> list[tuple[float, Relation]]:
    varied = {
        path: column
        for path, column in sorted(columns_of(rows).values.items())
        if compared(path) and not _is_comfort(path) and _varies(column)
    }
    numbers = [_numbers(path, column) for path, column in varied.items()]
    columns = [column for column in numbers if column is not None]
    tried: list[tuple[float, Relation]] = []
    total = 0
    for sort in (_equal_or_ratio, _ordered, _sums):
        worth = list(sort(columns))
        total += len(worth)
        tried += [entry for entry in worth if entry[0] > 0]
    implied = list(_implied(varied))
    total += len(implied)
    tried += [entry for entry in implied if entry[0] > 0]
    least = log(max(1, total) / _LUCK)
    sure = [entry for entry in tried if entry[0] >= least]
    return _plain(sorted(sure, key=lambda entry: (-round(entry[0], 6), entry[1])))


def _is_comfort(path: str) -> bool:
    """Whether a setting moves nothing but what is seen or heard: where words stand on a screen."""
    found = declared(path)
    return found is not None and found.cls is Class.COMFORT


def _plain(found: Sequence[tuple[float, Relation]]) -> list[tuple[float, Relation]]:
    """The best of each sort; of what hangs on another setting, once for each setting and value.

    Nothing is said to be equal or a multiple that follows from what was said before, nor to be
    ordered where it is equal or a multiple.
    """
    taken: list[tuple[float, Relation]] = []
    said: Counter[object] = Counter()
    tied = {frozenset(r.paths) for _, r in found if r.kind in ("equal", "ratio")}
    root: dict[str, str] = {}  # of each setting, one that it is tied to
    for worth, relation in found:
        key: object = relation.kind
        once: object = relation
        if relation.kind == "if_then":
            once = relation.paths[0], relation.then
        elif relation.kind == "ordered" and frozenset(relation.paths) in tied:
            continue
        elif relation.kind in ("equal", "ratio"):
            one, two = (root.get(path, path) for path in relation.paths)
            if one == two:
                continue
            root |= {path: one for path, top in root.items() if top == two}
            root |= {two: one, relation.paths[0]: one, relation.paths[1]: one}
        if said[once] or said[key] >= _TOLD:
            continue
        said[once] += 1
        said[key] += 1
        taken.append((worth, relation))
    return taken


def _varies(column: Sequence[str | None]) -> bool:
    """Whether a setting is stated often enough, and not nearly always the same."""
    counts = Counter(text for text in column if text is not None)
    stated = counts.total()
    return stated >= LEAST and max(counts.values()) <= _KEPT * stated


def _numbers(path: str, column: Sequence[str | None]) -> _Column | None:
    found = tuple(None if text is None else number(path, text) for text in column)
    known = {value for value in found if value is not None}
    return _Column(path, found, len(known)) if len(known) >= 3 else None


def _pairs(
    columns: Sequence[_Column],
) -> Iterator[tuple[_Column, _Column, list[tuple[float, float]]]]:
    """Settings of one area in one unit, with the numbers of the craft that state both."""
    for one, two in combinations(columns, 2):
        if _family(one.path) == _family(two.path):
            both = [
                (a, b)
                for a, b in zip(one.numbers, two.numbers, strict=True)
                if a is not None and b is not None
            ]
            if len(both) >= LEAST:
                yield one, two, both


def _family(path: str) -> tuple[str, str]:
    found = declared(path)
    unit = found.kind.unit if found is not None else ""
    return path.partition(".")[0], unit or path.rpartition(".")[2]  # bare numbers: of one name


def _against_luck(kept: int, craft: int, chance: float) -> float:
    """By Chernoff's bound, minus the logarithm of the probability that so many keep a relation
    that each keeps by chance; 0 where too few keep it.
    """
    share = kept / craft
    if share < _KEPT or share <= chance or chance >= 1:
        return 0.0
    chance = max(chance, 1e-6)
    lost = (1 - share) * log((1 - share) / (1 - chance)) if share < 1 else 0.0
    return craft * (share * log(share / chance) + lost)


def _equal_or_ratio(columns: Sequence[_Column]) -> Iterator[tuple[float, Relation]]:
    for one, two, both in _pairs(columns):
        if any(b <= 0 for _, b in both):
            continue
        ratios = sorted(a / b for a, b in both)
        middle = ratios[len(ratios) // 2]
        near = [ratio for ratio in ratios if abs(ratio - middle) <= _SLACK * abs(middle)]
        low, high = near[0] if near else 1.0, near[-1] if near else 1.0
        exact = isclose(low, 1) and isclose(high, 1)
        relation = Relation(
            "equal" if exact else "ratio",
            (one.path, two.path),
            1.0 if exact else _outward(low, -1),
            1.0 if exact else _outward(high, 1),
        )
        yield _worth_of(relation, both)


def _outward(times: float, way: int) -> float:
    """A bound with four digits, a little to the outside."""
    step = 10.0 ** (len(str(int(abs(times)))) - 4)
    return round(round(times / step + 0.5 * way) * step, 6)


def _worth_of(relation: Relation, both: Sequence[tuple[float, ...]]) -> tuple[float, Relation]:
    """How little chance explains that so many keep it."""
    kept = sum(n for numbers, n in Counter(both).items() if _kept(relation, numbers))
    ones, rest = Counter(n[0] for n in both), Counter(n[1:] for n in both)
    if kept < _KEPT * len(both):
        return 0.0, relation
    by_chance = sum(
        n * m for a, n in ones.items() for b, m in rest.items() if _kept(relation, (a, *b))
    )
    return _against_luck(kept, len(both), by_chance / len(both) ** 2), relation


def _ordered(columns: Sequence[_Column]) -> Iterator[tuple[float, Relation]]:
    for one, two, both in _pairs(columns):
        for first, second, pairs in ((one, two, both), (two, one, [(b, a) for a, b in both])):
            yield _worth_of(Relation("ordered", (first.path, second.path)), pairs)


def _sums(columns: Sequence[_Column]) -> Iterator[tuple[float, Relation]]:
    """Sums among settings that stand side by side, in one unit."""
    beside: dict[tuple[str, tuple[str, str]], list[_Column]] = {}
    for column in columns:
        found = declared(column.path)
        if found is not None and isinstance(found.kind, Quantity) and found.kind.unit:
            key = column.path.rpartition(".")[0], _family(column.path)
            beside.setdefault(key, []).append(column)
    for those in beside.values():
        if not 3 <= len(those) <= _SIBLINGS:
            continue
        for whole in those:
            for one, two in combinations([c for c in those if c is not whole], 2):
                rows = zip(whole.numbers, one.numbers, two.numbers, strict=True)
                numbers = [(w, a, b) for w, a, b in rows if None not in (w, a, b)]
                if len(numbers) >= LEAST:
                    relation = Relation("sum", (whole.path, one.path, two.path))
                    yield _worth_of(relation, numbers)  # type: ignore[arg-type]


def _implied(columns: Mapping[str, Sequence[str | None]]) -> Iterator[tuple[float, Relation]]:
    """Where one setting is so, another is so: of settings with few values, in one area or two."""
    few = {path: c for path, c in columns.items() if len({t for t in c if t}) <= _VALUES}
    having = {path: _having(column) for path, column in few.items()}
    stated = {path: reduce(or_, those.values()) for path, those in having.items()}
    for when, whens in having.items():
        for then, thens in having.items():
            if when == then:
                continue
            for a, with_a in whens.items():
                craft = (with_a & stated[then]).bit_count()
                if craft < LEAST:
                    continue
                for b, with_b in thens.items():
                    if n := (with_a & with_b).bit_count():
                        chance = with_b.bit_count() / stated[then].bit_count()
                        relation = Relation("if_then", (then, when), when=a, then=b)
                        yield _against_luck(n, craft, chance), relation


def _having(column: Sequence[str | None]) -> dict[str, int]:
    """For each value the craft that have it, as bits of a number."""
    found: dict[str, int] = {}
    for at, text in enumerate(column):
        if text is not None:
            found[text] = found.get(text, 0) | 1 << at
    return found
