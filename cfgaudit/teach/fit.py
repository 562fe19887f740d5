"""Where values can belong: settings of the vocabulary, hints of the dump, how well they fit."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from math import log10
from typing import NamedTuple

from cfgaudit.dialects.collect import ELEMENT_PARTS
from cfgaudit.teach.keys import NOTHING, Family, Field
from cfgaudit.teach.words import ARMS, about, data_table, merged, pair_up, tokens
from cfgaudit.vocabulary.kinds import (
    OFF_WORDS,
    ON_WORDS,
    Bool,
    Either,
    Filters,
    Int,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Text,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import Declared, vocabulary
from cfgaudit.vocabulary.units import UnitError, convert, is_unit

AXES = ("roll", "pitch", "yaw")
_SAID, _ABOVE_WEIGHT = 0.45, 0.6  # how much a word of the description, of the path above counts
# Names that a firmware may spell out in the key instead of in an index of its own.
_SPELLED = {"AXIS": AXES, "CONTROL": ("roll", "pitch", "throttle", "yaw")}


@dataclass(frozen=True)
class Goal:
    """One setting, or one part of an element of a list setting, with its indices in capitals."""

    target: str  # as a dialect names it: `ports.ID.baud`, `switches.FUNCTION.low`
    indices: tuple[str, ...]
    kind: Kind
    order: int  # in the vocabulary
    group: str  # the part of the vocabulary that it belongs to
    ideas: Mapping[str, float]
    choices: Mapping[str, tuple[str, ...]]  # closed lists of names, by index
    usual: tuple[float, float] | None = None
    one_of: frozenset[float] = frozenset()
    contrary: frozenset[str] = frozenset()  # words of a name that say the opposite
    spelled: str = ""  # the word of the key that it needs


@cache
def goals() -> tuple[Goal, ...]:
    """Every goal, in the order of the vocabulary."""
    return tuple(goal for order, entry in enumerate(vocabulary()) for goal in _of(entry, order))


def _of(entry: Declared, order: int) -> Iterator[Goal]:
    if entry.pattern in ("firmware.name", "firmware.version", "firmware.built"):
        return
    if entry.pattern in ("board.name", "board.revision"):
        return
    parts = ELEMENT_PARTS.get(type(entry.kind), {})
    if not parts:
        yield from _variants(entry, entry.pattern, entry.kind, order)
        return
    for number, (name, kind) in enumerate(parts.items()):
        target = f"{entry.pattern}.{name}"
        if isinstance(entry.kind, Filters):
            yield _goal(entry, f"{entry.pattern}[SLOT].{name}", target, kind, order, "", number)
            yield _goal(entry, f"{entry.pattern}[].{name}", target, kind, order, "", number)
        else:
            yield _goal(entry, target, target, kind, order, "", number)


def _variants(entry: Declared, pattern: str, kind: Kind, order: int) -> Iterator[Goal]:
    yield _goal(entry, pattern, pattern, kind, order)
    for index, names in _SPELLED.items():
        if index not in pattern.split("."):
            continue
        for number, name in enumerate(names):
            target = ".".join(name if word == index else word for word in pattern.split("."))
            yield _goal(entry, target, target, kind, order, name, number)


def _goal(
    entry: Declared, target: str, key: str, kind: Kind, order: int, spelled: str = "", at: int = 0
) -> Goal:
    facts = data_table("usual")
    words = key.split(".")
    capital = tuple(w for w in words if w.isupper())
    if "[SLOT]" in target:
        capital = (*capital, "SLOT")
    own = about(tokens(words[-1]) if not words[-1].isupper() else tokens(words[-2]))
    above = about((t for w in words[:-1] if not w.isupper() for t in tokens(w)), _ABOVE_WEIGHT)
    said = about(tokens(entry.traits.says), _SAID)
    sort = ".".join(entry.pattern.split(".") if key == entry.pattern else words)
    pattern = entry.pattern if spelled else sort
    span = facts["range"].get(key) or facts["range"].get(pattern)
    group = [w for w in words[:-1] if w not in (spelled, "AXIS")]
    return Goal(
        target,
        capital,
        kind,
        order * 10 + at,
        ".".join(group) or words[0],
        merged(own, above, said),
        dict(entry.choices),
        (float(span[0]), float(span[1])) if span else None,
        frozenset(float(v) for v in facts["one_of"].get(key, facts["one_of"].get(pattern, ()))),
        frozenset(facts["contrary"].get(entry.pattern, "").split()),
        spelled,
    )


def is_part(goal: Goal) -> bool:
    """Whether it is a part of one element of a list setting."""
    return "[" in goal.target or (
        goal.target.startswith("switches.") and goal.target.count(".") == 2
    )


# Parts of one as English names them; a remark may say that numbers count them.
_PARTS = {
    "half": 2, "third": 3, "quarter": 4, "fifth": 5, "eighth": 8, "sixteenth": 16, "twentieth": 20,
    "tenth": 10, "hundredth": 100, "thousandth": 1000,
}  # fmt: skip
_PART = re.compile(rf"\b({'|'.join(_PARTS)})s?\b")
_STEPS = re.compile(r"steps? of (\d+(?:\.\d+)?)")
_ABOVE = re.compile(r"(?:above|from|over|starting at|beyond) (\d{2,})")
_OF = re.compile(r"s? of (?:a |an |one )?([a-z]+?)s?\b")
_NAMED_UNITS = {
    "volt": "V", "degree": "deg", "second": "s", "metre": "m", "meter": "m", "hertz": "Hz",
    "microsecond": "us", "baud": "Bd", "percent": "%", "milliwatt": "mW",
}  # fmt: skip
_FROM_ZERO = re.compile(r"count(?:s|ed|ing)? from (0|zero|nought|naught|1|one)")
# Units as the end of a name spells them.
_SUFFIXES = {
    "ms": "ms", "us": "us", "usec": "us", "msec": "ms", "hz": "Hz", "khz": "kHz", "mv": "mV",
    "mah": "mAh", "ma": "mA", "deg": "deg", "dps": "deg/s", "cm": "cm", "mm": "mm", "mhz": "MHz",
    "mw": "mW", "pct": "%", "percent": "%", "cms": "cm/s", "sec": "s", "secs": "s", "seconds": "s",
    "baud": "Bd", "kbd": "kBd", "metres": "m", "degrees": "deg", "mb": "MB",
}  # fmt: skip


class Hint(NamedTuple):
    """What the dump tells of a field's numbers; None and empty where it tells nothing."""

    unit: str = ""
    step: Fraction | None = None
    scale: Fraction | None = None
    above: Fraction = Fraction(0)
    shift: int | None = None  # what a count lacks to begin from 1
    of: str = ""  # the unit that the scale is of, where the remark names one


def hint_for(family: Family, seen: Field) -> Hint:
    """The hints for a field, of its own line first, then of the remark above."""
    step = _fraction(seen.step)
    if seen.unit or step is not None:
        return Hint(seen.unit, step)
    unit = _suffix(seen.names)
    if unit:
        return Hint(unit)
    remark = " ".join(remark.casefold() for remark in family.remarks)
    scale: Fraction | None = None
    part = _PART.search(remark)
    steps = _STEPS.search(remark)
    above = Fraction(0)
    if steps:
        scale = Fraction(steps.group(1))
        over = _ABOVE.search(remark)
        above = Fraction(over.group(1)) if over else above
    elif part:
        scale = Fraction(1, _PARTS[part.group(1)])
    counted = _FROM_ZERO.search(remark)
    shift = None if counted is None else int(counted.group(1) not in ("1", "one"))
    named = _OF.search(remark)
    of = _NAMED_UNITS.get(named.group(1), "") if named else ""
    return Hint("", None, scale, above, shift, of)


def _suffix(names: Sequence[str]) -> str:
    """The unit that a name ends in, where a separator stands before it."""
    for name in names:
        parts = re.split(r"[_\-. ()\[\]/]+", name.strip("()[] "))
        if len(parts) > 1:
            last = parts[-1]
            if last.casefold() in _SUFFIXES:
                return _SUFFIXES[last.casefold()]
            if last in ("V", "A", "W", "%") and is_unit(last):
                return last
    return ""


def _fraction(text: str) -> Fraction | None:
    try:
        return Fraction(text) if text else None
    except (ValueError, ZeroDivisionError):
        return None


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


class ValueFit(NamedTuple):
    """How well values fit a goal: points, the specification for it, and what it needs."""

    points: float
    spec: str = ""
    words: tuple[tuple[str, str], ...] = ()  # a word list: theirs, ours
    lacks: str = ""  # why it can't be put to work as it is


IMPOSSIBLE = ValueFit(-9.0)


def value_fit(goal: Goal, seen: Field, hint: Hint) -> ValueFit:
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


def _flag_fit(goal: Goal, seen: Field) -> ValueFit:
    texts = {sample.text.casefold() for sample in seen.samples}
    names = {word for name in seen.names for word in tokens(name)}
    turned = bool(names & _NEGATIVE) or bool(names & goal.contrary)
    spec = "not" if turned else ""
    if seen.switch:
        return ValueFit(0.5, spec)
    if texts and texts <= _YES | _NO:
        words = [(t, "off" if (t in _NO) is not turned else "on") for t in sorted(texts)]
        return ValueFit(0.4, "words", tuple(words))
    if not texts or not texts <= ON_WORDS | OFF_WORDS:
        return IMPOSSIBLE
    return ValueFit(-0.8 if texts <= {"0", "1"} else 0.5, spec)


def _text_fit(seen: Field) -> ValueFit:
    texts = [sample.text for sample in seen.samples]
    if any(text.startswith('"') for text in texts):
        return ValueFit(0.7)
    if {t.casefold() for t in texts} <= _SIGNS:
        return IMPOSSIBLE
    return ValueFit(0.2 if not seen.numbers else -1.2)


def _word_fit(choices: tuple[str, ...], seen: Field, *, many: bool = False) -> ValueFit:
    theirs = [w for w in seen.words if w.casefold() not in _SIGNS]
    if seen.numbers or not seen.words:
        return ValueFit(-1.5, lacks="numbers stand for words") if seen.numbers else ValueFit(-1.0)
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
    return ValueFit(points, "words", tuple(found.items()), lacks)


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


def _set_fit(kind: WordSet, seen: Field) -> ValueFit:
    if seen.words:
        return IMPOSSIBLE
    numbers = seen.numbers
    if not numbers or any(n < 0 or n % 1 or n >= 2**16 for n in numbers):
        return IMPOSSIBLE
    powers = [n for n in numbers if n and not int(n) & (int(n) - 1)]
    several = 0.9 if len(set(powers)) >= 3 else 0.0
    return ValueFit(several - 0.2, "flags", lacks="which bit means what is not known")


def _either_fit(goal: Goal, kind: Either, seen: Field, hint: Hint) -> ValueFit:
    texts = {sample.text.casefold() for sample in seen.samples}
    if texts <= set(kind.words):
        return ValueFit(0.3)
    if texts <= ON_WORDS | OFF_WORDS and not seen.numbers:
        return ValueFit(-0.6, lacks="on and off stand for words")
    others = [w for w in seen.words if w.casefold() not in kind.words]
    if others or not seen.numbers:
        return ValueFit(-1.5, lacks="words not understood") if len(others) < 2 else IMPOSSIBLE
    if isinstance(kind.other, Int):
        return _whole_fit(goal, kind.other, seen, hint)
    return _number_fit(goal, kind.other, seen, hint)


def _whole_fit(goal: Goal, kind: Int, seen: Field, hint: Hint) -> ValueFit:
    numbers = seen.numbers
    if seen.words or not numbers or any(n % 1 for n in numbers):
        return IMPOSSIBLE
    if hint.unit:
        return ValueFit(-3.0)
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
    return ValueFit(_usual(goal, values, (kind.low, kind.high)), spec, lacks=lacks)


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


def _number_fit(goal: Goal, kind: Quantity | Quantities, seen: Field, hint: Hint) -> ValueFit:
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
            best, way = ValueFit(points), (scale, offset)
    if way is not None:
        best = best._replace(spec=spec_text(*way, kind.unit, many=many))
    if goal.target.startswith("switches.") and best.points < -0.5 and not hint.unit:
        return ValueFit(
            -0.3, lacks="the step of its numbers, and what they count from, is not known"
        )
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
