"""The switches: what each position of each channel switches on."""

from collections.abc import Iterator

from cfgaudit.craft.controls import PRIMARY
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.values import SwitchRange
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, rule
from cfgaudit.rules.switch_ranges import ARM, ends_of, on_each_channel, ranges_of
from cfgaudit.rules.wording import grouped, listed
from cfgaudit.units import number_text

# Pulses are whole microseconds, so 1000..1499 and 1500..2100 leave nothing between them.
_STEP_US = 1.0


@rule("switch/no-arm", Level.ERROR)
def no_arm(craft: Craft) -> Iterator[Yielded]:
    """The craft is to be armed by a switch, and no range arms it.

    In the air: it never gets there: the motors can't be started, nor stopped by a switch.
    Mend: give arm a range on a two-position switch of its own.
    Source: common practice.
    """
    if craft.arming.by == "switch" and not ranges_of(craft, "arm"):
        yield Fires(
            "A switch is to arm the craft, but no channel range does.",
            ("arming.by", ARM),
            advice="Give arm the upper range of a two-position switch.",
        )


@rule("switch/always-armed", Level.ERROR)
def always_armed(craft: Craft) -> Iterator[Yielded]:
    """Arm's range covers the whole travel of its channel.

    In the air: the switch can't stop the motors; on the ground they may start as soon as there
    is a signal.
    Mend: leave arm the upper end of the travel only.
    Source: common practice.
    """
    channels = on_each_channel(ranges_of(craft, "arm"))
    yield from each(channels, lambda item: _covered(craft, *item))


def _covered(craft: Craft, channel: int, spans: list[SwitchRange]) -> Iterator[Yielded]:
    low, high = craft.receiver.low_of(channel), craft.receiver.high_of(channel)
    reach = low - _STEP_US
    for span in spans:
        if span.low <= reach + _STEP_US:
            reach = max(reach, span.high)
    if reach >= high:
        yield Fires(
            f"Arm is on over the whole travel of channel {channel}, "
            f"{grouped(low)} to {grouped(high)} us: {listed([ends_of(span) for span in spans])}.",
            (ARM,),
            (
                ("channel", float(channel)),
                ("range_low_us", spans[0].low),
                ("range_high_us", reach),
                ("travel_low_us", low),
                ("travel_high_us", high),
            ),
            advice="Leave arm the upper end of the travel only.",
        )


@rule("switch/armed-at-failsafe-value", Level.ERROR)
def armed_at_failsafe_value(craft: Craft) -> Iterator[Yielded]:
    """The value that the arm channel takes on link loss lies in arm's range.

    In the air: the motors go on when the link is lost, and a craft on the bench can arm itself
    as its transmitter is switched off.
    Mend: set that value outside arm's range, best to the lowest pulse.
    Source: common practice.
    """
    channels = on_each_channel(ranges_of(craft, "arm"))
    yield from each(channels, lambda item: _armed_on_loss(craft, *item))


def _armed_on_loss(craft: Craft, channel: int, spans: list[SwitchRange]) -> Iterator[Yielded]:
    value = craft.failsafe.channel(channel)
    if isinstance(value, str):  # held: it arms nothing that was not armed before
        return
    path = craft.failsafe.channels.path(str(channel))
    for span in spans:
        if span.low <= value <= span.high:
            yield Fires(
                f"On link loss channel {channel} goes to {grouped(value)} us, "
                f"within arm's range {ends_of(span)}.",
                (path, ARM),
                (
                    ("channel", float(channel)),
                    ("value_us", value),
                    ("range_low_us", span.low),
                    ("range_high_us", span.high),
                ),
                mend=_disarmed(craft, channel, spans, path),
                advice="Set the value outside arm's range.",
            )


def _disarmed(craft: Craft, channel: int, spans: list[SwitchRange], path: str) -> tuple[Edit, ...]:
    """The change to the lowest pulse, where that is stated and does not arm either."""
    try:
        low = craft.receiver.low_of(channel)
    except NotStated:
        return ()
    if any(span.low <= low <= span.high for span in spans):
        return ()
    return (Edit(path, f"{number_text(low)} us"),)


@rule("switch/arm-on-stick", Level.ERROR)
def arm_on_stick(craft: Craft) -> Iterator[Yielded]:
    """Arm stands on the channel of roll, pitch, throttle or yaw.

    In the air: moving the stick arms or disarms: the motors stop in the middle of a turn.
    Mend: move arm to a channel with a switch of its own.
    Source: common practice.
    """
    channels = sorted({span.channel for span in ranges_of(craft, "arm")})
    if not channels:
        return
    mapped = craft.receiver.map.all()
    for control in PRIMARY:
        channel = mapped.get(control, 0)
        if channel in channels:
            yield Fires(
                f"Arm is on channel {channel}, which is the {control} stick.",
                (ARM, craft.receiver.map.path(control)),
                (("channel", float(channel)),),
                advice="Move arm to a channel with a switch of its own.",
            )


@rule("switch/range-empty", Level.ERROR)
def range_empty(craft: Craft) -> Iterator[Yielded]:
    """A range begins where it ends, or above.

    In the air: the function never comes on, whatever the switch does.
    Mend: write the lower end first, with room between the two.
    Source: common practice.
    """
    for function, spans in craft.switches.ranges.all().items():
        for span in spans:
            if span.low >= span.high:
                yield Fires(
                    f"The {function} range on channel {span.channel} is empty: {ends_of(span)}.",
                    (craft.switches.path_of(function),),
                    (
                        ("channel", float(span.channel)),
                        ("range_low_us", span.low),
                        ("range_high_us", span.high),
                    ),
                    advice="Write the lower end first, with room between the two.",
                )


@rule("switch/channel-not-carried", Level.ERROR)
def channel_not_carried(craft: Craft) -> Iterator[Yielded]:
    """A function is on a channel that the receiver link does not carry.

    In the air: the switch does nothing; if the function is arm, the motors can't be stopped.
    Mend: move the function to a channel that the link carries.
    Source: common practice.
    """
    used = [
        (function, span)
        for function, spans in craft.switches.ranges.all().items()
        for span in spans
    ]
    if not used:
        return
    carried = craft.receiver.channels
    for function, span in used:
        if span.channel > carried:
            yield Fires(
                f"The {function} switch is on channel {span.channel}, "
                f"but the link carries {carried} channels.",
                (craft.switches.path_of(function), "receiver.channels"),
                (("channel", float(span.channel)), ("channels", float(carried))),
                advice=f"Move {function} to a channel from 1 to {carried}.",
            )


RULES = (
    no_arm,
    always_armed,
    armed_at_failsafe_value,
    arm_on_stick,
    range_empty,
    channel_not_carried,
)
