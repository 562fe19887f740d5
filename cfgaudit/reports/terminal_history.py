"""The screen of `git history`."""

from collections.abc import Sequence

from cfgaudit.audit.engine import Finding
from cfgaudit.git.history import CommitChanges
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_changes import change_lines


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
    if step.began:
        screen.line(f"  {touch.file} came in, with ", _counted(step.stated, "setting"))
    if step.ended:
        screen.line(f"  {touch.file} was removed")
    if step.unreadable:
        screen.line(f"  {touch.file} can't be read in this commit")
    for change in step.changes:
        change_lines(screen, change)
    if step.left_out:
        what = "of what belongs to the one craft or moves by itself (--all)"
        screen.line(Piece(f"    {_counted(step.left_out, 'change')} {what}", "quiet"))
    for finding in step.brought:
        _finding_line(screen, finding, "brings")
    for finding in step.cleared:
        _finding_line(screen, finding, "perhaps clears" if finding.lacks else "clears")


def _finding_line(screen: Screen, finding: Finding, word: str) -> None:
    style = finding.level.value if word == "brings" else "quiet"
    screen.line(f"  {word}  ", Piece(finding.level.value, style), f"  {finding.rule.id}")


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" + ("" if count == 1 else "s")


def _summary(dump: str, commits: int, steps: Sequence[CommitChanges]) -> str:
    changes = sum(len(step.changes) for step in steps)
    authors = len({(step.touch.author, step.touch.email) for step in steps})
    return (
        f"{_counted(changes, 'change')} in {_counted(len(steps), 'commit')} by "
        f"{_counted(authors, 'author')}; {_counted(commits, 'commit')} touched {dump}."
    )
