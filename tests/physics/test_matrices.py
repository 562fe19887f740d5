from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from cfgaudit.physics import matrices

small_numbers = st.integers(-4, 4).map(float)
any_shape = arrays(
    np.float64, array_shapes(min_dims=2, max_dims=2, max_side=6), elements=small_numbers
)
three_by_three = arrays(np.float64, (3, 3), elements=small_numbers)
# Six decimals: the library's own determinant gives nan for the smallest numbers of all.
wide_numbers = st.floats(-1e3, 1e3).map(lambda value: round(value, 6))
wide_three_by_three = arrays(np.float64, (3, 3), elements=wide_numbers)

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def characteristic(matrix: Array, value: complex) -> float:
    """|det(A - value I)|: nought for an eigenvalue, whatever the roots' multiplicity."""
    return float(abs(np.linalg.det(matrix - value * np.eye(3))))


@given(any_shape)
def test_rank_agrees_with_a_reference_library(matrix: Array) -> None:
    assert matrices.rank(matrix.tolist()) == np.linalg.matrix_rank(matrix)


@given(any_shape)
def test_rank_does_not_change_when_the_matrix_is_transposed(matrix: Array) -> None:
    assert matrices.rank(matrix.tolist()) == matrices.rank(matrices.transpose(matrix.tolist()))


@given(three_by_three)
def test_the_inverse_undoes_the_matrix_or_is_refused(matrix: Array) -> None:
    rows = matrix.tolist()
    if np.linalg.matrix_rank(matrix) < 3:
        with pytest.raises(ValueError, match="no inverse"):
            matrices.inverse(rows)
    else:
        assert np.allclose(matrices.product(matrices.inverse(rows), rows), np.eye(3), atol=1e-9)


@given(wide_three_by_three)
def test_eigenvalues_solve_the_characteristic_equation(matrix: Array) -> None:
    scale = float(np.abs(matrix).max()) or 1.0
    for value in matrices.eigenvalues_3x3(matrix.tolist()):
        assert characteristic(matrix / scale, value / scale) < 1e-9


@given(three_by_three)
def test_eigenvalues_agree_with_a_reference_library(matrix: Array) -> None:
    """Triple roots move by the cube root of rounding in any method: hence 1e-4."""
    expected = np.linalg.eigvals(matrix)
    found = np.array(matrices.eigenvalues_3x3(matrix.tolist()))
    gaps = [np.abs(found - expected[list(order)]).max() for order in permutations(range(3))]
    assert min(gaps) < 1e-4


def test_eigenvalues_settle_for_every_matrix_of_signs_and_noughts_in_two_rows() -> None:
    for entries in product((-1.0, 0.0, 1.0), repeat=6):
        rows = (entries[:3], entries[3:], (1.0, 0.0, 0.0))
        values = matrices.eigenvalues_3x3(rows)
        assert sum(v.real for v in values) == pytest.approx(entries[0] + entries[4], abs=1e-9)


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_exchanged_axes_have_eigenvalues_on_the_unit_circle(order: tuple[int, ...]) -> None:
    rows = [[float(j == order[i]) for j in range(3)] for i in range(3)]
    assert [abs(v) for v in matrices.eigenvalues_3x3(rows)] == pytest.approx([1, 1, 1])


def test_a_matrix_of_noughts_has_rank_and_eigenvalues_nought() -> None:
    nought = ((0.0,) * 3,) * 3
    assert matrices.rank(nought) == 0
    assert matrices.eigenvalues_3x3(nought) == (0, 0, 0)


@pytest.mark.parametrize(
    ("angle", "square"),
    [
        *((angle, True) for angle in (0, 180, -90, 180 * (1 - 1e-12), 180 * (1 + 1e-12))),
        *((angle, False) for angle in (45, 89.9, 179.9, 180.1)),
    ],
)
def test_an_angle_is_square_but_for_what_a_computer_rounds(angle: float, square: bool) -> None:
    assert matrices.is_square(angle, 90) is square


@pytest.mark.parametrize("rows", [[], [[]], [[1.0, 2.0], [3.0]], [[float("nan")]]])
def test_empty_ragged_and_endless_matrices_are_refused(rows: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="matrix"):
        matrices.as_matrix(rows)


def test_sizes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot multiply"):
        matrices.product([[1.0, 2.0]], [[1.0, 2.0]])
    with pytest.raises(ValueError, match="3 x 3"):
        matrices.eigenvalues_3x3([[1.0]])
