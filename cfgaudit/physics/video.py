"""Video on the air and on the screen: frequencies, powers, the grid of the overlay."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, permutations
from math import inf, log10
from typing import Final, NamedTuple

from cfgaudit.physics.guards import finite, known, positive

# 47 CFR 18.301 (published), ITU RR 5.150 (from memory): 5800 +- 75 MHz.
ISM_MHZ: Final = (5725.0, 5875.0)
# ERC Recommendation 70-03 annex 1 (from memory): 25 mW e.i.r.p. in that band.
EXEMPT_POWER_MW: Final = 25.0
# ITU RR 5.150 has 2450 +- 50 MHz; ERC Recommendation 70-03 annex 1 10 mW e.i.r.p. from 2400 to
# 2483.5 MHz, the narrower of the two (both from memory).
LOW_ISM_MHZ: Final = (2400.0, 2483.5)
LOW_EXEMPT_POWER_MW: Final = 10.0

# Common practice: frequency rasters that transmitters of many makers share.
RASTERS_MHZ: Final[Mapping[str, tuple[int, ...]]] = {
    "A": tuple(5865 - 20 * n for n in range(8)),
    "B": tuple(5733 + 19 * n for n in range(8)),
    "E": (5705, 5685, 5665, 5645, 5885, 5905, 5925, 5945),
    "F": tuple(5740 + 20 * n for n in range(8)),
    "R": tuple(5658 + 37 * n for n in range(8)),
}


def in_ism(frequency_mhz: float) -> bool:
    """Whether a centre frequency lies in 5725..5875 or in 2400..2483.5 MHz."""
    finite("frequency_mhz", frequency_mhz)
    return any(low <= frequency_mhz <= high for low, high in (ISM_MHZ, LOW_ISM_MHZ))


def exempt_power_mw(frequency_mhz: float) -> float:
    """The power that needs no licence of one's own where the frequency needs none, in mW.

    Outside of both bands it is the greater one: there the frequency itself is what is asked.
    """
    low, high = LOW_ISM_MHZ
    inside = low <= finite("frequency_mhz", frequency_mhz) <= high
    return LOW_EXEMPT_POWER_MW if inside else EXEMPT_POWER_MW


def dbm_of_mw(power_mw: float) -> float:
    """10 log10(P / 1 mW): 25 mW is 13.98 dBm. Definition."""
    return 10 * log10(positive("power_mw", power_mw))


class Product(NamedTuple):
    """2 * first - second = product, `gap_mhz` away from the used frequency `nearest_mhz`.

    With a `third_mhz`, which is 0 for none, it is first + third - second.
    """

    first_mhz: float
    second_mhz: float
    product_mhz: float
    nearest_mhz: float
    gap_mhz: float
    third_mhz: float = 0.0

    @property
    def mixed_mhz(self) -> tuple[float, ...]:
        """The frequencies that mix."""
        return (self.first_mhz, self.second_mhz, *((self.third_mhz,) if self.third_mhz else ()))


def third_order_products(used_mhz: Sequence[float]) -> tuple[Product, ...]:
    """2 f1 - f2 of every ordered pair, smallest gap first; n (n - 1) of them. Textbook.

    A product's gap to f1 itself is |f1 - f2|, so this is never more than the closest spacing.
    """
    for frequency in used_mhz:
        positive("frequency_mhz", frequency)
    found = []
    for first, second in permutations(used_mhz, 2):
        landed = 2 * first - second
        nearest = min(used_mhz, key=lambda f: (abs(f - landed), f))
        found.append(Product(first, second, landed, nearest, abs(nearest - landed)))
    return tuple(sorted(found, key=lambda p: (p.gap_mhz, p.first_mhz, p.second_mhz)))


def triple_products(used_mhz: Sequence[float]) -> tuple[Product, ...]:
    """f1 + f2 - f3 of any three, smallest gap first; n (n - 1) (n - 2) / 2 of them. Textbook."""
    found = []
    for minus in used_mhz:
        others = [frequency for frequency in used_mhz if frequency != minus]
        for first, third in combinations(others, 2):
            landed = first + third - minus
            nearest = min(used_mhz, key=lambda f: (abs(f - landed), f))
            found.append(Product(first, minus, landed, nearest, abs(nearest - landed), third))
    return tuple(sorted(found, key=lambda p: (p.gap_mhz, p.first_mhz, p.third_mhz, p.second_mhz)))


def nearest_product_mhz(used_mhz: Sequence[float]) -> float:
    """Smallest gap between a product of two and a used frequency; inf for fewer than two."""
    products = third_order_products(used_mhz)
    return products[0].gap_mhz if products else inf


def closest_spacing_mhz(used_mhz: Sequence[float]) -> float:
    """Smallest distance between two used frequencies; inf for fewer than two."""
    ordered = sorted(finite("frequency_mhz", f) for f in used_mhz)
    return min((b - a for a, b in pairwise(ordered)), default=inf)


class FrequencySet(NamedTuple):
    """Chosen frequencies, ascending, and their room.

    `product_gap_mhz` is the nearest third-order product's gap, `spacing_mhz` the closest
    spacing; `complete` tells that no better set exists, and is False when the search was cut.
    """

    frequencies_mhz: tuple[float, ...]
    product_gap_mhz: float
    spacing_mhz: float
    complete: bool


def best_set(plan_mhz: Sequence[float], count: int, most_steps: int = 200_000) -> FrequencySet:
    """The `count` frequencies of a plan with most room: product gap, then spacing, then lowest.

    Every set is weighed unless that takes over `most_steps` steps; a branch whose gap is already
    no better than the best set's is left. ValueError when the plan has too few.
    """
    plan = tuple(sorted({positive("frequency_mhz", f) for f in plan_mhz}))
    if not 1 <= count <= len(plan):
        raise ValueError(f"cannot choose {count} of {len(plan)} frequencies")
    best: tuple[float, float, tuple[float, ...]] = (-1.0, -1.0, ())
    pending: list[tuple[tuple[float, ...], int]] = [((), 0)]
    steps = 0
    while pending and steps < most_steps:
        chosen, start = pending.pop()
        steps += 1
        room = (_product_gap(chosen), closest_spacing_mhz(chosen))
        if room <= best[:2]:
            continue
        if len(chosen) == count:
            best = (*room, chosen)
            continue
        last = len(plan) - (count - len(chosen))
        for index in range(last, start - 1, -1):
            pending.append(((*chosen, plan[index]), index + 1))
    if not best[2]:
        plain = plan[:count]
        best = (_product_gap(plain), closest_spacing_mhz(plain), plain)
    return FrequencySet(best[2], best[0], best[1], not pending)


def _product_gap(chosen: Sequence[float]) -> float:
    """`nearest_product_mhz` without the list, for the search's inner loop."""
    return min(
        (abs(2 * a - b - f) for a, b in permutations(chosen, 2) for f in chosen), default=inf
    )


COLUMNS: Final = 30
ROWS: Final[Mapping[str, int]] = {"ntsc": 13, "pal": 16}


@dataclass(frozen=True)
class Box:
    """A text box: top left cell, width and height in cells, each at least 1."""

    row: int
    column: int
    width: int
    height: int = 1

    def __post_init__(self) -> None:
        if self.width < 1 or self.height < 1:
            raise ValueError(f"a box needs a width and a height, not {self.width} x {self.height}")


def grid(standard: str) -> tuple[int, int]:
    """(columns, rows) of a standard; ValueError unless ntsc or pal."""
    return COLUMNS, known("standard", standard, ROWS)


def fits(box: Box, size: tuple[int, int]) -> bool:
    """Whether the whole box lies on a grid of so many (columns, rows)."""
    columns, rows = size
    return (
        box.row >= 1
        and box.column >= 1
        and box.row + box.height - 1 <= rows
        and box.column + box.width - 1 <= columns
    )


def overlap(first: Box, second: Box) -> bool:
    """Whether two boxes share a cell; side by side is not sharing."""
    return (
        first.row < second.row + second.height
        and second.row < first.row + first.height
        and first.column < second.column + second.width
        and second.column < first.column + first.width
    )
