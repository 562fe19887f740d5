"""Area L: the height that authorities name."""

from cfgaudit.rules.rule import usual_limits


def test_the_height_limit_is_the_open_category_s_and_below_400_feet() -> None:
    """Published: EU 2019/947, UAS.OPEN.010(2), 120 m; 14 CFR 107.51, 400 ft of 0.3048 m."""
    limit = usual_limits()["home.height_most"]
    assert (limit.value, limit.unit) == (120.0, "m")
    assert limit.value < 400 * 0.3048
