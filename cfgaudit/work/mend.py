"""The smallest change that clears what has a known mend, tried out before it is given out."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from cfgaudit.audit.engine import RANK, Audit, Finding, FindingKey, believed, new_and_cleared
from cfgaudit.audit.sure import Judge, harm, not_believed, objection
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.dialects.collect import plain_value
from cfgaudit.dialects.editor import Dumps, edit_dumps
from cfgaudit.dialects.opening import joined
from cfgaudit.dialects.plain import value_shown
from cfgaudit.rules.rule import Edit
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import BadValue, Value
from cfgaudit.work.allot import as_it_asks, wants_of

Chosen = Callable[[Finding], bool]
_MOST = 1_000  # tries: far more than a dump has findings, so that nothing runs for ever


class Taken(NamedTuple):
    """A finding that is mended, and the edits that do it.

    `cleared` are the findings that go with it; `upon` says from which of those taken before on it
    is sure only with them.
    """

    finding: Finding
    edits: tuple[Edit, ...]
    cleared: frozenset[FindingKey]
    upon: int


class Left(NamedTuple):
    """A finding whose mend is not taken, and why; `unsure` where it is for what it would do."""

    finding: Finding
    why: str
    unsure: bool = True


@dataclass(frozen=True)
class Mended:
    """A craft before and after: what was mended, what was left, and both audits."""

    before: Dumps
    after: Dumps
    wanted: Mapping[str, Value]
    taken: tuple[Taken, ...]
    left: tuple[Left, ...]
    first: Audit
    last: Audit

    @property
    def brought(self) -> tuple[Finding, ...]:
        """What the change brings: notes of other areas at most."""
        return new_and_cleared(self.first, self.last)[0]

    @property
    def cleared(self) -> tuple[Finding, ...]:
        """What the change clears."""
        return new_and_cleared(self.first, self.last)[1]


def everything(finding: Finding) -> bool:
    """Every finding is to be mended."""
    return True


def not_choices(finding: Finding) -> bool:
    """What a builder may have chosen is not to be mended."""
    return not finding.choice


def mend(
    dumps: Dumps,
    judge: Judge,
    chosen: Chosen = everything,
    asked: Chosen = not_choices,
    first: Audit | None = None,
) -> Mended:
    """Clear the findings that have a mend, the gravest first.

    Each mend is written into the dump and the dump is audited again. It is not taken where it
    can't be written, brings back what another one cleared, or is not sure (audit/sure.py), nor
    without being `asked` for where it changes what a builder may have chosen. In the end every edit
    that is not needed is dropped. `first` is the dumps' audit, where it was made already.
    """
    work = _Work(dumps, judge, first or judge(joined(dumps)), asked)
    for _ in range(_MOST):
        finding = work.next(chosen)
        if finding is None:
            break
        work.attempt(finding)
    return work.outcome()


@dataclass
class _Work:
    """The change as it grows."""

    dumps: Dumps
    judge: Judge
    first: Audit
    asked: Chosen
    taken: list[Taken] = field(default_factory=list)
    failed: dict[FindingKey, int] = field(default_factory=dict)  # with so many taken
    wanted: dict[str, Value] = field(default_factory=dict)
    tried: dict[FindingKey, Left] = field(default_factory=dict)
    kept: set[str] = field(default_factory=set)  # what goes with a role, needed or not
    now: Audit | None = None
    after: Dumps = ()

    @property
    def audit(self) -> Audit:
        """The audit of the dumps as far as they are mended."""
        return self.now or self.first

    def next(self, chosen: Chosen) -> Finding | None:
        """The gravest finding with a mend that was not tried since the last one was taken."""
        return next(
            (
                finding
                for finding in self.audit.findings
                if finding.mend and finding.key not in self.tried and chosen(finding)
            ),
            None,
        )

    def attempt(self, finding: Finding) -> None:
        """Take a finding's mend, or note why not. Each one taken makes the others worth a try."""
        if not self.asked(finding):
            how = f"`mend --only {finding.rule.id}` does it"
            self._leave(finding, f"{finding.choice}; {how}", unsure=False)
            return
        try:
            values = {edit.path: plain_value(edit.path, edit.value) for edit in finding.mend}
        except BadValue as error:
            self._leave(finding, f"its mend can't be read: {error}", unsure=False)
            return
        own = set(values)
        stated = self.audit.settings.stated
        asked = {
            path: value
            for path, value in self._as_the_devices_ask(values).items()
            if path not in stated or stated[path].value != value
        }
        values = {**asked, **values}
        dumps, refused = edit_dumps(self.dumps, {**self.wanted, **values})
        for path in set(values) - own:
            if path in refused and values[path] is False:
                del values[path]  # the firmware has no such thing, so it is off
        stuck = [path for path in values if path in refused]
        if stuck:
            why = f"{stuck[0]} can't be written: {refused[stuck[0]]}"
            self._leave(finding, why, unsure=False)
            return
        made = self.judge(joined(dumps))
        why = self._objection(finding, values, made)
        if why:
            self._leave(finding, why)
            return
        self.wanted.update(values)
        self.kept |= set(values) - own
        beside = tuple(
            Edit(path, value_shown(path, values[path])) for path in values if path not in own
        )
        gone = frozenset({f.key for f in self.audit.findings} - {f.key for f in made.findings})
        upon = self.failed.get(finding.key, len(self.taken))
        self.taken.append(Taken(finding, (*finding.mend, *beside), gone, upon))
        self.after, self.now = dumps, made
        self.tried.clear()

    def _as_the_devices_ask(self, values: Mapping[str, Value]) -> dict[str, Value]:
        """Rate, level and wires that go with each role that a mend gives a port, by the sheet."""
        sheet = self.audit.sheet
        given = {
            path.split(".")[1]: value
            for path, value in values.items()
            if _gives_roles(path) and isinstance(value, frozenset)
        }
        if sheet is None or not given:
            return {}
        try:
            wants, _ = wants_of(Sheet(sheet))
        except NotStated:
            return {}
        craft = Craft(self.audit.settings)
        found: dict[str, Value] = {}
        for name, roles in given.items():
            port = craft.ports[name]
            before = port.roles if port.states("roles") else frozenset()
            for want in wants:
                if want.role in roles - before and want.port in ("", name):
                    found |= as_it_asks(want, port, stays=True)
        return found

    def _leave(self, finding: Finding, why: str, *, unsure: bool = True) -> None:
        self.tried[finding.key] = Left(finding, why, unsure)
        self.failed[finding.key] = len(self.taken)

    def _objection(self, finding: Finding, values: Mapping[str, Value], made: Audit) -> str:
        """Why a mend is not taken; or nothing."""
        standing = {finding.key for finding in made.findings}
        back = [entry.finding for entry in self.taken if entry.finding.key in standing]
        if back:
            path = next((p for p in values if p in self.wanted), next(iter(values)))
            return (
                f"its mend of {path} would bring back {back[0].rule.id}, which is graver or first"
            )
        return objection(finding, values, self.audit, made)

    def outcome(self) -> Mended:
        """The change without what is not needed, and what it does."""
        wanted = self._needed()
        after, _ = edit_dumps(self.dumps, wanted)
        last = self.judge(joined(after))
        standing = {finding.key: finding for finding in last.findings}
        left = [
            entry._replace(finding=standing[key])
            for key, entry in self.tried.items()
            if key in standing
        ]
        return Mended(self.dumps, after, wanted, tuple(self.taken), tuple(left), self.first, last)

    def _needed(self) -> dict[str, Value]:
        """The edits without which something mended would come back."""
        goal = _keys(self.audit.findings)
        wanted = dict(self.wanted)
        for path in reversed(list(self.wanted) if len(self.wanted) > 1 else []):
            if path in self.kept or path not in wanted:
                continue
            whole = self._moved_with(path)
            fewer = {other: value for other, value in wanted.items() if other not in whole}
            made = self.judge(joined(edit_dumps(self.dumps, fewer).dumps))
            if _keys(made.findings) <= goal:
                wanted = fewer
        return wanted

    def _moved_with(self, path: str) -> set[str]:
        """The path, and where it gives a port its roles those that the same mend takes them off."""
        sets = [{edit.path for edit in taken.edits} for taken in self.taken]
        beside = set().union(*(paths for paths in sets if path in paths))
        return {path, *(other for other in beside if _gives_roles(path) and _gives_roles(other))}


def sure_only(done: Mended, judge: Judge) -> Audit:
    """The first audit with the mends that `mend` takes; each other one is told as advice, and why.

    Mends that are sure with each other alone are one: each of their findings has all the edits.
    """
    sets = _sure_sets(done, judge)
    left = {entry.finding.key: entry for entry in done.left}
    trusted = believed(done.first.findings, done.first.settings, done.first.sheet)

    def told(finding: Finding) -> Finding:
        if finding not in trusted:
            return not_believed(finding, done.first)
        if not finding.mend:
            return finding
        for keys, paths in sets:
            if finding.key in keys:
                edits = (Edit(path, value_shown(path, done.wanted[path])) for path in paths)
                return finding._replace(mend=tuple(edits))
        said = [finding.advice or finding.rule.doc.mend]
        entry = left.get(finding.key)
        if entry is not None:
            lead = "No single change is sure" if entry.unsure else "`mend` leaves it"
            said += [f"{lead}: {entry.why.rstrip('.')}."]
        return finding._replace(mend=(), advice=" ".join(said))

    return replace(done.first, findings=tuple(map(told, done.first.findings)))


def _sure_sets(done: Mended, judge: Judge) -> list[tuple[set[FindingKey], list[str]]]:
    """The findings that are mended together, with the paths of what mends them."""
    groups: list[set[int]] = []
    for number, taken in enumerate(done.taken):
        own = {edit.path for edit in taken.edits}
        met = {number, *range(taken.upon, number)}
        met |= {n for n in range(number) if own & {edit.path for edit in done.taken[n].edits}}
        joined_up = [group for group in groups if group & met]
        groups = [g for g in groups if g not in joined_up] + [met.union(*joined_up)]
    found = [_set_of(done, group) for group in groups]
    if len(found) < 2:
        return found
    alone = [_stands_alone(done, keys, paths, judge) for keys, paths in found]
    return [
        (keys, paths if is_sure else list(done.wanted))
        for (keys, paths), is_sure in zip(found, alone, strict=True)
    ]


def _set_of(done: Mended, group: Iterable[int]) -> tuple[set[FindingKey], list[str]]:
    some = [done.taken[number] for number in sorted(group)]
    own = {edit.path for taken in some for edit in taken.edits}
    keys = {key for taken in some for key in taken.cleared}
    return keys, [path for path in done.wanted if path in own]


def _stands_alone(done: Mended, keys: set[FindingKey], paths: Sequence[str], judge: Judge) -> bool:
    """Whether a set of edits is sure without the others, and clears what is said to go with it."""
    edits = {path: done.wanted[path] for path in paths}
    made = judge(joined(edit_dumps(done.before, edits).dumps))
    areas = {finding.rule.area for finding in done.first.findings if finding.key in keys}
    return not any(f.key in keys for f in made.findings) and not any(
        harm(edits, done.first, made, area) for area in areas
    )


def _gives_roles(path: str) -> bool:
    return path.startswith("ports.") and path.endswith(".roles")


def _keys(findings: Sequence[Finding]) -> set[tuple[FindingKey, int]]:
    return {(finding.key, RANK[finding.level]) for finding in findings}
