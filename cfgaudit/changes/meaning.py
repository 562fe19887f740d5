"""What a value means, apart from how it was reckoned or in which order it was said."""

import math
from collections.abc import Hashable

from cfgaudit.changes.model import Entry
from cfgaudit.craft.settings import Raw
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.craft.versions import version_meaning

DIGITS = 12  # far below what a dump can say, far above the noise of a change of unit


def meaning(value: Value) -> Hashable:
    """A key that is equal for two values if they mean the same.

    Numbers are equal to twelve digits, whole or not. The order of switch ranges means nothing,
    nor does that of filter stages in series; that of plain numbers does (a band's channels).

    >>> meaning(57.6 * 1000) == meaning(57600), meaning(True) == meaning(1)
    (True, False)
    """
    if isinstance(value, bool):
        return "bool", value
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, str | frozenset):
        return value
    if all(isinstance(element, int | float) for element in value):
        return tuple(_element(element) for element in value)
    return tuple(sorted((_element(element) for element in value), key=repr))


def entry_meaning(entry: Entry | None) -> Hashable:
    """The same for a whole entry: a doubtful value differs from one that can be trusted.

    A raw value means its text, since nothing is known of it.
    """
    if entry is None:
        return None
    if isinstance(entry, Raw):
        return "raw", entry.value
    if entry.path == "firmware.version":
        return "stated", version_meaning(str(entry.value)), bool(entry.doubt)
    return "stated", meaning(entry.value), bool(entry.doubt)


def _element(element: SwitchRange | Filter | float) -> Hashable:
    if isinstance(element, SwitchRange):
        return "range", element.channel, _number(element.low), _number(element.high)
    if isinstance(element, Filter):
        return "filter", element.kind, _number(element.cutoff), _number(element.q)
    return _number(element)


def settled(value: float) -> float:
    """A number cut to what can be meant, without the noise of a change of unit.

    >>> settled(0.1 + 0.2), settled(1500)
    (0.3, 1500)
    """
    if isinstance(value, int) or not math.isfinite(value):
        return value
    return float(f"{round(value, DIGITS):.{DIGITS}g}") + 0.0  # no minus nought


def _number(value: float) -> Hashable:
    """A settled number; what is not a number equals itself here."""
    return "number", "nan" if value != value else settled(value)
