"""Judges what was seen or measured at a step against what the step expects."""

import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Final, NamedTuple, NoReturn

from cfgaudit.bench.work import Ask, Step, named
from cfgaudit.craft.kinds import OFF_WORDS, ON_WORDS, Quantity
from cfgaudit.craft.spelling import BadValue, read_value
from cfgaudit.rules.motor_signs import SPINS, TURN_WORDS
from cfgaudit.units import number_text

_ROUNDING: Final = 1e-9
_FAR: Final = 0.2  # beyond this part no scale is to blame (common practice)
_PAIR: Final = re.compile(
    r"(?:(meter|shown)\s+)?([-+]?\d+(?:\.\d+)?)(?:\s*((?!meter|shown)[A-Za-z]+))?", re.IGNORECASE
)
_COMMA: Final = re.compile(r"(?<![\d.])\d+,\d+(?![\d.])")  # a decimal one, or one between two
_TURNS: Final = {
    "cw": "cw",
    "clockwise": "cw",
    "ccw": "ccw",
    "anticlockwise": "ccw",
    "counterclockwise": "ccw",
}


class BadAnswer(ValueError):  # noqa: N818 (it is an answer, not a fault of ours)
    """What was given for a step can't be understood; says what was expected."""


class Verdict(NamedTuple):
    """Whether a step passed, why, and the settings that would put it right, by path."""

    passed: bool
    says: str
    sets: tuple[tuple[str, float], ...] = ()


def judge(step: Step, value: str, arms: Sequence[str] = ()) -> Verdict:
    """Judge a value, empty for none. `arms` are the craft's arms. Raises BadAnswer."""
    ask, text = step.ask, value.strip()
    if text.lower() in OFF_WORDS - {"0"}:
        return Verdict(False, "not as expected")
    if ask.kind == "yes":
        if text and text.lower() not in ON_WORDS:
            raise BadAnswer(f"{text!r}: yes or no is expected at {step.id}")
        return Verdict(True, "as expected")
    if not text:
        raise BadAnswer(f'{step.id} wants what was seen: --value "{ask.sample}", or no')
    if ask.kind == "number":
        return _number(ask, text)
    return _pair(ask, text) if ask.kind == "pair" else _turn(ask, text, arms)


def _read(unit: str, text: str, ask: Ask) -> float:
    try:
        found = read_value(Quantity(unit), text)
    except BadValue:
        _refuse(text, ask)
    assert isinstance(found, int | float)
    return float(found)


def _refuse(text: str, ask: Ask) -> NoReturn:
    raise BadAnswer(f"{text!r}: {ask.sample} is expected, or no")


def _number(ask: Ask, text: str) -> Verdict:
    found = _read(ask.unit, text, ask)
    told = f"{number_text(found)} {ask.unit}"
    low, high = ask.low, ask.high
    if low is not None and found < low - _ROUNDING:
        return Verdict(False, f"{told} is below {number_text(low)} {ask.unit}")
    if high is not None and found > high + _ROUNDING:
        return Verdict(False, f"{told} is above {number_text(high)} {ask.unit}")
    return Verdict(True, f"{told}, as expected")


def _both(ask: Ask, text: str) -> tuple[float, float]:
    """What the meter shows and what the craft shows. Raises BadAnswer."""
    unclear = _COMMA.search(text)
    if unclear:
        point = unclear[0].replace(",", ".")
        raise BadAnswer(
            f"{unclear[0]!r} may be one number or two: write {point}, or a blank behind the comma"
        )
    rest = _PAIR.sub("", text)
    found = list(_PAIR.finditer(text))
    if len(found) != 2 or rest.strip(" ,;/"):
        _refuse(text, ask)
    words = [(match[1] or "").lower() for match in found]
    first, second = (_read(ask.unit, f"{m[2]} {m[3] or ''}".strip(), ask) for m in found)
    if words in (["", ""], ["meter", ""], ["", "shown"], ["meter", "shown"]):
        return first, second
    if words in (["shown", "meter"], ["shown", ""], ["", "meter"]):
        return second, first
    _refuse(text, ask)


def _pair(ask: Ask, text: str) -> Verdict:
    meter, shown = _both(ask, text)
    unit = ask.unit
    if meter < 0 or shown < 0 or (ask.part and not meter):
        raise BadAnswer(f"{text!r}: {unit} above nought are expected")
    gap = abs(shown - meter)
    told = f"the meter shows {number_text(meter)} {unit}, the craft {number_text(shown)} {unit}"
    share = f", {gap / meter * 100:.1f} % off" if meter else ""
    if gap <= max(ask.part * meter, ask.least) + _ROUNDING:
        return Verdict(True, f"{told}{share}")
    if ask.part and (not shown or gap > _FAR * meter):
        why = "too far for a wrong scale. Look at the sensor and its wire first"
        return Verdict(False, f"{told}{share}: {why}")
    new = _put_right(ask, meter, shown)
    if new is None or not ask.sets:
        return Verdict(False, f"{told}{share}. {_by_hand(ask, meter, shown)}")
    was = f" (now {number_text(ask.now)})" if ask.now is not None else ""
    return Verdict(False, f"{told}{share}. Set {ask.sets}{was}", ((ask.sets, new),))


def _put_right(ask: Ask, meter: float, shown: float) -> float | None:
    """The setting's new value.

    Hand calculation. What is shown is the input's volts times the divider; so the new divider is
    the old one × meter / shown. A current is (millivolts - offset) / scale: a wrong scale becomes
    scale × shown / meter, a wrong offset becomes offset + (shown - meter) × scale.
    """
    if ask.now is None:
        return None
    if ask.way == "divider":
        return ask.now * meter / shown
    if ask.way == "scale":
        return ask.now * shown / meter
    return None if ask.scale is None else ask.now + (shown - meter) * ask.scale


def _by_hand(ask: Ask, meter: float, shown: float) -> str:
    """What to do where the setting itself is not told."""
    if ask.way == "divider":
        return f"Multiply the voltage's scale by {meter / shown:.4f}"
    if ask.way == "scale":
        return f"Multiply the current's millivolts for each ampere by {shown / meter:.4f}"
    return "Correct the current's value at no current"


def _turn(ask: Ask, text: str, arms: Sequence[str]) -> Verdict:
    arm, turn = ask.arm, ""
    for word in text.replace(",", " ").lower().split():
        folded = {name.lower(): name for name in (*arms, ask.arm)}
        if word in _TURNS:
            turn = _TURNS[word]
        elif word in folded:
            arm = folded[word]
        else:
            near = get_close_matches(word, [*folded, *_TURNS], n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise BadAnswer(f"{word!r}: an arm and cw or ccw are expected{hint}")
    if arm != ask.arm:
        return Verdict(
            False,
            f"{named(arm)} turned and not {named(ask.arm)}: give {arm} this output, and "
            f"{ask.arm} the one that turns it",
        )
    if not turn:
        raise BadAnswer("which way did it turn? cw or ccw, seen from above")
    if ask.turn and turn != ask.turn:
        return Verdict(
            False,
            f"it turned {_in_words(turn)} and must turn {_in_words(ask.turn)}: swap two of its "
            "three wires, or turn its direction round in the speed controller, not both",
        )
    wanted = "" if ask.turn else ", but which way it must turn is not told"
    return Verdict(bool(ask.turn), f"{named(arm)} turned {_in_words(turn)}{wanted}")


def _in_words(turn: str) -> str:
    return TURN_WORDS[SPINS[turn]]
