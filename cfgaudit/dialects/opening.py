"""From a dump's bytes to its settings: recognise the dialect, then read."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from cfgaudit.craft.settings import Settings
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.load import load_dialect
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.dialects.reader import read_settings
from cfgaudit.dialects.several import NoSuchPart, parts_of, told
from cfgaudit.dialects.template import match_text
from cfgaudit.reading.bounds import BOUNDS, Bounds
from cfgaudit.reading.document import Document, read_document
from cfgaudit.reading.shapes import Assignment, Section

GENERIC = Dialect(name="")
_HEAD_LINES = 60


Reading = Callable[[Document, Dialect], Settings]  # read_settings, or one that remembers


class Opened(NamedTuple):
    """A dump that was read: the document, the dialect (GENERIC where none fits), the settings."""

    document: Document
    dialect: Dialect
    settings: Settings


def bundled_dialects() -> tuple[Dialect, ...]:
    """The dialects inside the package."""
    folder = Path(__file__).parent / "bundled"
    return tuple(load_dialect(file) for file in sorted(folder.glob("*.toml")))


def open_dump(
    name: str,
    data: bytes,
    dialects: Iterable[Dialect],
    chosen: Dialect | None = None,
    *,
    part: int = 1,
    bounds: Bounds = BOUNDS,
    reading: Reading = read_settings,
) -> Opened:
    """Read a dump in the chosen dialect, else in the one that it shows.

    Of a text that holds several dumps, the first, or the one whose number is given. Raises
    NoSuchPart where there are not so many, and nothing else.
    """
    known = dialects if part == 1 else list(dialects)
    document = read_document(name, data, bounds=bounds)
    dialect = chosen or recognise(document, known)
    document = _in_look(document, dialect)
    parts = parts_of(document, dialect)
    if part > len(parts):
        raise NoSuchPart(len(parts))
    if len(parts) > 1:
        own, said = parts[part - 1], (told(parts, part, name),)
        document = replace(document, part=own, remarks=said)
        if part > 1 and chosen is None:
            dialect = recognise(document, known)
            document = _in_look(document, dialect)
    return Opened(document, dialect, reading(document, dialect))


def _in_look(document: Document, dialect: Dialect) -> Document:
    return document if dialect.look == document.look else replace(document, look=dialect.look)


def recognise(document: Document, dialects: Iterable[Dialect]) -> Dialect:
    """The dialect whose head line the dump has; else plain paths; else the best-fitting one.

    Dialects may be loaded as they are taken: none is taken behind the one that fits.
    """
    seen: list[Dialect] = []
    lines = [line.strip() for _, line in document.top(_HEAD_LINES)]
    for dialect in dialects:
        seen.append(dialect)
        if any(match_text(pieces, line) for pieces in dialect.head for line in lines):
            return dialect
    if _plain_share(document) > 0.5:
        return PLAIN
    return _best_fit(document, seen)


def _plain_share(document: Document) -> float:
    """The share of a dump's assignments whose keys are neutral paths."""
    section, hits, count = "", 0, 0
    for statement in document.statements:
        shape = statement.shape
        if isinstance(shape, Section):
            section = shape.name.text + "."
        elif isinstance(shape, Assignment):
            count += 1
            hits += declared(section + shape.key.text) is not None
    return hits / count if count else 0.0


def _best_fit(document: Document, dialects: Sequence[Dialect]) -> Dialect:
    """The dialect that maps most of the lines, if it maps most of them; else GENERIC."""
    best, most = GENERIC, 0.6
    for dialect in dialects:
        if dialect.keys_are_paths:
            continue
        settings = read_settings(replace(document, look=dialect.look), dialect)
        stated = sum(entry.place is not None for entry in settings.stated.values())
        unknown = sum(not raw.known for raw in settings.raw.values())
        share = stated / (stated + unknown) if stated >= 5 else 0.0
        if share > most:
            best, most = dialect, share
    return best
