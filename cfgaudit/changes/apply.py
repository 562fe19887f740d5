"""Changes put to use on a set of settings."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from cfgaudit.changes.meaning import entry_meaning
from cfgaudit.changes.model import Added, Change, Changed, Entry, Removed, Renamed, name_of
from cfgaudit.craft.settings import Raw, Settings, Stated

E = TypeVar("E", Stated, Raw)


class DoesNotFit(ValueError):  # noqa: N818 (named for what it says)
    """A change does not start from what the settings state; `path` names it."""

    def __init__(self, path: str) -> None:
        super().__init__(f"{path} is not as the change expects it")
        self.path = path


def apply(changes: Iterable[Change], settings: Settings) -> Settings:
    """The settings with the changes made; what was given is left as it is.

    A renamed or changed setting keeps its place in the order, an added one comes last. What
    was noted of a changed path (trouble, a second statement of a removed one) is dropped
    with the old value. Raises DoesNotFit where a change starts from another value.
    """
    changes = tuple(changes)
    stated = _made(changes, settings.stated, Stated)
    touched = {name_of(change.old) for change in changes if not isinstance(change, Added)}
    touched |= {change.path for change in changes}
    return replace(
        settings,
        stated=stated,
        raw=_made(changes, settings.raw, Raw),
        repeats=tuple(
            (stated[holds.path], other) for holds, other in settings.repeats if holds.path in stated
        ),
        troubles=tuple(t for t in settings.troubles if not t.path or t.path not in touched),
    )


def _made(changes: Iterable[Change], entries: Mapping[str, E], sort: type[E]) -> dict[str, E]:
    """One of the two tables, with the changes that are about it made."""
    instead: dict[str, E | None] = {}
    added: dict[str, E] = {}
    for change in changes:
        if isinstance(change, Added):
            if isinstance(change.new, sort):
                _check(change.path, None, entries.get(change.path))
                added[change.path] = change.new
        elif isinstance(change.old, sort):
            was = name_of(change.old)
            _check(was, change.old, entries.get(was))
            instead[was] = _after(change, sort)
            if isinstance(change, Renamed):
                _check(change.path, None, entries.get(change.path))
    made: dict[str, E] = {}
    for path, entry in entries.items():
        held = instead.get(path, entry)
        if held is not None:
            made[name_of(held)] = held
    return made | added


def _after(change: Removed | Changed | Renamed, sort: type[E]) -> E | None:
    if isinstance(change, Removed) or not isinstance(change.new, sort):
        return None
    return change.new


def _check(path: str, expected: Entry | None, found: Entry | None) -> None:
    if entry_meaning(expected) != entry_meaning(found):
        raise DoesNotFit(path)
