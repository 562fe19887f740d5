"""Changes as RFC 6902 operations, put to use by a library that knows nothing of ours.

Reference library: jsonpatch (RFC 6902) with its own diff; pointers are escaped as RFC 6901 says.
"""

import json
from typing import Any

import jsonpatch
from hypothesis import given
from hypothesis import settings as budget

from cfgaudit.changes.diff import diff
from cfgaudit.changes.model import Added, Change, Entry, Removed, Renamed, name_of
from cfgaudit.craft.settings import Raw, Settings
from cfgaudit.craft.values import Filter, SwitchRange
from tests.strategies import settings_pair

Json = Any


def plain(value: object) -> Json:
    """A value as JSON; what has no order of its own is sorted."""
    if isinstance(value, SwitchRange):
        return [value.channel, value.low, value.high]
    if isinstance(value, Filter):
        return [value.kind, value.cutoff, value.q]
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        inner = [plain(element) for element in value]
        return inner if all(isinstance(element, float) for element in value) else sorted(inner)
    if isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    return value


def document(settings: Settings) -> dict[str, dict[str, Json]]:
    return {
        "stated": {path: plain(entry.value) for path, entry in settings.stated.items()},
        "raw": {key: entry.value for key, entry in settings.raw.items()},
    }


def pointer(entry: Entry) -> str:
    name = name_of(entry).replace("~", "~0").replace("/", "~1")
    return f"/{'raw' if isinstance(entry, Raw) else 'stated'}/{name}"


def operations(change: Change) -> list[dict[str, Json]]:
    """One change as operations; each first tests that the old value is there."""
    if isinstance(change, Added):
        return [{"op": "add", "path": pointer(change.new), "value": plain(change.new.value)}]
    was = pointer(change.old)
    ops: list[dict[str, Json]] = [{"op": "test", "path": was, "value": plain(change.old.value)}]
    if isinstance(change, Removed):
        return [*ops, {"op": "remove", "path": was}]
    is_now = pointer(change.new)
    if isinstance(change, Renamed):
        ops.append({"op": "move", "from": was, "path": is_now})
    return [*ops, {"op": "replace", "path": is_now, "value": plain(change.new.value)}]


def same(one: Json, other: Json) -> bool:
    """Equality of JSON, where true is not 1 as it is in Python."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


def touched(ops: list[dict[str, Json]]) -> set[str]:
    """The settings that operations touch: the first two steps of their pointers."""
    pointers = [op[word] for op in ops for word in ("path", "from") if word in op]
    return {"/".join(pointer.split("/")[:3]) for pointer in pointers}


@given(settings_pair())
@budget(deadline=None)
def test_changes_written_as_a_json_patch_turn_old_into_new(
    pair: tuple[Settings, Settings],
) -> None:
    old, new = pair
    ops = [op for change in diff(old, new) for op in operations(change)]
    assert same(jsonpatch.apply_patch(document(old), ops), document(new))


@given(settings_pair())
@budget(deadline=None)
def test_the_library_s_own_diff_touches_the_same_settings(pair: tuple[Settings, Settings]) -> None:
    old, new = pair
    ours = [op for change in diff(old, new) for op in operations(change)]
    theirs = jsonpatch.make_patch(document(old), document(new)).patch
    assert touched(ours) == touched(theirs)


def test_a_rename_with_another_value_moves_and_then_replaces() -> None:
    old = Settings(raw={"a/b": Raw("a/b", "1")})
    new = Settings(raw={"c~d": Raw("c~d", "2")})
    (change,) = diff(old, new, {"a/b": "c~d"})
    assert [op["op"] for op in operations(change)] == ["test", "move", "replace"]
    assert jsonpatch.apply_patch(document(old), operations(change)) == document(new)
