"""Areas C and L: the height that authorities name, and the turns a board is usually given."""

from cfgaudit.physics.rotation import ORIENTATIONS_DEG, is_square
from cfgaudit.rules.rule import usual_limits


def test_the_height_limit_is_the_open_category_s_and_below_400_feet() -> None:
    """Published: EU 2019/947, UAS.OPEN.010(2), 120 m; 14 CFR 107.51, 400 ft of 0.3048 m."""
    limit = usual_limits()["home.height_most"]
    assert (limit.value, limit.unit) == (120.0, "m")
    assert limit.value < 400 * 0.3048


def test_all_published_orientations_but_one_are_multiples_of_45_degrees() -> None:
    """Published: MAVLink, MAV_SENSOR_ORIENTATION 0 to 40; number 38 is roll 90, pitch 68,
    yaw 293."""
    odd = [number for number, turn in ORIENTATIONS_DEG.items() if not is_square(*turn)]
    assert odd == [38]
