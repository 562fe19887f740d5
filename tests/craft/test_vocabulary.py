"""The vocabulary as a whole: every setting is described, limited, and found by its path."""

import re

import pytest

from cfgaudit.vocabulary.kinds import (
    Either,
    Int,
    Kind,
    PadUse,
    Quantity,
    Value,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import Declared, declared, nearest, vocabulary
from cfgaudit.vocabulary.units import is_unit

PATTERN = re.compile(r"([a-z][a-z0-9_]*|[A-Z]+)(\.([a-z][a-z0-9_]*|[A-Z]+))*")
# A name that each index may take, unless the declaration has a closed list.
NAMES = {
    "ID": "uart2",
    "ARM": "front_left",
    "AXIS": "roll",
    "N": "2",
    "ROLE": "telemetry",
    "CONTROL": "yaw",
    "NAME": "pack_voltage",
    "BAND": "river",
}
every_setting = pytest.mark.parametrize("known", vocabulary(), ids=lambda known: known.pattern)


def sample_path(known: Declared) -> str:
    """One path that falls under a declaration."""
    closed = dict(known.choices)
    words = known.pattern.split(".")
    return ".".join(
        (closed[word][0] if word in closed else NAMES[word]) if word.isupper() else word
        for word in words
    )


def ends_of(kind: Kind) -> tuple[float, float] | None:
    """The limits of a kind of number."""
    if isinstance(kind, Either):
        return ends_of(kind.other)
    return (kind.low, kind.high) if isinstance(kind, Int | Quantity) else None


@every_setting
def test_a_setting_is_described_in_one_short_line(known: Declared) -> None:
    says = known.traits.says
    assert says == says.strip()
    assert 5 <= len(says) <= 100
    assert "\n" not in says
    assert not says.endswith(".")


@every_setting
def test_a_setting_has_a_well_formed_pattern(known: Declared) -> None:
    assert PATTERN.fullmatch(known.pattern)
    assert known.cls is known.traits.cls


def test_no_two_settings_share_a_pattern() -> None:
    patterns = [known.pattern for known in vocabulary()]
    assert len(patterns) > 100
    assert len(patterns) == len(set(patterns))


@every_setting
def test_a_path_leads_back_to_its_declaration(known: Declared) -> None:
    assert declared(sample_path(known)) is known


@every_setting
def test_a_kind_of_setting_says_what_it_expects(known: Declared) -> None:
    assert known.kind.says
    unit = known.kind.unit
    assert not unit or is_unit(unit)


@every_setting
def test_limits_leave_room_and_are_kept_at_both_ends(known: Declared) -> None:
    ends = ends_of(known.kind)
    if ends is None:
        return
    low, high = ends
    assert low < high
    whole = not isinstance(known.kind, Quantity) and isinstance(low, int)
    inside: tuple[Value, ...] = (low, high)
    outside: tuple[Value, ...] = (low - 1, high + 1) if whole else (low - 0.5, high * 1.01 + 0.5)
    assert [known.kind.beyond(value) for value in inside] == ["", ""]
    assert all(known.kind.says.split(", or ")[-1] in known.kind.beyond(v) for v in outside)


@every_setting
def test_a_closed_list_of_words_repeats_none(known: Declared) -> None:
    kind = known.kind
    if isinstance(kind, Words | WordSet | PadUse):
        assert len(set(kind.choices)) == len(kind.choices)
    if isinstance(kind, Words):
        assert len(kind.choices) > 1
        assert all(choice == choice.strip() and choice for choice in kind.choices)


@pytest.mark.parametrize(
    "path",
    [
        "battery",
        "battery.warn",
        "banks.0.gains.roll.p",
        "banks.1.gains.sideways.p",
        "banks.1000.gains.roll.p",
        "switches.dance",
        "ports..baud",
        "ports.uart 2.baud",
        "",
    ],
)
def test_a_path_that_nobody_declared_is_unknown(path: str) -> None:
    assert declared(path) is None


def test_a_word_of_the_pattern_goes_before_an_index() -> None:
    found = declared("motors.poles")
    assert found is not None
    assert found.pattern == "motors.poles"


def test_near_misses_of_a_path_are_named() -> None:
    assert "battery.warn_cell" in nearest("battery.warn_cel")
    assert nearest("zzzzzz") == []
