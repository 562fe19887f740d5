"""Which craft of a fleet has a setting that its like do not have: odd, which is not wrong.

A craft is a table of settings here, path to the value's text in the plain form; nothing else is
looked at. Each value is weighed against those of the craft that it should be like. What craft are
to be like it is learnt: those of its layout, class of size and firmware, or those that share
another setting which tells this one well (a board tells its ports, a club's rates each other).

**Source.** The weighing is that of Wang, Platt, Chen, Zhang and Wang, "Automatic
Misconfiguration Troubleshooting with PeerPressure", OSDI 2004 (cited from memory): of `t`
settings one is sick; a sick setting has each of its `c` values alike, a healthy one has the value
of `m` of `N` peers by the Bayesian estimate (m + 1) / (N + c); so

    P(sick | value) = (N + c) / (N + c t + c m (t - 1))

which follows from Bayes' theorem in two lines. Three things are added. A peer is left out of its
own peers. Numbers count as the same within half of their robust spread (the median absolute
deviation times 1.4826, on a logarithmic scale where all are above nought), and the one count that
an unseen value is given shrinks with its distance from the median as Cauchy's density does. And
several settings may tell one: each gives its answer, and the middle one of them holds, so that one
odd setting does not make all those odd that it usually tells.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from hashlib import sha256
from heapq import nsmallest
from itertools import islice
from math import log
from operator import add, itemgetter
from typing import NamedTuple

from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Either, Int, Quantity
from cfgaudit.vocabulary.paths import declared

SAMPLE = 600  # craft by which it is chosen what tells what
LIKE = "like craft"  # the key of a context that is no setting
_FEW = 5  # peers, below which nothing is said
_TOLD_BY = 5  # settings, at most, that one is told by
_ALIKE = 3  # of those, at most, that part the craft in one way, as an arm's two measures do
_TELLING = 12  # values, at most, of a setting that may tell others
_NEAR = 0.2  # on the logarithmic scale: what is not far off, where all peers agree
_REMEMBERED = 50_000  # values weighed
_BLOCK = 2_000  # craft that are counted together
ALARM = 0.05  # the posterior from which a value is told as odd


class FleetRow(NamedTuple):
    """A craft: its name in the fleet, what it is like, and its settings as text by path."""

    name: str
    like: tuple[str, ...]  # layout, class of size, firmware; "" where not known
    values: Mapping[str, str]


class Odd(NamedTuple):
    """A value that its peers do not have, and how surprising it is."""

    craft: str
    path: str
    value: str
    posterior: float  # P(sick | value), from 0 to 1
    usual: str  # the value that most of its peers have
    having: int  # peers with the usual value
    peers: int
    told_by: str  # the setting that the peers share, or LIKE
    shared: str  # its value there


class Columns(NamedTuple):
    """Some craft side by side: by setting, and by what they are like in, the value of each craft.

    None stands where a craft does not state a setting; what none of them states has no column.
    """

    names: tuple[str, ...]
    values: Mapping[str, Sequence[str | None]]

    def together(self, path: str, others: Iterable[str]) -> Iterator[tuple[str | None, ...]]:
        """For each craft, its value of a setting, and behind it those of others."""
        nothing = [None] * len(self.names)
        return zip(*(self.values.get(one, nothing) for one in (path, *others)), strict=True)


def columns_of(rows: Iterable[FleetRow]) -> Columns:
    """The settings of some craft, and what they are like, as columns.

    Those that state the same settings stand together, whole columns of them being made at once.
    """
    alike: dict[tuple[str, ...], tuple[list[str], list[tuple[str, ...]]]] = {}
    for row in rows:
        likes = _likes(row)
        names, values = alike.setdefault((*row.values, *likes), ([], []))
        names.append(row.name)
        values.append((*row.values.values(), *likes.values()))
    count = sum(len(names) for names, _ in alike.values())
    found: dict[str, list[str | None]] = {}
    every: list[str] = []
    for paths, (names, values) in alike.items():
        part = slice(len(every), len(every) + len(names))
        for path, column in zip(paths, zip(*values, strict=True), strict=True):
            if path not in found:
                found[path] = [None] * count
            found[path][part] = column
        every += names
    return Columns(tuple(every), found)


def blocks(rows: Iterable[FleetRow]) -> Iterator[Columns]:
    """The craft of a fleet, so many of them together: most have most of their values in common."""
    every = iter(rows)
    while (block := columns_of(islice(every, _BLOCK))).names:
        yield block


class PeersBy(NamedTuple):
    """The peers of one setting by the value of what tells it."""

    by: str
    counts: Mapping[str, Counter[str]]  # value of `by` to the values of the setting
    usual: Mapping[str, str]  # and to the one that most have, whichever craft is left out


@dataclass(frozen=True)
class Peers:
    """What is usual in a fleet: for each setting, its peers by each thing that tells it."""

    told: Mapping[str, tuple[PeersBy, ...]]
    settings: int  # that are compared, on the average: `t` of the formula
    _weighed: dict[tuple[str, str, str, str], "Weighed"] = field(
        default_factory=dict, compare=False
    )
    _answers: dict[tuple[str | None, ...], "Estimate | None"] = field(
        default_factory=dict, compare=False
    )

    def answer(self, path: str, value: str, shares: Sequence[str | None]) -> "Estimate | None":
        """The middle one of what is said of a value by each thing that tells it.

        `shares` are the values of these things, in their order. Remembered, as most craft are
        shown the same; None where nothing is said, or all say that it is plainly the usual one,
        as it mostly is.
        """
        tables = self.told[path]
        told = zip(tables, shares, strict=True)
        if all(shared is None or table.usual.get(shared) == value for table, shared in told):
            return None
        key = path, value, *shares
        if key not in self._answers:
            if len(self._answers) > _REMEMBERED:
                self._answers.clear()
            self._answers[key] = self._answer(path, value, tables, shares)
        return self._answers[key]

    def _answer(
        self, path: str, value: str, tables: Sequence[PeersBy], shares: Sequence[str | None]
    ) -> "Estimate | None":
        answers: list[Estimate] = []
        for table, shared in zip(tables, shares, strict=True):
            if table is tables[-1] and answers:
                break  # being like stands last, for those whom nothing else tells
            if shared is not None:
                weighed = self._known(path, value, table, shared)
                if weighed.peers:
                    answers.append(Estimate(weighed.posterior, table.by, shared, weighed))
        answers.sort(key=itemgetter(0))
        return answers[(len(answers) - 1) // 2] if answers else None

    def _known(self, path: str, value: str, by: PeersBy, shared: str) -> "Weighed":
        """A value among its peers; remembered too, as answers have it in common."""
        key = path, value, by.by, shared
        found = self._weighed.get(key)
        if found is None:
            if len(self._weighed) > _REMEMBERED:
                self._weighed.clear()
            found = _weighed(path, value, by.counts.get(shared, Counter()), self.settings)
            self._weighed[key] = found
        return found


class Estimate(NamedTuple):
    """What is said of a value by one thing that tells it."""

    posterior: float
    by: str
    shared: str
    weighed: "Weighed"


class Weighed(NamedTuple):
    """A value among its peers; without any, where there are too few."""

    posterior: float = 0.0
    usual: str = ""
    having: int = 0
    peers: int = 0


def compared(path: str) -> bool:
    """Whether craft are compared by a setting: not by what is their own, secret, or moves."""
    found = declared(path)
    if found is None:
        return False
    traits = found.traits
    own = traits.craft_own or traits.secret or traits.volatile
    return not own and traits.cls is not Class.IDENTITY


def may_tell(path: str) -> bool:
    """Whether a setting may say which craft are alike: what is compared, and the board's name."""
    return path in ("board.name", "firmware.name") or compared(path)


@lru_cache(maxsize=50_000)
def number(path: str, text: str) -> float | None:
    """The number that a value's text is; None where the setting is of another kind.

    >>> number("filters.gyro", "pt1 150 Hz"), number("home.ceiling", "100 m")
    (None, 100.0)
    """
    found = declared(path)
    if found is None or not isinstance(found.kind, Int | Quantity | Either):
        return None
    try:
        return float(text.partition(" ")[0])
    except ValueError:
        return None


def sampled(rows: Iterable[FleetRow]) -> list[FleetRow]:
    """Some rows of a fleet, the same ones whatever their order."""
    return nsmallest(SAMPLE, rows, key=lambda row: sampling_rank(row.name))


def sampling_rank(name: str) -> tuple[bytes, str]:
    """By what craft are chosen for the sample, those first that have the least."""
    return sha256(name.encode("utf-8", "backslashreplace")).digest(), name


class Learning:
    """Learns what is usual from the craft of a fleet, shown one after another.

    What tells what is chosen by a sample of them. Memory grows with the different values that
    settings have, not with the craft.
    """

    def __init__(self, sample: Sequence[FleetRow]) -> None:
        self._told: dict[str, tuple[tuple[str, dict[str, Counter[str]]], ...]] = {
            path: tuple((by, {}) for by in bys) for path, bys in _what_tells(sample).items()
        }
        self._craft = self._settings = 0

    def add(self, block: Columns) -> None:
        """Count some craft."""
        self._craft += len(block.names)
        for path, tables in self._told.items():
            if path not in block.values:
                continue
            shown = Counter(block.together(path, (by for by, _ in tables)))
            for (value, *shares), n in shown.items():
                if value is None:
                    continue
                self._settings += n
                for (_, counts), shared in zip(tables, shares, strict=True):
                    if shared is not None:
                        counts.setdefault(shared, Counter())[value] += n

    def peers(self) -> Peers:
        """What is usual, by all that was counted."""
        told = {
            path: tuple(PeersBy(by, counts, _plainly_usual(counts)) for by, counts in tables)
            for path, tables in self._told.items()
        }
        settings = round(self._settings / self._craft) if self._craft else 0
        return Peers(told, max(2, settings))


def _plainly_usual(counts: Mapping[str, Counter[str]]) -> dict[str, str]:
    """By what tells a setting, the value that most have, whichever of them is left out."""
    found: dict[str, str] = {}
    for shared, held in counts.items():
        first, *others = held.most_common(2)
        if not others or first[1] - others[0][1] > 1:
            found[shared] = first[0]
    return found


def odd_among(peers: Peers, block: Columns, least: float) -> Iterator[Odd]:
    """The settings of some craft that their peers do not have so, in no order.

    Only those whose posterior is at least `least`. A craft is no peer of itself. What several of
    them are shown is weighed once.
    """
    for path, tables in peers.told.items():
        if path not in block.values:
            continue
        shown = list(block.together(path, (table.by for table in tables)))
        odd: dict[tuple[str | None, ...], Odd] = {}
        for key in set(shown):
            value, *shares = key
            answer = None if value is None else peers.answer(path, value, shares)
            if value is None or answer is None or answer.posterior < least:
                continue
            if value != answer.weighed.usual:
                odd[key] = Odd("", path, value, *answer.weighed, answer.by, answer.shared)
        for name, key in zip(block.names, shown, strict=True) if odd else ():
            if key in odd:
                yield odd[key]._replace(craft=name)


def posterior(count: float, peers: float, values: float, settings: float, unseen: float) -> float:
    """P(sick | value), by Bayes' theorem.

    `count` of `peers` have the value, of `values` different ones; one of `settings` is sick;
    `unseen` is the share of a count that a value is given beforehand (1 in the source).

    >>> round(posterior(0, 100, 2, 200, 1), 6) == round((100 + 2) / (100 + 2 * 200), 6)
    True
    """
    sick = 1 / (values * settings)
    healthy = (count + unseen) / (peers + values) * (1 - 1 / settings)
    return sick / (sick + healthy)


def _weighed(path: str, value: str, held: Counter[str], settings: int) -> Weighed:
    peers = held.total() - 1
    if peers < _FEW:
        return Weighed()
    others = {text: n - (text == value) for text, n in held.items() if n > (text == value)}
    usual, having = max(others.items(), key=lambda item: (item[1], item[0]))
    count = float(others.get(value, 0))
    values, unseen = len(others) + (value not in others), 1.0
    mine = number(path, value)
    if mine is not None and len(others) + (value not in others) > 1:
        numbers = [(number(path, text), n) for text, n in others.items()]
        known = [(found, n) for found, n in numbers if found is not None]
        if len(known) == len(numbers):
            count, values, unseen = _among_numbers(mine, known)
    sick = posterior(count, peers, max(2, values), settings, unseen)
    return Weighed(sick, usual, having, peers)


def _among_numbers(mine: float, others: Sequence[tuple[float, int]]) -> tuple[float, int, float]:
    """How many have as good as this number, how many different ones there are, and what an unseen
    one is given beforehand.
    """
    positive = mine > 0 and all(value > 0 for value, _ in others)
    scale: Callable[[float], float] = log if positive else float
    points = sorted((scale(value), n) for value, n in others)
    at = scale(mine)
    middle = _weighted_median(points)
    spread = 1.4826 * _weighted_median(sorted((abs(value - middle), n) for value, n in points))
    step = spread / 2
    count = sum(n for value, n in points if abs(value - at) <= step + 1e-9)
    bins = {round((value - middle) / step) for value, _ in points} if step else set()
    bins |= {round((at - middle) / step)} if step else set()
    values = len(bins) if step else len(points) + (not count)
    width = max(spread, _NEAR if positive else _NEAR * max(abs(middle), 1e-9))
    return count, values, 1 / (1 + ((at - middle) / width) ** 2)


def _weighted_median(points: Sequence[tuple[float, int]]) -> float:
    """The lower median of sorted values, each with how often it is there."""
    total, seen = sum(n for _, n in points), 0
    for value, n in points:
        seen += n
        if 2 * seen >= total:
            return value
    return points[-1][0]


def _likes(row: FleetRow) -> dict[str, str]:
    """What a craft is like, by the names of contexts: in all, and without each part of it."""
    layout, *rest = row.like
    text = " · ".join(part for part in row.like if part)
    found = {LIKE: text}
    if len(rest) == 2:
        size, firmware = rest
        found[f"{LIKE}, any firmware"] = f"{layout} · {size}"
        found[f"{LIKE}, any size"] = f"{layout} · {firmware}"
    return found


_Codes = tuple[int, ...]  # craft by craft, which of its values a setting has; -1 for none


def _what_tells(rows: Sequence[FleetRow]) -> dict[str, tuple[str, ...]]:
    """For each setting that varies, the few things that tell its value best."""
    columns = sorted(columns_of(rows).values.items())
    coded = {path: _coded(path, column) for path, column in columns if compared(path)}
    telling = [(name, _codes(column)) for name, column in columns if name.startswith(LIKE)]
    for path, column in columns:
        codes = _codes(column)
        if may_tell(path) and 2 <= len({code for code in codes if code >= 0}) <= _TELLING:
            telling.append((path, codes))
    telling = _unlike(telling)
    worth_of = cache(_worth)  # settings may go hand in hand, as those of the axes do
    chosen: dict[str, tuple[str, ...]] = {}
    for path, mine in coded.items():
        alone = _alone(mine)
        if alone is None:
            chosen[path] = (LIKE,)
            continue
        worth = [(worth_of(mine, codes, alone), name) for name, codes in telling if name != path]
        worth.sort(key=lambda entry: (-entry[0], entry[1]))
        best = [name for value, name in worth[:_TOLD_BY] if value > 0]
        chosen[path] = (*(best if len(best) > 1 else ()), LIKE)
    return chosen


def _unlike(telling: Sequence[tuple[str, _Codes]]) -> list[tuple[str, _Codes]]:
    """Without those that part the craft as a few others do, as the measures of four arms would."""
    parted: Counter[_Codes] = Counter()
    taken: list[tuple[str, _Codes]] = []
    for name, codes in telling:
        parted[codes] += 1
        if parted[codes] <= _ALIKE:
            taken.append((name, codes))
    return taken


def _codes(column: Sequence[str | None]) -> _Codes:
    """Values as numbers from 0, in their order; -1 where there is none."""
    known = {value: n for n, value in enumerate(sorted({v for v in column if v is not None}))}
    return tuple([-1 if value is None else known[value] for value in column])


def _coded(path: str, column: Sequence[str | None]) -> _Codes:
    """As _codes, numbers that lie within a tenth of each other being the same."""
    numbers = [None if value is None else number(path, value) for value in column]
    if all(n is None or n > 0 for n in numbers) and len(set(numbers)) > _TELLING:
        rounded = [None if n is None else f"{round(log(n) * 10):+05}" for n in numbers]
        return _codes(rounded)
    return _codes(column)


def _alone(column: _Codes) -> float | None:
    """How well a setting's values are foretold by each other alone; None where all are one."""
    counts = Counter(code for code in column if code >= 0)
    if len(counts) < 2:
        return None
    share, craft = 1 / len(counts), counts.total()
    return sum(n * log((n - 1 + share) / craft) for n in counts.values()) / craft


def _worth(column: _Codes, by: _Codes, alone: float) -> float:
    """How much better a setting is foretold where it is known what tells it, in nats a craft.

    Each craft is foretold by the others: a thing that tells many values apart, of few craft each,
    is worth nothing; of those who do not state that thing, each is foretold as before.
    """
    one = len(column) + 1  # a pair as one number: what tells in steps of this
    pairs = Counter(map(add, map(one.__mul__, by), column))
    groups: Counter[int] = Counter()
    values: set[int] = set()
    counted: list[tuple[int, int]] = []
    for pair, n in pairs.items():
        b, a = divmod(pair + 1, one)
        if a:  # else it is -1, not stated
            values.add(a)
            groups[b] += n
            counted.append((b, n))
    craft = groups.total()
    share = 1 / len(values)
    known = craft - groups[-1]
    if known < 2 * _FEW:
        return 0.0
    knowing = sum(n * log((n - 1 + share) / groups[b]) for b, n in counted if b >= 0)
    return (knowing - alone * known) / craft
