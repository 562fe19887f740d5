"""Whether a text was pasted from a terminal, a forum or a mail; and the lines under repair.

A few quick looks tell, so that a plain dump pays little; the repairs are in repair.py.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple

Joints = tuple[tuple[int, int, int], ...]  # (index in the text, line index, column index)
LONGEST = 10_000  # characters; a longer line is left alone, since it is not read either


class Rest(NamedTuple):
    """A line that is the rest of an upper one, which was broken; and what stood between them."""

    line: int  # the index of the rest
    upper: int  # the index of the line that the statement begins on
    between: str


def rests_moved(
    rests: Sequence[Rest], before: Sequence[str], after: Sequence[str]
) -> tuple[Rest, ...]:
    """The rests of a text's lines in that text as it was edited; those of changed lines are gone.

    >>> rests_moved([Rest(1, 0, ""), Rest(4, 3, "")], "abcde", "abxcde")
    (Rest(line=1, upper=0, between=''), Rest(line=5, upper=4, between=''))
    """
    by, least = len(after) - len(before), min(len(before), len(after))
    same = next((n for n in range(least) if before[n] != after[n]), least)
    behind = next((n for n in range(least - same) if before[-1 - n] != after[-1 - n]), least - same)
    first = len(before) - behind  # what is alike from here on has moved
    kept: list[Rest] = []
    for rest in rests:
        if rest.line < same or (not by and len(before) == len(after)):
            kept.append(rest)
        elif rest.upper >= first:
            kept.append(rest._replace(line=rest.line + by, upper=rest.upper + by))
    return tuple(kept)


class PastedText:
    """Lines under repair, and the notes of what was done to them."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = list(lines)
        self.notes: list[str] = []
        self._columns: dict[int, list[int]] = {}  # of each altered line: a column a letter
        self._joined: dict[int, tuple[int, str]] = {}  # a line to the one it goes on from

    def short(self) -> Iterator[tuple[int, str]]:
        """The lines that are not too long to be read, with their indices."""
        return ((i, line) for i, line in enumerate(self.lines) if len(line) <= LONGEST)

    def cut(self, index: int, start: int, stop: int) -> None:
        """Take a stretch out of a line."""
        columns = self._columns_of(index)
        line = self.lines[index]
        self.lines[index] = line[:start] + line[stop:]
        del columns[start:stop]

    def put(self, index: int, start: int, stop: int, text: str) -> None:
        """Put a text in place of a stretch; each new letter stands where the stretch begins."""
        columns = self._columns_of(index)
        line = self.lines[index]
        self.lines[index] = line[:start] + text + line[stop:]
        if len(text) != stop - start:
            columns[start:stop] = [columns[start]] * len(text)

    def pass_over(self, index: int) -> None:
        """Read a line as if it were blank."""
        self.cut(index, 0, len(self.lines[index]))

    def go_on(self, rest: Rest) -> None:
        """Read a line as the rest of an upper one, with what was `between` them before."""
        self._joined[rest.line] = (rest.upper, rest.between)

    def put_together(self, rests: Sequence[Rest]) -> None:
        """Read the rests of lines that were broken at the text's width with these, and say so."""
        width = max(map(len, self.lines), default=0)
        for rest in rests:
            self.go_on(rest)
        self.note(
            len(rests),
            f"a line broken at {width} characters was put together",
            f"{{}} lines broken at {width} characters were put together",
        )

    def note(self, count: int, one: str, many: str) -> None:
        """Say what was done, if anything was: `many` has {} for the count."""
        if count:
            self.notes.append(one if count == 1 else many.format(f"{count:,}"))

    def read(self) -> Iterator[tuple[str, int, Joints]]:
        """Each line to read: its text, its first line's index, its joints if it was altered."""
        rests: dict[int, list[int]] = {}
        for index, (upper, _) in self._joined.items():
            rests.setdefault(upper, []).append(index)
        for index, line in enumerate(self.lines):
            if index in self._joined:
                continue
            if index in rests:
                yield self._with_rests(index, rests[index])
            elif index in self._columns:
                yield line, index, tuple(self._runs(index, 0)) or ((0, index, 0),)
            else:
                yield line, index, ()

    def _with_rests(self, index: int, rests: Sequence[int]) -> tuple[str, int, Joints]:
        text = self.lines[index]
        joints = list(self._runs(index, 0))
        for rest in rests:
            text += self._joined[rest][1]
            joints += self._runs(rest, len(text))
            text += self.lines[rest]
        return text, index, tuple(joints)

    def _columns_of(self, index: int) -> list[int]:
        if index not in self._columns:
            self._columns[index] = list(range(len(self.lines[index])))
        return self._columns[index]

    def _runs(self, index: int, start: int) -> Iterator[tuple[int, int, int]]:
        """Where each unbroken run of a line's letters begins: in the text, and in the file."""
        columns = self._columns.get(index)
        if columns is None:
            yield start, index, 0
            return
        expected = -1
        for at, column in enumerate(columns):
            if column != expected:
                yield start + at, index, column
            expected = column + 1


NARROWEST, WIDEST = 40, 200  # widths at which lines are broken
MOST_RESTS = 6  # lines that one was broken into, but for its first
LONGEST_WORD = 30  # a longer one would leave a line too short to be taken for a broken one
# The patterns are texts: most dumps need none of them, and re remembers those it compiled.
QUOTE = r"[ \t]{0,3}(?:>(?!>{6})[ \t]?)++"
NUMBER = r"[ \t]*+([0-9]{1,6})(?:[:|.)]?(?=[ \t]|$)|[:|])[ \t]?"
VALUE_FIRST = r"[+-]?\.?[0-9]|[,\"]"
_ODD_LETTERS = (
    "[\u200b\u200c\u200d\u2060\ufeff\u00ad\u00a0\u2007\u202f\u201c-\u201f\u2018\u201a"
    "\u2010-\u2014\u2212\u241b]"
)
_ECHO = r"^(?:[\w.-]+@[\w.-]+[: ]|\(hidden\)[: ]|\$ |[A-Za-z][\w-]{0,30}>(?:[ \t]|$))"
_MARKED_UP = re.compile(r"<br ?/?>|&(?:nbsp|lt|gt|amp|quot|#[0-9x])", re.IGNORECASE)
_SAMPLE = 20  # lines of a text's beginning, and of its middle, that are looked at first


def looks_pasted(lines: Sequence[str], whole: str) -> bool:
    """Whether there is any trace but a prompt, at the cost of a few searches over the text."""
    if "\x1b" in whole or "^[[" in whole or "[0m" in whole:
        return True
    if not whole.isascii() and re.search(_ODD_LETTERS, whole) is not None:
        return True
    if "```" in whole or "[/" in whole or "</" in whole or _MARKED_UP.search(whole) is not None:
        return True
    sample = _sample(lines)
    if ("\n>" in whole or whole[:1] == ">") and _looks_quoted(sample):
        return True
    return _looks_numbered(sample) or _looks_indented(sample) or _may_be_wrapped(lines, whole)


def shows_echoes(whole: str, prompts: Sequence[str]) -> bool:
    """Whether prompts are there that the dialect does not take off itself."""
    ends = whole.count("> ") + whole.count(">\n") + whole.endswith(">")
    if "@" not in whole and "$ " not in whole and ends < 2:
        return False
    found = [match.group() for match in re.finditer(_ECHO, whole, re.MULTILINE)]
    own = tuple(prompts) or "\0"
    return sum(not echo.rstrip().endswith(own) for echo in found) > ("$ " not in whole)


def breaks(line: str, below: str, width: int) -> bool:
    """Whether the word below had no room any more on the line."""
    if len(line) < width - LONGEST_WORD or not below or below[0].isspace():
        return False
    return len(line) + 1 + len(below.split(None, 1)[0]) > width


def _sample(lines: Sequence[str]) -> list[str]:
    """The first lines that say anything, and as many from the middle."""
    middle = len(lines) // 2
    first = list(islice((line for line in islice(lines, 200) if line.strip()), _SAMPLE))
    behind = islice((line for line in lines[middle : middle + 200] if line.strip()), _SAMPLE)
    return first + list(behind)


def _looks_quoted(sample: Sequence[str]) -> bool:
    """Whether a third of a text's first and middle lines look like a quotation in a forum."""
    return sum(re.match(QUOTE, line) is not None for line in sample) * 3 > len(sample)


def _looks_numbered(sample: Sequence[str]) -> bool:
    """Whether most of a text's first and middle lines have a number in front."""
    begins = [line for line in sample if line.lstrip(" \t")[:1].isdigit()]
    if len(begins) * 2 <= len(sample):
        return False
    return sum(re.match(NUMBER, line) is not None for line in begins) * 2 > len(sample)


def _looks_indented(sample: Sequence[str]) -> bool:
    """Whether each of a text's first and middle lines begins with a blank."""
    return all(line[:1] in " \t" for line in sample)


def _may_be_wrapped(lines: Sequence[str], whole: str) -> bool:
    """Whether a line as long as the longest one leaves a quotation open or has values below."""
    lengths = list(map(len, lines))
    width = max(lengths, default=0)
    if not NARROWEST <= width <= WIDEST:
        return False
    least = width - LONGEST_WORD
    near = [index for index, length in enumerate(lengths[:-1]) if length >= least]
    quotes = '"' in whole
    for index in near:
        line, below = lines[index], lines[index + 1]
        if not breaks(line, below, width):
            continue
        if (quotes and line.count('"') % 2) or re.match(VALUE_FIRST, below) or line.endswith(","):
            return True
    return False


class PastedLine(NamedTuple):
    """A line as it is read. `joints` is empty where it is the file's own line, as it stands.

    Else it lists (index in `text`, line index, column index) for each of its stretches.
    """

    text: str
    first: int  # the index of its first line in the file
    joints: Joints = ()


class Repaired(NamedTuple):
    """The lines to read in place of a pasted text's own, and what was done, in plain words."""

    lines: tuple[PastedLine, ...]
    notes: tuple[str, ...]
    rests: tuple[Rest, ...] = ()  # of lines that were broken at one width
