"""The overlay's character grid.

Source: Maxim MAX7456 data sheet (published): 30 columns, 13 rows NTSC or 16 rows PAL.
Rows and columns count from 1 at the top left.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

COLUMNS: Final = 30
ROWS: Final[Mapping[str, int]] = {"ntsc": 13, "pal": 16}


@dataclass(frozen=True)
class Box:
    """A text box: top left cell, width and height in cells, each at least 1."""

    row: int
    column: int
    width: int
    height: int = 1

    def __post_init__(self) -> None:
        if self.width < 1 or self.height < 1:
            raise ValueError(f"a box needs a width and a height, not {self.width} x {self.height}")


def grid(standard: str) -> tuple[int, int]:
    """(columns, rows) of a standard; ValueError unless ntsc or pal."""
    try:
        return COLUMNS, ROWS[standard]
    except KeyError:
        raise ValueError(f"standard must be ntsc or pal, not {standard!r}") from None


def fits(box: Box, standard: str) -> bool:
    """Whether the whole box lies on the grid."""
    columns, rows = grid(standard)
    return (
        box.row >= 1
        and box.column >= 1
        and box.row + box.height - 1 <= rows
        and box.column + box.width - 1 <= columns
    )


def overlap(first: Box, second: Box) -> bool:
    """Whether two boxes share a cell; side by side is not sharing."""
    return (
        first.row < second.row + second.height
        and second.row < first.row + first.height
        and first.column < second.column + second.width
        and second.column < first.column + first.width
    )
