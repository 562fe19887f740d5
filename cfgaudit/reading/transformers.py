"""What the grammars' productions become: one transformer a grammar, run while lark parses.

Only a parser that is built or loaded needs them: whoever asks for nothing but the names of the
shapes or of a value's parts loads no lark.
"""

import re
from fractions import Fraction

from lark import Token, Transformer

from cfgaudit.reading.grammars import Grammar
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Item,
    Number,
    Opener,
    Quoted,
    Range,
    Row,
    Section,
    Shape,
    Span,
    ValuePart,
    Word,
    unquoted,
)

_MARK = re.compile(r"#+|;+|//+|/\*+|--+|%+").match
_SIGN = re.compile(r"=|:(?=[ \t]|$)").search
_BLANK = Blank()


class LineTransformer(Transformer[Token, Shape]):
    """Makes a shape of a line; a method is named after its production in statements.lark.

    The first child is the statement's terminal, the second, if any, the comment behind it.
    """

    def blank(self, _: list[Token]) -> Blank:
        """Nothing but blanks."""
        return _BLANK

    def comment(self, children: list[Token]) -> Comment:
        """The mark, and what stands behind it."""
        token = children[0]
        mark = _MARK(token)
        assert mark is not None  # the terminal begins with it
        body = token[mark.end() :]
        text = body.lstrip()
        start = _end(token) - len(text)
        closed = text.rstrip().removesuffix("*/") if mark.group()[1:2] == "*" else text
        return Comment(mark.group(), Span(closed.rstrip(), start))

    def section(self, children: list[Token]) -> Section:
        """`[name]`: the brackets go, the name stays."""
        return Section(_inside(children[0], "[]<>= \t"))

    def opener(self, children: list[Token]) -> Opener:
        """`begin name` or `name {`: the begin word or the brace goes, the name stays."""
        token = children[0]
        return Opener(_inside(token, "{ \t") if token.type == "BRACED" else _behind_word(token))

    def closer(self, children: list[Token]) -> Closer:
        """`end name` or a closing brace."""
        return Closer(_behind_word(children[0]))

    def assignment(self, children: list[Token]) -> Assignment:
        """A key, its sign, and the value, if there is one: else an empty span at the end."""
        token = children[0]
        found = _SIGN(token)
        assert found is not None  # no assignment without its sign
        at = found.start()
        rest = token[at + 1 :].lstrip(" \t")
        return Assignment(
            Span(token[:at].rstrip(" \t"), _start(token)),
            found.group(),
            Span(rest.rstrip(" \t"), _end(token) - len(rest)),
        )

    def row(self, children: list[Token]) -> Row:
        """Cells, still in one piece."""
        return Row(_inside(children[0], " "))

    def directive(self, children: list[Token]) -> Directive:
        """Words, still in one piece."""
        return Directive(_inside(children[0], " \t"))


class ValueTransformer(Transformer[Token, tuple[Item, ...]]):
    """Makes items of a value; a method is named after its production in values.lark."""

    def start(self, children: list[Item]) -> tuple[Item, ...]:
        """All items of the value."""
        return tuple(children)

    def item(self, children: list[Token | ValuePart]) -> Item:
        """One item; the label's colon goes."""
        first = children[0]
        label = int(first[:-1]) if isinstance(first, Token) else None
        return Item(label, tuple(child for child in children if not isinstance(child, Token)))

    def range(self, children: list[Number]) -> Range:
        """Low and high."""
        return Range(children[0], children[1])

    def number(self, children: list[Token]) -> Number:
        """A number in any spelling, exactly."""
        text = str(children[0])
        return Number(text, _exact(text), str(children[1]) if len(children) > 1 else "")

    def quoted(self, children: list[Token]) -> Quoted:
        """The quotes go."""
        return Quoted(unquoted(children[0]))

    def word(self, children: list[Token]) -> Word:
        """A bare word."""
        return Word(str(children[0]))


def _start(token: Token) -> int:
    return token.start_pos or 0  # the lexer sets it


def _end(token: Token) -> int:
    return (token.start_pos or 0) + len(token)


def _inside(token: Token, around: str) -> Span:
    text = token.lstrip(around)
    return Span(text.rstrip(around), _end(token) - len(text))


def _behind_word(token: Token) -> Span:
    head = len(token.split(None, 1)[0])
    rest = token[head:].lstrip()
    return Span(rest.rstrip(), _end(token) - len(rest))


def _exact(text: str) -> Fraction:
    bare = text.lstrip("+-")
    if bare[:2] in ("0x", "0X"):
        return Fraction(int(bare, 16) * (-1 if text.startswith("-") else 1))
    return Fraction(text)


LINES = Grammar("statements", "basic", LineTransformer)
VALUES = Grammar("values", "contextual", ValueTransformer)
