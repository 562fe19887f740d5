"""Machine output, version 1: the JSON of check and show (diff and compare in json_changes)."""

import json
from collections.abc import Sequence
from typing import Any

from cfgaudit import __version__
from cfgaudit.audit.engine import Audit, Finding
from cfgaudit.craft.kinds import unit_of
from cfgaudit.craft.settings import Settings, Stated, TroubleKind
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.plain import path_order, stated_text

VERSION = 1


def dumped(data: object) -> str:
    """JSON text, the same for the same data, with a last newline. Only ASCII, so always safe."""
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def value_json(value: Value | SwitchRange | Filter) -> Any:
    """A value as JSON: lists of objects for structured ones, sorted lists for sets."""
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [value_json(element) for element in value]
    if isinstance(value, SwitchRange):
        return {"channel": value.channel, "low": value.low, "high": value.high}
    if isinstance(value, Filter):
        return {"kind": value.kind, "cutoff": value.cutoff, "q": value.q}
    return value


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "rule": finding.rule.id,
        "level": finding.level.value,
        "message": finding.message,
        "in_the_air": finding.rule.doc.air,
        "paths": list(finding.paths),
        "places": [
            {"file": place.file, "line": place.line, "column": place.column}
            for place in finding.places
        ],
        "figures": dict(finding.figures),
        "mend": [{"path": edit.path, "value": edit.value} for edit in finding.mend] or None,
        "advice": finding.advice or finding.rule.doc.mend,
        "fingerprint": finding.fingerprint,
        "waived": None,
    }


def check_json(audits: Sequence[Audit]) -> dict[str, Any]:
    """The whole output of check."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "dumps": [_audit_json(audit) for audit in audits],
    }


def _audit_json(audit: Audit) -> dict[str, Any]:
    dumps = audit.settings.dumps
    return {
        "file": dumps[0].file if dumps else "",
        "with": [dump.file for dump in dumps[1:]],
        "dialect": (dumps[0].dialect or None) if dumps else None,
        "statements": sum(dump.statements for dump in dumps),
        "settings": len(audit.settings),
        "unread": sum(dump.unread for dump in dumps),
        "findings": [finding_json(finding) for finding in audit.findings],
        "not_checked": [
            {"rule": entry.rule.id, "lacks": list(entry.lacks)} for entry in audit.not_checked
        ],
        "checked": audit.checked,
    }


def show_json(settings: Settings, paths: Sequence[str]) -> dict[str, Any]:
    """The whole output of show, for the paths wanted."""
    unread = [t for t in settings.troubles if t.kind is TroubleKind.UNREAD]
    return {
        "version": VERSION,
        "settings": {path: stated_json(settings[path]) for path in sorted(paths, key=path_order)},
        "unmapped": {
            key: {
                "value": raw.value,
                "file": raw.place.file if raw.place else None,
                "line": raw.place.line if raw.place else None,
            }
            for key, raw in settings.raw.items()
        },
        "unread": [
            {
                "file": trouble.place.file if trouble.place else None,
                "line": trouble.place.line if trouble.place else 0,
                "column": trouble.place.column if trouble.place else 0,
                "message": trouble.message,
            }
            for trouble in unread
        ],
    }


def stated_json(stated: Stated) -> dict[str, Any]:
    """One setting."""
    found = declared(stated.path)
    return {
        "value": value_json(stated.value),
        "unit": unit_of(found.kind) if found else "",
        "text": stated_text(stated),
        "origin": stated.origin.value,
        "file": stated.place.file if stated.place else None,
        "line": stated.place.line if stated.place else None,
    }
