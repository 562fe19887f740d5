"""How much of firmwares that nobody knows is read rightly, printed: floors, as measured."""

from typing import NamedTuple

import pytest

from tests.teach.measure import Case, cases, measure


class Floor(NamedTuple):
    """After some answers: what is read rightly at least, rules that can run, the most wrong."""

    right: float
    rules: int
    wrong: float = 0.01


# After `dialect new` alone and after 30 answers: as measured, rounded down. Goals are
# 60 % and 90 % right (80 % after 15), at most 1 % wrong, 100 rules; 75 % of strange words.
FLOORS = {
    "arrowhead": (Floor(0.87, 129), Floor(0.98, 150)),
    "brooklime": (Floor(0.92, 153), Floor(0.99, 156)),
    "frogbit": (Floor(0.99, 144), Floor(0.99, 144)),
    "milfoil": (Floor(0.97, 146), Floor(0.99, 152)),
    "quillwort": (Floor(0.82, 76), Floor(0.91, 132)),
    "starwort": (Floor(0.95, 140), Floor(1.00, 144)),
    # held out once, then learnt from: what they were when first measured stands behind
    "bogbean": (Floor(0.73, 88), Floor(0.90, 140)),
    "crowfoot": (Floor(0.69, 51), Floor(0.80, 80)),
    "mudwort": (Floor(0.79, 107), Floor(0.87, 135)),  # 13 %
    "pondweed": (Floor(0.45, 74, 0.017), Floor(0.66, 116, 0.03)),  # 4 %
    "sweetflag": (Floor(0.18, 23), Floor(0.28, 47)),  # 12 %
    "watercress": (Floor(0.33, 80, 0.015), Floor(0.67, 127)),  # 24 %
    "butterbur": (Floor(0.79, 100), Floor(0.87, 130)),  # 38 %
    "hornwort": (Floor(0.78, 130), Floor(0.93, 144)),  # 36 %
    "meadowsweet": (Floor(0.67, 122), Floor(0.96, 153)),  # 0 %
    "horsetail": (Floor(0.65, 124), Floor(0.83, 141, 0.011)),  # 1 %
    "comfrey": (Floor(0.82, 137), Floor(0.97, 140)),  # 72 %
    "figwort": (Floor(0.69, 106), Floor(0.79, 140)),  # 40 %
    "gypsywort": (Floor(0.71, 125), Floor(0.96, 137)),  # 56 %
    "awlwort": (Floor(0.92, 114), Floor(0.98, 121)),  # 24 %
    "reedmace": (Floor(0.78, 86), Floor(0.88, 120)),  # 29 %
    "brookweed": (Floor(0.89, 135), Floor(0.91, 144)),  # 22 %
    # held out: written apart from the method, measured when it was done; a blank before a unit was
    # learnt from loosestrife afterwards
    "bistort": (Floor(0.62, 81, 0.018), Floor(0.80, 128, 0.014)),
    "loosestrife": (Floor(0.80, 110), Floor(0.93, 144)),
    "spearwort": (Floor(0.85, 116), Floor(0.97, 148)),
    # the same, learnt from since; what they were when first measured stands behind
    "duckweed": (Floor(0.91, 129), Floor(0.93, 135)),  # 28 %
    "frogbit-3": (Floor(0.97, 145), Floor(0.99, 145)),  # 72 %
    # held out: measured when the method was done
    "brooklime-2": (Floor(0.79, 121), Floor(0.98, 142)),
    "bulrush": (Floor(0.45, 60, 0.019), Floor(0.79, 99, 0.011)),
    "marshwort": (Floor(0.58, 66), Floor(0.67, 88, 0.015)),
    # the same, learnt from since
    "milfoil-1": (Floor(0.72, 115), Floor(0.95, 133)),  # 60 %
    "starwort-0": (Floor(0.74, 106), Floor(0.92, 126)),  # 61 %
    # held out: written apart, by somebody who had not seen how lines are asked for; what they were
    # when first measured, after 0, 15 and 30 answers, stands behind
    "sundew": (Floor(0.07, 12, 0.046), Floor(0.34, 50, 0.011)),  # 7, 12, 24 %: codes, no legend
    "saxifrage": (Floor(0.72, 108), Floor(0.89, 141, 0.012)),  # 71, 85, 89 %
    # words that no builder reads at once
    "kingfisher": (Floor(0.13, 38), Floor(0.53, 72)),
    "turnstone": (Floor(0.36, 40), Floor(0.42, 69)),
}


@pytest.mark.long
@pytest.mark.parametrize("case", list(cases()), ids=lambda case: case.name)
def test_a_firmware_that_nobody_knows_scores_what_it_did(case: Case) -> None:
    for found, floor in zip(measure(case, (0, 30)), FLOORS[case.name], strict=True):
        print(f"{case.name:12} {found.line()}")
        assert found.right >= floor.right * found.truth, found.missing
        assert found.rules >= floor.rules
        stated = found.right + len(found.wrong)
        assert len(found.wrong) <= floor.wrong * stated, found.wrong
