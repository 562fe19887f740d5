"""The screen of `check`: findings by level, then what could not be checked, then the verdict."""

from collections.abc import Sequence

from cfgaudit.audit.engine import Audit, Finding, Waived
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_explain import air_label
from cfgaudit.rules.dump import ANY
from cfgaudit.rules.rule import Level, listed
from cfgaudit.settings import Origin, Settings
from cfgaudit.vocabulary.declare import HIDDEN

_LABEL = 12
_MOST_PLACES = 6

# What is said of a path that no line of the dump states.
_STANDING = {
    Origin.DUMP: "",
    Origin.FACTORY: " (factory value)",
    Origin.GIVEN: " (always so in this firmware)",
    Origin.SHEET: " (build sheet)",
    None: " (not stated)",
}

CAUTION = "A clean audit is no proof that a craft is safe."


def check_screen(
    audits: Sequence[Audit],
    *,
    width: int,
    unchecked: bool = False,
    waived: bool = False,
    most: int | None = None,
) -> Screen:
    """The screen for one or more craft; of each craft at `most` so many findings are told."""
    screen = Screen(width)
    for number, audit in enumerate(audits):
        if number:
            screen.blank()
        _one(screen, audit, unchecked, waived, most)
    return screen


def _one(screen: Screen, audit: Audit, unchecked: bool, waived: bool, most: int | None) -> None:
    screen.paragraph(headline(audit.settings), indent=0)
    note_lines(screen, audit.settings)
    if not has_dialect(audit.settings):
        screen.blank()
        screen.paragraph(no_dialect(audit.settings), indent=0)
    for finding in audit.findings[:most]:
        screen.blank()
        finding_lines(screen, finding)
    if waived:
        waived_lines(screen, audit.waived)
    screen.blank()
    not_checked_lines(screen, audit, unchecked)
    screen.paragraph(verdict(audit), indent=0)


def has_dialect(settings: Settings) -> bool:
    """Whether any of the craft's dumps was read in a dialect."""
    return any(dump.dialect for dump in settings.dumps)


def headline(settings: Settings) -> str:
    """Who it is and how much was read, in one line."""
    who = [_value(settings, "craft.name")]
    firmware = f"{_value(settings, 'firmware.name')} {_value(settings, 'firmware.version')}".strip()
    board = _value(settings, "board.name")
    who += [firmware + (f" on {board}" if board else "")]
    origins = [entry.origin for entry in settings.stated.values()]
    factory, sheet = origins.count(Origin.FACTORY), origins.count(Origin.SHEET)
    told = len(origins) - factory - sheet
    files = ", ".join(
        f"{dump.file}: {_counted(dump.lines, 'line')}, {dump.lines - dump.unread:,} read"
        for dump in settings.dumps
    )
    counts = f"{files}, {_counted(told, 'setting')}"
    if factory:
        counts += f", {factory:,} more at factory"
    return " · ".join([part for part in who if part] + [counts])


def _value(settings: Settings, path: str) -> str:
    if path not in settings:
        return ""
    return HIDDEN if settings[path].secret else str(settings[path].value)


def note_lines(screen: Screen, settings: Settings) -> None:
    """What is to be known of how each dump was read."""
    for dump in settings.dumps:
        for note in dump.notes:
            screen.paragraph(f"{dump.file}: {note}.", indent=2)


def no_dialect(settings: Settings) -> str:
    """What to do with a craft that no dialect knows; or that there is nothing to be known."""
    if not any(dump.lines for dump in settings.dumps):
        return "The dump is empty: there is nothing to audit. Make it anew."
    return (
        "No dialect knows this dump, so nothing could be audited beyond the text itself. "
        "Name one with --dialect NAME or FILE, or list a folder of dialect files in "
        "cfgaudit.toml. `cfgaudit show` and `cfgaudit diff` work without one."
    )


def generic_lines(screen: Screen, names: Sequence[str], crafts: Sequence[Settings]) -> None:
    """Which dumps no dialect knows, where they are looked at all the same."""
    unknown = [n for n, one in zip(names, crafts, strict=True) if not has_dialect(one)]
    if unknown:
        whose = "its" if len(unknown) == 1 else "their"
        screen.paragraph(
            f"No dialect knows {listed(list(dict.fromkeys(unknown)))}: {whose} lines are taken as "
            "they stand, without a meaning. --dialect names one.",
            indent=0,
        )


def finding_lines(screen: Screen, finding: Finding, names: Sequence[str] = ()) -> None:
    """One finding: what, in the air, where, mend. `names` are the craft's where it has several."""
    name = finding.level.value
    screen.line(Piece(name.upper().ljust(8), name), Piece(finding.rule.id, "strong"))
    screen.paragraph(finding.message)
    screen.paragraph(finding.rule.doc.air, label=air_label(finding.rule), hang=_LABEL)
    for number, where in enumerate(_where(finding, names)):
        screen.paragraph(where, label="Where" if number == 0 else "", hang=_LABEL, further=2)
    for number, mend in enumerate(_mends(finding)):
        screen.paragraph(mend, label="Mend" if number == 0 else "", hang=_LABEL)


def waived_lines(screen: Screen, waived: Sequence[Waived], names: Sequence[str] = ()) -> None:
    """What is waived: what, where, why and for how long."""
    for finding, because, until in waived:
        screen.blank()
        level = f"  {finding.level.value}, waived until {until}"
        screen.line(Piece("WAIVED  ", "quiet"), Piece(finding.rule.id, "strong"), level)
        screen.paragraph(finding.message)
        for number, where in enumerate(_where(finding, names)):
            label = "Where" if number == 0 else ""
            screen.paragraph(where, label=label, hang=_LABEL, further=2)
        screen.paragraph(because, label="Waived for", hang=_LABEL)


def _where(finding: Finding, names: Sequence[str]) -> list[str]:
    whose = [names[craft] for craft in finding.crafts] or [""] * len(finding.paths)
    lines = [
        f"{place or name}  {path}{_STANDING[origin] if place is None else ''}".strip()
        for path, place, origin, name in zip(
            finding.paths, finding.stated_at, finding.origins, whose, strict=True
        )
    ]
    stated = {place for place in finding.stated_at if place is not None}
    lines += [str(place) for place in finding.also_at if place not in stated]
    more = len(lines) - _MOST_PLACES
    return lines[:_MOST_PLACES] + ([f"and {more} more"] if more > 0 else [])


def _mends(finding: Finding) -> list[str]:
    if finding.mend:
        return [f"{edit.path} = {edit.value}" for edit in finding.mend]
    return [finding.advice or finding.rule.doc.mend]


def not_checked_lines(screen: Screen, audit: Audit, every: bool) -> None:
    """How much could not be checked, and for want of what."""
    total = audit.checked + len(audit.not_checked)
    if not audit.not_checked:
        screen.paragraph(f"All {total} rules could be checked.", indent=0)
        return
    screen.paragraph(
        f"Not checked: {len(audit.not_checked)} of {total} rules{_for_want_of(audit, every)}.",
        indent=0,
    )
    if every:
        screen.entries(
            (entry.rule.id, "lacks " + ", ".join(entry.lacks)) for entry in audit.not_checked
        )


def _for_want_of(audit: Audit, every: bool) -> str:
    """What the rules not checked lack: a build sheet, or settings, the most wanted first."""
    sheet = sum(entry.wants_sheet for entry in audit.not_checked)
    others = len(audit.not_checked) - sheet
    if not others:
        return ", for want of a build sheet (--build)"
    wants: dict[str, int] = {}
    for entry in audit.not_checked:
        for path in () if entry.wants_sheet else entry.lacks:
            wants[path] = wants.get(path, 0) + 1
    most = sorted(wants, key=lambda path: (-wants[path], path))
    most = ["any setting" if path == ANY else path for path in most]
    named = ", ".join(most[:4]) + (f" and {len(most) - 4} more" if len(most) > 4 else "")
    named += "" if every else " (--unchecked lists them)"
    if not sheet:
        return f", wholly or in part, for want of {named}"
    want, wanted = ("wants" if count == 1 else "want" for count in (sheet, others))
    return (
        f": {sheet} {want} a build sheet (--build), {others} {wanted}, wholly or in part, {named}"
    )


def verdict(audit: Audit) -> str:
    """One line: what was and wasn't found. It never says that a craft is safe."""
    if not has_dialect(audit.settings):
        counts = counted_levels(audit.findings)
        return f"{counts or 'Nothing found in the text'}. The craft was not audited."
    do_not = "Do not fly before the errors are cleared."
    return closing(audit.findings, do_not, len(audit.waived), len(audit.known))


def closing(findings: Sequence[Finding], do_not: str, waived: int = 0, known: int = 0) -> str:
    """The counts, what they ask for (`do_not` where there are errors), and the caution."""
    counts = counted_levels(findings)
    if waived or known:
        counts = counts or ("Nothing new found" if known else "Nothing else found")
        counts += f", {waived} waived (--waived)" * bool(waived)
        counts += f", {known} in the baseline" * bool(known)
    levels = {finding.level for finding in findings}
    if Level.ERROR in levels:
        return f"{counts}. {do_not} {CAUTION}"
    if Level.WARNING in levels:
        return f"{counts}. Look at the warnings before flight. {CAUTION}"
    return f"{counts or 'Nothing found'}. {CAUTION}"


def counted_levels(findings: Sequence[Finding]) -> str:
    """How many findings there are of each level that has some: `1 error, 2 notes`."""
    counts = {level: sum(finding.level is level for finding in findings) for level in Level}
    return ", ".join(_counted(count, level.value) for level, count in counts.items() if count)


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}" + ("" if count == 1 else "s")
