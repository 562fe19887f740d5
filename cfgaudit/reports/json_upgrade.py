"""Machine output, version 1: the JSON of upgrade."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from cfgaudit.audit.engine import Finding
from cfgaudit.changes.diff import Entry
from cfgaudit.reports.json_report import VERSION, finding_json, value_json
from cfgaudit.reports.terminal_upgrade import is_listed
from cfgaudit.work.upgrade import Fate, Fated, FirmwareSide, Upgrade


def upgrade_json(
    names: tuple[str, str],
    found: Upgrade,
    brought: Sequence[Finding],
    cleared: Sequence[Finding],
    everything: bool,
) -> dict[str, Any]:
    """The whole output of upgrade; what was kept or counts is listed only with `everything`."""
    counts = Counter(entry.fate for entry in found.fates)
    listed = [entry for entry in found.fates if everything or is_listed(entry)]
    return {
        "version": VERSION,
        "old": _firmware_json(names[0], found.old),
        "new": _firmware_json(names[1], found.new),
        "notes": list(found.notes),
        "counts": {fate.value: counts[fate] for fate in Fate},
        "settings": [_fated_json(entry) for entry in listed],
        "left_out": len(found.fates) - len(listed),
        "bring_back": {
            "lines": found.lines.text,
            "brings": list(found.lines.brings),
            "refused": [{"path": path, "why": why} for path, why in found.lines.refused],
        },
        "findings_new": [finding_json(finding) for finding in brought],
        "findings_cleared": [finding_json(finding) for finding in cleared],
    }


def _firmware_json(file: str, firmware: FirmwareSide) -> dict[str, Any]:
    return {
        "file": file,
        "firmware": firmware.name or None,
        "firmware_version": firmware.version or None,
        "factory_dump": firmware.dump,
        "factory_recorded": firmware.recorded,
        "factory_known": firmware.known,
    }


def _fated_json(entry: Fated) -> dict[str, Any]:
    return {
        "fate": entry.fate.value,
        "may_be_lost": entry.may_be_lost,
        "path": entry.path,
        "raw": entry.raw,
        "class": entry.cls.name.lower() if entry.cls is not None else None,
        "craft_own": entry.craft_own,
        "volatile": entry.volatile,
        "old": _value(entry.old),
        "new": _value(entry.new),
        "factory_old": _value(entry.factory_old),
        "factory_new": _value(entry.factory_new),
        "old_name": entry.old_name or None,
        "guess": entry.guess,
        "old_place": _place(entry.old),
        "new_place": _place(entry.new),
    }


def _value(entry: Entry | None) -> Any:
    return None if entry is None else value_json(entry.value)


def _place(entry: Entry | None) -> dict[str, Any] | None:
    place = entry.place if entry is not None else None
    if place is None:
        return None
    return {"file": place.file, "line": place.line, "column": place.column}
