"""How a value is spelled in its dump: the same value in another unit or word is told by it."""

from cfgaudit.changes.model import Entry
from cfgaudit.craft.settings import Origin, Stated


def spelled(entry: Entry | None) -> tuple[str, ...]:
    """The words and numbers that a dump has for a value, in no order; none where none are known.

    How a number is padded, or a word quoted, is no spelling: 0350 and 350.0 are one.

    >>> spelled(Stated("a", 1.0, text="0350 cV, x")) == spelled(Stated("a", 1.0, text="X, 350 cV"))
    True
    """
    if not isinstance(entry, Stated) or entry.origin is not Origin.DUMP:
        return ()
    parts = entry.text.casefold().replace(",", " ").replace('"', " ").split()
    return tuple(sorted(_settled(part) for part in parts))


def _settled(part: str) -> str:
    try:
        return f"{float(part):g}"
    except ValueError:
        return part
