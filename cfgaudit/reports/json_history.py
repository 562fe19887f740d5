"""Machine output, version 1: the JSON of git history."""

from collections.abc import Sequence
from typing import Any

from cfgaudit.git.history import CommitChanges
from cfgaudit.reports.json_changes import change_json
from cfgaudit.reports.json_report import VERSION, finding_json


def history_json(
    dump: str, paths: Sequence[str], commits: int, steps: Sequence[CommitChanges]
) -> dict[str, Any]:
    """The whole output of git history; `commits` counts those that touch the dump."""
    return {
        "version": VERSION,
        "dump": dump,
        "paths": list(paths),
        "commits": commits,
        "steps": [_step_json(step) for step in steps],
    }


def _step_json(step: CommitChanges) -> dict[str, Any]:
    touch = step.touch
    return {
        "commit": touch.commit,
        "author": touch.author,
        "email": touch.email,
        "date": touch.date,
        "subject": touch.subject,
        "file": touch.file,
        "began": step.began,
        "ended": step.ended,
        "unreadable": step.unreadable,
        "changes": [change_json(change) for change in step.changes],
        "left_out": step.left_out,
        "findings_new": [finding_json(finding) for finding in step.brought],
        "findings_cleared": [finding_json(finding) for finding in step.cleared],
    }
