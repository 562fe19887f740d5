"""What `fleet` tells of all the craft of a folder, each by itself or together; screen and data."""

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from cfgaudit.audit.blind import Blindness
from cfgaudit.audit.engine import RANK, Audit
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.audit.sources import ending_of
from cfgaudit.changes.diff import RowOfCraft
from cfgaudit.craft.craft import Craft
from cfgaudit.reports.check import audit_json, together_json, together_lines
from cfgaudit.reports.compare import row_json
from cfgaudit.reports.data import head
from cfgaudit.reports.diff import entry_text
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import CAUTION, firmware_of, how_blind, verdict_on_all
from cfgaudit.rules.rule import Level, first_of, grouped
from cfgaudit.vocabulary.declare import NotStated

if TYPE_CHECKING:  # what is told of each craft by itself wants none of them
    from cfgaudit.audit.odd import Odd
    from cfgaudit.audit.overview import Overview, SharedCause
    from cfgaudit.audit.relations import LearntRelation
    from cfgaudit.audit.shelf import QueryResult


class OnAir(NamedTuple):
    """A craft's picture on the air: its frequency and power, and the nearest other sender."""

    craft: int  # counted from 0
    mhz: float
    mw: float | None
    nearest: int | None  # the craft whose picture is nearest
    apart_mhz: float | None


_MOST_NAMED = 20  # files on a screen


class Roster(NamedTuple):
    """Several craft in the order of their names. `odd` has what one alone has so.

    `blind` is how blind each one's audit is, None where it was not audited.
    """

    names: tuple[str, ...]
    audits: tuple[Audit, ...]
    odd: tuple[RowOfCraft, ...]
    together: FleetAudit
    passed_over: tuple[str, ...]  # files that no dialect knows
    blind: tuple[Blindness | None, ...]

    @property
    def senders(self) -> tuple[OnAir, ...]:
        """The craft that send a picture on a frequency that is told, the lowest first."""
        return senders([Craft(audit.settings) for audit in self.audits])

    @property
    def unknown(self) -> tuple[str, ...]:
        """The files that no dialect knows and that are named as the dumps are."""
        endings = {ending_of(dump.file) for audit in self.audits for dump in audit.settings.dumps}
        return tuple(file for file in self.passed_over if ending_of(file) in endings - {""})

    def by_rule(self) -> list[tuple[Level, str, list[int]]]:
        """Errors and warnings: for each level and rule the craft that have it, gravest first."""
        found: dict[tuple[Level, str], list[int]] = {}
        for number, audit in enumerate(self.audits):
            for finding in audit.findings:
                craft = found.setdefault((finding.level, finding.rule.id), [])
                if number not in craft:
                    craft.append(number)
        told = [(level, rule, craft) for (level, rule), craft in found.items()]
        told = [entry for entry in told if entry[0] is not Level.NOTE]
        return sorted(told, key=lambda entry: (RANK[entry[0]], entry[1]))


def senders(crafts: Sequence[Craft]) -> tuple[OnAir, ...]:
    """Where each craft's picture is on the air, and how far the nearest other one is."""
    on_air: list[tuple[float, int]] = []
    for number, craft in enumerate(crafts):
        transmitter = craft.video.transmitter
        silent = transmitter.states("enabled") and not transmitter.enabled
        if transmitter.states("frequency") and not silent:
            on_air.append((transmitter.frequency, number))
    found: list[OnAir] = []
    for mhz, number in sorted(on_air):
        others = [(abs(mhz - other), at) for other, at in on_air if at != number]
        apart, nearest = min(others, default=(None, None))
        found.append(OnAir(number, mhz, _power(crafts[number]), nearest, apart))
    return tuple(found)


def _power(craft: Craft) -> float | None:
    try:
        return craft.video.transmitter.power
    except NotStated:
        return None


def roster_screen(found: Roster, width: int, most: int | None = None) -> Screen:
    """A line a craft, then findings by rule, the odd ones out, the video, and all together.

    At `most` so many settings are told in which one craft stands alone.
    """
    screen = Screen(width)
    _craft_lines(screen, found)
    _finding_lines(screen, found)
    _odd_lines(screen, found, most)
    _video_lines(screen, found)
    if len(found.audits) > 1:
        together_lines(screen, found.together)
    screen.blank()
    if found.passed_over:
        one = len(found.passed_over) == 1
        what = "1 file is" if one else f"{len(found.passed_over):,} files are"
        it = "it" if one else "them"
        names = ", ".join(found.passed_over[:_MOST_NAMED])
        rest = len(found.passed_over) - _MOST_NAMED
        more = f" and {rest} more (--format json names them)" if rest > 0 else ""
        screen.say(f"{what} passed over: no dialect knows {it}: {names}{more}.")
    if found.unknown:
        many = f"{len(found.unknown):,} of them" if len(found.passed_over) > 1 else "It"
        named = (
            "are named as the dumps are, and were"
            if len(found.unknown) > 1
            else ("is named as the dumps are, and was")
        )
        screen.say(
            f"{many} {named} not audited: {', '.join(found.unknown[:_MOST_NAMED])}. "
            f"`cfgaudit check FILE` says what to do."
        )
    seen = [blind for blind in found.blind if blind is not None]
    if seen:
        screen.say(how_blind(*seen, hint="check --blind lists the rest"))
    for line in verdict_on_all(found.names, found.audits, found.together):
        screen.say(line)
    return screen


def _craft_lines(screen: Screen, found: Roster) -> None:
    head = ("craft", "errors", "warnings", "notes", "not checked", "firmware", "dump")
    rows: list[tuple[Piece | str, ...]] = [
        (
            Piece(name, "strong"),
            *(_count(audit, level) for level in Level),
            f"{len(audit.not_checked):>3} of {audit.rules}",
            firmware_of(audit.settings),
            audit.settings.dumps[0].file,
        )
        for name, audit in zip(found.names, found.audits, strict=True)
    ]
    screen.table(rows, head=head, indent=0)


def _count(audit: Audit, level: Level) -> Piece:
    count = audit.count(level)
    return Piece(f"{count:>4,}", level.value if count else "")


def _finding_lines(screen: Screen, found: Roster) -> None:
    told = found.by_rule()
    if not told:
        return
    screen.heading("Errors and warnings, by rule")
    screen.table(
        [
            (Piece(level.value.upper(), level.value), rule, _listed(found.names, craft))
            for level, rule, craft in told
        ],
        wraps=2,
    )
    screen.paragraph("`cfgaudit check DUMP` tells the findings of one craft whole.", indent=2)


def _listed(names: Sequence[str], craft: Sequence[int]) -> str:
    return ", ".join(names[number] for number in craft)


def _odd_lines(screen: Screen, found: Roster, most: int | None) -> None:
    """Each craft's own values where all the others that state the setting agree."""
    odd = found.odd[:most]
    for number, name in enumerate(found.names):
        rows = [row for row in odd if row.odd == number]
        if rows:
            screen.heading(f"{name} alone has")
            screen.entries([_odd_row(row, number) for row in rows])


def _odd_row(row: RowOfCraft, number: int) -> tuple[str, str]:
    own = row.cells[number]
    others = [entry for entry in row.cells if entry is not None and entry is not own]
    assert own is not None  # it states it, and so do at least two others
    return row.path, f"{entry_text(own)}; the others {entry_text(others[0])}"


def _video_lines(screen: Screen, found: Roster) -> None:
    senders = found.senders
    if not senders:
        return
    screen.heading("Pictures on the air")
    rows: list[tuple[Piece | str, ...]] = []
    for sender in senders:
        power = "power not stated" if sender.mw is None else f"{grouped(sender.mw)} mW"
        near = ""
        if sender.nearest is not None and sender.apart_mhz is not None:
            name = found.names[sender.nearest]
            near = f"{grouped(sender.apart_mhz)} MHz from {name}, the nearest"
        rows.append((f"{grouped(sender.mhz)} MHz", found.names[sender.craft], power, near))
    screen.table(rows)


def roster_json(found: Roster, most: int | None = None) -> dict[str, Any]:
    """The whole output of fleet, with at `most` so many findings of each craft."""
    return {
        **head(),
        "craft": list(found.names),
        "dumps": [audit_json(*one, most) for one in zip(found.audits, found.blind, strict=True)],
        "odd": [row_json(row) for row in found.odd],
        "video": [sender._asdict() for sender in found.senders],
        "together": together_json(found.together),
        "passed_over": list(found.passed_over),
        "not_audited": list(found.unknown),
    }


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


def overview_screen(found: "Overview", width: int, *, long: bool = False) -> Screen:
    """What a fleet's craft have in common, what is odd among them, what holds between settings.

    At most sixty lines, unless it is to be `long`: where lines wrap, each part tells less.
    """
    room = _LONG if long else _SHORT
    screen = _screen(found, width, room)
    while not long and len(screen.plain().splitlines()) > LINES and max(room) > 1:
        room = _Room(*(max(1, entries - 1) for entries in room))
        screen = _screen(found, width, room)
    return screen


def _screen(found: "Overview", width: int, room: _Room) -> Screen:
    screen = Screen(width)
    screen.line(Piece(f"{found.sources:,} dumps: {found.craft:,} craft audited", "strong"))
    screen.line(f"  {found.with_errors:,} with errors, {found.with_warnings:,} with warnings")
    _refused_lines(screen, found, room.refused)
    _rule_lines(screen, found, room.rules)
    _group_lines(screen, found, room.groups)
    _cause_lines(screen, found, room.causes)
    _share_lines(screen, found, room)
    _oddest_lines(screen, found, room.odd)
    _relation_lines(screen, found.relations, room.relations)
    screen.blank()
    left = "What craft do to one another was not looked at. How blind each audit is, `check` tells."
    screen.say(f"{left} {CAUTION}")
    return screen


def _heading(screen: Screen, text: str, told: int, every: int) -> None:
    screen.blank()
    rest = f"  (the first {told} of {every:,}; --long)" if told < every else ""
    screen.line(Piece(text, "strong"), Piece(rest, "quiet"))


def _refused_lines(screen: Screen, found: "Overview", most: int) -> None:
    if not found.refused:
        return
    _heading(screen, "Not audited", min(most, len(found.refused)), found.of["refused"])
    screen.table(
        [(f"{e.sources:>6,}", e.reason, _names(e.names, e.sources)) for e in found.refused[:most]],
        wraps=2,
    )


def _rule_lines(screen: Screen, found: "Overview", most: int) -> None:
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


def _group_lines(screen: Screen, found: "Overview", most: int) -> None:
    grave = [group for group in found.groups if group.rules]
    if not grave:
        return
    every = found.of["groups"] - (len(found.groups) - len(grave))
    _heading(screen, "Craft of which the same rules speak", min(most, len(grave)), every)
    for group in grave[:most]:
        mostly = f"; mostly {group.mostly}" if group.mostly else ""
        screen.paragraph(f"{group.craft:>6,}  {first_of(group.rules, 4)}{mostly}", indent=2)


def _cause_lines(screen: Screen, found: "Overview", most: int) -> None:
    if not found.causes:
        return
    told = min(most, len(found.causes))
    _heading(screen, "Craft with one finding for the same values", told, found.of["causes"])
    for cause in found.causes[:most]:
        stated = "; ".join(f"{path} {value}".rstrip() for path, value in cause.stated[:2])
        screen.paragraph(f"{cause.craft:>6,}  {cause.rule}: {stated}{_since(cause)}", indent=2)


def _since(cause: "SharedCause") -> str:
    """How many of the craft have a cause since the same change, and from what."""
    if not cause.since:
        return ""
    pairs = zip(cause.stated, cause.was, strict=True)
    old = [f"{path} {was or 'not stated'}" for (path, value), was in pairs if value != was]
    all_of = "all" if cause.since == cause.craft else f"{cause.since:,}"
    return f"; {all_of} of them since the same change, from {first_of(old, 2)}"


def _share_lines(screen: Screen, found: "Overview", room: _Room) -> None:
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


def _oddest_lines(screen: Screen, found: "Overview", most: int) -> None:
    if not found.odd:
        return
    screen.blank()
    told = f"{found.odd_count:,} values of {found.odd_craft:,} craft"
    screen.line(Piece("Odd, which is not wrong", "strong"), f": {told}, the oddest first")
    for odd in found.odd[:most]:
        screen.paragraph(odd_text(odd), indent=2, further=4)


def odd_text(odd: "Odd") -> str:
    """One odd value in words."""
    from cfgaudit.audit.odd import LIKE

    with_what = "that are like it" if odd.told_by.startswith(LIKE) else f"with {odd.told_by}"
    shared = "" if odd.told_by.startswith(LIKE) else f" {odd.shared}"
    return (
        f"{odd.craft}: {odd.path} {odd.value}; {odd.having:,} of {odd.peers:,} craft "
        f"{with_what}{shared} have {odd.usual}"
    )


def _relation_lines(screen: Screen, relations: "Sequence[LearntRelation]", most: int) -> None:
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


def overview_json(found: "Overview") -> dict[str, Any]:
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


def answer_screen(answer: "QueryResult", width: int) -> Screen:
    """The answer to a question in SQL, as a table."""
    screen = Screen(width)
    rows = [tuple("" if cell is None else str(cell) for cell in row) for row in answer.rows]
    screen.table(rows, head=answer.columns, indent=0)
    return screen


def answer_json(answer: "QueryResult") -> dict[str, Any]:
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
