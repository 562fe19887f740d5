"""Several craft side by side: a row a setting that differs, and which craft alone has it so."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cfgaudit.changes.diff import StatedOrRaw, Subject, entry_meaning, sort_key, subject
from cfgaudit.settings import Settings


@dataclass(frozen=True, slots=True)
class RowOfCraft(Subject):
    """One setting that differs: a cell a craft in the order given, None where not stated.

    `odd` is the index of the one craft that differs where all others, at least two, agree.
    """

    cells: tuple[StatedOrRaw | None, ...]
    odd: int | None


def compare(
    crafts: Sequence[tuple[str, Settings]], *, everything: bool = False
) -> tuple[RowOfCraft, ...]:
    """The settings in which the craft differ, in the order of a diff.

    `crafts` are names with settings. What belongs to one craft alone (its calibration, its
    name) and what moves by itself is left out unless `everything` is asked for. A craft that
    does not state a setting differs from one that does.
    """
    tables: list[list[dict[str, StatedOrRaw]]] = [
        [dict(settings.stated) for _, settings in crafts],
        [dict(settings.raw) for _, settings in crafts],
    ]
    rows = [
        row
        for table in tables
        for path in dict.fromkeys(path for entries in table for path in entries)
        if (row := _row(tuple(entries.get(path) for entries in table))) is not None
    ]
    wanted = [row for row in rows if everything or not (row.craft_own or row.volatile)]
    return tuple(sorted(wanted, key=sort_key))


def odd_ones(crafts: Sequence[tuple[str, Settings]]) -> tuple[RowOfCraft, ...]:
    """The settings in which one craft stands alone among those that state it, at least three.

    Nothing is said of one that lacks a setting: boards and firmwares differ in what they have.
    Lines without a neutral meaning, and what belongs to one craft alone, are left out.
    """
    found: list[RowOfCraft] = []
    for row in compare(crafts):
        stating = [number for number, cell in enumerate(row.cells) if cell is not None]
        meanings = [entry_meaning(row.cells[number]) for number in stating]
        odd = _odd_one([meanings.count(held) for held in meanings])
        if odd is not None and not row.raw:
            found.append(replace(row, odd=stating[odd]))
    return tuple(found)


def _row(cells: tuple[StatedOrRaw | None, ...]) -> RowOfCraft | None:
    meanings = [entry_meaning(cell) for cell in cells]
    if len(set(meanings)) < 2:
        return None
    about = subject(next(cell for cell in cells if cell is not None))
    odd = _odd_one([meanings.count(held) for held in meanings])
    return RowOfCraft(about.path, about.cls, about.craft_own, about.raw, about.volatile, cells, odd)


def _odd_one(counts: list[int]) -> int | None:
    """The craft that stands alone, given how many craft hold each craft's value."""
    if len(counts) < 3 or sorted(counts) != [1, *[len(counts) - 1] * (len(counts) - 1)]:
        return None
    return counts.index(1)
