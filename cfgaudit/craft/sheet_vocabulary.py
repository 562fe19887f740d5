"""The build sheet's vocabulary as a list; apart from the craft's, so that no dump states it."""

from functools import cache, lru_cache

from cfgaudit.craft.sheet import ROOT, Sheet
from cfgaudit.craft.vocabulary import Declared, matching, patterns_of


@cache
def sheet_vocabulary() -> tuple[Declared, ...]:
    """Every setting of the build sheet, in the order of declaration."""
    return tuple(patterns_of(Sheet, ROOT))


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
