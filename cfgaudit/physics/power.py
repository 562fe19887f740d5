"""The pack, what measures it, supply rails: volts, amperes."""

from collections.abc import Iterable, Sequence
from math import ceil
from typing import Final, NamedTuple

from cfgaudit.physics.guards import finite, known, not_negative, positive

# ST RM0440: V = Vref * code / (2^bits - 1); 12 bits give codes 0..4095.
FULL_SCALE_CODE: Final = 4095
# Battery counts above this are no small camera craft (common practice).
MOST_CELLS: Final = 14


class CellLimits(NamedTuple):
    """Lowest, usual warning and fully charged voltage of one cell."""

    floor_v: float
    warn_v: float
    full_v: float

    @property
    def empty_v(self) -> float:
        """Where a cell is usually called empty: halfway from the lowest to the warning."""
        return (self.floor_v + self.warn_v) / 2


# full: Microchip DS20001984 charger set points 4.20 and 4.35 V; liion also Samsung SDI
# INR18650-15L, 4.2 V charged and 2.5 V cut-off (published). 3.0 V floor and 3.5 V warning of a
# LiPo cell: common practice. The other warnings: from memory.
CELL_LIMITS: dict[str, CellLimits] = {
    "lipo": CellLimits(3.0, 3.5, 4.20),
    "lihv": CellLimits(3.0, 3.5, 4.35),
    "liion": CellLimits(2.5, 3.2, 4.20),
}


def cell_limits(chemistry: str) -> CellLimits:
    """Limits of one cell of `chemistry`: lipo, lihv or liion; ValueError for another word."""
    return known("chemistry", chemistry, CELL_LIMITS)


def full_scale_v(adc_reference_v: float, divider: float) -> float:
    """Highest pack voltage that the input sees: reference * divider."""
    return positive("adc_reference_v", adc_reference_v) * positive("divider", divider)


def step_per_cell_v(adc_reference_v: float, divider: float, cells: int) -> float:
    """Pack voltage of one ADC code, shared by the cells: reference * divider / 4095 / cells.

    Source: ST RM0440 (12 bits).
    """
    steps = full_scale_v(adc_reference_v, divider) / FULL_SCALE_CODE
    return steps / positive("cells", cells)


def detected_cells(resting_v: float, detect_cell_v: float) -> int:
    """Cells that automatic detection takes a pack for: the fewest with resting / n <= detect.

    Common practice: the highest voltage that one cell may have on connecting decides.
    """
    positive("resting_v", resting_v)
    positive("detect_cell_v", detect_cell_v)
    return max(1, ceil(resting_v / detect_cell_v - 1e-9))


def detection_outcomes(
    cells: int, floor_v: float, full_v: float, detect_cell_v: float
) -> tuple[int, ...]:
    """Every count that detection may give for a `cells` pack from floor to full, ascending.

    One number equal to `cells` means that detection can be trusted over that range.
    """
    positive("cells", cells)
    if not 0 < finite("floor_v", floor_v) <= finite("full_v", full_v):
        raise ValueError(f"need 0 < floor_v <= full_v, not {floor_v!r} and {full_v!r}")
    lowest = detected_cells(cells * floor_v, detect_cell_v)
    highest = detected_cells(cells * full_v, detect_cell_v)
    return tuple(range(lowest, highest + 1))


def current_full_scale_a(
    adc_reference_v: float, scale_mv_per_a: float, offset_mv: float = 0.0
) -> float:
    """Highest current that the input sees: (reference - offset) / scale. Ohm's law.

    `offset_mv` is the sensor's output at no current. At or above the reference nothing is left,
    and the answer is 0.
    """
    positive("adc_reference_v", adc_reference_v)
    room_mv = adc_reference_v * 1000 - finite("offset_mv", offset_mv)
    return max(room_mv, 0.0) / positive("scale_mv_per_a", scale_mv_per_a)


Supply = tuple[float, float]  # lowest and highest voltage that a device takes


def fits(voltage_v: float, supply: Supply) -> bool:
    """Whether a voltage lies within a supply range, its ends included."""
    low, high = supply
    return low <= voltage_v <= high


def best_choices(
    choices_v: Sequence[float], supplies: Sequence[Supply]
) -> tuple[int, tuple[float, ...]]:
    """(how many devices, which choices): the choices that suit the most devices, as given.

    Hand calculation: counted for each choice. As many as there are devices means that those
    choices suit all.
    """
    if not choices_v:
        raise ValueError("a selectable rail needs choices")
    suited = {volts: sum(fits(volts, supply) for supply in supplies) for volts in choices_v}
    most = max(suited.values())
    return most, tuple(volts for volts, count in suited.items() if count == most)


def load_share(currents_a: Iterable[float], rating_a: float) -> float:
    """Sum of the currents over what the regulator gives; above 1 it is overloaded."""
    total = sum(not_negative("current_a", current) for current in currents_a)
    return total / positive("rating_a", rating_a)
