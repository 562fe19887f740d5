"""The limits that are a matter of taste: limits.toml, and a folder's own values for them."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple

from cfgaudit.craft.kinds import Quantity
from cfgaudit.craft.spelling import BadValue, read_value


class LimitError(ValueError):
    """A limit that can't be moved so; `name` is the limit's, the text says what is wrong."""

    def __init__(self, name: str, message: str) -> None:
        super().__init__(message)
        self.name = name


class Limit(NamedTuple):
    """Where a rule begins to speak: `value` is in `unit`; `origin` says who thinks so."""

    name: str  # area.what
    value: float
    unit: str
    says: str
    origin: str


Limits = Mapping[str, Limit]


@cache
def usual_limits() -> Limits:
    """The limits as the rule book has them, by name."""
    text = Path(__file__).with_name("limits.toml").read_text(encoding="utf-8")
    return {
        f"{area}.{what}": Limit(f"{area}.{what}", **entry)
        for area, entries in tomllib.loads(text).items()
        for what, entry in entries.items()
    }


def moved(limits: Limits, wanted: Mapping[str, str], origin: str) -> Limits:
    """The limits with some at other values, each spelled with its unit (`"3 %"`).

    `origin` says who moved them. Raises LimitError for a name that no limit has, and for a
    value that does not measure what the limit measures.

    >>> moved(usual_limits(), {"esc.idle_least": "3 %"}, "the club")["esc.idle_least"].value
    3.0
    """
    changed = dict(limits)
    for name, text in wanted.items():
        known = limits.get(name)
        if known is None:
            from difflib import get_close_matches

            near = get_close_matches(name, limits, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise LimitError(name, f"there is no limit {name!r}{hint}")
        try:
            value = read_value(Quantity(known.unit), text)
        except BadValue as error:
            raise LimitError(name, f"{name}: {error}") from None
        assert isinstance(value, float)
        changed[name] = known._replace(value=value, origin=origin)
    return changed
