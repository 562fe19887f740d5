"""Where in a file something stands."""

from typing import NamedTuple


class Place(NamedTuple):
    """A stretch of one line. Lines and columns count from 1; `end` is the column behind it.

    `column` is 0 where a whole line is meant.
    """

    file: str
    line: int
    column: int = 0
    end: int = 0

    def __str__(self) -> str:
        return (
            f"{self.file}:{self.line}:{self.column}" if self.column else f"{self.file}:{self.line}"
        )
