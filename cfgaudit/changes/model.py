"""Changes: frozen, one union, in an order that hangs on nothing but the settings."""

import re
from dataclasses import dataclass
from functools import cache

from cfgaudit.craft.declare import Class
from cfgaudit.craft.settings import Raw, Stated
from cfgaudit.craft.vocabulary import declared_anywhere, vocabulary

Entry = Stated | Raw


def name_of(entry: Entry) -> str:
    """The path of a stated setting, the key of a raw one."""
    return entry.path if isinstance(entry, Stated) else entry.key


@dataclass(frozen=True, slots=True)
class Subject:
    """What a change is about. `path` is a neutral path, or the dump's own key where `raw`.

    `cls` is None where the vocabulary does not know the path: a raw key's risk is unknown.
    `volatile` is True where it moves by itself, by the vocabulary or by the dialect: nobody set it.
    """

    path: str
    cls: Class | None
    craft_own: bool
    raw: bool
    volatile: bool


@dataclass(frozen=True, slots=True)
class Added(Subject):
    """Stated in the new settings only."""

    new: Entry


@dataclass(frozen=True, slots=True)
class Removed(Subject):
    """Stated in the old settings only."""

    old: Entry


@dataclass(frozen=True, slots=True)
class Changed(Subject):
    """Stated in both with different values; `parts` says how a list or set differs."""

    old: Entry
    new: Entry
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Renamed(Subject):
    """Stated under another name in the new settings; `path` is the new name.

    `guess` is True where only the likeness of names and the same value speak for it.
    """

    old: Entry
    new: Entry
    guess: bool
    parts: tuple[str, ...] = ()

    @property
    def old_path(self) -> str:
        """The name in the old settings."""
        return name_of(self.old)


Change = Added | Removed | Changed | Renamed

SortKey = tuple[bool, int, int, tuple[tuple[str, int, str], ...], str]


def subject(entry: Entry) -> Subject:
    """What a change of this entry would be about."""
    if isinstance(entry, Raw):
        return Subject(entry.key, None, False, True, entry.volatile)
    known = declared_anywhere(entry.path)
    if known is None:
        return Subject(entry.path, None, False, False, entry.volatile)
    traits = known.traits
    return Subject(
        entry.path, known.cls, traits.craft_own, False, traits.volatile or entry.volatile
    )


def sort_key(about: Subject) -> SortKey:
    """The gravest class first, then the vocabulary's order, then the path; raw keys last."""
    known = None if about.raw else declared_anywhere(about.path)
    ranks = _ranks()  # a build sheet's settings come behind the craft's
    place = len(ranks) if known is None else ranks.get(known.pattern, len(ranks))
    grave = len(Class) if about.cls is None else about.cls
    return about.raw, grave, place, natural(about.path), about.path


def natural(path: str) -> tuple[tuple[str, int, str], ...]:
    """A key that sorts numbers inside a path by their size.

    >>> sorted(["ports.uart10.baud", "ports.uart2.baud"], key=natural)
    ['ports.uart2.baud', 'ports.uart10.baud']
    """
    return tuple(  # digits compare as (how many, which): no limit on their length
        (words, len(digits.lstrip("0")), digits.lstrip("0"))
        for words, digits in re.findall(r"([^0-9]*)([0-9]*)", path)
    )


@cache
def _ranks() -> dict[str, int]:
    return {known.pattern: rank for rank, known in enumerate(vocabulary())}
