"""The laws of the bench for a few random craft; `python -m tests.benchmarks.bench` tries many."""

from collections.abc import Callable

import pytest

from tests.benchmarks.bench import CRAFT, LAWS, Drawn, drawn

SEEDS = (*range(2 * len(CRAFT)), 371)  # which once told two halves of a levelling switch's reach


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.__name__)
def test_a_law_of_the_bench(law: Callable[[Drawn], int]) -> None:
    assert sum(law(drawn(seed)) for seed in SEEDS) > 0


def test_edits_are_drawn_that_change_dump_and_sheet_of_every_craft() -> None:
    made = [drawn(seed) for seed in SEEDS]
    paths = [path for craft in made for path in craft.changed]
    assert any(path.startswith("sheet.") for path in paths)
    assert any(not path.startswith("sheet.") for path in paths)
    assert {craft.name for craft in made if craft.changed} == set(CRAFT)
