"""Machine output, version 1: the JSON of mend."""

from collections.abc import Sequence
from typing import Any

from cfgaudit import __version__
from cfgaudit.dialects.editor import LineChange
from cfgaudit.reports.json_lines import files_json
from cfgaudit.reports.json_report import VERSION, finding_json
from cfgaudit.work.mend import Mended


def mend_json(
    mended: Mended, changes: Sequence[LineChange], written: Sequence[str]
) -> dict[str, Any]:
    """The whole output of mend."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "file": mended.before[0].document.name,
        "with": [dump.document.name for dump in mended.before[1:]],
        "dialect": mended.before[0].dialect.name or None,
        "mended": [
            {
                "finding": finding_json(taken.finding),
                "edits": [
                    {"path": edit.path, "value": edit.value, "needed": edit.path in mended.wanted}
                    for edit in taken.edits
                ],
            }
            for taken in mended.taken
        ],
        "left": [{"finding": finding_json(left.finding), "why": left.why} for left in mended.left],
        "files": files_json(changes, written),
        "findings_cleared": [finding_json(finding) for finding in mended.cleared],
        "findings_new": [finding_json(finding) for finding in mended.brought],
        "findings_after": [finding_json(finding) for finding in mended.last.findings],
    }
