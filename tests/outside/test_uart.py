"""Area A: UART rates and what a frame forgives."""

import pytest

from cfgaudit.physics.serial import (
    allowed_error,
    bits_per_byte,
    ideal_allowed_error,
    nearest_divider,
    sampling_limits,
)

# Published: Microchip (Atmel) USART, "Error Tolerance", 16 samples a bit; per cent to 2 places.
SLOW_AND_FAST_16 = {8: (95.36, 104.58), 9: (95.81, 104.14)}
# From memory: the same chapter's other rows, and its table for 8 samples a bit.
SLOW_AND_FAST_16_MORE = {
    5: (93.20, 106.67),
    6: (94.12, 105.79),
    7: (94.81, 105.11),
    10: (96.17, 103.78),
}
SLOW_AND_FAST_8 = {8: (96.00, 103.90), 9: (96.39, 103.53)}


@pytest.mark.parametrize("bits", [5, 6, 7, 8, 9, 10])
def test_sampling_limits_match_the_makers_table_at_16_samples(bits: int) -> None:
    low, high = (SLOW_AND_FAST_16 | SLOW_AND_FAST_16_MORE)[bits]
    slow, fast = sampling_limits(bits)
    assert slow * 100 == pytest.approx(low, abs=0.0101)  # the table cuts, it does not round
    assert fast * 100 == pytest.approx(high, abs=0.0101)


@pytest.mark.parametrize("bits", [8, 9])
def test_sampling_limits_match_the_makers_table_at_8_samples(bits: int) -> None:
    slow, fast = sampling_limits(bits, 8)
    assert (slow * 100, fast * 100) == pytest.approx(SLOW_AND_FAST_8[bits], abs=0.0101)


@pytest.mark.parametrize(("framing", "allowed"), [("8N1", 0.020), ("8E1", 0.015), ("8E2", 0.015)])
def test_recommended_errors_are_the_published_ones(framing: str, allowed: float) -> None:
    """Published: Microchip USART "Error Tolerance", recommended +-2.0 % and +-1.5 %."""
    assert allowed_error(framing) == allowed


def test_an_ideal_8n1_link_forgives_5_26_per_cent() -> None:
    """Published: +-5.26 % in all, +-2.63 % an end."""
    assert ideal_allowed_error("8N1") * 100 == pytest.approx(5.26, abs=0.005)
    assert ideal_allowed_error("8N1") * 50 == pytest.approx(2.63, abs=0.005)


def test_an_ideal_8e2_link_forgives_less_than_8n1() -> None:
    """Hand calculation: 12 bits, half a bit in 11.5 = 4.348 %."""
    assert ideal_allowed_error("8E2") * 100 == pytest.approx(4.348, abs=0.0005)


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
