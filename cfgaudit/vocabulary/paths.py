"""Paths: every declared setting as a pattern, the one that a path falls under, near misses.

A pattern has indices in capitals: ports.ID.baud. The build sheet's settings lie below `sheet.`,
in a list of their own, so that no dump states them.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache, lru_cache
from typing import NamedTuple

from cfgaudit.vocabulary.declare import Class, Group, Part, Setting, Sub, Table, Traits
from cfgaudit.vocabulary.dump import Dump
from cfgaudit.vocabulary.kinds import Kind
from cfgaudit.vocabulary.sheet import ROOT, BuildSheet

_LONGEST_NAME = 100  # letters of an index: a line has room for its setting's path
_AXES = ("roll", "pitch", "yaw")
_JOINT = re.compile(r"[./ ]+")


def covers(pattern: str, name: str) -> bool:
    """Whether a pattern covers a path or a key: itself and all below it.

    Words are parted by a dot, a stroke or blanks, as a report prints them; `*` stands for any
    one word, or once for the rest of one.

    >>> covers("ports.*.baud", "ports.uart2.baud"), covers("tally", "tally wakes")
    (True, True)
    >>> covers("spin/nought-*", "spin/nought-x")
    True
    >>> covers("tallies/wakes", "tallies"), covers("port", "ports.uart2.baud")
    (False, False)
    """
    wanted = _words(pattern)
    if not name.startswith(wanted[0].partition("*")[0]):  # as most don't
        return False
    words = _words(name)
    return len(wanted) <= len(words) and all(
        want == word or ("*" in want and _stands_for(want, word))
        for want, word in zip(wanted, words, strict=False)
    )


def _stands_for(want: str, word: str) -> bool:
    before, _, after = want.partition("*")
    long_enough = len(word) >= len(before) + len(after)
    return long_enough and word.startswith(before) and word.endswith(after)


@lru_cache(maxsize=20_000)
def _words(name: str) -> tuple[str, ...]:
    return tuple(_JOINT.split(name))


class Declared(NamedTuple):
    """One setting of the vocabulary. `pattern` has indices in capitals: ports.ID.baud."""

    pattern: str
    traits: Traits
    choices: tuple[tuple[str, tuple[str, ...]], ...] = ()  # closed lists of names, by index

    @property
    def kind(self) -> Kind:
        """What values it takes."""
        return self.traits.kind

    @property
    def cls(self) -> Class:
        """What a change of it can touch."""
        return self.traits.cls


@cache
def vocabulary() -> tuple[Declared, ...]:
    """Every declared setting, in the order of declaration."""
    return tuple(patterns_of(Dump, ""))


def patterns_of(part: type[Part], prefix: str) -> Iterator[Declared]:
    """Every setting declared in a part and below it, in the order of declaration."""
    return _walk(part, prefix, ())


def _walk(
    part: type[Part], prefix: str, choices: tuple[tuple[str, tuple[str, ...]], ...]
) -> Iterator[Declared]:
    for item in vars(part).values():
        if isinstance(item, Setting):
            yield Declared(_under(prefix, item.leaf), item.traits, choices)
        elif isinstance(item, Sub):
            yield from _walk(item.part, _under(prefix, item.leaf), choices)
        elif isinstance(item, Group):
            inner = _under(_under(prefix, item.leaf or ""), item.index)
            yield from _walk(item.part, inner, choices)
        elif isinstance(item, Table):
            pattern = _under(_under(prefix, item.leaf or ""), item.index)
            own = ((item.index, item.choices),) if item.choices else ()
            yield Declared(pattern, item.traits, choices + own)


def _under(prefix: str, leaf: str) -> str:
    return f"{prefix}.{leaf}" if prefix and leaf else prefix or leaf


@cache
def _by_ends() -> dict[tuple[str, int, str], list[tuple[tuple[str, ...], Declared]]]:
    """Patterns by first word, length and last word; an index as the last word counts as none."""
    table: dict[tuple[str, int, str], list[tuple[tuple[str, ...], Declared]]] = {}
    for entry in vocabulary():
        words = tuple(entry.pattern.split("."))
        last = "" if words[-1].isupper() else words[-1]
        table.setdefault((words[0], len(words), last), []).append((words, entry))
    for entries in table.values():  # literal words before indices
        entries.sort(key=lambda entry: sum(word.isupper() for word in entry[0]))
    return table


@lru_cache(maxsize=20_000)
def declared(path: str) -> Declared | None:
    """The declaration that a path falls under, or None.

    >>> declared("ports.uart2.baud").pattern
    'ports.ID.baud'
    """
    return _first_fit(path.split("."))


@lru_cache(maxsize=20_000)
def declared_with_holes(path: str) -> Declared | None:
    """The declaration that a path falls under whose words in capitals stand for any name.

    >>> declared_with_holes("ports.WHICH.baud").pattern
    'ports.ID.baud'
    """
    words = path.split(".")
    found = _first_fit(words, holes=True)
    return found if found is not None else _one_of_several(words)


def _first_fit(words: Sequence[str], *, holes: bool = False) -> Declared | None:
    table = _by_ends()
    for last in (words[-1], ""):
        for pattern, found in table.get((words[0], len(words), last), ()):
            if matching(words, pattern, found.choices, holes=holes):
                return found
    return None


def _one_of_several(words: Sequence[str]) -> Declared | None:
    """The first of the settings of one kind whose own names a last word in capitals stands for.

    `board.rotation.AXIS` is any of roll, pitch and yaw; those of an accelerometer are of no kind.
    """
    *above, last = words
    if not last.isupper():
        return None
    found = [
        entry
        for entry in vocabulary()
        if not entry.pattern.endswith(last)
        and matching(above, entry.pattern.split(".")[:-1], entry.choices, holes=True)
    ]
    return found[0] if len(found) > 1 and len({entry.kind for entry in found}) == 1 else None


def declared_anywhere(path: str) -> Declared | None:
    """The declaration of a setting of the craft or, below `sheet.`, of its build sheet."""
    if not path.startswith("sheet."):
        return declared(path)
    return declared_in_sheet(path)


def matching(
    words: Sequence[str],
    pattern: Sequence[str],
    closed: Sequence[tuple[str, tuple[str, ...]]],
    *,
    holes: bool = False,
) -> bool:
    """Whether a path's words are a pattern's; `closed` holds the names of closed indices.

    With `holes`, a word in capitals can stand where an index does, whatever it will be.
    """
    if len(words) != len(pattern):
        return False
    for word, want in zip(words, pattern, strict=True):
        if word == want or (want.isupper() and holes and word.isupper()):
            continue
        if not (want.isupper() and fits(word, want, dict(closed).get(want, ()))):
            return False
    return True


def fits(word: str, index: str, choices: tuple[str, ...]) -> bool:
    """Whether a word can stand in an index's place."""
    if choices:
        return word in choices
    if index == "AXIS":
        return word in _AXES
    if index == "N":
        return word.isascii() and word.isdigit() and len(word) < 20 and 0 < int(word) < 1000
    if not 0 < len(word) <= _LONGEST_NAME or word.startswith("--"):  # the mark of a comment
        return False
    return word.replace("_", "").replace("-", "").replace("+", "").isalnum()


def index_names(entry: Declared) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """For each index of a setting that has names of its own, these; any other word is a slip.

    An arm of a frame that no layout knows is named by its position all the same.

    >>> index_names(declared("banks.1.gains.roll.p"))
    (('AXIS', ('roll', 'pitch', 'yaw')),)
    """
    words = entry.pattern.split(".")
    arms = (("ARM", _arms()),) if "ARM" in words else ()
    axes = (("AXIS", _AXES),) if "AXIS" in words else ()
    return (*entry.choices, *arms, *axes)


@cache
def _arms() -> tuple[str, ...]:
    """The arms of every layout, each once."""
    from cfgaudit.physics.allocation import BEARINGS_DEG

    return tuple(dict.fromkeys(arm for arms in BEARINGS_DEG.values() for arm in arms))


def nearest(path: str) -> list[str]:
    """Up to three declared patterns that look like a path nobody declared."""
    from difflib import get_close_matches

    return get_close_matches(path, [d.pattern for d in every_declared(path)], n=3, cutoff=0.6)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A hint at the nearest of the words that are known; empty where none is near.

    >>> did_you_mean("wrods", ["words", "flags"])
    '; did you mean words?'
    """
    from difflib import get_close_matches

    near = get_close_matches(word, list(known), n=1)
    return f"; did you mean {near[0]}?" if near else ""


def every_declared(path: str) -> tuple[Declared, ...]:
    """The vocabulary that a path belongs to: the build sheet's below `sheet`, else the craft's."""
    if path.partition(".")[0] != "sheet":
        return vocabulary()
    return sheet_vocabulary()


@cache
def sheet_vocabulary() -> tuple[Declared, ...]:
    """Every setting of the build sheet, in the order of declaration."""
    return tuple(patterns_of(BuildSheet, ROOT))


@lru_cache(maxsize=5_000)
def declared_in_sheet(path: str) -> Declared | None:
    """The declaration that a path of the build sheet falls under, or None.

    >>> declared_in_sheet("sheet.motors.front_left.wires").pattern
    'sheet.motors.ARM.wires'
    """
    words = path.split(".")
    for found in sheet_vocabulary():
        if matching(words, found.pattern.split("."), found.choices):
            return found
    return None
