"""What `fleet` tells of many craft together: one screen, whatever their number; and as data."""

from collections.abc import Sequence
from math import isfinite
from typing import Any, Final, NamedTuple

from cfgaudit.audit.odd import LIKE, Odd
from cfgaudit.audit.overview import Overview, SharedCause
from cfgaudit.audit.relations import LearntRelation
from cfgaudit.audit.shelf import QueryResult
from cfgaudit.reports.data import head
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import CAUTION
from cfgaudit.rules.rule import first_of

LINES: Final = 60  # of a screen, at most


class _Room(NamedTuple):
    """How many entries each part of the screen has."""

    refused: int
    rules: int
    groups: int
    causes: int
    shares: int
    months: int
    odd: int
    relations: int


_SHORT: Final = _Room(3, 7, 4, 4, 3, 3, 6, 4)
_LONG: Final = _Room(*[10_000] * 8)


def overview_screen(found: Overview, width: int, *, long: bool = False) -> Screen:
    """What a fleet's craft have in common, what is odd among them, what holds between settings.

    At most sixty lines, unless it is to be `long`: where lines wrap, each part tells less.
    """
    room = _LONG if long else _SHORT
    screen = _screen(found, width, room)
    while not long and len(screen.plain().splitlines()) > LINES and max(room) > 1:
        room = _Room(*(max(1, entries - 1) for entries in room))
        screen = _screen(found, width, room)
    return screen


def _screen(found: Overview, width: int, room: _Room) -> Screen:
    screen = Screen(width)
    screen.line(Piece(f"{found.sources:,} dumps: {found.craft:,} craft audited", "strong"))
    screen.line(f"  {found.with_errors:,} with errors, {found.with_warnings:,} with warnings")
    _refused_lines(screen, found, room.refused)
    _rule_lines(screen, found, room.rules)
    _group_lines(screen, found, room.groups)
    _cause_lines(screen, found, room.causes)
    _share_lines(screen, found, room)
    _odd_lines(screen, found, room.odd)
    _relation_lines(screen, found.relations, room.relations)
    screen.blank()
    left = "What craft do to one another was not looked at. How blind each audit is, `check` tells."
    screen.paragraph(f"{left} {CAUTION}", indent=0)
    return screen


def _heading(screen: Screen, text: str, told: int, every: int) -> None:
    screen.blank()
    rest = f"  (the first {told} of {every:,}; --long)" if told < every else ""
    screen.line(Piece(text, "strong"), Piece(rest, "quiet"))


def _refused_lines(screen: Screen, found: Overview, most: int) -> None:
    if not found.refused:
        return
    _heading(screen, "Not audited", min(most, len(found.refused)), found.of["refused"])
    screen.table(
        [(f"{e.sources:>6,}", e.reason, _names(e.names, e.sources)) for e in found.refused[:most]],
        wraps=2,
    )


def _rule_lines(screen: Screen, found: Overview, most: int) -> None:
    rules = [entry for entry in found.rules if entry.level != "note"] or found.rules
    if not rules:
        return
    _heading(screen, "Rules, by number of craft", min(most, len(rules)), len(rules))
    screen.table(
        [
            (f"{entry.craft:>6,}", Piece(entry.level.upper(), entry.level), entry.rule)
            for entry in rules[:most]
        ]
    )


def _group_lines(screen: Screen, found: Overview, most: int) -> None:
    grave = [group for group in found.groups if group.rules]
    if not grave:
        return
    every = found.of["groups"] - (len(found.groups) - len(grave))
    _heading(screen, "Craft of which the same rules speak", min(most, len(grave)), every)
    for group in grave[:most]:
        mostly = f"; mostly {group.mostly}" if group.mostly else ""
        screen.paragraph(f"{group.craft:>6,}  {first_of(group.rules, 4)}{mostly}", indent=2)


def _cause_lines(screen: Screen, found: Overview, most: int) -> None:
    if not found.causes:
        return
    told = min(most, len(found.causes))
    _heading(screen, "Craft with one finding for the same values", told, found.of["causes"])
    for cause in found.causes[:most]:
        stated = "; ".join(f"{path} {value}".rstrip() for path, value in cause.stated[:2])
        screen.paragraph(f"{cause.craft:>6,}  {cause.rule}: {stated}{_since(cause)}", indent=2)


def _since(cause: SharedCause) -> str:
    """How many of the craft have a cause since the same change, and from what."""
    if not cause.since:
        return ""
    pairs = zip(cause.stated, cause.was, strict=True)
    old = [f"{path} {was or 'not stated'}" for (path, value), was in pairs if value != was]
    all_of = "all" if cause.since == cause.craft else f"{cause.since:,}"
    return f"; {all_of} of them since the same change, from {first_of(old, 2)}"


def _share_lines(screen: Screen, found: Overview, room: _Room) -> None:
    parts = [(f"by {name}", those[: room.shares]) for name, those in found.shares.items()]
    if len(found.months) > 1:
        parts.append(("by the month its firmware was built", found.months[-room.months :]))
    words = ("", "craft", "with errors", "with warnings")
    rows: list[tuple[Piece | str, ...]] = [tuple(Piece(word, "quiet") for word in words)]
    for name, those in parts:
        for number, tally in enumerate(those):
            label = " " * (len(name) + 2) if number else f"{name}: "
            counts = (tally.craft, tally.with_errors, tally.with_warnings)
            rows.append((f"{label}{tally.name}", *(f"{count:>6,}" for count in counts)))
    if len(rows) > 1:
        screen.blank()
        screen.table(rows, indent=0)


def _odd_lines(screen: Screen, found: Overview, most: int) -> None:
    if not found.odd:
        return
    screen.blank()
    told = f"{found.odd_count:,} values of {found.odd_craft:,} craft"
    screen.line(Piece("Odd, which is not wrong", "strong"), f": {told}, the oddest first")
    for odd in found.odd[:most]:
        screen.paragraph(odd_text(odd), indent=2, further=4)


def odd_text(odd: Odd) -> str:
    """One odd value in words."""
    with_what = "that are like it" if odd.told_by.startswith(LIKE) else f"with {odd.told_by}"
    shared = "" if odd.told_by.startswith(LIKE) else f" {odd.shared}"
    return (
        f"{odd.craft}: {odd.path} {odd.value}; {odd.having:,} of {odd.peers:,} craft "
        f"{with_what}{shared} have {odd.usual}"
    )


def _relation_lines(screen: Screen, relations: Sequence[LearntRelation], most: int) -> None:
    if not relations:
        return
    order = sorted(relations, key=lambda learnt: not learnt.breaking)  # those that some break
    _heading(screen, "What most craft keep", min(most, len(order)), len(order))
    for learnt in order[:most]:
        kept = f"{learnt.craft - learnt.breaking:,} of {learnt.craft:,}"
        broken = f"; not {_names(learnt.names, learnt.breaking)}" if learnt.breaking else ""
        screen.paragraph(f"{learnt.relation.says}: {kept}{broken}", indent=2, further=4)
    screen.paragraph("--limits FILE writes them as [[limit]] tables that a house can adopt.")


def _names(names: Sequence[str], count: int, most: int = 2) -> str:
    """A few names, and how many there are beside them."""
    shown = ", ".join(names[:most])
    return shown if count <= most else f"{shown} and {count - min(most, len(names)):,} more"


def overview_json(found: Overview) -> dict[str, Any]:
    """What is told of a fleet, whole; the same for the same records."""
    return {
        **head(),
        "sources": found.sources,
        "craft": found.craft,
        "with_errors": found.with_errors,
        "with_warnings": found.with_warnings,
        "refused": [entry._asdict() for entry in found.refused],
        "rules": [entry._asdict() for entry in found.rules],
        "groups": [entry._asdict() for entry in found.groups],
        "causes": [
            {**entry._asdict(), "stated": [{"path": p, "value": v} for p, v in entry.stated]}
            for entry in found.causes
        ],
        "by": {name: [tally._asdict() for tally in those] for name, those in found.shares.items()},
        "by_month_built": [tally._asdict() for tally in found.months],
        "odd": {
            "craft": found.odd_craft,
            "values": found.odd_count,
            "told": [{**odd._asdict(), "posterior": round(odd.posterior, 6)} for odd in found.odd],
        },
        "relations": [
            {
                "kind": learnt.relation.kind,
                "says": learnt.relation.says,
                "paths": list(learnt.relation.paths),
                "craft": learnt.craft,
                "breaking": learnt.breaking,
                "names": list(learnt.names),
                "limit": learnt.limit(),
            }
            for learnt in found.relations
        ],
        "of": dict(found.of),
    }


def answer_screen(answer: QueryResult, width: int) -> Screen:
    """The answer to a question in SQL, as a table."""
    screen = Screen(width)
    rows = [tuple("" if cell is None else str(cell) for cell in row) for row in answer.rows]
    screen.table(rows, head=answer.columns, indent=0)
    return screen


def answer_json(answer: QueryResult) -> dict[str, Any]:
    """The same as data: a row an object, by the names of the columns."""
    rows = [dict(zip(answer.columns, map(_plain, row), strict=True)) for row in answer.rows]
    return {**head(), "rows": rows, "more": answer.more}


def _plain(cell: object) -> object:
    """A cell as JSON has it."""
    if isinstance(cell, float) and not isfinite(cell):
        return str(cell)
    if cell is None or isinstance(cell, str | int | float):
        return cell
    if isinstance(cell, Sequence):
        return [_plain(entry) for entry in cell]
    return str(cell)
