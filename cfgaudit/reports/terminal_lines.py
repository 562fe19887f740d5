"""A change as lines to type in, with those that take it back; on the screens that offer one."""

from collections.abc import Sequence

from cfgaudit.dialects.editor import LineChange, TypedLines
from cfgaudit.reports.screen import Piece, Screen

PROPELLERS = "Propellers off while settings are changed."


def change_lines(
    screen: Screen,
    changes: Sequence[LineChange],
    written: Sequence[str],
    *,
    can_write: bool = True,
) -> None:
    """The lines of a change and its way back, and whether the files were edited, or can be."""
    several = len(changes) > 1
    for change in changes:
        which = f" ({change.file})" if several else ""
        screen.blank()
        screen.line(Piece(f"The change, as lines of {_language(change)}{which}", "strong"))
        _said(screen, change.forth)
        screen.blank()
        screen.line(Piece(f"To take it back{which}", "strong"))
        _said(screen, change.back)
    if changes:
        screen.blank()
        screen.paragraph(PROPELLERS, indent=0)
        if not can_write:
            return
        files = ", ".join(change.file for change in changes)
        told = f"Not written; --write edits {files} in place, and nothing else in it."
        if written:
            told = f"Written: {', '.join(written)}; every other byte is as it was."
        screen.paragraph(told, indent=0)


def _language(change: LineChange) -> str:
    return "the plain form" if change.dialect == "plain" else change.dialect


def _said(screen: Screen, said: TypedLines) -> None:
    for line in said.lines:
        for part in line.split("\n"):
            screen.line("    ", part)
    for text in said.unsaid:
        screen.paragraph(f"({text}.)", indent=4)
