"""The battery's thresholds for each cell, against the chemistry and what the ADC can see."""

from itertools import pairwise
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.power import CellLimits, cell_limits, full_scale_v, step_per_cell_v
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import (
    LETTER,
    WHOLE,
    WIDTH,
    Drawing,
    NumberTable,
    Picture,
    Scale,
    View,
)
from cfgaudit.rules.battery import reference_v
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

NAME, TITLE = "battery", "The battery's thresholds for each cell"
_WORDS: Final = {
    "empty_cell": "empty",
    "warn_cell": "warn",
    "full_cell": "full",
    "detect_cell": "counting",
}


class Thresholds(NamedTuple):
    """All in volts a cell; `thresholds` in the order of volts. `seen_v` is the ADC's end.

    `seen_v` and `step_v` are None where the voltage does not come from an ADC, or the cell count
    or the divider are not stated.
    """

    chemistry: str
    limits: CellLimits
    thresholds: tuple[tuple[str, float], ...]
    cells: int | None
    cells_say: str  # where the count is from
    seen_v: float | None
    step_v: float | None

    def fault(self, word: str, volts: float) -> str:
        """What is wrong with a threshold, in words; counting may lie anywhere."""
        if word == "counting":
            return ""
        if not self.limits.floor_v - 1e-9 <= volts <= self.limits.full_v + 1e-9:
            return "outside of the chemistry"
        order = [w for w in _WORDS.values() if w != "counting"]
        for other, at in self.thresholds:
            if other in order and other != word:
                below = order.index(other) < order.index(word)
                if (at >= volts) if below else (at <= volts):
                    return f"not {'above' if below else 'below'} {other}"
        return ""

    @property
    def saturates(self) -> bool:
        """Whether the voltage input ends below a charged pack."""
        return self.seen_v is not None and self.seen_v < self.limits.full_v


def data(craft: Craft, sheet: Sheet | None) -> Thresholds:
    """What is stated of the battery. Raises NotStated without chemistry or thresholds."""
    battery = craft.battery
    stated = [(word, getattr(battery, leaf)) for leaf, word in _WORDS.items()
              if battery.states(leaf)]  # fmt: skip
    if not stated:
        raise NotStated("battery.warn_cell")
    cells, says = _cells(craft, sheet)
    seen = step = None
    adc = not battery.states("voltage_from") or battery.voltage_from == "adc"
    if cells and adc and battery.states("divider"):
        reference = reference_v(battery)
        seen = full_scale_v(reference, battery.divider) / cells
        step = step_per_cell_v(reference, battery.divider, cells)
    chemistry = battery.chemistry
    thresholds = tuple(sorted(stated, key=lambda entry: entry[1]))
    return Thresholds(chemistry, cell_limits(chemistry), thresholds, cells, says, seen, step)


def _cells(craft: Craft, sheet: Sheet | None) -> tuple[int | None, str]:
    if craft.battery.states("cells") and isinstance(craft.battery.cells, int):
        return craft.battery.cells, "set"
    if sheet is not None and sheet.battery.states("cells"):
        return sheet.battery.cells, "by the build sheet"
    return None, "counted when switched on" if craft.battery.states("cells") else "not stated"


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    told = data(craft, sheet)
    limits = told.limits
    rows = [
        (f"{told.chemistry} floor", f"{limits.floor_v:.2f} V", _pack(told, limits.floor_v), ""),
        (f"{told.chemistry} charged", f"{limits.full_v:.2f} V", _pack(told, limits.full_v), ""),
    ]
    for word, volts in told.thresholds:
        rows.append((word, f"{number_text(volts)} V", _pack(told, volts), told.fault(word, volts)))
    if told.seen_v is not None and told.step_v is not None:
        end = f"one step is {told.step_v * 1000:.1f} mV a cell"
        rows.append(("the input's end", f"{told.seen_v:.2f} V", _pack(told, told.seen_v), end))
    table = NumberTable(("what", "a cell", "the pack", ""), tuple(rows))
    notes = [f"Cells: {told.cells or '?'}, {told.cells_say}."]
    if told.seen_v is None:
        notes.append("What the voltage input can see is not known.")
    elif told.seen_v < told.limits.full_v * 1.05:
        notes.append("The input has less than 5 % of room above a full pack.")
    return Picture(NAME, TITLE, _says(told), _draw(told, view), table, tuple(notes))


def _pack(told: Thresholds, volts: float) -> str:
    return f"{volts * told.cells:.2f} V" if told.cells else "-"


def _says(told: Thresholds) -> str:
    set_to = ", ".join(
        f"{word} {number_text(volts)} V"
        + (f" ({fault})" if (fault := told.fault(word, volts)) else "")
        for word, volts in told.thresholds
    )
    said = (
        f"{told.chemistry} cells bear {told.limits.floor_v:.2f} to {told.limits.full_v:.2f} V. "
        f"Set: {set_to}."
    )
    return said + (f" The input sees up to {told.seen_v:.2f} V a cell." if told.seen_v else "")


def _draw(told: Thresholds, view: View) -> Drawing:
    every = [volts for _, volts in told.thresholds]
    low = min([told.limits.floor_v, *every]) - 0.25
    high = max([told.limits.full_v, *every]) + 0.35
    axis = view.axis("volts a cell", low, high)
    scale = Scale(axis.low, axis.high, 14, WIDTH - 14)
    top, bottom = 72.0, 108.0
    floor, full = scale.at(told.limits.floor_v), scale.at(told.limits.full_v)
    body = [
        svg.rect(scale.start, top, floor - scale.start, bottom - top, "unfit"),
        svg.rect(floor, top, full - floor, bottom - top, "cell"),
        svg.rect(full, top, scale.end - full, bottom - top, "unfit"),
    ]
    for volts in svg.marks(axis.low, axis.high, 6):
        x = scale.at(volts)
        body.append(svg.line((x, bottom), (x, bottom + 5), "axis"))
        body.append(svg.text((x, bottom + 19), f"{volts:g}", "t m", "middle"))
    body.append(svg.text((14, bottom + 36), "volts a cell", "t m"))
    body.append(_bearing(told, scale))
    body.append(_marks(told, scale, top, bottom))
    body.append(_input_end(told, scale, top, bottom))
    return Drawing(WIDTH, bottom + 44, "".join(body), (axis,))


def _bearing(told: Thresholds, scale: Scale) -> str:
    """What the coloured stretch is, in its widest gap between two marks."""
    ends = [told.limits.floor_v, *(volts for _, volts in told.thresholds), told.limits.full_v]
    inside = sorted(scale.at(v) for v in ends if told.limits.floor_v <= v <= told.limits.full_v)
    left, right = max(pairwise(inside), key=lambda gap: gap[1] - gap[0])
    said = f"{told.chemistry} bears this"
    said = said if right - left > len(said) * 12 * LETTER + 8 else told.chemistry
    return svg.text(((left + right) / 2, 94), said, "t m", "middle")


def _marks(told: Thresholds, scale: Scale, top: float, bottom: float) -> str:
    wanted = [scale.at(volts) for _, volts in told.thresholds]
    places = svg.spread(wanted, 84, 44, WIDTH - 44)
    parts = []
    for (word, volts), x, place in zip(told.thresholds, wanted, places, strict=True):
        wrong = bool(told.fault(word, volts))
        cls = "t wrong" if wrong else "t s"
        parts += [
            svg.line((x, top - 6), (x, bottom), "line bad" if wrong else "threshold"),
            svg.line((x, top - 6), (place, top - 22), "lead ink"),
            svg.polygon([(x - 5, top - 8), (x + 5, top - 8), (x, top)], "mark"),
            svg.text((place, top - 42), f"▲ {word}" if wrong else word, cls, "middle"),
            svg.text((place, top - 27), f"{number_text(volts)} V", "t", "middle"),
        ]
    return "".join(parts)


def _input_end(told: Thresholds, scale: Scale, top: float, bottom: float) -> str:
    if told.seen_v is None:
        return ""
    said = "▲ " * told.saturates + f"input's end {told.seen_v:.2f} V"
    cls = "t wrong" if told.saturates else "t m"
    if not scale.holds(told.seen_v):
        side = "beyond" if told.seen_v > scale.high else "below"
        return svg.text((WIDTH - 14, bottom + 36), f"{said}, {side} this scale", cls, "end")
    x = scale.at(told.seen_v)
    return svg.line(
        (x, top - 4), (x, bottom + 26), "edge" if told.saturates else "lost"
    ) + svg.text((max(160, min(x, WIDTH - 76)), bottom + 36), said, cls, "middle")
