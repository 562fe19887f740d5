"""The schemas themselves: valid, strict, and refusing what is not as promised."""

import json
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import click
import jsonschema
import pytest

from cfgaudit.cli import group
from cfgaudit.reports.schema import COMMON, NAMES, schema
from tests.cli.calling import call
from tests.reports.schemas import validator

CALLS = {
    "check": ["check", "broken/unclosed-block.dump", "dipper.dump", "dipper.cfg"],
    "diff": ["diff", "dipper.dump", "sandpiper.dump", "--everything"],
    "compare": [
        "compare",
        "dipper.dump",
        "sandpiper.dump",
        "wagtail.dump",
        "wagtail.cfg",
        "broken/empty.dump",
    ],
    "fleet": ["fleet", ".", "broken", "--with", "wagtail.dump=wagtail-esc.dump"],
    "show": ["show", "broken/unclosed-block.dump"],
    "explain": ["explain", "--all"],
    "dialect-try": ["dialect", "try", "wagtail-esc.dump", "--dialect", "dialects/sedge.toml"],
    "dialect-learn": [
        *("dialect", "learn", "dipper.dump", "faulty/dipper-after-repair.dump"),
        *("--set", "ports.uart2.roles=none", "--was", "telemetry"),
    ],
    "dialect-check": ["dialect", "check", "dipper.build.toml"],
    "dialect-list": ["dialect", "list"],
    "dialect-new": ["dialect", "new", "wagtail-esc.dump"],
}


def with_json(command: click.Command, words: tuple[str, ...] = ()) -> Iterator[str]:
    """The commands that have `--format json`, groups gone into, as their schemas are called."""
    if isinstance(command, click.Group):
        context = click.Context(command)
        for word in command.list_commands(context):
            below = command.get_command(context, word)
            assert below is not None
            yield from with_json(below, (*words, word))
        return
    kinds = [option.type for option in command.params if option.name == "form"]
    if any(isinstance(kind, click.Choice) and "json" in kind.choices for kind in kinds):
        yield "-".join(words)


def test_every_command_with_output_for_programs_has_a_schema_and_no_other_has() -> None:
    assert sorted(with_json(group)) == sorted(NAMES)


@pytest.mark.parametrize("name", [COMMON, *NAMES])
def test_a_schema_is_a_valid_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema(name))
    assert schema(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema(name)["$id"] == f"urn:cfgaudit:schema:{name}-1"


@pytest.mark.parametrize("name", [COMMON, *NAMES])
def test_an_object_with_named_fields_wants_them_all_and_allows_no_other(name: str) -> None:
    # what a kind of change says of the fields that all changes have is no object of its own
    kinds = {"added", "removed", "changed", "renamed"}
    parts = schema(name)
    parts["$defs"] = {k: v for k, v in parts.get("$defs", {}).items() if k not in kinds}
    objects = [part for part in _parts(parts) if "properties" in part]
    assert objects
    for part in objects:
        closed = "unevaluatedProperties" if "oneOf" in part else "additionalProperties"
        assert part[closed] is False
        assert part["required"] == list(part["properties"])


def test_what_the_schemas_share_is_there_and_each_of_it_is_wanted_by_several() -> None:
    mark = f"{schema(COMMON)['$id']}#/$defs/"
    shared = schema(COMMON)["$defs"]
    named = {name: set(_references(schema(name))) for name in NAMES}
    wanted = {
        part: {name for name, found in named.items() if mark + part in found} for part in shared
    }
    inner = {reference.removeprefix("#/$defs/") for reference in _references(schema(COMMON))}
    assert {n for found in named.values() for n in found if n.startswith(mark)} <= {
        mark + part for part in shared
    }
    assert [part for part in shared if len(wanted[part]) < 2 and part not in inner] == []


def _references(node: object) -> Iterator[str]:
    return (part["$ref"] for part in _parts(node) if "$ref" in part)


def test_a_command_without_a_schema_is_refused_by_name() -> None:
    with pytest.raises(
        KeyError, match="there is no schema 'plain'; there are: allot, bench, carry"
    ):
        schema("plain")


Spoil = Callable[[dict[str, Any]], object]
FAULTS: list[tuple[str, str, Spoil]] = [
    ("check", "another version", lambda d: d.update(version=2)),
    ("check", "a field too many", lambda d: d["dumps"][0].update(extra=1)),
    ("check", "a field too few", lambda d: d["dumps"][0]["findings"][0].pop("level")),
    ("check", "another level", lambda d: d["dumps"][0]["findings"][0].update(level="fatal")),
    ("check", "no rule id", lambda d: d["dumps"][0]["findings"][0].update(rule="Esc")),
    (
        "check",
        "a figure in words",
        lambda d: d["dumps"][0]["findings"][0].update(figures={"a": ""}),
    ),
    ("check", "lacking nothing", lambda d: d["dumps"][0]["not_checked"][0].update(lacks=[])),
    ("check", "no word of the fleet", lambda d: d.pop("fleet")),
    ("check", "a craft below nought", lambda d: d["fleet"]["findings"][0].update(crafts=[-1])),
    ("check", "lacking no craft", lambda d: d["fleet"]["not_checked"][0].update(lacks=[])),
    ("check", "a lack of none", lambda d: d["fleet"]["not_checked"][0]["lacks"][0].pop("craft")),
    ("compare", "no fleet", lambda d: d.update(fleet=None)),
    ("compare", "a fleet finding without a rule", lambda d: d["fleet"]["findings"][0].pop("rule")),
    ("diff", "another kind", lambda d: d["changes"][0].update(kind="moved")),
    ("diff", "another class", lambda d: d["changes"][0].update({"class": "grave"})),
    ("diff", "added with an old value", lambda d: d["changes"][0].update(kind="added")),
    ("compare", "a lone craft", lambda d: d["craft"].__delitem__(slice(1, None))),
    ("compare", "another origin", lambda d: d["rows"][0]["origins"].__setitem__(0, "guess")),
    ("show", "line nought", lambda d: next(iter(d["settings"].values())).update(line=0)),
    ("show", "a table without channels", lambda d: d["switch_table"].pop("channels")),
    ("show", "a function without a name", lambda d: d["switch_table"].update(untrusted=[""])),
    ("explain", "a rule without a source", lambda d: d["rules"][0].pop("source")),
    ("explain", "an empty part", lambda d: d["rules"][0].update(wrong="")),
    ("explain", "another class", lambda d: d["settings"][0].update({"class": "grave"})),
    ("explain", "a limit in words", lambda d: d["limits"][0].update(value="2 %")),
    ("dialect-try", "a key too many", lambda d: d["unknown"][0].update(extra=1)),
    ("dialect-try", "a failure on line nought", lambda d: d["failed"].append({"line": 0})),
    ("dialect-try", "a setting that no rule wants", lambda d: d["wanted"][0].update(rules=[])),
    ("dialect-learn", "a text alone", lambda d: d["found"][0]["texts"][0].pop()),
    ("dialect-learn", "nothing learnt", lambda d: d["found"].clear()),
    ("dialect-learn", "a flag in words", lambda d: d["found"][0]["flags"].update(telemetry="2")),
    ("dialect-check", "a problem without its line", lambda d: d["problems"][0].pop("line")),
    ("dialect-list", "a dialect without a name", lambda d: d["dialects"][0].update(name="")),
    ("dialect-list", "no tool", lambda d: d.pop("tool")),
    ("show", "a value that is none", lambda d: next(iter(d["settings"].values())).update(value={})),
]


@cache
def valid(name: str) -> str:
    """What a command says, which is as its schema says."""
    said = call(pytest.MonkeyPatch(), [*CALLS[name], "--format", "json"]).out
    assert validator(name).is_valid(json.loads(said))
    return said


@pytest.mark.parametrize(("name", "what", "spoil"), FAULTS, ids=[f"{f[0]}: {f[1]}" for f in FAULTS])
def test_output_with_a_fault_is_refused(name: str, what: str, spoil: Spoil) -> None:
    spoilt = json.loads(valid(name))
    spoil(spoilt)
    assert not validator(name).is_valid(spoilt), what


def _parts(node: object) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for below in node.values():
            yield from _parts(below)
    elif isinstance(node, list):
        for below in node:
            yield from _parts(below)
