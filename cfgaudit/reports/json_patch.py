"""Changes as a JSON Patch (published: RFC 6902) of what `show --format json` prints.

Put to use on what show prints of OLD, it gives NEW's settings and lines without a meaning. Each
change first tests that the old value is there.
"""

from collections.abc import Sequence
from typing import Any

from cfgaudit.changes.diff import Added, Change, Entry, Removed, Renamed, name_of
from cfgaudit.reports.json_report import raw_json, stated_json, value_json
from cfgaudit.settings import Raw


def json_patch(changes: Sequence[Change]) -> list[dict[str, Any]]:
    """The operations, in the order of the changes; no two changes touch one name."""
    return [operation for change in changes for operation in _operations(change)]


def _operations(change: Change) -> list[dict[str, Any]]:
    if isinstance(change, Added):
        return [{"op": "add", "path": pointer(change.new), "value": _entry(change.new)}]
    was = pointer(change.old)
    test = {"op": "test", "path": f"{was}/value", "value": value_json(change.old.value)}
    if isinstance(change, Removed):
        return [test, {"op": "remove", "path": was}]
    now = pointer(change.new)
    move = [{"op": "move", "from": was, "path": now}] if isinstance(change, Renamed) else []
    return [test, *move, {"op": "replace", "path": now, "value": _entry(change.new)}]


def pointer(entry: Entry) -> str:
    """Where show has the entry (published: RFC 6901).

    >>> pointer(Raw("lamp/a~b", "1"))
    '/unmapped/lamp~1a~0b'
    """
    name = name_of(entry).replace("~", "~0").replace("/", "~1")
    return f"/{'unmapped' if isinstance(entry, Raw) else 'settings'}/{name}"


def _entry(entry: Entry) -> dict[str, Any]:
    return raw_json(entry) if isinstance(entry, Raw) else stated_json(entry)
