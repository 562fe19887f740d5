"""Compiles the modules in a tar file, and saves the parsers: run by the Python of a page.

Bytecode and saved parsers fit the Python that made them. This is run as a text there, so it
imports nothing of the project before that is unpacked.
"""

import importlib._bootstrap_external as external
import io
import sys
import tarfile
from pathlib import Path

UNCHECKED = b"\0" * 8  # there is no source beside it to be held against


def compile_all(given: str, made: str) -> None:
    """Write a tar file with `NAME.pyc` for each `NAME.py`, and all else as it is.

    The rule book and the commands keep their docstrings, which are read; other modules lose theirs.
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
    level = 0 if name.startswith(("cfgaudit/rules/", "cfgaudit/cli/", "cfgaudit/audit/")) else 2
    code = compile(source, name, "exec", dont_inherit=True, optimize=level)
    made: bytes = external._code_to_hash_pyc(code, UNCHECKED, False)  # type: ignore[attr-defined]
    return bytes(made)


def add_parsers(made: str, folder: str) -> None:
    """Put the parser of each grammar beside it in a tar file, which is unpacked in `folder`."""
    with tarfile.open(made) as packages:
        packages.extractall(folder, filter="data")
    sys.path.insert(0, folder)
    from cfgaudit.dialects.template_language import GRAMMARS
    from cfgaudit.reading.grammars import saved

    with tarfile.open(made, "a", format=tarfile.USTAR_FORMAT) as packages:
        for name, body in map(saved, GRAMMARS):
            info = tarfile.TarInfo(f"cfgaudit/grammar/{name}")
            info.size = len(body)
            packages.addfile(info, io.BytesIO(body))


if __name__ == "__main__" and Path("/given.tar").is_file():
    Path("/packages").mkdir()
    compile_all("/given.tar", "/made.tar")
    add_parsers("/made.tar", "/packages")
