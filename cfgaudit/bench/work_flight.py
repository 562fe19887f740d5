"""The end of the working list: the first hover, and what is done after it."""

from collections.abc import Iterator

from cfgaudit.bench.work import FLYING, HEIGHT, LITHIUM, SPINNING, Ask, Known, Step
from cfgaudit.bench.work_measure import charge
from cfgaudit.bench.work_power import pack_volts
from cfgaudit.units import number_text


def hover(known: Known) -> Iterator[Step]:
    """Place, pack, the hover itself, and when to land."""
    yield Step(
        "place", "hover",
        "Choose the place: open grass, no people, animals, roads or wires near, little wind.",
        "You may fly there, and nobody can walk in unseen.",
        ("nuts",),
        HEIGHT,
    )  # fmt: skip
    yield from _charged(known)
    satellites = known.told(lambda: known.craft.position.min_satellites)
    fix = f" Wait for {satellites} satellites, if it is to know its home." if satellites else ""
    yield Step(
        "arm-outside", "hover",
        f"Craft on the ground, nose away from you, 5 m off. Plug in, step back, arm.{fix}",
        "It arms without a shake; the motors turn evenly, or rest until the throttle is raised.",
        ("place", "charged"),
        SPINNING,
    )  # fmt: skip
    throttle = known.told(lambda: known.sheet.propulsion.hover_throttle)
    about = f" near {number_text(throttle)} % throttle" if throttle else ""
    yield Step(
        "hover", "hover",
        "Rise to 1 or 2 m, no higher, for 30 seconds; then a little of each stick.",
        f"It hangs level{about} and answers each stick the right way, without shaking or "
        "drifting round. If it tips, shakes or turns by itself: throttle down, disarm.",
        ("arm-outside",),
        FLYING,
    )  # fmt: skip
    yield _land(known)


def _charged(known: Known) -> Iterator[Step]:
    pack = pack_volts(known)
    if pack is None:  # the step to find it out stands at first power
        yield Step(
            "charged", "hover", "Take a pack that is full and whole.",
            "Its voltage is that of a full pack.", ("place", "find-out-pack"), LITHIUM,
        )  # fmt: skip
        return
    low, full = round(pack[2] * 0.97, 2), pack[2]
    yield Step(
        "charged", "hover",
        "Take a full pack, not swollen, its leads whole; measure it.",
        f"{number_text(low)}..{number_text(full)} V.",
        ("place",),
        LITHIUM,
        Ask("number", "V", low, round(full * 1.005, 2), sample="N V"),
        f"{number_text(full)} V",
    )  # fmt: skip


def _land(known: Known) -> Step:
    pack, cells = pack_volts(known), known.cells
    when = "at the first low-battery call"
    if pack is not None and cells:
        warn = pack[1]
        when = f"at {number_text(warn)} V ({number_text(round(warn / cells, 3))} V a cell)"
    return Step(
        "land", "hover",
        f"Land after two minutes at the latest, or {when}, whichever comes first.",
        "It comes down by the throttle alone, disarms at once, and the motors stop.",
        ("hover",),
        SPINNING,
        against=when,
    )  # fmt: skip


def after_hover(known: Known) -> Iterator[Step]:
    """Temperatures, the charge, a second look, the dump."""
    yield Step(
        "temperatures", "after",
        "Unplug the pack. Feel motors, speed controllers, pack and transmitter with the back of a "
        "finger.",
        "Warm at most, the motors alike. What can't be touched for three seconds is too hot.",
        ("land",),
        LITHIUM,
    )  # fmt: skip
    yield Step(
        "look-over", "after",
        "Look at propellers, nuts, screws, antennas and the pack's strap again.",
        "Nothing cracked, loose or chafed.",
        ("land",),
        SPINNING,
    )  # fmt: skip
    yield from charge(known, ("temperatures",))
    yield Step(
        "read-back", "after",
        "Propellers off. Read the dump again, and compare: `cfgaudit confirm` with what was meant.",
        "Everything that was changed at the bench is in it.",
        ("look-over",),
        SPINNING,
    )  # fmt: skip
    yield Step(
        "keep", "after",
        "Keep the dump, the build sheet and this record together, under version control.",
        "The next change can be compared with a craft that flew.",
        ("read-back",),
    )  # fmt: skip
