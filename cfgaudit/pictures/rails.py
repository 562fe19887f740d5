"""The supply rails and what hangs on them, by the build sheet."""

from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import LETTER, WHOLE, WIDTH, Drawing, NumberTable, Picture, View
from cfgaudit.rules.rule import BUILD_SHEET, grouped
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.sheet import SheetRail
from cfgaudit.vocabulary.units import number_text

NAME, TITLE = "rails", "The supply rails and their loads"
_BAR: Final = 20.0


class Load(NamedTuple):
    """One device on a rail: the most it draws in A, None where not stated."""

    name: str
    amperes: float | None


class Rail(NamedTuple):
    """One rail: its volts in words, what its regulator gives in A, and its loads."""

    name: str
    volts: str
    rating: float | None
    loads: tuple[Load, ...]
    misfits: tuple[str, ...]  # devices that do not bear the rail's voltage, with their own

    @property
    def total(self) -> float:
        """The sum of the loads that are stated, in A."""
        return sum(load.amperes for load in self.loads if load.amperes is not None)

    @property
    def fullest(self) -> float:
        """What its bar reaches to at the least, in A."""
        return max(self.rating or 0.0, self.total) or 1.0

    @property
    def overloaded(self) -> bool:
        """Whether the loads are more than the rail gives."""
        return self.rating is not None and self.total > self.rating * (1 + 1e-9)


def data(sheet: Sheet | None) -> tuple[Rail, ...]:
    """Every rail of the sheet. Raises NotStated where there is no sheet or no rail in it."""
    if sheet is None:
        raise NotStated(BUILD_SHEET)
    names = sheet.rails.names()
    if not names:
        raise NotStated("sheet.rails.NAME.voltage")
    return tuple(_rail(sheet, sheet.rails[name]) for name in names)


def _rail(sheet: Sheet, rail: SheetRail) -> Rail:
    try:
        low, high = rail.volts()
        volts = (
            f"{number_text(low)} V" if low == high else f"{number_text(low)}–{number_text(high)} V"
        )
    except NotStated:
        low, high, volts = 0.0, 0.0, "volts not stated"
    loads, misfits = [], []
    for name in sheet.devices.names():
        device = sheet.devices[name]
        if not device.states("rail") or device.rail != rail.name:
            continue
        loads.append(Load(name, device.current if device.states("current") else None))
        if device.states("supply") and high and not _bears(device.supply, (low, high)):
            bears = "–".join(number_text(end) for end in device.supply)
            misfits.append(f"{name} bears {bears} V")
    return Rail(rail.name, volts, rail.rating if rail.states("rating") else None, tuple(loads),
                tuple(misfits))  # fmt: skip


def _bears(supply: tuple[float, float], rail: tuple[float, float]) -> bool:
    return supply[0] - 1e-9 <= rail[0] and rail[1] <= supply[1] + 1e-9


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    rails = tuple(rail for rail in data(sheet) if view.shows(rail.name))
    rows = tuple(
        (rail.name, rail.volts, "; ".join(_load(load) for load in rail.loads) or "nothing",
         f"{grouped(rail.total)} A",
         "not stated" if rail.rating is None else f"{grouped(rail.rating)} A",
         "; ".join(rail.misfits) or "-")
        for rail in rails
    )  # fmt: skip
    head = ("rail", "volts", "loads", "sum", "gives", "does not bear its voltage")
    says = ". ".join(_says(rail) for rail in rails) + "."
    notes = ("The sum is of the most that each device draws; not all draw it at once.",)
    return Picture(NAME, TITLE, says, _draw(rails, view), NumberTable(head, rows), notes)


def _load(load: Load) -> str:
    return f"{load.name} " + ("?" if load.amperes is None else f"{grouped(load.amperes)} A")


def _says(rail: Rail) -> str:
    gives = "an unknown current" if rail.rating is None else f"{grouped(rail.rating)} A"
    loads = ", ".join(_load(load) for load in rail.loads) or "nothing"
    said = f"{rail.name}, {rail.volts}: {loads}; {grouped(rail.total)} A of {gives}"
    return said + "".join(f"; {misfit}" for misfit in rail.misfits)


def _draw(rails: tuple[Rail, ...], view: View) -> Drawing:
    body, y = [], 4.0
    axes = tuple(view.axis(rail.name, 0, rail.fullest) for rail in rails)
    for rail, axis in zip(rails, axes, strict=True):
        made, height = _one(rail, y, axis.high)
        body.append(made)
        y += height
    return Drawing(WIDTH, y, "".join(body), axes, tuple((rail.name, rail) for rail in rails))


def _one(rail: Rail, y: float, full: float) -> tuple[str, float]:
    gives = "?" if rail.rating is None else grouped(rail.rating)
    said = f"{grouped(rail.total)} of {gives} A"
    mark, cls = ("▲ ", "t wrong") if rail.overloaded else ("", "t")
    parts = [
        svg.text((8, y + 16), rail.name, "t s"),
        svg.text((8 + len(rail.name) * 13 * LETTER + 18, y + 16), rail.volts, "t m"),
        svg.text((WIDTH - 8, y + 16), mark + said, cls, "end"),
        _bar(rail, y + 24, full),
    ]
    below = y + 24 + _BAR + 17
    for number, part in enumerate(svg.wrapped(_listed(rail), WIDTH - 16)):
        parts.append(svg.text((8, below + number * 16), part, "t m"))
    lines = len(svg.wrapped(_listed(rail), WIDTH - 16))
    for misfit in rail.misfits:
        parts.append(svg.text((8, below + lines * 16), f"▲ {misfit}", "t wrong"))
        lines += 1
    return "".join(parts), 24 + _BAR + 17 + lines * 16 + 10


def _listed(rail: Rail) -> str:
    """The loads, numbered as in the bar."""
    if not rail.loads:
        return "no device draws from it"
    return ", ".join(f"{n} {_load(load)}" for n, load in enumerate(rail.loads, 1))


def _bar(rail: Rail, y: float, full: float) -> str:
    room = WIDTH - 16
    parts = [svg.rect(8, y, room, _BAR, "track")]
    x = 8.0
    for n, load in enumerate(rail.loads, 1):
        width = (load.amperes or 0.0) / full * room
        if width <= 0:
            continue
        parts.append(svg.rect(x, y, width, _BAR, f"load load{n % 2}"))
        if width > 14:
            parts.append(svg.text((x + width / 2, y + 15), str(n), "t on", "middle"))
        x += width
    if rail.rating is not None and rail.rating < full:
        end = 8 + rail.rating / full * room
        parts.append(svg.line((end, y - 4), (end, y + _BAR + 4), "edge"))
    return "".join(parts)
