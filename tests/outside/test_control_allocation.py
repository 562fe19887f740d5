"""Area E: what the propellers do to the craft, and the sign test.

Arms in the order rear right, front right, rear left, front left; forward-right-down.
"""

from collections.abc import Sequence
from math import sqrt

import numpy as np
import pytest

from cfgaudit.physics.allocation import (
    arm_positions,
    classify_axes,
    couplings,
    effectiveness,
    expected_spins,
    matched_mixer,
    rate_part,
    sign_test,
    thrusts_for_wrench,
    yaw_sum,
)
from cfgaudit.physics.matrices import Matrix, believed_rates, rank, rotation_matrix

ARMS = ("rear_right", "front_right", "rear_left", "front_left")
A_M, C_M = 0.1, 0.016
UNIT = ((-1.0, 1.0), (1.0, 1.0), (-1.0, -1.0), (1.0, -1.0))
RIGHT_SPINS = (1, -1, -1, 1)
K = 0.2


def small(spins: Sequence[int]) -> Matrix:
    return effectiveness([(x * A_M, y * A_M) for x, y in UNIT], spins, C_M)


def crossed(mixer: Matrix, first: str, second: str) -> Matrix:
    rows = list(mixer)
    i, j = ARMS.index(first), ARMS.index(second)
    rows[i], rows[j] = rows[j], rows[i]
    return tuple(rows)


def real_and_imaginary(values: Sequence[complex]) -> list[tuple[float, float]]:
    return [(v.real, v.imag) for v in values]


def states(spins: Sequence[int], mixer: Matrix | None = None) -> list[str]:
    used = matched_mixer(UNIT, RIGHT_SPINS) if mixer is None else mixer
    return [v.state for v in classify_axes(effectiveness(UNIT, spins, K), used)]


def test_the_x_frame_has_the_rows_of_the_textbook() -> None:
    """Hand calculation, signs as in Mahony, Kumar, Corke 2012 (from memory): thrust on the right
    rolls left, thrust in front lifts the nose, clockwise propellers push anticlockwise."""
    a, c = A_M, C_M
    rows = ((1, 1, 1, 1), (-a, -a, a, a), (-a, a, -a, a), (-c, c, c, -c))
    assert np.allclose(small(RIGHT_SPINS), rows, atol=0, rtol=1e-15)


def test_the_inward_x_frame_is_the_one_with_rear_right_and_front_left_clockwise() -> None:
    """Hand calculation: the pattern above, by arm name."""
    spins = expected_spins("quad_x", "inward")
    places = arm_positions("quad_x", sqrt(2))
    assert tuple(spins[arm] for arm in ARMS) == RIGHT_SPINS
    assert np.allclose([places[arm] for arm in ARMS], UNIT, atol=1e-12)


def test_the_x_frame_has_determinant_2_56e_3_and_rank_4() -> None:
    """Reference library: numpy. By hand, four orthogonal rows: 2 * 2a * 2a * 2c = 2.56e-3."""
    effect = small(RIGHT_SPINS)
    assert abs(np.linalg.det(effect)) == pytest.approx(2.56e-3, rel=1e-12)
    assert rank(effect) == 4


def test_the_plus_frame_has_determinant_8_c_d_squared() -> None:
    """From memory: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1."""
    places = arm_positions("quad_plus", 0.3)
    effect = effectiveness(list(places.values()), (1, -1, 1, -1), 0.02)
    assert abs(np.linalg.det(effect)) == pytest.approx(8 * 0.02 * 0.3**2, rel=1e-12)


def test_a_wrench_gives_the_thrusts_computed_elsewhere() -> None:
    """Reference library: numpy.linalg.solve. By hand: 1 +- .1 +- .05 +- .125."""
    effect, wrench = small(RIGHT_SPINS), (4, 0.04, 0.02, 0.008)
    thrusts = thrusts_for_wrench(effect, wrench)
    assert thrusts == pytest.approx((0.725, 1.075, 1.175, 1.025), abs=1e-9)
    assert np.allclose(thrusts, np.linalg.solve(np.array(effect), np.array(wrench)), atol=1e-12)


@pytest.mark.parametrize(
    ("spins", "expected_rank", "expected_sum"),
    [
        ((1, -1, -1, 1), 4, 0),  # diagonals equal
        ((-1, 1, 1, -1), 4, 0),  # all four reversed
        ((1, 1, -1, -1), 3, 0),  # pairs on one side
        ((1, -1, 1, -1), 3, 0),  # pairs front and back
        ((1, 1, 1, 1), 3, 4),  # all alike
        ((1, -1, -1, -1), 4, -2),  # one flipped: rank alone misses it
    ],
)
def test_spin_patterns_have_the_rank_and_yaw_sum_of_the_textbook(
    spins: tuple[int, ...], expected_rank: int, expected_sum: int
) -> None:
    """Hand calculation; the rank also by numpy (reference library)."""
    effect = small(spins)
    assert rank(effect) == expected_rank == np.linalg.matrix_rank(np.array(effect))
    assert yaw_sum(spins) == expected_sum
    assert sum(effect[3]) == pytest.approx(-expected_sum * C_M)


@pytest.mark.parametrize(
    ("spins", "yaw"),
    [
        ((1, -1, -1, 1), 4 * K),
        ((1, 1, 1, 1), 0.0),
        ((1, -1, -1, -1), 2 * K),
        ((-1, 1, 1, -1), -4 * K),
    ],
    ids=["right", "all alike", "one flipped", "all reversed"],
)
def test_the_loop_s_diagonal_tells_right_from_wrong_spins(
    spins: tuple[int, ...], yaw: float
) -> None:
    """Hand calculation: sum over the arms of effect times mixer; 4, 4 and yaw by the spins."""
    loop = rate_part(effectiveness(UNIT, spins, K), matched_mixer(UNIT, RIGHT_SPINS))
    assert [loop[i][i] for i in range(3)] == pytest.approx([4, 4, yaw], abs=1e-12)


def test_crossed_front_outputs_exchange_roll_and_yaw() -> None:
    """Hand calculation: roll answers in yaw with 4k, yaw in roll with 4; +-sqrt(16 k) = +-1.79."""
    mixer = crossed(matched_mixer(UNIT, RIGHT_SPINS), "front_left", "front_right")
    values = sign_test(effectiveness(UNIT, RIGHT_SPINS, K), mixer)
    assert [v.imag for v in values] == [0, 0, 0]
    assert [v.real for v in values] == pytest.approx([-1.789, 1.789, 4], abs=5e-4)
    assert states(RIGHT_SPINS, mixer) == ["exchanged", "ok", "exchanged"]


def test_crossed_diagonal_outputs_exchange_roll_and_pitch() -> None:
    """Hand calculation: roll and pitch answer in each other with -4: +-4, and yaw 4k."""
    mixer = crossed(matched_mixer(UNIT, RIGHT_SPINS), "front_left", "rear_right")
    values = sign_test(effectiveness(UNIT, RIGHT_SPINS, K), mixer)
    assert [v.real for v in values] == pytest.approx([-4, 0.8, 4], abs=1e-12)
    assert states(RIGHT_SPINS, mixer) == ["exchanged", "exchanged", "ok"]


def test_one_wrong_sign_in_one_row_moves_every_other_axis_as_much_as_its_own() -> None:
    """Hand calculation, rear right's roll 1 in place of -1: the column 1 -1 1 1 against thrust
    1 1 1 1 is 2, against roll -1 -1 1 1 it is 2, pitch -1 1 -1 1 is -2 and yaw -1 1 1 -1 is -2.
    Own and other shares are alike, and the loop's eigenvalues stay positive: only this test sees
    it. The same by numpy (reference library)."""
    right = matched_mixer(UNIT, RIGHT_SPINS)
    wrong = ((right[0][0], -right[0][1], *right[0][2:]), *right[1:])
    effect = effectiveness(UNIT, RIGHT_SPINS, K)
    found = {(c.command, c.axis): c.share for c in couplings(effect, wrong)}
    by_hand = {("roll", "thrust"): 1.0, ("roll", "pitch"): -1.0, ("roll", "yaw"): -1.0}
    assert found == pytest.approx(by_hand)
    loop = np.array(effect) @ np.array(wrong)
    sizes = np.outer(np.linalg.norm(effect, axis=1), np.linalg.norm(wrong, axis=0))
    shares = (loop / sizes) / np.diag(loop / sizes)
    assert shares[:, 1] == pytest.approx([1, 1, -1, -1])
    assert states(RIGHT_SPINS, wrong) == ["ok", "ok", "ok"]
    assert min(v.real for v in sign_test(effect, wrong)) > 0


@pytest.mark.parametrize(
    ("yaw_deg", "expected"),
    [(90, [(0, -4), (0, 4), (0.8, 0)]), (180, [(-4, 0), (-4, 0), (0.8, 0)])],
)
def test_a_board_turned_without_saying_so_shows_in_the_eigenvalues(
    yaw_deg: float, expected: list[tuple[float, float]]
) -> None:
    """Hand calculation: 4 Rz(90) has +-4j, 4 Rz(180) has -4, -4; yaw itself stays 4k."""
    turn = believed_rates(rotation_matrix(0, 0, 0), rotation_matrix(0, 0, yaw_deg))
    effect, mixer = effectiveness(UNIT, RIGHT_SPINS, K), matched_mixer(UNIT, RIGHT_SPINS)
    found = real_and_imaginary(sign_test(effect, mixer, turn))
    assert found == [pytest.approx(pair, abs=1e-9) for pair in expected]


def test_verdicts_name_the_axis_that_the_spins_spoil() -> None:
    """Hand calculation, from the diagonals above."""
    assert states((1, -1, -1, 1)) == ["ok", "ok", "ok"]
    assert states((1, 1, 1, 1)) == ["ok", "ok", "no authority"]
    assert states((-1, 1, 1, -1)) == ["ok", "ok", "reversed"]
