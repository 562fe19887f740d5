"""A value's text becomes items and parts: numbers, ranges, words and quoted texts."""

import re
from collections.abc import Callable
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

from cfgaudit.reading.grammars import Grammar, Misread, reader

if TYPE_CHECKING:
    from cfgaudit.reading.transformers import ValueTransformer

_PLAIN_NUMBER = re.compile(r"[0-9]{1,40}(?:\.[0-9]{1,40})?")


class ValueSyntaxError(ValueError):
    """A value's text that the grammar can't read; `column` counts from 1 within the text."""

    def __init__(self, message: str, column: int) -> None:
        super().__init__(message)
        self.column = column


class Number(NamedTuple):
    """A number, exact, with the unit that was glued to it."""

    text: str
    value: Fraction
    unit: str = ""

    @property
    def whole(self) -> bool:
        """Whether it was written without a decimal point or an exponent."""
        return self.text.lstrip("+-").isdigit() or self.text.lstrip("+-")[:2] in ("0x", "0X")


class Range(NamedTuple):
    """The two ends of a range."""

    low: Number
    high: Number


class Word(NamedTuple):
    """A bare word."""

    text: str


class Quoted(NamedTuple):
    """A quoted text, without its quotes."""

    text: str


ValuePart = Number | Range | Word | Quoted


class Item(NamedTuple):
    """What stands between two commas: perhaps a label (`5:`), then its parts."""

    label: int | None
    parts: tuple[ValuePart, ...]


@lru_cache(maxsize=50_000)
def parse_value(text: str) -> tuple[Item, ...]:
    """The items of a value. Raises ValueSyntaxError with the column and what was expected.

    >>> parse_value("57.6kBd")[0].parts[0].unit
    'kBd'
    """
    if _PLAIN_NUMBER.fullmatch(text):  # what most values are; a test holds it to the grammar
        return (Item(None, (Number(text, Fraction(text)),)),)
    try:
        items: tuple[Item, ...] = _read()(text)
    except Misread as error:
        at = error.position + 1
        raise ValueSyntaxError("expected a number, a word or a quoted text", at) from None
    return items


@cache
def _read() -> Callable[[str], tuple[Item, ...]]:
    return reader(VALUES)


def _transformer() -> "ValueTransformer":
    from cfgaudit.reading.transformers import ValueTransformer

    return ValueTransformer()


VALUES = Grammar("values", "contextual", _transformer)
