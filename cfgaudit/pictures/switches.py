"""The switches: what is on at which pulse of each channel, as swept from end to end."""

from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.craft.switches import Switch, SwitchTable, resting, switch_table
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WHOLE, WIDTH, Drawing, NumberTable, Picture, Scale, View
from cfgaudit.rules.rule import listed
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import FUNCTIONS
from cfgaudit.vocabulary.units import number_text

NAME, TITLE = "switches", "What each switch position has on"
ARM: Final = "arm"
_LEFT: Final = 138.0
_LANE: Final = 22.0
_BOLD: Final = 8.6  # how wide a bold letter is on a narrow page, where type is the largest


class Lane(NamedTuple):
    """One function on one channel: the stretches of pulses in us, both ends in, where it is on."""

    function: str
    spans: tuple[tuple[int, int], ...]

    def is_on(self, pulse: float | None) -> bool:
        """Whether it is on at a pulse."""
        return pulse is not None and any(low <= pulse <= high for low, high in self.spans)


class Channel(NamedTuple):
    """One channel: its travel in us, its functions, and where rest and link loss put it.

    `middle` is the pulse of a third position, where its functions tell of one.
    """

    label: str
    low: int
    high: int
    middle: float | None
    lanes: tuple[Lane, ...]
    rest: float
    lost: float | None  # None where it holds its last pulse or that is not stated
    lost_says: str


def data(craft: Craft) -> tuple[Channel, ...]:
    """Every channel that works a function. Raises NotStated where the dump states none."""
    table = switch_table(craft)
    found = tuple(_channel(craft, one) for one in table.switches if one.positions)
    if not found:
        raise NotStated(_lacking(table))
    return found


def _lacking(table: SwitchTable) -> str:
    return table.lacking[0][1] if table.lacking else "switches.FUNCTION"


def _channel(craft: Craft, switch: Switch) -> Channel:
    lost = switch.on_loss
    stops = resting(craft, craft.switches.ranges.stated(), switch.channel)
    says = "not stated" if lost is None else "held at its last pulse"
    return Channel(
        f"channel {switch.channel}" + (f" ({switch.control})" if switch.control else ""),
        switch.positions[0].low,
        switch.positions[-1].high,
        stops[1] if len(stops) > 2 else None,
        tuple(lanes(switch)),
        switch.rest,
        lost if isinstance(lost, float) else None,
        f"{number_text(lost)} us" if isinstance(lost, float) else says,
    )


def lanes(switch: Switch) -> list[Lane]:
    """The functions of a channel, each with where it is on; neighbouring positions as one."""
    every = {function for position in switch.positions for function in position.active}
    return [Lane(name, switch.spans(name)) for name in sorted(every, key=FUNCTIONS.index)]


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    channels = tuple(one for one in data(craft) if view.shows(one.label))
    rows = tuple(
        (one.label, lane.function, _spans(lane), _at(lane, one.rest), _at(lane, one.middle),
         _at(lane, one.high), _at(lane, one.lost), one.lost_says)
        for one in channels
        for lane in one.lanes
    )  # fmt: skip
    table = NumberTable(
        ("channel", "function", "on at", "down", "middle", "up", "on link loss", "link loss"), rows
    )
    key = (
        "Down is the channel's lowest pulse, up its highest. ▼ rest: down. ◆ link loss. "
        "The arming region is hatched."
    )
    return Picture(NAME, TITLE, _says(channels), _draw(channels, view), table, (key, *notes(craft)))


def notes(craft: Craft) -> tuple[str, ...]:
    """What is to be known besides."""
    if craft.arming.states("by") and craft.arming.by == "sticks":
        return ("The sticks arm the craft, whatever the arm switch does.",)
    return ()


def _spans(lane: Lane) -> str:
    return ", ".join(f"{low}..{high} us" for low, high in lane.spans)


def _at(lane: Lane, pulse: float | None) -> str:
    if pulse is None:
        return "-"
    return "on" if lane.is_on(pulse) else "off"


def _says(channels: tuple[Channel, ...]) -> str:
    told = []
    for one in channels:
        on = [f"{lane.function} at {_spans(lane)}" for lane in one.lanes]
        told.append(f"{one.label}, {one.low} to {one.high} us: {listed(on) if on else 'nothing'}")
    return ". ".join(told) + "."


def _draw(channels: tuple[Channel, ...], view: View) -> Drawing:
    low, high = min(c.low for c in channels), max(c.high for c in channels)
    lost = [c.lost for c in channels if c.lost is not None]
    axis = view.axis("pulse", int(min([low, *lost])), int(max([high, *lost])))
    scale = Scale(axis.low, axis.high, _LEFT, WIDTH - 12)
    body, y = [], 6.0
    for one in channels:
        body.append(_one(one, y, scale))
        y += 40 + _LANE * max(1, len(one.lanes))
    return Drawing(WIDTH, y, "".join(body), (axis,), tuple((one.label, one) for one in channels))


def _one(one: Channel, y: float, scale: Scale) -> str:
    top, count = y + 24, max(1, len(one.lanes))
    bottom = top + _LANE * count
    left, right = scale.at(one.low), scale.at(one.high)
    after = 4 + len(one.label) * _BOLD + 8  # a long label pushes the low end's number aside
    parts = [
        svg.text((4, y + 14), one.label, "t s"),
        svg.text((max(left, after), y + 14), f"down {one.low}", "t m position"),
        svg.text((right, y + 14), f"up {one.high} us", "t m position", "end"),
        svg.rect(left, top, right - left, bottom - top, "track"),
    ]
    if one.middle is not None:
        x = scale.at(one.middle)
        parts.append(svg.line((x, top - 4), (x, bottom), "stop"))
        parts.append(
            svg.text((x, y + 14), f"middle {number_text(one.middle)}", "t m position", "middle")
        )
    for n, lane in enumerate(one.lanes):
        parts.append(_lane(lane, top + n * _LANE, scale))
    rest = scale.at(one.rest)
    parts.append(svg.polygon([(rest - 5, top - 7), (rest + 5, top - 7), (rest, top)], "mark rest"))
    if one.lost is not None:
        x, middle = scale.at(one.lost), bottom + 6
        parts.append(svg.line((x, top), (x, bottom), "lost"))
        diamond = [(x, middle - 6), (x + 5, middle), (x, middle + 6), (x - 5, middle)]
        parts.append(svg.polygon(diamond, "mark loss"))
    return "".join(parts)


def _lane(lane: Lane, y: float, scale: Scale) -> str:
    name = lane.function.replace("_", " ")
    arm = lane.function == ARM
    parts = [
        svg.text((_LEFT - 8, y + 15), svg.fitting(name, _LEFT - 16), "t s" if arm else "t", "end")
    ]
    for low, high in lane.spans:
        x = scale.at(low)
        width = max(scale.at(high) - x, 2)
        parts.append(svg.rect(x, y + 3, width, _LANE - 6, "span arming" if arm else "span", 2))
        if width > 74:
            said = f"{low}–{high}"
            parts.append(
                svg.text((x + width / 2, y + 15), said, "t on" if not arm else "t halo", "middle")
            )
    return "".join(parts)
