"""Asks git, in a process of its own; one repository at a time."""

import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

_PATIENCE = 60  # seconds; git answers what is asked here at once, or something is wrong


class GitError(Exception):
    """Git can't do what was asked; the message says what, in one line."""


class Answer(NamedTuple):
    """What git said."""

    status: int
    out: bytes
    err: str


def ask(arguments: Sequence[str], folder: Path, stdin: bytes = b"") -> Answer:
    """Run git in a folder. Raises GitError where there is no git, or it does not end."""
    try:
        done = subprocess.run(
            ["git", *arguments],
            cwd=folder,
            input=stdin,
            capture_output=True,
            timeout=_PATIENCE,
            check=False,
        )
    except OSError as error:
        raise GitError(f"git can't be run: {(error.strerror or str(error)).lower()}") from None
    except subprocess.TimeoutExpired:
        raise GitError(f"git {arguments[0]} did not end within {_PATIENCE} s") from None
    return Answer(done.returncode, done.stdout, done.stderr.decode("utf-8", "replace").strip())


class Repository(NamedTuple):
    """A repository with a working tree; `top` is the folder that the tree begins in."""

    top: Path

    def text(self, *arguments: str) -> str:
        """What git says on standard output, its line end cut off. Raises GitError."""
        answer = ask(arguments, self.top)
        if answer.status:
            said = answer.err.splitlines()
            reason = said[-1] if said else f"it ended with {answer.status}"
            raise GitError(f"git {arguments[0]}: {reason}")
        return answer.out.decode("utf-8", "surrogateescape").removesuffix("\n")

    def local(self, key: str) -> list[str]:
        """Every value that the local configuration has for a key."""
        answer = ask(["config", "--local", "-z", "--get-all", key], self.top)
        values = answer.out.decode("utf-8", "surrogateescape").split("\0")
        return values[:-1] if answer.status == 0 else []

    def path(self, inside: str) -> Path:
        """A file of git's own, by its name inside of .git."""
        return self.top / self.text("rev-parse", "--git-path", inside)

    def has_ref(self, name: str) -> bool:
        """Whether there is such a reference."""
        return ask(["rev-parse", "--verify", "--quiet", name], self.top).status == 0


def find_repository(folder: Path) -> Repository:
    """The repository that a folder is in. Raises GitError."""
    answer = ask(["rev-parse", "--show-toplevel"], folder)
    top = answer.out.decode("utf-8", "surrogateescape").removesuffix("\n")
    if answer.status or not top:
        said = answer.err.partition("\n")[0].removeprefix("fatal: ")
        why = f" (git: {said})" if said and not said.startswith("not a git repository") else ""
        raise GitError(f"no git repository with a working tree is here{why}")
    return Repository(Path(top))
