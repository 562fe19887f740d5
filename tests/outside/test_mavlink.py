"""Area C: MAVLink lengths and orientation numbers (open standard, mavlink.io)."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from cfgaudit.physics.rotation import ORIENTATIONS_DEG, angle_between_deg, rotation_matrix
from cfgaudit.physics.serial import (
    MAVLINK_PAYLOAD_BYTES,
    bytes_per_second,
    load_fraction,
    mavlink_bytes,
    mavlink_messages,
)


def test_a_heartbeat_is_17_bytes_in_version_1_and_21_in_version_2() -> None:
    """Published: mavlink.io, payload 9, overhead 8 and 12."""
    assert mavlink_bytes(9, 1) == 17
    assert mavlink_bytes(9, 2) == 21


def test_a_signature_adds_thirteen_bytes() -> None:
    """From memory: mavlink.io, message signing."""
    assert mavlink_bytes(9, 2, signed=True) == 34


@pytest.mark.parametrize(
    ("message", "payload"),
    [("HEARTBEAT", 9), ("ATTITUDE", 28), ("GPS_RAW_INT", 30), ("SYS_STATUS", 31)],
)
def test_base_payloads_are_the_published_sums_of_their_fields(message: str, payload: int) -> None:
    """Published: mavlink.io, common message set."""
    assert MAVLINK_PAYLOAD_BYTES[message] == payload


def test_the_usual_stream_is_717_bytes_a_second() -> None:
    """Hand calculation: 21 * 1 + 40 * 10 + 42 * 5 + 43 * 2 = 717 B/s."""
    stream = mavlink_messages()
    assert bytes_per_second(stream) == 717
    assert load_fraction(stream, 57_600) * 100 == pytest.approx(12.45, abs=0.005)
    assert load_fraction(stream, 9600) * 100 == pytest.approx(74.7, abs=0.05)


@pytest.mark.parametrize("number", sorted(ORIENTATIONS_DEG))
def test_every_orientation_agrees_with_a_reference_library(number: int) -> None:
    """Reference library: scipy Rotation.from_euler('ZYX', [yaw, pitch, roll])."""
    roll, pitch, yaw = ORIENTATIONS_DEG[number]
    expected = Rotation.from_euler("ZYX", [yaw, pitch, roll], degrees=True).as_matrix()
    assert np.allclose(rotation_matrix(roll, pitch, yaw), expected, atol=1e-12)


def test_the_published_numbers_run_from_0_to_40() -> None:
    """Published: MAV_SENSOR_ORIENTATION 0-40; the names' angles, a few, from memory."""
    assert sorted(ORIENTATIONS_DEG) == list(range(41))
    few = {number: ORIENTATIONS_DEG[number] for number in (2, 10, 12, 24, 38)}
    assert few == {
        2: (0, 0, 90),
        10: (180, 0, 90),
        12: (0, 180, 0),
        24: (0, 90, 0),
        38: (90, 68, 293),
    }


def test_yaw_90_and_roll_180_yaw_90_are_the_matrices_written_out() -> None:
    """Hand calculation: Rz(90), and Rz(90) Rx(180)."""
    assert rotation_matrix(0, 0, 90) == ((0, -1, 0), (1, 0, 0), (0, 0, 1))
    assert rotation_matrix(180, 0, 90) == ((0, 1, 0), (1, 0, 0), (0, 0, -1))


def test_roll_180_and_yaw_180_make_pitch_180() -> None:
    """Hand calculation: diag(-1, -1, 1) diag(1, -1, -1) = diag(-1, 1, -1)."""
    assert angle_between_deg(rotation_matrix(180, 0, 180), rotation_matrix(0, 180, 0)) == 0


def test_the_right_angle_numbers_are_all_24_orientations_of_a_cube() -> None:
    """Hand calculation: six faces up, four ways each; 26 numbers, two of them the same."""
    square = [a for a in ORIENTATIONS_DEG.values() if all(angle % 90 == 0 for angle in a)]
    assert len(square) == 26
    assert len({rotation_matrix(*angles) for angles in square}) == 24
