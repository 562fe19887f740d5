"""Causes: the smallest sets of stated settings whose change clears a group of findings.

Nothing is solved for: the audit is the oracle. A change is tried, the rules that read what it
touches run again, and what is then gone was caused by it. With an earlier dump the changes between
the two are the suspects, and the smallest set of them is sought as delta debugging does (Zeller and
Hildebrandt, "Simplifying and isolating failure-inducing input", IEEE TSE 28, 2002: the algorithm
from memory). Without one, likely values are tried in place of what is stated; what clears the most
with the least is said as what could be, with what speaks for it and for its rival.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final, NamedTuple

from cfgaudit.audit.engine import RANK, Finding, FindingKey, believed, of_another
from cfgaudit.audit.guesses import (
    FLOWN,
    GAINS,
    Edits,
    Ground,
    Guess,
    against,
    denies_fact,
    denies_sheet,
    differ,
    guesses,
    is_fact,
    typed_number,
    value_key,
)
from cfgaudit.audit.incremental import Auditor, AuditOutcome
from cfgaudit.rules.rule import Edit, Level
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import declared

_WEIGHT = {Level.ERROR: 10, Level.WARNING: 3, Level.NOTE: 0}
_NEVER = 1_000.0  # what a guess loses that brings more than it clears
_NOTED = 1.0  # what a guess loses for a note about its own settings that it brings
_MOST_FINDINGS = 60  # errors and warnings; a dump with more of them has no few causes
_MOST_TRIES = 600  # so that no dump holds the machine up: a second or so
_MOST_RIVALS = 3
_FROM_AFAR = 0.1  # of a finding's weight, where its rule names none of the settings
_BETWEEN = (0.05, 0.25, 0.5, 0.75)  # of the way to an end that does, where it must do too
_WITHIN = tuple(part / 16 for part in range(17))  # of a stretch, where it must do from end to end
_MOST_WHOLE = 64  # numbers that are tried one by one, each way
_DOUBTED = 2  # from so many steps against it on, a guess is about a fact of the craft
_TRIED_AGAIN = 12  # of the guesses that were good alone, beside what is taken already


class Turn(NamedTuple):
    """One setting at fault: what it says, and the value with which the findings are gone."""

    path: str
    now: Stated | None  # None where it is not stated, and should be
    back: Value | None  # None where it should not be stated


class Cause(NamedTuple):
    """Settings at fault, and the findings that go with a change of them.

    `rivals` are other settings whose change would clear the findings as well, the likeliest first,
    and where two may have changed places, either alone;
    `within` is the stretch of values of a single number or range that clears them, in its unit.
    """

    turns: tuple[Turn, ...]
    findings: tuple[Finding, ...]
    ground: Ground
    rivals: tuple[tuple[Turn, ...], ...] = ()
    within: tuple[float, float] | None = None

    @property
    def paths(self) -> tuple[str, ...]:
        """The settings at fault."""
        return tuple(turn.path for turn in self.turns)

    def less(self, findings: Iterable[Finding]) -> "Cause | None":
        """The cause with only those of its findings that are among some; None without any."""
        kept = {finding.key for finding in findings}
        own = tuple(finding for finding in self.findings if finding.key in kept)
        return self._replace(findings=own) if own else None

    @property
    def speaker(self) -> Finding:
        """The finding that says best what is wrong: of the gravest, the one about just these."""
        own = set(self.paths)

        def rank(finding: Finding) -> tuple[int, float]:
            about = len(own.intersection(finding.paths)) / max(1, len(finding.paths))
            return RANK[finding.level], -about

        return min(self.findings, key=rank)

    @property
    def level(self) -> Level:
        """The level of its gravest finding."""
        return min((finding.level for finding in self.findings), key=RANK.__getitem__)

    def explains(self, finding: Finding) -> bool:
        """Whether a finding is among its own, whichever audit found it."""
        return any(own.key == finding.key for own in self.findings)


class Explained(NamedTuple):
    """The causes, the gravest first, and the findings that no change explains."""

    causes: tuple[Cause, ...]
    left: tuple[Finding, ...]
    tries: int  # audits that it took


def since(old: Settings, new: Settings, auditor: Auditor) -> Explained:
    """The causes of what `new` has and `old` had not, among the changes between the two.

    The auditor's last audit is afterwards that of `new`. A finding that stood before, or stands
    whichever changes are taken back, is left.
    """
    before = {finding.key for finding in auditor.outcome(old).findings}
    oracle = _Oracle(new, auditor)
    brought = [finding for finding in oracle.grave if finding.key not in before]
    if new.unmerged is not None:  # which of its lines will stand is not known
        return Explained((), tuple(brought), 0)
    changes = {
        path: old.stated.get(path)
        for path in {**new.stated, **old.stated}
        if differ(old.stated.get(path), new.stated.get(path))
    }
    sets: list[frozenset[str]] = []
    for finding in brought:
        sets += _smallest(finding, changes, oracle)
    chosen = _cover(brought, dict.fromkeys(sets), lambda names: _only(changes, names), oracle)
    causes = [
        Cause(_turns(_only(changes, names), new), tuple(cleared), Ground.WAS)
        for names, cleared in _joined(chosen)
    ]
    return _told(causes, brought, oracle)


NO_MENDS: Final[Mapping[FindingKey, tuple[Edit, ...]]] = MappingProxyType({})


def likely(
    settings: Settings, auditor: Auditor, mends: Mapping[FindingKey, tuple[Edit, ...]] = NO_MENDS
) -> Explained:
    """What could be at fault in one dump alone, by the values that are likely in its place.

    `mends` are those that are sure, by finding. The auditor's last audit is afterwards that of
    `settings`.
    """
    oracle = _Oracle(settings, auditor)
    oracle.grave = tuple(f._replace(mend=mends.get(f.key, f.mend)) for f in oracle.grave)
    oracle.sure = {frozenset(edit.path for edit in mend) for mend in mends.values()}
    if len(oracle.grave) > _MOST_FINDINGS:
        return Explained((), oracle.grave, 0)
    about_it = believed(oracle.grave, settings, auditor.sheet)
    alone = _good_alone(about_it, oracle)
    alone += _carried_on(alone, about_it, oracle)
    alone.sort(key=lambda entry: -entry[0].worth)  # stable: the likelier kind stays before
    rest = list(about_it)
    causes: list[Cause] = []
    taken: dict[str, Stated | None] = {}
    widened = False
    while rest:
        found = _best(alone, rest, taken, oracle)
        if found is None and widened:
            break
        if found is None:  # what a rule looked at and does not name may be at fault as well
            widened = True  # this once
            alone = _good_alone(rest, oracle, taken)
            alone.sort(key=lambda entry: -entry[0].worth)
            continue
        (_, cleared, _), best = found
        best = _sounder(best, cleared, taken, oracle)
        rivals = _rivals(best, [g for rate, g in alone if _rivals_it(rate, g, cleared, oracle)])
        causes.append(
            Cause(
                _turns(best.edits, settings),
                tuple(cleared),
                best.ground,
                tuple(_turns(rival.edits, settings) for rival in rivals),
                _near(best, _stretch(best, cleared, taken, oracle)),
            )
        )
        taken = {**taken, **best.edits}
        gone = {finding.key for finding in cleared}
        rest = [finding for finding in rest if finding.key not in gone]
    return _told(_met(causes), oracle.grave, oracle)


def _met(causes: Sequence[Cause]) -> list[Cause]:
    """Causes as one where the findings of one are about what the other would change."""
    groups: list[Cause] = []
    for cause in causes:
        met = [other for other in groups if _about(cause, other) or _about(other, cause)]
        whole = cause
        for other in met:
            whole = whole._replace(
                turns=(*other.turns, *whole.turns),
                findings=(*other.findings, *whole.findings),
                ground=max(other.ground, whole.ground),
                rivals=_others((*other.rivals, *whole.rivals), (*other.turns, *whole.turns)),
                within=None,
            )
        groups = [*(group for group in groups if group not in met), whole]
    return groups


def _others(
    rivals: Sequence[tuple[Turn, ...]], turns: Sequence[Turn]
) -> tuple[tuple[Turn, ...], ...]:
    """Up to three rivals that are about other settings than those at fault."""
    own = {turn.path for turn in turns}
    return tuple(rival for rival in rivals if own.isdisjoint(turn.path for turn in rival))[
        :_MOST_RIVALS
    ]


def _about(cause: Cause, other: Cause) -> bool:
    named = {path for finding in cause.findings for path in finding.paths}
    return not named.isdisjoint(other.paths)


def _only(edits: Edits, names: Iterable[str]) -> Edits:
    return {path: edits[path] for path in sorted(names)}


@dataclass
class _Oracle:
    """Tries edits of one set of settings; what was tried once is remembered."""

    settings: Settings
    auditor: Auditor
    sure: set[frozenset[str]] = field(default_factory=set)  # the settings of each sure mend
    _tried: set[frozenset[tuple[str, object]]] = field(default_factory=set)
    _found: dict[frozenset[tuple[str, object]], AuditOutcome] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._now = self.auditor.outcome(self.settings)
        self.grave = _graver(self._now.findings)

    @property
    def sheet(self) -> Settings | None:
        """The build sheet, unless it is of another craft."""
        return None if of_another(self.grave) else self.auditor.sheet

    @property
    def tries(self) -> int:
        """How many edits were tried."""
        return len(self._tried)

    def _may_try(self, key: frozenset[tuple[str, object]]) -> bool:
        """Whether tries have not run out; what was tried before can be told further."""
        if len(self._tried) < _MOST_TRIES:
            self._tried.add(key)
        return key in self._tried

    def _with(self, edits: Edits) -> AuditOutcome | None:
        """What is found with edits in; None once tries run out."""
        key = _key_of(edits)
        if key not in self._found and self._may_try(key):
            self._found[key] = self.auditor.tried(self.with_in(edits))
        return self._found.get(key)

    def after(self, edits: Edits) -> tuple[Finding, ...]:
        """The errors and warnings with edits in; those of the settings once tries run out."""
        done = self._with(edits)
        return self.grave if done is None else _graver(done.findings)

    def gone(self, findings: Sequence[Finding], edits: Edits) -> list[Finding]:
        """Which of the findings are gone with edits in; no other rules are asked for that."""
        key = _key_of(edits)
        after = self.grave
        if key in self._found:
            after = _graver(self._found[key].findings)
        elif self._may_try(key):
            ids = {finding.rule.id for finding in findings}
            after = _graver(self.auditor.tried(self.with_in(edits), ids).findings)
        return [finding for finding in findings if not _stands(finding, after)]

    def with_in(self, edits: Edits) -> Settings:
        """The settings with edits in."""
        stated = {**self.settings.stated, **{p: e for p, e in edits.items() if e is not None}}
        for path in (path for path, entry in edits.items() if entry is None):
            stated.pop(path, None)
        return replace(self.settings, stated=stated)

    def notes_brought(self, edits: Edits) -> int:
        """How many notes about the settings of edits come with them."""
        done = self._with(edits)
        fresh = frozenset() if done is None else _notes_of(done) - _notes_of(self._now)
        return sum(not set(edits).isdisjoint(paths) for _, paths in fresh)

    def lacking(self, edits: Edits) -> frozenset[str]:
        """The rules that lack something with edits in."""
        done = self._with(edits)
        return frozenset() if done is None else frozenset(done.lacks)

    def clears(self, finding: Finding, edits: Edits) -> bool:
        """Whether a finding is gone with edits in, and no error has come.

        It is gone where its rule says nothing of its settings any more.
        """
        return bool(self.gone([finding], edits)) and not any(
            other.level is Level.ERROR and not _stands(other, self.grave)
            for other in self.after(edits)
        )


def _key_of(edits: Edits) -> frozenset[tuple[str, object]]:
    return frozenset((path, value_key(entry)) for path, entry in edits.items())


def _graver(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(finding for finding in findings if finding.level is not Level.NOTE)


def _notes_of(done: AuditOutcome) -> frozenset[FindingKey]:
    return frozenset(finding.key for finding in done.findings if finding.level is Level.NOTE)


def _stands(finding: Finding, among: Iterable[Finding]) -> bool:
    """Whether its rule still speaks of any of its settings (or at all, where it names none).

    What the build sheet says is not the finding's own: many are held against it.
    """
    own = {path for path in finding.paths if not path.startswith("sheet.")} or set(finding.paths)
    return any(
        other.rule.id == finding.rule.id and (not own or not own.isdisjoint(other.paths))
        for other in among
    )


# --- an earlier dump: the smallest sets of changes ---------------------------------------------


def _smallest(finding: Finding, changes: Edits, oracle: _Oracle) -> list[frozenset[str]]:
    """The smallest sets of changes that clear a finding when taken back: all of one, or one."""
    read = oracle.auditor.read_by(finding.rule.id)
    near = [path for path in changes if path in read or oracle.settings.stated.get(path) is None]
    names = near if near and oracle.clears(finding, _only(changes, near)) else list(changes)
    if not names or not oracle.clears(finding, _only(changes, names)):
        return []
    alone = [path for path in names if oracle.clears(finding, _only(changes, [path]))]
    if alone:
        return [frozenset({path}) for path in alone]
    return [frozenset(_debugged(names, lambda part: oracle.clears(finding, _only(changes, part))))]


def _debugged(names: Sequence[str], clears: Callable[[Sequence[str]], bool]) -> Sequence[str]:
    """A set of names that clears, of which none can be left out (ddmin)."""
    pieces = 2
    while len(names) > 1:
        size = -(-len(names) // pieces)
        parts = [names[at : at + size] for at in range(0, len(names), size)]
        rests = [[name for name in names if name not in part] for part in parts]
        smaller = next((part for part in (*parts, *rests) if part and clears(part)), None)
        if smaller is not None:
            pieces = 2 if smaller in parts else max(pieces - 1, 2)
            names = smaller
        elif pieces >= len(names):
            break
        else:
            pieces = min(len(names), pieces * 2)
    return names


def _cover(
    findings: Sequence[Finding],
    sets: Iterable[frozenset[str]],
    edits_of: Callable[[frozenset[str]], Edits],
    oracle: _Oracle,
) -> list[tuple[frozenset[str], list[Finding]]]:
    """The sets that clear all between them, each time the one that clears the most for its size."""
    rest = list(findings)
    known = list(sets)
    chosen: list[tuple[frozenset[str], list[Finding]]] = []
    while rest and known:
        rated = [(names, [f for f in rest if oracle.clears(f, edits_of(names))]) for names in known]
        names, cleared = max(rated, key=lambda entry: _worth(entry[1]) / len(entry[0]))
        if not cleared:
            break
        chosen.append((names, cleared))
        rest = [finding for finding in rest if finding not in cleared]
    return chosen


def _worth(findings: Iterable[Finding]) -> int:
    return sum(_WEIGHT[finding.level] for finding in findings)


def _joined(
    chosen: Sequence[tuple[frozenset[str], list[Finding]]],
) -> list[tuple[frozenset[str], list[Finding]]]:
    """Sets that share a setting are one cause."""
    groups: list[tuple[frozenset[str], list[Finding]]] = []
    for names, cleared in chosen:
        met = [group for group in groups if not group[0].isdisjoint(names)]
        whole = names.union(*(group[0] for group in met))
        findings = [finding for group in met for finding in group[1]]
        groups = [*(group for group in groups if group not in met), (whole, [*findings, *cleared])]
    return groups


# --- one dump alone: likely values -------------------------------------------------------------


class Rate(NamedTuple):
    """What a guess is worth beside those taken, and which findings go and come with it."""

    worth: float
    cleared: list[Finding]
    brings: list[Finding]

    @property
    def bearable(self) -> bool:
        """Whether it brings less than it clears."""
        return self.worth > -_NEVER / 2


def _rate(guess: Guess, rest: Sequence[Finding], taken: Edits, oracle: _Oracle) -> Rate | None:
    """What a guess is worth beside those taken, and what it clears; None where that is nothing.

    One that brings as much as it clears is worth less than nothing: it may do beside another one.

    What it brings counts double: a fault that is put right brings nothing. What it clears without
    being named counts little: that a rule falls silent answers nothing. Of two that clear the same,
    the one with more behind it and of fewer settings is worth more.
    """
    if any(path in taken for path in guess.edits):
        return None
    cleared = oracle.gone(rest, {**taken, **guess.edits})
    if not cleared:
        return None
    after = oracle.after({**taken, **guess.edits})
    known = {finding.key for finding in (*oracle.grave, *oracle.after(taken))}
    brought = [finding for finding in after if finding.key not in known]
    written = guess.ground <= Ground.SHEET  # what somebody wrote down may answer all of it
    named = [finding for finding in cleared if written or _names(finding, guess)]
    gain = _FROM_AFAR * _worth(cleared) + (1 - _FROM_AFAR) * _worth(named)
    worth = (gain - 2 * _worth(brought)) / _slips_of(guess, cleared, oracle)
    place = sum(min(_place_in(guess, finding), 3) for finding in cleared) / len(cleared)
    doubt = against(guess, oracle.settings, oracle.sheet)
    rate = worth - 0.3 * (guess.ground + doubt) - 0.15 * place
    rate -= _NOTED * (oracle.notes_brought({**taken, **guess.edits}) if worth > 0 else 0)
    return Rate(rate if worth > 0 else rate - _NEVER, cleared, brought)


def _good_alone(
    findings: Sequence[Finding], oracle: _Oracle, taken: Edits | None = None
) -> list[tuple[Rate, Guess]]:
    """The guesses about findings that clear any at all; one slip that does is enough of a setting.

    Beside others that are taken already, the settings too that the findings' rules looked at and do
    not name.
    """
    found: list[tuple[Rate, Guess]] = []
    slipped: set[frozenset[str]] = set()
    read = (oracle.auditor.read_by(finding.rule.id) for finding in findings if taken is not None)
    looked_at = sorted(frozenset().union(*read))
    # a gain that is not named is the yardstick of those that are: no reason to move it
    further = [p for p in looked_at if not (k := declared(p)) or not k.pattern.startswith(GAINS)]
    for guess in guesses(oracle.settings, oracle.sheet, findings, oracle.auditor.limits, further):
        names = frozenset(guess.edits)
        if guess.ground is Ground.SLIP and names in slipped:
            continue
        rate = _rate(guess, findings, taken or {}, oracle)
        if rate is not None:
            found.append((rate, guess))
            about = [f for f in findings if not names.isdisjoint(f.paths)]
            if not rate.brings and len(rate.cleared) >= len(about):
                slipped.add(names)
    return found


def _carried_on(
    alone: Sequence[tuple[Rate, Guess]], findings: Sequence[Finding], oracle: _Oracle
) -> Iterator[tuple[Rate, Guess]]:
    """What somebody wrote down that brings errors, with what answers those beside it.

    So is found what was changed in several places by one mistake: none of them is right alone.
    """
    for rate, guess in alone:
        if guess.ground > Ground.SHEET or rate.bearable:
            continue
        settings, limits = oracle.with_in(guess.edits), oracle.auditor.limits
        for further in guesses(settings, oracle.sheet, rate.brings, limits):
            if further.ground is Ground.SLIP:
                continue
            both = Guess({**further.edits, **guess.edits}, max(guess.ground, further.ground))
            made = _rate(both, findings, {}, oracle)
            if made is not None and not made.brings:
                yield made, both


def _slips_of(guess: Guess, cleared: Sequence[Finding], oracle: _Oracle) -> int:
    """How many slips of the pen it takes back: settings found amiss that changed places are one.

    So is what the guess says was typed at once, and what is sure together.
    """
    if guess.ground is Ground.MEND and frozenset(guess.edits) in oracle.sure:
        return 1
    now = [oracle.settings.stated.get(path) for path in guess.edits]
    then = list(guess.edits.values())
    same = sorted(map(repr, map(value_key, now))) == sorted(map(repr, map(value_key, then)))
    about = {path for finding in cleared for path in finding.paths}
    return 1 if (same or guess.one) and about.issuperset(guess.edits) else len(guess.edits)


def _names(finding: Finding, guess: Guess) -> bool:
    """Whether a finding names a setting of a guess, or what the build sheet says of it."""
    return any(path in finding.paths or f"sheet.{path}" in finding.paths for path in guess.edits)


def _place_in(guess: Guess, finding: Finding) -> int:
    """Where a finding names the guess's settings: a rule names first what it is about."""
    return min(
        (finding.paths.index(path) for path in guess.edits if path in finding.paths), default=9
    )


def _best(
    alone: Sequence[tuple[Rate, Guess]], rest: Sequence[Finding], taken: Edits, oracle: _Oracle
) -> tuple[Rate, Guess] | None:
    """The best guess beside those taken; only those that were good alone are tried again."""
    open_to = [guess for rate, guess in alone if _meets(rate.cleared, rest)]
    rated = [
        (rate, guess)
        for guess in (open_to[:_TRIED_AGAIN] if taken else open_to)
        if (rate := _rate(guess, rest, taken, oracle)) is not None and rate.bearable
    ]
    best = max(rated, key=lambda entry: entry[0].worth, default=None)  # the first of equals
    return best and _written_instead(*best, rated, oracle)


def _written_instead(
    best: Rate, guess: Guess, rated: Sequence[tuple[Rate, Guess]], oracle: _Oracle
) -> tuple[Rate, Guess]:
    """The best guess; or what somebody wrote down, where that clears the gravest of it as well.

    It must be a fact of the craft that was guessed at, which is seldom at fault: that a warning
    beside would go too is no reason to doubt it.
    """
    if guess.ground <= Ground.SHEET or against(guess, oracle.settings, oracle.sheet) < _DOUBTED:
        return best, guess
    grave = _gravest(best.cleared)
    written = [
        (rate, other)
        for rate, other in rated
        if other.ground <= Ground.SHEET and not rate.brings
        if grave <= {finding.key for finding in rate.cleared}
    ]
    return max(written, key=lambda entry: entry[0].worth, default=(best, guess))


def _gravest(findings: Sequence[Finding]) -> set[FindingKey]:
    gravest = min(RANK[finding.level] for finding in findings)
    return {finding.key for finding in findings if RANK[finding.level] == gravest}


def _meets(one: Sequence[Finding], other: Sequence[Finding]) -> bool:
    keys = {finding.key for finding in one}
    return any(finding.key in keys for finding in other)


def _rivals_it(rate: Rate, guess: Guess, cleared: Sequence[Finding], oracle: _Oracle) -> bool:
    """Whether a guess may be the cause instead: it clears the gravest, and denies no fact.

    Nor is a fact told that would have changed places with one that no finding is about.
    """
    about = {path for finding in cleared for path in finding.paths}
    return (
        rate.bearable
        and _gravest(cleared) <= {finding.key for finding in rate.cleared}
        and (guess.ground is not Ground.SWAPPED or about.issuperset(guess.edits))
        and not denies_fact(guess)
        and not denies_sheet(guess, oracle.settings, oracle.auditor.sheet)
    )


def _rivals(best: Guess, rated: Sequence[Guess]) -> list[Guess]:
    """Up to three guesses about other settings, each setting once; of a swap also either alone."""
    told = set(best.edits)
    ends = set(best.edits) if best.ground is Ground.SWAPPED else set()
    found: list[Guess] = []
    for guess in rated:
        alone = len(guess.edits) == 1 and ends.issuperset(guess.edits)
        if (alone or told.isdisjoint(guess.edits)) and len(found) < _MOST_RIVALS:
            found.append(guess)
            told |= set(guess.edits)
            ends -= set(guess.edits)
    return found


def _sounder(guess: Guess, cleared: Sequence[Finding], taken: Edits, oracle: _Oracle) -> Guess:
    """The same setting with a value to fly with: the firmware's own, or the middle of what clears.

    A limit itself, or another setting's value, is one that only just does. What somebody wrote down
    for this craft stays.
    """
    stretch = _stretch(guess, cleared, taken, oracle)
    if stretch is None or guess.ground in (Ground.MEND, Ground.SHEET, Ground.FACTORY):
        return guess
    ((path, entry),) = guess.edits.items()
    number = declared(path)
    assert number is not None  # as it has a stretch
    assert number.kind.number is not None
    assert entry is not None
    own = oracle.settings.factory.get(path)
    if isinstance(own, int | float) and stretch[0] <= own <= stretch[1]:
        return Guess({path: entry._replace(value=own)}, Ground.FACTORY)
    bounds = number.kind.number
    if guess.ground is Ground.RECKONED and bounds.low < stretch[0] and stretch[1] < bounds.high:
        made = bounds.of_number(typed_number(sum(stretch) / 2, up=True))
        if made is not None:
            return Guess({path: entry._replace(value=made)}, Ground.RECKONED)
    return guess


_AS_FAR = 4  # times a value, and a share of it: what no rule speaks of further off may be wrong


def _near(guess: Guess, stretch: tuple[float, float] | None) -> tuple[float, float] | None:
    """As much of a stretch as is near the guess's value."""
    entry = next(iter(guess.edits.values()))
    value = entry.value if entry is not None else None
    if stretch is None or not isinstance(value, float) or value <= 0:
        return stretch
    return max(stretch[0], value / _AS_FAR), min(stretch[1], value * _AS_FAR)


def _stretch(
    guess: Guess, cleared: Sequence[Finding], taken: Edits, oracle: _Oracle
) -> tuple[float, float] | None:
    """The stretch of values around a guess that clear what it clears and bring nothing.

    Each whole number in it was tried, of other values some in between. None where a value could be
    anywhere in it and still be wrong: of what is measured on this craft, or is a fact of it, or
    flown while nobody steers, of a gain, which flies badly long before a rule speaks, and where a
    rule that looks at it lacks something.
    """
    if len(guess.edits) != 1:
        return None
    ((path, entry),) = guess.edits.items()
    known = declared(path)
    number = known.kind.number if known is not None else None
    if entry is None or number is None or _wants_just_one(path):
        return None
    if isinstance(entry.value, bool) or not isinstance(entry.value, int | float):
        return None
    blind = oracle.lacking({**taken, **guess.edits})
    if blind & oracle.auditor.readers_of(path):
        return None
    base = {finding.key for finding in oracle.after({**taken, **guess.edits})}
    low_end, high_end = number.low, number.high
    if entry.value > 0 and not low_end > 0:
        low_end = 0.0  # a sign is not part of a stretch, and at nothing most things are off

    def holds(value: float) -> bool:
        made = number.of_number(int(value) if isinstance(entry.value, int) else value)
        if made is None or number.beyond(made) or (not value and entry.value):
            return False
        edits = {**taken, path: entry._replace(value=made)}
        after = oracle.after(edits)
        if oracle.lacking(edits) - blind:
            return False  # a rule that can't look any more finds nothing
        still = any(_stands(finding, after) for finding in cleared)
        return not still and all(finding.key in base for finding in after)

    whole = isinstance(entry.value, int)
    low, high = (_edge(entry.value, end, holds, whole=whole) for end in (low_end, high_end))
    low, high = typed_number(low, up=True), typed_number(high, up=False)
    if whole:
        low, high = (_run(int(entry.value), end, holds) for end in (low, high))
    clean = whole or all(holds(low + (high - low) * part) for part in _WITHIN)
    return (low, high) if clean and low < high else None


def _wants_just_one(path: str) -> bool:
    """Whether a setting has one right value, whatever others no rule speaks of."""
    known = declared(path)
    measured = known is not None and known.traits.craft_own
    tuned = known is not None and known.pattern.startswith(GAINS)
    return measured or tuned or is_fact(path) or path.startswith(FLOWN)


def _run(start: int, end: float, holds: Callable[[float], bool]) -> float:
    """How far from start towards end each whole number holds; not far where there are many."""
    step = 1 if end > start else -1
    last = start
    for value in range(start + step, int(end) + step, step)[:_MOST_WHOLE]:
        if not holds(value):
            break
        last = value
    return float(last)


def _edge(start: float, end: float, holds: Callable[[float], bool], *, whole: bool) -> float:
    """How far from start towards end it holds, to a 64th of the way (or to a whole number)."""
    if holds(end) and all(holds(start + (end - start) * part) for part in _BETWEEN if not whole):
        return end
    good, bad = start, end
    for _ in range(10):
        middle = (good + bad) / 2
        if whole:
            middle = float(round(middle))
            if middle in (good, bad):
                break
        if holds(middle):
            good = middle
        else:
            bad = middle
    return good


# --- both ---------------------------------------------------------------------------------------


def _turns(edits: Edits, settings: Settings) -> tuple[Turn, ...]:
    return tuple(
        Turn(path, settings.stated.get(path), entry.value if entry is not None else None)
        for path, entry in edits.items()
    )


def _told(causes: Sequence[Cause], findings: Sequence[Finding], oracle: _Oracle) -> Explained:
    told = {finding.key for cause in causes for finding in cause.findings}
    left = tuple(finding for finding in findings if finding.key not in told)
    return Explained(tuple(sorted(causes, key=_order)), left, oracle.tries)


def _order(cause: Cause) -> tuple[int, bool, int, tuple[str, ...]]:
    """Errors first; of those what is a danger at the bench already, then what weighs most."""
    bench = any("bench" in finding.rule.doc.air for finding in cause.findings)
    return RANK[cause.level], not bench, -_worth(cause.findings), cause.paths
