"""Hides what nobody else should read: in every report, unless it is asked for."""

from dataclasses import replace
from typing import TypeVar

from cfgaudit.craft.declare import HIDDEN
from cfgaudit.craft.settings import Raw, Settings, Stated
from cfgaudit.craft.vocabulary import declared_anywhere

E = TypeVar("E", bound=Stated | Raw | None)


def mask(entry: E) -> E:
    """The entry with its value hidden, if the vocabulary marks it secret."""
    if not isinstance(entry, Stated):
        return entry
    found = declared_anywhere(entry.path)
    if found is None or not found.traits.secret:
        return entry
    return entry._replace(value=HIDDEN, text=HIDDEN)


def masked_settings(settings: Settings) -> Settings:
    """The settings with every secret hidden."""
    stated = {path: mask(entry) for path, entry in settings.stated.items()}
    repeats = tuple((mask(holds), mask(other)) for holds, other in settings.repeats)
    return replace(settings, stated=stated, repeats=repeats)
