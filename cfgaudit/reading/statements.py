"""One line of text becomes one shape; parsed lines are remembered."""

from collections.abc import Callable
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from cfgaudit.reading.grammars import Grammar, Misread, reader
from cfgaudit.reading.shapes import Look, Shape, Unread, titled
from cfgaudit.reading.text import BOUNDS

if TYPE_CHECKING:
    from cfgaudit.reading.transformers import LineTransformer

LONGEST_LINE = BOUNDS.line
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
    """What gives a statement's text its shape, where a look may have section heads of its own."""
    titles = look.titles
    return (lambda line: titled(line, titles) or parse(line)) if titles else parse


def _parsed(line: str) -> Shape:
    try:
        shape: Shape = _read()(line)
    except Misread as error:
        return _unread(line, error.position)
    return shape


@cache
def _read() -> Callable[[str], Shape]:
    return reader(LINES)


def _transformer() -> "LineTransformer":
    from cfgaudit.reading.transformers import LineTransformer

    return LineTransformer()


LINES = Grammar("statements", "basic", _transformer)


def _unread(line: str, index: int) -> Unread:
    for position in range(index, len(line)):
        letter = line[position]
        if letter == '"':
            return Unread(position + 1, 'a closing " before the end of the line')
        if (letter < " " and letter != "\t") or letter == "\x7f":
            return Unread(position + 1, "readable text, where a control character stands")
    rest = line[index:].lstrip()
    if rest.startswith("["):
        return Unread(len(line) + 1, "a closing ] behind the section's name")
    return Unread(index + 1, "a setting, a section head, words or a comment")
