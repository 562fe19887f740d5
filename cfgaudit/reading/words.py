"""Cuts the body of a directive into words and the body of a row into cells."""

import re
from functools import lru_cache

from cfgaudit.reading.shapes import Span

_WORD = re.compile(r'(?:[^\s"]|"[^"]*")+')
_CELL = {
    ",": re.compile(r'(?:[^,"]|"[^"]*")*'),
    "\t": re.compile(r'(?:[^\t"]|"[^"]*")*'),
}
_NAME = re.compile(r"[A-Za-z_][\w.\-]*")


@lru_cache(maxsize=16)  # one line is cut several times over while its mapping is sought
def words(body: Span) -> tuple[Span, ...]:
    """The words of a body, cut at blanks outside of quotes.

    >>> [w.text for w in words(Span('link 2 name="a b"', 0))]
    ['link', '2', 'name="a b"']
    """
    return tuple(Span(m.group(), body.start + m.start()) for m in _WORD.finditer(body.text))


def cells(body: Span) -> tuple[Span, ...]:
    """The cells of a row, cut at commas, else at tabs, and trimmed of blanks.

    >>> [c.text for c in cells(Span("PACK LOW, 350,V", 0))]
    ['PACK LOW', '350', 'V']
    """
    pattern = _CELL[","] if "," in body.text else _CELL["\t"]
    found: list[Span] = []
    position = 0
    while True:
        match = pattern.match(body.text, position)
        end = match.end() if match is not None else position
        if end < len(body.text) and body.text[end] == '"':  # a lone mark: the rest is one cell
            end = len(body.text)
        found.append(trimmed(Span(body.text[position:end], body.start + position)))
        position = end + 1
        if end >= len(body.text):
            return tuple(found)


def trimmed(span: Span) -> Span:
    """The span without the blanks around it."""
    left = len(span.text) - len(span.text.lstrip())
    return Span(span.text.strip(), span.start + left)


def named(word: Span) -> tuple[str, Span] | None:
    """The name and the value of a name=value word, else None."""
    name, sign, value = word.text.partition("=")
    if not sign or not _NAME.fullmatch(name):
        return None
    return name, Span(value, word.start + len(name) + 1)


def unquoted(text: str) -> str:
    """The text without the quotes around it, if it is quoted whole."""
    if len(text) >= 2 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1]
    return text
