"""`--output` never replaces what a command reads, whichever command and by whatever name."""

import shutil
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, call
from tests.cli.sweep import EVERY_COMMAND

FILES = ("craft.dump", "other.dump", "dipper.build.toml", "base.json", "dialects/sedge.toml")
READ_BY_THE_WAY = ("cfgaudit.toml", "dialects/sedge.toml", "dipper.build.toml", "craft.dump")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with all that the sweep names."""
    shutil.copy(CORPUS / "dipper.dump", tmp_path / "craft.dump")
    shutil.copy(CORPUS / "sandpiper.dump", tmp_path / "other.dump")
    shutil.copy(CORPUS / "dipper.build.toml", tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    said = '[cfgaudit]\ndialects = ["dialects"]\n[craft]\nbuild = "dipper.build.toml"\n'
    (tmp_path / "cfgaudit.toml").write_text(said)
    (tmp_path / "base.json").write_text("{}")
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def cases() -> list[tuple[list[str], str]]:
    """Every call of the sweep with each file that it names."""
    return [(one, word) for one in EVERY_COMMAND for word in one if word in FILES]


@pytest.mark.parametrize(("arguments", "own"), cases(), ids=str)
def test_an_output_that_is_an_input_is_refused_by_every_command(
    monkeypatch: pytest.MonkeyPatch, folder: Path, arguments: list[str], own: str
) -> None:
    (folder / "alias").symlink_to(folder / own)
    before = contents(folder)
    for name in (own, f"./{own}", "alias"):
        answer = call(monkeypatch, [*arguments, "--output", name], cwd=folder)
        assert answer.status == 2
        assert "would replace" in answer.err or "No such option" in answer.err
        assert contents(folder) == before


@pytest.mark.parametrize("command", ["check", "report"])
@pytest.mark.parametrize("own", READ_BY_THE_WAY)
def test_what_the_folder_names_is_an_input_too(
    monkeypatch: pytest.MonkeyPatch, folder: Path, own: str, command: str
) -> None:
    before = contents(folder)
    answer = call(monkeypatch, [command, "craft.dump", "--output", own], cwd=folder)
    assert answer.status == 2
    assert "would replace" in answer.err
    assert contents(folder) == before


def test_a_report_of_a_folder_replaces_no_dump_in_it_and_replaces_the_report_of_before(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    before = (folder / "other.dump").read_bytes()
    refused = call(monkeypatch, ["fleet", ".", "--output", "other.dump"], cwd=folder)
    assert refused.status == 2
    assert (folder / "other.dump").read_bytes() == before
    for _ in range(2):
        again = call(monkeypatch, ["fleet", ".", "--output", "all.txt"], cwd=folder)
        assert "written: all.txt" in again.err


@pytest.mark.parametrize("part", ["craft.dump#1", "craft.dump=other.dump"])
def test_a_dump_named_with_more_than_its_file_is_an_input(
    monkeypatch: pytest.MonkeyPatch, folder: Path, part: str
) -> None:
    asked = ["check", part] if "#" in part else ["check", "craft.dump", "--with", part]
    own = "craft.dump" if "#" in part else "other.dump"
    answer = call(monkeypatch, [*asked, "--output", own], cwd=folder)
    assert answer.status == 2
    assert "would replace" in answer.err
