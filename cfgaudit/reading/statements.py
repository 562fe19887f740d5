"""A line becomes a shape, the text of a value its items; what was parsed is remembered."""

import re
from collections.abc import Callable
from fractions import Fraction
from functools import cache, lru_cache

from cfgaudit.reading.grammars import Misread, reader
from cfgaudit.reading.shapes import Item, Look, Number, Shape, Unread, titled, worded
from cfgaudit.reading.text import BOUNDS

LONGEST_LINE = BOUNDS.line
_PLAIN_NUMBER = re.compile(r"[0-9]{1,40}(?:\.[0-9]{1,40})?")
_REMEMBERED = 10_000  # lines: more than the dumps of a fleet share, and a dump has


@lru_cache(maxsize=_REMEMBERED)
def parse_line(line: str) -> Shape:
    """The shape of one line (without its line end). Never raises: what can't be read is Unread.

    >>> parse_line("pack_low = 3.5  # a cell").value.text
    '3.5'
    """
    if len(line) > LONGEST_LINE:
        wanted = f"a line of at most {LONGEST_LINE:,} characters (this one has {len(line):,})"
        return Unread(LONGEST_LINE + 1, wanted)
    return _parsed(line)


def parse_long_line(longest: int) -> Callable[[str], Shape]:
    """As parse_line, for a text in which lines of another length are read, and not remembered."""

    def parse(line: str) -> Shape:
        long = LONGEST_LINE < len(line) <= longest
        return _parsed(line) if long else parse_line(line)

    return parse


def parser_of(look: Look, parse: Callable[[str], Shape] = parse_line) -> Callable[[str], Shape]:
    """What gives a statement's text its shape, where a look may have shapes of its own."""
    titles, colons = look.titles, look.colons
    if not titles and not colons:
        return parse

    def shaped(line: str) -> Shape:
        shape = titled(line, titles) or parse(line)
        return worded(shape, line) if colons else shape

    return shaped


def _parsed(line: str) -> Shape:
    try:
        shape: Shape = _reading_lines()(line)
    except Misread as error:
        return _unread(line, error.position)
    return shape


@cache
def _reading_lines() -> Callable[[str], Shape]:
    from cfgaudit.reading.transformers import LINES  # it loads lark, which not all that ask want

    return reader(LINES)


@cache
def _reading_values() -> Callable[[str], tuple[Item, ...]]:
    from cfgaudit.reading.transformers import VALUES

    return reader(VALUES)


def _unread(line: str, index: int) -> Unread:
    for position in range(index, len(line)):
        letter = line[position]
        if letter == '"':
            return Unread(position + 1, 'a closing " before the end of the line')
        if (letter < " " and letter != "\t") or letter == "\x7f":
            return Unread(position + 1, "readable text, where a control character stands")
    rest = line[index:].lstrip()
    if rest.startswith("/*"):
        behind = len(line) - len(rest) + rest.index("*/") + 3
        return Unread(behind, "nothing behind the end of a remark")
    if rest.startswith("["):
        return Unread(len(line) + 1, "a closing ] behind the section's name")
    return Unread(index + 1, "a setting, a section head, words or a comment")


class ValueSyntaxError(ValueError):
    """A value's text that the grammar can't read; `column` counts from 1 within the text."""

    def __init__(self, message: str, column: int) -> None:
        super().__init__(message)
        self.column = column


@lru_cache(maxsize=50_000)
def parse_value(text: str) -> tuple[Item, ...]:
    """The items of a value. Raises ValueSyntaxError with the column and what was expected.

    >>> parse_value("57.6kBd")[0].parts[0].unit
    'kBd'
    """
    if _PLAIN_NUMBER.fullmatch(text):  # what most values are; a test holds it to the grammar
        return (Item(None, (Number(text, Fraction(text)),)),)
    try:
        items: tuple[Item, ...] = _reading_values()(text)
    except Misread as error:
        at = error.position + 1
        raise ValueSyntaxError("expected a number, a word or a quoted text", at) from None
    return items
