"""The screens of `diff` and `compare`."""

import textwrap
from collections.abc import Sequence

from cfgaudit.audit.engine import Finding
from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.changes.model import Added, Change, Changed, Entry, Removed, Renamed, Subject
from cfgaudit.craft.settings import Origin, Stated
from cfgaudit.dialects.plain import stated_text
from cfgaudit.reports.safe import safe
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_check import finding_lines

_TOUCHES = {
    0: "safety: can make the craft fly away, flip or not stop",
    1: "power: battery and its warnings",
    2: "control: how it flies",
    3: "radio: what it sends and where",
    4: "comfort",
    5: "identity",
}


def diff_screen(
    changes: Sequence[Change],
    hidden: Sequence[Change],
    brought: Sequence[Finding],
    cleared: Sequence[Finding],
    *,
    names: tuple[str, str],
    width: int,
) -> Screen:
    """Changes in order of risk, then the findings that they bring and clear."""
    screen = Screen(width)
    screen.line(Piece(names[0], "old"), "  to  ", Piece(names[1], "new"))
    group = ""
    for change in changes:
        title = title_of(change)
        if title != group:
            screen.blank()
            screen.line(Piece(title, "strong"))
            group = title
        change_lines(screen, change)
    screen.blank()
    for finding in brought:
        screen.line(Piece("this change brings", "strong"))
        finding_lines(screen, finding)
        screen.blank()
    for finding in cleared:
        level = Piece(finding.level.value, "quiet")
        screen.line(Piece("this change clears  ", "strong"), level, f"  {finding.rule.id}")
        screen.paragraph(finding.message)
    screen.blank()
    screen.paragraph(summary(changes, hidden, brought, cleared), indent=0)
    return screen


def summary(
    changes: Sequence[Change],
    hidden: Sequence[Change],
    brought: Sequence[Finding],
    cleared: Sequence[Finding],
) -> str:
    """Everything in one line."""
    said = [_counted(len(changes), "change")] if changes else ["No change"]
    foreign = sum(change.raw and not change.volatile for change in hidden)
    if len(hidden) > foreign:
        said.append(
            f"{len(hidden) - foreign} more that belong to the one craft or count by themselves "
            "(--all)"
        )
    if foreign:
        said.append(
            f"{_counted(foreign, 'line')} without a neutral meaning not compared, since the dumps "
            "are of two dialects (--all)"
        )
    if brought:
        said.append(f"{_counted(len(brought), 'finding')} brought")
    if cleared:
        said.append(f"{_counted(len(cleared), 'finding')} cleared")
    return ", ".join(said) + "."


def stat_screen(changes: Sequence[Change], width: int) -> Screen:
    """How many changes there are of each class and subsystem."""
    counts: dict[tuple[str, str], int] = {}
    for change in changes:
        area = "" if change.raw else change.path.partition(".")[0]
        key = (title_of(change).partition(":")[0], area)
        counts[key] = counts.get(key, 0) + 1
    screen = Screen(width)
    screen.table((title, area, f"{count:>4}") for (title, area), count in counts.items())
    return screen


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" + ("" if count == 1 else "s")


def title_of(about: Subject) -> str:
    """The group that a change or row is listed in: its class, and what such settings touch."""
    if about.raw:
        return "lines without a neutral meaning"
    return _TOUCHES.get(about.cls, "other") if about.cls is not None else "other"


def change_lines(screen: Screen, change: Change) -> None:
    """One change: its sign, its path, its values."""
    if isinstance(change, Added):
        screen.line("  + ", change.path, "  ", Piece(entry_text(change.new), "new"))
    elif isinstance(change, Removed):
        screen.line("  - ", change.path, "  ", Piece(entry_text(change.old), "old"))
    elif isinstance(change, Renamed):
        guess = "  (a guess: same value, like name)" if change.guess else ""
        screen.line("  ~ ", change.old_path, " is now ", change.path, Piece(guess, "quiet"))
        if not change.guess and entry_text(change.old) != entry_text(change.new):
            _from_to(screen, change.old, change.new, "    ")
    else:
        _changed_lines(screen, change)


def _changed_lines(screen: Screen, change: Changed) -> None:
    old, new = entry_text(change.old), entry_text(change.new)
    if len(change.path) + len(old) + len(new) + 14 <= screen.width:
        screen.line("  ~ ", change.path, "  ", Piece(old, "old"), " to ", Piece(new, "new"))
    else:
        screen.line("  ~ ", change.path)
        _from_to(screen, change.old, change.new, "      ")
    for part in change.parts:
        screen.paragraph(part, indent=6)


def _from_to(screen: Screen, old: Entry, new: Entry, indent: str) -> None:
    screen.line(indent, Piece(entry_text(old), "old"))
    screen.line(indent, "to ", Piece(entry_text(new), "new"))


def entry_text(entry: Entry) -> str:
    """A value as it is shown in a list of changes."""
    if not isinstance(entry, Stated):
        return entry.value or "(stated)"
    return stated_text(entry) + (" (factory)" if entry.origin is Origin.FACTORY else "")


def compare_screen(names: Sequence[str], rows: Sequence[RowOfCraft], width: int) -> Screen:
    """A row a setting that differs, a column a craft; a craft that stands alone has a star."""
    screen = Screen(width)
    widths = _column_widths(names, rows, width)
    _row_lines(screen, widths, ["", *[Piece(name, "strong") for name in names]])
    group = ""
    for row in rows:
        title = title_of(row).partition(":")[0]
        if title != group:
            screen.blank()
            screen.line(Piece(title, "strong"))
            group = title
        cells = [_cell(row, index) for index in range(len(names))]
        _row_lines(screen, widths, [f"  {row.path}", *cells])
    screen.blank()
    stars = (
        " A star marks a craft that alone differs from all the others." if len(names) > 2 else ""
    )
    said = _counted(len(rows), "setting") + (" differs." if len(rows) == 1 else " differ.")
    screen.paragraph(said + stars, indent=0)
    return screen


def _column_widths(names: Sequence[str], rows: Sequence[RowOfCraft], width: int) -> list[int]:
    """The path's column, then the craft's: as wide as needed, and together no wider than asked."""
    texts = [[name, *[_cell(row, i).text for row in rows]] for i, name in enumerate(names)]
    longest = [max(len(text) for text in column) for column in texts]
    words = [max(len(word) for text in column for word in text.split()) for column in texts]
    path = max([len(row.path) for row in rows], default=0) + 2
    room = width - 2 * len(names)
    if path + sum(longest) <= room:
        return [path, *longest]
    path = max(24, min(path, room - sum(words)))
    spare = max(0, room - path - sum(words))
    widths = list(words)
    for index in sorted(range(len(names)), key=lambda index: longest[index] - words[index]):
        given = min(longest[index] - words[index], spare)
        widths[index] += given
        spare -= given
    return [path, *widths]


def _row_lines(screen: Screen, widths: Sequence[int], cells: Sequence[Piece | str]) -> None:
    """One row; a cell too long for its column goes on below, a path too long has its own line."""
    pieces = [Piece(cell) if isinstance(cell, str) else cell for cell in cells]
    if len(pieces[0].text) > widths[0]:
        screen.line(pieces[0])
        pieces[0] = Piece("")
    wrapped = [
        [pieces[0].text],
        *[
            textwrap.wrap(safe(piece.text), width, break_on_hyphens=False) or [""]
            for piece, width in zip(pieces[1:], widths[1:], strict=True)
        ],
    ]
    for number in range(max(len(parts) for parts in wrapped)):
        line = [
            Piece((parts[number] if number < len(parts) else "").ljust(width + 2), piece.style)
            for parts, width, piece in zip(wrapped, widths, pieces, strict=True)
        ]
        screen.line(*line)


def _cell(row: RowOfCraft, index: int) -> Piece:
    entry = row.cells[index]
    text = "not stated" if entry is None else entry_text(entry)
    if row.odd == index:
        return Piece(f"{text} *", "strong")
    return Piece(text, "quiet" if entry is None else "")
