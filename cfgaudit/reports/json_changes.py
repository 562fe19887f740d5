"""Machine output, version 1: the JSON of diff and compare."""

from collections.abc import Sequence
from typing import Any

from cfgaudit.audit.engine import Finding
from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.changes.diff import Added, Change, Changed, Entry, Removed, Renamed
from cfgaudit.reading.text import Place
from cfgaudit.reports.json_report import VERSION, finding_json, value_json
from cfgaudit.settings import Stated


def diff_json(
    old: str,
    new: str,
    changes: Sequence[Change],
    left_out: int,
    brought: Sequence[Finding],
    cleared: Sequence[Finding],
) -> dict[str, Any]:
    """The whole output of diff; `left_out` counts the changes that --all would list."""
    return {
        "version": VERSION,
        "old": old,
        "new": new,
        "changes": [change_json(change) for change in changes],
        "left_out": left_out,
        "findings_new": [finding_json(finding) for finding in brought],
        "findings_cleared": [finding_json(finding) for finding in cleared],
    }


def change_json(change: Change) -> dict[str, Any]:
    """One change of a diff."""
    old = None if isinstance(change, Added) else change.old
    new = None if isinstance(change, Removed) else change.new
    made: dict[str, Any] = {
        "kind": type(change).__name__.lower(),
        "path": change.path,
        "raw": change.raw,
        "old": _entry_value(old),
        "new": _entry_value(new),
        "class": change.cls.name.lower() if change.cls is not None else None,
        "craft_own": change.craft_own,
        "old_place": _place_json(old),
        "new_place": _place_json(new),
    }
    if isinstance(change, Changed | Renamed):
        made["parts"] = list(change.parts)
    if isinstance(change, Renamed):
        made["old_path"] = change.old_path
        made["guess"] = change.guess
    return made


def _entry_value(entry: Entry | None) -> Any:
    if entry is None:
        return None
    return value_json(entry.value)


def _place_json(entry: Entry | None) -> dict[str, Any] | None:
    place: Place | None = entry.place if entry is not None else None
    if place is None:
        return None
    return {"file": place.file, "line": place.line, "column": place.column}


def compare_json(
    names: Sequence[str], rows: Sequence[RowOfCraft], fleet: dict[str, Any]
) -> dict[str, Any]:
    """The whole output of compare; `fleet` is what the craft do to one another."""
    return {
        "version": VERSION,
        "craft": list(names),
        "rows": [row_json(row) for row in rows],
        "fleet": fleet,
    }


def row_json(row: RowOfCraft) -> dict[str, Any]:
    """One setting of several craft."""
    return {
        "path": row.path,
        "raw": row.raw,
        "class": row.cls.name.lower() if row.cls is not None else None,
        "craft_own": row.craft_own,
        "values": [_entry_value(cell) for cell in row.cells],
        "origins": [cell.origin.value if isinstance(cell, Stated) else None for cell in row.cells],
        "odd": row.odd,
    }
