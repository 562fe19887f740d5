"""Changes to a text that leave every other byte alone: stretches replaced, lines put in or out."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import NamedTuple

from cfgaudit.reading.lines import Text

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\n|\r)|[^\r\n]+")


class Splice(NamedTuple):
    """A stretch of one line (line and columns from 0) and the text in its place."""

    line: int
    start: int
    end: int
    text: str


@dataclass(frozen=True)
class Rework:
    """Everything that is done to a text at once. `below` has the line that new ones follow; -1
    puts them first.
    """

    splices: tuple[Splice, ...] = ()
    out: frozenset[int] = frozenset()  # lines taken out
    below: int = -1
    lines: tuple[str, ...] = ()  # new lines, without their ends


class Hunk(NamedTuple):
    """Lines of one text and what stands in their place in another, line ends and all.

    `line` is the first text's line before which the first of them stands, from 0.
    """

    line: int
    old: tuple[str, ...]
    new: tuple[str, ...]


def together(reworks: Iterable[Rework]) -> Rework:
    """Several reworks as one, of those that put no lines in."""
    every = tuple(reworks)
    return Rework(
        tuple(splice for rework in every for splice in rework.splices),
        frozenset(line for rework in every for line in rework.out),
    )


def reworked(text: Text, rework: Rework) -> Text:
    """The text with the changes made; its encoding, mark and last line end stay as they are."""
    lines, ends = list(text.lines), list(text.ends)
    for splice in sorted(set(rework.splices), key=lambda s: (s.line, s.start), reverse=True):
        line = lines[splice.line]
        lines[splice.line] = line[: splice.start] + splice.text + line[splice.end :]
    usual = usual_end(text)
    made: list[tuple[str, str]] = [(line, usual) for line in rework.lines if rework.below < 0]
    for number, pair in enumerate(zip(lines, ends, strict=True)):
        if number not in rework.out:
            made.append(pair)
        if number == rework.below:
            made += [(line, usual) for line in rework.lines]
    if made:
        made = [(line, end or usual) for line, end in made[:-1]] + [made[-1]]
        if text.ends and not text.ends[-1]:  # a file that ended without a line end still does
            made[-1] = (made[-1][0], "")
    return text._replace(lines=tuple(line for line, _ in made), ends=tuple(end for _, end in made))


def usual_end(text: Text) -> str:
    """The line end that most lines have."""
    counts = Counter(end for end in text.ends if end)
    return counts.most_common(1)[0][0] if counts else "\n"


def hunks(old: Text, new: Text) -> tuple[Hunk, ...]:
    """How one text becomes another, by whole lines."""
    before, after = _whole(old), _whole(new)
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    return tuple(
        Hunk(first, tuple(before[first:last]), tuple(after[start:stop]))
        for tag, first, last, start, stop in matcher.get_opcodes()
        if tag != "equal"
    )


def undone(made: Sequence[Hunk]) -> tuple[Hunk, ...]:
    """The hunks that take these back: from the new text to the old one."""
    back: list[Hunk] = []
    moved = 0
    for hunk in made:
        back.append(Hunk(hunk.line + moved, hunk.new, hunk.old))
        moved += len(hunk.new) - len(hunk.old)
    return tuple(back)


def patched(data: bytes, encoding: str, bom: bytes, made: Sequence[Hunk]) -> bytes:
    """A file's bytes with hunks made. Raises ValueError where a hunk's old lines are others."""
    lines = _LINE.findall(data[len(bom) :].decode(encoding))
    for hunk in reversed(made):
        end = hunk.line + len(hunk.old)
        if tuple(lines[hunk.line : end]) != hunk.old:
            raise ValueError(f"the lines from {hunk.line + 1} on are others")
        lines[hunk.line : end] = hunk.new
    return bom + "".join(lines).encode(encoding)


def _whole(text: Text) -> list[str]:
    return [line + end for line, end in zip(text.lines, text.ends, strict=True)]
