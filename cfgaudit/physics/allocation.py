"""Layouts of arms, and control allocation: what each motor does to roll, pitch, yaw and thrust."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import permutations
from math import atan2, cos, degrees, hypot, radians, sin
from typing import Final, Literal, NamedTuple

from cfgaudit.physics.guards import finite, known, positive
from cfgaudit.physics.matrices import (
    IDENTITY_3,
    Matrix,
    Rows,
    as_matrix,
    eigenvalues_3x3,
    inverse,
    product,
    rank,
    transpose,
)

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
    return tuple(known("layout", layout, BEARINGS_DEG))


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


AXES: Final = ("thrust", "roll", "pitch", "yaw")
RATE_AXES: Final = ("roll", "pitch", "yaw")
CLOCKWISE: Final = 1
ANTICLOCKWISE: Final = -1
# Torque over thrust of a small propeller, metres; common practice is 0.01..0.02.
USUAL_YAW_LEVER_M: Final = 0.016
_SPAN: Final = 2.0  # of a unit mixer's outputs, from -1 to 1
# Our own convention: below this share of a matched mixer an axis has no authority.
NO_AUTHORITY_SHARE: Final = 0.1

AxisState = Literal["ok", "reversed", "no authority", "exchanged"]


def effectiveness(
    positions_m: Sequence[tuple[float, float]],
    spins: Sequence[int],
    yaw_lever_m: float = USUAL_YAW_LEVER_M,
) -> Matrix:
    """4 x n matrix from the arms' thrusts (N) to thrust (N) and torques (N m).

    `positions_m` are (forward, right) of the centre. An arm on the right rolls the craft left
    (-y), one in front lifts the nose (+x), and a clockwise propeller pushes the airframe
    anticlockwise (-c).
    """
    if not positions_m or len(positions_m) != len(spins):
        raise ValueError(f"{len(positions_m)} positions need as many spins, not {len(spins)}")
    if any(spin not in (CLOCKWISE, ANTICLOCKWISE) for spin in spins):
        raise ValueError(f"a spin is +1 or -1, not {list(spins)!r}")
    positive("yaw_lever_m", yaw_lever_m)
    return (
        tuple(1.0 for _ in positions_m),
        tuple(-finite("arm y", y) for _, y in positions_m),
        tuple(finite("arm x", x) for x, _ in positions_m),
        tuple(-yaw_lever_m * spin for spin in spins),
    )


def matched_mixer(positions_m: Sequence[tuple[float, float]], spins: Sequence[int]) -> Matrix:
    """n x 4 unit mixer that fits arms and spins: E transposed, each column's peak made 1.

    A column that is zero throughout (all arms on one line) stays zero.
    """
    columns = []
    for row in effectiveness(positions_m, spins, 1.0):
        peak = max(abs(v) for v in row)
        columns.append(tuple(v / peak if peak else 0.0 for v in row))
    return transpose(columns)


def thrusts_for_wrench(effect: Rows, wrench: Sequence[float]) -> tuple[float, ...]:
    """Smallest arm thrusts (least squares) that give `wrench` = (thrust, roll, pitch, yaw).

    E'(E E')^-1 w. Raises ValueError when the arms cannot make every wrench (rank below 4).
    """
    return tuple(row[0] for row in product(_smallest(effect), [[w] for w in wrench]))


def _smallest(effect: Rows) -> Matrix:
    """E'(E E')^-1: by column, the smallest thrusts for a unit of each axis. Raises ValueError."""
    back = transpose(effect)
    return product(back, inverse(product(effect, back)))


def decoupled_mixer(effect: Rows) -> Matrix:
    """n x 4 mixer of which each column moves its own axis alone, each column's peak made 1.

    Its columns are the smallest thrusts (least squares) for a unit of each axis. On arms that stand
    evenly it is `matched_mixer`; elsewhere that one is stronger, and moves other axes as well.
    Raises ValueError when the arms cannot make every wrench (rank below 4).
    """
    columns = transpose(_smallest(effect))
    return transpose([[v / max(map(abs, column)) for v in column] for column in columns])


def mixer_rank(effect: Rows, mixer: Rows) -> int:
    """Rank of E*M, 4 when thrust and all three axes can be commanded apart."""
    return rank(product(effect, mixer))


def rate_part(effect: Rows, mixer: Rows, rotation: Rows = IDENTITY_3) -> Matrix:
    """3 x 3 matrix (E*M)[rates] * R: what a true turn about each axis is answered with.

    R takes the craft's true rates to those that the controller believes: set board rotation
    times the mounted one transposed (`believed_rates`).
    """
    whole = product(effect, mixer)
    if len(whole) != 4 or len(whole[0]) != 4:
        raise ValueError("need a 4 x n effectiveness matrix and an n x 4 mixer")
    return product([row[1:] for row in whole[1:]], rotation)


def sign_test(
    effect: Rows, mixer: Rows, rotation: Rows = IDENTITY_3
) -> tuple[complex, complex, complex]:
    """Eigenvalues of (E*M)[rates] * R, sorted by real part.

    A negative real part: an axis feeds back the wrong way. Near zero: no authority, or, with an
    imaginary part, axes exchanged.
    """
    return eigenvalues_3x3(rate_part(effect, mixer, rotation))


def response_shares(effect: Rows, mixer: Rows) -> Matrix:
    """4 x 4 cosines between the rows of E and the columns of M, in -1..1.

    Entry [i][j] is how much command j shows on axis i, as a share of what the best mixer of the
    same size would show. So yaw's small lever counts no less than roll's. 1 on the diagonal is a
    matched mixer; a row or column without any effect gives 0.
    """
    rows, columns = as_matrix(effect), transpose(mixer)
    if len(rows) != 4 or len(columns) != 4 or len(rows[0]) != len(columns[0]):
        raise ValueError("need a 4 x n effectiveness matrix and an n x 4 mixer")
    return tuple(tuple(cosine(row, column) for column in columns) for row in rows)


def cosine(a: Sequence[float], b: Sequence[float]) -> float:
    """Cosine of the angle between two vectors of one length; 0 where one of them is nought."""
    size = hypot(*a) * hypot(*b)
    return sum(x * y for x, y in zip(a, b, strict=True)) / size if size > 1e-12 else 0.0


def rate_shares(effect: Rows, mixer: Rows, rotation: Rows = IDENTITY_3) -> Matrix:
    """3 x 3 rate part of `response_shares`, turned by R as in `rate_part`."""
    return product(_rates_of(response_shares(effect, mixer)), rotation)


def _rates_of(shares: Matrix) -> Matrix:
    return tuple(row[1:] for row in shares[1:])


class AxisVerdict(NamedTuple):
    """How the closed loop treats one axis.

    `share` is the axis' own feedback, 1 for a matched mixer, below 0 for the wrong way. When the
    answer goes mostly to another axis, `partner` names that and `partner_share` says how much.
    """

    axis: str
    state: AxisState
    share: float
    partner: str | None = None
    partner_share: float = 0.0


def classify_axes(
    effect: Rows, mixer: Rows, rotation: Rows = IDENTITY_3
) -> tuple[AxisVerdict, AxisVerdict, AxisVerdict]:
    """Verdicts for roll, pitch and yaw.

    Read from the columns of `rate_shares`: where a true turn about the axis is answered. If no
    column shows a fault but an eigenvalue's real part is below NO_AUTHORITY_SHARE (two axes act as
    one, or one of them feeds back the wrong way), the two that most work in each other are called
    exchanged, the first of them in the verdict.
    """
    return _verdicts(rate_shares(effect, mixer, rotation))


def _verdicts(shares: Matrix) -> tuple[AxisVerdict, AxisVerdict, AxisVerdict]:
    verdicts = [_judge(index, shares) for index in range(3)]
    lowest = eigenvalues_3x3(shares)[0].real
    if lowest < NO_AUTHORITY_SHARE and all(verdict.state == "ok" for verdict in verdicts):
        index, other = max(permutations(range(3), 2), key=lambda pair: _mutual(pair, shares))
        verdicts[index] = _exchanged(index, other, shares)
    return verdicts[0], verdicts[1], verdicts[2]


def _mutual(pair: tuple[int, int], shares: Matrix) -> tuple[float, float]:
    """How much two axes work in each other; rounded, so that ties go to the first pair."""
    there, back = abs(shares[pair[1]][pair[0]]), abs(shares[pair[0]][pair[1]])
    return round(there * back, 9), round(there, 9)


def _judge(index: int, shares: Matrix) -> AxisVerdict:
    axis, own = RATE_AXES[index], shares[index][index]
    other = _strongest_other(index, shares)
    # The margin keeps a board turned by 45 degrees, an exact tie, on the side of "ok".
    if abs(shares[other][index]) > max(abs(own) * (1 + 1e-9), NO_AUTHORITY_SHARE):
        return _exchanged(index, other, shares)
    if abs(own) < NO_AUTHORITY_SHARE:
        return AxisVerdict(axis, "no authority", own)
    return AxisVerdict(axis, "ok" if own > 0 else "reversed", own)


def _exchanged(index: int, other: int, shares: Matrix) -> AxisVerdict:
    own, partner = shares[index][index], shares[other][index]
    return AxisVerdict(RATE_AXES[index], "exchanged", own, RATE_AXES[other], partner)


def _strongest_other(index: int, shares: Matrix) -> int:
    return max((i for i in range(3) if i != index), key=lambda i: abs(shares[i][index]))


class Coupling(NamedTuple):
    """Command `command` shows on `axis` with `share` of what it does on its own axis."""

    command: str
    axis: str
    share: float


def couplings(effect: Rows, mixer: Rows) -> tuple[Coupling, ...]:
    """Off-axis effects as shares of the command's own one, strongest first.

    Thrust is left in: a yaw command that lifts the craft is a coupling too. Commands without
    effect on their own axis are left out, for there is nothing to compare with.
    """
    found = _couplings(response_shares(effect, mixer))
    # Rounded, so that shares which are alike but for rounding go by name.
    return tuple(sorted(found, key=lambda c: (-round(abs(c.share), 9), c.command, c.axis)))


def _couplings(shares: Matrix) -> Iterator[Coupling]:
    for j in range(4):
        own = abs(shares[j][j])
        for i in range(4):
            if i != j and own >= NO_AUTHORITY_SHARE and abs(shares[i][j]) > 1e-9:
                yield Coupling(AXES[j], AXES[i], shares[i][j] / own)


def lone_sign_fault(effect: Rows, mixer: Rows, most: float) -> tuple[int, str] | None:
    """The one entry of the mixer, (arm, axis), that with its sign turned makes the mixer fit.

    It fits where every axis answers the right way and no coupling is stronger than `most` (a
    part of 1). Where several entries would do, it is the one that lets its command do most on
    its own axis: turning the opposite arm's sign instead only makes two faults of one. None
    where no entry does it, or where two do it equally well.
    """
    lines, columns = as_matrix(effect), transpose(mixer)
    shares = response_shares(lines, mixer)
    found: list[tuple[float, int, str]] = []
    for arm in range(len(columns[0])):
        for number, (axis, column) in enumerate(zip(AXES, columns, strict=True)):
            turned = (*column[:arm], -column[arm], *column[arm + 1 :])
            with_it = tuple(  # only this command shows otherwise
                (*row[:number], cosine(line, turned), *row[number + 1 :])
                for line, row in zip(lines, shares, strict=True)
            )
            if column[arm] and _fits(with_it, most):
                found.append((round(with_it[number][number], 9), arm, axis))
    best, *others = sorted(found, reverse=True) or [(0.0, 0, "")]
    if not found or any(other[0] == best[0] for other in others):
        return None
    return best[1], best[2]


_CORNERS: Final = ((1, 1), (1, -1), (-1, 1), (-1, -1))  # the signs of roll and of pitch


def odd_corner_sign(mixer: Rows) -> tuple[int, str] | None:
    """The one sign of four rows, (arm, axis), that keeps them from being four corners.

    At each corner of a quad its row has the signs of its two sides, and yaw alternates round the
    craft: wherever the arms stand, all four pairs of signs of roll and pitch occur, and yaw's is
    their product, or all of them the other way. None where the rows fit so as they are, where more
    than one sign is off or either of two may be, and where an arm has no share of an axis.
    """
    rows = [tuple((share > 0) - (share < 0) for share in row[1:]) for row in mixer]
    if len(rows) != len(_CORNERS) or any(not sign for row in rows for sign in row):
        return None
    found: dict[tuple[tuple[int, int], ...], None] = {}
    for corners in permutations(_CORNERS):
        for turn in (1, -1):
            asked = [(roll, pitch, turn * roll * pitch) for roll, pitch in corners]
            off = tuple(
                (arm, axis)
                for arm, (row, wanted) in enumerate(zip(rows, asked, strict=True))
                for axis in range(len(RATE_AXES))
                if row[axis] != wanted[axis]
            )
            found[off] = None
    least = min(map(len, found))
    best = [off for off in found if len(off) == least]
    if least != 1 or len(best) != 1:
        return None
    ((arm, axis),) = best[0]
    return arm, RATE_AXES[axis]


def _fits(shares: Matrix, most: float) -> bool:
    return (
        shares[0][0] >= NO_AUTHORITY_SHARE
        and all(abs(coupling.share) <= most for coupling in _couplings(shares))
        and all(verdict.state == "ok" for verdict in _verdicts(_rates_of(shares)))
    )


def room_beside_yaw(mixer: Rows, axis: str, yaw: float) -> float:
    """Greatest command on `axis`, at most 1, that fits beside a command of `yaw`.

    Hand calculation: the outputs' spread, highest less lowest, may be 2, what a unit mixer's
    single command takes, from -1 to 1. The worse of both signs of `axis`. Commands beyond this
    clip. 0 when yaw already fills the span.
    """
    columns = dict(zip(AXES, transpose(mixer), strict=True))
    base, extra = [yaw * v for v in columns["yaw"]], columns[axis]
    return min(_room(base, extra), _room(base, [-v for v in extra]))


def _room(base: Sequence[float], extra: Sequence[float]) -> float:
    room = 1.0
    for a, u in zip(base, extra, strict=True):
        for b, v in zip(base, extra, strict=True):
            if a - b > _SPAN:
                return 0.0
            if u - v > 1e-12:
                room = min(room, (_SPAN - (a - b)) / (u - v))
    return max(room, 0.0)


def yaw_sum(spins: Sequence[int]) -> int:
    """Sum of the spins; other than 0 the craft turns by itself at any thrust."""
    return sum(spins)
