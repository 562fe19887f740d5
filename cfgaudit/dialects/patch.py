"""Changes to a text that leave every other byte alone: stretches replaced, lines put in or out."""

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import takewhile
from typing import NamedTuple

from cfgaudit.reading.text import FileText

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


def reworked(text: FileText, rework: Rework) -> FileText:
    """The text with the changes made; its encoding, mark and last line end stay as they are."""
    lines, usual = spliced(text.lines, rework.splices), usual_end(text) or "\n"
    ends, at = list(text.ends), max(rework.below + 1, 0)
    lines[at:at] = rework.lines
    ends[at:at] = [usual] * len(rework.lines)
    for number in sorted(rework.out, reverse=True):
        place = number if number < at else number + len(rework.lines)
        del lines[place], ends[place]
    if ends:
        ends[:-1] = [end or usual for end in ends[:-1]]
        if text.ends and not text.ends[-1]:  # a file that ended without a line end still does
            ends[-1] = ""
    return text._replace(lines=tuple(lines), ends=tuple(ends))


def spliced(lines: Sequence[str], splices: Iterable[Splice]) -> list[str]:
    """The lines with other texts in some of their stretches; a splice named twice is made once."""
    made = list(lines)
    for line, start, end, text in sorted(set(splices), reverse=True):
        made[line] = made[line][:start] + text + made[line][end:]
    return made


def usual_end(text: FileText) -> str:
    """The line end that most lines of a text have; nothing where it has no line end."""
    counts = Counter(text.ends)
    del counts[""]
    return counts.most_common(1)[0][0] if counts else ""


def hunks(old: FileText, new: FileText) -> tuple[Hunk, ...]:
    """How one text becomes another, by whole lines."""
    before, after = _whole(old), _whole(new)
    found: list[Hunk] = []
    for line, olds, news in _unlike(before, after):
        matcher = SequenceMatcher(None, olds, news, autojunk=False)
        found += [
            Hunk(line + first, tuple(olds[first:last]), tuple(news[start:stop]))
            for tag, first, last, start, stop in matcher.get_opcodes()
            if tag != "equal"
        ]
    return tuple(found)


def _unlike(
    before: Sequence[str], after: Sequence[str]
) -> Iterator[tuple[int, Sequence[str], Sequence[str]]]:
    """The stretches in which two texts differ, each with its first line in the one before.

    Texts are cut where a line stands that each of them has once, so that long ones, which
    mostly agree, are matched in short pieces: matching takes time by the square of a piece.
    """
    first, start = 0, 0
    for last, stop in [*_fixed(before, after), (len(before), len(after))]:
        olds, news = before[first:last], after[start:stop]
        ahead = _alike(olds, news)  # first, so that a head that was put in begins its stretch
        olds, news = olds[ahead:], news[ahead:]
        behind = _alike(reversed(olds), reversed(news))
        if len(olds) + len(news) > 2 * behind:
            yield first + ahead, olds[: len(olds) - behind], news[: len(news) - behind]
        first, start = last, stop


def _fixed(before: Sequence[str], after: Sequence[str]) -> list[tuple[int, int]]:
    """Where both texts have a line that each of them has once, as far as their order agrees."""
    counts, others = Counter(before), Counter(after)
    place = {line: number for number, line in enumerate(after) if others[line] == 1}
    pairs = [
        (number, place[line])
        for number, line in enumerate(before)
        if counts[line] == 1 and line in place
    ]
    return _longest_rising(pairs)


def _longest_rising(pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """The most pairs whose second numbers rise (patience sorting; textbook)."""
    tops: list[int] = []  # the least end of a rising row of each length
    last: list[int] = []  # the pair that it ends with
    before: list[int] = []  # the pair that each one follows in its row
    for number, (_, value) in enumerate(pairs):
        length = bisect_left(tops, value)
        before.append(last[length - 1] if length else -1)
        tops[length : length + 1] = [value]
        last[length : length + 1] = [number]
    found: list[tuple[int, int]] = []
    at = last[-1] if last else -1
    while at >= 0:
        found.append(pairs[at])
        at = before[at]
    return found[::-1]


def _alike(one: Iterable[str], other: Iterable[str]) -> int:
    """How many lines from the first on are the same."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def patched(data: bytes, encoding: str, bom: bytes, made: Sequence[Hunk]) -> bytes:
    """A file's bytes with hunks made. Raises ValueError where a hunk's old lines are others."""
    lines = _LINE.findall(data[len(bom) :].decode(encoding))
    for hunk in reversed(made):
        end = hunk.line + len(hunk.old)
        if tuple(lines[hunk.line : end]) != hunk.old:
            raise ValueError(f"the lines from {hunk.line + 1} on are others")
        lines[hunk.line : end] = hunk.new
    return bom + "".join(lines).encode(encoding)


def _whole(text: FileText) -> list[str]:
    return [line + end for line, end in zip(text.lines, text.ends, strict=True)]
