"""Puts a dump's lines under the sections, blocks, groups and tables that they stand in."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from cfgaudit.dialects.spec import SpecError
from cfgaudit.dialects.template import (
    Pieces,
    match_text,
    open_shape,
    text_pieces,
)
from cfgaudit.reading.document import Document, Statement, front
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    cells,
    named,
    words,
)
from cfgaudit.teach.indices import holed
from cfgaudit.teach.look import remark_mark
from cfgaudit.teach.measures import measure_of, unit_of
from cfgaudit.teach.words import chunks, is_closed_list, is_word
from cfgaudit.vocabulary.declare import HIDDEN

NEGATIONS = frozenset({"no", "not", "without", "un"})
# Pairs of verbs before what is on or off.
VERBS = {
    "enable": "disable", "show": "hide", "enabled": "disabled", "with": "without",
    "activate": "deactivate", "allow": "forbid", "permit": "refuse",
    "engage": "disengage",
}  # fmt: skip
OFF_VERBS = {off: on for on, off in VERBS.items()} | {"deny": "allow"}
_MARKS = "!~"  # before a word that is off
_LETTERS = re.compile(r"[A-Za-z]{3,}")
_GLUED = re.compile(r"(.*?[A-Za-z_.-])(\d+)")
# What is no number to count by: longer than a value's may be, or digits that no number is made of.
_NO_NUMBER = re.compile(r"\d{41}|[^\W\d_a-zA-Z]")


@dataclass(frozen=True)
class ScopedLine:
    """One line that states something: its head, its parts, and the remark above it."""

    document: Document
    statement: Statement
    shape: Assignment | Directive | Row
    head: str
    parts: tuple[Span, ...]  # the value, the words behind the head, or all cells
    negated: bool
    remark: str
    before: str = ""  # what stands before the head and says on or off: `no `, `disable `
    header: str = ""  # the head row that says which word is the value
    titles: tuple[str, ...] = ()  # the names of the columns that the parts stand in
    behind: str = ""  # the remark behind it
    labels: frozenset[int] = frozenset()  # the parts that name the value behind them
    skeleton: str = ""  # those words, of the longest line of its sort
    indexed: bool = False  # the first part tells the lines of its sort apart
    barred: bool = False  # bars part the key from the value
    more: bool = False  # other cells of a table stand behind the value
    unit: str = ""  # as another cell of a table states it, and the size of a step
    step: str = ""
    whole: str = ""  # of a value in brackets or braces: all but what varies in it
    index: tuple[str, ...] = ()  # the words of its own indices, where its head has `\0`

    @property
    def is_cut(self) -> bool:
        """Whether what is its key and what its value is known."""
        return bool(self.whole or self.header or self.barred or self.labels)

    @property
    def sort(self) -> str:
        """What lines of one sort have alike besides their keys: brackets, and labels."""
        return self.whole or self.skeleton

    @property
    def line(self) -> str:
        """The line without prompt and comment, as a mapping would begin from it."""
        if isinstance(self.shape, Assignment):
            return self.shape.key.text
        return self.shape.body.text


@dataclass
class Scope:
    """A section, block or group: the line that begins it, what stands in it."""

    form: type
    line: str  # as a context line of a dialect: `[port 1]`, `begin port 1`, `bank 1`
    cut: tuple[str, ...]  # its words
    remark: str = ""
    entries: list[ScopedLine] = field(default_factory=list)
    inner: list["Scope"] = field(default_factory=list)

    def heads(self) -> frozenset[str]:
        """What stands in it, by name; of a table, the titles of its columns."""
        own = {entry.head for entry in self.entries}
        if self.entries and isinstance(self.entries[0].shape, Row):
            own |= {span.text for span in self.entries[0].parts}
        own |= {title for entry in self.entries[:1] for title in entry.titles}
        return frozenset(own) | {scope.cut[0] for scope in self.inner if scope.cut}

    def lengths(self) -> frozenset[str]:
        """What stands in it, by name and by the number of words of its value."""
        return self.heads() | {f"{entry.head} {_length(entry)}" for entry in self.entries}


@dataclass(frozen=True)
class Kin:
    """Scopes of one sort: `before`, the varying word (or none), `after`."""

    form: type
    line: str  # with `\0` where the word varies
    varies: bool
    names: tuple[str, ...]  # the words that stay
    remark: str
    members: tuple[tuple[str, Scope], ...]  # the word, and the scope under it


def _noise_pieces(line: str) -> Pieces:
    """The pieces of a noise line; one of the dump's own that means nothing else is text."""
    try:
        return text_pieces(line)
    except SpecError:
        return (line,)


def scopes_of(document: Document, noise: Sequence[str]) -> Scope:  # noqa: C901 (one pass)
    """The tree of a document's scopes."""
    top = Scope(Directive, "", ())
    stack = [top]
    remark, told_at = "", -1
    patterns = [_noise_pieces(line) for line in noise]
    lines = document.lines
    titles = _titles_by_indent(document)
    indents: list[tuple[int, Scope]] = []  # the open titles, each with its indentation
    for statement in document.statements:
        shape = open_shape(statement.shape, document.look)
        line = lines[statement.first]
        whole = line[front(line, document.look) :].strip()
        above = remark if told_at == statement.first - 1 else ""  # right above, for a title
        if isinstance(shape, Blank):
            remark = ""  # what a remark says is said of the lines right below
        elif isinstance(shape, Comment):
            goes_on = told_at == statement.first - 1 and remark
            remark = f"{remark}; {shape.body.text}" if goes_on else shape.body.text
            told_at = statement.first
        elif any(match_text(pattern, whole) is not None for pattern in patterns):
            mark = remark_mark(whole)
            if mark:
                remark, told_at = whole[len(mark) :].strip(), statement.first
        elif isinstance(shape, Row) and _is_remark(shape):
            remark = " ".join(span.text for span in cells(shape.body)[1:]).strip()
            told_at = statement.first
        elif isinstance(shape, Section):
            while len(stack) > 1 and stack[-1].form is not Opener:
                stack.pop()
            _push(stack, shape, whole, shape.name, above)
            remark = ""
        elif isinstance(shape, Opener):
            _push(stack, shape, whole, shape.name, above)
            remark = ""
        elif isinstance(shape, Closer):
            _close(stack)
            remark = ""
        elif isinstance(shape, Assignment | Directive | Row):
            if has_no_number(line):
                continue
            if titles:
                indent = len(line) - len(line.lstrip())
                while indents and indent <= indents[-1][0]:
                    indents.pop()
                    stack.pop()
            if statement.first in titles:
                name = Span(whole.rstrip(":"), 0)
                _push(stack, shape, whole, name, above)
                indents.append((len(line) - len(line.lstrip()), stack[-1]))
                remark = ""
            else:
                stack[-1].entries.append(_entry(document, statement, shape, remark))
    for scope in _all(top):
        scope.entries = [_of_words(e) for e in scope.entries if re.search(r"[A-Za-z0-9]", e.line)]
        _cut_columns(scope)
    leads = _leads(top)
    for scope in _all(top):
        _find_groups(scope)
    for scope in _all(top):
        _cut_directives(scope, leads)
    return top


def _of_words(entry: ScopedLine) -> ScopedLine:
    """A line parted by bars as words: a comma in one of its cells makes no cells of its own."""
    return _as_words(entry) if " | " in entry.line else entry


def _as_words(entry: ScopedLine) -> ScopedLine:
    if not isinstance(entry.shape, Row):
        return entry
    first, *rest = words(entry.shape.body)
    return replace(entry, shape=Directive(entry.shape.body), head=first.text, parts=tuple(rest))


def _cut_columns(scope: Scope) -> None:
    """Take rows of blanks or bars apart as the head row above them names their columns."""
    kept: list[ScopedLine] = []
    at = 0
    while at < len(scope.entries):
        entry = scope.entries[at]
        at += 1
        titles = _titles(entry)
        below: list[ScopedLine] = []
        while titles and at + len(below) < len(scope.entries):
            row = scope.entries[at + len(below)]
            row = _as_words(row) if _is_ruled(entry) else row
            if not isinstance(row.shape, Directive) or row.whole or _is_ruled(row):
                break
            below.append(row)
        value = _value_column(titles)
        if value is None:
            below = below[: _unbroken(entry, below)]
            other = (n for n, row in enumerate(below) if _value_column(_titles(row)) is not None)
            below = below[: next(other, len(below))]
        if value is not None:
            below = below[: _in_column(entry, below, value)]
            scope.inner += _titled(entry, titles, below, value, kept)
        elif _heads_columns(titles, below, ruled=_is_ruled(entry), spaced=_widest_gap(entry)):
            kept += _cut_rows(below, titles, entry.line)
        else:
            kept.append(entry)
            continue
        at += len(below)
    scope.entries = _cut_at_bars(kept)


def _cut_at_bars(entries: list[ScopedLine]) -> list[ScopedLine]:
    """Lines whose cells bars part: the key is the fewest cells that tell the lines apart."""
    rows = {
        number: columns_of(entry.shape.body)
        for number, entry in enumerate(entries)
        if isinstance(entry.shape, Directive) and not entry.is_cut and " | " in entry.line
    }
    if len(rows) < 3 or len(rows) < 0.6 * len(entries):
        return entries
    texts = [tuple(" ".join(span.text for span in cell) for cell in row) for row in rows.values()]
    widest = max(map(len, texts))
    told = (n for n in range(1, widest) if len({t[:n] for t in texts}) >= 0.95 * len(texts))
    keys = next(told, widest - 1)
    found = list(entries)
    for number, row in rows.items():
        if len(row) > keys:
            found[number] = _cut_at_bar(entries[number], row, keys)
    return found


def _cut_at_bar(
    entry: ScopedLine, row: Sequence[Sequence[Span]], keys: int
) -> ScopedLine:
    first, last = row[keys][0], row[keys][-1]
    behind = "; ".join(" ".join(span.text for span in cell) for cell in row[keys + 1 :])
    return replace(
        entry,
        head=" ".join(s.text for s in words(entry.shape.body) if s.end <= first.start),
        parts=tuple(s for s in words(entry.shape.body) if first.start <= s.start <= last.start),
        negated=False,
        before="",
        barred=True,
        more=len(row) > keys + 1,
        unit=behind if measure_of(behind) else "",
        remark=_joined(entry.remark, behind),
        behind=behind,
    )


def _joined_span(cell: Sequence[Span]) -> Span:
    return Span(" ".join(span.text for span in cell), cell[0].start)


def _titles(entry: ScopedLine) -> tuple[str, ...]:
    """The cells of a line that may be the head row of a table; empty where it is none."""
    if not isinstance(entry.shape, Directive) or entry.whole:
        return ()
    row = columns_of(entry.shape.body)
    titles = tuple(" ".join(span.text for span in cell) for cell in row)
    named_ = len(titles) > 1 and all(_is_title(title) for title in titles)
    return titles if named_ and not any(_has_number(cell) for cell in row) else ()


def _is_ruled(entry: ScopedLine) -> bool:
    """Whether a line of dashes stands right below: the line is the head row of a table."""
    lines = entry.document.lines
    below = lines[entry.statement.line] if entry.statement.line < len(lines) else ""
    return _RULE.fullmatch(below.strip("#;| \t")) is not None


_RULE = re.compile(r"[-=+:]{2,}([-=+:| \t]+)?")


def _in_column(head: ScopedLine, below: Sequence[ScopedLine], value: int) -> int:
    """How many of the lines below a head row are of its table.

    They have their values in one column, or stand as a title above a line that has. All of them
    are where there is no such column.
    """
    fits = _fits_column(head, below, value)
    if sum(fits) < 2 or not fits[0] and not any(fits[1:2]):
        return len(below)
    stop = (n for n, fit in enumerate(fits) if not fit and not any(fits[n + 1 : n + 2]))
    return next(stop, len(fits))


def _fits_column(head: ScopedLine, below: Sequence[ScopedLine], value: int) -> list[bool]:
    """Whether lines have their values where most of them have: they begin or end there."""
    rows = [columns_of(_body(entry), _starts(head)) for entry in below]
    cells = [row[value] if len(row) > value else () for row in rows]
    sides: list[list[int]] = [
        [cell[0].start if cell else -1 for cell in cells],
        [cell[-1].end if cell else -1 for cell in cells],
    ]
    best: list[bool] = []
    for side in sides:
        first = next((at for at in side if at >= 0), -1)
        hidden = [HIDDEN in entry.line for entry in below]
        fits = [h or at == first >= 0 for at, h in zip(side, hidden, strict=True)]
        best = max(best, fits, key=sum)
    return best


def _titled(
    head: ScopedLine,
    titles: Sequence[str],
    below: Sequence[ScopedLine],
    value: int,
    kept: list[ScopedLine],
) -> Iterator[Scope]:
    """The rows of a table of settings: `kept` those above the first title, in scopes the others."""
    fits = _fits_column(head, below, value)
    group: Scope | None = None
    for fit, row in zip(fits, below, strict=True):
        if not fit and sum(fits) > 1 and len(columns_of(_body(row))) <= 2:
            if group is not None:
                yield group
            cut = tuple(word for word in re.split(r"[\s.:/]+", row.line) if word)
            group = Scope(Directive, row.line, cut, row.remark)
            continue
        (kept if group is None else group.entries).append(_cut_item(row, titles, value, head))
    if group is not None:
        yield group


def _starts(head: ScopedLine) -> tuple[int, ...]:
    return tuple(cell[0].start for cell in columns_of(_body(head)))


def _body(entry: ScopedLine) -> Span:
    return entry.shape.value if isinstance(entry.shape, Assignment) else entry.shape.body


def _cut_item(
    entry: ScopedLine, titles: Sequence[str], value: int, head: ScopedLine
) -> ScopedLine:
    """A row that is a setting: its name, up to its value; what stands behind tells of the unit."""
    row = columns_of(_body(entry), _starts(head))
    if len(row) <= value:
        return entry
    header = head.line
    spans = words(_body(entry))
    name = _name_column(titles)
    counted = ["*" for cell in row[:name] for _ in cell]  # the rows' own numbers
    texts = [_joined_span(cell) for cell in row]
    table = CellTable(tuple(titles), (), header, items=True, value=value, name=name)
    unit, step = table.unit_and_step(texts)
    return replace(
        entry,
        head=" ".join([*counted, *(span.text for span in row[name])]),
        parts=tuple(s for s in spans if row[name][-1].end <= s.start < row[value][-1].end),
        negated=False,
        before="",
        more=len(row) > value + 1,
        header=header,
        unit=unit,
        step=step,
        remark=_joined(entry.remark, "; ".join(text.text for text in texts[value + 1 :])),
    )


def _joined(one: str, other: str) -> str:
    return "; ".join(text for text in (one, other) if text)


def _cut_rows(
    rows: Sequence[ScopedLine], titles: Sequence[str], header: str
) -> Iterator[ScopedLine]:
    """Rows of which each has several values, named by the titles of their columns."""
    cut = [columns_of(row.shape.body) for row in rows]
    full = [row for row in cut if len(row) == len(titles)]
    seconds = [" ".join(span.text for span in row[1]) for row in full]
    firsts = [" ".join(span.text for span in row[0]) for row in full]
    numbered = all(text.isdigit() or (len(text) == 1 and text.isalpha()) for text in firsts)
    once = len(set(seconds)) == len(full)
    counted = all(text.isdigit() for text in firsts) and once and is_closed_list(seconds)  # the second column names the row
    pairs = set(zip(firsts, seconds, strict=True))
    several = numbered and len(pairs) == len(full) > len(set(firsts)) and not once
    keys = 2 if counted or several else 1
    listed = keys == 1 and len(set(firsts)) == len(full) and is_closed_list(firsts)
    for entry, row in zip(rows, cut, strict=True):
        if not keys < len(row) <= len(titles):
            yield entry
            continue
        head = [" ".join(span.text for span in cell) for cell in row[:keys]]
        if listed:
            head = [""]
        parts = [(titles[at], span) for at, cell in enumerate(row[keys:], keys) for span in cell]
        yield replace(
            entry,
            head=" ".join(["*", *head[1:]] if counted else head),
            parts=(*([_joined_span(row[0])] if listed else []), *(span for _, span in parts)),
            indexed=listed,
            negated=False,
            before="",
            header=header,
            titles=tuple(title for title, _ in parts),
        )


def columns_of(body: Span, starts: Sequence[int] = ()) -> tuple[tuple[Span, ...], ...]:
    """The words of a line by its columns, which bars part, or two blanks or more.

    A line whose words all stand one blank apart has a column a word. A word that stands where a
    title of the head row does begins a column (`starts`), however near the one before it is.
    """
    found: list[list[Span]] = []
    spans = words(body)
    barred = any(span.text == "|" for span in spans)
    wide = any(b.start - a.end > 1 for a, b in pairwise(spans))
    last: Span | None = None
    for span in spans:
        if span.text == "|":
            last = None
            continue
        near = last is not None and (barred or (wide and span.start - last.end == 1))
        near = near and (barred or span.start not in starts)
        if near:
            found[-1].append(span)
        else:
            found.append([span])
        last = span
    return tuple(tuple(cell) for cell in found)


def _unbroken(entry: ScopedLine, below: Sequence[ScopedLine]) -> int:
    """How many of the lines below a line follow it without a blank line."""
    lines = entry.document.lines
    blank = (at for at in range(entry.statement.line, len(lines)) if not lines[at].strip())
    stop = next(blank, len(lines))
    return sum(row.statement.first < stop for row in below)


def _widest_gap(entry: ScopedLine) -> int:
    """The most blanks between two words of a line."""
    gaps = (b.start - a.end for a, b in pairwise(words(_body(entry))))
    return max(gaps, default=0)


def _heads_columns(
    titles: Sequence[str], below: Sequence[ScopedLine], *, ruled: bool, spaced: int
) -> bool:
    """Whether words name the columns of the lines below them: as many cells, numbers in most."""
    if len(titles) < 2 or (not ruled and any(_kind(title) == "sign" for title in titles[1:])):
        return False
    if not ruled and (spaced < 2 or any(" | " in entry.line for entry in below)):
        return False  # it is a row like the others
    rows = [columns_of(entry.shape.body) for entry in below if isinstance(entry.shape, Directive)]
    fits = [row for row in rows if len(row) == len(titles)]
    told = [
        row
        for row in fits
        if any(_tells(cell) for cell in row[1:]) or any(c.isdigit() for c in row[0][-1].text)
    ]
    least = 1 if ruled else 2
    return len(fits) >= least and len(fits) >= 0.6 * len(rows) and (
        ruled or len(told) >= 0.5 * len(fits)
    )


def _tells(cell: Sequence[Span]) -> bool:
    return _has_number(cell) or any(_kind(span.text) == "sign" for span in cell)


@lru_cache(maxsize=8)
def opening_of(document: Document) -> str:
    """The remarks above the first statement of a dump."""
    found: list[str] = []
    for statement in document.statements:
        if isinstance(statement.shape, Comment):
            found.append(statement.shape.body.text)
        elif not isinstance(statement.shape, Blank) and len(found) > 0:
            break
        elif statement.first > 6:
            break
    return ". ".join(found)


def _leads(top: Scope) -> frozenset[str]:
    """Words that stand before the keys of very many settings: `put loop.rate 4000`."""
    behind: dict[str, set[str]] = {}
    for scope in _all(top):
        for entry in scope.entries:
            if isinstance(entry.shape, Directive) and len(entry.parts) > 1 and not entry.is_cut:
                word = entry.parts[0].text
                if word[:1].isalpha() and "=" not in word:
                    behind.setdefault(entry.head, set()).add(word)
    return frozenset(head for head, words in behind.items() if len(words) >= 40)


def has_no_number(text: str) -> bool:
    """Whether a text has digits that can't be counted by; nothing is learnt from it.

    >>> has_no_number("port ²"), has_no_number("1" * 41), has_no_number("id é31 " + "1" * 40)
    (True, True, False)
    """
    found = _NO_NUMBER.search(text)
    return found is not None and (len(found[0]) > 1 or any(_odd_digit(each) for each in text))


def _odd_digit(letter: str) -> bool:
    return letter.isdigit() and not letter.isdecimal()


def _is_remark(shape: Row) -> bool:
    return cells(shape.body)[0].text.casefold() in ("rem", "remark", "comment", "note")


def _titles_by_indent(document: Document) -> frozenset[int]:
    """Lines that end in a colon and stand above lines that are indented further, if there are many.

    By index of the line, from 0.
    """
    found: set[int] = set()
    lines = [
        (s.first, document.lines[s.first])
        for s in document.statements
        if isinstance(s.shape, Assignment | Directive | Row)
    ]
    for (at, line), (_, following) in pairwise(lines):
        deeper = len(following) - len(following.lstrip()) > len(line) - len(line.lstrip())
        if line.rstrip().endswith(":") and deeper:
            found.add(at)
    if len(found) >= 3:
        return frozenset(found)
    return _numbered_titles(lines)


def _numbered_titles(lines: Sequence[tuple[int, str]]) -> frozenset[int]:
    """Lines that begin with one word and a number, above lines that are indented: `PART 2 ...`."""
    sorts: dict[str, list[int]] = {}
    for (at, line), (_, following) in pairwise(lines):
        begun = re.match(r"([A-Za-z]+) \d+\b", line)
        if begun and following[:1].isspace():
            sorts.setdefault(begun[1], []).append(at)
    found = max(sorts.values(), key=len, default=[])
    return frozenset(found) if len(found) >= 3 else frozenset()


def _push(stack: list[Scope], shape: Shape, line: str, name: Span, remark: str) -> None:
    bare = re.split(r"\s+(?:#|;|//)", line)[0]
    said = name.text if not has_no_number(name.text) else ""
    cut = tuple(word for word in re.split(r"[\s.:/]+", said) if word)
    scope = Scope(type(shape), bare, cut, remark)
    stack[-1].inner.append(scope)
    stack.append(scope)


def _close(stack: list[Scope]) -> None:
    depth = next((i for i in range(len(stack) - 1, 0, -1) if stack[i].form is Opener), 0)
    if depth:
        del stack[depth:]


def _all(scope: Scope) -> Iterator[Scope]:
    yield scope
    for below in list(scope.inner):
        yield from _all(below)


def _entry(
    document: Document, statement: Statement, shape: Assignment | Directive | Row, remark: str
) -> ScopedLine:
    entry = _entry_of(document, statement, shape, remark)
    said = shape.value if isinstance(shape, Assignment) else shape.body
    rest = "" if statement.joints else document.lines[statement.first][said.end :]
    behind = rest.strip(" \t#;/")
    return replace(entry, remark=_joined(remark, behind), behind=behind)


def _entry_of(
    document: Document, statement: Statement, shape: Assignment | Directive | Row, remark: str
) -> ScopedLine:
    if isinstance(shape, Assignment):
        head = " ".join(shape.key.text.split())
        return ScopedLine(document, statement, shape, head, (shape.value,), False, remark)
    bracketed = _BRACKETED.fullmatch(shape.body.text) or _BRACED.fullmatch(shape.body.text)
    if bracketed:
        value = Span(bracketed["value"], shape.body.start + bracketed.start("value"))
        head, form = " ".join(bracketed["head"].split()), Directive(shape.body)
        kept = " ".join(w.text for w, varies in inner_pieces(value) if not varies)
        return ScopedLine(document, statement, form, head, (value,), False, remark, whole=kept)
    if isinstance(shape, Row):
        parts = cells(shape.body)
        return ScopedLine(document, statement, shape, parts[0].text, parts, False, remark)
    parts = words(shape.body) or (shape.body,)  # of blanks that no grammar skips, there is none
    first = parts[0].text
    verb = first in OFF_VERBS or first in VERBS
    if verb and any(_word_kind(span.text) == "number" for span in parts):
        verb = False
    if len(parts) > 1 and (first in NEGATIONS or verb):
        negated = first not in VERBS
        head, rest = parts[1].text, parts[2:]
        return ScopedLine(document, statement, shape, head, rest, negated, remark, f"{first} ")
    return ScopedLine(document, statement, shape, first, parts[1:], False, remark)


# A key, and a list in brackets or a block in braces behind it, on one line.
_BRACKETED = re.compile(r"(?P<head>[^\[\]{}\"]*?[^\[\]{}\" ]) +(?P<value>\[[^\[\]]*\])")
_BRACED = re.compile(r"(?P<head>[^{}]*?[^{} ]) +(?P<value>\{.*\})")
_INNER = re.compile(r'"[^"]*"|[\[\]{},]|[^\s\[\]{},"]+')
_SAID = frozenset({"true", "false", "yes", "no", "on", "off"})


def inner_pieces(value: Span) -> list[tuple[Span, bool]]:
    """The pieces of a list in brackets or a block in braces, each with whether it varies."""
    listed = value.text.startswith("[")
    found: list[tuple[Span, bool]] = []
    for match in _INNER.finditer(value.text):
        text = match.group()
        sign = text in "[]{},"
        varies = not sign and (
            listed or text in _SAID or re.match(r'[+-]?\.?\d|"', text) is not None
        )
        found.append((Span(text, value.start + match.start()), varies))
    return found


def _cut_directives(scope: Scope, leads: frozenset[str]) -> None:
    """Take the words that name a value to the head of their line, where lines share first words."""
    for numbers in _by_first(scope).values():
        for number, made in _cut_by_labels(scope.entries, numbers, leads):
            scope.entries[number] = made
    by_first = _by_first(scope)
    listed: set[str] = set()
    for numbers in sorted(by_first.values(), key=lambda own: -_widest(scope.entries, own)):
        group = [scope.entries[number] for number in numbers]
        made = _heads_cut(group) if group[0].head in leads else _cut_by_signs(group)
        if made is not None:
            pass
        elif _first_word_tells(group):
            listed.update(entry.parts[0].text for entry in group if entry.parts)
            continue
        elif len(group) >= 2 and all(e.parts and e.parts[0].text in listed for e in group):
            continue  # the words are an index of other lines
        else:
            made = _heads_cut(group)
        for number, entry in zip(numbers, made, strict=True):
            scope.entries[number] = entry


def _by_first(scope: Scope) -> dict[str, list[int]]:
    """The lines of words that are not cut yet, by their first word."""
    found: dict[str, list[int]] = {}
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Directive) and not entry.is_cut:
            found.setdefault(entry.head, []).append(number)
    return found


def _cut_by_labels(
    entries: Sequence[ScopedLine], numbers: Sequence[int], leads: frozenset[str]
) -> Iterator[tuple[int, ScopedLine]]:
    """Lines in which words stand before their values: `port 1 does console at 115200`."""
    by_length: dict[int, list[int]] = {}
    done: set[int] = set()
    samples: list[ScopedLine] = []
    for number in numbers:
        entry = entries[number]
        if not entry.before and entry.head not in leads and not any(map(named, entry.parts)):
            by_length.setdefault(len(entry.parts), []).append(number)
    for count, same in by_length.items():
        while len(same) > 1 and count > 2:
            rows = [[span.text for span in entries[number].parts] for number in same]
            usual = [Counter(column).most_common(1)[0] for column in zip(*rows, strict=True)]
            stays = {at for at, (_, often) in enumerate(usual) if often >= 0.6 * len(rows)}
            stays = {at for at in stays if at < count - 1 and _is_label(usual[at][0])}
            fits = [n for n, row in zip(same, rows, strict=True)
                    if all(row[at] == usual[at][0] for at in stays)]
            made = list(_labelled_alike(entries, fits, stays)) if len(fits) > 1 else []
            done |= {number for number, _ in made}
            yield from made
            samples += [entry for _, entry in made[:1]]
            if not fits or len(fits) == len(same):
                break
            same = [number for number in same if number not in fits]
    heads = Counter(
        tuple(span.text for span in entries[number].parts[:count])
        for number in numbers
        for count in range(1, len(entries[number].parts))
    )
    for number in numbers:
        short = (_shorter(entries[number], like) for like in samples if number not in done)
        made_short = next((made for made in short if made is not None), None)
        if made_short is not None:
            done.add(number)
            yield number, made_short
        pairs = _pairs_at_end(entries[number])
        first = len(entries[number].parts) - 2 * pairs
        key = tuple(span.text for span in entries[number].parts[: first + 1])
        if pairs > 1 and first >= 0 and heads[key] == 1 and number not in done:
            yield number, _labelled(entries[number], first, range(0, 2 * pairs, 2))


def _labelled_alike(
    entries: Sequence[ScopedLine], numbers: Sequence[int], stays: set[int]
) -> Iterator[tuple[int, ScopedLine]]:
    """Lines of one length that have words in common: behind the first that varies they are labels."""
    rows = [[span.text for span in entries[number].parts] for number in numbers]
    varies = [at for at in range(len(rows[0])) if at not in stays]
    if not varies or not any(at > varies[0] for at in stays):
        return
    first = varies[0]
    once = [len({tuple(row[first : first + n]) for row in rows}) >= 0.7 * len(rows) for n in (1, 2)]
    if once[0]:
        head, indexed = first, True
    elif once[1] and first + 1 in varies:
        head, indexed = first + 2, False
    else:
        return
    labels = [at - head for at in stays if at > first]
    for number in numbers:
        yield number, _labelled(entries[number], head, labels, indexed=indexed)


def _shorter(entry: ScopedLine, like: ScopedLine) -> ScopedLine | None:
    """A line that ends before a labelled one of its sort does: `pad 5 for beeper`, no timer."""
    cut = 1 + len(entry.parts) - len(like.head.split())
    labels = {at for at in like.labels if at < cut}
    if not labels or cut >= len(like.parts) or cut - 1 in labels or not like.indexed:
        return None
    headed = _headed(entry, len(entry.parts) - cut)
    same = headed.head == like.head and all(
        headed.parts[at].text == like.parts[at].text for at in labels
    )
    made = replace(headed, labels=frozenset(labels), indexed=True, skeleton=like.skeleton)
    return made if same else None


def _labelled(
    entry: ScopedLine, count: int, labels: Iterable[int], *, indexed: bool = False
) -> ScopedLine:
    """The line with so many more words in its head; which of the other words are labels."""
    headed = _headed(entry, count)
    own = frozenset(labels)
    said = " ".join(headed.parts[at].text for at in sorted(own))
    return replace(headed, labels=own, indexed=indexed, skeleton=said)


def _is_label(text: str) -> bool:
    return _is_plain_word(text) and not any(letter.isdigit() for letter in text)


def _is_plain_word(text: str) -> bool:
    return _word_kind(text) == "word" and text not in _SAID


def _pairs_at_end(entry: ScopedLine) -> int:
    """How many pairs of a word and a value end a line."""
    kinds = ["word" if _is_plain_word(span.text) else "value" for span in entry.parts]
    pairs = 0
    while kinds[-2:] == ["word", "value"]:
        pairs += 1
        del kinds[-2:]
    return pairs


def _cut_by_signs(group: Sequence[ScopedLine]) -> list[ScopedLine] | None:
    """Lines whose keys end where a sign says so: a mark, a colon, pairs. None: no sign does."""
    if _marked(group):
        return [_switched(entry) for entry in group]
    if any(_colon(entry) for entry in group):
        return [_headed(entry, _colon(entry)) for entry in group]
    counts = [_before_pairs(entry) for entry in group]
    if max(counts) > 0 and min(counts) >= 0:
        return [_headed(entry, count) for entry, count in zip(group, counts, strict=True)]
    return None


def _widest(entries: Sequence[ScopedLine], numbers: Sequence[int]) -> int:
    return max(len(entries[number].parts) for number in numbers)


def _marked(group: Sequence[ScopedLine]) -> bool:
    """Whether the lines are a verb and one word each, some of them with a mark for off."""
    if any(len(entry.parts) != 1 or entry.before for entry in group):
        return False
    marked = sum(entry.parts[0].text[:1] in _MARKS for entry in group)
    return marked > 0 and len({entry.parts[0].text for entry in group}) == len(group) >= 2


def _switched(entry: ScopedLine) -> ScopedLine:
    word = entry.parts[0].text
    off = word[:1] in _MARKS
    before = f"{entry.head} {word[:1] if off else ''}"
    return replace(entry, head=word.lstrip(_MARKS), parts=(), negated=off, before=before)


def _colon(entry: ScopedLine) -> int:
    """How many words behind the first one belong to a key that ends in a colon; 0 for none."""
    for number, span in enumerate(entry.parts, 1):
        if span.text.endswith(":") and len(span.text) > 1:
            return number
    return 0


def _before_pairs(entry: ScopedLine) -> int:
    """How many words behind the first one stand before pairs of a name and a value.

    -1 where no pairs end the line, or where the words before them may be values.
    """
    pairs = [named(span) is not None for span in entry.parts]
    count = pairs.index(True) if True in pairs else 0
    before = [span.text for span in entry.parts[:count]]
    told = all(text.isalpha() or text.isdigit() for text in before)
    told = told and sum(map(str.isdigit, before)) <= 1 and not "".join(before[-1:]).isdigit()
    return count if told and pairs and all(pairs[count:]) else -1


def _headed(entry: ScopedLine, count: int) -> ScopedLine:
    """The line with so many more words in its head."""
    head = " ".join([entry.head, *(span.text for span in entry.parts[:count])])
    return replace(entry, head=head, parts=entry.parts[count:])


def _first_word_tells(group: Sequence[ScopedLine]) -> bool:
    """Whether the word behind the first tells lines of one sort apart: it is an index."""
    if any(entry.before in ("enable ", "disable ", "show ", "hide ") for entry in group):
        return False
    firsts = [entry.parts[0].text for entry in group if entry.parts]
    if len(firsts) < len(group) or any("=" in text for text in firsts):
        return len(group) == 1 and not _is_named(group[0])
    if len(group) == 1:
        return not _is_named(group[0])
    distinct = len(set(firsts)) >= 0.7 * len(firsts) and len(set(firsts)) >= 2
    if not distinct:
        return False
    if sum(any(c.isdigit() for c in text) for text in firsts) >= 0.6 * len(firsts):
        return True
    if is_closed_list(firsts) or _are_records(group):
        return True
    if 2 * sum(len(chunks(text)) > 1 for text in firsts) >= len(firsts) and not any(c.isdigit() for text in firsts for c in text):
        return False  # words that say more than which one
    known = sum(all(is_word(word) for word, _ in chunks(text)) for text in firsts)
    return known < 0.5 * len(firsts) and len(group) <= 24 and _columns_alike(group)


def _are_records(group: Sequence[ScopedLine]) -> bool:
    """Whether a number, and something else, stand behind the first word of most lines."""
    wide = [entry for entry in group if len(entry.parts) >= 3]
    numbered = all(
        _word_kind(entry.parts[1].text) != "word" for entry in group if len(entry.parts) > 1
    )
    return len(group) >= 3 and len(wide) >= 0.5 * len(group) and numbered


def _is_named(entry: ScopedLine) -> bool:
    """Whether a line that stands alone is several words that name a value, and the value."""
    kinds = [_word_kind(span.text) for span in entry.parts]
    return (
        len(kinds) >= 2
        and kinds[0] == "word"
        and kinds.count("word") == len(kinds) - 1
        and (kinds[-1] != "word")
    )


def _columns_alike(group: Sequence[ScopedLine]) -> bool:
    """Whether the words behind the index are of the same kind in every line."""
    for column in range(1, max(len(entry.parts) for entry in group)):
        kinds = {
            _word_kind(entry.parts[column].text) for entry in group if len(entry.parts) > column
        }
        if len(kinds - {"nothing"}) > 1:
            return False
        texts = {entry.parts[column].text for entry in group if len(entry.parts) > column}
        if kinds == {"number"} and column == 1 and _spread(texts) > 100:
            return False
    return True


def _spread(texts: Iterable[str]) -> float:
    numbers = [abs(float(Fraction(text))) for text in texts if _is_fraction(text)]
    full = [number for number in numbers if number]
    return max(full) / min(full) if full else 1.0


def _word_kind(text: str) -> str:
    if text[:1] == '"' or text.casefold() in ("none", "off", "-", "nil"):
        return "nothing"
    return "number" if re.match(r"[+-]?\.?\d", text) or text.startswith("[") else "word"


def _heads_cut(group: Sequence[ScopedLine]) -> list[ScopedLine]:
    """Lines of several sorts behind one first word: the head goes up to the value."""
    counts: dict[tuple[str, ...], list[str]] = {}
    for entry in group:
        for at, span in enumerate(entry.parts):
            if _word_kind(span.text) == "number":
                words = tuple(part.text for part in entry.parts[:at])
                counts.setdefault(words, []).append(span.text)
    return [_headed(entry, _head_length(entry, counts)) for entry in group]


def _head_length(entry: ScopedLine, counts: Mapping[tuple[str, ...], Sequence[str]]) -> int:
    parts = entry.parts
    kinds = [_word_kind(span.text) for span in parts]
    if entry.before and "number" not in kinds and "nothing" not in kinds:
        return len(parts)
    for at, kind in enumerate(kinds):
        if kind == "word":
            continue
        texts = counts.get(tuple(part.text for part in parts[:at]), [])
        indexed = (
            kind == "number"
            and at + 1 < len(parts)
            and parts[at].text.isdigit()
            and len(set(texts)) >= 2
            and (len(set(texts)) >= 0.7 * len(texts) or kinds[at + 1] == "word")
        )
        if indexed and kinds[at + 1] == "word" and _labels(parts, at):
            return at
        if indexed:
            behind = [i for i in range(at + 1, len(parts)) if kinds[i] != "word"]
            many = len(set(texts)) >= 0.7 * len(texts)
            if many:  # each line has its own number: what follows are its values
                return at + 1
            return behind[0] if behind else len(parts) - 1
        return at
    return max(0, len(parts) - 1)


def _labels(parts: Sequence[Span], at: int) -> bool:
    """Whether words and numbers take turns from here on: each word names the number behind it."""
    rest = [_word_kind(span.text) for span in parts[at:]]
    return (
        len(rest) >= 4 and rest[::2] == ["number"] * len(rest[::2]) and "number" not in rest[1::2]
    )


def _find_groups(scope: Scope) -> None:
    """Lines that put those after them into a group: the lines between repeat themselves."""
    stems: dict[str, list[int]] = {}
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Directive) and not entry.negated and entry.parts:
            stem = " ".join([entry.head, *(span.text for span in entry.parts[:-1])])
            stems.setdefault(stem, []).append(number)
    leaders: set[int] = set()
    closers: set[int] = set()
    beyond = -1
    for places in sorted(stems.values()):
        own, ends = _leading(scope.entries, places)
        ends += [at[0] for at in stems.values() if len(at) > 1 and at[0] > own[-1] + 1]
        if own[0] > beyond and len(own) >= 2 and _repeats(scope.entries, own, ends):
            leaders.update(own)
            beyond = min([at for at in ends if at > own[-1]], default=len(scope.entries))
            closers.update({beyond, *(set(places) - set(own))})
            beyond -= 1
    if not leaders:
        return
    kept: list[ScopedLine] = []
    group: Scope | None = None
    for number, entry in enumerate(scope.entries):
        if number in leaders:
            cut = (entry.head, *(span.text for span in entry.parts))
            group = Scope(Directive, entry.line, cut, entry.remark)
            scope.inner.append(group)
            continue
        if number in closers:
            group = None
        if number not in closers or entry.head not in {scope.entries[at].head for at in leaders}:
            (group.entries if group else kept).append(entry)
    scope.entries = kept + _beyond_last(scope.inner[-len(leaders) :])


def _beyond_last(groups: Sequence[Scope]) -> list[ScopedLine]:
    """What follows the last group: lines that no group before it has. They are taken out of it."""
    if len(groups) < 2:
        return []
    known = {_sort_of(entry) for group in groups[:-1] for entry in group.entries}
    last = groups[-1].entries
    stop = max((n for n, entry in enumerate(last, 1) if _sort_of(entry) in known), default=0)
    groups[-1].entries = last[:stop]
    return last[stop:]


def _sort_of(entry: ScopedLine) -> str:
    """What a line says but for its figures."""
    words = [entry.head, *(span.text for span in entry.parts)]
    return " ".join(word for word in words if not any(c.isdigit() for c in word))


def _leading(entries: Sequence[ScopedLine], places: list[int]) -> tuple[list[int], list[int]]:
    """Of lines alike, those that begin a group, and those that end one or go back to the first."""
    words = [entries[at].parts[-1].text for at in places]
    if 2 <= sum(word.isdigit() for word in words) < len(words):  # `bank 1`, `bank 2`, `bank end`
        begun = [at for at, word in zip(places, words, strict=True) if word.isdigit()]
    else:
        begun = list(places)
    if len(begun) > 2 and words[places.index(begun[-1])] == words[places.index(begun[0])]:
        begun.pop()
    return begun, [at for at in places if at not in begun]


def _repeats(entries: Sequence[ScopedLine], places: list[int], ends: list[int]) -> bool:
    """Whether what follows one leader is much like what follows the next."""
    if len({entries[at].parts[-1].text for at in places}) < len(places):
        return False
    last = min([at for at in ends if at > places[-1]], default=len(entries))
    segments = [
        frozenset(entry.head for entry in entries[at + 1 : stop])
        for at, stop in zip(places, [*places[1:], last], strict=True)
    ]
    own = entries[places[0]].head
    if any(len(s) < 2 or own in s for s in segments[:-1]) or len(segments[-1]) < 2:
        return False
    before = segments[-2]
    alike_all = all(alike(a, b) > 0.6 for a, b in pairwise(segments[:-1]))
    return alike_all and len(before & segments[-1]) > 0.75 * len(before)


def alike(one: frozenset[str], other: frozenset[str]) -> float:
    """The share that two sets have in common."""
    return len(one & other) / len(one | other) if one or other else 0.0


def kin_of(scopes: Sequence[Scope]) -> list[Kin]:
    """Scopes that differ in one word and hold the same, together; the others alone."""
    left = list(scopes)
    found: list[Kin] = []
    by_words = _kin_by_words(left)
    while left:
        first = left[0]
        if id(first) in by_words:
            kin = by_words[id(first)]
            found.append(kin)
            taken = {id(scope) for _, scope in kin.members}
            left = [scope for scope in left if id(scope) not in taken]
            continue
        best: list[tuple[str, Scope]] = []
        varying: tuple[str, str] = ("", "")
        for place in range(len(first.cut) - 1, -1, -1):
            prefixes = _prefixes(first.cut[place])
            glued = len(first.cut) == 1 or is_word(prefixes[0].casefold())
            for prefix in prefixes if glued else reversed(prefixes):
                members = _like(first, left, place, prefix)
                if len(members) > len(best):
                    best, varying = members, (first.cut[place], prefix)
        if len({word for word, _ in best}) >= 2 and _is_sort(best):
            found.append(_kin(first, best, varying))
            taken = {id(scope) for _, scope in best}
        else:
            same = [s for s in left if s.line == first.line and s.form is first.form]
            alone = tuple(("", scope) for scope in same)
            found.append(Kin(first.form, first.line, False, first.cut, first.remark, alone))
            taken = {id(scope) for scope in same}
        left = [scope for scope in left if id(scope) not in taken]
    return _kin_of_kin(found)


def _kin_of_kin(found: Sequence[Kin]) -> list[Kin]:
    """Sorts of scopes whose lines differ in one number, together: `[Tune 1 *]`, `[Tune 2 *]`."""
    groups: dict[tuple[type, str], list[tuple[str, Kin]]] = {}
    for kin in found:
        numbers = [] if not kin.varies else list(re.finditer(r"(?<![\w.])\d+(?![\w.])", kin.line))
        line, number = kin.line, ""
        if len(numbers) == 1:
            start, end = numbers[0].span()
            line, number = f"{line[:start]}\0{line[end:]}", numbers[0].group()
        groups.setdefault((kin.form, line), []).append((number, kin))
    made: list[Kin] = []
    for (_, line), kins in groups.items():
        first = kins[0][1]
        if len(kins) < 2 or "" in (number for number, _ in kins):
            made += [kin for _, kin in kins]
            continue
        ahead = line.index("\0") == re.search(r"(?<![\w.])\d+(?![\w.])", first.line).start()
        members = tuple(
            (f"{number}\0{word}" if ahead else f"{word}\0{number}", scope)
            for number, kin in kins
            for word, scope in kin.members
        )
        names = tuple(name for name in first.names if not name.isdigit())
        made.append(Kin(first.form, line, True, names, first.remark, members))
    return made


def filled(line: str, word: str) -> str:
    """A scope's line with the word, or the words, of one member in its holes."""
    for each in word.split("\0"):
        line = line.replace("\0", each, 1)
    return line


def _kin_by_words(scopes: Sequence[Scope]) -> dict[int, Kin]:
    """Scopes whose names differ in a word, or several, of one list of the trade: the arms, say."""
    found: dict[int, Kin] = {}
    lines: dict[str, list[Scope]] = {}
    for scope in scopes:
        lines.setdefault(" ".join(scope.cut), []).append(scope)
    names = list(lines)
    if len(names) < 2:
        return found
    inside = {head for scope in scopes for head in scope.heads()}
    sorts: dict[str, list[tuple[str, Scope]]] = {}
    for name, with_holes in holed(names, tuple(inside)).items():
        if len(with_holes.words) == 1 and not with_holes.words[0].isdigit():
            sorts.setdefault(with_holes.pattern, []).extend(
                (with_holes.words[0], scope) for scope in lines[name]
            )
    for pattern, members in sorts.items():
        if len({word for word, _ in members}) < 2:
            continue
        first = members[0][1]
        at = first.line.find(members[0][0])
        line = f"{first.line[:at]}\0{first.line[at + len(members[0][0]) :]}"
        words = tuple(word for word in pattern.replace("\0", " ").split() if word)
        remark = next((scope.remark for _, scope in members if scope.remark), "")
        kin = Kin(first.form, line, True, words, remark, tuple(members))
        found.update({id(scope): kin for _, scope in members})
    return found


def _is_sort(members: list[tuple[str, Scope]]) -> bool:
    """Two scopes whose varying words are no numbers must hold just the same."""
    words = {word for word, _ in members}
    if len(words) > 2 or all(word.isdigit() for word in words):
        return True
    first = members[0][1]
    return len(first.cut) > 1 and all(scope.lengths() == first.lengths() for _, scope in members)


def _length(entry: ScopedLine) -> int:
    """How many words its values have; a list is a list, however long."""
    return min(5, sum(len(span.text.split()) for span in entry.parts))


def _prefixes(word: str) -> tuple[str, ...]:
    glued = _GLUED.fullmatch(word)
    return (glued.group(1), "") if glued else ("",)


def _like(
    first: Scope, scopes: Sequence[Scope], place: int, prefix: str
) -> list[tuple[str, Scope]]:
    found: list[tuple[str, Scope]] = []
    for scope in scopes:
        if scope.form is not first.form or len(scope.cut) != len(first.cut):
            continue
        rest = scope.cut[:place] + scope.cut[place + 1 :]
        if rest != first.cut[:place] + first.cut[place + 1 :]:
            continue
        word = scope.cut[place]
        if prefix and not (word.startswith(prefix) and word[len(prefix) :].isdigit()):
            continue
        if (
            prefix
            or (rest and word.isdigit())
            or alike(scope.heads(), first.heads()) >= (0.3 if rest else 0.7)
            or (scope.heads() and len(first.heads()) <= 4 and scope.heads() < first.heads())
        ):
            found.append((word[len(prefix) :], scope))
    return found


def _kin(first: Scope, members: list[tuple[str, Scope]], varying: tuple[str, str]) -> Kin:
    word, prefix = varying
    at = first.line.rindex(word)
    line = f"{first.line[:at]}{prefix}\0{first.line[at + len(word) :]}"
    names = tuple(w if w != word else prefix for w in first.cut if w != word or prefix)
    if not names:  # what tells of them is told by the words that vary
        names = tuple(dict.fromkeys(m.group() for w, _ in members if (m := _LETTERS.match(w))))
        names = names if len(names) <= 2 else ()
    remark = next((scope.remark for _, scope in members if scope.remark), "")
    return Kin(first.form, line, True, names, remark, tuple(members))


_NAME_TITLES = frozenset(
    {"name", "key", "setting", "parameter", "param", "item", "field", "variable", "option", "entry"}
)
_VALUE_TITLES = frozenset(
    {"value", "val", "now", "current", "set", "setting", "content", "stored", "present", "reading"}
)
_UNIT_TITLES = frozenset({"unit", "units", "measure", "in", "dimension"})
_STEP_TITLES = frozenset({"step", "steps", "scale", "factor", "per", "resolution"})


@dataclass(frozen=True)
class CellTable:
    """The rows of one scope, the titles of their columns, and what sort of table it is."""

    header: tuple[str, ...]
    rows: tuple[ScopedLine, ...]
    title: str  # the head row as it stands, empty where there is none
    items: bool  # each row is a setting of its own: a name and a value
    value: int = 1  # the column of an item's value
    name: int = 0  # the column of its name

    def unit_and_step(self, cells: Sequence[Span]) -> tuple[str, str]:
        """The unit and the step that an item's further cells state."""
        unit, step = "", ""
        for number, span in enumerate(cells[1:], 1):
            title = self.header[number].casefold() if number < len(self.header) else ""
            if number == self.value or (
                self.is_headed and title not in _UNIT_TITLES | _STEP_TITLES
            ):
                continue
            measure = measure_of(span.text)
            if measure and title not in _STEP_TITLES and not unit:
                unit = span.text
            elif title not in _UNIT_TITLES and _is_fraction(span.text) and not step:
                step = span.text
        return unit, step

    @property
    def is_headed(self) -> bool:
        """Whether the head row names the column of the values: what else a row has is its own."""
        return _value_column(self.header) is not None


def _value_column(titles: Sequence[str]) -> int | None:
    """The column of the values, where titles name that and begin with the name of a setting."""
    low = [title.casefold() for title in titles]
    named = next((number for number, title in enumerate(low) if title in _NAME_TITLES), None)
    if named is None or named > 1:
        return None
    return next((at for at, title in enumerate(low) if at > named and title in _VALUE_TITLES), None)


def _name_column(titles: Sequence[str]) -> int:
    """The column of the names of settings: the first, but for one that counts the rows."""
    low = [title.casefold() for title in titles]
    return 1 if len(low) > 2 and low[0] not in _NAME_TITLES and low[1] in _NAME_TITLES else 0


def table_of(rows: Sequence[ScopedLine]) -> CellTable | None:
    """The table that rows make, or None where there are too few to say."""
    if not rows:
        return None
    first = rows[0].parts
    alike = len(rows) > 1 and (len(first) == len(rows[1].parts) or _has_number(rows[1].parts))
    titled = alike and not _has_number(first) and all(_is_title(span.text) for span in first)
    titled = titled and not any(_kind(span.text) == "sign" for span in first[1:])
    header = tuple(span.text for span in first) if titled else ()
    body = tuple(rows[1:]) if titled else tuple(rows)
    title = rows[0].line if titled else ""
    value = _value_column(header)
    if value is not None:  # rows without a value say nothing
        body = tuple(row for row in body if len(row.parts) > value and row.parts[value].text)
        body = tuple(replace(row, head=row.parts[_name_column(header)].text) for row in body)
    items = value is not None or _are_items(header, body)
    name = 0 if value is None else _name_column(header)
    return CellTable(header, body, title, items, value or 1, name) if body else None


def _has_number(cells: Sequence[Span]) -> bool:
    return any(_kind(span.text) == "number" for span in cells)


def _is_title(text: str) -> bool:
    return bool(text) and text[0].isalpha()


def _are_items(header: tuple[str, ...], rows: Sequence[ScopedLine]) -> bool:
    titles = {title.casefold() for title in header}
    if titles & _UNIT_TITLES:
        return True
    units = sum(any(unit_of(span.text) for span in row.parts[2:]) for row in rows)
    if units * 3 > len(rows):
        return True
    kinds = {_kind(row.parts[1].text) for row in rows if len(row.parts) > 1} - {"nothing"}
    if len(rows[0].parts) != 2 or len(rows) < 3:
        return False
    named = sum(len(chunks(row.head)) > 1 for row in rows) > 0.6 * len(rows)
    return len(kinds) >= 2 or (len(rows) >= 10 and named)


def _kind(text: str) -> str:
    if _is_fraction(text):
        return "number"
    if text.casefold() in ("yes", "no", "on", "off", "true", "false", "y", "n"):
        return "sign"
    return "nothing" if text in ("", "-", "~") else "word"


def _is_fraction(text: str) -> bool:
    try:
        Fraction(text)
    except (ValueError, ZeroDivisionError):
        return False
    return True
