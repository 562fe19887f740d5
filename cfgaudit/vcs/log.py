"""Which commits touched a file, under whatever name it had, and what they made of it."""

from collections.abc import Iterator
from typing import NamedTuple

from cfgaudit.vcs.repository import GitError, Repository, ask

_FIELDS = ("%H", "%P", "%aN", "%aE", "%aI", "%s")
_PLAIN = ("--no-color", "--no-show-signature", "--no-notes", "--encoding=UTF-8", "--no-abbrev")
_NOTHING = "0"  # an object's name is all noughts where there is none
_MOST_NAMES = 50  # more names than that are no history of one file


class Touch(NamedTuple):
    """One commit, and the file in it: its object, and those of it in the commit's parents.

    None is for: not there. A merge is among them only where the file differs from that of every
    parent; it has an object for each of them.
    """

    commit: str
    author: str
    email: str
    date: str  # ISO 8601, with the author's offset
    subject: str
    file: str
    after: str | None
    before: tuple[str | None, ...]


class _Entry(NamedTuple):
    """One file of one commit, as git tells it."""

    status: str
    file: str
    old_file: str
    after: str | None
    before: tuple[str | None, ...]


class _Commit(NamedTuple):
    fields: tuple[str, ...]
    parents: tuple[str, ...]
    entries: tuple[_Entry, ...]


def touches(repository: Repository, file: str) -> list[Touch]:
    """The commits before HEAD that changed a file, the newest first. Raises GitError.

    `file` is its name from the top of the tree. A name that it had before a renaming counts up
    to that renaming: what later had the old name was another file.
    """
    names = _names(repository, file)
    commits = list(_log(repository, "--parents", "--topo-order", "-c", "--", *names))
    left = _left_names(commits)
    found: list[Touch] = []
    for commit in commits:
        gone = set[str]().union(*(left.get(parent, frozenset()) for parent in commit.parents))
        for entry in commit.entries:
            if entry.file in names and entry.file not in gone - {file}:
                name, _, author, email, date, subject = commit.fields
                head = (name, author, email, date, subject)
                found.append(Touch(*head, entry.file, entry.after, entry.before))
                break
    return found


def _names(repository: Repository, file: str) -> list[str]:
    """The names that a file has had, its own first."""
    found = [file]
    for name in found:
        for commit in _log(repository, "--follow", "--diff-filter=R", "--", name):
            for entry in commit.entries:
                if entry.old_file not in found and len(found) < _MOST_NAMES:
                    found.append(entry.old_file)
    return found


def _left_names(commits: list[_Commit]) -> dict[str, frozenset[str]]:
    """For each commit the names that the file had left behind in it."""
    found: dict[str, frozenset[str]] = {}
    for commit in reversed(commits):
        left = set[str]().union(*(found.get(parent, frozenset()) for parent in commit.parents))
        for entry in commit.entries:
            if entry.old_file != entry.file:
                left.discard(entry.file)
                left.add(entry.old_file)
        found[commit.fields[0]] = frozenset(left)
    return found


def _log(repository: Repository, *arguments: str) -> Iterator[_Commit]:
    options = ("--literal-pathspecs", "-c", "diff.renames=true")
    form = "--format=" + "".join(f"{field}%x00" for field in _FIELDS)
    answer = ask([*options, "log", "-z", "--raw", "-M", *_PLAIN, form, *arguments], repository.top)
    if answer.status:
        if "does not have any commits" in answer.err or "unknown revision" in answer.err:
            return
        raise GitError(f"git log: {answer.err.splitlines()[-1] if answer.err else answer.status}")
    yield from _commits(answer.out.decode("utf-8", "surrogateescape").split("\0"))


def _commits(words: list[str]) -> Iterator[_Commit]:
    """Commits out of git's words: a commit's fields, then each file that it touched."""
    at = 0
    while at + len(_FIELDS) <= len(words):
        fields = tuple(words[at : at + len(_FIELDS)])
        at += len(_FIELDS)
        entries: list[_Entry] = []
        while at < len(words) and (not words[at].strip("\n") or words[at].lstrip("\n")[0] == ":"):
            told = words[at].lstrip("\n")
            at += 1
            if told:
                two = told.startswith(":") and told.split(" ")[-1][:1] in ("R", "C")
                names = words[at : at + 1 + two]
                at += len(names)
                entries.append(_entry(told, names))
        commit, *said = (field.lstrip("\n") for field in fields)
        yield _Commit((commit, *said), tuple(fields[1].split()), tuple(entries))


def _entry(told: str, names: list[str]) -> _Entry:
    parents = len(told) - len(told.lstrip(":"))
    words = told.lstrip(":").split(" ")
    modes, objects = words[: parents + 1], words[parents + 1 : -1]
    blobs = [_blob(*pair) for pair in zip(modes, objects, strict=True)]
    return _Entry(words[-1], names[-1], names[0], blobs[-1], tuple(blobs[:-1]))


def _blob(mode: str, name: str) -> str | None:
    """The object of a regular file; a link or a folder of another repository is none."""
    return name if mode.startswith("100") and name.strip(_NOTHING) else None
