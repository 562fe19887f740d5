"""Changes put to use give the new settings."""

import copy

import pytest
from hypothesis import given

from cfgaudit.changes.diff import DoesNotFit, Renamed, apply, diff, entry_meaning
from cfgaudit.settings import Raw, Settings, Stated, Trouble, TroubleKind
from tests.strategies import settings, settings_pair


def held(settings: Settings) -> tuple[dict[str, object], dict[str, object]]:
    return (
        {path: entry_meaning(entry) for path, entry in settings.stated.items()},
        {key: entry_meaning(entry) for key, entry in settings.raw.items()},
    )


@given(settings_pair())
def test_the_changes_from_a_to_b_make_b_out_of_a(pair: tuple[Settings, Settings]) -> None:
    a, b = pair
    made = apply(diff(a, b), a)
    assert held(made) == held(b)
    assert diff(made, b) == ()


@given(settings_pair())
def test_the_changes_back_undo_the_changes(pair: tuple[Settings, Settings]) -> None:
    a, b = pair
    assert held(apply(diff(b, a), apply(diff(a, b), a))) == held(a)


@given(settings_pair())
def test_what_was_given_is_not_altered(pair: tuple[Settings, Settings]) -> None:
    a, b = pair
    before = copy.deepcopy(pair)
    apply(diff(a, b), a)
    assert (a, b) == before
    assert [list(side.stated) for side in pair] == [list(side.stated) for side in before]


@given(settings())
def test_no_changes_leave_the_settings_equal(a: Settings) -> None:
    assert apply((), a) == a


def test_a_renamed_setting_keeps_its_place_and_an_added_one_comes_last() -> None:
    a = Settings(raw={key: Raw(key, value) for key, value in (("soft", "1"), ("hum", "2"))})
    b = Settings(
        raw={key: Raw(key, value) for key, value in (("new", "9"), ("hum", "2"), ("softer", "1"))}
    )
    changes = diff(a, b)
    assert any(isinstance(change, Renamed) for change in changes)
    assert list(apply(changes, a).raw) == ["softer", "hum", "new"]


def test_a_change_that_starts_from_another_value_is_refused() -> None:
    a, b, c = (Settings({"esc.idle": Stated("esc.idle", value)}) for value in (4.0, 5.0, 6.0))
    with pytest.raises(DoesNotFit, match=r"esc\.idle"):
        apply(diff(a, b), c)
    with pytest.raises(DoesNotFit):
        apply(diff(Settings(), b), c)


def test_trouble_with_the_old_value_goes_with_it_and_other_trouble_stays() -> None:
    gone = Trouble(TroubleKind.IMPOSSIBLE, "too much", path="esc.idle")
    stays = Trouble(TroubleKind.UNREAD, "no sense in it")
    a = Settings({"esc.idle": Stated("esc.idle", 400.0)}, troubles=(gone, stays))
    b = Settings({"esc.idle": Stated("esc.idle", 4.0)})
    assert apply(diff(a, b), a).troubles == (stays,)


def test_a_second_statement_stays_beside_a_changed_value_and_goes_with_a_removed_one() -> None:
    first, second = Stated("esc.idle", 4.0), Stated("esc.idle", 5.0)
    a = Settings({"esc.idle": second}, repeats=((second, first),))
    third = Stated("esc.idle", 6.0)
    assert apply(diff(a, Settings({"esc.idle": third})), a).repeats == ((third, first),)
    assert apply(diff(a, Settings()), a).repeats == ()
