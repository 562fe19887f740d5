"""Findings and changes as Markdown, fit for a comment on a pull request.

The verdict stands first, so that it is there though what follows is too long to be shown.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.engine import Finding
from cfgaudit.changes.diff import Added, Change, Removed, Renamed
from cfgaudit.reports.markdown_text import code, marked, table
from cfgaudit.reports.review import Part, Review, Told, mends, unsure
from cfgaudit.reports.terminal_changes import entry_text, summary, title_of
from cfgaudit.reports.terminal_check import closing, counted_levels
from cfgaudit.rules.rule import listed

_MOST = 60_000  # characters; a comment on GitHub holds 65,536 (published: its REST API's refusal)
_MOST_PLACES = 3
_DO_NOT = "Do not fly before the errors are cleared."


def check_markdown(review: Review, *, unchecked: bool = False, waived: bool = False) -> str:
    """What check tells."""
    lines: list[str] = []
    for part in review.parts:
        lines += [f"### cfgaudit: {code(part.title)}", ""]
        lines += _part_lines(part, unchecked, waived)
    lines += _entry_lines("The baseline has these, and they are found no more", review.gone)
    lines += _entry_lines("These may be gone: their rules lacked settings", review.unsure)
    return _fitting(lines)


def diff_markdown(
    names: tuple[str, str],
    changes: Sequence[Change],
    hidden: Sequence[Change],
    review: Review,
) -> str:
    """What diff tells: the changes by class, the findings that they bring and clear."""
    brought = [told.finding for told in review.told]
    lines = [f"### Settings: {code(names[0])} to {code(names[1])}", ""]
    lines += [marked(summary(changes, hidden, brought, review.cleared)), ""]
    if brought:
        lines += [f"**The change brings {counted_levels(brought)}.**", ""]
        lines += [*_finding_table(review.told), ""]
    if review.cleared:
        lines += ["**The change clears:**", ""]
        lines += [
            f"- {_named(f)}: {marked(f.message)} {marked(unsure(f))}".rstrip()
            for f in review.cleared
        ]
        lines.append("")
    for title, group in groupby(changes, title_of):
        lines += [f"#### {marked(title)}", ""]
        rows = [_change_cells(change) for change in group]
        lines += [*table(("setting", "before", "after"), rows), ""]
    return _fitting(lines)


def _part_lines(part: Part, unchecked: bool, waived: bool) -> Iterator[str]:
    new = [told for told in part.told if told.counts]
    let = [told for told in part.told if told.waived]
    known = sum(told.known for told in part.told)
    yield marked(closing([told.finding for told in new], _DO_NOT, len(let), known))
    yield ""
    if not part.audited:
        yield "No dialect knows this dump, so only its text was looked at."
        yield ""
    if new:
        yield from [*_finding_table(new), ""]
    if waived and let:
        yield from [*_waived_table(let), ""]
    if part.unchecked:
        yield f"Not checked in full: {len(part.unchecked)} of {len(part.rules)} rules."
        yield ""
        if unchecked:
            lacks = [(code(e.rule.id), ", ".join(map(code, e.lacks))) for e in part.unchecked]
            yield from [*table(("rule", "lacks"), lacks), ""]


def _finding_table(told: Iterable[Told]) -> list[str]:
    rows = [
        (
            f"**{finding.level.value}**",
            f"{code(finding.rule.id)}<br>{marked(finding.message)}<br>"
            f"*In the air:* {marked(finding.rule.doc.air)}",
            _where(finding),
            marked(mends(finding)),
        )
        for finding, _, _ in told
    ]
    return table(("level", "what", "where", "mend"), rows)


def _waived_table(told: Iterable[Told]) -> list[str]:
    rows = [
        (
            f"{entry.finding.level.value}",
            f"{code(entry.finding.rule.id)}<br>{marked(entry.finding.message)}",
            f"until {entry.waived.until}: {marked(entry.waived.because)}",
        )
        for entry in told
        if entry.waived is not None
    ]
    return table(("level", "what", "waived"), rows)


def _where(finding: Finding) -> str:
    """Its first places and settings, one below the other."""
    places = [code(str(place)) for place in finding.places]
    paths = [code(path) for path in dict.fromkeys(finding.paths)]
    cells = [*_first(places), *_first(paths)]
    return "<br>".join(cells) or "the whole dump"


def _first(cells: Sequence[str]) -> list[str]:
    more = len(cells) - _MOST_PLACES
    return [*cells[:_MOST_PLACES], *([f"and {more} more"] if more > 0 else [])]


def _named(finding: Finding) -> str:
    return f"{finding.level.value} {code(finding.rule.id)}"


def _change_cells(change: Change) -> tuple[str, str, str]:
    path = code(change.path)
    if isinstance(change, Added):
        return path, "*not stated*", code(entry_text(change.new))
    if isinstance(change, Removed):
        return path, code(entry_text(change.old)), "*not stated*"
    if isinstance(change, Renamed):
        how = "a guess: same value, like name" if change.guess else "under a new name"
        path = f"{code(change.old_path)} is now {path} ({how})"
    return path, code(entry_text(change.old)), code(entry_text(change.new))


def _entry_lines(title: str, entries: Sequence[BaselineEntry]) -> list[str]:
    if not entries:
        return []
    lines = [
        f"- {listed([code(dump) for dump in e.dumps])}: {code(e.rule)}: {marked(e.message)}"
        for e in entries
    ]
    return [f"**{title}:**", "", *lines, ""]


def _fitting(lines: Sequence[str]) -> str:
    """The lines, as many as a comment can hold; how many are left out is said."""
    size = 0
    for number, line in enumerate(lines):
        size += len(line) + 1
        if size > _MOST:
            left = sum(bool(line) for line in lines[number:])
            kept = [*lines[:number], "", f"*{left} more lines are not shown here.*"]
            return "\n".join(kept) + "\n"
    return "\n".join(lines).rstrip("\n") + "\n"
