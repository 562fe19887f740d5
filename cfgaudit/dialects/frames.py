"""Open contexts of a dump: which lines may stand in them, and the indices that they bind."""

import re
from collections.abc import Mapping
from typing import NamedTuple

from cfgaudit.dialects.model import Node
from cfgaudit.dialects.template import Bound

_SMALL = re.compile(r"-?[0-9]{1,9}")
_NO_BINDS: Mapping[str, str] = {}


class Frame(NamedTuple):
    """An open section, block or group: its lines, the indices it binds, its name for people."""

    node: Node | None
    form: type | None = None
    binds: Mapping[str, str] = _NO_BINDS
    name: str = ""
    under: tuple[tuple[type, str], ...] = ()  # the opening lines around it and its own


def bound_indices(bound: Bound, lists: Mapping[str, Mapping[str, str]]) -> dict[str, str] | None:
    """The indices that a line binds, in neutral words; None where a word is unknown.

    `lists` are the dialect's word lists: the dump's word to ours.
    """
    found: dict[str, str] = {}
    for holder, span in bound:
        if not holder.is_index:
            continue
        table = lists.get(holder.spec.table)
        if table is not None:
            if span.text not in table:
                return None
            found[holder.target] = table[span.text]
        elif holder.spec.base != 1:
            if not _SMALL.fullmatch(span.text):
                return None
            found[holder.target] = str(int(span.text) + 1 - holder.spec.base)
        else:
            found[holder.target] = span.text
    return found


def resolved(path: str, binds: Mapping[str, str]) -> str:
    """The path with its capital indices filled in."""
    if not any(word in path for word in binds):
        return path
    before, bracket, rest = path.partition("[")
    filled = ".".join(binds.get(word, word) for word in before.split("."))
    if not bracket:
        return filled
    label, _, part = rest.partition("]")
    return f"{filled}[{binds.get(label, label)}]{part}"
