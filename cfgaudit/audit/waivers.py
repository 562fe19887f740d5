"""Waivers: findings that somebody has looked at and lets stand until a date, with a reason.

No clock is read here; today's date comes from the caller.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from cfgaudit.audit.engine import Audit, Finding, Waived, finding_of, in_order
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.craft.craft import Craft
from cfgaudit.reading.text import Place
from cfgaudit.rules.rule import Fires, Level, Yielded, rule


class Waiver(NamedTuple):
    """One waiver: it holds to the end of the day `until`; `place` is where it is written.

    `at` narrows it to findings about one path, `craft` to the craft of that name, in capitals
    or not.
    """

    rule: str
    because: str
    until: date
    place: Place
    at: str = ""
    craft: str = ""

    def named(self) -> str:
        """What it waives, in words."""
        return (
            self.rule
            + (f" at {self.at}" if self.at else "")
            + (f" for {self.craft}" if self.craft else "")
        )


@rule("waiver/expired", Level.ERROR)
def expired(craft: Craft) -> Iterator[Yielded]:
    """A waiver in the settings file is past its date, so it waives nothing any more.

    It is judged after the rules, not by looking at the craft.

    In the air: whatever the waived rule warns of; it was let stand up to that date and no longer.
    Mend: clear what it waived and take the waiver out, or look at it anew and give a later date.
    Source: the date that the waiver itself gives.
    """
    yield from ()


@rule("waiver/matches-nothing", Level.WARNING)
def matches_nothing(craft: Craft) -> Iterator[Yielded]:
    """A waiver in the settings file fits no finding, though its rule could be checked.

    It is judged after the rules, not by looking at the craft.

    In the air: nothing by itself; but a waiver left behind would hide the same finding when it
    comes back.
    Mend: take the waiver out if what it waived is mended; else correct its rule, at or craft.
    Source: common practice.
    """
    yield from ()


RULES = (expired, matches_nothing)


def waive(
    audits: Sequence[Audit], waivers: Sequence[Waiver], today: date, *, tell: bool = True
) -> tuple[Audit, ...]:
    """The audits with the waived findings set apart, and what is wrong with the waivers told.

    The audits are those that one settings file holds for; what is wrong with a waiver is told
    once, in the first of them that it is for, or not at all without `tell`.
    """
    alive = [waiver for waiver in waivers if today <= waiver.until]
    made = [_split(audit, alive) for audit in audits]
    if not tell:
        return tuple(made)
    for waiver in waivers:
        for_it = [n for n, audit in enumerate(audits) if _is_for(waiver, _name(audit))]
        told = _fault(waiver, [audits[n] for n in for_it], today)
        if told is not None:
            first = made[for_it[0]]
            made[for_it[0]] = replace(first, findings=in_order([*first.findings, told]))
    return tuple(made)


def waive_fleet(fleet: FleetAudit, waivers: Sequence[Waiver], today: date) -> FleetAudit:
    """The audit of several craft together, with the waived findings set apart.

    A waiver with a craft fits where that craft is one of those that the finding is about.
    """

    def fits(waiver: Waiver, finding: Finding) -> bool:
        names = {fleet.names[number].casefold() for number in finding.crafts}
        return _fits(waiver, finding) and (not waiver.craft or waiver.craft.casefold() in names)

    alive = [waiver for waiver in waivers if today <= waiver.until]
    kept, waived = _parted(fleet.findings, alive, fits)
    return replace(fleet, findings=kept, waived=waived)


def _split(audit: Audit, alive: Sequence[Waiver]) -> Audit:
    here = [waiver for waiver in alive if _is_for(waiver, _name(audit))]
    kept, waived = _parted(audit.findings, here, _fits)
    return replace(audit, findings=kept, waived=waived)


def _parted(
    findings: Sequence[Finding],
    waivers: Sequence[Waiver],
    fits: Callable[[Waiver, Finding], bool],
) -> tuple[tuple[Finding, ...], tuple[Waived, ...]]:
    """The findings that stay, and those that the first fitting waiver takes out."""
    kept: list[Finding] = []
    waived: list[Waived] = []
    for finding in findings:
        by = next((waiver for waiver in waivers if fits(waiver, finding)), None)
        if by is None:
            kept.append(finding)
        else:
            waived.append(Waived(finding, by.because, by.until))
    return tuple(kept), tuple(waived)


def _fits(waiver: Waiver, finding: Finding) -> bool:
    """Whether a waiver is for a finding. A rule that failed itself is never waived."""
    return (
        waiver.rule == finding.rule.id
        and not finding.failed
        and (not waiver.at or waiver.at in finding.paths)
    )


def _is_for(waiver: Waiver, name: str) -> bool:
    return not waiver.craft or waiver.craft.casefold() == name.casefold()


def _name(audit: Audit) -> str:
    stated = audit.settings.stated.get("craft.name")
    return str(stated.value) if stated is not None else ""


def _fault(waiver: Waiver, audits: Sequence[Audit], today: date) -> Finding | None:
    """What is wrong with a waiver, seen from the audits that it is for."""
    if not audits:
        return None
    if today > waiver.until:
        return _expired(waiver, today)
    return _matches_nothing(waiver) if _matches_none(waiver, audits) else None


def _matches_none(waiver: Waiver, audits: Sequence[Audit]) -> bool:
    """Whether it fits no finding, every one of the audits having checked its rule in full."""
    return all(
        waiver.rule in audit.checked_ids
        and not any(_fits(waiver, finding) for finding in audit.findings)
        for audit in audits
    )


def _expired(waiver: Waiver, today: date) -> Finding:
    # The days since stay out of the message: they would make another finding of it every day.
    fires = Fires(
        f"The waiver of {waiver.named()} ended on {waiver.until}: it waives nothing any more. "
        f"It was given because: {_sentence(waiver.because)}",
        (),
        (("days_past", (today - waiver.until).days),),
        advice="Clear what it waived and take it out, or look at it anew and give a later date.",
        places=(waiver.place,),
    )
    return finding_of(expired, fires, ())


def _matches_nothing(waiver: Waiver) -> Finding:
    fires = Fires(
        f"The waiver of {waiver.named()} fits no finding.",
        (),
        advice="Take it out if what it waived is mended; else correct its rule, at or craft.",
        places=(waiver.place,),
    )
    return finding_of(matches_nothing, fires, ())


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return text if text.endswith((".", "!", "?")) else f"{text}."
