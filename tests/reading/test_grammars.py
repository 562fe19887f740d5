"""The grammars as such: no terminal collides with another, and everything is explained."""

import re

import pytest
from lark import Lark

from cfgaudit.reading.grammars import grammar_text, tables
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
def test_every_production_has_a_method_of_its_name(name: str, shaper: object) -> None:
    productions = tables(name).productions
    named = {p.origin for p in productions if not (p.spliced or p.inlined)}
    assert named
    assert [origin for origin in sorted(named) if not hasattr(shaper, origin)] == []
