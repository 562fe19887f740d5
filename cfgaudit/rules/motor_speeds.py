"""How fast the motors turn, by motor, pack and propeller as the build sheet has them."""

from typing import TYPE_CHECKING, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.battery import cell_limits
from cfgaudit.physics.motors import blade_pass_hz, motor_range_hz, rpm_of_hz

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet


class Speeds(NamedTuple):
    """Turns a second at a low throttle on an empty pack, and at full throttle on a full one."""

    low_hz: float
    full_hz: float
    paths: tuple[str, ...]


def speeds_from(sheet: "Sheet", throttle_share: float) -> Speeds:
    """From this throttle, a part of 1, to full; without what the propeller holds the motors back.

    Raises NotStated.
    """
    drive, pack = sheet.propulsion, sheet.battery
    cell = cell_limits(pack.chemistry)
    low, full = motor_range_hz(
        drive.kv, pack.cells * cell.floor_v, pack.cells * cell.full_v, throttle_share
    )
    return Speeds(low, full, (drive.path("kv"), pack.path("cells"), pack.path("chemistry")))


def hover_speeds(sheet: "Sheet") -> Speeds:
    """From hovering to full. Raises NotStated."""
    drive = sheet.propulsion
    found = speeds_from(sheet, drive.hover_throttle / 100)
    return found._replace(paths=(*found.paths, drive.path("hover_throttle")))


def hover_between(sheet: "Sheet") -> tuple[float, float]:
    """Turns a second at the hover throttle, on an empty and on a full pack. Raises NotStated."""
    found = hover_speeds(sheet)
    return found.low_hz, found.full_hz * sheet.propulsion.hover_throttle / 100


def idle_speeds(craft: Craft, sheet: "Sheet") -> Speeds:
    """From the throttle that keeps the motors turning to full. Raises NotStated."""
    found = speeds_from(sheet, craft.esc.idle / 100)
    return found._replace(paths=(*found.paths, craft.esc.path("idle")))


def blades_hz(sheet: "Sheet", turns_hz: float) -> float:
    """How often a blade passes an arm at this many turns a second. Raises NotStated."""
    return blade_pass_hz(rpm_of_hz(turns_hz), sheet.propulsion.blades)
