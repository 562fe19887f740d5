"""From a value's text to a typed value, by the setting's kind."""

from fractions import Fraction

from cfgaudit.craft.kinds import (
    CHANNEL,
    CUTOFF,
    FILTER_KINDS,
    NONE,
    OFF_WORDS,
    ON_WORDS,
    PULSE,
    QUALITY,
    AnyOf,
    Between,
    Bool,
    Either,
    Filters,
    Int,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Switches,
    Text,
    Words,
    WordSet,
)
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.reading.values import Item, Number, Part, Range, ValueSyntaxError, Word, parse_value
from cfgaudit.reading.words import unquoted
from cfgaudit.units import UnitError, convert, is_unit, number_text

# Kinds that are read alike; as tuples, since they are asked for once a line.
_ONE_WORD = (Words, PadUse)
_WHOLE = (Int, AnyOf)
_LIMITED = (Int, Quantity)


class BadValue(ValueError):  # noqa: N818 (the value is bad, no fault of ours)
    """A text that is no value of its kind; the message says what was expected."""


def read_value(kind: Kind, text: str, unit: str = "") -> Value:
    """The typed value of a text. A number without a unit is in `unit`, else in the kind's own.

    Raises BadValue. Limits are judged apart, by `beyond_limits`.
    """
    if isinstance(kind, Text):
        return unquoted(text)
    if isinstance(kind, Bool):
        return read_bool(text)
    if isinstance(kind, _ONE_WORD):
        return _word(kind, text)
    if isinstance(kind, WordSet):
        return _word_set(kind, text)
    if isinstance(kind, Either):
        word = unquoted(text).casefold()
        return word if word in kind.words else read_value(kind.other, text, unit)
    return _numeric(kind, _items(kind, text), text, unit)


def _numeric(
    kind: Int | AnyOf | Quantity | Between | Switches | Filters | Quantities,
    items: tuple[Item, ...],
    text: str,
    unit: str,
) -> Value:
    if isinstance(kind, _WHOLE):
        return _int(kind, items, text)
    if isinstance(kind, Quantity):
        return float(_one_number(kind, items, text, unit))
    if isinstance(kind, Between):
        return _between(kind, items, text, unit)
    if text.strip().casefold() == NONE:
        return ()
    if isinstance(kind, Switches):
        return tuple(_switch_range(item, text, kind) for item in items)
    if isinstance(kind, Filters):
        return tuple(_filter(item, text, kind) for item in items)
    return _quantities(kind, items, text, unit)


def read_bool(text: str) -> bool:
    """On or off in their usual spellings. Raises BadValue."""
    word = unquoted(text).casefold()
    if word in ON_WORDS:
        return True
    if word in OFF_WORDS:
        return False
    raise BadValue(f"{text!r} is not on or off")


def beyond_limits(kind: Kind, value: Value) -> str:
    """Why a value can't be, in words; empty where it can."""
    if isinstance(kind, AnyOf):
        return "" if value in kind.numbers else f"{value} is not {kind.says}"
    for limits, number in _numbers(kind, value):
        if not limits.low <= number <= limits.high:
            unit = limits.unit if isinstance(limits, Quantity) else ""
            what = "channel " if limits is CHANNEL else ""
            return f"{what}{number_text(number)} {unit}".rstrip() + f" is not {limits.says}"
    return ""


def _numbers(kind: Kind, value: Value) -> list[tuple[Int | Quantity, float]]:
    """Every number of a value, each with the limits that it must keep."""
    if isinstance(kind, Either):
        return _numbers(kind.other, value)
    if isinstance(kind, _LIMITED):
        return [(kind, value)] if isinstance(value, (int, float)) else []
    if not isinstance(value, tuple):
        return []
    found: list[tuple[Int | Quantity, float]] = []
    for element in value:
        if isinstance(element, SwitchRange):
            found += [(CHANNEL, element.channel), (PULSE, element.low), (PULSE, element.high)]
        elif isinstance(element, Filter):
            found += [(CUTOFF, element.cutoff), (QUALITY, element.q)]
        elif isinstance(kind, Quantities | Between):
            found.append((Quantity(kind.unit, kind.low, kind.high), element))
    return found


def likely_power(kind: Kind, value: Value) -> int:
    """The power of ten by which a value must be off, if that alone puts it within limits; or 0.

    In a list all numbers with a unit must be off by the same.
    """
    measured = [(kept, n) for kept, n in _numbers(kind, value) if isinstance(kept, Quantity) and n]
    for power in (-1, -2, -3, 1, 2, 3) if measured else ():
        if all(kept.low <= number * 10.0**power <= kept.high for kept, number in measured):
            return power
    return 0


def _expected(kind: Kind, text: str) -> BadValue:
    return BadValue(f"{text!r} is not {kind.says}")


def _items(kind: Kind, text: str) -> tuple[Item, ...]:
    try:
        return parse_value(text)
    except ValueSyntaxError:
        raise _expected(kind, text) from None


def _word(kind: Words | PadUse, text: str) -> str:
    word = " ".join(unquoted(text).split())
    head = word.split(" ", 1)[0] if isinstance(kind, PadUse) else word
    if head in kind.choices:
        return word
    if word.casefold() in kind.choices:
        return word.casefold()
    raise _expected(kind, text)


def _word_set(kind: WordSet, text: str) -> frozenset[str]:
    words = unquoted(text).replace(",", " ").replace("|", " ").split()
    if [word.casefold() for word in words] == [NONE]:
        return frozenset()
    for word in words:
        if kind.choices and word not in kind.choices:
            raise BadValue(f"{word!r} is not {kind.says}")
    return frozenset(words)


def _int(kind: Int | AnyOf, items: tuple[Item, ...], text: str) -> int:
    part = _sole_part(kind, items, text)
    if not isinstance(part, Number) or part.unit or part.value.denominator != 1:
        raise _expected(kind, text)
    return int(part.value)


def _sole_part(kind: Kind, items: tuple[Item, ...], text: str) -> Part:
    if len(items) != 1 or items[0].label is not None or len(items[0].parts) != 1:
        raise _expected(kind, text)
    return items[0].parts[0]


def _one_number(
    kind: Quantity | Quantities | Between, items: tuple[Item, ...], text: str, unit: str
) -> Fraction:
    if len(items) != 1 or items[0].label is not None:
        raise _expected(kind, text)
    return _measured(items[0].parts, unit or kind.unit, kind, text)


def _measured(parts: tuple[Part, ...], unit: str, kind: Kind, text: str) -> Fraction:
    """The value of a number and perhaps its unit, in the kind's unit."""
    number = parts[0]
    given = unit
    if isinstance(number, Number) and number.unit:
        given = number.unit
    elif len(parts) == 2 and isinstance(parts[1], Word):
        given, parts = parts[1].text, parts[:1]
    if len(parts) != 1 or not isinstance(number, Number):
        raise _expected(kind, text)
    wanted = kind.unit if isinstance(kind, Quantity | Quantities | Between) else unit
    if given == wanted:
        return number.value
    try:
        if not wanted and given == "%":
            return number.value / 100
        return convert(number.value, given, wanted)
    except UnitError as error:
        raise BadValue(f"{text!r}: {error}") from None


def _between(kind: Between, items: tuple[Item, ...], text: str, unit: str) -> tuple[float, float]:
    """The two ends in the kind's unit; one number is both ends."""
    parts = items[0].parts
    if len(items) != 1 or items[0].label is not None or not isinstance(parts[0], Range):
        only = float(_one_number(kind, items, text, unit))
        return only, only
    low, high = parts[0].low, parts[0].high
    shared = high.unit or unit or kind.unit
    if len(parts) == 2 and isinstance(parts[1], Word) and not high.unit:
        shared = parts[1].text
    elif len(parts) != 1:
        raise _expected(kind, text)
    ends = (
        float(_measured((low,), low.unit or shared, kind, text)),
        float(_measured((high,), shared, kind, text)),
    )
    if ends[0] > ends[1]:
        raise BadValue(f"{text!r} is not in order: its higher end comes first")
    return ends


def _switch_range(item: Item, text: str, kind: Switches) -> SwitchRange:
    parts = item.parts
    unit = parts[1].text if len(parts) == 2 and isinstance(parts[1], Word) else "us"
    if item.label is None or not isinstance(parts[0], Range) or not is_unit(unit) or len(parts) > 2:
        raise _expected(kind, text)
    low, high = parts[0].low, parts[0].high
    if high.unit and len(parts) > 1:  # a unit twice
        raise _expected(kind, text)
    shared = high.unit or unit
    micro = Quantity("us")
    return SwitchRange(
        item.label,
        float(_measured((low,), low.unit or shared, micro, text)),
        float(_measured((high,), shared, micro, text)),
    )


def _filter(item: Item, text: str, kind: Filters) -> Filter:
    parts = list(item.parts)
    if item.label is not None or len(parts) < 2 or not isinstance(parts[0], Word):
        raise _expected(kind, text)
    quality = 0.0
    if len(parts) >= 4 and isinstance(parts[-2], Word) and parts[-2].text == "q":
        last = parts[-1]
        if not isinstance(last, Number):
            raise _expected(kind, text)
        quality, parts = float(last.value), parts[:-2]
    if parts[0] not in [Word(name) for name in FILTER_KINDS]:
        raise _expected(kind, text)
    cutoff = _measured(tuple(parts[1:]), "Hz", Quantity("Hz"), text)
    return Filter(
        item.parts[0].text if isinstance(item.parts[0], Word) else "", float(cutoff), quality
    )


def _quantities(
    kind: Quantities, items: tuple[Item, ...], text: str, unit: str
) -> tuple[float, ...]:
    shared = unit or kind.unit
    last = items[-1].parts[-1]  # `5865, 5845 MHz`: the unit behind the last one is everybody's
    if isinstance(last, Number) and last.unit:
        shared = last.unit
    elif isinstance(last, Word) and is_unit(last.text):
        shared = last.text
    return tuple(float(_one_number(kind, (item,), text, shared)) for item in items)
