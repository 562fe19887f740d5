"""The screen of `fleet`."""

from collections.abc import Sequence

from cfgaudit.audit.engine import Audit
from cfgaudit.changes.compare import RowOfCraft
from cfgaudit.reports.roster import Roster
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_changes import entry_text
from cfgaudit.reports.terminal_check import closing, has_dialect
from cfgaudit.reports.terminal_fleet import fleet_lines
from cfgaudit.rules.rule import Level, grouped, listed
from cfgaudit.vocabulary.declare import HIDDEN


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
