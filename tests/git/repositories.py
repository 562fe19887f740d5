"""Small repositories made with the real git, away from anybody's own settings."""

import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

from tests.cli.calling import CORPUS

ALONE = {
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_TERMINAL_PROMPT": "0",
    "TZ": "UTC",
}


@dataclass
class Team:
    """A repository, and a clock that moves on by an hour a commit."""

    folder: Path
    hours: int = 0

    def git(self, *arguments: str, author: str = "Reed Warbler") -> str:
        """Run git as one of the team. Fails where git does."""
        when = f"{1_780_000_000 + 3600 * self.hours} +0200"
        who = {
            "GIT_AUTHOR_NAME": author,
            "GIT_AUTHOR_EMAIL": "team@example.org",
            "GIT_COMMITTER_NAME": author,
            "GIT_COMMITTER_EMAIL": "team@example.org",
            "GIT_AUTHOR_DATE": when,
            "GIT_COMMITTER_DATE": when,
        }
        done = subprocess.run(
            ["git", *arguments],
            cwd=self.folder,
            env={**os.environ, **ALONE, **who, "HOME": str(self.folder.parent)},
            capture_output=True,
            check=True,
            timeout=900,
        )
        return done.stdout.decode("utf-8", "replace").strip()

    def commit(self, subject: str, *, author: str = "Reed Warbler") -> str:
        """Commit everything, an hour later; gives the commit's name."""
        self.hours += 1
        self.git("add", "-A")
        self.git("commit", "-q", "-m", subject, author=author)
        return self.git("rev-parse", "HEAD")

    def write(self, name: str, text: str) -> None:
        """Write a file of the tree."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("utf-8", "surrogateescape"))

    def edit(self, name: str, old: str, new: str) -> None:
        """Replace the one occurrence of a text."""
        text = (self.folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1
        self.write(name, text.replace(old, new))


def begun(folder: Path) -> Team:
    """A new repository that knows the demo dialects."""
    folder.mkdir()
    team = Team(folder)
    team.git("init", "-q", "-b", "main")
    dialects = (CORPUS / "dialects").as_posix()
    team.write("cfgaudit.toml", f'[cfgaudit]\ndialects = ["{dialects}"]\n')
    return team
