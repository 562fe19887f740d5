"""Supply rails: choices and loads."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.power import best_choices, fits, load_share

VOLTS = st.floats(0, 60)


def test_the_ends_of_a_supply_range_are_within_it() -> None:
    assert fits(4.5, (4.5, 5.5))
    assert fits(5.5, (4.5, 5.5))
    assert not fits(5.6, (4.5, 5.5))


def test_the_choice_that_suits_the_most_is_found() -> None:
    """Hand calculation: 5 V suits one, 9 V two, 12 V one."""
    assert best_choices((5, 9, 12), [(7, 26), (8, 10), (4.5, 5.5)]) == (2, (9,))


def test_choices_that_suit_equally_many_are_all_told() -> None:
    assert best_choices((5, 9, 12), [(4, 6), (11, 13)]) == (1, (5, 12))
    assert best_choices((5, 9), []) == (0, (5, 9))


@given(st.lists(VOLTS, min_size=1), st.lists(st.tuples(VOLTS, VOLTS)))
def test_the_best_choices_suit_as_many_as_is_said(
    choices: list[float], supplies: list[tuple[float, float]]
) -> None:
    most, best = best_choices(choices, supplies)
    assert best
    assert all(sum(fits(volts, supply) for supply in supplies) == most for volts in best)


def test_currents_are_added_and_put_over_the_rating() -> None:
    """Hand calculation: (0.6 + 0.25 + 0.1 + 0.06) / 2 = 0.505."""
    assert load_share([0.6, 0.25, 0.1, 0.06], 2) == pytest.approx(0.505)
    assert load_share([], 2) == 0


def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="choices"):
        best_choices((), [])
    with pytest.raises(ValueError, match="rating_a"):
        load_share([1], 0)
    with pytest.raises(ValueError, match="current_a"):
        load_share([-1], 2)
