"""What the mixer really works on: places, turns, outputs and board as the build sheet has them.

Whatever the build sheet does not tell is taken from the dump.
"""

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.allocation import cosine, effectiveness
from cfgaudit.physics.layouts import BEARINGS_DEG, arm_positions
from cfgaudit.physics.matrices import IDENTITY_3, Matrix
from cfgaudit.physics.rotation import angle_between_deg, believed_rates, rotation_matrix
from cfgaudit.rules.motor_signs import mixer_of, positions, spins
from cfgaudit.rules.true_turns import true_turns

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.identity import Turn
    from cfgaudit.craft.sheet import Sheet, Turned


Places = Mapping[str, tuple[float, float]]
_HALF_RIGHT_ANGLE = sqrt(0.5)  # its cosine


class Loop(NamedTuple):
    """The closed loop's three matrices, and the build sheet's settings that shaped them."""

    arms: list[str]
    effect: Matrix  # 4 x n, of the true places and turns
    mixer: Matrix  # n x 4, each row at the arm that it reaches
    rotation: Matrix  # 3 x 3, from the craft's true rates to the believed ones
    turned: bool  # whether those two differ
    paths: tuple[str, ...]  # of what the build sheet tells otherwise than the dump


def loop_of(craft: Craft, sheet: "Sheet | None") -> Loop:
    """The loop by the dump, corrected by the build sheet where there is one. Raises NotStated."""
    arms, mixer = mixer_of(craft)
    if not sheet:
        places, turns = positions(craft, arms), spins(craft, arms)
        effect = effectiveness([places[a] for a in arms], [turns[a] for a in arms])
        return Loop(arms, effect, mixer, IDENTITY_3, False, ())
    rows, crossed = _as_wired(craft, sheet, arms, mixer)
    (stand, moved), (turns, odd) = _places(craft, sheet, arms), _turns(craft, sheet, arms)
    effect = effectiveness([stand[a] for a in arms], [turns[a] for a in arms])
    rotation, apart, board = _rotation(craft, sheet)
    return Loop(arms, effect, rows, rotation, apart > 1e-6, (*moved, *crossed, *odd, *board))


def _places(craft: Craft, sheet: "Sheet", arms: Sequence[str]) -> tuple[Places, tuple[str, ...]]:
    """(forward, right) of the arms, and where the sheet has an arm elsewhere than the dump.

    As measured, else as the sheet's layout or the dump has it.
    """
    frame = sheet.frame
    measured = [frame.arms[arm] for arm in arms]
    if all(arm.states("x") and arm.states("y") for arm in measured):
        found = {arm.name: (arm.x, arm.y) for arm in measured}
        if (0, 0) not in found.values():
            away = _elsewhere(craft, found, arms)
            return found, tuple(frame.arms[arm].path(axis) for arm in away for axis in ("x", "y"))
    if frame.states("layout") and frame.layout in BEARINGS_DEG:
        by_layout = arm_positions(frame.layout)
        if all(arm in by_layout for arm in arms):
            away = _elsewhere(craft, by_layout, arms)
            return by_layout, (frame.path("layout"),) if away else ()
    return positions(craft, arms), ()


def _elsewhere(craft: Craft, found: Places, arms: Sequence[str]) -> list[str]:
    """The arms whose bearing is off by more than half a right angle from what the dump has."""
    try:
        told = positions(craft, arms)
    except NotStated:
        return []
    return [arm for arm in arms if cosine(found[arm], told[arm]) < _HALF_RIGHT_ANGLE]


def _turns(
    craft: Craft, sheet: "Sheet", arms: Sequence[str]
) -> tuple[dict[str, int], tuple[str, ...]]:
    """The turn of every arm, and where the sheet tells another one than the dump."""
    known = true_turns(craft, sheet).known()
    turns = {arm: known[arm] if arm in known else spins(craft, [arm])[arm] for arm in arms}
    odd = []
    for arm in arms:
        motor = sheet.motors[arm]
        stated = arm in known and craft.motors.arms[arm].states("spin")
        if stated and spins(craft, [arm])[arm] != known[arm]:
            odd.append(motor.path("turns" if motor.states("turns") else "wires"))
    return turns, tuple(odd)


def _as_wired(
    craft: Craft, sheet: "Sheet", arms: Sequence[str], mixer: Matrix
) -> tuple[Matrix, tuple[str, ...]]:
    """The mixer's rows at the arms that their outputs are wired to, and the wires in question.

    As they stand where the outputs are not told, or are not the same ones on both sides.
    """
    motors = [craft.motors.arms[arm] for arm in arms]
    wires = [sheet.motors[arm] for arm in arms]
    if not all(part.states("output") for part in (*motors, *wires)):
        return mixer, ()
    drives = {motor.output: row for motor, row in zip(motors, mixer, strict=True)}
    if len(drives) < len(arms) or {wire.output for wire in wires} != set(drives):
        return mixer, ()
    crossed = [
        wire.path("output")
        for motor, wire in zip(motors, wires, strict=True)
        if motor.output != wire.output
    ]
    return tuple(drives[wire.output] for wire in wires), tuple(crossed)


def _rotation(craft: Craft, sheet: "Sheet") -> tuple[Matrix, float, tuple[str, ...]]:
    """What the loop makes of a turn, how far the board is from where it is set, and why."""
    turned = sheet.board.turned
    if not any(turned.states(axis) for axis in ("roll", "pitch", "yaw")):
        return IDENTITY_3, 0.0, ()
    set_to, mounted = rotation_of(craft.board.rotation), rotation_of(turned)
    apart = angle_between_deg(set_to, mounted)
    paths = tuple(turned.path(axis) for axis in ("roll", "pitch", "yaw"))
    return believed_rates(set_to, mounted), apart, paths if apart > 1e-6 else ()


def rotation_of(turn: "Turn | Turned") -> Matrix:
    """The matrix of a rotation, set or mounted. Raises NotStated for an angle not stated."""
    return rotation_matrix(turn.roll, turn.pitch, turn.yaw)
