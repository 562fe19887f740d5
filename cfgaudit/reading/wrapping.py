"""Whether a text's lines were broken at one width, as far as their words tell."""

import re
from collections.abc import Sequence, Set
from itertools import pairwise

from cfgaudit.reading.pasted import NARROWEST, WIDEST, breaks

_LEAST = NARROWEST - 8  # of lines that were broken at 40 none may be as long as that
_FEWEST = 6  # lines that fill the width, before their words are looked at
# Lines of which the words show that they go on: of all, and of those that may, one in so many.
_SHOWN, _OF_ALL, _OF_LIKELY = 5, 20, 3
_WORD = re.compile(r"\S+")
_KEY = re.compile(r"[^\W\d_][^\s:=,0-9]*")


def widths_of(lines: Sequence[str]) -> tuple[int, ...]:
    """The widths at which lines may have been broken: that of the longest, which may be one word.

    A word that is longer than the width stays whole where lines are broken between words.
    """
    longest = max(map(len, lines), default=0)
    of_words = max((len(line) for line in lines if " " in line.strip()), default=longest)
    return tuple(w for w in dict.fromkeys((longest, of_words)) if _LEAST <= w <= WIDEST)


def fills(line: str, below: str, width: int) -> bool:
    """Whether a line may go on in the one below: the word there had no room, or none was left.

    Nor had it where only the blank behind it had none: some count that, and leave it out then.
    """
    if not line.strip() or not below.strip():
        return False
    return len(line) >= width or breaks(line.rstrip(), below, width - 1)


def wrapped_note(count: int, width: int) -> str:
    """What is to be said of a text in which so many lines seem to be broken."""
    lines = "a line seems" if count == 1 else f"{count:,} lines seem"
    return (
        f"{lines} to be wrapped near column {width}, and could not be put together: "
        "paste it again without wrapping"
    )


def seems_wrapped(lines: Sequence[str]) -> tuple[int, ...]:
    """The indices of lines that seem to go on in the next one; none where most others do not.

    The rest of a line begins with what else stands within lines, and begins none; or what begins
    it makes, with the end of the line above, a word that others have.
    """
    widths = widths_of(lines)
    if not widths:
        return ()
    if rows := _broken_rows(lines):
        return rows
    full = _full(lines, widths[-1])
    if len(full) < _FEWEST:
        return ()
    begins, within = beginnings(lines), _within(lines, set(full))
    likely = [n for n in full if not begins_as(lines[n + 1], begins)]
    shown = sum(_goes_on(lines[n], lines[n + 1], within) for n in likely)
    filled = sum(bool(line.strip()) for line in lines)
    many = shown * _OF_ALL >= filled and shown * _OF_LIKELY >= len(likely)
    return tuple(likely) if shown >= _SHOWN and many else ()


def _broken_rows(lines: Sequence[str]) -> tuple[int, ...]:
    """The rows of a table that alternate with lines of a word or two, three of them or more."""
    found: list[int] = []
    run: list[int] = []
    index = 0
    while index + 1 < len(lines):
        below = lines[index + 1]
        if _ROW.search(lines[index]) and 0 < len(below.split()) <= 2 and not _ROW.search(below):
            run.append(index)
            index += 2
            continue
        found += run if len(run) >= _ROWS else ()
        run = []
        index += 1
    found += run if len(run) >= _ROWS else ()
    return tuple(found)


_ROW = re.compile(r"\S {2,}\S+(?: \S+)* {2,}\S")  # cells with wide gaps between
_ROWS = 3


def _full(lines: Sequence[str], width: int) -> list[int]:
    return [n for n, (one, other) in enumerate(pairwise(lines)) if fills(one, other, width)]


def beginnings(lines: Sequence[str]) -> frozenset[str]:
    """The first words, without their numbers, of lines behind one that had room for them."""
    full = set(_full(lines, min(widths_of(lines), default=WIDEST)))
    found = (_first(line) for n, line in enumerate(lines) if n - 1 not in full)
    return frozenset(word for word in found if word)


def begins_as(line: str, begins: Set[str]) -> bool:
    """Whether a line's first word begins lines."""
    return _first(line) in begins


def _within(lines: Sequence[str], full: Set[int]) -> set[str]:
    """The words, without their numbers, that stand whole within lines."""
    found: set[str] = set()
    for number, line in enumerate(lines):
        words = [_key(word) for word in _WORD.findall(line)]
        found.update(words[1:-1] if number in full else words[1:])
    return found - {""}


def _goes_on(line: str, below: str, within: Set[str]) -> bool:
    """Whether the first word below, or what it makes with the last one above, is within lines."""
    first, last = below.split(None, 1)[0], line.split()[-1]
    parted = line[-1:].isspace() or below[:1].isspace()
    return _key(first) in within or (not parted and _key(last + first) in within)


def _first(line: str) -> str:
    found = _WORD.search(line)
    return _key(found.group()) if found else ""


def _key(word: str) -> str:
    found = _KEY.match(word)
    return found.group() if found else ""
