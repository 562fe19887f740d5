"""What `check` tells, and every command of findings: on the screen, and as data."""

from collections import Counter
from collections.abc import Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from cfgaudit.audit.engine import Audit, Finding, Waived, in_order
from cfgaudit.reports.data import edits_json, head, place_json
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import (
    air_label,
    all_checked,
    closing,
    few,
    has_dialect,
    headline,
    how_blind,
    mends,
    not_audited,
    reading_notes,
    stated_places,
    unfit,
    unsure,
    verdict,
    verdict_on_all,
    wanted,
)
from cfgaudit.rules.rule import Level, first_of, listed
from cfgaudit.settings import Settings

if TYPE_CHECKING:  # one dump alone has no use for the one, few have the other
    from cfgaudit.audit.baseline import BaselineEntry, Compared
    from cfgaudit.audit.blind import Blindness
    from cfgaudit.audit.fleet import FleetAudit
    from cfgaudit.work.causes import ToldCause

_MOST_PLACES: Final = 6
_MOST_WANTED: Final = 4


class ReviewedFinding(NamedTuple):
    """A finding, and what is said of it besides: who waives it, whether the baseline knows it."""

    finding: Finding
    waived: Waived | None = None
    known: bool = False

    @property
    def counts(self) -> bool:
        """Whether anybody has yet to look at it."""
        return self.waived is None and not self.known


def in_one_order(
    findings: Sequence[Finding], waived: Sequence[Waived], known: Sequence[Finding]
) -> tuple[ReviewedFinding, ...]:
    """All findings in order, those among them that are waived, or known to the baseline."""
    by = {id(entry.finding): entry for entry in waived}
    old = {id(finding) for finding in known}
    every = in_order([*findings, *(entry.finding for entry in waived), *known])
    return tuple(
        ReviewedFinding(finding, by.get(id(finding)), id(finding) in old) for finding in every
    )


class CheckReport(NamedTuple):
    """The audits of one or more craft, and of all together, less what the baseline knows."""

    audits: Sequence[Audit]
    fleet: "FleetAudit | None" = None
    baseline: str | None = None  # its file
    compared: "Compared | None" = None
    causes: "Sequence[Sequence[ToldCause]]" = ()  # of each craft, where they were asked for
    blind: "Sequence[Blindness | None]" = ()  # of each craft, where it was asked for and audited


def check_screen(
    report: CheckReport,
    *,
    width: int,
    unchecked: bool,
    waived: bool,
    every: bool,
    most: int | None,
    blind: bool = False,
) -> Screen:
    """The screen; with `every` finding, else by cause; of each craft at `most` so many are told.

    With `blind` it lists what no rule looks at, and the settings in which a wrong value would go
    unnoticed.
    """
    screen = Screen(width)
    for number, audit in enumerate(report.audits):
        screen.blank()
        causes = None if every or not report.causes else report.causes[number]
        _craft_lines(screen, audit, causes, unchecked, waived, most)
        seen = report.blind[number] if report.blind else None
        if seen is not None:
            blind_lines(screen, seen, blind)
        screen.say(verdict(audit))
    if report.fleet is not None:
        together_lines(screen, report.fleet, waived)
    if report.compared is not None:
        _gone_lines(screen, "found no more (--update-baseline takes out)", report.compared.gone)
        why = "not found now that their rules lack settings"
        _gone_lines(screen, why, report.compared.unsure)
    if len(report.audits) > 1:
        screen.blank()
        files = [audit.settings.dumps[0].file for audit in report.audits]
        for line in verdict_on_all(files, report.audits, report.fleet):
            screen.say(line)
    return screen


def _craft_lines(
    screen: Screen,
    audit: Audit,
    causes: "Sequence[ToldCause] | None",
    unchecked: bool,
    waived: bool,
    most: int | None,
) -> None:
    """One craft: every finding, or by cause the verdict, the causes, what none explains, notes."""
    screen.say(headline(audit.settings))
    why = not_audited(audit.settings, audit.findings)
    left = list(audit.findings)
    if causes is not None:
        grave = [finding for finding in left if finding.level is not Level.NOTE]
        if grave and not why:
            _verdict_line(screen, audit, causes, grave[0].level)
        left = [f for f in grave if not any(one.cause.explains(f) for one in causes)]
    note_lines(screen, audit.settings)
    if why:
        screen.blank()
        screen.say(why)
    several = len(audit.settings.dumps) > 1
    for errors in (True, False):  # no error stands below a warning
        _causes_of(screen, causes or (), several, errors=errors)
        for finding in left[:most]:
            if errors is (finding.level is Level.ERROR):
                screen.blank()
                finding_lines(screen, finding)
    if waived:
        waived_lines(screen, audit.waived)
    screen.blank()
    notes = [finding.rule.id for finding in audit.findings if finding.level is Level.NOTE]
    if notes and causes is not None:
        said = ", ".join(dict.fromkeys(notes))
        screen.say(f"Notes: {said} (--long)")
    _not_checked_lines(screen, audit, unchecked)


def _causes_of(
    screen: Screen, causes: "Sequence[ToldCause]", several: bool, *, errors: bool
) -> None:
    """The causes of errors, or the others, which go on counting."""
    if not causes:
        return
    from cfgaudit.reports.causes import cause_lines  # a craft in order has none

    grave = [one for one in causes if one.cause.level is Level.ERROR]
    others = [one for one in causes if one.cause.level is not Level.ERROR]
    cause_lines(screen, grave if errors else others, several, 1 if errors else len(grave) + 1)


def _verdict_line(
    screen: Screen, audit: Audit, causes: "Sequence[ToldCause]", gravest: Level
) -> None:
    from cfgaudit.reports.causes import first_verdict  # a craft in order has no causes

    word, counts = first_verdict(audit.findings, causes)
    screen.beside(Piece(word, gravest.value), "   ", counts, indent=3)


def blind_lines(screen: Screen, seen: "Blindness", every: bool) -> None:
    """The line that says how blind the audit is; with `every` what it is blind to."""
    screen.say(how_blind(seen, hint="" if every else "--blind lists the rest"))
    if not every:
        return
    for cls, entry in seen.seen.items():
        if entry.unnoticed:
            screen.blank()
            what = f"{cls.name.lower()}: a wrong value would go unnoticed in"
            title = f"{what} {len(entry.unnoticed)} of {entry.stated}"
            screen.say(title, style="strong")
            screen.paragraph(", ".join(entry.unnoticed))
    if seen.slips:
        screen.title("other wrong values are noticed there, and this one is not")
        for slip in seen.slips:
            told = ", ".join(" with ".join(settings) for settings in slip.settings)
            screen.paragraph(f"{slip.says}: {told}", further=2)
    if seen.not_looked_at:
        screen.heading(f"{len(seen.not_looked_at)} settings that no rule looks at")
        screen.paragraph(", ".join(seen.not_looked_at))
    screen.blank()


def note_lines(screen: Screen, *crafts: Settings) -> None:
    """What is to be known of how each dump was read."""
    for settings in crafts:
        for note in reading_notes(settings):
            screen.paragraph(note)


def generic_lines(screen: Screen, names: Sequence[str], crafts: Sequence[Settings]) -> None:
    """Which dumps no dialect knows, where they are looked at all the same."""
    unknown = [name for name, one in zip(names, crafts, strict=True) if not has_dialect(one)]
    if unknown:
        whose = "its" if len(unknown) == 1 else "their"
        screen.say(
            f"No dialect knows {listed(list(dict.fromkeys(unknown)))}: {whose} lines are taken as "
            "they stand, without a meaning. --dialect names one."
        )


def level_piece(finding: Finding, width: int = 0) -> Piece:
    """A finding's level, in its colour."""
    return Piece(finding.level.value.ljust(width), finding.level.value)


def finding_lines(screen: Screen, finding: Finding, names: Sequence[str] = ()) -> None:
    """One finding: what, in the air, where, mend. `names` are the craft's where it has several."""
    name = finding.level.value
    screen.line(Piece(name.upper().ljust(8), name), Piece(finding.rule.id, "strong"))
    screen.paragraph(finding.message)
    screen.labelled(air_label(finding.rule), [finding.in_the_air])
    screen.labelled("Where", _where(finding, names), further=2)
    screen.labelled("Mend", mends(finding))


def waived_lines(screen: Screen, waived: Sequence[Waived], names: Sequence[str] = ()) -> None:
    """What is waived: what, where, why and for how long."""
    for finding, because, until in waived:
        screen.blank()
        level = f"  {finding.level.value}, waived until {until}"
        screen.line(Piece("WAIVED  ", "quiet"), Piece(finding.rule.id, "strong"), level)
        screen.paragraph(finding.message)
        screen.labelled("Where", _where(finding, names), further=2)
        screen.labelled("Waived for", [because])


def change_findings(screen: Screen, brought: Sequence[Finding], cleared: Sequence[Finding]) -> None:
    """The findings that a change brings, and those that it clears."""
    for finding in brought:
        screen.heading("this change brings")
        finding_lines(screen, finding)
    screen.blank()
    for finding in cleared:
        level = Piece(finding.level.value, "quiet")
        screen.line(Piece("this change clears  ", "strong"), level, f"  {finding.rule.id}")
        screen.paragraph(finding.message)
        if doubt := unsure(finding):
            screen.paragraph(doubt)


def _where(finding: Finding, names: Sequence[str]) -> list[str]:
    whose = [names[craft] for craft in finding.crafts]
    lines = [
        f"{place or name or ''}  {path}{f' ({stands})' if stands else ''}".strip()
        for (place, path, stands), name in zip_longest(stated_places(finding), whose)
    ]
    return few(lines, _MOST_PLACES)


def _not_checked_lines(screen: Screen, audit: Audit, every: bool) -> None:
    """How much could not be checked, and for want of what; how much is not about such a craft.

    First of all what it was held against: a sheet of another craft is not seen otherwise.
    """
    against = f"Held against {audit.sheet.dumps[0].file}. " if audit.sheet else ""
    if not audit.not_checked:
        said = all_checked(audit)
    else:
        why = _for_want_of(audit, every)
        said = f"Not checked: {len(audit.not_checked)} of {audit.rules} rules{why}.{unfit(audit)}"
    screen.say(f"{against}{said}")
    if every:
        entries = [
            (entry.rule.id, "lacks " + ", ".join(entry.lacks)) for entry in audit.not_checked
        ]
        entries += [
            (entry.rule.id, f"not applicable: {entry.why}") for entry in audit.not_applicable
        ]
        screen.entries(entries)


def _for_want_of(audit: Audit, every: bool) -> str:
    """What the rules not checked lack: a build sheet, or settings, the most wanted first."""
    sheet = sum(entry.wants_sheet for entry in audit.not_checked)
    others = len(audit.not_checked) - sheet
    if not others:
        return ", for want of a build sheet (--build)"
    lacks = Counter(
        path for entry in audit.not_checked if not entry.wants_sheet for path in entry.lacks
    )
    most = [wanted(path) for path in sorted(lacks, key=lambda path: (-lacks[path], path))]
    named = first_of(most, _MOST_WANTED) + ("" if every else " (--unchecked lists them)")
    if not sheet:
        return f", wholly or in part, for want of {named}"
    want, wants = ("wants" if count == 1 else "want" for count in (sheet, others))
    return f": {sheet} {want} a build sheet (--build), {others} {wants}, wholly or in part, {named}"


def together_lines(screen: Screen, fleet: "FleetAudit", waived: bool = False) -> None:
    """The part `Together`: findings, what could not be checked, then the verdict."""
    screen.blank()
    screen.beside(Piece("Together", "strong"), " · ", listed(list(fleet.names)), indent=2)
    for finding in fleet.findings:
        screen.blank()
        finding_lines(screen, finding, fleet.names)
    if waived:
        waived_lines(screen, fleet.waived, fleet.names)
    screen.blank()
    for line in _lacking_together(fleet):
        screen.say(line)
    do_not = "Do not fly them together before the errors are cleared."
    said = closing(fleet.findings, len(fleet.waived), fleet.known, do_not)
    screen.say(said)


def _lacking_together(fleet: "FleetAudit") -> list[str]:
    """A line a setting that some craft lack: who lacks it, and what could not be checked."""
    craft: dict[str, dict[str, None]] = {}
    rules: dict[str, dict[str, None]] = {}
    for entry in fleet.not_checked:
        for lack in entry.lacks:
            craft.setdefault(lack.path, {})[fleet.names[lack.craft]] = None
            rules.setdefault(lack.path, {})[entry.rule.id] = None
    return [
        f"Not checked for {listed(list(names))}, for want of {path}: {listed(list(rules[path]))}."
        for path, names in craft.items()
    ]


def _gone_lines(screen: Screen, what: str, entries: "Sequence[BaselineEntry]") -> None:
    """The baseline's entries that are gone, or of which nobody knows."""
    if not entries:
        return
    screen.heading(f"In the baseline, and {what}")
    for entry in entries:
        screen.line(f"  {entry.level.ljust(8)}{entry.rule}  {', '.join(entry.dumps)}")
        screen.paragraph(entry.message, indent=4)


def check_json(report: CheckReport, most: int | None = None) -> dict[str, Any]:
    """The whole output of check, with at `most` so many findings of each dump."""
    fleet = baseline = None
    if report.fleet is not None:
        fleet = together_json(report.fleet)
    if report.compared is not None:
        baseline = {
            "file": report.baseline,
            "gone": [entry._asdict() for entry in report.compared.gone],
            "unsure": [entry._asdict() for entry in report.compared.unsure],
        }
    blind = report.blind or [None] * len(report.audits)
    dumps = [audit_json(*one, most) for one in zip(report.audits, blind, strict=True)]
    if any(report.causes):
        from cfgaudit.reports.causes import causes_json

        for data, causes in zip(dumps, report.causes, strict=True):
            data["causes"] = causes_json(causes)
    return {**head(), "dumps": dumps, "fleet": fleet, "baseline": baseline}


def blind_json(seen: "Blindness | None") -> dict[str, Any] | None:
    """How blind an audit is, where that was asked for."""
    if seen is None:
        return None
    return {
        "stated": seen.stated,
        "not_looked_at": list(seen.not_looked_at),
        "neutral_lines": seen.neutral,
        "unread_lines": seen.unread,
        "not_told": list(seen.not_told),
        "slips": [
            {"wrong": slip.says, "settings": [list(paths) for paths in slip.settings]}
            for slip in seen.slips
        ],
        "classes": {
            cls.name.lower(): {"stated": entry.stated, "unnoticed": list(entry.unnoticed)}
            for cls, entry in seen.seen.items()
        },
    }


def audit_json(
    audit: Audit, blind: "Blindness | None" = None, most: int | None = None
) -> dict[str, Any]:
    """What is told of one craft, with at `most` so many findings."""
    dumps, findings = audit.settings.dumps, audit.findings[:most]
    return {
        "file": dumps[0].file if dumps else "",
        "with": [dump.file for dump in dumps[1:]],
        "build": audit.sheet.dumps[0].file if audit.sheet else None,
        "dialect": (dumps[0].dialect or None) if dumps else None,
        "statements": sum(dump.statements for dump in dumps),
        "settings": len(audit.settings),
        "unread": sum(dump.unread for dump in dumps),
        "notes": reading_notes(audit.settings),
        "findings": [
            finding_json(*told) for told in in_one_order(findings, audit.waived, audit.known)
        ],
        "left_out": len(audit.findings) - len(findings),
        "not_checked": [
            {
                "rule": entry.rule.id,
                "lacks": list(entry.lacks),
                "wants_build": entry.wants_sheet,
            }
            for entry in audit.not_checked
        ],
        "not_applicable": [
            {"rule": entry.rule.id, "why": entry.why} for entry in audit.not_applicable
        ],
        "checked": audit.checked,
        "causes": [],
        "blind": blind_json(blind),
    }


def together_json(fleet: "FleetAudit") -> dict[str, Any]:
    """The member `fleet`; craft are counted from 0 in the order given."""
    return {
        "findings": [
            finding_json(*told) for told in in_one_order(fleet.findings, fleet.waived, fleet.known)
        ],
        "not_checked": [
            {
                "rule": entry.rule.id,
                "lacks": [{"craft": lack.craft, "path": lack.path} for lack in entry.lacks],
            }
            for entry in fleet.not_checked
        ],
    }


def findings_json(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Findings that nothing waives and no baseline knows."""
    return [finding_json(finding) for finding in findings]


def finding_json(
    finding: Finding, waived: Waived | None = None, baselined: bool = False
) -> dict[str, Any]:
    """One finding, what waives it, and whether the baseline knows it."""
    lets = {"because": waived.because, "until": waived.until.isoformat()} if waived else None
    return {
        "rule": finding.rule.id,
        "level": finding.level.value,
        "message": finding.message,
        "in_the_air": finding.in_the_air,
        "paths": list(finding.paths),
        "crafts": list(finding.crafts),
        "places": [place_json(place) for place in finding.places],
        "figures": dict(finding.figures),
        "mend": edits_json(finding.mend) or None,
        "advice": finding.advice or finding.rule.doc.mend,
        "fingerprint": finding.fingerprint,
        "waived": lets,
        "baselined": baselined,
        "lacks": list(finding.lacks),
    }
