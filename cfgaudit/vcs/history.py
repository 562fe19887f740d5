"""Who changed a setting when: the versions of a dump, each compared with the one before it."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from cfgaudit.audit.engine import Finding, gone
from cfgaudit.audit.incremental import Auditor, Outcome
from cfgaudit.changes.diff import diff
from cfgaudit.changes.model import Change, Renamed
from cfgaudit.craft.names import covers
from cfgaudit.craft.settings import Settings
from cfgaudit.vcs.blobs import Blobs
from cfgaudit.vcs.log import Touch

_NONE = Settings()
_KEPT = 64  # versions held in memory; those of side branches come back to one soon

V = TypeVar("V")
Reading = Callable[[bytes], Settings]


@dataclass(frozen=True)
class Step:
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
class Wanted:
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
    wanted: Wanted = Wanted()
    _read: dict[str, Settings | None] = field(default_factory=dict)
    _found: dict[str, Outcome] = field(default_factory=dict)

    def steps(self, touches: Iterable[Touch]) -> Iterator[Step]:
        """A step for each commit, in the order given. Raises GitError."""
        for touch in touches:
            yield self._step(touch)

    def _step(self, touch: Touch) -> Step:
        after = self._settings(touch.after)
        befores = [self._settings(name) for name in touch.before or (None,)]
        if after is None or None in befores:
            return Step(touch, unreadable=True)
        known = [before for before in befores if before is not None]
        whole = touch.after is None or not any(touch.before)
        every = () if whole and not self.wanted.paths else _by_this_commit(known, after)
        changes = [change for change in every if self.wanted.takes(change)]
        listed = tuple(change for change in changes if self.wanted.lists(change))
        left_out = len(changes) - len(listed)
        return Step(touch, listed, left_out, *self._findings(touch), stated=len(after))

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

    def _audited(self, name: str | None) -> Outcome:
        settings = self._settings(name)
        if name is None or settings is None:
            return Outcome()
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
