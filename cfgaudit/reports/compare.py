"""What `compare` tells of several craft side by side: on the screen, and as data."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any, NamedTuple

from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.changes.diff import RowOfCraft
from cfgaudit.reading.safe import safe
from cfgaudit.reports.check import generic_lines, note_lines, together_json, together_lines
from cfgaudit.reports.data import VERSION, class_json, entry_json
from cfgaudit.reports.diff import entry_text, title_of
from cfgaudit.reports.screen import Piece, Screen, cells, longest_word, padded, wrapped
from cfgaudit.reports.secrets import hidden_together
from cfgaudit.reports.wording import counted
from cfgaudit.settings import Settings, Stated


class Comparison(NamedTuple):
    """Several craft: the names of the columns, their dumps by file, the rows, all together."""

    names: Sequence[str]
    files: Sequence[str]
    crafts: Sequence[Settings]
    rows: Sequence[RowOfCraft]
    fleet: FleetAudit
    left_out: int = 0  # settings of pads and timers, where the boards are not the same


def masked_row(row: RowOfCraft) -> RowOfCraft:
    """The row of a comparison with its cells hidden, if one of them is a secret."""
    return replace(row, cells=tuple(hidden_together(row.cells)))


def compare_screen(told: Comparison, width: int, most: int | None = None) -> Screen:
    """A row a setting that differs, a column a craft; a craft that stands alone has a star.

    At `most` so many rows are told.
    """
    screen = Screen(width)
    note_lines(screen, *told.crafts)
    generic_lines(screen, told.files, told.crafts)
    screen.blank()
    listed = told.rows[:most]
    widths = _column_widths(told.names, listed, width)
    beside = sum(widths) + 2 * len(told.names) <= width
    if beside:
        _row_lines(screen, widths, ["", *[Piece(name, "strong") for name in told.names]])
    for title, rows in groupby(listed, lambda row: title_of(row).partition(":")[0]):
        screen.heading(title)
        for row in rows:
            values = [_cell(row, index) for index in range(len(told.names))]
            if beside:
                _row_lines(screen, widths, [f"  {row.path}", *values])
            else:
                _row_below(screen, told.names, row.path, values)
    screen.blank()
    stars = " A star marks a craft that alone differs from all the others."
    said = counted(len(told.rows), "setting") + (" differs." if len(told.rows) == 1 else " differ.")
    screen.say(said + stars * (len(told.names) > 2))
    if told.left_out:
        screen.say(
            f"The boards differ: {counted(told.left_out, 'setting')} of pads and timers not "
            "compared (--everything)."
        )
    if told.fleet.findings or told.fleet.not_checked or told.fleet.waived:
        together_lines(screen, told.fleet)
    return screen


def _row_below(screen: Screen, names: Sequence[str], path: str, values: Sequence[Piece]) -> None:
    """One row where the screen is too narrow for columns: the path, then who has which value."""
    holders: dict[str, list[str]] = {}
    for name, value in zip(names, values, strict=True):
        holders.setdefault(value.text, []).append(name)
    told = "; ".join(f"{value}: {', '.join(who)}" for value, who in holders.items())
    screen.beside(f"  {path}", "  ", told, indent=4)


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
    text = entry_text(entry)
    if row.odd == index:
        return Piece(f"{text} *", "strong")
    return Piece(text, "quiet" if entry is None else "")


def compare_json(told: Comparison) -> dict[str, Any]:
    """The whole output of compare."""
    return {
        "version": VERSION,
        "craft": list(told.names),
        "rows": [row_json(row) for row in told.rows],
        "fleet": together_json(told.fleet),
    }


def row_json(row: RowOfCraft) -> dict[str, Any]:
    """One setting of several craft."""
    return {
        "path": row.path,
        "raw": row.raw,
        "class": class_json(row.cls),
        "craft_own": row.craft_own,
        "values": [entry_json(cell) for cell in row.cells],
        "origins": [cell.origin.value if isinstance(cell, Stated) else None for cell in row.cells],
        "odd": row.odd,
    }
