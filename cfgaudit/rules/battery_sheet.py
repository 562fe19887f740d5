"""The pack and the drive as the build sheet states them, against what the dump reckons with."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.battery import current_full_scale_a
from cfgaudit.rules.battery import reference_v
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, rule
from cfgaudit.units import number_text

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet


@rule("battery/cells-mismatch", Level.ERROR, sheet=True)
def cells_mismatch(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The set cell count is not that of the pack that is flown.

    A count that is found at switching on is the matter of battery/cells-ambiguous.

    In the air: with too few cells set the warning comes far too late or never, and the pack is
    flown until the craft falls; with too many it warns from the first second.
    Mend: set the count of the pack.
    Source: the pack's label, as the build sheet states it.
    """
    cells, true = craft.battery.cells, sheet.battery.cells
    if isinstance(cells, str) or cells == true:
        return
    path = craft.battery.path("cells")
    late = "the warning comes too late or never" if cells < true else "it warns all the time"
    yield Fires(
        f"The cell count is set to {cells}, and the pack has {true} cells: a voltage is told "
        f"as {true / cells:.2f} times what a cell has, so {late}.",
        (path, sheet.battery.path("cells")),
        (("set_cells", float(cells)), ("pack_cells", float(true)), ("ratio", true / cells)),
        mend=(Edit(path, str(true)),),
    )


@rule("battery/current-saturates", Level.WARNING, sheet=True)
def current_saturates(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The craft can draw more than its current input can show.

    In the air: at full throttle the current stands still below what is drawn, and the capacity
    used is told too small: the pack is emptier than it says.
    Mend: a sensor with a smaller scale, on the board and in the settings.
    Source: Ohm's law; ST RM0440 for the full scale of the conversion (published); 3.3 V where no
    reference is stated: common practice.
    """
    battery = craft.battery
    if battery.current_from != "adc":
        return
    reference, scale = reference_v(battery), battery.current_scale
    if not scale > 0:  # a sensor whose voltage falls: where it ends the dump does not tell
        raise NotStated(battery.path("current_scale"))
    stated = battery.states("current_offset")
    offset = battery.current_offset if stated else 0.0
    seen, peak = current_full_scale_a(reference, scale, offset), sheet.propulsion.peak_current
    if peak <= seen * (1 + 1e-9):
        return
    optional = [leaf for leaf in ("adc_reference", "current_offset") if battery.states(leaf)]
    told_offset = f" less {number_text(offset)} mV" if stated and offset else ""
    yield Fires(
        f"The current input sees at most {seen:.1f} A ({number_text(reference)} V{told_offset} at "
        f"{number_text(scale)} mV/A), and the craft draws up to {number_text(peak)} A.",
        (
            battery.path("current_scale"),
            sheet.propulsion.path("peak_current"),
            *(battery.path(leaf) for leaf in optional),
        ),
        (
            ("full_scale_a", seen),
            ("peak_a", peak),
            ("scale_mv_per_a", scale),
            ("offset_mv", offset),
            ("adc_reference_v", reference),
        ),
        advice=_sensor_that_fits(reference * 1000 - offset, peak),
    )


def _sensor_that_fits(room_mv: float, peak_a: float) -> str:
    """The greatest scale that shows this current, rounded down so that it does not fire again."""
    if room_mv <= 0:
        return "Fit a sensor that does not fill the input at no current, and set its offset."
    fitting = int(room_mv / peak_a * 10) / 10
    return f"Fit and set a sensor of at most {fitting:.1f} mV/A."


RULES = (cells_mismatch, current_saturates)
