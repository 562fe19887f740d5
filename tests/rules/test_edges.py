"""Holds the rules of the book against edges.toml: what they say just where a value turns them."""

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.collect import FactoryValues
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.book import find


class Edge(NamedTuple):
    """One value in place, and what the rule says of it: see the head of edges.toml."""

    rule: str
    value: str
    said: str
    dump: str
    sheet: str
    factory: str


def edges() -> list[Edge]:
    tables = tomllib.loads((Path(__file__).parent / "edges.toml").read_text(encoding="utf-8"))
    return [
        Edge(rule, value, said, *(_lines(case.get(leaf, ""), value) for leaf in Edge._fields[3:]))
        for rule, cases in tables.items()
        for case in cases
        for value, said in (one.split(" = ", 1) for one in _lines(case["said"]).splitlines())
    ]


def _lines(text: str, value: str = "") -> str:
    return "\n".join(part.strip() for part in text.replace("{}", value).split(";") if part.strip())


def answer(edge: Edge) -> tuple[str, str]:
    """What the rule says, in a word or in its levels, and all the words of its findings."""
    rule = find(edge.rule)
    assert rule is not None
    factory = FactoryValues(dict(line.split(" = ", 1) for line in edge.factory.splitlines()))
    settings = replace(read_plain(edge.dump), factory=factory)
    assert not settings.troubles
    sheet = read_sheet(edge.sheet.encode(), "build.toml") if edge.sheet else None
    said = audit(settings, (rule,), sheet=sheet)
    if not said.findings:
        lacks = [f"lacks {path}" for entry in said.not_checked for path in entry.lacks]
        return ", ".join([*lacks, *("unfit" for _ in said.not_applicable)]) or "quiet", ""
    words = [
        f"{found.message} {found.advice} {found.choice} {' '.join(found.paths)} "
        + " ".join(f"{edit.path} = {edit.value}" for edit in found.mend)
        for found in said.findings
    ]
    return ", ".join(sorted({found.level.value for found in said.findings})), " ".join(words)


@pytest.mark.parametrize("edge", [pytest.param(e, id=f"{e.rule}: {e.value}") for e in edges()])
def test_a_rule_turns_where_it_says_and_says_what_it_turned_on(edge: Edge) -> None:
    expected, *parts = edge.said.split(" | ")
    said, words = answer(edge)
    assert said == expected, words
    for part in parts:
        if part.startswith("no "):
            assert part.removeprefix("no ") not in words
        else:
            assert part in words
