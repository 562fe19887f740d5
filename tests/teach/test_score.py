"""How much of a firmware that nobody knows is proposed right. The goal is printed beside it."""

from pathlib import Path

import pytest

from tests.cli.calling import CORPUS
from tests.teach.scoring import score

HELD_OUT = Path(__file__).parent / "heldout"
GOAL = "goal: first place 70 %, first three 85 %, at work and wrong under 3 %"
# What was measured, rounded down. The thesaurus was written by people who had read the corpus.
# Where a craft comes home on link loss, more of its channels are held, which these two firmwares
# say in words of their own.
KNOWN = {
    "sedge": ("dipper", 0.95, 0.97),
    "osier": ("wagtail", 0.91, 0.93),
    "marl": ("goosander", 0.98, 0.99),
}
# Two firmwares in words that no builder reads at once, written apart from the method.
UNKNOWN = {"teasel": (0.73, 0.80), "fescue": (0.76, 0.87)}


@pytest.mark.long
@pytest.mark.parametrize("name", KNOWN)
def test_a_hidden_corpus_dialect_is_worked_out_again(name: str) -> None:
    dump, first, three = KNOWN[name]
    found = score(name, CORPUS / f"{dump}.dump", CORPUS / "dialects" / f"{name}.toml")
    print(f"{found.line()} ({GOAL})")
    assert found.first >= max(0.70, first) * found.settings, found.misses
    assert found.three >= max(0.85, three) * found.settings, found.misses
    assert found.wrong + found.wrong_value < 0.03 * found.at_work, found.misses
    assert found.at_work > 0.5 * found.settings


@pytest.mark.long
@pytest.mark.parametrize("name", UNKNOWN)
def test_a_firmware_that_was_held_out_is_worked_out_in_part(name: str) -> None:
    first, three = UNKNOWN[name]
    found = score(name, HELD_OUT / f"{name}.dump", HELD_OUT / f"{name}.toml")
    print(f"held out: {found.line()} ({GOAL})")
    assert found.first >= first * found.settings, found.misses
    assert found.three >= three * found.settings, found.misses
    assert found.wrong + found.wrong_value < 0.03 * found.at_work, found.misses
    assert found.at_work > 0.25 * found.settings


def test_the_score_tells_a_wrong_path_from_a_right_one(tmp_path: Path) -> None:
    """The yardstick itself: against a truth that says something else, the same draft is wrong."""
    truth = (CORPUS / "dialects" / "sedge.toml").read_text(encoding="utf-8")
    turned = truth.replace("{battery.full_cell: 0.01 V}", "{battery.SWAP: 0.01 V}")
    turned = turned.replace("{battery.empty_cell: 0.01 V}", "{battery.full_cell: 0.01 V}")
    (tmp_path / "turned.toml").write_text(
        turned.replace("{battery.SWAP: 0.01 V}", "{battery.empty_cell: 0.01 V}"), encoding="utf-8"
    )
    right = score("sedge", CORPUS / "dipper.dump", CORPUS / "dialects" / "sedge.toml")
    wrong = score("sedge", CORPUS / "dipper.dump", tmp_path / "turned.toml")
    assert wrong.wrong == right.wrong + 2
    assert wrong.first == right.first - 2
