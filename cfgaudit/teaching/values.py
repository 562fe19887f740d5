"""How well the values seen fit a setting: its kind, its limits, what is usual, the unit stated."""

import re
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from math import log10
from typing import NamedTuple

from cfgaudit.craft.kinds import (
    OFF_WORDS,
    ON_WORDS,
    Bool,
    Either,
    Int,
    PadUse,
    Quantities,
    Quantity,
    Text,
    Words,
    WordSet,
)
from cfgaudit.teaching.goals import Goal
from cfgaudit.teaching.hints import Hint
from cfgaudit.teaching.indices import ARMS, pair_up
from cfgaudit.teaching.keys import NOTHING, Field
from cfgaudit.teaching.words import tokens
from cfgaudit.units import UnitError, convert

# How a number may have been written, and how much less likely that is than as it stands.
_SCALES = (
    ("1", 0.0), ("0.1", 0.35), ("0.01", 0.35), ("0.001", 0.35), ("10", 0.6), ("100", 0.6),
    ("1000", 0.6), ("0.5", 1.5), ("0.05", 1.5), ("0.25", 1.5), ("0.125", 1.5), ("2", 1.5),
    ("5", 1.5), ("20", 1.7), ("25", 1.7), ("50", 1.7), ("125", 1.5), ("250", 1.5), ("500", 1.5),
)  # fmt: skip
_NEGATIVE = frozenset(
    {"hidden", "hide", "hush", "mute", "without", "disabled", "suppress", "quiet"}
)
# What else says yes and no; a dialect needs a word list for them.
_YES = frozenset({"y", "t", "aye", "present", "set", "engaged", "active"})
_NO = frozenset({"n", "f", "nay", "absent", "clear", "idle", "inactive"})
_SIGNS = ON_WORDS | OFF_WORDS | {"y", "n"}
_UNSURE_BASE = "whether it counts from 0 or from 1 is not known"
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")


class Fit(NamedTuple):
    """How well values fit a goal: points, the specification for it, and what it needs."""

    points: float
    spec: str = ""
    words: tuple[tuple[str, str], ...] = ()  # a word list: theirs, ours
    lacks: str = ""  # why it can't be put to work as it is


IMPOSSIBLE = Fit(-9.0)


def value_fit(goal: Goal, seen: Field, hint: Hint) -> Fit:
    """How well a field's values fit a goal."""
    kind = goal.kind
    if isinstance(kind, Bool):
        return _flag_fit(goal, seen)
    if seen.switch:
        return IMPOSSIBLE
    if isinstance(kind, Text):
        return _text_fit(seen)
    if isinstance(kind, Words):
        return _word_fit(kind.choices, seen)
    if isinstance(kind, PadUse):
        return _word_fit(tuple(f"motor {arm}" for arm in ARMS) + kind.choices[1:], seen, many=True)
    if isinstance(kind, WordSet):
        return _set_fit(kind, seen)
    if isinstance(kind, Either):
        return _either_fit(goal, kind, seen, hint)
    if isinstance(kind, Int):
        return _whole_fit(goal, kind, seen, hint)
    if isinstance(kind, Quantity | Quantities):
        return _number_fit(goal, kind, seen, hint)
    return IMPOSSIBLE


def _flag_fit(goal: Goal, seen: Field) -> Fit:
    texts = {sample.text.casefold() for sample in seen.samples}
    names = {word for name in seen.names for word in tokens(name)}
    turned = bool(names & _NEGATIVE) or bool(names & goal.contrary)
    spec = "not" if turned else ""
    if seen.switch:
        return Fit(0.5, spec)
    if texts and texts <= _YES | _NO:
        words = [(t, "off" if (t in _NO) is not turned else "on") for t in sorted(texts)]
        return Fit(0.4, "words", tuple(words))
    if not texts or not texts <= ON_WORDS | OFF_WORDS:
        return IMPOSSIBLE
    return Fit(-0.8 if texts <= {"0", "1"} else 0.5, spec)


def _text_fit(seen: Field) -> Fit:
    texts = [sample.text for sample in seen.samples]
    if any(text.startswith('"') for text in texts):
        return Fit(0.7)
    if {t.casefold() for t in texts} <= _SIGNS:
        return IMPOSSIBLE
    return Fit(0.2 if not seen.numbers else -1.2)


def _word_fit(choices: tuple[str, ...], seen: Field, *, many: bool = False) -> Fit:
    theirs = [w for w in seen.words if w.casefold() not in _SIGNS]
    if seen.numbers or not seen.words:
        return Fit(-1.5, lacks="numbers stand for words") if seen.numbers else Fit(-1.0)
    if len(theirs) < len(seen.words) or (len(theirs) > len(choices)):
        return IMPOSSIBLE
    found = _paired(theirs, choices)
    share = len(found) / len(theirs)
    if "none" in choices:
        off = (s.text for s in seen.samples if s.text.casefold() in NOTHING)
        found |= {text: "none" for text in off if text not in found}
    lacks = "" if share == 1 else "words not understood: " + ", ".join(set(theirs) - found.keys())
    points = (
        1.3 * share - 0.5 + (0.3 * min(3, len(found)) * share if len(theirs) > 1 or many else 0)
    )
    return Fit(points, "words", tuple(found.items()), lacks)


def _paired(theirs: Sequence[str], choices: tuple[str, ...]) -> dict[str, str]:
    """Words paired with choices, one each; what repeats a number of the choice counts first."""
    found: dict[str, str] = {}
    for word in theirs:
        digits = re.findall(r"\d{3,}", word)
        same = [choice for choice in choices if digits and choice.endswith(digits[0])]
        if len(same) == 1:
            found[word] = same[0]
    rest = [word for word in theirs if word not in found]
    free = [choice for choice in choices if choice not in found.values()]
    return found | pair_up(rest, free)


def _set_fit(kind: WordSet, seen: Field) -> Fit:
    if seen.words:
        return IMPOSSIBLE
    numbers = seen.numbers
    if not numbers or any(n < 0 or n % 1 or n >= 2**16 for n in numbers):
        return IMPOSSIBLE
    powers = [n for n in numbers if n and not int(n) & (int(n) - 1)]
    several = 0.9 if len(set(powers)) >= 3 else 0.0
    return Fit(several - 0.2, "flags", lacks="which bit means what is not known")


def _either_fit(goal: Goal, kind: Either, seen: Field, hint: Hint) -> Fit:
    texts = {sample.text.casefold() for sample in seen.samples}
    if texts <= set(kind.words):
        return Fit(0.3)
    if texts <= ON_WORDS | OFF_WORDS and not seen.numbers:
        return Fit(-0.6, lacks="on and off stand for words")
    others = [w for w in seen.words if w.casefold() not in kind.words]
    if others or not seen.numbers:
        return Fit(-1.5, lacks="words not understood") if len(others) < 2 else IMPOSSIBLE
    if isinstance(kind.other, Int):
        return _whole_fit(goal, kind.other, seen, hint)
    return _number_fit(goal, kind.other, seen, hint)


def _whole_fit(goal: Goal, kind: Int, seen: Field, hint: Hint) -> Fit:
    numbers = seen.numbers
    if seen.words or not numbers or any(n % 1 for n in numbers):
        return IMPOSSIBLE
    if hint.unit:
        return Fit(-3.0)
    shift = 0
    counted = counts(goal)
    if counted and 0 in numbers and goal.target != "receiver.signal_channel":
        shift = 1
    shift = hint.shift if hint.shift is not None and counted else shift
    values = [n + shift for n in numbers]
    if not all(kind.low <= value <= kind.high for value in values):
        return IMPOSSIBLE
    lacks = "" if shift or hint.shift is not None or not counts(goal) else _UNSURE_BASE
    if lacks and sorted(set(numbers)) == list(range(1, len(set(numbers)) + 1)) and len(numbers) > 2:
        lacks = ""  # 1, 2, 3 and so on: nobody begins to count at 1 and means 2
    if lacks and seen.lettered:
        lacks = ""
    spec = "from 0" if shift else ""
    return Fit(_usual(goal, values, (kind.low, kind.high)), spec, lacks=lacks)


def counts(goal: Goal) -> bool:
    """Whether a setting is a number in a row of things that a firmware may count from 0."""
    return goal.target.startswith(("receiver.map.", "switches.")) or goal.target in (
        "receiver.signal_channel", "banks.active", "video.transmitter.channel",
        "overlay.elements.NAME.row", "overlay.elements.NAME.column", "motors.ARM.output",
    )  # fmt: skip


def _usual(goal: Goal, values: Sequence[float], limits: tuple[float, float]) -> float:
    """Points for values as they usually are: more where what is usual is narrow."""
    if goal.one_of:
        hits = sum(value in goal.one_of for value in values) / len(values)
        if hits > 0.8:
            return 0.2 if not any(values) else 1.1
        return 0.3 if hits > 0.3 else -0.5
    if goal.usual is None:
        return 0.0
    low, high = goal.usual
    own = [value for value in values if value] or list(values)
    hits = sum(low <= value <= high for value in own) / len(own)
    if hits < 0.5:
        return -0.7
    span = max(high - low, abs(high) * 0.02, 1e-6)
    narrow = log10(max(1.0, min(limits[1] - limits[0], 100 * span) / span))
    return 0.3 * hits + 0.45 * narrow * hits


def _number_fit(goal: Goal, kind: Quantity | Quantities, seen: Field, hint: Hint) -> Fit:
    numbers = seen.numbers
    if seen.words or not numbers:
        return IMPOSSIBLE
    many = isinstance(kind, Quantities)
    if many and (len(numbers) < 2 or len(numbers) != len(seen.samples)):
        return IMPOSSIBLE
    best, way = IMPOSSIBLE, None
    least, most = min(numbers), max(numbers)
    for scale, offset, cost, by, more in _ways(kind.unit, hint):
        one, other = round(least * by + more, 9), round(most * by + more, 9)
        if min(one, other) < kind.low or max(one, other) > kind.high:
            continue
        values = [round(n * by + more, 9) for n in numbers]
        points = _usual(goal, values, (kind.low, kind.high)) - cost
        if points > best.points:
            best, way = Fit(points), (scale, offset)
    if way is not None:
        best = best._replace(spec=spec_text(*way, kind.unit, many=many))
    if goal.target.startswith("switches.") and best.points < -0.5 and not hint.unit:
        return Fit(-0.3, lacks="the step of its numbers, and what they count from, is not known")
    return best


@lru_cache(maxsize=5_000)
def _ways(unit: str, hint: Hint) -> tuple[tuple[Fraction, Fraction, float, float, float], ...]:
    """Scales and offsets that come into question, what each costs, and both as plain numbers."""
    return tuple((s, o, cost, float(s), float(o)) for s, o, cost in _scales(unit, hint))


def _scales(unit: str, hint: Hint) -> list[tuple[Fraction, Fraction, float]]:
    """Scales and offsets that come into question, each with what it costs."""
    if hint.unit:
        try:
            stated = convert(Fraction(1), hint.unit, unit)
        except UnitError:
            return []
        return [(stated * (hint.step or 1), Fraction(0), -0.8)]
    ways = [(Fraction(text), Fraction(0), cost) for text, cost in _SCALES]
    if hint.step is not None:  # the line tells its step, and that it has no unit
        return [(hint.step, Fraction(0), 0.3 if unit else -0.5)]
    if hint.scale is not None and hint.of in ("", unit):
        known = [way for way in ways if way[0] == hint.scale]
        ways = [(s, o, c + 0.5) for s, o, c in ways if s != hint.scale and not hint.above]
        ways += [(hint.scale, hint.above, -0.6)] if unit == "us" or not hint.above else known
        if hint.above and unit != "us":
            ways += [(Fraction(text), Fraction(0), cost) for text, cost in _SCALES]
    return ways


def spec_text(scale: Fraction, offset: Fraction, unit: str, *, many: bool = False) -> str:
    """A scale, a unit and an offset as a dialect writes them."""
    scaled = "" if scale == 1 else _short(scale)
    text = f"{scaled} {unit}".strip()
    if offset:
        text = f"{_short(scale)} {unit} + {_short(offset)} {unit}".strip()
    return f"list {text}".strip() if many else text


def _short(number: Fraction) -> str:
    if number.denominator == 1:
        return str(number.numerator)
    plain = f"{float(number):.6f}".rstrip("0")
    return plain if Fraction(plain) == number else str(number)
