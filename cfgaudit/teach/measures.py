"""Units as dumps spell them: in a key, in a cell, glued to a number, in a remark."""

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from cfgaudit.reading.shapes import Span
from cfgaudit.vocabulary.units import UnitError, is_unit, unit


class Measure(NamedTuple):
    """A unit of the vocabulary, and how much of it one step is worth."""

    unit: str
    scale: Fraction = Fraction(1)


# As they are spelled, small letters: the unit and the worth of a step. What is spelled as the
# vocabulary spells it is not listed.
_SPELLED = {
    "us": "us", "usec": "us", "usecs": "us", "microsecond": "us", "microseconds": "us",
    "ms": "ms", "msec": "ms", "millisecond": "ms", "milliseconds": "ms", "millis": "ms",
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "hz": "Hz", "hertz": "Hz", "khz": "kHz", "kilohertz": "kHz", "mhz": "MHz", "megahertz": "MHz",
    "v": "V", "volt": "V", "volts": "V", "mv": "mV", "millivolt": "mV", "millivolts": "mV",
    "a": "A", "amp": "A", "amps": "A", "ma": "mA", "milliamps": "mA",
    "mah": "mAh", "ah": "Ah", "amphours": "Ah", "w": "W", "mw": "mW", "milliwatt": "mW",
    "milliwatts": "mW", "deg": "deg", "degs": "deg", "degree": "deg", "degrees": "deg",
    "ddeg": "0.1 deg", "decideg": "0.1 deg", "decidegrees": "0.1 deg", "cdeg": "0.01 deg",
    "centideg": "0.01 deg", "dps": "deg/s", "deg/s": "deg/s", "degs/s": "deg/s",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m", "cm": "cm",
    "centimetre": "cm", "centimetres": "cm", "dm": "0.1 m", "decimetre": "0.1 m",
    "decimetres": "0.1 m", "mm": "mm", "millimetre": "mm", "millimetres": "mm",
    "cm/s": "cm/s", "cms": "cm/s", "m/s": "m/s", "mps": "m/s", "dm/s": "0.1 m/s",
    "km/h": "km/h", "kmh": "km/h", "kph": "km/h",
    "bd": "Bd", "baud": "Bd", "kbd": "kBd", "kbaud": "kBd", "bps": "Bd",
    "%": "%", "pct": "%", "percent": "%", "permil": "0.1 %", "permille": "0.1 %",
    "mb": "MB", "megabyte": "MB", "megabytes": "MB", "gb": "GB", "kb": "kB", "b": "B",
    "byte": "B", "bytes": "B", "mv/a": "mV/A", "g": "g", "grams": "g", "c": "", "x": "",
    "celsius": "", "raw": "", "loops": "",
}  # fmt: skip
# Parts and multiples as words say them.
_PARTS = {
    "half": "1/2", "halves": "1/2", "third": "1/3", "quarter": "1/4", "fifth": "1/5",
    "eighth": "1/8",
    "sixteenth": "1/16", "twentieth": "1/20", "tenth": "1/10", "hundredth": "1/100",
    "thousandth": "1/1000", "five": "5", "ten": "10", "hundred": "100", "thousand": "1000",
}  # fmt: skip
_PART = re.compile(rf"\b({'|'.join(_PARTS)})s?\b")
_PARTED = re.compile(r"([a-z%]+)/(10+)\b")  # mm/10: tenths of a millimetre
_WORD = re.compile(r"[a-z%]+(?:/[a-z]+)?")


@lru_cache(maxsize=4_000)
def unit_of(text: str) -> Measure | None:
    """The unit that a word is, however it is spelled; a word without a dimension has none.

    >>> unit_of("PCT"), unit_of("feathers")
    (Measure(unit='%', scale=Fraction(1, 1)), None)
    """
    spelled = _SPELLED.get(text.casefold())
    if is_unit(text) and not (spelled and text.isupper() and len(text) > 1):  # MV is no megavolt
        return Measure(text)
    if spelled is None:
        return None
    scale, _, symbol = spelled.rpartition(" ")
    return Measure(symbol, Fraction(scale) if scale else Fraction(1))


def measure_of(text: str) -> Measure | None:
    """The unit, and the worth of a step, that a cell tells: `ms`, `0.1s`, `10 us`, `x100`.

    >>> measure_of("10us"), measure_of("x100"), measure_of("1/100 s")
    (Measure(unit='us', scale=Fraction(10, 1)), Measure(unit='', scale=Fraction(1, 100)), \
Measure(unit='s', scale=Fraction(1, 100)))
    """
    plain = unit_of(text)
    if plain is not None:
        return plain
    if _PER_SECOND.fullmatch(text.strip().casefold()):
        return Measure("Hz")
    times = _TIMES.fullmatch(text.strip())
    if times:
        return Measure("", 1 / Fraction(times.group(1)))
    share = _SHARE_OF.fullmatch(text.strip())
    if share:  # of 1000: parts of a whole
        return Measure("%", 100 / Fraction(share[1]))
    stepped = _STEPPED.fullmatch(text.strip())
    own = unit_of(stepped.group(2)) if stepped else None
    return Measure(own.unit, own.scale * Fraction(stepped.group(1))) if stepped and own else None


_PER_SECOND = re.compile(r"(?:per|/|a) ?(?:s|sec|second)")
_SHARE_OF = re.compile(r"(?:of|out of|/) ?(100|1000)")
_TIMES = re.compile(r"[x*] ?(10+)")
_STEPPED = re.compile(r"(\d*\.?\d+|1/[1-9]\d*) ?(?:of an? )?(\D+)")


GLUED_UNIT = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))([A-Za-z%°/]{1,6})")


def glued_pieces(span: Span) -> list[tuple[Span, bool]]:
    """A number and the unit glued to it, each with whether it may vary; else the text as it is."""
    glued = GLUED_UNIT.fullmatch(span.text)
    if glued is None or unit_of(glued.group(2)) is None:
        return [(span, True)]
    return [
        (Span(glued.group(1), span.start), True),
        (Span(glued.group(2), span.start + glued.start(2)), False),
    ]


def aside_of(name: str) -> Measure | None:
    """The unit, or the worth of a step, that stands in brackets at a name's end: `Hold (0.1 s)`.

    >>> aside_of("Ratio (x 1000)")
    Measure(unit='', scale=Fraction(1, 1000))
    """
    found = re.search(r"[(\[]([^()\[\]]*)[)\]]$", name.strip())
    return measure_of(found.group(1).split(",")[0]) if found else None


def part_of(word: str) -> Fraction | None:
    """The part or multiple that a word says.

    >>> part_of("tenths"), part_of("tens")
    (Fraction(1, 10), Fraction(10, 1))
    """
    found = _PART.fullmatch(word.casefold())
    return Fraction(_PARTS[found.group(1)]) if found else None


# What one step is, alone in a remark: `0.1 %`, `in 0.01 s`, `1/8 deg`, `0.1`, `m`.
_STEP_ALONE = re.compile(r"(?:in |by |x ?)?(0?\.0*(?:1|25|125)|1/[1-9]\d*)(?: ?(?:of an? )?(\D+))?")


def _step_alone(clause: str) -> Measure | None:
    found = _STEP_ALONE.fullmatch(clause.strip())
    if found is None:
        own = unit_of(clause.strip())  # a letter is a unit only where it is all of it
        return own if own is not None and own.unit else None
    own = unit_of(found[2].strip()) if found[2] else Measure("")
    return Measure(own.unit, own.scale * Fraction(found[1])) if own is not None else None


def _share(clause: str, part: re.Match[str] | None, scale: Fraction) -> Measure | None:
    """A share of a turn or of a hundred: `quarter turns`, `per thousand`."""
    if part and re.search(rf"{part.group()}[ -]turns?\b", clause):
        return Measure("deg", scale * 360)
    if "per thousand" in clause or "per mille" in clause:
        return Measure("%", Fraction(1, 10))
    return Measure("%", scale) if "per cent" in clause or "percent" in clause else None


def measures_in(text: str) -> Iterator[Measure]:
    """Every measure that a remark tells of, in its order: `tenths of a second, degrees`.

    >>> list(measures_in("0.1 %, at rest"))
    [Measure(unit='%', scale=Fraction(1, 10))]
    """
    for clause in re.split(r"[,;:()]| and ", text.casefold()):
        part = _PART.search(clause)
        scale = Fraction(_PARTS[part.group(1)]) if part else Fraction(1)
        named = _step_alone(clause) or _share(clause, part, scale)
        if named is not None:
            yield named
            continue
        speed = re.search(r"(\w+?)s? (?:a|per|each) second", clause)
        parted = _PARTED.search(clause)
        own = unit_of(parted.group(1)) if parted else None
        if parted and own is not None:
            yield Measure(own.unit, own.scale / int(parted.group(2)))
            continue
        words = [word for word in _WORD.findall(clause) if len(word) > 1 or word == "%"]
        known = [m for m in map(unit_of, words) if m is not None and m.unit]
        if speed:
            base = unit_of(speed.group(1))
            if base is not None and base.unit in ("deg", "m", "cm"):
                yield Measure(f"{base.unit}/s", scale * base.scale)
                continue
        if known:
            yield Measure(known[0].unit, scale * known[0].scale)
        elif part and part.group() != "half":  # of a duplex, say
            yield Measure("", scale)


def same_dimension(one: str, other: str) -> bool:
    """Whether two units measure the same thing."""
    try:
        return unit(one).dimension == unit(other).dimension
    except UnitError:
        return False
