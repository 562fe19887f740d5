"""What was done at the bench: a TOML file beside the sheet, which only ever grows."""

import tomllib
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import PurePath
from typing import Any, Final, NamedTuple

from cfgaudit.bench.new_sheet import toml_text


class Outcome(StrEnum):
    """How a step ended."""

    DONE = "done"
    FAILED = "failed"
    UNDONE = "undone"  # what was recorded of it before no longer counts


class Entry(NamedTuple):
    """One thing that was recorded. `against` is what the step was judged by, in short."""

    step: str
    at: datetime
    outcome: Outcome
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


def read_record(text: str) -> tuple[Entry, ...]:
    """All entries, in order. Raises RecordError."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RecordError(f"is no TOML: {error}") from None
    found = tables.get("entry", [])
    if not isinstance(found, list) or set(tables) - {"entry"}:
        raise RecordError("holds something else than [[entry]] tables")
    return tuple(_entry(table, number) for number, table in enumerate(found, 1))


def _entry(table: Mapping[str, Any], number: int) -> Entry:
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
        outcome = Outcome(table.get("outcome", ""))
    except ValueError:
        every = ", ".join(Outcome)
        raise RecordError(f"entry {number}: outcome must be one of {every}") from None
    value, says, against = (table.get(name, "") for name in texts[2:])
    return Entry(table["step"], at, outcome, value, says, against)


def with_entry(text: str, entry: Entry) -> str:
    """The record with one more entry behind all that stands there."""
    before = text or HEAD
    gap = "" if before.endswith("\n") else "\n"
    return f"{before}{gap}\n{entry_text(entry)}"


def entry_text(entry: Entry) -> str:
    """One entry as TOML; what is empty is left out."""
    at = entry.at.astimezone(UTC).replace(tzinfo=None, microsecond=0).isoformat()
    lines = ["[[entry]]", f"step = {toml_text(entry.step)}", f"at = {at}Z"]
    lines.append(f"outcome = {toml_text(entry.outcome.value)}")
    for name in ("value", "says", "against"):
        text = getattr(entry, name)
        if text:
            lines.append(f"{name} = {toml_text(text)}")
    return "\n".join(lines) + "\n"


def latest(entries: Iterable[Entry]) -> dict[str, Entry]:
    """What counts of each step: its last entry, unless that says that it was undone."""
    found: dict[str, Entry] = {}
    for entry in entries:
        found.pop(entry.step, None)
        if entry.outcome is not Outcome.UNDONE:
            found[entry.step] = entry
    return found
