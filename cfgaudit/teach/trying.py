"""Looks to try where the lines of a dump show none: signs that may part words, titles, remarks."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from cfgaudit.reading.document import front, joined_lines, parted
from cfgaudit.reading.shapes import Look, title_signs, without_comment
from cfgaudit.reading.text import FileText
from cfgaudit.teach.look import (
    LEAST_ROWS,
    LEAST_TITLES,
    MOST_PARTED,
    as_read,
    counts_before,
)

_INNER = "()[]{}<>\"';|&,\t"
_EDGES = "?!$%@#*+~\\/:.->="
_MARKS = "#;/-%"  # which begin a remark, but where nearly every line begins so
_ENOUGH_LINES = 20  # from which on they tell one look from another
_OFTEN = 0.1  # of the lines, from which on a sign belongs to the look


def starts_to_try(texts: Sequence[FileText]) -> list[Look]:
    """What may begin statements of several lines, each with signs that may part their words."""
    texts = [text._replace(lines=as_read(text)) for text in texts]
    found: list[Look] = []
    for start in _starts([line for text in texts for line in text.lines if line.strip()]):
        look = Look(starts=(start,))
        joined = [line for text in texts for line in joined_lines(text.lines, look)]
        found += [own._replace(starts=look.starts) for own in (Look(), *_signs_in(joined))]
    return list(dict.fromkeys(found))


def _starts(lines: Sequence[str]) -> Iterator[str]:
    """What may begin statements that go on in the next lines: a word, or standing further out.

    `name: low` above `value: 3`, `> get low` above `3`, `pack low` above an indented `3`.
    """
    if len(lines) < _ENOUGH_LINES:
        return
    firsts = Counter(line.split()[0] for line in lines)
    for word, often in firsts.most_common(_MOST_STARTS):
        at = [number for number, line in enumerate(lines) if line.split()[0] == word]
        gaps = Counter(stop - start for start, stop in pairwise(at))
        gap, alike = gaps.most_common(1)[0] if gaps else (0, 0)
        even = alike > MOST_PARTED * sum(gaps.values())
        if gap > 1 and even and often * gap > MOST_PARTED * len(lines):
            yield word
    outer = sum(not line[:1].isspace() for line in lines)
    if _OUTERMOST * len(lines) < outer < MOST_PARTED * len(lines):
        yield "*"


_MOST_STARTS = 2
_OUTERMOST = 0.25  # of the lines: with fewer a line would be a title of those below


def signs_to_try(texts: Sequence[FileText]) -> list[Look]:
    """Signs that may part the words of lines, as sets to try: the narrowest first."""
    return _signs_in([line for text in texts for line in as_read(text)])


def _signs_in(lines: Sequence[str]) -> list[Look]:
    lines = [line.strip() for line in lines if line.strip()]
    marks = Look(remarks=_remarks(lines))
    lines = [line for own in lines if (line := without_comment(parted(own, marks)).strip())]
    if len(lines) < _ENOUGH_LINES:
        return []
    often = _OFTEN * len(lines)
    inner = "".join(sign for sign in _INNER if sum(sign in line for line in lines) > often)
    inner += "".join(sign for sign in _GLUED if sum(_joins(sign, line) for line in lines) > often)
    bare = [parted(line, Look(blanks=inner)) for line in lines]  # `inverted="yes"/>`
    edges = "".join(
        sign for sign in _EDGES if max(_ends_words(sign, lines), _ends_words(sign, bare)) > often
    )
    joints = "".join(sign for sign in "=:" if sum(sign in line for line in lines) > often)
    quotes = inner.replace('"', "")  # what is quoted stays one word
    found = [
        Look(blanks=blanks, edges=around)
        for blanks in ("", quotes, inner, quotes + joints, inner + joints)
        for around in ("", edges)
        if blanks or around or marks.remarks or counts_before(lines)
    ]
    for sign in ";|":
        if sum(line.count(sign) > 1 for line in lines) > MOST_PARTED * len(lines):
            kept = "".join(own for own in inner if own != sign)
            found += [Look(cells=sign, blanks=blanks) for blanks in ("", kept, kept + joints)]
    return list(dict.fromkeys(look._replace(remarks=marks.remarks) for look in found))


# What may begin a remark. A dash does it by itself, and `!` where words follow.
_MAY_BEGIN = ("%", "--", "!", "\\", "'", "*", "|", "$", "&", "REM", "rem", "NOTE", "note", "NB")


def _remarks(lines: Sequence[str]) -> tuple[str, ...]:
    """What begins remarks, besides the usual marks: some lines, and what ends others."""
    found = []
    for mark in _MAY_BEGIN:
        own = re.compile(rf"(?:{re.escape(mark)})+ +[A-Za-z].* \w")
        whole = sum(own.match(line) is not None for line in lines)
        behind = sum(f" {mark} " in line.lstrip(mark) for line in lines)
        if whole > 1 and whole + behind > LEAST_ROWS and whole < len(lines) / 2:
            found.append(mark)
    return tuple(found)


_GLUED = "#@"  # signs that may join a sort and its name: `port#1`


def _joins(sign: str, line: str) -> bool:
    return re.search(rf"\w{sign}\w", line) is not None


def _ends_words(sign: str, lines: Sequence[str]) -> int:
    """How many lines have a sign where a word begins or ends; none for the mark of remarks."""
    if sign in _MARKS and sum(line.startswith(sign) for line in lines) < MOST_PARTED * len(lines):
        lines = [without_comment(line) for line in lines if not line.startswith(sign)]
    at_edge = re.compile(rf"(?<!\S){re.escape(sign)}(?![+-]?\.?\d)|{re.escape(sign)}(?!\S)")
    return sum(at_edge.search(line) is not None for line in lines)


_TITLE_WORDS = 4  # of a title at most, with its name
_SIGNED_WORDS = 10  # where a sign begins it: it may name the columns below it
_MOST_TRIED = 4


def titles_to_try(texts: Sequence[FileText], look: Look) -> list[str]:
    """Titles that lines may be which begin or end alike, with a name in them, the likeliest first.

    `# motor 1`, `select port 2`, `/* filters */`, `gains roll do`: no other line begins and ends
    so, other lines follow nearly each, and each names another thing.
    """
    lines = [parted(line, look)[front(parted(line, look), look) :].strip()
             for text in texts for line in as_read(text)]  # fmt: skip
    lines = [line for line in lines if line]
    if len(lines) < _ENOUGH_LINES:
        return []
    found: dict[str, list[int]] = {}
    for number, line in enumerate(lines):
        for style in _styles(line):
            found.setdefault(style, []).append(number)
    kept = []
    for style, at in found.items():
        before, behind, _ = title_signs(style) or ("", "", False)
        alike = sum(line.startswith(before) and line.endswith(behind) for line in lines)
        above = sum(number + 1 < len(lines) and number + 1 not in at for number in at)
        names = {lines[number] for number in at}
        if (
            LEAST_TITLES <= len(at) == alike
            and len(at) < _FEW_TITLES * len(lines)
            and above > MOST_PARTED * len(at)
            and len(names) > MOST_PARTED * len(at)
        ):
            kept.append((style, len(at)))
    return [style for style, _ in sorted(kept, key=lambda one: -one[1])][:_MOST_TRIED]


def has_rows_of_names(texts: Sequence[FileText], look: Look) -> bool:
    """Whether words stand above rows of as many, more than once: `port use baud`, `1 gps 9600`."""
    lines = [parted(line, look).split() for text in texts for line in as_read(text)]
    above = sum(
        len(names) == len(row) > 1
        and all(_NAME_OF_COLUMN.match(name) for name in names)
        and any(word[0].isdigit() for word in row)
        for names, row in pairwise(lines)
    )
    return above > 1


_NAME_OF_COLUMN = re.compile(r"[A-Za-z%#][^\d]*$")


def with_title(look: Look, title: str) -> Look:
    """A look with one more title to be tried, whose signs are no others'."""
    free = {ord(sign): "" for sign in title}
    blanks, edges = look.blanks.translate(free), look.edges.translate(free)
    return look._replace(titles=(title,), blanks=blanks, edges=edges)


_FEW_TITLES = 0.4  # of the lines, which title the others


def _styles(line: str) -> Iterator[str]:
    """How a title may be marked that a line would be: by its first word, its last one, or both."""
    found = _BY_SIGNS.fullmatch(line)
    before, behind = (found["before"], found["behind"]) if found else ("", "")
    most = _SIGNED_WORDS if before else _TITLE_WORDS
    if found and len(found["name"].split()) < most and (before or behind not in ("", ":")):
        gap = " " if found["gap"] else ""
        yield f"{before}{gap}*{gap if behind else ''}{behind}"
        return
    said = line.split()
    if 1 < len(said) <= _TITLE_WORDS and all(_TITLE_WORD.fullmatch(word) for word in said):
        yield f"{said[0]} *"
        yield f"* {said[-1]}"


_BY_SIGNS = re.compile(
    r"(?P<before>[^\w\s\"'{}]*)(?P<gap>\s*)(?P<name>\w[\w .+-]*?)\s*(?P<behind>[^\w\s\"'{}]*)"
)
_TITLE_WORD = re.compile(r"[\w./+-]+")
