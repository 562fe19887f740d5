"""A mapping line of a dialect, compiled: the same template reads a line and writes it."""

import re
from collections.abc import Mapping, Sequence
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from cfgaudit.reading.shapes import (
    Assignment,
    Closer,
    Directive,
    Look,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    cells,
    named,
    unquoted,
    words,
)
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.values import Number, ValueSyntaxError, Word, parse_value
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Either,
    Int,
    Kind,
    Quantities,
    Quantity,
    Value,
    WordSet,
    read_bool,
    read_value,
    value_text,
)
from cfgaudit.vocabulary.units import UnitError, convert, is_unit, number_text, unit

_SMALL = re.compile(r"-?[0-9]{1,9}")
_SANE = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,2})?"
    r"|[+-]?[0-9]{1,30}/[0-9]{1,30}"
)


class SpecError(ValueError):
    """A placeholder's specification that means nothing; the message says what was expected."""


class CannotWrite(ValueError):  # noqa: N818 (the dialect can't, no fault of ours)
    """A value that the dialect has no way to say; the message says why."""


class Form(StrEnum):
    """The forms of a specification."""

    PLAIN = "plain"
    SCALED = "scaled"
    WORDS = "words"
    FLAGS = "flags"
    NOT = "not"
    FROM = "from"


class Spec(NamedTuple):
    """neutral = text × scale (in `unit`) + offset, or a look-up in the named table."""

    form: Form = Form.PLAIN
    unit: str = ""
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    table: str = ""
    base: int = 1
    many: bool = False  # the rest of the line, cut at blanks and commas


class WordLists(NamedTuple):
    """A dialect's word lists (dump's word to ours) and flag sets (our word to its bit)."""

    words: Mapping[str, Mapping[str, str]]
    flags: Mapping[str, Mapping[str, int]]


def parse_spec(text: str) -> Spec:
    """Read a specification. Raises SpecError."""
    words = text.split()
    many = bool(words) and words[0] == "list"
    words = words[1:] if many else words
    if not words:
        return Spec(many=many)
    if words[0] in ("words", "flags") and len(words) == 2:
        return Spec(Form(words[0]), table=words[1], many=many)
    if words == ["not"]:
        return Spec(Form.NOT)
    if words[0] == "from" and len(words) == 2 and _SMALL.fullmatch(words[1]):
        return Spec(Form.FROM, base=int(words[1]))
    return _scaled(text, words, many)


def _scaled(text: str, words: list[str], many: bool) -> Spec:
    offset = Fraction(0)
    if "+" in words:
        cut = words.index("+")
        tail, words = words[cut + 1 :], words[:cut]
        if not tail or (len(tail) == 2 and tail[1] != words[-1]) or len(tail) > 2:
            raise SpecError(f"{text!r}: an offset in the same unit is expected behind +")
        offset = _fraction(tail[0], text)
    scale, symbol = Fraction(1), ""
    if len(words) == 2 or (len(words) == 1 and not is_unit(words[0])):
        scale = _fraction(words[0], text)
        words = words[1:]
    if words:
        symbol = words[0]
        try:
            unit(symbol)
        except UnitError as error:
            raise SpecError(f"{text!r}: {error}") from None
    if len(words) > 1 or not scale:
        raise SpecError(f"{text!r}: a scale and a unit are expected, such as 0.01 V")
    return Spec(Form.SCALED, symbol, scale, offset, many=many)


def _fraction(text: str, whole: str) -> Fraction:
    try:
        if not _SANE.fullmatch(text):  # a power of a billion would hold the machine up
            raise ValueError(text)
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise SpecError(
            f"{whole!r}: expected a unit, a scale, words NAME, flags NAME, not, from N or list"
        ) from None


def read_with(spec: Spec, kind: Kind, text: str, tables: WordLists) -> Value:
    """The neutral value of a dump's text. Raises BadValue."""
    if spec.form is Form.WORDS:
        return _read_words(spec, kind, text, tables.words.get(spec.table, {}))
    if spec.form is Form.FLAGS:
        return _read_flags(text, tables.flags.get(spec.table, {}), spec.table)
    if spec.form is Form.NOT:
        return not read_bool(text)
    if spec.form is Form.FROM:
        value = read_value(Int(), text)
        assert isinstance(value, int)  # what the kind reads
        return value + 1 - spec.base
    if spec.many and isinstance(kind, Quantities):
        text = ", ".join(text.replace(",", " ").split())
    if spec.form is Form.SCALED and (spec.scale != 1 or spec.offset or spec.unit):
        return _read_scaled(spec, kind, text)
    return read_value(kind, text)


def _read_words(spec: Spec, kind: Kind, text: str, table: Mapping[str, str]) -> Value:
    if isinstance(kind, WordSet):
        words = unquoted(text).replace(",", " ").replace("+", " ").replace("|", " ").split()
        ours = [table.get(word, word) for word in words]
        return read_value(kind, ", ".join(ours) if ours else "none")
    word = unquoted(text)
    if word not in table:
        folded = {key.casefold(): value for key, value in table.items()}
        if word.casefold() not in folded:
            known = ", ".join(table)
            raise BadValue(f"{text!r} is none of the dialect's words for {spec.table}: {known}")
        return read_value(kind, folded[word.casefold()])
    return read_value(kind, table[word])


def _read_flags(text: str, table: Mapping[str, int], name: str) -> frozenset[str]:
    value = read_value(Int(0, 2**63), text)
    assert isinstance(value, int)  # what the kind reads
    found = {word for word, bit in table.items() if bit and value & bit == bit}
    rest = value & ~sum({table[word] for word in found})
    if rest or value < 0:
        raise BadValue(f"{value} holds {rest}, which is no flag of {name}")
    return frozenset(found)


def _read_scaled(spec: Spec, kind: Kind, text: str) -> Value:
    if isinstance(kind, Quantities):
        return tuple(
            float(_scale_one(spec, part, kind.unit)) for part in text.replace(",", " ").split()
        )
    wanted = kind.unit if isinstance(kind, Quantity) else ""
    if isinstance(kind, Either):
        if unquoted(text).casefold() in kind.words:
            return unquoted(text).casefold()
        wanted = kind.other.unit if isinstance(kind.other, Quantity) else ""
    value = _scale_one(spec, text, wanted)
    return int(value) if isinstance(kind, Int) and value.denominator == 1 else float(value)


def _scale_one(spec: Spec, text: str, wanted: str) -> Fraction:
    try:
        items = parse_value(text)
    except ValueSyntaxError:
        items = ()
    parts = items[0].parts if len(items) == 1 else ()
    number = parts[0] if parts else None
    if not isinstance(number, Number) or len(parts) > 2:
        raise BadValue(f"{text!r} is not a number")
    given = number.unit
    if len(parts) == 2:
        given = parts[1].text if isinstance(parts[1], Word) else "?"
    try:
        if given:  # a dump that writes its unit is taken at its word
            return convert(number.value, given, wanted)
        value = number.value * spec.scale + spec.offset
        return convert(value, spec.unit, wanted) if spec.unit and wanted else value
    except UnitError as error:
        raise BadValue(f"{text!r}: {error}") from None


def write_with(spec: Spec, kind: Kind, value: Value, tables: WordLists) -> str:
    """The dump's text for a neutral value. Raises CannotWrite."""
    if spec.form is Form.WORDS:
        return _write_words(kind, value, tables.words.get(spec.table, {}), spec.table)
    if spec.form is Form.FLAGS and isinstance(value, frozenset):
        table = tables.flags.get(spec.table, {})
        unknown = sorted(value - table.keys())
        if unknown:
            raise CannotWrite(f"the dialect has no flag for {', '.join(unknown)}")
        return str(sum(table[word] for word in value))
    if spec.form is Form.NOT:
        return "off" if value else "on"
    if spec.form is Form.FROM and isinstance(value, int):
        return str(value - 1 + spec.base)
    if isinstance(value, float | int) and not isinstance(value, bool):
        return _write_number(spec, kind, value)
    if spec.many and isinstance(value, tuple):
        return " ".join(_write_number(spec, kind, v) for v in value if isinstance(v, float | int))
    if isinstance(value, frozenset):
        return " ".join(sorted(value)) if spec.many else ",".join(sorted(value))
    return value_text(kind, value)


def _write_words(kind: Kind, value: Value, table: Mapping[str, str], name: str) -> str:
    theirs: dict[str, str] = {}
    for word, ours in table.items():
        theirs.setdefault(ours, word)
    if isinstance(value, frozenset):
        unknown = sorted(value - theirs.keys())
        if unknown:
            raise CannotWrite(f"the dialect has no word for {', '.join(unknown)}")
        return " ".join(theirs[word] for word in sorted(value))
    if isinstance(kind, Bool):
        spellings = ("on", "true", "yes", "1") if value else ("off", "false", "no", "0")
        text = next((word for word in spellings if word in theirs), "")
    else:
        text = value if isinstance(value, str) else value_text(kind, value)
    if text not in theirs:
        raise CannotWrite(
            f"the dialect has no word for {text or value_text(kind, value)} in {name}"
        )
    return theirs[text]


def _write_number(spec: Spec, kind: Kind, value: float) -> str:
    wanted = kind.unit if isinstance(kind, Quantity | Quantities) else ""
    if isinstance(kind, Either) and isinstance(kind.other, Quantity):
        wanted = kind.other.unit
    exact = Fraction(str(value))
    if spec.unit and wanted:
        try:
            exact = convert(exact, wanted, spec.unit)
        except UnitError as error:
            raise CannotWrite(str(error)) from None
    raw = (exact - spec.offset) / spec.scale
    if spec.scale != 1 and raw.denominator != 1:
        step = f"{number_text(float(abs(spec.scale)))} {spec.unit}".rstrip()
        raise CannotWrite(f"{value_text(kind, value)} is not a whole number of steps of {step}")
    return number_text(float(raw)) if raw.denominator != 1 else str(raw.numerator)


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
