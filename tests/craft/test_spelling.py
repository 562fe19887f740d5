"""Values and their texts: what is written reads back, and what is no value says why."""

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.vocabulary.kinds import (
    OFF_WORDS,
    ON_WORDS,
    BadValue,
    Between,
    Bool,
    Either,
    Filter,
    Filters,
    Int,
    Kind,
    NumbersInUnit,
    Numeric,
    OneOf,
    PadUse,
    Quantities,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    WholeNumber,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import vocabulary
from tests.strategies import values
from tests.strategies_text import noise

# Kinds beside those of the vocabulary: no unit, no limits, a unit with a slash or a percent sign.
OTHER_KINDS: tuple[Kind, ...] = (
    Bool(),
    Int(),
    Quantity(""),
    Quantity("%"),
    Quantity("deg/s", -1e6, 1e6),
    Words(("reed", "sedge")),
    WordSet(),
    WordSet(("reed", "sedge")),
    Text(),
    PadUse(("motor", "free")),
    Either(("auto",), Int(1, 12)),
    Either(("hold", "none"), Quantity("us", 500, 2500)),
    SwitchRanges(),
    Filters(),
    Quantities("MHz"),
    Quantities(""),
    Between("V", 0, 80),
    OneOf((16, 8)),
)
KINDS = tuple({repr(d.kind): d.kind for d in vocabulary()}.values()) + OTHER_KINDS
some_kind = st.sampled_from(KINDS)


@given(st.data(), some_kind)
def test_a_written_value_reads_back_as_itself(data: st.DataObject, kind: Kind) -> None:
    value = data.draw(values(kind))
    text = kind.spell(value)
    again = kind.read(text)
    assert again == value
    assert isinstance(again, bool) == isinstance(value, bool)
    assert kind.beyond(again) == ""


@given(st.floats(-1e12, 1e12).filter(lambda number: number == 0 or abs(number) > 1e-15))
def test_any_number_of_sane_length_reads_back_to_the_last_digit(number: float) -> None:
    kind = Quantity("V")
    assert kind.read(kind.spell(number)) == number


@given(some_kind, noise())
def test_any_text_is_a_value_or_a_bad_value_that_says_why(kind: Kind, text: str) -> None:
    try:
        value = kind.read(text)
    except BadValue as bad:
        said = str(bad)
    else:
        said = f"{value!r} is a value"
    assert " is not " in said or "is a value" in said or ": " in said


def _below(kind: type[Kind]) -> Iterator[type[Kind]]:
    for below in kind.__subclasses__():
        yield below
        yield from _below(below)


def test_the_round_trip_covers_every_kind() -> None:
    made = {*_below(Kind)} - {Numeric, WholeNumber, NumbersInUnit}  # what others have in common
    assert {type(kind) for kind in KINDS} == made


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (Quantity("V"), "350 mV", 0.35),
        (Quantity("V"), "0.35", 0.35),
        (Quantity("Bd"), "57.6kBd", 57600.0),
        (Quantity("s"), "2 min", 120.0),
        (Quantity(""), "25 %", 0.25),
        (Int(0, 64), "0x10", 16),
        (Int(0, 64), "8.0", 8),
        (Bool(), "ENABLED", True),
        (Bool(), '"off"', False),
        (Words(("sbus", "none")), "SBUS", "sbus"),
        (WordSet(("tilt", "load")), "tilt | load", frozenset({"tilt", "load"})),
        (WordSet(("tilt", "load")), "none", frozenset()),
        (Text(), '"the # heron"', "the # heron"),
        (PadUse(("motor", "free")), "motor  front_left", "motor front_left"),
        (Either(("auto",), Int(1, 12)), "Auto", "auto"),
        (Either(("auto",), Int(1, 12)), "4", 4),
        (SwitchRanges(), "none", ()),
        (
            SwitchRanges(),
            "5: 1700..2100 us, 8: 1.3..1.7 ms",
            (SwitchRange(5, 1700.0, 2100.0), SwitchRange(8, 1300.0, 1700.0)),
        ),
        (
            Filters(),
            "pt1 150 Hz, notch 0.2 kHz q 3.5",
            (Filter("pt1", 150.0), Filter("notch", 200.0, 3.5)),
        ),
        (Quantities("MHz"), "5.865, 5.845 GHz", (5865.0, 5845.0)),
    ],
)
def test_a_text_is_read_by_its_kind(kind: Kind, text: str, value: Value) -> None:
    assert kind.read(text) == value


def test_a_bare_number_is_in_the_unit_that_the_dump_counts_in() -> None:
    assert Quantity("V").read("350", "mV") == 0.35
    assert Quantity("V").read("3.5 V", "mV") == 3.5


@pytest.mark.parametrize("words", [(ON_WORDS, True), (OFF_WORDS, False)], ids=["on", "off"])
def test_on_and_off_are_read_in_every_usual_spelling(words: tuple[frozenset[str], bool]) -> None:
    assert {Bool().read(word.upper()) for word in words[0]} == {words[1]}


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        (Bool(), "2", "'2' is not on or off"),
        (Int(0, 9), "3.5", "'3.5' is not a whole number from 0 to 9"),
        (Int(0, 9), "3 V", "'3 V' is not a whole number"),
        (Int(0, 9), "1, 2", "'1, 2' is not a whole number"),
        (Quantity("V", 0, 60), "low", "'low' is not a number within 0..60 V"),
        (Quantity("V"), "3.5 A", "A measures current, where V"),
        (Quantity("V"), "3.5 vlt", "unknown unit 'vlt'"),
        (Quantity("V"), "", "'' is not a number"),
        (Quantity("V"), "3 V V", "'3 V V' is not a number"),
        (Words(("reed",)), "heron", "'heron' is not one of reed"),
        (WordSet(("reed",)), "reed heron", "'heron' is not words out of reed"),
        (PadUse(("free",)), "heron", "'heron' is not one of free"),
        (SwitchRanges(), "1700..2100 us", "is not a list such as 5: 1700..2100 us"),
        (SwitchRanges(), "5: 1700", "is not a list such as 5: 1700..2100 us"),
        (SwitchRanges(), "5: 1700..2100us us", "is not a list such as 5: 1700..2100 us"),
        (Filters(), "heron 150 Hz", "is not a list such as pt1 150 Hz"),
        (Filters(), "pt1", "is not a list such as pt1 150 Hz"),
        (Quantities("MHz"), "5865, x", "is not a list of numbers in MHz"),
    ],
)
def test_a_bad_value_says_what_was_expected(kind: Kind, text: str, says: str) -> None:
    with pytest.raises(BadValue) as bad:
        kind.read(text)
    assert says in str(bad.value)


def test_a_value_beyond_its_limits_is_said_in_words() -> None:
    assert Quantity("V", 0, 60).beyond(350.0) == "350 V is not a number within 0..60 V"
    assert Int(1, 12).beyond(13) == "13 is not a whole number from 1 to 12"
    assert Either(("auto",), Int(1, 12)).beyond("auto") == ""
    assert "13 is not" in Either(("auto",), Int(1, 12)).beyond(13)


@pytest.mark.parametrize(
    ("value", "power"), [(350.0, -1), (3500.0, -2), (3.5, -1), (0.0, 0), (1e9, 0)]
)
def test_a_slip_of_the_point_is_recognised(value: float, power: int) -> None:
    # Hand calculation within 0.1..40 V: 350 → 35, 3500 → 35, 3.5 → 0.35; 1e9 stays beyond.
    assert Quantity("V", 0.1, 40).likely_power(value) == power
