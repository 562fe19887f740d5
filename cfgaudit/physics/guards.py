"""Refusals of nonsense input: every formula of this floor asks here first."""

from collections.abc import Mapping
from math import isfinite
from typing import TypeVar

T = TypeVar("T")


def finite(name: str, value: float) -> float:
    """Return `value` if it is a finite number; raise ValueError naming it otherwise."""
    try:
        good = isfinite(value)
    except OverflowError:
        good = False
    if not good:
        raise ValueError(f"{name} must be a finite number, not {value!r:.40}")
    return value


def positive(name: str, value: float) -> float:
    """Return `value` if it is finite and above 0; raise ValueError naming it otherwise."""
    if finite(name, value) <= 0:
        raise ValueError(f"{name} must be above 0, not {value!r}")
    return value


def not_negative(name: str, value: float) -> float:
    """Return `value` if it is finite and 0 or more; raise ValueError naming it otherwise."""
    if finite(name, value) < 0:
        raise ValueError(f"{name} must not be negative, not {value!r}")
    return value


def between(name: str, value: float, low: float, high: float) -> float:
    """Return `value` if low <= value <= high; raise ValueError naming it otherwise."""
    if not low <= finite(name, value) <= high:
        raise ValueError(f"{name} must lie in {low:g}..{high:g}, not {value!r}")
    return value


def known(name: str, word: str, words: Mapping[str, T]) -> T:
    """What `word` stands for; raise ValueError naming it, and those that are known, otherwise."""
    try:
        return words[word]
    except KeyError:
        raise ValueError(f"{name} must be one of {', '.join(words)}, not {word!r}") from None
