"""Findings and changes as Markdown, fit for a comment on a pull request.

What was not audited, and the verdict, stand first, so that they are there though what follows is
too long to be shown.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.engine import Finding
from cfgaudit.reports.diff import DiffReport, change_cells, summary, title_of
from cfgaudit.reports.markdown_text import code, marked, table
from cfgaudit.reports.review import Review, ReviewedFinding, ReviewPart
from cfgaudit.reports.wording import closing, counted_levels, few, mends, unaudited, unsure
from cfgaudit.rules.rule import listed

_MOST = 60_000  # characters; a comment on GitHub holds 65,536 (published: its REST API's refusal)
_MOST_PLACES = 3


def check_markdown(review: Review, *, unchecked: bool = False, waived: bool = False) -> str:
    """What check tells."""
    lines = _not_audited_lines(review)
    for part in review.parts:
        lines += [f"### cfgaudit: {code(part.title)}", ""]
        lines += _part_lines(part, unchecked, waived)
    lines += _entry_lines("The baseline has these, and they are found no more", review.gone)
    lines += _entry_lines("These may be gone: their rules lacked settings", review.unsure)
    return _fitting(lines)


def diff_markdown(report: DiffReport, review: Review) -> str:
    """What diff tells: the changes by class, the findings that they bring and clear."""
    old, new = report.names
    lines = [*_not_audited_lines(review), f"### Settings: {code(old)} to {code(new)}", ""]
    lines += [marked(summary(report)), ""]
    lines += [line for part in review.parts if part.blind for line in (marked(part.blind), "")]
    if report.brought:
        lines += [f"**The change brings {counted_levels(report.brought)}.**", ""]
        lines += [*_finding_table(review.told), ""]
    if report.cleared:
        lines += ["**The change clears:**", ""]
        lines += [
            f"- {_named(f)}: {marked(f.message)} {marked(unsure(f))}".rstrip()
            for f in report.cleared
        ]
        lines.append("")
    for title, group in groupby(report.listed, title_of):
        rows = [change_cells(change, code) for change in group]
        head = ("setting", "before", "after")
        lines += [f"#### {marked(title)}", "", *table(head, rows), ""]
    return _fitting(lines)


def _not_audited_lines(review: Review) -> list[str]:
    """Before all else, who was not audited and why."""
    left = [part for part in review.parts if part.not_audited]
    said = [f"**Not audited: {code(part.title)}.** {marked(part.not_audited)}" for part in left]
    return [line for text in said for line in (text, "")]


def _part_lines(part: ReviewPart, unchecked: bool, waived: bool) -> Iterator[str]:
    new = [told for told in part.told if told.counts]
    let = [told for told in part.told if told.waived]
    known = sum(told.known for told in part.told)
    findings = [told.finding for told in new]
    said = unaudited(findings) if part.not_audited else closing(findings, len(let), known)
    yield from [marked(said), ""]
    if new:
        yield from [*_finding_table(new), ""]
    if waived and let:
        yield from [*_waived_table(let), ""]
    if part.unchecked:
        many = f"{len(part.unchecked)} of {len(part.rules)}"
        yield from [f"Not checked in full: {many} rules.", ""]
        if unchecked:
            lacks = [(code(e.rule.id), ", ".join(map(code, e.lacks))) for e in part.unchecked]
            yield from [*table(("rule", "lacks"), lacks), ""]
    if part.blind:
        yield from [marked(part.blind), ""]


def _finding_table(told: Iterable[ReviewedFinding]) -> list[str]:
    rows = [
        (
            f"**{finding.level.value}**",
            f"{code(finding.rule.id)}<br>{marked(finding.message)}<br>"
            f"*In the air:* {marked(finding.rule.doc.air)}",
            _where(finding),
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


def _where(finding: Finding) -> str:
    """Its first places and settings, one below the other."""
    places = [code(str(place)) for place in finding.places]
    paths = [code(path) for path in dict.fromkeys(finding.paths)]
    cells = [*few(places, _MOST_PLACES), *few(paths, _MOST_PLACES)]
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
