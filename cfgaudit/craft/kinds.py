"""The kinds of setting: what values each takes, how they are spelled in the plain form."""

from typing import NamedTuple, cast

from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.units import number_text

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


class Switches(_Fieldless):
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


class AnyOf(NamedTuple):
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
    | Switches
    | Filters
    | Quantities
    | Between
    | AnyOf
)


def unit_of(kind: Kind) -> str:
    """The unit that a kind's numbers are in; empty where they have none."""
    if isinstance(kind, Quantity | Quantities | Between):
        return kind.unit
    if isinstance(kind, Either):
        return unit_of(kind.other)
    return "us" if isinstance(kind, Switches) else "Hz" if isinstance(kind, Filters) else ""


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
