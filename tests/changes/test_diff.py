"""What a diff says, and in which order."""

import subprocess
import sys

import pytest
from hypothesis import given

from cfgaudit.changes.diff import (
    Added,
    Changed,
    Removed,
    Renamed,
    diff,
    entry_meaning,
    meaning,
    name_of,
    natural,
    sort_key,
)
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Raw, Settings, Stated
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Filter, SwitchRange, Value
from tests.strategies import settings, settings_pair


def states(**values: Value) -> Settings:
    """Settings by path, a double underscore for each full stop."""
    paths = {name.replace("__", "."): value for name, value in values.items()}
    return Settings(stated={path: Stated(path, value) for path, value in paths.items()})


def raw(**values: str) -> Settings:
    return Settings(raw={key: Raw(key, value) for key, value in values.items()})


@given(settings())
def test_settings_do_not_differ_from_themselves(a: Settings) -> None:
    assert diff(a, a) == ()


@given(settings_pair())
def test_every_name_that_differs_is_in_one_change_and_no_other_name_is(
    pair: tuple[Settings, Settings],
) -> None:
    old, new = pair
    said: list[tuple[bool, str]] = []
    for change in diff(old, new):
        said.append((change.raw, change.path))
        if isinstance(change, Renamed):
            said.append((change.raw, change.old_path))
    differing = {
        (about_raw, path)
        for about_raw, before, after in (
            (False, dict(old.stated), dict(new.stated)),
            (True, dict(old.raw), dict(new.raw)),
        )
        for path in {*before, *after}
        if entry_meaning(before.get(path)) != entry_meaning(after.get(path))
    }
    assert sorted(said) == sorted(differing)


@given(settings_pair())
def test_a_diff_taken_backwards_speaks_of_the_same_names(pair: tuple[Settings, Settings]) -> None:
    old, new = pair
    forth, back = diff(old, new), diff(new, old)

    def names(changes: tuple[object, ...], sort: type) -> set[str]:
        return {change.path for change in changes if isinstance(change, sort)}  # type: ignore[attr-defined]

    sure = [c for c in (*forth, *back) if not isinstance(c, Renamed)]
    assert names(forth, Changed) == names(back, Changed)
    if len(sure) == len(forth) + len(back):
        assert names(forth, Added) == names(back, Removed)


@given(settings_pair())
def test_the_order_is_total_and_does_not_hang_on_the_order_of_the_dump(
    pair: tuple[Settings, Settings],
) -> None:
    old, new = pair

    def turned(side: Settings) -> Settings:
        stated, raws = list(side.stated.items()), list(side.raw.items())
        return Settings(stated=dict(stated[::-1]), raw=dict(raws[::-1]))

    changes = diff(old, new)
    assert diff(turned(old), turned(new)) == changes
    keys = [sort_key(change) for change in changes]
    assert keys == sorted(set(keys))


def test_the_gravest_class_comes_first_then_the_vocabulary_then_the_path_then_raw_keys() -> None:
    paths = (
        "craft.name",  # identity
        "ports.uart10.baud",  # safety; the same pattern as uart2's
        "ports.uart2.baud",
        "camera.standard",  # comfort
        "battery.warn_cell",  # power
        "ports.uart2.roles",  # safety; declared before the rate
        "no.such.path",
    )
    new = Settings(
        stated={path: Stated(path, 1.0) for path in paths},
        raw={key: Raw(key, "1") for key in ("b10", "b9")},
    )
    assert [change.path for change in diff(Settings(), new)] == [
        "ports.uart2.roles",
        "ports.uart2.baud",
        "ports.uart10.baud",
        "battery.warn_cell",
        "camera.standard",
        "craft.name",
        "no.such.path",
        "b9",
        "b10",
    ]


def test_natural_order_copes_with_digits_without_end() -> None:
    long = "x" + "9" * 5000
    assert sorted([long + "0", long, "x10", "x9"], key=natural) == ["x9", "x10", long, long + "0"]


def test_a_change_knows_its_class_and_whether_it_belongs_to_this_craft() -> None:
    (change,) = diff(states(battery__divider=11.0), states(battery__divider=11.1))
    assert isinstance(change, Changed)
    assert (change.cls, change.craft_own, change.raw) == (Class.POWER, True, False)
    (change,) = diff(states(esc__idle=4.5), Settings())
    assert isinstance(change, Removed)
    assert (change.cls, change.craft_own) == (Class.SAFETY, False)


def test_a_counter_is_among_the_changes_and_marked_as_volatile() -> None:
    def counted(flown: str, chime: str) -> Settings:
        moves = Raw("hours_flown", flown, volatile=True)
        return Settings(raw={"hours_flown": moves, "chime": Raw("chime", chime)})

    changes = diff(counted("37", "2"), counted("38", "3"))
    assert [(change.path, change.volatile) for change in changes] == [
        ("chime", False),
        ("hours_flown", True),
    ]
    (change,) = diff(
        states(sensors__accelerometer__trim__roll=1.0),
        states(sensors__accelerometer__trim__roll=1.5),
    )
    assert change.volatile


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (57600, 57.6 * 1000),
        (0.3, 0.1 + 0.2),
        (0.0, -0.0),
        (float("nan"), float("nan")),
        (
            (SwitchRange(5, 900.0, 1000.0), SwitchRange(6, 900.0, 1000.0)),
            (SwitchRange(6, 900.0, 1000.0), SwitchRange(5, 900.0, 1000.0)),
        ),
        (
            (Filter("notch", 200.0, 3.5), Filter("pt1", 150.0)),
            (Filter("pt1", 150.0), Filter("notch", 200.0, 3.5)),
        ),
    ],
)
def test_values_that_mean_the_same_are_no_change(one: Value, other: Value) -> None:
    assert meaning(one) == meaning(other)
    assert diff(states(x=one), states(x=other)) == ()


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (True, 1),
        (57600, 57601),
        ("on", True),
        ((5740.0, 5760.0), (5760.0, 5740.0)),  # a band's channels are counted
        ((SwitchRange(5, 900.0, 1000.0),), (SwitchRange(5, 900.0, 1000.0),) * 2),
    ],
)
def test_values_that_mean_something_else_are_a_change(one: Value, other: Value) -> None:
    assert len(diff(states(x=one), states(x=other))) == 1


def test_a_doubtful_value_differs_from_one_that_can_be_trusted() -> None:
    sure = Stated("esc.idle", 4.5)
    doubtful = sure._replace(doubt="no unit")
    (change,) = diff(Settings({"esc.idle": sure}), Settings({"esc.idle": doubtful}))
    assert isinstance(change, Changed)


def test_where_a_value_stands_and_came_from_is_no_change() -> None:
    here = Stated("esc.idle", 4.5, Place("a", 1))
    there = Stated("esc.idle", 4.5, Place("b", 9), Origin.FACTORY, "450")
    assert diff(Settings({"esc.idle": here}), Settings({"esc.idle": there})) == ()


def test_a_known_rename_is_no_guess_and_may_bring_another_value() -> None:
    old, new = raw(patience="3", chime="1"), raw(forbearance="4", chime="1")
    (change,) = diff(old, new, {"patience": "forbearance"})
    assert isinstance(change, Renamed)
    assert (change.old_path, change.path, change.guess) == ("patience", "forbearance", False)
    assert {type(c) for c in diff(old, new)} == {Added, Removed}


def test_a_near_name_with_the_same_value_is_guessed_to_be_a_rename() -> None:
    (change,) = diff(raw(soft_start="35"), raw(softer_start="35"))
    assert isinstance(change, Renamed)
    assert change.guess
    assert name_of(change.old) == "soft_start"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (raw(soft_start="35"), raw(softer_start="36")),  # another value
        (raw(soft_start="35"), raw(brake="35")),  # a far name
        (raw(lane_a="0", lane_b="0"), raw(lane_c="0")),  # two that are as near
        (raw(lane_a="0"), raw(lane_b="0", lane_c="0")),
    ],
)
def test_no_rename_is_guessed_without_good_ground(old: Settings, new: Settings) -> None:
    assert not [change for change in diff(old, new) if isinstance(change, Renamed)]


def test_a_value_that_everything_shares_is_no_ground_for_a_guess() -> None:
    old = Settings(raw={f"reed{i}": Raw(f"reed{i}", "0") for i in range(100)})
    new = Settings(raw={f"reed{i}x": Raw(f"reed{i}x", "0") for i in range(100)})
    assert {type(change) for change in diff(old, new)} == {Added, Removed}


SCRIPT = """
from cfgaudit.changes.diff import diff
from cfgaudit.settings import Raw, Settings, Stated
from cfgaudit.vocabulary.kinds import SwitchRange
def side(words, low, keys):
    entries = [Stated("ports.uart1.roles", frozenset(words)),
               Stated("arming.waived", frozenset(words)),
               Stated("switches.arm", tuple(SwitchRange(c, low, 2100.0) for c in (5, 6, 7)))]
    return Settings({e.path: e for e in entries}, raw={k: Raw(k, "0") for k in keys})
old = side("abcdefgh", 1700.0, {"soft_start", "chime", "glide"})
new = side("stuvwxyz", 1600.0, {"softer_start", "chimes", "brake"})
for change in diff(old, new):
    print(type(change).__name__, change.path, change.cls, getattr(change, "parts", ""))
"""


def output(seed: str) -> str:
    run = [sys.executable, "-c", SCRIPT]
    return subprocess.run(
        run, env={"PYTHONHASHSEED": seed}, capture_output=True, text=True, check=True
    ).stdout


def test_the_output_is_the_same_whatever_the_seed_of_hashing() -> None:
    first, second = output("1"), output("4242")
    assert first == second
    assert len(first.splitlines()) == 7  # 3 stated, 2 guessed renames, glide gone, brake come


@pytest.mark.parametrize(
    ("old", "new", "changes"),
    [("2.4", "2.4.0", 0), ("v2.4.0", "2.4", 0), ("2.4", "2.4.1", 1), ("2.4", "2.4-reed", 1)],
)
def test_a_version_is_compared_by_its_numbers(old: str, new: str, changes: int) -> None:
    before, after = (read_plain(f'firmware.version = "{text}"\n') for text in (old, new))
    assert len(diff(before, after)) == changes
