"""Machine output of a change: its lines in the dump's dialect, its way back, and its hunks."""

from collections.abc import Sequence
from typing import Any

from cfgaudit.dialects.editor import LineChange, TypedLines


def files_json(changes: Sequence[LineChange], written: Sequence[str]) -> list[dict[str, Any]]:
    """Each file that changes. A hunk has whole lines, ends and all: undone, it gives the file."""
    return [
        {
            "file": change.file,
            "dialect": change.dialect,
            "written": change.file in written,
            "change": _said(change.forth),
            "take_back": _said(change.back),
            "hunks": [
                {"line": hunk.line + 1, "old": list(hunk.old), "new": list(hunk.new)}
                for hunk in change.hunks
            ],
        }
        for change in changes
    ]


def _said(said: TypedLines) -> dict[str, Any]:
    lines = [part for line in said.lines for part in line.split("\n")]
    return {"lines": lines, "unsaid": list(said.unsaid)}
