"""A value's text becomes items and parts: numbers, ranges, words and quoted texts."""

import re
from fractions import Fraction
from functools import cache, lru_cache
from typing import NamedTuple

from cfgaudit.reading.grammars import build_parser
from cfgaudit.reading.lalr import Misread, Parser, Token

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


Part = Number | Range | Word | Quoted


class Item(NamedTuple):
    """What stands between two commas: perhaps a label (`5:`), then its parts."""

    label: int | None
    parts: tuple[Part, ...]


@lru_cache(maxsize=50_000)
def parse_value(text: str) -> tuple[Item, ...]:
    """The items of a value. Raises ValueSyntaxError with the column and what was expected.

    >>> parse_value("57.6kBd")[0].parts[0].unit
    'kBd'
    """
    if _PLAIN_NUMBER.fullmatch(text):  # what most values are; a test holds it to the grammar
        return (Item(None, (Number(text, Fraction(text)),)),)
    try:
        items: tuple[Item, ...] = _parser().parse(text)
    except Misread as error:
        at = error.position + 1
        raise ValueSyntaxError("expected a number, a word or a quoted text", at) from None
    return items


@cache
def _parser() -> Parser:
    return build_parser("values", ValueShaper())


class ValueShaper:
    """Makes items of the grammar's productions; each method is named after its production."""

    def start(self, children: list[Item]) -> tuple[Item, ...]:
        """All items of the value."""
        return tuple(children)

    def item(self, children: list[Token | Part]) -> Item:
        """One item; the label's colon goes."""
        first = children[0]
        if isinstance(first, Token):
            return Item(int(first.text[:-1]), tuple(_parts(children[1:])))
        return Item(None, tuple(_parts(children)))

    def range(self, children: list[Number]) -> Range:
        """Low and high."""
        return Range(children[0], children[1])

    def number(self, children: list[Token]) -> Number:
        """A number in any spelling, exactly."""
        text = children[0].text
        unit = children[1].text if len(children) > 1 else ""
        return Number(text, _exact(text), unit)

    def quoted(self, children: list[Token]) -> Quoted:
        """The quotes go."""
        return Quoted(children[0].text[1:-1])

    def word(self, children: list[Token]) -> Word:
        """A bare word."""
        return Word(children[0].text)


def _parts(children: list[Token | Part]) -> list[Part]:
    return [child for child in children if not isinstance(child, Token)]


def _exact(text: str) -> Fraction:
    bare = text.lstrip("+-")
    if bare[:2] in ("0x", "0X"):
        return Fraction(int(bare, 16) * (-1 if text.startswith("-") else 1))
    return Fraction(text)
