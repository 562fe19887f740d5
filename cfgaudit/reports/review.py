"""What a report for review tells, part by part, whichever format it is written in."""

from collections.abc import Sequence
from typing import NamedTuple

from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.engine import Audit, Finding, Unchecked, Waived, in_order
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.rules.book import fleet_book
from cfgaudit.rules.dump import ANY
from cfgaudit.rules.rule import listed

_MOST_LACKS = 3


class Told(NamedTuple):
    """A finding, and what is said of it besides: who waives it, whether the baseline knows it."""

    finding: Finding
    waived: Waived | None = None
    known: bool = False

    @property
    def counts(self) -> bool:
        """Whether anybody has yet to look at it."""
        return self.waived is None and not self.known


class Part(NamedTuple):
    """What is told of one craft, or of several together.

    `file` is the dump that a finding without a place is told at; `unchecked` are the rules that
    could not be checked in full, each with what it lacked; `rules` are the ids of all that ran.
    """

    title: str
    file: str
    told: tuple[Told, ...]
    unchecked: tuple[Unchecked, ...]
    rules: tuple[str, ...]
    notes: tuple[str, ...] = ()
    audited: bool = True  # False where no dialect knows the dump


class Review(NamedTuple):
    """Everything that is told. `compared` says whether it is measured against something older.

    `cleared` are findings that a change clears, `gone` and `unsure` the baseline's entries that
    are found no more.
    """

    parts: tuple[Part, ...]
    compared: bool = False
    cleared: tuple[Finding, ...] = ()
    gone: tuple[BaselineEntry, ...] = ()
    unsure: tuple[BaselineEntry, ...] = ()

    @property
    def told(self) -> tuple[Told, ...]:
        """Every finding of every part."""
        return tuple(told for part in self.parts for told in part.told)


def part_of(audit: Audit) -> Part:
    """What is told of one craft."""
    dumps = audit.settings.dumps
    lacking = {entry.rule.id for entry in audit.not_checked}
    told = _told(audit.findings, audit.waived, audit.known)
    return Part(
        title=", ".join(dump.file for dump in dumps),
        file=dumps[0].file if dumps else "",
        told=told,
        unchecked=tuple(
            entry._replace(lacks=tuple(map(wanted, entry.lacks))) for entry in audit.not_checked
        ),
        rules=tuple(sorted(audit.checked_ids | lacking | {t.finding.rule.id for t in told})),
        notes=tuple(f"{dump.file}: {note}" for dump in dumps for note in dump.notes),
        audited=any(dump.dialect for dump in dumps),
    )


def part_together(fleet: FleetAudit, file: str) -> Part:
    """What is told of several craft together."""
    return Part(
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


def review_of(audits: Sequence[Audit], fleet: FleetAudit | None) -> Review:
    """What check tells, without a baseline."""
    parts = [part_of(audit) for audit in audits]
    if fleet is not None:
        parts.append(part_together(fleet, parts[0].file))
    return Review(tuple(parts))


def review_of_change(
    audit: Audit, brought: Sequence[Finding], cleared: Sequence[Finding]
) -> Review:
    """What diff tells: of the new dump's audit just what the change brings, and what it clears."""
    part = part_of(audit)._replace(told=tuple(Told(finding) for finding in brought))
    return Review((part,), compared=True, cleared=tuple(cleared))


def wanted(path: str) -> str:
    """What a rule lacked, in words."""
    return "any setting" if path == ANY else path


def unsure(finding: Finding) -> str:
    """What is said of a finding that is gone, where its rule lacks more than it did before."""
    if not finding.lacks:
        return ""
    return f"Perhaps not: it can't be checked in full any more, for want of {_few(finding.lacks)}."


def _few(paths: Sequence[str]) -> str:
    names = [wanted(path) for path in paths]
    more = len(names) - _MOST_LACKS
    return ", ".join(names[:_MOST_LACKS]) + (f" and {more} more" if more > 0 else "")


def mends(finding: Finding) -> str:
    """How to mend it, in one line."""
    if finding.mend:
        return "; ".join(f"{edit.path} = {edit.value}" for edit in finding.mend)
    return finding.advice or finding.rule.doc.mend


def _told(
    findings: Sequence[Finding], waived: Sequence[Waived], known: Sequence[Finding]
) -> tuple[Told, ...]:
    by = {id(entry.finding): entry for entry in waived}
    old = {id(finding) for finding in known}
    every = in_order([*findings, *(entry.finding for entry in waived), *known])
    return tuple(Told(finding, by.get(id(finding)), id(finding) in old) for finding in every)
