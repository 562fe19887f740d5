"""Solder pads: what each is for."""

from collections.abc import Iterator
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Pad
from cfgaudit.reading.place import Place
from cfgaudit.rules.rule import Fires, Level, Yielded, rule
from cfgaudit.rules.wiring import pads_by_use
from cfgaudit.rules.wording import listed

# Uses that one pad at most can serve; the first four can bring a craft down (common practice).
_GRAVE_USES: Final = ("motor", "voltage_sense", "current_sense", "pulse_input")
_LIGHT_USES: Final = ("led_strip", "camera_key", "buzzer")


@rule("pads/used-twice", Level.ERROR)
def used_twice(craft: Craft) -> Iterator[Yielded]:
    """One pad is given two uses, or one use that a single pad serves is given to two pads.

    In the air: only one of the two works: a motor may stand still, or the pack's voltage is
    read off the wrong pad.
    Mend: say for each pad the one use that is soldered to it.
    Source: common practice. A second pad for the lights, the buzzer or the camera key is a
    warning.
    """
    pads = pads_by_use(craft)
    served: dict[str, list[Pad]] = {}
    for pad in pads:
        served.setdefault(pad.use, []).append(pad)
    for use, same in served.items():
        if len(same) > 1 and use != "motor" and use.split()[0] in _GRAVE_USES + _LIGHT_USES:
            yield Fires(
                f"{len(same)} pads are given to {use}: {listed([pad.name for pad in same])}.",
                tuple(pad.path("use") for pad in same),
                (("pads", float(len(same))),),
                advice=f"Keep {use} on the pad that it is soldered to.",
                level=Level.WARNING if use in _LIGHT_USES else Level.ERROR,
            )
    yield from _stated_again(craft)


def _stated_again(craft: Craft) -> Iterator[Yielded]:
    """Pads whose use the dump states twice, each time another."""
    uses: dict[str, dict[str, Place | None]] = {}
    for holds, other in craft.settings.repeats:
        if holds.path.startswith("pads.") and holds.path.endswith(".use"):
            said = uses.setdefault(holds.path, {})
            for one in (holds, other):
                if not one.doubt and one.value != "free":
                    said.setdefault(str(one.value), one.place)
    for path, said in uses.items():
        if len(said) > 1:
            yield Fires(
                f"Pad {path.split('.')[1]} is given {len(said)} uses: {listed(list(said))}.",
                (path,),
                (("uses", float(len(said))),),
                advice="Keep the use that is soldered to the pad.",
                places=tuple(place for place in list(said.values())[1:] if place),
            )


RULES = (used_twice,)
