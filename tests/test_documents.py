"""The README.md files tell the truth: commands print what they say, lists are the code's."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from cfgaudit.cli.folder import folder_settings
from cfgaudit.rules.book import every_rule
from tests import regenerate_documents as readme

TEXT = readme.README.read_text(encoding="utf-8")
STEPS = [step for block in readme.blocks("console") for step in readme.steps(block)]
RULES = readme.RULES.read_text(encoding="utf-8")
DOCUMENTS = (*readme.DOCUMENTS, readme.ROOT / "DEVELOPERS.md")


@pytest.mark.parametrize("step", STEPS, ids=[step.command for step in STEPS])
def test_a_command_prints_what_the_readme_shows(step: readme.Step) -> None:
    readme.fit(step.expected, readme.run(step.command))


def test_the_tour_shows_every_command() -> None:
    from cfgaudit.cli import COMMANDS

    shown = {word for step in STEPS for word in re.findall(r"cfgaudit (\w+)", step.command)}
    assert shown >= set(COMMANDS)


def test_the_list_of_rules_is_the_rule_book() -> None:
    _, _, rest = RULES.partition(readme.BEGIN + "\n")
    listed, mark, _ = rest.partition(readme.END)
    assert mark, "the list lacks its markers"
    assert listed == readme.rules_list(), "run: python tests/regenerate_documents.py"


def test_every_safety_setting_that_a_wrong_value_hides_in_is_named() -> None:
    _, _, rest = TEXT.partition(readme.UNSEEN + "\n")
    listed, mark, _ = rest.partition(readme.SEEN)
    assert mark, "the list lacks its markers"
    assert listed == readme.unseen_list(), "run: python tests/regenerate_documents.py"


def test_the_rules_that_the_readme_names_exist() -> None:
    known = {rule.id for rule in every_rule()}
    areas = {rule.area for rule in every_rule()}
    named = set(re.findall(r"`([a-z]+/[a-z0-9-]+)`", TEXT + RULES))
    named = {name for name in named if name.split("/")[0] in areas} - {"area/what-is-wrong"}
    assert named == known


PYTHON = [block for block in readme.blocks("python") if not block.startswith("# ")]


@pytest.mark.parametrize("block", PYTHON)
def test_a_python_block_runs(block: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", block],
        cwd=readme.ROOT,
        env=readme.environment(),
        capture_output=True,
        text=True,
        timeout=900,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_an_excerpt_stands_in_the_file_that_it_names() -> None:
    excerpts = [block for block in readme.blocks("toml") if block.startswith("# corpus/")]
    assert excerpts
    for block in excerpts:
        name, *lines = block.splitlines()
        file = readme.ROOT / name.removeprefix("# ")
        readme.fit(["...", *lines, "..."], file.read_text(encoding="utf-8").splitlines())


def test_the_folder_settings_shown_are_understood(tmp_path: Path) -> None:
    shown = [block for block in readme.blocks("toml") if "[cfgaudit]" in block]
    assert shown
    for block in shown:
        for folder in tomllib.loads(block)["cfgaudit"]["dialects"]:
            (tmp_path / folder).mkdir(exist_ok=True)
        (tmp_path / "cfgaudit.toml").write_text(block, encoding="utf-8")
        assert folder_settings(tmp_path).fail_on == tomllib.loads(block)["cfgaudit"]["fail_on"]


def test_the_set_up_commands_install_what_the_package_declares() -> None:
    blocks = readme.blocks("sh", [readme.README])
    commands = [line for block in blocks for line in block.splitlines()]
    project = tomllib.loads((readme.ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert len(commands) == 2
    for command in commands:
        make, install, job = command.split(" && ")
        assert make == "python3 -m venv .venv"
        assert install.startswith(".venv/bin/pip install -q ")
        assert job.startswith(".venv/bin/")
        extras = re.findall(r"\[(\w+)\]", install)
        assert set(extras) <= set(project["optional-dependencies"])
    assert f"Python {project['requires-python'].removeprefix('>=')}" in TEXT


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: "/".join(path.parts[-2:]))
def test_a_document_names_only_paths_that_exist(document: Path) -> None:
    text = document.read_text(encoding="utf-8")
    tops = "cfgaudit|grammar|corpus|tests|\\.ci"
    named = re.findall(rf"(?<![\w./])((?:{tops})/[\w./-]*\w)", text)
    named = [name for name in named if not re.search(r"[A-Z]{4}", name)]  # NAME stands for any
    named += re.findall(r"\]\((?!https?:)([^)#]+)\)", text)
    assert named
    assert [name for name in named if not (readme.ROOT / name).exists()] == []


def test_a_gap_stands_for_any_lines_and_nothing_else_does() -> None:
    real = ["one", "two", "three", "four"]
    for right in (real, ["one", "...", "four"], ["...", "two", "...", "four"], ["one", "..."]):
        readme.fit(right, real)
    for wrong in (
        ["one"],
        ["one", "two", "three"],
        ["one", "...", "three"],
        ["two", "..."],
        ["...", "three", "...", "two", "..."],
        ["one", "two", "three", "...", "three", "four"],
    ):
        with pytest.raises(readme.UnfitError):
            readme.fit(wrong, real)
