"""The way home: how high, and how fast down."""

from collections.abc import Iterator

from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, rule
from cfgaudit.rules.wording import grouped
from cfgaudit.units import number_text

_NAMES = {"altitude": "height on the way home", "ceiling": "greatest height"}


@rule("home/above-limit", Level.WARNING, limits=("home.height_most",))
def above_limit(craft: Craft, most: float) -> Iterator[Yielded]:
    """The way home or the greatest height is above what many authorities set as their limit.

    The setting counts from where the craft took off, the limit from the ground below it: over a
    valley the craft is higher still.

    In the air: it may meet other aircraft, or leave what its operator may fly.
    Mend: look up what the local rules decide, and set a height within it.
    Source: EU 2019/947, UAS.OPEN.010(2): 120 m from the closest point of the surface; 14 CFR
    107.51 has 400 ft. A caution only: local rules decide.
    """
    yield from each(_NAMES, lambda leaf: _above(craft, leaf, most))


def _above(craft: Craft, leaf: str, most: float) -> Iterator[Yielded]:
    height = craft.home.altitude if leaf == "altitude" else craft.home.ceiling
    if height > most:
        yield Fires(
            f"The {_NAMES[leaf]} is {grouped(height)} m, above {grouped(most)} m. Many "
            "authorities set a limit near 120 m above the ground; local rules decide.",
            (craft.home.path(leaf),),
            (("height_m", height), ("limit_m", most)),
            advice="Look up what the local rules decide, and set a height within it.",
        )


@rule("home/altitude-above-ceiling", Level.WARNING)
def altitude_above_ceiling(craft: Craft) -> Iterator[Yielded]:
    """The way home is to be flown above the greatest height.

    In the air: the two contradict each other: the craft comes home lower than was meant, perhaps
    into what the height was to clear, or breaks through its ceiling.
    Mend: raise the ceiling above the height of the way home, or lower that height.
    Source: common practice.
    """
    altitude, ceiling = craft.home.altitude, craft.home.ceiling
    if altitude > ceiling > 0:
        yield Fires(
            f"The way home is to be flown at {grouped(altitude)} m, "
            f"but the greatest height is {grouped(ceiling)} m.",
            (craft.home.path("altitude"), craft.home.path("ceiling")),
            (("altitude_m", altitude), ("ceiling_m", ceiling)),
            advice="Raise the ceiling above the way home, or lower the way home.",
        )


@rule("home/too-low", Level.NOTE, limits=("home.height_least",))
def too_low(craft: Craft, least: float) -> Iterator[Yielded]:
    """The height on the way home is below that of an ordinary tree.

    In the air: on its way home the craft meets a tree, a roof or a wire that the pilot flew
    around on the way out.
    Mend: set it above whatever stands between the craft and home.
    Source: common practice.
    """
    altitude = craft.home.altitude
    if altitude < least:
        yield Fires(
            f"The way home is flown at {grouped(altitude)} m, below {grouped(least)} m: "
            "trees and wires stand higher.",
            (craft.home.path("altitude"),),
            (("altitude_m", altitude), ("limit_m", least)),
            advice="Set it above whatever stands between the craft and home.",
        )


@rule("home/descent-fast", Level.WARNING, limits=("home.descent_most",))
def descent_fast(craft: Craft, most: float) -> Iterator[Yielded]:
    """The craft comes down to its landing faster than a small craft should.

    In the air: it sinks into its own wash, wobbles or drops, and hits the ground hard.
    Mend: let it come down at 1 to 2 m/s.
    Source: common practice.
    """
    descent = craft.home.descent
    if descent > most:
        path = craft.home.path("descent")
        yield Fires(
            f"The craft comes down at {grouped(descent)} m/s, above {grouped(most)} m/s.",
            (path,),
            (("descent_m_per_s", descent), ("limit_m_per_s", most)),
            mend=(Edit(path, f"{number_text(most)} m/s"),),
        )


RULES = (above_limit, altitude_above_ceiling, too_low, descent_fast)
