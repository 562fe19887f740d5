"""The stick curves: what turn rate each axis is asked for, bank by bank."""

from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.flight import stick_curve
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import (
    WHOLE,
    WIDTH,
    Axis,
    Drawing,
    NumberTable,
    Picture,
    Plot,
    Scale,
    View,
)
from cfgaudit.rules.rule import listed
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

NAME, TITLE = "rates", "From stick to turn rate"
_HEIGHT: Final = 190.0
_STEPS: Final = (10, 25, 50, 75, 100)  # % of the stick, for the table
_LINES: Final = {"roll": "c1", "pitch": "c2", "yaw": "c3"}


class Curve(NamedTuple):
    """One axis of one bank: deg/s at 0, 1, 2 … 100 % of the stick."""

    bank: str
    axis: str
    rates: tuple[float, ...]


class Curves(NamedTuple):
    """All curves, the bank in use, and the gyro's full scale in deg/s, where they are stated."""

    curves: tuple[Curve, ...]
    active: str
    full_scale: float | None


def data(craft: Craft) -> Curves:
    """Every curve that can be worked out. Raises NotStated where there is none.

    A curve with an expo outside of 0 to 1 is left out: there is none.
    """
    found: list[Curve] = []
    lacks = ""
    for bank in craft.banks.all:
        for name in bank.rates.names():
            axis = bank.rates[name]
            try:
                if 0 <= axis.expo <= 1:
                    curve = stick_curve(axis.centre, axis.max, axis.expo)
                    found.append(Curve(bank.name, name, curve))
            except NotStated as lack:
                lacks = lacks or lack.path
    if not found:
        raise NotStated(lacks or "banks.N.rates.AXIS.max")
    active = str(craft.banks.active) if craft.banks.states("active") else ""
    scale = craft.gyro.full_scale if craft.gyro.states("full_scale") else None
    return Curves(tuple(found), active, scale)


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    told = data(craft)
    told = told._replace(curves=tuple(one for one in told.curves if view.shows(one.bank)))
    rows = tuple(
        (one.bank + " (in use)" * (one.bank == told.active), one.axis,
         *(f"{one.rates[step]:.0f}" for step in _STEPS))
        for one in told.curves
    )  # fmt: skip
    table = NumberTable(("bank", "axis", *(f"{step} %, deg/s" for step in _STEPS)), rows)
    says = "; ".join(
        f"bank {one.bank} {one.axis}: {one.rates[50]:.0f} deg/s at half stick, "
        f"{one.rates[100]:.0f} at full stick"
        for one in told.curves
    )
    notes = ("Full stick to either side is alike; the curves are drawn to one.",)
    return Picture(NAME, TITLE, f"{says}.", _draw(told, view), table, notes)


def _draw(told: Curves, view: View) -> Drawing:
    banks = list(dict.fromkeys(one.bank for one in told.curves))
    most = max(10.0, *(max(map(abs, one.rates)) for one in told.curves))
    least = min(0.0, *(min(one.rates) for one in told.curves))
    scale = told.full_scale if told.full_scale and told.full_scale <= most * 1.25 else None
    axis = view.axis("rate", least, max(most, scale or 0) * 1.05)
    by_bank = {bank: [one for one in told.curves if one.bank == bank] for bank in banks}
    body = [
        _bank(told, curves, n * _HEIGHT, axis, scale) for n, curves in enumerate(by_bank.values())
    ]
    bottom = len(banks) * _HEIGHT
    body.append(
        svg.text(((52 + WIDTH - 92) / 2, bottom + 14), "stick, % of its way", "t m", "middle")
    )
    rows = tuple((bank, (bank == told.active, *curves)) for bank, curves in by_bank.items())
    return Drawing(WIDTH, bottom + 20, "".join(body), (axis,), rows)


def _bank(told: Curves, curves: list[Curve], y: float, axis: Axis, scale: float | None) -> str:
    plot = Plot(Scale(0, 100, 52, WIDTH - 92), Scale(axis.low, axis.high, y + _HEIGHT - 26, y + 26))
    use = " (in use)" if curves[0].bank == told.active else ""
    parts = [
        svg.text((4, y + 16), f"bank {curves[0].bank}{use}", "t s"),
        svg.text((WIDTH - 4, y + 16), "deg/s", "t m", "end"),
        plot.frame((0, 25, 50, 75, 100), svg.marks(axis.low, axis.high, 5)),
    ]
    if scale is not None:
        ends = plot.point(0, scale), plot.point(100, scale)
        parts += [
            svg.line(*ends, "edge"),
            svg.text((ends[0][0] + 4, ends[0][1] - 4), "gyro's end", "t m"),
        ]
    for one in curves:
        points = [(float(n), rate) for n, rate in enumerate(one.rates) if n % 4 == 0]
        parts.append(plot.curve(points, _LINES.get(one.axis, "c1")))
    parts += _ends(curves, plot, y)
    return "".join(parts)


def _ends(curves: list[Curve], plot: Plot, y: float) -> list[str]:
    """What each line is, at its end; lines that end together share a name."""
    names: dict[float, list[str]] = {}
    for one in curves:
        names.setdefault(round(one.rates[100], 3), []).append(one.axis)
    wanted = [plot.y.at(rate) for rate in names]
    places = svg.spread(wanted, 34, y + 34, y + _HEIGHT - 40)
    parts = []
    for (rate, axes), place in zip(names.items(), places, strict=True):
        cls = _LINES.get(axes[0], "c1")
        parts.append(svg.line(plot.point(100, rate), (WIDTH - 82, place - 4), f"lead {cls}"))
        parts.append(svg.text((WIDTH - 80, place), _short(axes), "t s"))
        parts.append(svg.text((WIDTH - 80, place + 14), number_text(round(rate, 1)), "t m"))
    return parts


def _short(axes: list[str]) -> str:
    return "all axes" if len(axes) == 3 else listed(axes) if len(axes) == 1 else ", ".join(axes)
