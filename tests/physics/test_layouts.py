from math import hypot

import pytest

from cfgaudit.physics.allocation import (
    BEARINGS_DEG,
    alternating_spins,
    arm_names,
    arm_positions,
    bearing_deg,
    clockwise_order,
    expected_spins,
    neighbours_alike,
    rotation_has_meaning,
)

LAYOUTS = sorted(BEARINGS_DEG)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_arms_stand_where_their_names_say(layout: str) -> None:
    for name, (x, y) in arm_positions(layout, 0.2).items():
        assert hypot(x, y) == pytest.approx(0.2)
        words = name.split("_")
        assert ("front" in words) <= (x > 0)
        assert ("rear" in words) <= (x < 0)
        assert ("right" in words) <= (y > 0)
        assert ("left" in words) <= (y < 0)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_arms_are_listed_clockwise_and_alternate(layout: str) -> None:
    places = arm_positions(layout)
    spins = alternating_spins(layout, 1)
    assert sum(spins.values()) == 0
    assert neighbours_alike(places, spins) == ()
    assert clockwise_order(places) == arm_names(layout)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_neighbouring_arms_stand_at_equal_angles_and_mirror_each_other(layout: str) -> None:
    """Common practice: a quad's arms are 90 degrees apart, six 60, eight 45; left is right."""
    bearings = [bearing_deg(*place) for place in arm_positions(layout).values()]
    gaps = [(b - a) % 360 for a, b in zip(bearings, bearings[1:] + bearings[:1], strict=True)]
    assert gaps == pytest.approx([360 / len(bearings)] * len(bearings))
    mirrored = sorted(-bearing % 360 for bearing in bearings)
    assert mirrored == pytest.approx(sorted(bearings))


def test_inward_turns_the_front_left_arm_clockwise_and_the_front_right_one_not() -> None:
    for layout in ("quad_x", "hex_x", "octo_x"):
        spins = expected_spins(layout, "inward")
        assert (spins["front_left"], spins["front_right"]) == (1, -1)
        assert expected_spins(layout, "outward") == {arm: -spin for arm, spin in spins.items()}


@pytest.mark.parametrize("layout", ["quad_plus", "hex_plus"])
def test_a_layout_with_a_nose_arm_has_no_inward(layout: str) -> None:
    assert not rotation_has_meaning(layout)
    with pytest.raises(ValueError, match="nose"):
        expected_spins(layout, "inward")


@pytest.mark.parametrize(
    ("x_m", "y_m", "bearing"),
    [(0.1, 0, 0), (0.1, 0.1, 45), (0, 0.1, 90), (-0.1, 0, 180), (0, -0.1, 270)],
)
def test_a_bearing_counts_clockwise_from_the_nose(x_m: float, y_m: float, bearing: float) -> None:
    """x is forward and y to the right."""
    assert bearing_deg(x_m, y_m) == pytest.approx(bearing)


def test_the_centre_has_no_bearing() -> None:
    with pytest.raises(ValueError, match="centre"):
        bearing_deg(0, 0)


def test_unknown_words_are_refused() -> None:
    with pytest.raises(ValueError, match="custom"):
        arm_positions("custom")
    with pytest.raises(ValueError, match="sideways"):
        expected_spins("quad_x", "sideways")
    with pytest.raises(ValueError, match="spin"):
        alternating_spins("quad_x", 0)
    with pytest.raises(ValueError, match="radius_m"):
        arm_positions("quad_x", 0)
    with pytest.raises(ValueError, match="centre"):
        bearing_deg(0, 0)


def test_pairs_on_one_side_are_neighbours_alike() -> None:
    spins = {"front_left": 1, "rear_left": 1, "front_right": -1, "rear_right": -1}
    pairs = neighbours_alike(arm_positions("quad_x"), spins)
    assert pairs == (("front_right", "rear_right"), ("rear_left", "front_left"))
