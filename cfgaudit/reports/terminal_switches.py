"""The screen of `show DUMP switches`: what each position of each switch has on."""

import textwrap
from collections.abc import Iterator
from typing import Final

from cfgaudit.craft.switches import Switch, SwitchTable
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.vocabulary.units import number_text

Row = tuple[Piece | str, ...]
_LEAST_ROOM: Final = 16  # characters for the functions; the longest name has as many
_HEAD: Final = ("channel", "pulse, us", "on", "")


def draw_switches(screen: Screen, table: SwitchTable) -> None:
    """The truth table below what is on the screen; nothing where no switch works anything."""
    rows = [row for switch in table.switches for row in _rows(switch, table.armed_by_switch)]
    if rows:
        screen.blank()
        screen.line(Piece("what is on at each position of each switch", "strong"))
        screen.table(_wrapped(rows, screen.width))
    remarks = list(_remarks(table))
    if remarks:
        screen.blank()
    for remark in remarks:
        screen.paragraph(remark)


def _rows(switch: Switch, by_switch: bool | None) -> list[tuple[str, str, str, Piece]]:
    """Channel (in the first row alone), pulses, functions and marks of each position."""
    found = [
        (
            float(position.low),
            f"{position.low}..{position.high}",
            position.active,
            ["rest"] * switch.rests_in(position) + ["link loss"] * switch.lost_in(position),
        )
        for position in switch.positions
    ]
    lost = switch.on_loss
    if isinstance(lost, float) and not any(map(switch.lost_in, switch.positions)):
        found.append((lost, number_text(lost), switch.active_on_loss, ["link loss"]))
    if not found:
        found.append((0.0, "none", (), ["no travel"]))
    names = [f"{switch.channel} {switch.control}".rstrip(), *[""] * len(found)]
    return [
        (name, pulses, ", ".join(active) or "-", _marks(marks, active, by_switch, switch.carried))
        for name, (_, pulses, active, marks) in zip(names, sorted(found), strict=False)
    ]


def _marks(
    marks: list[str], active: tuple[str, ...], by_switch: bool | None, carried: bool | None
) -> Piece:
    """What is to be known of a position, the gravest first; armed at rest or on loss stands out."""
    armed = "arm" in active and by_switch is not False and carried is not False
    words = ["ARMED"] * armed + marks + ["not carried"] * (carried is False)
    style = ("warning" if marks else "strong") if armed else "quiet"
    return Piece(", ".join(words), style)


def _wrapped(rows: list[tuple[str, str, str, Piece]], width: int) -> Iterator[Row]:
    """The rows below their heads, the functions broken so that the marks stay on the screen."""
    beside = [(row[0], row[1], row[3].text) for row in rows] + [(_HEAD[0], _HEAD[1], "")]
    taken = 2 + sum(max(len(row[i]) for row in beside) + 2 for i in range(3))
    yield tuple(Piece(head, "quiet") for head in _HEAD)
    for name, pulses, functions, marks in rows:
        first, *more = textwrap.wrap(functions, max(_LEAST_ROOM, width - taken)) or ["-"]
        yield name, pulses, first, marks
        yield from (("", "", part, "") for part in more)


def _remarks(table: SwitchTable) -> Iterator[str]:
    if table.untrusted:
        yield f"Not in the table, for what is stated can't be read: {', '.join(table.untrusted)}."
    for channel, path in table.lacking:
        yield f"Channel {channel} has no rows, for {path} is not stated."
    if table.switches:
        yield "rest: the channel's lowest pulse, where a switch left alone is taken to stand."
        yield "link loss: the pulse that the channel takes when the link is lost."
    if any(switch.carried is False for switch in table.switches):
        yield "not carried: the receiver link has no such channel."
    held = [str(switch.channel) for switch in table.switches if switch.on_loss == "hold"]
    if held:
        yield f"Held at its last pulse on link loss: {_channels(held)}."
    unknown = [str(switch.channel) for switch in table.switches if switch.on_loss is None]
    if unknown:
        yield f"Link loss not stated: {_channels(unknown)}."
    if table.switches and table.armed_by_switch is False:
        yield "The sticks arm the craft, whatever the arm switch does."


def _channels(names: list[str]) -> str:
    return f"channel{'s' * (len(names) > 1)} {', '.join(names)}"
