"""Relations put into a fleet are learnt, chance ones are not, and a house can adopt them."""

import random
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.audit.odd import FleetRow, blocks, sampled
from cfgaudit.audit.plugins import Plugins
from cfgaudit.audit.relations import LearntRelation, Relation, RelationsLearning
from cfgaudit.cli import InputError
from cfgaudit.cli.folder import folder_settings
from cfgaudit.cli.house import read_house
from cfgaudit.settings import Settings, Stated

LIKE = ("quad_x", "", "sedge")


def learn_relations(rows: Sequence[FleetRow]) -> tuple[LearntRelation, ...]:
    """The relations of a fleet."""
    learning = RelationsLearning(sampled(rows))
    for block in blocks(rows):
        learning.add(block)
    return learning.learnt()


def _fleet(make, count: int = 60) -> list[FleetRow]:  # type: ignore[no-untyped-def]
    chance = random.Random(8)
    return [FleetRow(f"craft {n:03}", LIKE, make(chance)) for n in range(count)]


def _rates(chance: random.Random) -> dict[str, str]:
    most = chance.choice((400, 500, 600, 700, 800))
    return {
        "banks.1.rates.roll.max": f"{most} deg/s",
        "banks.1.rates.pitch.max": f"{most} deg/s",
        "banks.1.rates.yaw.max": f"{most * 0.8:g} deg/s",
    }


def _by_kind(found: tuple[LearntRelation, ...], kind: str) -> list[LearntRelation]:
    return [one for one in found if one.relation.kind == kind]


def test_equal_settings_and_a_ratio_are_learnt_with_the_craft_that_breaks_them() -> None:
    rows = _fleet(_rates)
    rows[7] = rows[7]._replace(values={**rows[7].values, "banks.1.rates.pitch.max": "777 deg/s"})
    found = learn_relations(rows)
    (equal,) = _by_kind(found, "equal")
    assert set(equal.relation.paths) == {"banks.1.rates.roll.max", "banks.1.rates.pitch.max"}
    assert (equal.craft, equal.breaking, equal.names) == (60, 1, ("craft 007",))
    ratio = _by_kind(found, "ratio")[0].relation
    assert ratio.low <= 0.8 <= ratio.high or ratio.low <= 1.25 <= ratio.high


def test_an_order_is_learnt_where_the_ranges_overlap() -> None:
    def make(chance: random.Random) -> dict[str, str]:
        low = chance.randint(20, 90)
        return {"home.altitude": f"{low} m", "home.ceiling": f"{low + chance.randint(5, 60)} m"}

    found = learn_relations(_fleet(make, 120))
    (order,) = _by_kind(found, "ordered")
    assert order.relation.paths == ("home.altitude", "home.ceiling")


def test_a_sum_is_learnt() -> None:
    def make(chance: random.Random) -> dict[str, str]:
        one, two = chance.randint(2, 9), chance.randint(10, 30)
        return {
            "failsafe.detect_after": f"{one} s",
            "failsafe.hold_for": f"{two} s",
            "failsafe.land_for": f"{one + two} s",
        }

    (found,) = _by_kind(learn_relations(_fleet(make)), "sum")
    assert found.relation.says == (
        "failsafe.land_for is failsafe.detect_after and failsafe.hold_for together"
    )


def test_where_one_is_so_the_other_is_so() -> None:
    def make(chance: random.Random) -> dict[str, str]:
        club = chance.choice(("land", "return_home", "hold_inputs"))
        heights = {"land": "20 m", "return_home": "40 m", "hold_inputs": "60 m"}
        return {"failsafe.action": club, "home.altitude": heights[club]}

    said = {one.relation.says for one in learn_relations(_fleet(make, 120))}
    assert "where failsafe.action is land, home.altitude is 20 m" in said


@pytest.mark.parametrize("seed", range(6))
def test_nothing_is_learnt_from_settings_that_chance_drew(seed: int) -> None:
    chance = random.Random(seed)
    paths = [f"banks.1.gains.{axis}.{g}" for axis in ("roll", "pitch", "yaw") for g in "pid"]
    rows = [
        FleetRow(f"craft {n}", LIKE, {path: str(chance.randint(20, 60)) for path in paths})
        for n in range(80)
    ]
    assert learn_relations(rows) == ()


def test_fewer_than_twenty_craft_teach_nothing() -> None:
    assert learn_relations(_fleet(_rates, 19)) == ()


def test_the_order_of_the_craft_changes_nothing() -> None:
    rows = _fleet(_rates, 90)
    assert learn_relations(rows) == learn_relations(rows[::-1])


KEPT_AND_BROKEN = [
    (
        Relation("equal", ("banks.1.rates.roll.max", "banks.1.rates.pitch.max")),
        {"banks.1.rates.roll.max": 600.0, "banks.1.rates.pitch.max": 600.0},
        {"banks.1.rates.roll.max": 600.0, "banks.1.rates.pitch.max": 610.0},
    ),
    (
        Relation("ordered", ("home.altitude", "home.ceiling")),
        {"home.altitude": 40.0, "home.ceiling": 100.0},
        {"home.altitude": 101.0, "home.ceiling": 100.0},
    ),
    (
        Relation("ratio", ("banks.1.rates.yaw.max", "banks.1.rates.roll.max"), 0.78, 0.82),
        {"banks.1.rates.yaw.max": 480.0, "banks.1.rates.roll.max": 600.0},
        {"banks.1.rates.yaw.max": 450.0, "banks.1.rates.roll.max": 600.0},
    ),
    (
        Relation("sum", ("failsafe.land_for", "failsafe.detect_after", "failsafe.hold_for")),
        {"failsafe.land_for": 0.9, "failsafe.detect_after": 0.4, "failsafe.hold_for": 0.5},
        {"failsafe.land_for": 1.0, "failsafe.detect_after": 0.4, "failsafe.hold_for": 0.5},
    ),
    (
        Relation("if_then", ("home.altitude", "failsafe.action"), when="land", then="20 m"),
        {"home.altitude": 20.0, "failsafe.action": "land"},
        {"home.altitude": 40.0, "failsafe.action": "land"},
    ),
]


@pytest.mark.parametrize(("relation", "kept", "broken"), KEPT_AND_BROKEN)
def test_a_house_that_adopts_a_relation_hears_of_the_craft_that_breaks_it(
    relation: Relation, kept: dict[str, float | str], broken: dict[str, float | str], tmp_path: Path
) -> None:
    tables = LearntRelation(relation, 40, 1, ()).limit("error")
    assert tomllib.loads(tables)["limit"][0]["because"] == "39 of 40 craft have it so"
    (tmp_path / "cfgaudit.toml").write_text(tables, "utf-8")
    house = folder_settings(tmp_path).house
    assert house is not None
    rules = read_house(house, Plugins()).rules
    quiet, loud = (
        audit(Settings({p: Stated(p, v) for p, v in craft.items()}), rules)
        for craft in (kept, broken)
    )
    assert not quiet.findings
    assert not quiet.not_checked
    (finding,) = loud.findings
    assert set(finding.paths) == set(relation.paths)
    if relation.kind != "if_then":
        assert not finding.mend  # either setting may be the wrong one


@pytest.mark.parametrize(
    ("comparison", "said"),
    [
        ('at_most = { setting = "home.speed" }', "not in the unit of home.ceiling"),
        ('at_most = { setting = "failsafe.action" }', "two settings with a number"),
        ('at_most = { setting = "home.nothing" }', "there is no setting 'home.nothing'"),
        ('one_of = { setting = "home.altitude" }', "wants a value, no other setting"),
        ('at_most = { setting = "home.altitude", sum = ["home.altitude"] }', "at_most wants"),
        ('at_most = { setting = "home.altitude", times = "2" }', "times must be a number"),
        ('at_most = { setting = "home.altitude", plus = 2 }', "plus is no key"),
        ("at_most = { times = 2 }", "at_most wants"),
    ],
)
def test_a_limit_of_other_settings_that_can_t_be_is_refused_with_its_line(
    comparison: str, said: str, tmp_path: Path
) -> None:
    tables = f'[[limit]]\nsetting = "home.ceiling"\n{comparison}\nbecause = "so it is"\n'
    (tmp_path / "cfgaudit.toml").write_text(tables, "utf-8")
    house = folder_settings(tmp_path).house
    assert house is not None
    with pytest.raises(InputError, match=re.escape(said)) as refused:
        read_house(house, Plugins())
    assert "cfgaudit.toml:" in str(refused.value.message)
