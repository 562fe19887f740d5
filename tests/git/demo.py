"""Merges of small dumps, and what a dump says: shared by the tests of merging."""

from collections.abc import Hashable
from functools import cache

from cfgaudit.changes.diff import entry_meaning
from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.opening import Opened, bundled_dialects, open_dump
from cfgaudit.git.merge import Marks, MergeResult, merge_dumps
from cfgaudit.settings import Origin
from tests.cli.calling import CORPUS

HEAD = "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18\n"
END = "-- the reeds are quiet --\n"


@cache
def dialects() -> tuple[Dialect, ...]:
    files = sorted((CORPUS / "dialects").glob("*.toml"))
    return (*map(load_dialect, files), *bundled_dialects())


def reading(data: bytes, name: str | None) -> Opened:
    chosen = next((dialect for dialect in dialects() if dialect.name == name), None)
    return open_dump("a.dump", data, dialects(), chosen)


def merged_bytes(
    base: bytes, ours: bytes, theirs: bytes, marks: Marks | None = None
) -> MergeResult:
    return merge_dumps(base, ours, theirs, marks or Marks(), reading)


def merged(base: str, ours: str, theirs: str, marks: Marks | None = None) -> MergeResult:
    return merged_bytes(base.encode(), ours.encode(), theirs.encode(), marks)


def text_of(outcome: MergeResult) -> str:
    assert outcome.data is not None
    return outcome.data.decode()


def clean(base: str, ours: str, theirs: str) -> str:
    """The merged text of what merges by setting without a conflict."""
    outcome = merged(base, ours, theirs)
    assert (outcome.why_text, outcome.clashes, outcome.conflicts) == ("", (), 0)
    return text_of(outcome)


def says(data: bytes) -> dict[str, Hashable]:
    """Everything that a dump itself says, by path or raw key."""
    settings = reading(data, None).settings
    dumped = {p: e for p, e in settings.stated.items() if e.origin is Origin.DUMP}
    return {p: entry_meaning(e) for p, e in dumped.items()} | {
        f"raw {key}": entry_meaning(raw) for key, raw in settings.raw.items()
    }


def sedge(*lines: str) -> str:
    """A small dump in the dialect sedge."""
    return HEAD + "".join(f"{line}\n" for line in lines) + END
