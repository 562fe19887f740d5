"""Area D: frames of receivers and speed controllers."""

import pytest

from cfgaudit.physics.motors import (
    DIGITAL_BIT_RATES,
    digital_frame_time_s,
    frame_time_s,
    packed_command,
)
from cfgaudit.physics.serial import frame_time_s as serial_frame_time_s
from cfgaudit.physics.serial import packed_channels, pulse_train_gap_s, receiver_link


def test_the_25_byte_frame_takes_3_ms() -> None:
    """Common practice: 25 bytes, 100 kBd, 8E2. 25 * 12 / 100000 = 3.000 ms."""
    link = receiver_link("sbus")
    assert link is not None
    assert (link.frame_bytes, link.baud, link.framing, link.inverted) == (25, 100_000, "8E2", True)
    taken = serial_frame_time_s(link.frame_bytes, link.baud, link.framing)
    assert taken == pytest.approx(3.000e-3, abs=1e-9)


def test_sixteen_channels_of_eleven_bits_fill_22_bytes_least_significant_bit_first() -> None:
    """Hand calculation: 16 * 11 = 176 bits = 22 bytes. Channel 1 = 1 sets bit 0 of byte 0,
    channel 2 = 1 bit 11, which is bit 3 of byte 1; all at 2047 set every bit."""
    assert packed_channels([1] + [0] * 15) == b"\x01" + bytes(21)
    assert packed_channels([0, 1] + [0] * 14) == b"\x00\x08" + bytes(20)
    assert packed_channels([2047] * 16) == b"\xff" * 22


def test_eight_long_pulses_leave_4_ms_of_a_20_ms_frame() -> None:
    """Common practice and hand calculation: 20 - 8 * 2 = 4."""
    assert pulse_train_gap_s(8) == pytest.approx(4e-3, abs=1e-12)


@pytest.mark.parametrize(
    ("throttle", "request_bit", "packed"),
    [(1046, 0, 0x82C6), (1046, 1, 0x82D7), (48, 0, 0x0606), (2047, 0, 0xFFEE)],
)
def test_digital_commands_pack_to_the_known_words(
    throttle: int, request_bit: int, packed: int
) -> None:
    """Common practice. Hand calculation for 1046: p = 0x82C; 8 ^ 2 ^ C = 6."""
    assert packed_command(throttle, request_bit) == packed


@pytest.mark.parametrize(
    ("protocol", "time_us"), [("dshot150", 106.67), ("dshot300", 53.33), ("dshot600", 26.67)]
)
def test_digital_frames_take_16_bits(protocol: str, time_us: float) -> None:
    """Hand calculation: 16 / 150 kbit/s = 106.67 us, and half of that twice over."""
    assert frame_time_s(protocol) * 1e6 == pytest.approx(time_us, abs=0.005)


def test_reports_at_300_kbit_do_not_fit_an_8_khz_loop() -> None:
    """Hand calculation: 53.33 + 30 + 21 / 375 kbit/s = 56.0, together 139.3 us > 125 us."""
    taken = digital_frame_time_s(DIGITAL_BIT_RATES["dshot300"], reports=True)
    assert taken * 1e6 == pytest.approx(139.33, abs=0.01)
    assert taken > 1 / 8000


def test_reports_at_600_kbit_fit_an_8_khz_loop() -> None:
    """Hand calculation: 26.67 + 30 + 21 / 750 kbit/s = 28.0, together 84.7 us < 125 us."""
    taken = frame_time_s("dshot600", reports=True)
    assert taken * 1e6 == pytest.approx(84.67, abs=0.01)
    assert taken < 1 / 8000
