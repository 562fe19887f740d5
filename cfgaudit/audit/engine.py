"""The engine: each rule looks at the craft; paths become places; a crash becomes a finding."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.reading.safe import fault_of
from cfgaudit.reading.text import Place
from cfgaudit.rules.book import book
from cfgaudit.rules.rule import (
    BUILD_SHEET,
    Edit,
    Fires,
    Lacks,
    Level,
    Limits,
    NotApplicable,
    Rule,
    usual_limits,
)
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.declare import HIDDEN, NotStated
from cfgaudit.vocabulary.paths import declared

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


_OF_ANOTHER: Final = "sheet/another-craft"
_TWICE: Final = "sheet/place-twice"


class IllFormed(TypeError):  # noqa: N818 (it is what the rule did)
    """What a rule yielded is not sound; the text says how, and holds no value of a dump."""


def well_formed(yielded: object, crafts: int | None) -> None:
    """Raise IllFormed, with what is wrong, for anything but a sound Fires or Lacks.

    `crafts` is how many craft a fleet rule looked at; None for a rule over one craft. Rules of
    other packages come without our type checks.
    """
    if isinstance(yielded, Lacks):
        if not isinstance(yielded.path, str) or not _counted((yielded.craft,), crafts or 1):
            raise IllFormed("Lacks wants a path, and a craft that it looked at")
    elif isinstance(yielded, Fires):
        _fires(yielded, crafts)
    else:
        raise IllFormed(f"it yielded what is of type {type(yielded).__name__}")


def _fires(fires: Fires, crafts: int | None) -> None:
    sound = {
        "message": _all((fires.message, fires.advice, fires.choice, fires.air), str),
        "paths": _all(fires.paths, str),
        "figures": _all(fires.figures, tuple) and all(_is_figure(pair) for pair in fires.figures),
        "mend": _all(fires.mend, Edit),
        "level": fires.level is None or isinstance(fires.level, Level),
        "places": _all(fires.places, Place),
    }
    for part, holds in sound.items():
        if not holds:
            raise IllFormed(f"its Fires has a wrong {part}")
    owners = 0 if crafts is None else len(fires.paths)
    if not isinstance(fires.crafts, tuple) or len(fires.crafts) != owners:
        raise IllFormed("its Fires wants in crafts whose each path is, if it looks at several")
    if not _counted(fires.crafts, crafts or 0):
        raise IllFormed("its Fires names a craft that it did not look at")


def _all(members: object, kind: type) -> bool:
    return isinstance(members, tuple) and all(isinstance(member, kind) for member in members)


def _is_figure(pair: tuple[object, ...]) -> bool:
    """Whether it is a name and a number that JSON can write."""
    if len(pair) != 2 or isinstance(pair[1], bool) or not isinstance(pair[1], int | float):
        return False
    return isinstance(pair[0], str) and abs(pair[1]) < float("inf")


def _counted(numbers: tuple[object, ...], crafts: int) -> bool:
    return all(isinstance(number, int) and 0 <= number < crafts for number in numbers)


_FAILED = "The rule itself failed"
Lacking = Mapping[str, tuple[str, ...]]  # rule id to the paths that it lacked
RANK = {Level.ERROR: 0, Level.WARNING: 1, Level.NOTE: 2}


def fails(level: Level, fail_on: str) -> bool:
    """Whether a level is at or above the lowest that fails, or `never`."""
    return fail_on != "never" and RANK[level] <= RANK[Level(fail_on)]


FindingKey = tuple[str, tuple[str, ...]]  # a rule's id and paths


class Finding(NamedTuple):
    """A finding as reported: what the rule yielded, with its places and what tells it apart."""

    rule: Rule
    level: Level
    message: str
    paths: tuple[str, ...]
    stated_at: tuple[Place | None, ...]  # one a path
    also_at: tuple[Place, ...]  # further places, of lines without a path
    figures: tuple[tuple[str, float], ...]
    mend: tuple[Edit, ...]
    advice: str
    identity: str  # rule, paths and stated values, no secret among them; never line numbers
    origins: tuple[Origin | None, ...]  # one a path; None where it is not stated
    crafts: tuple[int, ...] = ()  # one a path where several craft were looked at: whose it is
    # of one that a change takes away: what its rule lacks since then, so that it may yet stand
    lacks: tuple[str, ...] = ()
    choice: str = ""  # why its mend is nothing to do unasked
    air: str = ""  # what this one does in the air, where the rule's words are about more

    @property
    def in_the_air(self) -> str:
        """What it does in the air, or on the bench."""
        return self.air or self.rule.doc.air

    @property
    def key(self) -> FindingKey:
        """What makes two findings one: the rule and the settings that it is about."""
        return self.rule.id, self.paths

    @property
    def fingerprint(self) -> str:
        """The identity as 16 hexadecimal digits."""
        from hashlib import sha256  # takes a while to load, and most screens show no fingerprint

        return sha256(self.identity.encode("utf-8", "backslashreplace")).hexdigest()[:16]

    @property
    def places(self) -> tuple[Place, ...]:
        """Every place it is about, each once."""
        stated = [place for place in self.stated_at if place is not None]
        return tuple(dict.fromkeys([*self.also_at, *stated]))

    @property
    def failed(self) -> bool:
        """Whether it tells of the rule's own fault, and not of the craft."""
        return self.message.startswith(_FAILED)


class Unchecked(NamedTuple):
    """A rule that could not be checked, or not wholly, and the paths it lacked."""

    rule: Rule
    lacks: tuple[str, ...]

    @property
    def wants_sheet(self) -> bool:
        """Whether it is the whole build sheet that it lacks."""
        return self.lacks == (BUILD_SHEET,)


class Unfit(NamedTuple):
    """A rule that is not about such a craft, and why."""

    rule: Rule
    why: str


class RuleAnswer(NamedTuple):
    """What one rule says: what it fires, what it lacks, and why it is not about the craft.

    `not_applicable` is empty unless it is about nothing here: it then fires and lacks nothing.
    """

    fired: list[Fires]
    lacks: list[Lacks]
    not_applicable: str = ""

    @property
    def lacked(self) -> tuple[str, ...]:
        """The paths that it lacked, each once."""
        return tuple(dict.fromkeys(lack.path for lack in self.lacks))


class Waived(NamedTuple):
    """A finding that somebody lets stand until the end of a day, and why."""

    finding: Finding
    because: str
    until: date


@dataclass(frozen=True)
class Audit:
    """What the rule book says of one craft."""

    settings: Settings
    findings: tuple[Finding, ...]
    not_checked: tuple[Unchecked, ...]
    checked: int  # in full, and applicable
    checked_ids: frozenset[str] = frozenset()  # of the rules whose answer is whole
    waived: tuple[Waived, ...] = ()  # set apart from the findings; see waivers.py
    known: tuple[Finding, ...] = ()  # set apart from the findings; see baseline.py
    sheet: Settings | None = None  # the build sheet, where one was given
    not_applicable: tuple[Unfit, ...] = ()

    @property
    def rules(self) -> int:
        """How many rules there were to run."""
        return self.checked + len(self.not_checked) + len(self.not_applicable)

    @property
    def lacks(self) -> Lacking:
        """What each rule lacked that could not be checked, or not wholly."""
        return {entry.rule.id: entry.lacks for entry in self.not_checked}

    def count(self, level: Level) -> int:
        """How many findings there are at a level."""
        return sum(finding.level is level for finding in self.findings)


def audit(
    settings: Settings,
    rules: Sequence[Rule] | None = None,
    limits: Limits | None = None,
    sheet: Settings | None = None,
) -> Audit:
    """Run the rules (the whole book, unless told otherwise) over a set of settings.

    `limits` are the values that are a matter of taste; the usual ones unless told otherwise.
    Without the settings of a build `sheet` the rules that ask for one are not checked.
    """
    craft = Craft(settings)
    build = None if sheet is None else typed_sheet(sheet)
    within = usual_limits() if limits is None else limits
    chosen = book() if rules is None else rules
    answers = [run(rule, craft, within, build) for rule in chosen]
    return audit_of(settings, chosen, answers, sheet)


def audit_of(
    settings: Settings,
    rules: Sequence[Rule],
    answers: Iterable[RuleAnswer],
    sheet: Settings | None = None,
) -> Audit:
    """What the answers of some rules come to, one a rule."""
    said = list(zip(rules, answers, strict=True))
    findings = findings_of(said, settings, sheet)
    unchecked = tuple(Unchecked(rule, answer.lacked) for rule, answer in said if answer.lacks)
    unfit = tuple(
        Unfit(rule, answer.not_applicable) for rule, answer in said if answer.not_applicable
    )
    return Audit(
        settings,
        findings,
        unchecked,
        len(rules) - len(unchecked) - len(unfit),
        frozenset(rule.id for rule in rules)
        - {entry.rule.id for entry in unchecked}
        - {finding.rule.id for finding in findings if finding.failed},
        sheet=sheet,
        not_applicable=unfit,
    )


def findings_of(
    said: Iterable[tuple[Rule, RuleAnswer]], settings: Settings, sheet: Settings | None = None
) -> tuple[Finding, ...]:
    """The findings of what rules said of some settings and a build sheet, in their order."""
    told = settings.stated if sheet is None else {**settings.stated, **sheet.stated}
    return in_order(
        finding_of(rule, fires, [told.get(path) for path in fires.paths])
        for rule, answer in said
        for fires in answer.fired
    )


def typed_sheet(sheet: Settings) -> "Sheet":
    """A build sheet's settings as a typed sheet; what that takes is loaded here."""
    from cfgaudit.craft.sheet import Sheet

    return Sheet(sheet)


def run(
    rule: Rule,
    looked_at: Craft | Sequence[Craft],
    limits: Limits,
    sheet: "Sheet | None" = None,
) -> RuleAnswer:
    """What one rule says; a fleet rule looks at a sequence of craft. Never raises."""
    fired: list[Fires] = []
    lacks: list[Lacks] = []
    why = ""
    crafts = len(looked_at) if isinstance(looked_at, Sequence) else None
    if rule.sheet and sheet is None:
        return RuleAnswer(fired, [Lacks(BUILD_SHEET)])
    asked = (sheet,) if rule.sheet or rule.sheet_wanted else ()
    try:
        for yielded in rule.check(looked_at, *asked, *(limits[name].value for name in rule.limits)):
            well_formed(yielded, crafts)
            if isinstance(yielded, Lacks):
                lacks.append(yielded)
            else:
                fired.append(yielded)
    except NotStated as lack:
        lacks.append(Lacks(lack.path))
    except NotApplicable as answer:
        why = answer.why
    except Exception as error:  # a rule's fault must not hide what the other rules find
        fault = str(error) if isinstance(error, IllFormed) else fault_of(error)
        message = (
            f"{_FAILED} ({fault}), so it says nothing about this craft. Please report "
            "it with the dump, redacted; `cfgaudit --debug ...` gives the details."
        )
        fired.append(Fires(message, (), level=Level.ERROR))
    return RuleAnswer(fired, lacks, "" if fired or lacks else why)


def finding_of(
    rule: Rule, fires: Fires, stated: Sequence[Stated | None], owners: Sequence[str] = ()
) -> Finding:
    """The finding of what a rule yielded; `stated` holds what is stated at each of its paths.

    `owners` says for each path whose it is, where that tells the finding from another one.
    """
    return Finding(
        rule,
        fires.level or rule.level,
        fires.message,
        fires.paths,
        tuple(entry.place if entry else None for entry in stated),
        fires.places,
        tuple((name, _portable(value)) for name, value in fires.figures),
        fires.mend,
        fires.advice,
        _identity(rule.id, fires, stated, owners),
        tuple(entry.origin if entry else None for entry in stated),
        fires.crafts,
        choice=fires.choice,
        air=fires.air,
    )


def _portable(figure: float) -> float:
    """A figure to twelve digits: of a sine or a power, systems don't agree on the last ones."""
    return float(f"{figure:.12g}") if isinstance(figure, float) else figure


def _identity(
    rule_id: str, fires: Fires, stated: Sequence[Stated | None], owners: Sequence[str]
) -> str:
    parts = []
    for path, entry in zip(fires.paths, stated, strict=True):
        value = (HIDDEN if is_secret(path, entry) else entry.value) if entry else None
        spelled = sorted(value) if isinstance(value, frozenset) else value
        parts.append(f"{path}={spelled!r}")
    if owners:  # in whatever order the craft were given
        parts = sorted(f"{owner}: {part}" for owner, part in zip(owners, parts, strict=True))
    if not fires.paths:
        parts.append(fires.message)
    return "\n".join([rule_id, *parts])


def is_secret(path: str, entry: Stated) -> bool:
    """Whether a value is nobody else's business: a fingerprint that holds it could be tried out."""
    found = declared(path)
    return entry.secret or (found is not None and found.traits.secret)


# What else is told may be for want of the rest of the dump, of the other side of a merge, or of a
# place that the build sheet has for one part and for another.
FIRST: Final = ("dump/truncated", "dump/merge-unfinished", _TWICE)
_DANGER: Final = (
    "switch",
    "failsafe",
    "motor",
    "frame",
    "esc",
    "gain",
    "sensor",
    "pads",
    "receiver",
)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, gravest first, then by danger, rule, paths and message.

    Of one level a danger at the bench comes before one in the air, and what can start, drop or
    turn over the craft before what makes it deaf. That a dump is cut off or holds two comes first
    of all.
    """
    return tuple(sorted(findings, key=_order))


def _order(finding: Finding) -> tuple[int, bool, bool, int, str, tuple[str, ...], str]:
    rule = finding.rule
    whole = rule.id not in FIRST
    place = _DANGER.index(rule.area) if rule.area in _DANGER else len(_DANGER)
    safer = "bench" not in rule.doc.air
    return RANK[finding.level], whole, safer, place, rule.id, finding.paths, finding.message


def of_another(findings: Iterable[Finding]) -> bool:
    """Whether the build sheet is of another craft or another board, by what was found."""
    return any(finding.rule.id == _OF_ANOTHER for finding in findings)


def said_twice_over(findings: Iterable[Finding]) -> set[str]:
    """What the build sheet says of places at which it has two parts, by path."""
    return {path for f in findings if f.rule.id == _TWICE for path in f.paths}


def believed(
    findings: Sequence[Finding], settings: Settings, sheet: Settings | None
) -> Sequence[Finding]:
    """The findings whose change may be told.

    None that rests on another craft's build sheet, on what the bench found to be otherwise, or on
    where a sheet that has two parts at one place has them; and none at all while a merge is
    unfinished, for what the dump says is then not known.
    """
    if settings.unmerged is not None:
        return ()
    if sheet is None:
        return findings
    disputed = {path for path, stated in sheet.stated.items() if stated.disputed}
    disputed |= said_twice_over(findings)
    if of_another(findings):
        findings = [f for f in findings if not (f.rule.sheet or f.rule.sheet_wanted)]
    return [f for f in findings if disputed.isdisjoint(f.paths)] if disputed else findings


def new_and_cleared(old: Audit, new: Audit) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """The findings that a change brings and those it clears, matched by rule and paths.

    One that is gone as its rule can't look in full any more says what it `lacks`.
    """

    def keys(findings: Iterable[Finding]) -> set[tuple[FindingKey, Level]]:
        return {(f.key, f.level) for f in findings}

    before, after = keys(old.findings), keys(new.findings)
    brought = tuple(f for f in new.findings if (f.key, f.level) not in before)
    cleared = tuple(f for f in old.findings if (f.key, f.level) not in after)
    lacked, lack = old.lacks, new.lacks
    return brought, tuple(gone(finding, lacked, lack) for finding in cleared)


def gone(finding: Finding, lacked: Lacking, lack: Lacking) -> Finding:
    """A finding that is gone, with what its rule lacks now and did not before."""
    had = lacked.get(finding.rule.id, ())
    return finding._replace(lacks=tuple(p for p in lack.get(finding.rule.id, ()) if p not in had))
