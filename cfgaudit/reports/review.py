"""What a report for review tells, part by part, and the formats that it can be written in."""

from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.blind import Blindness
from cfgaudit.audit.engine import Audit, Finding, Unchecked, Unfit, Waived, in_order
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.reports.screen import NO_NAMES, also_called
from cfgaudit.reports.wording import how_blind, mends, not_audited, reading_notes, wanted
from cfgaudit.rules.book import fleet_book
from cfgaudit.rules.rule import listed


class ReviewedFinding(NamedTuple):
    """A finding, and what is said of it besides: who waives it, whether the baseline knows it."""

    finding: Finding
    waived: Waived | None = None
    known: bool = False

    @property
    def counts(self) -> bool:
        """Whether anybody has yet to look at it."""
        return self.waived is None and not self.known


class ReviewPart(NamedTuple):
    """What is told of one craft, or of several together.

    `file` is the dump that a finding without a place is told at; `unchecked` are the rules that
    could not be checked in full, each with what it lacked; `rules` are the ids of all that ran.
    """

    title: str
    file: str
    told: tuple[ReviewedFinding, ...]
    unchecked: tuple[Unchecked, ...]
    rules: tuple[str, ...]
    notes: tuple[str, ...] = ()
    not_audited: str = ""  # why it was not, or not all of it
    unfit: tuple[Unfit, ...] = ()  # the rules that are not about such a craft
    blind: str = ""  # how much was looked at, and what would be noticed, in one line


class Review(NamedTuple):
    """Everything that is told. `compared` says whether it is measured against something older.

    `cleared` are findings that a change clears, `gone` and `unsure` the baseline's entries that
    are found no more. `also` gives by name of a port or pad what else it is called.
    """

    parts: tuple[ReviewPart, ...]
    compared: bool = False
    cleared: tuple[Finding, ...] = ()
    gone: tuple[BaselineEntry, ...] = ()
    unsure: tuple[BaselineEntry, ...] = ()
    also: Mapping[str, str] = NO_NAMES

    @property
    def told(self) -> tuple[ReviewedFinding, ...]:
        """Every finding of every part."""
        return tuple(told for part in self.parts for told in part.told)


def names_in(finding: Finding, also: Mapping[str, str]) -> str:
    """What else the ports and pads of a finding are called, as a sentence; empty where none is."""
    return also_called((finding.message, *finding.paths, *mends(finding)), also)


def part_of(audit: Audit, blind: Blindness | None = None) -> ReviewPart:
    """What is told of one craft; `blind` is how blind its audit is."""
    dumps = audit.settings.dumps
    lacking = {entry.rule.id for entry in audit.not_checked}
    told = _told(audit.findings, audit.waived, audit.known)
    return ReviewPart(
        title=", ".join(dump.file for dump in dumps),
        file=dumps[0].file if dumps else "",
        told=told,
        unchecked=tuple(
            entry._replace(lacks=tuple(map(wanted, entry.lacks))) for entry in audit.not_checked
        ),
        rules=tuple(sorted(audit.checked_ids | lacking | {t.finding.rule.id for t in told})),
        notes=tuple(reading_notes(audit.settings)),
        not_audited=not_audited(audit.settings, audit.findings),
        unfit=audit.not_applicable,
        blind="" if blind is None else how_blind(blind, hint="check --blind lists the rest"),
    )


def part_together(fleet: FleetAudit, file: str) -> ReviewPart:
    """What is told of several craft together."""
    return ReviewPart(
        title=f"{listed(list(fleet.names))} together",
        file=file,
        told=_told(fleet.findings, fleet.waived, fleet.known),
        unchecked=tuple(
            Unchecked(
                entry.rule,
                tuple(f"{lack.path} of {fleet.names[lack.craft]}" for lack in entry.lacks),
            )
            for entry in fleet.not_checked
        ),
        rules=tuple(
            sorted({rule.id for rule in (*fleet_book(), *(e.rule for e in fleet.not_checked))})
        ),
    )


def review_of(
    audits: Sequence[Audit], fleet: FleetAudit | None, blind: Sequence[Blindness | None] = ()
) -> Review:
    """What check tells, without a baseline; `blind` is of each craft, where it is known."""
    parts = [part_of(*one) for one in zip_longest(audits, blind)]
    if fleet is not None:
        parts.append(part_together(fleet, parts[0].file))
    return Review(tuple(parts))


def review_of_change(
    audit: Audit,
    brought: Sequence[Finding],
    cleared: Sequence[Finding],
    blind: Blindness | None = None,
) -> Review:
    """What diff tells: of the new dump's audit just what the change brings, and what it clears."""
    part = part_of(audit, blind)._replace(
        told=tuple(ReviewedFinding(finding) for finding in brought)
    )
    return Review((part,), compared=True, cleared=tuple(cleared))


def _told(
    findings: Sequence[Finding], waived: Sequence[Waived], known: Sequence[Finding]
) -> tuple[ReviewedFinding, ...]:
    by = {id(entry.finding): entry for entry in waived}
    old = {id(finding) for finding in known}
    every = in_order([*findings, *(entry.finding for entry in waived), *known])
    return tuple(
        ReviewedFinding(finding, by.get(id(finding)), id(finding) in old) for finding in every
    )
