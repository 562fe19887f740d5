"""What was measured or seen against what a step expects."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.work.judging import BadAnswer, judge
from cfgaudit.work.steps import Ask, BenchStep

ARMS = ("front_left", "front_right", "rear_left", "rear_right")
VOLTS = Ask("pair", "V", part=0.01, sets="battery.divider", now=11.0, way="divider", sample="N V")
CHARGE = Ask("pair", "mAh", part=0.05, sets="battery.current_scale", now=26.4, way="scale")
AMPS = Ask(
    "pair", "A", least=0.2, sets="battery.current_offset", now=-12.0, scale=26.4, way="offset"
)
TURN = Ask("turn", arm="front_left", turn="cw", sample="ARM cw or ccw")


def step(ask: Ask) -> BenchStep:
    return BenchStep("it", "measuring", "do", "expect", ask=ask)


@pytest.mark.parametrize("word", ["", "yes", "on", "YES", " yes "])
def test_a_step_that_asks_nothing_is_done_by_saying_so(word: str) -> None:
    assert judge(step(Ask()), word).passed


@pytest.mark.parametrize("ask", [Ask(), VOLTS, TURN, Ask("number", "V", 0, 1)], ids=str)
@pytest.mark.parametrize("word", ["no", "off", "No"])
def test_no_is_a_failure_whatever_is_asked(ask: Ask, word: str) -> None:
    assert not judge(step(ask), word).passed


@pytest.mark.parametrize(
    ("value", "passed"),
    [("4.9", True), ("5.1 V", True), ("4899 mV", False), ("5.11 V", False), ("5 V", True)],
)
def test_a_number_passes_within_its_ends(value: str, passed: bool) -> None:
    assert judge(step(Ask("number", "V", 4.9, 5.1)), value).passed is passed


def test_nought_is_a_number_and_not_a_no() -> None:
    assert judge(step(Ask("number", "A", 0, 1)), "0").passed


@pytest.mark.parametrize(
    "value",
    ["16.42 V, shown 16.10 V", "16.42 16.10", "meter 16.42 shown 16.10", "shown 16.10 meter 16.42",
     "16420 mV / 16.1 V", "shown 16.1, 16.42"],
)  # fmt: skip
def test_a_voltage_that_is_off_gives_the_divider_that_puts_it_right(value: str) -> None:
    """Hand calculation: 11 × 16.42 / 16.10 = 11.218634; 0.32 / 16.42 = 1.9 %."""
    verdict = judge(step(VOLTS), value)
    assert not verdict.passed
    assert "1.9 % off" in verdict.says
    ((path, new),) = verdict.sets
    assert path == "battery.divider"
    assert new == pytest.approx(11.218634, abs=1e-6)


@pytest.mark.parametrize("value", ["16,1", "16,1 16,0", "meter 16,4 V"])
def test_a_comma_that_may_be_a_decimal_one_is_asked_about(value: str) -> None:
    with pytest.raises(BadAnswer, match=r"may be one number or two: write 16\.[14], or a blank"):
        judge(step(VOLTS), value)
    assert judge(step(VOLTS), "16.1,16.0").passed
    assert judge(step(VOLTS), "16, 16").passed


def test_a_voltage_within_one_per_cent_is_left_alone() -> None:
    """Hand calculation: 16.42 × 0.01 = 0.1642, so 16.26 passes and 16.25 does not."""
    assert judge(step(VOLTS), "16.42 16.26").passed
    assert not judge(step(VOLTS), "16.42 16.25").passed


@given(st.floats(5, 60), st.floats(0.85, 1.15), st.floats(2, 40))
def test_with_the_new_divider_the_craft_shows_what_the_meter_shows(
    meter: float, wrong: float, divider: float
) -> None:
    """What is shown is the input's volts times the divider."""
    meter, shown = round(meter, 2), round(meter * wrong, 2)
    verdict = judge(step(VOLTS._replace(now=divider)), f"{meter} {shown}")
    for _, new in verdict.sets:
        assert shown / divider * new == pytest.approx(meter)
    assert verdict.passed != bool(verdict.sets)


def test_a_current_s_scale_comes_from_the_charge() -> None:
    """Hand calculation: 26.4 × 450 / 410 = 28.975610 mV/A: too much was shown, so it grows."""
    verdict = judge(step(CHARGE), "410 mAh, shown 450 mAh")
    ((path, new),) = verdict.sets
    assert path == "battery.current_scale"
    assert new == pytest.approx(28.97561, abs=1e-5)


def test_a_current_s_offset_comes_from_a_small_current() -> None:
    """Hand calculation: -12 + (1.1 - 0.6) × 26.4 = 1.2 mV."""
    assert judge(step(AMPS), "0.6 A, shown 0.8 A").passed
    verdict = judge(step(AMPS), "0.6 A, shown 1.1 A")
    ((path, new),) = verdict.sets
    assert path == "battery.current_offset"
    assert new == pytest.approx(1.2)


def test_where_the_setting_is_not_told_the_factor_is() -> None:
    """Hand calculation: 16.42 / 16.10 = 1.01988."""
    verdict = judge(step(VOLTS._replace(now=None)), "16.42 16.10")
    assert verdict.sets == ()
    assert "1.0199" in verdict.says


@pytest.mark.parametrize("value", ["16.4 V, shown 0 V", "16.4, shown 8.2", "5 shown 16.8"])
def test_what_no_scale_explains_sets_nothing(value: str) -> None:
    verdict = judge(step(VOLTS), value)
    assert not verdict.passed
    assert verdict.sets == ()
    assert "wire" in verdict.says


@pytest.mark.parametrize(
    ("value", "passed", "says"),
    [
        ("cw", True, "clockwise"),
        ("front_left cw", True, "clockwise"),
        ("Front Left CW", True, "clockwise"),
        ("rear left, cw", False, "rear left turned"),
        ("Front_Left, clockwise", True, "clockwise"),
        ("ccw", False, "swap two of its three wires"),
        ("front_left anticlockwise", False, "must turn clockwise"),
        ("rear_left cw", False, "rear left turned and not front left"),
        ("rear_left", False, "rear left turned"),
    ],
)
def test_a_motor_is_judged_by_its_arm_and_its_turn(value: str, passed: bool, says: str) -> None:
    verdict = judge(step(TURN), value, ARMS)
    assert verdict.passed is passed
    assert says in verdict.says


def test_a_turn_nobody_knows_is_not_passed() -> None:
    assert not judge(step(TURN._replace(turn="")), "front_left cw", ARMS).passed


@pytest.mark.parametrize(
    ("ask", "value", "says"),
    [
        (Ask(), "maybe", "yes or no"),
        (VOLTS, "", "wants what was seen"),
        (VOLTS, "16.4", "expected"),
        (VOLTS, "16.4 16.1 16.0", "expected"),
        (VOLTS, "shown 16.4 shown 16.1", "expected"),
        (VOLTS, "16.4 mA, shown 16.1 V", "expected"),
        (VOLTS, "0 V, shown 16.1 V", "above nought"),
        (VOLTS, "about 16.4 and 16.1", "expected"),
        (Ask("number", "V", 4, 5), "4.5 A", "expected"),
        (Ask("number", "V", 4, 5), "some", "expected"),
        (TURN, "front_lift cw", "did you mean front_left"),
        (TURN, "front_left", "which way"),
    ],
)
def test_what_can_t_be_understood_is_refused(ask: Ask, value: str, says: str) -> None:
    with pytest.raises(BadAnswer, match=says):
        judge(step(ask), value, ARMS)


def test_no_zero_is_told_where_the_scale_is_off_by_ten() -> None:
    for shown in ("1.2 A, shown 12 A", "0.3 A, shown 3 A", "1.2 A, shown 0.12 A", "9 A, shown 2 A"):
        verdict = judge(step(AMPS), shown)
        assert (verdict.passed, verdict.sets) == (False, ())
        assert "Look at the scale" in verdict.says
