"""One line of text becomes one shape; parsed lines are remembered."""

import re
from collections.abc import Callable
from functools import cache, lru_cache

from cfgaudit.reading.grammars import build_parser
from cfgaudit.reading.lalr import Misread, Parser, Token
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    Unread,
)
from cfgaudit.reading.text import BOUNDS

LONGEST_LINE = BOUNDS.line
_REMEMBERED = 200_000  # lines: enough for a fleet, and far below what a small machine holds

_MARK = re.compile(r"#+|;+|//+|--+|%+")
_BLANK = Blank()


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


def _parsed(line: str) -> Shape:
    try:
        shape: Shape = _parser().parse(line)
    except Misread as error:
        return _unread(line, error.position)
    return shape


@cache
def _parser() -> Parser:
    return build_parser("statements", Shaper())


class Shaper:
    """Makes a shape of the grammar's productions; each method is named after its production."""

    def start(self, children: list[Shape | Token]) -> Shape:
        """A statement, else a comment that fills the line, else a blank line."""
        if not children:
            return _BLANK
        first = children[0]
        return _comment(first) if isinstance(first, Token) else first

    def section(self, children: list[Token]) -> Section:
        """`[name]`: the brackets go, the name stays."""
        return Section(_inside(children[0], "[]<>= \t"))

    def opener(self, children: list[Token]) -> Opener:
        """`begin name` or `name {`: the begin word or the brace goes, the name stays."""
        token = children[0]
        if token.kind == "BRACED":
            return Opener(_inside(token, "{ \t"))
        return Opener(_behind_first_word(token))

    def closer(self, children: list[Token]) -> Closer:
        """`end name` or a closing brace."""
        return Closer(_behind_first_word(children[0]))

    def assignment(self, children: list[Token]) -> Assignment:
        """A key, its sign, and the value, if there is one."""
        key = children[0]
        head = key.text.rstrip(" \t")  # its last character is the sign
        left = Span(head[:-1].rstrip(" \t"), key.start)
        if len(children) == 1:
            return Assignment(left, head[-1], Span("", left.start + len(key.text)))
        return Assignment(left, head[-1], _inside(children[1], " \t"))

    def row(self, children: list[Token]) -> Row:
        """Cells, still in one piece."""
        return Row(_inside(children[0], " "))

    def directive(self, children: list[Token]) -> Directive:
        """Words, still in one piece."""
        return Directive(_inside(children[0], " \t"))


def _inside(token: Token, around: str) -> Span:
    text = token.text.lstrip(around)
    return Span(text.rstrip(around), token.start + len(token.text) - len(text))


def _behind_first_word(token: Token) -> Span:
    text = token.text
    head = len(text.split(None, 1)[0])
    rest = text[head:].lstrip()
    return Span(rest.rstrip(), token.start + len(text) - len(rest))


def _comment(token: Token) -> Comment:
    mark = _MARK.match(token.text)
    assert mark is not None  # the terminal begins with it
    body = token.text[mark.end() :]
    start = token.start + len(token.text) - len(body.lstrip())
    return Comment(mark.group(), Span(body.strip(), start))


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
