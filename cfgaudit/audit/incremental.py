"""Audits one set of settings after another, running again only the rules that have to be.

What a rule says hangs on what it reads and on nothing else. So each run is watched: which paths
it asked for, which parts of the dump. While none of that has changed, its answer stands; and where
another craft shows a rule what one before showed it, the answer is the same.
"""

from collections.abc import (
    Collection,
    Hashable,
    ItemsView,
    Iterable,
    Iterator,
    Mapping,
    Sequence,
    ValuesView,
)
from functools import cached_property
from typing import NamedTuple

from cfgaudit.audit.engine import (
    Audit,
    Finding,
    Lacking,
    RuleAnswer,
    audit_of,
    findings_of,
    run,
    typed_sheet,
)
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Limits, Rule, usual_limits
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import Value

# What a rule can have read besides single paths.
_ALL, _NAMES, _REPEATS, _RAW = "every setting", "every name", "repeats", "raw"
_TROUBLES, _DUMPS, _FACTORY, _DOUBTED = "troubles", "dumps", "factory", "doubted"
_UNKNOWN = "lines_not_understood"
_MODELS = 32  # craft that others of a fleet are held against
_RUNS = 1_000  # of rules over what was tried against one audit, that are remembered
_LINES = "dump"  # the area of the rules about the dump's lines
_BY_PATH = frozenset({_ALL, _NAMES})  # told by the paths that are stated
_NOTHING: Lacking = {}


class _Reads(NamedTuple):
    """What one run of a rule read."""

    values: set[str]  # paths of which only the value was asked for
    entries: set[str]  # paths of which the whole entry was, its place too
    parts: set[str]


class _WatchedPaths(Mapping[str, Stated]):
    """Settings by path that note which of them are asked for."""

    def __init__(self, inner: Mapping[str, Stated], seen: _Reads) -> None:
        self._inner, self._seen = inner, seen

    def __getitem__(self, path: str) -> Stated:
        self._seen.entries.add(path)
        return self._inner[path]

    def items(self) -> ItemsView[str, Stated]:
        """Every path with its entry, at the pace of the settings themselves."""
        self._seen.parts.add(_ALL)
        return self._inner.items()

    def values(self) -> ValuesView[Stated]:
        """Every entry, at that pace too."""
        self._seen.parts.add(_ALL)
        return self._inner.values()

    def get(self, path: str, missing: Stated | None = None) -> Stated | None:  # type: ignore[override]
        """The entry of a path, or what is given where there is none."""
        self._seen.entries.add(path)
        return self._inner.get(path, missing)

    def __contains__(self, path: object) -> bool:
        self._seen.parts.add(_NAMES)
        return path in self._inner

    def __iter__(self) -> Iterator[str]:
        self._seen.parts.add(_ALL)
        return iter(self._inner)

    def __len__(self) -> int:
        self._seen.parts.add(_NAMES)
        return len(self._inner)


class _Watched(Settings):
    """Settings that note what is read of them."""

    def __init__(self, inner: Settings, seen: _Reads) -> None:
        own = {"_inner": inner, "_seen": seen, "stated": _WatchedPaths(inner.stated, seen)}
        self.__dict__.update(own)

    def need(self, path: str) -> Value:
        """As Settings does; only the value is noted as read."""
        own = self.__dict__
        own["_seen"].values.add(path)
        found: Stated | None = own["_inner"].stated.get(path)
        if found is None or found.doubt:
            raise NotStated(path)
        return found.value

    def below(self, prefix: str) -> Mapping[str, Sequence[str]]:
        """As Settings does; that hangs on the names alone."""
        self.__dict__["_seen"].parts.add(_NAMES)
        inner: Settings = self.__dict__["_inner"]
        return inner.below(prefix)

    def each(self, prefix: str, leaf: str) -> Mapping[str, Value]:
        """As Settings does; each of them is noted as read, also where it is not stated."""
        seen: _Reads = self.__dict__["_seen"]
        seen.entries.update(f"{prefix}.{name}.{leaf}" for name in self.below(prefix))
        inner: Settings = self.__dict__["_inner"]
        return inner.each(prefix, leaf)


class _WatchedPart:
    """A part of watched settings that is noted as read."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __get__(self, watched: _Watched, _: type) -> object:
        watched.__dict__["_seen"].parts.add(self._name)
        return getattr(watched.__dict__["_inner"], self._name)


_OTHER_PARTS = (_REPEATS, _RAW, _TROUBLES, _DUMPS, _FACTORY, _DOUBTED, _UNKNOWN)
_PARTS = (_ALL, _NAMES, *_OTHER_PARTS)
for _part in _OTHER_PARTS:
    setattr(_Watched, _part, _WatchedPart(_part))


class _RuleRun(NamedTuple):
    answer: RuleAnswer
    seen: _Reads

    @property
    def paths(self) -> int:
        """How many paths it asked for."""
        return len(self.seen.values) + len(self.seen.entries)


class _Tries:
    """What rules said of settings that were tried, all of them held against the same audit.

    It holds wherever a rule is shown the same at all paths that any run of it asked for, and so at
    those that this one asked for.
    """

    def __init__(self) -> None:
        self._read: dict[int, _Reads] = {}  # by all runs of a rule
        self._runs: dict[Hashable, _RuleRun] = {}

    def of(self, number: int, changed: "_Difference") -> _RuleRun | None:
        """What a rule said where it was shown what these settings show it, if it was."""
        return self._runs.get(self._key(number, changed)) if number in self._read else None

    def remember(self, number: int, changed: "_Difference", run: _RuleRun) -> None:
        """Keep what a rule said of settings that are tried."""
        read = self._read.setdefault(number, _Reads(set(), set(), set()))
        for so_far, its in zip(read, run.seen, strict=True):
            so_far.update(its)
        key = self._key(number, changed)
        if key is not None:
            self._runs[key] = run._replace(seen=_Reads(set(), set(), set()))
            if len(self._runs) > _RUNS:
                del self._runs[next(iter(self._runs))]  # the oldest

    def _key(self, number: int, changed: "_Difference") -> Hashable:
        """What of a difference a rule is shown; None where that is no matter of single paths."""
        values, entries, parts = self._read[number]
        if any(map(changed.is_other, parts - _BY_PATH)):
            return None
        shown = [
            entry
            for path, entry in changed.now.items()
            if _ALL in parts or path in values or path in entries
        ]
        return number, frozenset(shown), changed.order if parts & _BY_PATH else None


class AuditOutcome(NamedTuple):
    """What was found, in the order of an audit, and what each rule lacked that lacked anything."""

    findings: tuple[Finding, ...] = ()
    lacks: Lacking = _NOTHING


class Auditor:
    """Audits settings one after another; the findings of each are those of a plain audit.

    `sheet` are the settings of the craft's build sheet, the same for all of them.
    """

    def __init__(
        self, rules: Sequence[Rule], limits: Limits | None = None, sheet: Settings | None = None
    ) -> None:
        self.rules = tuple(rules)
        self.limits = usual_limits() if limits is None else limits
        self.sheet = sheet
        self._of_values: Auditor | None = None
        self._handed_on: Settings | None = None
        self._start(None, [])

    def goes_by_the_same(self, other: "Auditor") -> bool:
        """Whether another auditor finds the same, as it has the same rules, limits and sheet."""
        mine, theirs = ((one.rules, one.limits, one.sheet) for one in (self, other))
        return mine == theirs

    @property
    def of_values(self) -> "Auditor":
        """The same without the rules about the dump's lines, as far as this one has audited.

        Those are about what the reading of the dump's text came to: no other value of a setting can
        answer them, and what they say of one they say on reading it.
        """
        kept = [number for number, rule in enumerate(self.rules) if rule.area != _LINES]
        if self._of_values is None:
            rules = [self.rules[number] for number in kept]
            self._of_values = Auditor(rules, self.limits, self.sheet)
        if self._before is not self._handed_on:
            self._of_values._start(self._before, [self._runs[number] for number in kept])
            self._handed_on = self._before
        return self._of_values

    def _start(self, settings: Settings | None, runs: list[_RuleRun]) -> None:
        """Let the next audit start from these settings and what each rule said of them."""
        self._before, self._runs = settings, runs
        self._read_by: dict[str, set[int]] | None = None
        self._tries = _Tries()

    def findings(self, settings: Settings) -> tuple[Finding, ...]:
        """What the rules find, in the order of an audit."""
        return self.outcome(settings).findings

    def outcome(self, settings: Settings) -> AuditOutcome:
        """What the rules find, and what they lacked for it; the next audit starts from here."""
        self._start(settings, self._audited(settings))
        return self._told(settings, self._runs)

    def tried(self, settings: Settings, ids: Collection[str] | None = None) -> AuditOutcome:
        """The same for settings that are only tried: the next audit starts from where it did.

        Where `ids` are given it is what the rules with those ids find and lack.
        """
        return self._told(settings, self._tried(settings, ids), ids)

    def audit(self, settings: Settings, *, from_here: bool = False) -> Audit:
        """A plain audit of settings that are only tried, or `from_here` on the next one starts."""
        if from_here:
            self._start(settings, self._audited(settings))
        answers = [done.answer for done in self._tried(settings)]
        return audit_of(settings, self.rules, answers, self.sheet)

    def _tried(self, settings: Settings, ids: Collection[str] | None = None) -> list[_RuleRun]:
        if self._before is None:
            return self._audited(settings)
        changed, runs = _Difference(self._before, settings), list(self._runs)
        for number in self.asking(changed.entries, of_parts=True):
            rule = self.rules[number]
            if (ids is None or rule.id in ids) and changed.touches(runs[number].seen):
                done = self._tries.of(number, changed)
                if done is None:
                    done = _watched(rule, settings, self.limits, self.sheet)
                    self._tries.remember(number, changed, done)
                runs[number] = done
        return runs

    def touched(
        self, settings: Settings, changed: Collection[str], first: str = ""
    ) -> Iterator[tuple[Rule, Sequence[Fires]]]:
        """Each rule that may say another thing of these settings, with what it fires now.

        They are those audited last but for the values at the paths `changed`; the next audit
        starts from where it did. It is cheaper than `tried`, which tells every finding. The rule
        whose id is `first` comes first, then the quickest.
        """
        craft = Craft(settings)
        sheet = None if self.sheet is None else typed_sheet(self.sheet)
        # of few paths a rule is quick, and likely to be about just these
        cost = {n: (self.rules[n].id != first, self._runs[n].paths) for n in self.asking(changed)}
        for number in sorted(cost, key=cost.__getitem__):
            rule = self.rules[number]
            yield rule, run(rule, craft, self.limits, sheet).fired

    def asking(self, paths: Collection[str], *, of_parts: bool = False) -> set[int]:
        """The rules that asked for one of the paths, for all, or perhaps for any part, by number.

        With other values at paths that none asked for, all of them say what they said.
        """
        readers = self._readers()
        found = {number for path in paths for number in readers.get(path, ())}
        parts = _PARTS if of_parts else (_ALL,)
        return found.union(*(readers.get(part, ()) for part in parts))

    def asks_for(self, paths: Iterable[str]) -> bool:
        """Whether any rule asked for one of the paths, or for all."""
        readers = self._readers()
        return _ALL in readers or not readers.keys().isdisjoint(paths)

    def _readers(self) -> Mapping[str, set[int]]:
        """The rules by the paths and parts that they asked for in the last audit."""
        if self._read_by is None:
            self._read_by = {}
            for number, done in enumerate(self._runs):
                for path in done.seen.values | done.seen.entries | done.seen.parts:
                    self._read_by.setdefault(path, set()).add(number)
        return self._read_by

    def read_by(self, rule_id: str) -> frozenset[str]:
        """The paths of dump and sheet that a rule asked for in the last audit."""
        found: set[str] = set()
        for rule, done in zip(self.rules, self._runs, strict=True):
            if rule.id == rule_id:
                found |= done.seen.values | done.seen.entries
        return frozenset(found)

    def readers_of(self, path: str) -> frozenset[str]:
        """The rules that asked for a path in the last audit, by their ids."""
        return frozenset(self.rules[number].id for number in self._readers().get(path, ()))

    def looked_at(self) -> frozenset[str]:
        """The paths of dump and sheet that any rule asked for in the last audit."""
        return frozenset().union(*(run.seen.values | run.seen.entries for run in self._runs))

    def _audited(self, settings: Settings) -> list[_RuleRun]:
        changed = None if self._before is None else _Difference(self._before, settings)
        return [
            _watched(rule, settings, self.limits, self.sheet)
            if changed is None or changed.touches(self._runs[number].seen)
            else self._runs[number]
            for number, rule in enumerate(self.rules)
        ]

    def _told(
        self,
        settings: Settings,
        runs: Sequence[_RuleRun],
        ids: Collection[str] | None = None,
    ) -> AuditOutcome:
        said = [
            (rule, done.answer)
            for rule, done in zip(self.rules, runs, strict=True)
            if ids is None or rule.id in ids
        ]
        lacks = {rule.id: answer.lacked for rule, answer in said if answer.lacks}
        return AuditOutcome(findings_of(said, settings, self.sheet), lacks)


def _watched(
    rule: Rule, settings: Settings, limits: Limits, sheet: Settings | None = None
) -> _RuleRun:
    """What a rule says, and what it read for it."""
    seen = _Reads(set(), set(), set())
    build = None
    if sheet is not None and (rule.sheet or rule.sheet_wanted):
        build = typed_sheet(_Watched(sheet, seen))
    answer = run(rule, Craft(_Watched(settings, seen)), limits, build)
    return _RuleRun(answer, seen)


class FleetAuditor:
    """Audits the craft of a fleet in any order; the findings of each are those of a plain audit.

    One that states the same settings as another before is tried against that. Memory is bounded.
    """

    def __init__(self, rules: Sequence[Rule], limits: Limits | None = None) -> None:
        self.rules, self.limits = tuple(rules), limits
        self._models: dict[tuple[str, ...], Auditor] = {}  # by the settings that they state

    def outcome(self, settings: Settings) -> AuditOutcome:
        """What the rules find, and what they lacked for it; a build sheet is not looked at."""
        names = tuple(settings.stated)
        if names in self._models:
            return self._models[names].tried(settings)
        if len(self._models) >= _MODELS:
            del self._models[next(iter(self._models))]  # the oldest
        model = self._models[names] = Auditor(self.rules, self.limits)
        return model.outcome(settings)


class _Difference:
    """What differs between two sets of settings, as a rule may have read it."""

    def __init__(self, old: Settings, new: Settings) -> None:
        was, now = old.stated, new.stated
        self.names = [*was] != [*now]
        entries = {path for path in now if was.get(path) is not now[path]}
        entries = {path for path in entries if was.get(path) != now[path]}
        gone = {path for path in was if path not in now} if self.names else set()
        self.entries = entries | gone
        self.values = {path for path in self.entries if _value(was, path) != _value(now, path)}
        self._old, self._new = old, new
        self._parts = {_NAMES: self.names, _ALL: self.names or bool(self.entries)}

    @cached_property
    def now(self) -> Mapping[str, Hashable]:
        """What is stated now at each path that differs."""
        stated = self._new.stated
        return {path: (path, _value(stated, path), stated.get(path)) for path in self.entries}

    @cached_property
    def order(self) -> tuple[str, ...] | None:
        """The paths stated now, in order; None where they are those from before."""
        return tuple(self._new.stated) if self.names else None

    def touches(self, seen: _Reads) -> bool:
        """Whether a run that read this may come out otherwise now."""
        return (
            not self.values.isdisjoint(seen.values)
            or not self.entries.isdisjoint(seen.entries)
            or any(map(self.is_other, seen.parts))
        )

    def is_other(self, part: str) -> bool:
        """Whether a part differs."""
        found = self._parts.get(part)
        if found is None:
            was, now = getattr(self._old, part), getattr(self._new, part)
            found = self._parts[part] = was is not now and was != now
        return found


def _value(stated: Mapping[str, Stated], path: str) -> tuple[object, ...]:
    found = stated.get(path)
    return () if found is None else (type(found.value), found.value, bool(found.doubt))
