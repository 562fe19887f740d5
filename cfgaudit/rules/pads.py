"""Solder pads: what each is for."""

from collections.abc import Iterator
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Pad
from cfgaudit.craft.settings import NotStated
from cfgaudit.reading.place import Place
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, rule
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


# Uses that set the pace of the timer behind the pad. A buzzer, a voltage or a current does not.
_TIMED_USES: Final = ("motor", "pulse_input", "led_strip", "camera_key")
_GROUNDING_USES: Final = ("motor", "pulse_input")  # with one of these the craft does not fly


@rule("pads/timer-shared", Level.ERROR)
def timer_shared(craft: Craft) -> Iterator[Yielded]:
    """Pads that need different paces hang on one timer, which can only run at one.

    Motors, the lights, the camera's key and a pulse train coming in each need a pace of their
    own. Without a motor or a pulse train among them it is a warning.

    In the air: whichever is set up last wins: the motors of that timer stand still or run
    wild, or the lights stay dark.
    Mend: move one of the uses to a pad on another timer.
    Source: common practice: one timer has one clock and one period for all its channels.
    """
    timed = [pad for pad in pads_by_use(craft) if _kind(pad) in _TIMED_USES]
    if len({_kind(pad) for pad in timed}) < 2:
        return
    if not any(pad.states("timer") for pad in timed):  # the dump has no word for it
        raise NotStated("pads.ID.timer")
    by_timer: dict[str, list[Pad]] = {}
    for pad in timed:
        if pad.states("timer"):
            by_timer.setdefault(pad.timer.casefold(), []).append(pad)
        else:
            yield Lacks(pad.path("timer"))
    for same in by_timer.values():
        yield from _at_odds(craft, same)


def _at_odds(craft: Craft, same: list[Pad]) -> Iterator[Yielded]:
    kinds = sorted({_kind(pad) for pad in same}, key=_TIMED_USES.index)
    if len(kinds) < 2:
        return
    in_order = sorted(same, key=lambda pad: kinds.index(_kind(pad)))
    yield Fires(
        f"Timer {same[0].timer} must run at {len(kinds)} paces at once: "
        f"{listed([f'{pad.use} on {pad.name}' for pad in in_order])}.",
        tuple(path for pad in in_order for path in (pad.path("use"), pad.path("timer"))),
        (("pads", float(len(same))), ("paces", float(len(kinds)))),
        advice=_elsewhere(craft, kinds[1:]),
        level=Level.ERROR if kinds[0] in _GROUNDING_USES else Level.WARNING,
    )


def _elsewhere(craft: Craft, uses: list[str]) -> str:
    """Advice what to move, that names the free pads whose timer nothing else runs."""
    pads = [pad for pad in pads_by_use(craft) if pad.states("timer")]
    taken = {pad.timer.casefold() for pad in pads if _kind(pad) in _TIMED_USES}
    free = [pad for pad in pads if pad.use == "free" and pad.timer.casefold() not in taken]
    names = listed([pad.name for pad in free]) if free else ""
    if len(uses) > 1:
        told = f"; free: {names}" if names else ""
        return f"Move {listed(uses)} to pads, each on a timer of its own{told}."
    if names:
        return f"Move {uses[0]} to a free pad on a timer of its own: {names}."
    return f"Move {uses[0]} to a pad on a timer of its own."


def _kind(pad: Pad) -> str:
    """What a pad is for, without the arm of a motor."""
    return pad.use.split()[0]


RULES = (used_twice, timer_shared)
