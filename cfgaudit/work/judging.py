"""Judges what was seen or measured at a step, and what setting would put it right."""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple, NoReturn

from cfgaudit.audit.sure import Judge, harm
from cfgaudit.dialects.editor import Dumps, LineChange, edit_dumps, line_changes
from cfgaudit.dialects.opening import joined
from cfgaudit.rules.geometry import SPINS, TURN_WORDS
from cfgaudit.vocabulary.kinds import (
    OFF_WORDS,
    ON_WORDS,
    BadValue,
    Quantity,
)
from cfgaudit.vocabulary.paths import declared, did_you_mean
from cfgaudit.vocabulary.units import number_text
from cfgaudit.work.confirm import steps_of
from cfgaudit.work.steps import Ask, BenchStep, named

_ROUNDING: Final = 1e-9
_FAR: Final = 0.2  # beyond this part no scale is to blame (common practice)
_FAR_OFF: Final = 3.0  # A: beyond this no zero of a current sensor is to blame (common practice)
_TEN: Final = 0.8, 1.25  # a scale that is off by ten shows a tenth or ten times within this part
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


class Judgement(NamedTuple):
    """Whether a step passed, why, and the settings that would put it right, by path."""

    passed: bool
    says: str
    sets: tuple[tuple[str, float], ...] = ()


def judge(step: BenchStep, value: str, arms: Sequence[str] = ()) -> Judgement:
    """Judge a value, empty for none. `arms` are the craft's arms. Raises BadAnswer."""
    ask, text = step.ask, value.strip()
    if text.lower() in OFF_WORDS - {"0"}:
        return Judgement(False, "not as expected")
    if ask.kind == "yes":
        if text and text.lower() not in ON_WORDS:
            raise BadAnswer(f"{text!r}: yes or no is expected at {step.id}")
        return Judgement(True, "as expected")
    if not text:
        raise BadAnswer(f'{step.id} wants what was seen: --value "{ask.sample}", or no')
    if ask.kind == "number":
        return _number(ask, text)
    return _pair(ask, text) if ask.kind == "pair" else _turn(ask, text, arms)


def _read(unit: str, text: str, ask: Ask) -> float:
    try:
        found = Quantity(unit).read(text)
    except BadValue:
        _refuse(text, ask)
    assert isinstance(found, int | float)
    return float(found)


def _refuse(text: str, ask: Ask) -> NoReturn:
    raise BadAnswer(f"{text!r}: {ask.sample} is expected, or no")


def _number(ask: Ask, text: str) -> Judgement:
    found = _read(ask.unit, text, ask)
    told = f"{number_text(found)} {ask.unit}"
    low, high = ask.low, ask.high
    if low is not None and found < low - _ROUNDING:
        return Judgement(False, f"{told} is below {number_text(low)} {ask.unit}")
    if high is not None and found > high + _ROUNDING:
        return Judgement(False, f"{told} is above {number_text(high)} {ask.unit}")
    return Judgement(True, f"{told}, as expected")


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


def _pair(ask: Ask, text: str) -> Judgement:
    meter, shown = _both(ask, text)
    unit = ask.unit
    if meter < 0 or shown < 0 or (ask.part and not meter):
        raise BadAnswer(f"{text!r}: {unit} above nought are expected")
    gap = abs(shown - meter)
    told = f"the meter shows {number_text(meter)} {unit}, the craft {number_text(shown)} {unit}"
    share = f", {gap / meter * 100:.1f} % off" if meter else ""
    if gap <= max(ask.part * meter, ask.least) + _ROUNDING:
        return Judgement(True, f"{told}{share}")
    if ask.part and (not shown or gap > _FAR * meter):
        why = "too far for a wrong scale. Look at the sensor and its wire first"
        return Judgement(False, f"{told}{share}: {why}")
    if ask.way == "offset" and (gap > _FAR_OFF or _ten_times(meter, shown)):
        why = "too far for a wrong zero. Look at the scale, the sensor and its wire first"
        return Judgement(False, f"{told}{share}: {why}")
    new = _put_right(ask, meter, shown)
    if new is None or not ask.sets:
        return Judgement(False, f"{told}{share}. {_by_hand(ask, meter, shown)}")
    was = f" (now {number_text(ask.now)})" if ask.now is not None else ""
    return Judgement(False, f"{told}{share}. Set {ask.sets}{was}", ((ask.sets, new),))


def _ten_times(meter: float, shown: float) -> bool:
    least, most = sorted((meter, shown))
    return least > 0 and _TEN[0] <= most / least / 10 <= _TEN[1]


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


def _turn(ask: Ask, text: str, arms: Sequence[str]) -> Judgement:
    arm, turn = ask.arm, ""
    folded = {name.lower(): name for name in (*arms, ask.arm)}
    said = f" {' '.join(text.replace(',', ' ').lower().split())} "
    for name in sorted(folded, key=len, reverse=True):  # the list shows "front left" as two words
        said = said.replace(f" {name.replace('_', ' ')} ", f" {name} ")
    for word in said.split():
        if word in _TURNS:
            turn = _TURNS[word]
        elif word in folded:
            arm = folded[word]
        else:
            hint = did_you_mean(word, [*folded, *_TURNS])
            raise BadAnswer(f"{word!r}: an arm and cw or ccw are expected{hint}")
    if arm != ask.arm:
        return Judgement(
            False,
            f"{named(arm)} turned and not {named(ask.arm)}: give {arm} this output, and "
            f"{ask.arm} the one that turns it. Correct the build sheet too where it says otherwise",
        )
    if not turn:
        raise BadAnswer("which way did it turn? cw or ccw, seen from above")
    if ask.turn and turn != ask.turn:
        return Judgement(
            False,
            f"it turned {_in_words(turn)} and must turn {_in_words(ask.turn)}: swap two of its "
            "three wires, or turn its direction round in the speed controller, not both",
        )
    wanted = "" if ask.turn else ", but which way it must turn is not told"
    return Judgement(bool(ask.turn), f"{named(arm)} turned {_in_words(turn)}{wanted}")


def _in_words(turn: str) -> str:
    return TURN_WORDS[SPINS[turn]]


_DIGITS: Final = Fraction(1, 1000)  # where the dump counts in no steps of its own


class PutRight(NamedTuple):
    """One setting's new value as text, or why it can't be."""

    path: str
    value: str
    why_not: str = ""


class Recorded(NamedTuple):
    """What was recorded of a step, and what would put it right.

    `opened` are the steps that are no longer shut, now that this one is done.
    """

    step: BenchStep
    verdict: Judgement
    settings: tuple[PutRight, ...]
    changes: tuple[LineChange, ...]
    opened: tuple[str, ...]


class Undone(NamedTuple):
    """What was taken back of a step, and the steps that are shut again by that."""

    step: str
    shut: tuple[str, ...]


def put_right(
    dumps: Dumps, sets: Sequence[tuple[str, float]], audited: Judge
) -> tuple[tuple[PutRight, ...], tuple[LineChange, ...]]:
    """The settings as they would be written, and the lines of the dumps that change.

    No line is given that is not sure by what `audited` finds without and with it (audit/sure.py).
    """
    steps = _steps(dumps)
    wanted: dict[str, float] = {}
    found: list[PutRight] = []
    for path, value in sets:
        entry = declared(path)
        assert entry is not None  # as the list took it from the vocabulary
        new = _rounded(value, *steps.get(path, (_DIGITS, Fraction(0))))
        why = entry.kind.beyond(new)
        found.append(PutRight(path, entry.kind.spell(new), why))
        if not why:
            wanted[path] = new
    if not dumps or not wanted:
        return tuple(found), ()
    after, refused = edit_dumps(dumps, wanted)
    told = tuple(one._replace(why_not=one.why_not or refused.get(one.path, "")) for one in found)
    area = next(iter(wanted)).partition(".")[0]
    why = harm(wanted, audited(joined(dumps)), audited(joined(after)), area)
    if why:
        return tuple(one._replace(why_not=one.why_not or f"it {why}") for one in told), ()
    return told, line_changes(dumps, after)


def _steps(dumps: Dumps) -> dict[str, tuple[Fraction, Fraction]]:
    """The size of a setting's steps and where their count begins, by path."""
    return {
        path: (step.size, step.start)
        for dump in dumps
        for path, several in steps_of(dump).items()
        for step in several
        if not step.part
    }


def _rounded(value: float, size: Fraction, start: Fraction) -> float:
    """The nearest value on a step.

    >>> _rounded(26.418, Fraction(1, 10), Fraction(0))
    26.4
    """
    return float(round((Fraction(str(value)) - start) / size) * size + start)
