"""A real browser for the tests of the page: Chromium, driven by playwright.

It is one that is installed, or the one that playwright brought. Where there is none the tests are
skipped and say so; where CFGAUDIT_NEEDS_BROWSER is set they fail instead.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Error, Page, sync_playwright

NAMES: Final = ("chromium", "chromium-browser", "google-chrome", "chrome")
# The rules of W3C WCAG 2.0 to 2.2, levels A and AA (published), and axe's own good practice.
AXE: Final = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
HOW: Final = "no browser: install Debian's chromium, or name one in CFGAUDIT_BROWSER"


def _installed() -> str | None:
    named = os.environ.get("CFGAUDIT_BROWSER")
    return named or next(filter(None, map(shutil.which, NAMES)), None)


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser that can reach nothing but what a test gives it."""
    with sync_playwright() as playwright:
        arguments = ["--no-sandbox"] if os.geteuid() == 0 else []  # root has no sandbox
        try:
            made = playwright.chromium.launch(executable_path=_installed(), args=arguments)
        except Error as error:
            told = f"{HOW} ({str(error).splitlines()[0]})"
            if os.environ.get("CFGAUDIT_NEEDS_BROWSER"):
                pytest.fail(told)
            pytest.skip(told)
        yield made
        made.close()


def faults_by_axe(page: Page) -> list[tuple[str, ...]]:
    """What axe-core finds wrong, which looked at more than a few things."""
    answer = Axe().run(page, options=AXE)
    assert len(answer.response["passes"]) > 20
    return [
        (one["impact"], one["id"], one["nodes"][0]["html"][:160])
        for one in answer.response["violations"]
    ]
