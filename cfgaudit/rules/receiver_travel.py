"""What the receiver's channels reach, where they rest, and what else they carry."""

from collections.abc import Iterator

from cfgaudit.craft.controls import PRIMARY
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.values import SwitchRange
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule
from cfgaudit.rules.switch_ranges import untrusted
from cfgaudit.rules.wording import grouped, listed


@rule("receiver/ends-too-narrow", Level.WARNING, limits=("receiver.reach_least",))
def ends_too_narrow(craft: Craft, least: float) -> Iterator[Yielded]:
    """A channel's travel does not reach, or only just reaches, where it must go.

    The throttle must come down below the arming threshold, and a switch that enters its range
    near the end of its travel must get well into it. A range wholly out of reach is
    switch/range-unreachable.

    In the air: the craft arms one time and does not the next; a switch lets go of its function
    as a worn or cold transmitter drifts.
    Mend: widen the channel's travel in the transmitter, or move the threshold or the range.
    Source: common practice.
    """
    yield from each((_throttle_travel, _switch_travels), lambda check: check(craft, least))


def _throttle_travel(craft: Craft, least: float) -> Iterator[Yielded]:
    channel = craft.receiver.map["throttle"]
    low, below = craft.receiver.low_of(channel), craft.arming.throttle_below
    left = below - low
    if left >= least or "throttle" in craft.arming.waived:
        return
    told = f"{grouped(left)} us are left" if left > 0 else "it never gets there"
    yield Fires(
        f"The throttle comes down to {grouped(low)} us and must be below {grouped(below)} us "
        f"to arm: {told}, at least {grouped(least)} us are wanted.",
        (craft.receiver.end_path(channel, "low"), "arming.throttle_below"),
        (("low_us", low), ("below_us", below), ("left_us", left), ("least_us", least)),
        advice=f"Set the low end of channel {channel} lower in the transmitter.",
    )


def _switch_travels(craft: Craft, least: float) -> Iterator[Yielded]:
    yield from untrusted(craft)
    by_function = craft.switches.ranges.all()
    used = [(function, on) for function, ranges in by_function.items() for on in ranges]
    yield from each(used, lambda switch: _switch_travel(craft, *switch, least))


def _switch_travel(craft: Craft, function: str, on: SwitchRange, least: float) -> Iterator[Yielded]:
    low, high = craft.receiver.low_of(on.channel), craft.receiver.high_of(on.channel)
    upper = on.low > low and on.high > high  # entered from below, left beyond the travel
    lower = on.low < low and on.high < high
    reach = high - on.low if upper else on.high - low
    if on.low >= on.high or not (upper or lower) or not 0 <= reach < least:
        return
    end, leaf = (high, "high") if upper else (low, "low")
    yield Fires(
        f"Channel {on.channel} ends at {grouped(end)} us, only {grouped(reach)} us within "
        f"{function}'s range of {grouped(on.low)} to {grouped(on.high)} us; at least "
        f"{grouped(least)} us are wanted.",
        (craft.switches.path_of(function), craft.receiver.end_path(on.channel, leaf)),
        (
            ("channel", float(on.channel)),
            ("end_us", end),
            ("reach_us", reach),
            ("low_us", on.low),
            ("high_us", on.high),
            ("least_us", least),
        ),
        advice=f"Widen the travel of channel {on.channel} in the transmitter, or move the range.",
    )


@rule("receiver/centre-off", Level.WARNING, limits=("receiver.centre_usual",))
def centre_off(craft: Craft, usual: float) -> Iterator[Yielded]:
    """A stick rests further from the middle than the deadband forgives.

    In the air: the craft turns slowly by itself with the sticks let go, and with self-levelling
    it leans and drifts off.
    Mend: bring the channel's middle to 1,500 us in the transmitter.
    Source: common practice.
    """
    sticks = ("roll", "pitch", "yaw")
    yield from each(sticks, lambda stick: _rests_off(craft, stick, usual))


def _rests_off(craft: Craft, stick: str, usual: float) -> Iterator[Yielded]:
    channel = craft.receiver.map[stick]
    centre = craft.receiver.centre_of(channel)
    yaw = stick == "yaw"
    deadband = craft.receiver.yaw_deadband if yaw else craft.receiver.deadband
    off = abs(centre - usual)
    if off > deadband:
        yield Fires(
            f"{stick.capitalize()} rests at {grouped(centre)} us, {grouped(off)} us from "
            f"{grouped(usual)} us; the deadband is {grouped(deadband)} us.",
            (
                craft.receiver.end_path(channel, "centre"),
                f"receiver.{'yaw_' if yaw else ''}deadband",
                craft.receiver.map.path(stick),
            ),
            (
                ("channel", float(channel)),
                ("centre_us", centre),
                ("usual_us", usual),
                ("off_us", off),
                ("deadband_us", deadband),
            ),
            advice=f"Bring the middle of channel {channel} to {grouped(usual)} us in the "
            "transmitter.",
        )


@rule("receiver/signal-on-switch", Level.ERROR)
def signal_on_switch(craft: Craft) -> Iterator[Yielded]:
    """Signal strength is read from a channel that also works a switch or a stick.

    In the air: if the channel carries the signal's strength, the function goes on and off, or
    the stick moves, as the craft flies nearer and farther; if it carries the switch, the
    strength shown is a switch's.
    Mend: read the strength from the channel on which the receiver sends it, which nothing else
    uses; or from none.
    Source: common practice.
    """
    channel = craft.receiver.signal_channel
    if channel:
        yield from untrusted(craft)
        both = (_functions_on, _sticks_on)
        yield from each(both, lambda find: _shared(channel, find(craft, channel)))


def _functions_on(craft: Craft, channel: int) -> dict[str, str]:
    """The functions that a channel works, each with its path."""
    return {
        function: craft.switches.path_of(function)
        for function, ranges in craft.switches.ranges.all().items()
        if any(on.channel == channel for on in ranges)
    }


def _sticks_on(craft: Craft, channel: int) -> dict[str, str]:
    """The sticks that a channel carries, each with its path."""
    mapped = craft.receiver.map.all()
    return {
        control: craft.receiver.map.path(control)
        for control in PRIMARY
        if mapped.get(control) == channel
    }


def _shared(channel: int, works: dict[str, str]) -> Iterator[Yielded]:
    if works:
        yield Fires(
            f"Signal strength is read from channel {channel}, which also works "
            f"{listed(list(works))}.",
            ("receiver.signal_channel", *works.values()),
            (("channel", float(channel)), ("works", float(len(works)))),
            advice="Read it from the channel on which the receiver sends it and which nothing "
            "else uses, or set it to 0 for none.",
        )


@rule("receiver/signal-not-carried", Level.WARNING)
def signal_not_carried(craft: Craft) -> Iterator[Yielded]:
    """Signal strength is read from a channel that the link does not carry.

    In the air: the overlay and the handset show no strength, or one that never changes, so
    nothing warns before the link is lost.
    Mend: read it from a channel that the link carries, or from none.
    Source: common practice.
    """
    channel = craft.receiver.signal_channel
    if channel and channel > craft.receiver.channels:
        carried = craft.receiver.channels
        yield Fires(
            f"Signal strength is read from channel {channel}, but the link carries {carried} "
            "channels.",
            ("receiver.signal_channel", "receiver.channels"),
            (("channel", float(channel)), ("channels", float(carried))),
            advice=f"Read it from a channel from 1 to {carried} that nothing else uses, or set "
            "it to 0 for none.",
        )


RULES = (
    ends_too_narrow,
    centre_off,
    signal_on_switch,
    signal_not_carried,
)
