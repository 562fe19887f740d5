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
    "arrowhead": (Floor(0.88, 129), Floor(0.98, 149)),
    "brooklime": (Floor(0.92, 157), Floor(0.99, 160)),
    "frogbit": (Floor(0.99, 146), Floor(0.99, 146)),
    "milfoil": (Floor(0.97, 149), Floor(0.99, 155)),
    "quillwort": (Floor(0.82, 77), Floor(0.93, 128)),
    "starwort": (Floor(0.97, 142), Floor(1.00, 144)),
    # held out once, then learnt from: what they were when first measured stands behind
    "bogbean": (Floor(0.73, 91), Floor(0.94, 141)),
    "crowfoot": (Floor(0.72, 63), Floor(0.87, 107)),
    "mudwort": (Floor(0.80, 118), Floor(0.93, 142)),  # 13 %
    "pondweed": (Floor(0.45, 78, 0.013), Floor(0.84, 121, 0.024)),  # 4 %
    "sweetflag": (Floor(0.18, 24), Floor(0.40, 55)),  # 12 %
    "watercress": (Floor(0.76, 120, 0.011), Floor(0.95, 147)),  # 24 %
    "butterbur": (Floor(0.84, 104), Floor(0.96, 140)),  # 38 %
    "hornwort": (Floor(0.79, 136), Floor(0.96, 151)),  # 36 %
    "meadowsweet": (Floor(0.67, 125), Floor(0.96, 155)),  # 0 %
    "horsetail": (Floor(0.78, 133), Floor(0.93, 145)),  # 1 %
    "comfrey": (Floor(0.84, 137), Floor(0.99, 141)),  # 72 %
    "figwort": (Floor(0.84, 113), Floor(0.96, 155)),  # 40 %
    "gypsywort": (Floor(0.74, 129), Floor(0.98, 146)),  # 56 %
    "awlwort": (Floor(0.92, 118), Floor(1.00, 126)),  # 24 %
    "reedmace": (Floor(0.79, 90), Floor(0.91, 125)),  # 29 %
    "brookweed": (Floor(0.89, 140), Floor(0.98, 151)),  # 22 %
    # held out: written apart from the method, measured when it was done; a blank before a unit was
    # learnt from loosestrife afterwards
    "bistort": (Floor(0.81, 119), Floor(0.96, 159)),
    "loosestrife": (Floor(0.82, 119), Floor(0.94, 147)),
    "spearwort": (Floor(0.87, 113), Floor(0.98, 147)),
    # the same, learnt from since; what they were when first measured stands behind
    "duckweed": (Floor(0.91, 134), Floor(0.94, 148)),  # 28 %
    "frogbit-3": (Floor(0.97, 150), Floor(0.99, 150)),  # 72 %
    # held out: measured when the method was done
    "brooklime-2": (Floor(0.84, 125), Floor(0.99, 142)),
    "bulrush": (Floor(0.77, 103), Floor(0.94, 135)),
    "marshwort": (Floor(0.89, 104), Floor(0.99, 131)),
    # the same, learnt from since
    "milfoil-1": (Floor(0.72, 116), Floor(0.97, 141)),  # 60 %
    "starwort-0": (Floor(0.79, 116), Floor(0.96, 138)),  # 61 %
    # held out: written apart, by somebody who had not seen how lines are asked for; what they were
    # when first measured, after 0, 15 and 30 answers, stands behind
    "sundew": (Floor(0.07, 13, 0.046), Floor(0.59, 60)),  # 7, 12, 24 %: codes, no legend
    "saxifrage": (Floor(0.78, 120), Floor(0.93, 152)),  # 71, 85, 89 %
    # written apart in the same way; what they were when first measured stands behind
    "dropwort": (Floor(0.69, 111), Floor(0.98, 162)),  # 60, 84, 90 %
    "yellowcress": (Floor(0.93, 142), Floor(0.98, 158)),  # 59, 76, 82 %
    # written apart in the same way; what they were when first measured stands behind
    "kingcup": (
        Floor(0.51, 78, 0.024),
        Floor(0.78, 123, 0.013),
    ),  # 1, 1, 1 %: every line was taken for noise
    "willowherb": (Floor(0.93, 133), Floor(0.97, 141)),  # 21, 66, 76 %
    # written apart in the same way; what they were when first measured stands behind
    "marestail": (Floor(0.98, 153), Floor(0.99, 157)),  # 96, 99, 99 %
    "waterviolet": (Floor(0.78, 136), Floor(0.99, 154)),  # 74, 81, 95 %
    "monkeyflower": (Floor(0.87, 146), Floor(1.00, 155)),  # 76, 91, 93 %
    "sneezewort": (Floor(0.77, 124), Floor(0.99, 154)),  # 77, 98, 99 %
    # and these, when the four above were learnt from
    "bladderwort": (Floor(0.69, 127), Floor(1.00, 158)),  # 66, 78, 96 %
    "fleabane": (Floor(0.95, 145), Floor(0.99, 155)),  # 45, 65, 76 %
    # written apart in the same way; what they were when first measured stands behind
    "toadflax": (Floor(0.89, 141), Floor(1.00, 148)),  # 87, 100, 100 %
    "arrowhead-2": (Floor(0.94, 137), Floor(0.98, 155)),  # 75, 80, 82 %
    "pennywort": (Floor(0.99, 151), Floor(1.00, 151)),  # 87, 97, 99 %
    "rushwort": (Floor(0.95, 150), Floor(1.00, 157)),  # 87, 97, 100 %
    # and these, when the four above were learnt from
    "marshmallow": (Floor(0.97, 152), Floor(0.99, 152)),  # 38, 40, 40 %
    "meadowrue": (Floor(0.80, 120), Floor(0.98, 150)),  # 46, 80, 84 %
    # and these, when those two were learnt from
    "agrimony": (Floor(0.80, 130), Floor(0.98, 150)),  # 55, 68, 76 %
    "burreed": (Floor(0.90, 130), Floor(0.99, 150)),  # 7, 19, 49 %
    "celandine": (Floor(0.90, 130), Floor(0.98, 150)),  # 85, 96, 96 %
    "dogwood": (Floor(0.55, 100), Floor(0.90, 125)),  # 48, 64, 73 %
    # and these, when those four were learnt from
    "yarrow": (Floor(0.17, 34, 0.07), Floor(0.62, 56, 0.02)),  # 14, 38, 62 %
    "bugle": (Floor(0.75, 66, 0.02), Floor(0.84, 96, 0.02)),  # 26, 29, 45 %
    "sorrel": (Floor(0.68, 104), Floor(0.94, 116)),  # 45, 60, 71 %
    "valerian": (Floor(0.60, 91), Floor(0.83, 112)),  # 24, 30, 39 %
    # and these: the first four, then the three, which were first measured when the four were known
    "speedwell": (Floor(0.67, 108), Floor(0.98, 134)),  # 63, 96, 97 %
    "bindweed": (Floor(0.79, 112), Floor(0.93, 128)),  # 47, 65, 66 %
    "cowslip": (Floor(0.85, 132), Floor(0.98, 142)),  # 0, 0, 0 %
    "vetch": (Floor(0.94, 132), Floor(0.97, 137)),  # 69, 72, 75 %
    "harebell": (Floor(0.80, 141), Floor(0.93, 143)),  # 80, 93, 94 %
    "teasel-2": (Floor(0.84, 140, 0.02), Floor(0.97, 148, 0.02)),  # 0, 0, 0 %: it was refused
    "woundwort": (Floor(0.40, 60), Floor(0.73, 101)),  # 1, 1, 1 %
    # words that no builder reads at once
    "kingfisher": (Floor(0.13, 40, 0.02), Floor(0.75, 91, 0.02)),
    "turnstone": (Floor(0.36, 43), Floor(0.59, 74)),
    # eight written apart by two who had seen no dump and no code, measured before looks were tried
    "bogmyrtle": (Floor(0.80, 133), Floor(0.97, 149)),  # 81, 96 and 97 %
    "cinquefoil": (Floor(0.68, 89, 0.038), Floor(0.82, 97, 0.032)),  # 69, 78 and 83 %
    "cottongrass": (Floor(0.09, 22, 0.116), Floor(0.62, 93, 0.013)),  # 1, 21 and 39 %
    "ladysmock": (Floor(0.24, 24, 0.020), Floor(0.65, 74)),  # 25, 51 and 67 %
    "quillwort-2": (Floor(0.40, 70, 0.019), Floor(0.82, 99, 0.014)),  # 25, 32 and 35 %
    "skullcap": (Floor(0.08, 28, 0.313), Floor(0.46, 52, 0.079)),  # 9, 28 and 46 %
    "sweetgale": (Floor(0.21, 41, 0.223), Floor(0.43, 59, 0.097)),  # 1 % each time
    "watermint": (Floor(0.55, 82, 0.014), Floor(0.93, 134)),  # 15, 56 and 67 %
    # six more by a third one, measured when looks were tried, and learnt from since
    "spikerush": (Floor(0.37, 38, 0.067), Floor(0.65, 86, 0.039)),  # 37, 50 and 66 %
    "globeflower": (Floor(0.47, 62), Floor(0.82, 107)),  # 25, 36 and 62 %
    "waterpepper": (Floor(0.49, 80, 0.018), Floor(0.70, 105, 0.013)),  # 28, 30 and 30 %
    "pillwort": (Floor(0.80, 103), Floor(0.92, 109)),  # 81, 85 and 92 %
    "angelica": (Floor(0.64, 89), Floor(0.82, 103, 0.015)),  # 65, 76 and 83 %
    "butterwort": (Floor(0.60, 99, 0.028), Floor(0.79, 111, 0.022)),  # 20, 35 and 42 %
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
