"""The built parser tables: made of the grammars as they are, and reading as these do."""

import json
from pathlib import Path

import pytest

from cfgaudit.reading import grammars
from cfgaudit.reading.statements import Shaper
from cfgaudit.reading.values import ValueShaper, parse_value

CORPUS = Path(__file__).parents[2] / "corpus"


@pytest.mark.parametrize("name", grammars.NAMES)
def test_the_tables_were_made_of_the_grammar_as_it_is_now(name: str) -> None:
    saved = json.loads((grammars.grammar_folder() / f"{name}.json").read_text(encoding="utf-8"))
    assert saved["grammar"] == grammars.grammar_hash(name)


@pytest.mark.parametrize("dump", sorted(CORPUS.glob("*.dump")), ids=lambda path: path.name)
def test_tables_and_grammar_read_alike(dump: Path) -> None:
    quick = grammars.build_parser("statements", Shaper())
    fresh = grammars._from_grammar("statements", Shaper())
    for line in dict.fromkeys(dump.read_text(encoding="utf-8").splitlines()):
        assert quick.parse(line) == fresh.parse(line)


def test_tables_and_grammar_read_values_alike() -> None:
    quick = grammars.build_parser("values", ValueShaper())
    fresh = grammars._from_grammar("values", ValueShaper())
    for text in ("3.5 V", "0x1F", "5: 1700..2100 us, 8: 1..2", "notch 200 Hz q 3.5", '"a, b"'):
        assert quick.parse(text) == fresh.parse(text)


def test_tables_of_another_lark_are_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lark.__version__", "0.0.0")
    assert grammars._from_tables("statements", Shaper()) is None
    assert grammars.build_parser("statements", Shaper()).parse("a = 3") is not None


@pytest.mark.parametrize("text", ["0", "007", "3.5", "57600", "0.25", "12.0", "9" * 40])
def test_plain_numbers_are_what_the_grammar_makes_of_them(text: str) -> None:
    assert parse_value(text) == grammars._from_grammar("values", ValueShaper()).parse(text)
