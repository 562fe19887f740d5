"""Many craft at once, as `fleet` tells of them: each audited, the odd ones out, all together.

The screen of `fleet`.

What several craft do to one another, below the screens of `check` and `compare`.

Machine output, version 1: the JSON of fleet.

Machine output, version 1: what several craft do to one another, in check and compare."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from cfgaudit import __version__
from cfgaudit.audit.engine import RANK, Audit
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.craft.craft import Craft
from cfgaudit.reading.safe import safe
from cfgaudit.reports.check import closing, finding_lines, has_dialect, waived_lines
from cfgaudit.reports.data import VERSION, audit_json, findings_json
from cfgaudit.reports.diff import entry_text, row_json
from cfgaudit.reports.screen import Piece, Screen, cells
from cfgaudit.rules.rule import Level, grouped, listed
from cfgaudit.vocabulary.declare import HIDDEN, NotStated


class Sender(NamedTuple):
    """A craft's picture on the air: its frequency and power, and the nearest other sender."""

    craft: int  # counted from 0
    mhz: float
    mw: float | None
    nearest: int | None  # the craft whose picture is nearest
    apart_mhz: float | None


class Roster(NamedTuple):
    """Several craft in the order of their names. `odd` has what one alone has so."""

    names: tuple[str, ...]
    audits: tuple[Audit, ...]
    odd: tuple[RowOfCraft, ...]
    together: FleetAudit
    passed_over: tuple[str, ...]  # files that no dialect knows

    @property
    def senders(self) -> tuple[Sender, ...]:
        """The craft that send a picture on a frequency that is told, the lowest first."""
        return senders([Craft(audit.settings) for audit in self.audits])

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


def senders(crafts: Sequence[Craft]) -> tuple[Sender, ...]:
    """Where each craft's picture is on the air, and how far the nearest other one is."""
    on_air: list[tuple[float, int]] = []
    for number, craft in enumerate(crafts):
        transmitter = craft.video.transmitter
        silent = transmitter.states("enabled") and not transmitter.enabled
        if transmitter.states("frequency") and not silent:
            on_air.append((transmitter.frequency, number))
    found: list[Sender] = []
    for mhz, number in sorted(on_air):
        others = [(abs(mhz - other), at) for other, at in on_air if at != number]
        apart, nearest = min(others, default=(None, None))
        found.append(Sender(number, mhz, _power(crafts[number]), nearest, apart))
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
        fleet_lines(screen, found.together)
    screen.blank()
    if found.passed_over:
        count = len(found.passed_over)
        what = "1 file is" if count == 1 else f"{count:,} files are"
        screen.paragraph(f"{what} passed over: no dialect knows {_them(count)}.", indent=0)
    _verdict_lines(screen, found)
    return screen


def _verdict_lines(screen: Screen, found: Roster) -> None:
    """Who was not audited at all, then the verdict on all the craft, each and together."""
    unknown = [
        name
        for name, audit in zip(found.names, found.audits, strict=True)
        if not has_dialect(audit.settings)
    ]
    if unknown:
        was = "was" if len(unknown) == 1 else "were"
        screen.paragraph(
            f"No dialect knows {listed(unknown)}, so {_it(len(unknown))} {was} not audited.",
            indent=0,
        )
    audits = found.audits
    if len(unknown) == len(audits):
        return
    findings = [*(f for audit in audits for f in audit.findings), *found.together.findings]
    waived = sum(len(audit.waived) for audit in audits) + len(found.together.waived)
    said = closing(findings, "Do not fly before the errors are cleared.")
    apart = f" Waived: {waived}." if waived else ""
    screen.paragraph(f"In all: {said[:1].lower()}{said[1:]}{apart}", indent=0)


def _it(count: int) -> str:
    return "it" if count == 1 else "they"


def _them(count: int) -> str:
    return "it" if count == 1 else "them"


def _craft_lines(screen: Screen, found: Roster) -> None:
    head = ("craft", "errors", "warnings", "notes", "not checked", "firmware", "dump")
    rows: list[tuple[Piece | str, ...]] = [
        (
            Piece(name, "strong"),
            *(_count(audit, level) for level in Level),
            f"{len(audit.not_checked):>3} of {audit.checked + len(audit.not_checked)}",
            _firmware(audit),
            audit.settings.dumps[0].file,
        )
        for name, audit in zip(found.names, found.audits, strict=True)
    ]
    screen.table([tuple(Piece(word, "quiet") for word in head), *rows], indent=0)


def _count(audit: Audit, level: Level) -> Piece:
    count = audit.count(level)
    return Piece(f"{count:>4,}", level.value if count else "")


def _firmware(audit: Audit) -> str:
    stated = audit.settings.stated
    entries = [stated[path] for path in ("firmware.name", "firmware.version") if path in stated]
    return " ".join(HIDDEN if entry.secret else str(entry.value) for entry in entries)


def _finding_lines(screen: Screen, found: Roster) -> None:
    told = found.by_rule()
    if not told:
        return
    screen.blank()
    screen.line(Piece("Errors and warnings, by rule", "strong"))
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
            screen.blank()
            screen.line(Piece(f"{name} alone has", "strong"))
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
    screen.blank()
    screen.line(Piece("Pictures on the air", "strong"))
    rows: list[tuple[Piece | str, ...]] = []
    for sender in senders:
        power = "power not stated" if sender.mw is None else f"{grouped(sender.mw)} mW"
        near = ""
        if sender.nearest is not None and sender.apart_mhz is not None:
            name = found.names[sender.nearest]
            near = f"{grouped(sender.apart_mhz)} MHz from {name}, the nearest"
        rows.append((f"{grouped(sender.mhz)} MHz", found.names[sender.craft], power, near))
    screen.table(rows)


def fleet_lines(screen: Screen, fleet: FleetAudit, waived: bool = False) -> None:
    """The part `Together`: findings, what could not be checked, then the verdict."""
    screen.blank()
    names = f" · {listed(list(fleet.names))}"
    if cells("Together" + safe(names)) <= screen.width:
        screen.line(Piece("Together", "strong"), names)
    else:
        screen.line(Piece("Together", "strong"))
        screen.paragraph(names.removeprefix(" · "))
    for finding in fleet.findings:
        screen.blank()
        finding_lines(screen, finding, fleet.names)
    if waived:
        waived_lines(screen, fleet.waived, fleet.names)
    screen.blank()
    for line in _not_checked(fleet):
        screen.paragraph(line, indent=0)
    screen.paragraph(
        closing(
            fleet.findings,
            "Do not fly them together before the errors are cleared.",
            len(fleet.waived),
            len(fleet.known),
        ),
        indent=0,
    )


def _not_checked(fleet: FleetAudit) -> list[str]:
    """A line a setting that some craft lack: who lacks it, and what could not be checked."""
    craft: dict[str, dict[str, None]] = {}
    rules: dict[str, dict[str, None]] = {}
    for entry in fleet.not_checked:
        for lack in entry.lacks:
            craft.setdefault(lack.path, {})[fleet.names[lack.craft]] = None
            rules.setdefault(lack.path, {})[entry.rule.id] = None
    return [
        f"Not checked for {listed(list(names))}, for want of {path}: {listed(list(rules[path]))}."
        for path, names in craft.items()
    ]


def roster_json(found: Roster, most: int | None = None) -> dict[str, Any]:
    """The whole output of fleet, with at `most` so many findings of each craft."""
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "craft": list(found.names),
        "dumps": [audit_json(audit, most) for audit in found.audits],
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
        "together": fleet_json(found.together),
        "passed_over": list(found.passed_over),
    }


def fleet_json(fleet: FleetAudit) -> dict[str, Any]:
    """The member `fleet`; craft are counted from 0 in the order given."""
    return {
        "findings": findings_json(fleet.findings, fleet.waived, fleet.known),
        "not_checked": [
            {
                "rule": entry.rule.id,
                "lacks": [{"craft": lack.craft, "path": lack.path} for lack in entry.lacks],
            }
            for entry in fleet.not_checked
        ],
    }
