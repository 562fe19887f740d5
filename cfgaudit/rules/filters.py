"""The filters between gyro and motors: what they hold back, and how late they make the rest."""

from collections.abc import Callable, Iterator
from itertools import chain
from typing import TYPE_CHECKING, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.values import Filter
from cfgaudit.physics.filters import Stage, above_nyquist, chain_response, magnitude_db
from cfgaudit.rules.motor_speeds import blades_hz, hover_speeds
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, each, rule
from cfgaudit.rules.stages import (
    Part,
    at_work,
    delay_ms,
    gyro_parts,
    gyro_rate,
    in_series,
)
from cfgaudit.rules.wording import listed

if TYPE_CHECKING:  # most audits have no sheet
    from cfgaudit.craft.sheet import Sheet

AT_HZ = 20.0  # where a quadcopter's own sway and shake lie (common practice)
_DEEPEST_DB = 120.0  # a notch at its own centre is deeper than any signal has room for


@rule("filter/above-nyquist", Level.ERROR)
def filter_above_nyquist(craft: Craft) -> Iterator[Yielded]:
    """A filter's cutoff is at or above half of the rate it runs at.

    Gyro filters run at the gyro's sample rate, those of the D term at the loop's.

    In the air: the filter does not do what is set; it may pass all noise on to the motors, which
    get hot, or make the loop unstable.
    Mend: lower the cutoff, or switch the stage off with a cutoff of 0.
    Source: W3C Audio EQ Cookbook (published) and the sampling theorem (textbook).
    """

    def gyro() -> Iterator[Yielded]:
        path = craft.filters.path("gyro"), craft.gyro.path("sample_rate")
        return _chain("gyro", craft.filters.gyro, lambda: craft.gyro.sample_rate, path)

    def dterm() -> Iterator[Yielded]:
        path = craft.filters.path("dterm"), craft.loop.path("rate")
        return _chain("D-term", craft.filters.dterm, lambda: craft.loop.rate, path)

    yield from each((gyro, dterm), lambda chain: chain())


def _chain(
    name: str, stages: tuple[Filter, ...], read_rate: Callable[[], float], paths: tuple[str, str]
) -> Iterator[Yielded]:
    active = [(index, stage) for index, stage in enumerate(stages, 1) if stage.cutoff > 0]
    if not active:
        return
    rate = read_rate()
    for index, stage in active:
        if above_nyquist(stage.cutoff, rate):
            yield Fires(
                f"Stage {index} of the {name} filters, {stage.kind} at {stage.cutoff:,.6g} Hz, is "
                f"not below half of the {rate:,.6g} Hz it runs at ({rate / 2:,.6g} Hz).",
                paths,
                (("stage", index), ("cutoff_hz", stage.cutoff), ("rate_hz", rate)),
                advice=f"Set the cutoff well below {rate / 2:,.6g} Hz, or 0 to leave it out.",
            )


@rule("filter/none", Level.ERROR)
def filter_none(craft: Craft) -> Iterator[Yielded]:
    """Neither the gyro nor the D term has a low-pass, and no notch follows the motors' speed.

    In the air: all that the motors shake reaches the motors again, made greater by the D term:
    they get hot within seconds and the craft may climb away at no throttle.
    Mend: put a low-pass on the gyro and one on the D term, or let notches follow the motors.
    Source: common practice.
    """
    if _low_passes(craft.filters.gyro) or _low_passes(craft.filters.dterm):
        return
    if craft.notches.motor.enabled:
        return
    yield Fires(
        "Nothing holds the motors' noise back: no low-pass on the gyro, none on the D term, and "
        "no notch that follows the motors' speed.",
        (
            craft.filters.path("gyro"),
            craft.filters.path("dterm"),
            craft.notches.motor.path("enabled"),
        ),
        advice="Put a low-pass on the gyro and one on the D term, or let notches follow the "
        "motors' speed.",
    )


def _low_passes(stages: tuple[Filter, ...]) -> list[Filter]:
    return [stage for stage in stages if stage.cutoff > 0 and stage.kind != "notch"]


@rule("filter/delay", Level.NOTE, limits=("filter.delay_most",))
def filter_delay(craft: Craft, most: float) -> Iterator[Yielded]:
    """All filters in series make the gyro's signal late.

    Told is the group delay at 20 Hz of the gyro's filters, the notches that move and the D
    term's filters, one behind the other; the moving notches stand at the lowest frequency they
    follow, where they delay most and where the motors are when the throttle is closed. Gyro
    filters are reckoned at the gyro's sample rate, or at the loop's where only that is stated;
    notches that move and filters of the D term at the loop's. A cutoff that its rate has no room
    for is left out: filter/above-nyquist tells of it.

    In the air: the later the signal, the lower the gains must be; a craft that is late by too
    much wobbles in its own wash and after quick turns.
    Mend: raise cutoffs, or make notches fewer or narrower, as far as the noise allows.
    Source: W3C Audio EQ Cookbook (published) for the stages; the limit, common practice.
    """
    series, lacks = in_series(craft)
    if lacks:
        yield from map(Lacks, lacks)
    elif series:
        yield _late(series, most)


def _late(series: list[Part], most: float) -> Fires:
    late = [(part, delay_ms(part, AT_HZ)) for part in series]
    total = sum(ms for _, ms in late)
    before_d = sum(ms for part, ms in late if part.chain != "D-term")
    told = [f"{part.says} {ms:.2f} ms" for part, ms in late]
    rates = dict.fromkeys(f"{part.chain} at {part.stage.rate_hz:,.6g} Hz" for part in series)
    return Fires(
        f"At {AT_HZ:g} Hz the filters delay the D term by {total:.2f} ms and the rest by "
        f"{before_d:.2f} ms: {listed(told)}. Reckoned: {listed(list(rates))}.",
        tuple(dict.fromkeys(path for part in series for path in part.paths)),
        (
            ("total_ms", total),
            ("before_dterm_ms", before_d),
            ("at_hz", AT_HZ),
            ("limit_ms", most),
            *((f"{part.figure}_ms", ms) for part, ms in late),
        ),
        advice="Raise cutoffs, or make notches fewer or narrower, as far as the noise allows.",
        level=Level.WARNING if total > most * (1 + 1e-9) else Level.NOTE,
    )


class Band(NamedTuple):
    """Where the motors' noise lies, and which settings say so.

    `blades_hz` is how often a blade passes an arm at the band's lower end; 0 where not known.
    """

    low_hz: float
    high_hz: float
    says: str
    paths: tuple[str, ...]
    blades_hz: float = 0.0


def motor_band(craft: Craft, sheet: "Sheet | None" = None) -> Band:
    """The band of the motors' noise. Raises NotStated.

    By motor, pack and propeller, from hovering to full speed, where a build sheet tells them.
    Else it is the range that the tracking notches are given, whether they are on or not.
    """
    if sheet:
        try:
            return _band_of_the_drive(sheet)
        except NotStated:
            pass
    tracking = craft.notches.tracking
    low, high = sorted((tracking.low, tracking.high))
    paths = tracking.path("low"), tracking.path("high")
    return Band(low, high, "the range of the tracking notches", paths)


def _band_of_the_drive(sheet: "Sheet") -> Band:
    speeds, drive = hover_speeds(sheet), sheet.propulsion
    told = drive.states("blades")
    return Band(
        speeds.low_hz,
        speeds.full_hz,
        "from hovering to full speed by motor, pack and propeller",
        (*speeds.paths, *((drive.path("blades"),) if told else ())),
        blades_hz(sheet, speeds.low_hz) if told else 0.0,
    )


@rule("filter/attenuation", Level.NOTE, sheet="wanted")
def filter_attenuation(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """How much of the motors' noise the gyro's filters hold back.

    The motors' band goes from hovering on an empty pack to full speed on a full one, by Kv, pack
    and hover throttle of the build sheet, and is told where the blades pass at
    hover too. Without those it is the range that the tracking notches are given. Notches that move
    are left out: they stand on the noise itself.

    In the air: noise that the filters let through heats the motors and hides what the craft
    does.
    Mend: lower a cutoff where the lower end of the band is hardly held back and the motors are
    hot after a flight.
    Source: W3C Audio EQ Cookbook (published); speed is Kv times voltage (textbook).
    """
    parts = gyro_parts(craft)
    if not parts:
        return
    band = motor_band(craft, sheet)
    wanted = (("low", band.low_hz), ("high", band.high_hz), ("blades", band.blades_hz))
    ends = [
        (word, hz)
        for word, hz in wanted
        if hz < parts[0].stage.rate_hz / 2 and (hz or word != "blades")
    ]
    if not ends:
        return
    ways = [_damped(parts, word, hz) for word, hz in ends]
    still = _still_notches(craft)
    yield Fires(
        f"The gyro's filters damp the motors' band, {band.says}: "
        f"{listed([says for says, _ in ways])}. Reckoned at {parts[0].stage.rate_hz:,.6g} Hz."
        + (" No notch moves to take out the rest." if still else ""),
        (*parts[0].paths, *band.paths, *still),
        tuple(figure for _, figures in ways for figure in figures),
        advice="Lower a cutoff only where the motors are hot after a flight.",
    )


def _still_notches(craft: Craft) -> tuple[str, ...]:
    """The switches of the notches that move, where both are stated to be off; else none."""
    kinds = craft.notches.motor, craft.notches.tracking
    off = [kind.path("enabled") for kind in kinds if kind.states("enabled") and not kind.enabled]
    return tuple(off) if len(off) == len(kinds) else ()


def _damped(parts: list[Part], end: str, hz: float) -> tuple[str, list[tuple[str, float]]]:
    """What the stages in series and each of them do at one frequency: words, figures."""
    whole = _damping_db([part.stage for part in parts], hz)
    each_db = [(part, _damping_db([part.stage], hz)) for part in parts]
    told = listed([f"{part.says} {db:.1f} dB" for part, db in each_db])
    figures = [(f"{end}_hz", hz), (f"{end}_db", whole)]
    figures += [(f"{part.figure}_{end}_db", db) for part, db in each_db]
    passing = " where the blades pass" if end == "blades" else ""
    return f"at {hz:,.6g} Hz{passing} by {whole:.1f} dB ({told})", figures


def _damping_db(stages: list[Stage], at_hz: float) -> float:
    """How far stages in series hold a frequency back, in dB; never above 120."""
    return min(_DEEPEST_DB, -magnitude_db(chain_response(stages, at_hz)))


@rule("filter/order", Level.WARNING, limits=("filter.notch_left",))
def filter_order(craft: Craft, left: float) -> Iterator[Yielded]:
    """A filter stands where another one has done its work already.

    Either the D term's lowest cutoff is above the gyro's lowest, or a fixed notch stands where
    the low-passes of its chain let next to nothing through.

    In the air: the stage delays the signal and holds nothing back.
    Mend: set the D term's cutoff below the gyro's; take the notch out, or set it to the noise
    that is left.
    Source: common practice; W3C Audio EQ Cookbook (published) for what a low-pass lets through.
    """

    def gyro_notches() -> Iterator[Yielded]:
        return _wasted("gyro", craft.filters.gyro, [], lambda: gyro_rate(craft), left)

    def dterm_notches() -> Iterator[Yielded]:
        stages = craft.filters.dterm
        if not any(stage.kind == "notch" and stage.cutoff > 0 for stage in stages):
            return iter(())
        before = [part.stage for part in gyro_parts(craft) if part.kind != "notch"]
        return _wasted("D-term", stages, before, lambda: craft.loop.rate, left)

    checks = (lambda: _cutoffs_in_order(craft), gyro_notches, dterm_notches)
    yield from each(checks, lambda check: check())


def _cutoffs_in_order(craft: Craft) -> Iterator[Yielded]:
    gyro, dterm = _low_passes(craft.filters.gyro), _low_passes(craft.filters.dterm)
    if not gyro or not dterm:
        return
    lowest_gyro = min(stage.cutoff for stage in gyro)
    lowest_dterm = min(stage.cutoff for stage in dterm)
    if lowest_dterm > lowest_gyro:
        yield Fires(
            f"The D term's lowest cutoff, {lowest_dterm:,.6g} Hz, is above the gyro's, "
            f"{lowest_gyro:,.6g} Hz: what it would hold back does not come that far.",
            (craft.filters.path("dterm"), craft.filters.path("gyro")),
            (("dterm_hz", lowest_dterm), ("gyro_hz", lowest_gyro)),
            advice=f"Set a cutoff of the D term below {lowest_gyro:,.6g} Hz, or raise the gyro's.",
        )


def _wasted(
    name: str,
    stages: tuple[Filter, ...],
    before: list[Stage],
    read_rate: Callable[[], float],
    left: float,
) -> Iterator[Yielded]:
    """Fixed notches at which the chain's low-passes leave less than `left` per cent."""
    notches = [(n, s) for n, s in enumerate(stages, 1) if s.kind == "notch" and s.cutoff > 0]
    if not notches:
        return
    rate = read_rate()
    lows = before + [at_work(s, rate) for s in _low_passes(stages) if s.cutoff < rate / 2]
    path = "filters.gyro" if name == "gyro" else "filters.dterm"
    for index, notch in notches:
        if above_nyquist(notch.cutoff, min(chain([rate], (low.rate_hz for low in lows)))):
            continue
        percent = 100 * abs(chain_response(lows, notch.cutoff))
        if percent < left * (1 - 1e-9):
            yield Fires(
                f"Stage {index} of the {name} filters is a notch at {notch.cutoff:,.6g} Hz, where "
                f"the low-passes let only {percent:.3g} % through.",
                (path,),
                (("stage", index), ("notch_hz", notch.cutoff), ("left_percent", percent)),
                advice="Take the notch out, or set it to a frequency that the low-passes let "
                "through.",
            )


RULES = (
    filter_above_nyquist,
    filter_none,
    filter_delay,
    filter_attenuation,
    filter_order,
)
