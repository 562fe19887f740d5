"""The filters in series: what they let through and how late, with the motors' bands."""

from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.filters import chain_response, magnitude_db, zero_hz
from cfgaudit.physics.motors import motor_range_hz
from cfgaudit.physics.power import CELL_LIMITS
from cfgaudit.pictures import drawing as svg
from cfgaudit.pictures.drawing import WHOLE, WIDTH, Drawing, NumberTable, Picture, Plot, Scale, View
from cfgaudit.rules.filters import FilterStage, delay_ms, in_series, motor_band
from cfgaudit.rules.rule import grouped
from cfgaudit.vocabulary.declare import NotStated

NAME, TITLE = "filters", "What the filters let through, and how late"
FLOOR_DB: Final = -60.0  # the drawing ends here; a notch goes deeper
LOWEST_HZ: Final = 10.0
_STEPS: Final = 96  # of the frequency axis
_NOTHING_DB: Final = -120.0  # below it a figure would be of rounding
_TABLE_HZ: Final = (20.0, 50.0, 100.0, 200.0, 400.0)


class ResponsePoint(NamedTuple):
    """At one frequency: what is left in dB (-inf: nothing) and the delay in ms.

    `rate` is of the gyro's chain, `dterm` of all stages up to the D term.
    """

    hz: float
    rate_db: float
    rate_ms: float
    dterm_db: float
    dterm_ms: float


class MotorBand(NamedTuple):
    """A stretch of frequencies that the motors shake in."""

    says: str
    low_hz: float
    high_hz: float


class Response(NamedTuple):
    """The chain, its response over frequency, the motors' bands, and what is lacking."""

    parts: tuple[FilterStage, ...]
    points: tuple[ResponsePoint, ...]
    bands: tuple[MotorBand, ...]
    lacks: tuple[str, ...]


def data(craft: Craft, sheet: Sheet | None) -> Response:
    """The response from 10 Hz to half of the slowest rate. Raises NotStated without a stage."""
    series, lacks = in_series(craft)
    if not series:
        raise NotStated(lacks[0] if lacks else "filters.gyro")
    highest = min(part.stage.rate_hz for part in series) / 2 * 0.98
    grid = {LOWEST_HZ * (highest / LOWEST_HZ) ** (n / _STEPS) for n in range(_STEPS + 1)}
    zeros = [hz for part in series if (hz := zero_hz(part.stage)) is not None]
    grid |= {hz for hz in (*_TABLE_HZ, *(round(z, 6) for z in zeros)) if LOWEST_HZ < hz < highest}
    points = tuple(at(series, hz) for hz in sorted(grid))
    return Response(tuple(series), points, tuple(bands(craft, sheet)), tuple(lacks))


def at(series: list[FilterStage], hz: float) -> ResponsePoint:
    """The response at one frequency below half of every stage's rate."""
    before = [part for part in series if part.chain != "D-term"]
    return ResponsePoint(
        hz,
        _left_db(before, hz),
        sum(delay_ms(part, hz) for part in before),
        _left_db(series, hz),
        sum(delay_ms(part, hz) for part in series),
    )


def _left_db(parts: list[FilterStage], hz: float) -> float:
    stages = [part.stage for part in parts for _ in range(part.times)]
    return magnitude_db(chain_response(stages, hz))


def bands(craft: Craft, sheet: Sheet | None) -> list[MotorBand]:
    """The motors' bands by the build sheet, else the range that the dump's notches follow.

    By the sheet: from hovering on an empty pack to full throttle on a full one, without load
    (Kv times volts, so the upper end is never reached); with the blades, as often again.
    """
    if sheet is not None:
        try:
            return _by_sheet(sheet)
        except NotStated:
            pass
    try:
        band = motor_band(craft)
    except NotStated:
        return []
    return [MotorBand("followed by notches", band.low_hz, band.high_hz)] if band.high_hz > 0 else []


def _by_sheet(sheet: Sheet) -> list[MotorBand]:
    drive, pack = sheet.propulsion, sheet.battery
    cell = CELL_LIMITS[pack.chemistry]
    low, high = motor_range_hz(
        drive.kv, pack.cells * cell.floor_v, pack.cells * cell.full_v, drive.hover_throttle / 100
    )
    found = [MotorBand("motors turn", low, high)]
    if drive.states("blades"):
        found.append(MotorBand("blades pass", low * drive.blades, high * drive.blades))
    return found


def picture(craft: Craft, sheet: Sheet | None, view: View = WHOLE) -> Picture:
    """Draw it. Raises NotStated."""
    told = data(craft, sheet)
    return Picture(NAME, TITLE, _says(told), _draw(told, view), _table(told), notes(told))


def notes(told: Response) -> tuple[str, ...]:
    """What is to be known besides."""
    said = [
        "Delay is group delay; about a notch, where little is let through, it leaves the scale. "
        f"The drawing ends at {FLOOR_DB:g} dB. Notches that move are drawn at the lowest "
        "frequency they follow."
    ]
    if told.lacks:
        said.append(f"Not all stages are known; not stated: {', '.join(told.lacks)}.")
    if any(band.says == "motors turn" for band in told.bands):
        said.append("The motors' band: hovering on an empty pack to full throttle on a full one "
                    "without load, by the build sheet.")  # fmt: skip
    return tuple(said)


def _says(told: Response) -> str:
    late = next((p for p in told.points if p.hz == _TABLE_HZ[0]), told.points[0])
    stages = ", ".join(part.says for part in told.parts)
    said = (
        f"In series: {stages}. At {late.hz:g} Hz the gyro is {late.rate_ms:.2f} ms late and the "
        f"D term {late.dterm_ms:.2f} ms."
    )
    for band in told.bands:
        said += f" {band.says.capitalize()}: {band.low_hz:,.0f} to {band.high_hz:,.0f} Hz."
    return said


def _table(told: Response) -> NumberTable:
    rows = tuple(
        (f"{p.hz:g} Hz", _db(p.rate_db), f"{p.rate_ms:.2f}", _db(p.dterm_db),
         f"{p.dterm_ms:.2f}")
        for p in told.points
        if p.hz in _TABLE_HZ
    )  # fmt: skip
    bands = tuple(
        (
            band.says,
            f"{grouped(round(band.low_hz))} to {grouped(round(band.high_hz))} Hz",
            "",
            "",
            "",
        )
        for band in told.bands
    )
    head = ("at", "gyro, dB", "gyro, ms late", "D term, dB", "D term, ms late")
    return NumberTable(head, rows + bands)


def _db(left: float) -> str:
    return f"{left:.1f}" if left >= _NOTHING_DB else "nothing left"


def drawn_db(left: float) -> float:
    """Where a curve is drawn: the drawing's floor, where it goes deeper."""
    return max(FLOOR_DB, left)


def _draw(told: Response, view: View) -> Drawing:
    along = view.axis("frequency", LOWEST_HZ, told.points[-1].hz)
    delay = view.axis("late", 0, _top_ms(told))
    x = Scale(along.low, along.high, 48, WIDTH - 12, by_log=True)
    loud = Plot(x, Scale(FLOOR_DB, 3, 196, 34))
    late = Plot(x, Scale(delay.low, delay.high, 408, 262))
    x_marks = svg.log_marks(along.low, along.high)
    body = [_bands(told.bands, loud), _bands(told.bands, late, named=False)]
    body.append(loud.frame(x_marks, (-60, -40, -20, 0), said_x=_hz))
    body.append(late.frame(x_marks, svg.marks(0, late.y.high, 5), said_x=_hz))
    body.append(svg.text((4, 14), "left over, dB", "t s"))
    body.append(svg.text((4, 244), "late by, ms", "t s"))
    body.append(svg.text((WIDTH - 12, 440), "frequency, Hz", "t m", "end"))
    for cls, which in (("c1", 0), ("c2", 1)):
        left = [(p.hz, drawn_db((p.rate_db, p.dterm_db)[which])) for p in told.points]
        body.append(loud.curve(left, cls))
        for piece in below([(p.hz, (p.rate_ms, p.dterm_ms)[which]) for p in told.points], late):
            body.append(late.curve(piece, cls))
    body.append(_key(440))
    return Drawing(WIDTH, 448, "".join(body), (along, delay))


def _top_ms(told: Response) -> float:
    """Where the delay's scale ends: a notch delays without end what it lets nothing through of."""
    low = [p.dterm_ms for p in told.points if p.hz <= 2 * _TABLE_HZ[0]]
    return max(0.5, 2.5 * max(low))


def below(points: list[tuple[float, float]], plot: Plot) -> list[list[tuple[float, float]]]:
    """The stretches of a curve that lie within the scale's upper end."""
    stretches: list[list[tuple[float, float]]] = [[]]
    for pair in points:
        if pair[1] <= plot.y.high:
            stretches[-1].append(pair)
        elif stretches[-1]:
            stretches.append([])
    return [stretch for stretch in stretches if len(stretch) > 1]


def _hz(value: float) -> str:
    return f"{value / 1000:g}k" if value >= 1000 else f"{value:g}"


def _bands(bands: tuple[MotorBand, ...], plot: Plot, *, named: bool = True) -> str:
    parts = []
    for n, band in enumerate(bands):
        low, high = max(band.low_hz, plot.x.low), min(band.high_hz, plot.x.high)
        if low < high:
            parts.append(plot.band(low, high, f"band band{n}"))
            if named:
                parts.append(svg.text((plot.x.at(low) + 2, 28 - 13 * n), band.says, "t m"))
    return "".join(parts)


def _key(y: float) -> str:
    parts = []
    for n, (cls, said) in enumerate((("c1", "gyro"), ("c2", "to the D term"))):
        x = 48 + n * 84
        parts.append(svg.line((x, y - 4), (x + 26, y - 4), f"line {cls}"))
        parts.append(svg.text((x + 32, y), said, "t"))
    return "".join(parts)
