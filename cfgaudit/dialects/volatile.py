"""Settings that move by themselves in one firmware: counters, dates, what is learnt at rest."""

import re
from collections.abc import Iterable
from typing import TypeVar

from cfgaudit.craft.names import covers
from cfgaudit.craft.settings import Raw, Stated

_START = re.compile(r"[^./ *]+")
E = TypeVar("E", Stated, Raw)


def mark_volatile(entries: dict[str, E], patterns: Iterable[str]) -> dict[str, E]:
    """Mark, in place, the entries whose path or key one of the patterns covers."""
    for pattern in patterns:
        start = _START.match(pattern)
        begins = start.group() if start else ""  # most names begin otherwise, and that is quick
        for name in [n for n in entries if n.startswith(begins) and covers(pattern, n)]:
            entries[name] = entries[name]._replace(volatile=True)
    return entries
