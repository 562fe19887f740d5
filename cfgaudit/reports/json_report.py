"""Machine output, version 1: the JSON of check and show (diff and compare in json_changes)."""

import json
from collections.abc import Sequence
from typing import Any

from cfgaudit import __version__
from cfgaudit.audit.engine import Audit, Finding, Waived, in_order
from cfgaudit.dialects.plain import path_order, stated_text
from cfgaudit.reports.json_switches import switch_table_json
from cfgaudit.settings import Raw, Settings, Stated, TroubleKind
from cfgaudit.vocabulary.kinds import Filter, SwitchRange, Value, unit_of
from cfgaudit.vocabulary.paths import declared_anywhere

VERSION = 1


def dumped(data: object) -> str:
    """JSON text, the same for the same data, with a last newline. Only ASCII, so always safe."""
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def value_json(value: Value | SwitchRange | Filter) -> Any:
    """A value as JSON: lists of objects for structured ones, sorted lists for sets."""
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, SwitchRange):
        return {"channel": value.channel, "low": value.low, "high": value.high}
    if isinstance(value, Filter):
        return {"kind": value.kind, "cutoff": value.cutoff, "q": value.q}
    if isinstance(value, tuple):
        return [value_json(element) for element in value]
    return value


def findings_json(
    findings: Sequence[Finding], waived: Sequence[Waived], known: Sequence[Finding]
) -> list[dict[str, Any]]:
    """The findings in order, those among them that are waived, or known to the baseline."""
    by = {id(entry.finding): entry for entry in waived}
    old = {id(finding) for finding in known}
    every = in_order([*findings, *(entry.finding for entry in waived), *known])
    return [finding_json(finding, by.get(id(finding)), id(finding) in old) for finding in every]


def finding_json(
    finding: Finding, waived: Waived | None = None, baselined: bool = False
) -> dict[str, Any]:
    """One finding, what waives it, and whether the baseline knows it."""
    return {
        "rule": finding.rule.id,
        "level": finding.level.value,
        "message": finding.message,
        "in_the_air": finding.rule.doc.air,
        "paths": list(finding.paths),
        "crafts": list(finding.crafts),
        "places": [
            {"file": place.file, "line": place.line, "column": place.column}
            for place in finding.places
        ],
        "figures": dict(finding.figures),
        "mend": [{"path": edit.path, "value": edit.value} for edit in finding.mend] or None,
        "advice": finding.advice or finding.rule.doc.mend,
        "fingerprint": finding.fingerprint,
        "waived": {"because": waived.because, "until": waived.until.isoformat()}
        if waived
        else None,
        "baselined": baselined,
        "lacks": list(finding.lacks),
    }


def check_json(
    audits: Sequence[Audit],
    fleet: dict[str, Any] | None,
    baseline: dict[str, Any] | None = None,
    most: int | None = None,
) -> dict[str, Any]:
    """The whole output of check, with at `most` so many findings of each dump.

    `fleet` is what several craft do to one another, `baseline` what it has that is found no more.
    """
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "dumps": [audit_json(audit, most) for audit in audits],
        "fleet": fleet,
        "baseline": baseline,
    }


def audit_json(audit: Audit, most: int | None) -> dict[str, Any]:
    """What check tells of one craft, with at `most` so many findings."""
    dumps, findings = audit.settings.dumps, audit.findings[:most]
    return {
        "file": dumps[0].file if dumps else "",
        "with": [dump.file for dump in dumps[1:]],
        "build": audit.sheet.dumps[0].file if audit.sheet else None,
        "dialect": (dumps[0].dialect or None) if dumps else None,
        "statements": sum(dump.statements for dump in dumps),
        "settings": len(audit.settings),
        "unread": sum(dump.unread for dump in dumps),
        "findings": findings_json(findings, audit.waived, audit.known),
        "left_out": len(audit.findings) - len(findings),
        "not_checked": [
            {
                "rule": entry.rule.id,
                "lacks": list(entry.lacks),
                "wants_build": entry.wants_sheet,
            }
            for entry in audit.not_checked
        ],
        "checked": audit.checked,
    }


def show_json(settings: Settings, paths: Sequence[str]) -> dict[str, Any]:
    """The whole output of show, for the paths wanted."""
    unread = [t for t in settings.troubles if t.kind is TroubleKind.UNREAD]
    return {
        "version": VERSION,
        "settings": {path: stated_json(settings[path]) for path in sorted(paths, key=path_order)},
        "unmapped": {key: raw_json(raw) for key, raw in settings.raw.items()},
        "unread": [
            {
                "file": trouble.place.file if trouble.place else None,
                "line": trouble.place.line if trouble.place else 0,
                "column": trouble.place.column if trouble.place else 0,
                "message": trouble.message,
            }
            for trouble in unread
        ],
        "switch_table": switch_table_json(settings),
    }


def raw_json(raw: Raw) -> dict[str, Any]:
    """One line without a neutral meaning."""
    return {
        "value": raw.value,
        "file": raw.place.file if raw.place else None,
        "line": raw.place.line if raw.place else None,
    }


def stated_json(stated: Stated) -> dict[str, Any]:
    """One setting."""
    found = declared_anywhere(stated.path)
    return {
        "value": value_json(stated.value),
        "unit": unit_of(found.kind) if found else "",
        "text": stated_text(stated),
        "origin": stated.origin.value,
        "file": stated.place.file if stated.place else None,
        "line": stated.place.line if stated.place else None,
    }
