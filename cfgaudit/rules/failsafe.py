"""What happens when the link is lost."""

from collections.abc import Iterator
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, rule
from cfgaudit.rules.wiring import carrying, give_a_port
from cfgaudit.rules.wording import grouped
from cfgaudit.units import number_text

# How far above the lowest pulse a throttle still counts as closed (common practice).
CLOSED_THROTTLE_PERCENT: Final = 5.0


@rule("failsafe/none", Level.ERROR)
def none(craft: Craft) -> Iterator[Yielded]:
    """When the link is lost, nothing is done, or the last inputs are held.

    In the air: the craft flies on as the sticks last stood until something stops it.
    Mend: choose what it is to do: stop the motors, land, or return home.
    Source: common practice.
    """
    action = craft.failsafe.action
    says = {
        "none": "When the link is lost the craft does nothing about it.",
        "hold_inputs": "When the link is lost the craft holds the last inputs and flies on.",
    }
    if action in says:
        yield Fires(
            says[action],
            ("failsafe.action",),
            advice="Set failsafe.action to motors_off, land or return_home.",
        )


@rule("failsafe/throttle-held", Level.ERROR)
def throttle_held(craft: Craft) -> Iterator[Yielded]:
    """On link loss the throttle channel holds its last value, or takes one that is not closed.

    In the air: the motors go on pulling while nobody steers.
    Mend: set the throttle channel's failsafe value to its lowest pulse or below.
    Source: common practice. Closed is up to 5 % of the travel above the lowest pulse.
    """
    channel = craft.receiver.map["throttle"]
    value = craft.failsafe.channel(channel)
    path = craft.failsafe.channels.path(str(channel))
    if isinstance(value, str):
        yield Fires(
            f"On link loss the throttle channel {channel} holds its last value.",
            (path, "receiver.map.throttle"),
            (("channel", float(channel)),),
            mend=_closed(craft, channel, path),
            advice="Give the throttle channel its lowest pulse on link loss.",
        )
        return
    low, high = craft.receiver.low_of(channel), craft.receiver.high_of(channel)
    limit = low + (high - low) * CLOSED_THROTTLE_PERCENT / 100
    if value > limit:
        yield Fires(
            f"On link loss the throttle channel {channel} goes to {grouped(value)} us, "
            f"above {grouped(limit)} us ({grouped(low)} us and 5 % of the travel).",
            (path, "receiver.map.throttle"),
            (
                ("channel", float(channel)),
                ("value_us", value),
                ("limit_us", limit),
                ("low_us", low),
                ("high_us", high),
            ),
            mend=_closed(craft, channel, path),
        )


def _closed(craft: Craft, channel: int, path: str) -> tuple[Edit, ...]:
    """The change to the channel's lowest pulse, where that is stated."""
    try:
        return (Edit(path, f"{number_text(craft.receiver.low_of(channel))} us"),)
    except NotStated:
        return ()


@rule("failsafe/home-without-position", Level.ERROR)
def home_without_position(craft: Craft) -> Iterator[Yielded]:
    """On link loss the craft is to return home, but nothing tells it where it is.

    In the air: the way home can't be flown: the craft drifts, lands where it is, or flies off
    on a position that it never had.
    Mend: give the position role to a port, switch position on and want at least 6 satellites;
    or choose another action.
    Source: common practice.
    """
    if craft.failsafe.action == "return_home":
        checks = (_no_port, _no_satellites, _switched_off)
        yield from each(checks, lambda check: check(craft))


def _no_port(craft: Craft) -> Iterator[Yielded]:
    if not carrying(craft, "position"):
        yield Fires(
            "On link loss the craft is to return home, but no port carries position.",
            ("failsafe.action",),
            advice=give_a_port(craft, "position"),
        )


def _no_satellites(craft: Craft) -> Iterator[Yielded]:
    if craft.position.min_satellites == 0:
        yield Fires(
            "On link loss the craft is to return home, but a position without any satellites "
            "counts: min_satellites is 0.",
            ("position.min_satellites", "failsafe.action"),
            (("min_satellites", 0.0),),
            advice="Want at least 6 satellites.",
        )


def _switched_off(craft: Craft) -> Iterator[Yielded]:
    if not craft.position.enabled:
        yield Fires(
            "On link loss the craft is to return home, but position is switched off.",
            ("position.enabled", "failsafe.action"),
            mend=(Edit("position.enabled", "on"),),
        )


RULES = (none, throttle_held, home_without_position)
