"""The pack: thresholds, cells, what measures volts and amperes, and whether anybody hears of it."""

from collections.abc import Callable, Iterator, Sequence
from itertools import chain, pairwise
from math import ceil
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Asked, Craft, if_stated, there
from cfgaudit.physics.power import (
    CELL_LIMITS,
    MOST_CELLS,
    cell_limits,
    current_full_scale_a,
    detection_outcomes,
    full_scale_v,
    step_per_cell_v,
)
from cfgaudit.rules.payload import shown_that_tell
from cfgaudit.rules.power import cells_of_rails
from cfgaudit.rules.rule import (
    BUILD_SHEET,
    Edit,
    Fires,
    Lacks,
    Level,
    NotApplicable,
    Yielded,
    each,
    rule,
)
from cfgaudit.rules.wiring import devices_in
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import Battery
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


_USUAL_REFERENCE_V = 3.3  # common practice; the vocabulary says so too
_ROOM = 1.05  # room for tolerances of divider and reference (common practice)
_ROUNDING = 1e-9  # 4.20 V against 420 hundredths, in binary too


@rule("battery/threshold-order", Level.ERROR)
def threshold_order(craft: Craft) -> Iterator[Yielded]:
    """The cell thresholds are not in the order empty, warn, full.

    A warning where they are in order, and less than a tenth of a volt apart.

    In the air: the warning comes too late or all the time, and the pack may be flown until it is
    ruined or the craft falls.
    Mend: set the warning above empty and below full, a tenth of a volt or more from either.
    Source: common practice.
    """
    volts: dict[str, float] = {}
    for leaf in _THRESHOLDS:
        if craft.battery.states(leaf):
            volts[leaf] = getattr(craft.battery, leaf)
        else:
            yield Lacks(craft.battery.path(leaf))
    wrong = [(low, high) for low, high in pairwise(volts) if not volts[low] < volts[high]]
    close = [
        (low, high)
        for low, high in pairwise(volts)
        if volts[high] - volts[low] < _LEAST_APART_V - _ROUNDING
    ]
    paths = tuple(craft.battery.path(leaf) for leaf in volts if leaf in chain(*(wrong or close)))
    figures = tuple((f"{leaf}_v", value) for leaf, value in volts.items())
    if wrong:
        told = " and ".join(
            f"{_word(low)} ({number_text(volts[low])} V) is not below "
            f"{_word(high)} ({number_text(volts[high])} V)"
            for low, high in wrong
        )
        yield Fires(
            f"Cell thresholds are out of order: {told}.",
            paths,
            figures,
            advice="Set the thresholds so that empty is below warn and warn below full.",
        )
    elif close:
        told = " and ".join(f"{_word(low)} and {_word(high)}" for low, high in close)
        yield Fires(
            f"Cell thresholds lie within a tenth of a volt of each other: {told}.",
            paths,
            figures,
            advice="Set them a tenth of a volt or more apart.",
            level=Level.WARNING,
        )


_THRESHOLDS: Final = ("empty_cell", "warn_cell", "full_cell")
_LEAST_APART_V = 0.1  # less is within what a cell sags at a push of the throttle


# Where a warning is of use: below it there is hardly anything left to come home with, above it
# half the charge is. Common practice; the upper end is the cell's nominal voltage, of lithium-ion
# cells less: they sag that much more under a craft's load.
_USUAL_WARNING_V = {"lipo": (3.3, 3.7), "lihv": (3.3, 3.8), "liion": (2.9, 3.4)}


@rule("battery/warning-unusual", Level.WARNING, sheet="wanted")
def warning_unusual(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """The warning comes at a voltage that is of no use with cells of this chemistry.

    It is the chemistry of the build sheet's pack, and the dump's where no build sheet names it.

    In the air: too low, and there is nothing left to come home with; too high, and it sounds with
    half the charge left, is ignored, and then missed.
    Mend: warn from 3.5 V a cell of a LiPo pack, 3.2 V of lithium-ion cells, or by a flight's log.
    Source: common practice; nominal voltages: lipo 3.7, lihv 3.8, liion 3.6 V, of which some 0.2 V
    go in flight.
    """
    (chemistry, said_at), warn = _chemistry(craft, sheet), craft.battery.warn_cell
    (low, high), usual = _USUAL_WARNING_V[chemistry], cell_limits(chemistry)
    battery = craft.battery
    if low - _ROUNDING <= warn <= high + _ROUNDING or not _bears(chemistry, warn):
        return  # what the cells do not bear is battery/cell-out-of-range
    if (battery.states("empty_cell") and warn <= battery.empty_cell) or (
        battery.states("full_cell") and warn >= battery.full_cell
    ):
        return  # battery/threshold-order says it
    late = warn < low
    also: tuple[str, ...] = ()
    if battery.states("empty_cell") and battery.empty_cell > usual.warn_v - _LEAST_APART_V:
        also = (battery.path("empty_cell"),)  # the usual warning leaves no room above it
    yield Fires(
        f"The warning comes at {number_text(warn)} V a cell; with {chemistry} cells "
        + ("next to nothing is left by then." if late else "about half the charge is left then."),
        (battery.path("warn_cell"), *also, said_at),
        (("warn_cell_v", warn), ("usual_v", usual.warn_v)),
        advice=_or_other_cells(craft, chemistry, _ordinary("warn_cell", chemistry)) + ".",
    )


def _or_other_cells(craft: Craft, chemistry: str, ordinary: str) -> str:
    """What is usual; before that the chemistry of which all thresholds stated would be, if any."""
    stated = [getattr(craft.battery, leaf) for leaf in _THRESHOLDS if craft.battery.states(leaf)]
    fits = [
        name
        for name, (low, high) in _USUAL_WARNING_V.items()
        if name != chemistry
        if low - _ROUNDING <= craft.battery.warn_cell <= high + _ROUNDING
        and all(_bears(name, volts) for volts in stated)
    ]
    if not fits or len(stated) < len(_THRESHOLDS):
        return ordinary
    return (
        f"Look what the pack is made of: all three thresholds are those of {' or '.join(fits)} "
        f"cells. If it is, name that; else, {ordinary[:1].lower()}{ordinary[1:]}"
    )


def _chemistry(craft: Craft, sheet: "Sheet | None") -> tuple[str, str]:
    """What the cells are made of and where that is stated: the sheet's pack, else the dump's."""
    own = craft.battery.chemistry if craft.battery.states("chemistry") else ""
    told = sheet is not None and sheet.battery.states("chemistry")
    if sheet is not None and told and sheet.battery.chemistry != own:
        return sheet.battery.chemistry, sheet.battery.path("chemistry")
    return craft.battery.chemistry, craft.battery.path("chemistry")


def _word(leaf: str) -> str:
    return leaf.removesuffix("_cell")


@rule("battery/cell-out-of-range", Level.ERROR, sheet="wanted", over=lambda *_: _THRESHOLDS)
def cell_out_of_range(craft: Craft, sheet: "Sheet | None", leaf: str) -> Iterator[Yielded]:
    """A cell threshold lies outside of what cells of this chemistry bear.

    It is the chemistry of the build sheet's pack, and the dump's where no build sheet names it.

    An empty or warning threshold outside is an error. A full threshold above the chemistry's
    is a warning: the craft does not charge, but a pack charged to it may burn.

    In the air: the warning comes when the cells are already harmed and sag at the next push of
    the throttle, or it never stops and is no warning any more.
    Mend: set the threshold within the chemistry's limits, or name the chemistry that the pack
    really has.
    Source: Samsung SDI INR18650-15L (published): liion 2.5 to 4.2 V; Microchip DS20001984
    (published): 4.20 and 4.35 V charged; a LiPo cell's floor of 3.0 V: common practice.
    """
    battery, (chemistry, said_at) = craft.battery, _chemistry(craft, sheet)
    volts = float(getattr(battery, leaf))
    if _bears(chemistry, volts):
        return
    limits = cell_limits(chemistry)
    high = volts > limits.full_v
    end = f"charged to {limits.full_v:.2f} V" if high else f"empty at {limits.floor_v:.2f} V"
    others = [name for name in CELL_LIMITS if _bears(name, volts)]
    where = ", in the build sheet" if said_at.startswith("sheet.") else ""
    yield Fires(
        f"{_word(leaf).capitalize()} is set to {number_text(volts)} V a cell, "
        f"{'above' if high else 'below'} what {chemistry} cells bear: they are {end}.",
        (battery.path(leaf), said_at),
        ((f"{leaf}_v", volts), ("floor_v", limits.floor_v), ("full_v", limits.full_v)),
        advice=_ordinary(leaf, chemistry)
        + (f", or name the chemistry that the pack has{where}: {', '.join(others)}." * bool(others))
        + "." * (not others),
        level=Level.WARNING if high and leaf == "full_cell" else Level.ERROR,
    )


def _ordinary(leaf: str, chemistry: str) -> str:
    """What to set a threshold to that its cells do not bear."""
    limits = cell_limits(chemistry)
    if leaf == "full_cell":
        return f"Set the {limits.full_v:.2f} V that the cells are charged to"
    return (
        f"Usual with {chemistry} cells: warn at {limits.warn_v:.1f} V and call them empty at "
        f"{limits.empty_v:.2f} V, with the craft hovering"
    )


def _bears(chemistry: str, volts: float) -> bool:
    limits = cell_limits(chemistry)
    return limits.floor_v - _ROUNDING <= volts <= limits.full_v + _ROUNDING


@rule("battery/cells-ambiguous", Level.WARNING, sheet="wanted")
def cells_ambiguous(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """The cell count is found at switching on, and some pack can be taken for another count.

    The pack that the build sheet names counts, from empty to full by its chemistry; without one
    every pack that the voltage input can see. A note where each is counted right down to what the
    craft calls empty itself.

    In the air: a used pack that is taken for one of fewer cells warns far too late, or never;
    one that is taken for more cells warns all the time.
    Mend: set the cell count of the pack that is flown.
    Source: arithmetic: three full cells have 12.6 V, four empty ones 12.0 V. The cells' limits
    as in battery/cell-out-of-range; that the fewest cells win: common practice.
    """
    battery = craft.battery
    if battery.cells != "auto" or (
        battery.states("voltage_from") and battery.voltage_from == "none"
    ):
        return
    limits, detect = cell_limits(battery.chemistry), battery.detect_cell
    counted = {
        cells: detection_outcomes(cells, limits.floor_v, limits.full_v, detect)
        for cells in _flown(craft, sheet, limits.full_v)
    }
    doubtful = [(cells, found) for cells, found in counted.items() if found != (cells,)]
    if not doubtful:
        return
    cells, outcomes = doubtful[0]
    empty, full = cells * limits.floor_v, cells * limits.full_v
    call = battery.empty_cell if battery.states("empty_cell") else limits.floor_v
    late = all(detection_outcomes(n, call, limits.full_v, detect) == (n,) for n, _ in doubtful)
    yield Fires(
        f"Cells are counted at {number_text(detect)} V a cell or less: a pack of {cells}, at rest "
        f"{number_text(round(empty, 2))} V empty to {number_text(round(full, 2))} V full, is "
        f"taken for {_counts(outcomes)}.",
        tuple(battery.path(leaf) for leaf in ("cells", "detect_cell", "chemistry")),
        (
            ("cells", cells),
            ("fewest_counted", outcomes[0]),
            ("most_counted", outcomes[-1]),
            ("empty_v", empty),
            ("full_v", full),
            ("detect_cell_v", detect),
        ),
        advice="Set battery.cells to the count of the pack that is flown.",
        level=Level.NOTE if late else None,
    )


def _flown(craft: Craft, sheet: "Sheet | None", full_v: float) -> Sequence[int]:
    """The cell counts of the packs that may be flown."""
    if sheet and sheet.battery.states("cells"):
        return (sheet.battery.cells,)
    return range(1, _most_cells(craft, full_v) + 1)


def _counts(outcomes: tuple[int, ...]) -> str:
    """Counts in a row: `5`, `3 or 4`, `3 to 6`."""
    first, last = outcomes[0], outcomes[-1]
    return str(last) if first == last else f"{first} {'or' if last - first == 1 else 'to'} {last}"


def _most_cells(craft: Craft, full_v: float) -> int:
    """The most cells whose full voltage the input can see; any count where that is not told."""
    battery = craft.battery
    if not battery.states("divider") or (
        battery.states("voltage_from") and battery.voltage_from != "adc"
    ):
        return MOST_CELLS
    seen = full_scale_v(reference_v(battery), battery.divider)
    return min(MOST_CELLS, int(seen / full_v + _ROUNDING))


def reference_v(battery: Battery) -> float:
    """The ADC's full scale in V: as stated, else the usual one."""
    return battery.adc_reference if battery.states("adc_reference") else _USUAL_REFERENCE_V


@rule("battery/reference-odd", Level.WARNING)
def reference_odd(craft: Craft) -> Iterator[Yielded]:
    """The voltage input's full scale is not the one that its board has.

    In the air: every voltage and current is told wrong by as much: too high, and nothing warns
    until the pack is empty.
    Mend: put back what the firmware has for this board, 3.3 V for nearly all.
    Source: common practice: a board's input measures against its own supply of 3.3 V.
    """
    reference, path = craft.battery.adc_reference, craft.battery.path("adc_reference")
    usual = if_stated(lambda: craft.settings.need_factory(path), _USUAL_REFERENCE_V)
    assert isinstance(usual, float)  # declared so
    if abs(reference / usual - 1) <= _REFERENCE_ROOM + _ROUNDING:
        return
    yield Fires(
        f"The input's full scale is set to {number_text(reference)} V, and {number_text(usual)} V "
        f"is usual: every voltage is told {reference / usual:.3g} times as high as with that.",
        (path,),
        (("adc_reference_v", reference), ("usual_v", usual)),
        advice=f"Put back {number_text(usual)} V, unless the board's manual has another one; then "
        "hold the voltage shown against a meter.",
    )


_REFERENCE_ROOM: Final = 0.1  # of the usual: what a supply may be off


def _full_cell_v(battery: Battery) -> tuple[float, str]:
    """What a full cell has and which setting says so: as stated, else by its chemistry."""
    if not battery.states("full_cell") and battery.states("chemistry"):
        return cell_limits(battery.chemistry).full_v, battery.path("chemistry")
    return battery.full_cell, battery.path("full_cell")


@rule("battery/divider-saturates", Level.ERROR)
def divider_saturates(craft: Craft) -> Iterator[Yielded]:
    """A full pack is more than the voltage input can show; a warning where it just can.

    Just means with less than 5 % of room for the tolerances of divider and reference.

    In the air: the voltage reads too low and stands still until the pack has sunk below what the
    input can see; the cell count may be taken wrongly, and with it every warning. The input may
    be damaged.
    Mend: the divider that the board really has, in the settings; only where that is so small, one
    with a greater ratio on the board.
    Source: ST RM0440 for the conversion (published); 3.3 V where no reference is stated and
    5 % of room: common practice.
    """
    battery, cells = craft.battery, _cells_on_a_pad(craft.battery)
    if cells is None:
        return
    stated, reference = battery.states("adc_reference"), reference_v(battery)
    cell, cell_path = _full_cell_v(battery)
    full = cells * cell
    wanted = full * _ROOM
    seen = full_scale_v(reference, battery.divider)
    if wanted <= seen * (1 + 1e-9):
        return
    paths = [battery.path("divider"), battery.path("cells"), cell_path]
    yield Fires(
        f"The voltage input sees at most {seen:.2f} V ({number_text(reference)} V × "
        f"{number_text(battery.divider)}), and {cells} cell{'s' * (cells > 1)} of "
        f"{number_text(cell)} V with 5 % of room need {wanted:.2f} V.",
        (*paths, battery.path("adc_reference")) if stated else tuple(paths),
        (
            ("full_scale_v", seen),
            ("needed_v", wanted),
            ("cells", cells),
            ("full_cell_v", cell),
            ("adc_reference_v", reference),
            ("divider", battery.divider),
        ),
        # Rounded up: the advised divider must not fire again.
        advice=f"{_point_moved(battery.divider * 10, wanted / reference)}Look up the board's own "
        "divider, and hold the voltage that is told against a meter's at the pack: the number set "
        "must make them the same. Only where it is really as small as this, this pack needs a "
        f"divider of at least {ceil(wanted / reference * 100 * (1 - _ROUNDING)) / 100:.2f} "
        "fitted.",
        level=Level.ERROR if full > seen * (1 + 1e-9) else Level.WARNING,
    )


def _cells_on_a_pad(battery: Battery) -> int | None:
    """The cells of a pack whose voltage is read off a pad; None where it is not read there.

    Raises NotStated.
    """
    if battery.states("voltage_from") and battery.voltage_from != "adc":
        return None
    if isinstance(battery.cells, str):  # auto: the count is not stated
        raise NotStated(battery.path("cells"))
    return battery.cells


_FULLEST_V, _FAR_ABOVE = 4.35, 4.0
_USUAL_DIVIDER: Final = 11.0  # 10 kilohm over 1: what boards for 1 to 6 cells have


@rule("battery/resolution-poor", Level.WARNING, limits=("battery.step_most",))
def resolution_poor(craft: Craft, most_mv: float) -> Iterator[Yielded]:
    """The voltage input sees many times what a full pack has, or shows it in coarse steps.

    A warning above four times a full pack by more than the usual divider of 11, for then it is
    hardly the board's; a note where one step is a large part of what a cell's voltage tells.

    In the air: by a divider that is not the board's every pack reads as a fuller one, and the
    warning comes late or never; by one that is, the voltage jumps from step to step.
    Mend: set the divider that the board really has, or fit one with a smaller ratio.
    Source: ST RM0440 for the conversion, 12 bits (published); 3.3 V where no reference is
    stated and four times a pack of 4.35 V a cell: common practice.
    """
    battery, cells = craft.battery, _cells_on_a_pad(craft.battery)
    if cells is None:
        return
    reference, divider = reference_v(battery), battery.divider
    step = step_per_cell_v(reference, divider, cells) * 1000
    seen, full = full_scale_v(reference, divider), cells * _FULLEST_V
    far = seen > _FAR_ABOVE * full * (1 + _ROUNDING) and divider > _USUAL_DIVIDER
    if step <= most_mv * (1 + _ROUNDING) and not far:
        return
    fine = divider * most_mv / step if not far else divider * _FAR_ABOVE * full / seen
    yield Fires(
        f"The voltage input sees up to {seen:.0f} V, and a full pack of {cells} "
        f"cell{'s' * (cells > 1)} has {full:.2f} V at most: one step is {step:.1f} mV a cell "
        f"({number_text(reference)} V × {number_text(divider)} in 4,095 steps).",
        (battery.path("divider"), battery.path("cells")),
        (
            ("step_mv", step),
            ("most_mv", most_mv),
            ("divider", divider),
            ("adc_reference_v", reference),
            ("cells", cells),
        ),
        advice="Look up the board's own divider, and hold the voltage that is told against a "
        "meter's at the pack. If it is really so great, one of at most "
        f"{int(fine * 100) / 100:.2f} tells more, as long as a full pack fits below it.",
        level=None if far else Level.NOTE,
    )


@rule("battery/no-monitor", Level.WARNING, sheet="wanted")
def no_monitor(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """Nothing measures the pack's voltage.

    An error where something that measures it is fitted, or the overlay is to show it: then
    somebody relies on it.

    In the air: no warning and no figure: the pack is flown until the craft falls.
    Mend: name what measures the voltage; a board without a way to do so is flown by the clock.
    Source: common practice.
    """
    if craft.battery.voltage_from != "none":
        return
    relied = _relied_on(craft, sheet)
    yield Fires(
        "The pack's voltage is measured by nothing: battery.voltage_from is none"
        + (f", and {relied}." if relied else "."),
        (craft.battery.path("voltage_from"),),
        advice="Set it to adc or esc, whichever is wired; else fly by the clock.",
        level=Level.ERROR if relied else Level.WARNING,
    )


def _relied_on(craft: Craft, sheet: "Sheet | None") -> str:
    """Why somebody counts on the voltage; empty where nobody does as far as is stated."""
    if devices_in(sheet, "voltage_sensor"):
        return "what measures it is fitted"
    if if_stated(lambda: craft.overlay.enabled and shown_that_tell(craft, ("voltage",)), False):
        return "the overlay is to show it"
    return ""


@rule("battery/no-alarm", Level.WARNING)
def no_alarm(craft: Craft) -> Iterator[Yielded]:
    """A low voltage is told nowhere: not in the picture, not by a buzzer, not by telemetry.

    A craft that measures no voltage has battery/no-monitor in its place.

    In the air: the pilot does not learn that the pack is low until the craft sags or falls.
    Mend: show a voltage or the warnings in the overlay, use the buzzer, or send telemetry.
    Source: common practice.
    """
    if craft.battery.states("voltage_from") and craft.battery.voltage_from == "none":
        return
    ways: dict[str, Callable[[], object]] = {
        craft.overlay.path("enabled"): lambda: (
            craft.overlay.enabled and shown_that_tell(craft, ("voltage", "warning"))
        ),
        craft.finder.path("buzzer"): lambda: craft.finder.buzzer,
        craft.telemetry.path("enabled"): lambda: craft.telemetry.enabled,
    }
    asked = Asked()
    if any(asked.of(told) for told in ways.values()):
        return
    if asked.lacks:
        yield from map(Lacks, asked.lacks)
        return
    has_buzzer = any(pad.states("use") and pad.use == "buzzer" for pad in there(craft.pads))
    picture = "shows no voltage and no warnings" if craft.overlay.enabled else "is off"
    yield Fires(
        f"A low voltage is told nowhere: the overlay {picture}, the buzzer is not in use and "
        "telemetry is off.",
        tuple(ways),
        advice="Show cell_voltage and warnings in the overlay, or send telemetry.",
    ).mended([Edit(craft.finder.path("buzzer"), "on")] if has_buzzer else [])


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
    seen = cells_of_rails(sheet)
    agreed = not seen or true in seen
    yield Fires(
        f"The cell count is set to {cells}, and the pack has {true} "
        f"cell{'s' * (true > 1)}: a voltage is told "
        f"as {true / cells:.2f} times what a cell has, so {late}.",
        (path, sheet.battery.path("cells")),
        (("set_cells", float(cells)), ("pack_cells", float(true)), ("ratio", true / cells)),
        choice=""
        if agreed
        else "the pack's label, before it goes on: its rail has the voltage of "
        f"{' or '.join(str(count) for count in sorted(seen))} cells, so the build sheet's count "
        "may be what is untrue",
        advice="Look at the pack's label, and correct whichever is untrue.",
    ).mended([Edit(path, str(true))] if agreed else [])


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
        advice=_sensor_that_fits(reference * 1000 - offset, peak, scale),
    )


@rule(
    "battery/current-scale-odd",
    Level.WARNING,
    limits=("battery.scale_factor", "battery.current_room_most"),
    sheet="wanted",
)
def current_scale_odd(
    craft: Craft, sheet: "Sheet | None", factor: float, room: float
) -> Iterator[Yielded]:
    """The current's scale is many times off: the firmware's, the craft's, any sensor's.

    Held against the firmware's own value where that is recorded, and with a build sheet against the
    craft's peak: a sensor is chosen to show that, and no more than some times as much. Without
    either, against what sensors of small craft have at all. A note where its zero is far from
    nothing.

    In the air: the current and the capacity used are told many times too large or too small. Too
    small hides that the pack is empty; too large cries all the time, until nobody listens.
    Mend: set what the sensor's or the board's sheet gives, and compare with a charger what a flight
    is said to have used.
    Source: Ohm's law; the two limits are common practice.
    """
    battery = craft.battery
    if battery.current_from != "adc":
        raise NotApplicable("The current is not read off a pad.")
    scale, path = abs(battery.current_scale), battery.path("current_scale")
    if scale == 0:
        return

    def of_the_firmware() -> Iterator[Yielded]:
        factory = craft.settings.factory.get(path)  # one of two yardsticks: the sheet is the other
        base = abs(factory) if isinstance(factory, float) else 0.0
        ratio = max(scale / base, base / scale) if base else 0.0
        if ratio > factor * (1 + 1e-9):
            way = "above" if scale > base else "below"
            yield Fires(
                f"The current's scale is {number_text(scale)} mV/A, a factor {ratio:.3g} {way} the "
                f"firmware's own {number_text(base)} mV/A.",
                (path,),
                (("scale_mv_per_a", scale), ("factory_mv_per_a", base), ("factor", ratio)),
                advice=_LOOK_AT_THE_SENSOR,
            )

    def of_the_craft() -> Iterator[Yielded]:
        if sheet is None:
            raise NotStated(BUILD_SHEET)
        seen, peak = reference_v(battery) * 1000 / scale, sheet.propulsion.peak_current
        if seen > room * peak * (1 + 1e-9):
            yield Fires(
                f"At {number_text(scale)} mV/A the current input would see {seen:,.0f} A, "
                f"{seen / peak:.1f} times the {number_text(peak)} A that the craft draws at most.",
                (path, sheet.propulsion.path("peak_current")),
                (
                    ("scale_mv_per_a", scale),
                    ("full_scale_a", seen),
                    ("peak_a", peak),
                    ("factor", seen / peak),
                ),
                advice=_LOOK_AT_THE_SENSOR,
            )

    def of_the_zero() -> Iterator[Yielded]:
        offset = battery.current_offset if battery.states("current_offset") else 0.0
        amps = abs(offset) / scale
        if amps > _ZERO_FAR_A:
            yield Fires(
                f"The current's zero is set to {number_text(offset)} mV, which is {amps:.0f} A at "
                f"{number_text(scale)} mV/A: so much is taken off, or added, at rest.",
                (battery.path("current_offset"), path),
                (("offset_mv", offset), ("scale_mv_per_a", scale), ("amps", amps)),
                level=Level.NOTE,
                advice="Look whether hardly any current is told with the pack in and the motors "
                "still; only a sensor that counts both ways has such a zero.",
            )

    yield from each((of_the_firmware, of_the_craft, of_the_zero), lambda check: check())
    yield from _unlike_sensors(craft, sheet, scale)


def _unlike_sensors(craft: Craft, sheet: "Sheet | None", scale: float) -> Iterator[Fires]:
    """A scale that hardly a sensor has, where there is no better yardstick."""
    path = craft.battery.path("current_scale")
    told = isinstance(craft.settings.factory.get(path), float)
    if told or (sheet is not None and sheet.propulsion.states("peak_current")):
        return
    if not _SENSORS_MV_PER_A[0] <= scale <= _SENSORS_MV_PER_A[1]:
        seen = reference_v(craft.battery) * 1000 / scale
        yield Fires(
            f"The current's scale is {number_text(scale)} mV/A: the input would see up to "
            f"{seen:,.0f} A. Sensors of small craft have 10 to 100 mV/A.",
            (path,),
            (("scale_mv_per_a", scale), ("full_scale_a", seen)),
            advice=_LOOK_AT_THE_SENSOR,
        )


_SENSORS_MV_PER_A: Final = (4.0, 150.0)  # with room beyond what is usual (common practice)


_ZERO_FAR_A: Final = 10.0  # more than a small craft draws at rest many times over (common practice)
_LOOK_AT_THE_SENSOR: Final = (
    "Look up the sensor's or the board's own scale; a decimal point may have moved."
)


_PLAUSIBLE: Final = 4  # times what is needed: what anybody would fit


def _point_moved(meant: float, least: float) -> str:
    """That a divider may have been meant ten times as great, where that would do."""
    if not least <= meant <= least * _PLAUSIBLE:
        return ""
    return f"Perhaps its decimal point moved, and the divider is {number_text(round(meant, 3))}. "


def _sensor_that_fits(room_mv: float, peak_a: float, scale: float) -> str:
    """The greatest scale that shows this current, rounded down so that it does not fire again."""
    fitting = int(room_mv / peak_a * 10) / 10
    if fitting <= 0:
        return "Fit a sensor that does not fill the input at no current, and set its offset."
    meant = scale / 10
    moved = ""
    if fitting / _PLAUSIBLE <= meant <= fitting:
        moved = "Perhaps its decimal point moved, and the scale is "
        moved += f"{number_text(round(meant, 3))} mV/A. "
    return (
        f"{moved}Look up the sensor's own scale, and compare with a charger what "
        "a flight is said to have used. Only where it is really so great, this craft needs a "
        f"sensor of at most {fitting:.1f} mV/A fitted."
    )


RULES = (
    threshold_order,
    warning_unusual,
    cell_out_of_range,
    cells_ambiguous,
    reference_odd,
    divider_saturates,
    resolution_poor,
    no_monitor,
    no_alarm,
    cells_mismatch,
    current_saturates,
    current_scale_odd,
)
