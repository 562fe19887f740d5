"""A dump of which lines are not understood: nothing is found missing that may stand on them."""

from collections.abc import Collection
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Raw, Settings
from tests.audit.seeding import GOLDEN, settings_of, sheet_of


def grave(craft: Settings, dump: str) -> set[str]:
    """The rules that have an error or a warning, the build sheet at hand."""
    found = audit(craft, sheet=sheet_of(dump)).findings
    return {one.rule.id for one in found if one.level in (Level.ERROR, Level.WARNING)}


def without(craft: Settings, lost: Collection[int]) -> Settings:
    """The same, but of these lines of the dump nobody knows what they mean."""
    gone = [one for one in craft.stated.values() if one.place and one.place.line in lost]
    strange = {f"heron {n}": Raw(f"heron {n}", one.text, one.place) for n, one in enumerate(gone)}
    kept = {path: one for path, one in craft.stated.items() if one not in gone}
    return replace(craft, stated=kept, raw={**craft.raw, **strange})


@cache
def told_lines(dump: str) -> list[int]:
    places = (stated.place for stated in settings_of(dump).stated.values())
    return sorted({place.line for place in places if place})


@cache
def graves(dump: str) -> set[str]:
    return grave(settings_of(dump), dump)


@pytest.mark.parametrize("dump", GOLDEN)
@settings(max_examples=25)
@given(data=st.data())
def test_nothing_is_found_missing_that_may_stand_on_a_line_not_understood(
    dump: str, data: st.DataObject
) -> None:
    lines = told_lines(dump)
    lost = data.draw(st.sets(st.sampled_from(lines), max_size=len(lines) // 2))
    assert grave(without(settings_of(dump), lost), dump) <= graves(dump)


@pytest.mark.long
@pytest.mark.parametrize("dump", GOLDEN)
def test_no_line_that_is_not_understood_makes_a_finding(dump: str) -> None:
    whole = settings_of(dump)
    new = {line: grave(without(whole, {line}), dump) - graves(dump) for line in told_lines(dump)}
    assert {line: rules for line, rules in new.items() if rules} == {}


ROWS = [f"pads.m{n}.use = motor {arm}" for n, arm in enumerate(("front_left", "front_right"))]


@pytest.mark.parametrize(
    ("lines", "missing"),
    [
        ([*ROWS, "heron 2 = m2 rear left", "heron 3 = m3 rear right"], False),
        ([*ROWS, *["\n"] * 40, "heron 2 = m2"], True),  # too far from the pads to be one
        (ROWS, True),
    ],
)
def test_a_motor_without_a_pad_is_found_where_no_line_may_have_it(
    lines: list[str], missing: bool
) -> None:
    spins = [f"motors.{arm}.spin = cw" for arm in ("front_left", "front_right", "rear_left")]
    found = audit(read_plain("\n".join([*spins, *lines])))
    assert missing == ("motor/pad-missing" in {one.rule.id for one in found.findings})
    assert missing != ("motor/pad-missing" in {one.rule.id for one in found.not_checked})
