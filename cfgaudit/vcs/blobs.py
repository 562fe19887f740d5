"""Reads objects of a repository, all by one process of git."""

import os
import subprocess
from types import TracebackType
from typing import IO

from cfgaudit.vcs.repository import GitError, Repository


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
        """The bytes of an object; None where it is too large, or not here. Raises GitError."""
        assert self._git is not None  # it was entered
        asked, said = self._git.stdin, self._git.stdout
        assert asked is not None  # both are pipes
        assert said is not None
        try:
            asked.write(name.encode("ascii") + b"\n")
            asked.flush()
            head = said.readline().split()
        except OSError as error:
            raise GitError(f"git cat-file: {(error.strerror or str(error)).lower()}") from None
        if len(head) != 3:
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
