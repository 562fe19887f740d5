"""What `upgrade` tells of each setting, and what brings back the lost; screen and data."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

from cfgaudit.audit.engine import Finding
from cfgaudit.reports.check import change_findings, findings_json
from cfgaudit.reports.data import VERSION, class_json, entry_json, place_json
from cfgaudit.reports.diff import entry_text, names_line
from cfgaudit.reports.lines import how_to_save
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import counted
from cfgaudit.settings import Raw, Stated
from cfgaudit.work.upgrade import Fate, Fated, FirmwareSide, Upgrade

# What each fate is called, the gravest first, and what it means where that is not plain.
TITLES = {
    Fate.LOST: "Lost: yours before, the factory's now",
    Fate.UNTOLD: "Perhaps lost: no factory value is known that would tell",
    Fate.CHANGED: "Changed: neither what it was nor the factory's",
    Fate.FOLLOWED: "The factory's value moved, and you follow it",
    Fate.HELD: "The factory's value moved, and you keep yours",
    Fate.CARRIED: "Carried under a new name",
    Fate.RESCALED: "The same value in another unit, scale or word",
    Fate.RETIRED: "Retired: not in the new dump",
    Fate.NEW: "New: not in the old dump",
    Fate.MOVES: "Moves by itself",
    Fate.KEPT: "Kept",
}


def is_listed(entry: Fated) -> bool:
    """Whether a setting is listed unasked: what is kept, or moves by itself, is counted."""
    return entry.fate not in (Fate.KEPT, Fate.MOVES)


class UpgradeReport(NamedTuple):
    """What became of each setting of one craft, and the findings that came and went by it."""

    files: tuple[str, str]
    found: Upgrade
    brought: Sequence[Finding]
    cleared: Sequence[Finding]
    everything: bool  # whether what was kept or counts is listed too

    @property
    def listed(self) -> list[Fated]:
        """The settings that are listed."""
        return [entry for entry in self.found.fates if self.everything or is_listed(entry)]


def upgrade_screen(report: UpgradeReport, width: int, most: int | None = None) -> Screen:
    """Fates in order of gravity, each the gravest class first; then lines, findings, a summary.

    At `most` so many fates, lines to bring back, and findings of each kind are told.
    """
    screen, found = Screen(width), report.found
    names_line(screen, _named(found.old), _named(found.new))
    for side in (found.old, found.new):
        screen.paragraph(_factory_said(side))
    for note in found.notes:
        screen.paragraph(note, label="Note ")
    listed = report.listed[:most]
    for fate, title in TITLES.items():
        _group(screen, title, [entry for entry in listed if entry.fate is fate])
    _bring_back(screen, found, most)
    change_findings(screen, report.brought[:most], report.cleared[:most])
    screen.blank()
    screen.say(_summary(report))
    return screen


def _named(side: FirmwareSide) -> str:
    return f"{side.name} {side.version}".strip() or "an unknown firmware"


def _factory_said(side: FirmwareSide) -> str:
    if not side.known:
        return (
            f"No factory value of {_named(side)} is known: what was lost can't be told from what "
            "you set. A dump of an untouched board would tell (--old-factory, --new-factory)."
        )
    sources = [f"from {side.dump}"] if side.dump else []
    sources += ["recorded in the dialect"] if side.recorded else []
    return f"{side.known} factory values of {_named(side)}, {' and '.join(sources)}."


def _group(screen: Screen, title: str, entries: Sequence[Fated]) -> None:
    if not entries:
        return
    screen.title(title)
    for entry in entries:
        _entry_lines(screen, entry)


def _entry_lines(screen: Screen, entry: Fated) -> None:
    """A setting's class, name and values, on one line where they fit."""
    grave = entry.cls.name.lower() if entry.cls is not None else "own line"
    lead = f"  {grave:<9} {entry.path}"
    old, new = _text(entry.old), _text(entry.new)
    one = entry.fate in (Fate.HELD, Fate.CARRIED, Fate.RETIRED, Fate.NEW, Fate.KEPT)
    said = [Piece(old if entry.old is not None else new)] if one else _from_to(entry, old, new)
    if len(lead) + 2 + sum(len(piece.text) for piece in said) <= screen.width:
        screen.line(lead, "  ", *said)
    elif len(said) == 1:
        screen.line(lead)
        screen.line(" " * 12, *said)
    else:
        screen.line(lead)
        screen.line(" " * 12, said[0])
        screen.line(" " * 9, *said[1:])
    for remark in _remarks(entry):
        screen.paragraph(remark, indent=12)


def _from_to(entry: Fated, old: str, new: str) -> list[Piece]:
    if entry.fate is Fate.RESCALED and isinstance(entry.old, Stated):
        assert isinstance(entry.new, Stated)  # both are stated by their dumps
        old, new = entry.old.text, f"{entry.new.text}  ({new})"
    return [Piece(old, "old"), Piece(" to "), Piece(new, "new")]


def _remarks(entry: Fated) -> list[str]:
    """What else there is to say of a setting."""
    said: list[str] = []
    if entry.old_name and entry.old_name != entry.path:
        guess = ", by the likeness of the names" if entry.guess else ""
        said.append(f"it was called {entry.old_name}{guess}")
    if entry.fate is Fate.HELD:
        said.append(f"factory: {_text(entry.factory_old)} to {_text(entry.factory_new)}")
    if entry.fate is Fate.CHANGED and entry.factory_new is not None:
        said.append(f"factory: {_text(entry.factory_new)}")
    if entry.may_be_lost and entry.old is None:
        said.append("the factory's: the old dump lacks it, so you may have taken it out")
    if entry.fate is Fate.UNTOLD and not entry.may_be_lost:
        said.append("not lost: it was the factory's before")
    return said


def _text(entry: Stated | Raw | None) -> str:
    return entry_text(entry, factory=False)  # which a fate tells


def _bring_back(screen: Screen, found: Upgrade, most: int | None) -> None:
    lines = found.lines
    if lines.text:
        what = "what was lost" + (", and what may be" if found.may_be_lost else "")
        screen.title(f"To bring back {what}, in the words of {_named(found.new)}")
        every = lines.text.splitlines()
        for line in every[:most]:
            screen.typed(line)
        _more(screen, len(every[:most]), len(every), "lines; --lines gives them all")
        if lines.unsaved:
            screen.paragraph(how_to_save([lines.unsaved]))
    if lines.refused:
        screen.heading("Not to be brought back by lines")
        for path, why in lines.refused[:most]:
            screen.paragraph(f"{path}: {why}")
        told = len(lines.refused[:most])
        _more(screen, told, len(lines.refused), "settings; --no-limits reports them all")


def _more(screen: Screen, told: int, every: int, what: str) -> None:
    """How many entries of a list are not told, and how to see them."""
    if told < every:
        screen.paragraph(f"and {every - told:,} more {what}", indent=4)


def _summary(report: UpgradeReport) -> str:
    found = report.found
    kept, moves = found.count(Fate.KEPT), found.count(Fate.MOVES)
    said = [f"{found.count(Fate.LOST):,} lost"]
    if found.may_be_lost:
        said.append(f"{found.may_be_lost:,} perhaps lost")
    for fate, word in (
        (Fate.CHANGED, "changed"),
        (Fate.FOLLOWED, "moved with the factory's value"),
        (Fate.HELD, "held while it moved"),
        (Fate.CARRIED, "carried under a new name"),
        (Fate.RESCALED, "said otherwise"),
        (Fate.RETIRED, "retired"),
        (Fate.NEW, "new"),
    ):
        if found.count(fate):
            said.append(f"{found.count(fate):,} {word}")
    if moves:
        said.append(
            "1 that moves by itself" if moves == 1 else f"{moves:,} that move by themselves"
        )
    said.append(
        f"{kept:,} kept" + ("" if report.everything or not kept + moves else " (--everything)")
    )
    for findings, word in ((report.brought, "brought"), (report.cleared, "cleared")):
        if findings:
            said.append(f"{counted(len(findings), 'finding')} {word}")
    return ", ".join(said) + "."


def upgrade_json(report: UpgradeReport) -> dict[str, Any]:
    """The whole output of upgrade."""
    found = report.found
    counts = Counter(entry.fate for entry in found.fates)
    return {
        "version": VERSION,
        "old": _firmware_json(report.files[0], found.old),
        "new": _firmware_json(report.files[1], found.new),
        "notes": list(found.notes),
        "counts": {fate.value: counts[fate] for fate in Fate},
        "settings": [_fated_json(entry) for entry in report.listed],
        "left_out": len(found.fates) - len(report.listed),
        "bring_back": {
            "lines": found.lines.text,
            "saves": not found.lines.unsaved,
            "brings": list(found.lines.brings),
            "refused": [{"path": path, "why": why} for path, why in found.lines.refused],
        },
        "findings_new": findings_json(report.brought),
        "findings_cleared": findings_json(report.cleared),
    }


def _firmware_json(file: str, firmware: FirmwareSide) -> dict[str, Any]:
    return {
        "file": file,
        "firmware": firmware.name or None,
        "firmware_version": firmware.version or None,
        "factory_dump": firmware.dump,
        "factory_recorded": firmware.recorded,
        "factory_known": firmware.known,
    }


def _fated_json(entry: Fated) -> dict[str, Any]:
    return {
        "fate": entry.fate.value,
        "may_be_lost": entry.may_be_lost,
        "path": entry.path,
        "raw": entry.raw,
        "class": class_json(entry.cls),
        "craft_own": entry.craft_own,
        "volatile": entry.volatile,
        "old": entry_json(entry.old),
        "new": entry_json(entry.new),
        "factory_old": entry_json(entry.factory_old),
        "factory_new": entry_json(entry.factory_new),
        "old_name": entry.old_name or None,
        "guess": entry.guess,
        "old_place": place_json(entry.old and entry.old.place),
        "new_place": place_json(entry.new and entry.new.place),
    }
