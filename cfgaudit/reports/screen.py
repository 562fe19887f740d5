"""A screen as styled lines: laid out once, printed plainly or, where colour is wanted, by rich."""

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from cfgaudit.reading.safe import safe

# What a stretch of text is, and how it looks where there is colour. Never colour alone.
STYLES = {
    "": "",
    "error": "bold red",
    "warning": "bold yellow",
    "note": "bold cyan",
    "strong": "bold",
    "quiet": "dim",
    "old": "red",
    "new": "green",
}


LABEL: Final = 12  # places for the label of a text
_LEAST_ROOM: Final = 30  # characters that a text keeps beside its label, however narrow the screen
_LEAST_CELL: Final = 16  # the same for a column that may wrap
# What belongs to the figure before it: units that rules and vocabulary write, what is counted.
_UNIT: Final = re.compile(
    r"(?<=\d) (?=(?:%|[kM]?Hz|[num]?s|[km]?V|m?A|m?Ah|m?W|g|k?Bd|[kM]?B|[kM]?bit/s|bytes?"
    r"|dB|deg(?:/s)?|[ck]?m(?:/s)?|mm|km/h|rpm(?:/V)?|Ohm"
    r"|(?:line|setting|rule|finding|change|error|warning|note)s?)(?![\w/]))"
)
_GLUE: Final = "\0"  # stands for a space that no line ends at; a text made safe has none


def safe_lines(text: str) -> str:
    """As `safe`, keeping the line ends of a text that is ours."""
    return "\n".join(safe(line) for line in text.split("\n"))


class Piece(NamedTuple):
    """A stretch of a line and its style."""

    text: str
    style: str = ""


def wrapped(text: str, width: int, further: int = 0) -> list[str]:
    """A text made safe, in lines, those after the first `further` in.

    A figure keeps its unit, a star what it marks.
    """
    parts = textwrap.wrap(
        unbroken(safe(text)),
        width,
        subsequent_indent=" " * further,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [part.replace(_GLUE, " ") for part in parts] or [""]


def longest_word(text: str) -> int:
    """How wide a column must be so that `wrapped` breaks no word of the text."""
    return max((cells(word) for word in unbroken(safe(text)).split()), default=0)


def unbroken(text: str) -> str:
    """The text with a mark in place of each space that no line may end at."""
    glued = _UNIT.sub(_GLUE, text)
    return f"{glued[:-2]}{_GLUE}*" if glued.endswith(" *") else glued


def cells(text: str) -> int:
    """How many places a text takes on a screen: a wide letter two, one that sits on another none.

    Source: Unicode Standard Annex 11, East Asian Width (published).
    """
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(letter) else 1 + (unicodedata.east_asian_width(letter) in "WF")
        for letter in text
    )


def padded(text: str, width: int) -> str:
    """The text with spaces behind it, so that it takes as many places."""
    return text + " " * (width - cells(text))


class Screen:
    """Lines to print, at a width in characters."""

    def __init__(self, width: int = 80) -> None:
        self.width = width
        self.lines: list[tuple[Piece, ...]] = []

    def line(self, *pieces: Piece | str) -> None:
        """One line as it is; text from a dump is made safe."""
        made = [Piece(piece) if isinstance(piece, str) else piece for piece in pieces]
        self.lines.append(tuple(Piece(safe(piece.text), piece.style) for piece in made))

    def blank(self) -> None:
        """An empty line, but never two."""
        if self.lines and self.lines[-1]:
            self.lines.append(())

    def paragraph(
        self, text: str, *, label: str = "", indent: int = 2, hang: int = 0, further: int = 0
    ) -> None:
        """Wrapped text, perhaps behind a label; the lines below begin where the text began.

        With `further` they begin so many places further in, that each entry of a list is seen.
        """
        head = padded(safe(label), hang) if label else " " * hang
        lead = indent + cells(head)
        room = max(_LEAST_ROOM, self.width - lead)
        for number, part in enumerate(wrapped(text, room, further)):
            if number == 0 and label:
                self.lines.append((Piece(" " * indent), Piece(head, "quiet"), Piece(part)))
            else:
                self.lines.append((Piece(" " * lead + part),))

    def entries(self, rows: Iterable[tuple[str, str]], *, indent: int = 2) -> None:
        """Heads with a text beside each; below each where the screen is too narrow for that."""
        made = [(safe(head), text) for head, text in rows]
        widest = max((cells(head) for head, _ in made), default=0) + 2
        room = self.width - indent - widest
        beside = room >= _LEAST_ROOM
        for head, text in made:
            if beside:
                self.paragraph(text, label=head, indent=indent, hang=widest)
            else:
                self.line(" " * indent, Piece(head, "quiet"))
                self.paragraph(text, indent=indent + 4)

    def table(
        self,
        rows: Iterable[tuple[Piece | str, ...]],
        *,
        indent: int = 2,
        wraps: int | None = None,
    ) -> None:
        """Aligned columns; the last one is left as long as it is.

        The column `wraps` goes on below where the table would else be wider than the screen.
        """
        made = [[Piece(cell) if isinstance(cell, str) else cell for cell in row] for row in rows]
        clean = [[Piece(safe(cell.text), cell.style) for cell in row] for row in made]
        if not clean:
            return
        if wraps is not None:
            room = self.width - indent - _taken(clean, wraps)
            clean = [line for row in clean for line in _split(row, wraps, max(_LEAST_CELL, room))]
        widths = [_widest(clean, i) for i in range(max(len(row) for row in clean))]
        for row in clean:
            pieces = [
                Piece(padded(cell.text, widths[i] + 2) if i < len(row) - 1 else cell.text,
                      cell.style)
                for i, cell in enumerate(row)
            ]  # fmt: skip
            self.lines.append((Piece(" " * indent), *pieces))

    def plain(self) -> str:
        """The screen without colour."""
        return "".join("".join(piece.text for piece in line).rstrip() + "\n" for line in self.lines)

    def coloured(self) -> str:
        """The screen with colour, by rich."""
        from io import StringIO

        from rich.console import Console
        from rich.text import Text

        out = StringIO()
        console = Console(
            file=out,
            force_terminal=True,
            color_system="standard",
            no_color=False,  # whether to colour has been settled, by the flag first
            width=100_000,
            height=100,  # else rich takes what LINES says for a number
            highlight=False,
        )
        for line in self.lines:
            text = Text(no_wrap=True, end="\n")
            for piece in line:
                text.append(piece.text, STYLES[piece.style] or None)
            text.rstrip()
            console.print(text, soft_wrap=True)
        return out.getvalue()


def _widest(rows: Sequence[Sequence[Piece]], column: int) -> int:
    return max((cells(row[column].text) for row in rows if column < len(row)), default=0)


def _taken(rows: Sequence[Sequence[Piece]], wraps: int) -> int:
    """The places that the other columns take, gaps and all."""
    columns = max(len(row) for row in rows)
    return sum(_widest(rows, i) for i in range(columns) if i != wraps) + 2 * (columns - 1)


def _split(row: list[Piece], wraps: int, room: int) -> list[list[Piece]]:
    """One row, or several where its cell that may wrap is too wide."""
    if wraps >= len(row) or cells(row[wraps].text) <= room:
        return [row]
    first, *rest = wrapped(row[wraps].text, room)
    style = row[wraps].style
    below = [[*(Piece("") for _ in range(wraps)), Piece(part, style)] for part in rest]
    return [[*row[:wraps], Piece(first, style), *row[wraps + 1 :]], *below]
