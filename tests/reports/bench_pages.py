"""What the tests of the bench page share: a team's folder, its page, and the page in a browser.

The page of a run is made once, by whichever worker wants it first; and once made, Python compiled
for a browser does for any other folder's page too.
"""

import pickle
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any, Final, NamedTuple

import pytest
from playwright.sync_api import Browser, Page

from cfgaudit.cli.files import locking
from cfgaudit.work import page_runtime
from tests.cli.calling import CORPUS, call
from tests.reports.runtime import runtime

DUMPS: Final = sorted(file for file in CORPUS.rglob("*") if file.suffix in (".dump", ".cfg"))
FAULTY: Final = CORPUS / "faulty" / "dipper-after-repair.dump"
DIPPER: Final = CORPUS / "dipper.dump"
QUILLWORT: Final = Path(__file__).parents[1] / "teach" / "unknown" / "quillwort"
PATIENCE: Final = 90_000  # ms; how quick it is is printed, and nothing hangs on it


class BenchPage(NamedTuple):
    """A team's folder as the page has it, and the page."""

    folder: Path
    file: Path


class UnknownDump(NamedTuple):
    """A dump that no dialect knows, and a folder for what is saved of it."""

    dump: Path
    folder: Path


def bench_page(shared: Path) -> BenchPage:
    """The page of a folder with settings, dialects, sheets, and the dumps beside them."""
    made = BenchPage(shared / "team", shared / "bench.html")
    with _alone(shared):
        if not made.folder.is_dir():
            shutil.copytree(CORPUS / "dialects", made.folder / "dialects")
            for file in (CORPUS / "cfgaudit.toml", *CORPUS.glob("*.build.toml"), *DUMPS):
                shutil.copy(file, made.folder)
        if not made.file.is_file():
            _page(made, shared / "runtime")
    return made


def page_for(folder: Path, file: Path, shared: Path) -> Path:
    """The bench page of another folder, in a file."""
    with _alone(shared):
        _page(BenchPage(folder, file), shared / "runtime")
    return file


@contextmanager
def _alone(shared: Path) -> Iterator[None]:
    """While no other worker makes a page; the command holds the folder that it writes in itself."""
    (shared / "lock").mkdir(exist_ok=True)
    with locking(shared / "lock"):
        yield


def _page(made: BenchPage, kept: Path) -> None:
    """Make a page with the command; the runtime that the first one compiled is kept in a file."""
    compiled = page_runtime.made_runtime

    def once(folder: Path) -> page_runtime.Runtime:
        if not kept.is_file():
            kept.write_bytes(pickle.dumps(compiled(folder)))
        found: page_runtime.Runtime = pickle.loads(kept.read_bytes())
        return found

    place = nullcontext(kept.parent) if kept.is_file() else runtime()
    with place as given, pytest.MonkeyPatch.context() as patch:
        patch.setattr(page_runtime, "made_runtime", once)
        options = [".", "--output", str(made.file), "--runtime", str(given)]
        told = call(patch, ["page", *options], cwd=made.folder)
    assert told.status == 0, told.err


class ShownPage:
    """A bench page in the browser, what it put on the console and what it asked for."""

    def __init__(
        self, chromium: Browser, file: Path, width: int = 1280, script: str = "", **more: Any
    ) -> None:
        self.page: Page = chromium.new_page(viewport={"width": width, "height": 900}, **more)
        self.console: list[str] = []
        self.requests: list[str] = []
        self.rounds = 0
        self.page.set_default_timeout(PATIENCE)
        self.page.on("console", lambda message: self.console.append(message.text))
        self.page.on("pageerror", lambda error: self.console.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.add_init_script(script)
        self.begun = time.monotonic()
        self.page.goto(file.as_uri())

    def give(self, *files: Path) -> None:
        """Give files one after the other, and wait for each one's answers."""
        for one in files:
            self.page.set_input_files("#b-files", one)
            self.answered()

    def answered(self) -> None:
        self.rounds += 1
        self.page.locator(f"#b-result[data-round='{self.rounds}']").wait_for()

    def saved(self, button: str) -> bytes:
        """What a button saves."""
        with self.page.expect_download() as download:
            self.page.get_by_role("button", name=button).click()
        return Path(download.value.path()).read_bytes()

    def text(self, of: str) -> str:
        return self.page.locator(of).inner_text()

    @property
    def asked(self) -> list[str]:
        """What was asked for, but for what the page has made itself: its thread, what it saves."""
        return [url for url in self.requests if not url.startswith("blob:")]
