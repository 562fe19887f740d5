"""Holds every rule of the book against its fixture file."""

from functools import cache
from pathlib import Path

import pytest

from cfgaudit.rules.book import every_rule, find
from cfgaudit.testing import Case, Fixture, case_problems, fixture_files, load_fixture

HERE = Path(__file__).parent


@cache
def fixtures() -> tuple[Fixture, ...]:
    files = fixture_files(HERE)
    return tuple(load_fixture(file, fleet=file.parent.name == "fleet") for file in files)


def cases() -> list[object]:
    return [
        pytest.param(fixture.rule, case, id=f"{fixture.rule}: {case.kind} {case.name}")
        for fixture in fixtures()
        for case in fixture.cases
    ]


def test_each_rule_of_the_book_has_one_fixture_file_and_no_file_lacks_its_rule() -> None:
    rules = [rule.id for rule in every_rule()]
    assert len(set(rules)) == len(rules)
    assert sorted(fixture.rule for fixture in fixtures()) == sorted(rules)


@pytest.mark.parametrize(("rule_id", "case"), cases())
def test_a_rule_does_as_its_fixture_says(rule_id: str, case: Case) -> None:
    rule = find(rule_id)
    assert rule is not None
    assert case_problems(rule, case) == []
