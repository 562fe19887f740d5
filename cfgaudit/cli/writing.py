"""Writes a file whole or not at all."""

import os
import shutil
import tempfile
from pathlib import Path

from cfgaudit.cli.errors import InputError


def write_atomically(path: Path, data: bytes) -> None:
    """Write a file whole or not at all: to a neighbour, then in one move. Raises InputError."""
    temporary = ""
    try:
        path = path.resolve()  # a link stays a link; the file behind it is replaced
        if path.exists() and not path.is_file():  # a device or a pipe is written to, not replaced
            path.write_bytes(data)
            return
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".", delete=False) as file:
            temporary = file.name
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            shutil.copymode(path, temporary)
        else:
            Path(temporary).chmod(0o666 & ~_umask())
        Path(temporary).replace(path)
    except OSError as error:
        if temporary:
            Path(temporary).unlink(missing_ok=True)
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} can't be written: {reason}") from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
