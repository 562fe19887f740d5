"""Machine output, version 1: the JSON of a whole fleet's overview."""

from typing import Any

from cfgaudit import __version__
from cfgaudit.audit.overview import Overview
from cfgaudit.reports.json_report import VERSION


def overview_json(found: Overview) -> dict[str, Any]:
    """What is told of a fleet, whole; the same for the same records."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "craft": found.craft,
        "with_errors": found.with_errors,
        "with_warnings": found.with_warnings,
        "refused": [entry._asdict() for entry in found.refused],
        "rules": [entry._asdict() for entry in found.rules],
        "groups": [entry._asdict() for entry in found.groups],
        "causes": [
            {**entry._asdict(), "stated": [{"path": p, "value": v} for p, v in entry.stated]}
            for entry in found.causes
        ],
        "by": {name: [tally._asdict() for tally in those] for name, those in found.shares.items()},
        "by_month_built": [tally._asdict() for tally in found.months],
        "odd": {
            "craft": found.odd_craft,
            "values": found.odd_count,
            "told": [{**odd._asdict(), "posterior": round(odd.posterior, 6)} for odd in found.odd],
        },
        "relations": [
            {
                "kind": learnt.relation.kind,
                "says": learnt.relation.says,
                "paths": list(learnt.relation.paths),
                "craft": learnt.craft,
                "breaking": learnt.breaking,
                "names": list(learnt.names),
                "limit": learnt.limit(),
            }
            for learnt in found.relations
        ],
    }
