"""Reports for review of the corpus and of what is written beside it, for the tests."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, Answer, call, of_corpus

FAULTY = "faulty/dipper-after-repair.dump"
TODAY = ["--today", "2026-11-25"]

# A craft with one error (it warns below what is empty), which a waiver can be for.
DUMP = """[craft]
name = Dipper
[battery]
cells = 4
full_cell = 4.2 V
warn_cell = 3.3 V
empty_cell = 3.5 V
"""
WAIVER = """[[waive]]
rule = "battery/threshold-order"
because = "old packs, for the bench alone"
until = 2026-12-31
"""


def folder(tmp_path: Path, *, waiver: str = "", **dumps: str) -> Path:
    """A folder with dumps, by their names without an ending, and settings of its own."""
    (tmp_path / "cfgaudit.toml").write_text(waiver or "[cfgaudit]\n", encoding="utf-8")
    for name, text in dumps.items():
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    return tmp_path


def told(
    monkeypatch: pytest.MonkeyPatch, form: str, arguments: Sequence[str], cwd: Path = CORPUS
) -> str:
    """The report in a format; the call must not be refused, though a dump may go unaudited."""
    answer = ask(monkeypatch, form, arguments, cwd)
    assert answer.out, answer.err
    assert answer.status in (0, 1, 2)
    return answer.out


def ask(
    monkeypatch: pytest.MonkeyPatch, form: str, arguments: Sequence[str], cwd: Path = CORPUS
) -> Answer:
    """The call in a format; check is told the day."""
    asked = [*arguments, "--format", form, *TODAY]
    return of_corpus(*asked) if cwd == CORPUS else call(monkeypatch, asked, cwd=cwd)


def log(
    monkeypatch: pytest.MonkeyPatch, arguments: Sequence[str], cwd: Path = CORPUS
) -> dict[str, Any]:
    """The one run of the SARIF log."""
    said = json.loads(told(monkeypatch, "sarif", arguments, cwd))
    (run,) = said["runs"]
    assert isinstance(run, dict)
    return run


# Calls whose reports are held against schemas and renderers.
CALLS: list[list[str]] = [
    ["check", FAULTY],
    ["check", "dipper.dump", "sandpiper.dump", "wagtail.dump"],
    ["check", *(f"broken/{path.name}" for path in sorted((CORPUS / "broken").iterdir()))],
    ["diff", "dipper.dump", FAULTY],
    ["diff", FAULTY, "dipper.dump"],
    ["diff", "dipper.dump", "wagtail.dump", "--everything"],
    ["diff", "broken/no-dialect.dump", "broken/random-bytes.dump", "--everything"],
]
