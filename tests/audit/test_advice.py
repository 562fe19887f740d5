"""Advice that is followed helps: a sure mend clears its finding, and says what its text says."""

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any, Final

import pytest

from cfgaudit.audit.engine import Audit, Finding, audit
from cfgaudit.audit.incremental import Auditor
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.plain import PLAIN, read_plain, write_plain
from cfgaudit.reports.wording import mends
from cfgaudit.rules.book import book, find
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.work.mend import mend, sure_only
from tests.audit.sound import MISTAKES, edited, edited_audit, told
from tests.rules.test_fixtures import fixtures

Key = tuple[str, tuple[str, ...]]


@cache
def advised() -> tuple[tuple[dict[str, Any], Finding], ...]:
    """Each mistake made in a sound craft with each finding there that has a sure mend."""
    found = []
    for edit in MISTAKES:
        sheet = edited(edit)[1]
        made = edited_audit(edit)
        if any(finding.mend for finding in made.findings):
            sure = with_sure_mends(edited(edit)[0], sheet)
            found += [(edit, finding) for finding in sure.findings if finding.mend]
    return tuple(found)


def with_sure_mends(dump: Settings, sheet: Settings) -> Audit:
    """A craft's audit with the mends that are sure in its plain form."""

    opened = open_dump("x.cfg", write_plain(dump).encode(), (), PLAIN)
    auditor = Auditor(book(), sheet=sheet)
    auditor.outcome(opened.settings)
    return sure_only(mend((opened,), auditor.audit), auditor.audit)


def followed(dump: Settings, finding: Finding) -> Settings:
    """The dump with the lines in it that a report tells to write."""
    lines = read_plain("\n".join(mends(finding)))
    assert lines.troubles == ()
    return replace(dump, stated={**dump.stated, **lines.stated})


def keys(outcome: Audit, *levels: Level) -> set[Key]:
    return {(f.rule.id, f.paths) for f in outcome.findings if f.level in levels}


def lacking(outcome: Audit) -> dict[str, set[str]]:
    return {entry.rule.id: set(entry.lacks) for entry in outcome.not_checked}


def test_a_sure_mend_that_is_followed_clears_its_finding_and_brings_no_error() -> None:
    for edit, finding in advised():
        dump, sheet = edited(edit)
        before, after = edited_audit(edit), audit(followed(dump, finding), sheet=sheet)
        what = f"{told(edit)}: {finding.rule.id}"
        assert (finding.rule.id, finding.paths) not in keys(after, *Level), what
        assert keys(after, Level.ERROR) <= keys(before, Level.ERROR), what


def test_no_rule_lacks_more_where_a_sure_mend_is_followed() -> None:
    for edit, finding in advised():
        dump, sheet = edited(edit)
        before = lacking(edited_audit(edit))
        after = lacking(audit(followed(dump, finding), sheet=sheet))
        for rule, lacks in after.items():
            assert lacks <= before.get(rule, set()), f"{told(edit)}: {finding.rule.id}, {rule}"


def test_sure_mends_of_many_rules_are_followed() -> None:
    assert len({finding.rule.id for _, finding in advised()}) >= 30


_NUMBER: Final = r"(-?\d+(?:\.\d+)?)"
_UNIT: Final = r" ?(degrees|deg|m/s|us|Hz|V|s|m|%|satellites)?(?![\w/])"
_BOUNDS: Final = (  # what a text calls right, with which of its numbers is the least and the most
    (re.compile(rf"{_NUMBER} to {_NUMBER}{_UNIT}"), True, True),
    (re.compile(rf"at least {_NUMBER}{_UNIT}"), True, False),
    (re.compile(rf"up to {_NUMBER}{_UNIT}"), False, True),
    (re.compile(rf"{_NUMBER}{_UNIT} or less"), False, True),
)
_SAME: Final = {"degrees": "deg", "satellites": ""}


def bounds(text: str) -> Iterator[tuple[float, float, str]]:
    """The least and the most that a text calls right, with their unit.

    >>> list(bounds("let it come down at 1 to 2 m/s; want at least 6 satellites"))
    [(1.0, 2.0, 'm/s'), (6.0, inf, '')]
    """
    for pattern, has_least, has_most in _BOUNDS:
        for *numbers, unit in pattern.findall(text):
            least = float(numbers[0]) if has_least else float("-inf")
            most = float(numbers[-1]) if has_most else float("inf")
            yield least, most, _SAME.get(unit, unit)


def findings() -> Iterator[Finding]:
    """What the rules' own fixtures and the mistakes bring, as far as one craft brings it."""
    for fixture in fixtures():
        rule = find(fixture.rule)
        assert rule is not None
        for case in fixture.cases if not rule.fleet else ():
            sheet = read_sheet(case.sheet.encode(), "x.toml") if case.sheet else None
            yield from audit(read_plain(case.dump), (rule,), sheet=sheet).findings
    yield from (finding for _, finding in advised())


@cache
def compared() -> frozenset[tuple[str, str, float, float, float]]:
    """Each number of a mend or of advice against a bound in its unit that the rule's text names.

    A bare number counts in a mend alone: elsewhere it may be a port's.
    """
    found = set()
    for finding in findings():
        for least, most, unit in bounds(finding.rule.doc.mend):
            says = [edit.value for edit in finding.mend] + ([finding.advice] if unit else [])
            found |= {
                (finding.rule.id, said, float(number), least, most)
                for said in says
                for number, its in re.findall(_NUMBER + _UNIT, said)
                if _SAME.get(its, its) == unit
            }
    return frozenset(found)


def test_neither_mend_nor_advice_contradicts_the_numbers_of_its_text() -> None:
    for rule, said, number, least, most in sorted(compared()):
        assert least <= number <= most, f"{rule}: {said}, where its text says {least} to {most}"


def test_the_rules_whose_texts_name_numbers_are_compared() -> None:
    """Read off the book: these say how much in their text, and again in what they advise."""
    assert {rule for rule, *_ in compared()} >= {
        "failsafe/too-nervous",
        "failsafe/too-slow",
        "home/descent-fast",
        "home/starts-too-far",
        "loop/no-yaw",
        "position/few-satellites",
        "sensor/any-attitude-arming",
    }


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0.3 to 0.5 s is usual", [(0.3, 0.5, "s")]),
        ("until both come to 2 s or less", [(float("-inf"), 2.0, "s")]),
        ("up to 25 degrees or so", [(float("-inf"), 25.0, "deg")]),
    ],
)
def test_what_a_text_calls_right_is_read_off_it(
    text: str, said: list[tuple[float, float, str]]
) -> None:
    assert list(bounds(text)) == said
