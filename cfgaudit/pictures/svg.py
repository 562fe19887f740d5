"""A small drawing module: shapes to SVG text, deterministic, with every text escaped.

Lengths are in the drawing's own units, y downwards. Colours and line styles are the page's
business: a shape only says what it is, by its class.
"""

from collections.abc import Iterable, Sequence
from html import escape
from math import cos, radians, sin
from typing import Final, NamedTuple

from cfgaudit.reading.safe_text import safe

Point = tuple[float, float]
LETTER: Final = 0.56  # of the type size: how wide a letter is, on the average of plain type


class Drawing(NamedTuple):
    """A drawing's size and the shapes in it, as SVG text."""

    width: float
    height: float
    body: str


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
    from textwrap import wrap

    return wrap(said, max(8, int(room / (size * LETTER)))) or [""]
