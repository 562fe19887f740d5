"""Changes: frozen, one union, in an order that hangs on nothing but the settings."""

import re
from dataclasses import dataclass
from functools import cache

from cfgaudit.craft.declare import Class
from cfgaudit.craft.settings import Raw, Stated
from cfgaudit.craft.vocabulary import declared, vocabulary

Entry = Stated | Raw

# A key that no mapping covers and whose name has one of these words counts up by itself; nobody
# set it. Only whole words, and only words that no setting is likely to bear (common practice).
COUNTING_WORDS = frozenset(
    {"hours", "flown", "flights", "sorties", "outings", "landings", "uptime", "lifetime"}
)


def name_of(entry: Entry) -> str:
    """The path of a stated setting, the key of a raw one."""
    return entry.path if isinstance(entry, Stated) else entry.key


@dataclass(frozen=True, slots=True)
class Subject:
    """What a change is about. `path` is a neutral path, or the dump's own key where `raw`.

    `cls` is None where the vocabulary does not know the path: a raw key's risk is unknown.
    """

    path: str
    cls: Class | None
    craft_own: bool
    raw: bool

    @property
    def volatile(self) -> bool:
        """Whether it is a counter that moves by itself, as far as its name tells."""
        words = re.split(r"[^a-z]+", self.path.lower())
        return self.raw and not COUNTING_WORDS.isdisjoint(words)


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
        return Subject(entry.key, None, False, True)
    known = declared(entry.path)
    if known is None:
        return Subject(entry.path, None, False, False)
    return Subject(entry.path, known.cls, known.traits.craft_own, False)


def sort_key(about: Subject) -> SortKey:
    """The gravest class first, then the vocabulary's order, then the path; raw keys last."""
    known = None if about.raw else declared(about.path)
    place = len(_ranks()) if known is None else _ranks()[known.pattern]
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
