"""The kinds of setting: what values each takes, how they are read and how they are spelled."""

from fractions import Fraction
from typing import NamedTuple, cast

from cfgaudit.reading.shapes import unquoted
from cfgaudit.reading.values import Item, Number, Part, Range, ValueSyntaxError, Word, parse_value
from cfgaudit.vocabulary.units import UnitError, convert, is_unit, number_text


class SwitchRange(NamedTuple):
    """A function is on while this channel (from 1) lies within low..high, in microseconds."""

    channel: int
    low: float
    high: float

    def meets(self, other: "SwitchRange") -> bool:
        """Whether some position of one channel lies in both."""
        return self.channel == other.channel and self.low <= other.high and other.low <= self.high


class Filter(NamedTuple):
    """One filter stage: its kind, its cutoff or centre in Hz, and its quality for a notch."""

    kind: str
    cutoff: float
    q: float = 0.0


Value = (
    bool
    | int
    | float
    | str
    | frozenset[str]
    | tuple[SwitchRange, ...]
    | tuple[Filter, ...]
    | tuple[float, ...]
)


NONE = "none"  # how an empty list or set is spelled

ON_WORDS = frozenset({"on", "yes", "true", "enabled", "enable", "1"})
OFF_WORDS = frozenset({"off", "no", "false", "disabled", "disable", "0"})
FILTER_KINDS = ("pt1", "pt2", "pt3", "biquad", "notch")


class _Fieldless:
    """A kind without fields: two of the same type are the same."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other)

    def __hash__(self) -> int:
        return hash(type(self))

    def __repr__(self) -> str:
        return f"{type(self).__name__}()"


class Bool(_Fieldless):
    """On or off."""

    says = "on or off"


class Int(NamedTuple):
    """A whole number within limits."""

    low: int = -(2**31)
    high: int = 2**31

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"a whole number from {self.low} to {self.high}"


class Quantity(NamedTuple):
    """A number in a unit (empty for a bare number), within limits given in that unit."""

    unit: str
    low: float = -1e12
    high: float = 1e12

    @property
    def says(self) -> str:
        """What is expected, in words."""
        ends = f"{number_text(self.low)}..{number_text(self.high)}"
        return f"a number within {ends} {self.unit}".rstrip()


class Words(NamedTuple):
    """One word of a closed list."""

    choices: tuple[str, ...]

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "one of " + ", ".join(self.choices)


class WordSet(NamedTuple):
    """A set of words; an empty choice of words means that any word goes."""

    choices: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "words out of " + ", ".join(self.choices) if self.choices else "words"


class Text(_Fieldless):
    """Any text."""

    says = "text"


class PadUse(NamedTuple):
    """What a pad is for; a motor pad may name its arm."""

    choices: tuple[str, ...]

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "one of " + ", ".join(self.choices) + "; motor with its arm"


class Either(NamedTuple):
    """A word of a list, or a value of another kind (`auto` or a number of cells)."""

    words: tuple[str, ...]
    other: "Int | Quantity"

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"{' or '.join(self.words)}, or {self.other.says}"


# What one element of a list can hold.
CHANNEL = Int(1, 64)
PULSE = Quantity("us", 500, 2500)
CUTOFF = Quantity("Hz", 0, 100_000)
QUALITY = Quantity("", 0, 10_000)


class SwitchRanges(_Fieldless):
    """A list of channel ranges."""

    says = "a list such as 5: 1700..2100 us, or none"


class Filters(_Fieldless):
    """A list of filter stages."""

    says = "a list such as pt1 150 Hz, notch 200 Hz q 3.5, or none"


class Quantities(NamedTuple):
    """A list of numbers in one unit, each within limits given in that unit."""

    unit: str
    low: float = -1e12
    high: float = 1e12

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"a list of numbers in {self.unit}"


class Between(NamedTuple):
    """Two numbers in one unit, the lower first, within limits given in that unit.

    One number alone is both.
    """

    unit: str
    low: float = -1e12
    high: float = 1e12

    @property
    def says(self) -> str:
        """What is expected, in words."""
        ends = f"{number_text(self.low)}..{number_text(self.high)}"
        return f"a range such as 4..6 {self.unit} or one number, within {ends} {self.unit}"


class OneOf(NamedTuple):
    """One whole number of a closed list."""

    numbers: tuple[int, ...]

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "one of " + ", ".join(str(number) for number in self.numbers)


Kind = (
    Bool
    | Int
    | Quantity
    | Words
    | WordSet
    | Text
    | PadUse
    | Either
    | SwitchRanges
    | Filters
    | Quantities
    | Between
    | OneOf
)


def unit_of(kind: Kind) -> str:
    """The unit that a kind's numbers are in; empty where they have none."""
    if isinstance(kind, Quantity | Quantities | Between):
        return kind.unit
    if isinstance(kind, Either):
        return unit_of(kind.other)
    return "us" if isinstance(kind, SwitchRanges) else "Hz" if isinstance(kind, Filters) else ""


def value_text(kind: Kind, value: Value) -> str:
    """A value as the plain form spells it, with its unit.

    >>> value_text(Switches(), (SwitchRange(5, 1700.0, 2100.0),))
    '5: 1700..2100 us'
    """
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, int | float):
        return f"{number_text(value)} {unit_of(kind)}".rstrip()
    if isinstance(value, str):
        return _quoted(value) if isinstance(kind, Text) else value
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or NONE
    if isinstance(kind, Between):
        return _between_text(cast(tuple[float, float], value), kind.unit)
    return ", ".join(_element_text(element, unit_of(kind)) for element in value) or NONE


def _between_text(value: tuple[float, float], unit: str) -> str:
    low, high = number_text(value[0]), number_text(value[1])
    return f"{low} {unit}" if low == high else f"{low}..{high} {unit}"


def _element_text(element: SwitchRange | Filter | float, unit: str) -> str:
    if isinstance(element, SwitchRange):
        low, high = number_text(element.low), number_text(element.high)
        return f"{element.channel}: {low}..{high} us"
    if isinstance(element, Filter):
        quality = f" q {number_text(element.q)}" if element.q else ""
        return f"{element.kind} {number_text(element.cutoff)} Hz{quality}"
    return f"{number_text(element)} {unit}".rstrip()


def _quoted(text: str) -> str:
    return f"'{text}'" if '"' in text else f'"{text}"'


# Kinds that are read alike; as tuples, since they are asked for once a line.
_ONE_WORD = (Words, PadUse)
_WHOLE = (Int, OneOf)
_LIMITED = (Int, Quantity)


class BadValue(ValueError):  # noqa: N818 (the value is bad, no fault of ours)
    """A text that is no value of its kind; the message says what was expected."""


def read_value(kind: Kind, text: str, unit: str = "") -> Value:
    """The typed value of a text. A number without a unit is in `unit`, else in the kind's own.

    Raises BadValue. Limits are judged apart, by `beyond_limits`.
    """
    if isinstance(kind, Text):
        return unquoted(text)
    if isinstance(kind, Bool):
        return read_bool(text)
    if isinstance(kind, _ONE_WORD):
        return _word(kind, text)
    if isinstance(kind, WordSet):
        return _word_set(kind, text)
    if isinstance(kind, Either):
        word = unquoted(text).casefold()
        return word if word in kind.words else read_value(kind.other, text, unit)
    return _numeric(kind, _items(kind, text), text, unit)


def _numeric(
    kind: Int | OneOf | Quantity | Between | SwitchRanges | Filters | Quantities,
    items: tuple[Item, ...],
    text: str,
    unit: str,
) -> Value:
    if isinstance(kind, _WHOLE):
        return _int(kind, items, text)
    if isinstance(kind, Quantity):
        return float(_one_number(kind, items, text, unit))
    if isinstance(kind, Between):
        return _between(kind, items, text, unit)
    if text.strip().casefold() == NONE:
        return ()
    if isinstance(kind, SwitchRanges):
        return tuple(_switch_range(item, text, kind) for item in items)
    if isinstance(kind, Filters):
        return tuple(_filter(item, text, kind) for item in items)
    return _quantities(kind, items, text, unit)


def read_bool(text: str) -> bool:
    """On or off in their usual spellings. Raises BadValue."""
    word = unquoted(text).casefold()
    if word in ON_WORDS:
        return True
    if word in OFF_WORDS:
        return False
    raise BadValue(f"{text!r} is not on or off")


def beyond_limits(kind: Kind, value: Value) -> str:
    """Why a value can't be, in words; empty where it can."""
    if isinstance(kind, OneOf):
        return "" if value in kind.numbers else f"{value} is not {kind.says}"
    for limits, number in _numbers(kind, value):
        if not limits.low <= number <= limits.high:
            unit = limits.unit if isinstance(limits, Quantity) else ""
            what = "channel " if limits is CHANNEL else ""
            return f"{what}{number_text(number)} {unit}".rstrip() + f" is not {limits.says}"
    return ""


def _numbers(kind: Kind, value: Value) -> list[tuple[Int | Quantity, float]]:
    """Every number of a value, each with the limits that it must keep."""
    if isinstance(kind, Either):
        return _numbers(kind.other, value)
    if isinstance(kind, _LIMITED):
        return [(kind, value)] if isinstance(value, (int, float)) else []
    if not isinstance(value, tuple):
        return []
    found: list[tuple[Int | Quantity, float]] = []
    for element in value:
        if isinstance(element, SwitchRange):
            found += [(CHANNEL, element.channel), (PULSE, element.low), (PULSE, element.high)]
        elif isinstance(element, Filter):
            found += [(CUTOFF, element.cutoff), (QUALITY, element.q)]
        elif isinstance(kind, Quantities | Between):
            found.append((Quantity(kind.unit, kind.low, kind.high), element))
    return found


def likely_power(kind: Kind, value: Value) -> int:
    """The power of ten by which a value must be off, if that alone puts it within limits; or 0.

    In a list all numbers with a unit must be off by the same.
    """
    measured = [(kept, n) for kept, n in _numbers(kind, value) if isinstance(kept, Quantity) and n]
    for power in (-1, -2, -3, 1, 2, 3) if measured else ():
        if all(kept.low <= number * 10.0**power <= kept.high for kept, number in measured):
            return power
    return 0


def _expected(kind: Kind, text: str) -> BadValue:
    return BadValue(f"{text!r} is not {kind.says}")


def _items(kind: Kind, text: str) -> tuple[Item, ...]:
    try:
        return parse_value(text)
    except ValueSyntaxError:
        raise _expected(kind, text) from None


def _word(kind: Words | PadUse, text: str) -> str:
    word = " ".join(unquoted(text).split())
    head = word.split(" ", 1)[0] if isinstance(kind, PadUse) else word
    if head in kind.choices:
        return word
    if word.casefold() in kind.choices:
        return word.casefold()
    raise _expected(kind, text)


def _word_set(kind: WordSet, text: str) -> frozenset[str]:
    words = unquoted(text).replace(",", " ").replace("|", " ").split()
    if [word.casefold() for word in words] == [NONE]:
        return frozenset()
    for word in words:
        if kind.choices and word not in kind.choices:
            raise BadValue(f"{word!r} is not {kind.says}")
    return frozenset(words)


def _int(kind: Int | OneOf, items: tuple[Item, ...], text: str) -> int:
    part = _sole_part(kind, items, text)
    if not isinstance(part, Number) or part.unit or part.value.denominator != 1:
        raise _expected(kind, text)
    return int(part.value)


def _sole_part(kind: Kind, items: tuple[Item, ...], text: str) -> Part:
    if len(items) != 1 or items[0].label is not None or len(items[0].parts) != 1:
        raise _expected(kind, text)
    return items[0].parts[0]


def _one_number(
    kind: Quantity | Quantities | Between, items: tuple[Item, ...], text: str, unit: str
) -> Fraction:
    if len(items) != 1 or items[0].label is not None:
        raise _expected(kind, text)
    return _measured(items[0].parts, unit or kind.unit, kind, text)


def _measured(parts: tuple[Part, ...], unit: str, kind: Kind, text: str) -> Fraction:
    """The value of a number and perhaps its unit, in the kind's unit."""
    number = parts[0]
    given = unit
    if isinstance(number, Number) and number.unit:
        given = number.unit
    elif len(parts) == 2 and isinstance(parts[1], Word):
        given, parts = parts[1].text, parts[:1]
    if len(parts) != 1 or not isinstance(number, Number):
        raise _expected(kind, text)
    wanted = kind.unit if isinstance(kind, Quantity | Quantities | Between) else unit
    if given == wanted:
        return number.value
    try:
        if not wanted and given == "%":
            return number.value / 100
        return convert(number.value, given, wanted)
    except UnitError as error:
        raise BadValue(f"{text!r}: {error}") from None


def _between(kind: Between, items: tuple[Item, ...], text: str, unit: str) -> tuple[float, float]:
    """The two ends in the kind's unit; one number is both ends."""
    parts = items[0].parts
    if len(items) != 1 or items[0].label is not None or not isinstance(parts[0], Range):
        only = float(_one_number(kind, items, text, unit))
        return only, only
    low, high = parts[0].low, parts[0].high
    shared = high.unit or unit or kind.unit
    if len(parts) == 2 and isinstance(parts[1], Word) and not high.unit:
        shared = parts[1].text
    elif len(parts) != 1:
        raise _expected(kind, text)
    ends = (
        float(_measured((low,), low.unit or shared, kind, text)),
        float(_measured((high,), shared, kind, text)),
    )
    if ends[0] > ends[1]:
        raise BadValue(f"{text!r} is not in order: its higher end comes first")
    return ends


def _switch_range(item: Item, text: str, kind: SwitchRanges) -> SwitchRange:
    parts = item.parts
    unit = parts[1].text if len(parts) == 2 and isinstance(parts[1], Word) else "us"
    if item.label is None or not isinstance(parts[0], Range) or not is_unit(unit) or len(parts) > 2:
        raise _expected(kind, text)
    low, high = parts[0].low, parts[0].high
    if high.unit and len(parts) > 1:  # a unit twice
        raise _expected(kind, text)
    shared = high.unit or unit
    micro = Quantity("us")
    return SwitchRange(
        item.label,
        float(_measured((low,), low.unit or shared, micro, text)),
        float(_measured((high,), shared, micro, text)),
    )


def _filter(item: Item, text: str, kind: Filters) -> Filter:
    parts = list(item.parts)
    if item.label is not None or len(parts) < 2 or not isinstance(parts[0], Word):
        raise _expected(kind, text)
    quality = 0.0
    if len(parts) >= 4 and isinstance(parts[-2], Word) and parts[-2].text == "q":
        last = parts[-1]
        if not isinstance(last, Number):
            raise _expected(kind, text)
        quality, parts = float(last.value), parts[:-2]
    if parts[0] not in [Word(name) for name in FILTER_KINDS]:
        raise _expected(kind, text)
    cutoff = _measured(tuple(parts[1:]), "Hz", Quantity("Hz"), text)
    return Filter(
        item.parts[0].text if isinstance(item.parts[0], Word) else "", float(cutoff), quality
    )


def _quantities(
    kind: Quantities, items: tuple[Item, ...], text: str, unit: str
) -> tuple[float, ...]:
    shared = unit or kind.unit
    last = items[-1].parts[-1]  # `5865, 5845 MHz`: the unit behind the last one is everybody's
    if isinstance(last, Number) and last.unit:
        shared = last.unit
    elif isinstance(last, Word) and is_unit(last.text):
        shared = last.text
    return tuple(float(_one_number(kind, (item,), text, shared)) for item in items)


def version_numbers(text: str) -> tuple[int, ...]:
    """The numbers that a dotted version begins with, as spelled; empty where there are none.

    >>> version_numbers("v2.10.1-reed")
    (2, 10, 1)
    """
    numbers: list[int] = []
    for part in text.strip().lstrip("vV").split("."):
        digits = part[: len(part) - len(part.lstrip("0123456789"))]
        if not digits:
            break
        numbers.append(int(digits[:9]))
        if digits != part:
            break
    return tuple(numbers)


def settled_numbers(numbers: tuple[int, ...]) -> tuple[int, ...]:
    """The numbers in the one way that compares: 2.4 and 2.4.0 are one version.

    >>> settled_numbers((2, 4, 0)) == settled_numbers((2, 4)), settled_numbers((2, 10)) > (2, 9)
    (True, True)
    """
    while numbers and numbers[-1] == 0:
        numbers = numbers[:-1]
    return numbers


def is_older(numbers: tuple[int, ...], than: tuple[int, ...]) -> bool:
    """Whether one version came before another.

    >>> is_older((2,), (2, 0)), is_older((2, 9), (2, 10))
    (False, True)
    """
    return settled_numbers(numbers) < settled_numbers(than)


def is_of(numbers: tuple[int, ...], series: tuple[int, ...]) -> bool:
    """Whether a version is one of a series: 2.4.1 is of 2.4, and 2 is of 2.0.

    >>> is_of((2, 4, 1), (2, 4)), is_of((2,), (2, 0)), is_of((2, 5), (2, 4))
    (True, True, False)
    """
    return (numbers + (0,) * len(series))[: len(series)] == series


def version_meaning(text: str) -> tuple[tuple[int, ...], str]:
    """A key that is equal for two spellings of one version; what follows the numbers counts.

    >>> version_meaning("2.4") == version_meaning("v2.4.0")
    True
    >>> version_meaning("2.4-reed") == version_meaning("2.4")
    False
    """
    bare = text.strip().lstrip("vV")
    return settled_numbers(version_numbers(text)), bare.lstrip("0123456789.")
