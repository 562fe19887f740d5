"""Scales, their marks, and the frame of a chart."""

from collections.abc import Callable, Sequence
from math import ceil, floor, log10
from typing import NamedTuple

from cfgaudit.pictures.svg import Point, line, polyline, rect, text
from cfgaudit.units import number_text


class Scale(NamedTuple):
    """Values from `low` to `high` onto places from `start` to `end`; by their logarithm if so."""

    low: float
    high: float
    start: float
    end: float
    by_log: bool = False

    def at(self, value: float) -> float:
        """The place of a value; one beyond an end lies at that end."""
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
