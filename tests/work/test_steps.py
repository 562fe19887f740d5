"""Steps of a firmware, in the vocabulary's unit."""

from fractions import Fraction

import pytest

from cfgaudit.vocabulary.kinds import Value
from cfgaudit.work.confirm import CountStep, is_rounded, is_stopped_short, steps_of
from tests.dialects.demo import CORPUS, opened

WHOLE = (CountStep("", Fraction(1, 20), Fraction(0)),)


def test_steps_are_told_in_the_vocabularys_unit() -> None:
    """Read off corpus/dialects by hand: 0.01 V; 100 Bd; 20 us from 500; 1/8 deg."""
    steps = steps_of(opened(CORPUS / "dipper.dump"))
    assert steps["battery.warn_cell"] == (CountStep("", Fraction(1, 100), Fraction(0)),)
    assert steps["ports.uart1.baud"] == (CountStep("", Fraction(100), Fraction(0)),)
    low = next(step for step in steps["switches.arm"] if step.part == "low")
    assert low == CountStep("low", Fraction(20), Fraction(500))
    assert steps["board.rotation.yaw"] == (CountStep("", Fraction(1, 8), Fraction(0)),)
    assert "battery.cells" not in steps


@pytest.mark.parametrize(
    ("wanted", "found", "step"),
    [
        (3.52, 3.5, 0.05),  # down
        (3.52, 3.55, 0.05),  # up
        (3.5, 3.55, None),  # it could have been said
        (3.52, 3.6, None),  # further than a step
        ("auto", 3.5, None),
        (True, 3.5, None),
        ((3.52, 3.5), (3.5, 3.5), 0.05),
        ((3.52, 3.5), (3.5,), None),
    ],
)
def test_rounding_is_what_one_step_explains(
    wanted: Value, found: Value, step: float | None
) -> None:
    assert is_rounded(wanted, found, WHOLE) == step


def test_a_number_without_a_step_is_never_rounded() -> None:
    assert is_rounded(3.52, 3.5, ()) is None


@pytest.mark.parametrize(
    ("wanted", "found", "old", "short"),
    [
        (150, 120, 100, True),
        (50, 80, 100, True),
        (150, 80, 100, False),
        (150, 160, 100, False),
        ("on", 12, 3, False),
        (150, 120, "auto", False),
    ],
)
def test_a_number_on_its_way_or_a_rounder_one_is_stopped_short(
    wanted: Value, found: Value, old: Value, short: bool
) -> None:
    assert is_stopped_short(wanted, found, old) is short
