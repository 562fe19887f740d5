"""Hides in a dump what nobody else should read, and leaves every other byte alone.

What is hidden: the values of the settings that the vocabulary or the dialect marks secret, and the
craft's name, wherever the dialect finds them; the values of keys without a meaning of ours that the
dialect marks so, or whose words say that they are somebody's own; positions, addresses and the like
in remarks and free texts; and each of these values again wherever a remark or a free text repeats
it. A number or word that states a setting is never touched, unless it is secret itself.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from cfgaudit.dialects.dialect import Dialect, Node
from cfgaudit.dialects.opening import Opened
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.private import is_private_key, private_stretches
from cfgaudit.reading.shapes import Assignment, Comment, Directive, Row, Span, Unread, cells, words
from cfgaudit.settings import Origin, Raw, Stated
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.kinds import Text
from cfgaudit.vocabulary.paths import covers, declared

_NAME = "craft.name"
_BY_DIALECT = "the dialect says that it is private"
_NOTHING = frozenset(("", HIDDEN, "-", "~", "0", "no", "off", "none", "nil", "naught", "unset"))
_SHORTEST = 4  # letters of a value that is looked for elsewhere; a shorter one is in any word
_SAID = re.compile(r"[ \t]*([A-Za-z][\w .\-]{0,40}?)[ \t]*[:=][ \t]*(\S[^\r\n]*)")
_WORD = re.compile(r"\w+")
_LEAD = re.compile(r"[ \t]*([^\s=:,\"]{1,80})[ \t]*[=:, \t][ \t]*")


class Hidden(NamedTuple):
    """One stretch that was hidden: its line and column from 1, what it was, why. Never its text."""

    line: int
    column: int
    what: str
    why: str


class Redacted(NamedTuple):
    """The dump's bytes with secrets hidden, and what was hidden, in the order of the file."""

    data: bytes
    hidden: tuple[Hidden, ...]


class _Cut(NamedTuple):
    start: int  # within the line, from 0
    stop: int
    what: str
    why: str


@dataclass
class _Cuts:
    """What to hide, by the line of the file; stretches of one line may overlap."""

    document: Document
    found: dict[int, list[_Cut]] = field(default_factory=dict)
    secrets: dict[str, None] = field(default_factory=dict)

    def span(self, statement: Statement, span: Span, what: str, why: str) -> None:
        """Hide a span of a statement, in whichever lines of the file it stands."""
        span = _within_quotes(span)
        if span.text.strip() in ("", HIDDEN):
            return
        for line, start, stop in _stretches(statement, span):
            self.found.setdefault(line, []).append(_Cut(start, stop, what, why))

    def secret(self, text: str) -> None:
        """Note a value that must not be found elsewhere, and its parts between commas."""
        bare = text.strip().strip("\"'").strip()
        for part in (bare, *re.split(r"[,;/]", bare)):
            if len(part.strip()) >= _SHORTEST and part.strip().casefold() not in _NOTHING:
                self.secrets[part.strip()] = None


def redact(opened: Opened, *, names: bool = True) -> Redacted:
    """The dump with secrets hidden; `names` says whether the craft's own name is one."""
    document = opened.document
    cuts = _Cuts(document)
    by_line = _statements_by_line(document)
    busy = _stated_values(opened, cuts, by_line, names)
    _raw_values(opened, cuts, by_line)
    _unread_values(document, cuts, _secret_heads(opened.dialect, names=names))
    _remarks(document, cuts)
    _texts(document, cuts, busy)
    return _written(document, cuts)


def _statements_by_line(document: Document) -> dict[int, Statement]:
    found: dict[int, Statement] = {}
    for statement in document.statements:
        for index in [joint[1] for joint in statement.joints] or [statement.first]:
            found[index] = statement
    return found


def _stated_values(
    opened: Opened, cuts: _Cuts, by_line: dict[int, Statement], names: bool
) -> dict[int, list[Span]]:
    """Hide the secret ones; where the others stand that are no free text, by first line."""
    busy: dict[int, list[Span]] = {}
    settings = opened.settings
    every = [*settings.stated.values(), *(entry for pair in settings.repeats for entry in pair)]
    for stated in every:
        if stated.place is None or stated.origin is not Origin.DUMP or not stated.place.column:
            continue
        statement = by_line[stated.place.line - 1]
        span = Span(stated.text, _index(statement, stated.place.line - 1, stated.place.column - 1))
        why = _why_secret(stated, names)
        if why:
            cuts.span(statement, span, stated.path, why)
            cuts.secret(stated.text)
        elif not _is_free_text(stated):
            busy.setdefault(statement.first, []).append(span)
    for trouble in settings.troubles:
        if trouble.place and trouble.path and trouble.place.column:
            place = trouble.place
            statement = by_line[place.line - 1]
            at = _index(statement, place.line - 1, place.column - 1)
            text = " " * max(0, place.end - place.column)
            busy.setdefault(statement.first, []).append(Span(text, at))
    return busy


def _why_secret(stated: Stated, names: bool) -> str:
    found = declared(stated.path)
    if found is not None and (found.traits.secret or (names and stated.path == _NAME)):
        return "the vocabulary says that it is private"
    return _BY_DIALECT if stated.secret else ""


def _is_free_text(stated: Stated) -> bool:
    found = declared(stated.path)
    return found is not None and isinstance(found.kind, Text)


def _raw_values(opened: Opened, cuts: _Cuts, by_line: dict[int, Statement]) -> None:
    """Hide the values of keys that no dialect gives a meaning, where their words say so."""
    for raw in opened.settings.raw.values():
        if raw.place is None or raw.value.casefold() in _NOTHING:
            continue
        statement = by_line[raw.place.line - 1]
        why = _BY_DIALECT if raw.secret else is_private_key(_own_words(raw, statement))
        if not why:
            continue
        for span in _raw_spans(raw, statement):
            cuts.span(statement, span, raw.key, why)
            cuts.secret(span.text if isinstance(statement.shape, Row) else raw.value)


def _own_words(raw: Raw, statement: Statement) -> str:
    """The words of a key; of a line of words one more, where values stand behind that."""
    key = raw.key.rpartition("/")[2]
    values = raw.value.split()
    more = isinstance(statement.shape, Directive) and len(values) > 1 and values[0].isidentifier()
    return f"{key} {values[0]}" if more else key


def _raw_spans(raw: Raw, statement: Statement) -> Iterator[Span]:
    """Where the value of a key stands that has no meaning of ours.

    Where only the words of a key say that it is private, what is behind the first of them is.
    """
    shape = statement.shape
    if isinstance(shape, Assignment):
        yield shape.value
    elif isinstance(shape, Directive):
        behind = [word for word in words(shape.body)[1:] if _is_value(word, raw, statement)]
        if behind:
            body = shape.body
            yield Span(body.text[behind[0].start - body.start :].rstrip(), behind[0].start)
    elif isinstance(shape, Row):
        behind = [cell for cell in cells(shape.body)[1:] if _is_value(cell, raw, statement)]
        yield from behind if raw.secret else behind[:1]


def _is_value(span: Span, raw: Raw, statement: Statement) -> bool:
    """Whether a word or cell belongs to the value, and not to the key."""
    place = statement.place("", span)
    there = raw.place
    return not raw.secret or there is None or (place.line, place.column) >= there[1:3]


def _secret_heads(dialect: Dialect, *, names: bool = False) -> frozenset[str]:
    """The keys and first words of the lines that state a secret, `*` for a part of one.

    `names` says whether the craft's own name is one.
    """
    own = {pattern.rpartition("/")[2].split(" ")[0] for pattern in dialect.secret}
    return _heads_below(dialect.root, dialect.secret, names) | own


def _heads_below(node: Node, patterns: Sequence[str], names: bool) -> frozenset[str]:
    found: set[str] = set()
    for template in node.lines:
        for holder in template.holders:
            entry = declared(holder.target) if not holder.is_index else None
            secret = entry is not None and entry.traits.secret
            secret = secret or any(covers(pattern, holder.target) for pattern in patterns)
            if secret or (names and holder.target == _NAME):
                found.add(template.head)
    below = (_heads_below(child, patterns, names) for child in node.children)
    return frozenset(found - {""}).union(*below)


def _promised_secret(text: str, heads: Iterable[str]) -> tuple[str, int]:
    """Of a line that can't be read the key and where its value begins, if that is a secret's."""
    lead = _LEAD.match(text)
    key = lead.group(1) if lead else ""
    if lead and (is_private_key(key) or any(covers(head, key) for head in heads)):
        return key, lead.end()
    return "", 0


def _unread_values(document: Document, cuts: _Cuts, heads: frozenset[str]) -> None:
    """Hide the rest of a line that can't be read, where its first word promises a secret."""
    for statement, text in zip(document.statements, document.texts, strict=True):
        if isinstance(statement.shape, Unread):
            key, start = _promised_secret(text, heads)
            if key:
                rest = Span(text[start:].rstrip(), start)
                cuts.span(statement, rest, key, "its line can't be read")
                cuts.secret(rest.text)


def _remarks(document: Document, cuts: _Cuts) -> None:
    """Hide what a remark says of somebody in the manner of a setting: `# owner: ...`."""
    for statement in document.statements:
        shape = statement.shape
        said = _SAID.match(shape.body.text) if isinstance(shape, Comment) else None
        if not said or not isinstance(shape, Comment):
            continue
        why = is_private_key(said.group(1))
        if why and said.group(2).strip().casefold() not in _NOTHING:
            value = said.group(2).rstrip()
            cuts.span(statement, Span(value, shape.body.start + said.start(2)), "a remark", why)
            cuts.secret(value)


def _texts(document: Document, cuts: _Cuts, busy: dict[int, list[Span]]) -> None:
    """Hide in all text that states nothing else: positions and the like, and secrets again."""
    again = _Repeats(cuts.secrets)
    for statement, text in zip(document.statements, document.texts, strict=True):
        kept = [*busy.get(statement.first, ()), *_keys(statement)]
        for start, stop, why in _private(text, again):
            if all(stop <= span.start or start >= span.end for span in kept):
                cuts.span(statement, Span(text[start:stop], start), _what(statement), why)
    for index, line in enumerate(document.text.lines):  # prompts, and what was taken off
        if line != document.lines[index] or document.part is not None:
            for start, stop, why in _private(line, again):
                if index not in cuts.found and line.strip():
                    whole = Statement(Comment("", Span("", 0)), index)
                    cuts.span(whole, Span(line[start:stop], start), "a line", why)


def _private(text: str, again: "_Repeats") -> Iterator[tuple[int, int, str]]:
    yield from private_stretches(text)
    yield from again.within(text)


class _Repeats:
    """Finds secrets again, as words of their own and whatever their case, however many."""

    def __init__(self, secrets: Iterable[str]) -> None:
        self._whole = {secret.lower() for secret in secrets}
        self._by_word: dict[str, set[tuple[int, int]]] = {}  # where it begins in how long a secret
        for secret in self._whole:
            first = _WORD.search(secret)
            if first is not None:
                shape = (first.start(), len(secret))
                self._by_word.setdefault(first.group(), set()).add(shape)

    def within(self, text: str) -> Iterator[tuple[int, int, str]]:
        """Each stretch of a text that is a secret."""
        low = text.lower()
        if not self._by_word or len(low) != len(text):
            return
        for word in _WORD.finditer(low):
            for before, length in self._by_word.get(word.group(), ()):
                start = word.start() - before
                stop = start + length
                ends_word = not (low[stop - 1 : stop + 1].isalnum() and stop < len(low))
                if start >= 0 and ends_word and low[start:stop] in self._whole:
                    yield start, stop, "it repeats what was hidden elsewhere"


def _keys(statement: Statement) -> list[Span]:
    """What names a setting or a section, and so must stay."""
    shape = statement.shape
    if isinstance(shape, Assignment):
        return [shape.key]
    if isinstance(shape, Directive):
        return list(words(shape.body)[:1])
    return list(cells(shape.body)[:1]) if isinstance(shape, Row) else []


def _what(statement: Statement) -> str:
    shape = statement.shape
    if isinstance(shape, Comment):
        return "a remark"
    keys = _keys(statement)
    return keys[0].text if keys else "a line"


def _within_quotes(span: Span) -> Span:
    """The span without the quotation marks around it, which stay."""
    text = span.text
    if len(text) >= 2 and text[0] == text[-1] and text[0] in "\"'":
        return Span(text[1:-1], span.start + 1)
    if text[:1] == '"' and text.count('"') == 1:
        return Span(text[1:], span.start + 1)
    return span


def _index(statement: Statement, line: int, column: int) -> int:
    """Where a place in the file stands in the statement's text."""
    before = [j for j in statement.joints if j[1] == line and j[2] <= column]
    return before[-1][0] + column - before[-1][2] if before else column


def _stretches(statement: Statement, span: Span) -> list[tuple[int, int, int]]:
    """The stretches of the file that a span is made of: line, start and stop, all from 0."""
    if not statement.joints:
        return [(statement.first, span.start, span.end)]
    inner = [j[0] for j in statement.joints if span.start < j[0] < span.end]
    found: dict[int, tuple[int, int]] = {}
    for start, stop in zip([span.start, *inner], [*inner, span.end], strict=True):
        line, first = statement.at(start)
        low, high = found.get(line, (first, first))
        found[line] = (min(low, first), max(high, first + stop - start))
    return [(line, low, high) for line, (low, high) in found.items()]


def _written(document: Document, cuts: _Cuts) -> Redacted:
    """The bytes, each stretch replaced; of overlapping ones the outermost."""
    lines = list(document.text.lines)
    hidden: list[Hidden] = []
    for index in sorted(cuts.found):
        line = lines[index]
        for start, stop, what, why in reversed(_apart(cuts.found[index])):
            hidden.append(Hidden(index + 1, start + 1, what, why))
            line = line[:start] + HIDDEN + line[min(stop, len(line)) :]
        lines[index] = line
    text = document.text._replace(lines=tuple(lines))
    return Redacted(text.to_bytes(), tuple(sorted(hidden)))


def _apart(cuts: list[_Cut]) -> list[_Cut]:
    """The stretches of one line in order, those that overlap made one, named after the first."""
    found: list[_Cut] = []
    for cut in sorted(cuts, key=lambda cut: (cut.start, -cut.stop)):
        if found and cut.start < found[-1].stop:
            found[-1] = found[-1]._replace(stop=max(found[-1].stop, cut.stop))
        else:
            found.append(cut)
    return found
