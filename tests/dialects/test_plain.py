"""The plain form: written once and written again it is the same, and it reads back the same."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as trials

from cfgaudit.dialects.plain import read_plain, write_plain
from cfgaudit.settings import Origin, Settings
from tests.dialects.demo import DUMPS, FACTORY, opened
from tests.strategies import settings as drawn_settings


@pytest.mark.parametrize("dump", [*DUMPS, *FACTORY], ids=lambda dump: dump.stem)
def test_a_dump_in_the_plain_form_reads_back_the_same(dump: Path) -> None:
    found = opened(dump).settings
    text = write_plain(found)
    again = read_plain(text)
    assert not again.troubles
    assert {path: again[path].value for path in again} == {
        path: found[path].value for path in found if found[path].origin is not Origin.FACTORY
    }
    assert write_plain(again) == text


@trials(max_examples=80)
@given(drawn=drawn_settings(raw=False))
def test_any_settings_in_the_plain_form_are_written_the_same_again(drawn: Settings) -> None:
    text = write_plain(drawn)
    again = read_plain(text)
    assert {path: again[path].value for path in again} == {
        path: drawn[path].value for path in drawn
    }
    assert write_plain(again) == text


def test_the_plain_form_is_sorted_under_section_heads_with_units() -> None:
    text = "battery.empty_cell = 3300 mV\nports.uart10.baud = 9600\nports.uart2.baud = 57.6 kBd\n"
    assert write_plain(read_plain(text)) == (
        "[ports.uart2]\nbaud = 57600 Bd\n\n[ports.uart10]\nbaud = 9600 Bd\n\n"
        "[battery]\nempty_cell = 3.3 V\nend\n"
    )
