"""How a board is turned in the frame.

Angles in degrees, axes forward-right-down, a 3 x 3 matrix takes what the board sees to the
frame: frame = R * board. R = Rz(yaw) Ry(pitch) Rx(roll): roll first, about axes that stay put,
as MAVLink's MAV_SENSOR_ORIENTATION names its turns (published).
"""

from math import acos, cos, degrees, radians, sin

from cfgaudit.physics.guards import finite
from cfgaudit.physics.matrices import Matrix, Rows, product, transpose


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


def is_square(angle_deg: float, step_deg: float) -> bool:
    """Whether an angle is a multiple of `step_deg`."""
    return abs(finite("angle", angle_deg) / step_deg - round(angle_deg / step_deg)) < 1e-9
