"""The tree of a commit: the dumps in it, the settings beside them, and both as files to be read."""

from collections.abc import Collection, Iterable
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from cfgaudit.git.install import ATTRIBUTE
from cfgaudit.git.repository import Blobs, GitError, Repository, ask

_SETTINGS = ".toml"  # settings of folders, dialects, build sheets, records


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
    answer = ask(["rev-parse", "--verify", "--quiet", f"{commit}^{{commit}}"], repository.top)
    if answer.status:
        raise GitError(f"there is no commit {commit}")
    name = answer.out.decode("ascii", "replace").strip()
    return repository.text("rev-parse", f"{name}^@").split()


def tree_of(repository: Repository, commit: str) -> Tree:
    """The tree of a commit, without links and other repositories. Raises GitError."""
    said = repository.text("ls-tree", "-r", "-z", "--full-tree", commit)
    pairs = [entry.partition("\t")[::2] for entry in said.split("\0") if entry]
    cells = [(what.split(" "), name) for what, name in pairs]
    return Tree({name: blob for (mode, _, blob), name in cells if mode.startswith("100")})


def dumps_among(repository: Repository, names: Collection[str]) -> list[str]:
    """Those of some files that our text filter shows. Raises GitError."""
    asked = "".join(f"{name}\0" for name in names).encode("utf-8", "surrogateescape")
    said = ask(["check-attr", "-z", "--stdin", "diff"], repository.top, asked).out
    cells = said.decode("utf-8", "surrogateescape").split("\0")
    return [cells[at] for at in range(0, len(cells) - 2, 3) if cells[at + 2] == ATTRIBUTE]


def lay_out(blobs: Blobs, tree: Tree, names: Iterable[str], folder: Path) -> None:
    """Write files of a tree below a folder, where what they say of one another holds."""
    for name in names:
        path = PurePosixPath(name)
        data = None if path.is_absolute() or ".." in path.parts else blobs.read(tree.blobs[name])
        if data is not None:
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(data)
