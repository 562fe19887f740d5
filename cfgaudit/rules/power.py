"""Rules about supply rails and what hangs on them: all of them want the build sheet."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule
from cfgaudit.units import number_text

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.craft.sheet_board import SheetRail
    from cfgaudit.craft.sheet_devices import Device

_NONE = "none"  # a device that says so draws from no rail


@rule("power/rail-out-of-range", Level.ERROR, sheet=True)
def rail_out_of_range(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """A device hangs on a rail whose voltage is not, or not always, within its supply range.

    In the air: below its range the device drops out, first when the pack sags at full throttle;
    above it the device breaks, at once or some flights later.
    Mend: move the device to a rail within its range, or set the rail to a voltage that fits.
    Source: the two ranges as the build sheet states them; no figure is assumed.
    """

    def device(part: "Device") -> Iterator[Yielded]:
        if part.rail == _NONE:
            return
        rail = sheet.rails[part.rail]
        (low, high), (least, most) = rail.volts(), part.supply
        if least <= low and high <= most:
            return
        yield Fires(
            f"{part.name} takes {_volts(least, most)}, and its rail {rail.name} "
            f"{'gives' if low == high else 'goes through'} {_volts(low, high)}.",
            (part.path("rail"), part.path("supply"), rail.volts_path()),
            (
                ("rail_low_v", low),
                ("rail_high_v", high),
                ("supply_low_v", least),
                ("supply_high_v", most),
            ),
            advice=_instead(sheet, rail, least, most),
        )

    return each(sheet.devices, device)


def _volts(low: float, high: float) -> str:
    if low == high:
        return f"{number_text(low)} V"
    return f"{number_text(low)}..{number_text(high)} V"


def _instead(sheet: "Sheet", rail: "SheetRail", least: float, most: float) -> str:
    """Which rails would do as they are, and to what this one could be set."""
    ways = []
    fitting = [other.name for other in sheet.rails if _within(other, least, most)]
    if fitting:
        ways.append(f"move it to {' or '.join(fitting)}")
    if rail.states("choices"):
        choices = [number_text(volts) for volts in rail.choices if least <= volts <= most]
        if choices:
            ways.append(f"set {rail.name} to {' or '.join(choices)} V")
    if not ways:
        return f"No rail of this craft gives {_volts(least, most)}: add a regulator that does."
    told = ", or ".join(ways)
    return f"{told[:1].upper()}{told[1:]}; then look what else hangs there."


def _within(rail: "SheetRail", least: float, most: float) -> bool:
    try:
        low, high = rail.volts()
    except NotStated:
        return False
    return least <= low and high <= most


RULES = (rail_out_of_range,)
