"""Area A: UART rates and what a frame forgives."""

import pytest

from cfgaudit.physics.serial import (
    allowed_error,
    bits_per_byte,
    nearest_divider,
)


@pytest.mark.parametrize(("framing", "allowed"), [("8N1", 0.020), ("8E1", 0.015), ("8E2", 0.015)])
def test_recommended_errors_are_the_published_ones(framing: str, allowed: float) -> None:
    """Published: Microchip USART "Error Tolerance", recommended +-2.0 % and +-1.5 %."""
    assert allowed_error(framing) == allowed


@pytest.mark.parametrize(
    ("clock_hz", "baud", "samples", "divider", "true_baud", "per_cent"),
    [
        (36e6, 115_200, 16, 19.5, 115_384.6, 0.16),
        (8e6, 115_200, 16, 4.3125, 115_942.0, 0.64),
        (8e6, 921_600, 8, 1.125, 888_888.9, -3.55),
    ],
)
def test_dividers_match_the_rows_of_the_reference_manuals(
    clock_hz: float, baud: float, samples: int, divider: float, true_baud: float, per_cent: float
) -> None:
    """Published: ST RM0008 and RM0090, error calculation for programmed baud rates."""
    made = nearest_divider(clock_hz, baud, samples)
    assert made.divider == divider
    assert made.true_baud == pytest.approx(true_baud, abs=0.05)
    assert made.error * 100 == pytest.approx(per_cent, abs=0.01)


def test_the_8_mhz_row_at_921600_is_beyond_what_8n1_allows() -> None:
    """Published: -3.55 % against +-2.0 %."""
    assert abs(nearest_divider(8e6, 921_600, 8).error) > allowed_error("8N1")


@pytest.mark.parametrize(("framing", "bits"), [("8N1", 10), ("8E1", 11), ("8E2", 12)])
def test_a_byte_takes_start_data_parity_and_stop_bits(framing: str, bits: int) -> None:
    """Hand calculation: 1 + 8 + 0 + 1, 1 + 8 + 1 + 1, 1 + 8 + 1 + 2."""
    assert bits_per_byte(framing) == bits
