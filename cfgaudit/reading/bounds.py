"""How much of a stranger's file is read, so that no file can hold the machine up."""

import sys
from typing import NamedTuple


class Bounds(NamedTuple):
    """The most that is read of one dump, and reported of it."""

    file_bytes: int = 16_000_000  # a thousand times a long dump
    line: int = 10_000  # characters; a longer line is kept, and said to be unread
    depth: int = 64  # blocks inside of each other; deeper ones are said to be unread
    findings: int = 1_000  # shown of one dump; more are counted


BOUNDS = Bounds()
NO_BOUNDS = Bounds(sys.maxsize, sys.maxsize, sys.maxsize, sys.maxsize)
