"""What one line can be, shape by shape; expected shapes are read off the line by hand.

Shapes are compared by their repr, since tuples of two kinds may be equal.
"""

import pytest
from hypothesis import given

from cfgaudit.dialects.plain import read_plain
from cfgaudit.reading.document import read_document
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    Unread,
    cells,
    named,
    trimmed,
    unquoted,
    words,
)
from cfgaudit.reading.statements import LONGEST_LINE, parse_line
from tests.strategies_text import noise


@pytest.mark.parametrize("line", ["", " ", "\t", "   \t "])
def test_a_line_of_blanks_is_blank(line: str) -> None:
    assert repr(parse_line(line)) == repr(Blank())


@pytest.mark.parametrize(
    ("line", "mark", "body", "start"),
    [
        ("# the heron", "#", "the heron", 2),
        ("#the heron", "#", "the heron", 1),
        ("## the heron ##", "##", "the heron ##", 3),
        ("; the heron", ";", "the heron", 2),
        ("// the heron", "//", "the heron", 3),
        ("-- the heron", "--", "the heron", 3),
        ("% the heron", "%", "the heron", 2),
        ("   # the heron  ", "#", "the heron", 5),
        ("#", "#", "", 1),
        ('# low = "3', "#", 'low = "3', 2),
    ],
)
def test_a_line_that_begins_with_a_mark_is_a_comment(
    line: str, mark: str, body: str, start: int
) -> None:
    assert repr(parse_line(line)) == repr(Comment(mark, Span(body, start)))


@pytest.mark.parametrize(
    ("line", "name", "start"),
    [
        ("[pack]", "pack", 1),
        ("  [port brook1]  ", "port brook1", 3),
        ("[ pack ]", "pack", 2),
        ("<pack>", "pack", 1),
        ("== pack ==", "pack", 3),
        ("=== the pack ===", "the pack", 4),
        ("[pack] # as flown", "pack", 1),
    ],
)
def test_a_name_in_brackets_is_a_section(line: str, name: str, start: int) -> None:
    assert repr(parse_line(line)) == repr(Section(Span(name, start)))


@pytest.mark.parametrize(
    ("line", "shape"),
    [
        ("begin link 2", Opener(Span("link 2", 6))),
        ("BEGIN link", Opener(Span("link", 6))),
        ("begin", Opener(Span("", 5))),
        ("link 2 {", Opener(Span("link 2", 0))),
        ("  link 2 {  # to the finder", Opener(Span("link 2", 2))),
        ("end", Closer(Span("", 3))),
        ("End", Closer(Span("", 3))),
        ("end link", Closer(Span("link", 4))),
        ("}", Closer(Span("", 1))),
        ("  }  # link", Closer(Span("", 5))),
    ],
)
def test_blocks_open_and_close(line: str, shape: Shape) -> None:
    assert repr(parse_line(line)) == repr(shape)


@pytest.mark.parametrize(
    ("line", "shape"),
    [
        ("\t# so", Comment("#", Span("so", 3))),
        ("\t[pack]", Section(Span("pack", 2))),
        ("\tlow = 3.5", Assignment(Span("low", 1), "=", Span("3.5", 7))),
        ("\t\tlink 2", Directive(Span("link 2", 2))),
        (" \t}", Closer(Span("", 3))),
        ("\ta, b", Row(Span("a, b", 1))),
    ],
)
def test_a_tab_before_a_statement_indents_it(line: str, shape: Shape) -> None:
    assert repr(parse_line(line)) == repr(shape)


@pytest.mark.parametrize("line", ["begin = 3", "begin: 3", "end = 3", "end: 3"])
def test_a_block_word_before_a_sign_is_a_key(line: str) -> None:
    assert isinstance(parse_line(line), Assignment)


@pytest.mark.parametrize(
    "line", ["beginning", "ending 3", "endless = 3", "x {y", "begins = 1", "bend"]
)
def test_a_longer_word_opens_and_closes_nothing(line: str) -> None:
    assert not isinstance(parse_line(line), Opener | Closer)


@pytest.mark.parametrize(
    ("line", "key", "sign", "value", "start"),
    [
        ("low = 3.5", "low", "=", "3.5", 6),
        ("low=3.5", "low", "=", "3.5", 4),
        ("low: 3.5", "low", ":", "3.5", 5),
        ("low : 3.5", "low", ":", "3.5", 6),
        ("pack low  =  3.5 V ", "pack low", "=", "3.5 V", 13),
        ("low =", "low", "=", "", 5),
        ("low = # none", "low", "=", "", 6),
        ("low = 3.5  # a cell", "low", "=", "3.5", 6),
        ("low = 3.5 // a cell", "low", "=", "3.5", 6),
        ("low = a#b;c//d", "low", "=", "a#b;c//d", 6),
        ('note = "the # heron" 4', "note", "=", '"the # heron" 4', 7),
        ("a = b = c", "a", "=", "b = c", 4),
        ("list = 1, 2, 3", "list", "=", "1, 2, 3", 7),
        ("arm = 5: 1700..2100 us", "arm", "=", "5: 1700..2100 us", 6),
        ("page: the:book", "page", ":", "the:book", 6),
        ("käthe = Mühle", "käthe", "=", "Mühle", 8),
    ],
)
def test_a_key_a_sign_and_a_value_are_an_assignment(
    line: str, key: str, sign: str, value: str, start: int
) -> None:
    assert repr(parse_line(line)) == repr(Assignment(Span(key, 0), sign, Span(value, start)))


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("PACK LOW, 350,V", ["PACK LOW", "350", "V"]),
        ("a,,c", ["a", "", "c"]),
        ("a, b,  # so", ["a", "b", ""]),
        ("a\tb\tc", ["a", "b", "c"]),
        ("a\tb\t", ["a", "b", ""]),
        ('"a, b", c', ['"a, b"', "c"]),
        (",", ["", ""]),
        ("a\tb, c", ["a\tb", "c"]),
    ],
)
def test_cells_between_commas_or_tabs_are_a_row(line: str, parts: list[str]) -> None:
    shape = parse_line(line)
    assert isinstance(shape, Row)
    assert [cell.text for cell in cells(shape.body)] == parts


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("save", ["save"]),
        ("link 2 8 57600", ["link", "2", "8", "57600"]),
        ("link 2 rate=57600 jobs=8", ["link", "2", "rate=57600", "jobs=8"]),
        ('call "the heron" 3  # so', ["call", '"the heron"', "3"]),
        ('say note="a b" c', ["say", 'note="a b"', "c"]),
        ("save\t# all", ["save"]),
        ("at 10:30", ["at", "10:30"]),
        ("-5 3", ["-5", "3"]),
    ],
)
def test_words_are_a_directive(line: str, parts: list[str]) -> None:
    shape = parse_line(line)
    assert isinstance(shape, Directive)
    assert [word.text for word in words(shape.body)] == parts


@pytest.mark.parametrize(
    ("line", "column", "expected"),
    [
        ('low = "3.5', 7, 'a closing " before the end of the line'),
        ('say "a" "b', 9, 'a closing " before the end of the line'),
        ('"', 1, 'a closing " before the end of the line'),
        ("[pack", 6, "a closing ] behind the section's name"),
        ("a\x00b", 2, "readable text, where a control character stands"),
        ("low = 3\x07", 8, "readable text, where a control character stands"),
        ("# note\x1b[2J", 7, "readable text, where a control character stands"),
        ("\x7f", 1, "readable text, where a control character stands"),
        ("= 3", 1, "a setting, a section head, words or a comment"),
        ("[pack] low", 8, "a setting, a section head, words or a comment"),
    ],
)
def test_an_unreadable_line_says_the_column_and_what_was_expected(
    line: str, column: int, expected: str
) -> None:
    assert repr(parse_line(line)) == repr(Unread(column, expected))


def test_a_line_at_the_limit_is_read_and_one_beyond_is_not() -> None:
    assert isinstance(parse_line("a" * LONGEST_LINE), Directive)
    beyond = parse_line("a" * (LONGEST_LINE + 1))
    assert isinstance(beyond, Unread)
    assert beyond.column == LONGEST_LINE + 1
    assert "at most 10,000 characters (this one has 10,001)" in beyond.expected


@given(noise(max_size=120))
def test_no_line_whatever_stops_the_parser(line: str) -> None:
    shape = parse_line(line)
    if isinstance(shape, Unread):
        assert 1 <= shape.column <= len(line) + 1


def test_equal_lines_are_parsed_once() -> None:
    parse_line.cache_clear()
    body = b"heron = 1\nbittern = 2\n" * 500
    assert len(read_document("a.dump", body).statements) == 1000
    assert len(read_document("b.dump", body).statements) == 1000
    info = parse_line.cache_info()
    assert (info.misses, info.hits) == (2, 1998)


def test_the_words_of_a_body_know_where_they_stand() -> None:
    assert words(Span('link  2 name="a b"', 4)) == (
        Span("link", 4),
        Span("2", 10),
        Span('name="a b"', 12),
    )


def test_a_lone_quote_mark_makes_the_rest_one_cell() -> None:
    assert [cell.text for cell in cells(Span('a, "b, c', 0))] == ["a", '"b, c']


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [("rate=57600", "rate", "57600"), ("jobs=", "jobs", ""), ("a.b-c=d=e", "a.b-c", "d=e")],
)
def test_a_named_argument_has_a_name_and_a_value(text: str, name: str, value: str) -> None:
    found = named(Span(text, 3))
    assert found == (name, Span(value, 3 + len(name) + 1))


@pytest.mark.parametrize("text", ["57600", "=3", "2=3", '"a=b"'])
def test_a_word_without_a_name_is_no_named_argument(text: str) -> None:
    assert named(Span(text, 0)) is None


@pytest.mark.parametrize(
    ("text", "bare"),
    [
        ('"a b"', "a b"),
        ("'a'", "a"),
        ('""', ""),
        ('"', '"'),
        ('"7"" x"', '7" x'),
        ("\"a'", "\"a'"),
        ("a", "a"),
    ],
)
def test_quotes_go_where_they_stand_at_both_ends(text: str, bare: str) -> None:
    assert unquoted(text) == bare


def test_trimming_a_span_moves_its_start() -> None:
    assert trimmed(Span("  a ", 5)) == Span("a", 7)


BLOCK = """/* as before:
battery.cells = 3
*/
battery.cells = 4   /* now */
battery.capacity = 1500 mAh  /* and once
battery.cells = 2 */
/* never closed
craft.name = Dipper
"""


def test_what_a_remark_over_several_lines_says_is_no_setting() -> None:
    found = read_plain(BLOCK)
    stated = {path: entry.value for path, entry in found.stated.items()}
    assert stated == {"battery.cells": 4, "battery.capacity": 1500.0, "craft.name": "Dipper"}
    assert not found.troubles
    assert not found.repeats
    again = read_plain(BLOCK.replace("/* as before:", "# as before:", 1))  # nothing is remembered
    assert {entry.value for pair in again.repeats for entry in pair} == {3, 4}


@pytest.mark.parametrize(
    ("text", "column"),
    [("/* one */ battery.cells = 4", 10), ("/* one\ntwo */ battery.cells = 4", 7)],
)
def test_what_stands_behind_the_end_of_a_remark_is_told_and_not_lost(
    text: str, column: int
) -> None:
    found = read_plain(text)
    assert not found.stated
    (trouble,) = found.troubles
    assert "nothing behind the end of a remark" in trouble.message
    assert trouble.place is not None
    assert trouble.place.column == column
