"""What `why` tells of a symptom: what may be behind it, or is in one craft; screen and data."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from cfgaudit.audit.engine import Audit, Finding, Unchecked
from cfgaudit.reports.causes import cause_lines
from cfgaudit.reports.check import finding_lines, findings_json
from cfgaudit.reports.data import head
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.show import stated_json, stated_row
from cfgaudit.reports.wording import counted, few, first_sentence, headline, not_audited, wanted
from cfgaudit.rules.rule import Rule, listed
from cfgaudit.rules.symptoms import Symptom
from cfgaudit.settings import Origin, Stated
from cfgaudit.vocabulary.paths import covers
from cfgaudit.work.causes import ToldCause

_MOST_WANTED = 4
_MOST_LINES = 12


class Why(NamedTuple):
    """A symptom, others that may be meant, the rules about it, and the audit of one craft."""

    symptom: Symptom
    others: Sequence[Symptom]
    rules: Sequence[Rule]
    audit: Audit | None = None
    causes: Sequence[ToldCause] = ()  # of all that the audit found

    @property
    def findings(self) -> list[Finding]:
        """What was found of it, errors first, and of one level the likeliest first."""
        places = {rule.id: place for place, rule in enumerate(self.rules)}
        found = self.audit.findings if self.audit is not None else ()
        about = [finding for finding in found if finding.rule.id in places]
        levels = [*type(about[0].level)] if about else []
        return sorted(about, key=lambda f: (levels.index(f.level), places[f.rule.id]))

    @property
    def lines(self) -> list[Stated]:
        """What the dump states that moves it, the likeliest first; of banks the one in use."""
        if self.audit is None:
            return []
        settings = self.audit.settings
        active = settings.stated.get("banks.active")
        idle = "banks." if active is not None else "-"
        used = f"banks.{active.value}." if active is not None else ""
        by_path = {
            path: stated
            for pattern in self.symptom.lines
            for path, stated in settings.stated.items()
            if stated.origin is Origin.DUMP
            and stated.place is not None
            and covers(pattern, path)
            and (path.startswith(used) or not path.startswith(idle))
        }
        return list(by_path.values())

    @property
    def unchecked(self) -> list[Unchecked]:
        """What could not be checked of it."""
        ids = {rule.id for rule in self.rules}
        entries = self.audit.not_checked if self.audit is not None else ()
        return [entry for entry in entries if entry.rule.id in ids]

    @property
    def quiet(self) -> list[Rule]:
        """The rules about it that looked in full and found nothing."""
        if self.audit is None:
            return []
        unfit = {entry.rule.id for entry in self.audit.not_applicable}
        told = {finding.rule.id for finding in self.audit.findings} | unfit
        whole = self.audit.checked_ids
        return [rule for rule in self.rules if rule.id in whole and rule.id not in told]


def symptoms_screen(symptoms: Sequence[Symptom], width: int) -> Screen:
    """Every symptom that can be asked for."""
    screen = Screen(width)
    for symptom in symptoms:
        screen.line("  ", Piece(symptom.name, "strong"))
        screen.paragraph(", ".join(symptom.also), indent=4)
    return screen


def why_screen(told: Why, width: int) -> Screen:
    """The symptom; what was found of it, or what the rules look for; what is left for the hand."""
    screen = Screen(width)
    screen.line(Piece(told.symptom.name, "strong"))
    if told.audit is None:
        _rules(screen, told.rules)
    else:
        screen.say(headline(told.audit.settings))
        _found(screen, told, told.audit)
    if told.audit is not None and told.lines:
        screen.heading("Lines that move it")
        several = len(told.audit.settings.dumps) > 1
        screen.table([stated_row(stated, several) for stated in told.lines[:_MOST_LINES]], wraps=1)
        more = len(told.lines) - _MOST_LINES
        if more > 0:
            screen.paragraph(f"and {more} more (--format json)")
    screen.heading("Look at by hand")
    for number, text in enumerate(told.symptom.by_hand, 1):
        screen.paragraph(text, label=str(number), hang=3)
    if told.others:
        screen.blank()
        names = listed([other.name for other in told.others])
        screen.say(f"Or ask for {names}.")
    return screen


def _rules(screen: Screen, rules: Sequence[Rule]) -> None:
    for rule in rules:
        screen.blank()
        screen.line("  ", Piece(rule.id, "strong"), "  ", Piece(rule.level.value, rule.level.value))
        screen.paragraph(first_sentence(rule.doc.wrong), indent=4)


def _found(screen: Screen, told: Why, audit: Audit) -> None:
    if why := not_audited(audit.settings):
        screen.blank()
        screen.say(why)
        return
    about = told.findings
    causes = [one for one in told.causes if any(one.cause.explains(found) for found in about)]
    cause_lines(screen, causes, several=len(audit.settings.dumps) > 1)
    for finding in about:
        if not any(one.cause.explains(finding) for one in causes):
            screen.blank()
            finding_lines(screen, finding)
    screen.blank()
    if not told.findings and told.quiet:
        screen.say("Nothing was found in the dump that would do this.")
    elif not told.findings:
        screen.say("Nothing of this could be looked for in the dump.")
    if told.quiet:
        screen.say(
            f"{counted(len(told.quiet), 'rule')} about it looked and found nothing. "
            "That rules nothing out that is not in the dump."
        )
    if told.unchecked:
        lacks = list(dict.fromkeys(path for entry in told.unchecked for path in entry.lacks))
        names = ", ".join(few([wanted(path) for path in lacks], _MOST_WANTED))
        screen.say(
            f"{counted(len(told.unchecked), 'rule')} about it could not be checked, "
            f"for want of {names}."
        )


def why_json(told: Why) -> dict[str, Any]:
    """The whole output of why for one symptom."""
    return {
        **head(),
        "symptom": told.symptom.name,
        "others": [other.name for other in told.others],
        "rules": [
            {
                "rule": rule.id,
                "level": rule.level.value,
                "wrong": rule.doc.wrong,
                "in_the_air": rule.doc.air,
            }
            for rule in told.rules
        ],
        "by_hand": list(told.symptom.by_hand),
        "lines": {stated.path: stated_json(stated) for stated in told.lines},
        "file": None if told.audit is None else told.audit.settings.dumps[0].file,
        "findings": findings_json(told.findings),
        "not_checked": [
            {"rule": entry.rule.id, "lacks": list(entry.lacks)} for entry in told.unchecked
        ],
        "quiet": [rule.id for rule in told.quiet],
    }


def symptoms_json(symptoms: Sequence[Symptom]) -> dict[str, Any]:
    """Every symptom, where none is asked for."""
    return {**head(), "symptoms": [{"name": s.name, "also": list(s.also)} for s in symptoms]}
