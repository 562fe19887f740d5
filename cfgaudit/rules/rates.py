"""Stick rates: what the sticks ask of the craft."""

from collections.abc import Iterator
from functools import partial
from itertools import combinations

from cfgaudit.craft.control import Rates
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.rates import curve_falls, rate_share, stick_curve
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule
from cfgaudit.units import number_text

_CLOSE = 0.95  # of full scale: noise and overshoot reach the rest (common practice)


@rule("rate/beyond-gyro", Level.ERROR)
def rate_beyond_gyro(craft: Craft) -> Iterator[Yielded]:
    """Full stick asks for a turn rate that the gyro can't measure, or only just.

    In the air: beyond its full scale the gyro reads a wrong rate, so the loop drives the craft
    faster and faster and it does not stop turning when the stick is let go.
    Mend: lower the rate at full stick, or choose a greater full scale if the gyro has one.
    Source: InvenSense RM-MPU-6000A rev 4.2 for the scales (published); error at 100 % and
    warning at 95 % of full scale: common practice.
    """
    yield from each(craft.banks.all, lambda bank: each(bank.rates, partial(_beyond, craft)))


def _beyond(craft: Craft, axis: Rates) -> Iterator[Yielded]:
    asked, scale = axis.max, craft.gyro.full_scale
    share = rate_share(asked, scale)
    if share < _CLOSE - 1e-9:
        return
    yield Fires(
        f"Full {axis.name} stick in bank {_bank(axis)} asks for {asked:,.6g} deg/s, "
        f"{share * 100:,.4g} % of the {scale:,.6g} deg/s that the gyro can measure.",
        (axis.path("max"), craft.gyro.path("full_scale")),
        (("asked_dps", asked), ("full_scale_dps", scale), ("share_percent", share * 100)),
        advice=f"Keep the rate below {_CLOSE * scale:,.6g} deg/s (95 % of full scale), or choose "
        "a greater full scale if the gyro has one.",
        level=Level.ERROR if share >= 1 - 1e-9 else Level.WARNING,
    )


def _bank(axis: Rates) -> str:
    return axis.path("max").split(".")[1]


@rule("rate/centre-above-max", Level.ERROR)
def centre_above_max(craft: Craft) -> Iterator[Yielded]:
    """The stick is faster about its middle than its rate at full stick.

    In the air: the craft jerks at the smallest movement of the stick, and more stick adds less
    and less.
    Mend: set the centre below the rate at full stick; perhaps the two were exchanged.
    Source: common practice.
    """
    yield from each(craft.banks.all, lambda bank: each(bank.rates, _centre))


def _centre(axis: Rates) -> Iterator[Yielded]:
    centre, most = axis.centre, axis.max
    if centre > most:
        yield Fires(
            f"The {axis.name} stick in bank {_bank(axis)} is set to {centre:,.6g} deg/s at the "
            f"centre, above the {most:,.6g} deg/s at full stick.",
            (axis.path("centre"), axis.path("max")),
            (("centre_dps", centre), ("max_dps", most)),
            advice="Set the centre below the rate at full stick; perhaps the two were exchanged.",
        )


@rule("rate/expo-range", Level.ERROR)
def expo_range(craft: Craft) -> Iterator[Yielded]:
    """An expo lies outside of 0 to 1.

    In the air: the stick may work the wrong way about its middle, or jerk towards its end.
    Mend: set an expo from 0 (the least soft) to 1 (the softest).
    Source: common practice; the curve is defined from 0 to 1.
    """
    yield from each(craft.banks.all, lambda bank: each(bank.rates, _expo))


def _expo(axis: Rates) -> Iterator[Yielded]:
    expo = axis.expo
    if not 0 <= expo <= 1:
        yield Fires(
            f"The expo of {axis.name} in bank {_bank(axis)} is {number_text(expo)}, which is not "
            "within 0 to 1.",
            (axis.path("expo"),),
            (("expo", expo),),
            advice="Set an expo from 0 (the least soft) to 1 (the softest).",
        )


@rule("rate/curve-not-monotone", Level.ERROR)
def curve_not_monotone(craft: Craft) -> Iterator[Yielded]:
    """More stick asks for less: the curve falls somewhere between middle and end.

    The curve is computed in steps of 1 % of the stick's way. An expo outside of 0 to 1 has no
    curve; rate/expo-range tells of it.

    In the air: the craft turns slower as the stick is pushed further, and faster as it is let
    go: the pilot can't catch it.
    Mend: set the centre below the rate at full stick.
    Source: hand calculation from the curve, rate = centre·x + (max − centre)·x·((1 − expo)·|x|
    + expo·x²).
    """
    yield from each(craft.banks.all, lambda bank: each(bank.rates, _falls))


def _falls(axis: Rates) -> Iterator[Yielded]:
    centre, most, expo = axis.centre, axis.max, axis.expo
    if not 0 <= expo <= 1:
        return
    for fall in curve_falls(stick_curve(centre, most, expo)):
        yield Fires(
            f"The {axis.name} curve in bank {_bank(axis)} falls from {fall.start_percent} % to "
            f"{fall.end_percent} % of the stick's way, by {fall.drop_dps:,.5g} deg/s.",
            (axis.path("centre"), axis.path("max"), axis.path("expo")),
            (
                ("start_percent", float(fall.start_percent)),
                ("end_percent", float(fall.end_percent)),
                ("drop_dps", fall.drop_dps),
                ("centre_dps", centre),
                ("max_dps", most),
                ("expo", expo),
            ),
            advice="Set the centre below the rate at full stick.",
        )


@rule("rate/banks-differ", Level.NOTE)
def banks_differ(craft: Craft) -> Iterator[Yielded]:
    """Two banks of gains and rates differ in a single value.

    In the air: the craft feels almost alike in both; if the value slipped in by mistake, one of
    them is not what was meant.
    Mend: nothing, where the one value is meant; else make the banks alike.
    Source: common practice.
    """
    banks = [bank.path("") for bank in craft.banks.all]
    yield from each(combinations(banks, 2), lambda pair: _differ(craft, *pair))


def _differ(craft: Craft, first: str, second: str) -> Iterator[Yielded]:
    """Compare two banks by their prefixes, which end in a full stop."""
    leaves = [path.removeprefix(first) for path in craft.settings if path.startswith(first)]
    others = [path.removeprefix(second) for path in craft.settings if path.startswith(second)]
    every = dict.fromkeys([*leaves, *others])
    values = {
        leaf: (craft.settings.need(first + leaf), craft.settings.need(second + leaf))
        for leaf in every
    }
    unlike = [leaf for leaf, (one, other) in values.items() if one != other]
    if len(unlike) != 1:
        return
    (leaf,) = unlike
    one, other = values[leaf]
    if not isinstance(one, float) or not isinstance(other, float):
        raise NotStated(first + leaf)
    words = first.split(".")[1], second.split(".")[1]
    yield Fires(
        f"Banks {words[0]} and {words[1]} are alike but for {leaf}: {number_text(one)} and "
        f"{number_text(other)}.",
        (first + leaf, second + leaf),
        (("first", one), ("second", other), ("compared", float(len(values)))),
        advice="If the one value is not meant, make the banks alike.",
    )


RULES = (
    rate_beyond_gyro,
    centre_above_max,
    expo_range,
    curve_not_monotone,
    banks_differ,
)
