"""What `fleet` tells of all the craft of a folder: on the screen, and as data."""

from collections.abc import Sequence
from typing import Any, NamedTuple

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
from cfgaudit.reports.wording import firmware_of, how_blind, verdict_on_all
from cfgaudit.rules.rule import Level, grouped
from cfgaudit.vocabulary.declare import NotStated


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
        screen.paragraph(f"{what} passed over: no dialect knows {it}: {names}{more}.", indent=0)
    if found.unknown:
        many = f"{len(found.unknown):,} of them" if len(found.passed_over) > 1 else "It"
        named = (
            "are named as the dumps are, and were"
            if len(found.unknown) > 1
            else ("is named as the dumps are, and was")
        )
        screen.paragraph(
            f"{many} {named} not audited: {', '.join(found.unknown[:_MOST_NAMED])}. "
            f"`cfgaudit check FILE` says what to do.",
            indent=0,
        )
    seen = [blind for blind in found.blind if blind is not None]
    if seen:
        screen.paragraph(how_blind(*seen, hint="check --blind lists the rest"), indent=0)
    for line in verdict_on_all(found.names, found.audits, found.together):
        screen.paragraph(line, indent=0)
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
        "video": [
            {
                "craft": sender.craft,
                "mhz": sender.mhz,
                "mw": sender.mw,
                "nearest": sender.nearest,
                "apart_mhz": sender.apart_mhz,
            }
            for sender in found.senders
        ],
        "together": together_json(found.together),
        "passed_over": list(found.passed_over),
        "not_audited": list(found.unknown),
    }
