"""The steps that a firmware counts a setting in, and what they do to a value that is written."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from cfgaudit.craft.kinds import Either, Int, Kind, Quantities, Quantity, unit_of
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.placing import kind_of
from cfgaudit.dialects.spec import CannotWrite, Form, Spec
from cfgaudit.dialects.tracing import trace
from cfgaudit.units import UnitError, convert


class Step(NamedTuple):
    """A number's step and where its count begins, in the vocabulary's unit, by element's part."""

    part: str  # empty for a setting with one number, or a list of plain ones
    size: Fraction
    start: Fraction


def steps_of(opened: Opened) -> dict[str, tuple[Step, ...]]:
    """The steps of every number that a dump states, by path; none for one written as it is."""
    found: dict[str, dict[str, Step]] = {}
    for mark in trace(opened.document, opened.dialect).marks:
        step = _step(mark.spec, mark.path)
        if step is not None:
            goal = target_of(mark.path)
            found.setdefault(goal.path, {})[goal.part] = Step(goal.part, *step)
    return {path: tuple(parts.values()) for path, parts in found.items()}


def _step(spec: Spec, path: str) -> tuple[Fraction, Fraction] | None:
    """The size of a step and where the count begins."""
    if spec.form is not Form.SCALED:
        return None
    try:
        unit = unit_of(kind_of(path))
        size, start = spec.scale, spec.offset
        if spec.unit and unit:
            size, start = convert(size, spec.unit, unit), convert(start, spec.unit, unit)
    except (CannotWrite, UnitError):
        return None
    return abs(size), start


def is_rounded(wanted: Value, found: Value, steps: Sequence[Step]) -> float | None:
    """The step that a value was rounded by, up or down; None where that explains nothing."""
    by_part = {step.part: step for step in steps}
    ours, others = _numbers(wanted), _numbers(found)
    if ours is None or others is None or len(ours) != len(others):
        return None
    largest: Fraction | None = None
    for (part, mine), (other, theirs) in zip(ours, others, strict=True):
        if part != other:
            return None
        if mine == theirs:
            continue
        step = by_part.get(part)
        if step is None or isinstance(mine, str) or isinstance(theirs, str):
            return None
        gap = Fraction(str(mine)) - step.start
        if gap % step.size == 0 or abs(Fraction(str(mine)) - Fraction(str(theirs))) >= step.size:
            return None
        largest = max(largest or step.size, step.size)
    return None if largest is None else float(largest)


def _numbers(value: Value) -> list[tuple[str, float | str]] | None:
    """A value's numbers with the part that each is; None for what has none."""
    if isinstance(value, bool | str | frozenset):
        return None
    if isinstance(value, int | float):
        return [("", value)]
    found: list[tuple[str, float | str]] = []
    for element in value:
        if isinstance(element, SwitchRange):
            found += [("on", str(element.channel)), ("low", element.low), ("high", element.high)]
        elif isinstance(element, Filter):
            found += [("is", element.kind), ("cutoff", element.cutoff), ("q", element.q)]
        else:
            found.append(("", element))
    return found


def limit_reached(kind: Kind, wanted: Value, found: Value) -> str:
    """Which of the vocabulary's limits a value was stopped at; or nothing."""
    bounds = kind.other if isinstance(kind, Either) else kind
    if not isinstance(bounds, Int | Quantity | Quantities) or not _are_numbers(wanted, found):
        return ""
    assert isinstance(wanted, int | float)
    if found == bounds.high and wanted > bounds.high:
        return "the highest value"
    return "the lowest value" if found == bounds.low and wanted < bounds.low else ""


def is_stopped_short(wanted: Value, found: Value, old: Value | None) -> bool:
    """Whether a number looks stopped at a limit.

    It moved towards the intended value and not all the way; or, where nothing tells what it was,
    it is a rounder number than the intended one (of at most two digits besides noughts).
    """
    if not _are_numbers(wanted, found):
        return False
    assert isinstance(wanted, int | float)
    assert isinstance(found, int | float)
    if isinstance(old, int | float) and not isinstance(old, bool):
        return min(old, wanted) < found < max(old, wanted)
    return old is None and _digits(found) <= 2 and _digits(found) < _digits(wanted)


def _are_numbers(*values: Value) -> bool:
    return all(isinstance(v, int | float) and not isinstance(v, bool) for v in values)


def _digits(number: float) -> int:
    """How many digits a number has besides the noughts at its ends."""
    digits = "".join(str(digit) for digit in Decimal(str(number)).normalize().as_tuple().digits)
    return len(digits.strip("0"))
