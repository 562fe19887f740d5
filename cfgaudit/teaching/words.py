"""Takes names apart and finds what they are about: short forms spelled out, like words together."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

_CHUNK = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+")
_STOP = frozenset({"the", "a", "an", "and", "of", "it", "is", "as", "that", "this", "each", "its"})
_NEAR = 92.0  # likeness in per cent from which two words of five letters or more count as one


@cache
def data_table(name: str) -> Mapping[str, Any]:
    """One of the data files beside this module."""
    text = (files("cfgaudit.teaching") / f"{name}.toml").read_text(encoding="utf-8")
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
