"""The working list up to first power, and its meters: volts, amperes, milliwatts."""

from collections.abc import Iterator
from math import ceil
from typing import Final

from cfgaudit.rules.rule import listed
from cfgaudit.vocabulary.sheet import NO_RAIL, Device, SheetRail
from cfgaudit.vocabulary.units import number_text
from cfgaudit.work.steps import LITHIUM, RADIO, SPINNING, Ask, BenchStep, Known, find_out

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
    )  # fmt: skip
    yield from _antennas(known, first)
    if not devices(known):
        yield find_out(known, "devices", "before", ["sheet.devices.NAME.kind"], first)
    yield from _rails_unknown(known)
    yield from _bridges(known)
    yield _polarity(known)
    yield BenchStep(
        "continuity", "before",
        f"Meter on resistance, from the ground to {_rail_names(known)}, both ways round.",
        "Never near 0 ohm and no steady beep; the reading may climb while capacitors fill.",
        ("joints", "polarity"),
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
            after, RADIO,
        )  # fmt: skip
    yield BenchStep(
        "antenna-receiver", "before",
        "Look at the receiver's antenna: plugged, whole, away from carbon and from the motors.",
        "The last part of it stands free, and no propeller can reach it.",
        after,
    )  # fmt: skip


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
                against=f"{number_text(rail.choice)} V",
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
        against=told,
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
    yield _limiter(known, pack, before)
    yield BenchStep(
        "warm", "first",
        "Leave it on for a minute. Smell, listen, then feel the parts with the back of a finger.",
        "No smell, no smoke, nothing too hot to touch. If anything is: unplug at once.",
        ("limiter",),
    )  # fmt: skip
    for rail in _rails(known):
        ends = known.told(rail.volts)
        if ends is not None:
            yield _rail(rail, ends)


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
        against="" if limit is None else f"{told}, {number_text(limit)} A",
    )  # fmt: skip


def _rail(rail: SheetRail, ends: tuple[float, float]) -> BenchStep:
    low, high = ends
    if low == high:
        low, high = round(low * (1 - _ABOUT), 2), round(high * (1 + _ABOUT), 2)
    span = f"{number_text(low)}..{number_text(high)} V"
    return BenchStep(
        f"rail-{rail.name}", "first",
        f"Meter on volts, from the ground to rail {rail.name}.",
        f"{span}.",
        ("warm",),
        ask=Ask("number", "V", low, high, sample="N V"),
        against=span,
    )  # fmt: skip


# How far the craft's reading may be from a meter's: common practice.
_VOLTS_PART: Final = 0.01
_AMPS_LEAST: Final = 0.2
_CHARGE_PART: Final = 0.05
_MHZ: Final = 1.0


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
        _against(("offset", offset, "mV"), ("scale", scale, "mV/A")),
    )  # fmt: skip


def _scale(known: Known) -> float | None:
    return known.told(lambda: known.craft.battery.current_scale)


def _against(*values: tuple[str, float | None, str]) -> str:
    return ", ".join(
        f"{word} {number_text(value)} {unit}".rstrip()
        for word, value, unit in values
        if value is not None
    )


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
        _against(("divider", divider, "")),
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
        _against(("scale", scale, "mV/A")),
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
        against=standard or "",
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
        "" if frequency is None else told,
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
        against="" if power is None else told + waiting,
    )  # fmt: skip
