"""Who changed a setting when: a dump under whatever name, each version against the last."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple, TypeVar

from cfgaudit.audit.engine import Finding, FindingKey, Lacking, gone
from cfgaudit.audit.incremental import Auditor, AuditOutcome
from cfgaudit.changes.diff import (
    NO_COMMENTS,
    Change,
    CommentChanges,
    Renamed,
    comment_changes,
    told_changes,
)
from cfgaudit.git.repository import Blobs, GitError, Repository, ask
from cfgaudit.rules.rule import Level, Limits, Rule
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
    parents: tuple[str, ...] = ()
    border: bool = False  # a shallow clone ends here: what the commit did is not known
    of_sheet: bool = False  # it changed the build sheet alone


class _CommitFile(NamedTuple):
    """One file of one commit, as git tells it."""

    file: str
    old_files: tuple[str, ...]  # its name in each parent
    after: str | None
    before: tuple[str | None, ...]


class _Commit(NamedTuple):
    fields: tuple[str, ...]
    parents: tuple[str, ...]
    entries: tuple[_CommitFile, ...]


def touches(repository: Repository, file: str, sheet: str = "") -> list[Touch]:
    """The commits before HEAD that changed a file, the newest first. Raises GitError.

    `file` is its name from the top of the tree. A name that it had before a renaming counts up
    to that renaming: what later had the old name was another file. Commits that changed the build
    sheet alone are among them where its file is named.
    """
    names = names_of(repository, file)
    sheets = names_of(repository, sheet) if sheet else []
    commits = list(_log(repository, "--topo-order", "--", *names, *sheets))
    left, borders = _left_names(commits, names), _borders(repository)
    found: list[Touch] = []
    for commit in commits:
        gone = set[str]().union(*(left.get(parent, frozenset()) for parent in commit.parents))
        own = [n for n in names if n == file or n not in gone]
        entry = next((entry for entry in commit.entries if entry.file in own), None)
        name, _, author, email, date, subject = commit.fields
        touch = Touch(name, author, email, date, subject, file, None, (), commit.parents)
        touch = touch._replace(border=name in borders)
        if entry is not None:
            found.append(touch._replace(file=entry.file, after=entry.after, before=entry.before))
        elif sheets and (commit.entries or len(commit.parents) > 1):
            found += _beside_sheet(repository, touch, own)
    return found


def _beside_sheet(repository: Repository, touch: Touch, names: Sequence[str]) -> Iterator[Touch]:
    """The commit that left the dump as some parent has it, with the dump as it was in each.

    It changed the build sheet alone; or it is a merge that has the dump from one parent and the
    build sheet from another.
    """
    there = _file_in(repository, touch.commit, names)
    if there is None:
        return
    file, blob = there
    parents = [_file_in(repository, parent, names) for parent in touch.parents]
    before = tuple(parent and parent[1] for parent in parents)
    alone = set(before) <= {blob}
    yield touch._replace(file=file, after=blob, before=before, of_sheet=alone)


def _file_in(repository: Repository, commit: str, names: Sequence[str]) -> tuple[str, str] | None:
    """The first of these files that a commit has, and its object."""
    for name in names:
        blob = repository.object(f"{commit}:{name}")
        if blob:
            return name, blob
    return None


def _borders(repository: Repository) -> frozenset[str]:
    """The commits behind which a shallow clone has nothing."""
    try:
        return frozenset(repository.path("shallow").read_text(encoding="ascii").split())
    except OSError:
        return frozenset()


def names_of(repository: Repository, file: str) -> list[str]:
    """The names that a file has had, its own first."""
    merges: list[_Commit] | None = None
    found = [file]
    for name in found:
        renames = list(_log(repository, "--follow", "--diff-filter=R", "--", name))
        if merges is None:  # git follows a name through none of them
            merges = list(_log(repository, "--merges"))
        for commit in (*renames, *merges):
            for entry in commit.entries:
                if entry.file == name:
                    new = [old for old in dict.fromkeys(entry.old_files) if old not in found]
                    found += new[: _MOST_NAMES - len(found)]
    return found


def _left_names(commits: list[_Commit], names: Sequence[str]) -> dict[str, frozenset[str]]:
    """For each commit the names that the file had left behind in it."""
    found: dict[str, frozenset[str]] = {}
    for commit in reversed(commits):
        left = set[str]().union(*(found.get(parent, frozenset()) for parent in commit.parents))
        for entry in commit.entries:
            olds = {old for old in entry.old_files if old != entry.file and old in names}
            if olds:
                left.discard(entry.file)
                left |= olds
        found[commit.fields[0]] = frozenset(left)
    return found


def _log(repository: Repository, *arguments: str) -> Iterator[_Commit]:
    options = ("--literal-pathspecs", "-c", "diff.renames=true")
    form = "--format=" + "".join(f"{field}%x00" for field in _FIELDS)
    shape = ("-z", "--raw", "-M", "--parents", "-c", "--combined-all-paths")
    answer = ask([*options, "log", *shape, *_PLAIN, form, *arguments], repository.top)
    if answer.status:
        if "does not have any commits" in answer.err or "unknown revision" in answer.err:
            return
        raise GitError(f"git log: {answer.reason}")
    yield from _commits(answer.words)


def _commits(words: list[str]) -> Iterator[_Commit]:
    """Commits out of git's words: a commit's fields, then each file that it touched."""
    at = 0
    while at + len(_FIELDS) <= len(words):
        fields = tuple(words[at : at + len(_FIELDS)])
        at += len(_FIELDS)
        entries: list[_CommitFile] = []
        while at < len(words) and (not words[at].strip("\n") or words[at].lstrip("\n")[0] == ":"):
            told = words[at].lstrip("\n")
            at += 1
            if told:
                parents = len(told) - len(told.lstrip(":"))
                moved = told.split(" ")[-1][:1] in ("R", "C")
                names = words[at : at + (parents + 1 if parents > 1 else 1 + moved)]
                at += len(names)
                entries.append(_entry(told, names))
        commit, *said = (field.lstrip("\n") for field in fields)
        yield _Commit((commit, *said), tuple(fields[1].split()), tuple(entries))


def _entry(told: str, names: list[str]) -> _CommitFile:
    parents = len(told) - len(told.lstrip(":"))
    words = told.lstrip(":").split(" ")
    modes, objects = words[: parents + 1], words[parents + 1 : -1]
    blobs = [_blob(*pair) for pair in zip(modes, objects, strict=True)]
    return _CommitFile(names[-1], tuple(names[:parents]), blobs[-1], tuple(blobs[:-1]))


def _blob(mode: str, name: str) -> str | None:
    """The object of a regular file; a link or a folder of another repository is none."""
    return name if mode.startswith("100") and name.strip(_NOTHING) else None


_KEPT = 64  # versions held in memory; those of side branches come back to one soon

K = TypeVar("K")
V = TypeVar("V")
_NO_DUMP = Settings()
FileSettings = tuple[Settings, ...]  # those of one file: mostly one
DumpReader = Callable[[bytes], FileSettings]
SheetReading = Callable[[bytes], Settings | str]  # why it can't be read


@dataclass(frozen=True)
class CommitChanges:
    """What one commit did: its changes in order of risk, the findings it brought and cleared.

    A dump that comes or goes whole has its settings listed only where paths are asked for.
    `more` are the changes of the file's further dumps, each with its number.
    """

    touch: Touch
    changes: tuple[Change, ...] = ()
    left_out: int = 0  # changes of what moves by itself
    brought: tuple[Finding, ...] = ()
    cleared: tuple[Finding, ...] = ()
    unreadable: bool = False
    sheet_fault: str = ""  # why its build sheet can't be read, or the one before it
    stated: int = 0  # settings of the dumps after it
    more: tuple[tuple[int, Change], ...] = ()
    comments: CommentChanges = NO_COMMENTS
    crafts: FileSettings = ()  # the file's dumps before and after, as far as they can be read

    @property
    def began(self) -> bool:
        """Whether the dump was not there before."""
        return not self.touch.border and not any(self.touch.before)

    @property
    def ended(self) -> bool:
        """Whether the dump was removed."""
        return self.touch.after is None

    @property
    def is_judged(self) -> bool:
        """Whether what it brings and clears is known."""
        return not (self.unreadable or self.sheet_fault)

    @property
    def tells(self) -> bool:
        """Whether there is anything to tell."""
        edges = self.began or self.ended or not self.is_judged or self.touch.border
        said = self.changes or self.more or self.comments.number
        return bool(said or self.brought or self.cleared or self.left_out or edges)


@dataclass(frozen=True)
class HistoryQuery:
    """What is asked for: paths (none for all), rules, and whether what moves by itself is listed.

    Where rules are asked for, nothing else is told.
    """

    paths: tuple[str, ...] = ()
    everything: bool = False
    rules: tuple[str, ...] = ()

    def takes(self, change: Change) -> bool:
        """Whether a change is about one of the paths."""
        names = [change.path, change.old_path] if isinstance(change, Renamed) else [change.path]
        return not self.paths or any(covers(p, name) for p in self.paths for name in names)

    def finds(self, finding: Finding) -> bool:
        """Whether a finding is about one of the paths."""
        return not self.paths or any(covers(p, path) for p in self.paths for path in finding.paths)

    def lists(self, change: Change) -> bool:
        """Whether a change is listed, and not only counted; one file is one and the same craft."""
        return self.everything or not change.volatile

    def wants(self, step: CommitChanges) -> bool:
        """Whether a commit is told of."""
        found = step.brought or step.cleared or not step.is_judged
        return bool(found) if self.rules else step.tells


@dataclass
class Walk:
    """Walks a dump's versions; each is read once and audited once while it is held.

    `sheets` are the names that the build sheet has had: each version is held against the sheet of
    its own commit.
    """

    blobs: Blobs
    reading: DumpReader
    rules: Sequence[Rule]
    limits: Limits | None = None
    wanted: HistoryQuery = HistoryQuery()
    sheets: Sequence[str] = ()
    sheet_reading: SheetReading = lambda _: "nobody reads it"
    names: set[str] = field(default_factory=set)  # every name that was met, where paths are asked
    _read: dict[str, FileSettings | None] = field(default_factory=dict)
    _found: dict[tuple[str, bytes], tuple[AuditOutcome, ...]] = field(default_factory=dict)
    _auditors: dict[bytes, Auditor] = field(default_factory=dict)
    _built_by: dict[bytes, Settings | str] = field(default_factory=dict)

    def steps(self, touches: Iterable[Touch]) -> Iterator[CommitChanges]:
        """A step for each commit, in the order given. Raises GitError."""
        for touch in touches:
            yield self._step(touch)

    def _step(self, touch: Touch) -> CommitChanges:
        after = self._dumps(touch.after)
        befores = [self._dumps(name) for name in touch.before or (None,)]
        if after is None or None in befores:
            return CommitChanges(touch, unreadable=True)
        stated = sum(map(len, after))
        if touch.border:
            return CommitChanges(touch, stated=stated)
        known = [before for before in befores if before is not None]
        fault = self._fault(self._sheet(touch.commit))
        brought, cleared = ((), ()) if fault else self._findings(touch)
        older = (self._fault(self._sheet(parent)) for parent in touch.parents)
        fault = fault or next(filter(None, older), "")
        made = CommitChanges(touch, sheet_fault=fault, stated=stated)
        made = replace(made, brought=brought, cleared=cleared)
        whole = touch.after is None or not any(touch.before)
        if self.wanted.rules or (whole and not self.wanted.paths):
            return made
        every = [
            (number, change)
            for number in range(1, max(map(len, (after, *known))) + 1)
            for change in _by_this_commit([_nth(b, number) for b in known], _nth(after, number))
            if self.wanted.takes(change)
        ]
        listed = [pair for pair in every if self.wanted.lists(pair[1])]
        return replace(
            made,
            changes=tuple(change for number, change in listed if number == 1),
            more=tuple(pair for pair in listed if pair[0] > 1),
            left_out=len(every) - len(listed),
            comments=NO_COMMENTS if self.wanted.paths else self._comments(touch),
            crafts=tuple(settings for dumps in (after, *known) for settings in dumps),
        )

    def _comments(self, touch: Touch) -> CommentChanges:
        """What became of the comments; of a merge, what no parent has."""
        after = self._dumps(touch.after) or ()
        said = [comment_changes(self._dumps(name) or (), after) for name in touch.before]
        return CommentChanges(
            tuple(c for c in said[0].added if all(c in other.added for other in said)),
            tuple(c for c in said[0].removed if all(c in other.removed for other in said)),
        )

    def _findings(self, touch: Touch) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
        """The findings that came and went with a commit, against every parent."""
        sheet = self._sheet(touch.commit)
        now = self._audited(touch.after, sheet)
        parents = touch.parents or ("",) * len(touch.before)
        sheets = [self._sheet(parent) if self.sheets else b"" for parent in parents]
        before = [  # a sheet that can't be read came with a commit that says so
            self._audited(name, sheet if self._fault(old) else old)
            for name, old in zip(touch.before, sheets, strict=False)
        ]
        had = {key for outcome in before for key in _keys(outcome)}
        brought = [f for key, f in _keys(now).items() if key not in had]
        every = [_keys(outcome) for outcome in before] or [{}]
        cleared = {k: f for k, f in every[0].items() if all(k in found for found in every)}
        has = _keys(now)
        left = [
            gone(f, _lacks(before[0], key[0]), _lacks(now, key[0]))
            for key, f in cleared.items()
            if key not in has
        ]
        finds = self.wanted.finds
        return tuple(f for f in brought if finds(f)), tuple(f for f in left if finds(f))

    def _dumps(self, name: str | None) -> FileSettings | None:
        """What an object states; None where it can't be read."""
        if name is None:
            return ()
        if name not in self._read:
            data = self.blobs.read(name)
            _make_room(self._read)
            self._read[name] = None if data is None else self.reading(data)
            if self.wanted.paths:
                for settings in self._read[name] or ():
                    self.names.update(settings.stated, settings.raw)
        return self._read[name]

    def _sheet(self, commit: str) -> bytes:
        """The build sheet as it was in a commit; empty where there was none."""
        found = (self.blobs.read(f"{commit}:{name}") for name in self.sheets if commit)
        return next((data for data in found if data), b"")

    def _built(self, sheet: bytes) -> Settings | str:
        if sheet not in self._built_by:
            self._built_by[sheet] = self.sheet_reading(sheet)
        return self._built_by[sheet]

    def _fault(self, sheet: bytes) -> str:
        """Why a build sheet can't be read; empty where it can, or there is none."""
        built = self._built(sheet) if sheet else ""
        return built if isinstance(built, str) else ""

    def _audited(self, name: str | None, sheet: bytes) -> tuple[AuditOutcome, ...]:
        dumps = self._dumps(name)
        if name is None or dumps is None:
            return ()
        if (name, sheet) not in self._found:
            if sheet not in self._auditors:
                built = self._built(sheet) if sheet else None
                assert not isinstance(built, str)  # where it is at fault nothing is judged
                self._auditors[sheet] = Auditor(self.rules, self.limits, built)
            _make_room(self._found)
            audit = self._auditors[sheet].outcome
            self._found[name, sheet] = tuple(audit(settings) for settings in dumps)
        return self._found[name, sheet]


def _make_room(held: dict[K, V]) -> None:
    while len(held) >= _KEPT:
        del held[next(iter(held))]


def _nth(dumps: FileSettings, number: int) -> Settings:
    return dumps[number - 1] if number <= len(dumps) else _NO_DUMP


def _by_this_commit(befores: Sequence[Settings], after: Settings) -> Sequence[Change]:
    """The changes against the first parent; of a merge, what no parent has."""
    changes = told_changes(befores[0], after)
    for other in befores[1:]:
        names = {change.path for change in told_changes(other, after)}
        changes = tuple(change for change in changes if change.path in names)
    return changes


RunKey = tuple[int, FindingKey, Level]


def _keys(outcomes: Sequence[AuditOutcome]) -> dict[RunKey, Finding]:
    """The findings of a file's dumps, by what makes two of them one."""
    return {
        (number, finding.key, finding.level): finding
        for number, outcome in enumerate(outcomes)
        for finding in outcome.findings
    }


def _lacks(outcomes: Sequence[AuditOutcome], number: int) -> Lacking:
    return outcomes[number].lacks if number < len(outcomes) else {}
