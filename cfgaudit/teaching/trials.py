"""Rules that turn a dump's text into a neutral value, found from a few trials."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from cfgaudit.craft.kinds import (
    OFF_WORDS,
    ON_WORDS,
    Bool,
    Either,
    Int,
    Kind,
    Quantity,
    Text,
    WordSet,
    value_text,
)
from cfgaudit.craft.values import Value
from cfgaudit.dialects.collect import ELEMENT_PARTS
from cfgaudit.teaching.values import spec_text

_PLAIN_SCALES = tuple(
    Fraction(text) for text in ("1", "1/10", "1/100", "1/1000", "10", "100", "1000")
)


_NO_LINE = "?"  # a rule that no mapping line can say


class Trial(NamedTuple):
    """A key's text before and after (None where the line is not there), and the values."""

    before: str | None
    after: str | None
    value: Value
    was: Value | None


class Told(NamedTuple):
    """One rule: its specification (TABLE stands for a table's name), what it needs, its cost."""

    spec: str
    says: str
    cost: float
    words: Mapping[str, str] = {}
    flags: Mapping[str, int] = {}

    @property
    def mappable(self) -> bool:
        """Whether a dialect's mapping line can say it."""
        return self.spec != _NO_LINE

    def table_name(self, target: str) -> str:
        """A name for the table of words or flags that it needs."""
        return "learnt_" + "_".join(w for w in target.split(".") if not w.isupper())


def rules_for(kind: Kind, trials: Sequence[Trial]) -> Iterator[Told]:
    """Every rule that gives the values of all trials from their texts."""
    if isinstance(kind, Bool):
        yield from _flag_rules(trials)
        yield from _bit_rules(trials)
        return
    if isinstance(kind, WordSet):
        yield from _set_rules(trials)
        return
    pairs = _observed(trials)
    if pairs is None:
        return
    numbers = [(_number(text), value) for text, value in pairs]
    if isinstance(kind, Quantity | Int | Either) and all(
        raw is not None and isinstance(value, int | float) for raw, value in numbers
    ):
        known = [
            (raw, Fraction(str(value)))
            for raw, value in numbers
            if raw is not None and isinstance(value, int | float)
        ]
        yield from _number_rules(kind, known)
        return
    if any(raw is None for raw, _ in numbers) or not isinstance(kind, Quantity | Int):
        yield from _word_rules(kind, pairs)


def _observed(trials: Sequence[Trial]) -> list[tuple[str, Value]] | None:
    """Texts with their values; those from before count where the value was told."""
    found: list[tuple[str, Value]] = []
    for trial in trials:
        if trial.after is None:
            return None
        found.append((trial.after, trial.value))
        if trial.was is not None and trial.before is not None:
            found.append((trial.before, trial.was))
    return found


def _number(text: str) -> Fraction | None:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        return None


def _number_rules(kind: Kind, pairs: Sequence[tuple[Fraction, Fraction]]) -> Iterator[Told]:
    unit = kind.unit if isinstance(kind, Quantity) else ""
    if isinstance(kind, Either) and isinstance(kind.other, Quantity):
        unit = kind.other.unit
    whole = isinstance(kind, Int) or (isinstance(kind, Either) and isinstance(kind.other, Int))
    distinct = dict(pairs)
    if len({raw for raw, _ in pairs}) < len({value for _, value in pairs}):
        return
    for raw, value in pairs:
        if distinct[raw] != value:
            return
    if whole:
        shifts = {value - raw for raw, value in pairs}
        if len(shifts) == 1 and (shift := shifts.pop()) in (0, 1):
            spec = "from 0" if shift else ""
            yield Told(spec, "counted from 0" if shift else "as it stands", float(shift) / 4)
        return
    scales = {value / raw for raw, value in pairs if raw}
    if len(scales) == 1 and all(bool(raw) == bool(value) for raw, value in pairs):
        scale = scales.pop()
        spec = spec_text(scale, Fraction(0), unit)
        cost = _scale_cost(scale)
        says = f"{spec or 'the number'} for each one" if scale != 1 else f"as it stands, {spec}"
        yield Told(spec, says.removesuffix(", "), cost)
        return
    yield from _straight_line(pairs, unit)


def _straight_line(pairs: Sequence[tuple[Fraction, Fraction]], unit: str) -> Iterator[Told]:
    """A scale and an offset: two values tell them, any further one must agree."""
    points = sorted(dict(pairs).items())
    if len(points) < 2:
        return
    (first, low), (last, high) = points[0], points[-1]
    scale = (high - low) / (last - first)
    offset = low - scale * first
    if scale and all(scale * raw + offset == value for raw, value in points):
        spec = spec_text(scale, offset, unit)
        yield Told(spec, f"{spec}: a step and an offset", 1.5 if len(points) > 2 else 2.0)


def _scale_cost(scale: Fraction) -> float:
    if scale == 1:
        return 0.0
    if abs(scale) in _PLAIN_SCALES:
        return 0.5 if scale > 0 else 0.6
    simple = abs(scale).numerator == 1 or abs(scale).denominator == 1
    return 1.0 if simple and scale.numerator < 1000 and scale.denominator < 1000 else 2.5


def _word_rules(kind: Kind, pairs: Sequence[tuple[str, Value]]) -> Iterator[Told]:
    """A word for each value; a text of somebody's own has none but itself."""
    words: dict[str, str] = {}
    for text, value in pairs:
        ours = value if isinstance(value, str) else value_text(kind, value)
        if words.setdefault(text, ours) != ours:
            return
    if len(set(words.values())) < len(words):
        return
    if all(text == ours for text, ours in words.items()):
        yield Told("", "as it stands", 0.0)
    elif not isinstance(kind, Text) and type(kind) not in ELEMENT_PARTS:
        said = ", ".join(f"{text} = {ours}" for text, ours in words.items())
        figures = any(_number(text) is not None for text in words)
        yield Told("words TABLE", f"words: {said}", 1.5 if figures else 0.5, words)


def _flag_rules(trials: Sequence[Trial]) -> Iterator[Told]:
    """On and off as words; what it was before is the other one."""
    seen: dict[str, bool] = {}
    for trial in trials:
        for text, value in ((trial.after, trial.value), (trial.before, not trial.value)):
            if text is None:
                continue
            if seen.setdefault(text.casefold(), bool(value)) is not bool(value):
                return
    if not seen:
        return
    if all(text in (ON_WORDS if value else OFF_WORDS) for text, value in seen.items()):
        yield Told("", "on is on", 0.0)
    elif all(text in (OFF_WORDS if value else ON_WORDS) for text, value in seen.items()):
        yield Told("not", "on is off", 0.3)
    elif len(seen) == 2 and not all(text.lstrip("-").isdigit() for text in seen):
        words = {text: "on" if value else "off" for text, value in seen.items()}
        said = ", ".join(f"{text} = {ours}" for text, ours in words.items())
        yield Told("words TABLE", f"words: {said}", 0.5, words)


def _bit_rules(trials: Sequence[Trial]) -> Iterator[Told]:
    """One bit of a number that is on with the setting: told, but no dialect line can say it."""
    bits: set[int] = set()
    for trial in trials:
        bit = _bit_changed(trial)
        if bit is None or bool(int(trial.after or "0") & bit) is not bool(trial.value):
            return
        bits.add(bit)
    if len(bits) == 1 and not {t.after for t in trials} <= {"0", "1"}:
        bit = bits.pop()
        said = f"the bit {bit} in a number; a dialect can read such bits as a set of words alone"
        yield Told(_NO_LINE, said, 0.8)


def _bit_changed(trial: Trial) -> int | None:
    """The one bit in which two numbers differ."""
    if not (trial.before or "").isdecimal() or not (trial.after or "").isdecimal():
        return None
    changed = int(trial.before or "0") ^ int(trial.after or "0")
    return changed if changed and not changed & (changed - 1) else None


def _set_rules(trials: Sequence[Trial]) -> Iterator[Told]:
    """The bit of each word: in every number whose set has the word, and in no other."""
    seen: list[tuple[int, frozenset[str]]] = []
    for trial in trials:
        for text, value in ((trial.after, trial.value), (trial.before, trial.was)):
            if isinstance(value, frozenset) and text is not None and text.isdecimal():
                seen.append((int(text), value))
    if not seen:
        yield from _set_words(trials)
        return
    if any(bool(number) is not bool(words) for number, words in seen):
        return
    flags = _bits(seen)
    for number, words in seen:
        if sum(flags.get(word, 0) for word in words) != number:
            return
    said = ", ".join(f"{word} = {bit}" for word, bit in flags.items())
    yield Told("flags TABLE", f"bits: {said}", 0.8, flags=flags)


def _bits(seen: Sequence[tuple[int, frozenset[str]]]) -> dict[str, int]:
    """The bit of each word that can be told; a word whose bit can't be is left out."""
    flags: dict[str, int] = {}
    for _ in range(len(seen) + 1):  # a bit that was found may tell others
        for word in sorted({word for _, words in seen for word in words} - flags.keys()):
            mask = -1
            for number, words in seen:
                left = number & ~sum(bit for other, bit in flags.items() if other in words)
                mask &= left if word in words else ~number
            if mask > 0 and not mask & (mask - 1):
                flags[word] = mask
    return flags


def _set_words(trials: Sequence[Trial]) -> Iterator[Told]:
    """A set of one word, written as a word."""
    words: dict[str, str] = {}
    for trial in trials:
        if trial.after is None or not isinstance(trial.value, frozenset) or len(trial.value) != 1:
            return
        words[trial.after] = next(iter(trial.value))
    if all(text == ours for text, ours in words.items()):
        yield Told("", "as it stands", 0.0)
    elif len(set(words.values())) == len(words):
        yield Told("words TABLE", "words of its own", 0.5, words)
