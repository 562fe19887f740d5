"""Switches: which ranges are where, what is on at rest, together, and side by side."""

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import combinations
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft, if_stated
from cfgaudit.craft.switches import (
    Ranges,
    active_at,
    channels_of,
    free_channels,
    joined,
    met,
    resting,
    swept,
    travel,
)
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Lacks,
    Level,
    Yielded,
    each,
    grouped,
    in_groups,
    listed,
    rule,
)
from cfgaudit.rules.wiring import unreadable
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import PRIMARY
from cfgaudit.vocabulary.kinds import SwitchRange
from cfgaudit.vocabulary.units import number_text

# Pulses are whole microseconds, so 1000..1499 and 1500..2100 leave nothing between them.
_STEP_US = 1.0
_OPEN_PERCENT: Final = 20.0  # of its travel: a throttle above it lifts many craft


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

    In the air: the switch can't stop the motors; at the bench they may start as soon as there is
    a signal.
    Mend: leave arm the upper end of the travel only.
    Source: common practice.
    """
    yield from _as_joined(craft, ranges_of(craft, "arm"), _covered)


def _as_joined(
    craft: Craft,
    spans: tuple[SwitchRange, ...],
    check: Callable[[Craft, int, list[SwitchRange]], Iterator[Yielded]],
) -> Iterator[Yielded]:
    """What is found of each channel of a function's ranges, as far as it is on for all together.

    Raises NotStated where that hangs on how they join.
    """
    channels = in_groups(real(spans), lambda span: span.channel).items()
    found = [list(each([item], lambda one: check(craft, *one))) for item in channels]
    yield from (lack for one in found for lack in one if isinstance(lack, Lacks))
    fires = [[entry for entry in one if isinstance(entry, Fires)] for one in found]
    if fires and joined(craft, [bool(one) for one in fires]):
        yield from (entry for one in fires for entry in one)


def _covered(craft: Craft, channel: int, spans: list[SwitchRange]) -> Iterator[Yielded]:
    low, high = travel(craft, channel)
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
    """On link loss the arm channel takes a value in arm's range.

    In the air: the motors go on when the link is lost, and a craft on the bench can arm itself
    as its transmitter is switched off.
    Mend: let the channel hold what came last: that serves the bench and the air. The lowest pulse
    is right only where the motors are to stop on link loss anyway; else it stops them in the air.
    Source: common practice.
    """
    yield from _as_joined(craft, ranges_of(craft, "arm"), _armed_on_loss)


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
                advice=f"Let channel {channel} hold what came last.",
            )


def _disarmed(craft: Craft, channel: int, spans: list[SwitchRange], path: str) -> tuple[Edit, ...]:
    """The change to the lowest pulse, where that is stated and does not arm either.

    It disarms, so it is none where the craft is not known to stop its motors on link loss.
    """
    low = if_stated(lambda: craft.receiver.low_of(channel), None)
    if low is None or if_stated(lambda: craft.failsafe.action, "") != "motors_off":
        return ()
    if any(span.low <= low <= span.high for span in spans):
        return ()
    return (Edit(path, f"{number_text(low)} us"),)


# What takes the craft out of the pilot's hands or stops it, as it is on.
_DOES: Final = {
    "motors_kill": "the motors are stopped",
    "failsafe": "the craft does what it does when the link is lost",
    "return_home": "the craft flies home",
    "self_right": "the motors turn the craft over",
}
_GRAVE: Final = tuple(_DOES)
# What a stick at its end does, by function; a camera's menu is meant for sticks.
_BY_STICK: Final = {
    "arm": "moving the stick arms or disarms",
    "arm_interlock": "moving the stick bars arming or allows it",
    **_DOES,
    "self_level": "the craft is levelled",
    "altitude_hold": "the height is held",
    "position_hold": "the place is held",
    "buzzer": "the buzzer sounds",
    "overlay_off": "the picture loses its figures",
    "flight_log": "the log begins and ends",
    "video_full_power": "the transmitter's power changes",
}
# What may well begin as the throttle is opened.
_WITH_THROTTLE: Final = ("flight_log", "video_full_power")


@rule("switch/on-stick", Level.ERROR)
def on_stick(craft: Craft) -> Iterator[Yielded]:
    """A function stands on the channel of a stick.

    That is the channel of roll, pitch, throttle or yaw. A warning where the function neither arms
    nor stops the craft, nor takes it out of the pilot's hands.

    In the air: flying works the function: a full stick disarms, stops the motors, turns the craft
    over or sends it home, in the middle of a turn; or a buzzer sounds with every turn.
    Mend: move the function to a channel with a switch of its own; or the stick, where the channel
    map is what is wrong.
    Source: common practice. What is wanted of the throttle is left in peace: arm_interlock on a
    closed one, what another channel must switch on as well (switches_join = all), a log or full
    video power that begin as it opens.
    """
    yield from untrusted(craft)
    ranges = craft.switches.ranges.all()
    if not any(ranges.get(function) for function in _BY_STICK):
        return
    mapped = craft.receiver.map.all()
    sticks = [(control, mapped[control]) for control in PRIMARY if control in mapped]
    functions_of = dict(_works(ranges))
    items = [
        (function, control, channel)
        for function in _BY_STICK
        for control, channel in sticks
        if function in functions_of.get(channel, ())
    ]
    yield from each(items, lambda item: _by_stick(craft, *item))


def _by_stick(craft: Craft, function: str, control: str, channel: int) -> Iterator[Yielded]:
    if control == "throttle" and (
        function in _WITH_THROTTLE or _wants_it_closed(craft, function, channel)
    ):
        return
    yield Fires(
        f"The {function} switch is on channel {channel}, which is the {control} stick: "
        f"{_BY_STICK[function]} as it is flown.",
        (craft.switches.path_of(function), craft.receiver.map.path(control)),
        (("channel", float(channel)),),
        advice=f"Move {function} to a channel with a switch of its own; where {control} is not on "
        f"channel {channel}, correct the channel map.",
        level=None if function in ("arm", *_GRAVE) else Level.WARNING,
    )


def _wants_it_closed(craft: Craft, function: str, channel: int) -> bool:
    """Whether a function on the throttle's channel only asks that the throttle be closed.

    Raises NotStated.
    """
    spans = real(craft.switches.of(function))
    elsewhere = any(span.channel != channel for span in spans)
    if function != "arm_interlock" and (function == "arm" or not elsewhere):
        return False
    low, high = travel(craft, channel)
    closed = low + (high - low) * _OPEN_PERCENT / 100
    if not all(s.low <= low and s.high <= closed for s in spans if s.channel == channel):
        return False
    return function == "arm_interlock" or craft.switches_join == "all"


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
                    _of_range(span),
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
    beyond = {span.channel for _, span in used if span.channel > carried}
    for function, span in used:
        if span.channel > carried:
            advice = (
                f"Move {function} to a channel from 1 to {carried} that nothing else has."
                f"{_free(craft)}"
            )
            if len(beyond) > 1 or _none_free(craft):
                advice = (
                    "Look at receiver.channels first: how many channels the link carries stands "
                    f"in the receiver's papers. If it is {carried}, {advice[0].lower()}{advice[1:]}"
                )
            yield Fires(
                f"The {function} switch is on channel {span.channel}, "
                f"but the link carries {carried} channels.",
                (craft.switches.path_of(function), "receiver.channels"),
                (("channel", float(span.channel)), ("channels", float(carried))),
                advice=advice,
            )


ARM = "switches.arm"


def ends_of(span: SwitchRange) -> str:
    """A range in words: `1,700 to 2,100 us`."""
    return f"{grouped(span.low)} to {grouped(span.high)} us"


def stretch(low: int, high: int) -> str:
    """A stretch of whole pulses in words: `1,700 to 2,100 us`, or `1,700 us` where it is one."""
    return f"{grouped(low)} to {grouped(high)} us" if low < high else f"{grouped(low)} us"


def real(spans: tuple[SwitchRange, ...]) -> list[SwitchRange]:
    """The ranges that can be met at all, in order."""
    return sorted(span for span in spans if span.low < span.high)


def ranges_of(craft: Craft, function: str) -> tuple[SwitchRange, ...]:
    """A function's ranges. Raises NotStated where they are stated, but can't be trusted."""
    path = craft.switches.path_of(function)
    if path in unreadable(craft):
        raise NotStated(path)
    if path not in craft.settings:
        craft.settings.need_all("switches", "", path)
    return craft.switches.of(function)


def untrusted(craft: Craft) -> Iterator[Lacks]:
    """What a rule about all functions could not look at: ranges that can't be trusted."""
    return (Lacks(path) for path in unreadable(craft) if path.startswith("switches."))


def every_range(craft: Craft) -> "Iterator[tuple[str, SwitchRange] | Lacks]":
    """Each range that can be met at all, with its function; first those that can't be trusted."""
    yield from untrusted(craft)
    for function, spans in craft.switches.ranges.all().items():
        yield from ((function, span) for span in real(spans))


def _of_range(span: SwitchRange) -> tuple[tuple[str, float], ...]:
    """A range as figures."""
    return (
        ("channel", float(span.channel)),
        ("range_low_us", span.low),
        ("range_high_us", span.high),
    )


class Contradiction(NamedTuple):
    """Two functions of which one undoes what the other is there for.

    Where it is only `always` one, the first may be on with the other, but not nowhere without it.
    """

    one: str
    other: str
    level: Level
    because: str
    always: bool = False


_LYING = "one turns over a craft that lies on the ground, the other flies one"
_STOPPED = "one keeps the craft in the air, the other stops its motors"

# What contradicts what (common practice). Two functions that add to each other are not here:
# self_level goes with all of them (with self_right while it can be had without), altitude_hold with
# position_hold, overlay_off with camera_menu. Nor are those that do not touch the flight: buzzer,
# flight_log, overlay_off, video_full_power. `failsafe` plays a lost link on purpose, over whatever
# else is on; whether arm_interlock bars or allows arming is the firmware's affair.
CONTRADICTIONS: Final = (
    Contradiction(
        "arm",
        "self_right",
        Level.ERROR,
        "what arms the craft for a flight also has the motors turn it over",
    ),
    Contradiction(
        "arm", "motors_kill", Level.ERROR, "one releases the motors, the other stops them"
    ),
    Contradiction(
        "position_hold", "return_home", Level.WARNING, "one stays where it is, the other leaves"
    ),
    Contradiction(
        "altitude_hold",
        "return_home",
        Level.WARNING,
        "one keeps the height it has, the other takes the height set for the way home and lands",
    ),
    *(
        Contradiction(flying, "self_right", Level.WARNING, _LYING)
        for flying in ("altitude_hold", "position_hold", "return_home")
    ),
    *(
        Contradiction(flying, "motors_kill", Level.WARNING, _STOPPED)
        for flying in ("altitude_hold", "position_hold", "return_home")
    ),
    Contradiction("self_level", "self_right", Level.WARNING, _LYING, always=True),
    Contradiction(
        "self_right",
        "motors_kill",
        Level.WARNING,
        "one turns the craft over with its motors, the other stops them",
    ),
)
_CONTRADICTING: Final = frozenset(
    frozenset((c.one, c.other)) for c in CONTRADICTIONS if not c.always
)


@rule("switch/armed-at-rest", Level.ERROR)
def armed_at_rest(craft: Craft) -> Iterator[Yielded]:
    """Arm is on at its channel's lowest pulse, where a switch rests.

    In the air: at the bench already a transmitter that is switched on with all its switches at
    rest arms the craft, and so may a channel that reads its lowest value for want of a signal.
    Mend: move arm to the upper end of the travel.
    Source: common practice. Where the whole travel arms, switch/always-armed says so instead.
    """
    yield from _as_joined(craft, ranges_of(craft, "arm"), _at_rest)


def _at_rest(craft: Craft, channel: int, _: list[SwitchRange]) -> Iterator[Yielded]:
    positions = swept(craft, {"arm": craft.switches.of("arm")}, channel)
    if len(positions) > 1 and "arm" in positions[0].active:
        rest = craft.receiver.low_of(channel)
        yield Fires(
            f"Channel {channel} rests at {grouped(rest)} us, where arm is on: "
            f"{stretch(positions[0].low, positions[0].high)}.",
            (ARM, _travel_path(craft, channel, "low")),
            (
                ("channel", float(channel)),
                ("rest_us", rest),
                ("armed_low_us", float(positions[0].low)),
                ("armed_high_us", float(positions[0].high)),
            ),
            advice="Move arm to the upper end of the travel.",
        )


def _travel_path(craft: Craft, channel: int, end: str) -> str:
    """The path that states an end of a channel's travel."""
    ends = craft.receiver.ends[str(channel)]
    return ends.path(end) if ends.states(end) else craft.receiver.path(end)


def _channels_of_arm(craft: Craft) -> Iterator[int | Lacks]:
    yield from untrusted(craft)
    yield from channels_of({"arm": tuple(real(ranges_of(craft, "arm")))})


@rule("switch/arm-shared", Level.WARNING, over=_channels_of_arm)
def arm_shared(craft: Craft, channel: int) -> Iterator[Yielded]:
    """A position of arm's switch works another function too.

    An error where that is the way home or the failsafe and no position arms without it.

    In the air: who wants that function arms the craft with it, and who arms the craft gets that
    function unasked: with the way home it leaves as it is armed.
    Mend: give the function a channel of its own.
    Source: common practice: a log, full video power or level whenever the craft is armed are
    ordinary. What contradicts arm is said by switch/both-active instead.
    """
    ranges = craft.switches.ranges.all()
    usual = {"arm", *_WITH_ARM}
    others = [f for f in ranges if f not in usual and {f, "arm"} not in _CONTRADICTING]
    if not any(span.channel == channel for other in others for span in ranges[other]):
        return
    positions = swept(craft, ranges, channel)
    for other in others:
        stretches = list(met(positions, "arm", other))
        if stretches:
            yield Fires(
                f"Channel {channel} arms the craft and works {other} at once: {_said(stretches)}.",
                (ARM, craft.switches.path_of(other)),
                _figures(channel, stretches),
                advice=f"Give {other} a channel of its own.{_free(craft)}",
                level=Level.ERROR
                if other in _GRAVE and _never_alone(craft, channel, other)
                else None,
            )


@rule("switch/grave-shared", Level.WARNING)
def grave_shared(craft: Craft) -> Iterator[Yielded]:
    """A position of a switch has a grave function on, and another that has nothing to do with it.

    Those are the motor stop, failsafe, the way home and self-righting. An error where what stops
    the motors or turns the craft over is on wherever the other one is.

    In the air: who wants the buzzer or the log stops the motors, or sends the craft home.
    Mend: give the grave function a channel of its own.
    Source: common practice. Level with the way home is in order; what contradicts each other is
    said by switch/both-active, what is with arm by switch/arm-shared.
    """
    yield from untrusted(craft)
    ranges = craft.switches.ranges.all()
    told = {frozenset((pair.one, pair.other)) for pair in CONTRADICTIONS}
    told |= {frozenset((home, "self_level")) for home in _FLIES_BY_ITSELF}
    pairs = [
        (channel, grave, other)
        for channel, functions in _works(ranges)
        for grave in _GRAVE
        for other in ranges
        if functions >= {grave, other} and {grave, other} not in told
        if other not in (*_GRAVE, "arm", "arm_interlock")
    ]
    yield from each(pairs, lambda item: _with_grave(craft, *item))


_FLIES_BY_ITSELF: Final = ("return_home", "failsafe")


def _with_grave(craft: Craft, channel: int, grave: str, other: str) -> Iterator[Yielded]:
    stretches = _both_on(craft, channel, grave, other)
    if not stretches:
        return
    ranges = craft.switches.ranges.all()
    on = [active_at(ranges, channel, pulse) for pulse in resting(craft, ranges, channel)]
    always = all(grave in active for active in on if other in active)
    yield Fires(
        f"Channel {channel} has {grave} and {other} on at once, {_said(stretches)}: "
        f"{_DOES[grave]} for whoever wants {other}.",
        (craft.switches.path_of(grave), craft.switches.path_of(other)),
        _figures(channel, stretches),
        advice=f"Give {grave} a channel of its own.{_free(craft)}",
        level=Level.ERROR if always and grave not in _FLIES_BY_ITSELF else None,
    )


# What many wish for whenever the craft is armed.
_WITH_ARM: Final = ("flight_log", "video_full_power", "self_level")
# What is there for the flight, and of no use while disarmed.
_IN_FLIGHT: Final = (
    "self_level",
    "altitude_hold",
    "position_hold",
    "flight_log",
    "video_full_power",
)


@rule("switch/off-when-armed", Level.WARNING)
def off_when_armed(craft: Craft) -> Iterator[Yielded]:
    """A function for the flight is on arm's switch, and only where that leaves the craft disarmed.

    In the air: it is never on: a craft that was to level does not, a flight is not logged.
    Mend: give the function a channel of its own, or the position that arms.
    Source: common practice. The way home at rest is switch/on-at-rest's matter.
    """
    yield from untrusted(craft)
    if craft.arming.by == "switch":
        yield from each(_IN_FLIGHT, lambda function: _never_armed(craft, function))


def _never_armed(craft: Craft, function: str) -> Iterator[Yielded]:
    two = {name: craft.switches.of(name) for name in ("arm", function)}
    channels = {name: {span.channel for span in real(spans)} for name, spans in two.items()}
    if len(channels["arm"]) != 1 or channels["arm"] != channels[function]:
        return
    (channel,) = channels["arm"]
    positions = swept(craft, two, channel)
    on = {name for position in positions for name in position.active}
    if on == {"arm", function} and not list(met(positions, "arm", function)):
        yield Fires(
            f"On channel {channel} {function} is on only where arm is off "
            f"({listed([ends_of(span) for span in real(two[function])])}): never in flight.",
            (craft.switches.path_of(function), ARM),
            (("channel", float(channel)),),
            advice=f"Give {function} a channel of its own.{_free(craft)}",
        )


def _none_free(craft: Craft) -> bool:
    """Whether each channel that the link carries has something on it, as far as is stated."""
    sticks = craft.receiver.map.stated()
    return all(control in sticks for control in PRIMARY) and not free_channels(craft)


def _free(craft: Craft) -> str:
    """A sentence about the channels that nothing has yet; empty where that is not known."""
    free = [f"{number}" for number in free_channels(craft)[:_MOST_NAMED]]
    if len(free) > 1:
        return f" Channels {listed(free)} are free."
    return f" Channel {free[0]} is free." if free else ""


_MOST_NAMED: Final = 3


def _never_alone(craft: Craft, channel: int, other: str) -> bool:
    """Whether wherever arm's switch rests with arm on, the other function is on too."""
    ranges = craft.switches.ranges.all()
    return _goes_with(ranges, channel, resting(craft, ranges, channel), "arm", other)


def _goes_with(ranges: Ranges, channel: int, pulses: Iterable[float], one: str, other: str) -> bool:
    """Whether of these pulses some have the one function on, and all of those the other too."""
    on = [active_at(ranges, channel, pulse) for pulse in pulses]
    having = [active for active in on if one in active]
    return bool(having) and all(other in active for active in having)


def _said(stretches: list[tuple[int, int]]) -> str:
    return listed([stretch(low, high) for low, high in stretches])


def _figures(channel: int, stretches: list[tuple[int, int]]) -> tuple[tuple[str, float], ...]:
    return (
        ("channel", float(channel)),
        ("both_low_us", float(stretches[0][0])),
        ("both_high_us", float(stretches[-1][1])),
    )


@rule("switch/range-unreachable", Level.WARNING, over=every_range)
def range_unreachable(craft: Craft, of: tuple[str, SwitchRange]) -> Iterator[Yielded]:
    """A range lies wholly outside the travel of its channel.

    In the air: the switch never switches the function on; if it is the way home or the motor
    stop, it is missing when it is wanted.
    Mend: move the range into the travel.
    Source: common practice.
    """
    function, span = of
    low, high = travel(craft, span.channel)
    if span.low > high or span.high < low:
        end = "high" if span.low > high else "low"
        yield Fires(
            f"The {function} range {ends_of(span)} lies outside the travel of channel "
            f"{span.channel}, {grouped(low)} to {grouped(high)} us.",
            (craft.switches.path_of(function), _travel_path(craft, span.channel, end)),
            (*_of_range(span), ("travel_low_us", low), ("travel_high_us", high)),
            advice=f"Move the range into {grouped(low)} to {grouped(high)} us.",
        )


def _at_odds(craft: Craft) -> Iterator[tuple[int, Contradiction] | Lacks]:
    """The contradictions that stand on one channel."""
    yield from untrusted(craft)
    ranges = craft.switches.ranges.all()
    for channel, functions in _works(ranges):
        yield from (
            (channel, pair) for pair in CONTRADICTIONS if functions >= {pair.one, pair.other}
        )


def _works(ranges: Ranges) -> list[tuple[int, set[str]]]:
    """Each channel that works a function, from low to high, with its functions."""
    on = {function: {span.channel for span in spans} for function, spans in ranges.items()}
    return [(channel, {f for f in on if channel in on[f]}) for channel in channels_of(ranges)]


@rule("switch/both-active", Level.WARNING, over=_at_odds)
def both_active(craft: Craft, of: tuple[int, Contradiction]) -> Iterator[Yielded]:
    """One position of one switch has two functions on that contradict each other.

    Ranges that only meet, one ending where the other begins, are sound: no switch rests there.

    In the air: which of the two goes first is the firmware's affair, and one of them is missing
    where the pilot counts on it; with arm it is an error, for the motors may start as nobody
    expects; and so it is where the motors are stopped in every position that has the other on.
    Levelling may stand beside self-righting as long as some position levels without it.
    Mend: give the two positions of their own, or channels of their own.
    Source: common practice. Functions on two channels are not judged: a pilot can switch one off
    before the other.
    """
    channel, pair = of
    both = _both_on(craft, channel, pair.one, pair.other)
    stretches = [(low, high) for low, high in both if low < high]  # no switch rests there
    always = _never_without(craft, channel, pair)
    if stretches and (always or not pair.always):
        yield Fires(
            f"Channel {channel} has {pair.one} and {pair.other} on at once, "
            f"{_said(stretches)}: {pair.because}.",
            (craft.switches.path_of(pair.one), craft.switches.path_of(pair.other)),
            _figures(channel, stretches),
            advice=f"Give the two positions or channels of their own.{_free(craft)}",
            level=Level.ERROR if always and pair.because == _STOPPED else pair.level,
            air=_both_in_the_air(pair),
        )


def _both_on(craft: Craft, channel: int, one: str, other: str) -> list[tuple[int, int]]:
    """The stretches of a channel's travel where two functions are on at once."""
    ranges = craft.switches.ranges.all()
    return list(met(swept(craft, {one: ranges[one], other: ranges[other]}, channel), one, other))


def _both_in_the_air(pair: Contradiction) -> str:
    if "arm" in (pair.one, pair.other):
        return "the motors may start as nobody expects, or stay still when it is armed."
    if pair.because == _STOPPED:
        return "the motors may stop while the pilot counts on the craft to hold itself: it falls."
    if pair.because == _LYING:
        return (
            "the motors may turn the craft over while it flies; or it lies there, and they do not."
        )
    return (
        "which of the two goes first is the firmware's affair; the other is missing where the "
        "pilot counts on it."
    )


def _never_without(craft: Craft, channel: int, pair: Contradiction) -> bool:
    """Whether the second function is on wherever the first is.

    At either end of the switch, and in its middle, whether or not it rests there.
    """
    low, high = travel(craft, channel)
    pulses = low, (low + high) / 2, high
    return _goes_with(craft.switches.ranges.all(), channel, pulses, pair.one, pair.other)


@rule("switch/on-at-rest", Level.ERROR, over=lambda craft: (*untrusted(craft), *_GRAVE))
def on_at_rest(craft: Craft, function: str) -> Iterator[Yielded]:
    """A grave function is on at its channel's lowest pulse, where a switch rests.

    Those are the motor stop, failsafe, the way home and self-righting; for arm there are rules of
    its own. The whole travel is a rest too.

    In the air: nobody asked for it: the motors stop, or the craft leaves or turns over, as soon as
    it is armed.
    Mend: move the function to the upper end of the travel.
    Source: common practice.
    """
    yield from _as_joined(craft, craft.switches.of(function), partial(_rests_on, function))


def _rests_on(
    function: str, craft: Craft, channel: int, spans: list[SwitchRange]
) -> Iterator[Yielded]:
    rest = craft.receiver.low_of(channel)
    for span in spans:
        if span.low <= rest <= span.high:
            yield Fires(
                f"Channel {channel} rests at {grouped(rest)} us, where {function} is on "
                f"({ends_of(span)}): {_DOES[function]}.",
                (craft.switches.path_of(function), _travel_path(craft, channel, "low")),
                (
                    ("channel", float(channel)),
                    ("rest_us", rest),
                    ("range_low_us", span.low),
                    ("range_high_us", span.high),
                ),
                advice=_off_the_rest(craft, function, channel),
            )


def _off_the_rest(craft: Craft, function: str, channel: int) -> str:
    """Where to move a grave function; not to an end of the travel that another one has."""
    high = craft.receiver.high_of(channel)
    others = [
        other
        for other, spans in craft.switches.ranges.stated().items()
        if other != function
        if any(s.channel == channel and s.low <= high <= s.high for s in real(spans))
    ]
    if not others:
        return f"Move {function} to the upper end of the travel."
    return (
        f"Put {function} on a switch of its own, at the upper end of its travel: that of channel "
        f"{channel} has {listed(others)}."
    )


@rule("switch/on-the-way", Level.WARNING, over=every_range)
def on_the_way(craft: Craft, of: tuple[str, SwitchRange]) -> Iterator[Yielded]:
    """A function is on between two positions of its switch, or a grave one in the middle of it.

    In the air: it comes on for a moment whenever the switch is moved through; no position holds it,
    or what stops the motors or turns the craft over is met on the way to something else.
    Mend: put the range round a position; a grave function at one end.
    Source: common practice. A dial can rest anywhere; of a switch the ends are known, and a middle
    where another range tells of one.
    """
    function, span = of
    channel = span.channel
    low, high = travel(craft, channel)
    if span.low > high or span.high < low or span.low <= low or span.high >= high:
        return
    rests = resting(craft, craft.switches.ranges.all(), channel)
    held = [pulse for pulse in rests if span.low <= pulse <= span.high]
    if held and function not in ("motors_kill", "self_right"):
        return
    how = (
        f"in the middle of its switch, which is met on the way from {grouped(low)} to "
        f"{grouped(high)} us"
        if held
        else f"between two positions of its switch: it rests at "
        f"{listed([grouped(pulse) for pulse in rests])} us"
    )
    yield Fires(
        f"On channel {channel} {function} is on at {ends_of(span)}, {how}.",
        (craft.switches.path_of(function),),
        _of_range(span),
        advice="Put the range round a position of the switch, a grave function at one end.",
    )


@rule("switch/edge-at-position", Level.WARNING, limits=("switch.edge_room_least",))
def edge_at_position(craft: Craft, least: float) -> Iterator[Yielded]:
    """A range begins or ends where the switch rests, or hardly beside it.

    In the air: a worn or a cold switch chatters: the function comes on and goes off where the pilot
    moved nothing. Where arm is what comes on it is an error.
    Mend: leave room between the range's end and the position.
    Source: common practice. Three positions cut where they meet (900..1300..1700..2100 us) are
    sound: no switch rests there. The middle counts where a range tells that the switch has one.
    Where the position arms at rest, switch/armed-at-rest says it, and no more than that.
    """
    yield from untrusted(craft)
    ranges = craft.switches.ranges.all()
    spans = [(function, span) for function, all_of in ranges.items() for span in real(all_of)]
    at_rest = if_stated(lambda: list(armed_at_rest.check(craft)), [])
    armed = any(isinstance(found, Fires) for found in at_rest)
    yield from each(spans, lambda item: _edges(craft, *item, least, armed))


def _edges(
    craft: Craft, function: str, span: SwitchRange, least: float, armed: bool
) -> Iterator[Yielded]:
    ranges = craft.switches.ranges.all()
    own = [other for other in ranges[function] if other.channel == span.channel]
    # where one range of the function goes on with the next, nothing changes
    inner = {end for other in own for end in (other.low, other.low - _STEP_US)}
    inner &= {end for other in own for end in (other.high, other.high + _STEP_US)}
    rests = resting(craft, ranges, span.channel)
    if not (armed and function == "arm"):
        yield from _in_the_middle(craft, function, span, rests, least)
    for pulse in rests:
        for edge, end in ((span.low, "begins"), (span.high, "ends")):
            # a range that the travel hardly reaches is receiver/ends-too-narrow's matter
            reached = (pulse == rests[0] and end == "ends") or (
                pulse == rests[-1] and end == "begins"
            )
            told = armed and function == "arm" and pulse == rests[0] >= span.low
            if abs(edge - pulse) < least and edge not in inner and not reached and not told:
                yield Fires(
                    f"On channel {span.channel} {function} {end} at {grouped(edge)} us, "
                    f"{grouped(abs(edge - pulse))} us from where the switch rests, "
                    f"{grouped(pulse)} us; at least {grouped(least)} us is wanted.",
                    (craft.switches.path_of(function),),
                    (
                        ("channel", float(span.channel)),
                        ("edge_us", edge),
                        ("position_us", pulse),
                        ("room_us", abs(edge - pulse)),
                        ("least_us", least),
                    ),
                    advice=f"Leave at least {grouped(least)} us between the two.",
                    level=Level.ERROR if function == "arm" and pulse < span.low else None,
                )


def _in_the_middle(
    craft: Craft, function: str, span: SwitchRange, rests: tuple[float, ...], least: float
) -> Iterator[Yielded]:
    """A note on what starts or stops the motors from the middle on, where nothing tells of one."""
    if len(rests) != 2 or function not in ("arm", "motors_kill"):
        return
    middle = sum(rests) / 2
    for edge, end in ((span.low, "begins"), (span.high, "ends")):
        if abs(edge - middle) < least:
            yield Fires(
                f"On channel {span.channel} {function} {end} at {grouped(edge)} us, in the middle "
                "of the travel: a switch of three positions would rest on that edge.",
                (craft.switches.path_of(function),),
                (("channel", float(span.channel)), ("edge_us", edge), ("position_us", middle)),
                advice="Leave it where the switch has two positions; else end the range well "
                "beside the middle.",
                level=Level.NOTE,
            )


@rule("switch/ranges-overlap", Level.WARNING)
def ranges_overlap(craft: Craft) -> Iterator[Yielded]:
    """Two ranges of one channel overlap in part.

    In the air: in the stretch that they share both functions are on, which one of the two is there
    to end.
    Mend: let one end where the other begins.
    Source: common practice. A range within another is left in peace: it adds a function on
    purpose. Where the overlap is said by switch/arm-shared or switch/both-active, it is not said
    again.
    """
    yield from untrusted(craft)
    ranges = craft.switches.ranges.all()
    spans = sorted((span, name) for name, all_of in ranges.items() for span in real(all_of))
    for (lower, one), (upper, other) in combinations(spans, 2):
        shared = lower.high - upper.low
        if lower.channel != upper.channel or upper.high <= lower.high or upper.low == lower.low:
            continue
        elsewhere = "arm" in (one, other) or {one, other} in _CONTRADICTING
        if shared > 0 and one != other and not elsewhere:
            paths = dict.fromkeys((craft.switches.path_of(one), craft.switches.path_of(other)))
            yield Fires(
                f"On channel {lower.channel} {one} ({ends_of(lower)}) and {other} "
                f"({ends_of(upper)}) overlap by {grouped(shared)} us.",
                tuple(paths),
                (
                    ("channel", float(lower.channel)),
                    ("lower_ends_us", lower.high),
                    ("upper_begins_us", upper.low),
                    ("shared_us", shared),
                ),
                advice="Let one end where the other begins.",
            )


# What a pilot reaches for without looking.
_IN_A_HURRY: Final = ("self_level", "altitude_hold", "position_hold", "return_home", "failsafe")


@rule("switch/kill-in-reach", Level.WARNING)
def kill_in_reach(craft: Craft) -> Iterator[Yielded]:
    """What stops the motors is on the same switch as a function that is reached for in a hurry.

    In the air: the pilot reaches for level or the way home without looking, goes one position too
    far, and the motors stop.
    Mend: give motors_kill a switch of its own.
    Source: common practice. Where both are on at once, switch/both-active says so.
    """
    yield from untrusted(craft)
    ranges = craft.switches.ranges.all()
    kills = {span.channel for span in real(ranges.get("motors_kill", ()))}
    for function in _IN_A_HURRY:
        wanted = real(ranges.get(function, ()))
        for channel in sorted(kills & {span.channel for span in wanted}):
            if {function, "motors_kill"} in _CONTRADICTING and any(
                one.meets(other) for one in wanted for other in real(ranges["motors_kill"])
            ):
                continue
            yield Fires(
                f"Channel {channel} works {function} and, in another position, motors_kill.",
                (craft.switches.path_of("motors_kill"), craft.switches.path_of(function)),
                (("channel", float(channel)),),
                advice=f"Give motors_kill a switch of its own.{_free(craft)}",
            )


@rule("switch/arms-with-throttle", Level.ERROR)
def arms_with_throttle(craft: Craft) -> Iterator[Yielded]:
    """The craft may be armed with the throttle above a fifth of its travel.

    In the air: nothing yet: it leaps from the ground, or from the hand, as it is armed.
    Mend: let it arm below a twentieth of the travel only.
    Source: common practice.
    """
    channel = craft.receiver.map["throttle"]
    low, high = travel(craft, channel)
    below, limit = craft.arming.throttle_below, low + (high - low) * _OPEN_PERCENT / 100
    if below > limit:
        yield Fires(
            f"It arms with the throttle up to {grouped(below)} us, above {grouped(limit)} us: "
            f"{grouped(low)} us and a fifth of the travel.",
            (craft.arming.path("throttle_below"), craft.receiver.map.path("throttle")),
            (
                ("throttle_below_us", below),
                ("limit_us", limit),
                ("low_us", low),
                ("high_us", high),
            ),
            advice=f"Let it arm below {grouped(low + (high - low) / 20)} us only.",
        )


RULES = (
    no_arm,
    always_armed,
    armed_at_failsafe_value,
    on_stick,
    range_empty,
    channel_not_carried,
    armed_at_rest,
    on_at_rest,
    on_the_way,
    arm_shared,
    off_when_armed,
    grave_shared,
    range_unreachable,
    both_active,
    kill_in_reach,
    edge_at_position,
    ranges_overlap,
    arms_with_throttle,
)
