"""A change as lines to type in, with those that take it back: on a screen, and as data."""

from collections.abc import Sequence
from typing import Any

from cfgaudit.dialects.editor import LineChange, TypedLines
from cfgaudit.reading.safe import safe_typed
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.wording import PROPELLERS
from cfgaudit.rules.rule import listed


def typed_changes(
    screen: Screen,
    changes: Sequence[LineChange],
    written: Sequence[str],
    *,
    can_write: bool = True,
) -> None:
    """The lines of a change and its way back, and whether the files were edited, or can be."""
    several = len(changes) > 1
    for change in changes:
        which = f" ({change.file})" if several else ""
        language = "the plain form" if change.dialect == "plain" else change.dialect
        screen.heading(f"The change, as lines of {language}{which}")
        typed_lines(screen, change.forth)
        screen.heading(f"To take it back{which}")
        typed_lines(screen, change.back)
    if changes:
        screen.blank()
        screen.say(PROPELLERS)
        if unsaved := unsaved_in(changes):
            screen.say(unsaved)
        if not can_write:
            return
        files = ", ".join(change.file for change in changes)
        told = f"Not written; --write edits {files} in place, and nothing else in it."
        if written:
            told = (
                f"Written: {', '.join(written)}; every other byte is as it was. What it was is in "
                f"{', '.join(f'{name}.before' for name in written)}, for `confirm --before`."
            )
        screen.say(told)


def unsaved_in(changes: Sequence[LineChange]) -> str:
    """What is to be said where the lines don't end with those that save; empty where they do."""
    return how_to_save([change.dialect for change in changes if not change.saves])


def how_to_save(dialects: Sequence[str]) -> str:
    """That the dialects don't know how their firmware keeps what is typed; empty for none."""
    if not dialects:
        return ""
    return (
        f"How {listed(sorted(set(dialects)))} keeps what is typed is not known ([typing] of its "
        "dialect would say it): save it the firmware's own way, then read it out and `confirm`."
    )


def parts_of(said: TypedLines) -> list[str]:
    """The lines to type in; one that is typed in several goes on in the next."""
    return [part for line in said.lines for part in line.split("\n")]


def typed_lines(screen: Screen, said: TypedLines) -> None:
    """Lines to type in, and what no line can say."""
    for line in parts_of(said):
        screen.typed(line)
    for text in said.unsaid:
        screen.paragraph(f"({text}.)", indent=4)


def lines_text(changes: Sequence[LineChange]) -> str:
    """Only the lines to type in; of several files each behind its name, as a remark.

    What no line can say is a remark too.
    """
    said: list[str] = []
    for change in changes:
        said += [f"# {change.file}"] if len(changes) > 1 else []
        said += parts_of(change.forth)
        said += [f"# {text}" for text in change.forth.unsaid]
    return "".join(f"{safe_typed(line)}\n" for line in said)


def files_json(changes: Sequence[LineChange], written: Sequence[str]) -> list[dict[str, Any]]:
    """Each file that changes. A hunk has whole lines, ends and all: undone, it gives the file."""
    return [
        {
            "file": change.file,
            "dialect": change.dialect,
            "written": change.file in written,
            "saves": change.saves,
            "change": _typed_json(change.forth),
            "take_back": _typed_json(change.back),
            "hunks": [
                {"line": hunk.line + 1, "old": list(hunk.old), "new": list(hunk.new)}
                for hunk in change.hunks
            ],
        }
        for change in changes
    ]


def _typed_json(said: TypedLines) -> dict[str, Any]:
    return {"lines": parts_of(said), "unsaid": list(said.unsaid)}
