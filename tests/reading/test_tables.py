"""The tables beside the grammars: made of them as they are, and read as lark itself reads."""

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from lark import Lark, Tree
from lark.exceptions import UnexpectedInput

from cfgaudit.reading import grammars
from cfgaudit.reading.lalr import Misread, Parser, Token
from cfgaudit.reading.statements import Shaper
from cfgaudit.reading.values import ValueShaper, parse_value
from tests.strategies_text import lines

CORPUS = Path(__file__).parents[2] / "corpus"
SHAPERS = {"statements": Shaper(), "values": ValueShaper()}
VALUES = (
    "3.5 V", "0x1F", "5: 1700..2100 us, 8: 1..2", "notch 200 Hz q 3.5", '"a, b"', "-1e3", "12:30",
    "57.6kBd", "1..", "..2", ",", "", "5:", '"', "a, ,b", "1.5.2", "90°/s",
)  # fmt: skip


@cache
def ours(name: str) -> Parser:
    return grammars.build_parser(name, SHAPERS[name])


@cache
def larks(name: str) -> Lark:
    return grammars.lark_parser(name)


def shaped(name: str, node: Any) -> Any:
    """What the shaper makes of lark's own tree."""
    if not isinstance(node, Tree):
        return Token(node.type, str(node), node.start_pos)
    children = [shaped(name, child) for child in node.children]
    return getattr(SHAPERS[name], node.data)(children)


def read_by_lark(name: str, text: str) -> Any:
    """The same as our parser's: what was read, or where reading stopped."""
    try:
        return shaped(name, larks(name).parse(text))
    except UnexpectedInput as error:
        ended = getattr(getattr(error, "token", None), "type", "") == "$END"
        return len(text) if ended else error.pos_in_stream


def read_by_us(name: str, text: str) -> Any:
    try:
        return ours(name).parse(text)
    except Misread as error:
        return error.position


@pytest.mark.parametrize("name", grammars.NAMES)
def test_the_tables_are_what_lark_makes_of_the_grammar_as_it_is_now(name: str) -> None:
    saved = (grammars.grammar_folder() / f"{name}.json").read_text(encoding="utf-8")
    assert saved == grammars.tables_text(name)
    assert grammars.tables(name) == grammars.built_tables(name)


@pytest.mark.parametrize("dump", sorted(CORPUS.glob("*.dump")), ids=lambda path: path.name)
def test_every_line_of_the_corpus_is_read_as_lark_reads_it(dump: Path) -> None:
    for line in dict.fromkeys(dump.read_text(encoding="utf-8").splitlines()):
        assert read_by_us("statements", line) == read_by_lark("statements", line)


@given(lines())
@example('a = "x')
@example("[pack")
@example("a\x00b")
def test_any_line_is_read_as_lark_reads_it(line: str) -> None:
    assert read_by_us("statements", line) == read_by_lark("statements", line)


@pytest.mark.parametrize("text", VALUES)
def test_values_are_read_as_lark_reads_them(text: str) -> None:
    assert read_by_us("values", text) == read_by_lark("values", text)


@given(st.text(st.sampled_from("015.:, \"'axeVuµ°/+-\t"), max_size=24))
def test_any_value_is_read_as_lark_reads_it(text: str) -> None:
    assert read_by_us("values", text) == read_by_lark("values", text)


def test_tables_of_another_text_are_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(grammars, "grammar_mark", lambda name: 0)
    made = grammars.tables("values")
    assert made is not None
    assert Parser(made, ValueShaper()).parse("3 V") == parse_value("3 V")


@pytest.mark.parametrize("broken", ["", "{", '{"grammar": 1}', "[]"])
def test_broken_tables_are_built_anew(
    broken: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = grammars.grammar_text("values")
    (tmp_path / "values.lark").write_text(text, encoding="utf-8")
    (tmp_path / "values.json").write_text(broken, encoding="utf-8")
    monkeypatch.setattr(grammars, "grammar_folder", lambda: tmp_path)
    assert grammars.tables("values") == grammars.built_tables("values")


@pytest.mark.parametrize("text", ["0", "007", "3.5", "57600", "0.25", "12.0", "9" * 40])
def test_plain_numbers_are_what_the_grammar_makes_of_them(text: str) -> None:
    assert parse_value(text) == read_by_lark("values", text)
