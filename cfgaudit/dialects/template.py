"""A mapping line of a dialect, compiled: the same template reads a line and writes it."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise, takewhile
from typing import NamedTuple, TypeVar

from cfgaudit.dialects.spec import (
    Holder,
    Lackable,
    SpecError,
    SpecForm,
    Stray,
    TemplatePart,
)
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Look,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    Unread,
    celled,
    cells,
    named,
    words,
)
from cfgaudit.reading.statements import parser_of
from cfgaudit.vocabulary.kinds import Text
from cfgaudit.vocabulary.paths import declared_with_holes
from cfgaudit.vocabulary.units import is_unit

_Made = TypeVar("_Made")
_FIRST = 0xE000  # placeholders stand in a line as private-use characters while it is cut
_MOST = 256  # placeholders in a line
ANY, REST = "*", "..."
_MARKS = re.compile(r"[]{}[*]")
_UNNAMED: Mapping[str, Span] = {}


TemplatePiece = str | Holder
Pieces = tuple[TemplatePiece, ...]
Bound = list[tuple[Holder, Span]]


class Slot(NamedTuple):
    """One word or cell of a template: its pieces, its name if it is name=value, if optional."""

    pieces: Pieces
    name: str = ""
    optional: bool = False
    many: bool = False  # it takes the rest of the line
    sign: str = "="  # between name and value

    @property
    def has_value(self) -> bool:
        """Whether any of it is text that the line may have otherwise, an index aside."""
        return any(
            piece == ANY if isinstance(piece, str) else not piece.is_index for piece in self.pieces
        )


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
    passes: bool = False  # it passes over fields, by `*` or `...`

    @property
    def holders(self) -> tuple[Holder, ...]:
        """Every placeholder that takes text."""
        found = [piece for piece in self.key if isinstance(piece, Holder)]
        for slot in self.slots:
            found += [piece for piece in slot.pieces if isinstance(piece, Holder)]
        return tuple(found)

    @property
    def values(self) -> tuple[Holder, ...]:
        """Every placeholder that takes the text of a value."""
        return tuple(holder for holder in self.holders if not holder.is_index)

    @property
    def front(self) -> Iterator[Slot]:
        """The words before the first value: its own, and what its indices stand for."""
        return takewhile(
            lambda slot: not (slot.name or slot.optional or slot.has_value), self.slots
        )


def can_be_mapped(text: str) -> bool:
    """Whether no letter of a text is one of those that stand for placeholders."""
    return text.isascii() or not any(_FIRST <= ord(letter) < _FIRST + _MOST for letter in text)


@lru_cache(maxsize=5_000)  # `dialect new` and `dialect learn` compile a line again and again
def compile_template(line: str, look: Look) -> Template:
    """Compile a mapping line. Raises SpecError with what was expected, and where."""
    return _in_line(line, lambda: _compiled(_Masked(_parts(line)), look, line))


def _in_line(line: str, work: Callable[[], _Made]) -> _Made:
    """What some work on a line gives; its errors quote the line. Raises SpecError."""
    try:
        return work()
    except SpecError as error:
        raise SpecError(f"{line!r}: {error}", error.at) from None


def _parts(line: str) -> Sequence[TemplatePart]:
    """The parts of a line. Raises SpecError."""
    if not line.isascii():
        for at, letter in enumerate(line):
            if not can_be_mapped(letter):
                raise SpecError("a letter that no one else uses is expected", at)
    if _MARKS.search(line) is None:
        return [line]  # text alone, as many known lines are; a test holds it to the grammar
    from cfgaudit.dialects.template_language import parse_parts  # it loads lark

    return parse_parts(line)


def _compiled(masked: "_Masked", look: Look, line: str) -> Template:
    text = celled(masked.text, look.cells) if look.cells else masked.text
    shape = open_shape(parser_of(look)(text), look)
    form, key, slots = _slots_of(shape, masked)
    open_ended = bool(slots) and slots[-1].text == REST
    slots = slots[:-1] if open_ended else slots
    made = tuple(_slot(span, masked) for span in slots)
    key_pieces = _pieces(key, masked)
    first = key_pieces if form is Assignment else made[0].pieces if made else ()
    head = first[0] if len(first) == 1 and isinstance(first[0], str) and first[0] != ANY else ""
    _refuse_idle(form, look, slots, made, masked)
    names = frozenset(slot.name for slot in made if slot.name)
    constants = tuple(masked.constants)
    passes = open_ended or any(ANY in slot.pieces for slot in made)
    return Template(line, form, head, key_pieces, made, open_ended, constants, names, passes)


class _Masked:
    """A mapping line with one letter for each placeholder and without brackets and constants."""

    def __init__(self, parts: Sequence[TemplatePart]) -> None:
        self.text = ""
        self.holders: list[Holder] = []
        self.constants: list[Holder] = []
        self.optional: int | None = None  # where, in the text, the first optional part begins
        self._places: list[tuple[int, int]] = []  # an index in the text, and in the line
        for part in parts:
            self._add(part, inside=False)
        self.text = self.text.rstrip()

    def _add(self, part: TemplatePart, *, inside: bool) -> None:
        if isinstance(part, Lackable):
            if all(isinstance(piece, str) and piece != ANY for piece in part.parts):
                said = "brackets at the end say that the line may lack what stands in them; these"
                raise SpecError(f"{said} hold no placeholder", part.at)
            self.optional = len(self.text) if self.optional is None else self.optional
            for piece in part.parts:
                self._add(piece, inside=True)
        elif isinstance(part, Stray):
            raise SpecError("a brace without its partner", part.at)
        elif isinstance(part, Holder):
            if part.constant is not None:
                self.constants.append(part)
            elif len(self.holders) == _MOST:
                raise SpecError(f"at most {_MOST} placeholders are expected", part.at)
            else:
                self._places.append((len(self.text), part.at))
                self.text += chr(_FIRST + len(self.holders))
                self.holders.append(part)
        else:
            if self.optional is not None and not inside and part.strip():
                said = "what stands behind an optional part is optional too: put it in brackets"
                raise SpecError(said, _start(part) + len(part) - len(part.lstrip()))
            self._places.append((len(self.text), _start(part)))
            self.text += part

    def at(self, index: int) -> int:
        """Where something in the text stands in the line."""
        start, place = next(
            (found for found in reversed(self._places) if found[0] <= index), (0, 0)
        )
        return place + index - start


def _start(part: str) -> int:
    """Where a token stands in its line; a line that is text alone is no token."""
    return getattr(part, "start_pos", 0)


def _refuse_idle(
    form: type, look: Look, spans: Sequence[Span], slots: Sequence[Slot], masked: _Masked
) -> None:
    """Raise SpecError for what would be taken for a mapping, and never match a line."""
    if masked.optional is not None:
        _refuse_optional(form, look, spans, masked, masked.optional)
    seen: set[str] = set()
    listed = False
    for span, slot in zip(spans, slots, strict=True):
        if listed and not slot.name:
            said = "a list takes the rest of the line: nothing can stand behind it"
            raise SpecError(said, masked.at(span.start))
        if slot.name in seen:
            raise SpecError(f"{slot.name}= stands twice", masked.at(span.start))
        listed = listed or (slot.many and not slot.name)
        seen |= {slot.name} - {""}
    word = masked.text.split(None, 1)[0] if masked.text else ""
    if form is Row and word in (*look.opens, *look.closes):
        said = f"{word} opens or closes a block, and a line of cells does neither"
        raise SpecError(said, masked.at(_separators(masked.text)[0]))


def _separators(text: str) -> list[int]:
    """Where the commas or tabs stand that make cells of a line."""
    return [index for index, letter in enumerate(text) if letter in ",\t"]


def _refuse_optional(
    form: type, look: Look, spans: Sequence[Span], masked: _Masked, start: int
) -> None:
    """Raise SpecError where what is optional can't be missing, or its line would be another."""
    at = masked.at(start) - 1
    if form is Assignment:
        raise SpecError("a value is one text: no part of it is optional", at)
    if any(span.start < start < span.end for span in spans):
        raise SpecError("a comma makes cells of this line: an optional part is a whole cell", at)
    bare = masked.text[:start].rstrip().removesuffix("," if form is Row else "").rstrip()
    if type(open_shape(parser_of(look)(bare), look)) is not form:
        raise SpecError("without its optional part the line reads otherwise, and is not found", at)


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


def match_front(template: Template, shape: Shape, cut: Sequence[Span]) -> tuple[int, Bound]:
    """How many words of a line are as a mapping has them, from the front, and what these take.

    Of a setting the key is one. None where the mapping has no first word of its own.
    """
    bound: Bound = []
    first = template.slots[:1]
    told = template.head or any(_is_word(piece) for slot in first for piece in slot.pieces)
    if not told:
        return 0, bound
    if isinstance(shape, Assignment):
        return int(_is_key(template, shape, bound)), bound
    count = 0
    for slot, span in zip(template.slots, cut, strict=False):
        taken: Bound = []
        if slot.name or not _take(slot.pieces, span, taken):
            break
        bound += taken
        count += 1
    return count, bound


def _is_word(piece: TemplatePiece) -> bool:
    return isinstance(piece, str) and any(map(str.isalpha, piece))


def covers_all(one: Template, other: Template) -> bool:
    """Whether a mapping line fits every line that another one fits, whatever the word lists say.

    It may say no where it does: an index with a list of words fits only those words.
    """
    if one.form is not other.form or one.names or other.names or one.open_ended < other.open_ended:
        return False
    mine, theirs = one.slots, other.slots
    if one.form is Assignment and not _covers_word(one.key, other.key):
        return False
    if len(theirs) > len(mine) and not (one.open_ended or (mine and mine[-1].many)):
        return False
    for number, slot in enumerate(mine):
        if number >= len(theirs) or (theirs[number].optional and not slot.optional):
            return slot.optional
        if not _covers_word(slot.pieces, theirs[number].pieces):
            return False
        if theirs[number].many and not slot.many:
            return False
    return True


def _covers_word(one: Pieces, other: Pieces) -> bool:
    """Whether what one word of a mapping fits is all that another's does."""
    if len(one) == 1 and (one[0] == ANY or isinstance(one[0], Holder)):
        piece = one[0]
        return isinstance(piece, str) or not piece.is_index or piece.spec.form is SpecForm.PLAIN
    if len(one) != len(other):
        return False
    return all(
        mine == theirs
        if isinstance(mine, str)
        else isinstance(theirs, Holder)
        and (not mine.is_index or mine.spec.form is SpecForm.PLAIN or mine.spec == theirs.spec)
        for mine, theirs in zip(one, other, strict=True)
    )


def match_key(template: Template, shape: Assignment) -> Bound | None:
    """What the placeholders of a mapping's key take of a line's key; None where it is another."""
    bound: Bound = []
    return bound if _is_key(template, shape, bound) else None


def _is_key(template: Template, shape: Assignment, bound: Bound) -> bool:
    if template.head and template.head == shape.key.text:
        return True
    return _take(template.key, key_span(shape), bound)


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
    if index == len(positional) - 1 and not template.open_ended:
        return _takes_unit(template, positional[-2:], bound)
    return template.open_ended or index >= len(positional)


def _takes_unit(template: Template, last: Sequence[Span], bound: Bound) -> bool:
    """Whether the one word that is left is the unit of the number before it: it is taken, too."""
    slot = template.slots[-1] if template.slots else None
    if template.form is not Directive or slot is None or len(last) < 2 or slot.many or slot.name:
        return False
    number, unit = last
    holder = slot.pieces[-1] if len(slot.pieces) == 1 else None
    if not isinstance(holder, Holder) or holder.is_index or not is_unit(unit.text):
        return False
    if unit.start != number.end + 1 or not _FIGURES.fullmatch(number.text):
        return False
    found = declared_with_holes(holder.target)
    if found is not None and isinstance(found.kind, Text):
        return False
    bound[-1] = (holder, Span(f"{number.text} {unit.text}", number.start))
    return True


_FIGURES = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")


def _shares(piece: TemplatePiece) -> bool:
    """Whether a piece is one of several values of one number."""
    return isinstance(piece, Holder) and piece.spec.cut is not None


def key_span(shape: Assignment) -> Span:
    """The key of an assignment, one blank between its words."""
    return Span(" ".join(shape.key.text.split()), shape.key.start)


def _take(pieces: Pieces, span: Span, bound: Bound) -> bool:
    """Match one word's pieces against a span: literals in place, placeholders in between.

    A blank of a literal is any number of them, as in columns: `u16[2]  grid 30` in a row's cell.
    """
    text, at = span.text, 0
    places: Sequence[int] = ()
    if "  " in text and not any("  " in piece for piece in pieces if isinstance(piece, str)):
        places = [n for n, sign in enumerate(text) if sign != " " or text[n - 1 : n] != " "]
        text = "".join(text[n] for n in places)
    for number, piece in enumerate(pieces):
        if isinstance(piece, str):
            if piece == ANY:
                behind = pieces[number + 1] if number + 1 < len(pieces) else None
                if not isinstance(behind, str):
                    return behind is None
                at = max(at, text.find(behind, at))
                continue
            if not text.startswith(piece, at):
                return False
            at += len(piece)
            continue
        if piece.spec.cut is not None and number and _shares(pieces[number - 1]):
            bound.append((piece, bound[-1][1]))  # it is another part of the same number
            continue
        after = number + 1
        while piece.spec.cut is not None and after < len(pieces) and _shares(pieces[after]):
            after += 1
        following = pieces[after] if after < len(pieces) else None
        stop = len(text) if not isinstance(following, str) else text.find(following, at)
        if stop < 0 or (stop == at and (number or following is not None)):
            return False
        bound.append((piece, _part(span, places, at, stop)))
        at = stop
    return at == len(text)


def _part(span: Span, places: Sequence[int], start: int, stop: int) -> Span:
    """A part of a span as it is written, by `places` where blanks were left out to find it."""
    if places and start < stop:
        start, stop = places[start], places[stop - 1] + 1
    return Span(span.text[start:stop], span.start + start)


def cut_of(shape: Shape) -> Sequence[Span]:
    """The one value, the cells or the words of a line or a head; none where it says nothing."""
    if isinstance(shape, Assignment):
        return [shape.value]
    if isinstance(shape, Row):
        return cells(shape.body)
    if isinstance(shape, Directive):
        return words(shape.body)
    return words(shape.name) if isinstance(shape, Section | Opener | Closer) else ()


def _slots_of(shape: Shape, masked: _Masked) -> tuple[type, Span, Sequence[Span]]:
    if isinstance(shape, Unread):
        said = f"can't be read as a line of a dump: expected {shape.expected}"
        raise SpecError(said, masked.at(shape.column - 1))
    if isinstance(shape, Blank | Comment):
        raise SpecError("can't be read as a line of a dump: it says nothing")
    key = key_span(shape) if isinstance(shape, Assignment) else Span("", 0)
    return type(shape), key, cut_of(shape)


def _slot(span: Span, masked: _Masked) -> Slot:
    pair = named(span)
    name, text = pair if pair is not None else ("", span)
    pieces = _pieces(text, masked)
    many = any(isinstance(piece, Holder) and piece.spec.many for piece in pieces)
    optional = masked.optional is not None and span.start >= masked.optional
    return Slot(pieces, name, optional, many, span.text[len(name)] if name else "=")


def _pieces(span: Span, masked: _Masked) -> Pieces:
    """Literals and placeholders. Raises SpecError where nothing parts two placeholders."""
    pieces: list[TemplatePiece] = []
    literal = ""
    for letter in span.text:
        index = ord(letter) - _FIRST
        if not 0 <= index < len(masked.holders):
            literal += letter
            continue
        pieces += _with_any(literal)
        literal = ""
        pieces.append(masked.holders[index])
    return _parted([*pieces, *_with_any(literal)])


def _with_any(literal: str) -> Iterator[TemplatePiece]:
    """A literal, with any text for each star that stands between blanks within a cell."""
    front, *others = literal.split(" * ")
    yield from filter(None, (front + " " if others else front,))
    for number, text in enumerate(others):
        yield ANY
        yield f" {text} " if number + 1 < len(others) else f" {text}"


def _parted(pieces: Sequence[TemplatePiece]) -> Pieces:
    """The pieces, if some text stands between any two that take text. Raises SpecError."""
    for one, other in pairwise(pieces):
        if (isinstance(one, str) and one != ANY) or (_shares(one) and _shares(other)):
            continue
        if isinstance(other, Holder) or other == ANY:
            first, second = map(_braced, (one, other))
            said = f"nothing tells where {first} ends and {second} begins: text is expected between"
            raise SpecError(said, next(p.at for p in (other, one) if isinstance(p, Holder)))
    return tuple(pieces)


def _braced(piece: TemplatePiece) -> str:
    return f"{{{piece.target}}}" if isinstance(piece, Holder) else piece


def match_text(pieces: Pieces, text: str) -> Bound | None:
    """Match a whole line of plain text: literals in place, `*` and placeholders in between."""
    bound: Bound = []
    return bound if _take_text(pieces, text, bound) else None


@lru_cache(maxsize=64)
def _mark_pieces(mark: str) -> Pieces:
    return text_pieces(mark)


def is_mark(line: str, mark: str) -> bool:
    """Whether a line, without the blanks around it, is the mark that ends a dump.

    In a mark * is any text: `*2 rows*` of one dump is `*3 rows*` of another.
    """
    if ANY not in mark:
        return line == mark
    return match_text(_mark_pieces(mark), line) is not None


def text_pieces(line: str) -> Pieces:
    """The pieces of a plain-text pattern: literals, placeholders, and `*` for any text.

    Raises SpecError with what was expected, and where.
    """
    return _in_line(line, lambda: _pattern(_parts(line)))


def _pattern(parts: Sequence[TemplatePart]) -> Pieces:
    pieces: list[TemplatePiece] = []
    for part in _flat(parts):
        if isinstance(part, Holder) and part.constant is not None:
            said = "a head line states what it shows: a constant has no place here"
            raise SpecError(said, part.at)
        if part == ANY and pieces and pieces[-1] == ANY:
            continue  # any text, and any text
        if isinstance(part, Holder) or part == ANY or not pieces or not _is_text(pieces[-1]):
            pieces.append(part if isinstance(part, Holder) else str(part))
        else:
            pieces[-1] = f"{pieces[-1]}{part}"
    return _parted(pieces)


def _flat(parts: Sequence[TemplatePart]) -> Iterator[str | Holder]:
    """The parts with brackets as text."""
    for part in parts:
        if isinstance(part, Lackable):
            yield from ("[", *_flat(part.parts), "]")
        else:
            yield part.brace if isinstance(part, Stray) else part


def _is_text(piece: TemplatePiece) -> bool:
    return isinstance(piece, str) and piece != ANY


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
