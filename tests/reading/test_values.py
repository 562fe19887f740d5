"""What a value can be; expected numbers are read off the text by hand.

Parts are compared by their repr, since tuples of two kinds may be equal.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.reading.shapes import Item, Number, Quoted, Range, Word
from cfgaudit.reading.statements import ValueSyntaxError, parse_value
from tests.strategies_text import noise


def number(text: str, unit: str = "") -> Number:
    return Number(text, Fraction(text), unit)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("350", Fraction(350), ""),
        ("-3.5", Fraction(-7, 2), ""),
        ("+3", Fraction(3), ""),
        (".5", Fraction(1, 2), ""),
        ("5.", Fraction(5), ""),
        ("0.1", Fraction(1, 10), ""),
        ("1e3", Fraction(1000), ""),
        ("2.5E-3", Fraction(1, 400), ""),
        ("0x1F", Fraction(31), ""),
        ("-0xff", Fraction(-255), ""),
        ("57.6kBd", Fraction(288, 5), "kBd"),
        ("57.6 kBd", Fraction(288, 5), "kBd"),
        ("20%", Fraction(20), "%"),
        ("4.5°", Fraction(9, 2), "°"),
        ("200°/s", Fraction(200), "°/s"),
        ("3m/s", Fraction(3), "m/s"),
        ("5µs", Fraction(5), "µs"),
    ],
)
def test_a_number_is_exact_and_knows_its_unit(text: str, value: Fraction, unit: str) -> None:
    (item,) = parse_value(text)
    (part,) = item.parts
    assert isinstance(part, Number)
    assert (part.value, part.unit) == (value, unit)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("1300..1700", number("1300"), number("1700")),
        ("1300...1700 us", number("1300"), number("1700", "us")),
        ("1300 .. 1700us", number("1300"), number("1700", "us")),
        ("3.5V..4.2V", number("3.5", "V"), number("4.2", "V")),
        ("-30..30", number("-30"), number("30")),
    ],
)
def test_a_range_has_two_ends_each_with_its_unit(text: str, low: Number, high: Number) -> None:
    assert repr(parse_value(text)) == repr((Item(None, (Range(low, high),)),))


def test_a_label_goes_before_a_range() -> None:
    assert repr(parse_value("5: 1700..2100 us, 12: 900..1100")) == repr(
        (
            Item(5, (Range(number("1700"), number("2100", "us")),)),
            Item(12, (Range(number("900"), number("1100")),)),
        )
    )


def test_commas_part_the_items_of_a_list() -> None:
    assert repr(parse_value("1,2 , 3")) == repr(
        tuple(Item(None, (number(text),)) for text in "123")
    )


def test_a_filter_stage_is_words_and_numbers() -> None:
    assert repr(parse_value("notch 200 Hz q 3.5")) == repr(
        (Item(None, (Word("notch"), number("200", "Hz"), Word("q"), number("3.5"))),)
    )


@pytest.mark.parametrize(
    ("text", "inside"), [('"a, b"', "a, b"), ("'a \" b'", 'a " b'), ('""', ""), ("'# no'", "# no")]
)
def test_quoted_text_is_what_it_looks_like(text: str, inside: str) -> None:
    assert repr(parse_value(text)) == repr((Item(None, (Quoted(inside),)),))


@pytest.mark.parametrize(
    "text",
    [
        "on",
        "front_left",
        "2.4.1",
        "2026-03-18",
        "RS-0412",
        "12abc!",
        "0x1G",
        "1" * 41,  # longer than a number of sane length
        "1e999",
        "~",
        "Mühle",
    ],
)
def test_what_is_no_number_is_a_word(text: str) -> None:
    assert repr(parse_value(text)) == repr((Item(None, (Word(text),)),))


@pytest.mark.parametrize(
    ("text", "column"), [("", 1), ("a,,b", 3), (",a", 1), ('"a', 1), ("1..2..3", 5)]
)
def test_a_value_that_cannot_be_read_says_the_column_and_what_was_expected(
    text: str, column: int
) -> None:
    with pytest.raises(ValueSyntaxError, match="expected a number, a word or a quoted text") as bad:
        parse_value(text)
    assert bad.value.column == column


@given(noise())
def test_any_text_is_a_value_or_says_a_column(text: str) -> None:
    try:
        column = 1 if parse_value(text) else 0
    except ValueSyntaxError as error:
        column = error.column
    assert 1 <= column <= len(text) + 1


@given(st.decimals(-(10**9), 10**9, allow_nan=False, places=4))
def test_every_decimal_is_read_exactly(value: object) -> None:
    (item,) = parse_value(f"{value:f}")
    assert repr(item.parts) == repr((number(f"{value:f}"),))
