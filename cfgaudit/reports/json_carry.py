"""Machine output, version 1: the JSON of carry."""

from collections.abc import Sequence
from typing import Any

from cfgaudit import __version__
from cfgaudit.audit.engine import Audit, new_and_cleared
from cfgaudit.dialects.editor import LineChange
from cfgaudit.reports.json_lines import files_json
from cfgaudit.reports.json_report import VERSION, finding_json, value_json
from cfgaudit.work.carry import Carried


def carry_json(
    names: tuple[str, str],
    carried: Carried,
    changes: Sequence[LineChange],
    written: Sequence[str],
    audits: tuple[Audit, Audit],
) -> dict[str, Any]:
    """The whole output of carry; `audits` are those of the craft before and after."""
    brought, cleared = new_and_cleared(*audits)
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "from": names[0],
        "to": names[1],
        "carried": [
            {
                "path": move.path,
                "old": value_json(move.old.value) if move.old else None,
                "new": value_json(move.value),
                "built": move.built,
            }
            for move in carried.moves
        ],
        "not_carried": [
            {"path": entry.path, "value": value_json(entry.value), "why": entry.why}
            for entry in carried.stays
        ],
        "alike": carried.alike,
        "craft_own": list(carried.own),
        "files": files_json(changes, written),
        "findings_new": [finding_json(finding) for finding in brought],
        "findings_cleared": [finding_json(finding) for finding in cleared],
        "findings_after": [finding_json(finding) for finding in audits[1].findings],
    }
