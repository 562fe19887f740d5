"""What stands behind the colon of a placeholder: how a dump's text becomes a neutral value."""

import re
from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from cfgaudit.craft.kinds import Bool, Either, Int, Kind, Quantities, Quantity, WordSet, value_text
from cfgaudit.craft.spelling import BadValue, read_bool, read_value
from cfgaudit.craft.values import Value
from cfgaudit.reading.values import Number, ValueSyntaxError, Word, parse_value
from cfgaudit.reading.words import unquoted
from cfgaudit.units import UnitError, convert, is_unit, number_text, unit

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


class Tables(NamedTuple):
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


def read_with(spec: Spec, kind: Kind, text: str, tables: Tables) -> Value:
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


def write_with(spec: Spec, kind: Kind, value: Value, tables: Tables) -> str:
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
