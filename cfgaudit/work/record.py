"""What was done at the bench: the record beside the sheet, and how far the whole list is by it."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import PurePath
from typing import Any, Final, NamedTuple

from cfgaudit.reading.toml import TomlError, parsed, quoted
from cfgaudit.rules.rule import listed
from cfgaudit.work.steps import SECTIONS, BenchStep, Known
from cfgaudit.work.steps_flight import (
    after_hover,
    failsafe,
    hover,
    motors,
    ports,
    propellers,
    switches,
)
from cfgaudit.work.steps_power import before_power, first_power, measuring, video


class StepOutcome(StrEnum):
    """How a step ended."""

    DONE = "done"
    FAILED = "failed"
    UNDONE = "undone"  # what was recorded of it before no longer counts


class RecordEntry(NamedTuple):
    """One thing that was recorded. `against` is what the step was judged by, in short."""

    step: str
    at: datetime
    outcome: StepOutcome
    value: str = ""
    says: str = ""
    against: str = ""


class RecordError(ValueError):
    """A record that can't be read; says where."""


HEAD: Final = """\
# What was done at the bench, the newest last. `cfgaudit bench` adds to it and takes nothing away.
"""


def record_name(build: str) -> str:
    """The record's file for a build sheet: the sheet's name with bench in place of build.

    >>> record_name("craft/dipper.build.toml"), record_name("sheet.toml")
    ('craft/dipper.bench.toml', 'sheet.bench.toml')
    """
    path = PurePath(build)
    stem = path.name.removesuffix(".toml").removesuffix(".build")
    return str(path.with_name(f"{stem}.bench.toml"))


def read_record(text: str) -> tuple[RecordEntry, ...]:
    """All entries, in order. Raises RecordError."""
    try:
        tables = parsed(text)
    except TomlError as error:
        raise RecordError(f"{error} (line {error.line})") from None
    found = tables.get("entry", [])
    if not isinstance(found, list) or set(tables) - {"entry"}:
        raise RecordError("holds something else than [[entry]] tables")
    return tuple(_entry(table, number) for number, table in enumerate(found, 1))


def _entry(table: Mapping[str, Any], number: int) -> RecordEntry:
    texts = ("step", "outcome", "value", "says", "against")
    at = table.get("at")
    if not isinstance(at, datetime) or at.tzinfo is None:
        raise RecordError(f"entry {number}: at must be a time such as 2026-11-25T15:05:00Z")
    for name in texts:
        if not isinstance(table.get(name, ""), str):
            raise RecordError(f"entry {number}: {name} must be a text")
    if not table.get("step"):
        raise RecordError(f"entry {number}: step is missing")
    try:
        outcome = StepOutcome(table.get("outcome", ""))
    except ValueError:
        every = ", ".join(StepOutcome)
        raise RecordError(f"entry {number}: outcome must be one of {every}") from None
    value, says, against = (table.get(name, "") for name in texts[2:])
    return RecordEntry(table["step"], at, outcome, value, says, against)


def with_entry(text: str, entry: RecordEntry) -> str:
    """The record with one more entry behind all that stands there."""
    before = text or HEAD
    gap = "" if before.endswith("\n") else "\n"
    return f"{before}{gap}\n{entry_text(entry)}"


def entry_text(entry: RecordEntry) -> str:
    """One entry as TOML; what is empty is left out."""
    at = entry.at.astimezone(UTC).replace(tzinfo=None, microsecond=0).isoformat()
    lines = ["[[entry]]", f"step = {quoted(entry.step)}", f"at = {at}Z"]
    lines.append(f"outcome = {quoted(entry.outcome.value)}")
    for name in ("value", "says", "against"):
        text = getattr(entry, name)
        if text:
            lines.append(f"{name} = {quoted(text)}")
    return "\n".join(lines) + "\n"


def latest(entries: Iterable[RecordEntry]) -> dict[str, RecordEntry]:
    """What counts of each step: its last entry, unless that says that it was undone."""
    found: dict[str, RecordEntry] = {}
    for entry in entries:
        found.pop(entry.step, None)
        if entry.outcome is not StepOutcome.UNDONE:
            found[entry.step] = entry
    return found


_MOST_NAMED: Final = 3


class StepState(StrEnum):
    """How a step stands."""

    OPEN = "open"
    DONE = "done"
    FAILED = "failed"
    SHUT = "shut"  # steps before it are not done


BOXES = {
    StepState.OPEN: "[ ]",
    StepState.DONE: "[x]",
    StepState.FAILED: "[!]",
    StepState.SHUT: "[-]",
}


class Listed(NamedTuple):
    """One step of the list as it stands.

    `waits_for` are the steps before it that are not done, those that failed first; `failed_before`
    those of them that failed. `changed` says that it was done, but judged by something that is no
    longer so.
    """

    step: BenchStep
    state: StepState
    entry: RecordEntry | None
    waits_for: tuple[str, ...]
    failed_before: tuple[str, ...]
    changed: bool

    @property
    def box(self) -> str:
        """The box to tick."""
        return BOXES[self.state]


class ListSection(NamedTuple):
    """One part of the list with its steps, in order."""

    title: str
    steps: tuple[Listed, ...]


def progress(steps: Sequence[BenchStep], record: Mapping[str, RecordEntry]) -> tuple[Listed, ...]:
    """Each step as it stands, in the list's order.

    A step counts as done when it was done and every step before it counts as done too: what
    failed again, or was undone, shuts what comes after it.
    """
    found: dict[str, Listed] = {}
    for step in steps:
        waits = [found[name] for name in step.after if found[name].state is not StepState.DONE]
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
        for name in ((one.step.id,) if one.state is StepState.FAILED else one.failed_before)
    ]
    return tuple(dict.fromkeys(names))


def _state(entry: RecordEntry | None, changed: bool, *, shut: bool) -> StepState:
    if shut:
        return StepState.SHUT
    if entry is None or changed:
        return StepState.OPEN
    return StepState.DONE if entry.outcome is StepOutcome.DONE else StepState.FAILED


def sections(steps: Sequence[Listed]) -> tuple[ListSection, ...]:
    """The list by its parts, for a screen or a page: box, what to do, to expect, caution."""
    return tuple(
        ListSection(title, mine)
        for name, title in SECTIONS.items()
        if (mine := tuple(one for one in steps if one.step.section == name))
    )


def waiting_for(one: Listed) -> str:
    """What keeps a step shut, in words: what failed, else the first three that are to be done.

    Empty for a step that is not shut.
    """
    if one.state is not StepState.SHUT:
        return ""
    if one.failed_before:
        return f"shut, for {_some(one.failed_before)} failed"
    return f"opens after {_some(one.waits_for)}"


def _some(names: Sequence[str]) -> str:
    if len(names) <= _MOST_NAMED:
        return listed(list(names))
    return f"{', '.join(names[:_MOST_NAMED])} and {len(names) - _MOST_NAMED} more"


def working_list(known: Known) -> tuple[BenchStep, ...]:
    """Every step. Each step's `after` names steps that stand before it, so it can be worked down.

    The propellers go on once every step before that is done.
    """
    cold = list(before_power(known))
    first = list(first_power(known, _ids(cold)))
    port = list(ports(known, tuple(s.id for s in first if s.id.startswith(("rail-", "warm")))))
    switch = list(switches(known))
    steps = [*cold, *first, *port, *switch]
    arming = [s.id for s in switch if s.id.startswith(("switch-", "stick-"))]
    steps += failsafe(known, ("sticks", *arming))
    steps += motors(known)
    steps += measuring(known)
    steps += video(known)
    steps += propellers(known, _ids(steps))
    steps += hover(known)
    steps += after_hover(known)
    return tuple(steps)


def _ids(steps: list[BenchStep]) -> tuple[str, ...]:
    return tuple(step.id for step in steps)
