"""What `confirm` tells: what did not take, what was rounded, how many took; screen and data."""

from collections.abc import Sequence
from typing import Any

from cfgaudit.reports.data import head, place_json
from cfgaudit.reports.lines import parts_of, typed_lines, unsaved_in
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import PROPELLERS, counted
from cfgaudit.work.confirm import TOOK, Again, Confirmation, Confirmed, ReadBack

NOTHING = "What is intended states no setting that could be confirmed"
_TITLES = {
    ReadBack.IGNORED: (
        "error",
        "Ignored: it still has what it had, or what the firmware comes with",
    ),
    ReadBack.CLAMPED: ("error", "Clamped: stopped at a limit"),
    ReadBack.OTHER: ("error", "Another value"),
    ReadBack.LACKING: ("error", "Lacking: not read back at all"),
    ReadBack.ROUNDED: ("note", "Rounded to the firmware's own steps, which is no difference"),
}


def confirm_screen(
    names: tuple[str, str], found: Confirmation, once_more: Again, *, width: int
) -> Screen:
    """The whole screen; first whether the dump read back is whole and of this craft."""
    screen = Screen(width)
    screen.say(f"Intended: {names[0]}. Read back: {names[1]}.")
    for doubt in found.doubts:
        screen.line(Piece("Look first", "error"))
        screen.paragraph(f"{names[1]}: {doubt}.", indent=2)
    if found.unread:
        screen.heading("Not confirmed: not understood", "error")
    for line in found.unread:
        screen.paragraph(f"{line.place}  {line.why}" if line.place else line.why, indent=2)
    for fate, (style, title) in _TITLES.items():
        entries = [entry for entry in found.entries if entry.fate is fate]
        _group(screen, title, style, entries)
    renamed = [entry for entry in found.entries if entry.renamed]
    if renamed:
        screen.heading("Read back under another name", "note")
        for entry in renamed:
            screen.paragraph(f"{entry.path}: now {entry.renamed}", indent=2)
    screen.blank()
    screen.say(verdict(found))
    if found.amiss:
        _again_lines(screen, once_more)
        screen.say(f"{PROPELLERS} Then read back once more.")
        if unsaved := unsaved_in(once_more.changes):
            screen.say(unsaved)
    return screen


def _again_lines(screen: Screen, once_more: Again) -> None:
    """The lines to type again, at the screen's end."""
    for change in once_more.changes:
        screen.heading("To be typed again")
        typed_lines(screen, change.forth)
    if once_more.by_hand:
        screen.heading("Of the lines without a neutral meaning, as they were meant")
        for line in once_more.by_hand:
            screen.typed(line)
    for path, why in once_more.refused.items():
        screen.paragraph(f"{path} can't be written: {why}", indent=2)
    screen.blank()


def _group(screen: Screen, title: str, style: str, entries: Sequence[Confirmed]) -> None:
    if not entries:
        return
    screen.heading(title, style)
    for entry in entries:
        place = f"  {entry.found_at}" if entry.found_at else ""
        screen.paragraph(f"{entry.path}{place}", indent=2)
        text = f"intended {entry.intended}, read back {entry.found}"
        if not entry.found:
            text = f"intended {entry.intended}"
        screen.paragraph(f"{text}: {entry.why}" if entry.why else text, indent=6)


def verdict(found: Confirmation) -> str:
    """How many settings took and how many did not, counted as `show` counts them; then lines."""
    settings = [entry for entry in found.entries if not entry.raw]
    lines = [entry for entry in found.entries if entry.raw]
    rest = _of_lines(lines, found)
    if found.unmeant and found.entries:
        more = f"{found.unmeant} more {'is' if found.unmeant == 1 else 'are'}"
        rest += f" {more} the firmware's own to write, or hidden."
    if found.unread:
        rest += f" {counted(len(found.unread), 'line')} of what is intended could not be confirmed."
    if not found.entries:
        return f"{NOTHING}.{rest}"
    amiss = sum(entry.fate not in TOOK for entry in settings)
    if amiss:
        return f"{amiss} of {counted(len(settings), 'intended setting')} did not take.{rest}"
    every = "Every other intended setting" if found.unread else f"All {len(settings)} intended"
    return f"{every}{'' if found.unread else ' settings'} took.{rest}" if settings else rest.strip()


def _of_lines(lines: Sequence[Confirmed], found: Confirmation) -> str:
    """What became of the lines without a neutral meaning."""
    some = counted(len(lines) or found.uncompared, "line") + " without a neutral meaning"
    if found.uncompared:
        return f" {some} could not be compared."
    amiss = sum(entry.fate not in TOOK for entry in lines)
    if amiss:
        return f" Of {some} {amiss} did not take."
    return f" Of {some} all took." if lines else ""


def confirm_json(names: tuple[str, str], found: Confirmation, once_more: Again) -> dict[str, Any]:
    """The whole output of confirm."""
    return {
        **head(),
        "intended": names[0],
        "read_back": names[1],
        "settings": [_entry(entry) for entry in found.entries],
        "amiss": len(found.amiss),
        "not_compared": found.uncompared,
        "doubts": list(found.doubts),
        "not_confirmed": [{"why": one.why, "place": place_json(one.place)} for one in found.unread],
        "again": {
            "lines": [line for change in once_more.changes for line in parts_of(change.forth)],
            "saves": all(change.saves for change in once_more.changes),
            "by_hand": list(once_more.by_hand),
            "refused": dict(once_more.refused),
        },
    }


def _entry(entry: Confirmed) -> dict[str, Any]:
    return {
        "path": entry.path,
        "raw": entry.raw,
        "fate": entry.fate.value,
        "took": entry.fate in TOOK,
        "intended": entry.intended,
        "found": entry.found or None,
        "why": entry.why,
        "renamed": entry.renamed or None,
        "intended_place": place_json(entry.intended_at),
        "found_place": place_json(entry.found_at),
    }
