"""How the parts of a list or set are said."""

import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.changes.diff import Changed, diff, meaning, parts_of
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.kinds import (
    Filter,
    Filters,
    Kind,
    Quantities,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Value,
    WordSet,
)
from tests.strategies import ranges, values


@pytest.mark.parametrize(
    ("kind", "old", "new", "parts"),
    [
        (
            SwitchRanges(),
            (SwitchRange(7, 1300.0, 1700.0),),
            (SwitchRange(8, 1900.0, 2100.0), SwitchRange(7, 1300.0, 1700.0)),
            ("channel 8: 1900..2100 us added",),
        ),
        (
            SwitchRanges(),
            (SwitchRange(5, 1700.0, 2100.0), SwitchRange(6, 900.0, 1200.0)),
            (SwitchRange(6, 900.0, 1200.0), SwitchRange(5, 1500.0, 2100.0)),
            ("channel 5: 1700..2100 us is now 1500..2100 us",),
        ),
        (
            Filters(),
            (Filter("pt1", 150.0), Filter("notch", 200.0, 3.5)),
            (Filter("notch", 200.0, 3.0),),
            ("pt1: 150 Hz removed", "notch: 200 Hz q 3.5 is now 200 Hz q 3"),
        ),
        (
            Quantities("MHz"),
            (5740.0, 5760.0),
            (5740.0, 5765.0, 5800.0),
            ("entry 2: 5760 MHz is now 5765 MHz", "entry 3: 5800 MHz added"),
        ),
        (  # put in front: every number behind it stands for another channel now
            Quantities("MHz"),
            (5865.0, 5845.0),
            (5885.0, 5865.0, 5845.0),
            (
                "entry 1: 5865 MHz is now 5885 MHz",
                "entry 2: 5845 MHz is now 5865 MHz, which was entry 1",
                "entry 3: 5845 MHz added, which was entry 2",
            ),
        ),
        (  # taken out of the midst
            Quantities("mW"),
            (25.0, 100.0, 400.0),
            (25.0, 400.0),
            (
                "entry 2: 100 mW is now 400 mW, which was entry 3",
                "entry 3: 400 mW removed",
            ),
        ),
        (
            WordSet(),
            frozenset({"telemetry", "console"}),
            frozenset({"telemetry", "position"}),
            ("console removed", "position added"),
        ),
        (Quantity("V"), 3.3, 3.5, ()),
    ],
)
def test_parts_say_what_came_and_went(
    kind: Kind, old: Value, new: Value, parts: tuple[str, ...]
) -> None:
    before, after = (Settings({"x": Stated("x", value)}) for value in (old, new))
    assert parts_of(kind, old, new) == parts
    (change,) = diff(before, after)
    assert isinstance(change, Changed)
    assert len(change.parts) == len(parts)


def test_noise_of_a_change_of_unit_is_no_part() -> None:
    old = (Filter("pt1", 0.3), Filter("notch", 200.0, 3.5))
    new = (Filter("pt1", 0.1 + 0.2), Filter("notch", 200.0, 4.0))
    assert parts_of(Filters(), old, new) == ("notch: 200 Hz q 3.5 is now 200 Hz q 4",)


@given(st.lists(ranges(), max_size=5), st.lists(ranges(), max_size=5))
def test_the_parts_of_ranges_are_the_difference_of_the_two_bags(
    old: list[SwitchRange], new: list[SwitchRange]
) -> None:
    """Each range that is in one side only is named, and none that both sides have alike."""
    text = "\n".join(parts_of(SwitchRanges(), tuple(old), tuple(new)))
    for one in {*old, *new}:
        low, high = SwitchRanges().spell((one,)).split(": ")[1].removesuffix(" us").split("..")
        named = re.search(rf"^channel {one.channel}: .*\b{low}\.\.{high} us", text, re.MULTILINE)
        assert bool(named) == (old.count(one) != new.count(one))


@given(st.data(), st.sampled_from((SwitchRanges(), Filters(), Quantities("mW"), WordSet())))
def test_there_are_parts_exactly_where_the_values_differ(data: st.DataObject, kind: Kind) -> None:
    old, new = data.draw(values(kind)), data.draw(values(kind))
    assert bool(parts_of(kind, old, new)) == (meaning(old) != meaning(new))


SCRIPT = """
import sys
from cfgaudit.changes.diff import diff
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.kinds import Filter
def one(*values):
    return Settings({str(i): Stated(str(i), value) for i, value in enumerate(values)})
both = (Filter("pt1", 90.0), Filter("pt1", 120.0))
assert len(diff(one(1.0, both), one(2.0, both[::-1]))) == 1
print("deepdiff" in sys.modules)
diff(one(both), one(both[:1]))
print("deepdiff" in sys.modules)
"""


def test_the_structured_comparison_is_loaded_only_for_a_list_or_set_that_differs() -> None:
    run = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["False", "True"]
