"""The gains of each bank."""

from collections.abc import Callable, Iterator
from functools import partial

from cfgaudit.craft.control import Bank, Gains
from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule
from cfgaudit.units import number_text

TERMS = {"p": "P", "i": "I", "d": "D", "ff": "feed-forward"}
_FIRST = "1"


def _on_each_axis(craft: Craft, check: Callable[[Gains], Iterator[Yielded]]) -> Iterator[Yielded]:
    return each(craft.banks.all, lambda bank: each(bank.gains, check))


def _bank(axis: Gains) -> str:
    return axis.path("p").split(".")[1]


def _of(craft: Craft, path: str) -> float:
    """A gain by its path. Raises NotStated."""
    value = craft.settings.need(path)
    assert isinstance(value, float)  # declared so
    return value


def _named(craft: Craft, axis: Gains, terms: tuple[str, ...] = tuple(TERMS)) -> list[str]:
    """The terms that the dump names for an axis: not every firmware has all four."""
    return [term for term in terms if axis.path(term) in craft.settings]


@rule("gain/zero-p", Level.ERROR)
def zero_p(craft: Craft) -> Iterator[Yielded]:
    """An axis has no P gain.

    In the air: nothing turns the craft back on this axis; it rolls over as it lifts off.
    Mend: set the firmware's factory value to begin with.
    Source: common practice.
    """
    yield from _on_each_axis(craft, partial(_zero, "p", "nothing turns the craft back"))


@rule("gain/zero-i", Level.WARNING)
def zero_i(craft: Craft) -> Iterator[Yielded]:
    """An axis has no I gain.

    In the air: the craft drifts off its attitude in wind, with an uneven load or as the pack
    sinks, and does not come back by itself.
    Mend: set the firmware's factory value to begin with.
    Source: common practice.
    """
    yield from _on_each_axis(craft, partial(_zero, "i", "a lasting push is not met"))


def _zero(term: str, so: str, axis: Gains) -> Iterator[Yielded]:
    gain: float = axis.p if term == "p" else axis.i
    if gain == 0:
        yield Fires(
            f"The {TERMS[term]} gain of {axis.name} in bank {_bank(axis)} is 0: {so}.",
            (axis.path(term),),
            (("gain", gain),),
            advice="Set the firmware's factory value to begin with.",
        )


@rule("gain/negative", Level.ERROR)
def negative(craft: Craft) -> Iterator[Yielded]:
    """A gain is negative.

    In the air: the loop pushes the way the craft already goes; it flips at once.
    Mend: set a gain above 0, the firmware's factory value to begin with.
    Source: common practice.
    """

    def of_axis(axis: Gains) -> Iterator[Yielded]:
        return each(_named(craft, axis), partial(_negative, craft, axis))

    yield from _on_each_axis(craft, of_axis)


def _negative(craft: Craft, axis: Gains, term: str) -> Iterator[Yielded]:
    gain = _of(craft, axis.path(term))
    if gain < 0:
        yield Fires(
            f"The {TERMS[term]} gain of {axis.name} in bank {_bank(axis)} is negative: "
            f"{number_text(gain)}.",
            (axis.path(term),),
            (("gain", gain),),
            advice="Set a gain above 0, the firmware's factory value to begin with.",
        )


@rule("gain/lopsided", Level.NOTE, limits=("gain.lopsided_factor",))
def lopsided(craft: Craft, factor: float) -> Iterator[Yielded]:
    """Roll and pitch have gains that lie far apart.

    Told of P, I and D: most frames are not much heavier about one of the two axes.

    In the air: one axis is sluggish or the other shakes.
    Mend: bring the two together, unless the frame is much longer than it is wide.
    Source: common practice; the ratio of the gains follows that of the moments of inertia.
    """

    def of_bank(bank: Bank) -> Iterator[Yielded]:
        roll, pitch = bank.gains["roll"], bank.gains["pitch"]
        named = {*_named(craft, roll, ("p", "i", "d")), *_named(craft, pitch, ("p", "i", "d"))}
        terms = [term for term in TERMS if term in {"p", *named}]
        return each(terms, lambda term: _apart(craft, roll, pitch, term, factor))

    yield from each(craft.banks.all, of_bank)


def _apart(craft: Craft, roll: Gains, pitch: Gains, term: str, factor: float) -> Iterator[Yielded]:
    paths = roll.path(term), pitch.path(term)
    of_roll, of_pitch = (_of(craft, path) for path in paths)
    if min(of_roll, of_pitch) <= 0:  # switched off, or told of by the rules above
        return
    ratio = max(of_roll, of_pitch) / min(of_roll, of_pitch)
    if ratio > factor * (1 + 1e-9):
        yield Fires(
            f"The {TERMS[term]} gains of roll and pitch in bank {_bank(roll)} are "
            f"{number_text(of_roll)} and {number_text(of_pitch)}, a factor {ratio:.3g} apart.",
            paths,
            (("roll", of_roll), ("pitch", of_pitch), ("factor", ratio), ("limit", factor)),
            advice="Bring the two together, unless the frame is much longer than it is wide.",
        )


@rule("gain/far-from-baseline", Level.NOTE, limits=("gain.baseline_factor",))
def far_from_baseline(craft: Craft, factor: float) -> Iterator[Yielded]:
    """A gain is far from the firmware's own.

    A bank whose own factory values are not recorded is held against the first bank's. Gains of
    0 are left out: what is switched off is no matter of degree.

    In the air: far below, the craft wallows; far above, it shakes and the motors get hot.
    Mend: nothing, where the gain was tuned for an uncommon craft; else go back to the factory
    value and begin anew.
    Source: common practice.
    """

    def of_axis(axis: Gains) -> Iterator[Yielded]:
        return each(_named(craft, axis), lambda term: _far(craft, axis, term, factor))

    yield from _on_each_axis(craft, of_axis)


def _far(craft: Craft, axis: Gains, term: str, factor: float) -> Iterator[Yielded]:
    path = axis.path(term)
    gain = _of(craft, path)
    if gain <= 0:
        return
    first = f"banks.{_FIRST}.{path.split('.', 2)[2]}"
    base = craft.settings.need_factory(path, first)
    assert isinstance(base, float)  # declared so
    if base <= 0:
        return
    ratio = max(gain / base, base / gain)
    if ratio > factor * (1 + 1e-9):
        way = "above" if gain > base else "below"
        yield Fires(
            f"The {TERMS[term]} gain of {axis.name} in bank {_bank(axis)} is {number_text(gain)}, "
            f"a factor {ratio:.3g} {way} the firmware's own {number_text(base)}.",
            (path,),
            (("gain", gain), ("factory", base), ("factor", ratio), ("limit", factor)),
            advice=f"If it was not tuned for this craft, go back to {number_text(base)} and begin "
            "anew.",
        )


RULES = (zero_p, zero_i, negative, lopsided, far_from_baseline)
