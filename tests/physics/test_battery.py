import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.power import (
    CELL_LIMITS,
    adc_code,
    cell_limits,
    current_full_scale_a,
    detected_cells,
    detection_outcomes,
    divider_ratio,
    full_scale_v,
    possible_cell_counts,
    step_per_cell_v,
    voltage_of_code,
)


@given(st.integers(0, 4095), st.floats(1, 5), st.floats(1, 30))
def test_a_code_s_voltage_has_that_code(code: int, reference: float, divider: float) -> None:
    assert adc_code(voltage_of_code(code, reference, divider), reference, divider) == code


def test_the_input_saturates_at_both_ends() -> None:
    assert adc_code(99, 3.3, 11) == 4095
    assert adc_code(-5, 3.3, 11) == 0


@given(st.integers(1, 12), st.floats(0, 1))
def test_a_pack_s_true_count_is_always_among_the_possible_ones(cells: int, charge: float) -> None:
    resting = cells * (3.0 + charge * 1.2)
    assert cells in possible_cell_counts(resting, 3.0, 4.2)


def test_a_voltage_of_no_pack_fits_no_count() -> None:
    assert possible_cell_counts(5.0, 3.0, 4.2) == ()


def test_detection_counts_up_from_the_cell_voltage() -> None:
    """Hand calculation: 16.8 / 4.3 = 3.9 -> 4; 12.0 / 4.3 = 2.8 -> 3; 4.3 itself is one cell."""
    assert detected_cells(16.8, 4.3) == 4
    assert detected_cells(12.0, 4.3) == 3
    assert detected_cells(4.3, 4.3) == 1


def test_an_empty_four_cell_pack_may_be_taken_for_three() -> None:
    """Hand calculation: 12.0 / 4.3 = 2.79 -> 3, 14.0 / 4.3 = 3.26 -> 4, 16.8 / 4.3 = 3.91 -> 4;
    one cell from 3.0 to 4.2 V is below 4.3 V."""
    assert detection_outcomes(4, 3.0, 4.2, 4.3) == (3, 4)
    assert detection_outcomes(4, 3.5, 4.2, 4.3) == (4,)
    assert detection_outcomes(1, 3.0, 4.2, 4.3) == (1,)


def test_every_chemistry_has_ordered_limits() -> None:
    for limits in CELL_LIMITS.values():
        assert limits.floor_v < limits.warn_v < limits.full_v
    with pytest.raises(ValueError, match="lead"):
        cell_limits("lead")


def test_a_sensor_offset_beyond_the_reference_sees_nothing() -> None:
    """Hand calculation: 3300 mV / 40 mV/A = 82.5 A."""
    assert current_full_scale_a(3.3, 40, 3300) == 0
    assert current_full_scale_a(3.3, 40) == pytest.approx(82.5)


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="divider"):
        full_scale_v(3.3, 0)
    with pytest.raises(ValueError, match="lower_ohm"):
        divider_ratio(1000, 0)
    with pytest.raises(ValueError, match="cells"):
        step_per_cell_v(3.3, 11, 0)
    with pytest.raises(ValueError, match="code"):
        voltage_of_code(4096, 3.3, 11)
    with pytest.raises(ValueError, match="floor_v"):
        possible_cell_counts(12, 4.2, 3.0)
    with pytest.raises(ValueError, match="need 0 < floor_v"):
        possible_cell_counts(12, 0, 4.2)
    with pytest.raises(ValueError, match="scale_mv_per_a"):
        current_full_scale_a(3.3, 0)
    with pytest.raises(ValueError, match="full_v"):
        detection_outcomes(4, 4.2, 3.0, 4.3)
    with pytest.raises(ValueError, match="pack_v"):
        adc_code(float("inf"), 3.3, 11)
