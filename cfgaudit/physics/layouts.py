"""Where the arms of the named layouts sit and which way their propellers turn.

Positions are (forward, right) in metres, bearings in degrees clockwise from the nose, seen from
above. Names and bearings are our own plain English; equal angles are common practice.
"""

from collections.abc import Mapping
from math import atan2, cos, degrees, radians, sin
from typing import Final

from cfgaudit.physics.guards import positive

BEARINGS_DEG: Final[Mapping[str, Mapping[str, float]]] = {
    "quad_x": {
        "front_right": 45.0,
        "rear_right": 135.0,
        "rear_left": 225.0,
        "front_left": 315.0,
    },
    "quad_plus": {"front": 0.0, "right": 90.0, "rear": 180.0, "left": 270.0},
    "hex_x": {
        "front_right": 30.0,
        "right": 90.0,
        "rear_right": 150.0,
        "rear_left": 210.0,
        "left": 270.0,
        "front_left": 330.0,
    },
    "hex_plus": {
        "front": 0.0,
        "front_right": 60.0,
        "rear_right": 120.0,
        "rear": 180.0,
        "rear_left": 240.0,
        "front_left": 300.0,
    },
    "octo_x": {
        "front_right": 22.5,
        "right_front": 67.5,
        "right_rear": 112.5,
        "rear_right": 157.5,
        "rear_left": 202.5,
        "left_rear": 247.5,
        "left_front": 292.5,
        "front_left": 337.5,
    },
}


def arm_names(layout: str) -> tuple[str, ...]:
    """Arms of a layout, clockwise from the nose; ValueError for an unknown or custom layout."""
    try:
        return tuple(BEARINGS_DEG[layout])
    except KeyError:
        known = ", ".join(BEARINGS_DEG)
        raise ValueError(f"layout must be one of {known}, not {layout!r}") from None


def arm_positions(layout: str, radius_m: float = 1.0) -> dict[str, tuple[float, float]]:
    """(forward, right) of every arm at `radius_m` from the centre, clockwise from the nose.

    quad_x at radius sqrt(2) has its arms at (+-1, +-1).
    """
    positive("radius_m", radius_m)
    names = arm_names(layout)
    turns = {name: radians(BEARINGS_DEG[layout][name]) for name in names}
    return {name: (radius_m * cos(t), radius_m * sin(t)) for name, t in turns.items()}


def rotation_has_meaning(layout: str) -> bool:
    """Whether "inward" and "outward" say which way the arms of `layout` turn.

    They speak of the pair beside the nose, which must turn opposite ways. With an arm on the
    centre line the arms left and right of the nose turn alike, so each spin has to be stated.
    """
    return "front" not in arm_names(layout)


def expected_spins(layout: str, rotation: str) -> dict[str, int]:
    """Spin of every arm (+1 clockwise from above, -1 anticlockwise) for a rotation at the nose.

    Seen from above the foremost blade of a clockwise propeller moves to the right. So with
    "inward" the front left arm turns clockwise and the front right one anticlockwise: both foremost
    blades move towards the centre line. "outward" is the opposite. Neighbours alternate.
    Raises ValueError for another word, or for a layout in which the words say nothing.
    """
    if rotation not in ("inward", "outward"):
        raise ValueError(f"rotation must be inward or outward, not {rotation!r}")
    if not rotation_has_meaning(layout):
        raise ValueError(f"{layout} has an arm on the nose: state each arm's spin instead")
    return alternating_spins(layout, -1 if rotation == "inward" else 1)


def alternating_spins(layout: str, first: int) -> dict[str, int]:
    """Spins that alternate clockwise round the craft, `first` (+1 or -1) being the first arm's.

    The first arm is the nose arm, or else the front right one.
    """
    if first not in (1, -1):
        raise ValueError(f"a spin is +1 or -1, not {first!r}")
    names = arm_names(layout)
    return {name: first if index % 2 == 0 else -first for index, name in enumerate(names)}


def bearing_deg(x_m: float, y_m: float) -> float:
    """Bearing of a point from the nose, clockwise from above, 0 <= bearing < 360.

    Raises ValueError for the centre itself.
    """
    if x_m == 0 and y_m == 0:
        raise ValueError("an arm at the centre has no bearing")
    return degrees(atan2(y_m, x_m)) % 360.0


def clockwise_order(positions_m: Mapping[str, tuple[float, float]]) -> tuple[str, ...]:
    """Arm names by bearing from the nose, clockwise; equal bearings by name."""
    return tuple(sorted(positions_m, key=lambda name: (bearing_deg(*positions_m[name]), name)))


def neighbours_alike(
    positions_m: Mapping[str, tuple[float, float]], spins: Mapping[str, int]
) -> tuple[tuple[str, str], ...]:
    """Pairs of neighbouring arms, clockwise from the nose, that turn the same way."""
    order = clockwise_order(positions_m)
    pairs = zip(order, (*order[1:], *order[:1]), strict=True)
    return tuple((a, b) for a, b in pairs if a != b and spins[a] == spins[b])
