"""A screen as styled lines: laid out once, printed plainly or, where colour is wanted, by rich."""

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Final, NamedTuple

from cfgaudit.reading.safe import safe, safe_typed
from cfgaudit.vocabulary.units import GLUE, in_lines, unbroken

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
_MARK: Final = 4  # a label as short as this, such as a box to tick, always has its text beside it
_LEAST_ROOM: Final = 30  # characters that a text has beside its label, else it stands below
_LEAST_CELL: Final = 16  # the same for a column that may wrap


NO_NAMES: Final[Mapping[str, str]] = MappingProxyType({})


def named_in(texts: Iterable[str], also: Mapping[str, str]) -> dict[str, str]:
    """The ports and pads that stand in texts, as a word or a step of a path, with `also` of each.

    >>> named_in(["ports.uart2.baud"], {"uart2": "T2 on the board", "uart20": "T20 on the board"})
    {'uart2': 'T2 on the board'}
    """
    if not also:
        return {}
    longest_first = sorted(also, key=len, reverse=True)
    names = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, longest_first))})(?!\w)")
    found = {name for text in texts for name in names.findall(text)}
    return {name: more for name, more in also.items() if name in found}


def also_called(texts: Iterable[str], also: Mapping[str, str]) -> str:
    """What else the ports and pads in texts are called, as a sentence; empty where none is."""
    told = "; ".join(f"{name}: {more}" for name, more in named_in(texts, also).items())
    return f"{told}." if told else ""


def safe_lines(text: str) -> str:
    """As `safe`, keeping the line ends of a text that is ours."""
    return "\n".join(safe(line) for line in text.split("\n"))


class Piece(NamedTuple):
    """A stretch of a line and its style."""

    text: str
    style: str = ""


def wrapped(text: str, width: int, further: int = 0, whole: Iterable[str] = ()) -> list[str]:
    """A text made safe, in lines, those after the first `further` in.

    What of it is `whole`, such as a line to type, is not broken where it has room.
    """
    made = safe(text)
    for part in map(safe, whole):
        made = made.replace(part, part.replace(" ", GLUE)) if part else made
    return in_lines(made, width, further)


def longest_word(text: str) -> int:
    """How wide a column must be so that `wrapped` breaks no word of the text."""
    return max((cells(word) for word in unbroken(safe(text)).split()), default=0)


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

    def typed(self, text: str) -> None:
        """A line to be typed or pasted: as it is, tabs and all."""
        self.lines.append((Piece("    " + safe_typed(text)),))

    def blank(self) -> None:
        """An empty line, but never two."""
        if self.lines and self.lines[-1]:
            self.lines.append(())

    def heading(self, text: str, style: str = "strong") -> None:
        """What stands above a part, apart from what is above it."""
        self.blank()
        self.line(Piece(text, style))

    def title(self, text: str) -> None:
        """The same where it may be long: it goes on below."""
        self.blank()
        self.say(text, style="strong")

    def say(self, text: str, *, style: str = "") -> None:
        """Wrapped text from the margin on."""
        self.paragraph(text, indent=0, style=style)

    def labelled(
        self,
        label: str,
        texts: Iterable[str],
        *,
        indent: int = 2,
        hang: int = LABEL,
        further: int = 0,
        whole: Collection[str] = (),
    ) -> None:
        """Texts below each other, the label before the first."""
        for text in texts:
            self.paragraph(
                text, label=label, indent=indent, hang=hang, further=further, whole=whole
            )
            label = ""

    def paragraph(
        self,
        text: str,
        *,
        label: str = "",
        indent: int = 2,
        hang: int = 0,
        further: int = 0,
        style: str = "",
        whole: Iterable[str] = (),
    ) -> None:
        """Wrapped text, perhaps behind a label; the lines below begin where the text began.

        Where little room is left beside the label the text stands below it. With `further` the
        lines below begin so many places further in, that each entry of a list is seen.
        """
        head = padded(safe(label), hang) if label else " " * hang
        lead = indent + cells(head)
        if hang > _MARK and self.width - lead < _LEAST_ROOM:
            if label:
                self.lines.append((Piece(" " * indent), Piece(head, "quiet")))
            head, lead, label = "", indent + 2, ""
        room = max(_LEAST_CELL, self.width - lead)
        for number, part in enumerate(wrapped(text, room, further, whole)):
            if number == 0 and label:
                self.lines.append((Piece(" " * indent), Piece(head, "quiet"), Piece(part, style)))
            else:
                self.lines.append((Piece(" " * lead), Piece(part, style)))

    def beside(
        self, head: Piece | str, gap: str, text: str, *, indent: int, style: str = ""
    ) -> None:
        """A head, and a text beside it where both fit on one line; else the text stands below."""
        first = Piece(head) if isinstance(head, str) else head
        taken = cells(safe(first.text)) + cells(gap) + cells(safe(text))
        if not text or taken <= self.width:
            self.line(first, Piece(gap + text, style))
        else:
            self.line(first)
            self.paragraph(text, indent=indent, style=style)

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
        head: Sequence[str] = (),
        indent: int = 2,
        wraps: int | None = None,
    ) -> None:
        """Aligned columns below their `head`, where they have one.

        Where they would be wider than the screen the column `wraps` goes on below, else the widest
        one that can; where none can, a last cell that is too long stands below its row; where that
        does not help either, all cells of a row stand below its first.
        """
        made = [[Piece(cell) if isinstance(cell, str) else cell for cell in row] for row in rows]
        clean = [[Piece(safe(cell.text), cell.style) for cell in row] for row in made]
        if not clean:
            return
        top = [[Piece(word, "quiet") for word in head]] if head else []
        every = [*top, *clean]
        columns = max(len(row) for row in every)
        if indent + _taken(every) > self.width:
            free = {n: self.width - indent - _taken(every, n) for n in range(columns)}
            can = [n for n, room in free.items() if room >= max(_LEAST_CELL, _least(every, n))]
            if not can and indent + _taken(every, columns - 1) - 2 > self.width:
                self._stack(clean, head, indent)
                return
            if can:
                one = wraps if wraps in can else max(can, key=lambda n: _widest(every, n))
                every = [line for row in every for line in _split(row, one, free[one])]
        widths = [_widest(every, i) for i in range(columns)]
        for row in every:
            pieces = [
                Piece(padded(cell.text, widths[i] + 2) if i < len(row) - 1 else cell.text,
                      cell.style)
                for i, cell in enumerate(row)
            ]  # fmt: skip
            line = (Piece(" " * indent), *pieces)
            if len(row) == columns > 1 and sum(cells(piece.text) for piece in line) > self.width:
                self.lines.append(line[:-1])
                self.paragraph(row[-1].text, indent=indent + 4, style=row[-1].style)
            else:
                self.lines.append(line)

    def _stack(self, rows: Sequence[Sequence[Piece]], head: Sequence[str], indent: int) -> None:
        """Each row's first cell, below it the others, each behind the head of its column."""
        names = [f"{name} " if name else "" for name in head] or [""] * max(map(len, rows))
        lead = indent + 4
        for first, *others in rows:
            told = [
                Piece(name + cell.text.strip(), cell.style)
                for name, cell in zip(names[1:], others, strict=False)
                if cell.text
            ]
            if first.text:
                self.paragraph(first.text, indent=indent, further=2, style=first.style)
            below: list[Piece] = []
            for cell in told:
                if lead + sum(cells(piece.text) + 2 for piece in (*below, cell)) - 2 > self.width:
                    self._beside(below, lead)
                    below = []
                below.append(cell)
            self._beside(below, lead)

    def _beside(self, told: Sequence[Piece], lead: int) -> None:
        """Pieces on one line; of one that is too long as many as it takes."""
        if len(told) == 1:
            self.paragraph(told[0].text, indent=lead, style=told[0].style)
        elif told:
            gaps = [piece for cell in told for piece in (Piece("  "), cell)]
            self.lines.append((Piece(" " * lead), *gaps[1:]))

    def explain_names(self, also: Mapping[str, str]) -> None:
        """Tell above the last block what else the ports and pads on the screen are called."""
        told = also_called((piece.text for line in self.lines for piece in line), also)
        if told:
            block = Screen(self.width)
            block.say(told, style="quiet")
            blanks = [number for number, line in enumerate(self.lines) if not line]
            last = blanks[-1] if blanks else len(self.lines)
            self.lines[last:last] = [(), *block.lines]

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


def _taken(rows: Sequence[Sequence[Piece]], wraps: int | None = None) -> int:
    """The places that the columns take, gaps and all, but for the one that may wrap."""
    columns = max(len(row) for row in rows)
    return sum(_widest(rows, i) for i in range(columns) if i != wraps) + 2 * (columns - 1)


def _least(rows: Sequence[Sequence[Piece]], column: int) -> int:
    """The places that a column takes at the least, no word broken."""
    return max((longest_word(row[column].text) for row in rows if column < len(row)), default=0)


def _split(row: list[Piece], wraps: int, room: int) -> list[list[Piece]]:
    """One row, or several where its cell that may wrap is too wide."""
    if wraps >= len(row) or cells(row[wraps].text) <= room:
        return [row]
    first, *rest = wrapped(row[wraps].text, room)
    style = row[wraps].style
    below = [[*(Piece("") for _ in range(wraps)), Piece(part, style)] for part in rest]
    return [[*row[:wraps], Piece(first, style), *row[wraps + 1 :]], *below]
