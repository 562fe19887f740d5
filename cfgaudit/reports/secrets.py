"""Hides what nobody else should read: in every report, unless it is asked for."""

from dataclasses import replace
from typing import TypeVar

from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.changes.model import Added, Change, Entry, Removed
from cfgaudit.craft.settings import Settings, Stated
from cfgaudit.craft.vocabulary import declared

HIDDEN = "(hidden)"
E = TypeVar("E", bound=Entry | None)


def mask(entry: E) -> E:
    """The entry with its value hidden, if the vocabulary marks it secret."""
    if not isinstance(entry, Stated):
        return entry
    found = declared(entry.path)
    if found is None or not found.traits.secret:
        return entry
    return replace(entry, value=HIDDEN, text=HIDDEN)


def masked_settings(settings: Settings) -> Settings:
    """The settings with every secret hidden."""
    return replace(settings, stated={path: mask(entry) for path, entry in settings.stated.items()})


def masked_change(change: Change) -> Change:
    """The change with both sides hidden, if it is about a secret."""
    if isinstance(change, Added):
        return replace(change, new=mask(change.new))
    if isinstance(change, Removed):
        return replace(change, old=mask(change.old))
    return replace(change, old=mask(change.old), new=mask(change.new))


def masked_row(row: RowOfCraft) -> RowOfCraft:
    """The row of a comparison with its cells hidden, if it is about a secret."""
    return replace(row, cells=tuple(mask(cell) for cell in row.cells))
