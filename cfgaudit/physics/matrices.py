"""Small matrices in plain Python: product, rank, inverse, eigenvalues of a 3 x 3; rotations.

A matrix is a tuple of rows. Textbook linear algebra (Golub and Van Loan, Matrix Computations).

How a board is turned in the frame: angles in degrees, axes forward-right-down, a 3 x 3 matrix takes
what the board sees to the frame: frame = R * board. R = Rz(yaw) Ry(pitch) Rx(roll): roll first,
about axes that stay put, as MAVLink's MAV_SENSOR_ORIENTATION names its turns (published).
"""

from cmath import sqrt as complex_sqrt
from collections.abc import Sequence
from itertools import chain
from math import acos, cos, degrees, hypot, isfinite, radians, sin

from cfgaudit.physics.guards import finite

Matrix = tuple[tuple[float, ...], ...]
Rows = Sequence[Sequence[float]]

MOST_QR_STEPS = 200
IDENTITY_3: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def as_matrix(rows: Rows) -> Matrix:
    """A checked copy; ValueError when empty, ragged or not finite."""
    try:
        matrix = tuple(tuple(map(float, row)) for row in rows)
        good = all(map(isfinite, chain.from_iterable(matrix)))
    except OverflowError:
        good = False
    if not good:  # which of them is told
        matrix = tuple(tuple(finite("matrix entry", v) for v in row) for row in rows)
    if not matrix or not matrix[0] or len({len(row) for row in matrix}) != 1:
        raise ValueError("a matrix needs rows of one length, and at least one entry")
    return matrix


def transpose(rows: Rows) -> Matrix:
    """Rows become columns."""
    return tuple(zip(*as_matrix(rows), strict=True))


def product(left: Rows, right: Rows) -> Matrix:
    """Matrix product left * right; ValueError when the inner sizes differ."""
    a, b = as_matrix(left), transpose(right)
    if len(a[0]) != len(b[0]):
        raise ValueError(f"cannot multiply: {len(a[0])} columns meet {len(b[0])} rows")
    return tuple(
        tuple(sum(x * y for x, y in zip(row, column, strict=True)) for column in b) for row in a
    )


def rank(rows: Rows, relative_tolerance: float = 1e-9) -> int:
    """Rank by Gaussian elimination with complete pivoting.

    A pivot counts as zero at or below `relative_tolerance` times the greatest entry.
    """
    work = [list(row) for row in as_matrix(rows)]
    floor = relative_tolerance * max(abs(v) for row in work for v in row)
    found = 0
    while found < min(len(work), len(work[0])):
        size, i, j = max(
            (abs(work[i][j]), i, j)
            for i in range(found, len(work))
            for j in range(found, len(work[0]))
        )
        if size <= floor:
            break
        work[found], work[i] = work[i], work[found]
        for row in work:
            row[found], row[j] = row[j], row[found]
        _clear_below(work, found)
        found += 1
    return found


def inverse(rows: Rows) -> Matrix:
    """Inverse of a square matrix by Gauss-Jordan; ValueError when it has none."""
    matrix = as_matrix(rows)
    size = len(matrix)
    if size != len(matrix[0]) or rank(matrix, 1e-13) < size:
        raise ValueError("the matrix has no inverse")
    work = [[*row, *(float(i == j) for j in range(size))] for i, row in enumerate(matrix)]
    for k in range(size):
        i = max(range(k, size), key=lambda r: abs(work[r][k]))
        work[k], work[i] = work[i], work[k]
        pivot = work[k][k]
        work[k] = [v / pivot for v in work[k]]
        for r in range(size):
            if r != k:
                factor = work[r][k]
                work[r] = [v - factor * p for v, p in zip(work[r], work[k], strict=True)]
    return tuple(tuple(row[size:]) for row in work)


def _clear_below(work: list[list[float]], k: int) -> None:
    for row in work[k + 1 :]:
        factor = row[k] / work[k][k]
        row[k] = 0.0
        for j in range(k + 1, len(row)):
            row[j] -= factor * work[k][j]


def eigenvalues_3x3(rows: Rows) -> tuple[complex, complex, complex]:
    """The three eigenvalues, sorted by real part, then imaginary part.

    Hessenberg form, then QR steps with Wilkinson's shift until one eigenvalue splits off, then
    the quadratic formula; a few steps as a rule, ArithmeticError after 200. An imaginary part
    below 1e-9 of the greatest entry is rounding and is returned as 0.
    """
    matrix = as_matrix(rows)
    if len(matrix) != 3 or len(matrix[0]) != 3:
        raise ValueError("need a 3 x 3 matrix")
    scale = max(abs(v) for row in matrix for v in row)
    if scale == 0:
        return 0j, 0j, 0j
    work = _hessenberg([[v / scale for v in row] for row in matrix])
    found = _split(work)
    for _ in range(MOST_QR_STEPS):
        if found:
            break
        _qr_step(work)
        found = _split(work)
    if not found:
        raise ArithmeticError(f"eigenvalues did not settle in {MOST_QR_STEPS} steps")
    cleaned = [complex(v.real, 0.0 if abs(v.imag) < 1e-9 else v.imag) * scale for v in found]
    first, second, third = sorted(cleaned, key=lambda v: (v.real, v.imag))
    return first, second, third


def _hessenberg(a: list[list[float]]) -> list[list[complex]]:
    """Turn rows and columns 1 and 2 so that the corner a[2][0] vanishes."""
    length = hypot(a[1][0], a[2][0])
    if length and a[2][0]:
        c, s = a[1][0] / length, a[2][0] / length
        a[1], a[2] = (
            [c * x + s * y for x, y in zip(a[1], a[2], strict=True)],
            [c * y - s * x for x, y in zip(a[1], a[2], strict=True)],
        )
        for row in a:
            row[1], row[2] = c * row[1] + s * row[2], c * row[2] - s * row[1]
    a[2][0] = 0.0
    return [[complex(v) for v in row] for row in a]


def _split(a: list[list[complex]]) -> list[complex] | None:
    """All three eigenvalues once a link below the diagonal is negligible, else None."""
    if abs(a[2][1]) <= 1e-15 * (abs(a[1][1]) + abs(a[2][2]) + 1e-3):
        return [a[2][2], *_quadratic(a[0][0], a[0][1], a[1][0], a[1][1])]
    if abs(a[1][0]) <= 1e-15 * (abs(a[0][0]) + abs(a[1][1]) + 1e-3):
        return [a[0][0], *_quadratic(a[1][1], a[1][2], a[2][1], a[2][2])]
    return None


def _quadratic(a: complex, b: complex, c: complex, d: complex) -> tuple[complex, complex]:
    """Eigenvalues of ((a, b), (c, d))."""
    middle = (a + d) / 2
    root = complex_sqrt(((a - d) / 2) ** 2 + b * c)
    return middle + root, middle - root


def _qr_step(a: list[list[complex]]) -> None:
    """One shifted QR step on a Hessenberg matrix: a - s = QR, then RQ + s."""
    pair = _quadratic(a[1][1], a[1][2], a[2][1], a[2][2])
    shift = min(pair, key=lambda v: abs(v - a[2][2]))
    if abs(a[0][0]) + abs(a[1][1]) + abs(a[2][2]) < 1e-12:
        shift = complex(0.7, 0.3)  # a cyclic exchange of axes would stand still otherwise
    for k in range(3):
        a[k][k] -= shift
    turns: list[tuple[complex, complex]] = []
    for k in (0, 1):
        length = hypot(abs(a[k][k]), abs(a[k + 1][k]))
        c, s = (a[k][k] / length, a[k + 1][k] / length) if length else (1 + 0j, 0j)
        turns.append((c, s))
        upper, lower = a[k], a[k + 1]
        a[k] = [c.conjugate() * x + s.conjugate() * y for x, y in zip(upper, lower, strict=True)]
        a[k + 1] = [c * y - s * x for x, y in zip(upper, lower, strict=True)]
    for k, (c, s) in enumerate(turns):
        for row in a:
            x, y = row[k], row[k + 1]
            row[k], row[k + 1] = c * x + s * y, c.conjugate() * y - s.conjugate() * x
    for k in range(3):
        a[k][k] += shift


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
