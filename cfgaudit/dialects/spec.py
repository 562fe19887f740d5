"""How a dump writes a value: what stands behind a placeholder's colon, read and written.

A number that is printed with digits behind its point stands for all that is printed so: where
turning it into our unit leaves no short number (radians, a reciprocal), the shortest of these is
meant, and it is written with as many digits again.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from cfgaudit.reading.shapes import Number, Word, unquoted
from cfgaudit.reading.statements import ValueSyntaxError, parse_value
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Either,
    Int,
    Kind,
    NotListed,
    Quantities,
    Quantity,
    Value,
    WordSet,
)
from cfgaudit.vocabulary.units import UnitError, convert, is_inexact, is_unit, number_text

_PRINTED = re.compile(r"[+-]?[0-9]*\.([0-9]+)")
_DIGITS = 6  # behind the point of a number that is not short, where the dump shows no other


class SpecError(ValueError):
    """A line of a dialect that means nothing; the message says what was expected.

    `at` is where in the line, from 0.
    """

    def __init__(self, message: str, at: int = 0) -> None:
        super().__init__(message)
        self.at = at


class CannotWrite(ValueError):  # noqa: N818 (the dialect can't, no fault of ours)
    """A value that the dialect has no way to say; the message says why."""


class SpecForm(StrEnum):
    """The forms of a specification."""

    PLAIN = "plain"
    SCALED = "scaled"
    WORDS = "words"
    FLAGS = "flags"
    OTHERS = "other flags"
    NOT = "not"
    FROM = "from"


class Cut(NamedTuple):
    """One value's part of a number that several share: how often `over` goes into it, and of
    that, what `below` leaves (0: all).
    """

    over: int = 1
    below: int = 0

    def of(self, number: int) -> int:
        """The part of a number."""
        part = number // self.over
        return part % self.below if self.below else part

    def put(self, number: int, part: int) -> int:
        """The number with another part. Raises CannotWrite where that has no room."""
        if part < 0 or (self.below and part >= self.below):
            raise CannotWrite(f"{part} has no room beside what else its number says")
        return number + (part - self.of(number)) * self.over


class Spec(NamedTuple):
    """neutral = text × scale (in `unit`) + offset, or a look-up in the named table."""

    form: SpecForm = SpecForm.PLAIN
    unit: str = ""
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    table: str = ""
    base: int = 1
    many: bool = False  # the rest of the line, cut at blanks and commas
    inverse: bool = False  # neutral = scale / text
    by: str = ""  # the setting that the scale is divided by; of an inverse, multiplied with
    beside: "Spec | None" = None  # how numbers beside the table's words are written
    but: int | None = None  # of many: the number that stands for no value
    cut: Cut | None = None

    @property
    def inexact(self) -> bool:
        """Whether short numbers of the dump become long ones of ours."""
        return self.inverse or bool(self.by) or (bool(self.unit) and is_inexact(self.unit))

    def settled(self, values: Callable[[str], Value | None]) -> "Spec | None":
        """The same where the setting that it goes by is known; None where that is no number."""
        if not self.by:
            return self
        value = values(self.by)
        if isinstance(value, bool) or not isinstance(value, int | float) or not value:
            return None
        other = Fraction(str(value))
        scale = self.scale * other if self.inverse else self.scale / other
        return self._replace(scale=scale, by="")


class WordLists(NamedTuple):
    """A dialect's word lists (dump's word to ours) and flag sets (our word to its bit)."""

    words: Mapping[str, Mapping[str, str]]
    flags: Mapping[str, Mapping[str, int]]


def read_with(spec: Spec, kind: Kind, text: str, tables: WordLists) -> Value:
    """The neutral value of a dump's text. Raises BadValue."""
    if spec.cut is not None:
        text = str(spec.cut.of(whole_number(text)))
    if spec.form is SpecForm.WORDS:
        return _read_words(spec, kind, text, tables)
    if spec.form in (SpecForm.FLAGS, SpecForm.OTHERS):
        table = tables.flags.get(spec.table, {})
        found = _read_flags(text, table, spec.table)
        return found if spec.form is SpecForm.FLAGS else frozenset(table) - found
    if spec.form is SpecForm.NOT:
        return not Bool().read(text)
    if spec.form is SpecForm.FROM:
        value = Int().read(text)
        assert isinstance(value, int)  # what the kind reads
        return value + 1 - spec.base
    if spec.many and isinstance(kind, Quantities):
        parts, unit = _listed(text)
        parts = [part for part in parts if spec.but is None or part != str(spec.but)]
        if not parts:
            return ()
        text = ", ".join(f"{part} {unit}".rstrip() for part in parts)
    if spec.form is SpecForm.SCALED and spec != Spec(SpecForm.SCALED, many=spec.many):
        return _read_scaled(spec, kind, text)
    return kind.read(text)


_HEX = re.compile(r"0[xX]([0-9A-Fa-f]{1,15})")


def whole_number(text: str) -> int:
    """The number that several settings share, to base 16, too: `0x1F`. Raises BadValue."""
    hexadecimal = _HEX.fullmatch(text)
    value = int(hexadecimal[1], 16) if hexadecimal else Int(0, 2**63).read(text)
    if value < 0:
        raise BadValue(f"{text!r} is not a whole number from 0 on")
    return value


def spelled_as(number: int, like: str) -> str:
    """A whole number to the base of another one, as wide and in its letters.

    >>> spelled_as(31, "0x08"), spelled_as(31, "8")
    ('0x1F', '31')
    """
    found = _HEX.fullmatch(like)
    if not found:
        return str(number)
    digits = f"{number:0{len(found[1])}x}"
    small = found[1] != found[1].upper()
    return like[:2] + (digits if small else digits.upper())


def _not_listed(spec: Spec, kind: Kind, text: str, table: Mapping[str, str]) -> BadValue:
    """That the dialect has no such word; where it has one for each of ours, there is none."""
    said = f"{text!r} is none of the dialect's words for {spec.table}: {', '.join(table)}"
    return BadValue(said) if {*kind.choices} <= {*table.values()} else NotListed(said)


def _read_words(spec: Spec, kind: Kind, text: str, tables: WordLists) -> Value:
    table = tables.words.get(spec.table, {})
    if isinstance(kind, WordSet):
        parts = re.split(r"[,+|]", unquoted(text))
        ours = [table.get(word, word) for part in parts for word in _table_words(part, table)]
        try:
            return kind.read(", ".join(ours) if ours else "none")
        except BadValue as error:
            if spec.table in tables.words and not all(part in table for part in parts):
                raise _not_listed(spec, kind, text, table) from error
            raise
    word = unquoted(text)
    if word not in table:
        folded = {key.casefold(): value for key, value in table.items()}
        if word.casefold() in folded:
            return kind.read(folded[word.casefold()])
        if spec.beside is not None:
            return read_with(spec.beside, kind, text, tables)
        if all(key.casefold() == value for key, value in folded.items()):
            with suppress(BadValue):  # it calls what was seen as we do, so what was not seen too
                return kind.read(word)
        raise _not_listed(spec, kind, text, table)
    return kind.read(table[word])


def _table_words(text: str, table: Mapping[str, str]) -> Iterator[str]:
    """The words of a set; several that a word list has as one are one: the most that are.

    >>> list(_table_words("console video sender", {"video sender": "", "video": ""}))
    ['console', 'video sender']
    """
    words = text.split()
    while words:
        counts = range(len(words), 1, -1)
        count = next((n for n in counts if " ".join(words[:n]) in table), 1)
        yield " ".join(words[:count])
        words = words[count:]


def _read_flags(text: str, table: Mapping[str, int], name: str) -> frozenset[str]:
    value = whole_number(text)
    found = {word for word, bit in table.items() if bit and value & bit == bit}
    rest = value & ~sum({table[word] for word in found})
    if rest:
        raise BadValue(f"{value} holds {rest}, which is no flag of {name}")
    return frozenset(found)


def _listed(text: str) -> tuple[list[str], str]:
    """The numbers of a list, and the unit that stands behind them all; nothing where none does.

    >>> _listed("25, 100 mW")
    (['25', '100'], 'mW')
    """
    parts = text.replace(",", " ").split()
    if len(parts) > 1 and is_unit(parts[-1]):
        return parts[:-1], parts[-1]
    return parts, ""


def _read_scaled(spec: Spec, kind: Kind, text: str) -> Value:
    if isinstance(kind, Quantities):
        parts = text.split(", ") if spec.many else text.replace(",", " ").split()
        return tuple(float(_scale_one(spec, part, kind.unit)) for part in parts)
    if isinstance(kind, Either) and unquoted(text).casefold() in kind.words:
        return unquoted(text).casefold()
    value = _scale_one(spec, text, _unit_of(kind))
    whole = isinstance(kind, Int) or (isinstance(kind, Either) and isinstance(kind.other, Int))
    return int(value) if whole and value.denominator == 1 else float(value)


def _unit_of(kind: Kind) -> str:
    """The unit of a kind's numbers; nothing where they have none."""
    if isinstance(kind, Either):
        kind = kind.other
    return kind.unit if isinstance(kind, Quantity | Quantities) else ""


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
        digits = digits_of(text)
        if not spec.inexact or (spec.inverse and digits is None):
            return _turned(spec, number.value, wanted)
        slack = Fraction(1, 2 * 10 ** (digits or 0))
        ends = [_turned(spec, number.value + way * slack, wanted) for way in (-1, 1)]
        return shortest(min(ends), max(ends))
    except UnitError as error:
        raise BadValue(f"{text!r}: {error}") from None


def _turned(spec: Spec, number: Fraction, wanted: str) -> Fraction:
    """A number of the dump as one of ours. Raises BadValue and UnitError."""
    if spec.inverse and not number:
        raise BadValue("nothing is divided by 0")
    value = spec.scale / number if spec.inverse else number * spec.scale
    value += spec.offset
    return convert(value, spec.unit, wanted) if spec.unit and wanted else value


def digits_of(text: str) -> int | None:
    """How many digits a printed number has behind its point; None where it has no point.

    >>> digits_of("0.078000"), digits_of("125")
    (6, None)
    """
    found = _PRINTED.fullmatch(text.strip())
    return len(found.group(1)) if found else None


def shortest(low: Fraction, high: Fraction) -> Fraction:
    """The decimal number with the fewest digits behind its point from low to high.

    >>> shortest(Fraction("89.9999"), Fraction("90.0001"))
    Fraction(90, 1)
    """
    middle, digits = (low + high) / 2, 0
    while digits < 30:
        found = Fraction(round(middle * 10**digits), 10**digits)
        if low <= found <= high:
            return found
        digits += 1
    return middle


def write_with(spec: Spec, kind: Kind, value: Value, tables: WordLists, like: str = "") -> str:
    """The dump's text for a neutral value; a number printed as another one is, if that is given.

    Of a number that several settings share, what is this one's alone. Raises CannotWrite.
    """
    if spec.form is SpecForm.WORDS:
        return _write_words(spec, kind, value, tables, like)
    if spec.form in (SpecForm.FLAGS, SpecForm.OTHERS) and isinstance(value, frozenset):
        flags = tables.flags.get(spec.table, {})
        return spelled_as(_sum_of(value, flags, spec.form is SpecForm.OTHERS), like)
    if spec.cut is not None and isinstance(value, bool):
        return str(int(value is not (spec.form is SpecForm.NOT)))
    if spec.form is SpecForm.NOT:
        return "off" if value else "on"
    if spec.form is SpecForm.FROM and isinstance(value, int):
        return str(value - 1 + spec.base)
    if isinstance(value, float | int) and not isinstance(value, bool):
        return _write_number(spec, kind, value, like)
    if spec.many and isinstance(value, tuple):
        return _write_list(spec, kind, value, like)
    if isinstance(value, frozenset):
        blanks = spec.many and " " in like.strip() and "," not in like
        return (" " if blanks else ", " if spec.many else ",").join(sorted(value))
    return kind.spell(value)


_GLUED = re.compile(r"([+-]?[\d.]+)([A-Za-z%]+)")


def _write_list(spec: Spec, kind: Kind, value: tuple[object, ...], like: str) -> str:
    numbers = [_write_number(spec, kind, v, "") for v in value if isinstance(v, float | int)]
    parts, unit = _listed(like)
    glued = {found[2] for part in parts if (found := _GLUED.fullmatch(part))}
    for theirs in filter(None, {unit, *glued}):
        if theirs != (spec.unit or _unit_of(kind)):
            raise CannotWrite(f"its line counts in {theirs}")
    numbers = [f"{number}{''.join(glued)}" for number in numbers]
    if spec.but is not None:  # as many as the line has
        numbers += [str(spec.but)] * (len(parts) - len(numbers))
    return " ".join([*numbers, unit]).rstrip()


def _sum_of(value: frozenset[str], table: Mapping[str, int], others: bool) -> int:
    unknown = sorted(value - table.keys())
    if unknown:
        raise CannotWrite(f"the dialect has no flag for {', '.join(unknown)}")
    return sum(table[word] for word in (frozenset(table) - value if others else value))


def _write_words(spec: Spec, kind: Kind, value: Value, tables: WordLists, like: str) -> str:
    theirs: dict[str, str] = {}
    for word, ours in tables.words.get(spec.table, {}).items():
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
        text = value if isinstance(value, str) else kind.spell(value)
    if text not in theirs:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if spec.beside is not None and number:
            return write_with(spec.beside, kind, value, tables, like)
        ours = text or kind.spell(value)
        raise CannotWrite(f"the dialect has no word for {ours} in {spec.table}")
    return theirs[text]


_OWN_UNIT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?P<blank> ?)(?P<unit>[^\s\d.]\S*)")


def _write_number(spec: Spec, kind: Kind, value: float, like: str) -> str:
    wanted = _unit_of(kind)
    exact = Fraction(str(value))
    own = _OWN_UNIT.fullmatch(like)
    if own is not None and wanted and is_unit(own["unit"]):  # it counts in a unit of its own
        with suppress(UnitError):
            mine = convert(exact, wanted, own["unit"])
            return f"{number_text(float(mine))}{own['blank']}{own['unit']}"
    digits = digits_of(like)
    if spec.unit and wanted:
        try:
            exact = convert(exact, wanted, spec.unit)
        except UnitError as error:
            raise CannotWrite(str(error)) from None
    raw = exact - spec.offset
    if spec.inverse and not raw:
        raise CannotWrite(f"nothing divided by a number is {kind.spell(value)}")
    raw = spec.scale / raw if spec.inverse else raw / spec.scale
    if spec.inexact and raw.denominator != 1:
        text = _rounded(raw, _DIGITS if digits is None and not spec.inverse else digits or 0)
        if read_with(spec, kind, text, WordLists({}, {})) != value:
            raise CannotWrite(f"{kind.spell(value)} is none of the numbers that its line can hold")
        return text
    if spec.scale != 1 and raw.denominator != 1 and (raw * 10 ** (digits or 0)).denominator != 1:
        step = f"{number_text(float(abs(spec.scale)))} {spec.unit}".rstrip()
        raise CannotWrite(f"{kind.spell(value)} is not a whole number of steps of {step}")
    if digits is not None and (raw * 10**digits).denominator == 1:
        return _rounded(raw, digits)
    return number_text(float(raw)) if raw.denominator != 1 else str(raw.numerator)


def _rounded(number: Fraction, digits: int) -> str:
    """A number with so many digits behind its point.

    >>> _rounded(Fraction("0.0779999"), 6)
    '0.078000'
    """
    whole, rest = divmod(abs(round(number * 10**digits)), 10**digits)
    sign = "-" if round(number * 10**digits) < 0 else ""
    return f"{sign}{whole}.{rest:0{digits}d}" if digits else f"{sign}{whole}"


class Holder(NamedTuple):
    """A placeholder: an index in capitals, or a neutral path; perhaps with a constant."""

    target: str
    spec: Spec
    constant: str | None = None
    at: int = 0  # where it stands in its line, from 0

    @property
    def is_index(self) -> bool:
        """Whether it names an index and no path."""
        return "." not in self.target and self.target.isupper()


class Lackable(NamedTuple):
    """An optional part of a mapping line: what stands in its brackets, and where it begins."""

    parts: "Sequence[str | Stray | Holder | Lackable]"
    at: int


class Stray(NamedTuple):
    """A brace without its partner, and where it stands."""

    brace: str
    at: int


TemplatePart = str | Stray | Holder | Lackable  # text, and what stands in braces and brackets
