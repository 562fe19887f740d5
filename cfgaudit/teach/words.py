"""Takes names apart and finds what they are about; the words that tell ports, arms, axes apart."""

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

from cfgaudit.vocabulary.elements import element_kinds

_CHUNK = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+")
_STOP = frozenset({"the", "a", "an", "and", "of", "it", "is", "as", "that", "this", "each", "its"})
_NEAR = 92.0  # likeness in per cent from which two words of five letters or more count as one


@cache
def data_table(name: str) -> Mapping[str, Any]:
    """One of the data files beside this module."""
    text = (files("cfgaudit.teach") / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@lru_cache(maxsize=20_000)
def tokens(text: str) -> tuple[str, ...]:
    """The words of a name, small letters, short forms spelled out.

    >>> tokens("maxThr_us")
    ('most', 'throttle', 'pulse')
    """
    short = data_table("abbreviations")
    found: list[str] = []
    for chunk in _CHUNK.findall(text):
        word = chunk.lower()
        found += short[word].split() if word in short else [word]
    return tuple(word for word in found if word not in _STOP)


@lru_cache(maxsize=20_000)
def root(word: str) -> str:
    """A word without the endings of number and time.

    >>> root("lamps"), root("counted")
    ('lamp', 'count')
    """
    for ending, least in (("ing", 4), ("ies", 3), ("ed", 4), ("s", 3)):
        if word.endswith(ending) and len(word) - len(ending) >= least and not word.endswith("ss"):
            stem = word[: -len(ending)]
            return stem + "y" if ending == "ies" else stem
    return word


@cache
def _ideas() -> Mapping[str, frozenset[str]]:
    """Each root of the thesaurus with the lines that it stands on."""
    table: dict[str, set[str]] = {}
    for idea, words in data_table("thesaurus").items():
        for word in words.split():
            table.setdefault(root(word), set()).add(idea)
    return {word: frozenset(ideas) for word, ideas in table.items()}


@lru_cache(maxsize=20_000)
def ideas_of(word: str) -> Mapping[str, float]:
    """What a word may be about: the lines of the thesaurus, each with a weight, and itself."""
    table = _ideas()
    stem = root(word)
    found = table.get(word, frozenset()) | table.get(stem, frozenset())
    if not found and len(stem) >= 5:
        near = _near(stem)
        found = table[near] if near else found
    share = 1 / max(1, len(found)) ** 0.5
    return {f"={stem}": 1.0, **dict.fromkeys(sorted(found), share)}


def _near(word: str) -> str:
    """The word of the thesaurus that is written almost alike, else nothing."""
    from rapidfuzz import fuzz, process

    best = process.extractOne(word, _ideas().keys(), scorer=fuzz.ratio, score_cutoff=_NEAR)
    return str(best[0]) if best else ""


def about(words: Iterable[str], weight: float = 1.0) -> dict[str, float]:
    """What several words are about together: ideas, each with its greatest weight."""
    found: dict[str, float] = {}
    for word in words:
        for idea, share in ideas_of(word).items():
            found[idea] = max(found.get(idea, 0.0), share * weight)
    return found


def merged(*parts: Mapping[str, float]) -> dict[str, float]:
    """Several tables of ideas as one, the greatest weight of each."""
    found: dict[str, float] = {}
    for part in parts:
        for idea, weight in part.items():
            found[idea] = max(found.get(idea, 0.0), weight)
    return found


def likeness(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """How far two tables of ideas overlap: 0 for nothing, about 1 a word in common."""
    return sum(weight * other[idea] for idea, weight in one.items() if idea in other)


ARMS = ("front_left", "front_right", "rear_left", "rear_right")
_MOST = 150  # words of one index; no list of ours is nearly as long
_FAIR = 0.4  # likeness from which two names count as the same thing
_NUMBERED = re.compile(r"(\D*)(\d+)")


class Match(NamedTuple):
    """How well index words fit an index of the vocabulary: points, ours for each of theirs."""

    points: float
    words: Mapping[str, str]  # empty where the words are taken as they are
    base: int = 1  # what the dump counts from
    sure: bool = True


NO = Match(-9.0, {}, 1, False)


@lru_cache(maxsize=50_000)
def index_match(index: str, target: str, words: tuple[str, ...], names: tuple[str, ...]) -> Match:
    """How well the words of one index fit one of ours. `names` is our closed list, if any."""
    count = len(words)
    if count > _MOST:
        return NO
    numbers = [int(word) for word in words if word.isdigit()]
    if index == "ID" and target.startswith("ports."):
        return _ports(words) if 2 <= count <= 12 else NO
    if index in ("ID", "BAND"):
        fits = count >= 4 if index == "ID" else count <= 8
        return Match(0.4, {}) if fits else NO
    if index == "SLOT":
        return Match(0.3, {}) if count <= 4 else NO
    if index == "N":
        return _counted(target, words, numbers)
    if index == "ARM":
        return _by_name(words, ARMS, 3.0) if 3 <= count <= 8 else NO
    if index == "AXIS":
        return _by_name(words, ("roll", "pitch", "yaw"), 2.0) if 2 <= count <= 3 else NO
    if index == "CONTROL":
        return _controls(words) if count >= 3 else NO
    if index == "NAME":
        return _named(words, tuple(element_kinds())) if count >= 3 else NO
    return _named(words, names) if count >= 3 and names else NO


def _ports(words: Sequence[str]) -> Match:
    """The one without a number, or the first, is taken for usb; the others by number or order."""
    parts = [_NUMBERED.fullmatch(word) for word in words]
    found: dict[str, str] = {}
    sure = True
    if all(parts):
        numbers = [int(part.group(2)) for part in parts if part]
        for word, number in zip(words, numbers, strict=True):
            found[word] = f"uart{number}" if number else "usb"
    else:
        bare = [word for word, part in zip(words, parts, strict=True) if not part]
        sure = len(bare) == 1
        rest = [word for word in words if word != bare[0]]
        found[bare[0]] = "usb"
        for order, word in enumerate(rest, 1):
            part = _NUMBERED.fullmatch(word)
            found[word] = f"uart{int(part.group(2))}" if part and sure else f"uart{order}"
    return Match(0.6, found, sure=sure)


def _counted(target: str, words: Sequence[str], numbers: Sequence[int]) -> Match:
    if target.startswith("banks."):
        if len(numbers) == len(words) and len(words) <= 6 and max(numbers) <= 6:
            return Match(1.0, {}, 0 if 0 in numbers else 1)
        if numbers or len(words) > 6:
            return NO
        return Match(0.2, {word: str(n) for n, word in enumerate(words, 1)})
    if len(numbers) < len(words) or max(numbers) > 32:
        return NO
    return Match(0.8, {}, 0 if 0 in numbers else 1)


def pair_up(words: Sequence[str], names: Sequence[str], fair: float = _FAIR) -> dict[str, str]:
    """Each of their words with the one of our names that is most like it, no name twice."""
    scored = sorted(
        (
            (-_alike(word, name), order, number, word, name)
            for order, word in enumerate(words)
            for number, name in enumerate(names)
        ),
    )
    found: dict[str, str] = {}
    for less, _, _, word, name in scored:
        if -less >= fair and word not in found and name not in found.values():
            found[word] = name
    return found


@lru_cache(maxsize=50_000)
def _alike(word: str, name: str) -> float:
    """How like two names are: the ideas that they share, word by word and as a whole."""
    theirs, ours = tokens(word), tokens(name)
    if not theirs or not ours:
        return 0.0
    if theirs == ours:
        return 3.0
    table = about(theirs)
    parts = [min(1.0, likeness(about([o]), table)) for o in ours]
    whole = min(1.2, sum(about([t]).get(name, 0.0) for t in theirs))
    idle = sum(not likeness(about([t]), about(ours)) for t in theirs)
    return sum(parts) / len(parts) + whole - 0.1 * idle


def _by_name(words: Sequence[str], names: Sequence[str], points: float) -> Match:
    found = pair_up(words, names)
    if len(found) == len(words):
        return Match(points, found)
    left = [word for word in words if word not in found]
    free = [name for name in names if name not in found.values()]
    if len(left) == 1 and len(free) >= 1 and len(found) >= 2:
        return Match(points * 0.8, {**found, left[0]: free[0]})
    if len(words) == len(names):  # in our order, for want of better
        return Match(-0.8, dict(zip(words, names, strict=True)), sure=False)
    return NO


def _controls(words: Sequence[str]) -> Match:
    found = pair_up(words, ("roll", "pitch", "throttle", "yaw"))
    if len(found) < 3:
        return NO
    left = [word for word in words if word not in found]
    free = [n for n in ("roll", "pitch", "throttle", "yaw") if n not in found.values()]
    if free and left:
        found[left.pop(0)] = free[0]
    spare = {word: f"aux{n}" for n, word in enumerate(left, 1)}
    return Match(2.5, {**found, **spare})


def _named(words: Sequence[str], names: Sequence[str]) -> Match:
    found = pair_up(words, names)
    share = len(found) / len(words)
    if share < 0.25:
        return NO
    return Match(3.0 * share - 0.5, found, sure=share > 0.5)
