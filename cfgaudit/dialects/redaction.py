"""Hides in a dump what nobody else should read, and leaves every other byte alone.

What is hidden: the values of the settings that the vocabulary or the dialect marks secret, and the
craft's name, wherever the dialect finds them; the values of keys without a meaning of ours that the
dialect marks so, or whose words say that they are somebody's own; positions, addresses and the like
in remarks and free texts; and each of these values again wherever a remark or a free text repeats
it. A number or word that states a setting is never touched, unless it is secret itself.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import reduce
from itertools import dropwhile
from typing import NamedTuple

from cfgaudit.dialects.dialect import Dialect, Node
from cfgaudit.dialects.line_reader import telling
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.raw import (
    Promise,
    bare_key,
    concealed,
    kept_promise,
    own_words,
    private_beside,
    promised,
    whole_of,
)
from cfgaudit.dialects.reader import HEAD_LINES, promises_of
from cfgaudit.dialects.template import ANY, match_text, text_pieces
from cfgaudit.reading.document import Document, Statement
from cfgaudit.reading.private import (
    Repeats,
    is_private_key,
    may_be_somebodys,
    private_stretches,
    says_nothing,
    secret_parts,
    told_anywhere,
    values_beside,
)
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    Unread,
    cells,
    words,
)
from cfgaudit.reading.text import FileText
from cfgaudit.settings import Origin, Raw, Stated
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.kinds import Text
from cfgaudit.vocabulary.paths import covers, declared

_NAME = "craft.name"
_GOES_ON = "a private value goes on there"
_BY_DIALECT = "the dialect says that it is private"
_BY_KEY = "a private setting, by its key"
_SAID = re.compile(r"\b([A-Za-z][\w-]{0,40}(?: [\w-]{1,20}){0,2})[ \t]*[:=][ \t]*(?=\S)")
_MARK = re.compile(r"[ \t]*(?:#|;|/[/*])+")


class Hidden(NamedTuple):
    """One stretch that was hidden: its line and column from 1, what it was, why. Never its text."""

    line: int
    column: int
    what: str
    why: str


class Redacted(NamedTuple):
    """The dump's bytes with secrets hidden, and what was hidden, in the order of the file.

    `left` are the lines, from 1, on which words stay that somebody wrote himself: free texts and
    remarks behind a setting. Of `remarks`, lines of their own, nobody can tell whose they are.
    """

    data: bytes
    hidden: tuple[Hidden, ...]
    left: tuple[int, ...] = ()
    remarks: int = 0


class _HiddenStretch(NamedTuple):
    start: int  # within the line, from 0
    stop: int
    what: str
    why: str


@dataclass
class _Cuts:
    """What to hide, by the line of the file; stretches of one line may overlap."""

    found: dict[int, list[_HiddenStretch]] = field(default_factory=dict)
    kept: dict[int, list[tuple[int, int]]] = field(default_factory=dict)  # what states a setting
    secrets: dict[str, None] = field(default_factory=dict)

    def span(self, statement: Statement, span: Span, what: str, why: str) -> None:
        """Hide a span of a statement, in whichever lines of the file it stands."""
        span = _within_quotes(span)
        if not span.text.replace(HIDDEN, "").strip():
            return
        for line, start, stop in _stretches(statement, span):
            self.found.setdefault(line, []).append(_HiddenStretch(start, stop, what, why))

    def keep(self, statement: Statement, span: Span) -> None:
        """Leave a span alone, whatever a text tells by its looks."""
        for line, start, stop in _stretches(statement, span):
            self.kept.setdefault(line, []).append((start, stop))

    def looks(self, line: int, start: int, stop: int, what: str, why: str) -> None:
        """Hide what looks private, unless it states a setting."""
        kept = self.kept.get(line, ())
        if all(stop <= first or start >= end for first, end in kept):
            self.found.setdefault(line, []).append(_HiddenStretch(start, stop, what, why))

    def secret(self, text: str) -> None:
        """Note a value that must not be found elsewhere."""
        self.secrets.update(dict.fromkeys(secret_parts(text)))


def redact(*parts: Opened, names: bool = True) -> Redacted:
    """The dump with secrets hidden; `names` says whether the craft's own name is one.

    Of a text of several dumps each is given, as it was read.
    """
    cuts = _Cuts()
    for opened in parts:
        by_line = _statements_by_line(opened.document)
        _keep_head_lines(opened, cuts, names)
        _keep_marks(opened, cuts)
        _stated_values(opened, cuts, by_line, names)
        _raw_values(opened, cuts, by_line, promises_of(opened.dialect, names=names))
        _unread_values(opened.document, cuts, _secret_heads(opened.dialect, names=names))
        _remarks_and_heads(opened.document, cuts)
        _beside(opened.document, cuts)
        _unread_lines(opened, cuts)
    again = Repeats(cuts.secrets)
    for opened in parts:
        _texts(opened.document, cuts, again)
    text = parts[0].document.text
    _rest(text, [opened.document for opened in parts], cuts, again)
    for opened in parts:
        _behind_hidden_keys(opened.document, cuts)
        _behind_broken_lines(opened.document, cuts)
    left = sorted({line + 1 for opened in parts for line in _own_text(opened, cuts)})
    remarks = sum(_is_remark(s, cuts) for opened in parts for s in opened.document.statements)
    return _written(text, cuts, again)._replace(left=tuple(left), remarks=remarks)


def redact_whole(
    parts: Sequence[Opened], opened: Callable[[bytes], Sequence[Opened]], *, names: bool = True
) -> Redacted:
    """The dump with secrets hidden, so that nothing more is hidden when the result is redacted.

    What is hidden may change how the rest is read, so the result is read again, by `opened`.
    """
    done = redact(*parts, names=names)
    for _ in range(_MOST_TIMES):
        again = redact(*opened(done.data), names=names)
        if again.data == done.data:
            break
        done = again._replace(hidden=tuple(sorted({*done.hidden, *again.hidden})))
    return done


_MOST_TIMES = 8  # each hides more than the one before, and hardly ever is one needed

_TEXT = re.compile(r"[^\W\d_]{2,}[^\w\"]+[^\W\d_]{2,}")  # two words, which make a text of it
_QUOTED = re.compile(r'"[^"]*"')


def _own_text(opened: Opened, cuts: _Cuts) -> Iterator[int]:
    """The lines, from 0, on which words stay that somebody may have written himself."""
    document = opened.document
    by_line = _statements_by_line(document)
    values: dict[int, str] = {
        entry.place.line - 1: entry.text
        for entry in opened.settings.stated.values()
        if entry.place and entry.origin is Origin.DUMP and _is_free_text(entry)
    }
    for statement, text in zip(document.statements, document.texts, strict=True):
        shape = statement.shape
        if isinstance(shape, Assignment | Directive | Row):
            said = [_behind(shape, text).text, values.get(statement.first, "")]
            for one in [*said, *_QUOTED.findall(text)]:
                gone = [text[c.start : c.stop] for c in cuts.found.get(statement.first, ())]
                if _TEXT.search(reduce(lambda rest, cut: rest.replace(cut, ""), gone, one)):
                    yield statement.first
                    break
    for raw in opened.settings.raw.values():
        if raw.place is not None and not raw.known and raw.place.line - 1 not in cuts.found:
            statement = by_line[raw.place.line - 1]
            if _may_be_somebodys(statement.shape):
                yield statement.first


def _may_be_somebodys(shape: Shape) -> bool:
    """Whether a line that no dialect explains may have a name or a machine's number for a value."""
    if isinstance(shape, Assignment):
        return may_be_somebodys(shape.key.text, shape.value.text)
    if not isinstance(shape, Directive):
        return False
    body, parts = shape.body, words(shape.body)
    rest = body.text[parts[1].start - body.start :] if len(parts) > 1 else ""
    return may_be_somebodys("", body.text) or may_be_somebodys(parts[0].text, rest)


def _is_remark(statement: Statement, cuts: _Cuts) -> bool:
    """Whether a line is a remark of words, and none that the dialect knows."""
    shape = statement.shape
    if not isinstance(shape, Comment) or statement.first in cuts.kept:
        return False
    return _TEXT.search(shape.body.text) is not None


def _statements_by_line(document: Document) -> dict[int, Statement]:
    found: dict[int, Statement] = {}
    for statement in document.statements:
        for index in [joint[1] for joint in statement.joints] or [statement.first]:
            found[index] = statement
    return found


def _keep_head_lines(opened: Opened, cuts: _Cuts, names: bool) -> None:
    """Keep the words of the firmware's own, by which the dump is known, whoever has such a name.

    A private value that stands there whole goes, as in a head that was made out of this very dump;
    but for the firmware's name.
    """
    private = _private_words(opened, names)
    for number, line in opened.document.top(HEAD_LINES):
        if line != opened.document.text.lines[number - 1]:
            continue  # it was repaired: columns of the file are others
        for pieces in opened.dialect.head:
            bound = None if ANY in pieces else match_text(pieces, line.strip())
            if bound is not None:
                indent = len(line) - len(line.lstrip())
                spans = sorted((span.start + indent, span.end + indent) for _, span in bound)
                starts, stops = zip(*spans, strict=True) if spans else ((), ())
                gaps = zip((0, *stops), (*starts, len(line)), strict=True)
                kept = cuts.kept.setdefault(number - 1, [])
                for start, stop in gaps:
                    apart = [found.span() for found in private.finditer(line, start, stop)]
                    froms = (start, *(end for _, end in apart))
                    kept.extend(zip(froms, (*(first for first, _ in apart), stop), strict=True))


def _keep_marks(opened: Opened, cuts: _Cuts) -> None:
    """Keep the words of the lines that end a dump or are none of it, whoever has such a name.

    Without them what stands behind would be read otherwise.
    """
    dialect = opened.dialect
    marks = [text_pieces(dialect.look.end)] if dialect.look.end else []
    kinds = [(telling(pieces), pieces) for pieces in (*marks, *dialect.ignore)]
    for number, line in enumerate(opened.document.text.lines):
        for literal, pieces in kinds:
            if literal in line and match_text(pieces, line.strip()) is not None:
                kept, at = cuts.kept.setdefault(number, []), 0
                for piece in pieces:
                    if isinstance(piece, str) and piece != ANY:
                        start = line.find(piece, at)
                        at = start + len(piece)
                        kept.append((start, at))


def _private_words(opened: Opened, names: bool) -> re.Pattern[str]:
    """Finds every private value that is stated, whole; not one that is the firmware's name."""
    stated = opened.settings.stated
    firmware = stated.get("firmware.name")
    own = {opened.dialect.name.casefold(), firmware.text.casefold() if firmware else ""}
    texts = {
        text
        for path, entry in stated.items()
        if _why_secret(path, opened.dialect.secret, names)
        and len(text := entry.text.strip(" \"',;")) > 1
        and text.casefold() not in own
    }
    every = "|".join(map(re.escape, sorted(texts, key=len, reverse=True)))
    return re.compile(rf"(?<!\w)(?:{every})(?!\w)" if texts else r"(?!)", re.IGNORECASE)


def _stated_values(opened: Opened, cuts: _Cuts, by_line: dict[int, Statement], names: bool) -> None:
    """Hide the secret ones, and keep the others that are no free text; keys of both stay."""
    settings, patterns = opened.settings, opened.dialect.secret
    every = [*settings.stated.values(), *(entry for pair in settings.repeats for entry in pair)]
    for stated in every:
        if stated.place is None or stated.origin is not Origin.DUMP or not stated.place.column:
            continue
        statement = by_line[stated.place.line - 1]
        span = Span(stated.text, _index(statement, stated.place.line - 1, stated.place.column - 1))
        _keep_key(cuts, statement)
        why = _why_secret(stated.path, patterns, names) or (_BY_KEY if stated.secret else "")
        if why:
            cuts.span(statement, span, stated.path, why)
            cuts.secret(stated.text)
        elif not _is_free_text(stated):
            cuts.keep(statement, span)
    for trouble in settings.troubles:
        if trouble.place and trouble.path and trouble.place.column:
            place = trouble.place
            statement = by_line[place.line - 1]
            at = _index(statement, place.line - 1, place.column - 1)
            _keep_key(cuts, statement)
            text = " " * max(0, place.end - place.column)
            if trouble.secret:
                line = opened.document.text.lines[place.line - 1]
                text = line[place.column - 1 : max(place.column, place.end) - 1]
                cuts.span(statement, Span(text, at), trouble.path, _BY_KEY)
                cuts.secret(text)
            else:
                cuts.keep(statement, Span(text, at))


def _behind_hidden_keys(document: Document, cuts: _Cuts) -> None:
    """Hide what stands behind a key that is hidden: so it is when the result is read again."""
    for statement in document.statements:
        shape = statement.shape
        if not isinstance(shape, Directive | Row) or statement.joints:
            continue
        key = next(iter(_keys(statement)), None)
        gone = cuts.found.get(statement.first, ())
        if key is not None and any(one.start <= key.start and key.end <= one.stop for one in gone):
            cuts.span(statement, shape.body, HIDDEN, _GOES_ON)


def _behind_broken_lines(document: Document, cuts: _Cuts) -> None:
    """Hide the first word behind a line that seems to be broken where what is hidden ends."""
    for line in document.broken:
        text, below = document.text.lines[line], document.text.lines[line + 1]
        if any(one.stop >= len(text) for one in cuts.found.get(line, ())):
            start = len(below) - len(below.lstrip())
            word = below.split(None, 1)[0]
            if word != HIDDEN:
                cut = _HiddenStretch(start, start + len(word), HIDDEN, _GOES_ON)
                cuts.found.setdefault(line + 1, []).append(cut)


def _keep_key(cuts: _Cuts, statement: Statement) -> None:
    for key in _keys(statement):
        cuts.keep(statement, key)


def _why_secret(path: str, patterns: Sequence[str], names: bool) -> str:
    found = declared(path)
    if found is not None and (found.traits.secret or (names and path == _NAME)):
        return "the vocabulary says that it is private"
    return _BY_DIALECT if any(covers(pattern, path) for pattern in patterns) else ""


def _is_free_text(stated: Stated) -> bool:
    found = declared(stated.path)
    return found is not None and isinstance(found.kind, Text)


def _raw_values(
    opened: Opened, cuts: _Cuts, by_line: dict[int, Statement], promises: Sequence[Promise]
) -> None:
    """Hide the values of keys that no dialect gives a meaning, where their words say so.

    Hidden too is what stands where a mapping line has a secret, though its value is none for it.
    """
    for raw in opened.settings.raw.values():
        if raw.place is None:
            continue
        statement = by_line[raw.place.line - 1]
        kept = None if raw.part else kept_promise(promises, statement.shape)
        if kept is None and says_nothing(raw.value):
            continue
        if raw.known or raw.part:
            _keep_key(cuts, statement)
        why = _why_private(raw, statement, opened.dialect.secret)
        if kept is not None:
            promise, span = kept
            if says_nothing(span.text):
                continue
            why = _why_secret(promise.path, opened.dialect.secret, names=True)
            cuts.span(statement, span, promise.path, why)
            cuts.secret(span.text)
        elif why:
            for span in _raw_spans(raw, statement):
                cuts.span(statement, span, raw.key, why)
                cuts.secret(span.text)


def _why_private(raw: Raw, statement: Statement, patterns: Sequence[str]) -> str:
    if any(covers(pattern, raw.key) for pattern in patterns):
        return _BY_DIALECT
    key = bare_key(raw.key)
    words = isinstance(statement.shape, Directive) and not raw.part
    if key == HIDDEN or (words and key.endswith(f" {HIDDEN}")):  # that word is a name elsewhere
        return _GOES_ON
    return is_private_key(own_words(key, raw.value) if words else key, raw.value)


def _raw_spans(raw: Raw, statement: Statement) -> Iterator[Span]:
    """Where the value of a key stands that has no meaning of ours."""
    shape = statement.shape
    if raw.part and raw.place is not None:
        yield Span(raw.value, _index(statement, raw.place.line - 1, raw.place.column - 1))
    elif isinstance(shape, Assignment):
        beside = values_beside(f"x : {shape.value.text}")
        stop = beside[0][1] - len("x : ") if beside else len(shape.value.text)
        yield Span(shape.value.text[:stop], shape.value.start)
    elif bare_key(raw.key) == HIDDEN and isinstance(shape, Directive | Row):
        yield shape.body
    elif isinstance(shape, Directive):
        behind = [word for word in words(shape.body)[1:] if _is_value(word, raw, statement)]
        behind = [*dropwhile(lambda word: not word.text.strip("."), behind)]  # they lead the eye
        if behind:
            body = shape.body
            yield Span(body.text[behind[0].start - body.start :].rstrip(), behind[0].start)
    elif isinstance(shape, Row):
        key, at = promised(shape.body.text)
        said = _SENTENCE.search(cells(shape.body)[0].text)
        if key or said:  # `Owner is Lower Weir, of the estuary`: the cells are one sentence
            at = at if key or said is None else said.end()
            yield Span(shape.body.text[at:].rstrip(" \t,"), shape.body.start + at)
        else:
            yield from (c for c in cells(shape.body)[1:] if _is_value(c, raw, statement))


_SENTENCE = re.compile(r"\b(?:is|are|was) (?=\S)")


def _is_value(span: Span, raw: Raw, statement: Statement) -> bool:
    """Whether a word or cell belongs to the value, and not to the key."""
    place = statement.place("", span)
    there = raw.place
    return there is None or (place.line, place.column) >= there[1:3]


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


def _unread_values(document: Document, cuts: _Cuts, heads: frozenset[str]) -> None:
    """Hide the rest of a line that can't be read, where its first word promises a secret."""
    for statement, text in zip(document.statements, document.texts, strict=True):
        if isinstance(statement.shape, Unread):
            key, start = promised(text, heads)
            if key:
                rest = Span(text[start:].rstrip(), start)
                cuts.span(statement, rest, key, "its line can't be read")
                cuts.secret(rest.text)


def _remarks_and_heads(document: Document, cuts: _Cuts) -> None:
    """Hide what a remark says of somebody in the manner of a setting, and names in heads.

    A remark is a line of its own, or stands behind what a line states: `cells = 4  # owner: ...`.
    """
    for statement, text in zip(document.statements, document.texts, strict=True):
        shape = statement.shape
        remark = shape.body if isinstance(shape, Comment) else _behind(shape, text)
        for said in _SAID.finditer(remark.text):
            value = remark.text[said.end() :].rstrip()
            why = is_private_key(said.group(1), value)
            if why and not says_nothing(value):
                cuts.span(statement, Span(value, remark.start + said.end()), "a remark", why)
                cuts.secret(value)
                break
        if isinstance(shape, Section | Opener):
            key, at = promised(shape.name.text)
            if key:
                name = Span(shape.name.text[at:], shape.name.start + at)
                cuts.span(statement, name, key, "a head that names somebody")
                cuts.secret(name.text)


def _beside(document: Document, cuts: _Cuts) -> None:
    """Hide what a further key on a line says of somebody."""
    for statement, text in zip(document.statements, document.texts, strict=True):
        for key, value, why in private_beside(statement.shape, Span(text, 0)):
            cuts.span(statement, _within_quotes(value), key, why)
            cuts.secret(value.text)


def _unread_lines(opened: Opened, cuts: _Cuts) -> None:
    """Hide what words tell of somebody, whatever the look of their line, which nothing reads."""
    said = [s for s in opened.document.statements if not isinstance(s.shape, Blank)]
    remarks = sum(isinstance(s.shape, Comment) for s in said)
    places = [raw.place for raw in opened.settings.raw.values() if raw.place and not raw.known]
    left = {place.line - 1 for place in places}
    for statement in said:
        line = statement.first
        remark = isinstance(statement.shape, Comment) and 2 * remarks < len(said)
        if remark or (opened.dialect.name and line not in left):
            continue
        text = opened.document.text.lines[line]
        for start, stop, why in told_anywhere(text):
            gone = cuts.found.get(line, ())
            if all(stop <= one.start or one.stop <= start for one in gone):
                cuts.looks(line, start, stop, "a line", why)
                if re.search(r"[A-Z0-9]", text[start:stop]):  # else it is a word like others
                    cuts.secret(text[start:stop])


def _behind(shape: Shape, text: str) -> Span:
    """The remark behind what a line states; empty where there is none."""
    whole = whole_of(shape)
    end = whole[1] if whole else len(text)
    mark = _MARK.match(text, end)
    return Span(text[mark.end() :], mark.end()) if mark else Span("", end)


def _texts(document: Document, cuts: _Cuts, again: Repeats) -> None:
    """Hide in all text that states nothing else: positions and the like, and secrets again."""
    for statement, text in zip(document.statements, document.texts, strict=True):
        for start, stop, why in _private(text, again):
            for line, first, end in _stretches(statement, Span(text[start:stop], start)):
                cuts.looks(line, first, end, _what(statement), why)


def _rest(text: FileText, parts: Sequence[Document], cuts: _Cuts, again: Repeats) -> None:
    """The same in what is no statement of a part: prompts, and what was taken off a line."""
    whole = all(document.part is None for document in parts)
    for index, line in enumerate(text.lines):
        if whole and all(line == document.lines[index] for document in parts):
            continue
        for start, stop, why in _private(line, again):
            cuts.looks(index, start, stop, "a line", why)


def _private(text: str, again: Repeats) -> Iterator[tuple[int, int, str]]:
    yield from private_stretches(text)
    yield from again.within(text)


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


def _written(text: FileText, cuts: _Cuts, again: Repeats) -> Redacted:
    """The bytes, each stretch replaced; of overlapping ones the outermost."""
    lines = list(text.lines)
    hidden: list[Hidden] = []
    for index in sorted(cuts.found):
        line = lines[index]
        for start, stop, what, why in reversed(_apart(cuts.found[index])):
            hidden.append(Hidden(index + 1, start + 1, concealed(what, again), why))
            line = line[:start] + HIDDEN + line[min(stop, len(line)) :]
        lines[index] = line
    data = text._replace(lines=tuple(lines)).to_bytes()
    return Redacted(data, tuple(sorted(hidden)))


def _apart(cuts: list[_HiddenStretch]) -> list[_HiddenStretch]:
    """The stretches of one line in order, those that overlap made one, named after the first."""
    found: list[_HiddenStretch] = []
    for cut in sorted(cuts, key=lambda cut: (cut.start, -cut.stop)):
        if found and cut.start < found[-1].stop:
            found[-1] = found[-1]._replace(stop=max(found[-1].stop, cut.stop))
        else:
            found.append(cut)
    return found
