"""The working list up to first power: what is looked at cold, then the supply and its rails."""

from collections.abc import Iterator
from math import ceil
from typing import Final

from cfgaudit.bench.work import LITHIUM, RADIO, SPINNING, Ask, Known, Step, find_out
from cfgaudit.craft.sheet_board import SheetRail
from cfgaudit.craft.sheet_devices import NO_RAIL, Device
from cfgaudit.rules.wording import listed
from cfgaudit.units import number_text

_BOARD_A: Final = 0.3  # what board and speed controllers draw at rest (common practice)
_REGULATOR: Final = 0.8  # of what a regulator takes it passes on (common practice)
_ABOUT: Final = 0.05  # how far a rail of one voltage may be off (common practice)


def before_power(known: Known) -> Iterator[Step]:
    """What is done before anything has power."""
    yield Step(
        "propellers-off", "before",
        "Take every propeller off and lay it away from the bench.",
        "No propeller on the craft. They stay off until this list puts them on.",
        caution=SPINNING,
    )  # fmt: skip
    first = ("propellers-off",)
    yield Step(
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
    yield Step(
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


def _antennas(known: Known, after: tuple[str, ...]) -> Iterator[Step]:
    if has_video(known):
        yield Step(
            "antenna-video", "before",
            "Screw or push the antenna onto the video transmitter.",
            "It sits tight and is the one for this band. No power without it, not for a second.",
            after, RADIO,
        )  # fmt: skip
    yield Step(
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


def _rails_unknown(known: Known) -> Iterator[Step]:
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


def _bridges(known: Known) -> Iterator[Step]:
    for rail in _rails(known):
        if rail.states("choices") and rail.states("choice"):
            every = ", ".join(number_text(volts) for volts in rail.choices)
            yield Step(
                f"bridge-{rail.name}", "before",
                f"Look at the bridge of rail {rail.name}, which can give {every} V.",
                f"It stands at {number_text(rail.choice)} V.",
                ("joints",),
                against=f"{number_text(rail.choice)} V",
            )  # fmt: skip


def _polarity(known: Known) -> Step:
    by_rail: dict[str, list[str]] = {}
    for part in devices(known):
        if part.states("rail") and part.rail != NO_RAIL:
            by_rail.setdefault(part.rail, []).append(part.name)
    told = "; ".join(f"{listed(names)} on {rail}" for rail, names in by_rail.items())
    which = f" By the sheet: {told}." if told else ""
    return Step(
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


def first_power(known: Known, before: tuple[str, ...]) -> Iterator[Step]:
    """The first power, through a limiter; then each rail by the meter."""
    pack = pack_volts(known)
    if pack is None:
        lacks = [] if known.cells else ["sheet.battery.cells"]
        lacks += [] if known.cell_volts() else ["sheet.battery.chemistry"]
        yield find_out(known, "pack", "first", lacks, ("propellers-off",))
        before = (*before, "find-out-pack")
    yield _limiter(known, pack, before)
    yield Step(
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
) -> Step:
    volts = None if pack is None else round((pack[1] + pack[2]) / 2, 1)
    most = None if volts is None else most_current(known, volts)
    limit = None if most is None else ceil(most * 10 - 1e-9) / 10
    told = "the pack's voltage" if volts is None else f"{number_text(volts)} V"
    amps = "0.5 A, and up only where the devices ask it" if limit is None else (
        f"{number_text(limit)} A, the most that board and devices should draw"
    )  # fmt: skip
    return Step(
        "limiter", "first",
        f"First power from a supply set to {told}, limited to {amps}; or from the pack through a "
        "lamp or limiter in its lead.",
        "The board wakes and the supply does not go into its limit. If it does: off at once.",
        before,
        LITHIUM,
        Ask("number", "A", 0, limit, sample="N A") if limit else Ask(),
        against="" if limit is None else f"{told}, {number_text(limit)} A",
    )  # fmt: skip


def _rail(rail: SheetRail, ends: tuple[float, float]) -> Step:
    low, high = ends
    if low == high:
        low, high = round(low * (1 - _ABOUT), 2), round(high * (1 + _ABOUT), 2)
    span = f"{number_text(low)}..{number_text(high)} V"
    return Step(
        f"rail-{rail.name}", "first",
        f"Meter on volts, from the ground to rail {rail.name}.",
        f"{span}.",
        ("warm",),
        ask=Ask("number", "V", low, high, sample="N V"),
        against=span,
    )  # fmt: skip
