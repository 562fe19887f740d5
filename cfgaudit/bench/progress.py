"""How far a working list is done: which steps are open, done, failed, or still shut."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Final, NamedTuple

from cfgaudit.bench.record import Entry, Outcome
from cfgaudit.bench.work import SECTIONS, Step
from cfgaudit.rules.wording import listed

_MOST_NAMED: Final = 3


class State(StrEnum):
    """How a step stands."""

    OPEN = "open"
    DONE = "done"
    FAILED = "failed"
    SHUT = "shut"  # steps before it are not done


BOXES = {State.OPEN: "[ ]", State.DONE: "[x]", State.FAILED: "[!]", State.SHUT: "[-]"}


class Listed(NamedTuple):
    """One step of the list as it stands.

    `waits_for` are the steps before it that are not done, those that failed first; `failed_before`
    those of them that failed. `changed` says that it was done, but judged by something that is no
    longer so.
    """

    step: Step
    state: State
    entry: Entry | None
    waits_for: tuple[str, ...]
    failed_before: tuple[str, ...]
    changed: bool

    @property
    def box(self) -> str:
        """The box to tick."""
        return BOXES[self.state]


class Section(NamedTuple):
    """One part of the list with its steps, in order."""

    title: str
    steps: tuple[Listed, ...]


def progress(steps: Sequence[Step], record: Mapping[str, Entry]) -> tuple[Listed, ...]:
    """Each step as it stands, in the list's order.

    A step counts as done when it was done and every step before it counts as done too: what
    failed again, or was undone, shuts what comes after it.
    """
    found: dict[str, Listed] = {}
    for step in steps:
        waits = [found[name] for name in step.after if found[name].state is not State.DONE]
        failed = _failed(waits)
        entry = record.get(step.id)
        changed = entry is not None and entry.against != step.against
        state = _state(entry, changed, shut=bool(waits))
        names = tuple(dict.fromkeys((*failed, *(one.step.id for one in waits))))
        found[step.id] = Listed(step, state, entry, names, failed, changed)
    return tuple(found.values())


def _failed(waits: Sequence[Listed]) -> tuple[str, ...]:
    """The steps that failed, at whatever distance, among those before a step."""
    names = [
        name
        for one in waits
        for name in ((one.step.id,) if one.state is State.FAILED else one.failed_before)
    ]
    return tuple(dict.fromkeys(names))


def _state(entry: Entry | None, changed: bool, *, shut: bool) -> State:
    if shut:
        return State.SHUT
    if entry is None or changed:
        return State.OPEN
    return State.DONE if entry.outcome is Outcome.DONE else State.FAILED


def sections(steps: Sequence[Listed]) -> tuple[Section, ...]:
    """The list by its parts, for a screen or a page: box, what to do, to expect, caution."""
    return tuple(
        Section(title, mine)
        for name, title in SECTIONS.items()
        if (mine := tuple(one for one in steps if one.step.section == name))
    )


def waiting_for(one: Listed) -> str:
    """What keeps a step shut, in words: what failed, else the first three that are to be done.

    Empty for a step that is not shut.
    """
    if one.state is not State.SHUT:
        return ""
    if one.failed_before:
        return f"shut, for {_some(one.failed_before)} failed"
    return f"opens after {_some(one.waits_for)}"


def _some(names: Sequence[str]) -> str:
    if len(names) <= _MOST_NAMED:
        return listed(list(names))
    return f"{', '.join(names[:_MOST_NAMED])} and {len(names) - _MOST_NAMED} more"
