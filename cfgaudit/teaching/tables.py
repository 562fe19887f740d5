"""Rows of cells: whether they are records under a head row, or items with a name and a value."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cfgaudit.reading.shapes import Span
from cfgaudit.teaching.scopes import Entry
from cfgaudit.units import is_unit

_UNIT_TITLES = frozenset({"unit", "units", "measure", "in", "dimension"})
_STEP_TITLES = frozenset({"step", "steps", "scale", "factor", "per", "resolution"})


@dataclass(frozen=True)
class Table:
    """The rows of one scope, the titles of their columns, and what sort of table it is."""

    header: tuple[str, ...]
    rows: tuple[Entry, ...]
    title: str  # the head row as it stands, empty where there is none
    items: bool  # each row is a setting of its own: a name and a value

    def unit_and_step(self, cells: Sequence[Span]) -> tuple[str, str]:
        """The unit and the step that an item's further cells state."""
        unit, step = "", ""
        for number, span in enumerate(cells[2:], 2):
            title = self.header[number].casefold() if number < len(self.header) else ""
            if is_unit(span.text) and title not in _STEP_TITLES and not unit:
                unit = span.text
            elif title not in _UNIT_TITLES and _is_fraction(span.text) and not step:
                step = span.text
        return unit, step


def table_of(rows: Sequence[Entry]) -> Table | None:
    """The table that rows make, or None where there are too few to say."""
    if not rows:
        return None
    first = rows[0].parts
    alike = len(rows) > 1 and (len(first) == len(rows[1].parts) or _has_number(rows[1].parts))
    titled = alike and not _has_number(first) and all(_is_title(span.text) for span in first)
    titled = titled and not any(_kind(span.text) == "sign" for span in first[1:])
    header = tuple(span.text for span in first) if titled else ()
    body = tuple(rows[1:]) if titled else tuple(rows)
    title = rows[0].line if titled else ""
    return Table(header, body, title, _are_items(header, body)) if body else None


def _has_number(cells: Sequence[Span]) -> bool:
    return any(_kind(span.text) == "number" for span in cells)


def _is_title(text: str) -> bool:
    return bool(text) and text[0].isalpha()


def _are_items(header: tuple[str, ...], rows: Sequence[Entry]) -> bool:
    titles = {title.casefold() for title in header}
    if titles & _UNIT_TITLES:
        return True
    units = sum(any(is_unit(span.text) for span in row.parts[2:]) for row in rows)
    if units * 3 > len(rows):
        return True
    kinds = {_kind(row.parts[1].text) for row in rows if len(row.parts) > 1} - {"nothing"}
    return len(rows[0].parts) == 2 and len(kinds) >= 2 and len(rows) >= 3


def _kind(text: str) -> str:
    if _is_fraction(text):
        return "number"
    if text.casefold() in ("yes", "no", "on", "off", "true", "false", "y", "n"):
        return "sign"
    return "nothing" if text in ("", "-", "~") else "word"


def _is_fraction(text: str) -> bool:
    try:
        Fraction(text)
    except (ValueError, ZeroDivisionError):
        return False
    return True
