"""Machine output, version 1: what several craft do to one another, in check and compare."""

from typing import Any

from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.reports.json_report import findings_json


def fleet_json(fleet: FleetAudit) -> dict[str, Any]:
    """The member `fleet`; craft are counted from 0 in the order given."""
    return {
        "findings": findings_json(fleet.findings, fleet.waived, fleet.known),
        "not_checked": [
            {
                "rule": entry.rule.id,
                "lacks": [{"craft": lack.craft, "path": lack.path} for lack in entry.lacks],
            }
            for entry in fleet.not_checked
        ],
    }
