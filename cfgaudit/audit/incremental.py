"""Audits one set of settings after another, running again only the rules that a change touches.

What a rule says hangs on what it reads and on nothing else. So each run is watched: which paths
it asked for, which parts of the dump. While none of that has changed, its answer stands.
"""

from collections.abc import Collection, ItemsView, Iterator, Mapping, Sequence, ValuesView
from typing import NamedTuple

from cfgaudit.audit.engine import Finding, Lacking, finding_of, in_order, run, typed_sheet
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Limits, Rule, usual_limits
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import Value

# What a rule can have read besides single paths.
_ALL, _NAMES, _REPEATS, _RAW = "every setting", "every name", "repeats", "raw"
_TROUBLES, _DUMPS, _FACTORY, _DOUBTED = "troubles", "dumps", "factory", "doubted"
_NOTHING: Lacking = {}


class _Seen(NamedTuple):
    """What one run of a rule read."""

    values: set[str]  # paths of which only the value was asked for
    entries: set[str]  # paths of which the whole entry was, its place too
    parts: set[str]


class _WatchedPaths(Mapping[str, Stated]):
    """Settings by path that note which of them are asked for."""

    def __init__(self, inner: Mapping[str, Stated], seen: _Seen) -> None:
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

    def __init__(self, inner: Settings, seen: _Seen) -> None:
        own = {"_inner": inner, "_seen": seen, "_paths": _WatchedPaths(inner.stated, seen)}
        self.__dict__.update(own)

    def __getattribute__(self, name: str) -> object:
        if name in _PARTS:
            found = object.__getattribute__(self, "__dict__")
            found["_seen"].parts.add(name)
            return getattr(found["_inner"], name)
        if name == "stated":
            return object.__getattribute__(self, "__dict__")["_paths"]
        return object.__getattribute__(self, name)

    def need(self, path: str) -> Value:
        """As Settings does; only the value is noted as read."""
        inner: Settings = self.__dict__["_inner"]
        self.__dict__["_seen"].values.add(path)
        found = inner.stated.get(path)
        if found is None or found.doubt:
            raise NotStated(path)
        return found.value

    def below(self, prefix: str) -> Mapping[str, Sequence[str]]:
        """As Settings does; that hangs on the names alone."""
        self.__dict__["_seen"].parts.add(_NAMES)
        inner: Settings = self.__dict__["_inner"]
        return inner.below(prefix)


_PARTS = frozenset({_REPEATS, _RAW, _TROUBLES, _DUMPS, _FACTORY, _DOUBTED})


class _RuleRun(NamedTuple):
    fired: list[Fires]
    lacks: tuple[str, ...]
    seen: _Seen


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
        self._rules = tuple(rules)
        self._limits = usual_limits() if limits is None else limits
        self._sheet = sheet
        self._before: Settings | None = None
        self._runs: list[_RuleRun] = []
        self._read_by: dict[str, set[int]] | None = None

    def findings(self, settings: Settings) -> tuple[Finding, ...]:
        """What the rules find, in the order of an audit."""
        return self.outcome(settings).findings

    def outcome(self, settings: Settings) -> AuditOutcome:
        """What the rules find, and what they lacked for it; the next audit starts from here."""
        self._runs, self._before, self._read_by = self._audited(settings), settings, None
        return self._told(settings, self._runs)

    def tried(self, settings: Settings) -> AuditOutcome:
        """The same for settings that are only tried: the next audit starts from where it did."""
        return self._told(settings, self._audited(settings))

    def touched(
        self, settings: Settings, changed: Collection[str]
    ) -> Iterator[tuple[Rule, Sequence[Fires]]]:
        """Each rule that may say another thing of these settings, with what it fires now.

        They are those audited last but for the values at the paths `changed`; the next audit
        starts from where it did. It is cheaper than `tried`, which tells every finding.
        """
        craft = Craft(settings)
        sheet = None if self._sheet is None else typed_sheet(self._sheet)
        numbers = {number for path in changed for number in self._readers().get(path, ())}
        for number in sorted(numbers | self._readers().get(_ALL, set())):
            rule = self._rules[number]
            yield rule, run(rule, craft, self._limits, sheet).fired

    def _readers(self) -> Mapping[str, set[int]]:
        """The rules by the paths that they asked for in the last audit, or for all."""
        if self._read_by is None:
            self._read_by = {}
            for number, done in enumerate(self._runs):
                paths = done.seen.values | done.seen.entries
                for path in paths | ({_ALL} & done.seen.parts):
                    self._read_by.setdefault(path, set()).add(number)
        return self._read_by

    def read_by(self, rule_id: str) -> frozenset[str]:
        """The paths of dump and sheet that a rule asked for in the last audit."""
        found: set[str] = set()
        for rule, done in zip(self._rules, self._runs, strict=True):
            if rule.id == rule_id:
                found |= done.seen.values | done.seen.entries
        return frozenset(found)

    def looked_at(self) -> frozenset[str]:
        """The paths of dump and sheet that any rule asked for in the last audit."""
        return frozenset().union(*(run.seen.values | run.seen.entries for run in self._runs))

    def _audited(self, settings: Settings) -> list[_RuleRun]:
        changed = None if self._before is None else _Difference(self._before, settings)
        runs: list[_RuleRun] = []
        for number, rule in enumerate(self._rules):
            if changed is not None and not changed.touches(self._runs[number].seen):
                runs.append(self._runs[number])
            else:
                runs.append(self._run(rule, settings))
        return runs

    def _told(self, settings: Settings, runs: Sequence[_RuleRun]) -> AuditOutcome:
        stated = settings.stated
        if self._sheet is not None:
            stated = {**stated, **self._sheet.stated}
        found = [
            finding_of(rule, fires, [stated.get(path) for path in fires.paths])
            for rule, done in zip(self._rules, runs, strict=True)
            for fires in done.fired
        ]
        lacks = {rule.id: done.lacks for rule, done in zip(self._rules, runs, strict=True)}
        return AuditOutcome(in_order(found), {rule: lack for rule, lack in lacks.items() if lack})

    def _run(self, rule: Rule, settings: Settings) -> _RuleRun:
        seen = _Seen(set(), set(), set())
        sheet = None
        if self._sheet is not None and (rule.sheet or rule.sheet_wanted):
            from cfgaudit.craft.sheet import Sheet

            sheet = Sheet(_Watched(self._sheet, seen))
        fired, lacks, _ = run(rule, Craft(_Watched(settings, seen)), self._limits, sheet)
        return _RuleRun(fired, tuple(dict.fromkeys(lack.path for lack in lacks)), seen)


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
        self.parts = {part for part in _PARTS if _differs(getattr(old, part), getattr(new, part))}
        if self.names:
            self.parts |= {_NAMES, _ALL}
        if self.entries:
            self.parts.add(_ALL)

    def touches(self, seen: _Seen) -> bool:
        """Whether a run that read this may come out otherwise now."""
        return not (
            self.parts.isdisjoint(seen.parts)
            and self.values.isdisjoint(seen.values)
            and self.entries.isdisjoint(seen.entries)
        )


def _value(stated: Mapping[str, Stated], path: str) -> tuple[object, ...]:
    found = stated.get(path)
    return () if found is None else (type(found.value), found.value, bool(found.doubt))


def _differs(one: object, other: object) -> bool:
    return one is not other and one != other
