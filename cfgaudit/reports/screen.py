"""A screen as styled lines: laid out once, printed plainly or, where colour is wanted, by rich."""

import textwrap
from collections.abc import Iterable
from typing import NamedTuple

from cfgaudit.reports.safe import safe

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


class Piece(NamedTuple):
    """A stretch of a line and its style."""

    text: str
    style: str = ""


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

    def paragraph(self, text: str, *, label: str = "", indent: int = 2, hang: int = 0) -> None:
        """Wrapped text, perhaps behind a label; the lines below begin where the text began."""
        lead = " " * indent + (label.ljust(hang) if label else " " * hang)
        room = max(30, self.width - len(lead))
        wrapped = textwrap.wrap(safe(text), room, break_long_words=False, break_on_hyphens=False)
        for number, part in enumerate(wrapped or [""]):
            if number == 0 and label:
                self.lines.append(
                    (Piece(" " * indent), Piece(label.ljust(hang), "quiet"), Piece(part))
                )
            else:
                self.lines.append((Piece(" " * len(lead) + part),))

    def table(self, rows: Iterable[tuple[Piece | str, ...]], *, indent: int = 2) -> None:
        """Aligned columns; the last one is left as long as it is."""
        made = [[Piece(cell) if isinstance(cell, str) else cell for cell in row] for row in rows]
        clean = [[Piece(safe(cell.text), cell.style) for cell in row] for row in made]
        if not clean:
            return
        columns = max(len(row) for row in clean)
        widths = [
            max((len(row[i].text) for row in clean if i < len(row)), default=0)
            for i in range(columns)
        ]
        for row in clean:
            cells = [
                Piece(cell.text.ljust(widths[i] + 2) if i < len(row) - 1 else cell.text, cell.style)
                for i, cell in enumerate(row)
            ]
            self.lines.append((Piece(" " * indent), *cells))

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
            highlight=False,
        )
        for line in self.lines:
            text = Text(no_wrap=True, end="\n")
            for piece in line:
                text.append(piece.text, STYLES[piece.style] or None)
            text.rstrip()
            console.print(text, soft_wrap=True)
        return out.getvalue()
