"""How a subsystem declares its settings: typed fields that read from a set of settings.

A setting is a descriptor: read from an instance it gives the value, or raises NotStated.
Whatever else wants to know the settings (dialects, explain, diff, redact) walks the
declarations; see vocabulary.py.
"""

from collections.abc import Iterator
from enum import IntEnum
from typing import Generic, NamedTuple, TypeVar, cast, overload

from cfgaudit.craft.kinds import Kind
from cfgaudit.craft.settings import NotStated, Settings
from cfgaudit.craft.values import Value

T = TypeVar("T")
P = TypeVar("P", bound="Part")


class Class(IntEnum):
    """What a change of a setting can touch, the gravest first."""

    SAFETY = 0
    POWER = 1
    CONTROL = 2
    RADIO = 3
    COMFORT = 4
    IDENTITY = 5


HIDDEN = "(hidden)"  # what stands in a secret value's place once it is hidden


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

    def __init__(self, settings: Settings, prefix: str) -> None:
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
        return cast(T, part._settings.need(part.path(self.leaf)))


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

    def __init__(self, settings: Settings, prefix: str, index: str, part: type[P]) -> None:
        self._settings, self._prefix, self._index, self._part = settings, prefix, index, part

    def __getitem__(self, name: str) -> P:
        return self._part(self._settings, f"{self._prefix}.{name}")

    def __iter__(self) -> Iterator[P]:
        """Every part. Raises NotStated where the dump states none of the group."""
        names = self.names()
        if not names:
            raise NotStated(f"{self._prefix}.{self._index}")
        return iter([self[name] for name in names])

    def names(self) -> list[str]:
        """The names stated, in order; perhaps none."""
        fixed = _fixed_names(self._prefix)
        return [name for name in self._settings.below(self._prefix) if name not in fixed]


def _fixed_names(prefix: str) -> frozenset[str]:
    """Names that stand beside a group's members without being one."""
    return {
        "motors": frozenset({"poles", "stop_when_armed_idle"}),
        "banks": frozenset({"active"}),
        "esc": frozenset(
            {"protocol", "update_rate", "pulse_min", "pulse_max", "pulse_arm", "idle", "reports"}
            | {"reversible_thrust"}
        ),
        "video.plan": frozenset({"powers"}),
    }.get(prefix, frozenset())


class Group(Generic[P]):
    """Parts of one kind, each under a name of the dump's own (a port, an arm, a bank)."""

    def __init__(self, index: str, part: type[P], leaf: str | None = None) -> None:
        self.index, self.part, self.leaf = index, part, leaf

    def __set_name__(self, owner: type, name: str) -> None:
        self.leaf = name if self.leaf is None else self.leaf

    @overload
    def __get__(self, part: None, owner: type) -> "Group[P]": ...
    @overload
    def __get__(self, part: Part, owner: type) -> Members[P]: ...
    def __get__(self, part: Part | None, owner: type) -> "Group[P] | Members[P]":
        if part is None:
            return self
        prefix = part.path(self.leaf) if self.leaf else part._prefix
        return Members(part._settings, prefix, self.index, self.part)


class Entries(Generic[T]):
    """Values of one kind by name. A table that is stated at all is taken as stated whole."""

    def __init__(self, settings: Settings, prefix: str, index: str) -> None:
        self._settings, self._prefix, self._index = settings, prefix, index

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
            raise NotStated(f"{self._prefix}.{self._index}")
        return stated

    def stated(self) -> dict[str, T]:
        """Every entry by name; perhaps none."""
        fixed = _fixed_names(self._prefix)
        found: dict[str, T] = {}
        for name in self._settings.below(self._prefix):
            entry = self._settings.stated.get(f"{self._prefix}.{name}")
            if entry is not None and not entry.doubt and name not in fixed:
                found[name] = cast(T, entry.value)
        return found


class Table(Generic[T]):
    """Settings of one kind, each under a name: a switch function, a control, a channel."""

    def __init__(
        self, index: str, traits: Traits, choices: tuple[str, ...] = (), leaf: str | None = None
    ) -> None:
        self.index, self.traits, self.choices, self.leaf = index, traits, choices, leaf

    def __set_name__(self, owner: type, name: str) -> None:
        self.leaf = name if self.leaf is None else self.leaf

    @overload
    def __get__(self, part: None, owner: type) -> "Table[T]": ...
    @overload
    def __get__(self, part: Part, owner: type) -> Entries[T]: ...
    def __get__(self, part: Part | None, owner: type) -> "Table[T] | Entries[T]":
        if part is None:
            return self
        prefix = part.path(self.leaf) if self.leaf else part._prefix
        return Entries(part._settings, prefix, self.index)


Declaration = Setting[Value] | Sub[Part] | Group[Part] | Table[Value]
