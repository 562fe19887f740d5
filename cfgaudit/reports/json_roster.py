"""Machine output, version 1: the JSON of fleet."""

from typing import Any

from cfgaudit import __version__
from cfgaudit.reports.json_changes import row_json
from cfgaudit.reports.json_fleet import fleet_json
from cfgaudit.reports.json_report import VERSION, audit_json
from cfgaudit.reports.roster import Roster


def roster_json(found: Roster, most: int | None = None) -> dict[str, Any]:
    """The whole output of fleet, with at `most` so many findings of each craft."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "craft": list(found.names),
        "dumps": [audit_json(audit, most) for audit in found.audits],
        "odd": [row_json(row) for row in found.odd],
        "video": [
            {
                "craft": sender.craft,
                "mhz": sender.mhz,
                "mw": sender.mw,
                "nearest": sender.nearest,
                "apart_mhz": sender.apart_mhz,
            }
            for sender in found.senders
        ],
        "together": fleet_json(found.together),
        "passed_over": list(found.passed_over),
    }
