"""What several craft do to one another, below the screens of `check` and `compare`."""

from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.reports.safe import safe
from cfgaudit.reports.screen import Piece, Screen, cells
from cfgaudit.reports.terminal_check import closing, finding_lines, waived_lines
from cfgaudit.rules.rule import listed


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
