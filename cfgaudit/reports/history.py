"""What `git history` tells: who changed what, and when; screen and data."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from cfgaudit.audit.engine import Finding
from cfgaudit.git.history import CommitChanges
from cfgaudit.reports.check import findings_json
from cfgaudit.reports.data import VERSION
from cfgaudit.reports.diff import (
    another_craft,
    change_json,
    change_lines,
    comment_lines,
    comments_json,
)
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import counted


def history_screen(dump: str, commits: int, steps: Sequence[CommitChanges], width: int) -> Screen:
    """Each commit with what it changed, in order of risk, and the findings that came and went."""
    screen = Screen(width)
    for step in steps:
        screen.blank()
        _step_lines(screen, step)
    screen.blank()
    screen.paragraph(_summary(dump, commits, steps), indent=0)
    return screen


def _step_lines(screen: Screen, step: CommitChanges) -> None:
    touch = step.touch
    screen.line(
        Piece(touch.date[:10], "strong"), "  ", Piece(touch.commit[:10], "quiet"),
        "  ", Piece(touch.author, "strong"),
    )  # fmt: skip
    screen.paragraph(touch.subject, indent=2)
    _edge_lines(screen, step)
    if other := another_craft(step.changes):
        screen.paragraph(other, indent=2, style="strong")
    for change in step.changes:
        change_lines(screen, change)
    for number, changes in groupby(step.more, lambda pair: pair[0]):
        screen.line(f"  in dump {number} of the file:")
        for _, change in changes:
            change_lines(screen, change)
    comment_lines(screen, step.comments)
    if step.left_out:
        what = "of what moves by itself (--everything)"
        screen.line(Piece(f"    {counted(step.left_out, 'change')} {what}", "quiet"))
    for finding in step.brought:
        _finding_line(screen, finding, "brings")
    for finding in step.cleared:
        _finding_line(screen, finding, "perhaps clears" if finding.lacks else "clears")


def _edge_lines(screen: Screen, step: CommitChanges) -> None:
    """What became of the file as a whole."""
    touch = step.touch
    if step.began:
        screen.line(f"  {touch.file} came in, with ", counted(step.stated, "setting"))
    if step.ended:
        screen.line(f"  {touch.file} was removed")
    if touch.border:
        screen.line(f"  {touch.file} is there, with ", counted(step.stated, "setting"))
        screen.paragraph(
            "The clone is shallow and ends here: who made them what they are is not "
            "known. `git fetch --unshallow` brings the rest.",
            indent=2,
        )
    if touch.of_sheet:
        screen.line("  the build sheet changed")
    if step.sheet_fault:
        why = "What it brings is not known, for the build sheet here or before it can't be read: "
        screen.paragraph(f"{why}{step.sheet_fault}", indent=2, style="warning")
    if step.unreadable:
        screen.line(f"  {touch.file} can't be read in this commit")


def _finding_line(screen: Screen, finding: Finding, word: str) -> None:
    style = finding.level.value if word == "brings" else "quiet"
    screen.line(f"  {word}  ", Piece(finding.level.value, style), f"  {finding.rule.id}")


def _summary(dump: str, commits: int, steps: Sequence[CommitChanges]) -> str:
    changes = sum(len(step.changes) + len(step.more) for step in steps)
    authors = len({(step.touch.author, step.touch.email) for step in steps})
    return (
        f"{counted(changes, 'change')} in {counted(len(steps), 'commit')} by "
        f"{counted(authors, 'author')}; {counted(commits, 'commit')} touched {dump}."
    )


def history_json(
    dump: str,
    paths: Sequence[str],
    commits: int,
    steps: Sequence[CommitChanges],
    rule: str | None = None,
) -> dict[str, Any]:
    """The whole output of git history; `commits` counts those that touch the dump."""
    return {
        "version": VERSION,
        "dump": dump,
        "paths": list(paths),
        "finding": rule,
        "commits": commits,
        "steps": [_step_json(step) for step in steps],
    }


def _step_json(step: CommitChanges) -> dict[str, Any]:
    touch = step.touch
    return {
        "commit": touch.commit,
        "author": touch.author,
        "email": touch.email,
        "date": touch.date,
        "subject": touch.subject,
        "file": touch.file,
        "began": step.began,
        "ended": step.ended,
        "unreadable": step.unreadable,
        "border": touch.border,
        "of_sheet": touch.of_sheet,
        "sheet_fault": step.sheet_fault or None,
        "changes": [
            change_json(change, number)
            for number, change in (*((1, change) for change in step.changes), *step.more)
        ],
        "comments": comments_json(step.comments),
        "left_out": step.left_out,
        "findings_new": findings_json(step.brought),
        "findings_cleared": findings_json(step.cleared),
    }
