"""A baseline: the findings that were there when it was written, so that only new ones are told.

An entry is matched by dump, level and fingerprint, so never by a line number. What tells of a
waiver, or of a rule's own fault, is never an entry: it would hide what hides other findings.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple, TypeVar

from cfgaudit.audit.engine import Audit, Finding
from cfgaudit.audit.fleet import FleetAudit

_AT_A_LINE = re.compile(r" \([^()]*\bline \d+\)")  # as a rule about repeats puts it


EntryKey = tuple[tuple[str, ...], str, str]  # what an entry is matched by


class BaselineEntry(NamedTuple):
    """One finding of a baseline; `dumps` are the files of the craft that it is about, in order.

    `rule`, `paths` and `message` are for the reader.
    """

    dumps: tuple[str, ...]
    rule: str
    level: str
    paths: tuple[str, ...]
    message: str
    fingerprint: str

    @property
    def key(self) -> EntryKey:
        """What it is matched by."""
        return self.dumps, self.level, self.fingerprint


class Compared(NamedTuple):
    """Audits held against a baseline: what it knows is set apart from what is new.

    `gone` are the entries about these dumps that no finding has any more; `unsure` those among
    them whose rule could not be checked in full, so that nobody knows.
    """

    audits: tuple[Audit, ...]
    fleet: FleetAudit | None
    gone: tuple[BaselineEntry, ...]
    unsure: tuple[BaselineEntry, ...]


def in_file_order(entries: Iterable[BaselineEntry]) -> tuple[BaselineEntry, ...]:
    """The one order of entries: by dump, rule, paths, and what else tells them apart."""
    return tuple(sorted(entries, key=lambda e: (e.dumps, e.rule, e.paths, e.fingerprint, e)))


def entries_of(
    audits: Sequence[Audit], fleet: FleetAudit | None, files: Sequence[str]
) -> tuple[BaselineEntry, ...]:
    """The entries for all that is found now; `files` names each craft's dump."""
    made = [
        _entry(finding, (file,))
        for audit, file in zip(audits, files, strict=True)
        for finding in (*audit.findings, *audit.known)
        if _can_stand(finding)
    ]
    if fleet is not None:
        findings = (*fleet.findings, *fleet.known)
        made += [_entry(f, _dumps(f, files)) for f in findings if _can_stand(f)]
    return in_file_order(made)


def compare_with(
    entries: Sequence[BaselineEntry],
    audits: Sequence[Audit],
    fleet: FleetAudit | None,
    files: Sequence[str],
) -> Compared:
    """Set what the baseline knows apart from what is new, and tell what is gone."""
    left = Counter(entry.key for entry in entries)
    made = [_parted(audit, [file], left) for audit, file in zip(audits, files, strict=True)]
    fleet = None if fleet is None else _parted(fleet, files, left)
    gone: list[BaselineEntry] = []
    for entry in in_file_order(entries):
        if left[entry.key] > 0 and set(entry.dumps) <= set(files):
            left[entry.key] -= 1
            gone.append(entry)
    open_rules = _open_rules(made, fleet, files)
    unsure = tuple(entry for entry in gone if (entry.dumps, entry.rule) in open_rules)
    return Compared(tuple(made), fleet, tuple(e for e in gone if e not in unsure), unsure)


def updated(
    entries: Sequence[BaselineEntry], compared: Compared, files: Sequence[str]
) -> tuple[BaselineEntry, ...]:
    """The baseline brought up to date: what is found now, and what other dumps are to keep.

    An entry stays, too, where nobody knows whether it is gone; and one that is found again stays
    as it was worded, whatever the order in which several craft are given now.
    """
    worded = {entry.key: entry for entry in entries}
    others = [entry for entry in entries if not set(entry.dumps) <= set(files)]
    now = entries_of(compared.audits, compared.fleet, files)
    return in_file_order([*others, *compared.unsure, *(worded.get(e.key, e) for e in now)])


def _can_stand(finding: Finding) -> bool:
    return not finding.failed and finding.rule.area != "waiver"


def _entry(finding: Finding, dumps: tuple[str, ...]) -> BaselineEntry:
    level, rule = finding.level.value, finding.rule.id
    message = _AT_A_LINE.sub("", finding.message)
    return BaselineEntry(dumps, rule, level, finding.paths, message, finding.fingerprint)


def _dumps(finding: Finding, files: Sequence[str]) -> tuple[str, ...]:
    """The dumps of the craft that a finding is about; all of them where it names none."""
    return tuple(sorted({files[craft] for craft in finding.crafts} or set(files)))


A = TypeVar("A", Audit, FleetAudit)


def _parted(audit: A, files: Sequence[str], left: Counter[EntryKey]) -> A:
    """An audit, its findings that were taken from what is left of the baseline set apart.

    What is waived is taken from it too.
    """
    known = [_is_taken(finding, files, left) for finding in audit.findings]
    for waived in audit.waived:
        _is_taken(waived.finding, files, left)
    both = list(zip(audit.findings, known, strict=True))
    new = tuple(finding for finding, taken in both if not taken)
    return replace(audit, findings=new, known=tuple(finding for finding, taken in both if taken))


def _is_taken(finding: Finding, files: Sequence[str], left: Counter[EntryKey]) -> bool:
    key = _entry(finding, _dumps(finding, files)).key
    if not _can_stand(finding) or left[key] <= 0:
        return False
    left[key] -= 1
    return True


def _open_rules(
    audits: Sequence[Audit], fleet: FleetAudit | None, files: Sequence[str]
) -> set[tuple[tuple[str, ...], str]]:
    """Dumps and rule, for every rule that could not be checked in full."""
    found: set[tuple[tuple[str, ...], str]] = {
        ((file,), entry.rule.id)
        for audit, file in zip(audits, files, strict=True)
        for entry in audit.not_checked
    }
    for among in fleet.not_checked if fleet is not None else ():
        lacking = {files[lack.craft] for lack in among.lacks}
        every = tuple(sorted(files))
        found |= {(every, among.rule.id)} | {
            (tuple(sorted({one, other})), among.rule.id) for one in lacking for other in files
        }
    return found
