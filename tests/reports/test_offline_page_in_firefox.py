"""The bench page in Firefox: it says there, too, what the command line says."""

from collections.abc import Iterator
from functools import partial
from typing import Final

import pytest

from tests.cli.calling import CORPUS, call
from tests.reports.bench_pages import FAULTY, BenchPage
from tests.reports.firefox import Firefox, firefox

DUMPS: Final = (
    CORPUS / "dipper.dump",
    FAULTY,
    CORPUS / "goosander.dump",
    CORPUS / "broken" / "no-dialect.dump",
)
ERRORS: Final = """
return Services.console.getMessageArray()
    .filter((one) => one instanceof Ci.nsIScriptError && one.sourceName.startsWith("file:"))
    .map((one) => one.errorMessage)
"""


@pytest.fixture(scope="module")
def fox() -> Iterator[Firefox]:
    with firefox() as made:
        yield made


def _errors(fox: Firefox) -> list[str]:
    with fox.driver.using_context("chrome"):
        errors: list[str] = fox.driver.execute_script(ERRORS)
    return errors


def _answered(fox: Firefox, count: int) -> bool:
    return bool(fox.told(f"""return !!document.querySelector("#b-result[data-round='{count}']")"""))


@pytest.mark.parametrize("width", [1280, 500])  # it makes no window that is narrower
def test_firefox_and_the_command_line_say_the_same_to_the_byte(
    fox: Firefox, bench: BenchPage, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """Check value: the command line's own output, for each dump, and for it and the one before."""
    fox.driver.set_window_rect(width=width, height=900)
    fox.driver.navigate(bench.file.as_uri())
    before = ""
    for count, dump in enumerate(DUMPS, 1):
        fox.give("#b-files", dump)
        fox.until(partial(_answered, fox, count))
        fox.press("Save the audit as JSON")
        said = call(monkeypatch, ["check", "--format", "json", dump.name], cwd=bench.folder)
        assert fox.download() == said.out.encode()
        if before:
            fox.press("Save the changes as JSON")
            said = call(
                monkeypatch, ["diff", "--format", "json", before, dump.name], cwd=bench.folder
            )
            assert fox.download() == said.out.encode()
        before = dump.name
    assert fox.told("return document.documentElement.scrollWidth <= window.innerWidth")
    assert fox.told("return performance.getEntriesByType('resource').length") == 0
    assert _errors(fox) == []
