"""A set of settings: neutral path to value, with the place and the origin of each."""

from collections import ChainMap
from collections.abc import Iterator, Mapping, MutableMapping, Sequence, Set
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import NamedTuple, cast

from cfgaudit.reading.text import Place
from cfgaudit.vocabulary.declare import HIDDEN, NotStated
from cfgaudit.vocabulary.kinds import Value

_NOTHING: Mapping[str, Sequence[str]] = {}


class Origin(StrEnum):
    """Where a value came from."""

    DUMP = "dump"
    FACTORY = "factory"  # the firmware's own default stands in
    GIVEN = "given"  # always so in this firmware
    SHEET = "sheet"  # what the builder wrote into the build sheet


class Stated(NamedTuple):
    """One setting as stated: value, place, origin, and the text it was read from."""

    path: str
    value: Value
    place: Place | None = None
    origin: Origin = Origin.DUMP
    text: str = ""
    doubt: str = (
        ""  # why the value is not to be trusted; such a value is shown, never reckoned with
    )
    volatile: bool = False  # the dialect says that it moves by itself
    secret: bool = False  # the dialect says that it is private
    disputed: bool = False  # of a build sheet: what was seen at the bench speaks against it


class Raw(NamedTuple):
    """A line that no mapping covers, or a field of one: its key, its text, its place."""

    key: str
    value: str
    place: Place | None = None
    known: bool = False  # the dialect knows the key, and that it means nothing neutral
    near: str = ""  # the nearest key that the dialect maps
    volatile: bool = False  # the dialect says that it moves by itself
    under: tuple[tuple[type, str], ...] = ()  # the lines it stands under, with their shapes' types
    secret: bool = False  # the dialect says that it is private
    part: bool = False  # a field of a line that is mapped otherwise
    states: tuple[str, ...] = ()  # what it would state, were its words those of the dialect's line


class TroubleKind(StrEnum):
    """What can be wrong with a line, besides what it means for the craft."""

    UNREAD = "unread"
    NO_WORD = "no word"  # of an arm that the dialect's list lacks
    IMPOSSIBLE = "impossible"
    NOT_LISTED = "not listed"  # a word that the dialect's list lacks
    UNIT = "unit"
    UNSAFE = "unsafe"
    TRUNCATED = "truncated"
    WRAPPED = "wrapped"  # a line that seems to be broken, and could not be put together
    CONFLICT_MARKER = "conflict marker"


# Of a value that is on its line, and is none that its setting can have as it is read.
BAD_VALUE = frozenset({TroubleKind.IMPOSSIBLE, TroubleKind.NOT_LISTED, TroubleKind.UNIT})


class Trouble(NamedTuple):
    """Something wrong with a line; `figures` holds the numbers it was judged by."""

    kind: TroubleKind
    message: str
    place: Place | None = None
    path: str = ""
    figures: tuple[tuple[str, float], ...] = ()
    secret: bool = False  # its line's key says that what stands there is somebody's own


class Annotation(NamedTuple):
    """A comment of a dump: what it is about (a path, a raw key, a section's name), and its text."""

    about: str
    text: str
    place: Place | None = None


# What no first flight goes without, in words, and how the paths of its settings begin.
NEEDED: Mapping[str, tuple[str, ...]] = {
    "the receiver": ("receiver.",),
    "what happens when the link is lost": ("failsafe.",),
    "how the craft is armed": ("arming.", "switches.arm"),
    "the battery": ("battery.",),
}
_PART = 60  # settings: who shows fewer than that shows a part of a dump on purpose


class DumpFacts(NamedTuple):
    """What is known of one dump as a file."""

    file: str
    dialect: str = ""  # empty where no dialect fits
    statements: int = 0
    unread: int = 0
    lines: int = 0
    notes: tuple[str, ...] = ()
    knows: tuple[str, ...] = ()  # what of NEEDED its dialect has lines for

    @property
    def hardly_text(self) -> bool:
        """Whether most of its lines can't be read in any way."""
        return 2 * self.unread > self.lines


@dataclass(frozen=True)
class Settings:
    """All settings of one craft. A mapping from path to Stated, in the order stated."""

    stated: Mapping[str, Stated] = field(default_factory=dict)
    repeats: tuple[tuple[Stated, Stated], ...] = ()  # (the one that holds, the other one)
    raw: Mapping[str, Raw] = field(default_factory=dict)
    troubles: tuple[Trouble, ...] = ()
    dumps: tuple[DumpFacts, ...] = ()
    # The firmware's own default of a path, stated or not, where it is recorded for this version.
    factory: Mapping[str, Value] = field(default_factory=dict, compare=False)
    # What the dump says of elements of lists that are off: it counts as soon as they are on.
    idle: Mapping[str, Raw] = field(default_factory=dict, compare=False)
    annotations: tuple[Annotation, ...] = field(default=(), compare=False)  # no rule reads them
    named: tuple[str, ...] = ()  # tables of a sheet that are there though they state nothing

    def __getitem__(self, path: str) -> Stated:
        return self.stated[path]

    def __contains__(self, path: str) -> bool:
        return path in self.stated

    def __iter__(self) -> Iterator[str]:
        return iter(self.stated)

    def __len__(self) -> int:
        return len(self.stated)

    def need(self, path: str) -> Value:
        """The value at a path. Raises NotStated where there is none that can be trusted."""
        found = self.stated.get(path)
        if found is None or found.doubt:
            raise NotStated(path)
        return found.value

    def need_factory(self, path: str, *instead: str) -> Value:
        """The firmware's own value at a path, else at the first path that stands `instead`.

        Raises NotStated, of `factory.` and the last of the paths, where none is recorded.
        """
        wanted = (path, *instead)
        for one in wanted:
            value = self.factory.get(one)
            if value is not None:
                return value
        raise NotStated(f"factory.{wanted[-1]}")

    def below(self, prefix: str) -> Mapping[str, Sequence[str]]:
        """The names right below a prefix, each with the paths under it, in order."""
        return self._below.get(prefix, _NOTHING)

    def each(self, prefix: str, leaf: str) -> Mapping[str, Value]:
        """One setting of every name below a prefix that states it and can be trusted, by name."""
        found = self._each.get((prefix, leaf))
        if found is None:
            entry_of = self.stated.get
            found = self._each[prefix, leaf] = {
                name: entry.value
                for name in self.below(prefix)
                if (entry := entry_of(f"{prefix}.{name}.{leaf}")) is not None and not entry.doubt
            }
        return found

    def with_values(self, values: Mapping[str, Stated]) -> "Settings":
        """The same paths, some with another value; what these are not part of is taken over."""
        made = replace(self, stated={**self.stated, **values})
        others = {
            (prefix, leaf): each
            for (prefix, leaf), each in self._each.items()
            if not any(path.startswith(prefix) and path.endswith(leaf) for path in values)
        }
        made.__dict__.update(
            _below=self._below, _each=others, lines_not_understood=self.lines_not_understood
        )
        if all(bool(own.doubt) == bool(self.stated[path].doubt) for path, own in values.items()):
            made.__dict__.update(doubted=self.doubted)
        return made

    def not_understood(self, file: str) -> int:
        """How many lines of a dump say something of which no meaning is known, and nothing else."""
        return sum(place[0] == file for place in self.lines_not_understood)

    @cached_property
    def lines_not_understood(self) -> tuple[tuple[str, int], ...]:
        """The lines of which no meaning is known: each its dump's file and its number."""
        known = {(s.place.file, s.place.line) for s in self.stated.values() if s.place}
        lines = {(r.place.file, r.place.line) for r in self.raw.values() if r.place and not r.known}
        return tuple(sorted(lines - known))

    @cached_property
    def unclear(self) -> Mapping[str, Raw]:
        """Settings that nothing states, each with the line that would were its words understood."""
        told = {path: raw for raw in self.raw.values() for path in raw.states}
        return {path: raw for path, raw in told.items() if path not in self.stated}

    def need_all(self, group: str, leaf: str, path: str) -> None:
        """Raises NotStated, of `path`, where a line of a group's settings may not be understood.

        What is missing then may stand there. Such a line is among those that state the setting of
        the others, or where the next of their row would be; where no line states one, it may be
        any. Without a `leaf` all settings count.
        """
        if self.lines_not_understood and self._has_gap(group, leaf):
            raise NotStated(path)

    def _has_gap(self, group: str, leaf: str) -> bool:
        rows: dict[str, set[int]] = {}
        for name, paths in self.below(group).items():
            for own in (f"{group}.{name}.{leaf}",) if leaf else paths:
                stated = self.stated.get(own)
                if stated is not None and stated.place is not None:
                    rows.setdefault(stated.place.file, set()).add(stated.place.line)
        return not rows or any(
            _stands_among(row, [line for own, line in self.lines_not_understood if own == file])
            for file, row in rows.items()
        )

    @cached_property
    def lacking(self) -> tuple[str, ...]:
        """What of NEEDED the dialects have lines for, and no line states anything of.

        Nothing where so little is stated that the dump shows a part on purpose.
        """
        known = dict.fromkeys(what for dump in self.dumps for what in dump.knows)
        lacking = [
            what for what in known if not any(path.startswith(NEEDED[what]) for path in self.stated)
        ]
        own = sum(one.origin is Origin.DUMP for one in self.stated.values()) if lacking else 0
        return tuple(lacking) if own >= _PART else ()

    @cached_property
    def unmerged(self) -> Trouble | None:
        """The first mark of a merge that was left unfinished: both sides' settings are in."""
        return next((t for t in self.troubles if t.kind is TroubleKind.CONFLICT_MARKER), None)

    @cached_property
    def contested(self) -> Mapping[str, str]:
        """The settings that are stated with different values, each with the lines that do so."""
        found: dict[str, list[Stated]] = {}
        for pair in self.repeats:
            found.setdefault(pair[0].path, []).extend(pair)
        return {
            path: " and ".join(f"{n}" for n in sorted({one.place.line for one in own if one.place}))
            for path, own in found.items()
            if any(one.value != own[0].value for one in own)
        }

    def called_otherwise(self, other: "Settings") -> tuple[str, ...]:
        """Which of a craft's name and serial number both state, unlike each other."""
        return tuple(
            path
            for path in ("craft.name", "craft.serial")
            if path in self.stated
            and path in other.stated
            and self.stated[path].value != other.stated[path].value
            and not any(HIDDEN in str(own.stated[path].value) for own in (self, other))
        )

    @cached_property
    def doubted(self) -> tuple[str, ...]:
        """The paths that are stated with a value that is not to be trusted, in order."""
        return tuple(path for path, stated in self.stated.items() if stated.doubt)

    @cached_property
    def _each(self) -> dict[tuple[str, str], Mapping[str, Value]]:
        """What `each` said so far."""
        return {}

    @cached_property
    def _below(self) -> Mapping[str, Mapping[str, Sequence[str]]]:
        """Every prefix that some path has, with what `below` says of it."""
        return _tree(tuple(self.stated), self.named)

    def joined(self, other: "Settings") -> "Settings":
        """These settings and another dump's of the same craft; what both state unlike repeats."""
        stated = dict(self.stated)
        repeats = [*self.repeats, *other.repeats]
        for path, theirs in other.stated.items():
            ours = stated.get(path)
            if ours is None or ours.origin is not Origin.DUMP:
                if ours is None or theirs.origin is Origin.DUMP:
                    stated[path] = theirs
            elif (
                theirs.origin is Origin.DUMP
                and theirs.value != ours.value
                and not _names_a_dump(path)
            ):
                repeats.append((ours, theirs))
        return replace(
            self,
            stated=stated,
            repeats=tuple(repeats),
            raw={**self.raw, **self._theirs(other)},
            troubles=self.troubles + other.troubles,
            dumps=self.dumps + other.dumps,
            idle={**other.idle, **self.idle},
            annotations=self.annotations + other.annotations,
            factory=_layered(self.factory, other.factory),
        )

    def _theirs(self, other: "Settings") -> dict[str, Raw]:
        """Another dump's raw settings under keys of their own, whatever its file is called."""
        facts = other.dumps[0] if other.dumps else DumpFacts("")
        name = facts.dialect or "other"
        same = sum(entry.dialect == facts.dialect for entry in self.dumps)
        own = f"{name} {same + 1}" if same else name
        return {f"{own}: {key}": raw for key, raw in other.raw.items()}


_FARTHEST = 30  # lines from one thing of a row to the next, at most
_BESIDE = 2  # times as far as they are from each other


def _stands_among(row: Set[int], lines: Sequence[int]) -> bool:
    """Whether some line stands between those of a row, or hardly further off than they are apart.

    >>> _stands_among({10, 13, 16}, [22]), _stands_among({10, 11, 12}, [15])
    (True, False)
    """
    own = sorted(row)
    step = max((b - a for a, b in pairwise(own)), default=_FARTHEST)
    reach = min(_BESIDE * step, _FARTHEST)
    return any(own[0] - reach <= line <= own[-1] + reach for line in lines)


@lru_cache(maxsize=4)  # the versions of one dump mostly state the same paths
def _tree(
    paths: tuple[str, ...], named: tuple[str, ...]
) -> Mapping[str, Mapping[str, Sequence[str]]]:
    found: dict[str, dict[str, list[str]]] = {}
    for path in paths:
        words = path.split(".")
        prefix = words[0]
        for word in words[1:]:
            found.setdefault(prefix, {}).setdefault(word, []).append(path)
            prefix = f"{prefix}.{word}"
    for path in named:
        prefix, _, word = path.rpartition(".")
        found.setdefault(prefix, {}).setdefault(word, [])
    return found


def _layered(first: Mapping[str, Value], second: Mapping[str, Value]) -> Mapping[str, Value]:
    """Two mappings as one, the first before the second, neither of them gone through."""
    layers = (cast(MutableMapping[str, Value], layer) for layer in (first, second))
    return ChainMap(*layers)  # only ever read


def _names_a_dump(path: str) -> bool:
    """Whether each dump of one craft rightly states its own value."""
    return path.startswith(("firmware.", "board.name", "board.revision"))
