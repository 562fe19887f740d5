"""Calls the command line: in this process where that tells enough, else as a process of its own."""

import io
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from cfgaudit.cli import main
from cfgaudit.reading.grammars import cache_folder

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
# A home below /tmp is no safe place for saved parsers, and to build them takes longest of all.
_CACHE = {"XDG_CACHE_HOME": str(own.parent)} if (own := cache_folder()) else {}
_TELLING = ("COLOR", "TERM", "LC_", "LANG", "PYTHONUTF8", "PYTHONIOENCODING", "COLUMNS")


@dataclass(frozen=True)
class Answer:
    """What a call gave: its exit status and both outputs, decoded as UTF-8, strictly."""

    status: int
    out: str
    err: str


def environment(**more: str) -> dict[str, str]:
    """The environment without what steers colour, width and encoding, but for what is given."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not any(mark in name for mark in _TELLING)
    }
    return {**kept, **_CACHE, "COLUMNS": "80", **more}


def run(
    *arguments: str,
    cwd: Path = CORPUS,
    env: Mapping[str, str] | None = None,
    stdin: bytes = b"",
    flags: Sequence[str] = (),
) -> Answer:
    """The command line as a process, with flags for Python itself."""
    done = subprocess.run(
        [sys.executable, *flags, "-m", "cfgaudit", *arguments],
        cwd=cwd,
        env=environment() if env is None else dict(env),
        input=stdin,
        capture_output=True,
        timeout=900,
        check=False,
    )
    return Answer(done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8"))


@cache
def of_corpus(*arguments: str) -> Answer:
    """What the command line says of the corpus as it lies there, asked once by all tests."""
    return call(pytest.MonkeyPatch(), arguments)


def call(
    monkeypatch: pytest.MonkeyPatch,
    arguments: Sequence[str],
    *,
    cwd: Path = CORPUS,
    env: Mapping[str, str] | None = None,
) -> Answer:
    """The command line in this process, standard input being empty."""
    out, err = io.BytesIO(), io.BytesIO()
    streams = [io.TextIOWrapper(held, "ascii", write_through=True) for held in (out, err)]
    with monkeypatch.context() as patch:
        patch.chdir(cwd)
        patch.setenv("COLUMNS", "80")
        for name in ("NO_COLOR", "FORCE_COLOR", "CLICOLOR_FORCE"):
            patch.delenv(name, raising=False)
        if env is not None:
            for name in os.environ.keys() - env.keys():
                patch.delenv(name)
            for name, value in env.items():
                patch.setenv(name, value)
        patch.setattr(sys, "stdout", streams[0])
        patch.setattr(sys, "stderr", streams[1])
        with pytest.raises(SystemExit) as left:
            main(list(arguments))
    code = left.value.code
    assert isinstance(code, int)
    return Answer(code, out.getvalue().decode("utf-8"), err.getvalue().decode("utf-8"))
