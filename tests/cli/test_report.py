"""`cfgaudit report` as a command."""

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call, environment, run
from tests.test_startup import loaded

CORPUS_PAGE = ["report", "dipper.dump"]


def test_a_page_goes_to_a_file_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    file = tmp_path / "dipper.html"
    answer = call(monkeypatch, [*CORPUS_PAGE, "--output", str(file)])
    assert answer.status == 0
    assert answer.out == ""
    assert "written:" in answer.err
    assert file.read_text(encoding="utf-8") == call(monkeypatch, CORPUS_PAGE).out


def test_a_page_that_can_t_be_written_leaves_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    answer = call(monkeypatch, [*CORPUS_PAGE, "--output", str(tmp_path / "no" / "dipper.html")])
    assert answer.status == 2
    assert list(tmp_path.iterdir()) == []


def test_a_page_is_the_same_in_another_process_and_locale() -> None:
    plain = run(*CORPUS_PAGE, env=environment(PYTHONHASHSEED="1"))
    other = run(*CORPUS_PAGE, env=environment(PYTHONHASHSEED="2", LC_ALL="C"))
    assert plain.status == 0
    assert plain.out == other.out


def test_a_terminal_gets_no_page() -> None:
    ours, theirs = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-m", "cfgaudit", *CORPUS_PAGE],
        cwd=CORPUS, env=environment(), stdout=theirs, stderr=subprocess.PIPE, timeout=900,
        check=False,
    )  # fmt: skip
    os.close(theirs)
    os.close(ours)
    assert done.returncode == 2
    assert b"--output FILE" in done.stderr


def test_craft_beside_are_drawn_with_their_products(monkeypatch: pytest.MonkeyPatch) -> None:
    arguments = [*CORPUS_PAGE, "--beside", "goosander.dump", "--beside", "wagtail.dump"]
    text = call(monkeypatch, arguments).out
    assert "Goosander sends" in text
    assert "product 2 ×" in text
    assert call(monkeypatch, [*arguments, "wagtail.dump"]).status == 2


def test_a_page_from_standard_input_has_the_name_it_is_given() -> None:
    data = (CORPUS / "dipper.dump").read_bytes()
    answer = run("report", "-", "--stdin-name", "pasted", stdin=data)
    assert answer.status == 0
    assert "pasted: " in answer.out


@pytest.mark.parametrize("file", sorted((CORPUS / "broken").iterdir()), ids=lambda p: p.name)
def test_a_broken_dump_gives_a_page_all_the_same(
    monkeypatch: pytest.MonkeyPatch, file: Path
) -> None:
    answer = call(monkeypatch, ["report", str(file)])
    assert answer.status == 0, answer.err
    assert answer.out.endswith("</html>\n")


def test_the_page_s_templates_are_loaded_for_no_other_command() -> None:
    assert "jinja2" not in loaded("check", "dipper.dump")
    assert not [name for name in loaded("show", "dipper.dump") if "pictures" in name]
    assert "jinja2" in loaded(*CORPUS_PAGE)
    heavy = {"rich", "deepdiff", "asyncio", "numpy"}
    assert not loaded(*CORPUS_PAGE) & heavy
