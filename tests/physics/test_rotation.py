import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.matrices import (
    IDENTITY_3,
    angle_between_deg,
    believed_rates,
    is_square,
    product,
    rotation_matrix,
    transpose,
)

angles = st.floats(-720, 720)


@given(angles, angles, angles)
def test_a_rotation_keeps_lengths_and_handedness(roll: float, pitch: float, yaw: float) -> None:
    turn = rotation_matrix(roll, pitch, yaw)
    assert np.allclose(product(turn, transpose(turn)), np.eye(3), atol=1e-12)
    assert np.linalg.det(np.array(turn)) == pytest.approx(1)


@given(angles, angles, angles)
def test_a_board_set_as_it_is_mounted_believes_the_true_rates(
    roll: float, pitch: float, yaw: float
) -> None:
    turn = rotation_matrix(roll, pitch, yaw)
    assert np.allclose(believed_rates(turn, turn), IDENTITY_3, atol=1e-12)


@given(st.floats(0, 180))
def test_the_angle_between_two_headings_is_their_difference(yaw: float) -> None:
    gap = angle_between_deg(rotation_matrix(0, 0, yaw), rotation_matrix(0, 0, 0))
    assert gap == pytest.approx(yaw, abs=1e-5)


def test_multiples_of_45_are_square() -> None:
    assert all(is_square(angle, 45) for angle in (0, -45, 315))
    assert not is_square(30, 45)


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="angle"):
        rotation_matrix(float("nan"), 0, 0)
    with pytest.raises(ValueError, match="3 x 3"):
        angle_between_deg([[1.0]], [[1.0]])
