"""Several craft side by side."""

from hypothesis import given

from cfgaudit.changes.diff import Renamed, compare, diff, odd_ones
from cfgaudit.settings import Raw, Settings, Stated
from cfgaudit.vocabulary.kinds import Value
from tests.strategies import settings_pair


def craft(name: str, **values: Value) -> tuple[str, Settings]:
    paths = {path.replace("__", "."): value for path, value in values.items()}
    return name, Settings({path: Stated(path, value) for path, value in paths.items()})


def test_only_what_differs_has_a_row_and_an_unstated_cell_is_empty() -> None:
    (row,) = compare(
        [craft("Dipper", esc__idle=4.5, loop__rate=4000.0), craft("Teal", loop__rate=4000)]
    )
    assert row.path == "esc.idle"
    assert [cell and cell.value for cell in row.cells] == [4.5, None]
    assert row.odd is None  # of two craft neither is the odd one


def test_the_one_that_differs_from_all_others_is_marked() -> None:
    rows = compare(
        [
            craft("Dipper", esc__idle=4.5, loop__rate=4000.0, gyro__full_scale=2000.0),
            craft("Teal", esc__idle=5.5, loop__rate=4000.0, gyro__full_scale=1000.0),
            craft("Rail", esc__idle=4.5, gyro__full_scale=500.0),
        ]
    )
    assert {row.path: row.odd for row in rows} == {
        "esc.idle": 1,
        "loop.rate": 2,  # alone in not stating it
        "gyro.full_scale": None,  # no two agree
    }


def test_two_against_two_has_no_odd_one_out() -> None:
    idles = (4.5, 4.5, 5.5, 5.5)
    (row,) = compare([craft(str(number), esc__idle=idle) for number, idle in enumerate(idles)])
    assert row.odd is None


def test_an_odd_one_stands_alone_among_those_that_state_a_setting() -> None:
    crafts = [
        craft("Dipper", esc__idle=4.5, loop__rate=4000.0, battery__cells=4, craft__name="Dipper"),
        craft("Teal", esc__idle=4.5, loop__rate=4000.0, battery__cells=4, craft__name="Teal"),
        craft("Coot"),
        craft("Rail", esc__idle=5.5, battery__cells=4, craft__name="Teal"),
        craft("Smew", esc__idle=4.5, loop__rate=2000.0, battery__cells=4),
    ]
    odd = {row.path: row.odd for row in odd_ones(crafts)}
    assert odd == {"esc.idle": 3, "loop.rate": 4}  # Coot lacks both, Rail the one
    assert odd_ones([crafts[0], crafts[2], crafts[3]]) == ()  # one against one


def test_what_belongs_to_one_craft_is_left_out_unless_asked_for() -> None:
    crafts = [
        craft(name, craft__name=name, battery__divider=x) for name, x in (("A", 1.0), ("B", 2.0))
    ]
    assert compare(crafts) == ()
    assert [row.path for row in compare(crafts, everything=True)] == [
        "battery.divider",
        "craft.name",
    ]


def test_raw_keys_come_last_and_are_not_mixed_with_paths_of_the_same_name() -> None:
    one = Settings({"x": Stated("x", 1.0)}, raw={"x": Raw("x", "1")})
    rows = compare([("one", one), ("none", Settings())])
    assert [(row.path, row.raw) for row in rows] == [("x", False), ("x", True)]


def test_fewer_than_two_craft_have_nothing_to_differ_in() -> None:
    assert compare([]) == compare([craft("Dipper", esc__idle=4.5)]) == ()


@given(settings_pair())
def test_two_craft_side_by_side_differ_in_what_their_diff_names(
    pair: tuple[Settings, Settings],
) -> None:
    named: list[tuple[bool, str]] = []
    for change in diff(*pair):
        named.append((change.raw, change.path))
        if isinstance(change, Renamed):
            named.append((change.raw, change.old_path))
    rows = compare([("old", pair[0]), ("new", pair[1])], everything=True)
    assert sorted((row.raw, row.path) for row in rows) == sorted(named)
