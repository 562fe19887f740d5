"""Mistakes that builders make, held against the audit: what it catches, and what it misses and why.

A mistake is caught where the audit finds, beside what it finds on the sound craft, something of
the mistake's level or graver that names one of the settings at fault.
"""

import tomllib
from functools import cache
from pathlib import Path
from typing import Final

import pytest

from cfgaudit.audit.engine import RANK
from cfgaudit.rules.rule import Level
from tests.audit.sound import MISTAKES, edited_audit, is_about, sound_audit, told

_LISTED: Final = tomllib.loads(
    (Path(__file__).parent / "reviewed.toml").read_text(encoding="utf-8")
)
# The mistakes that are missed, each with the reason. It may only grow shorter.
MISSED: Final[dict[str, str]] = _LISTED["missed"]
LEAST_CAUGHT: Final = 0.98


@cache
def caught() -> frozenset[str]:
    """The mistakes that the audit catches."""
    found = set()
    for edit in MISTAKES:
        before = {(f.rule.id, f.paths, f.level) for f in sound_audit(edit["craft"]).findings}
        wanted = RANK[Level(edit["level"])]
        if any(
            RANK[f.level] <= wanted
            and (f.rule.id, f.paths, f.level) not in before
            and is_about(f, edit["paths"])
            for f in edited_audit(edit).findings
        ):
            found.add(told(edit))
    return frozenset(found)


def test_every_mistake_is_caught_but_those_that_are_listed() -> None:
    missed = {told(edit) for edit in MISTAKES} - caught()
    assert missed <= set(MISSED)
    assert all(why.strip() for why in MISSED.values())


def test_no_mistake_is_listed_as_missed_that_is_caught() -> None:
    assert set(MISSED) & caught() == set()
    assert set(MISSED) <= {told(edit) for edit in MISTAKES}


def test_no_rule_fails_on_a_mistake() -> None:
    for edit in MISTAKES:
        assert not any(finding.failed for finding in edited_audit(edit).findings), told(edit)


def test_the_score_of_the_mistakes(capsys: pytest.CaptureFixture[str]) -> None:
    count = len(caught())
    with capsys.disabled():
        print(f"\nmistakes: {len(MISTAKES)} made, {count} caught, {len(MISTAKES) - count} missed")
    assert count >= LEAST_CAUGHT * len(MISTAKES)
