"""Audits by a folder's settings (limits, rules of its own, waivers) and by what is installed."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from cfgaudit.audit.engine import Audit, Finding, audit, believed, fails
from cfgaudit.cli import say
from cfgaudit.cli.folder import changes_told
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import JudgedBy, bounds_asked_for
from cfgaudit.cli.output import watched
from cfgaudit.reports.wording import left_out, not_audited
from cfgaudit.rules.book import book, fleet_book
from cfgaudit.rules.rule import Level, Limits, Rule
from cfgaudit.settings import Settings, TroubleKind

if TYPE_CHECKING:  # one dump alone has no use for it
    from cfgaudit.audit.blind import Blindness
    from cfgaudit.audit.causes import Cause
    from cfgaudit.audit.fleet import FleetAudit
    from cfgaudit.audit.incremental import Auditor
    from cfgaudit.dialects.editor import Dumps
    from cfgaudit.work.causes import ToldCause

T = TypeVar("T")
Sheets = Sequence[Settings | None]


def audited(
    inputs: Inputs,
    dumps: Sequence[str],
    crafts: Sequence[Settings],
    judging: JudgedBy,
    *,
    sheets: Sheets | None = None,
    tell: bool = True,
    tried_on: bool = False,
) -> list[Audit]:
    """The audit of each craft, by plug-ins and by the settings of the folder that its dump is in.

    `sheets` are the build sheets of the crafts, else those that --build or the folder names.
    What is wrong with a waiver is told with the first craft that it is for, unless `tell` is off.
    Where mends, causes or blindness of one craft are `tried_on`, they go on from its audit.
    """
    if sheets is None:
        sheets = inputs.sheets(dumps, crafts, judging.build)
    made: list[Audit] = []
    together: dict[str, list[int]] = {}  # the crafts that one settings file holds for

    def so_far() -> str:
        return f"{sum(entry.count(Level.ERROR) for entry in made):,} errors so far"

    pairs = list(enumerate(zip(dumps, crafts, strict=True)))
    for number, (dump, settings) in watched(pairs, "auditing", so_far):
        house = inputs.house(dump)
        rules, limits = rules_of(inputs, dump)
        noted = _with_note(settings, changes_told(inputs.folder(dump)))
        if tried_on and len(crafts) == 1:
            made.append(_auditor(inputs, dump, sheets[number]).audit(noted, from_here=True))
        else:
            made.append(audit(noted, rules, limits, sheets[number]))
        if house and house.waivers:
            together.setdefault(str(house.waivers[0].place.file), []).append(number)
    for numbers in together.values():
        from cfgaudit.audit.waivers import waive  # most folders waive nothing

        house = inputs.house(dumps[numbers[0]])
        assert house is not None  # as it has waivers
        done = waive([made[n] for n in numbers], house.waivers, day_of(judging), tell=tell)
        for number, entry in zip(numbers, done, strict=True):
            made[number] = entry
    return made


def _with_note(settings: Settings, note: str) -> Settings:
    """The settings with a note behind those of how the dump was read; every report tells those."""
    if not (note and settings.dumps):
        return settings
    first, *others = settings.dumps
    return replace(settings, dumps=(first._replace(notes=(*first.notes, note)), *others))


def caused(
    inputs: Inputs, dump: str, opened: "Dumps", found: Audit, earlier: Settings | None
) -> "tuple[ToldCause, ...]":
    """The causes of what an audit found: among the changes since an earlier dump, if there is one.

    None for a craft with notes alone, for one that was not audited, and of a dump that is cut off
    or wrapped: what seems to lack there may stand behind its end, or in lines that were not read.
    """
    partly = (TroubleKind.TRUNCATED, TroubleKind.WRAPPED)
    cut_off = any(trouble.kind in partly for trouble in found.settings.troubles)
    if not_audited(found.settings) or all(f.level is Level.NOTE for f in found.findings):
        return ()
    if cut_off:
        return ()
    from cfgaudit.audit.causes import likely, since  # only a craft with faults has any
    from cfgaudit.work.causes import told

    auditor = _auditor(inputs, dump, found.sheet).of_values
    mends = {finding.key: finding.mend for finding in found.findings if finding.mend}
    made = (
        since(earlier, found.settings, auditor)
        if earlier
        else likely(found.settings, auditor, mends)
    )
    kept = (cause.less(found.findings) for cause in made.causes)
    causes = (cause for cause in kept if cause is not None)
    return told(
        causes, opened, found.settings, set(mends), inputs.names_for(found.settings, found.sheet)
    )


def causes_of_change(inputs: Inputs, dump: str, audits: tuple[Audit, Audit]) -> "Sequence[Cause]":
    """Which of the changes between two audits bring the findings of the second."""
    before, after = audits
    if not_audited(before.settings) or not_audited(after.settings):
        return ()
    from cfgaudit.audit.causes import since  # no other report of a change tells them

    auditor = _auditor(inputs, dump, after.sheet).of_values
    return since(before.settings, after.settings, auditor).causes


def rules_of(inputs: Inputs, dump: str) -> tuple[tuple[Rule, ...], Limits | None]:
    """The rules over one craft and their limits, as the folder of its dump has them."""
    house = inputs.house(dump)
    own = house.rules if house else ()
    return (*book(), *inputs.plugins().single, *own), house.limits if house else None


def _auditor(inputs: Inputs, dump: str, sheet: Settings | None) -> "Auditor":
    """The auditor for tries on one craft; the one before, where it goes by the same.

    So mends, causes and blindness share what a rule said of the craft, and of what was tried.
    """
    from cfgaudit.audit.incremental import Auditor  # only what tries anything wants it

    fresh = Auditor(*rules_of(inputs, dump), sheet)
    kept = inputs.auditor
    if kept is None or not kept.goes_by_the_same(fresh):
        kept = inputs.auditor = fresh
    return kept


def audited_change(
    inputs: Inputs,
    dumps: tuple[str, str],
    both: tuple[Settings, Settings],
    judging: JudgedBy,
    sheets: Sheets | None = None,
) -> tuple[Audit, Audit]:
    """The audits of one craft before and after.

    What only one side could be checked for is no change: where one has no build sheet, neither has.
    """
    if sheets is None:
        sheets = inputs.sheets(dumps, both, judging.build, one_craft=True)
    sheets = [None, None] if None in sheets else sheets
    before, after = audited(inputs, dumps, both, judging, sheets=sheets, tell=False)
    return before, after


def with_sure_mends(inputs: Inputs, dump: str, opened: "Dumps", made: Audit) -> Audit:
    """The audit of one craft with the mends that `mend` takes; the others are told as advice."""
    trusted = believed(made.findings, made.settings, made.sheet)
    if not any(finding.mend for finding in made.findings) and len(trusted) == len(made.findings):
        return made
    from cfgaudit.work.mend import mend, sure_only  # a craft without faults has no use for it

    auditor = _auditor(inputs, dump, made.sheet)
    auditor.outcome(made.settings)
    waived = {entry.finding.key for entry in made.waived}

    def judge(settings: Settings) -> Audit:
        tried = auditor.audit(settings)
        return replace(tried, findings=tuple(f for f in tried.findings if f.key not in waived))

    return sure_only(mend(opened, judge, first=made), judge)


def blind_to(inputs: Inputs, dump: str, made: Audit, *, every: bool = False) -> "Blindness | None":
    """How blind the audit of one craft is; None where it was not audited.

    With `every` class of settings a wrong value is tried in them, else in those of safety.
    """
    if not_audited(made.settings):
        return None
    from cfgaudit.audit.blind import JUDGED, blindness  # not every report tells it
    from cfgaudit.vocabulary.declare import Class

    classes = JUDGED if every else (Class.SAFETY,)
    return blindness(
        made.settings, _auditor(inputs, dump, made.sheet).of_values, classes, slips=every
    )


def audited_together(
    inputs: Inputs, dumps: Sequence[str], crafts: Sequence[Settings], judging: JudgedBy
) -> "FleetAudit":
    """What several craft do to one another, by plug-ins and the settings of the first's folder."""
    from cfgaudit.audit.fleet import audit_fleet  # one dump alone has no use for it

    house = inputs.house(dumps[0])
    rules = (*fleet_book(), *inputs.plugins().fleet)
    if house is None:
        return audit_fleet(crafts, rules)
    from cfgaudit.audit.waivers import waive_fleet

    return waive_fleet(audit_fleet(crafts, rules, house.limits), house.waivers, day_of(judging))


def judge_of(inputs: Inputs, dump: str, judging: JudgedBy) -> Callable[[Settings], Audit]:
    """The audit of one dump's craft whatever its settings are, its build sheet looked up once."""
    sheets: list[Sheets] = []

    def judge(settings: Settings) -> Audit:
        if not sheets:
            sheets.append(inputs.sheets((dump,), (settings,), judging.build))
        return audited(inputs, (dump,), (settings,), judging, sheets=sheets[0], tell=False)[0]

    return judge


def day_of(judging: JudgedBy) -> date:
    """The day to judge waivers by: the one asked for, else the machine's."""
    return judging.today.date() if judging.today is not None else date.today()


def exit_status(
    inputs: Inputs,
    dump: str,
    judging: JudgedBy,
    audits: Sequence[Audit],
    more: Iterable[Finding] = (),
) -> int:
    """2 where a craft was not audited, 1 where a finding is at or above the level, else 0.

    The level is the one asked for, else that of the dump's folder; `more` are further findings.
    """
    if any(not_audited(entry.settings) for entry in audits):
        return 2
    findings = [*(finding for entry in audits for finding in entry.findings), *more]
    if any(finding.failed for finding in findings):
        return 2
    level = fail_on(inputs, dump, judging)
    return int(any(fails(finding.level, level) for finding in findings))


def fail_on(inputs: Inputs, dump: str, judging: JudgedBy) -> str:
    """The lowest level that fails, or never."""
    return judging.fail_on or inputs.folder(dump).fail_on


def most() -> int:
    """How many entries of one list are reported: thousands would flood a report."""
    return bounds_asked_for().findings


def gravest(entries: Sequence[T]) -> Sequence[T]:
    """The first entries of a list that has the gravest first, as many as are reported."""
    return entries[: most()]


def shortened(audits: Sequence[Audit]) -> Sequence[Audit]:
    """The audits with the gravest findings of each, as many as are reported of one dump."""
    return [replace(entry, findings=entry.findings[: most()]) for entry in audits]


def tell_left_out(name: str, entries: Sequence[object], what: str) -> None:
    """Say on standard error how many entries `gravest` or `shortened` leaves out of a list."""
    if more := left_out(len(entries) - most(), what):
        say(f"{name}: {more}")
