"""Rules about supply rails and what hangs on them: all of them want the build sheet."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft, if_stated, there
from cfgaudit.physics.power import CELL_LIMITS, best_choices, cell_limits, fits, load_share
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, each, lacking, listed, rule
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.sheet import Device, SheetRail

_PACK_SWING = 1.15  # least of a pack's full to its lowest voltage; a LiPo cell's 4.2 to 3.5 V: 1.2
_MEASURED_V = 0.05  # a cell: how far a full pack may be off what its chemistry has
_PACK = "pack"  # what a source that is the pack is called
_NONE = "none"  # a device that says so draws from no rail


@rule("power/rail-out-of-range", Level.ERROR, sheet=True, over=lambda _, sheet: sheet.devices)
def rail_out_of_range(craft: Craft, sheet: "Sheet", part: "Device") -> Iterator[Yielded]:
    """A device hangs on a rail whose voltage is not, or not always, within its supply range.

    A rail that only the pack feeds sinks to its empty cells' voltage, whatever was measured there;
    one above a full pack is a step-up's.

    In the air: below its range the device drops out, first when the pack sags at full throttle;
    above it the device breaks, at once or some flights later.
    Mend: move the device to a rail within its range, or set the rail to a voltage that fits.
    Source: the two ranges as the build sheet states them; no figure is assumed.
    """
    if part.rail == _NONE:
        return
    rail = sheet.rails[part.rail]
    (low, high), (least, most) = rail.volts(), part.supply
    empty = _empty_v(craft, sheet, rail)
    sags = empty is not None and empty < low
    low = empty if empty is not None and sags else low
    if least <= low and high <= most:
        return
    yield Fires(
        f"{part.name} takes {_volts(least, most)}, and its rail {rail.name} "
        f"{'gives' if low == high else 'goes through'} {_volts(low, high)}"
        f"{', as an empty pack has the lower of these' if sags else ''}.",
        (
            part.path("rail"),
            part.path("supply"),
            rail.volts_path(),
            *((craft.battery.path("empty_cell"), sheet.battery.path("cells")) if sags else ()),
        ),
        (
            ("rail_low_v", low),
            ("rail_high_v", high),
            ("supply_low_v", least),
            ("supply_high_v", most),
        ),
        advice=_instead(sheet, part, rail, (least, most)),
    )


def _empty_v(craft: Craft, sheet: "Sheet", rail: "SheetRail") -> float | None:
    """What a rail that only the pack feeds sinks to; None where that is not told."""
    battery = sheet.battery
    if not (_by_the_pack(rail) and battery.states("cells")):
        return None
    if rail.volts()[0] > max(limits.full_v for limits in CELL_LIMITS.values()) * battery.cells:
        return None  # above a full pack: a step-up makes it, and was measured so
    if craft.battery.states("empty_cell"):
        return round(craft.battery.empty_cell * battery.cells, 2)
    return None


def _volts(low: float, high: float) -> str:
    if low == high:
        return f"{number_text(low)} V"
    return f"{number_text(low)}..{number_text(high)} V"


def _instead(
    sheet: "Sheet", device: "Device", rail: "SheetRail", supply: tuple[float, float]
) -> str:
    """Which rails would do as they are and bear it, and to what this one could be set."""
    least, most = supply
    ways = []
    known = device.states("current")
    others = [other for other in sheet.rails if other.name != rail.name]
    fitting = [r.name for r in others if _within(r, least, most) and _bears(sheet, r, device)]
    if fitting:
        draws = "" if known else ", if that bears what it draws"
        ways.append(f"move it to {' or '.join(fitting)}{draws}")
    if rail.states("choices"):
        choices = [number_text(volts) for volts in rail.choices if least <= volts <= most]
        if choices:
            ways.append(f"set {rail.name} to {' or '.join(choices)} V")
    if not ways and _by_the_pack(rail):
        return (
            f"No rail of this craft gives it {_volts(least, most)}. What draws from the pack "
            "itself must bear it: fly another pack, or fit another one."
        )
    if not ways:
        return f"No rail of this craft gives {_volts(least, most)}: add a regulator that does."
    told = ", or ".join(ways)
    return f"{told[:1].upper()}{told[1:]}; then look what else hangs there."


def _bears(sheet: "Sheet", rail: "SheetRail", device: "Device") -> bool:
    """Whether a rail's rating, where it is stated, bears a device besides what hangs there."""
    if not (rail.states("rating") and device.states("current")):
        return True
    hanging = _hanging(sheet, rail.name)
    drawn = sum(part.current for part in hanging if part.states("current"))
    return drawn + device.current <= rail.rating + _ROUNDING


def _within(rail: "SheetRail", least: float, most: float) -> bool:
    volts = if_stated(rail.volts, None)
    return volts is not None and least <= volts[0] and volts[1] <= most


def _hanging(sheet: "Sheet", rail: str) -> list["Device"]:
    """The devices that draw from a rail. Raises NotStated where there is no device."""
    return [part for part in sheet.devices if part.states("rail") and part.rail == rail]


def _rails(_: Craft, sheet: "Sheet") -> "Iterator[SheetRail]":
    return iter(sheet.rails)


@rule("power/rail-no-common-voltage", Level.ERROR, sheet=True, over=_rails)
def rail_no_common_voltage(craft: Craft, sheet: "Sheet", rail: "SheetRail") -> Iterator[Yielded]:
    """A rail whose voltage can be chosen feeds devices that no one of its choices suits together.

    In the air: whichever voltage is chosen, some device drops out or breaks.
    Mend: choose the voltage that suits most, and move the rest to another rail.
    Source: the ranges as the build sheet states them; no figure is assumed.
    """
    if not rail.states("choices") or not rail.choices:
        return
    hanging = _hanging(sheet, rail.name)
    devices = [device for device in hanging if device.states("supply")]
    yield from lacking(hanging, "supply")
    most, best = best_choices(rail.choices, [device.supply for device in devices])
    if most >= len(devices):
        return
    now = rail.choice if rail.states("choice") else best[0]
    volts = now if now in best else best[0]
    movers = [device for device in devices if not fits(volts, device.supply)]
    ranges = listed([f"{part.name} {_volts(*part.supply)}" for part in devices])
    ways = listed([f"{part.name}{_where_to(sheet, rail, part)}" for part in movers])
    fitting = listed([f"{number_text(choice)} V" for choice in best])
    suits = f"{fitting} suit{'s' if len(best) == 1 else ''} the most, {most} of {len(devices)}"
    yield Fires(
        f"None of the {len(rail.choices)} voltages of rail {rail.name}, "
        f"{listed([number_text(choice) for choice in rail.choices])} V, suits all that hangs on "
        f"it: {ranges}. {suits if most else 'None suits any of it'}.",
        (rail.path("choices"), *(part.path("supply") for part in devices)),
        (("devices", float(len(devices))), ("most_suited", float(most)), ("volts", volts)),
        advice=f"Set {rail.name} to {number_text(volts)} V and move {ways}."
        if most
        else f"Move {ways}.",
    )


def _where_to(sheet: "Sheet", rail: "SheetRail", device: "Device") -> str:
    """Other rails that suit a device: its own one is to get another voltage."""
    others = [other for other in sheet.rails if other.name != rail.name]
    fitting = [other.name for other in others if _within(other, *device.supply)]
    return f" to {' or '.join(fitting)}" if fitting else " to a regulator of its own"


_FULL, _NEARLY_FULL = 1.0, 0.8
_ROUNDING = 1e-9


@rule("power/rail-overloaded", Level.ERROR, sheet=True, over=_rails)
def rail_overloaded(craft: Craft, sheet: "Sheet", rail: "SheetRail") -> Iterator[Yielded]:
    """All that hangs on a rail draws more than its regulator gives: error above 100 %, warning
    above 80 %.

    The currents are added as if all were drawn at once; what a rail passes on to another rail is
    not counted.

    In the air: the rail sags or its regulator shuts down as it gets hot: the receiver, the
    position and the picture go at once.
    Mend: move a device to another rail or to a regulator of its own.
    Source: common practice for the 80 %; the currents as the build sheet states them.
    """
    devices = _hanging(sheet, rail.name)
    if not devices:
        return
    known = [device for device in devices if device.states("current")]
    yield from lacking(devices, "current")
    if not rail.rating > 0:
        raise NotStated(rail.path("rating"))
    share = load_share([device.current for device in known], rail.rating)
    if share <= _NEARLY_FULL + _ROUNDING:
        return
    total = sum(device.current for device in known)
    in_order = sorted(known, key=lambda device: -device.current)
    told = listed([f"{part.name} {number_text(part.current)} A" for part in in_order])
    draws = ("" if len(known) == len(devices) else "at least ") + number_text(round(total, 3))
    yield Fires(
        f"Rail {rail.name} gives {number_text(rail.rating)} A, and what hangs on it draws "
        f"{draws} A, {number_text(round(share * 100, 1))} %: {told}.",
        (
            rail.path("rating"),
            *(part.path(leaf) for part in in_order for leaf in ("current", "rail")),
        ),
        (
            ("load_percent", share * 100),
            ("draws_a", total),
            ("rating_a", rail.rating),
            *((f"{part.name}_a", part.current) for part in in_order),
        ),
        advice=f"Move {in_order[0].name} to another rail or to a regulator of its own."
        if len(devices) == 1
        else f"Move {in_order[0].name}, which draws the most, or others to another rail or to a "
        "regulator of their own.",
        level=Level.ERROR if share > _FULL + _ROUNDING else Level.WARNING,
    )


@rule("power/pack-lead-overloaded", Level.ERROR, sheet=True)
def pack_lead_overloaded(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The craft draws more at full throttle than plug and lead of the pack bear.

    The rail that only the pack feeds, without a regulator of its own, is taken for it: the one
    whose voltage has the widest range, as wide as a pack's and within it.

    In the air: plug and lead get hot and melt, and the craft falls.
    Mend: a plug and a lead that bear the craft's peak current.
    Source: peak current and rating as the build sheet states them; no figure is assumed.
    """
    packs = [
        rail
        for rail in _of_the_pack(sheet)
        if _as_a_pack(rail.voltage, sheet) or _full_cells(rail.voltage[1])
    ]
    if not packs:
        raise NotStated("sheet.rails.NAME.voltage")
    part = max(packs, key=lambda rail: rail.voltage[1] - rail.voltage[0])
    peak = sheet.propulsion.peak_current
    if not part.rating > 0:
        raise NotStated(part.path("rating"))
    share = load_share([peak], part.rating)
    if share > _FULL + _ROUNDING:
        yield Fires(
            f"At full throttle the craft draws {number_text(peak)} A, "
            f"{number_text(round(share * 100, 1))} % of the {number_text(part.rating)} A that "
            f"{part.name} bears.",
            (part.path("rating"), sheet.propulsion.path("peak_current")),
            (("load_percent", share * 100), ("peak_a", peak), ("rating_a", part.rating)),
            advice="Fit a plug and a lead that bear the peak current, or limit the throttle.",
        )


# How often a pack's capacity in an hour: what cells bear as a rule, what hardly one bears for the
# second that a push of the throttle lasts, and what none does. Common practice; lithium-ion cells
# for high currents are rated 10 to 15 by their datasheets.
_DISCHARGE: Final = {
    "liion": (15.0, 15.0, 30.0),
    "lipo": (130.0, 180.0, 250.0),
    "lihv": (130.0, 180.0, 250.0),
}


@rule("power/discharge-high", Level.WARNING, sheet=True)
def discharge_high(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The craft draws more from the pack at full throttle than its cells bear.

    A note where cells of the better sort bear it for a second; an error where none of its chemistry
    does.

    In the air: the cells sag at the first push of the throttle and the craft sinks; they swell,
    and may burn.
    Mend: fly a larger pack, or smaller propellers.
    Source: peak current over capacity, as a multiple of the capacity in an hour; above 130 of LiPo
    a note, above 180, and 15 of lithium-ion cells, a warning, above 250 and 30 an error: common
    practice.
    """
    peak = sheet.propulsion.peak_current
    said = sheet.battery if sheet.battery.states("capacity") else craft.battery
    made = sheet.battery if sheet.battery.states("chemistry") else craft.battery
    capacity, chemistry = said.capacity, made.chemistry
    if not capacity > 0:
        raise NotStated(said.path("capacity"))
    times = peak / (capacity / 1000)
    usual, hardly, most = _DISCHARGE[chemistry]
    if times <= usual + _ROUNDING:
        return
    yield Fires(
        f"The craft draws up to {number_text(peak)} A from a pack of {number_text(capacity)} mAh: "
        f"{times:.0f} times its capacity in an hour, and {chemistry} cells bear "
        f"{number_text(usual)} at most as a rule.",
        (sheet.propulsion.path("peak_current"), said.path("capacity"), made.path("chemistry")),
        (("times_an_hour", times), ("usual_times", usual)),
        advice="Look at the pack's label: what current its cells bear, and whether the capacity "
        "is told rightly. Else fly a larger pack, or smaller propellers.",
        level=Level.ERROR
        if times > most
        else Level.WARNING
        if times > hardly + _ROUNDING
        else Level.NOTE,
    )


@rule("power/pack-rail-mismatch", Level.ERROR, sheet=True)
def pack_rail_mismatch(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The rail that the pack feeds goes up to the voltage of a full pack of another cell count.

    It is told by its highest voltage: so many full cells and no other count. What hangs there was
    judged by that voltage, and not by the pack that is flown.

    In the air: a device that bears the smaller pack burns as the larger one is plugged in, on the
    bench already; one that wants the larger pack drops out.
    Mend: give the rail in the build sheet the voltage of the pack that is flown, and audit again.
    Source: a full cell of 4.2 or 4.35 V, as in battery/cell-out-of-range; the pack's label as the
    build sheet has it, else the dump's cell count.
    """
    battery, dumped = sheet.battery, craft.battery
    cells = battery.cells if battery.states("cells") else dumped.cells
    path = battery.path("cells") if battery.states("cells") else dumped.path("cells")
    if isinstance(cells, str):  # found at switching on
        raise NotStated(battery.path("cells"))
    said = battery if battery.states("chemistry") else dumped
    chemistry = said.chemistry if said.states("chemistry") else "lipo"
    full = round(cell_limits(chemistry).full_v * cells, 2)

    def rail(part: "SheetRail") -> Iterator[Yielded]:
        low, high = part.voltage
        counts = _full_cells(high)
        if not counts or cells in counts:
            return
        yield Fires(
            f"Rail {part.name} goes through {_volts(low, high)}, as a pack of {counts[0]} cells "
            f"does, and the pack has {cells}: full it has {number_text(full)} V.",
            (part.path("voltage"), path),
            (("rail_high_v", high), ("pack_full_v", full), ("cells", float(cells))),
            advice=f"Before a pack goes on: look at its label. If it has {cells} cells, put "
            f"{part.name} at up to {number_text(full)} V in the build sheet, and audit again: what "
            "hangs there may not bear it.",
        )

    yield from each(_of_the_pack(sheet), rail)


def cells_of_rails(sheet: "Sheet") -> set[int]:
    """The cell counts that the rails of the pack go through, by their highest voltages."""
    rails = _of_the_pack(sheet) if sheet.rails.names() else []
    return {count for rail in rails for count in _full_cells(rail.voltage[1])}


def _of_the_pack(sheet: "Sheet") -> list["SheetRail"]:
    """The rails that only the pack feeds, and whose voltage goes down with it."""
    return [
        rail
        for rail in sheet.rails
        if rail.states("voltage")
        and rail.voltage[1] >= rail.voltage[0] * _PACK_SWING
        and _by_the_pack(rail)
    ]


def _full_cells(volts: float) -> tuple[int, ...]:
    """Of how many full cells a voltage is, within what a meter shows; () where of none."""
    fulls = sorted({limits.full_v for limits in CELL_LIMITS.values()})
    counts = ((max(1, round(volts / full)), full) for full in fulls)
    found = (n for n, full in counts if abs(volts - n * full) <= _MEASURED_V * n)
    return tuple(dict.fromkeys(found))


def _as_a_pack(volts: tuple[float, float], sheet: "Sheet") -> bool:
    """Whether a rail goes through what a pack does, and does not just sag behind a regulator."""
    low, high = volts
    battery = sheet.battery
    if not (battery.states("cells") and battery.states("chemistry")):
        return True
    cell = cell_limits(battery.chemistry)
    return low <= cell.full_v * battery.cells and high >= cell.floor_v * battery.cells


def _by_the_pack(rail: "SheetRail") -> bool:
    if rail.states("fed_by"):
        return rail.fed_by == {_PACK}
    names = {source.source for source in there(rail.sources) if source.states("from")}
    return names == {_PACK}


@rule("power/backfeed", Level.ERROR, sheet=True, over=_rails)
def backfeed(craft: Craft, sheet: "Sheet", rail: "SheetRail") -> Iterator[Yielded]:
    """A rail is reached from two sources at once, and nothing parts them.

    Counted is whatever the build sheet says feeds the rail itself, and what else can power a
    device that hangs on it, such as a USB plug of its own. A source behind a diode can't be fed
    back into, so one that is not is no matter. Where the sheet does not say whether there is a
    diode it is a note that asks.

    In the air: nothing, until both are there: then one regulator pushes current into the other,
    or into the USB port at the bench, and one of them breaks.
    Mend: leave one source, or put a diode or a switch between them; tell the sheet which.
    Source: the wiring as the build sheet states it.
    """
    hanging = [d for d in there(sheet.devices) if d.states("rail") and d.rail == rail.name]
    others = [d for d in hanging if d.states("fed_by") and d.fed_by - {rail.name}]
    sources = there(rail.sources)
    if not sources:
        _ = rail.fed_by  # one of the two must be stated
    kept = [part for part in sources if part.states("diode") and part.diode]
    bare = [part.source for part in sources if part.states("diode") and not part.diode]
    unsaid = [part.source for part in sources if not part.states("diode")]
    if not sources:
        unsaid = sorted(rail.fed_by)
    through = [
        f"{source} through {device.name}"
        for device in others
        for source in sorted(device.fed_by - {rail.name})
    ]
    ways = [*(part.source for part in kept), *bare, *unsaid, *through]
    # One source without a diode among several has nobody who could feed back but through one.
    if len(ways) < 2 or len(bare) + len(unsaid) + len(through) < 2:
        return
    sure = len(bare) >= 2
    at = rail.path("sources" if sources else "fed_by")
    said = [part.path("diode") for part in sources if part.states("diode") and not part.diode]
    yield Fires(
        f"Rail {rail.name} is reached from {len(ways)} sources at once: {listed(ways)}"
        + (", and no diode parts them." if sure else "; whether a diode parts them is not said."),
        (
            *(said or [part.path("from") for part in sources] or [at]),
            *(device.path("fed_by") for device in others),
        ),
        (("sources", float(len(ways))), ("without_diode", float(len(bare)))),
        advice="Leave one source, or put a diode or a switch between them."
        if sure
        else "Look for the diode, and say in the build sheet's sources of this rail where it is.",
        level=Level.ERROR if sure else Level.NOTE,
    )


@rule("power/feeds-itself", Level.WARNING, sheet=True)
def feeds_itself(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """Rails of the build sheet feed one another in a circle, and nothing feeds any of them.

    In the air: nothing by itself; but what hangs on them is judged by a feed that can't be: what a
    sagging pack, a USB plug or a regulator at its end does to them is not known.
    Mend: follow the wires from the rail back to the pack, and correct the build sheet.
    Source: the wiring as the build sheet states it; a rail without a source has no voltage.
    """
    feeds: dict[str, set[str]] = {}
    for part in sheet.rails:
        sources = there(part.sources)
        if part.states("fed_by") or sources:  # a rail may be called as what feeds it: the pack's
            named = {one.source for one in sources if one.states("from")}
            known = all(one.states("from") for one in sources)
            feeds[part.name] = named | (set(part.fed_by) if part.states("fed_by") else set())
            if not known:
                del feeds[part.name]
        else:
            yield Lacks(part.path("fed_by"))
    circle = {name for name, sources in feeds.items() if sources - {name, _PACK} == sources}
    while stray := {name for name in circle if feeds[name] - circle}:
        circle -= stray  # what is no rail, or a rail that something else feeds, feeds it
    if circle:
        names = sorted(circle)
        told = listed([f"{name} by {listed(sorted(feeds[name]))}" for name in names])
        paths = [
            sheet.rails[n].path("fed_by" if sheet.rails[n].states("fed_by") else "sources")
            for n in names
        ]
        yield Fires(
            f"By the build sheet {told} {'is' if len(names) == 1 else 'are'} fed, and neither the "
            "pack nor anything else feeds them.",
            tuple(paths),
            (("rails", float(len(names))),),
            advice=f"Follow the wires from {listed(names)} back to the pack, then correct the "
            "build sheet.",
        )


RULES = (
    rail_out_of_range,
    rail_no_common_voltage,
    rail_overloaded,
    pack_lead_overloaded,
    discharge_high,
    pack_rail_mismatch,
    backfeed,
    feeds_itself,
)
