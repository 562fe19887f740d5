"""Supply rails: which of several voltages suits all that hangs on one, and how full it is.

Voltages in volts, currents in amperes. Nonsense input raises ValueError.
"""

from collections.abc import Iterable, Sequence

from cfgaudit.physics.guards import not_negative, positive

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
