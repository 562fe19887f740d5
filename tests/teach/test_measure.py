"""How much of firmwares that nobody knows is read rightly, printed: floors, as measured."""

from collections.abc import Iterator

import pytest

from tests.teach.measure import QUESTIONS, Case, cases, measure

# For each craft's firmware: what is read rightly after `dialect new` alone, after 15 answers and
# after 30, and how many rules can run then. As measured, rounded down.
FLOORS = {
    "arrowhead": ((0.87, 122), (0.88, 130), (0.88, 130)),
    "brooklime": ((0.92, 145), (0.99, 155), (0.99, 155)),
    "frogbit": ((0.97, 141), (0.99, 143), (0.99, 143)),
    "milfoil": ((0.97, 147), (0.98, 149), (0.98, 149)),
    "quillwort": ((0.80, 74), (0.88, 124), (0.90, 129)),
    "starwort": ((0.94, 141), (0.99, 146), (0.99, 146)),
}
MOST_WRONG = 0.01


def ordinary() -> Iterator[Case]:
    return (case for case in cases() if case.name in FLOORS)


@pytest.mark.parametrize("case", ordinary(), ids=lambda case: case.name)
def test_a_firmware_in_ordinary_trade_words_scores_what_it_did(
    case: Case, capsys: pytest.CaptureFixture[str]
) -> None:
    for found, (right, rules) in zip(measure(case, QUESTIONS), FLOORS[case.name], strict=True):
        with capsys.disabled():
            print(f"\n{case.name:12} {found.line()}", end="")
        assert found.right >= right * found.truth, found.missing
        assert found.rules >= rules
        assert len(found.wrong) <= MOST_WRONG * (found.right + len(found.wrong)), found.wrong
