"""The grammars as such: no terminal collides with another, and everything is explained."""

import re

import pytest
from lark import Lark

from cfgaudit.dialects.template_language import TEMPLATES
from cfgaudit.reading.grammars import Grammar, built
from cfgaudit.reading.transformers import LINES, VALUES

each_grammar = pytest.mark.parametrize(
    "grammar", [LINES, VALUES, TEMPLATES], ids=lambda grammar: grammar.name
)
_DEFINITION = re.compile(r"[?!_a-zA-Z][\w.]*:\s")


@each_grammar
def test_a_grammar_builds_in_strict_mode(grammar: Grammar) -> None:
    # Strict mode refuses terminals that can match the same text. It can't look into those with
    # look-aheads or possessive quantifiers, so the hand-written examples cover these.
    strict = Lark(grammar.text, strict=True, **grammar.options)
    assert len(strict.terminals) > 5


@each_grammar
def test_every_production_and_terminal_has_a_comment_above_it(grammar: Grammar) -> None:
    lines = grammar.text.splitlines()
    defined = [index for index, line in enumerate(lines) if _DEFINITION.match(line)]
    bare = [lines[index] for index in defined if not lines[index - 1].startswith("// ")]
    assert len(defined) > 8
    assert bare == []


@each_grammar
def test_every_production_has_a_method_of_its_name(grammar: Grammar) -> None:
    rules = built(grammar).rules
    named = {rule.alias or rule.origin.name for rule in rules if not rule.options.expand1}
    named = {name for name in named if not name.startswith("_")}
    assert len(named) > 4
    transformer = grammar.transformer()
    assert [name for name in sorted(named) if not hasattr(transformer, name)] == []
