"""Holds every rule of the book against its fixture file."""

from dataclasses import replace
from functools import cache
from math import isclose
from pathlib import Path
from typing import NamedTuple

import pytest

from cfgaudit.audit.engine import Audit, Finding, audit
from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.dialects.collect import FactoryValues
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.book import every_rule, find
from tests.rules.fixtures import Case, Fixture, FixtureError, fixture_files, load_fixture

GOOD = """
rule = "serial/role-twice"
[[fires]]
name = "one"
dump = "a = 1"
paths = ["a"]
message = ["b"]
[[fires]]
name = "two"
dump = "a = 2"
paths = ["a"]
message = ["b"]
figures = { ports = 2 }
[[quiet]]
name = "one"
dump = "a = 1"
[[quiet]]
name = "two"
dump = "a = 2"
[[not_checked]]
name = "one"
dump = "a = 1"
lacks = ["a"]
"""


@cache
def fixtures() -> tuple[Fixture, ...]:
    return tuple(load_fixture(file) for file in fixture_files())


def cases(kind: str) -> list[object]:
    return [
        pytest.param(fixture.rule, case, id=f"{fixture.rule}: {case.name}")
        for fixture in fixtures()
        for case in fixture.cases
        if case.kind == kind
    ]


def run(rule_id: str, dump: str, factory: tuple[tuple[str, str], ...] = ()) -> Audit:
    rule = find(rule_id)
    assert rule is not None
    settings = read_plain(dump)
    return audit(replace(settings, factory=FactoryValues(dict(factory))), (rule,))


class Outcome(NamedTuple):
    """What one rule says of one case; a fleet rule's paths with whose they are."""

    findings: tuple[Finding, ...]
    lacks: list[tuple[str, ...]]


def outcome(rule_id: str, case: Case) -> Outcome:
    if not case.dumps:
        single = run(rule_id, case.dump, case.factory)
        assert single.checked == int(not single.not_checked)
        return Outcome(single.findings, [entry.lacks for entry in single.not_checked])
    rule = find(rule_id)
    assert rule is not None
    crafts = [read_plain(dump, f"{n}.cfg") for n, dump in enumerate(case.dumps)]
    fleet = audit_fleet(crafts, (rule,))
    lacks = [tuple(f"{lack.craft}: {lack.path}" for lack in e.lacks) for e in fleet.not_checked]
    return Outcome(fleet.findings, lacks)


def told_paths(finding: Finding) -> tuple[str, ...]:
    if not finding.crafts:
        return finding.paths
    owned = zip(finding.crafts, finding.paths, strict=True)
    return tuple(f"{craft}: {path}" for craft, path in owned)


def matches(finding: Finding, case: Case) -> bool:
    figures = dict(finding.figures)
    return (
        told_paths(finding) == case.paths
        and all(fragment in finding.advice for fragment in case.advice)
        and all(fragment in finding.message for fragment in case.message)
        and all(
            name in figures and isclose(figures[name], value, rel_tol=1e-6)
            for name, value in case.figures
        )
        and case.level in ("", finding.level.value)
        and case.mend in (None, tuple(f"{edit.path} = {edit.value}" for edit in finding.mend))
    )


def mended(dump: str, mend: tuple[str, ...]) -> str:
    """The dump with the edits in place of the lines that state their paths.

    The edits come first: below a section head their paths would be read as parts of it.
    """
    settings = read_plain(dump)
    lines = dump.split("\n")
    for edit in mend:
        path = edit.partition(" = ")[0]
        if path in settings and (place := settings[path].place) is not None:
            lines[place.line - 1] = ""
    return "\n".join([*mend, *lines])


def test_each_rule_of_the_book_has_one_fixture_file_and_no_file_lacks_its_rule() -> None:
    rules = [rule.id for rule in every_rule()]
    assert len(set(rules)) == len(rules)
    assert sorted(fixture.rule for fixture in fixtures()) == sorted(rules)


@pytest.mark.parametrize(("rule_id", "case"), cases("fires"))
def test_a_rule_fires_as_its_fixture_says(rule_id: str, case: Case) -> None:
    findings = outcome(rule_id, case).findings
    assert any(matches(finding, case) for finding in findings), findings


def with_mends() -> list[object]:
    """The cases whose findings propose a change, whether the fixture states it or not."""
    return [
        pytest.param(fixture.rule, case, id=f"{fixture.rule}: {case.name}")
        for fixture in fixtures()
        for case in fixture.cases
        if case.mend or any(finding.mend for finding in outcome(fixture.rule, case).findings)
    ]


@pytest.mark.parametrize(("rule_id", "case"), with_mends())
def test_the_change_that_a_rule_proposes_clears_its_finding(rule_id: str, case: Case) -> None:
    proposed = [
        finding for finding in run(rule_id, case.dump, case.factory).findings if finding.mend
    ]
    assert proposed
    for finding in proposed:
        edits = tuple(f"{edit.path} = {edit.value}" for edit in finding.mend)
        after = run(rule_id, mended(case.dump, edits), case.factory)
        assert finding.paths not in [left.paths for left in after.findings]
        assert after.findings == () or not case.mend
        impossible = [trouble for trouble in after.settings.troubles if trouble.path]
        assert impossible == [], "the change must be one that the setting takes"


@pytest.mark.parametrize(("rule_id", "case"), cases("quiet"))
def test_a_rule_stays_quiet_as_its_fixture_says(rule_id: str, case: Case) -> None:
    assert outcome(rule_id, case) == Outcome((), [])


@pytest.mark.parametrize(("rule_id", "case"), cases("not_checked"))
def test_a_rule_says_what_it_lacks_as_its_fixture_says(rule_id: str, case: Case) -> None:
    assert outcome(rule_id, case) == Outcome((), [case.lacks])


def load(folder: Path, text: str, name: str = "serial/role-twice.toml") -> Fixture:
    file = folder / name
    file.parent.mkdir(exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return load_fixture(file)


def test_a_whole_fixture_file_is_read(tmp_path: Path) -> None:
    fixture = load(tmp_path, GOOD)
    assert fixture.rule == "serial/role-twice"
    assert [case.kind for case in fixture.cases].count("fires") == 2
    assert fixture.cases[1].figures == (("ports", 2.0),)
    assert fixture.cases[-1].lacks == ("a",)


@pytest.mark.parametrize("kind", ["fires", "quiet", "not_checked"])
def test_a_fixture_file_without_one_kind_of_case_is_refused(tmp_path: Path, kind: str) -> None:
    first, *tables = GOOD.split("[[")
    rest = [table for table in tables if not table.startswith(kind)]
    with pytest.raises(FixtureError, match=kind):
        load(tmp_path, "[[".join([first, *rest]))


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("[[fires]]", "colour = 'rust'\n[[fires]]", "unknown key colour"),
        ('name = "two"', 'name = "two"\ncolour = "rust"', "unknown key colour"),
        ('message = ["b"]', "message = []", "the list is empty"),
        ('lacks = ["a"]', "lacks = []", "the list is empty"),
        ('lacks = ["a"]', "", "lacks lacks"),
        ('paths = ["a"]', "", "lacks paths"),
        ("{ ports = 2 }", "{ ports = true }", "numbers"),
        ("{ ports = 2 }", "{}", "numbers"),
        ('dump = "a = 2"', 'dump = "a = 2"\nlevel = "grave"', "warning"),
        ('dump = "a = 1"', 'dump = " "', "a text is expected"),
        ('name = "two"', 'name = "one"', "twice"),
        ('dump = "a = 1"', 'dump = "a = 1"\nfactory = { }', "a table of texts"),
        ('dump = "a = 1"', 'dump = "a = 1"\nfactory = { a = 1 }', "a text is expected"),
        ("[[fires]]", "[[fires", "line 3"),
    ],
)
def test_a_fixture_file_with_a_fault_is_refused(
    tmp_path: Path, old: str, new: str, told: str
) -> None:
    assert old in GOOD
    with pytest.raises(FixtureError, match=told):
        load(tmp_path, GOOD.replace(old, new, 1))


@pytest.mark.parametrize("kind", ["fires = []", "quiet = []", "not_checked = []"])
def test_a_fixture_file_with_an_empty_list_of_cases_is_refused(tmp_path: Path, kind: str) -> None:
    name = kind.partition(" ")[0]
    first, *tables = GOOD.split("[[")
    rest = [table for table in tables if not table.startswith(name)]
    with pytest.raises(FixtureError, match=f"at least . of ..{name}"):
        load(tmp_path, "[[".join([f"{first}{kind}\n", *rest]))


def test_a_fleet_rule_s_case_has_two_dumps_or_more_and_another_has_one(tmp_path: Path) -> None:
    name = "fleet/same-name.toml"
    text = GOOD.replace("serial/role-twice", "fleet/same-name")
    several = text.replace('dump = "a = 1"', 'dumps = ["a = 1", "a = 2"]').replace(
        'dump = "a = 2"', 'dumps = ["a = 2", "a = 2"]'
    )
    assert load(tmp_path, several, name).cases[0].dumps == ("a = 1", "a = 2")
    with pytest.raises(FixtureError, match="unknown key dump"):
        load(tmp_path, text, name)
    with pytest.raises(FixtureError, match="dumps: two or more"):
        load(tmp_path, several.replace('"a = 1", "a = 2"', '"a = 1"', 1), name)
    with pytest.raises(FixtureError, match="unknown key dumps"):
        load(tmp_path, several.replace("fleet/same-name", "serial/role-twice"))


@pytest.mark.parametrize("name", ["serial/role-thrice.toml", "video/role-twice.toml"])
def test_a_fixture_file_that_is_not_named_like_its_rule_is_refused(
    tmp_path: Path, name: str
) -> None:
    with pytest.raises(FixtureError, match="rule = "):
        load(tmp_path, GOOD, name)
