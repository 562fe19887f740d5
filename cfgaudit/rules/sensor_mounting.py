"""How board and compass are set to be turned, against how they are mounted."""

from collections.abc import Iterator, Sequence
from math import atan2, degrees, hypot
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.matrices import Matrix, transpose
from cfgaudit.physics.rotation import angle_between_deg, believed_rates
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, rule
from cfgaudit.rules.true_geometry import rotation_of
from cfgaudit.rules.wording import listed
from cfgaudit.units import number_text

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.identity import Turn
    from cfgaudit.craft.sheet import Sheet, Turned

_AXES: Final = ("roll", "pitch", "yaw")
_STICKS: Final = ("roll right", "nose up", "turn clockwise")
_TURNS: Final = (("roll left", "roll right"), ("nose down", "nose up"),
                 ("turn anticlockwise", "turn clockwise"))  # fmt: skip
_PART: Final = 0.1  # a smaller part of a turn is not told
_WHOLE: Final = 0.99  # and from here on it is the whole of it


@rule("sensor/board-rotation", Level.ERROR, ("sensor.turn_most",), sheet=True)
def board_rotation(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The board is set to be turned otherwise than it is mounted.

    Told is the turn with which the loop would be content: the one that the board, set as it is,
    takes for what the stick asks. Angles written otherwise that mean the same turn are no
    mismatch.

    In the air: the loop corrects the wrong axis or pushes the wrong way, and the craft tumbles
    as it leaves the ground; by a small angle it leans and drifts.
    Mend: set the rotation as the board is mounted; look at its arrow.
    Source: MAVLink's MAV_SENSOR_ORIENTATION for the order of the turns (published); the rest is
    our own hand calculation, the limit common practice.
    """
    set_to, mounted = craft.board.rotation, sheet.board.turned
    apart = angle_between_deg(rotation_of(set_to), rotation_of(mounted))
    if apart <= most + 1e-6:
        return
    content = transpose(believed_rates(rotation_of(set_to), rotation_of(mounted)))
    wrong = [
        f"{_STICKS[stick]} on the stick ends as {says}"
        for stick, says in enumerate(_turn_for(content, stick) for stick in range(3))
        if says != _STICKS[stick]
    ]
    yield Fires(
        f"The board is set to {_angles(set_to)} and mounted at {_angles(mounted)}: "
        f"{number_text(round(apart, 1))} deg apart. "
        + (f"As far as it flies at all, {listed(wrong)}." if wrong else "It leans and drifts."),
        _paths(set_to, mounted),
        (("apart_deg", apart), *_figures(set_to, mounted)),
        mend=_edits(set_to, mounted),
    )


def _turn_for(content: Matrix, stick: int) -> str:
    """What the craft does when the board takes it for what this stick asks."""
    parts = [(content[axis][stick], axis) for axis in range(3)]
    strong = [(part, axis) for part, axis in parts if abs(part) >= _PART]
    if len(strong) == 1 or max(abs(part) for part, _ in strong) >= _WHOLE:
        part, axis = max(strong, key=lambda entry: abs(entry[0]))
        return _TURNS[axis][part > 0]
    return listed([f"{_TURNS[axis][part > 0]} by {abs(part) * 100:.0f} %" for part, axis in strong])


@rule("sensor/compass-rotation", Level.WARNING, ("sensor.turn_most",), sheet=True)
def compass_rotation(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The compass is set to be turned otherwise than it is mounted.

    In the air: north is wrong: the way home is flown askew, by a large angle in a growing
    circle, and a held position is left the same way.
    Mend: set the rotation as the compass is mounted, then calibrate it and compare its heading
    with a hand compass.
    Source: MAVLink's MAV_SENSOR_ORIENTATION for the order of the turns (published); the rest is
    our own hand calculation, the limit common practice.
    """
    compass = craft.sensors.compass
    if not compass.enabled:
        return
    set_to, mounted = compass.rotation, sheet.compass.turned
    apart = angle_between_deg(rotation_of(set_to), rotation_of(mounted))
    if apart <= most + 1e-6:
        return
    seen = believed_rates(rotation_of(set_to), rotation_of(mounted))
    yield Fires(
        f"The compass is set to {_angles(set_to)} and mounted at {_angles(mounted)}: "
        f"{number_text(round(apart, 1))} deg apart. {_heading(seen)}",
        _paths(set_to, mounted),
        (("apart_deg", apart), *_figures(set_to, mounted)),
        mend=_edits(set_to, mounted),
    )


def _heading(seen: Matrix) -> str:
    """What a level craft takes its heading for. Turned about the down axis alone it is off by
    one angle throughout; else it hangs on where the nose points, and on the field's dip."""
    if hypot(seen[2][0], seen[2][1]) < 1e-6 and seen[2][2] > 0:
        # A field turned by an angle is the heading turned back by it.
        off = -degrees(atan2(seen[1][0], seen[0][0]))
        way = "clockwise" if off > 0 else "anticlockwise"
        return f"The heading is told {number_text(round(abs(off), 1))} deg too far {way}."
    return "The heading is wrong by an angle that changes as the nose turns."


def _angles(turn: "Turn | Turned") -> str:
    return (
        ", ".join(
            f"{axis} {number_text(angle)}" for axis, angle in zip(_AXES, _each(turn), strict=True)
        )
        + " deg"
    )


def _each(turn: "Turn | Turned") -> Sequence[float]:
    return turn.roll, turn.pitch, turn.yaw


def _paths(set_to: "Turn", mounted: "Turned") -> tuple[str, ...]:
    """The angles that differ, as set and as mounted; never none, since the turns differ."""
    pairs = zip(_AXES, _each(set_to), _each(mounted), strict=True)
    odd = [axis for axis, one, other in pairs if one != other]
    return (*(set_to.path(axis) for axis in odd), *(mounted.path(axis) for axis in odd))


def _figures(set_to: "Turn", mounted: "Turned") -> tuple[tuple[str, float], ...]:
    return (
        *((f"set_{axis}_deg", angle) for axis, angle in zip(_AXES, _each(set_to), strict=True)),
        *((f"{axis}_deg", angle) for axis, angle in zip(_AXES, _each(mounted), strict=True)),
    )


def _edits(set_to: "Turn", mounted: "Turned") -> tuple[Edit, ...]:
    pairs = zip(_AXES, _each(set_to), _each(mounted), strict=True)
    return tuple(
        Edit(set_to.path(axis), f"{number_text(other)} deg")
        for axis, one, other in pairs
        if one != other
    )


RULES = (board_rotation, compass_rotation)
