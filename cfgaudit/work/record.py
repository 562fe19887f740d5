"""What was done at the bench: the record beside the sheet, and how far the whole list is by it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, Final, NamedTuple

from cfgaudit.reading.toml import TomlError, parsed, quoted
from cfgaudit.rules.rule import first_of, listed
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.sheet import ROOT
from cfgaudit.work.judging import Judgement
from cfgaudit.work.steps import SECTIONS, BenchStep, Known, proof, proof_of
from cfgaudit.work.steps_flight import (
    MOTOR,
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
    """One thing that was recorded.

    `value` is what was measured, `says` how it was judged, `seen` what somebody wrote of it, and
    `proves` what dump and sheet had then, each as `path = value`.
    """

    step: str
    at: datetime
    outcome: StepOutcome
    value: str = ""
    says: str = ""
    seen: str = ""
    proves: tuple[str, ...] = ()


class RecordError(ValueError):
    """A record that can't be read; says where."""


HEAD: Final = """\
# What was done at the bench, the newest last. `cfgaudit bench` adds to it and takes nothing away.
"""


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
    texts = ("step", "outcome", "value", "says", "seen")
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
    proves = table.get("proves", [])
    if not isinstance(proves, list) or not all(isinstance(line, str) for line in proves):
        raise RecordError(f"entry {number}: proves must be a list of texts")
    value, says, seen = (table.get(name, "") for name in texts[2:])
    return RecordEntry(table["step"], at, outcome, value, says, seen, tuple(proves))


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
    for name in ("value", "says", "seen"):
        text = getattr(entry, name)
        if text:
            lines.append(f"{name} = {quoted(text)}")
    if entry.proves:
        lines += ["proves = [", *(f"    {quoted(line)}," for line in entry.proves), "]"]
    return "\n".join(lines) + "\n"


class Kept(NamedTuple):
    """What counts of one step: its last entry, or None once that was undone.

    `number` counts the record's entries; `taken_back` is the number of the last one that said that
    the step failed or is undone, -1 where none did.
    """

    entry: RecordEntry | None
    number: int
    taken_back: int


_NEVER: Final = Kept(None, -1, -1)


def latest(entries: Iterable[RecordEntry]) -> dict[str, Kept]:
    """What counts of each step that was ever recorded."""
    found: dict[str, Kept] = {}
    for number, entry in enumerate(entries):
        back = found.get(entry.step, _NEVER).taken_back
        if entry.outcome is not StepOutcome.DONE:
            back = number
        counts = None if entry.outcome is StepOutcome.UNDONE else entry
        found[entry.step] = Kept(counts, number, back)
    return found


_MOST_NAMED: Final = 3


def disputed(sheet: Settings, entries: Iterable[RecordEntry]) -> Settings:
    """The build sheet, marked where what was seen of a motor at the bench speaks against it.

    A step that failed does, and one that passed with another output in the dump than in the sheet.
    What the sheet says otherwise since then is not marked.
    """
    said: set[str] = set()
    for step, kept in latest(entries).items():
        if kept.entry is None or not step.startswith(MOTOR):
            continue
        lines = [line for line in kept.entry.proves if line.startswith(_MOTORS)]
        if kept.entry.outcome is StepOutcome.DONE:
            arm = f"{_MOTORS}{step.removeprefix(MOTOR)}.output = "
            dump = [one for one in kept.entry.proves if one.startswith(arm.removeprefix("sheet."))]
            agreed = {f"sheet.{line}" for line in dump}
            lines = [line for line in lines if agreed and line.startswith(arm)]
            lines = [line for line in lines if line not in agreed]
        said.update(lines)
    if not said:
        return sheet
    stated = {
        path: entry._replace(disputed=proof_of(entry) in said)
        for path, entry in sheet.stated.items()
    }
    return replace(sheet, stated=stated)


_MOTORS: Final = f"{ROOT}.motors."


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
    those of them that failed. `again` says why it is to be done once more though it was done; empty
    where it is not.
    """

    step: BenchStep
    state: StepState
    entry: RecordEntry | None
    waits_for: tuple[str, ...]
    failed_before: tuple[str, ...]
    again: str = ""

    @property
    def box(self) -> str:
        """The box to tick."""
        return BOXES[self.state]


class ListSection(NamedTuple):
    """One part of the list with its steps, in order."""

    title: str
    steps: tuple[Listed, ...]


OFF, ON = "propellers-off", "propellers-on"
_LATE: Final = ("propellers", "hover", "after")  # what is done with propellers on, and after it


def progress(
    steps: Sequence[BenchStep],
    entries: Iterable[RecordEntry],
    found: Mapping[str, Judgement] | None = None,
    *,
    has_dump: bool = True,
) -> tuple[Listed, ...]:
    """Each step as it stands, in the list's order.

    A step counts as done when it was done, what it proved is still so, and every step before it
    counts as done too. What was undone or failed takes with it all that was done after it: doing it
    again does not bring that back. While a step without propellers is to be done, they must have
    come off after they were last put on, and what is done with them on is then done once more.
    `found` judges the steps that are worked out. Without a dump its settings can't be compared.
    """
    record = latest(entries)
    listed = _listed(steps, record, found or {}, has_dump, "")
    if not _is_done(record, ON) or record[ON].number < record.get(OFF, _NEVER).number:
        return listed
    early = [one for one in listed if one.step.section not in _LATE]
    if all(one.state is StepState.DONE for one in early if one.step.ask.kind != "audit"):
        return listed
    return _listed(steps, record, found or {}, has_dump, "the propellers were put on since")


def _is_done(record: Mapping[str, Kept], step: str) -> bool:
    entry = record.get(step, _NEVER).entry
    return entry is not None and entry.outcome is StepOutcome.DONE


def _listed(
    steps: Sequence[BenchStep],
    record: Mapping[str, Kept],
    judged: Mapping[str, Judgement],
    has_dump: bool,
    on_again: str,
) -> tuple[Listed, ...]:
    found: dict[str, Listed] = {}
    back: dict[str, tuple[int, str]] = {}  # the last taking back that reaches a step, and whose
    late = {step.id for step in steps if step.section in _LATE} | {OFF}
    for step in steps:
        kept = record.get(step.id, _NEVER)
        waits = [found[name] for name in step.after if found[name].state is not StepState.DONE]
        failed = _failed(waits)
        reach = max((back[name] for name in step.after), default=(-1, ""))
        back[step.id] = max(reach, (kept.taken_back, step.id))
        again = ""
        if kept.entry is not None:
            newer = (n for n in step.after if n in late and step.id in late)
            again = (
                _differing(kept.entry.proves, step.proves, has_dump=has_dump)
                or (f"{reach[1]} was taken back since" if reach[0] > kept.number else "")
                or next(
                    (
                        f"{name} was done once more since"
                        for name in newer
                        if record.get(name, _NEVER).number > kept.number
                    ),
                    "",
                )
                or (on_again if step.id == OFF else "")
            )
        state = _state(kept.entry, bool(again), shut=bool(waits))
        entry = kept.entry
        verdict = judged.get(step.id)
        if verdict is not None:
            outcome = StepOutcome.DONE if verdict.passed else StepOutcome.FAILED
            entry, again = RecordEntry(step.id, _NO_TIME, outcome, says=verdict.says), ""
            state = _state(entry, False, shut=bool(waits) and verdict.passed)
        names = tuple(dict.fromkeys((*failed, *(one.step.id for one in waits))))
        found[step.id] = Listed(step, state, entry, names, failed, again)
    return tuple(found.values())


_NO_TIME: Final = datetime.fromtimestamp(0, UTC)  # of what is worked out


def _differing(then: Sequence[str], now: Sequence[str], *, has_dump: bool) -> str:
    """Which settings that a step proved are others now; empty where none is.

    Where one has another value, those that came or went are left out: another port is looked at
    with a wire that changed places, and what the old one has it has still.
    """
    old, new = _by_path(then), _by_path(now)
    other = [
        path
        for path in dict.fromkeys((*old, *new))
        if old.get(path) != new.get(path) and (has_dump or path.startswith(f"{ROOT}."))
    ]
    both = [path for path in other if path in old and path in new]
    told = [_was_and_is(path, old.get(path), new.get(path)) for path in both or other]
    return first_of(told, _MOST_NAMED, "; ")


def _by_path(lines: Sequence[str]) -> dict[str, str]:
    return {path: value for path, _, value in (line.partition(" = ") for line in lines)}


def _was_and_is(path: str, old: str | None, new: str | None) -> str:
    if path == "dump":
        return "settings of the dump have changed"
    if old is None:
        return f"{path} is told now: {new}"
    return f"{path} was {old} and is {'told no more' if new is None else new}"


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
    return listed(list(names)) if len(names) <= _MOST_NAMED else first_of(names, _MOST_NAMED)


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
    return tuple(
        step._replace(proves=(*step.proves, *proof(known, step.watches))) for step in steps
    )


def _ids(steps: list[BenchStep]) -> tuple[str, ...]:
    return tuple(step.id for step in steps)
