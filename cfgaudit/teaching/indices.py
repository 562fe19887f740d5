"""The words by which a dump tells ports, arms, axes or banks apart, and what they are to us."""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from cfgaudit.craft.elements import element_kinds
from cfgaudit.teaching.words import about, likeness, tokens

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
