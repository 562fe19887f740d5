import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.flight import (
    GRAVITY_M_PER_S2,
    blind_distance_m,
    fall_time_s,
    ground_speed_m_per_s,
)
from cfgaudit.physics.guards import positive
from cfgaudit.physics.video import Box, fits, grid, overlap

boxes = st.builds(
    Box, st.integers(1, 16), st.integers(1, 30), st.integers(1, 12), st.integers(1, 3)
)


def cells(box: Box) -> set[tuple[int, int]]:
    rows = range(box.row, box.row + box.height)
    return {(r, c) for r in rows for c in range(box.column, box.column + box.width)}


@given(boxes, boxes)
def test_boxes_overlap_when_they_share_a_cell(first: Box, second: Box) -> None:
    assert overlap(first, second) == bool(cells(first) & cells(second))
    assert overlap(first, second) == overlap(second, first)


@given(boxes, st.sampled_from(["ntsc", "pal"]))
def test_a_box_fits_when_every_cell_is_on_the_grid(box: Box, standard: str) -> None:
    columns, rows = grid(standard)
    assert fits(box, grid(standard)) == all(r <= rows and c <= columns for r, c in cells(box))


def test_row_14_fits_pal_and_not_ntsc() -> None:
    assert fits(Box(14, 1, 5), grid("pal"))
    assert not fits(Box(14, 1, 5), grid("ntsc"))
    assert not fits(Box(0, 1, 5), grid("pal"))


def test_the_last_column_is_the_thirtieth() -> None:
    """Hand calculation: six characters from column 25 end at 30, from 26 at 31."""
    assert fits(Box(1, 25, 6), grid("ntsc"))
    assert not fits(Box(1, 26, 6), grid("pal"))
    assert not fits(Box(1, 0, 6), grid("pal"))


def test_an_empty_box_and_an_unknown_standard_are_refused() -> None:
    with pytest.raises(ValueError, match="width"):
        Box(1, 1, 0)
    with pytest.raises(ValueError, match="secam"):
        grid("secam")


@given(st.floats(0.1, 500))
def test_a_fall_s_speed_and_time_agree(height_m: float) -> None:
    fallen = GRAVITY_M_PER_S2 * fall_time_s(height_m)
    assert ground_speed_m_per_s(height_m) == pytest.approx(fallen)


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="height_m"):
        ground_speed_m_per_s(-1)
    with pytest.raises(ValueError, match="blind_s"):
        blind_distance_m(10, float("nan"))
    with pytest.raises(ValueError, match="finite"):
        positive("a number with too many digits", 10**400)
