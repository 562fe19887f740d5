"""Dumps that git or a shell hands over as copies: their dialect is found all the same."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, run
from tests.cli.repository import Repo, new_repo

OURS = f"{sys.executable} -P -m cfgaudit"


@pytest.fixture
def repo(tmp_path: Path) -> Repo:
    """The dump and its settings lie in a folder of the tree; its low call was lowered."""
    made = new_repo(tmp_path, install=False)
    (made.top / "fleet").mkdir()
    for name in ("cfgaudit.toml", "dialects", "craft.dump"):
        (made.top / name).rename(made.top / "fleet" / name)
    made.commit("a folder for the fleet")
    made.replace(("cell_low = 350", "cell_low = 345"), name="fleet/craft.dump")
    made.commit("a lower call")
    return made


def paths(text: str) -> list[str]:
    told: dict[str, Any] = json.loads(text)
    return [change["path"] for change in told["changes"]]


@pytest.mark.parametrize("more", [[], ["--dir-diff"]], ids=["files", "folders"])
def test_difftool_between_two_commits_speaks_in_settings(repo: Repo, more: list[str]) -> None:
    one = f'{OURS} diff --format json "$LOCAL/fleet/craft.dump" "$REMOTE/fleet/craft.dump"'
    call = one if more else one.replace("/fleet/craft.dump", "")
    repo.git("config", "difftool.ours.cmd", call)
    out = repo.git("difftool", "-y", *more, "--tool=ours", "HEAD~1", "HEAD").out
    assert paths(out) == ["battery.warn_cell"]


def test_what_a_shell_pipes_in_under_a_name_is_read_as_the_other_side(repo: Repo) -> None:
    script = f"{OURS} diff --format json <(git show HEAD~1:fleet/craft.dump) fleet/craft.dump"
    done = subprocess.run(
        ["bash", "-c", script], cwd=repo.top, env=repo.env, capture_output=True, check=True
    )
    assert paths(done.stdout.decode()) == ["battery.warn_cell"]


@pytest.mark.parametrize("way", [1, -1])
def test_a_copy_in_a_temporary_folder_is_read_as_the_other_side(
    repo: Repo, tmp_path: Path, way: int
) -> None:
    copy = tmp_path / "old.dump"
    copy.write_text(repo.git("show", "HEAD~1:fleet/craft.dump").out, encoding="utf-8")
    files = [str(copy), "fleet/craft.dump"][::way]
    answer = run("diff", "--format", "json", *files, cwd=repo.top, env=repo.env)
    assert paths(answer.out) == ["battery.warn_cell"]


def test_a_dialect_that_is_named_holds_for_both_sides(repo: Repo, tmp_path: Path) -> None:
    for name in ("old.dump", "new.dump"):
        shutil.copy(CORPUS / "dipper.dump", tmp_path / name)
    files = [str(tmp_path / name) for name in ("old.dump", "new.dump")]
    answer = run("diff", *files, "--dialect", "sedge", cwd=repo.top / "fleet", env=repo.env)
    assert (answer.status, "No change." in answer.out) == (0, True), answer.err
