"""Area C: MAVLink lengths and turns (open standard, mavlink.io)."""

from itertools import product

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cfgaudit.physics.matrices import angle_between_deg, rotation_matrix
from cfgaudit.physics.serial import (
    MAVLINK_PAYLOAD_BYTES,
    MAVLINK_USUAL_RATES_HZ,
    bytes_per_second,
    load_fraction,
    mavlink_messages,
)


def test_a_heartbeat_is_21_bytes() -> None:
    """Published: mavlink.io, payload 9, overhead 12 in version 2."""
    assert mavlink_messages({"HEARTBEAT": 1.0}) == ((21.0, 1.0),)


@pytest.mark.parametrize(
    ("message", "payload"),
    [("HEARTBEAT", 9), ("ATTITUDE", 28), ("GPS_RAW_INT", 30), ("SYS_STATUS", 31)],
)
def test_base_payloads_are_the_published_sums_of_their_fields(message: str, payload: int) -> None:
    """Published: mavlink.io, common message set."""
    assert MAVLINK_PAYLOAD_BYTES[message] == payload


def test_the_usual_stream_is_717_bytes_a_second() -> None:
    """Hand calculation: 21 * 1 + 40 * 10 + 42 * 5 + 43 * 2 = 717 B/s."""
    stream = mavlink_messages(MAVLINK_USUAL_RATES_HZ)
    assert bytes_per_second(stream) == 717
    assert load_fraction(stream, 57_600) * 100 == pytest.approx(12.45, abs=0.005)
    assert load_fraction(stream, 9600) * 100 == pytest.approx(74.7, abs=0.05)


@pytest.mark.parametrize("roll", [0, 90, 180, 270])
@pytest.mark.parametrize(
    ("pitch", "yaw"), [(0, 0), (0, 45), (180, 90), (270, 0), (315, 0), (68, 293)]
)
def test_every_turn_agrees_with_a_reference_library(roll: int, pitch: int, yaw: int) -> None:
    """Reference library: scipy Rotation.from_euler('ZYX', [yaw, pitch, roll]). Published: MAVLink,
    MAV_SENSOR_ORIENTATION has turns of such angles, number 38 is roll 90, pitch 68, yaw 293."""
    expected = Rotation.from_euler("ZYX", [yaw, pitch, roll], degrees=True).as_matrix()
    assert np.allclose(rotation_matrix(roll, pitch, yaw), expected, atol=1e-12)


def test_yaw_90_and_roll_180_yaw_90_are_the_matrices_written_out() -> None:
    """Hand calculation: Rz(90), and Rz(90) Rx(180)."""
    assert rotation_matrix(0, 0, 90) == ((0, -1, 0), (1, 0, 0), (0, 0, 1))
    assert rotation_matrix(180, 0, 90) == ((0, 1, 0), (1, 0, 0), (0, 0, -1))


def test_roll_180_and_yaw_180_make_pitch_180() -> None:
    """Hand calculation: diag(-1, -1, 1) diag(1, -1, -1) = diag(-1, 1, -1)."""
    assert angle_between_deg(rotation_matrix(180, 0, 180), rotation_matrix(0, 180, 0)) == 0


def test_right_angles_make_all_24_orientations_of_a_cube() -> None:
    """Hand calculation: six faces up, four ways each."""
    assert len({rotation_matrix(*angles) for angles in product((0, 90, 180, 270), repeat=3)}) == 24
