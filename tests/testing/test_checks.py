"""The kit for a rule's author tells every way in which a rule can differ from its file."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Check, Edit, Fires, Level, NotApplicable, Rule, Yielded, rule
from cfgaudit.testing import Case, case_problems, problems

FILE = """
rule = "otter/pack-small"
[[fires]]
name = "half"
dump = "battery.capacity = 500 mAh"
paths = ["battery.capacity"]
message = ["500 mAh", "below"]
figures = { capacity_mah = 500 }
level = "warning"
mend = ["battery.capacity = 1000 mAh"]
advice = ["larger"]
[[fires]]
name = "just below the limit"
dump = "battery.capacity = 999 mAh"
paths = ["battery.capacity"]
message = ["999 mAh"]
[[quiet]]
name = "at the limit"
dump = "battery.capacity = 1000 mAh"
[[quiet]]
name = "above"
dump = "battery.capacity = 2000 mAh"
[[not_checked]]
name = "no capacity"
dump = "battery.cells = 4"
lacks = ["battery.capacity"]
"""


def small(fires: Fires) -> Check:
    """A check that yields this, its numbers filled in, where the pack is below 1000 mAh."""

    def check(craft: Craft) -> Iterator[Yielded]:
        """The pack is small.

        In the air: the flight is short.
        Mend: fit a larger one.
        Source: invented for this test.
        """
        capacity = craft.battery.capacity
        if capacity < 1000:
            figures = tuple((name, capacity + more) for name, more in fires.figures)
            yield fires._replace(message=fires.message.format(capacity), figures=figures)

    return check


RIGHT = Fires(
    "A pack of {0:.0f} mAh is below 1000 mAh.",
    ("battery.capacity",),
    (("capacity_mah", 0),),
    (Edit("battery.capacity", "1000 mAh"),),
    "Fit a larger pack.",
)


def made(fires: Fires = RIGHT, level: Level = Level.WARNING) -> Rule:
    return rule("otter/pack-small", level)(small(fires))


def told(folder: Path, tried: Rule, text: str = FILE) -> list[str]:
    file = folder / "otter" / "pack-small.toml"
    file.parent.mkdir(exist_ok=True)
    file.write_text(text, encoding="utf-8")
    found = problems(tried, file)
    assert found == problems(tried, str(file))
    return [problem.removeprefix(f"{file}: ") for problem in found]


def test_a_rule_that_does_as_its_file_says_has_no_problem(tmp_path: Path) -> None:
    assert told(tmp_path, made()) == []


@pytest.mark.parametrize(
    ("fires", "wanted"),
    [
        (RIGHT._replace(paths=("battery.cells",)), "its paths are battery.cells; battery.capacity"),
        (RIGHT._replace(message="{0:.0f} mAh"), "'below' is not in its message: 500 mAh"),
        (RIGHT._replace(advice="Buy."), "'larger' is not in its advice: Buy."),
        (RIGHT._replace(figures=()), "it has no figure capacity_mah"),
        (RIGHT._replace(figures=(("capacity_mah", 1),)), "its figure capacity_mah is 501.0; 500.0"),
        (RIGHT._replace(level=Level.NOTE), "its level is note; warning expected"),
        (RIGHT._replace(mend=()), "its mend is none; battery.capacity = 1000 mAh expected"),
        (
            RIGHT._replace(mend=(Edit("battery.capacity", "900 mAh"),)),
            "battery.capacity = 900 mAh does not clear it",
        ),
        (
            RIGHT._replace(mend=(Edit("battery.capacity", "1000 V"),)),
            "battery.capacity = 1000 V is no change that can be made: ",
        ),
    ],
)
def test_a_finding_that_is_not_as_the_file_says_is_told_with_the_difference(
    tmp_path: Path, fires: Fires, wanted: str
) -> None:
    found = told(tmp_path, made(fires))
    assert any(problem.startswith(f"fires 'half': {wanted}") for problem in found), found


def test_a_rule_that_fires_or_lacks_too_much_or_too_little_is_told(tmp_path: Path) -> None:
    swapped = FILE.replace("999 mAh", "1001 mAh").replace("2000 mAh", "20 mAh")
    text = swapped.replace('lacks = ["battery.capacity"]', 'lacks = ["battery.cells"]')
    assert told(tmp_path, made(), text) == [
        "fires 'just below the limit': it says nothing",
        "quiet 'above': it says: A pack of 20 mAh is below 1000 mAh.",
        "not_checked 'no capacity': it lacks battery.capacity; battery.cells expected",
    ]
    unstated = FILE.replace("= 2000 mAh", "= ?").replace(
        '"battery.cells = 4"', '"battery.capacity = 1 Ah"'
    )
    assert told(tmp_path, made(), unstated) == [
        "quiet 'above': it lacks battery.capacity; nothing expected",
        "not_checked 'no capacity': it lacks nothing; battery.capacity expected",
    ]


def test_a_case_that_a_rule_is_not_about_names_the_reason(tmp_path: Path) -> None:
    case = """
[[not_applicable]]
name = "three cells"
dump = "battery.cells = 3"
why = ["three cells"]
"""

    def check(craft: Craft) -> Iterator[Yielded]:
        if craft.battery.states("cells") and craft.battery.cells == 3:
            raise NotApplicable("It has three cells.")
        yield from small(RIGHT)(craft)

    tried = made()._replace(check=check)
    assert told(tmp_path, tried, FILE + case) == []
    assert told(tmp_path, tried, FILE + case.replace('["three', '["no')) == [
        "not_applicable 'three cells': 'no cells' is not in why: It has three cells."
    ]
    assert told(tmp_path, tried, FILE.replace("battery.cells = 4", "battery.cells = 3")) == [
        "not_checked 'no capacity': it lacks nothing; battery.capacity expected",
        "not_checked 'no capacity': it is not applicable: It has three cells.",
    ]
    assert told(tmp_path, tried, FILE + case.replace("= 3", "= 4").replace("three", "4")) == [
        "not_applicable '4 cells': it lacks battery.capacity; nothing expected",
        "not_applicable '4 cells': it is applicable",
        "not_applicable '4 cells': '4 cells' is not in why: ",
    ]


def test_a_rule_that_crashes_is_told_even_where_it_is_to_be_quiet(tmp_path: Path) -> None:
    def check(craft: Craft) -> Iterator[Yielded]:
        yield from ()
        raise LookupError("no such otter")

    found = told(tmp_path, made()._replace(check=check))
    assert len(found) == 5
    assert all("(LookupError)" in problem for problem in found)


def test_a_change_that_clears_its_finding_and_brings_another_is_told() -> None:
    def check(craft: Craft) -> Iterator[Yielded]:
        mend = (Edit("battery.capacity", "6 mAh"),)
        if craft.battery.capacity < 6:
            yield Fires("a small pack", ("battery.capacity",), mend=mend)
        else:
            yield Fires("a large pack", ("battery",))

    case = Case("fires", "four", "battery.capacity = 4 mAh", paths=("battery.capacity",))
    tried = made()._replace(check=check)
    assert case_problems(tried, case) == []  # the case says nothing of a change
    case = replace(case, mend=("battery.capacity = 6 mAh",))
    assert case_problems(tried, case) == ["battery.capacity = 6 mAh leaves: a large pack"]


def test_a_file_that_can_t_be_used_is_a_problem_and_no_error(tmp_path: Path) -> None:
    assert told(tmp_path, made(), FILE.replace("[[quiet]]", "[[silent]]")) == ["unknown key silent"]
    other = made()._replace(id="otter/pack-large")
    assert told(tmp_path, other) == ["it is about otter/pack-small, the rule is otter/pack-large"]
    (missing,) = problems(made(), tmp_path / "otter" / "none.toml")
    assert "No such file" in missing


def test_a_rule_over_several_craft_is_tried_with_several_dumps(tmp_path: Path) -> None:
    def check(fleet: Sequence[Craft]) -> Iterator[Yielded]:
        few = [n for n, craft in enumerate(fleet) if craft.battery.capacity < 4]
        if few:
            yield Fires(
                "a small pack", tuple("battery.capacity" for _ in few), mend=mend, crafts=tuple(few)
            )

    mend: tuple[Edit, ...] = ()
    tried = made()._replace(check=check, fleet=True)
    dumps = ("battery.capacity = 4 mAh", "battery.capacity = 3 mAh")
    case = Case("fires", "one", dumps=dumps, paths=("1: battery.capacity",), message=("small",))
    assert case_problems(tried, case) == []
    first = replace(case, paths=("0: battery.capacity",))
    assert case_problems(tried, first) == [
        "its paths are 1: battery.capacity; 0: battery.capacity expected"
    ]
    lacking = Case("not_checked", "none", dumps=("", ""), lacks=("0: battery.capacity",))
    assert case_problems(tried, lacking) == []
    mend = (Edit("battery.capacity", "4 mAh"),)
    (told_of,) = case_problems(tried, case)
    assert told_of == "it proposes a change, and nobody can tell for which of the craft"
