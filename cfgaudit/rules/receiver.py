"""The receiver's channel map."""

from collections.abc import Iterator

from cfgaudit.craft.controls import PRIMARY
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule
from cfgaudit.rules.serial import listed


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
    mapped = craft.receiver.map.all()
    missing = [control for control in PRIMARY if control not in mapped]
    for control in missing:
        yield Fires(
            f"{control.capitalize()} has no channel.",
            (craft.receiver.map.path(control),),
            (("controls_without_channel", float(len(missing))),),
            advice=f"Give {control} the channel on which the transmitter sends it.",
        )
    stated = [control for control in PRIMARY if control in mapped]
    if stated:
        yield from each((stated,), lambda controls: _above(craft, controls))


def _above(craft: Craft, controls: list[str]) -> Iterator[Yielded]:
    carried = craft.receiver.channels
    for control in controls:
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
