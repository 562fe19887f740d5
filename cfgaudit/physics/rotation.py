"""How a board is turned in the frame.

Angles in degrees, axes forward-right-down, a 3 x 3 matrix takes what the board sees to the
frame: frame = R * board. R = Rz(yaw) Ry(pitch) Rx(roll): roll first, about axes that stay put.
"""

from collections.abc import Mapping
from math import acos, cos, degrees, radians, sin
from typing import Final

from cfgaudit.physics.guards import finite
from cfgaudit.physics.matrices import Matrix, Rows, as_matrix, product, transpose

# MAVLink common message set, MAV_SENSOR_ORIENTATION 0..40 (published; the table from
# memory): (roll, pitch, yaw).
ORIENTATIONS_DEG: Final[Mapping[int, tuple[float, float, float]]] = {
    0: (0, 0, 0),
    1: (0, 0, 45),
    2: (0, 0, 90),
    3: (0, 0, 135),
    4: (0, 0, 180),
    5: (0, 0, 225),
    6: (0, 0, 270),
    7: (0, 0, 315),
    8: (180, 0, 0),
    9: (180, 0, 45),
    10: (180, 0, 90),
    11: (180, 0, 135),
    12: (0, 180, 0),
    13: (180, 0, 225),
    14: (180, 0, 270),
    15: (180, 0, 315),
    16: (90, 0, 0),
    17: (90, 0, 45),
    18: (90, 0, 90),
    19: (90, 0, 135),
    20: (270, 0, 0),
    21: (270, 0, 45),
    22: (270, 0, 90),
    23: (270, 0, 135),
    24: (0, 90, 0),
    25: (0, 270, 0),
    26: (0, 180, 90),
    27: (0, 180, 270),
    28: (90, 90, 0),
    29: (180, 90, 0),
    30: (270, 90, 0),
    31: (90, 180, 0),
    32: (270, 180, 0),
    33: (90, 270, 0),
    34: (180, 270, 0),
    35: (270, 270, 0),
    36: (90, 180, 90),
    37: (90, 0, 270),
    38: (90, 68, 293),
    39: (0, 315, 0),
    40: (90, 315, 0),
}


def rotation_matrix(roll_deg: float, pitch_deg: float, yaw_deg: float) -> Matrix:
    """Rz(yaw) Ry(pitch) Rx(roll); multiples of 90 degrees give exact 0 and +-1. Textbook."""
    (cr, sr), (cp, sp), (cy, sy) = (_turn(a) for a in (roll_deg, pitch_deg, yaw_deg))
    about_x = ((1.0, 0.0, 0.0), (0.0, cr, -sr), (0.0, sr, cr))
    about_y = ((cp, 0.0, sp), (0.0, 1.0, 0.0), (-sp, 0.0, cp))
    about_z = ((cy, -sy, 0.0), (sy, cy, 0.0), (0.0, 0.0, 1.0))
    return product(product(about_z, about_y), about_x)


def _turn(angle_deg: float) -> tuple[float, float]:
    """(cos, sin), exact at quarter turns."""
    quarters, rest = divmod(finite("angle", angle_deg) % 360.0, 90.0)
    c, s = cos(radians(rest)), sin(radians(rest))
    return ((c, s), (-s, c), (-c, -s), (s, -c))[int(quarters) % 4]


def believed_rates(set_rotation: Rows, mounted_rotation: Rows) -> Matrix:
    """R that takes the craft's true rates to those the controller believes: S * M transposed.

    The board, mounted by M, sees M' w of a true rate w; the controller turns that back by S.
    Identity when the set rotation is the mounted one.
    """
    return product(set_rotation, transpose(mounted_rotation))


def angle_between_deg(first: Rows, second: Rows) -> float:
    """Angle of the one turn that leads from one rotation to the other, 0..180 degrees.

    Textbook: trace of A B' = 1 + 2 cos(angle).
    """
    turn = product(first, transpose(second))
    if len(turn) != 3 or len(turn[0]) != 3:
        raise ValueError("need 3 x 3 matrices")
    cosine = (turn[0][0] + turn[1][1] + turn[2][2] - 1) / 2
    return degrees(acos(min(max(cosine, -1.0), 1.0)))


def nearest_orientation(rotation: Rows) -> tuple[int, float]:
    """(number, degrees off) of the nearest of MAVLink's orientations; the lowest of equal ones."""
    matrix = as_matrix(rotation)
    gaps = [
        (round(angle_between_deg(matrix, rotation_matrix(*angles)), 6), number)
        for number, angles in ORIENTATIONS_DEG.items()
    ]
    gap, number = min(gaps)
    return number, gap


def same_rotation(first: Rows, second: Rows, tolerance_deg: float = 0.5) -> bool:
    """Whether two rotations agree, however their angles are written (roll 180 + yaw 180 is
    pitch 180)."""
    return angle_between_deg(first, second) <= tolerance_deg


def is_square(roll_deg: float, pitch_deg: float, yaw_deg: float, step_deg: float = 45.0) -> bool:
    """Whether every angle is a multiple of `step_deg`."""
    return all(
        abs(finite("angle", a) / step_deg - round(a / step_deg)) < 1e-9
        for a in (roll_deg, pitch_deg, yaw_deg)
    )
