"""The kinds of setting: each reads, spells, bounds and samples its own values.

A kind is asked, never taken apart: what differs from kind to kind is a method here.
"""

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import ClassVar, NamedTuple

from cfgaudit.reading.shapes import Item, Number, Range, ValuePart, Word, quoted, unquoted
from cfgaudit.reading.statements import ValueSyntaxError, parse_value
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
Element = SwitchRange | Filter | float
Limited = tuple["Numeric", float]  # a number, and the limits that it must keep

NONE = "none"  # how an empty list or set is spelled

ON_WORDS = frozenset({"on", "yes", "true", "enabled", "enable", "1"})
OFF_WORDS = frozenset({"off", "no", "false", "disabled", "disable", "0"})
FILTER_KINDS = ("pt1", "pt2", "pt3", "biquad", "notch")


class BadValue(ValueError):  # noqa: N818 (the value is bad, no fault of ours)
    """A text that is no value of its kind; the message says what was expected."""


class NotListed(BadValue):
    """A word that the dialect's list lacks."""


# What is between them is written with 40 digits at most, as the grammar of values reads them.
_LEAST, _MOST = 1e-18, 1e30
_LOOSE = re.compile(r'"|\s(?:#|;|/[/*])')  # what a line would take for a quotation or a comment
_LONGEST = 8_000  # letters of a text in its quotes: a line of 10,000 has room for its key
_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")
_SHORT = 12  # letters of a text: of no more, and without an exponent, every number is between them


_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+(?: ?[A-Za-z%°/]+)?)")


class Kind:
    """What values a setting takes. Two of one type with equal fields are equal."""

    __slots__ = ()
    unit: str = ""  # of its numbers; empty where they have none
    choices: tuple[str, ...] = ()  # its words, where they are a closed list
    parts: ClassVar[Mapping[str, "Kind"]] = {}  # of one element of a list, by name

    @property
    def says(self) -> str:
        """What is expected, in words."""
        raise NotImplementedError

    @property
    def number(self) -> "Numeric | None":
        """What a number of its keeps to; None where it has none, or only one of a closed list."""
        return None

    @property
    def nothing(self) -> Value | None:
        """The value that `off` or `none` stands for; None where it stands for none."""
        return None

    def read(self, text: str, unit: str = "") -> Value:
        """The typed value of a text. A number without a unit is in `unit`, else in the kind's own.

        Raises BadValue. Limits are judged apart, by `beyond`.
        """
        raise NotImplementedError

    def spell(self, value: Value) -> str:
        """A value as the plain form spells it, with its unit.

        >>> SwitchRanges().spell((SwitchRange(5, 1700.0, 2100.0),))
        '5: 1700..2100 us'
        """
        if isinstance(value, bool):
            return "on" if value else "off"
        if isinstance(value, int | float):
            return f"{number_text(value)} {self.unit}".rstrip()
        if isinstance(value, str):
            return value
        if isinstance(value, frozenset):
            return ", ".join(sorted(value)) or NONE
        return ", ".join(_element_text(element, self.unit) for element in value) or NONE

    def of_number(self, number: int | float) -> Value | None:
        """The value that a bare number in the kind's own unit is; None where it is none."""
        return None

    def of_list(self, items: Sequence[object]) -> Value | None:
        """The value that a list of plain texts or numbers is; None where it is none."""
        return None

    def element(self, values: Mapping[str, Value]) -> Element | None:
        """One element of a list put together from its parts; None where it is off or lacks one."""
        return None

    def numbers(self, value: Value) -> list[Limited]:
        """Every number of a value, each with the limits that it must keep."""
        return []

    def writable(self, value: Value, text: str) -> Value:
        """The value that a text was read as, if it can be written and read again.

        A number beyond the digits that a text may have can't be. Raises BadValue.
        """
        if len(text) <= _SHORT and "e" not in text and "E" not in text:
            return value  # as good as all are
        for _, number in self.numbers(value):
            if number and not _LEAST < abs(number) < _MOST:
                raise self._expected(text)
        return value

    def beyond(self, value: Value) -> str:
        """Why a value can't be, in words; empty where it can."""
        for limits, number in self.numbers(value):
            if not limits.low <= number <= limits.high:
                what = "channel " if limits is CHANNEL else ""
                said = f"{what}{number_text(number)} {limits.unit}".rstrip()
                return f"{said} is not {limits.says}"
        return ""

    def likely_power(self, value: Value) -> int:
        """The power of ten by which a value must be off, if that alone puts it within limits; or 0.

        In a list all numbers with a unit must be off by the same.
        """
        measured = [(kept, n) for kept, n in self.numbers(value) if type(kept) is Quantity and n]
        for power in (-1, -2, -3, 1, 2, 3) if measured else ():
            if all(kept.low <= number * 10.0**power <= kept.high for kept, number in measured):
                return power
        return 0

    def samples(self) -> tuple[Value, ...]:
        """A few values of the kind, to be sent there and back."""
        return ()

    def _fields(self) -> tuple[object, ...]:
        slots: Sequence[str] = self.__slots__
        return tuple(getattr(self, name) for name in slots)

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other) or not isinstance(other, Kind):
            return False
        return self._fields() == other._fields()

    def __hash__(self) -> int:
        return hash((type(self), self._fields()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(map(repr, self._fields()))})"

    def _expected(self, text: str) -> BadValue:
        comma = _DECIMAL_COMMA.fullmatch(text.strip())
        hint = f"; a point parts the decimals: {comma[1]}.{comma[2]}" if comma else ""
        return BadValue(f"{text!r} is not {self.says}{hint}")

    def _items(self, text: str) -> tuple[Item, ...]:
        try:
            return parse_value(text)
        except ValueSyntaxError:
            raise self._expected(text) from None

    def _listed(self, text: str) -> tuple[Item, ...]:
        """The items of a list that may say that it has none."""
        items = self._items(text)
        return () if text.strip().casefold() == NONE else items

    def _sole_part(self, text: str) -> ValuePart:
        items = self._items(text)
        if len(items) != 1 or items[0].label is not None or len(items[0].parts) != 1:
            raise self._expected(text)
        return items[0].parts[0]

    def _measured(self, item: Item, unit: str, text: str) -> Fraction:
        """A number and perhaps its unit, in the kind's own unit. Raises BadValue."""
        if item.label is not None:
            raise self._expected(text)
        return self._in_unit(item.parts, unit or self.unit, text)

    def _in_unit(self, parts: tuple[ValuePart, ...], unit: str, text: str) -> Fraction:
        number, given = parts[0], unit
        if isinstance(number, Number) and number.unit:
            given = number.unit
        elif len(parts) == 2 and isinstance(parts[1], Word):
            given, parts = parts[1].text, parts[:1]
        if len(parts) != 1 or not isinstance(number, Number):
            raise self._expected(text)
        if given == self.unit:
            return number.value
        try:
            if not self.unit and given == "%":
                return number.value / 100
            return convert(number.value, given, self.unit)
        except UnitError as error:
            raise BadValue(f"{text!r}: {error}") from None


class Bool(Kind):
    """On or off."""

    __slots__ = ()
    says = "on or off"
    nothing = False

    def read(self, text: str, unit: str = "") -> bool:
        """On or off in their usual spellings."""
        word = unquoted(text).casefold()
        if word in ON_WORDS:
            return True
        if word in OFF_WORDS:
            return False
        raise self._expected(text)

    def samples(self) -> tuple[Value, ...]:
        """Both."""
        return (True, False)


class Text(Kind):
    """Any text."""

    __slots__ = ()
    says = "text"

    def read(self, text: str, unit: str = "") -> str:
        """The text without its quotes."""
        return unquoted(text)

    def spell(self, value: Value) -> str:
        """The text in quotes."""
        return quoted(str(value))

    def writable(self, value: Value, text: str) -> Value:
        """The text, if a line can hold it with its quotes and its key. Raises BadValue."""
        if not text.isprintable() and _CONTROL.search(text):  # as a damaged head line may have
            raise BadValue("a control character is no letter of a text")
        if len(text) * 2 > _LONGEST and len(quoted(str(value))) > _LONGEST:
            raise BadValue(f"a text of {len(str(value)):,} letters is longer than a line can have")
        return value


class Words(Kind):
    """One word of a closed list."""

    __slots__ = ("choices",)

    def __init__(self, choices: tuple[str, ...]) -> None:
        self.choices = choices

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "one of " + ", ".join(self.choices)

    @property
    def nothing(self) -> Value | None:
        """The list's own word for it, if it has one."""
        return next((word for word in (NONE, "off") if word in self.choices), None)

    def read(self, text: str, unit: str = "") -> str:
        """The word, its letter case aside where the list has no other."""
        word = " ".join(unquoted(text).split())
        if self._head(word) in self.choices:
            return word
        if word.casefold() in self.choices:
            return word.casefold()
        raise self._expected(text)

    def samples(self) -> tuple[Value, ...]:
        """Every word."""
        return self.choices

    def _head(self, word: str) -> str:
        return word


_ONE_WORD = re.compile(r"\w+")


class PadUse(Words):
    """What a pad is for; a motor pad may name its arm."""

    __slots__ = ()

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "one of " + ", ".join(self.choices) + "; motor with its arm"

    def read(self, text: str, unit: str = "") -> str:
        """The word, and behind `motor` the arm in one word: `motor rear right` is rear_right."""
        word, _, arm = super().read(text).partition(" ")
        arm = arm.replace(" ", "_")
        if arm and (word != "motor" or not _ONE_WORD.fullmatch(arm)):
            raise self._expected(text)
        return f"{word} {arm}".rstrip()

    def spell(self, value: Value) -> str:
        """The words, in quotes where a line would take them apart."""
        return quoted(str(value)) if _LOOSE.search(str(value)) else str(value)

    def samples(self) -> tuple[Value, ...]:
        """Every word that names no arm."""
        return tuple(word for word in self.choices if word != "motor")

    def _fields(self) -> tuple[object, ...]:
        return (self.choices,)

    def _head(self, word: str) -> str:
        return word.split(" ", 1)[0]


class WordSet(Kind):
    """A set of words; an empty choice of words means that any word goes."""

    __slots__ = ("choices",)
    nothing = frozenset()

    def __init__(self, choices: tuple[str, ...] = ()) -> None:
        self.choices = choices

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "words out of " + ", ".join(self.choices) if self.choices else "words"

    def read(self, text: str, unit: str = "") -> frozenset[str]:
        """The words between blanks, commas or strokes."""
        words = unquoted(text).replace(",", " ").replace("|", " ").split()
        if [word.casefold() for word in words] == [NONE]:
            return frozenset()
        for word in words:
            if self.choices and word not in self.choices:
                raise self._expected(word)
        return frozenset(words)

    def of_list(self, items: Sequence[object]) -> Value | None:
        """The set of words that a list of texts is."""
        return frozenset(map(str, items)) if all(isinstance(item, str) for item in items) else None

    def samples(self) -> tuple[Value, ...]:
        """Each word alone."""
        return tuple(frozenset({word}) for word in self.choices)


class Numeric(Kind):
    """One number within limits, which are in the kind's unit."""

    __slots__ = ()
    low: float
    high: float

    @property
    def number(self) -> "Numeric | None":
        """Itself."""
        return self

    @property
    def nothing(self) -> Value | None:
        """Nought, where that is within limits."""
        return self.of_number(0) if self.low <= 0 <= self.high else None

    def numbers(self, value: Value) -> list[Limited]:
        """The number itself."""
        return [(self, value)] if isinstance(value, int | float) else []


class WholeNumber(Kind):
    """A whole number."""

    __slots__ = ()

    def read(self, text: str, unit: str = "") -> int:
        """The number, within limits or not."""
        part = self._sole_part(text)
        if not isinstance(part, Number) or part.unit or part.value.denominator != 1:
            raise self._expected(text)
        return int(part.value)

    def of_number(self, number: int | float) -> Value | None:
        """The number, if it is a whole one."""
        return number if isinstance(number, int) else None


class Int(WholeNumber, Numeric):
    """A whole number within limits."""

    __slots__ = ("high", "low")
    low: int
    high: int

    def __init__(self, low: int = -(2**31), high: int = 2**31) -> None:
        self.low, self.high = low, high

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"a whole number from {self.low} to {self.high}"

    def samples(self) -> tuple[Value, ...]:
        """A few within limits."""
        return tuple(n for n in (1, 2, 5, 12) if self.low <= n <= self.high)


class OneOf(WholeNumber):
    """One whole number of a closed list."""

    __slots__ = ("listed",)

    def __init__(self, listed: tuple[int, ...]) -> None:
        self.listed = listed

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return "one of " + ", ".join(str(number) for number in self.listed)

    def beyond(self, value: Value) -> str:
        """Why it can't be: it is not of the list."""
        return "" if value in self.listed else f"{value} is not {self.says}"


class NumbersInUnit(Kind):
    """Numbers in a unit (empty for bare numbers), within limits given in that unit."""

    __slots__ = ("high", "low", "unit")

    def __init__(self, unit: str, low: float = -1e12, high: float = 1e12) -> None:
        self.unit, self.low, self.high = unit, low, high

    def _fields(self) -> tuple[object, ...]:
        return self.high, self.low, self.unit

    def _ends(self) -> str:
        return f"{number_text(self.low)}..{number_text(self.high)}"

    def numbers(self, value: Value) -> list[Limited]:
        """Each of them, or both ends."""
        kept = Quantity(self.unit, self.low, self.high)
        many = value if isinstance(value, tuple) else ()
        return [(kept, number) for number in many if isinstance(number, int | float)]


class Quantity(Numeric, NumbersInUnit):
    """A number in a unit (empty for a bare number), within limits given in that unit."""

    __slots__ = ()

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"a number within {self._ends()} {self.unit}".rstrip()

    def read(self, text: str, unit: str = "") -> float:
        """The number, in the kind's own unit."""
        items = self._items(text)
        if len(items) != 1:
            raise self._expected(text)
        return float(self._measured(items[0], unit, text))

    def of_number(self, number: int | float) -> Value | None:
        """The number."""
        return float(number)

    def samples(self) -> tuple[Value, ...]:
        """A few within limits."""
        return tuple(float(n) for n in (1, 2, 5, 100, 1500) if self.low <= n <= self.high)


class Either(Kind):
    """A word of a list, or a value of another kind (`auto` or a number of cells)."""

    __slots__ = ("other", "words")

    def __init__(self, words: tuple[str, ...], other: "Int | Quantity") -> None:
        self.words, self.other = words, other

    @property
    def unit(self) -> str:  # type: ignore[override]
        """The other kind's."""
        return self.other.unit

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"{' or '.join(self.words)}, or {self.other.says}"

    @property
    def number(self) -> Numeric | None:
        """The other kind."""
        return self.other

    def read(self, text: str, unit: str = "") -> Value:
        """The word, else a value of the other kind."""
        word = unquoted(text).casefold()
        return word if word in self.words else self.other.read(text, unit)

    def numbers(self, value: Value) -> list[Limited]:
        """The number, where it is one."""
        return self.other.numbers(value)


class Between(NumbersInUnit):
    """Two numbers in one unit, the lower first, within limits given in that unit.

    One number alone is both.
    """

    __slots__ = ()

    @property
    def says(self) -> str:
        """What is expected, in words."""
        within = f"within {self._ends()} {self.unit}"
        return f"a range such as 4..6 {self.unit} or one number, {within}"

    def read(self, text: str, unit: str = "") -> tuple[float, float]:
        """The two ends; one number is both."""
        items = self._items(text)
        parts = items[0].parts
        if len(items) != 1:
            raise self._expected(text)
        if items[0].label is not None or not isinstance(parts[0], Range):
            only = float(self._measured(items[0], unit, text))
            return only, only
        low, high = parts[0].low, parts[0].high
        shared = high.unit or unit or self.unit
        if len(parts) == 2 and isinstance(parts[1], Word) and not high.unit:
            shared = parts[1].text
        elif len(parts) != 1:
            raise self._expected(text)
        ends = (
            float(self._in_unit((low,), low.unit or shared, text)),
            float(self._in_unit((high,), shared, text)),
        )
        if ends[0] > ends[1]:
            raise BadValue(f"{text!r} is not in order: its higher end comes first")
        return ends

    def spell(self, value: Value) -> str:
        """`4..6 V`, or one number where both ends are one."""
        assert isinstance(value, tuple)  # what it reads
        low, high = (number_text(end) for end in value if isinstance(end, int | float))
        return f"{low} {self.unit}" if low == high else f"{low}..{high} {self.unit}"

    def of_number(self, number: int | float) -> Value | None:
        """The number as both ends."""
        return float(number), float(number)


class Quantities(NumbersInUnit):
    """A list of numbers in one unit, each within limits given in that unit."""

    __slots__ = ()
    nothing = ()

    @property
    def says(self) -> str:
        """What is expected, in words."""
        return f"a list of numbers in {self.unit}"

    @property
    def number(self) -> Numeric | None:
        """What each of its numbers keeps to."""
        return Quantity(self.unit, self.low, self.high)

    def read(self, text: str, unit: str = "") -> tuple[float, ...]:
        """The numbers; a unit behind the last one is everybody's."""
        items = self._listed(text)
        if not items:
            return ()
        shared = unit or self.unit
        last = items[-1].parts[-1]  # `5865, 5845 MHz`
        if isinstance(last, Number) and last.unit:
            shared = last.unit
        elif isinstance(last, Word) and is_unit(last.text):
            shared = last.text
        return tuple(float(self._measured(item, shared, text)) for item in items)

    def of_number(self, number: int | float) -> Value | None:
        """A list of the one number."""
        return (float(number),)

    def of_list(self, items: Sequence[object]) -> Value | None:
        """The numbers. Raises BadValue for what is none."""
        single = Quantity(self.unit, self.low, self.high)
        return tuple(_number_in(single, item) for item in items)


# What one element of a list can hold.
CHANNEL = Int(1, 64)
PULSE = Quantity("us", 500, 2500)
CUTOFF = Quantity("Hz", 0, 100_000)
QUALITY = Quantity("", 0, 10_000)


class SwitchRanges(Kind):
    """A list of channel ranges."""

    __slots__ = ()
    unit = "us"
    says = "a list such as 5: 1700..2100 us, or none"
    nothing = ()
    parts: ClassVar[Mapping[str, Kind]] = {"channel": CHANNEL, "low": PULSE, "high": PULSE}

    def read(self, text: str, unit: str = "") -> tuple[SwitchRange, ...]:
        """The ranges."""
        return tuple(self._range(item, text) for item in self._listed(text))

    def _range(self, item: Item, text: str) -> SwitchRange:
        parts = item.parts
        unit = parts[1].text if len(parts) == 2 and isinstance(parts[1], Word) else "us"
        if item.label is None or not isinstance(parts[0], Range):
            raise self._expected(text)
        low, high = parts[0].low, parts[0].high
        if not is_unit(unit) or len(parts) > 2 or (high.unit and len(parts) > 1):  # a unit twice
            raise self._expected(text)
        shared = high.unit or unit
        return SwitchRange(
            item.label,
            float(PULSE._in_unit((low,), low.unit or shared, text)),
            float(PULSE._in_unit((high,), shared, text)),
        )

    def element(self, values: Mapping[str, Value]) -> Element | None:
        """A range of a channel; channel 0 is none."""
        channel, low, high = (values.get(name) for name in ("channel", "low", "high"))
        if isinstance(channel, int) and isinstance(low, float) and isinstance(high, float):
            return SwitchRange(channel, low, high) if channel > 0 else None
        return None

    def numbers(self, value: Value) -> list[Limited]:
        """Channel and both ends of each."""
        found: list[Limited] = []
        for one in value if isinstance(value, tuple) else ():
            if isinstance(one, SwitchRange):
                found += [(CHANNEL, one.channel), (PULSE, one.low), (PULSE, one.high)]
        return found


class Filters(Kind):
    """A list of filter stages."""

    __slots__ = ()
    unit = "Hz"
    says = "a list such as pt1 150 Hz, notch 200 Hz q 3.5, or none"
    nothing = ()
    parts: ClassVar[Mapping[str, Kind]] = {
        "kind": Words(FILTER_KINDS),
        "cutoff": CUTOFF,
        "q": QUALITY,
    }

    def read(self, text: str, unit: str = "") -> tuple[Filter, ...]:
        """The stages."""
        return tuple(self._stage(item, text) for item in self._listed(text))

    def _stage(self, item: Item, text: str) -> Filter:
        parts = list(item.parts)
        if item.label is not None or len(parts) < 2 or not isinstance(parts[0], Word):
            raise self._expected(text)
        name, quality = parts[0].text, 0.0
        if len(parts) >= 4 and isinstance(parts[-2], Word) and parts[-2].text == "q":
            last = parts[-1]
            if not isinstance(last, Number):
                raise self._expected(text)
            quality, parts = float(last.value), parts[:-2]
        if name not in FILTER_KINDS:
            raise self._expected(text)
        return Filter(name, float(CUTOFF._in_unit(tuple(parts[1:]), "Hz", text)), quality)

    def element(self, values: Mapping[str, Value]) -> Element | None:
        """A stage; one at 0 Hz is off."""
        cutoff, name, quality = values.get("cutoff"), values.get("kind"), values.get("q", 0.0)
        if isinstance(cutoff, float) and isinstance(name, str) and isinstance(quality, float):
            return Filter(name, cutoff, quality) if cutoff > 0 else None
        return None

    def numbers(self, value: Value) -> list[Limited]:
        """Cutoff and quality of each."""
        found: list[Limited] = []
        for one in value if isinstance(value, tuple) else ():
            if isinstance(one, Filter):
                found += [(CUTOFF, one.cutoff), (QUALITY, one.q)]
        return found


def _number_in(kind: Quantity, item: object) -> float:
    if isinstance(item, bool) or not isinstance(item, int | float | str):
        said = str(item).lower() if isinstance(item, bool) else "a table or a list"
        raise BadValue(f"{said} is not {kind.says}")
    return kind.read(item) if isinstance(item, str) else float(item)


def _element_text(element: Element, unit: str) -> str:
    if isinstance(element, SwitchRange):
        low, high = number_text(element.low), number_text(element.high)
        return f"{element.channel}: {low}..{high} us"
    if isinstance(element, Filter):
        quality = f" q {number_text(element.q)}" if element.q else ""
        return f"{element.kind} {number_text(element.cutoff)} Hz{quality}"
    return f"{number_text(element)} {unit}".rstrip()


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
