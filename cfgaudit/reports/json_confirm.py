"""Machine output, version 1: the JSON of confirm."""

from typing import Any

from cfgaudit import __version__
from cfgaudit.reading.text import Place
from cfgaudit.reports.json_report import VERSION
from cfgaudit.work.confirm import TOOK, Confirmation, Confirmed


def confirm_json(names: tuple[str, str], found: Confirmation) -> dict[str, Any]:
    """The whole output of confirm."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "intended": names[0],
        "read_back": names[1],
        "settings": [_entry(entry) for entry in found.entries],
        "amiss": len(found.amiss),
        "not_compared": found.uncompared,
    }


def _entry(entry: Confirmed) -> dict[str, Any]:
    return {
        "path": entry.path,
        "raw": entry.raw,
        "fate": entry.fate.value,
        "took": entry.fate in TOOK,
        "intended": entry.intended,
        "found": entry.found or None,
        "why": entry.why,
        "renamed": entry.renamed or None,
        "intended_place": _place(entry.intended_at),
        "found_place": _place(entry.found_at),
    }


def _place(place: Place | None) -> dict[str, Any] | None:
    if place is None:
        return None
    return {"file": place.file, "line": place.line, "column": place.column}
