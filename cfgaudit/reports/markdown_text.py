"""Text from a dump inside of Markdown: shown as it is, whatever the renderer makes of it."""

import re
from collections.abc import Iterable, Sequence

from cfgaudit.reports.safe import safe

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


def marked(text: str) -> str:
    r"""The text with every mark escaped, on one line.

    >>> marked("a *b* | @c")
    'a \\*b\\* &#124; @<!-- -->c'
    """
    line = " ".join(safe(text).split())
    pieces = [_MARKS.sub(_escaped, piece) for piece in _TOGETHER.split(line)]
    return _APART.join(pieces)


def _escaped(found: re.Match[str]) -> str:
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
    lines = [_row(head), _row(["---"] * len(head))]
    return lines + [_row(row) for row in rows]


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"
