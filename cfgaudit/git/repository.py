"""Asks git, in a process of its own; reads the objects of a repository, all by one process."""

import os
import subprocess
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import IO, NamedTuple

_PATIENCE = 60  # seconds; git answers what is asked here at once, or something is wrong


class GitError(Exception):
    """Git can't do what was asked; the message says what, in one line."""


class GitOutput(NamedTuple):
    """What git said."""

    status: int
    out: bytes
    err: str


def ask(arguments: Sequence[str], folder: Path, stdin: bytes = b"") -> GitOutput:
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
    return GitOutput(done.returncode, done.stdout, done.stderr.decode("utf-8", "replace").strip())


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


class Blobs:
    """The contents of files by their objects; to be used as a context."""

    def __init__(self, repository: Repository, most: int) -> None:
        self._repository, self._most = repository, most
        self._git: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "Blobs":
        alone = {**os.environ, "GIT_NO_LAZY_FETCH": "1"}  # what is not here is not sent for
        try:
            self._git = subprocess.Popen(
                ["git", "cat-file", "--batch"],
                cwd=self._repository.top,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=alone,
            )
        except OSError as error:
            raise GitError(f"git can't be run: {(error.strerror or str(error)).lower()}") from None
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._git is not None  # it was entered
        for stream in (self._git.stdin, self._git.stdout):
            assert stream is not None  # both are pipes
            stream.close()
        self._git.wait()

    def read(self, name: str) -> bytes | None:
        """The bytes of an object; None where it is too large, or not here. Raises GitError.

        The name is the object's own, or COMMIT:PATH with whatever letters that path has.
        """
        if "\n" in name:  # what is asked for ends with the line
            found = ask(["rev-parse", "--verify", "--quiet", name], self._repository.top)
            name = found.out.decode("ascii").strip()
            if not name:
                return None
        assert self._git is not None  # it was entered
        asked, said = self._git.stdin, self._git.stdout
        assert asked is not None  # both are pipes
        assert said is not None
        try:
            asked.write(os.fsencode(name) + b"\n")
            asked.flush()
            head = said.readline().split()
        except OSError as error:
            raise GitError(f"git cat-file: {(error.strerror or str(error)).lower()}") from None
        if len(head) != 3 or not head[2].isdigit():  # the name again, and what is wrong with it
            if not head:
                raise GitError("git cat-file ended before it had answered")
            return None
        size = int(head[2])
        data: bytes | None = None
        if size <= self._most:
            data = said.read(size)
        else:
            _drop(said, size)
        said.read(1)  # the line end behind it
        return data


def _drop(stream: IO[bytes], size: int) -> None:
    while size > 0:
        size -= len(stream.read(min(size, 1 << 20))) or size
