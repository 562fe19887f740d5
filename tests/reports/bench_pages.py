"""What the tests of the bench page share: a team's folder, and the page that is made for it."""

import shutil
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.runtime import runtime


def team_folder(folder: Path, dumps: Iterable[Path]) -> Path:
    """A folder as the page has one: settings, dialects, sheets, and the dumps beside them."""
    shutil.copytree(CORPUS / "dialects", folder / "dialects")
    for file in (CORPUS / "cfgaudit.toml", *CORPUS.glob("*.build.toml"), *dumps):
        shutil.copy(file, folder)
    return folder


def page_for(folder: Path, file: Path) -> Path:
    """The bench page of a folder, in a file."""
    with runtime() as given, pytest.MonkeyPatch.context() as patch:
        options = [".", "--output", str(file), "--runtime", str(given)]
        told = call(patch, ["page", *options], cwd=folder)
    assert told.status == 0, told.err
    return file
