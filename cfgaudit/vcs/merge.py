"""The merge that git asks for: by setting; and on any fault of ours as git merges text itself."""

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from cfgaudit.dialects.opening import Opened
from cfgaudit.vcs.marks import Marks
from cfgaudit.vcs.repository import GitError, ask
from cfgaudit.vcs.settings_merge import CannotMerge, merge_by_setting

Open = Callable[[bytes, str | None], Opened]  # bytes, and the dialect where it is settled
_MOST = 127  # git merge-file tells up to so many conflicts; more than that is an error


class Outcome(NamedTuple):
    """What the merge came to.

    `data` is what to write, None where only the conflict can be told. `clashes` are the settings
    said differently; `why_text` is why it was merged as text, empty where it was by setting.
    """

    data: bytes | None
    conflicts: int
    clashes: tuple[str, ...] = ()
    why_text: str = ""


def merge_dumps(base: bytes, ours: bytes, theirs: bytes, marks: Marks, reading: Open) -> Outcome:
    """Merge three wordings of one dump. Never raises: a conflict never goes without its marks."""
    try:
        sides = [reading(data, None) for data in ((base, ours, theirs) if base else (ours, theirs))]
        sides = _in_one_dialect(sides, reading)
        first = sides[0] if base else None
        merged = merge_by_setting(first, sides[-2], sides[-1], marks)
        return Outcome(merged.data, merged.conflicts, merged.clashes)
    except CannotMerge as reason:
        why = str(reason)
    except Exception as error:  # whatever it is, the text must be merged all the same
        why = f"internal fault ({type(error).__name__}: {error}); please report it"
    return merge_text(base, ours, theirs, marks)._replace(why_text=why)


def _in_one_dialect(sides: Sequence[Opened], reading: Open) -> list[Opened]:
    """The sides, those that show no dialect read in the one that the others show."""
    names = {side.dialect.name for side in sides}
    shown = names - {""}
    if len(shown) != 1 or len(names) == 1:
        return list(sides)
    (name,) = shown
    return [
        side if side.dialect.name else reading(side.document.to_bytes(), name) for side in sides
    ]


def merge_text(base: bytes, ours: bytes, theirs: bytes, marks: Marks) -> Outcome:
    """Merge as git merges text; where git can't either, both sides whole between marks."""
    try:
        with tempfile.TemporaryDirectory(prefix="cfgaudit-") as held:
            folder = Path(held)
            for name, data in (("ours", ours), ("base", base), ("theirs", theirs)):
                (folder / name).write_bytes(data)
            answer = ask(_merge_file(marks), folder)
    except (OSError, GitError):
        return _whole(ours, theirs, marks)
    if answer.status <= _MOST:
        return Outcome(answer.out, answer.status)
    binary = any(b"\0" in data for data in (base, ours, theirs))
    return Outcome(None, 1) if binary else _whole(ours, theirs, marks)


def _merge_file(marks: Marks) -> list[str]:
    names = [word for name in (marks.ours, marks.base, marks.theirs) for word in ("-L", name)]
    style = ["--diff3"] if marks.show_base else []
    size = f"--marker-size={max(1, marks.size)}"
    return ["merge-file", "-p", "-q", size, *style, *names, "ours", "base", "theirs"]


def _whole(ours: bytes, theirs: bytes, marks: Marks) -> Outcome:
    """Both sides from top to bottom, as one conflict; nothing to mark where they are the same."""
    if ours == theirs:
        return Outcome(ours, 0)
    head, between, foot = (
        line.encode("utf-8", "replace")
        for line in (marks.line("<", marks.ours), marks.line("="), marks.line(">", marks.theirs))
    )
    parts = (head, ours.removesuffix(b"\n"), between, theirs.removesuffix(b"\n"), foot, b"")
    return Outcome(b"\n".join(parts), 1)
