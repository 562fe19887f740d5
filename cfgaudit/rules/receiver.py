"""The receiver's channel map."""

from collections.abc import Iterator

from cfgaudit.craft.controls import PRIMARY
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule
from cfgaudit.rules.wiring import unreadable
from cfgaudit.rules.wording import listed


@rule("receiver/map-clash", Level.ERROR)
def map_clash(craft: Craft) -> Iterator[Yielded]:
    """Two controls stand on one channel.

    In the air: one stick moves two things at once, and another stick moves nothing.
    Mend: give every control a channel of its own, in the order that the transmitter sends.
    Source: common practice.
    """
    by_channel: dict[int, list[str]] = {}
    for control, channel in craft.receiver.map.all().items():
        by_channel.setdefault(channel, []).append(control)
    for channel, controls in by_channel.items():
        if len(controls) > 1:
            primary_first = sorted(controls, key=lambda control: control not in PRIMARY)
            yield Fires(
                f"Channel {channel} works {len(controls)} controls: {listed(primary_first)}.",
                tuple(craft.receiver.map.path(control) for control in primary_first),
                (("channel", float(channel)), ("controls", float(len(controls)))),
                advice="Give each control the channel on which the transmitter sends it.",
            )


@rule("receiver/map-gap", Level.ERROR)
def map_gap(craft: Craft) -> Iterator[Yielded]:
    """Roll, pitch, throttle or yaw has no channel, or one that the link does not carry.

    In the air: that stick does nothing; without throttle or roll the craft can't be flown.
    Mend: give the control the channel on which the transmitter sends it.
    Source: common practice.
    """
    craft.receiver.map.all()  # raises where no control is mapped
    paths = {control: craft.receiver.map.path(control) for control in PRIMARY}
    said = [*craft.settings, *unreadable(craft)]
    missing = [control for control, path in paths.items() if path not in said]
    for control in missing:
        yield Fires(
            f"{control.capitalize()} has no channel.",
            (paths[control],),
            (("controls_without_channel", float(len(missing))),),
            advice=f"Give {control} the channel on which the transmitter sends it.",
        )
    stated = [control for control in PRIMARY if control not in missing]
    carried = craft.receiver.channels
    yield from each(stated, lambda control: _above(craft, control, carried))


def _above(craft: Craft, control: str, carried: int) -> Iterator[Yielded]:
    channel = craft.receiver.map[control]
    if channel > carried:
        yield Fires(
            f"{control.capitalize()} is on channel {channel}, "
            f"but the link carries {carried} channels.",
            (craft.receiver.map.path(control), "receiver.channels"),
            (("channel", float(channel)), ("channels", float(carried))),
            advice=f"Give {control} a channel from 1 to {carried}.",
        )


RULES = (map_clash, map_gap)
