"""Puts a dump's lines under the sections, blocks, groups and tables that they stand in."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from cfgaudit.dialects.template import Pieces, SpecError, match_text, open_shape, text_pieces
from cfgaudit.reading.document import Document, Statement, front
from cfgaudit.reading.shapes import (
    Assignment,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    cells,
    words,
)
from cfgaudit.vocabulary.units import is_unit

NEGATIONS = frozenset({"no", "not", "without", "un"})
_GLUED = re.compile(r"(.*?[A-Za-z_.-])(\d+)")


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


def scopes_of(document: Document, noise: Sequence[str]) -> Scope:
    """The tree of a document's scopes."""
    top = Scope(Directive, "", ())
    stack = [top]
    remark = ""
    patterns = [_noise_pieces(line) for line in noise]
    lines = document.lines
    for statement in document.statements:
        shape = open_shape(statement.shape, document.look)
        line = lines[statement.first]
        whole = line[front(line, document.look) :].strip()
        if isinstance(shape, Comment):
            remark = shape.body.text
        elif any(match_text(pattern, whole) is not None for pattern in patterns):
            continue
        elif isinstance(shape, Section):
            while len(stack) > 1 and stack[-1].form is not Opener:
                stack.pop()
            _push(stack, shape, whole, shape.name, remark)
        elif isinstance(shape, Opener):
            _push(stack, shape, whole, shape.name, remark)
        elif isinstance(shape, Closer):
            _close(stack)
        elif isinstance(shape, Assignment | Directive | Row):
            stack[-1].entries.append(_entry(document, statement, shape, remark))
    for scope in _all(top):
        _find_groups(scope)
    return top


def _push(stack: list[Scope], shape: Shape, line: str, name: Span, remark: str) -> None:
    bare = re.split(r"\s+(?:#|;|//)", line)[0]
    cut = tuple(span.text for span in words(name))
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
    parts: tuple[Span, ...] = (shape.value,) if isinstance(shape, Assignment) else ()
    if isinstance(shape, Assignment):
        head, negated = " ".join(shape.key.text.split()), False
    elif isinstance(shape, Row):
        parts = cells(shape.body)
        head, negated = parts[0].text, False
    else:
        parts = words(shape.body)
        negated = len(parts) > 1 and parts[0].text in NEGATIONS
        head = parts[1 if negated else 0].text
        parts = parts[2 if negated else 1 :]
    return ScopedLine(document, statement, shape, head, parts, negated, remark)


def _find_groups(scope: Scope) -> None:
    """Lines that put those after them into a group: the lines between repeat themselves."""
    stems: dict[str, list[int]] = {}
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Directive) and not entry.negated and entry.parts:
            stem = " ".join([entry.head, *(span.text for span in entry.parts[:-1])])
            stems.setdefault(stem, []).append(number)
    leaders: set[int] = set()
    for places in stems.values():
        if len(places) >= 2 and _repeats(scope.entries, places, stems):
            leaders.update(places)
    if not leaders:
        return
    kept: list[ScopedLine] = []
    group: Scope | None = None
    for number, entry in enumerate(scope.entries):
        if number in leaders:
            cut = (entry.head, *(span.text for span in entry.parts))
            group = Scope(Directive, entry.line, cut, entry.remark)
            scope.inner.append(group)
        else:
            (group.entries if group else kept).append(entry)
    scope.entries = kept


def _repeats(entries: Sequence[ScopedLine], places: list[int], stems: dict[str, list[int]]) -> bool:
    """Whether what follows one leader is much like what follows the next."""
    others = sorted(at for found in stems.values() if len(found) == len(places) for at in found)
    last_words = {entries[at].parts[-1].text for at in places}
    if len(last_words) < len(places):
        return False
    segments: list[frozenset[str]] = []
    for at in places:
        following = [other for other in others if other > at and other != at + 1]
        stop = min((f for f in following if f > at + 1), default=len(entries))
        segments.append(frozenset(entry.head for entry in entries[at + 1 : stop]))
    own = entries[places[0]].head
    if any(len(s) < 2 or own in s for s in segments[:-1]) or len(segments[-1]) < 2:
        return False
    return all(alike(a, b) > 0.6 for a, b in pairwise(segments))


def alike(one: frozenset[str], other: frozenset[str]) -> float:
    """The share that two sets have in common."""
    return len(one & other) / len(one | other) if one or other else 0.0


def kin_of(scopes: Sequence[Scope]) -> list[Kin]:
    """Scopes that differ in one word and hold the same, together; the others alone."""
    left = list(scopes)
    found: list[Kin] = []
    while left:
        first = left[0]
        best: list[tuple[str, Scope]] = []
        varying: tuple[str, str] = ("", "")
        for place in range(len(first.cut) - 1, -1, -1):
            for prefix in _prefixes(first.cut[place]):
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
    return ("", glued.group(1)) if glued else ("",)


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
        ):
            found.append((word[len(prefix) :], scope))
    return found


def _kin(first: Scope, members: list[tuple[str, Scope]], varying: tuple[str, str]) -> Kin:
    word, prefix = varying
    at = first.line.rindex(word)
    line = f"{first.line[:at]}{prefix}\0{first.line[at + len(word) :]}"
    names = tuple(w if w != word else prefix for w in first.cut if w != word or prefix)
    remark = next((scope.remark for _, scope in members if scope.remark), "")
    return Kin(first.form, line, True, names, remark, tuple(members))


_UNIT_TITLES = frozenset({"unit", "units", "measure", "in", "dimension"})
_STEP_TITLES = frozenset({"step", "steps", "scale", "factor", "per", "resolution"})


@dataclass(frozen=True)
class CellTable:
    """The rows of one scope, the titles of their columns, and what sort of table it is."""

    header: tuple[str, ...]
    rows: tuple[ScopedLine, ...]
    title: str  # the head row as it stands, empty where there is none
    items: bool  # each row is a setting of its own: a name and a value

    def unit_and_step(self, cells: Sequence[Span]) -> tuple[str, str]:
        """The unit and the step that an item's further cells state."""
        unit, step = "", ""
        for number, span in enumerate(cells[2:], 2):
            title = self.header[number].casefold() if number < len(self.header) else ""
            if is_unit(span.text) and title not in _STEP_TITLES and not unit:
                unit = span.text
            elif title not in _UNIT_TITLES and _is_fraction(span.text) and not step:
                step = span.text
        return unit, step


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
    return CellTable(header, body, title, _are_items(header, body)) if body else None


def _has_number(cells: Sequence[Span]) -> bool:
    return any(_kind(span.text) == "number" for span in cells)


def _is_title(text: str) -> bool:
    return bool(text) and text[0].isalpha()


def _are_items(header: tuple[str, ...], rows: Sequence[ScopedLine]) -> bool:
    titles = {title.casefold() for title in header}
    if titles & _UNIT_TITLES:
        return True
    units = sum(any(is_unit(span.text) for span in row.parts[2:]) for row in rows)
    if units * 3 > len(rows):
        return True
    kinds = {_kind(row.parts[1].text) for row in rows if len(row.parts) > 1} - {"nothing"}
    return len(rows[0].parts) == 2 and len(kinds) >= 2 and len(rows) >= 3


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
