"""The demo craft, their dialects and their dumps, as the tests of this folder want them."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.editor import edit
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.dialects.reader import read as reading_of
from cfgaudit.dialects.spec import CannotWrite, Holder
from cfgaudit.reading.document import read_document
from cfgaudit.settings import Origin, Settings
from cfgaudit.vocabulary.kinds import Value, version_numbers

CORPUS = Path(__file__).parents[2] / "corpus"
FILES = tuple(sorted((CORPUS / "dialects").glob("*.toml")))
DUMPS = tuple(sorted((CORPUS).glob("*.dump")))
FACTORY = tuple(sorted((CORPUS / "factory").glob("*.dump")))
BROKEN = tuple(sorted((CORPUS / "broken").iterdir()))


@cache
def dialects() -> tuple[Dialect, ...]:
    return tuple(load_dialect(file) for file in FILES)


def all_dialects() -> tuple[Dialect, ...]:
    return (*dialects(), PLAIN)


def dialect(name: str) -> Dialect:
    return next(entry for entry in all_dialects() if entry.name == name)


@cache
def opened(path: Path) -> Opened:
    return open_dump(path.name, path.read_bytes(), dialects())


def version_of(settings: Settings) -> tuple[int, ...]:
    stated = settings.stated.get("firmware.version")
    return version_numbers(str(stated.value)) if stated else ()


def dumped(settings: Settings) -> dict[str, Value]:
    """What the dump itself states, without what stands in."""
    return {
        path: stated.value
        for path, stated in settings.stated.items()
        if stated.origin is Origin.DUMP
    }


def read(text: str, of: Dialect, version: tuple[int, ...] = ()) -> Settings:
    document = read_document("written.dump", text.encode("utf-8", "surrogatepass"), of.look)
    return reading_of(document, of, version).settings


def written_anew(
    of: Dialect,
    values: Mapping[str, Value],
    version: tuple[int, ...] = (),
    known: Settings | None = None,
) -> tuple[str, Mapping[str, str]]:
    """The lines that the editor puts into a dump without any, and what it can't say, and why.

    A line that states several settings takes those not given from `known`.
    """
    of = _without_factory(of)
    head = "".join(
        piece if not isinstance(piece, Holder) else _HEAD_WORDS.get(piece.target, "x")
        for piece in (of.head[0] if of.head and version else ())
    ).replace("VERSION", ".".join(map(str, version)))
    text = f"{head}\n" if head else ""
    document = read_document("empty.dump", text.encode(), of.look)
    empty = Opened(document, of, reading_of(document, of).settings)
    stated = known.stated if known is not None else {}
    done = edit(empty, values, {path: e.value for path, e in stated.items() if not e.doubt})
    made = done.opened.document.to_bytes().decode("utf-8", "surrogatepass")
    return made.removeprefix(text), done.refused


def write_settings(
    of: Dialect,
    values: Mapping[str, Value],
    version: tuple[int, ...] = (),
    known: Settings | None = None,
) -> str:
    """The same lines. Raises CannotWrite with the reason of the first value that can't be said."""
    text, refused = written_anew(of, values, version, known)
    for why in refused.values():
        raise CannotWrite(why)
    return text


@cache
def _without_factory(of: Dialect) -> Dialect:
    """The dialect, so that no value is in force unless a line says so."""
    return replace(of, factory={})


_HEAD_WORDS = {"firmware.version": "VERSION", "firmware.built": "2026-01-02"}
