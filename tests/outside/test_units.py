"""Our unit table against pint (reference library): every unit of the table, with every prefix."""

from collections.abc import Iterator
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.vocabulary.units import (
    _PLAIN,
    _PREFIXED,
    PREFIXES,
    UnitError,
    convert,
    is_unit,
    number_text,
    unit,
)

# How the reference library writes the same unit; the prefix goes before the first word.
PREFIXED_THERE = {
    "V": "volt",
    "A": "ampere",
    "W": "watt",
    "Ah": "ampere * hour",
    "Hz": "hertz",
    "s": "second",
    "m": "meter",
    "Bd": "baud",
    "B": "byte",
    "g": "gram",
    "Ohm": "ohm",
}
PLAIN_THERE = {
    "min": "minute",
    "h": "hour",
    "deg": "degree",
    "°": "degree",
    "deg/s": "degree / second",
    "°/s": "degree / second",
    "m/s": "meter / second",
    "cm/s": "centimeter / second",
    "km/h": "kilometer / hour",
    "cm": "centimeter",
    "V/A": "volt / ampere",
    "mV/A": "millivolt / ampere",
    "%": "percent",
    "rad": "radian",
    "mrad": "milliradian",
    "rad/s": "radian / second",
    "rpm": "revolutions_per_minute",
    "rpm/V": "revolutions_per_minute / volt",
}
PREFIXES_THERE = {
    "": "",
    "n": "nano",
    "µ": "micro",
    "u": "micro",
    "m": "milli",
    "k": "kilo",
    "M": "mega",
    "G": "giga",
}
# The unit of each dimension that the table's factors count in, as the reference library has it.
BASE_THERE = {
    "voltage": "volt",
    "current": "ampere",
    "power": "watt",
    "charge": "ampere * hour",
    "frequency": "hertz",
    "time": "second",
    "length": "meter",
    "symbol rate": "baud",
    "data": "byte",
    "resistance": "ohm",
    "angle": "degree",
    "turn rate": "degree / second",
    "speed": "meter / second",
    "voltage per current": "volt / ampere",
    "ratio": "dimensionless",
    "revolutions": "revolutions_per_minute",
    "revolutions per voltage": "revolutions_per_minute / volt",
    "mass": "gram",
}
REGISTRY: "pint.UnitRegistry[Fraction]" = pint.UnitRegistry(non_int_type=Fraction)


def every_unit() -> Iterator[tuple[str, str]]:
    """Each symbol of the table, prefixed ones with each prefix, and its spelling in pint."""
    for base, theirs in PREFIXED_THERE.items():
        for prefix, name in PREFIXES_THERE.items():
            if prefix + base not in PLAIN_THERE:  # `min` is a minute, no unit with a prefix
                yield prefix + base, name + theirs
    yield from PLAIN_THERE.items()


def factor_there(theirs: str, base: str) -> float:
    """How many of the base unit one of a unit is, by the reference library."""
    return float(REGISTRY.Quantity(Fraction(1), theirs).to(base).magnitude)


def test_the_comparison_covers_the_whole_table() -> None:
    assert set(PREFIXED_THERE) == set(_PREFIXED)
    assert set(PLAIN_THERE) == set(_PLAIN)
    assert set(PREFIXES_THERE) == set(PREFIXES)
    dimensions = {dimension for dimension, _ in (*_PREFIXED.values(), *_PLAIN.values())}
    assert set(BASE_THERE) == dimensions


@pytest.mark.parametrize(("symbol", "theirs"), list(every_unit()))
def test_a_unit_has_the_dimension_and_the_factor_of_the_reference(symbol: str, theirs: str) -> None:
    ours = unit(symbol)
    base = BASE_THERE[ours.dimension]
    assert REGISTRY.Quantity(1, theirs).is_compatible_with(base)
    assert float(ours.factor) == pytest.approx(factor_there(theirs, base), rel=1e-12)


@given(
    st.sampled_from(sorted(symbol for symbol, _ in every_unit())),
    st.sampled_from(sorted(symbol for symbol, _ in every_unit())),
    st.fractions(max_denominator=10_000),
)
def test_a_conversion_there_and_back_is_exact_or_refused(
    given: str, wanted: str, value: Fraction
) -> None:
    if unit(given).dimension == unit(wanted).dimension:
        assert convert(convert(value, given, wanted), wanted, given) == value
    else:
        with pytest.raises(UnitError, match="is wanted"):
            convert(value, given, wanted)


@pytest.mark.parametrize(
    ("value", "given", "wanted", "result"),
    [  # hand calculations: prefixes move the point, 36 km/h = 36000 m in 3600 s = 10 m/s
        (Fraction(350), "mV", "V", Fraction(7, 20)),
        (Fraction("57.6"), "kBd", "Bd", Fraction(57600)),
        (Fraction(36), "km/h", "m/s", Fraction(10)),
        (Fraction("1.5"), "Ah", "mAh", Fraction(1500)),
        (Fraction(25), "%", "%", Fraction(25)),
        (Fraction(2), "h", "min", Fraction(120)),
        (Fraction(5), "µs", "us", Fraction(5)),
    ],
)
def test_a_conversion_is_what_a_hand_calculation_gives(
    value: Fraction, given: str, wanted: str, result: Fraction
) -> None:
    assert convert(value, given, wanted) == result


@pytest.mark.parametrize("symbol", ["", "parsec", "kmin", "hz", "mA h", "k"])
def test_an_unknown_unit_is_refused(symbol: str) -> None:
    assert not is_unit(symbol)
    with pytest.raises(UnitError, match="unknown unit"):
        unit(symbol)


def test_a_near_miss_is_suggested() -> None:
    with pytest.raises(UnitError, match=r"did you mean .*kHz"):
        unit("khz")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_printed_number_reads_back_as_the_same_number_without_an_exponent(value: float) -> None:
    text = number_text(value)
    assert float(text) == value
    assert "e" not in text.casefold()


@given(st.integers())
def test_a_whole_number_is_printed_without_a_point(value: int) -> None:
    assert number_text(value) == str(value)
