"""Compiles the modules in a tar file: run by the Python of a page, as bytecode is its own.

It imports nothing of the project, for it is run as a text there.
"""

import importlib._bootstrap_external as external
import io
import tarfile
from pathlib import Path

UNCHECKED = b"\0" * 8  # there is no source beside it to be held against


def compile_all(given: str, made: str) -> None:
    """Write a tar file with `NAME.pyc` for each `NAME.py`, and all else as it is.

    cfgaudit keeps its docstrings, which the rule book reads; other modules lose theirs.
    """
    with (
        tarfile.open(given) as source,
        tarfile.open(made, "w", format=tarfile.USTAR_FORMAT) as target,
    ):
        for entry in source:
            file = source.extractfile(entry)
            if file is None:
                continue
            name, data = entry.name, file.read()
            if name.endswith(".py"):
                name, data = f"{name}c", bytecode(name, data)
            info = tarfile.TarInfo(name)
            info.size = len(data)
            target.addfile(info, io.BytesIO(data))


def bytecode(name: str, source: bytes) -> bytes:
    """What Python would write beside a module that it imported."""
    level = 0 if name.startswith("cfgaudit/") else 2
    code = compile(source, name, "exec", dont_inherit=True, optimize=level)
    made: bytes = external._code_to_hash_pyc(code, UNCHECKED, False)  # type: ignore[attr-defined]
    return bytes(made)


if __name__ == "__main__" and Path("/given.tar").is_file():
    compile_all("/given.tar", "/made.tar")
