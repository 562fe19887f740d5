"""The demo craft, their dialects and their dumps, as the tests of this folder want them."""

from functools import cache
from pathlib import Path

from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.dialects.reader import Reader
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
    return Reader(document, of, version).settings()
