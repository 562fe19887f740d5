"""From a dump's bytes to its settings: recognise the dialect, then read."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from cfgaudit.craft.settings import Settings
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.load import load_dialect
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.dialects.reader import read_settings
from cfgaudit.dialects.template import match_text
from cfgaudit.reading.document import Document, read_document
from cfgaudit.reading.shapes import Assignment, Section

GENERIC = Dialect(name="")
_HEAD_LINES = 60


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
    name: str, data: bytes, dialects: Iterable[Dialect], chosen: Dialect | None = None
) -> Opened:
    """Read a dump in the chosen dialect, else in the one that it shows. Never raises."""
    document = read_document(name, data)
    dialect = chosen or recognise(document, dialects)
    if dialect.look != document.look:
        document = Document(name, document.text, dialect.look)
    return Opened(document, dialect, read_settings(document, dialect))


def recognise(document: Document, dialects: Iterable[Dialect]) -> Dialect:
    """The dialect whose head line the dump has; else plain paths; else the best-fitting one.

    Dialects may be loaded as they are taken: none is taken behind the one that fits.
    """
    seen: list[Dialect] = []
    lines = [line.strip() for line in document.text.lines[:_HEAD_LINES]]
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
        settings = read_settings(Document(document.name, document.text, dialect.look), dialect)
        stated = sum(entry.place is not None for entry in settings.stated.values())
        unknown = sum(not raw.known for raw in settings.raw.values())
        share = stated / (stated + unknown) if stated >= 5 else 0.0
        if share > most:
            best, most = dialect, share
    return best
