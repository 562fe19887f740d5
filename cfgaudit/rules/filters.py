"""Filters and notches: what they delay, what they let through, whether they meet the motors."""

from collections.abc import Iterator
from itertools import chain
from math import sqrt
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Asked, Craft, if_stated, there
from cfgaudit.physics.allocation import arm_names
from cfgaudit.physics.filters import (
    BiquadSection,
    above_nyquist,
    chain_response,
    group_delay_s,
    magnitude_db,
    phase_delay_s,
    stage,
)
from cfgaudit.physics.motors import range_missed
from cfgaudit.rules.geometry import turning
from cfgaudit.rules.motors import blades_hz, hover_between, hover_speeds
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, each, listed, rule
from cfgaudit.rules.wiring import carrying
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import Filter
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


class FilterStage(NamedTuple):
    """One stage in series, or several alike."""

    chain: str  # gyro, moving notches, D-term
    kind: str
    says: str
    figure: str  # how its figures begin
    stage: BiquadSection
    times: int
    paths: tuple[str, ...]


def gyro_rate(craft: Craft) -> float:
    """The rate of the gyro's filters in Hz: the gyro's, or the loop's where that alone is stated.

    Raises NotStated.
    """
    stated = craft.gyro.states("sample_rate") or not craft.loop.states("rate")
    return craft.gyro.sample_rate if stated else craft.loop.rate


def gyro_parts(craft: Craft) -> list[FilterStage]:
    """The gyro's own filters that are on. Raises NotStated."""
    stages = craft.filters.gyro
    rate_path = craft.gyro.path("sample_rate")
    if not craft.gyro.states("sample_rate") and craft.loop.states("rate"):
        rate_path = craft.loop.path("rate")
    paths = craft.filters.path("gyro"), rate_path
    return _fixed("gyro", stages, gyro_rate(craft), paths) if _numbered(stages) else []


def dterm_parts(craft: Craft) -> list[FilterStage]:
    """The D term's filters that are on. Raises NotStated."""
    stages = craft.filters.dterm
    paths = craft.filters.path("dterm"), craft.loop.path("rate")
    return _fixed("D-term", stages, craft.loop.rate, paths) if _numbered(stages) else []


def _fixed(
    name: str, stages: tuple[Filter, ...], rate: float, paths: tuple[str, str]
) -> list[FilterStage]:
    parts: list[FilterStage] = []
    for index, one in _numbered(stages):
        if not above_nyquist(one.cutoff, rate):
            says = f"{name} {one.kind} {one.cutoff:,.6g} Hz"
            if one.kind == "notch":
                says += f" q {number_text(one.q)}"
            figure = f"{name.replace('-', '').lower()}_{index}_{one.kind}"
            at = at_work(one, rate, paths[0])
            parts.append(FilterStage(name, one.kind, says, figure, at, 1, paths))
    return parts


def at_work(one: Filter, rate_hz: float, path: str = "") -> BiquadSection:
    """A stated stage at its rate. Raises NotStated for a notch whose quality is not stated."""
    if one.kind == "notch" and not one.q > 0:
        raise NotStated(path)
    return stage(one.kind, one.cutoff, rate_hz, one.q or None)


def tracking_parts(craft: Craft, sheet: "Sheet | None" = None) -> list[FilterStage]:
    """The notches that follow peaks, where they are on.

    All stand where the motors are in hover as far as the build sheet tells that, else at the
    lowest frequency followed.
    """
    notches = craft.notches.tracking
    if not notches.enabled or not notches.count:
        return []
    paths = tuple(notches.path(leaf) for leaf in ("enabled", "low", "q", "count"))
    at_hz = max(notches.low, hover_hz(sheet))
    if notches.states("high"):
        at_hz = min(at_hz, max(notches.high, notches.low))
    return _moving(craft, "tracking", "tracking", at_hz, notches.q, notches.count, paths)


def hover_hz(sheet: "Sheet | None") -> float:
    """The turns a second in hover, amid an empty and a full pack; 0 where no sheet has them."""
    return if_stated(lambda: sum(hover_between(sheet)) / 2, 0.0) if sheet else 0.0


def motor_notch_parts(craft: Craft, sheet: "Sheet | None" = None) -> list[FilterStage]:
    """The notches that follow the motors, where they are on.

    All motors turn as they do in hover as far as the build sheet tells that, else at the lowest
    speed followed.
    """
    notches = craft.notches.motor
    if not notches.enabled or not notches.harmonics:
        return []
    turns = max(notches.low, hover_hz(sheet))
    paths = tuple(notches.path(leaf) for leaf in ("enabled", "low", "q", "harmonics"))
    motors = motor_count(craft)
    return [
        part
        for n in range(1, notches.harmonics + 1)
        for part in _moving(craft, "motor-speed", f"motor_{n}", turns * n, notches.q, motors, paths)
    ]


def _moving(
    craft: Craft, word: str, figure: str, at_hz: float, q: float, times: int, paths: tuple[str, ...]
) -> list[FilterStage]:
    """Notches alike, at one frequency. Raises NotStated where that or the quality is left at 0."""
    for path, value in ((paths[1], at_hz), (paths[2], q)):
        if not value > 0:
            raise NotStated(path)
    rate = craft.loop.rate
    if above_nyquist(at_hz, rate):
        return []
    says = f"{times} {word} {'notch' if times == 1 else 'notches'} at {at_hz:,.6g} Hz"
    at = stage("notch", at_hz, rate, q)
    return [FilterStage(_MOVING, "notch", says, f"{figure}_notches", at, times, paths)]


def in_series(craft: Craft, sheet: "Sheet | None" = None) -> tuple[list[FilterStage], list[str]]:
    """Every stage from gyro to D term in order, and the settings lacking to know them all."""
    asked = Asked()
    stages = (
        asked.of(lambda: gyro_parts(craft)),
        asked.of(lambda: tracking_parts(craft, sheet)),
        asked.of(lambda: motor_notch_parts(craft, sheet)),
        asked.of(lambda: dterm_parts(craft)),
    )
    return [part for parts in stages for part in parts or ()], asked.lacks


def motor_count(craft: Craft) -> int:
    """How many motors the craft has, by its layout, else by the motors stated.

    Raises NotStated where neither tells.
    """
    if craft.frame.states("layout") and craft.frame.layout != "custom":
        return len(arm_names(craft.frame.layout))
    return len(turning(craft))


def delay_ms(part: FilterStage, at_hz: float) -> float:
    """Group delay of a part in milliseconds; 0 where its rate has no room for the frequency."""
    if above_nyquist(at_hz, part.stage.rate_hz):
        return 0.0
    return group_delay_s(part.stage, at_hz) * part.times * 1000


AT_HZ = 20.0  # where a quadcopter's own sway and shake lie (common practice)
_DEEPEST_DB = 120.0  # a notch at its own centre is deeper than any signal has room for


_CHAINS: Final = {"gyro": "gyro", "dterm": "D-term"}  # the two that are stated, in words


def _numbered(stages: tuple[Filter, ...]) -> list[tuple[int, Filter]]:
    """The stages that are on, each with its place in the row, from 1."""
    return [(index, one) for index, one in enumerate(stages, 1) if one.cutoff > 0]


@rule("filter/above-nyquist", Level.ERROR, over=lambda craft: _CHAINS)
def filter_above_nyquist(craft: Craft, leaf: str) -> Iterator[Yielded]:
    """A filter's cutoff is at or above half of the rate it runs at.

    Gyro filters run at the gyro's sample rate, those of the D term at the loop's.

    In the air: the filter does not do what is set; it may pass all noise on to the motors, which
    get hot, or make the loop unstable.
    Mend: lower the cutoff, or switch the stage off with a cutoff of 0.
    Source: W3C Audio EQ Cookbook (published) and the sampling theorem (textbook).
    """
    gyro = leaf == "gyro"
    active = _numbered(craft.filters.gyro if gyro else craft.filters.dterm)
    if not active:
        return
    rate = craft.gyro.sample_rate if gyro else craft.loop.rate
    rate_path = craft.gyro.path("sample_rate") if gyro else craft.loop.path("rate")
    for index, one in active:
        if above_nyquist(one.cutoff, rate):
            yield Fires(
                f"Stage {index} of the {_CHAINS[leaf]} filters, {one.kind} at {one.cutoff:,.6g} "
                f"Hz, is not below half of the {rate:,.6g} Hz it runs at ({rate / 2:,.6g} Hz).",
                (craft.filters.path(leaf), rate_path),
                (("stage", index), ("cutoff_hz", one.cutoff), ("rate_hz", rate)),
                advice=f"Set the cutoff well below {rate / 2:,.6g} Hz, or 0 to leave it out.",
            )


@rule(
    "filter/none",
    Level.ERROR,
    limits=("filter.gyro_holds_least", "filter.dterm_holds_least"),
    sheet="wanted",
)
def filter_none(
    craft: Craft, sheet: "Sheet | None", gyro_least: float, dterm_least: float
) -> Iterator[Yielded]:
    """What the motors shake reaches the loop: low-passes are missing, or far too high.

    Too high are those that hold back next to nothing, as with a digit too many. That is judged
    where the blades pass in hover, by the build sheet's motor, pack and propeller; without the
    blades at full speed, without a drive at the highest that the tracking notches follow. To leave
    the gyro's low-pass out for notches that follow the motors is a choice; one that is on and does
    nothing is none, so it is a warning beside those notches, too; up to 600 Hz a note.

    An error where the D term has none while notches that follow the motors are off, whatever the
    gyro has: it makes noise greater the higher it is. A notch that follows the motors takes out
    their turns and no other noise, and does not stand in for the D term's low-pass: without one a
    D term in use is an error where the gyro has none either, else a warning. A warning where only
    the gyro has none and no notch follows the motors. A D term of no gain needs no filter.

    In the air: all that the motors shake reaches the motors again, made greater by the D term:
    they get hot within seconds and the craft may climb away at no throttle.
    Mend: put a low-pass on the gyro and one on the D term, or let notches follow the motors.
    Source: common practice; W3C Audio EQ Cookbook (published) for what a low-pass holds back.
    """

    def gyro() -> Iterator[Yielded]:
        return _too_high(craft, sheet, gyro_parts(craft), gyro_least)

    def dterm() -> Iterator[Yielded]:
        parts = [] if _no_d(craft) else dterm_parts(craft)
        return _too_high(craft, sheet, parts, dterm_least)

    checks = (lambda: _missing(craft), gyro, dterm)
    yield from each(checks, lambda check: check())


_STILL_LOW: Final = 600.0  # Hz: up to here the gyro's low-pass is commonly set beside motor notches


def _too_high(
    craft: Craft, sheet: "Sheet | None", parts: list[FilterStage], least: float
) -> Iterator[Fires]:
    """Low-passes of one chain that hold back less than `least` per cent of the motors' noise."""
    lows = [part for part in parts if part.kind != "notch"]
    if not lows:  # none at all, or none that its rate has room for: told of elsewhere
        return
    band = motor_band(craft, sheet)
    at_hz = band.blades_hz or band.high_hz
    if not 0 < at_hz < lows[0].stage.rate_hz / 2:
        return
    held = 100 * (1 - abs(chain_response([part.stage for part in lows], at_hz)))
    if held >= least * (1 - 1e-9):
        return
    chain = lows[0].chain
    motor = craft.notches.motor
    bare = chain == "D-term" and not motor.enabled
    low = any(one.cutoff <= _STILL_LOW and one.kind != "notch" for one in craft.filters.gyro)
    lone = chain != "D-term" and low and motor.states("enabled") and motor.enabled
    noise = "where the blades pass in hover" if band.blades_hz else "where the motors' noise ends"
    yield Fires(
        f"{listed([part.says for part in lows])} {'holds' if len(lows) == 1 else 'hold'} back "
        f"{held:.2g} % at {at_hz:,.3g} Hz, {noise}: as good as none.",
        (
            lows[0].paths[0],
            *band.paths,
            *((craft.notches.motor.path("enabled"),) if chain == "D-term" else ()),
        ),
        (("held_percent", held), ("least_percent", least), ("at_hz", at_hz)),
        advice="A digit too many? Set the firmware's own, or near "
        f"{'100' if chain == 'D-term' else '150'} Hz with 5 inch propellers, lower with larger "
        "ones.",
        level=Level.ERROR if bare else Level.NOTE if lone else Level.WARNING,
    )


def _missing(craft: Craft) -> Iterator[Yielded]:
    gyro, dterm = bool(_low_passes(craft.filters.gyro)), bool(_low_passes(craft.filters.dterm))
    if gyro and (dterm or _no_d(craft)):
        return
    if craft.notches.motor.enabled:
        if not dterm:
            yield from _bare_d(craft, gyro=gyro)
        return
    held = {"gyro": gyro, "dterm": dterm or _no_d(craft)}
    missing = [craft.filters.path(leaf) for leaf in held if not held[leaf]]
    bare = {1: "no low-pass on the D term", 2: "no low-pass on the gyro, none on the D term"}
    lacking = "no low-pass on the gyro" if dterm or _no_d(craft) else bare[len(missing)]
    yield Fires(
        f"The motors' noise is not held back: {lacking}, and no notch that follows the motors' "
        "speed.",
        (*missing, craft.notches.motor.path("enabled")),
        advice="Put a low-pass on the gyro and one on the D term, or let notches follow the "
        "motors' speed.",
        level=Level.WARNING if missing == [craft.filters.path("gyro")] else Level.ERROR,
    )


def _bare_d(craft: Craft, *, gyro: bool) -> Iterator[Fires]:
    """A D term in use without a low-pass, beside notches that follow the motors."""
    if _no_d(craft):
        return
    in_use = {path: gain for path, gain in _d_gains(craft).items() if gain}
    if not in_use:
        raise NotStated("banks.N.gains.AXIS.d")
    path, gain = next(iter(in_use.items()))
    yield Fires(
        f"The D term has no low-pass and a gain of {number_text(gain)}"
        f"{'' if gyro else ', and the gyro has none'}: the notches that follow the motors take out "
        "their turns, and no other noise.",
        (craft.filters.path("dterm"), path, craft.notches.motor.path("enabled")),
        (("d_gain", gain),),
        advice="Put a low-pass on the D term: the firmware's own, or one near 100 Hz with 5 inch "
        "propellers, lower with larger ones.",
        level=Level.WARNING if gyro else Level.ERROR,
    )


def _no_d(craft: Craft) -> bool:
    """Whether every D gain that is stated is 0, one of roll or pitch among them."""
    gains = _d_gains(craft)
    told = any(path.split(".")[-2] in ("roll", "pitch") for path in gains)
    return told and not any(gains.values())


def _d_gains(craft: Craft) -> dict[str, float]:
    """The D gains that are stated, by path."""
    return {
        gain.path("d"): gain.d
        for bank in there(craft.banks.all)
        for gain in there(bank.gains)
        if gain.states("d")
    }


def _low_passes(stages: tuple[Filter, ...]) -> list[Filter]:
    return [stage for stage in stages if stage.cutoff > 0 and stage.kind != "notch"]


@rule("filter/delay", Level.NOTE, limits=("filter.delay_most",), sheet="wanted")
def filter_delay(craft: Craft, sheet: "Sheet | None", most: float) -> Iterator[Yielded]:
    """All filters in series make the gyro's signal late: late by what the craft's size bears.

    Told is the group delay at 20 Hz of the gyro's filters, the notches that move and the D
    term's filters, one behind the other. The moving notches stand where the motors are in hover
    as far as the build sheet tells that, else at the lowest frequency they follow. Gyro filters
    are reckoned at the gyro's sample rate, or at the loop's where only that is stated; notches
    that move and filters of the D term at the loop's. A cutoff that its rate has no room for is
    left out: filter/above-nyquist tells of it.

    How late is too late hangs on how quickly the craft turns: the limit is that of a craft with
    5 inch propellers, a sixth of a turn of the phase at 20 Hz, and goes with the square root of
    the propeller's diameter. Beyond it is a warning, beyond half as much again an error: a D term
    that is a quarter of a turn late damps nothing. A cutoff near 20 Hz or below it has little group
    delay there and turns the phase all the same, which is what the loop is stable by: such a stage
    is judged by its phase. Without the diameter the limit is that of 15 inch propellers, notches
    that move are not judged, and it is a warning at most; so is a low-pass of the gyro below 40 Hz
    or of the D term below 25 Hz.

    In the air: the later the signal, the lower the gains must be; a craft that is late by too
    much wobbles in its own wash and after quick turns, and oscillates in the end.
    Mend: raise cutoffs, or make notches fewer or narrower, as far as the noise allows.
    Source: W3C Audio EQ Cookbook (published) for the stages; Froude's scaling, by which times go
    with the square root of lengths, and the phase of a late derivative (textbook); the 20 Hz and
    the limit, common practice.
    """
    series, lacks = in_series(craft, sheet)
    if lacks:
        yield from map(Lacks, lacks)
    elif series:
        sized = sheet is not None and sheet.propulsion.states("diameter")
        if sheet is None or not sized:
            yield Lacks("sheet.propulsion.diameter")
            found = _late(series, most * sqrt(_LARGEST_DIAMETER_MM / _USUAL_DIAMETER_MM), False)
            yield _too_low(craft, found)
        else:
            diameter = sheet.propulsion.diameter
            yield _late(series, most * sqrt(diameter / _USUAL_DIAMETER_MM), True)


_MOVING: Final = "moving notches"  # as the chain of those is called
_USUAL_DIAMETER_MM: Final = 127.0  # 5 inches, the size that the limit is common practice for
_LARGEST_DIAMETER_MM: Final = 381.0  # 15 inches: what turns more slowly is no small craft
_QUARTER_TURN: Final = 1.5  # against the sixth of a turn that the limit is


def _too_low(craft: Craft, found: Fires) -> Fires:
    """The same as a warning where a low-pass is below what a craft of any size is flown with."""
    low = [
        f"{chain} {number_text(stage.cutoff)} Hz"
        for chain, stages, least in (
            ("gyro", craft.filters.gyro if craft.filters.states("gyro") else (), 40.0),
            ("D-term", craft.filters.dterm if craft.filters.states("dterm") else (), 25.0),
        )
        for stage in _low_passes(stages)
        if 0 < stage.cutoff < least
    ]
    if not low or found.level is not Level.NOTE:
        return found
    says = f" {listed(low)}: so low a low-pass no craft has; perhaps a decimal point moved."
    return found._replace(message=found.message + says, level=Level.WARNING)


_HIDDEN: Final = 0.8  # a group delay of less than this part of the phase's hides how late it is


def _lag_ms(part: FilterStage) -> float:
    """How late a part's phase makes a sway of 20 Hz, in milliseconds."""
    if above_nyquist(AT_HZ, part.stage.rate_hz):
        return 0.0
    return phase_delay_s(part.stage, AT_HZ) * part.times * 1000


def _late(series: list[FilterStage], most: float, sized: bool) -> Fires:
    late = [(part, delay_ms(part, AT_HZ)) for part in series]
    total = sum(ms for _, ms in late)
    before_d = sum(ms for part, ms in late if part.chain != "D-term")
    told = [f"{part.says} {ms:.2f} ms" for part, ms in late]
    rates = dict.fromkeys(f"{part.chain} at {part.stage.rate_hz:,.6g} Hz" for part in series)
    # where notches that move stand, a craft of unknown size does not tell
    judged = [(part, ms) for part, ms in late if sized or part.chain != _MOVING]
    lags = [(ms, _lag_ms(part)) for part, ms in judged]
    as_late = sum(lag if lag * _HIDDEN > ms else ms for ms, lag in lags)
    total_judged = sum(ms for _, ms in judged)
    over = max(total_judged, as_late) / most
    level = Level.ERROR if sized and over > _QUARTER_TURN * (1 + 1e-9) else Level.WARNING
    bears = f" A craft of this size bears {most:.2f} ms." if sized else ""
    if not sized and over > 1 + 1e-9:
        bears = f" Even a craft of 15 inch propellers bears no more than {most:.2f} ms."
    if as_late > max(most, total_judged) * (1 + 1e-9):
        bears = f" A cutoff so low turns the phase further, as {as_late:.2f} ms would.{bears}"
    return Fires(
        f"At {AT_HZ:g} Hz the filters delay the D term by {total:.2f} ms and the rest by "
        f"{before_d:.2f} ms: {listed(told)}.{bears} Reckoned: {listed(list(rates))}.",
        tuple(dict.fromkeys(path for part in series for path in part.paths)),
        (
            ("total_ms", total),
            ("before_dterm_ms", before_d),
            ("at_hz", AT_HZ),
            ("as_late_as_ms", as_late),
            *((("limit_ms", most),) if sized or over > 1 + 1e-9 else ()),
            *((f"{part.figure}_ms", ms) for part, ms in late),
        ),
        advice="Raise cutoffs, or make notches fewer or narrower, as far as the noise allows.",
        level=level if over > 1 + 1e-9 else Level.NOTE,
    )


class NoiseBand(NamedTuple):
    """Where the motors' noise lies, and which settings say so.

    `blades_hz` is how often a blade passes an arm at the band's lower end; 0 where not known.
    """

    low_hz: float
    high_hz: float
    says: str
    paths: tuple[str, ...]
    blades_hz: float = 0.0


def motor_band(craft: Craft, sheet: "Sheet | None" = None) -> NoiseBand:
    """The band of the motors' noise. Raises NotStated.

    By motor, pack and propeller, from hovering to full speed, where a build sheet tells them.
    Else it is the range that the tracking notches are given, whether they are on or not.
    """
    band = if_stated(lambda: _band_of_the_drive(sheet), None) if sheet else None
    if band is not None:
        return band
    tracking = craft.notches.tracking
    low, high = sorted((tracking.low, tracking.high))
    paths = tracking.path("low"), tracking.path("high")
    return NoiseBand(low, high, "the range of the tracking notches", paths)


def _band_of_the_drive(sheet: "Sheet") -> NoiseBand:
    speeds, drive = hover_speeds(sheet), sheet.propulsion
    told = drive.states("blades")
    return NoiseBand(
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
        advice="Lower a cutoff only where the motors are hot after a flight, the D term's first.",
    )


def _still_notches(craft: Craft) -> tuple[str, ...]:
    """The switches of the notches that move, where both are stated to be off; else none."""
    kinds = craft.notches.motor, craft.notches.tracking
    off = [kind.path("enabled") for kind in kinds if kind.states("enabled") and not kind.enabled]
    return tuple(off) if len(off) == len(kinds) else ()


def _damped(parts: list[FilterStage], end: str, hz: float) -> tuple[str, list[tuple[str, float]]]:
    """What the stages in series and each of them do at one frequency: words, figures."""
    whole = _damping_db([part.stage for part in parts], hz)
    each_db = [(part, _damping_db([part.stage], hz)) for part in parts]
    told = listed([f"{part.says} {db:.1f} dB" for part, db in each_db])
    figures = [(f"{end}_hz", hz), (f"{end}_db", whole)]
    figures += [(f"{part.figure}_{end}_db", db) for part, db in each_db]
    passing = " where the blades pass" if end == "blades" else ""
    return f"at {hz:,.6g} Hz{passing} by {whole:.1f} dB ({told})", figures


def _damping_db(stages: list[BiquadSection], at_hz: float) -> float:
    """How far stages in series hold a frequency back, in dB; never above 120."""
    return min(_DEEPEST_DB, 0.0 - magnitude_db(chain_response(stages, at_hz)))


@rule("filter/order", Level.WARNING, limits=("filter.notch_left",), over=lambda craft: _CHAINS)
def filter_order(craft: Craft, leaf: str, left: float) -> Iterator[Yielded]:
    """A fixed notch stands where the low-passes of its chain let next to nothing through.

    Low-passes in series are no such thing: they multiply, and a second one adds what it holds
    back to what the first does.

    In the air: the stage delays the signal and holds nothing back.
    Mend: take the notch out, or set it to the noise that is left.
    Source: common practice; W3C Audio EQ Cookbook (published) for what a low-pass lets through.
    """
    stages = craft.filters.gyro if leaf == "gyro" else craft.filters.dterm
    notches = [(index, one) for index, one in _numbered(stages) if one.kind == "notch"]
    if not notches:
        return
    lows: list[BiquadSection] = []
    if leaf == "dterm":
        lows = [part.stage for part in gyro_parts(craft) if part.kind != "notch"]
    rate = gyro_rate(craft) if leaf == "gyro" else craft.loop.rate
    lows += [at_work(one, rate) for one in _low_passes(stages) if one.cutoff < rate / 2]
    for index, notch in notches:
        if above_nyquist(notch.cutoff, min(chain([rate], (low.rate_hz for low in lows)))):
            continue
        percent = 100 * abs(chain_response(lows, notch.cutoff))
        if percent < left * (1 - 1e-9):
            yield Fires(
                f"Stage {index} of the {_CHAINS[leaf]} filters is a notch at "
                f"{notch.cutoff:,.6g} Hz, where the low-passes let only {percent:.3g} % through.",
                (craft.filters.path(leaf),),
                (("stage", index), ("notch_hz", notch.cutoff), ("left_percent", percent)),
                advice="Take the notch out, or set it to a frequency that the low-passes let "
                "through.",
            )


_AXES = 3


@rule("notch/needs-reports", Level.ERROR)
def notch_needs_reports(craft: Craft) -> Iterator[Yielded]:
    """Notches are to follow the motors' speed, and no speed is reported.

    A warning where the speed controllers report on a port alone: one motor after the other, some
    tens of times a second each, which is too seldom to follow.

    In the air: the notches stand still beside the noise; whatever other filters were taken off
    for their sake is missing, and the motors get hot.
    Mend: switch on speed reports, or switch the notches off and filter the gyro otherwise.
    Source: common practice.
    """
    motor = craft.notches.motor
    if not motor.enabled:
        return
    stated = craft.esc.states("reports")
    if stated and craft.esc.reports:
        return
    paths = (motor.path("enabled"), craft.esc.path("reports"))
    if ports := carrying(craft, "esc_reports"):
        if stated:
            yield Fires(
                "Notches are to follow the motors' speed, and reports on the signal wires are off: "
                f"on port {ports[0].name} the speed controllers report one after the other, which "
                "is too seldom.",
                (*paths[::-1], ports[0].path("roles")),
                advice="Switch on esc.reports where the speed controllers can send them; if this "
                "firmware follows the motors by the port alone, waive this.",
                level=Level.WARNING,
            )
        return
    if not stated:
        yield Lacks(craft.esc.path("reports"))
        return
    yield Fires(
        "Notches are to follow the motors' speed, but they have no speed to follow: reports on "
        "the signal wires are off, and no port carries the esc_reports role.",
        paths,
        advice="Switch on esc.reports where the speed controllers can send them; else switch "
        "notches.motor.enabled off and give the gyro a lower cutoff.",
    )


@rule("notch/poles", Level.ERROR)
def notch_poles(craft: Craft) -> Iterator[Yielded]:
    """Notches follow the motors' speed, and the motors' poles were never set.

    In the air: reports count electrical turns; without the poles the notches stand at a
    multiple of the noise's frequency, or nowhere.
    Mend: count the magnets in a motor's bell and set that number.
    Source: electrical turns are mechanical ones times the pole pairs (textbook).
    """
    if craft.notches.motor.enabled and craft.motors.poles == 0:
        yield Fires(
            "Notches are to follow the motors' speed, but the motors' poles are not set: a "
            "reported speed can't be told.",
            (craft.motors.path("poles"), craft.notches.motor.path("enabled")),
            (("poles", 0.0),),
            advice="Count the magnets in a motor's bell and set motors.poles to that number.",
        )


@rule("notch/range-misses-motors", Level.WARNING, ("notch.missed_most",), sheet=True)
def range_misses_motors(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The notches that move leave out much of what the motors run at in flight.

    Their speeds go from hovering on an empty pack to full throttle on a full one, by Kv, pack and
    hover throttle of the build sheet, at full throttle with what the propeller holds them back.
    A range of the tracking notches that leaves out every speed at which the craft may hover is
    told of whatever else it leaves out; so are notches that follow the motors from above there.
    Where notches follow the motors by their reports the tracking ones are there for the frame.

    In the air: where the motors run outside of the range the notches stand beside the noise; the
    motors get hot at just that throttle.
    Mend: widen the range to the motors' speeds; the lowest ones make little noise.
    Source: speed is Kv times voltage, commonly 0.8 of it at full throttle; how much may be left
    out: common practice.
    """
    checks = _tracking_misses, _motor_notches_miss
    yield from each(checks, lambda check: check(craft, sheet, most))


def _tracking_misses(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    tracking = craft.notches.tracking
    if not tracking.enabled or not tracking.count:
        return
    speeds = hover_speeds(sheet)
    low, high = sorted((tracking.low, tracking.high))
    first, full = speeds.low_hz, speeds.full_hz
    missed = range_missed((low, high), (first, full)) * 100
    hover = hover_between(sheet)
    if missed <= most * (1 + 1e-9) and hover[0] <= high and low <= hover[1]:
        return
    if _follows_motors(craft, hover):
        return  # the others are there for the frame
    yield Fires(
        f"The tracking notches follow {low:,.6g} to {high:,.6g} Hz, and in flight the motors run "
        f"at {first:,.0f} to {full:,.0f} Hz; it hovers at {hover[0]:,.0f} to {hover[1]:,.0f} Hz: "
        f"{missed:.0f} % of that is left out.",
        (tracking.path("low"), tracking.path("high"), *speeds.paths),
        (
            ("missed_percent", missed),
            ("limit_percent", most),
            ("full_hz", full),
            ("hover_low_hz", hover[0]),
            ("hover_high_hz", hover[1]),
        ),
        advice=f"Let them follow up to {full:,.0f} Hz, and from well below where it hovers.",
    )


def _follows_motors(craft: Craft, hover: tuple[float, float]) -> bool:
    """Whether other notches follow the motors by their reports, from hovering on."""
    motor = craft.notches.motor
    if not (motor.states("enabled") and motor.enabled and motor.states("low")):
        return False
    reports = craft.esc.states("reports") and craft.esc.reports
    return bool(reports and (not motor.states("harmonics") or motor.harmonics)) and (
        motor.low <= hover[1]
    )


def _motor_notches_miss(craft: Craft, sheet: "Sheet", _: float) -> Iterator[Yielded]:
    motor = craft.notches.motor
    if not motor.states("enabled") or not motor.enabled or not motor.harmonics:
        return
    speeds, hover = hover_speeds(sheet), hover_between(sheet)
    if motor.low > hover[1] * (1 + 1e-9):
        yield Fires(
            f"The notches follow the motors from {motor.low:,.6g} Hz on, and it hovers at "
            f"{hover[0]:,.0f} to {hover[1]:,.0f} Hz: there they take nothing away.",
            (motor.path("low"), *speeds.paths),
            (("low_hz", motor.low), ("hover_low_hz", hover[0]), ("hover_high_hz", hover[1])),
            advice=f"Let them follow from well below {hover[0]:,.0f} Hz.",
        )


@rule("notch/does-nothing", Level.WARNING)
def does_nothing(craft: Craft) -> Iterator[Yielded]:
    """Notches are switched on and set so that they follow nothing.

    The highest frequency followed is not above the lowest, or there are no notches or harmonics
    to follow with.

    In the air: the motors' noise that they were to take out reaches the loop: hot motors.
    Mend: set the lowest below the highest, and one notch or harmonic at least; or switch them
    off.
    Source: common practice.
    """
    yield from each((_tracks_nothing, _no_harmonics), lambda check: check(craft))


def _tracks_nothing(craft: Craft) -> Iterator[Yielded]:
    tracking = craft.notches.tracking
    if not tracking.enabled:
        return
    if tracking.states("count") and tracking.count == 0:
        yield Fires(
            "The tracking notches are on, and there are none of them.",
            (tracking.path("count"), tracking.path("enabled")),
            (("count", 0.0),),
            advice="Set one at least, or switch them off.",
        )
    elif tracking.low >= tracking.high:
        yield Fires(
            f"The tracking notches are to follow from {tracking.low:,.6g} to "
            f"{tracking.high:,.6g} Hz, which is no range.",
            (tracking.path("low"), tracking.path("high")),
            (("low_hz", tracking.low), ("high_hz", tracking.high)),
            advice="Set the lowest below the highest; perhaps the two were exchanged.",
        )


def _no_harmonics(craft: Craft) -> Iterator[Yielded]:
    motor = craft.notches.motor
    if motor.enabled and motor.harmonics == 0:
        yield Fires(
            "The notches that follow the motors are on, and have no harmonics to follow.",
            (motor.path("harmonics"), motor.path("enabled")),
            (("harmonics", 0.0),),
            advice="Set one at least, or switch them off.",
        )


@rule("notch/too-many", Level.WARNING, limits=("notch.steps_most",))
def notch_too_many(craft: Craft, most: float) -> Iterator[Yielded]:
    """The notches that move are more than the processor may have time for.

    Each of them is reckoned anew on each of three axes at every turn of the loop.

    In the air: turns of the loop come late or fall out, and the craft shakes or does not do what
    the sticks say.
    Mend: fewer harmonics or tracking notches, or a slower loop.
    Source: common practice; what a board can do is its maker's to say.
    """
    motor, tracking = craft.notches.motor, craft.notches.tracking
    counted: list[tuple[str, int]] = []
    paths: list[str] = []
    if motor.enabled:
        counted.append(("motor-speed", motor.harmonics * motor_count(craft)))
        paths += [motor.path("harmonics"), motor.path("enabled")]
    if tracking.enabled:
        counted.append(("tracking", tracking.count))
        paths += [tracking.path("count"), tracking.path("enabled")]
    if not counted:
        return
    rate = craft.loop.rate
    notches = sum(count for _, count in counted)
    steps = notches * _AXES * rate
    if steps > most * (1 + 1e-9):
        told = listed([f"{count} {word} notches" for word, count in counted])
        yield Fires(
            f"{told} on each of {_AXES} axes at {rate:,.6g} Hz are {steps:,.6g} notch steps a "
            f"second, more than {most:,.6g}.",
            (*paths, craft.loop.path("rate")),
            (
                ("notches", float(notches)),
                ("axes", float(_AXES)),
                ("loop_hz", rate),
                ("steps_hz", steps),
                ("limit_hz", most),
            ),
            advice="Take fewer harmonics or tracking notches, or a slower loop; watch the "
            "processor's load where the firmware shows it.",
        )


RULES = (
    filter_above_nyquist,
    filter_none,
    filter_delay,
    filter_attenuation,
    filter_order,
    notch_needs_reports,
    notch_poles,
    range_misses_motors,
    does_nothing,
    notch_too_many,
)
