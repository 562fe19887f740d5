"""What the rules about switches ask of the ranges, with the care that an absent value needs."""

from collections.abc import Iterator
from itertools import groupby

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.values import SwitchRange
from cfgaudit.rules.rule import Lacks
from cfgaudit.rules.wiring import unreadable
from cfgaudit.rules.wording import grouped

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


def on_each_channel(spans: tuple[SwitchRange, ...]) -> list[tuple[int, list[SwitchRange]]]:
    """Ranges that can be met at all, by channel, from low to high."""
    by_channel = groupby(real(spans), lambda span: span.channel)
    return [(channel, list(same)) for channel, same in by_channel]


def ranges_of(craft: Craft, function: str) -> tuple[SwitchRange, ...]:
    """A function's ranges. Raises NotStated where they are stated, but can't be trusted."""
    path = craft.switches.path_of(function)
    if path in unreadable(craft):
        raise NotStated(path)
    return craft.switches.of(function)


def untrusted(craft: Craft) -> Iterator[Lacks]:
    """What a rule about all functions could not look at: ranges that can't be trusted."""
    for path in unreadable(craft):
        if path.startswith("switches."):
            yield Lacks(path)
