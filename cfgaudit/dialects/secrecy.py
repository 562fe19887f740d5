"""Settings of one firmware that are nobody else's business: names, places, serial numbers."""

import re
from collections.abc import Iterable, Sequence
from typing import TypeVar

from cfgaudit.craft.names import covers
from cfgaudit.craft.settings import Raw, Stated
from cfgaudit.craft.vocabulary import declared_anywhere
from cfgaudit.dialects.raw import Leftover, key_depths

_WORD = re.compile(r"[^./ ]+")
E = TypeVar("E", Stated, Raw)


def mark_secret(entries: dict[str, E], patterns: Iterable[str]) -> dict[str, E]:
    """Mark, in place, the entries whose path or key one of the patterns covers."""
    for pattern in patterns:
        for name in [name for name in entries if covers(pattern, name)]:
            entries[name] = entries[name]._replace(secret=True)
    return entries


def mark_secret_pairs(
    pairs: Iterable[tuple[Stated, Stated]], patterns: Sequence[str]
) -> tuple[tuple[Stated, Stated], ...]:
    """Pairs of values that were stated for one path, each marked where its path is secret."""
    return tuple(
        (one._replace(secret=True), other._replace(secret=True))
        if any(covers(pattern, one.path) for pattern in patterns)
        else (one, other)
        for one, other in pairs
    )


def is_secret_path(path: str, patterns: Iterable[str]) -> bool:
    """Whether a setting is secret, by the vocabulary or by a dialect's patterns."""
    known = declared_anywhere(path)
    by_vocabulary = known is not None and known.traits.secret
    return by_vocabulary or any(covers(pattern, path) for pattern in patterns)


def secret_depths(leftovers: Sequence[Leftover], patterns: Sequence[str]) -> dict[str, int]:
    """For each first word of a secret line, how many further words belong to its key.

    A key is shown where its value is hidden, so it ends with the words that a pattern names.
    """
    found: dict[str, int] = {}
    for head, depth in key_depths(leftovers).items() if patterns else ():
        count = len(_WORD.findall(head))
        for pattern in patterns:
            words = _WORD.findall(pattern)
            if covers(" ".join(words[:count]), head):
                found[head] = min(found.get(head, depth), max(0, len(words) - count))
    return found
