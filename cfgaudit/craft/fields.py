"""Short words for declaring a setting: what its values are, and the Python type they have."""

from cfgaudit.craft.declare import Class, Setting, Table, Traits
from cfgaudit.craft.kinds import (
    AnyOf,
    Between,
    Bool,
    Either,
    Filters,
    Int,
    Kind,
    Quantities,
    Quantity,
    Switches,
    Text,
    Words,
    WordSet,
)
from cfgaudit.craft.values import Filter, SwitchRange


def flag(cls: Class, says: str, *, own: bool = False, leaf: str = "") -> Setting[bool]:
    """On or off."""
    return Setting(Traits(Bool(), cls, says, own), leaf)


def whole(
    cls: Class, says: str, low: int, high: int, *, own: bool = False, leaf: str = ""
) -> Setting[int]:
    """A whole number within limits."""
    return Setting(Traits(Int(low, high), cls, says, own), leaf)


def number(
    cls: Class, says: str, unit: str, low: float, high: float, *, own: bool = False, leaf: str = ""
) -> Setting[float]:
    """A number in a unit, within limits in that unit."""
    return Setting(Traits(Quantity(unit, low, high), cls, says, own), leaf)


def word(cls: Class, says: str, *choices: str, leaf: str = "") -> Setting[str]:
    """One word of a closed list."""
    return Setting(Traits(Words(choices), cls, says), leaf)


def word_set(cls: Class, says: str, *choices: str, leaf: str = "") -> Setting[frozenset[str]]:
    """A set of words out of a closed list."""
    return Setting(Traits(WordSet(choices), cls, says), leaf)


def text(cls: Class, says: str, *, own: bool = False, secret: bool = False) -> Setting[str]:
    """Any text."""
    return Setting(Traits(Text(), cls, says, own, secret))


def either(
    cls: Class, says: str, words: tuple[str, ...], low: int, high: int
) -> Setting[int | str]:
    """A word, or a whole number within limits."""
    return Setting(Traits(Either(words, Int(low, high)), cls, says))


def filters(cls: Class, says: str) -> Setting[tuple[Filter, ...]]:
    """A list of filter stages."""
    return Setting(Traits(Filters(), cls, says))


def numbers(
    cls: Class, says: str, unit: str, low: float, high: float
) -> Setting[tuple[float, ...]]:
    """A list of numbers in one unit, each within limits in that unit."""
    return Setting(Traits(Quantities(unit, low, high), cls, says))


def between(
    cls: Class, says: str, unit: str, low: float, high: float
) -> Setting[tuple[float, float]]:
    """The lowest and the highest of something, in a unit, within limits in that unit."""
    return Setting(Traits(Between(unit, low, high), cls, says))


def any_of(cls: Class, says: str, *numbers: int) -> Setting[int]:
    """One whole number of a closed list."""
    return Setting(Traits(AnyOf(numbers), cls, says))


def switches(
    cls: Class, says: str, index: str, names: tuple[str, ...]
) -> Table[tuple[SwitchRange, ...]]:
    """Channel ranges by the function that they work."""
    return Table(index, Traits(Switches(), cls, says), names, leaf="")


def whole_by(
    index: str, cls: Class, says: str, low: int, high: int, names: tuple[str, ...] = ()
) -> Table[int]:
    """Whole numbers by name."""
    return Table(index, Traits(Int(low, high), cls, says), names)


def numbers_by(
    index: str,
    cls: Class,
    says: str,
    unit: str,
    low: float,
    high: float,
    leaf: str | None = None,
) -> Table[tuple[float, ...]]:
    """Lists of numbers in one unit, each within limits in that unit, by name."""
    return Table(index, Traits(Quantities(unit, low, high), cls, says), leaf=leaf)


def kind_by(
    index: str, kind: Kind, cls: Class, says: str, leaf: str | None = None
) -> Table[object]:
    """Values of any kind by name."""
    return Table(index, Traits(kind, cls, says), leaf=leaf)
