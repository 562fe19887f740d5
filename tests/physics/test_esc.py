import pytest

from cfgaudit.physics.motors import (
    DIGITAL_BIT_RATES,
    PULSE_RANGES_US,
    digital_frame_time_s,
    is_digital,
    longest_pulse_us,
    pulse_duty,
    pulse_on_wire_us,
)


def test_every_protocol_is_digital_or_a_pulse() -> None:
    assert all(is_digital(word) for word in DIGITAL_BIT_RATES)
    assert not any(is_digital(word) for word in PULSE_RANGES_US)
    with pytest.raises(ValueError, match="smoke"):
        is_digital("smoke")


def test_reports_always_cost_time() -> None:
    for rate in DIGITAL_BIT_RATES.values():
        assert digital_frame_time_s(rate, reports=True) > digital_frame_time_s(rate) + 30e-6


def test_only_a_pulse_protocol_has_a_longest_pulse() -> None:
    assert longest_pulse_us("multishot") == 25
    with pytest.raises(ValueError, match="digital"):
        longest_pulse_us("dshot600")


def test_a_2_ms_pulse_fills_a_500_hz_period() -> None:
    assert pulse_duty(2000, 500) == pytest.approx(1.0)
    assert pulse_duty(2000, 50) == pytest.approx(0.1)
    with pytest.raises(ValueError, match="pulse_us"):
        pulse_duty(-1, 50)


@pytest.mark.parametrize(
    ("protocol", "stated", "sent"),
    [
        ("pwm", 2000, 2000),
        ("oneshot125", 250, 250),
        ("oneshot125", 300, 300),  # within twice its longest: as it stands
        ("oneshot125", 1000, 125),
        ("oneshot125", 1500, 187.5),
        ("oneshot42", 2000, 84),
        ("multishot", 1500, 15),
        ("multishot", 25, 25),
        ("multishot", 750, 750),  # 5 - 20 × 250 / 1000 = 0: none at all, so it stands
        ("multishot", 800, 1),
    ],
)
def test_a_short_pulse_stated_on_the_plain_one_s_scale_goes_out_short(
    protocol: str, stated: float, sent: float
) -> None:
    """Common practice. Hand calculation: 1000..2000 us stand for 125..250, 42..84 and 5..25."""
    assert pulse_on_wire_us(protocol, stated) == pytest.approx(sent)


def test_a_digital_protocol_has_no_pulse_on_the_wire() -> None:
    with pytest.raises(ValueError, match="digital"):
        pulse_on_wire_us("dshot300", 1000)
