"""How two lists or sets differ, element by element, matched by what the elements are."""

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from cfgaudit.changes.meaning import settled
from cfgaudit.craft.kinds import Kind, unit_of
from cfgaudit.craft.values import Filter, SwitchRange, Value
from cfgaudit.units import number_text

if TYPE_CHECKING:
    from deepdiff import DeepDiff


def parts_of(kind: Kind | None, old: Value, new: Value) -> tuple[str, ...]:
    """What changed inside a list or set, a line each; nothing for other values.

    >>> parts_of(None, (), (SwitchRange(8, 1900.0, 2100.0),))
    ('channel 8: 1900..2100 us added',)
    """
    if isinstance(old, frozenset) and isinstance(new, frozenset):
        return _set_parts(old, new)
    if not (isinstance(old, tuple) and isinstance(new, tuple)):
        return ()
    if all(isinstance(element, int | float) for element in (*old, *new)):
        return _number_parts(unit_of(kind) if kind else "", old, new)
    return _element_parts(_by_subject(old), _by_subject(new))


def _differences(old: object, new: object) -> "DeepDiff":
    from deepdiff import DeepDiff  # heavy, and rarely needed

    return DeepDiff(
        old, new, view="tree", ignore_order=isinstance(old, dict), threshold_to_diff_deeper=0
    )


def _levels(found: "DeepDiff", *names: str) -> Iterator[Any]:
    for name in names:
        yield from found.get(name, ())


def _set_parts(old: frozenset[str], new: frozenset[str]) -> tuple[str, ...]:
    found = _differences(set(old), set(new))
    gone = sorted(level.t1 for level in _levels(found, "set_item_removed"))
    come = sorted(level.t2 for level in _levels(found, "set_item_added"))
    return (*(f"{word} removed" for word in gone), *(f"{word} added" for word in come))


def _number_parts(unit: str, old: tuple[object, ...], new: tuple[object, ...]) -> tuple[str, ...]:
    """Numbers keep their order; each part names the entry, counted from 1."""
    texts = [[f"{_plain(number)} {unit}".rstrip() for number in side] for side in (old, new)]
    found = _differences(*texts)
    lines: list[tuple[int, str]] = []
    for level in _levels(found, "values_changed"):
        lines.append((_index(level), f"{level.t1} is now {level.t2}"))
    for level in _levels(found, "iterable_item_removed"):
        lines.append((_index(level), f"{level.t1} removed"))
    for level in _levels(found, "iterable_item_added"):
        lines.append((_index(level), f"{level.t2} added"))
    return tuple(f"entry {index + 1}: {line}" for index, line in sorted(lines))


def _index(level: Any) -> int:
    return int(level.path(output_format="list")[-1])


def _plain(number: object) -> str:
    return number_text(settled(number)) if isinstance(number, int | float) else str(number)


def _by_subject(elements: tuple[object, ...]) -> dict[str, list[str]]:
    """What the elements say, by the channel or the kind of filter that they speak of."""
    counts: dict[str, Counter[str]] = {}
    for element in elements:
        if isinstance(element, SwitchRange):
            about = f"channel {element.channel}"
            says = f"{_plain(element.low)}..{_plain(element.high)} us"
        elif isinstance(element, Filter):
            about = element.kind
            quality = f" q {_plain(element.q)}" if element.q else ""
            says = f"{_plain(element.cutoff)} Hz{quality}"
        else:
            about, says = "entry", _plain(element)
        counts.setdefault(about, Counter())[says] += 1
    return {
        about: [text if times == 1 else f"{times} × {text}" for text, times in said.items()]
        for about, said in counts.items()
    }


def _element_parts(old: dict[str, list[str]], new: dict[str, list[str]]) -> tuple[str, ...]:
    gone: dict[str, list[str]] = {}
    come: dict[str, list[str]] = {}
    found = _differences(old, new)
    for level in _levels(found, "values_changed", "iterable_item_removed"):
        gone.setdefault(_about(level), []).append(level.t1)
    for level in _levels(found, "values_changed", "iterable_item_added"):
        come.setdefault(_about(level), []).append(level.t2)
    for level in _levels(found, "dictionary_item_removed"):
        gone[_about(level)] = level.t1
    for level in _levels(found, "dictionary_item_added"):
        come[_about(level)] = level.t2
    order = [*old, *(about for about in new if about not in old)]
    return tuple(
        line for about in order for line in _lines(about, gone.get(about, []), come.get(about, []))
    )


def _about(level: Any) -> str:
    return str(level.path(output_format="list")[0])


def _lines(about: str, gone: list[str], come: list[str]) -> Iterator[str]:
    if len(gone) == len(come) == 1:
        yield f"{about}: {gone[0]} is now {come[0]}"
        return
    yield from (f"{about}: {text} removed" for text in sorted(gone))
    yield from (f"{about}: {text} added" for text in sorted(come))
