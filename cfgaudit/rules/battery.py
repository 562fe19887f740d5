"""Battery thresholds and voltage measurement."""

from collections.abc import Iterator
from itertools import pairwise

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.battery import full_scale_v
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, rule
from cfgaudit.units import number_text

_USUAL_REFERENCE_V = 3.3  # common practice; the vocabulary says so too
_ROOM = 1.05  # room for tolerances of divider and reference (common practice)


@rule("battery/threshold-order", Level.ERROR)
def threshold_order(craft: Craft) -> Iterator[Yielded]:
    """The cell thresholds are not in the order empty, warn, full.

    In the air: the warning comes too late or all the time, and the pack may be flown until it is
    ruined or the craft falls.
    Mend: set the warning above empty and below full.
    Source: common practice.
    """
    volts: dict[str, float] = {}
    for leaf in ("empty_cell", "warn_cell", "full_cell"):
        if craft.battery.states(leaf):
            volts[leaf] = getattr(craft.battery, leaf)
        else:
            yield Lacks(craft.battery.path(leaf))
    order = list(volts)
    wrong = [(low, high) for low, high in pairwise(order) if not volts[low] < volts[high]]
    if not wrong:
        return
    told = " and ".join(
        f"{_word(low)} ({number_text(volts[low])} V) is not below "
        f"{_word(high)} ({number_text(volts[high])} V)"
        for low, high in wrong
    )
    met = [leaf for leaf in order if any(leaf in pair for pair in wrong)]
    yield Fires(
        f"Cell thresholds are out of order: {told}.",
        tuple(craft.battery.path(leaf) for leaf in met),
        tuple((f"{leaf}_v", value) for leaf, value in volts.items()),
        advice="Set the thresholds so that empty is below warn and warn below full.",
    )


def _word(leaf: str) -> str:
    return leaf.removesuffix("_cell")


@rule("battery/divider-saturates", Level.ERROR)
def divider_saturates(craft: Craft) -> Iterator[Yielded]:
    """A full pack, with 5 % of room, is more than the voltage input can show.

    In the air: the voltage reads too low and stands still until the pack has sunk below what the
    input can see; the cell count may be taken wrongly, and with it every warning. The input may
    be damaged.
    Mend: a divider with a greater ratio, on the board and in the settings.
    Source: ST RM0440 for the conversion (published); 3.3 V where no reference is stated and
    5 % of room: common practice.
    """
    battery = craft.battery
    if battery.states("voltage_from") and battery.voltage_from != "adc":
        return
    cells = battery.cells
    if isinstance(cells, str):  # auto: the count is not stated
        raise NotStated(battery.path("cells"))
    stated = battery.path("adc_reference") in craft.settings
    reference = battery.adc_reference if stated else _USUAL_REFERENCE_V
    wanted = cells * battery.full_cell * _ROOM
    seen = full_scale_v(reference, battery.divider)
    if wanted <= seen * (1 + 1e-9):
        return
    paths = [battery.path(leaf) for leaf in ("divider", "cells", "full_cell")]
    yield Fires(
        f"The voltage input sees at most {seen:.2f} V ({number_text(reference)} V × "
        f"{number_text(battery.divider)}), and {cells} cells of "
        f"{number_text(battery.full_cell)} V with 5 % of room need {wanted:.2f} V.",
        (*paths, battery.path("adc_reference")) if stated else tuple(paths),
        (
            ("full_scale_v", seen),
            ("needed_v", wanted),
            ("cells", cells),
            ("full_cell_v", battery.full_cell),
            ("adc_reference_v", reference),
            ("divider", battery.divider),
        ),
        advice=f"Fit and set a divider of at least {wanted / reference:.2f}.",
    )


RULES = (threshold_order, divider_saturates)
