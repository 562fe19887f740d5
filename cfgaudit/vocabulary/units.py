"""Quantities: one table of units, exact conversion, and how a number is printed."""

import re
from fractions import Fraction
from functools import lru_cache
from typing import Final, NamedTuple

# SI prefixes, SI Brochure 9th edition, table 7 (the ones that occur in this trade).
PREFIXES: dict[str, Fraction] = {
    "": Fraction(1),
    "n": Fraction(1, 10**9),
    "µ": Fraction(1, 10**6),
    "u": Fraction(1, 10**6),
    "m": Fraction(1, 1000),
    "k": Fraction(1000),
    "M": Fraction(10**6),
    "G": Fraction(10**9),
}

# symbol: (dimension, factor to the dimension's first unit, whether SI prefixes go before it)
_PREFIXED: dict[str, tuple[str, Fraction]] = {
    "V": ("voltage", Fraction(1)),
    "A": ("current", Fraction(1)),
    "W": ("power", Fraction(1)),
    "Ah": ("charge", Fraction(1)),
    "Hz": ("frequency", Fraction(1)),
    "s": ("time", Fraction(1)),
    "m": ("length", Fraction(1)),
    "Bd": ("symbol rate", Fraction(1)),
    "B": ("data", Fraction(1)),
    "g": ("mass", Fraction(1)),
    "Ohm": ("resistance", Fraction(1)),
}

# 180 / pi, to 25 digits (OEIS A072097).
_RADIAN = Fraction("57.2957795130823208767981548")

# Angles count in degrees, since most dumps do; a radian is the one unit that is no exact number
# of others.
_PLAIN: dict[str, tuple[str, Fraction]] = {
    "min": ("time", Fraction(60)),
    "h": ("time", Fraction(3600)),
    "deg": ("angle", Fraction(1)),
    "°": ("angle", Fraction(1)),
    "deg/s": ("turn rate", Fraction(1)),
    "°/s": ("turn rate", Fraction(1)),
    "rad": ("angle", _RADIAN),
    "mrad": ("angle", _RADIAN / 1000),
    "rad/s": ("turn rate", _RADIAN),
    "m/s": ("speed", Fraction(1)),
    "cm/s": ("speed", Fraction(1, 100)),
    "km/h": ("speed", Fraction(5, 18)),
    "cm": ("length", Fraction(1, 100)),
    "V/A": ("voltage per current", Fraction(1)),
    "mV/A": ("voltage per current", Fraction(1, 1000)),
    "%": ("ratio", Fraction(1, 100)),
    "rpm": ("revolutions", Fraction(1)),
    "rpm/V": ("revolutions per voltage", Fraction(1)),
}


class UnitError(ValueError):
    """A unit that the table lacks, or two that do not measure the same thing."""


class Unit(NamedTuple):
    """One unit: its symbol, what it measures, and its exact factor to that dimension's unit."""

    symbol: str
    dimension: str
    factor: Fraction


@lru_cache(maxsize=256)
def unit(symbol: str) -> Unit:
    """Look up a unit by its symbol, SI prefix and all; `u` and `µ` are the same prefix.

    Raises UnitError naming the nearest known symbols.

    >>> unit("kBd").factor
    Fraction(1000, 1)
    """
    found = _known(symbol)
    if found is not None:
        return found
    from difflib import get_close_matches

    near = _otherwise_spelled(symbol) or get_close_matches(
        symbol, [*_PLAIN, *_PREFIXED, "mV", "mAh", "kHz", "ms", "us"], n=3
    )
    hint = f"; did you mean {' or '.join(near)}?" if near else ""
    raise UnitError(f"unknown unit {symbol!r}{hint}")


def _known(symbol: str) -> Unit | None:
    plain = _PLAIN.get(symbol)
    if plain is not None:
        return Unit(symbol, *plain)
    for prefix, size in PREFIXES.items():
        base = _PREFIXED.get(symbol[len(prefix) :]) if symbol.startswith(prefix) else None
        if base is not None:
            return Unit(symbol, base[0], base[1] * size)
    return None


def _otherwise_spelled(symbol: str) -> list[str]:
    """The unit that differs in small and capital letters alone, the one nearest to it."""
    every = [*_PLAIN, *(prefix + base for prefix in PREFIXES for base in _PREFIXED)]
    alike = [other for other in every if other.casefold() == symbol.casefold()]
    same = {other: sum(a == b for a, b in zip(other, symbol, strict=False)) for other in alike}
    return sorted(alike, key=lambda other: -same[other])[:1]


def is_inexact(symbol: str) -> bool:
    """Whether a unit, which the table knows, is no exact number of the others of its dimension."""
    return "rad" in symbol


@lru_cache(maxsize=1024)
def is_unit(symbol: str) -> bool:
    """Whether the table knows this symbol."""
    return _known(symbol) is not None


def convert(value: Fraction, given: str, wanted: str) -> Fraction:
    """Turn a value from one unit into another, exactly. Raises UnitError across dimensions.

    >>> convert(Fraction(350), "mV", "V")
    Fraction(7, 20)
    """
    source, target = unit(given), unit(wanted)
    if source.dimension != target.dimension:
        raise UnitError(
            f"{given} measures {source.dimension}, where {wanted} ({target.dimension}) is wanted"
        )
    return value * source.factor / target.factor


def number_text(value: float) -> str:
    """The shortest decimal text that reads back as the same number, without an exponent.

    >>> number_text(3.50), number_text(57600.0), number_text(1e-7)
    ('3.5', '57600', '0.0000001')
    """
    if isinstance(value, int) or value.is_integer():
        return str(int(value))
    text = repr(value)
    if "e" not in text:
        return text
    from decimal import Decimal

    return format(Decimal(text), "f")


# What belongs to the figure before it: units that rules and vocabulary write, what is counted.
_BELONGS: Final = (
    r"(?<=\d) (?=(?:%|[kM]?Hz|[num]?s|[km]?V|m?A|m?Ah|m?W|g|k?Bd|[kM]?B|[kM]?bit/s|bytes?"
    r"|dB|deg(?:/s)?|[ck]?m(?:/s)?|mm|km/h|rpm(?:/V)?|Ohm"
    r"|(?:line|setting|rule|finding|change|error|warning|note)s?)(?![\w/]))"
)
GLUE: Final = "\0"  # stands for a space that no line ends at; a text made safe has none


def in_lines(text: str, width: int, further: int = 0, *, cut: bool = False) -> list[str]:
    """A text in lines, those after the first `further` in; with `cut` a long word is broken.

    A figure keeps its unit, a star what it marks; what `GLUE` joins stays on one line if it fits.

    >>> in_lines("seen after 2.8 m", 14)
    ['seen after', '2.8 m']
    """
    from textwrap import wrap  # what reads a dump has no use for it

    words = unbroken(text).split(" ")
    parts = wrap(
        " ".join(
            word.replace(GLUE, " ") if len(word) > width - further else word for word in words
        ),
        width,
        subsequent_indent=" " * further,
        break_long_words=cut,
        break_on_hyphens=False,
    )
    return [part.replace(GLUE, " ") for part in parts] or [""]


def unbroken(text: str) -> str:
    """The text with a mark in place of each space that no line may end at."""
    glued = re.sub(_BELONGS, GLUE, text)
    return f"{glued[:-2]}{GLUE}*" if glued.endswith(" *") else glued
