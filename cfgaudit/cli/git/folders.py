"""Which dialects hold in a repository: those of its top folder, and of folders named besides."""

from collections.abc import Iterable, Iterator
from pathlib import Path

from cfgaudit.cli.settings import folder_settings
from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.opening import bundled_dialects

_TOP = 4_000  # bytes of a dump in which its firmware usually names itself


def dialect_files(top: Path, beside: Iterable[str]) -> tuple[Path, ...]:
    """The dialect files, each once. Raises click.UsageError where settings can't be read."""
    folders = [top, *(top / name for name in beside)]
    return tuple(dict.fromkeys(path for f in folders for path in folder_settings(f).dialects))


def dialects_for(data: bytes, files: Iterable[Path]) -> Iterator[Dialect]:
    """Loaded one by one as they are taken, those first whose name the dump's top mentions."""
    head = data[:_TOP]
    for path in sorted(files, key=lambda path: path.stem.encode() not in head):
        yield load_dialect(path)
    yield from bundled_dialects()
