"""Who changed a setting when: a dump under whatever name, each version against the last."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeVar

from cfgaudit.audit.engine import Finding, gone
from cfgaudit.audit.incremental import Auditor, AuditOutcome
from cfgaudit.changes.diff import Change, Renamed, diff
from cfgaudit.git.repository import Blobs, GitError, Repository, ask
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import covers

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


_NONE = Settings()
_KEPT = 64  # versions held in memory; those of side branches come back to one soon

V = TypeVar("V")
Reading = Callable[[bytes], Settings]


@dataclass(frozen=True)
class CommitChanges:
    """What one commit did: its changes in order of risk, the findings it brought and cleared.

    A dump that comes or goes whole has its settings listed only where paths are asked for.
    """

    touch: Touch
    changes: tuple[Change, ...] = ()
    left_out: int = 0  # changes of what belongs to the one craft or moves by itself
    brought: tuple[Finding, ...] = ()
    cleared: tuple[Finding, ...] = ()
    unreadable: bool = False
    stated: int = 0  # settings of the dump after it

    @property
    def began(self) -> bool:
        """Whether the dump was not there before."""
        return not any(self.touch.before)

    @property
    def ended(self) -> bool:
        """Whether the dump was removed."""
        return self.touch.after is None

    @property
    def tells(self) -> bool:
        """Whether there is anything to tell."""
        edges = self.began or self.ended or self.unreadable
        return bool(self.changes or self.brought or self.cleared or self.left_out or edges)


@dataclass(frozen=True)
class HistoryQuery:
    """What is asked for: paths (none for all), and whether what moves by itself is listed."""

    paths: tuple[str, ...] = ()
    everything: bool = False

    def takes(self, change: Change) -> bool:
        """Whether a change is about one of the paths."""
        names = [change.path, change.old_path] if isinstance(change, Renamed) else [change.path]
        return not self.paths or any(covers(p, name) for p in self.paths for name in names)

    def finds(self, finding: Finding) -> bool:
        """Whether a finding is about one of the paths."""
        return not self.paths or any(covers(p, path) for p in self.paths for path in finding.paths)

    def lists(self, change: Change) -> bool:
        """Whether a change is listed, and not only counted."""
        return self.everything or not (change.craft_own or change.volatile)


@dataclass
class Walk:
    """Walks a dump's versions; each is read once and audited once while it is held."""

    blobs: Blobs
    reading: Reading
    auditor: Auditor
    wanted: HistoryQuery = HistoryQuery()
    _read: dict[str, Settings | None] = field(default_factory=dict)
    _found: dict[str, AuditOutcome] = field(default_factory=dict)

    def steps(self, touches: Iterable[Touch]) -> Iterator[CommitChanges]:
        """A step for each commit, in the order given. Raises GitError."""
        for touch in touches:
            yield self._step(touch)

    def _step(self, touch: Touch) -> CommitChanges:
        after = self._settings(touch.after)
        befores = [self._settings(name) for name in touch.before or (None,)]
        if after is None or None in befores:
            return CommitChanges(touch, unreadable=True)
        known = [before for before in befores if before is not None]
        whole = touch.after is None or not any(touch.before)
        every = () if whole and not self.wanted.paths else _by_this_commit(known, after)
        changes = [change for change in every if self.wanted.takes(change)]
        listed = tuple(change for change in changes if self.wanted.lists(change))
        left_out = len(changes) - len(listed)
        return CommitChanges(touch, listed, left_out, *self._findings(touch), stated=len(after))

    def _findings(self, touch: Touch) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
        """The findings that came and went with a commit, against every parent."""
        now = self._audited(touch.after)
        before = [self._audited(name) for name in touch.before]
        had = {_key(finding) for outcome in before for finding in outcome.findings}
        has = {_key(finding) for finding in now.findings}
        brought = [f for f in now.findings if _key(f) not in had]
        every = [outcome.findings for outcome in before]
        cleared = {_key(f): f for f in every[0] if all(_has(f, found) for found in every)}
        left = [gone(f, before[0].lacks, now.lacks) for k, f in cleared.items() if k not in has]
        finds = self.wanted.finds
        return tuple(f for f in brought if finds(f)), tuple(f for f in left if finds(f))

    def _settings(self, name: str | None) -> Settings | None:
        """What an object states; None where it can't be read."""
        if name is None:
            return _NONE
        if name not in self._read:
            data = self.blobs.read(name)
            _make_room(self._read)
            self._read[name] = None if data is None else self.reading(data)
        return self._read[name]

    def _audited(self, name: str | None) -> AuditOutcome:
        settings = self._settings(name)
        if name is None or settings is None:
            return AuditOutcome()
        if name not in self._found:
            _make_room(self._found)
            self._found[name] = self.auditor.outcome(settings)
        return self._found[name]


def _make_room(held: dict[str, V]) -> None:
    while len(held) >= _KEPT:
        del held[next(iter(held))]


def _by_this_commit(befores: Sequence[Settings], after: Settings) -> Sequence[Change]:
    """The changes against the first parent; of a merge, what no parent has."""
    changes = diff(befores[0], after)
    for other in befores[1:]:
        names = {change.path for change in diff(other, after)}
        changes = tuple(change for change in changes if change.path in names)
    return changes


def _key(finding: Finding) -> tuple[str, tuple[str, ...], object]:
    return finding.rule.id, finding.paths, finding.level


def _has(finding: Finding, found: Sequence[Finding]) -> bool:
    return any(_key(other) == _key(finding) for other in found)
