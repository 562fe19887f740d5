"""The page of `report OLD NEW`: what changed, with pictures from before and after side by side."""

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from cfgaudit.audit.engine import Audit, Finding
from cfgaudit.changes.diff import Added, Change, Removed, Renamed
from cfgaudit.pictures.drawing import Missing, NumberTable, Picture
from cfgaudit.reports.html import DO_NOT, Link, name_of, notes_of, render
from cfgaudit.reports.html_view import (
    Anchors,
    FindingView,
    LevelView,
    PictureView,
    finding_view,
    levels_of,
    picture_view,
    worst,
)
from cfgaudit.reports.left_out import left_out
from cfgaudit.reports.review import unsure
from cfgaudit.reports.terminal_changes import entry_text, summary, title_of
from cfgaudit.reports.terminal_check import closing, headline

_SIDES = ("before", "after")
Drawn = Picture | Missing


class GroupView(NamedTuple):
    """The changes of one class."""

    title: str
    table: NumberTable


class PairView(NamedTuple):
    """One picture from before and after; for each side its word, the picture, or what it lacks."""

    name: str
    title: str
    sides: tuple[tuple[str, PictureView | None, tuple[str, ...]], ...]


class ChangePage(NamedTuple):
    """What the page of a change tells."""

    name: str
    headlines: tuple[str, str]
    notes: tuple[tuple[str, ...], tuple[str, ...]]
    summary: str
    verdict: str
    worst: str
    total: int
    left_out: str
    levels: tuple[LevelView, ...]
    cleared: tuple[FindingView, ...]
    cleared_left_out: str
    changes_left_out: str
    groups: tuple[GroupView, ...]
    pairs: tuple[PairView, ...]
    alike: tuple[str, ...]
    neither: tuple[str, ...]


class Changed(NamedTuple):
    """What is told of a change: those listed, those counted only, findings brought and cleared."""

    listed: Sequence[Change]
    counted: Sequence[Change]
    brought: Sequence[Finding]
    cleared: Sequence[Finding]


def change_html(
    audits: tuple[Audit, Audit],
    told: Changed,
    albums: tuple[Sequence[Drawn], Sequence[Drawn]],
    most: int | None = None,
) -> str:
    """The page of a change from one set of settings to another; of each list `most` is told."""
    page = _change_page(audits, told, albums, most)
    links = [Link("findings", f"Findings it brings ({page.total})")]
    links += [Link("cleared", f"Findings it clears ({len(told.cleared)})")] if page.cleared else []
    links += [Link("changes", f"Settings ({len(told.listed)})"), Link("pictures", "Pictures")]
    return render("change.html", f"{page.name}: what changed", links, page)


def _change_page(
    audits: tuple[Audit, Audit],
    told: Changed,
    albums: tuple[Sequence[Drawn], Sequence[Drawn]],
    most: int | None,
) -> ChangePage:
    anchors = Anchors()
    both = list(zip(*albums, strict=True))
    names = [name_of(audit.settings) for audit in audits]
    return ChangePage(
        names[1] if names[0] == names[1] else f"{names[0]} to {names[1]}",
        (headline(audits[0].settings), headline(audits[1].settings)),
        (notes_of(audits[0].settings), notes_of(audits[1].settings)),
        summary(told.listed, told.counted, told.brought, told.cleared).replace(" (--all)", ""),
        closing(told.brought, DO_NOT) if told.brought else "",
        worst(told.brought),
        len(told.brought),
        _beyond(told.brought, most, "finding"),
        levels_of(told.brought[:most], anchors),
        tuple(
            finding_view(finding, anchors)._replace(because=unsure(finding))
            for finding in told.cleared[:most]
        ),
        _beyond(told.cleared, most, "finding"),
        _beyond(told.listed, most, "change"),
        _groups(told.listed[:most]),
        tuple(_pair(*pair) for pair in both if pair[0] != pair[1] and _some(pair)),
        tuple(old.title for old, new in both if old == new and isinstance(old, Picture)),
        tuple(pair[0].title for pair in both if not _some(pair)),
    )


def _beyond(entries: Sequence[object], most: int | None, what: str) -> str:
    """What is said of the entries that are too many."""
    return left_out(len(entries) - len(entries[:most]), what)


def _some(pair: tuple[Drawn, Drawn]) -> bool:
    return any(isinstance(side, Picture) for side in pair)


def _pair(old: Drawn, new: Drawn) -> PairView:
    return PairView(old.name, old.title, tuple(map(_side, _SIDES, (old, new))))


def _side(word: str, drawn: Drawn) -> tuple[str, PictureView | None, tuple[str, ...]]:
    if isinstance(drawn, Missing):
        return word, None, drawn.lacks
    return word, picture_view(drawn, f"{word}-"), ()


def _groups(changes: Sequence[Change]) -> tuple[GroupView, ...]:
    head = ("setting", "before", "after")
    return tuple(
        GroupView(title, NumberTable(head, tuple(_cells(change) for change in group)))
        for title, group in groupby(changes, title_of)
    )


def _cells(change: Change) -> tuple[str, str, str]:
    if isinstance(change, Added):
        return change.path, "not stated", entry_text(change.new)
    if isinstance(change, Removed):
        return change.path, entry_text(change.old), "not stated"
    name = change.path
    if isinstance(change, Renamed):
        how = "a guess" if change.guess else "under a new name"
        name = f"{change.old_path} is now {change.path} ({how})"
    return name, entry_text(change.old), entry_text(change.new)
