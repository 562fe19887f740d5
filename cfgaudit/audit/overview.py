"""What a whole fleet's records say together: counts, groups of craft, the odd ones, what holds.

The records come in any order, which changes nothing, and are gone through three times. What is held
does not grow with the craft: of groups and causes it is seen first which are met often, by counting
them in so many buckets, and only these are held.
"""

from array import array
from bisect import insort
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from heapq import nsmallest
from typing import NamedTuple, TypeVar
from zlib import crc32

from cfgaudit.audit.odd import (
    ALARM,
    SAMPLE,
    FleetRow,
    Learning,
    Odd,
    blocks,
    odd_among,
    sampled,
    sampling_rank,
)
from cfgaudit.audit.record import NO_DIALECT, KeptFinding, Record
from cfgaudit.audit.relations import LearntRelation, RelationsLearning
from cfgaudit.audit.shelf import Shelf
from cfgaudit.audit.sources import ending_of

_NAMED = 5  # craft that are named as examples
_GROUPS = 200  # entries of one sort, at most; how many there are is told beside them
_ODD = 500  # odd values, at most
_BUCKETS = 2**18  # in which groups and causes are counted at first
_HELD = 20_000  # buckets, whose groups or causes are held


class Tally(NamedTuple):
    """Craft that have something in common."""

    name: str
    craft: int
    with_errors: int
    with_warnings: int


class ByRule(NamedTuple):
    """The craft that a rule speaks of."""

    rule: str
    level: str
    craft: int


class RuleGroup(NamedTuple):
    """Craft of which the same rules speak, errors and warnings, and nothing else."""

    rules: tuple[str, ...]
    craft: int
    names: tuple[str, ...]  # the first of them
    mostly: str  # a firmware and board that most of them have; "" where none


class SharedCause(NamedTuple):
    """Craft of which a rule speaks for the very same values of the same settings."""

    rule: str
    level: str
    craft: int
    stated: tuple[tuple[str, str], ...]  # the settings and their values; a secret one has none
    names: tuple[str, ...]
    since: int = 0  # craft that had `was` when they were audited before: the same change
    was: tuple[str, ...] = ()  # of each of the settings; "" where it was not stated


class Refused(NamedTuple):
    """Sources that were not audited, for one reason."""

    reason: str
    sources: int
    names: tuple[str, ...]


class Overview(NamedTuple):
    """What is told of a fleet."""

    sources: int  # audited or not
    craft: int
    with_errors: int
    with_warnings: int
    refused: tuple[Refused, ...]
    rules: tuple[ByRule, ...]
    groups: tuple[RuleGroup, ...]
    causes: tuple[SharedCause, ...]
    shares: Mapping[str, tuple[Tally, ...]]  # by firmware, by board, by layout, by size
    months: tuple[Tally, ...]  # by the month in which the firmware was built
    odd: tuple[Odd, ...]
    odd_count: int  # of all of them, also those that are left out
    odd_craft: int
    relations: tuple[LearntRelation, ...]
    of: Mapping[str, int]  # by sort, how many entries there are of what is cut to the first 200


UNKNOWN_DUMP = "no dialect knows this dump"  # it is named as those are that were audited
K = TypeVar("K", str, tuple[str, ...])
_LEVELS = ("error", "warning", "note")


def overview(shelf: Shelf) -> Overview:
    """What the records of a fleet say."""
    first = _Counts()
    chosen = nsmallest(SAMPLE, _counted(shelf.records(settings=False), first), key=sampling_rank)
    # in an order of its own, as sums hang on it
    sample = sampled(map(row_of, shelf.records(chosen, findings=False)))
    usual, holding = Learning(sample), RelationsLearning(sample)
    groups, causes = _Groups(first.often_grouped), _Causes(first.often_caused)
    for block in blocks(_grouped(shelf.records(), groups, causes)):
        usual.add(block)
        holding.add(block)
    peers = usual.peers()
    found: list[Odd] = []
    count = craft = 0
    audited = (record for record in shelf.records(findings=False) if not record.reason)
    for block in blocks(map(row_of, audited)):
        odd = list(odd_among(peers, block, ALARM))
        count += len(odd)
        craft += len({one.craft for one in odd})
        found = nsmallest(_ODD, [*found, *odd], key=lambda o: (-o.posterior, o.craft, o.path))
    counted, every = first.overview(), causes.told()
    return counted._replace(
        groups=groups.told(),
        causes=every[:_GROUPS],
        of={**counted.of, "groups": len(groups.counts), "causes": len(every)},
        odd=tuple(found),
        odd_count=count,
        odd_craft=craft,
        relations=holding.learnt(),
    )


def _counted(records: Iterable[Record], counts: "_Counts") -> Iterator[str]:
    """The names of the craft that were audited, all of them counted on the way."""
    for record in records:
        counts.add(record)
        if not record.reason:
            yield record.source


def _grouped(records: Iterable[Record], groups: "_Groups", causes: "_Causes") -> Iterator[FleetRow]:
    """The craft that were audited, with what is found of each counted on the way."""
    for record in records:
        if not record.reason:
            row = row_of(record)
            groups.add(record)
            causes.add(record, row.values)
            yield row


def row_of(record: Record) -> FleetRow:
    """A record as a table of settings; its source tells it from others."""
    return FleetRow(record.source, record.like, record.values)


class _Often:
    """Tells which of very many things are met often, in memory that does not grow with them.

    Things that share a bucket count together: one that is met often is never left out, and one
    that is not may come with it.
    """

    def __init__(self, least: int) -> None:
        self._counts, self._least = array("L", bytes(array("L").itemsize * _BUCKETS)), least

    def add(self, name: str) -> None:
        """Count a thing."""
        self._counts[crc32(name.encode("utf-8", "surrogatepass")) % _BUCKETS] += 1

    def chosen(self) -> Callable[[str], bool]:
        """Whether a thing is to be held: it is met at least as often as all that are."""
        met = sorted((count for count in self._counts if count >= self._least), reverse=True)
        least = met[_HELD] + 1 if len(met) > _HELD else self._least
        counts = self._counts
        return lambda name: counts[crc32(name.encode("utf-8", "surrogatepass")) % _BUCKETS] >= least


class _Counts:
    """Counts records as they come."""

    def __init__(self) -> None:
        self.craft = 0
        self.endings: set[str] = set()  # of the names of what was audited
        self.unknown: dict[str, int] = {}  # by the ending, what no dialect knows
        self.unknown_names: dict[str, list[str]] = {}
        self.rules: Counter[tuple[str, str]] = Counter()
        self.refused: Counter[str] = Counter()
        self.refused_names: dict[str, list[str]] = {}
        self.often_grouped = _Often(1)
        self.often_caused = _Often(2)
        self.shares: dict[str, dict[str, list[int]]] = {}
        self.all = [0, 0, 0]

    def add(self, record: Record) -> None:
        """Count a record."""
        if record.reason == NO_DIALECT:
            ending = ending_of(record.source)
            self.unknown[ending] = self.unknown.get(ending, 0) + 1
            _name(self.unknown_names.setdefault(ending, []), record.source)
            return
        if record.reason:
            self._refuse(record.reason, 1, [record.source])
            return
        self.endings.add(ending_of(record.source))
        self.often_grouped.add("\n".join(_group(record)))
        for found in record.findings:
            if found.level != "note":
                self.often_caused.add(found.fingerprint)
                if found.was:
                    self.often_caused.add(_change(found))
        for key in {(found.rule, found.level) for found in record.findings}:
            self.rules[key] += 1
        for name, value in (
            ("firmware", _firmware(record)),
            ("board", record.board),
            ("layout", record.layout),
            ("size", record.size),
            ("built", record.built[:7]),
        ):
            if value:
                _tally(self.shares.setdefault(name, {}).setdefault(value, [0, 0, 0]), record)
        _tally(self.all, record)

    def _refuse(self, reason: str, count: int, names: Sequence[str]) -> None:
        self.refused[reason] += count
        for name in names:
            _name(self.refused_names.setdefault(reason, []), name)

    def overview(self) -> Overview:
        """What was counted; nothing is known yet of what is odd and what holds."""
        for ending, count in self.unknown.items():
            alike = ending and ending in self.endings
            self._refuse(UNKNOWN_DUMP if alike else NO_DIALECT, count, self.unknown_names[ending])
        self.unknown.clear()
        shares = {name: _tallies(entries) for name, entries in self.shares.items()}
        months = tuple(sorted(shares.pop("built", ()), key=lambda tally: tally.name))
        by = {name: shares.get(name, ()) for name in ("firmware", "board", "layout", "size")}
        order = {level: number for number, level in enumerate(_LEVELS)}
        craft, with_errors, with_warnings = self.all
        return Overview(
            craft + self.refused.total(),
            craft,
            with_errors,
            with_warnings,
            refused=tuple(
                Refused(reason, count, tuple(self.refused_names[reason]))
                for reason, count in _most(self.refused)[:_GROUPS]
            ),
            rules=tuple(
                ByRule(rule, level, count)
                for (rule, level), count in sorted(
                    self.rules.items(), key=lambda item: (order[item[0][1]], -item[1], item[0])
                )[:_GROUPS]
            ),
            groups=(),
            causes=(),
            shares={name: tallies[:_GROUPS] for name, tallies in by.items()},
            months=months[-_GROUPS:],
            odd=(),
            odd_count=0,
            odd_craft=0,
            relations=(),
            of={
                "refused": len(self.refused),
                "rules": len(self.rules),
                **{name: len(tallies) for name, tallies in by.items()},
                "months": len(months),
            },
        )


def _group(record: Record) -> tuple[str, ...]:
    """The rules that speak of a craft, but for notes."""
    return tuple(sorted({found.rule for found in record.findings if found.level != "note"}))


def _firmware(record: Record) -> str:
    return f"{record.firmware} {record.version}".strip()


class _Groups:
    """Counts craft of which the same rules speak."""

    def __init__(self, often: _Often) -> None:
        self._often = often.chosen()
        self.counts: Counter[tuple[str, ...]] = Counter()
        self._names: dict[tuple[str, ...], list[str]] = {}
        self._kinds: dict[tuple[str, ...], Counter[str]] = {}

    def add(self, record: Record) -> None:
        """Count a craft."""
        group = _group(record)
        if not self._often("\n".join(group)):
            return
        self.counts[group] += 1
        _name(self._names.setdefault(group, []), record.source)
        firmware = _firmware(record)
        kind = f"{firmware} on {record.board}" if record.board else firmware
        self._kinds.setdefault(group, Counter())[kind] += 1

    def told(self) -> tuple[RuleGroup, ...]:
        """The largest of them."""
        return tuple(
            RuleGroup(rules, count, tuple(self._names[rules]), self._mostly(rules))
            for rules, count in _most(self.counts)[:_GROUPS]
        )

    def _mostly(self, rules: tuple[str, ...]) -> str:
        kinds = self._kinds[rules]
        kind, count = _most(kinds)[0]
        return kind if kind and 2 * count > kinds.total() else ""


class _Causes:
    """Counts findings that are the same to the value: one cause, most likely."""

    def __init__(self, often: _Often) -> None:
        self._often = often.chosen()
        self.counts: Counter[str] = Counter()
        self.changes: dict[str, Counter[tuple[str, ...]]] = {}
        self.examples: dict[str, tuple[str, str, tuple[tuple[str, str], ...], list[str]]] = {}

    def add(self, record: Record, values: Mapping[str, str]) -> None:
        """Count the findings of a craft, but for notes."""
        for found in record.findings:
            if found.level == "note" or not self._often(found.fingerprint):
                continue
            self.counts[found.fingerprint] += 1
            if found.was and self._often(_change(found)):
                self.changes.setdefault(found.fingerprint, Counter())[found.was] += 1
            if found.fingerprint not in self.examples:
                stated = tuple((path, values.get(path, "")) for path in found.paths)
                self.examples[found.fingerprint] = (found.rule, found.level, stated, [])
            _name(self.examples[found.fingerprint][3], record.source)

    def told(self) -> tuple[SharedCause, ...]:
        """Those of two craft or more, gravest and most first."""
        made: list[SharedCause] = []
        for fingerprint, count in self.counts.items():
            rule, level, stated, names = self.examples[fingerprint]
            if count > 1:
                was, since = next(iter(_most(self.changes.get(fingerprint, Counter()))), ((), 0))
                change = (since, was) if since > 1 else (0, ())
                made.append(SharedCause(rule, level, count, stated, tuple(names), *change))
        return tuple(sorted(made, key=lambda c: (_LEVELS.index(c.level), -c.craft, c)))


def _change(found: KeptFinding) -> str:
    """What tells one change that brings a finding from others."""
    return "\n".join((found.fingerprint, *found.was))


def _name(names: list[str], name: str) -> None:
    """Keep the first few names, in their order."""
    if len(names) < _NAMED or name < names[-1]:
        insort(names, name)
        del names[_NAMED:]


def _tally(counts: list[int], record: Record) -> None:
    counts[0] += 1
    counts[1] += record.errors > 0
    counts[2] += record.warnings > 0


def _tallies(entries: Mapping[str, list[int]]) -> tuple[Tally, ...]:
    made = [Tally(name, *counts) for name, counts in entries.items()]
    return tuple(sorted(made, key=lambda tally: (-tally.craft, tally.name)))


def _most(counts: Counter[K]) -> list[tuple[K, int]]:
    """Each with its count, the most frequent first; the order of equals is their own."""
    return sorted(counts.items(), key=lambda item: (-item[1], item[0]))
