"""The engine: each rule looks at the craft; paths become places; a crash becomes a finding."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated, Origin, Settings
from cfgaudit.reading.place import Place
from cfgaudit.rules.book import book
from cfgaudit.rules.limits import Limits, usual_limits
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Rule

RANK = {Level.ERROR: 0, Level.WARNING: 1, Level.NOTE: 2}


class Finding(NamedTuple):
    """A finding as reported: what the rule yielded, with its places and its fingerprint."""

    rule: Rule
    level: Level
    message: str
    paths: tuple[str, ...]
    stated_at: tuple[Place | None, ...]  # one a path
    also_at: tuple[Place, ...]  # further places, of lines without a path
    figures: tuple[tuple[str, float], ...]
    mend: tuple[Edit, ...]
    advice: str
    fingerprint: str  # of rule, paths and stated values: never of line numbers
    origins: tuple[Origin | None, ...]  # one a path; None where it is not stated

    @property
    def places(self) -> tuple[Place, ...]:
        """Every place it is about, each once."""
        stated = [place for place in self.stated_at if place is not None]
        return tuple(dict.fromkeys([*self.also_at, *stated]))


class Unchecked(NamedTuple):
    """A rule that could not be checked, or not wholly, and the paths it lacked."""

    rule: Rule
    lacks: tuple[str, ...]


@dataclass(frozen=True)
class Audit:
    """What the rule book says of one craft."""

    settings: Settings
    findings: tuple[Finding, ...]
    not_checked: tuple[Unchecked, ...]
    checked: int

    def count(self, level: Level) -> int:
        """How many findings there are at a level."""
        return sum(finding.level is level for finding in self.findings)


def audit(
    settings: Settings, rules: Sequence[Rule] | None = None, limits: Limits | None = None
) -> Audit:
    """Run the rules (the whole book, unless told otherwise) over a set of settings.

    `limits` are the values that are a matter of taste; the usual ones unless told otherwise.
    """
    craft = Craft(settings)
    within = usual_limits() if limits is None else limits
    findings: list[Finding] = []
    unchecked: list[Unchecked] = []
    chosen = book() if rules is None else rules
    for rule in chosen:
        fired, lacks = _run(rule, craft, within)
        findings += [_finding(rule, fires, settings) for fires in fired]
        if lacks:
            unchecked.append(Unchecked(rule, tuple(dict.fromkeys(lacks))))
    return Audit(
        settings,
        tuple(sorted(findings, key=_order)),
        tuple(unchecked),
        len(chosen) - len(unchecked),
    )


def _run(rule: Rule, craft: Craft, limits: Limits) -> tuple[list[Fires], list[str]]:
    fired: list[Fires] = []
    lacks: list[str] = []
    try:
        for yielded in rule.check(craft, *(limits[name].value for name in rule.limits)):
            if isinstance(yielded, Lacks):
                lacks.append(yielded.path)
            else:
                fired.append(yielded)
    except NotStated as lack:
        lacks.append(lack.path)
    except Exception as error:  # a rule's fault must not hide what the other rules find
        message = (
            f"The rule itself failed ({type(error).__name__}: {error}), so it says nothing about "
            "this craft. Please report it with the dump, redacted."
        )
        fired.append(Fires(message, (), level=Level.WARNING))
    return fired, lacks


def _finding(rule: Rule, fires: Fires, settings: Settings) -> Finding:
    return Finding(
        rule,
        fires.level or rule.level,
        fires.message,
        fires.paths,
        tuple(settings[path].place if path in settings else None for path in fires.paths),
        fires.places,
        fires.figures,
        fires.mend,
        fires.advice,
        _fingerprint(rule.id, fires, settings),
        tuple(settings[path].origin if path in settings else None for path in fires.paths),
    )


def _fingerprint(rule_id: str, fires: Fires, settings: Settings) -> str:
    parts = [rule_id]
    for path in fires.paths:
        value = settings[path].value if path in settings else None
        spelled = sorted(value) if isinstance(value, frozenset) else value
        parts.append(f"{path}={spelled!r}")
    if not fires.paths:
        parts.append(fires.message)
    from hashlib import sha256  # takes a while to load, and a clean audit needs none

    return sha256("\n".join(parts).encode("utf-8", "backslashreplace")).hexdigest()[:16]


def _order(finding: Finding) -> tuple[int, str, tuple[str, ...], str]:
    return RANK[finding.level], finding.rule.id, finding.paths, finding.message


def new_and_cleared(old: Audit, new: Audit) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """The findings that a change brings and those it clears, matched by rule and paths."""

    def keys(findings: Iterable[Finding]) -> set[tuple[str, tuple[str, ...], Level]]:
        return {(f.rule.id, f.paths, f.level) for f in findings}

    before, after = keys(old.findings), keys(new.findings)
    brought = tuple(f for f in new.findings if (f.rule.id, f.paths, f.level) not in before)
    cleared = tuple(f for f in old.findings if (f.rule.id, f.paths, f.level) not in after)
    return brought, cleared
