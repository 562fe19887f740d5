"""The shared strategies draw what the vocabulary means."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cfgaudit.vocabulary.kinds import Either, Int, Quantity, WordSet
from cfgaudit.vocabulary.paths import Declared, declared, vocabulary
from tests.strategies import stated


@pytest.mark.parametrize("known", vocabulary(), ids=lambda known: known.pattern)
@settings(max_examples=3)
@given(data=st.data())
def test_a_drawn_setting_falls_under_its_own_declaration_and_limits(
    known: Declared, data: st.DataObject
) -> None:
    entry = data.draw(stated(known))
    assert declared(entry.path) == known
    kind, value = known.kind, entry.value
    if isinstance(kind, Int | Quantity):
        assert isinstance(value, int | float)
        assert kind.low <= value <= kind.high
    if isinstance(kind, WordSet) and kind.choices:
        assert isinstance(value, frozenset)
        assert value <= set(kind.choices)
    if isinstance(kind, Either):
        assert value in kind.words or isinstance(value, int | float)
