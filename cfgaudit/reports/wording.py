"""How things are said in every report: counts, levels, values, places, a craft, a verdict."""

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.rules.rule import Level, Rule, first_of, listed
from cfgaudit.settings import DumpFacts, Origin, Settings
from cfgaudit.vocabulary.declare import HIDDEN, Class

if TYPE_CHECKING:  # whose shapes alone are wanted: a setting is explained without them
    from cfgaudit.audit.blind import Blindness
    from cfgaudit.audit.engine import Audit, Finding
    from cfgaudit.audit.fleet import FleetAudit

DO_NOT_FLY: Final = "Do not fly before the errors are cleared."
PROPELLERS: Final = "Propellers off while settings are changed."
NOT_STATED: Final = "not stated"
CAUTION: Final = "A clean audit is no proof that a craft is safe."
_MOST_LACKS: Final = 3

# What is said of a setting that no line of the dump states.
_STANDING: Final = {
    Origin.DUMP: "",
    Origin.FACTORY: "factory value",
    Origin.GIVEN: "always so in this firmware",
    Origin.SHEET: "build sheet",
    None: NOT_STATED,
}


def counted(count: int, what: str) -> str:
    """How many of something.

    >>> counted(1, "change"), counted(1200, "finding")
    ('1 change', '1,200 findings')
    """
    return f"{count:,} {what}" + ("" if count == 1 else "s")


def left_out(more: int, what: str) -> str:
    """How many are left out of a long report, and how to see them; empty where none is.

    >>> left_out(1200, "finding")
    '1,200 more findings left out, the least grave; --no-limits reports them all'
    >>> left_out(0, "finding")
    ''
    """
    if more <= 0:
        return ""
    said = counted(more, f"more {what}")
    return f"{said} left out, the least grave; --no-limits reports them all"


def few(entries: Sequence[str], most: int) -> list[str]:
    """The first entries of a list, and how many more there are.

    >>> few(["a", "b", "c"], 2), few(["a", "b"], 2)
    (['a', 'b', 'and 1 more'], ['a', 'b'])
    """
    more = len(entries) - most
    return [*entries[:most], *([f"and {more} more"] if more > 0 else [])]


def sentence(text: str) -> str:
    """A line of description as a sentence."""
    return text[:1].upper() + text[1:] + "."


def standing(origin: Origin | None) -> str:
    """What stands in for the place of a setting that no line of the dump states."""
    return _STANDING[origin]


def value_of(settings: Settings, path: str) -> str:
    """What a craft says of itself, if it does; a secret is hidden."""
    if path not in settings:
        return ""
    return HIDDEN if settings[path].secret else str(settings[path].value)


def firmware_of(settings: Settings) -> str:
    """A craft's firmware and its version."""
    return f"{value_of(settings, 'firmware.name')} {value_of(settings, 'firmware.version')}".strip()


def name_of(settings: Settings, file: str = "", *, secrets: bool = False) -> str:
    """What to call a craft: its name, else its file's."""
    named = settings.stated.get("craft.name")
    if named is not None and (secrets or not named.secret) and str(named.value).strip():
        return str(named.value)
    if file:
        return Path(file).stem
    return settings.dumps[0].file if settings.dumps else "a craft"


def headline(settings: Settings) -> str:
    """Who it is and how much was read, in one line."""
    board = value_of(settings, "board.name")
    firmware = firmware_of(settings)
    who = [value_of(settings, "craft.name"), " on ".join(filter(None, (firmware, board)))]
    origins = [entry.origin for entry in settings.stated.values()]
    factory, sheet = origins.count(Origin.FACTORY), origins.count(Origin.SHEET)
    files = ", ".join(_how_much_read(settings, dump) for dump in settings.dumps)
    counts = f"{files}, {counted(len(origins) - factory - sheet, 'setting')}"
    if factory:
        counts += f", {factory:,} more at factory"
    return " · ".join([part for part in who if part] + [counts])


def _how_much_read(settings: Settings, dump: DumpFacts) -> str:
    """How many lines a dump has, are read, and mean nothing that is known."""
    told = f"{dump.file}: {counted(dump.lines, 'line')}, {dump.lines - dump.unread:,} read"
    lost = settings.not_understood(dump.file) if dump.dialect else 0
    return f"{told}, {lost:,} of them not understood" if lost else told


def has_dialect(settings: Settings) -> bool:
    """Whether any of the craft's dumps was read in a dialect."""
    return any(dump.dialect for dump in settings.dumps)


def not_audited(settings: Settings, findings: "Iterable[Finding]" = ()) -> str:
    """Why a craft was not audited, or not all of it, and what to do; empty where all of it was.

    A dump that no dialect knows, or that states nothing, was not: silence about it means nothing.
    Nor was one that lacks all of what its dialect knows and a first flight hangs on, nor one of
    whose `findings` is that a rule failed by a fault of its own.
    """
    unknown = [dump for dump in settings.dumps if not dump.dialect or not dump.lines]
    states = any(entry.origin is Origin.DUMP for entry in settings.stated.values())
    if not unknown and states and settings.lacking:
        return (
            f"{not_told_of(settings.lacking)} The dialect has lines for it and the dump has none, "
            "so the craft was not audited as a whole. Look whether the dump was cut off, and make "
            "it anew to its last line; where the firmware prints only what was changed, make one "
            "of all settings."
        )
    if not unknown and states:
        failed = list(dict.fromkeys(finding.rule.id for finding in findings if finding.failed))
        return f"By a fault of the program {listed(failed)} could not look." if failed else ""
    if not settings.dumps:
        return "There is no dump, so nothing was audited."
    unknown = unknown or list(settings.dumps)
    one = len(unknown) == 1
    what = "this dump" if len(settings.dumps) == 1 else listed([dump.file for dump in unknown])
    if not any(dump.lines for dump in unknown):
        what = "The dump is" if what == "this dump" else f"{what} {'is' if one else 'are'}"
        return f"{what} empty: there is nothing to audit. Make {'it' if one else 'them'} anew."
    if any(dump.dialect for dump in unknown):
        return f"No setting could be read in {what}, so nothing was audited. Is it whole?"
    if all(dump.hardly_text for dump in unknown):
        return f"Most lines of {what} can't be read as text, so nothing was audited. Is it a dump?"
    return (
        f"No dialect knows {what}, so nothing could be audited beyond the text itself. "
        f"Next: `cfgaudit dialect teach {unknown[0].file}` asks for what it needs and makes one "
        "(`dialect new` a draft, without asking). One that you have is named with --dialect FILE, "
        'or with its folder in cfgaudit.toml, below [cfgaudit], as dialects = ["FOLDER"]. '
        "`cfgaudit show` and `cfgaudit diff` work without one."
    )


def reading_notes(settings: Settings) -> list[str]:
    """What is to be known of how each dump was read."""
    return [f"{dump.file}: {note}." for dump in settings.dumps for note in dump.notes]


def counted_levels(findings: "Sequence[Finding]") -> str:
    """How many findings there are of each level that has some: `1 error, 2 notes`."""
    counts = {level: sum(finding.level is level for finding in findings) for level in Level}
    return ", ".join(counted(count, level.value) for level, count in counts.items() if count)


def closing(
    findings: "Sequence[Finding]",
    waived: int = 0,
    known: "Sequence[Finding]" = (),
    do_not: str = DO_NOT_FLY,
) -> str:
    """The counts, what they ask for (`do_not` where there are errors), and the caution.

    What a baseline knows is not counted as found; but an error in it stands all the same.
    """
    counts = counted_levels(findings)
    if waived or known:
        counts = counts or ("Nothing new found" if known else "Nothing else found")
        counts += f", {waived} waived (--waived)" * bool(waived)
    if known:
        errors = [finding for finding in known if finding.level is Level.ERROR]
        among = f", {counted_levels(errors)} among them" if errors else ""
        counts += f", {len(known)} in the baseline{among}"
    levels = {finding.level for finding in (*findings, *known)}
    if Level.ERROR in levels:
        return f"{counts}. {do_not} {CAUTION}"
    if Level.WARNING in levels:
        return f"{counts}. Look at the warnings before flight. {CAUTION}"
    return f"{counts or 'Nothing found'}. {CAUTION}"


def all_checked(audit: "Audit") -> str:
    """That no rule lacked anything, and how many are not about such a craft."""
    if not audit.not_applicable:
        return f"All {audit.rules} rules could be checked."
    some = len(audit.not_applicable)
    return (
        f"All {audit.checked} rules that apply could be checked; {some} "
        f"{'does' if some == 1 else 'do'} not apply to such a craft."
    )


def unfit(audit: "Audit") -> str:
    """How many rules are not about such a craft, as a sentence to go on with; empty for none."""
    some = len(audit.not_applicable)
    return f" {some} more {'does' if some == 1 else 'do'} not apply." if some else ""


def how_blind(*seen: "Blindness", hint: str = "") -> str:
    """How much was looked at, and in how many safety settings a wrong value would be noticed.

    Of several craft in all; `hint` says what lists the rest, where there is a rest.
    """
    stated, looked = sum(one.stated for one in seen), sum(one.looked_at for one in seen)
    safety = [one.seen[Class.SAFETY] for one in seen if Class.SAFETY in one.seen]
    judged, noticed = sum(one.stated for one in safety), sum(one.noticed for one in safety)
    told = f"Looked at {looked:,} of {counted(stated, 'setting')}"
    if safety:
        told += f"; of {counted(judged, 'safety setting')} a wrong value would be noticed in "
        told += f"{noticed:,}"
    rest = f" ({hint})" if hint and (looked, noticed) != (stated, judged) else ""
    untold = list(dict.fromkeys(basic for one in seen for basic in one.not_told))
    return " ".join([f"{told}{rest}.", *([not_told_of(untold)] if untold else [])])


def not_told_of(basics: Iterable[str]) -> str:
    """What a first flight hangs on and was not read, as a sentence."""
    return f"NOT READ, and a first flight hangs on it: {listed(list(basics))}."


def stands(audit: "Audit") -> str:
    """How many errors a craft has, whatever brought them, as a sentence."""
    if not_audited(audit.settings):
        return "What stands is not known: the craft was not audited."
    errors = sum(finding.level is Level.ERROR for finding in audit.findings)
    said = counted(errors, "error") if errors else "No error"
    return f"{said} {'stand' if errors > 1 else 'stands'}."


def verdict(audit: "Audit") -> str:
    """One line: what was and wasn't found. It never says that a craft is safe."""
    if not_audited(audit.settings, audit.findings):
        return unaudited(audit.findings)
    return closing(audit.findings, len(audit.waived), audit.known)


def unaudited(findings: "Sequence[Finding]") -> str:
    """The verdict on a craft that was not audited, or not all of it; it is no verdict."""
    return f"{counted_levels(findings) or 'Nothing found in the text'}. The craft was not audited."


def verdict_on_all(
    names: Sequence[str], audits: "Sequence[Audit]", together: "FleetAudit | None"
) -> list[str]:
    """Who was not audited, then the verdict on several craft, each by itself and together."""
    left = [
        (n, one)
        for n, one in zip(names, audits, strict=True)
        if not_audited(one.settings, one.findings)
    ]
    unknown = [name for name, audit in left if not has_dialect(audit.settings)]
    others = [name for name, audit in left if has_dialect(audit.settings)]
    told = []
    for some, why in ((unknown, "No dialect knows"), (others, "Not all could be read in")):
        if some:
            was = "it was" if len(some) == 1 else "they were"
            told.append(f"{why} {listed(some)}, so {was} not audited.")
    if len(left) == len(audits):
        return told
    every: list[Audit | FleetAudit] = [*audits, *([together] if together is not None else [])]
    said = closing(
        [finding for one in every for finding in one.findings],
        known=[finding for one in every for finding in one.known],
    )
    waived = sum(len(one.waived) for one in every)
    apart = f" Waived: {waived}." if waived else ""
    return [*told, f"In all: {said[:1].lower()}{said[1:]}{apart}"]


def first_sentence(text: str) -> str:
    """The first sentence of several.

    >>> first_sentence("A range begins where it ends, e.g. at 1. A range is two pulses.")
    'A range begins where it ends, e.g. at 1.'
    """
    return re.split(r"(?<=[a-z0-9)]\.) (?=[A-Z])", text)[0]


def air_label(rule: Rule) -> str:
    """What stands before a rule's second part: a house limit gives its reason there."""
    return "Because" if rule.area == "house" else "In the air"


def worst(findings: "Sequence[Finding]") -> str:
    """The gravest level of some findings; empty where there are none."""
    levels = {finding.level for finding in findings}
    return next((level.value for level in Level if level in levels), "")


def mends(finding: "Finding") -> list[str]:
    """How to mend it: each edit, else the advice."""
    if finding.mend:
        return [f"{edit.path} = {edit.value}" for edit in finding.mend]
    return [finding.advice or finding.rule.doc.mend]


def wanted(path: str) -> str:
    """What a rule lacked, in words."""
    from cfgaudit.rules.dump import ANY  # with every setting of a craft: `explain` wants none

    return "any setting" if path == ANY else path


def unsure(finding: "Finding") -> str:
    """What is said of a finding that is gone, where its rule lacks more than it did before."""
    if not finding.lacks:
        return ""
    lacks = first_of([wanted(path) for path in finding.lacks], _MOST_LACKS)
    return f"Perhaps not: it can't be checked in full any more, for want of {lacks}."


class StatedPlace(NamedTuple):
    """Where one setting is stated, or what is said in the place's stead."""

    at: str
    path: str = ""
    says: str = ""


def stated_places(finding: "Finding") -> list[StatedPlace]:
    """Where each setting of a finding stands; then the places that are of no one setting."""
    told = [
        StatedPlace(str(place), path) if place else StatedPlace("", path, standing(origin))
        for path, place, origin in zip(
            finding.paths, finding.stated_at, finding.origins, strict=True
        )
    ]
    stated = {place for place in finding.stated_at if place is not None}
    return told + [StatedPlace(str(place)) for place in finding.also_at if place not in stated]
