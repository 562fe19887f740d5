"""Hides secrets in changes and comparisons, as secrets.py does in settings."""

from dataclasses import replace

from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.changes.diff import Added, Change, Removed
from cfgaudit.reports.secrets import hide, is_secret, mask


def masked_change(change: Change) -> Change:
    """The change with both sides hidden, if one of them is a secret."""
    if isinstance(change, Added):
        return replace(change, new=mask(change.new))
    if isinstance(change, Removed):
        return replace(change, old=mask(change.old))
    if not (is_secret(change.old) or is_secret(change.new)):
        return change
    return replace(change, old=hide(change.old), new=hide(change.new), parts=())


def masked_row(row: RowOfCraft) -> RowOfCraft:
    """The row of a comparison with its cells hidden, if one of them is a secret."""
    if not any(cell is not None and is_secret(cell) for cell in row.cells):
        return row
    return replace(row, cells=tuple(hide(cell) for cell in row.cells))
