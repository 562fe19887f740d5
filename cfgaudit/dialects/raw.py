"""Lines and fields that no mapping covers, as raw settings; which are private or volatile."""

import re
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeVar

from cfgaudit.dialects.template import ANY, Holder, Template
from cfgaudit.reading.document import Statement
from cfgaudit.reading.shapes import Assignment, Directive, Row, Shape, Span, cells, named, words
from cfgaudit.settings import Raw, Stated
from cfgaudit.vocabulary.paths import covers, declared_anywhere


class Leftover(NamedTuple):
    """A line that no mapping took, with the section or group it stands in; or a field of a line.

    A field that its line's mapping passes over has a `key` below that of its line, and a `span`.
    """

    statement: Statement
    context: str
    known: bool = False
    under: tuple[tuple[type, str], ...] = ()
    key: str = ""
    span: Span | None = None


def body_of(shape: Shape) -> Span | None:
    """What a statement says, without its comment; of an assignment, the value alone."""
    if isinstance(shape, Assignment):
        return shape.value
    return shape.body if isinstance(shape, Directive | Row) else None


def whole_of(shape: Shape) -> tuple[int, int] | None:
    """Where what a statement says begins and ends, without its comment; None of a head."""
    body = body_of(shape)
    if body is None:
        return None
    return shape.key.start if isinstance(shape, Assignment) else body.start, body.end


def line_key(template: Template, shape: Shape, cut: Sequence[Span]) -> str:
    """What tells a mapped line from others: its key, or its words before the first value."""
    if isinstance(shape, Assignment):
        return " ".join(shape.key.text.split())
    parts: list[str] = []
    for slot, span in zip(template.slots, cut, strict=False):
        values = (p for p in slot.pieces if p == ANY or (isinstance(p, Holder) and not p.is_index))
        if slot.name or slot.optional or any(values):
            break
        parts.append(span.text)
    return " ".join(parts)


def fields_passed(template: Template, cut: Sequence[Span]) -> Iterator[tuple[str, Span, str]]:
    """The fields that a mapping passes over, each by its name or its number in the line.

    The third of each is what stands for the field in the line: the name too, where it has one.
    """
    pairs = [(span, named(span)) for span in cut]
    by_name = {pair[0]: pair[1] for _, pair in pairs if pair and pair[0] in template.names}
    fields = [
        (f"field {number}" if template.form is not Assignment else "value", span, pair)
        for number, (span, pair) in enumerate(pairs, 1)
        if not (pair and pair[0] in template.names)
    ]
    index = 0
    for slot in template.slots:
        name, span = slot.name, by_name.get(slot.name)
        if not slot.name:
            if index < len(fields):
                name, span, _ = fields[index]
            index = len(fields) if slot.many else index + 1
        if span is not None and slot.pieces and slot.pieces[-1] == ANY:
            before = sum(len(piece) for piece in slot.pieces[:-1] if isinstance(piece, str))
            rest = Span(span.text[before:], span.start + before)
            yield name, rest, rest.text
    for name, span, pair in fields[index:] if template.open_ended else ():
        yield *(pair or (name, span)), span.text


def raw_settings(
    leftovers: Sequence[Leftover], file: str, depths: Mapping[str, int] | None = None
) -> dict[str, Raw]:
    """Raw settings by key. `depths` says how many words belong to a directive's key.

    Without it, just as many words as make the lines of one first word differ.
    """
    depth_of = dict(key_depths(leftovers)) | dict(depths or {})
    found: dict[str, Raw] = {}
    times: dict[str, int] = {}  # how often a key was numbered, so that none is tried again
    for leftover in leftovers:
        key, value, span = _cut(leftover, depth_of)
        if not key:
            continue
        name, count = key, times.get(key, 2)
        while name in found:
            name, count = f"{key} ({count})", count + 1
            times[key] = count
        place = leftover.statement.place(file, span)
        part = leftover.span is not None
        found[name] = Raw(name, value, place, leftover.known, under=leftover.under, part=part)
    return found


def row_key(key: str, keys: Container[str]) -> str:
    """The key of a row without the number that tells it from others of the same key.

    >>> row_key("note (2)", ["note", "note (2)"]), row_key("note (2)", ["note (2)"])
    ('note', 'note (2)')
    """
    stem, _, number = key.rpartition(" (")
    return stem if stem in keys and number[:-1].isdigit() else key


def key_depths(leftovers: Sequence[Leftover]) -> dict[str, int]:
    """For each first word, how many words make its lines differ (0 where there is one line)."""
    lines: dict[str, list[tuple[str, ...]]] = {}
    for leftover in leftovers:
        parts = _parts(leftover)
        if parts:
            head = _under(leftover.context, parts[0].text)
            lines.setdefault(head, []).append(tuple(part.text for part in parts[1:]))
    return {head: _depth(rests) for head, rests in lines.items()}


def raw_renames(keys: Iterable[str], then_to_now: Mapping[str, str]) -> dict[str, str]:
    """Old raw key to new raw key, for the keys that a dialect says were renamed.

    >>> raw_renames(["lamp/hum"], {"hum": "murmur"})
    {'lamp/hum': 'lamp/murmur'}
    """
    found: dict[str, str] = {}
    for key in keys:
        context, slash, leaf = key.rpartition("/")
        word, blank, rest = leaf.partition(" ")
        if word in then_to_now:
            found[key] = f"{context}{slash}{then_to_now[word]}{blank}{rest}"
    return found


def _depth(rests: list[tuple[str, ...]]) -> int:
    """How many of the further words tell the lines apart; all but the last where none do."""
    if len(rests) < 2:
        return 0
    most = max(len(rest) for rest in rests)
    ordered = sorted(rests)
    alike = (_alike(one, two) for one, two in pairwise(ordered))
    depth = max(alike) + 1  # of all pairs, neighbours in order have most words in common
    same = any(one == two for one, two in pairwise(ordered))
    return depth if depth < most and not same else max(0, most - 1)


def _alike(one: tuple[str, ...], two: tuple[str, ...]) -> int:
    """How many words two lines have in common from the front."""
    return next(
        (n for n, (a, b) in enumerate(zip(one, two, strict=False)) if a != b),
        min(len(one), len(two)),
    )


def _parts(leftover: Leftover) -> tuple[Span, ...]:
    shape = leftover.statement.shape
    if isinstance(shape, Directive) and leftover.span is None:
        return words(shape.body)
    return cells(shape.body) if isinstance(shape, Row) and leftover.span is None else ()


def _cut(leftover: Leftover, depth_of: Mapping[str, int]) -> tuple[str, str, Span | None]:
    shape = leftover.statement.shape
    if leftover.span is not None:
        return _under(leftover.context, leftover.key), leftover.span.text, leftover.span
    if isinstance(shape, Assignment):
        return _under(leftover.context, shape.key.text), shape.value.text, shape.value
    parts = _parts(leftover)
    if not parts:
        return "", "", None
    depth = min(depth_of.get(_under(leftover.context, parts[0].text), 0), len(parts) - 1)
    key = " ".join(part.text for part in parts[: depth + 1])
    rest = parts[depth + 1 :]
    value = " ".join(part.text for part in rest)
    return _under(leftover.context, key), value, rest[0] if rest else parts[0]


def _under(context: str, key: str) -> str:
    return f"{context}/{key}" if context else key


def with_nearest(found: dict[str, Raw], heads: Iterable[str]) -> dict[str, Raw]:
    """The raw settings, each that the dialect does not know with the nearest key that it maps."""
    unknown = [key for key, raw in found.items() if not raw.known]
    if not unknown:
        return found
    from difflib import get_close_matches

    mapped = list(heads)
    for key in unknown[:50]:  # beyond that, a hint helps nobody
        word = key.rpartition("/")[2].split(" ")[0]
        near = get_close_matches(word, mapped, n=1, cutoff=0.7)
        if near:
            found[key] = found[key]._replace(near=near[0])
    return found


_WORD = re.compile(r"[^./ ]+")
E = TypeVar("E", Stated, Raw)


def mark_secret(entries: dict[str, E], patterns: Iterable[str]) -> dict[str, E]:
    """Mark, in place, the entries whose path or key one of the patterns covers."""
    for pattern in patterns:
        for name in [name for name in entries if covers(pattern, name)]:
            entries[name] = entries[name]._replace(secret=True)
    return entries


def mark_secret_pairs(
    pairs: Iterable[tuple[Stated, Stated]], patterns: Sequence[str]
) -> tuple[tuple[Stated, Stated], ...]:
    """Pairs of values that were stated for one path, each marked where its path is secret."""
    return tuple(
        (one._replace(secret=True), other._replace(secret=True))
        if any(covers(pattern, one.path) for pattern in patterns)
        else (one, other)
        for one, other in pairs
    )


def is_secret_path(path: str, patterns: Iterable[str]) -> bool:
    """Whether a setting is secret, by the vocabulary or by a dialect's patterns."""
    known = declared_anywhere(path)
    by_vocabulary = known is not None and known.traits.secret
    return by_vocabulary or any(covers(pattern, path) for pattern in patterns)


def secret_depths(leftovers: Sequence[Leftover], patterns: Sequence[str]) -> dict[str, int]:
    """For each first word of a secret line, how many further words belong to its key.

    A key is shown where its value is hidden, so it ends with the words that a pattern names.
    """
    found: dict[str, int] = {}
    for head, depth in key_depths(leftovers).items() if patterns else ():
        count = len(_WORD.findall(head))
        for pattern in patterns:
            words = _WORD.findall(pattern)
            if covers(" ".join(words[:count]), head):
                found[head] = min(found.get(head, depth), max(0, len(words) - count))
    return found


_START = re.compile(r"[^./ *]+")


def mark_volatile(entries: dict[str, E], patterns: Iterable[str]) -> dict[str, E]:
    """Mark, in place, the entries whose path or key one of the patterns covers."""
    for pattern in patterns:
        start = _START.match(pattern)
        begins = start.group() if start else ""  # most names begin otherwise, and that is quick
        for name in [n for n in entries if n.startswith(begins) and covers(pattern, n)]:
            entries[name] = entries[name]._replace(volatile=True)
    return entries
