"""Writes a merged text out: lines with their ends, and marks around what must be decided."""

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from cfgaudit.reading.lines import Text
from cfgaudit.vcs.decide import Clash, Said
from cfgaudit.vcs.weave import Piece


class Marks(NamedTuple):
    """How a conflict is marked: how many signs, the sides' names, whether the base is shown."""

    size: int = 7
    ours: str = "ours"
    base: str = "base"
    theirs: str = "theirs"
    show_base: bool = False

    def line(self, sign: str, name: str = "") -> str:
        """One mark."""
        return f"{sign * max(1, self.size)} {name}".rstrip() if name else sign * max(1, self.size)


Line = tuple[str, str | None]  # None: ended as the file ends its lines


class Writer:
    """Writes pieces with our line ends; `pick` takes one side instead of marking a conflict."""

    def __init__(self, ours: Text, theirs: Text, marks: Marks, pick: str = "") -> None:
        self._ends, self._marks, self._pick = ours.ends, marks, pick
        self._newline = usual_end(ours) or usual_end(theirs) or "\n"

    def text(self, pieces: list[Piece]) -> str:
        """The whole text."""
        lines = [line for piece in pieces for line in self._lines(piece)]
        parts: list[str] = []
        for number, (text, end) in enumerate(lines, 1):
            missing = end is None or (not end and number < len(lines))
            parts += (text, self._newline if missing or end is None else end)
        return "".join(parts)

    def _lines(self, piece: Piece) -> Iterator[Line]:
        unit, choice = piece.unit, piece.choice
        yield from self._said(piece.lead, unit.first - len(unit.lead))
        if isinstance(choice, Said):
            yield from self._said(choice, unit.first)
        elif isinstance(choice, Clash) and self._pick:
            side = choice.ours if self._pick == "ours" else choice.theirs
            yield from self._said(side, unit.first)
        elif isinstance(choice, Clash):
            yield from self._marked(choice, unit.first)

    def _said(self, said: Said, first: int) -> Iterator[Line]:
        for number, line in enumerate(said.lines, first):
            yield line, self._ends[number] if said.ours else None

    def _marked(self, clash: Clash, first: int) -> Iterator[Line]:
        marks = self._marks
        yield marks.line("<", marks.ours), None
        yield from self._ended(clash.ours, first)
        if marks.show_base:
            yield marks.line("|", marks.base), None
            yield from self._ended(clash.base, first)
        yield marks.line("="), None
        yield from self._ended(clash.theirs, first)
        yield marks.line(">", marks.theirs), None

    def _ended(self, said: Said, first: int) -> Iterator[Line]:
        yield from self._said(said, first)


def usual_end(text: Text) -> str:
    """The line end that most lines of a text have; nothing where it has no line end."""
    found = Counter(end for end in text.ends if end).most_common(1)
    return found[0][0] if found else ""
