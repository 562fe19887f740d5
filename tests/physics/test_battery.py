import pytest

from cfgaudit.physics.power import (
    CELL_LIMITS,
    cell_limits,
    current_full_scale_a,
    detected_cells,
    detection_outcomes,
    full_scale_v,
    step_per_cell_v,
)


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
    with pytest.raises(ValueError, match="cells"):
        step_per_cell_v(3.3, 11, 0)
    with pytest.raises(ValueError, match="need 0 < floor_v"):
        detection_outcomes(4, 0, 4.2, 4.3)
    with pytest.raises(ValueError, match="scale_mv_per_a"):
        current_full_scale_a(3.3, 0)
    with pytest.raises(ValueError, match="full_v"):
        detection_outcomes(4, 4.2, 3.0, 4.3)
