"""The plain form: written once and written again it is the same, and it reads back the same."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as trials
from hypothesis import strategies as st

from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.plain import read_plain, write_plain
from cfgaudit.settings import Origin, Settings
from cfgaudit.vocabulary.paths import vocabulary
from tests.cli.calling import CORPUS
from tests.dialects.demo import DUMPS, FACTORY, opened
from tests.git.demo import dialects
from tests.strategies import NAMES
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


_ODD = (
        "'", "it's", "''", "\x85", "a\u2028b", "\u3000", "a # b", "a, b", "a..b", "1" * 40,
        "1" * 41, f"3.{'3' * 40}", f"0.{'0' * 39}1", f"{'9' * 40}.5", "1e99", "1e-99", "33e-1",
        "0x4", "+4", "3.30", "", "-", "a\tb", '"a\tb"', '"', 'a"b', 'a"b"c', '"a"b"', '"a" # "b"',
        '"a # "b"', '"a" "b"', """'a "b" # c'""", '""', '""""', '"""', '"it\'s a ""b"""', "\x07",
        "a\x1bb", "\x00", '"#"', "'#'", '"\x7f"', "1e39", "-1e30", "1" * 400, "motor #x",
        '"motor #x"', '"motor \'"', '"-- a"',
)  # fmt: skip
ODD = st.sampled_from(_ODD)
_VALUE = re.compile(r'[^\s=:,"]+(?= *(?:[#;]|$))|"[^"]*"')


@trials(max_examples=60, deadline=None)
@given(data=st.data(), name=st.sampled_from(["dipper.dump", "dipper.cfg", "wagtail.dump"]))
def test_an_odd_value_is_the_same_however_often_it_is_written(
    data: st.DataObject, name: str
) -> None:
    lines = (CORPUS / name).read_text(encoding="utf-8").splitlines()
    for at in data.draw(st.sets(st.integers(4, len(lines) - 1), min_size=1, max_size=12)):
        value = data.draw(ODD)
        lines[at] = _VALUE.sub(lambda _, value=value: value, lines[at], count=1)  # type: ignore[misc]
    found = open_dump("a.dump", "\n".join(lines).encode(), dialects()).settings
    text = write_plain(found)
    again = read_plain(text)
    assert write_plain(again) == text
    assert {path: again[path].value for path in again} == {
        path: found[path].value for path in found if found[path].origin is not Origin.FACTORY
    }


def _of_every_setting(value: str) -> str:
    """A text in the plain form in which each setting of the vocabulary has this value."""
    lines = []
    for entry in vocabulary():
        closed = dict(entry.choices)
        words = entry.pattern.split(".")
        path = ".".join((closed.get(w) or NAMES[w])[0] if w.isupper() else w for w in words)
        lines.append(f"{path} = {value}\n")
    return "".join(lines)


@pytest.mark.parametrize("unit", ["", " km", " %"])
def test_an_odd_value_of_any_setting_is_written_the_same_again(unit: str) -> None:
    for value in _ODD:
        found = read_plain(_of_every_setting(value + unit))
        text = write_plain(found)
        again = read_plain(text)
        assert write_plain(again) == text
        assert {path: again[path].value for path in again} == {
            path: found[path].value for path in found
        }


@pytest.mark.parametrize(
    ("value", "spelled"),
    [
        ("a\tb", '"a\tb"'),
        ("""'7" and 8" frames'""", '"7"" and 8"" frames"'),
        ('"a"" # ""b"', '"a"" # ""b"'),
        ("it's", '"it\'s"'),
    ],
)
def test_what_a_line_would_take_apart_stands_in_double_quotes(value: str, spelled: str) -> None:
    assert write_plain(read_plain(f"craft.name = {value}\n")).splitlines()[1] == f"name = {spelled}"


def test_a_control_character_in_a_head_line_is_told_and_no_part_of_a_setting() -> None:
    dump = (CORPUS / "dipper.dump").read_bytes().replace(b"2026-03-18", b"2026-\x0b3-18", 1)
    found = open_dump("a.dump", dump, dialects()).settings
    assert "firmware.built" not in found
    assert found["firmware.name"].value == "sedge"
    assert "a control character is no letter of a text" in {t.message for t in found.troubles}


def test_a_text_or_a_name_that_no_line_of_the_plain_form_has_room_for_is_told() -> None:
    long = read_plain(f"craft.name = '{chr(34) * 9_000}'\npads.{'a' * 101}.timer = x\n")
    assert not long.stated
    assert [trouble.message for trouble in long.troubles][:1] == [
        "a text of 9,000 letters is longer than a line can have"
    ]
    assert len(long.raw) == 1  # the pad's line is told as one that is not known


def test_the_plain_form_is_sorted_under_section_heads_with_units() -> None:
    text = "battery.empty_cell = 3300 mV\nports.uart10.baud = 9600\nports.uart2.baud = 57.6 kBd\n"
    assert write_plain(read_plain(text)) == (
        "[ports.uart2]\nbaud = 57600 Bd\n\n[ports.uart10]\nbaud = 9600 Bd\n\n"
        "[battery]\nempty_cell = 3.3 V\nend\n"
    )
