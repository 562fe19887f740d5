"""A repository of a test's own: a home of its own, no settings of the machine, the demo craft."""

import os
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import pytest

from tests.cli.calling import CORPUS, Answer, call, environment

PROGRAM = f"{shlex.quote(Path(sys.executable).as_posix())} -P -m cfgaudit"
ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Repo:
    """A working tree, and git and cfgaudit called in it."""

    top: Path

    @property
    def env(self) -> dict[str, str]:
        home = self.top.parent
        kept = {k: v for k, v in environment().items() if not k.startswith("GIT_")}
        more = {
            "HOME": str(home),
            "XDG_CONFIG_HOME": str(home / "none"),
            "GIT_CONFIG_NOSYSTEM": "1",
            "GIT_EDITOR": "true",
            "GIT_PAGER": "cat",
            "PYTHONPATH": os.pathsep.join(
                [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
            ),
            "LC_ALL": "C",
        }
        for who in ("AUTHOR", "COMMITTER"):
            more |= {f"GIT_{who}_NAME": "Thorn", f"GIT_{who}_EMAIL": "thorn@alder.example"}
        return kept | more

    def git(self, *arguments: str, status: int | None = 0) -> Answer:
        done = subprocess.run(
            ["git", *arguments],
            cwd=self.top,
            env=self.env,
            capture_output=True,
            timeout=900,
            check=False,
        )
        answer = Answer(done.returncode, done.stdout.decode(), done.stderr.decode())
        assert status is None or answer.status == status, answer
        return answer

    def ours(self, *arguments: str, folder: str = ".") -> Answer:
        """`cfgaudit git`, in this process: what git itself calls is a process all the same."""
        asked = ["git", *arguments]
        return call(pytest.MonkeyPatch(), asked, cwd=self.top / folder, env=self.env)

    def write(self, text: str, name: str = "craft.dump") -> None:
        (self.top / name).write_bytes(text.encode())

    def read(self, name: str = "craft.dump") -> str:
        return (self.top / name).read_bytes().decode()

    def replace(self, *pairs: tuple[str, str], name: str = "craft.dump") -> None:
        text = self.read(name)
        for old, new in pairs:
            assert old in text
            text = text.replace(old, new, 1)
        self.write(text, name)

    def commit(self, message: str) -> None:
        self.git("add", "-A")
        self.git("commit", "-q", "-m", message)


def new_repo(folder: Path, *, install: bool = True) -> Repo:
    """A repository with the dialect sedge and one dump, committed on branch main."""
    repo = Repo(folder / "boats")
    shutil.copytree(_made(install).top, repo.top)
    repo.git("update-index", "-q", "--refresh")  # git tells a copy by its inode
    return repo


_KEPT: Final = TemporaryDirectory(prefix="cfgaudit-")


@cache
def _made(install: bool) -> Repo:
    """The one that those of all tests are copies of."""
    repo = Repo(Path(_KEPT.name) / str(install) / "boats")
    (repo.top / "dialects").mkdir(parents=True)
    repo.git("init", "-q", "-b", "main")
    repo.git("config", "core.autocrlf", "false")
    dialect = (CORPUS / "dialects" / "sedge.toml").read_bytes()
    (repo.top / "dialects" / "sedge.toml").write_bytes(dialect)
    repo.write('[cfgaudit]\ndialects = ["dialects"]\n', "cfgaudit.toml")
    repo.write((CORPUS / "dipper.dump").read_text("utf-8"))
    if install:
        assert repo.ours("install", "--program", PROGRAM).status == 0
    repo.commit("the craft as it came")
    return repo
