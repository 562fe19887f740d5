"""The working list up to first power, and its meters: volts, amperes, milliwatts."""

from collections.abc import Iterator
from math import ceil
from typing import Final

from cfgaudit.rules.rule import listed
from cfgaudit.vocabulary.sheet import NO_RAIL, Device, SheetRail
from cfgaudit.vocabulary.units import number_text
from cfgaudit.work.steps import (
    LITHIUM,
    PACK,
    RADIO,
    SOLDERED,
    SPINNING,
    Ask,
    BenchStep,
    Known,
    find_out,
    named,
)

_FIRST_A: Final = 0.5  # enough for a bare board to wake (common practice)
_BOARD_A: Final = 0.3  # what board and speed controllers draw at rest (common practice)
_REGULATOR: Final = 0.8  # of what a regulator takes it passes on (common practice)
_ABOUT: Final = 0.05  # how far a rail of one voltage may be off (common practice)


def before_power(known: Known) -> Iterator[BenchStep]:
    """What is done before anything has power."""
    yield BenchStep(
        "propellers-off", "before",
        "Take every propeller off and lay it away from the bench.",
        "No propeller on the craft. They stay off until this list puts them on.",
        caution=SPINNING,
    )  # fmt: skip
    first = ("propellers-off",)
    yield BenchStep(
        "joints", "before",
        "Pack unplugged. Look at every joint under a lamp, and tug each wire.",
        "Shining joints, no bridge to the neighbour, no loose strand, no bare wire.",
        first,
        watches=SOLDERED,
    )  # fmt: skip
    yield from _antennas(known, first)
    if not devices(known):
        yield find_out(known, "devices", "before", ["sheet.devices.NAME.kind"], first)
    yield from _rails_unknown(known)
    yield from _bridges(known)
    yield _polarity(known)
    yield from _bells(known)
    yield BenchStep(
        "continuity", "before",
        f"Meter on resistance, from the ground to {_rail_names(known)}, both ways round.",
        "Never near 0 ohm and no steady beep; the reading may climb while capacitors fill.",
        ("joints", "polarity"),
        watches=(*SOLDERED, "sheet.rails.*.voltage"),
    )  # fmt: skip


def _rails(known: Known) -> list[SheetRail]:
    return [known.sheet.rails[name] for name in known.sheet.rails.names()]


def _rail_names(known: Known) -> str:
    names = known.sheet.rails.names()
    if not names:
        return "the pack's plus and to every supply pad"
    return f"the pack's plus and to each rail ({', '.join(names)})"


def _antennas(known: Known, after: tuple[str, ...]) -> Iterator[BenchStep]:
    if has_video(known):
        yield BenchStep(
            "antenna-video", "before",
            "Screw or push the antenna onto the video transmitter.",
            "It sits tight and is the one for this band. No power without it, not for a second.",
            after, RADIO, watches=(*_of_kind(known, "video_transmitter"), "video.transmitter.band"),
        )  # fmt: skip
    yield BenchStep(
        "antenna-receiver", "before",
        "Look at the receiver's antenna: plugged, whole, away from carbon and from the motors.",
        "The last part of it stands free, and no propeller can reach it.",
        after,
        watches=_of_kind(known, "receiver"),
    )  # fmt: skip


def _of_kind(known: Known, kind: str) -> tuple[str, ...]:
    """The paths of the sheet's devices of one kind."""
    return tuple(f"sheet.devices.{part.name}" for part in devices(known) if _kind(part) == kind)


def has_video(known: Known) -> bool:
    """Whether there is a video transmitter, or nobody says that there is none."""
    if any(_kind(part) == "video_transmitter" for part in devices(known)):
        return True
    return bool(known.told(lambda: known.craft.video.transmitter.enabled))


def devices(known: Known) -> list[Device]:
    """The sheet's devices; perhaps none."""
    return [known.sheet.devices[name] for name in known.sheet.devices.names()]


def _kind(part: Device) -> str:
    return part.kind if part.states("kind") else ""


def _rails_unknown(known: Known) -> Iterator[BenchStep]:
    lacks = [] if _rails(known) else ["sheet.rails.NAME.voltage"]
    for rail in _rails(known):
        if known.told(rail.volts) is None:
            lacks.append(rail.path("choice" if rail.states("choices") else "voltage"))
    for part in devices(known):
        if not part.states("rail"):
            lacks.append(part.path("rail"))
        elif part.rail != NO_RAIL and not part.states("supply"):
            lacks.append(part.path("supply"))
    if lacks:
        yield find_out(known, "rails", "before", lacks, ("propellers-off",))


def _bridges(known: Known) -> Iterator[BenchStep]:
    for rail in _rails(known):
        if rail.states("choices") and rail.states("choice"):
            every = ", ".join(number_text(volts) for volts in rail.choices)
            yield BenchStep(
                f"bridge-{rail.name}", "before",
                f"Look at the bridge of rail {rail.name}, which can give {every} V.",
                f"It stands at {number_text(rail.choice)} V.",
                ("joints",),
                watches=(rail.path("choice"), rail.path("choices")),
            )  # fmt: skip


def _bells(known: Known) -> Iterator[BenchStep]:
    """Nothing in a motor touches, nor rubs."""
    motors = tuple(f"sheet.motors.{name}" for name in known.sheet.motors.names())
    yield BenchStep(
        "motor-screws", "before",
        "Look below each motor: how far its screws reach in. Meter on resistance, from a screw to "
        "each of its three wires.",
        "No screw reaches the windings; the meter shows no connection.",
        ("joints",),
        watches=motors,
    )  # fmt: skip
    yield BenchStep(
        "bells", "before",
        "Turn each bell by hand, a whole turn.",
        "It runs free, without scraping, and its shaft has no play.",
        ("motor-screws",),
        watches=motors,
    )  # fmt: skip
    yield BenchStep(
        "propeller-balance", "before",
        "Lay each propeller on a pin or a shaft that turns freely, off the craft.",
        "None sinks with the same blade each time; one that does is ground or taped, or left out.",
        ("propellers-off",),
        SPINNING,
        watches=("sheet.propulsion.diameter", "sheet.propulsion.blades"),
    )  # fmt: skip


def _polarity(known: Known) -> BenchStep:
    by_rail: dict[str, list[str]] = {}
    for part in devices(known):
        if part.states("rail") and part.rail != NO_RAIL:
            by_rail.setdefault(part.rail, []).append(part.name)
    told = "; ".join(f"{listed(names)} on {rail}" for rail, names in by_rail.items())
    which = f" By the sheet: {told}." if told else ""
    return BenchStep(
        "polarity", "before",
        "Follow plus and minus from the pack's plug to the board, and to each device.",
        f"Red on plus, black on minus, at both ends of every wire.{which}",
        ("joints",),
        LITHIUM,
        watches=SOLDERED,
    )  # fmt: skip


def pack_volts(known: Known) -> tuple[float, float, float] | None:
    """Floor, warning and full voltage of the whole pack, in V; None where not told."""
    cell, cells = known.cell_volts(), known.cells
    if cell is None or cells is None:
        return None
    floor, warn, full = (round(volts * cells, 3) for volts in cell)
    return floor, warn, full


def most_current(known: Known, volts: float) -> float | None:
    """What board and devices draw at most from a pack of `volts`, in A; None where not told.

    Each device's current at its rail's highest voltage, through a regulator of 80 %, and 0.3 A.
    """
    watts = 0.0
    for part in devices(known):
        rail = known.told(lambda part=part: part.rail)  # type: ignore[misc]
        if rail == NO_RAIL:
            continue
        current = known.told(lambda part=part: part.current)  # type: ignore[misc]
        ends = None if rail is None else known.told(known.sheet.rails[rail].volts)
        if current is None or ends is None:
            return None
        watts += current * min(ends[1], volts)
    return watts / _REGULATOR / volts + _BOARD_A


def first_power(known: Known, before: tuple[str, ...]) -> Iterator[BenchStep]:
    """The first power, through a limiter; then each rail by the meter."""
    pack = pack_volts(known)
    if pack is None:
        lacks = [] if known.cells else ["sheet.battery.cells"]
        lacks += [] if known.cell_volts() else ["sheet.battery.chemistry"]
        yield find_out(known, "pack", "first", lacks, ("propellers-off",))
        before = (*before, "find-out-pack")
    for rail in _rails(known):
        ends = known.told(rail.volts)
        if rail.states("choices") and ends is not None:
            yield _switched(known, rail, ends, before)
            before = (*before, f"switched-{rail.name}")
    yield _limiter(known, pack, before)
    yield BenchStep(
        "warm", "first",
        "Leave it on for a minute. Smell, listen, then feel the parts with the back of a finger.",
        "No smell, no smoke, nothing too hot to touch. If anything is: unplug at once.",
        ("limiter",),
        watches=SOLDERED,
    )  # fmt: skip
    for rail in _rails(known):
        ends = known.told(rail.volts)
        if ends is not None:
            yield _rail(known, rail, ends)


def _limiter(
    known: Known, pack: tuple[float, float, float] | None, before: tuple[str, ...]
) -> BenchStep:
    volts = None if pack is None else round((pack[1] + pack[2]) / 2, 1)
    most = None if volts is None else most_current(known, volts)
    limit = None if most is None else ceil(most * 10 - 1e-9) / 10
    told = "the pack's voltage" if volts is None else f"{number_text(volts)} V"
    amps = "0.5 A, and up only where the devices ask it" if limit is None else (
        f"{number_text(limit)} A, the most that board and devices should draw"
    )  # fmt: skip
    return BenchStep(
        "limiter", "first",
        f"First power from a supply set to {told}, limited to {amps}; or from the pack through a "
        "lamp or limiter in its lead.",
        "The board wakes and the supply does not go into its limit. If it does: off at once.",
        before,
        LITHIUM,
        Ask("number", "A", 0, limit, sample="N A") if limit else Ask(),
        watches=(*SOLDERED, *PACK, "sheet.devices.*.current", "sheet.rails"),
    )  # fmt: skip


def _span(ends: tuple[float, float]) -> tuple[float, float, str]:
    """Between which volts a rail may be, and that in words."""
    low, high = ends
    if low == high:
        low, high = round(low * (1 - _ABOUT), 2), round(high * (1 + _ABOUT), 2)
    return low, high, f"{number_text(low)}..{number_text(high)} V"


def _on_rail(known: Known, rail: SheetRail) -> list[str]:
    return [p.name for p in devices(known) if p.states("rail") and p.rail == rail.name]


def _rail_watches(known: Known, rail: SheetRail) -> tuple[str, ...]:
    return (f"sheet.rails.{rail.name}", *(f"sheet.devices.{n}.rail" for n in _on_rail(known, rail)))


def _switched(
    known: Known, rail: SheetRail, ends: tuple[float, float], before: tuple[str, ...]
) -> BenchStep:
    """A rail whose voltage a bridge chooses: what hangs on it could not bear the other choice."""
    low, high, span = _span(ends)
    some = [named(name) for name in _on_rail(known, rail)]
    off = f"the red wire of {listed(some)} off it" if some else "nothing on it yet"
    return BenchStep(
        f"switched-{rail.name}", "first",
        f"Rail {rail.name} with {off}: power from the supply, limited to {_FIRST_A} A and "
        "not a minute long; meter on volts, from the ground to the rail. Power off again, then put "
        "back what you took off.",
        f"{span}. What hangs on it may not bear another of the bridge's voltages.",
        before,
        LITHIUM,
        Ask("number", "V", low, high, sample="N V"),
        _rail_watches(known, rail),
    )  # fmt: skip


def _rail(known: Known, rail: SheetRail, ends: tuple[float, float]) -> BenchStep:
    low, high, span = _span(ends)
    return BenchStep(
        f"rail-{rail.name}", "first",
        f"Meter on volts, from the ground to rail {rail.name}.",
        f"{span}.",
        ("warm",),
        ask=Ask("number", "V", low, high, sample="N V"),
        watches=_rail_watches(known, rail),
    )  # fmt: skip


# How far the craft's reading may be from a meter's: common practice.
_VOLTS_PART: Final = 0.01
_AMPS_LEAST: Final = 0.2
_CHARGE_PART: Final = 0.05
_MHZ: Final = 1.0
_VOLTAGE: Final = ("battery.voltage_from", "battery.divider", "battery.adc_reference")
_CURRENT: Final = ("battery.current_from", "battery.current_scale", "battery.current_offset",
                   "battery.adc_reference")  # fmt: skip


def measuring(known: Known) -> Iterator[BenchStep]:
    """Voltage and current as shown, against a meter."""
    battery = known.craft.battery
    after = ("warm", "console", *(() if known.has_dump else ("read-dump",)))
    yield from _voltage(known, after)
    source = known.told(lambda: battery.current_from)
    if source == "none" or (source is None and known.has_dump):
        if source is None:
            lacks = [battery.path("current_from")]
            yield find_out(known, "current", "measuring", lacks, after)
        return
    offset, scale = (known.told(lambda: battery.current_offset), _scale(known))
    by_adc = source == "adc"
    yield BenchStep(
        "current", "measuring",
        "Motors still. Compare the current shown with the supply's, or with a meter in the pack's "
        "lead.",
        f"The two differ by no more than {number_text(_AMPS_LEAST)} A. The scale comes later, "
        "from what the charger puts back.",
        after,
        LITHIUM,
        Ask(
            "pair", "A", least=_AMPS_LEAST, sample="N A, shown N A", way="offset",
            sets=battery.path("current_offset") if by_adc else "", now=offset, scale=scale,
        ),
        (*_CURRENT, *_of_kind(known, "current_sensor")),
    )  # fmt: skip


def _scale(known: Known) -> float | None:
    return known.told(lambda: known.craft.battery.current_scale)


def _voltage(known: Known, after: tuple[str, ...]) -> Iterator[BenchStep]:
    battery = known.craft.battery
    source = known.told(lambda: battery.voltage_from)
    if known.has_dump and source in (None, "none"):
        lacks = [battery.path("voltage_from")]
        if source is None:
            yield find_out(known, "voltage", "measuring", lacks, after)
            return
        yield BenchStep(
            "voltage", "measuring",
            "The craft measures no voltage. Settle by what you will land: a timer, or a cell "
            "alarm on the pack.",
            "You know when to land without the craft telling you.",
            after,
            LITHIUM,
            watches=_VOLTAGE,
        )  # fmt: skip
        return
    divider = known.told(lambda: battery.divider)
    yield BenchStep(
        "voltage", "measuring",
        "Meter on volts at the pack's plug. Read it, and at once what the craft shows.",
        f"The two differ by no more than {_VOLTS_PART * 100:g} %.",
        after,
        LITHIUM,
        Ask(
            "pair", "V", part=_VOLTS_PART, sample="N V, shown N V", way="divider",
            sets=battery.path("divider") if source == "adc" else "", now=divider,
        ),
        (*_VOLTAGE, *_of_kind(known, "voltage_sensor")),
    )  # fmt: skip


def charge(known: Known, after: tuple[str, ...]) -> Iterator[BenchStep]:
    """After the hover: what the charger puts back against what the craft counted."""
    battery = known.craft.battery
    source = known.told(lambda: battery.current_from)
    if source in (None, "none"):
        return
    scale = _scale(known)
    yield BenchStep(
        "charge", "after",
        "Let the pack cool, charge it watched, and compare what went in with what the craft "
        "counted.",
        f"The two differ by no more than {_CHARGE_PART * 100:g} %.",
        after,
        LITHIUM,
        Ask(
            "pair", "mAh", part=_CHARGE_PART, sample="N mAh, shown N mAh", way="scale",
            sets=battery.path("current_scale") if source == "adc" else "", now=scale,
        ),
        (*_CURRENT, *_of_kind(known, "current_sensor")),
    )  # fmt: skip


def video(known: Known) -> Iterator[BenchStep]:
    """Frequency, power and picture."""
    if not has_video(known):
        return
    sender = known.craft.video.transmitter
    after = ("warm", "antenna-video", *(() if known.has_dump else ("read-dump",)))
    frequency, power = known.told(lambda: sender.frequency), known.told(lambda: sender.power)
    lacks = [sender.path("frequency")] if frequency is None else []
    lacks += [sender.path("power")] if power is None else []
    if lacks and known.has_dump:
        yield find_out(known, "video", "video", lacks, after)
        after = (*after, "find-out-video")
    yield _frequency(frequency, after)
    yield _power(known, power, after)
    standard = known.told(lambda: known.craft.camera.standard, lambda: known.sheet.camera.standard)
    yield BenchStep(
        "picture", "video",
        "Look at the picture in goggles or on the screen.",
        f"It stands still, with the overlay on it{f' ({standard})' if standard else ''}; nothing "
        "vital is cut off.",
        ("video-frequency",),
        watches=("camera", "sheet.camera", "overlay"),
    )  # fmt: skip


def _frequency(frequency: float | None, after: tuple[str, ...]) -> BenchStep:
    told = "the frequency that you set" if frequency is None else f"{number_text(frequency)} MHz"
    ask = Ask()
    if frequency is not None:
        ask = Ask("number", "MHz", frequency - _MHZ, frequency + _MHZ, sample="N MHz")
    return BenchStep(
        "video-frequency", "video",
        "Find the picture by tuning through the band; ask who else is on the air first.",
        f"It is best at {told}, and nobody else's is there.",
        after,
        RADIO,
        ask,
        ("video.transmitter",),
    )  # fmt: skip


def _power(known: Known, power: float | None, after: tuple[str, ...]) -> BenchStep:
    sender = known.craft.video.transmitter
    standby = known.told(lambda: sender.standby_power)
    told = "the power that you set" if power is None else f"{number_text(power)} mW"
    waiting = "" if standby is None else f", and {number_text(standby)} mW before arming"
    return BenchStep(
        "video-power", "video",
        "Read the power off the transmitter's display, lights or menu.",
        f"It sends {told}{waiting}. Whether that is allowed here, local rules say.",
        after,
        RADIO,
        watches=("video.transmitter",),
    )  # fmt: skip
