"""What a dump itself tells of its numbers: units in names and columns, scales in remarks."""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from cfgaudit.teaching.keys import Family, Field
from cfgaudit.units import is_unit

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
