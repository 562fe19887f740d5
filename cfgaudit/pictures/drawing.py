"""What a picture is: a drawing with its table; shapes as SVG text; a chart with its axes."""

from collections.abc import Callable, Iterable, Sequence
from html import escape
from math import ceil, cos, floor, log10, radians, sin
from typing import Final, NamedTuple

from cfgaudit.reading.safe import safe
from cfgaudit.vocabulary.units import in_lines, number_text

WIDTH: Final = 440.0  # of every drawing: small enough to be read on a telephone


class NumberTable(NamedTuple):
    """The numbers behind a picture, as text: a head and rows as long as it."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class Axis(NamedTuple):
    """An axis whose ends go by what is drawn along it."""

    name: str
    low: float
    high: float


class Drawing(NamedTuple):
    """A drawing's size and the shapes in it, as SVG text.

    `axes` are those whose ends go by what is drawn, `rows` what stands one below the other, each
    with the data that it was made from.
    """

    width: float
    height: float
    body: str
    axes: tuple[Axis, ...] = ()
    rows: tuple[tuple[str, object], ...] = ()


class View(NamedTuple):
    """What of a picture is drawn: over which axes at the least, and which `rows` alone."""

    axes: tuple[Axis, ...] = ()
    rows: frozenset[str] | None = None

    def axis(self, name: str, low: float, high: float) -> Axis:
        """An axis that holds what is drawn, and what another picture has on it."""
        asked = [axis for axis in self.axes if axis.name == name]
        lows, highs = (axis.low for axis in asked), (axis.high for axis in asked)
        return Axis(name, min([low, *lows]), max([high, *highs]))

    def shows(self, row: str) -> bool:
        """Whether a row is drawn."""
        return self.rows is None or row in self.rows


WHOLE: Final = View()


def beside(one: Drawing, other: Drawing) -> View:
    """How two drawings are set beside each other: on one scale, and only the rows that differ."""
    mine, theirs = dict(one.rows), dict(other.rows)
    differ = frozenset(name for name in (*mine, *theirs) if mine.get(name) != theirs.get(name))
    both = bool(differ & mine.keys()) and bool(differ & theirs.keys())
    axes = View(one.axes)
    return View(tuple(axes.axis(*axis) for axis in other.axes), differ if both else None)


class Picture(NamedTuple):
    """One picture. `says` tells in words what it shows, `notes` what is to be known besides."""

    name: str
    title: str
    says: str
    drawing: Drawing
    table: NumberTable
    notes: tuple[str, ...] = ()


class Missing(NamedTuple):
    """A picture that can't be drawn, and the settings that it lacks, or the fault that it met."""

    name: str
    title: str
    lacks: tuple[str, ...]
    fault: str = ""

    @property
    def why(self) -> str:
        """Why it is not drawn, in words."""
        if self.fault:
            return f"a fault of the program ({self.fault}); please report it"
        return f"it lacks {', '.join(self.lacks)}"


def as_svg(picture: Picture, prefix: str = "") -> str:
    """The picture as one SVG element; `prefix` keeps its ids apart from another one's."""
    name = f"{prefix}{picture.name}"
    width, height, body, *_ = picture.drawing
    title = element("title", "", words(picture.title), id=f"{name}-title")
    says = element("desc", "", words(picture.says), id=f"{name}-desc")
    return element(
        "svg",
        "picture",
        title + says + body,
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
    )


Point = tuple[float, float]
LETTER: Final = 0.56  # of the type size: how wide a letter is, on the average of plain type


def number(value: float) -> str:
    """A coordinate with one decimal at most; never an exponent, never minus nought.

    >>> number(12.04), number(-0.01), number(3.5)
    ('12', '0', '3.5')
    """
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def words(text: str) -> str:
    r"""Text from anywhere as SVG text: markup escaped, letters that could act shown as escapes.

    >>> words("<b> & \u202e")
    '&lt;b&gt; &amp; \\u202e'
    """
    return escape(safe(text))


def element(tag: str, cls: str = "", inside: str | None = None, **attributes: float | str) -> str:
    """One element; an underscore in an attribute's name stands for a hyphen."""
    told = [f' class="{cls}"'] if cls else []
    for name, value in attributes.items():
        shown = escape(value) if isinstance(value, str) else number(value)
        told.append(f' {name.replace("_", "-")}="{shown}"')
    head = f"<{tag}{''.join(told)}"
    return f"{head}/>" if inside is None else f"{head}>{inside}</{tag}>"


def group(shapes: Iterable[str], cls: str = "", **attributes: float | str) -> str:
    """Shapes as one."""
    return element("g", cls, "".join(shapes), **attributes)


def moved(shapes: Iterable[str], x: float, y: float) -> str:
    """Shapes as one, put somewhere else."""
    return group(shapes, transform=f"translate({number(x)} {number(y)})")


def line(start: Point, end: Point, cls: str) -> str:
    """A straight line."""
    return element("line", cls, x1=start[0], y1=start[1], x2=end[0], y2=end[1])


def rect(x: float, y: float, width: float, height: float, cls: str, round_: float = 0) -> str:
    """A rectangle, perhaps with round corners."""
    if round_:
        return element("rect", cls, x=x, y=y, width=width, height=height, rx=round_)
    return element("rect", cls, x=x, y=y, width=width, height=height)


def circle(at: Point, radius: float, cls: str) -> str:
    """A circle."""
    return element("circle", cls, cx=at[0], cy=at[1], r=radius)


def polyline(points: Sequence[Point], cls: str) -> str:
    """Straight lines from point to point."""
    return element("polyline", cls, points=_points(points))


def polygon(points: Sequence[Point], cls: str) -> str:
    """A closed shape."""
    return element("polygon", cls, points=_points(points))


def path(steps: Sequence[str | float], cls: str) -> str:
    """A path of SVG's own letters and numbers."""
    return element("path", cls, d=" ".join(s if isinstance(s, str) else number(s) for s in steps))


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def text(at: Point, said: str, cls: str = "t", anchor: str = "start") -> str:
    """A line of text; `anchor` is start, middle or end."""
    if anchor == "start":
        return element("text", cls, words(said), x=at[0], y=at[1])
    return element("text", cls, words(said), x=at[0], y=at[1], text_anchor=anchor)


def lines(
    at: Point, said: Sequence[str], cls: str = "t", anchor: str = "start", step: float = 16
) -> str:
    """Lines of text, one below the other."""
    x, y = at
    return "".join(text((x, y + n * step), one, cls, anchor) for n, one in enumerate(said))


def turn_arrow(at: Point, radius: float, way: int, cls: str) -> str:
    """An arrow round a point, clockwise for `way` +1, else anticlockwise."""
    first, span, head = -60.0 * way, 250.0 * way, 6.0
    start, end = _on_circle(at, radius, first), _on_circle(at, radius, first + span)
    turn = radians(first + span)
    along = (-sin(turn) * way, cos(turn) * way)
    across = (cos(turn), sin(turn))
    tip = (end[0] + along[0] * head * 1.3, end[1] + along[1] * head * 1.3)
    wings = [
        (end[0] + across[0] * side - along[0] * 2, end[1] + across[1] * side - along[1] * 2)
        for side in (head, -head)
    ]
    arc = ["M", *start, "A", radius, radius, 0, 1, 1 if way > 0 else 0, *end]
    return path(arc, f"line {cls}") + polygon([tip, *wings], f"solid {cls}")


def _on_circle(at: Point, radius: float, degrees: float) -> Point:
    angle = radians(degrees)
    return at[0] + radius * cos(angle), at[1] + radius * sin(angle)


def fitting(said: str, room: float, size: float = 13) -> str:
    """The text, or as much of its beginning as is likely to fit, with a mark at the end."""
    most = max(1, int(room / (size * LETTER)))
    return said if len(said) <= most else said[: most - 1] + "…"


def wrapped(said: str, room: float, size: float = 13) -> list[str]:
    """The text in lines that are likely to fit."""
    return in_lines(safe(said), max(8, int(room / (size * LETTER))), cut=True)


class Scale(NamedTuple):
    """Values from `low` to `high` onto places from `start` to `end`; by their logarithm if so."""

    low: float
    high: float
    start: float
    end: float
    by_log: bool = False

    def at(self, value: float) -> float:
        """The place of a value; one beyond an end lies at that end."""
        if self.low == self.high:
            return (self.start + self.end) / 2  # a scale of one value has it in its midst
        held = min(max(value, self.low), self.high)
        if self.by_log:
            share = log10(held / self.low) / log10(self.high / self.low)
        else:
            share = (held - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Whether a value lies on it."""
        return self.low <= value <= self.high


def marks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Round values from low to high, at most so many, a step of 1, 2 or 5 apart.

    >>> marks(0, 700, 5)
    (0.0, 200.0, 400.0, 600.0)
    """
    span = high - low
    if span <= 0:
        return (round(low, 9),)
    size = 10.0 ** floor(log10(span / most))
    step = next(size * n for n in (1, 2, 5, 10, 20) if span / (size * n) <= most)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return tuple(round(n * step, 9) for n in range(first, last + 1))


def log_marks(low: float, high: float) -> tuple[float, ...]:
    """1, 2 and 5 of each decade from low to high.

    >>> log_marks(10, 200)
    (10.0, 20.0, 50.0, 100.0, 200.0)
    """
    decades = range(floor(log10(low)), ceil(log10(high)) + 1)
    every = (float(n * 10.0**d) for d in decades for n in (1, 2, 5))
    return tuple(value for value in every if low <= value <= high)


class Plot(NamedTuple):
    """Two scales; y upwards."""

    x: Scale
    y: Scale

    def point(self, x: float, y: float) -> Point:
        """Where a pair of values lies."""
        return self.x.at(x), self.y.at(y)

    def curve(self, points: Sequence[Point], cls: str) -> str:
        """Pairs of values as a line."""
        return polyline([self.point(*pair) for pair in points], f"line {cls}")

    def band(self, low: float, high: float, cls: str) -> str:
        """A stretch of x shaded from top to bottom."""
        left, right = self.x.at(low), self.x.at(high)
        return rect(left, self.y.end, max(right - left, 1), self.y.start - self.y.end, cls)

    def frame(
        self,
        x_marks: Sequence[float],
        y_marks: Sequence[float],
        said: Callable[[float], str] = number_text,
        said_x: Callable[[float], str] = number_text,
    ) -> str:
        """The lines of the marks and what they say, without units."""
        parts = []
        for value in y_marks:
            y = self.y.at(value)
            parts.append(line((self.x.start, y), (self.x.end, y), "grid"))
            parts.append(text((self.x.start - 6, y + 4), said(value), "t m", "end"))
        for value in x_marks:
            x = self.x.at(value)
            parts.append(line((x, self.y.start), (x, self.y.end), "grid"))
            parts.append(text((x, self.y.start + 17), said_x(value), "t m", "middle"))
        left, bottom = self.x.start, self.y.start
        parts.append(line((left, bottom), (self.x.end, bottom), "axis"))
        return "".join(parts)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as may be to those wanted, in their order, at least `gap` apart.

    >>> spread([10, 12, 40], 8, 0, 50)
    [10, 18, 40]
    """
    order = sorted(range(len(wanted)), key=lambda n: (wanted[n], n))
    placed = [0.0] * len(wanted)
    last = low - gap
    for n in order:
        placed[n] = last = max(wanted[n], last + gap)
    edge = high + gap
    for n in reversed(order):
        placed[n] = edge = min(placed[n], edge - gap)
    return placed
