"""Text inside of Markdown: shown as it is, whatever the renderer makes of it.

Apart from the Markdown of reviews, since SARIF and the rule book have such text too.
"""

import re
from collections.abc import Iterable, Sequence

from cfgaudit.reading.safe import safe

# What can begin or end markup inside of a line. A bar is an entity, so that no cell ends at it.
# An underscore between letters is none.
_MARKS = re.compile(r"[\\`*\[\]<>&~$|]|(?<![^\W_])_|_(?![^\W_])")
# What a forge makes a link, a mention or a picture of on its own: an address, @name, #12, :name:.
# An empty comment between the two parts keeps them apart, and nobody sees it.
_TOGETHER = re.compile(
    r"(?<=[@#])(?=[\w/-])|(?<=:)(?=[\w/+-])|(?<=/)(?=/)|(?<=www)(?=\.)|(?<=[gG][hH])(?=-\d)|(?<=\w)(?=@)"
)
_PLAIN_CODE = re.compile(r"[^`|\s](?:[^`|]*[^`|\s])?")
_APART = "<!-- -->"
_FIRST = re.compile(r"^(?:([#+=-])|(\d+)([.)]))")  # begins a head, a list or a rule


def escaped(text: str) -> str:
    r"""The text with every mark escaped, on one line.

    >>> escaped("a *b* | @c")
    'a \\*b\\* &#124; @c'
    """
    return _MARKS.sub(_escape, _one_line(text))


def marked(text: str) -> str:
    r"""The same where a forge shows it, which makes links and mentions of its own.

    >>> marked("a *b* | @c")
    'a \\*b\\* &#124; @<!-- -->c'
    """
    return _APART.join(_MARKS.sub(_escape, piece) for piece in _TOGETHER.split(_one_line(text)))


def _one_line(text: str) -> str:
    return " ".join(safe(text).split())


def _escape(found: re.Match[str]) -> str:
    return "&#124;" if found.group() == "|" else "\\" + found.group()


def code(text: str) -> str:
    r"""The text as code; with marks escaped where code could not hold it.

    >>> code("switches.arm"), code("a|b")
    ('`switches.arm`', 'a&#124;b')
    """
    shown = safe(text)
    return f"`{shown}`" if _PLAIN_CODE.fullmatch(shown) else marked(shown)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """A table's lines; the cells are Markdown already."""
    return [_row(head), "|" + "---|" * len(head), *map(_row, rows)]


def paragraph(text: str) -> str:
    r"""The text with every mark escaped, as a paragraph of its own.

    >>> paragraph("1. first"), paragraph("- 3 dB")
    ('1\\. first', '\\- 3 dB')
    """
    return _FIRST.sub(lambda found: f"{found[2] or ''}\\{found[1] or found[3]}", escaped(text))


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"
