"""Below the screen of `check`: what the baseline has that is found no more."""

from collections.abc import Sequence

from cfgaudit.audit.baseline import BaselineEntry, Compared
from cfgaudit.reports.screen import Piece, Screen


def baseline_lines(screen: Screen, compared: Compared) -> None:
    """The entries that are gone, and those of which nobody knows."""
    _entries(
        screen, "In the baseline, and found no more (--update-baseline takes out)", compared.gone
    )
    _entries(
        screen,
        "In the baseline, and not found now that their rules lack settings",
        compared.unsure,
    )


def _entries(screen: Screen, title: str, entries: Sequence[BaselineEntry]) -> None:
    if not entries:
        return
    screen.blank()
    screen.line(Piece(title, "strong"))
    for entry in entries:
        screen.line(f"  {entry.level.ljust(8)}{entry.rule}  {', '.join(entry.dumps)}")
        screen.paragraph(entry.message, indent=4)
