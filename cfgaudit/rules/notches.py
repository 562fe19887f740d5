"""Notches that move: what they need to know, and what they cost."""

from collections.abc import Iterator

from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, rule
from cfgaudit.rules.stages import motor_count
from cfgaudit.rules.wiring import carrying
from cfgaudit.rules.wording import listed

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


RULES = (notch_needs_reports, notch_poles, notch_too_many)
