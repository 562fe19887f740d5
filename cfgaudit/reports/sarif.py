"""Findings as SARIF 2.1.0, for whatever shows them beside the lines that they are about.

The same bytes for the same findings: no time, no machine, no folder is told.
"""

import os
import re
from collections.abc import Iterable, Iterator
from pathlib import PurePath
from typing import Any
from urllib.parse import quote

from cfgaudit import __version__
from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.engine import Finding
from cfgaudit.reading.safe import safe
from cfgaudit.reading.text import Place
from cfgaudit.reports.check import ReviewedFinding
from cfgaudit.reports.data import dumped, from_top
from cfgaudit.reports.markdown_text import marked
from cfgaudit.reports.review import Review, ReviewPart, names_in
from cfgaudit.reports.screen import safe_lines
from cfgaudit.reports.wording import mends
from cfgaudit.rules.rule import Rule, listed

HERE = "TOP_FOLDER"  # what relative addresses are relative to
_LINK = re.compile(r"\[(?=[^\]]*\]\()")  # would begin a link in a message
_HOLE = re.compile(r"\{(\d+)\}")  # would be filled in with an argument


def text(said: str) -> dict[str, str]:
    r"""A message that holds just this text; its line ends are ours.

    Published: SARIF 2.1.0, 3.11.5 (placeholders: braces are doubled) and 3.11.6 (links: a bracket
    that begins none has a backslash before it).

    >>> text("see [this](there)")
    {'text': 'see \\[this](there)'}
    """
    return {"text": _HOLE.sub(r"{{\1}}", _LINK.sub(r"\\[", safe_lines(said)))}


def location_of(file: str) -> dict[str, Any]:
    """A file's address: relative to the top of the repository where it can be, percent-encoded."""
    path = from_top(file)
    if path.is_absolute():
        return {"uri": "file://" + _encoded(path if path.drive == "" else PurePath("/", path))}
    return {"uri": _encoded(path), "uriBaseId": HERE}


def _encoded(path: PurePath) -> str:
    """The path with everything percent-encoded that could mean something in an address."""
    return quote(os.fsencode(path.as_posix()), safe="/")


def rule_descriptor(rule: Rule) -> dict[str, Any]:
    """What there is to say of a rule: its text, and how to mend it, from its docstring."""
    doc = rule.doc
    parts = (("In the air", doc.air), ("Mend", doc.mend), ("Source", doc.source))
    return {
        "id": rule.id,
        "shortDescription": text(doc.wrong),
        "fullDescription": text(f"{doc.wrong} In the air: {doc.air}"),
        "help": {
            **text("\n".join(f"{name}: {said}" for name, said in parts)),
            "markdown": "\n\n".join(f"**{name}**: {marked(said)}" for name, said in parts),
        },
        "defaultConfiguration": {"level": rule.level.value},
        "properties": {"tags": [rule.area]},
    }


SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
FINGERPRINT = "cfgaudit/v1"  # of rule, paths and stated values

# What is told besides findings, and in what words.
_NOTICES = {
    "not-checked": "A rule could not be checked, or not wholly, for want of a setting.",
    "not-audited": "A dump was not audited, or not all of it, so silence about it means nothing.",
    "read-as": "Something about the dump's bytes had to be guessed.",
    "looked-at": "How much of a dump was looked at, and what would be noticed.",
    "cleared": "The change clears a finding.",
    "baseline": "The baseline has a finding that is there no more.",
}


def sarif_text(review: Review) -> str:
    """The whole log, as JSON text; only ASCII."""
    return dumped({"$schema": SCHEMA, "version": "2.1.0", "runs": [_Run(review).log()]})


class _Run:
    """One run's log; the rules and files that are told of are numbered as they come."""

    def __init__(self, review: Review) -> None:
        self._review = review
        rules = {told.finding.rule.id: told.finding.rule for told in review.told}
        rules |= {entry.rule.id: entry.rule for part in review.parts for entry in part.unchecked}
        rules |= {finding.rule.id: finding.rule for finding in review.cleared}
        self._rules: list[Rule] = [rules[name] for name in sorted(rules)]
        self._numbers = {rule.id: number for number, rule in enumerate(self._rules)}
        files = [part.file for part in review.parts]
        files += [place.file for told in review.told for place in told.finding.places]
        self._files = {file: number for number, file in enumerate(dict.fromkeys(files))}

    def log(self) -> dict[str, Any]:
        """The run."""
        return {
            "tool": {
                "driver": {
                    "name": "cfgaudit",
                    "version": __version__,
                    "rules": [rule_descriptor(rule) for rule in self._rules],
                    "notifications": [
                        {"id": name, "shortDescription": {"text": said}}
                        for name, said in _NOTICES.items()
                    ],
                }
            },
            "columnKind": "unicodeCodePoints",
            "newlineSequences": ["\r\n", "\n", "\r"],
            "originalUriBaseIds": {
                HERE: {
                    "description": {
                        "text": "The top of the repository, or where cfgaudit was called."
                    }
                }
            },
            "artifacts": [{"location": location_of(file)} for file in self._files],
            "invocations": [
                {
                    "executionSuccessful": not any(p.not_audited for p in self._review.parts),
                    "toolExecutionNotifications": list(self._notices()),
                }
            ],
            "results": [
                self._result(told, part) for part in self._review.parts for told in part.told
            ],
        }

    def _result(self, told: ReviewedFinding, part: ReviewPart) -> dict[str, Any]:
        finding = told.finding
        places = finding.places
        first = self._physical(places[0]) if places else self._physical(Place(part.file, 0))
        mend = f"Mend: {'; '.join(mends(finding))}"
        said = (finding.message, mend, names_in(finding, self._review.also))
        made: dict[str, Any] = {
            "ruleId": finding.rule.id,
            "ruleIndex": self._numbers[finding.rule.id],
            "level": finding.level.value,
            "message": text(safe(" ".join(filter(None, said)))),
            "locations": [{"physicalLocation": first, **_logical(finding)}],
        }
        if len(places) > 1:
            made["relatedLocations"] = [
                {"id": number, "physicalLocation": self._physical(place)}
                for number, place in enumerate(places[1:], 1)
            ]
        made["partialFingerprints"] = {FINGERPRINT: finding.fingerprint}
        if self._review.compared:
            made["baselineState"] = "unchanged" if told.known else "new"
        made["suppressions"] = list(_suppressions(told))
        made["properties"] = _properties(finding, part)
        return made

    def _physical(self, place: Place) -> dict[str, Any]:
        """A place; line 0 means the whole file, column 0 the whole line."""
        address = {**location_of(place.file), "index": self._files[place.file]}
        if not place.line:
            return {"artifactLocation": address}
        region = {"startLine": place.line}
        if place.column:
            region["startColumn"] = place.column
            if place.end > place.column:
                region["endColumn"] = place.end
        return {"artifactLocation": address, "region": region}

    def _notices(self) -> Iterator[dict[str, Any]]:
        for part in self._review.parts:
            at = {"locations": [{"physicalLocation": self._physical(Place(part.file, 0))}]}
            if part.not_audited:
                said = f"{part.title} was not audited. {part.not_audited}"
                yield _notice("not-audited", said, "error") | at
            for note in part.notes:
                yield _notice("read-as", note) | at
            if part.blind:
                yield _notice("looked-at", f"{part.title}: {part.blind}") | at
            for rule, lacks in part.unchecked:
                said = f"{part.title}: {rule.id} was not checked in full for want of "
                yield _notice("not-checked", f"{said}{listed(list(lacks))}.") | at | self._of(rule)
        for finding in self._review.cleared:
            said = f"{finding.rule.id}: {finding.message}"
            yield _notice("cleared", said) | self._of(finding.rule)
        yield from _baseline_notices(self._review.gone, "no more")
        yield from _baseline_notices(self._review.unsure, "no more, but could not look in full")

    def _of(self, rule: Rule) -> dict[str, Any]:
        return {"associatedRule": {"id": rule.id, "index": self._numbers[rule.id]}}


def _notice(name: str, said: str, level: str = "note") -> dict[str, Any]:
    number = list(_NOTICES).index(name)
    return {
        "descriptor": {"id": name, "index": number},
        "level": level,
        "message": text(safe(said)),
    }


def _baseline_notices(entries: Iterable[BaselineEntry], how: str) -> Iterator[dict[str, Any]]:
    for entry in entries:
        said = f"{', '.join(entry.dumps)}: {entry.rule} finds this {how}: {entry.message}"
        yield _notice("baseline", said)


def _logical(finding: Finding) -> dict[str, Any]:
    """The settings that a finding is about, where it is about any."""
    paths = [safe(path) for path in dict.fromkeys(finding.paths)]
    names = [{"fullyQualifiedName": path, "kind": "property"} for path in paths]
    return {"logicalLocations": names} if names else {}


def _suppressions(told: ReviewedFinding) -> Iterator[dict[str, Any]]:
    """Published: SARIF 2.1.0, 3.35. A waiver stands outside of the dump, so it is external."""
    if told.waived is not None:
        yield {
            "kind": "external",
            "status": "accepted",
            "justification": safe(told.waived.because),
            "properties": {"until": told.waived.until.isoformat()},
        }


def _properties(finding: Finding, part: ReviewPart) -> dict[str, Any]:
    return {
        "about": safe(part.title),
        "inTheAir": safe(finding.in_the_air),
        "figures": dict(finding.figures),
        "mend": [{"path": safe(e.path), "value": safe(e.value)} for e in finding.mend],
    }
