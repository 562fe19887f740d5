"""Findings and changes as Markdown, fit for a comment on a pull request.

What was not audited, and the verdict, stand first, so that they are there though what follows is
too long to be shown.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple
from urllib.parse import quote

from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.causes import Cause
from cfgaudit.audit.engine import Finding
from cfgaudit.changes.diff import Change, Removed
from cfgaudit.reading.text import Place
from cfgaudit.reports.check import ReviewedFinding
from cfgaudit.reports.data import from_top
from cfgaudit.reports.diff import DiffReport, change_cells, summary, title_of
from cfgaudit.reports.markdown_text import code, marked, table
from cfgaudit.reports.review import Review, ReviewPart, names_in
from cfgaudit.reports.screen import also_called
from cfgaudit.reports.wording import (
    closing,
    counted,
    counted_levels,
    few,
    mends,
    unaudited,
    unsure,
)
from cfgaudit.rules.rule import Level, listed

_MOST = 60_000  # characters; a comment on GitHub holds 65,536 (published: its REST API's refusal)
_MOST_PLACES = 3


def check_markdown(
    review: Review, *, unchecked: bool = False, waived: bool = False, links: str = ""
) -> str:
    """What check tells; `links` is where the repository can be seen."""
    lines = _not_audited_lines(review)
    for part in review.parts:
        lines += [f"### cfgaudit: {code(part.title)}", ""]
        lines += _apart(part.notes)
        where = _LineNames(part.file, links, review.also)
        lines += _part_lines(part, unchecked, waived, where)
    lines += _entry_lines("The baseline has these, and they are found no more", review.gone)
    lines += _entry_lines("These may be gone: their rules lacked settings", review.unsure)
    return _fitting(lines)


def diff_markdown(
    report: DiffReport, review: Review, causes: Sequence[Cause] = (), links: str = ""
) -> str:
    """What diff tells: the changes by class, below each the findings that it brings.

    `causes` say which changes bring a finding; `links` is where the repository can be seen.
    """
    old, new = report.names
    lines = [*_not_audited_lines(review), f"### Settings: {code(old)} to {code(new)}", ""]
    lines += [marked(summary(report)), ""]
    told_first = dict.fromkeys(note for part in review.parts for note in part.notes)
    lines += _apart(told_first)
    lines += _apart(part.blind for part in review.parts if part.blind)
    if report.brought:
        lines += [f"**The change brings {counted_levels(report.brought)}.**", ""]
    where = _LineNames(new, links, review.also)
    left = list(report.brought)
    told: set[int] = set()
    for title, changes in groupby(report.listed, title_of):
        group = list(changes)
        rows = [_change_row(one, where) for one in group]
        head = ("setting", "before", "after", "where")
        lines += [f"#### {marked(title)}", "", *table(head, rows), ""]
        for number, cause in enumerate(causes):
            if number not in told and any(one.path in cause.paths for one in group):
                told.add(number)
                own = [f for f in left if f.key in {one.key for one in cause.findings}]
                left = [finding for finding in left if finding not in own]
                lines += _brings(cause.paths, own, where)
    for path in dict.fromkeys(one.path for one in report.listed):
        own = [f for f in left if path in f.paths and f.level is not Level.NOTE]
        left = [finding for finding in left if finding not in own]
        lines += _brings((path,), own, where)
    lines += _comment_lines(report)
    grave = [finding for finding in left if finding.level is not Level.NOTE]
    if grave:
        lines += ["**It also brings:**", "", *_items(grave, where), ""]
    if report.cleared:
        lines += ["**The change clears:**", ""]
        lines += [
            f"- {_named(f)}: {marked(f.message)} {marked(unsure(f))}".rstrip()
            for f in report.cleared
        ]
        lines.append("")
    notes = [finding for finding in left if finding.level is Level.NOTE]
    lines += _folded(f"{counted(len(notes), 'note')} brought", _items(notes, where))
    return _fitting(lines)


def _apart(texts: Iterable[str]) -> list[str]:
    """Each text as a paragraph."""
    return [line for text in texts for line in (marked(text), "")]


def _change_row(change: Change, where: "_LineNames") -> tuple[str, str, str, str]:
    name, before, after = change_cells(change, code)
    called = marked(also_called(change_cells(change), where.also))
    return f"{name}<br>{called}" if called else name, before, after, where.at(_place(change))


class _LineNames(NamedTuple):
    """Names lines of one dump, whose path stands in the heading; as links where those are known.

    `also` gives by name of a port or pad what else it is called.
    """

    file: str
    links: str
    also: Mapping[str, str]

    def at(self, place: Place | None) -> str:
        """A place: its line alone in the dump itself, its file too where it is another."""
        if place is None:
            return ""
        name = f"line {place.line}" if place.file == self.file else f"{place.file}:{place.line}"
        if not self.links:
            return marked(name)
        path = quote(from_top(place.file).as_posix(), safe="/")
        return f"[{marked(name)}]({self.links.rstrip('/')}/{path}#L{place.line})"


def _place(change: Change) -> Place | None:
    return change.old.place if isinstance(change, Removed) else change.new.place


def _brings(paths: Sequence[str], findings: Sequence[Finding], where: _LineNames) -> list[str]:
    if not findings:
        return []
    verb = "brings" if len(paths) == 1 else "together bring"
    return [f"{listed([code(path) for path in paths])} {verb}:", "", *_items(findings, where), ""]


def _items(findings: Sequence[Finding], where: _LineNames) -> list[str]:
    """The findings as a list, each with what it does in the air and how to mend it."""
    return [
        f"- **{f.level.value}** {code(f.rule.id)}: {marked(f.message)} "
        f"*In the air:* {marked(f.in_the_air)} *Mend:* {marked('; '.join(mends(f)))}"
        + "".join(f" ({', '.join(map(where.at, f.places[:_MOST_PLACES]))})" for _ in f.places[:1])
        + f" {marked(names_in(f, where.also))}".rstrip()
        for f in findings
    ]


def _comment_lines(report: DiffReport) -> list[str]:
    """The comments that came and went."""
    if not report.comments.number:
        return []
    pairs = [("removed", report.comments.removed), ("added", report.comments.added)]
    rows = [
        (word, marked(note.text), code(note.about) if note.about else "the end")
        for word, notes in pairs
        for note in notes
    ]
    return ["#### comments", "", *table(("", "comment", "at"), rows), ""]


def _folded(title: str, lines: Sequence[str]) -> list[str]:
    """Lines that are seen when asked for; nothing where there are none."""
    if not lines:
        return []
    return ["<details>", f"<summary>{marked(title)}</summary>", "", *lines, "", "</details>", ""]


def _not_audited_lines(review: Review) -> list[str]:
    """Before all else, who was not audited and why."""
    left = [part for part in review.parts if part.not_audited]
    said = [f"**Not audited: {code(part.title)}.** {marked(part.not_audited)}" for part in left]
    return [line for text in said for line in (text, "")]


def _part_lines(
    part: ReviewPart, unchecked: bool, waived: bool, where: _LineNames
) -> Iterator[str]:
    new = [told for told in part.told if told.counts]
    let = [told for told in part.told if told.waived]
    known = [told.finding for told in part.told if told.known]
    findings = [told.finding for told in new]
    said = unaudited(findings) if part.not_audited else closing(findings, len(let), known)
    yield from _apart([said])
    grave = [entry for entry in new if entry.finding.level is not Level.NOTE]
    if grave:
        yield from [*_finding_table(grave, where), ""]
    notes = [entry for entry in new if entry.finding.level is Level.NOTE]
    if notes:
        yield from _folded(counted(len(notes), "note"), _finding_table(notes, where))
    if waived and let:
        yield from [*_waived_table(let), ""]
    if part.unchecked:
        many = f"{len(part.unchecked)} of {len(part.rules)}"
        yield from [f"Not checked in full: {many} rules.", ""]
        if unchecked:
            lacks = [(code(e.rule.id), ", ".join(map(code, e.lacks))) for e in part.unchecked]
            yield from [*table(("rule", "lacks"), lacks), ""]
    if part.blind:
        yield from _apart([part.blind])


def _finding_table(told: Iterable[ReviewedFinding], where: _LineNames) -> list[str]:
    rows = [
        (
            f"**{finding.level.value}**",
            f"{code(finding.rule.id)}<br>{marked(finding.message)}<br>"
            f"*In the air:* {marked(finding.in_the_air)}",
            _where(finding, where),
            marked("; ".join(mends(finding))),
        )
        for finding, _, _ in told
    ]
    return table(("level", "what", "where", "mend"), rows)


def _waived_table(told: Iterable[ReviewedFinding]) -> list[str]:
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


def _where(finding: Finding, where: _LineNames) -> str:
    """Its first places and settings, one below the other."""
    places = list(map(where.at, finding.places))
    paths = [code(path) for path in dict.fromkeys(finding.paths)]
    called = marked(names_in(finding, where.also))
    cells = [*few(places, _MOST_PLACES), *few(paths, _MOST_PLACES), *([called] if called else [])]
    return "<br>".join(cells) or "the whole dump"


def _named(finding: Finding) -> str:
    return f"{finding.level.value} {code(finding.rule.id)}"


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
