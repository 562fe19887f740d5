"""What `diff` tells, what `git history` does, and other reports of a change; screen and data."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from cfgaudit.audit.engine import Audit, Finding
from cfgaudit.changes.diff import (
    IDENTITY,
    NO_COMMENTS,
    Added,
    Change,
    Changed,
    CommentChanges,
    Removed,
    Renamed,
    StatedOrRaw,
    Subject,
    name_of,
)
from cfgaudit.dialects.plain import stated_text
from cfgaudit.reading.safe import safe
from cfgaudit.reports.check import change_findings, findings_json, generic_lines, note_lines
from cfgaudit.reports.data import VERSION, class_json, entry_json, place_json, value_json
from cfgaudit.reports.screen import Piece, Screen, cells
from cfgaudit.reports.secrets import hide, is_secret, mask, masked_note, secret_texts
from cfgaudit.reports.show import raw_json, stated_json
from cfgaudit.reports.wording import NOT_STATED, counted, stands
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Annotation, Origin, Raw, Settings, Stated
from cfgaudit.vocabulary.declare import HIDDEN

if TYPE_CHECKING:  # no two dumps want it
    from cfgaudit.git.history import CommitChanges

_TOUCHES: Final = {
    0: "safety: can make the craft fly away, flip or not stop",
    1: "power: battery and its warnings",
    2: "control: how it flies",
    3: "radio: what it sends and where",
    4: "comfort",
    5: "identity",
}


class DiffReport(NamedTuple):
    """What became of one set of settings: changes listed or counted, findings come and gone."""

    names: tuple[str, str]
    listed: Sequence[Change]
    hidden: Sequence[Change]
    audits: tuple[Audit, Audit]  # before and after
    brought: Sequence[Finding]
    cleared: Sequence[Finding]
    comments: CommentChanges = NO_COMMENTS
    one_craft: bool = False  # what belongs to it alone is listed then, and so are its comments
    further: tuple["DiffReport", ...] = ()  # of the files' other dumps
    by_own_sheet: Audit | None = None  # of the new one, where both are judged without theirs

    @property
    def stands(self) -> Audit:
        """What is found in the new settings, whatever brought it."""
        return self.audits[1] if self.by_own_sheet is None else self.by_own_sheet

    @property
    def differs(self) -> bool:
        """Whether anything is listed."""
        return bool(self.listed or self.comments.number or any(one.differs for one in self.further))

    def masked(self) -> "DiffReport":
        """The report with every secret hidden."""
        crafts = [audit.settings for audit in self.audits]
        return self._replace(
            listed=[masked_change(change) for change in self.listed],
            hidden=[masked_change(change) for change in self.hidden],
            comments=masked_comments(self.comments, crafts),
            further=tuple(report.masked() for report in self.further),
        )


def is_listed(change: Change, *, foreign: bool, one_craft: bool) -> bool:
    """Whether a change is listed unasked; no two dialects share the keys of their own."""
    own = change.craft_own and not one_craft
    return not (own or change.volatile or (foreign and change.raw))


def masked_change(change: Change) -> Change:
    """The change with both sides hidden, if one of them is a secret."""
    if isinstance(change, Added):
        return replace(change, new=mask(change.new))
    if isinstance(change, Removed):
        return replace(change, old=mask(change.old))
    if not (is_secret(change.old) or is_secret(change.new)):
        return change
    return replace(change, old=hide(change.old), new=hide(change.new), parts=())


def masked_comments(comments: CommentChanges, crafts: Sequence[Settings]) -> CommentChanges:
    """The comments with what is private in them hidden, and whatever their craft keep secret."""
    values = secret_texts(crafts) if comments.number else ()
    return CommentChanges(*(tuple(masked_note(note, values) for note in side) for side in comments))


def comment_lines(screen: Screen, comments: CommentChanges) -> None:
    """The comments that came and went, each with what it is about."""
    if not comments.number:
        return
    screen.heading("comments")
    for sign, style, notes in (("-", "old", comments.removed), ("+", "new", comments.added)):
        for note in notes:
            screen.line(f"  {sign} ", Piece(f"# {note.text}", style))
            screen.line(Piece(f"      at {note.about or 'the end'}", "quiet"))


def comments_json(comments: CommentChanges) -> dict[str, Any]:
    """The same as data."""

    def some(notes: Sequence[Annotation]) -> list[dict[str, Any]]:
        return [
            {"about": note.about, "text": note.text, "place": place_json(note.place)}
            for note in notes
        ]

    return {"added": some(comments.added), "removed": some(comments.removed)}


def diff_screen(report: DiffReport, width: int, most: int | None = None) -> Screen:
    """Changes in order of risk, then the findings that they bring and clear; of each `most`.

    Further dumps of the files are told one after the other.
    """
    screen = Screen(width)
    for number, one in enumerate((report, *report.further)):
        if number:
            screen.blank()
        _one_diff(screen, one, most)
    return screen


def _one_diff(screen: Screen, report: DiffReport, most: int | None) -> None:
    names_line(screen, *report.names)
    crafts = [audit.settings for audit in report.audits]
    note_lines(screen, *crafts)
    generic_lines(screen, report.names, crafts)
    brought = {path: f.level.value for f in reversed(report.brought) for path in f.paths}
    for title, changes in groupby(report.listed[:most], title_of):
        screen.title(title)
        for change in changes:
            change_lines(screen, change, brought.get(change.path, "strong"))
            _not_understood(screen, change, crafts)
    comment_lines(screen, report.comments)
    change_findings(screen, report.brought[:most], report.cleared[:most])
    screen.blank()
    screen.say(summary(report))


def names_line(screen: Screen, old: str, new: str) -> None:
    """What is compared, on one line where it fits."""
    if cells(safe(old)) + cells(safe(new)) + 6 <= screen.width:
        screen.line(Piece(old, "old"), "  to  ", Piece(new, "new"))
    else:
        screen.line(Piece(old, "old"))
        screen.line("to  ", Piece(new, "new"))


def summary(report: DiffReport, more: str = " (--everything)") -> str:
    """Everything in one line, and what errors stand in the end.

    `more` is what lists the changes that are only counted.
    """
    changes, hidden = report.listed, report.hidden
    other = "" if report.one_craft else another_craft((*changes, *hidden))
    said = [counted(len(changes), "change")] if changes else ["No change"]
    if report.comments.number:
        said = [counted(len(changes), "change")] if changes else ["No setting changed"]
        said.append(f"{counted(report.comments.number, 'comment')} added or removed")
    foreign = sum(change.raw and not change.volatile for change in hidden)
    if len(hidden) > foreign:
        own = len(hidden) - foreign
        said.append(f"{own:,} more that belong to the one craft or count by themselves{more}")
    if foreign:
        said.append(
            f"{counted(foreign, 'line')} without a neutral meaning not compared, since the dumps "
            f"are of two dialects{more}"
        )
    if report.brought:
        said.append(f"{counted(len(report.brought), 'finding')} brought")
    if report.cleared:
        said.append(f"{counted(len(report.cleared), 'finding')} cleared")
    elif changes and not report.brought:
        said.append("no finding brought or cleared")
    return f"{', '.join(said)}. {other}{stands(report.stands)}"


def another_craft(changes: Sequence[Change]) -> str:
    """In one sentence that the new dump is another craft's; empty where the changes don't tell."""
    told = {change.path: change for change in changes if isinstance(change, Changed)}
    by = []
    for change in (told[path] for path in IDENTITY if path in told):
        old, new = entry_text(change.old), entry_text(change.new)
        by.append(change.path if HIDDEN in old else f"{change.path} {old} to {new}")
    return f"Another craft's dump: {', '.join(by)}. " if by else ""


def stat_screen(report: DiffReport, width: int) -> Screen:
    """How many changes there are of each class and subsystem."""
    counts = Counter(
        (
            title_of(change).partition(":")[0],
            "" if change.raw else change.path.partition(".")[0],
        )
        for change in report.listed
    )
    screen = Screen(width)
    if counts:
        rows = [(title, area, f"{count:>7,}") for (title, area), count in counts.items()]
        screen.table(rows, head=("touches", "area", "changes"))
        screen.blank()
    screen.say(summary(report))
    return screen


def title_of(about: Subject) -> str:
    """The group that a change or row is listed in: its class, and what such settings touch."""
    if about.raw:
        return "lines without a neutral meaning"
    return _TOUCHES.get(about.cls, "other") if about.cls is not None else "other"


def entry_text(entry: Stated | Raw | None, *, factory: bool = True) -> str:
    """A value as it is shown in a list of settings, and that it is the factory's, where it is."""
    if entry is None:
        return NOT_STATED
    if isinstance(entry, Raw):
        return entry.value or "(stated)"
    standing = " (factory)" if factory and entry.origin is Origin.FACTORY else ""
    return stated_text(entry) + standing


def change_cells(change: Change, code: Callable[[str], str] = str) -> tuple[str, str, str]:
    """A change as a row of a table: its name, its values before and after; `code` marks those."""
    if isinstance(change, Added):
        return code(change.path), NOT_STATED, code(entry_text(change.new))
    if isinstance(change, Removed):
        return code(change.path), code(entry_text(change.old)), NOT_STATED
    name = code(change.path)
    if isinstance(change, Renamed):
        how = "a guess: same value, like name" if change.guess else "under a new name"
        name = f"{code(change.old_path)} is now {name} ({how})"
    return name, code(entry_text(change.old)), code(entry_text(change.new))


def change_lines(screen: Screen, change: Change, style: str = "strong") -> None:
    """One change: its sign, its path, its values.

    The new value has a `style` that says how grave what it brings is; a new value as such is
    neither good nor bad, and no colour says so.
    """
    if isinstance(change, Added):
        screen.line("  + ", change.path, "  ", Piece(entry_text(change.new), style))
    elif isinstance(change, Removed):
        screen.line("  - ", change.path, "  ", Piece(entry_text(change.old), "quiet"))
    elif isinstance(change, Renamed):
        guess = "  (a guess: same value, like name)" if change.guess else ""
        screen.line("  ~ ", change.old_path, " is now ", change.path, Piece(guess, "quiet"))
        if not change.guess and entry_text(change.old) != entry_text(change.new):
            _from_to(screen, change.old, change.new, "    ", style)
    else:
        _changed_lines(screen, change, style)


def _not_understood(screen: Screen, change: Change, crafts: Sequence[Settings]) -> None:
    """That what is not stated on one side stands there on a line that is not understood."""
    other = crafts[1] if isinstance(change, Removed) else crafts[0]
    raw = other.unclear.get(change.path) if isinstance(change, Added | Removed) else None
    if raw is not None and raw.place is not None:
        screen.paragraph(
            f"{raw.place.file}:{raw.place.line} says it in words that the dialect does not know",
            indent=6,
        )


def _changed_lines(screen: Screen, change: Changed, style: str) -> None:
    old, new = entry_text(change.old), entry_text(change.new)
    if len(change.path) + len(old) + len(new) + 14 <= screen.width:
        screen.line("  ~ ", change.path, "  ", Piece(old, "quiet"), " to ", Piece(new, style))
    else:
        screen.line("  ~ ", change.path)
        _from_to(screen, change.old, change.new, "      ", style)
    for part in change.parts:
        screen.paragraph(part, indent=6)


def _from_to(screen: Screen, old: StatedOrRaw, new: StatedOrRaw, indent: str, style: str) -> None:
    screen.line(indent, Piece(entry_text(old), "quiet"))
    screen.line(indent, "to ", Piece(entry_text(new), style))


def diff_json(report: DiffReport) -> dict[str, Any]:
    """The whole output of diff; `left_out` counts the changes that --everything would list."""
    return {
        "version": VERSION,
        "old": report.names[0],
        "new": report.names[1],
        "one_craft": report.one_craft,
        "changes": [change_json(change) for change in report.listed],
        "comments": comments_json(report.comments),
        "left_out": len(report.hidden),
        "findings_new": findings_json(report.brought),
        "findings_cleared": findings_json(report.cleared),
        "standing": {level.value: report.stands.count(level) for level in Level},
        "further": [diff_json(one) for one in report.further],
    }


def change_json(change: Change, dump: int = 1) -> dict[str, Any]:
    """One change, in which of a file's dumps."""
    old = None if isinstance(change, Added) else change.old
    new = None if isinstance(change, Removed) else change.new
    made: dict[str, Any] = {
        "kind": type(change).__name__.lower(),
        "path": change.path,
        "raw": change.raw,
        "old": entry_json(old),
        "new": entry_json(new),
        "class": class_json(change.cls),
        "craft_own": change.craft_own,
        "old_place": place_json(old and old.place),
        "new_place": place_json(new and new.place),
        "dump": dump,
    }
    if isinstance(change, Changed | Renamed):
        made["parts"] = list(change.parts)
    if isinstance(change, Renamed):
        made["old_path"] = change.old_path
        made["guess"] = change.guess
    return made


def json_patch(changes: Sequence[Change]) -> list[dict[str, Any]]:
    """A JSON Patch (published: RFC 6902) of what `show --format json` prints of the old dump.

    It gives the new one's settings and lines without a meaning; each change first tests that the
    old value is there. The operations are in the order of the changes; no two touch one name.
    """
    return [operation for change in changes for operation in _operations(change)]


def _operations(change: Change) -> list[dict[str, Any]]:
    if isinstance(change, Added):
        return [{"op": "add", "path": pointer(change.new), "value": _shown_json(change.new)}]
    was = pointer(change.old)
    test = {"op": "test", "path": f"{was}/value", "value": value_json(change.old.value)}
    if isinstance(change, Removed):
        return [test, {"op": "remove", "path": was}]
    now = pointer(change.new)
    move = [{"op": "move", "from": was, "path": now}] if isinstance(change, Renamed) else []
    return [test, *move, {"op": "replace", "path": now, "value": _shown_json(change.new)}]


def pointer(entry: StatedOrRaw) -> str:
    """Where show has the entry (published: RFC 6901).

    >>> pointer(Raw("lamp/a~b", "1"))
    '/unmapped/lamp~1a~0b'
    """
    name = name_of(entry).replace("~", "~0").replace("/", "~1")
    return f"/{'unmapped' if isinstance(entry, Raw) else 'settings'}/{name}"


def _shown_json(entry: StatedOrRaw) -> dict[str, Any]:
    return raw_json(entry) if isinstance(entry, Raw) else stated_json(entry)


def history_screen(dump: str, commits: int, steps: "Sequence[CommitChanges]", width: int) -> Screen:
    """Each commit with what it changed, in order of risk, and the findings that came and went."""
    screen = Screen(width)
    for step in steps:
        screen.blank()
        _step_lines(screen, step)
    screen.blank()
    screen.say(_history_summary(dump, commits, steps))
    return screen


def _step_lines(screen: Screen, step: "CommitChanges") -> None:
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


def _edge_lines(screen: Screen, step: "CommitChanges") -> None:
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


def _history_summary(dump: str, commits: int, steps: "Sequence[CommitChanges]") -> str:
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
    steps: "Sequence[CommitChanges]",
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


def _step_json(step: "CommitChanges") -> dict[str, Any]:
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
