"""Machine output, version 1: the JSON of allot."""

from collections.abc import Sequence
from typing import Any

from cfgaudit import __version__
from cfgaudit.dialects.editor import LineChange
from cfgaudit.reports.json_lines import files_json
from cfgaudit.reports.json_report import VERSION
from cfgaudit.work.allot import CONSOLE, JOINT, Allotment, SheetEdit, Want, Way


def allot_json(
    names: tuple[str, str | None],
    allotment: Allotment,
    ways: Sequence[Way],
    edits: Sequence[SheetEdit],
    changes: Sequence[LineChange],
    unsaid: Sequence[str],
) -> dict[str, Any]:
    """The whole output of allot; `names` are the sheet's and the dump's."""
    problem = allotment.problem
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "build": names[0],
        "dump": names[1],
        "possible": allotment.competing is None,
        "ports": list(problem.ports),
        "devices": [_device(allotment, want) for want in problem.wants if want.name != CONSOLE],
        "console": allotment.placed.get(CONSOLE),
        "shared": [{"receiver": one, "telemetry": other} for one, other in allotment.shared],
        "free": list(allotment.free),
        "without": [{"name": aside.name, "why": aside.why} for aside in problem.asides],
        "competing": _competing(allotment),
        "ways": [_way(way) for way in ways],
        "lacks": list(problem.lacks),
        "sheet_edits": [_edit(edit) for edit in edits],
        "files": files_json(changes, ()),
        "unsaid": list(unsaid),
    }


def _competing(allotment: Allotment) -> dict[str, Any] | None:
    if allotment.competing is None:
        return None
    who, places = allotment.competing
    return {"who": [name for one in who for name in one.split(JOINT)], "ports": list(places)}


def _way(way: Way) -> dict[str, Any]:
    return {
        "kind": way.kind,
        "says": way.says,
        "devices": list(way.devices),
        "port": way.port or None,
        "left": way.left,
    }


def _edit(edit: SheetEdit) -> dict[str, Any]:
    return {
        "path": edit.path,
        "old": edit.old or None,
        "new": edit.new,
        "file": edit.place.file if edit.place else None,
        "line": edit.place.line if edit.place else None,
    }


def _device(allotment: Allotment, want: Want) -> dict[str, Any]:
    bars = {port: allotment.problem.bars(want.name, port) for port in allotment.problem.ports}
    return {
        "name": want.name,
        "role": want.role or None,
        "rate": want.rate,
        "framing": want.framing or None,
        "inverted": want.inverted,
        "one_wire": want.one_wire,
        "wired": want.port or None,
        "port": allotment.placed.get(want.name),
        "excluded": [
            {"port": port, "reasons": [{"kind": bar.kind, "says": bar.says} for bar in some]}
            for port, some in bars.items()
            if some
        ],
    }
