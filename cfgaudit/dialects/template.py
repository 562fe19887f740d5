"""A mapping line of a dialect, compiled: the same template reads a line and writes it."""

import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from cfgaudit.dialects.spec import Spec, SpecError, parse_spec
from cfgaudit.reading.look import Look
from cfgaudit.reading.shapes import Assignment, Closer, Directive, Opener, Row, Section, Shape, Span
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.words import cells, named, words

_HOLDER = re.compile(r"\{([^{}]*)\}")
_FIRST = 0xE000  # placeholders stand in a line as private-use characters while it is cut
_LAST = 0xE0FF
ANY, REST = "*", "..."
_UNNAMED: Mapping[str, Span] = {}


class Holder(NamedTuple):
    """A placeholder: an index in capitals, or a neutral path; perhaps with a constant."""

    target: str
    spec: Spec
    constant: str | None = None

    @property
    def is_index(self) -> bool:
        """Whether it names an index and no path."""
        return "." not in self.target


Piece = str | Holder
Pieces = tuple[Piece, ...]
Bound = list[tuple[Holder, Span]]


class Slot(NamedTuple):
    """One word or cell of a template: its pieces, its name if it is name=value, if optional."""

    pieces: Pieces
    name: str = ""
    optional: bool = False
    many: bool = False  # it takes the rest of the line


class Template(NamedTuple):
    """A compiled line. `form` is the shape it matches, `head` its literal key or first word."""

    line: str
    form: type
    head: str  # empty where the key or first word holds a placeholder
    key: Pieces  # the key of an assignment; unused otherwise
    slots: tuple[Slot, ...]  # the value of an assignment is one slot
    open_ended: bool  # `...` at the end
    constants: tuple[Holder, ...]
    names: frozenset[str]  # of the slots that are name=value

    @property
    def holders(self) -> tuple[Holder, ...]:
        """Every placeholder that takes text."""
        found = [piece for piece in self.key if isinstance(piece, Holder)]
        for slot in self.slots:
            found += [piece for piece in slot.pieces if isinstance(piece, Holder)]
        return tuple(found)


def compile_template(line: str, look: Look) -> Template:
    """Compile a mapping line. Raises SpecError with what was expected."""
    holders: list[Holder] = []
    constants: list[Holder] = []

    def mask(match: re.Match[str]) -> str:
        holder = _holder(match.group(1))
        if holder.constant is not None:
            constants.append(holder)
            return ""
        holders.append(holder)
        return chr(_FIRST + len(holders) - 1)

    masked = _HOLDER.sub(mask, line).rstrip()
    if "{" in masked.rstrip("{").rstrip() or "}" in masked.replace("}", "", masked == "}"):
        raise SpecError(f"{line!r}: a brace without its partner")
    optional_from, masked = _optional_tail(masked)
    shape = open_shape(parse_line(masked), look)
    form, key, slots = _slots_of(shape, line)
    open_ended = bool(slots) and slots[-1].text == REST
    made = tuple(
        _slot(span, holders, optional_from is not None and span.start >= optional_from)
        for span in (slots[:-1] if open_ended else slots)
    )
    key_pieces = _pieces(key, holders)
    first = key_pieces if form is Assignment else made[0].pieces if made else ()
    head = first[0] if len(first) == 1 and isinstance(first[0], str) and first[0] != ANY else ""
    names = frozenset(slot.name for slot in made if slot.name)
    return Template(line, form, head, key_pieces, made, open_ended, tuple(constants), names)


def open_shape(shape: Shape, look: Look) -> Shape:
    """The shape, made an opener or a closer where the look has its own words for that."""
    if isinstance(shape, Directive) and (look.opens or look.closes):
        word, _, rest = shape.body.text.partition(" ")
        inner = Span(rest.strip(), shape.body.start + len(word) + 1)
        if word in look.opens:
            return Opener(inner)
        if word in look.closes:
            return Closer(inner)
    return shape


def match(template: Template, shape: Shape, cut: Sequence[Span]) -> Bound | None:
    """What each placeholder takes of a line, or None where the line is another one.

    `cut` holds the words, the cells, or the one value of the line, as the template's form has it.
    """
    bound: Bound = []
    if isinstance(shape, Assignment) and not _is_key(template, shape, bound):
        return None
    if not template.names:
        return bound if _fill(template, cut, _UNNAMED, bound) else None
    positional: list[Span] = []
    by_name: dict[str, Span] = {}
    for span in cut:
        pair = named(span)
        if pair is not None and pair[0] in template.names:
            by_name[pair[0]] = pair[1]
        else:
            positional.append(span)
    return bound if _fill(template, positional, by_name, bound) else None


def _is_key(template: Template, shape: Assignment, bound: Bound) -> bool:
    if template.head and template.head == shape.key.text:
        return True
    return _take(template.key, _key_span(shape), bound)


def _fill(
    template: Template, positional: Sequence[Span], by_name: Mapping[str, Span], bound: Bound
) -> bool:
    index = 0
    for slot in template.slots:
        if slot.name:
            span = by_name.get(slot.name)
        elif slot.many and index < len(positional):
            text = " ".join(part.text for part in positional[index:])
            span = Span(text, positional[index].start)
            index = len(positional)
        else:
            span = positional[index] if index < len(positional) else None
            index += 1
        if span is None:
            if slot.optional:
                continue
            return False
        if not _take(slot.pieces, span, bound):
            return False
    return template.open_ended or index >= len(positional)


def _key_span(shape: Assignment) -> Span:
    return Span(" ".join(shape.key.text.split()), shape.key.start)


def _take(pieces: Pieces, span: Span, bound: Bound) -> bool:
    """Match one word's pieces against a span: literals in place, placeholders in between."""
    text, at = span.text, 0
    for number, piece in enumerate(pieces):
        if isinstance(piece, str):
            if piece == ANY:
                return number == len(pieces) - 1
            if not text.startswith(piece, at):
                return False
            at += len(piece)
            continue
        following = pieces[number + 1] if number + 1 < len(pieces) else None
        stop = len(text) if not isinstance(following, str) else text.find(following, at)
        if stop < 0 or (stop == at and len(pieces) > 1):
            return False
        bound.append((piece, Span(text[at:stop], span.start + at)))
        at = stop
    return at == len(text)


def _holder(text: str) -> Holder:
    if "=" in text:
        target, _, constant = text.partition("=")
        return Holder(target.strip(), Spec(), constant.strip())
    target, _, spec = text.partition(":")
    if not target.strip():
        raise SpecError(f"{{{text}}}: a neutral path or an index is expected")
    return Holder(target.strip(), parse_spec(spec))


def _optional_tail(masked: str) -> tuple[int | None, str]:
    """Where the optional words begin, and the line without their brackets."""
    at = masked.find(" [")
    if at < 0 or not masked.endswith("]") or at == 0:
        return None, masked
    inner = masked[at + 2 :].replace(" [", " ").replace("]", "")
    return at + 1, masked[: at + 1] + inner


def _slots_of(shape: Shape, line: str) -> tuple[type, Span, Sequence[Span]]:
    nothing = Span("", 0)
    if isinstance(shape, Assignment):
        return Assignment, _key_span(shape), [shape.value]
    if isinstance(shape, Directive):
        return Directive, nothing, words(shape.body)
    if isinstance(shape, Row):
        return Row, nothing, cells(shape.body)
    if isinstance(shape, Section | Opener | Closer):
        return type(shape), nothing, words(shape.name)
    raise SpecError(f"{line!r} can't be read as a line of a dump")


def _slot(span: Span, holders: Sequence[Holder], optional: bool) -> Slot:
    pair = named(span)
    name, text = pair if pair is not None else ("", span)
    pieces = _pieces(text, holders)
    many = any(isinstance(piece, Holder) and piece.spec.many for piece in pieces)
    return Slot(pieces, name, optional, many)


def _pieces(span: Span, holders: Sequence[Holder]) -> Pieces:
    pieces: list[Piece] = []
    literal = ""
    for letter in span.text:
        if _FIRST <= ord(letter) <= _LAST:
            if literal:
                pieces.append(literal)
                literal = ""
            pieces.append(holders[ord(letter) - _FIRST])
        else:
            literal += letter
    if literal:
        pieces.append(literal)
    return tuple(pieces)


def match_text(pieces: Pieces, text: str) -> Bound | None:
    """Match a whole line of plain text: literals in place, `*` and placeholders in between."""
    bound: Bound = []
    return bound if _take_text(pieces, text, bound) else None


def text_pieces(line: str) -> Pieces:
    """The pieces of a plain-text pattern: literals, placeholders, and `*` for any text."""
    pieces: list[Piece] = []
    at = 0
    for found in re.finditer(r"\{([^{}]*)\}|\*", line):
        if found.start() > at:
            pieces.append(line[at : found.start()])
        pieces.append(_holder(found.group(1)) if found.group(1) is not None else ANY)
        at = found.end()
    if at < len(line):
        pieces.append(line[at:])
    return tuple(pieces)


def _take_text(pieces: Pieces, text: str, bound: Bound) -> bool:
    at = 0
    loose = False  # a `*` or a placeholder stands before this piece
    start = 0
    holder: Holder | None = None
    for piece in pieces:
        if isinstance(piece, Holder) or piece == ANY:
            loose, start = True, at
            holder = piece if isinstance(piece, Holder) else None
            continue
        found = text.find(piece, at) if loose else (at if text.startswith(piece, at) else -1)
        if found < 0:
            return False
        if holder is not None:
            bound.append((holder, Span(text[start:found], start)))
        at, loose, holder = found + len(piece), False, None
    if holder is not None:
        bound.append((holder, Span(text[start:], start)))
    return loose or at == len(text)
