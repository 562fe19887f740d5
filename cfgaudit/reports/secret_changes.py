"""Hides secrets in changes and comparisons, as secrets.py does in settings."""

from dataclasses import replace

from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.changes.model import Added, Change, Removed
from cfgaudit.reports.secrets import mask


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
