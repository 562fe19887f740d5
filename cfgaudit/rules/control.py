"""How it flies: the loop against the gyro, gains of each bank, the rates that sticks ask for."""

from collections.abc import Collection, Iterable, Iterator
from itertools import combinations, pairwise
from math import log
from statistics import median

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.flight import curve_falls, loop_divisor, rate_share, stick_curve
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, below, each, listed, rule
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import Bank, Gains, Rates
from cfgaudit.vocabulary.units import number_text


@rule("loop/not-a-divisor", Level.ERROR)
def loop_no_divisor(craft: Craft) -> Iterator[Yielded]:
    """The gyro's sample rate is not a whole multiple of the loop's rate.

    In the air: the loop works now with fresh samples, now with old ones; gains and filters act
    with uneven delay, and the craft may shake.
    Mend: choose a loop rate that divides the sample rate.
    Source: common practice; round figures count as whole within 0.1 %.
    """
    sample, rate = craft.gyro.sample_rate, craft.loop.rate
    if loop_divisor(sample, rate) is not None:
        return
    ratio = sample / rate
    below = max(1, int(ratio))
    fits = sorted({sample / below, sample / (below + 1)}, reverse=True)
    yield Fires(
        f"The gyro is sampled at {sample:,.6g} Hz and the loop runs at {rate:,.6g} Hz: "
        f"{ratio:,.4g} samples to a turn is not a whole number.",
        (craft.loop.path("rate"), craft.gyro.path("sample_rate")),
        (("sample_hz", sample), ("loop_hz", rate), ("ratio", ratio)),
        advice=f"Rates that fit: {' or '.join(f'{fit:,.6g}' for fit in fits)} Hz.",
    )


@rule("loop/no-yaw", Level.ERROR, limits=("loop.yaw_least",))
def no_yaw(craft: Craft, least: float) -> Iterator[Yielded]:
    """Next to nothing of a full yaw command is let through.

    In the air: the craft can't be turned, and its heading is not held against the motors' torque.
    Mend: let 25 to 50 % through.
    Source: common practice.
    """
    share = craft.loop.yaw_most
    if share < least:
        yield Fires(
            f"Of a full yaw command {number_text(share)} % is let through; below "
            f"{number_text(least)} % the heading is not held.",
            (craft.loop.path("yaw_most"),),
            (("yaw_percent", share), ("least_percent", least)),
            advice="Let 25 to 50 % through.",
        )


@rule("gain/bank-missing", Level.ERROR)
def bank_missing(craft: Craft) -> Iterator[Yielded]:
    """The bank in use is none of those that are stated.

    In the air: what it flies by is chance: gains of nought, of the factory, or of another craft.
    Mend: choose one of the banks that there are.
    Source: common practice.
    """
    active = craft.banks.active
    there = [bank.name for bank in craft.banks.all]
    if str(active) not in there:
        craft.settings.need_all("banks", "", "banks.N")
        yield Fires(
            f"Bank {active} is in use, and the dump states {listed(there)}.",
            (craft.banks.path("active"),),
            (("active", float(active)), ("banks", float(len(there)))),
            advice=f"Choose one of the banks that there are: {listed(there)}.",
        )


def _banks(craft: Craft) -> Iterator[Bank]:
    return iter(craft.banks.all)


def _gains(craft: Craft) -> Iterator[Gains | Lacks]:
    """The gains of each axis in each bank."""
    return below(craft.banks.all, lambda bank: bank.gains)


def _rates(craft: Craft) -> Iterator[Rates | Lacks]:
    """The rates of each axis in each bank."""
    return below(craft.banks.all, lambda bank: bank.rates)


AXES = ("roll", "pitch", "yaw")
TERMS = {"p": "P", "i": "I", "d": "D", "ff": "feed-forward"}
_FIRST = "1"


def _bank(axis: Gains | Rates) -> str:
    return axis.path("").split(".")[1]


def _of(craft: Craft, path: str) -> float:
    """A gain by its path. Raises NotStated."""
    value = craft.settings.need(path)
    assert isinstance(value, float)  # declared so
    return value


def _named(craft: Craft, axis: Gains, terms: tuple[str, ...] = tuple(TERMS)) -> list[str]:
    """The terms that the dump names for an axis: not every firmware has all four."""
    return [term for term in terms if axis.path(term) in craft.settings]


@rule("gain/zero-p", Level.ERROR, over=_gains)
def zero_p(craft: Craft, axis: Gains) -> Iterator[Yielded]:
    """An axis has no P gain.

    In the air: nothing turns the craft back on this axis; it rolls over as it lifts off.
    Mend: set the firmware's factory value to begin with.
    Source: common practice.
    """
    yield from _zero(axis, "p", axis.p, "nothing turns the craft back")


@rule("gain/zero-i", Level.WARNING, over=_gains)
def zero_i(craft: Craft, axis: Gains) -> Iterator[Yielded]:
    """An axis has no I gain.

    In the air: the craft drifts off its attitude in wind, with an uneven load or as the pack
    sinks, and does not come back by itself.
    Mend: set the firmware's factory value to begin with.
    Source: common practice.
    """
    yield from _zero(axis, "i", axis.i, "a lasting push is not met")


def _zero(axis: Gains, term: str, gain: float, so: str) -> Iterator[Yielded]:
    if gain == 0:
        yield Fires(
            f"The {TERMS[term]} gain of {axis.name} in bank {_bank(axis)} is 0: {so}.",
            (axis.path(term),),
            (("gain", gain),),
            advice="Set the firmware's factory value to begin with.",
        )


def _terms(craft: Craft) -> Iterator[tuple[Gains, str] | Lacks]:
    """Each gain of each axis that the dump names."""
    return below(_gains(craft), lambda axis: [(axis, term) for term in _named(craft, axis)])


@rule("gain/negative", Level.ERROR, over=_terms)
def negative(craft: Craft, of: tuple[Gains, str]) -> Iterator[Yielded]:
    """A gain is negative.

    In the air: the loop pushes the way the craft already goes; it flips at once.
    Mend: set a gain above 0, the firmware's factory value to begin with.
    Source: common practice.
    """
    axis, term = of
    gain = _of(craft, axis.path(term))
    if gain < 0:
        yield Fires(
            f"The {TERMS[term]} gain of {axis.name} in bank {_bank(axis)} is negative: "
            f"{number_text(gain)}.",
            (axis.path(term),),
            (("gain", gain),),
            advice="Set a gain above 0, the firmware's factory value to begin with.",
        )


@rule("gain/lopsided", Level.NOTE, limits=("gain.lopsided_factor",), over=_banks)
def lopsided(craft: Craft, bank: Bank, factor: float) -> Iterator[Yielded]:
    """Gains of roll and pitch lie far apart, or both far from yaw's or above the other banks.

    Told of P, I and D: most frames are not much heavier about one of the two axes. From twice the
    limit on it is a warning for P and D: no frame is built so unlike about the two. Where the same
    gain of yaw and of the other banks is near one of the two, it is the other that stands alone:
    that one is told, and it is an error where it is more than four times the limit greater. So it
    is where P or D of both are greater than in the other banks, one of them by that much. Where no
    factory value is recorded to hold them against, P and I are a warning too from thrice the limit
    between yaw and both others, either way: a digit slipped in one or in two of the three.

    In the air: one axis is sluggish or the other shakes; with many times the P or D that it should
    have it swings up by itself until it breaks, or its motors burn.
    Mend: bring the one that is far from all the others to them; without such a one bring the two
    together, unless the frame is much longer than it is wide. Where yaw stands apart, begin with
    the firmware's own for all three.
    Source: common practice; the ratio of the gains follows that of the moments of inertia.
    """
    roll, pitch = bank.gains["roll"], bank.gains["pitch"]
    named = {*_named(craft, roll, ("p", "i", "d")), *_named(craft, pitch, ("p", "i", "d"))}
    terms = [term for term in TERMS if term in {"p", *named}]
    yield from each(terms, lambda term: _apart(craft, roll, pitch, term, factor))
    axes = roll, pitch, bank.gains["yaw"]
    for term in ("p", "i"):
        if all(_named(craft, axis, (term,)) for axis in axes):
            yield from _yaw_apart(craft, axes, term, factor)


def _apart(craft: Craft, roll: Gains, pitch: Gains, term: str, factor: float) -> Iterator[Yielded]:
    paths = roll.path(term), pitch.path(term)
    of_roll, of_pitch = (_of(craft, path) for path in paths)
    if term == "d" and min(of_roll, of_pitch) == 0 < max(of_roll, of_pitch):
        without, other = (roll, pitch) if of_roll == 0 else (pitch, roll)
        yield Fires(
            f"The D gain of {without.name} in bank {_bank(roll)} is 0, and that of {other.name} is "
            f"{number_text(max(of_roll, of_pitch))}.",
            (without.path(term), other.path(term)),
            (("roll", of_roll), ("pitch", of_pitch)),
            advice="A digit lost? Without D the craft overshoots and wobbles about that axis: "
            f"begin with that of {other.name}.",
            level=Level.WARNING,
        )
    if min(of_roll, of_pitch) <= 0:  # switched off, or told of by the rules above
        return
    ratio = max(of_roll, of_pitch) / min(of_roll, of_pitch)
    judged = term in ("p", "d")
    other_banks = _elsewhere(craft, paths, term, ("roll", "pitch"))
    above = max(of_roll, of_pitch) > 4 * factor * other_banks * (1 + 1e-9)
    if judged and other_banks and above and min(of_roll, of_pitch) > factor * other_banks:
        yield _both_above(paths, (of_roll, of_pitch), term, other_banks)
        return
    if not ratio > factor * (1 + 1e-9):
        return
    said = (
        f"The {TERMS[term]} gains of roll and pitch in bank {_bank(roll)} are "
        f"{number_text(of_roll)} and {number_text(of_pitch)}, a factor {ratio:.3g} apart"
    )
    figures = (("roll", of_roll), ("pitch", of_pitch), ("factor", ratio), ("limit", factor))
    level = Level.WARNING if judged and ratio > 2 * factor * (1 + 1e-9) else None
    usual = _elsewhere(craft, paths, term)
    off = [usual and max(gain / usual, usual / gain) for gain in (of_roll, of_pitch)]
    if min(off) > factor or max(off) <= factor:
        advice = "Bring the two together, unless the frame is much longer than it is wide."
        yield Fires(f"{said}.", paths, figures, advice=advice, level=level)
        return
    odd, fits = (roll, pitch) if off[0] > off[1] else (pitch, roll)
    gain, near = (_of(craft, axis.path(term)) for axis in (odd, fits))
    if judged and gain > near and ratio > 4 * factor * (1 + 1e-9):
        level = Level.ERROR
    yield Fires(
        f"{said}; those of yaw and of other banks are about {number_text(round(usual, 2))}, so it "
        f"is {odd.name}'s that is off.",
        (odd.path(term),),
        (*figures, ("elsewhere", usual)),
        advice=f"Unless the frame is built so, begin with {number_text(near)} for {odd.name}, as "
        f"{fits.name} has it.",
        level=level,
    )


def _yaw_apart(
    craft: Craft, axes: tuple[Gains, Gains, Gains], term: str, factor: float
) -> Iterator[Yielded]:
    paths = tuple(axis.path(term) for axis in axes)
    roll, pitch, yaw = (_of(craft, path) for path in paths)
    if min(roll, pitch, yaw) <= 0 or any(path in craft.settings.factory for path in paths):
        return  # told of by the rules above, or by gain/far-from-baseline
    ratio = max(min(roll, pitch) / yaw, yaw / max(roll, pitch))
    if not ratio > 3 * factor * (1 + 1e-9):
        return
    yield Fires(
        f"The {TERMS[term]} gains of roll and pitch in bank {_bank(axes[0])} are "
        f"{number_text(roll)} and {number_text(pitch)}, and yaw's is {number_text(yaw)}: at least "
        f"a factor {ratio:.3g} apart.",
        paths,
        (("roll", roll), ("pitch", pitch), ("yaw", yaw), ("factor", ratio)),
        advice="A digit too many, or too few? Begin with the firmware's own for all three axes.",
        level=Level.WARNING,
    )


def _both_above(
    paths: tuple[str, str], gains: tuple[float, float], term: str, usual: float
) -> Fires:
    roll, pitch = gains
    return Fires(
        f"The {TERMS[term]} gains of roll and pitch in bank {paths[0].split('.')[1]} are "
        f"{number_text(roll)} and {number_text(pitch)}; those of other banks are about "
        f"{number_text(round(usual, 2))}.",
        paths,
        (("roll", roll), ("pitch", pitch), ("elsewhere", usual)),
        advice="A digit too many in both? Begin with the firmware's own, or near those others.",
        level=Level.ERROR,
    )


def _elsewhere(
    craft: Craft, two: tuple[str, str], term: str, axes: Collection[str] = AXES
) -> float:
    """The middle of the same gain of the other axes and banks; 0 where they have none."""
    others = [
        _of(craft, axis.path(term))
        for bank in craft.banks.all
        for axis in bank.gains
        if axis.name in axes and axis.path(term) in craft.settings
        if axis.path(term) not in two
    ]
    return median([gain for gain in others if gain > 0] or [0.0])


@rule("gain/far-from-baseline", Level.NOTE, limits=("gain.baseline_factor",), over=_terms)
def far_from_baseline(craft: Craft, of: tuple[Gains, str], factor: float) -> Iterator[Yielded]:
    """A gain is far from the firmware's own.

    A bank whose own factory values are not recorded is held against the first bank's. Gains of
    0 are left out: what is switched off is no matter of degree. A warning where a gain that closes
    the loop (P, I or D) is half as much again above the limit, or P twice as far below it; an error
    where P or D is thrice the limit above: no craft is tuned to there, it is a point or a digit
    that slipped. Feed-forward is a warning from two and a half times the limit above.

    In the air: far below, the craft wallows, and nearly without P nothing holds it; far above, it
    shakes and the motors get hot; many times above it swings up by itself until it breaks (P), or
    noise alone drives the motors until they burn (D).
    Mend: nothing, where the gain was tuned for an uncommon craft; else go back to the factory
    value and begin anew.
    Source: common practice; a loop in order has a gain margin of two to four (textbook).
    """
    axis, term = of
    path = axis.path(term)
    gain = _of(craft, path)
    if gain <= 0:
        return
    base = _factory(craft, path)
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
            level=_how_grave(term, gain > base, ratio / factor),
        )


def _factory(craft: Craft, path: str) -> float:
    """The firmware's own value of a gain, in the first bank where none is known of its own.

    Raises NotStated.
    """
    base = craft.settings.need_factory(path, f"banks.{_FIRST}.{path.split('.', 2)[2]}")
    assert isinstance(base, float)  # declared so
    return base


def _how_grave(term: str, above: bool, times: float) -> Level | None:
    """The level of a gain that is so many times the limit above the firmware's own, or below."""
    least = {Level.ERROR: 3.0, Level.WARNING: 1.5} if above else {Level.WARNING: 2.0}
    if term == "ff" and above and times > _JERKS * (1 + 1e-9):
        return Level.WARNING
    about = {Level.ERROR: ("p", "d"), Level.WARNING: ("p", "i", "d") if above else ("p",)}
    fits = (one for one in least if term in about[one] and times > least[one] * (1 + 1e-9))
    return next(fits, None)


_JERKS = 2.5  # times the limit above: each move of the stick is a blow then
_ALIKE = 1.3  # P and I of a factory closer than this tell no exchange


@rule("gain/exchanged", Level.WARNING, over=_banks)
def exchanged(craft: Craft, bank: Bank) -> Iterator[Yielded]:
    """P and I stand in each other's place, by the firmware's own, on every axis of a bank.

    Told where each axis is less than half as far from the firmware's own (in factors) once the two
    have changed places.

    In the air: too much P shakes it and heats the motors, too little I lets it drift; or the other
    way round, it wallows and swings slowly.
    Mend: look at the order of the columns; where it was tuned so, nothing.
    Source: common practice; a tune moves P and I, seldom all of them just to each other's place.
    """
    axes = [axis for axis in bank.gains if len(_named(craft, axis, ("p", "i"))) == 2]
    if len(axes) > 1 and all(_nearer_exchanged(craft, axis) for axis in axes):
        told = [f"{a.name} {number_text(a.p)} and {number_text(a.i)}" for a in axes]
        yield Fires(
            f"P and I of bank {bank.name} are {listed(told)}: near the firmware's own if the two "
            "changed places.",
            tuple(axis.path(term) for axis in axes for term in ("p", "i")),
            (("axes", float(len(axes))),),
            advice="Look at the order of the columns where the gains came from. Where it was tuned "
            "so, nothing is wrong.",
        )


def _nearer_exchanged(craft: Craft, axis: Gains) -> bool:
    """Whether P and I of an axis are less than half as far from the factory's once exchanged."""
    own = [_factory(craft, axis.path(term)) for term in ("p", "i")]
    if min(axis.p, axis.i, *own) <= 0 or max(own) < _ALIKE * min(own):
        return False
    as_is, turned = (
        sum(abs(log(gain / base)) for gain, base in zip(gains, own, strict=True))
        for gains in ((axis.p, axis.i), (axis.i, axis.p))
    )
    return turned < as_is / 2


_CLOSE = 0.95  # of full scale: noise and overshoot reach the rest (common practice)


@rule("rate/beyond-gyro", Level.ERROR, over=_rates)
def rate_beyond_gyro(craft: Craft, axis: Rates) -> Iterator[Yielded]:
    """Full stick asks for a turn rate that the gyro can't measure, or only just.

    In the air: beyond its full scale the gyro reads a wrong rate, so the loop drives the craft
    faster and faster and it does not stop turning when the stick is let go.
    Mend: lower the rate at full stick, or choose a greater full scale if the gyro has one.
    Source: InvenSense RM-MPU-6000A rev 4.2 for the scales (published); error at 100 % and
    warning at 95 % of full scale: common practice.
    """
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


@rule("rate/lopsided", Level.WARNING, limits=("rate.lopsided_factor",), over=_banks)
def rates_lopsided(craft: Craft, bank: Bank, factor: float) -> Iterator[Yielded]:
    """The sticks of roll and pitch ask for rates that lie far apart.

    In the air: one of the two sticks is many times quicker or duller than the hand expects.
    Mend: bring the two together; perhaps a digit is lost, or one too many.
    Source: common practice: most fly the two alike.
    """
    two = bank.rates["roll"], bank.rates["pitch"]
    stated = [leaf for leaf in ("centre", "max") if all(axis.states(leaf) for axis in two)]
    yield from each(stated, lambda leaf: _rates_apart(craft, bank, leaf, factor))


def _rates_apart(craft: Craft, bank: Bank, leaf: str, factor: float) -> Iterator[Yielded]:
    paths = tuple(bank.rates[axis].path(leaf) for axis in ("roll", "pitch"))
    roll, pitch = (_of(craft, path) for path in paths)
    if min(roll, pitch) > 0 and max(roll, pitch) > factor * min(roll, pitch) * (1 + 1e-9):
        where = "full stick" if leaf == "max" else "the centre"
        yield Fires(
            f"At {where} roll asks for {number_text(roll)} deg/s in bank {bank.name}, and pitch "
            f"for {number_text(pitch)} deg/s.",
            paths,
            (("roll_dps", roll), ("pitch_dps", pitch), ("limit", factor)),
            advice="Bring the two together; perhaps a digit is lost, or one too many.",
        )


@rule("rate/centre-above-max", Level.ERROR, over=_rates)
def centre_above_max(craft: Craft, axis: Rates) -> Iterator[Yielded]:
    """The stick is faster about its middle than its rate at full stick.

    In the air: the craft jerks at the smallest movement of the stick, and more stick adds less
    and less.
    Mend: set the centre below the rate at full stick; perhaps the two were exchanged.
    Source: common practice.
    """
    centre, most = axis.centre, axis.max
    if centre > most:
        yield Fires(
            f"The {axis.name} stick in bank {_bank(axis)} is set to {centre:,.6g} deg/s at the "
            f"centre, above the {most:,.6g} deg/s at full stick.",
            (axis.path("centre"), axis.path("max")),
            (("centre_dps", centre), ("max_dps", most)),
            advice=_lost_digit(craft.banks.all[_bank(axis)], axis)
            or "Set the centre below the rate at full stick; perhaps the two were exchanged.",
        )


_A_DIGIT = (5, 20)  # times what the other stick has: a digit lost, or one too many


def _lost_digit(bank: Bank, axis: Rates) -> str:
    """What to look at where one figure is ten times the other stick's; empty where none is."""
    other = bank.rates["roll" if axis.name == "pitch" else "pitch"]
    few, many = _A_DIGIT
    if other.states("max") and other.max > axis.centre and few < other.max / (axis.max or 1) < many:
        return (
            f"Perhaps a digit of {axis.name}'s rate at full stick is lost: {other.name} has "
            f"{number_text(other.max)} deg/s. Set it above the centre's {number_text(axis.centre)}."
        )
    if (
        other.states("centre")
        and other.centre < axis.max
        and few < axis.centre / (other.centre or 1) < many
    ):
        return (
            f"Perhaps {axis.name}'s rate at the centre has a digit too many: {other.name} has "
            f"{number_text(other.centre)} deg/s. Set it below the {number_text(axis.max)} at full "
            "stick."
        )
    return ""


@rule("rate/expo-range", Level.ERROR, over=_rates)
def expo_range(craft: Craft, axis: Rates) -> Iterator[Yielded]:
    """An expo lies outside of 0 to 1.

    In the air: the stick may work the wrong way about its middle, or jerk towards its end.
    Mend: set an expo from 0 (the least soft) to 1 (the softest).
    Source: common practice; the curve is defined from 0 to 1.
    """
    expo = axis.expo
    if not 0 <= expo <= 1:
        yield Fires(
            f"The expo of {axis.name} in bank {_bank(axis)} is {number_text(expo)}, which is "
            "not within 0 to 1.",
            (axis.path("expo"),),
            (("expo", expo),),
            advice="Set an expo from 0 (the least soft) to 1 (the softest).",
        )


@rule("rate/curve-not-monotone", Level.ERROR, over=_rates)
def curve_not_monotone(craft: Craft, axis: Rates) -> Iterator[Yielded]:
    """More stick asks for less: the curve falls somewhere between middle and end.

    The curve is computed in steps of 1 % of the stick's way. An expo outside of 0 to 1 has no
    curve; rate/expo-range tells of it.

    In the air: the craft turns slower as the stick is pushed further, and faster as it is let
    go: the pilot can't catch it.
    Mend: set the centre below the rate at full stick.
    Source: hand calculation from the curve, rate = centre·x + (max − centre)·x·((1 − expo)·|x|
    + expo·x²).
    """
    centre, most, expo = axis.centre, axis.max, axis.expo
    if not 0 <= expo <= 1:
        return
    for fall in curve_falls(stick_curve(centre, most, expo)):
        yield Fires(
            f"The {axis.name} curve in bank {_bank(axis)} falls from {fall.start_percent} % to "
            f"{fall.end_percent} % of the stick's way, by {fall.drop_dps:,.3g} deg/s.",
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


_MOST_BANKS = 16  # more are somebody's trap: their pairs would grow by the square


def _pairs_of_banks(craft: Craft) -> Iterable[tuple[str, str]]:
    """Two banks at a time by their prefixes, which end in a full stop."""
    banks = [bank.path("") for bank in craft.banks.all]
    return combinations(banks, 2) if len(banks) <= _MOST_BANKS else pairwise(banks)


@rule("rate/banks-differ", Level.NOTE, over=_pairs_of_banks)
def banks_differ(craft: Craft, pair: tuple[str, str]) -> Iterator[Yielded]:
    """Two banks of gains and rates differ in a single value.

    In the air: the craft feels almost alike in both; if the value slipped in by mistake, one of
    them is not what was meant.
    Mend: nothing, where the one value is meant; else make the banks alike.
    Source: common practice.
    """
    first, second = pair
    leaves, others = (
        [
            path.removeprefix(prefix)
            for paths in craft.settings.below(prefix.rstrip(".")).values()
            for path in paths
        ]
        for prefix in pair
    )
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
    loop_no_divisor,
    no_yaw,
    bank_missing,
    zero_p,
    zero_i,
    negative,
    lopsided,
    far_from_baseline,
    exchanged,
    rate_beyond_gyro,
    rates_lopsided,
    centre_above_max,
    expo_range,
    curve_not_monotone,
    banks_differ,
)
