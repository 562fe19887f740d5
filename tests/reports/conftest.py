"""What the tests of pages share: a browser, and one bench page for all of them."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.reports.bench_pages import QUILLWORT, BenchPage, UnknownDump, bench_page
from tests.reports.browser import browser


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as made:
        yield made


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A temporary folder that all workers of a run have."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session")
def bench(shared: Path) -> BenchPage:
    """A team's folder, and the bench page that is made for it."""
    return bench_page(shared)


@pytest.fixture
def unknown(tmp_path: Path) -> UnknownDump:
    shutil.copy(QUILLWORT / "garganey.dump", tmp_path)
    return UnknownDump(tmp_path / "garganey.dump", tmp_path)
