"""Asks git, in a process of its own; reads the objects of a repository, all by one process.

And the tree of a commit: the dumps in it, the settings beside them, both as files to be read.
"""

import os
import re
import subprocess
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path, PurePosixPath
from types import TracebackType
from typing import IO, Final, NamedTuple

ATTRIBUTE: Final = "cfgaudit"  # the name of our filter and driver in .gitattributes
_SETTINGS = ".toml"  # settings of folders, dialects, build sheets, records
_PATIENCE = 60  # seconds; git answers what is asked here at once, or something is wrong


class GitError(Exception):
    """Git can't do what was asked; the message says what, in one line."""


class GitOutput(NamedTuple):
    """What git said."""

    status: int
    out: bytes
    err: str

    @property
    def text(self) -> str:
        """Standard output, its line end cut off."""
        return self.out.decode("utf-8", "surrogateescape").removesuffix("\n")

    @property
    def words(self) -> list[str]:
        """Standard output cut at its noughts: what ends with one has an empty word at its end."""
        return self.out.decode("utf-8", "surrogateescape").split("\0")

    @property
    def reason(self) -> str:
        """The last line of what was said of a fault, else the status."""
        return self.err.splitlines()[-1] if self.err else str(self.status)


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
        return answer.text

    def object(self, name: str) -> str:
        """The object that a name stands for; empty where there is none."""
        return ask(["rev-parse", "--verify", "--quiet", name], self.top).text.strip()

    def local(self, key: str) -> list[str]:
        """Every value that the local configuration has for a key."""
        answer = ask(["config", "--local", "-z", "--get-all", key], self.top)
        return answer.words[:-1] if answer.status == 0 else []

    def path(self, inside: str) -> Path:
        """A file of git's own, by its name inside of .git."""
        return self.top / self.text("rev-parse", "--git-path", inside)

    def has_ref(self, name: str) -> bool:
        """Whether there is such a reference."""
        return bool(self.object(name))


def find_repository(folder: Path) -> Repository:
    """The repository that a folder is in. Raises GitError."""
    answer = ask(["rev-parse", "--show-toplevel"], folder)
    if answer.status or not answer.text:
        said = answer.err.partition("\n")[0].removeprefix("fatal: ")
        why = f" (git: {said})" if said and not said.startswith("not a git repository") else ""
        raise GitError(f"no git repository with a working tree is here{why}")
    return Repository(Path(answer.text))


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
            name = self._repository.object(name)
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


class Tree(NamedTuple):
    """The regular files of a commit: the object of each, by its name from the top."""

    blobs: dict[str, str]

    @property
    def settings(self) -> dict[str, str]:
        """What a dump may be read and judged by."""
        return {name: blob for name, blob in self.blobs.items() if name.endswith(_SETTINGS)}

    def same(self, other: "Tree", names: Iterable[str]) -> bool:
        """Whether some dumps, and all that they may be judged by, are the same in another tree."""
        alike = all(self.blobs.get(name) == other.blobs.get(name) for name in names)
        return alike and self.settings == other.settings


def parents_of(repository: Repository, commit: str) -> list[str]:
    """The parents of a commit. Raises GitError, also where there is no such commit."""
    name = repository.object(f"{commit}^{{commit}}")
    if not name:
        raise GitError(f"there is no commit {commit}")
    return repository.text("rev-parse", f"{name}^@").split()


def staged_squash(repository: Repository) -> tuple[str, ...]:
    """The tree of a squashed merge that waits to be committed, and its two sides; else nothing.

    Git tells of it in a file of its own, the newest commit that it squashed first.
    """
    try:
        said = repository.path("SQUASH_MSG").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ()
    squashed = re.search(r"^commit ([0-9a-f]{40,64})$", said, re.M)
    if squashed is None or ask(["diff", "--quiet", "--cached"], repository.top).status == 0:
        return ()
    return repository.text("write-tree"), "HEAD", squashed[1]


def tree_of(repository: Repository, commit: str) -> Tree:
    """The tree of a commit, without links and other repositories. Raises GitError."""
    said = repository.text("ls-tree", "-r", "-z", "--full-tree", commit)
    pairs = [entry.partition("\t")[::2] for entry in said.split("\0") if entry]
    cells = [(what.split(" "), name) for what, name in pairs]
    return Tree({name: blob for (mode, _, blob), name in cells if mode.startswith("100")})


def dumps_among(repository: Repository, names: Collection[str]) -> list[str]:
    """Those of some files that our text filter shows. Raises GitError."""
    asked = "".join(f"{name}\0" for name in names).encode("utf-8", "surrogateescape")
    cells = ask(["check-attr", "-z", "--stdin", "diff"], repository.top, asked).words
    return [cells[at] for at in range(0, len(cells) - 2, 3) if cells[at + 2] == ATTRIBUTE]


def lay_out(blobs: Blobs, tree: Tree, names: Iterable[str], folder: Path) -> None:
    """Write files of a tree below a folder, where what they say of one another holds."""
    for name in names:
        path = PurePosixPath(name)
        data = None if path.is_absolute() or ".." in path.parts else blobs.read(tree.blobs[name])
        if data is not None:
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(data)
