"""The odd values of a fleet, against hand calculations, laws and faults that were put in."""

import random
from collections.abc import Iterable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfgaudit.audit import odd as odd_module
from cfgaudit.audit.odd import (
    ALARM,
    FleetRow,
    Learning,
    Odd,
    Peers,
    blocks,
    columns_of,
    compared,
    number,
    odd_among,
    posterior,
    sampled,
)
from cfgaudit.audit.overview import row_of
from tests.audit.fleet_desks import desk
from tests.benchmarks.fleets import fleet

LIKE = ("quad_x", "160 to 260 mm", "sedge")
OWN = (
    "craft.name",
    "craft.owner",
    "craft.serial",
    "battery.divider",
    "battery.current_scale",
    "battery.current_offset",
    "sensors.accelerometer.trim.roll",
    "firmware.built",
    "board.name",
)
VALUES = {
    "home.ceiling": ("80 m", "100 m", "120 m"),
    "failsafe.action": ("land", "return_home"),
    "esc.idle": ("4.5 %", "5 %", "5.5 %", "9 %"),
    "battery.divider": ("10.8", "11", "11.2"),
    "craft.owner": ("Reed", "Sedge"),
}

ROWS = st.lists(
    st.fixed_dictionaries({path: st.sampled_from(found) for path, found in VALUES.items()}),
    min_size=0,
    max_size=30,
).map(lambda those: [FleetRow(f"craft {n}", LIKE, values) for n, values in enumerate(those)])


@pytest.mark.parametrize(
    ("count", "peers", "values", "settings_", "wanted"),
    [
        # (N + c) / (N + c t + c m (t - 1)), reckoned by hand
        (0, 100, 2, 200, Fraction(102, 100 + 400)),
        (100, 100, 1, 200, Fraction(101, 100 + 200 + 100 * 199)),
        (3, 60, 4, 50, Fraction(64, 60 + 200 + 4 * 3 * 49)),
    ],
)
def test_the_posterior_is_that_of_the_source(
    count: int, peers: int, values: int, settings_: int, wanted: Fraction
) -> None:
    assert posterior(count, peers, values, settings_, 1) == pytest.approx(float(wanted))


def learn(rows: Iterable[FleetRow]) -> Peers:
    """What is usual in a fleet."""
    kept = list(rows)
    learning = Learning(sampled(kept))
    for block in blocks(kept):
        learning.add(block)
    return learning.peers()


def odd_values(peers: Peers, row: FleetRow, least: float = 0.0) -> tuple[Odd, ...]:
    """What is odd of one craft, the most surprising first."""
    found = odd_among(peers, columns_of([row]), least)
    return tuple(sorted(found, key=lambda odd: (-odd.posterior, odd.path)))


def _rows(values: list[str], path: str = "home.ceiling") -> list[FleetRow]:
    return [FleetRow(f"craft {n:02}", LIKE, {path: value}) for n, value in enumerate(values)]


def test_one_that_differs_from_all_its_like_is_odd_by_the_formula() -> None:
    rows = _rows(["100 m"] * 30 + ["off"])  # no number: nothing is near it
    (odd,) = odd_values(learn(rows), rows[-1])
    # of 30 peers none has it, of two values; one setting, and so two at least, is compared
    assert odd.posterior == pytest.approx(float(Fraction(32, 30 + 2 * 2)))
    assert (odd.usual, odd.having, odd.peers) == ("100 m", 30, 30)


def test_a_number_far_off_is_odder_than_one_close_by() -> None:
    rows = _rows(["100 m"] * 30 + ["105 m", "300 m"])
    peers = learn(rows)
    near, far = (odd_values(peers, row)[0].posterior for row in rows[-2:])
    assert near < far


def test_numbers_within_the_usual_spread_are_not_odd() -> None:
    chance = random.Random(3)
    values = [f"{round(100 * (1 + chance.uniform(-0.1, 0.1)))} m" for _ in range(80)]
    rows = _rows([*values, "180 m"])
    peers = learn(rows)
    order = sorted(
        rows, key=lambda row: -max((o.posterior for o in odd_values(peers, row)), default=0)
    )
    assert order[0].values["home.ceiling"] == "180 m"


def test_few_peers_say_nothing() -> None:
    rows = _rows(["100 m"] * 5 + ["300 m"])
    assert odd_values(learn(rows[1:]), rows[-1]) == ()  # four others only


def test_a_value_that_another_setting_tells_is_odd_where_that_says_otherwise() -> None:
    habits = [("80 m", "land", "5 %"), ("120 m", "return_home", "5.5 %")] * 20
    paths = ("home.ceiling", "failsafe.action", "esc.idle")
    more = ("home.altitude", "home.speed")
    rows = [
        FleetRow(
            f"craft {n}",
            LIKE,
            dict(zip(paths, habit, strict=True))
            | dict.fromkeys(more[:1], "30 m" if habit[0] == "80 m" else "40 m")
            | dict.fromkeys(more[1:], "5 m/s" if habit[0] == "80 m" else "7 m/s"),
        )
        for n, habit in enumerate(habits)
    ]
    rows[0] = rows[0]._replace(values={**rows[0].values, "home.ceiling": "120 m"})
    peers = learn(rows)
    odd = odd_values(peers, rows[0])
    assert odd[0].path == "home.ceiling"  # as many have 120 m as 80 m, but none like it
    assert odd[0].usual == "80 m"
    assert not odd_values(peers, rows[1], odd[0].posterior)


@given(rows=ROWS, seed=st.integers(0, 1_000))
@settings(max_examples=60, deadline=None)
def test_the_order_of_the_craft_changes_nothing(rows: list[FleetRow], seed: int) -> None:
    shuffled = random.Random(seed).sample(rows, len(rows))
    one, other = learn(rows), learn(shuffled)
    assert [odd_values(one, row) for row in rows] == [odd_values(other, row) for row in rows]


SOME_STATED = st.lists(
    st.fixed_dictionaries({}, optional={p: st.sampled_from(v) for p, v in VALUES.items()}),
    max_size=30,
).map(lambda those: [FleetRow(f"craft {n}", LIKE, values) for n, values in enumerate(those)])


@given(rows=SOME_STATED)
@settings(max_examples=60, deadline=None)
def test_craft_side_by_side_state_what_each_of_them_states(rows: list[FleetRow]) -> None:
    block = columns_of(rows)
    for at, name in enumerate(block.names):
        stated = {path: column[at] for path, column in block.values.items() if path in VALUES}
        (row,) = [row for row in rows if row.name == name]
        assert {path: value for path, value in stated.items() if value is not None} == row.values
    assert sorted(block.names) == sorted(row.name for row in rows)


@given(rows=SOME_STATED, together=st.integers(1, 31))
@settings(max_examples=60, deadline=None)
def test_how_many_craft_are_counted_together_changes_nothing(
    rows: list[FleetRow], together: int
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(odd_module, "_BLOCK", together)
        peers = learn(rows)
    assert peers == learn(rows)
    alone = [odd for row in rows for odd in odd_values(peers, row)]
    assert sorted(odd_among(peers, columns_of(rows), 0.0)) == sorted(alone)


def test_one_setting_is_thought_to_be_sick_of_as_many_as_a_craft_states_on_the_average() -> None:
    states = {path: found[0] for path, found in VALUES.items()}  # two of them are its own
    rows = [FleetRow(f"craft {n}", LIKE, states) for n in range(30)]
    assert learn(rows).settings == 3


def test_what_many_craft_are_shown_is_weighed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    weighed: list[str] = []
    answer = Peers._answer

    def counted(peers: Peers, path: str, value: str, *rest: object) -> object:
        weighed.append(value)
        return answer(peers, path, value, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(Peers, "_answer", counted)
    rows = _rows(["100 m"] * 300 + ["off"] * 9)
    assert len(list(odd_among(learn(rows), columns_of(rows), 0.0))) == 9
    assert weighed == ["off"]  # and never what is plainly usual


@given(values=st.fixed_dictionaries({p: st.sampled_from(v) for p, v in VALUES.items()}))
@settings(max_examples=30, deadline=None)
def test_craft_that_are_the_same_are_never_odd(values: dict[str, str]) -> None:
    rows = [FleetRow(f"craft {n}", LIKE, values) for n in range(30)]
    peers = learn(rows)
    assert all(odd_values(peers, row) == () for row in rows)


@given(rows=ROWS)
@settings(max_examples=60, deadline=None)
def test_what_is_one_craft_s_own_is_never_odd(rows: list[FleetRow]) -> None:
    peers = learn(rows)
    told = {odd.path for row in rows for odd in odd_values(peers, row)}
    assert told.isdisjoint(OWN)


@pytest.mark.parametrize("path", OWN)
def test_craft_are_not_compared_by_what_is_their_own_or_who_they_are(path: str) -> None:
    assert not compared(path)


@given(rows=ROWS)
@settings(max_examples=60, deadline=None)
def test_a_posterior_is_a_probability_and_the_oddest_come_first(rows: list[FleetRow]) -> None:
    peers = learn(rows)
    for row in rows:
        told = [odd.posterior for odd in odd_values(peers, row)]
        assert all(0 < one < 1 for one in told)
        assert told == sorted(told, reverse=True)


def test_a_word_is_no_number() -> None:
    assert number("failsafe.action", "land") is None
    assert number("battery.cells", "auto") is None
    assert number("battery.cells", "4") == 4


def _spoilt(seed: int) -> tuple[int, int, float]:
    """How many of forty odd values come first, how many in the first five; alarms a craft."""
    made = list(fleet(200, seed, odd=40))
    auditing = desk()
    rows = [row_of(auditing.record(craft.name, craft.text.encode())) for craft in made]
    peers = learn(rows)
    first = five = alarms = 0
    for craft, row in zip(made, rows, strict=True):
        told = [odd.path in craft.odd for odd in odd_values(peers, row)]
        first += bool(craft.odd) and any(told[:1])
        five += bool(craft.odd) and any(told[:5])
        alarms += sum(odd.path not in craft.odd for odd in odd_values(peers, row, ALARM))
    return first, five, alarms / len(made)


# No seed by which the figures in odd.py were chosen: those were 101 to 104.
@pytest.mark.parametrize("seed", [2001, pytest.param(2002, marks=pytest.mark.long)])
def test_odd_values_that_no_rule_catches_are_found_among_two_hundred_craft(seed: int) -> None:
    first, five, alarms = _spoilt(seed)
    assert first >= 28  # 70 % of 40
    assert five >= 36  # 90 %
    assert alarms <= 1
