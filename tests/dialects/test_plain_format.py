"""The one form of a plain file: idempotent, comments kept, small changes small, or refused."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as trials
from hypothesis import strategies as st

from cfgaudit.dialects.plain import (
    CannotFormat,
    first_difference,
    formatted,
    read_plain,
    write_plain,
)
from cfgaudit.settings import Settings
from tests.dialects.demo import CORPUS
from tests.strategies import settings as drawn_settings

PLAIN = sorted(CORPUS.glob("*.cfg"))


def form(text: str) -> str:
    return formatted("a.cfg", text.encode("utf-8")).decode("utf-8")


def comments(text: str) -> list[str]:
    return sorted("#" + part.strip() for line in text.splitlines() for part in line.split("#")[1:])


@pytest.mark.parametrize("file", PLAIN, ids=lambda file: file.stem)
def test_a_corpus_file_keeps_its_meaning_and_its_comments(file: Path) -> None:
    before = file.read_text(encoding="utf-8")
    after = form(before)
    assert form(after) == after
    assert comments(after) == comments(before)
    values = [{p: e.value for p, e in read_plain(t).stated.items()} for t in (before, after)]
    assert values[0] == values[1]
    bare = "".join(line + "\n" for line in after.splitlines() if not line.startswith("#"))
    assert bare.lstrip("\n") == write_plain(read_plain(before))


@trials(max_examples=60)
@given(drawn=drawn_settings(raw=False))
def test_what_plain_writes_is_in_the_one_form(drawn: Settings) -> None:
    text = write_plain(drawn)
    assert form(text) == text


LINES = st.sampled_from(
    [
        "", "# a", "  # b", "[battery]", "[ports.uart2] # c", "[ports]", "[odd]", "end", "end # d",
        "cells = 4", "cells = 400", "battery.warn_cell = 3500 mV", "uart2.baud = 57.6 kBd",
        "roles = telemetry # e", "odd = 1", "odd: 2  # f", "battery.cells=3", "warn_cell =",
        'craft.name = "a # b"',
    ]
)  # fmt: skip


@trials(max_examples=300)
@given(lines=st.lists(LINES, max_size=12), end=st.sampled_from(["\n", "\r\n"]))
def test_any_plain_lines_are_formatted_once_and_lose_nothing(lines: list[str], end: str) -> None:
    before = end.join(lines).encode()
    after = formatted("a.cfg", before)
    assert formatted("a.cfg", after) == after
    one, other = (read_plain(data.decode()) for data in (before, after))
    assert {p: e.value for p, e in one.stated.items()} == {
        p: e.value for p, e in other.stated.items()
    }
    assert {k: raw.value for k, raw in one.raw.items()} == {
        k: r.value for k, r in other.raw.items()
    }
    assert len(one.repeats) == len(other.repeats)
    for mark in "abcdef":
        assert before.count(f"# {mark}".encode()) == after.count(f"# {mark}".encode())
    if b"\r\n" in before:
        assert after.count(b"\r\n") == after.count(b"\n")


def test_sections_are_one_each_in_the_vocabulary_s_order() -> None:
    text = "battery.cells = 4\n[motors]\npoles = 14\nrear_left.spin = cw\n[craft]\nname = A\n"
    assert form(text) == (
        '[craft]\nname = "A"\n\n[motors]\npoles = 14\n\n[motors.rear_left]\nspin = cw\n\n'
        "[battery]\ncells = 4\nend\n"
    )


def test_a_comment_goes_where_what_it_stands_above_goes() -> None:
    text = """# the file

# about the pack
[battery]
# full is full
full_cell = 4.20 V
cells = 4 # in row

# who
[craft]
name = A
# last words
"""
    assert (
        form(text)
        == """# the file

# who
[craft]
name = "A"

# about the pack
[battery]
cells = 4  # in row
# full is full
full_cell = 4.2 V

# last words
end
"""
    )


def test_a_comment_above_a_head_that_goes_stays_with_its_first_setting() -> None:
    text = "# gps side\n[ports]\nuart3.baud = 9600\nuart2.baud = 9600\n"
    assert form(text) == (
        "[ports.uart2]\nbaud = 9600 Bd\n\n[ports.uart3]\n# gps side\nbaud = 9600 Bd\nend\n"
    )


def test_one_changed_value_changes_one_line() -> None:
    after = form(PLAIN[0].read_text(encoding="utf-8"))
    lines = after.splitlines()
    (at,) = [number for number, line in enumerate(lines) if line.startswith("warn_cell = ")]
    lines[at] = "warn_cell   =   3410 mV"
    again = form("\n".join(lines)).splitlines()
    assert [n for n, pair in enumerate(zip(again, lines, strict=True)) if len(set(pair)) > 1] == [
        at
    ]
    assert again[at] == "warn_cell = 3.41 V"


def test_one_added_setting_adds_one_line() -> None:
    before = "[battery]\ncells = 4\nwarn_cell = 3.5 V\nend\n"
    assert form(before.replace("end", "full_cell = 4.2 V\nend")) == (
        "[battery]\ncells = 4\nfull_cell = 4.2 V\nwarn_cell = 3.5 V\nend\n"
    )


def test_what_is_not_known_or_not_to_be_trusted_is_left_as_it_stands() -> None:
    text = "[odd]\nkey = 1.50   V\n[battery]\ncells = 0400\nwarn_cell = low\n"
    assert form(text) == (
        "[battery]\ncells = 0400\nwarn_cell = low\n\n[odd]\nkey = 1.50   V\nend\n"
    )


def test_of_a_setting_said_twice_the_last_still_holds() -> None:
    after = form("battery.cells = 4\ncraft.name = A\nbattery.cells = 6\n")
    assert after.endswith("[battery]\ncells = 4\ncells = 6\nend\n")


def test_line_ends_and_a_byte_order_mark_stay() -> None:
    data = b"\xef\xbb\xbfbattery.cells = 4\r\ncraft.name = A\r\n"
    assert formatted("a.cfg", data) == (
        b'\xef\xbb\xbf[craft]\r\nname = "A"\r\n\r\n[battery]\r\ncells = 4\r\nend\r\n'
    )


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("link 2 telemetry", "a.cfg:2: expected a setting, head or comment"),
        ("<<<<<<< ours", "a.cfg:2: expected a setting, head or comment"),
        ("begin pack", "a.cfg:2: expected a setting, head or comment"),
        ('name = "a', 'a.cfg:2: expected a closing " before the end of the line'),
    ],
)
def test_a_line_that_could_not_be_kept_is_refused_with_its_place(line: str, said: str) -> None:
    with pytest.raises(CannotFormat) as refused:
        form(f"battery.cells = 4\n{line}\n")
    assert str(refused.value) == said


def test_the_first_difference_is_a_line_of_the_file() -> None:
    assert first_difference(b"a\nb\n", b"a\nc\n") == 2
    assert first_difference(b"a\r\nb\n", b"a\nb\n") == 1
    assert first_difference(b"a\nb\n", b"a\nb\nend\n") == 2
