"""Area D: frames of receivers and speed controllers."""

import pytest

from cfgaudit.physics.motors import DIGITAL_BIT_RATES, digital_frame_time_s
from cfgaudit.physics.serial import load_fraction, pulse_train_gap_s, receiver_link


def test_the_25_byte_frame_takes_3_ms() -> None:
    """Common practice: 25 bytes, 100 kBd, 8E2. 25 * 12 / 100000 = 3.000 ms."""
    link = receiver_link("sbus")
    assert link is not None
    assert (link.frame_bytes, link.baud, link.framing, link.inverted) == (25, 100_000, "8E2", True)
    taken = load_fraction([(link.frame_bytes, 1)], link.baud, link.framing)  # of a second
    assert taken == pytest.approx(3.000e-3, abs=1e-9)


def test_eight_long_pulses_leave_4_ms_of_a_20_ms_frame() -> None:
    """Common practice and hand calculation: 20 - 8 * 2 = 4."""
    assert pulse_train_gap_s(8) == pytest.approx(4e-3, abs=1e-12)


@pytest.mark.parametrize(
    ("protocol", "time_us"), [("dshot150", 106.67), ("dshot300", 53.33), ("dshot600", 26.67)]
)
def test_digital_frames_take_16_bits(protocol: str, time_us: float) -> None:
    """Hand calculation: 16 / 150 kbit/s = 106.67 us, and half of that twice over."""
    assert digital_frame_time_s(DIGITAL_BIT_RATES[protocol]) * 1e6 == pytest.approx(
        time_us, abs=0.005
    )


def test_reports_at_300_kbit_do_not_fit_an_8_khz_loop() -> None:
    """Hand calculation: 53.33 + 30 + 21 / 375 kbit/s = 56.0, together 139.3 us > 125 us."""
    taken = digital_frame_time_s(DIGITAL_BIT_RATES["dshot300"], reports=True)
    assert taken * 1e6 == pytest.approx(139.33, abs=0.01)
    assert taken > 1 / 8000


def test_reports_at_600_kbit_fit_an_8_khz_loop() -> None:
    """Hand calculation: 26.67 + 30 + 21 / 750 kbit/s = 28.0, together 84.7 us < 125 us."""
    taken = digital_frame_time_s(DIGITAL_BIT_RATES["dshot600"], reports=True)
    assert taken * 1e6 == pytest.approx(84.67, abs=0.01)
    assert taken < 1 / 8000
