"""Notches that move: what they need to know, and what they cost."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.motors import range_missed
from cfgaudit.rules.motor_speeds import hover_between, idle_speeds
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, rule
from cfgaudit.rules.stages import motor_count
from cfgaudit.rules.wiring import carrying
from cfgaudit.rules.wording import listed

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet

_AXES = 3


@rule("notch/needs-reports", Level.ERROR)
def notch_needs_reports(craft: Craft) -> Iterator[Yielded]:
    """Notches are to follow the motors' speed, and no speed is reported.

    In the air: the notches stand still beside the noise; whatever other filters were taken off
    for their sake is missing, and the motors get hot.
    Mend: switch on speed reports, or switch the notches off and filter the gyro otherwise.
    Source: common practice.
    """
    motor = craft.notches.motor
    if not motor.enabled:
        return
    stated = craft.esc.states("reports")
    if (stated and craft.esc.reports) or carrying(craft, "esc_reports"):
        return
    if not stated:
        yield Lacks(craft.esc.path("reports"))
        return
    yield Fires(
        "Notches are to follow the motors' speed, but they have no speed to follow: reports on "
        "the signal wires are off, and no port carries the esc_reports role.",
        (motor.path("enabled"), craft.esc.path("reports")),
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
    """The range of the tracking notches leaves out much of what the motors run at.

    Their speeds go from the idle throttle on an empty pack to full throttle on a full one, by
    the Kv of the build sheet, without what the propeller holds them back. A range that leaves
    out every speed at which the craft may hover is told of whatever else it leaves out.

    In the air: where the motors run outside of the range the notches stand beside the noise; the
    motors get hot at just that throttle.
    Mend: widen the range to the motors' speeds; the lowest ones make little noise.
    Source: speed is Kv times voltage (textbook); how much may be left out: common practice.
    """
    tracking = craft.notches.tracking
    if not tracking.enabled or not tracking.count:
        return
    speeds = idle_speeds(craft, sheet)
    low, high = sorted((tracking.low, tracking.high))
    idle, full = speeds.low_hz, speeds.full_hz
    missed = range_missed((low, high), (idle, full)) * 100
    hovers = sheet.propulsion.states("hover_throttle")
    hover = hover_between(sheet) if hovers else (low, high)
    if missed <= most * (1 + 1e-9) and hover[0] <= high and low <= hover[1]:
        return
    told = f"; it hovers at {hover[0]:,.0f} to {hover[1]:,.0f} Hz" if hovers else ""
    yield Fires(
        f"The tracking notches follow {low:,.6g} to {high:,.6g} Hz, and the motors run at "
        f"{idle:,.0f} to {full:,.0f} Hz{told}: {missed:.0f} % of that is left out.",
        (tracking.path("low"), tracking.path("high"), *speeds.paths),
        (
            ("missed_percent", missed),
            ("limit_percent", most),
            ("idle_hz", idle),
            ("full_hz", full),
            *((("hover_low_hz", hover[0]), ("hover_high_hz", hover[1])) if hovers else ()),
        ),
        advice=f"Let them follow up to {full:,.0f} Hz, and from well below where it hovers.",
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


RULES = (notch_needs_reports, notch_poles, range_misses_motors, notch_too_many)
