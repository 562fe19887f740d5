"""Sweeps every switch through its positions and tabulates what is on where."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain, groupby, pairwise
from math import ceil, floor
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft, if_stated
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import FUNCTIONS, PRIMARY
from cfgaudit.vocabulary.kinds import SwitchRange

Ranges = Mapping[str, tuple[SwitchRange, ...]]  # by function


class SwitchPosition(NamedTuple):
    """A stretch of pulses in us, both ends in, and the functions on there, arm first."""

    low: int
    high: int
    active: tuple[str, ...]

    def holds(self, pulse: float) -> bool:
        """Whether a pulse in us lies in it."""
        return self.low <= pulse <= self.high


class Switch(NamedTuple):
    """One channel that works functions, swept from end to end.

    `rest` is its lowest pulse in us, which a switch takes while nobody touches it. `on_loss` is
    the pulse in us that it takes on link loss, or `hold`; None where that is not stated.
    """

    channel: int
    control: str  # as the receiver's map has it; empty where it names none
    positions: tuple[SwitchPosition, ...]
    rest: float
    on_loss: float | str | None
    active_on_loss: tuple[str, ...]  # empty where it holds or is not stated
    carried: bool | None  # whether the link carries it; None where that is not stated

    def rests_in(self, position: SwitchPosition) -> bool:
        """Whether the switch rests there: a channel's lowest pulse is where its travel begins."""
        return position == self.positions[0]

    def spans(self, function: str) -> tuple[tuple[int, int], ...]:
        """Where a function is on, both ends in us; neighbouring positions as one."""
        runs = groupby(self.positions, lambda position: function in position.active)
        on = [list(run) for works, run in runs if works]
        return tuple((run[0].low, run[-1].high) for run in on)

    def lost_in(self, position: SwitchPosition) -> bool:
        """Whether link loss takes the channel there."""
        return isinstance(self.on_loss, float) and position.holds(self.on_loss)


class SwitchTable(NamedTuple):
    """Every channel that works a function.

    `lacking` has the channels whose travel is not stated, each with the path that it lacked;
    `untrusted` has the functions whose ranges can't be read or trusted, and so are not in it.
    """

    switches: tuple[Switch, ...]
    lacking: tuple[tuple[int, str], ...]
    untrusted: tuple[str, ...]
    armed_by_switch: bool | None  # None where what arms the craft is not stated


def active_at(ranges: Ranges, channel: int, pulse: float) -> tuple[str, ...]:
    """The functions that are on at a channel's pulse in us. An empty range is never on."""
    return _in_order(
        function
        for function, spans in ranges.items()
        for span in spans
        if span.channel == channel and span.low < span.high and span.low <= pulse <= span.high
    )


def sweep(ranges: Ranges, channel: int, low: float, high: float) -> tuple[SwitchPosition, ...]:
    """A channel's positions from `low` to `high` in us, in order and without a gap.

    Neighbours differ in what is on. There is no position where no whole pulse lies in the travel.

    >>> arm = SwitchRange(5, 1700.0, 2100.0)
    >>> [tuple(position) for position in sweep({"arm": (arm,)}, 5, 1000.0, 2000.0)]
    [(1000, 1699, ()), (1700, 2000, ('arm',))]
    """
    first, after = ceil(low), floor(high) + 1
    ends = chain.from_iterable(
        (ceil(span.low), floor(span.high) + 1)
        for spans in ranges.values()
        for span in spans
        if span.channel == channel
    )
    cuts = sorted({first, *(end for end in ends if first < end < after), after})
    if first >= after:
        return ()
    pieces = [
        (start, stop - 1, active_at(ranges, channel, start)) for start, stop in pairwise(cuts)
    ]
    merged = [list(same) for _, same in groupby(pieces, lambda piece: piece[2])]
    return tuple(SwitchPosition(same[0][0], same[-1][1], same[0][2]) for same in merged)


def free_channels(craft: Craft) -> list[int]:
    """The channels that the link carries behind the sticks and nothing is on; none where unknown.

    Whether the transmitter has a switch for one, nobody states.
    """

    def free() -> list[int]:
        carried = range(1, craft.receiver.channels + 1)
        sticks = {craft.receiver.map[control] for control in PRIMARY}
        taken = sticks | set(channels_of(craft.switches.ranges.all()))
        if craft.receiver.states("signal_channel"):
            taken.add(craft.receiver.signal_channel)
        return [number for number in carried if number not in taken]

    return if_stated(free, [])


_MIDDLE_ROOM_US: Final = 50.0  # how far inside of its travel a range must end to tell of a middle


def resting(craft: Craft, ranges: Ranges, channel: int) -> tuple[float, ...]:
    """The pulses in us at which a channel's switch can rest: its ends, and perhaps its middle.

    It has a middle position where some range is on neither at its low end nor at its high end. The
    middle is the stated one, else halfway between the ends. Raises NotStated.
    """
    low, high = travel(craft, channel)
    inner = any(
        span.channel == channel
        and low + _MIDDLE_ROOM_US <= span.low < span.high <= high - _MIDDLE_ROOM_US
        for spans in ranges.values()
        for span in spans
    )
    if not inner:
        return low, high
    middle = if_stated(lambda: craft.receiver.centre_of(channel), (low + high) / 2)
    return low, middle, high


def joined(craft: Craft, met: Sequence[bool]) -> bool:
    """Whether a function is on, of which so many channels are each within its ranges or not.

    Raises NotStated where that hangs on how two channels join, and nothing says so.
    """
    if any(met) == all(met) or not met:
        return any(met)
    return craft.switches_join == "any"


def travel(craft: Craft, channel: int) -> tuple[float, float]:
    """The lowest and the highest pulse in us of a channel. Raises NotStated."""
    return craft.receiver.low_of(channel), craft.receiver.high_of(channel)


def channels_of(ranges: Ranges) -> list[int]:
    """The channels that any range is on, from low to high."""
    return sorted({span.channel for spans in ranges.values() for span in spans})


def swept(craft: Craft, ranges: Ranges, channel: int) -> tuple[SwitchPosition, ...]:
    """A channel's positions over its own travel. Raises NotStated where that is not stated."""
    return sweep(ranges, channel, *travel(craft, channel))


def switch_table(craft: Craft) -> SwitchTable:
    """The truth table of all switches; empty where the dump states no function."""
    ranges = craft.switches.ranges.stated()
    switches: list[Switch] = []
    lacking: list[tuple[int, str]] = []
    for channel in channels_of(ranges):
        try:
            switches.append(_switch(craft, ranges, channel))
        except NotStated as lack:
            lacking.append((channel, lack.path))
    by_switch = craft.arming.by == "switch" if craft.arming.states("by") else None
    return SwitchTable(tuple(switches), tuple(lacking), _untrusted(craft), by_switch)


def _untrusted(craft: Craft) -> tuple[str, ...]:
    """The functions that the dump states with ranges that can't be read or trusted."""
    settings = craft.settings
    doubted = [stated.path for stated in settings.stated.values() if stated.doubt]
    unread = [trouble.path for trouble in settings.troubles if trouble.path not in settings]
    parts = [path.split(".") for path in (*doubted, *unread)]
    return _in_order(word[1] for word in parts if word[0] == "switches" and word[1] in FUNCTIONS)


def _switch(craft: Craft, ranges: Ranges, channel: int) -> Switch:
    on_loss: float | str | None = None
    if str(channel) in craft.failsafe.channels.stated():
        on_loss = craft.failsafe.channel(channel)
    return Switch(
        channel,
        next((name for name, at in craft.receiver.map.stated().items() if at == channel), ""),
        swept(craft, ranges, channel),
        craft.receiver.low_of(channel),
        on_loss,
        active_at(ranges, channel, on_loss) if isinstance(on_loss, float) else (),
        channel <= craft.receiver.channels if craft.receiver.states("channels") else None,
    )


def _in_order(functions: Iterable[str]) -> tuple[str, ...]:
    """Functions, each once, in the vocabulary's order."""
    return tuple(sorted(set(functions), key=FUNCTIONS.index))


def met(positions: Iterable[SwitchPosition], one: str, other: str) -> Iterator[tuple[int, int]]:
    """The stretches of pulses in us, both ends in, where two functions are on at once."""
    ends = [(p.low, p.high) for p in positions if one in p.active and other in p.active]
    while ends:
        low, high = ends.pop(0)
        while ends and ends[0][0] == high + 1:
            high = ends.pop(0)[1]
        yield low, high
