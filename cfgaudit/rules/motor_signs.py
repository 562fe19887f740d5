"""Motors against the mixer: where the arms stand, how they turn, what a command really does."""

from collections.abc import Iterator, Sequence

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.allocation import (
    ANTICLOCKWISE,
    AXES,
    CLOCKWISE,
    effectiveness,
    mixer_rank,
)
from cfgaudit.physics.layouts import (
    BEARINGS_DEG,
    arm_positions,
    expected_spins,
    rotation_has_meaning,
)
from cfgaudit.physics.matrices import Matrix
from cfgaudit.rules.rule import Fires, Level, Yielded, rule

SPINS = {"cw": CLOCKWISE, "ccw": ANTICLOCKWISE}
TURN_WORDS = {CLOCKWISE: "clockwise", ANTICLOCKWISE: "anticlockwise"}

COMMANDS = {
    "thrust": "a command for more thrust",
    "roll": "a command to roll right",
    "pitch": "a command to lift the nose",
    "yaw": "a command to turn clockwise",
}


def positions(craft: Craft, arms: Sequence[str]) -> dict[str, tuple[float, float]]:
    """(forward, right) of every arm: as stated, else as the layout has it.

    Stated places are in metres, a layout's on a circle of radius 1. The two are not mixed.
    Raises NotStated for an arm whose place neither tells, or which stands at the centre.
    """
    if craft.frame.arms.names():
        found = {arm: (craft.frame.arms[arm].x, craft.frame.arms[arm].y) for arm in arms}
    else:
        layout = craft.frame.layout
        found = dict(arm_positions(layout)) if layout in BEARINGS_DEG else {}
    for arm in arms:
        if found.get(arm, (0, 0)) == (0, 0):
            raise NotStated(craft.frame.arms[arm].path("x"))
    return {arm: found[arm] for arm in arms}


def spins(craft: Craft, arms: Sequence[str]) -> dict[str, int]:
    """Spin of every arm: as stated, else as layout and rotation have it. Raises NotStated."""
    return {arm: _spin(craft, arm) for arm in arms}


def _spin(craft: Craft, arm: str) -> int:
    motor = craft.motors.arms[arm]
    if not motor.states("spin") and craft.frame.states("layout") and craft.frame.states("rotation"):
        expected = spins_of_the_frame(craft)
        if arm in expected:
            return expected[arm]
    return SPINS[motor.spin]


def spins_of_the_frame(craft: Craft) -> dict[str, int]:
    """Spin of every arm by layout and rotation; none where inward and outward name no turn.

    Raises NotStated.
    """
    layout = craft.frame.layout
    if layout not in BEARINGS_DEG or not rotation_has_meaning(layout):
        return {}
    return expected_spins(layout, craft.frame.rotation)


def mixer_of(craft: Craft) -> tuple[list[str], Matrix]:
    """The arms, and the dump's mixer: a row an arm, the columns as in AXES. Raises NotStated."""
    motors = list(craft.motors.arms)
    rows = [motor.mix for motor in motors]
    mixer = tuple((row.thrust, row.roll, row.pitch, row.yaw) for row in rows)
    return [motor.name for motor in motors], mixer


def matrices_of(craft: Craft) -> tuple[list[str], Matrix, Matrix]:
    """The arms, the effectiveness (4 x n) of their stated geometry and turns, and the mixer.

    Raises NotStated.
    """
    arms, mixer = mixer_of(craft)
    places, turns = positions(craft, arms), spins(craft, arms)
    effect = effectiveness([places[arm] for arm in arms], [turns[arm] for arm in arms])
    return arms, effect, mixer


def mixer_paths(craft: Craft, arms: Sequence[str], axes: Sequence[str]) -> tuple[str, ...]:
    """The mixer's settings for these axes, and the spins where yaw is one of them."""
    motors = [craft.motors.arms[arm] for arm in arms]
    mixes = [motor.mix.path(axis) for axis in axes for motor in motors]
    if "yaw" not in axes:
        return tuple(mixes)
    turns = [motor.path("spin") for motor in motors if motor.states("spin")]
    if len(turns) < len(motors):
        turns.append(craft.frame.path("rotation"))
    return (*mixes, *turns)


@rule("motor/mixer-rank", Level.ERROR)
def rank_too_low(craft: Craft) -> Iterator[Yielded]:
    """Thrust, roll, pitch and yaw can't all be commanded apart from one another.

    In the air: one axis can't be held, or moves whenever another one is commanded.
    Mend: let neighbouring propellers turn opposite ways, and give every axis a mixer column of
    its own.
    Source: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1 (from memory).
    """
    arms, effect, mixer = matrices_of(craft)
    found = mixer_rank(effect, mixer)
    if found == len(AXES):
        return
    yield Fires(
        f"Only {found} of thrust, roll, pitch and yaw can be commanded apart over {len(arms)} "
        f"arms{_why(effect, mixer)}.",
        mixer_paths(craft, arms, AXES),
        (("rank", found), ("arms", len(arms))),
        advice="Let neighbouring propellers turn opposite ways and give each axis its own "
        "pattern of signs in the mixer.",
    )


def _why(effect: Matrix, mixer: Matrix) -> str:
    """The plain cause where there is one: an axis without effect, or two that act alike."""
    columns = tuple(zip(*mixer, strict=True))
    if len(mixer) < len(AXES):
        return ": there are fewer arms than axes"
    for axis, row, column in zip(AXES, effect, columns, strict=True):
        if not any(column):
            return f": the mixer gives {axis} to no arm"
        if not any(row):
            return f": the arms have no effect in {axis}"
    for rows, where in ((effect, "on this frame"), (columns, "in the mixer")):
        for i, first in enumerate(AXES):
            for j, second in enumerate(AXES[i + 1 :], i + 1):
                if _parallel(rows[i], rows[j]):
                    return f": {first} and {second} work the same arms {where}"
    return ""


def _parallel(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether one row is the other times some number: no 2 x 2 part has a determinant."""
    size = max(map(abs, a)) * max(map(abs, b))
    return all(
        abs(a[i] * b[j] - a[j] * b[i]) <= 1e-9 * size for i in range(len(a)) for j in range(i)
    )
