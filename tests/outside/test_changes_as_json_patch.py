"""`diff --format json-patch`, put to use by a library that knows nothing of ours.

Reference library: jsonpatch (RFC 6902), which is itself held against the published cases of
json-patch-test-suite 1.1.0 (tests/outside/data) before it is believed.
"""

import json
from pathlib import Path
from typing import Any

import jsonpatch
import pytest
from hypothesis import given

from cfgaudit.changes.diff import StatedOrRaw, diff, entry_meaning
from cfgaudit.reports.diff import json_patch
from cfgaudit.reports.show import show_json
from cfgaudit.settings import Raw, Settings
from tests.cli.calling import call
from tests.strategies import settings_pair

Json = Any
DATA = Path(__file__).parent / "data" / "json-patch-test-suite"
CASES: list[dict[str, Json]] = [
    case
    for name in ("spec_tests", "tests")
    for case in json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))
    if "patch" in case and not case.get("disabled")
]


def same(one: Json, other: Json) -> bool:
    """Equality of JSON, where true is not 1 as it is in Python."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


def document(settings: Settings) -> dict[str, Json]:
    """What `show --format json` prints of these settings, as far as a change can be about it."""
    shown = show_json(settings, list(settings))
    made: dict[str, Json] = json.loads(
        json.dumps({name: shown[name] for name in ("settings", "unmapped")})
    )
    return made


def patched(old: Settings, new: Settings) -> dict[str, Json]:
    ops = json.loads(json.dumps(json_patch(diff(old, new))))
    made: dict[str, Json] = jsonpatch.apply_patch(document(old), ops)
    return made


def touched(ops: list[dict[str, Json]]) -> set[str]:
    """The settings that operations touch: the first two steps of their pointers."""
    pointers = [op[word] for op in ops for word in ("path", "from") if word in op]
    return {"/".join(pointer.split("/")[:3]) for pointer in pointers}


@pytest.mark.parametrize(
    "case", CASES, ids=lambda case: str(case.get("comment", case["patch"]))[:60]
)
def test_the_library_does_as_the_published_cases_say(case: dict[str, Json]) -> None:
    if "expected" in case:
        assert same(jsonpatch.apply_patch(case["doc"], case["patch"]), case["expected"])
    elif "error" in case:
        with pytest.raises((jsonpatch.JsonPatchException, jsonpatch.JsonPointerException)):
            jsonpatch.apply_patch(case["doc"], case["patch"])


def members(value: Json) -> Settings:
    """A published document as lines without a meaning: its members' names, its values as text."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value)
    return Settings(raw={str(k): Raw(str(k), json.dumps(v)) for k, v in pairs})


WHOLE = [
    case
    for case in CASES
    if isinstance(case["doc"], dict | list) and isinstance(case.get("expected"), dict | list)
]


@pytest.mark.parametrize(
    "case", WHOLE, ids=lambda case: str(case.get("comment", case["patch"]))[:60]
)
def test_our_patch_between_two_published_documents_leads_from_one_to_the_other(
    case: dict[str, Json],
) -> None:
    old, new = members(case["doc"]), members(case["expected"])
    assert same(patched(old, new), document(new))
    assert same(patched(new, old), document(old))


@given(settings_pair())
def test_a_patch_turns_what_show_prints_of_old_into_what_it_prints_of_new(
    pair: tuple[Settings, Settings],
) -> None:
    old, new = pair
    made, wanted = patched(old, new), document(new)
    for part, before, after in (
        ("settings", old.stated, new.stated),
        ("unmapped", old.raw, new.raw),
    ):
        assert made[part].keys() == wanted[part].keys()
        for name in wanted[part]:
            unchanged = name in before and _means(before[name]) == _means(after[name])
            assert same(made[part][name], wanted[part][name]) or unchanged


def _means(entry: StatedOrRaw) -> object:
    return entry_meaning(entry)


@given(settings_pair())
def test_the_library_s_own_diff_touches_the_same_settings(pair: tuple[Settings, Settings]) -> None:
    old, new = pair
    if not _alike(old, new):
        ours = json_patch(diff(old, new))
        theirs = jsonpatch.make_patch(document(old), document(new)).patch
        assert touched(ours) <= touched(theirs)


def _alike(old: Settings, new: Settings) -> bool:
    """Whether some value is written otherwise and means the same."""
    both = [(old.stated[p], new.stated[p]) for p in old.stated if p in new.stated]
    return any(a != b and _means(a) == _means(b) for a, b in both)


def test_a_rename_with_another_value_tests_moves_and_then_replaces() -> None:
    old = Settings(raw={"a/b": Raw("a/b", "1")})
    new = Settings(raw={"c~d": Raw("c~d", "2")})
    ops = json_patch(diff(old, new, {"a/b": "c~d"}))
    assert [op["op"] for op in ops] == ["test", "move", "replace"]
    assert ops[1] == {"op": "move", "from": "/unmapped/a~1b", "path": "/unmapped/c~0d"}
    assert same(jsonpatch.apply_patch(document(old), ops), document(new))


def test_a_patch_does_not_fit_where_the_old_value_is_another() -> None:
    old, new, other = (Settings(raw={"a": Raw("a", value)}) for value in "123")
    with pytest.raises(jsonpatch.JsonPatchTestFailed):
        jsonpatch.apply_patch(document(other), json_patch(diff(old, new)))


@pytest.mark.parametrize("secrets", [[], ["--secrets"]], ids=["hidden", "told"])
def test_the_command_s_patch_fits_what_show_prints(
    monkeypatch: pytest.MonkeyPatch, secrets: list[str]
) -> None:
    dumps = ("dipper.dump", "faulty/dipper-after-repair.dump")
    olds, news = (
        json.loads(call(monkeypatch, ["show", dump, "--format", "json", *secrets]).out)
        for dump in dumps
    )
    asked = ["diff", *dumps, "--everything", "--format", "json-patch", *secrets]
    ops = json.loads(call(monkeypatch, asked).out)
    assert ops
    made = jsonpatch.apply_patch(olds, ops)
    for part in ("settings", "unmapped"):
        assert {name: entry["value"] for name, entry in made[part].items()} == {
            name: entry["value"] for name, entry in news[part].items()
        }
