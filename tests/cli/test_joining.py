"""`--with`: several dumps of one craft, in every command that takes dumps."""

import json
import shutil
from pathlib import Path

import click
import pytest

from cfgaudit.cli.inputs import shared_out
from tests.cli.calling import CORPUS, run


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with Wagtail's two dumps, and the speed controllers' with another pole count."""
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    for name in ("cfgaudit.toml", "dipper.dump", "wagtail.dump", "wagtail-esc.dump"):
        shutil.copy(CORPUS / name, tmp_path / name)
    for sheet in CORPUS.glob("*.build.toml"):
        shutil.copy(sheet, tmp_path)
    text = (CORPUS / "wagtail-esc.dump").read_text(encoding="utf-8")
    assert text.count("magnets: 14") == 1
    (tmp_path / "later-esc.dump").write_text(text.replace("magnets: 14", "magnets: 12"))
    shutil.copy(CORPUS / "wagtail.dump", tmp_path / "later.dump")
    return tmp_path


def test_a_bare_file_belongs_to_the_only_dump() -> None:
    assert shared_out(["a"], ["x", "y"]) == [("x", "y")]


def test_a_file_with_an_owner_belongs_to_that_dump_alone() -> None:
    assert shared_out(["a", "b"], ["b=x", "a=y=z"]) == [("y=z",), ("x",)]
    assert shared_out(["a", "a=b"], ["a=b=x"]) == [(), ("x",)]


def test_a_bare_file_belongs_to_both_sides_of_one_craft() -> None:
    assert shared_out(["old", "new"], ["x"], one_craft=True) == [("x",), ("x",)]


def test_a_bare_file_beside_several_craft_is_asked_about() -> None:
    with pytest.raises(click.UsageError, match=r"whose dump is x\?.*--with a=x"):
        shared_out(["a", "b"], ["x"])


def test_diff_joins_each_side_with_its_own_dump(folder: Path) -> None:
    sides = ["--with", "wagtail.dump=wagtail-esc.dump", "--with", "later.dump=later-esc.dump"]
    done = run("diff", "wagtail.dump", "later.dump", *sides, "--format", "json", cwd=folder)
    report = json.loads(done.out)
    assert report["changes"] == []
    (finding,) = report["findings_new"]
    assert finding["rule"] == "dump/said-twice"
    assert "12 (later-esc.dump line 5)" in finding["message"]


def test_diff_with_one_dump_for_both_sides_sees_no_change(folder: Path) -> None:
    done = run("diff", "wagtail.dump", "later.dump", "--with", "wagtail-esc.dump", cwd=folder)
    assert "No change." in done.out


def test_compare_joins_a_dump_to_one_craft(folder: Path) -> None:
    alone = run("compare", "dipper.dump", "wagtail.dump", "--format", "json", cwd=folder)
    more = run(
        *("compare", "dipper.dump", "wagtail.dump", "--format", "json"),
        *("--everything", "--with", "wagtail.dump=wagtail-esc.dump"),
        cwd=folder,
    )
    assert (alone.status, more.status) == (0, 0)
    assert len(json.loads(more.out)["rows"]) > len(json.loads(alone.out)["rows"])


def test_check_of_several_craft_asks_whose_dump_it_is(folder: Path) -> None:
    arguments = ("check", "dipper.dump", "wagtail.dump", "--with")
    refused = run(*arguments, "wagtail-esc.dump", cwd=folder)
    assert refused.status == 2
    assert "--with dipper.dump=wagtail-esc.dump" in refused.err
    assert run(*arguments, "wagtail.dump=wagtail-esc.dump", cwd=folder).status == 0
