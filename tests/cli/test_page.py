"""`cfgaudit page` as a command, where no page comes of it; tests/reports makes and opens one."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from cfgaudit.cli.folder import folder_settings
from cfgaudit.cli.page import baked_files
from cfgaudit.work import page_runtime
from tests.cli.calling import CORPUS, call

WANTED = "npm pack pyodide@"


def test_without_npm_it_says_which_command_fetches_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    answer = call(monkeypatch, ["page", "--output", str(tmp_path / "bench.html")])
    assert answer.status == 2
    assert "npm is not here" in answer.err
    assert WANTED in answer.err
    assert "--runtime FOLDER" in answer.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("told", ["", '{"name": "pyodide", "version": "0.1.0"}', '{"name": "x"}'])
def test_a_folder_without_the_runtime_is_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, told: str
) -> None:
    if told:
        (tmp_path / "package.json").write_text(told, encoding="utf-8")
    page = tmp_path / "bench.html"
    answer = call(monkeypatch, ["page", "--output", str(page), "--runtime", str(tmp_path)])
    assert answer.status == 2
    assert f"{tmp_path} holds pyodide {'0.1.0' if '0.1' in told else 'not at all'}" in answer.err
    assert not page.exists()


def test_what_is_no_folder_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["page", "dipper.dump", "--output", "bench.html"])
    assert (answer.status, answer.err) == (2, "Error: dipper.dump is no folder\n")


def test_settings_dialects_and_sheets_of_a_folder_are_put_into_it() -> None:
    # by hand, from corpus/cfgaudit.toml: a folder of four dialects, four sheets
    names = [file.relative_to(CORPUS).as_posix() for file in baked_files(folder_settings(CORPUS))]
    assert names == [
        "cfgaudit.toml",
        *(f"dialects/{name}.toml" for name in ("alder", "marl", "osier", "sedge")),
        *(f"{name}.build.toml" for name in ("dipper", "goosander", "sandpiper", "wagtail")),
    ]


def test_a_folder_below_has_the_files_of_the_one_above() -> None:
    below = baked_files(folder_settings(CORPUS / "faulty"))
    assert below == baked_files(folder_settings(CORPUS))


def test_a_folder_without_settings_puts_nothing_into_it(tmp_path: Path) -> None:
    assert baked_files(folder_settings(tmp_path)) == ()


def test_a_sheet_that_is_not_there_is_left_to_the_audit_to_tell(tmp_path: Path) -> None:
    (tmp_path / "cfgaudit.toml").write_text('[craft]\nbuild = "no.toml"\n', encoding="utf-8")
    assert baked_files(folder_settings(tmp_path)) == (tmp_path.resolve() / "cfgaudit.toml",)


def _imported_on_loading(body: list[ast.stmt]) -> Iterator[str]:
    """The outermost packages that a module names when it is loaded."""
    for node in body:
        if isinstance(node, ast.Import):
            yield from (name.name.partition(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield (node.module or "").partition(".")[0]


def test_no_module_of_the_page_needs_what_is_left_out_of_the_standard_library() -> None:
    package = Path(page_runtime.__file__).parents[1]
    for file in package.rglob("*.py"):
        if not f"cfgaudit/{file.relative_to(package).as_posix()}".startswith(page_runtime.LEFT_OUT):
            body = ast.parse(file.read_text(encoding="utf-8")).body
            assert not page_runtime.UNUSED & set(_imported_on_loading(body)), file
