"""How the vocabulary is declared: typed fields that read from a set of settings.

A setting is a descriptor: read from an instance it gives the value, or raises NotStated.
Whatever else wants to know the settings (dialects, explain, diff, redact) walks the
declarations; see paths.py. At the end stand short words for declaring one.
"""

from collections.abc import Iterator, Mapping, Sequence
from enum import IntEnum
from functools import cached_property
from typing import Generic, NamedTuple, Protocol, TypeVar, cast, overload

from cfgaudit.reading.private import HIDDEN as HIDDEN
from cfgaudit.vocabulary.kinds import (
    Between,
    Bool,
    Either,
    Filter,
    Filters,
    Int,
    Kind,
    OneOf,
    Quantities,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    Words,
    WordSet,
)

T = TypeVar("T")
P = TypeVar("P", bound="Part")


class NotStated(LookupError):  # noqa: N818 (it is an answer, not a fault)
    """A setting that the dump does not state was asked for; `path` names it."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        self.path = path


class Entry(Protocol):
    """One stated value, as far as reading it goes."""

    @property
    def value(self) -> Value:
        """What is stated."""

    @property
    def doubt(self) -> str:
        """Why it is not to be trusted; empty where it is."""


class Stating(Protocol):
    """What a part reads from: a set of settings, as far as reading one value goes."""

    @property
    def stated(self) -> Mapping[str, Entry]:
        """Each stated path with its value."""

    def need(self, path: str) -> Value:
        """The value at a path. Raises NotStated where there is none that can be trusted."""

    def below(self, prefix: str) -> Mapping[str, Sequence[str]]:
        """The names right below a prefix, each with the paths under it, in order."""

    def each(self, prefix: str, leaf: str) -> Mapping[str, Value]:
        """One setting of every name below a prefix that states it and can be trusted, by name."""


class Class(IntEnum):
    """What a change of a setting can touch, the gravest first."""

    SAFETY = 0
    POWER = 1
    CONTROL = 2
    RADIO = 3
    COMFORT = 4
    IDENTITY = 5


class Traits(NamedTuple):
    """What is known of a setting besides its value."""

    kind: Kind
    cls: Class
    says: str  # one line: what it is
    craft_own: bool = False  # belongs to this one craft
    secret: bool = False
    volatile: bool = False  # moves by itself, whoever flies: nobody set it


class Part:
    """A stretch of the vocabulary, bound to settings and to the path it hangs from."""

    def __init__(self, settings: Stating, prefix: str) -> None:
        self._settings = settings
        self._prefix = prefix

    def path(self, leaf: str) -> str:
        """The neutral path of one of this part's settings."""
        return f"{self._prefix}.{leaf}" if self._prefix else leaf

    @property
    def name(self) -> str:
        """The last word of the path this part hangs from: a port's or an arm's name."""
        return self._prefix.rpartition(".")[2]

    def states(self, leaf: str) -> bool:
        """Whether a setting is stated, and can be trusted."""
        found = self._settings.stated.get(self.path(leaf))
        return found is not None and not found.doubt


class Setting(Generic[T]):
    """One setting; its last word is the attribute's name, unless `leaf` says otherwise."""

    def __init__(self, traits: Traits, leaf: str = "") -> None:
        self.traits = traits
        self.leaf = leaf

    def __set_name__(self, owner: type, name: str) -> None:
        self.leaf = self.leaf or name

    @overload
    def __get__(self, part: None, owner: type) -> "Setting[T]": ...
    @overload
    def __get__(self, part: Part, owner: type) -> T: ...
    def __get__(self, part: Part | None, owner: type) -> "Setting[T] | T":
        if part is None:
            return self
        prefix = part._prefix  # not by `path`: rules read by the thousand
        return cast(T, part._settings.need(f"{prefix}.{self.leaf}" if prefix else self.leaf))


class Sub(Generic[P]):
    """A named part below another one."""

    def __init__(self, part: type[P], leaf: str = "") -> None:
        self.part = part
        self.leaf = leaf

    def __set_name__(self, owner: type, name: str) -> None:
        self.leaf = self.leaf or name

    @overload
    def __get__(self, part: None, owner: type) -> "Sub[P]": ...
    @overload
    def __get__(self, part: Part, owner: type) -> P: ...
    def __get__(self, part: Part | None, owner: type) -> "Sub[P] | P":
        if part is None:
            return self
        return self.part(part._settings, part.path(self.leaf))


class Members(Generic[P]):
    """The parts of a group by name. A group that is stated at all is taken as stated whole."""

    def __init__(self, settings: Stating, prefix: str, group: "Group[P]") -> None:
        self._settings, self._prefix, self._group = settings, prefix, group

    def __getitem__(self, name: str) -> P:
        return self._group.part(self._settings, f"{self._prefix}.{name}")

    def __iter__(self) -> Iterator[P]:
        """Every part. Raises NotStated where the dump states none of the group."""
        names = self.names()
        if not names:
            raise NotStated(self.pattern)
        return iter([self[name] for name in names])

    @property
    def pattern(self) -> str:
        """The path of any part, as the vocabulary spells it."""
        return f"{self._prefix}.{self._group.index}"

    def names(self) -> list[str]:
        """The names stated, in order; perhaps none."""
        fixed = self._group.beside
        return [name for name in self._settings.below(self._prefix) if name not in fixed]

    def stated(self, leaf: str) -> Mapping[str, Value]:
        """One setting of every part that states it, by the part's name; perhaps none."""
        found, fixed = self._settings.each(self._prefix, leaf), self._group.beside
        return {name: found[name] for name in found if name not in fixed} if fixed else found


class Indexed:
    """A declaration whose last word is a name of the dump's own, perhaps beside fixed ones."""

    leaf: str | None
    _owner: type

    def __set_name__(self, owner: type, name: str) -> None:
        self.leaf = name if self.leaf is None else self.leaf
        self._owner = owner

    @cached_property
    def beside(self) -> frozenset[str]:
        """The words that stand where this one's names do without being one of them.

        Those are the other declarations of the class, where it hangs right below its part.
        """
        if self.leaf:
            return frozenset()
        others = (item for kind in self._owner.__mro__ for item in vars(kind).values())
        return frozenset(
            item.leaf for item in others if isinstance(item, Setting | Sub | Indexed) and item.leaf
        )


class Group(Indexed, Generic[P]):
    """Parts of one kind, each under a name of the dump's own (a port, an arm, a bank)."""

    def __init__(self, index: str, part: type[P], leaf: str | None = None) -> None:
        self.index, self.part, self.leaf = index, part, leaf

    @overload
    def __get__(self, part: None, owner: type) -> "Group[P]": ...
    @overload
    def __get__(self, part: Part, owner: type) -> Members[P]: ...
    def __get__(self, part: Part | None, owner: type) -> "Group[P] | Members[P]":
        if part is None:
            return self
        prefix = part.path(self.leaf) if self.leaf else part._prefix
        return Members(part._settings, prefix, self)


class Entries(Generic[T]):
    """Values of one kind by name. A table that is stated at all is taken as stated whole."""

    def __init__(self, settings: Stating, prefix: str, table: "Table[T]") -> None:
        self._settings, self._prefix, self._table = settings, prefix, table

    def __getitem__(self, name: str) -> T:
        return cast(T, self._settings.need(f"{self._prefix}.{name}"))

    def path(self, name: str) -> str:
        """The neutral path of one entry."""
        return f"{self._prefix}.{name}"

    def get(self, name: str, missing: T) -> T:
        """The entry, else `missing`; raises NotStated where the whole table is not stated."""
        return self.all().get(name, missing)

    def all(self) -> dict[str, T]:
        """Every entry by name. Raises NotStated where the dump states none."""
        stated = self.stated()
        if not stated:
            raise NotStated(f"{self._prefix}.{self._table.index}")
        return stated

    def stated(self) -> dict[str, T]:
        """Every entry by name; perhaps none."""
        fixed = self._table.beside
        found: dict[str, T] = {}
        for name in self._settings.below(self._prefix):
            entry = self._settings.stated.get(f"{self._prefix}.{name}")
            if entry is not None and not entry.doubt and name not in fixed:
                found[name] = cast(T, entry.value)
        return found


class Table(Indexed, Generic[T]):
    """Settings of one kind, each under a name: a switch function, a control, a channel."""

    def __init__(
        self, index: str, traits: Traits, choices: tuple[str, ...] = (), leaf: str | None = None
    ) -> None:
        self.index, self.traits, self.choices, self.leaf = index, traits, choices, leaf

    @overload
    def __get__(self, part: None, owner: type) -> "Table[T]": ...
    @overload
    def __get__(self, part: Part, owner: type) -> Entries[T]: ...
    def __get__(self, part: Part | None, owner: type) -> "Table[T] | Entries[T]":
        if part is None:
            return self
        prefix = part.path(self.leaf) if self.leaf else part._prefix
        return Entries(part._settings, prefix, self)


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


def text(
    cls: Class, says: str, *, own: bool = False, secret: bool = False, leaf: str = ""
) -> Setting[str]:
    """Any text."""
    return Setting(Traits(Text(), cls, says, own, secret), leaf)


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
    return Setting(Traits(OneOf(numbers), cls, says))


def switches(
    cls: Class, says: str, index: str, names: tuple[str, ...]
) -> Table[tuple[SwitchRange, ...]]:
    """Channel ranges by the function that they work."""
    return Table(index, Traits(SwitchRanges(), cls, says), names, leaf="")


def whole_by(index: str, cls: Class, says: str, low: int, high: int) -> Table[int]:
    """Whole numbers by name."""
    return Table(index, Traits(Int(low, high), cls, says))


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
