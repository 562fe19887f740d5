"""The grammars as such: no terminal collides with another, and everything is explained."""

import re

import pytest
from lark import Lark, Token, Transformer

from cfgaudit.reading.grammars import build_parser, grammar_text
from cfgaudit.reading.statements import Shaper
from cfgaudit.reading.values import ValueShaper

GRAMMARS = ("statements", "values")
_DEFINITION = re.compile(r"[?!_a-zA-Z][\w.]*:\s")


@pytest.mark.parametrize("name", GRAMMARS)
def test_a_grammar_builds_in_strict_mode(name: str) -> None:
    # Strict mode refuses terminals that can match the same text. It can't look into those with
    # look-aheads or possessive quantifiers, so the hand-written examples cover these.
    strict = Lark(grammar_text(name), parser="lalr", lexer="contextual", strict=True)
    assert len(strict.terminals) > 5


@pytest.mark.parametrize("name", GRAMMARS)
def test_every_production_and_terminal_has_a_comment_above_it(name: str) -> None:
    lines = grammar_text(name).splitlines()
    defined = [index for index, line in enumerate(lines) if _DEFINITION.match(line)]
    bare = [lines[index] for index in defined if not lines[index - 1].startswith("// ")]
    assert len(defined) > 8
    assert bare == []


@pytest.mark.parametrize(
    ("name", "shaper"), [("statements", Shaper()), ("values", ValueShaper())], ids=GRAMMARS
)
def test_every_production_has_a_method_of_its_name(
    name: str, shaper: "Transformer[Token, object]"
) -> None:
    inlined = re.findall(r"^\?(\w+):", grammar_text(name), re.MULTILINE)
    origins = {rule.origin.name for rule in build_parser(name, shaper).rules}
    named = {origin for origin in origins if not origin.startswith("_")} - set(inlined)
    assert named
    assert [origin for origin in sorted(named) if not hasattr(shaper, origin)] == []
