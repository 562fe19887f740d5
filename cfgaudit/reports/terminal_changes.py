"""The screens of `diff` and `compare`."""

from collections.abc import Sequence

from cfgaudit.audit.engine import Audit, Finding
from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.changes.diff import Added, Change, Changed, Entry, Removed, Renamed, Subject
from cfgaudit.dialects.plain import stated_text
from cfgaudit.reports.review import unsure
from cfgaudit.reports.safe import safe
from cfgaudit.reports.screen import Piece, Screen, cells, longest_word, padded, wrapped
from cfgaudit.reports.terminal_check import finding_lines, generic_lines, note_lines
from cfgaudit.settings import Origin, Settings, Stated

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
    audits: tuple[Audit, Audit],
    width: int,
    most: int | None = None,
) -> Screen:
    """Changes in order of risk, then the findings that they bring and clear; of each `most`."""
    screen = Screen(width)
    screen.line(Piece(names[0], "old"), "  to  ", Piece(names[1], "new"))
    crafts = [audit.settings for audit in audits]
    for settings in crafts:
        note_lines(screen, settings)
    generic_lines(screen, names, crafts)
    group = ""
    for change in changes[:most]:
        title = title_of(change)
        if title != group:
            screen.blank()
            screen.line(Piece(title, "strong"))
            group = title
        change_lines(screen, change)
    screen.blank()
    for finding in brought[:most]:
        screen.line(Piece("this change brings", "strong"))
        finding_lines(screen, finding)
        screen.blank()
    for finding in cleared[:most]:
        level = Piece(finding.level.value, "quiet")
        screen.line(Piece("this change clears  ", "strong"), level, f"  {finding.rule.id}")
        screen.paragraph(finding.message)
        if doubt := unsure(finding):
            screen.paragraph(doubt)
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
            f"{len(hidden) - foreign:,} more that belong to the one craft or count by themselves "
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


def stat_screen(changes: Sequence[Change], total: str, width: int) -> Screen:
    """How many changes there are of each class and subsystem, and in `total`."""
    counts: dict[tuple[str, str], int] = {}
    for change in changes:
        area = "" if change.raw else change.path.partition(".")[0]
        key = (title_of(change).partition(":")[0], area)
        counts[key] = counts.get(key, 0) + 1
    screen = Screen(width)
    head = tuple(Piece(name, "quiet") for name in ("touches", "area", "changes"))
    rows = [(title, area, f"{count:>7,}") for (title, area), count in counts.items()]
    if rows:
        screen.table([head, *rows])
        screen.blank()
    screen.paragraph(total, indent=0)
    return screen


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}" + ("" if count == 1 else "s")


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


def compare_screen(
    names: Sequence[str],
    rows: Sequence[RowOfCraft],
    crafts: Sequence[tuple[str, Settings]],
    width: int,
    most: int | None = None,
) -> Screen:
    """A row a setting that differs, a column a craft; a craft that stands alone has a star.

    `crafts` are the dumps by file. At `most` so many rows are told.
    """
    screen = Screen(width)
    for _, settings in crafts:
        note_lines(screen, settings)
    generic_lines(screen, [name for name, _ in crafts], [settings for _, settings in crafts])
    screen.blank()
    listed = rows[:most]
    widths = _column_widths(names, listed, width)
    beside = sum(widths) + 2 * len(names) <= width
    if beside:
        _row_lines(screen, widths, ["", *[Piece(name, "strong") for name in names]])
    group = ""
    for row in listed:
        title = title_of(row).partition(":")[0]
        if title != group:
            screen.blank()
            screen.line(Piece(title, "strong"))
            group = title
        cells_of_row = [_cell(row, index) for index in range(len(names))]
        if beside:
            _row_lines(screen, widths, [f"  {row.path}", *cells_of_row])
        else:
            _row_below(screen, names, row.path, cells_of_row)
    screen.blank()
    stars = (
        " A star marks a craft that alone differs from all the others." if len(names) > 2 else ""
    )
    said = _counted(len(rows), "setting") + (" differs." if len(rows) == 1 else " differ.")
    screen.paragraph(said + stars, indent=0)
    return screen


def _row_below(screen: Screen, names: Sequence[str], path: str, values: Sequence[Piece]) -> None:
    """One row where the screen is too narrow for columns: the path, then a line a craft."""
    screen.line(f"  {path}")
    screen.table(list(zip(names, values, strict=True)), indent=4, wraps=1)


def _column_widths(names: Sequence[str], rows: Sequence[RowOfCraft], width: int) -> list[int]:
    """The path's column, then the craft's: as wide as needed, and together no wider than asked.

    Where the longest words alone are wider than that, so are the columns.
    """
    texts = [[name, *[_cell(row, i).text for row in rows]] for i, name in enumerate(names)]
    longest = [max(cells(safe(text)) for text in column) for column in texts]
    words = [max(longest_word(text) for text in column) for column in texts]
    path = max([cells(safe(row.path)) for row in rows], default=0) + 2
    room = width - 2 * len(names)
    if path + sum(longest) <= room:
        return [path, *longest]
    path = max(24, min(path, room - sum(words)))
    return [path, *_shared_out(words, longest, room - path)]


def _shared_out(least: Sequence[int], most: Sequence[int], room: int) -> list[int]:
    """Widths between the least and the most, each a little at a time, the narrowest first."""
    widths = list(least)
    while sum(widths) < room:
        growing = [n for n in range(len(widths)) if widths[n] < most[n]]
        if not growing:
            break
        widths[min(growing, key=lambda n: widths[n])] += 1
    return widths


def _row_lines(screen: Screen, widths: Sequence[int], values: Sequence[Piece | str]) -> None:
    """One row; a cell too long for its column goes on below, a path too long has its own line."""
    pieces = [Piece(cell) if isinstance(cell, str) else cell for cell in values]
    if cells(safe(pieces[0].text)) > widths[0]:
        screen.line(pieces[0])
        pieces[0] = Piece("")
    parts_of = [
        [safe(pieces[0].text)],
        *[wrapped(p.text, width) for p, width in zip(pieces[1:], widths[1:], strict=True)],
    ]
    for number in range(max(len(parts) for parts in parts_of)):
        screen.line(
            *(
                Piece(padded(parts[number] if number < len(parts) else "", width + 2), piece.style)
                for parts, width, piece in zip(parts_of, widths, pieces, strict=True)
            )
        )


def _cell(row: RowOfCraft, index: int) -> Piece:
    entry = row.cells[index]
    text = "not stated" if entry is None else entry_text(entry)
    if row.odd == index:
        return Piece(f"{text} *", "strong")
    return Piece(text, "quiet" if entry is None else "")
