"""Writes a file whole or not at all."""

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from cfgaudit.cli.errors import InputError


def write_atomically(path: Path, data: bytes) -> None:
    """Write a file whole or not at all: to a neighbour, then in one move. Raises InputError."""
    write_together({path: data})


def write_together(files: Mapping[Path, bytes]) -> None:
    """Write several files: all of them to neighbours first, so that what goes wrong is found
    before any is replaced. Raises InputError.
    """
    ready: dict[Path, str] = {}  # each file's neighbour that waits to take its place
    path = Path()
    try:
        for path, data in files.items():
            target = path.resolve()  # a link stays a link; the file behind it is replaced
            if target.exists() and not target.is_file():  # a device or a pipe is not replaced
                target.write_bytes(data)
            else:
                _write_beside(target, data, ready)
        for path in list(ready):
            Path(ready[path]).replace(path)
            del ready[path]
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} can't be written: {reason}") from None
    finally:
        for neighbour in ready.values():
            Path(neighbour).unlink(missing_ok=True)


def _write_beside(path: Path, data: bytes, ready: dict[Path, str]) -> None:
    """Write to a neighbour, which is ready to take the file's place. Raises OSError."""
    with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".", delete=False) as file:
        ready[path] = file.name
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    if path.exists():
        shutil.copymode(path, ready[path])
    else:
        Path(ready[path]).chmod(0o666 & ~_umask())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
