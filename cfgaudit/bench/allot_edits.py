"""What a port plan changes: ports in the build sheet, roles, rates and levels in the dump."""

from collections.abc import Mapping
from typing import NamedTuple

from cfgaudit.bench.allot import Allotment
from cfgaudit.bench.wants import CONSOLE, CONSOLE_ROLE, Want
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Port
from cfgaudit.craft.settings import Settings
from cfgaudit.craft.values import Value
from cfgaudit.reading.place import Place


class SheetEdit(NamedTuple):
    """A device's new port; `old` is empty, and `place` None, where none was stated."""

    device: str
    old: str
    new: str
    place: Place | None

    @property
    def path(self) -> str:
        """The key in the sheet."""
        return f"devices.{self.device}.port"


def sheet_edits(allotment: Allotment, sheet: Settings) -> tuple[SheetEdit, ...]:
    """The edits that the build sheet would take."""
    found = []
    for want in allotment.problem.wants:
        new = allotment.placed.get(want.name, "")
        if want.name != CONSOLE and new and new != want.port:
            stated = sheet.stated.get(want.path("port"))
            found.append(SheetEdit(want.name, want.port, new, stated.place if stated else None))
    return tuple(found)


def dump_wants(allotment: Allotment, settings: Settings) -> Mapping[str, Value]:
    """What the dump must state: each port's roles, and what those that carry something ask.

    A port that the plan gives nobody keeps the roles that no device of the sheet has, so that
    nothing goes that the sheet does not tell of.
    """
    craft = Craft(settings)
    wants = {want.name: want for want in allotment.problem.wants}
    moved = {wants[name].role for name in allotment.placed} - {"", CONSOLE_ROLE}
    named = dict.fromkeys((*craft.ports.names(), *allotment.placed.values()))
    found: dict[str, Value] = {}
    for port in named:
        part = craft.ports[port]
        mine = [wants[name] for name, at in allotment.placed.items() if at == port]
        roles = frozenset(want.role for want in mine if want.role)
        known = port in allotment.problem.ports
        if not mine and part.states("roles"):
            roles = part.roles - moved if known else part.roles
        if (mine or part.states("roles")) and not (part.states("roles") and part.roles == roles):
            found[part.path("roles")] = roles
        for want in mine:
            if want.role:
                found |= _as_it_asks(want, part)
    return found


def _as_it_asks(want: Want, port: Port) -> dict[str, Value]:
    """Rate, level and wires of a port as its device asks for them, where the sheet tells."""
    found: dict[str, Value] = {}
    if want.rate is not None:
        found[port.rate_path(want.role)] = want.rate
    if want.inverted is not None:
        found[port.path("inverted")] = want.inverted
    if want.one_wire is not None:
        found[port.path("half_duplex")] = want.one_wire
    return found


def console_of(settings: Settings) -> str:
    """The port that the dump has the console on; empty where it names none."""
    craft = Craft(settings)
    for name in craft.ports.names():
        part = craft.ports[name]
        if part.states("roles") and CONSOLE_ROLE in part.roles:
            return name
    return ""
