"""Sensors and position: how they are turned, learnt and waited for."""

from collections.abc import Iterator, Mapping
from math import ceil
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.identity import Turn
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.rotation import is_square
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, rule
from cfgaudit.rules.wiring import unreadable
from cfgaudit.rules.wording import listed
from cfgaudit.units import number_text

_AXES: Final = ("roll", "pitch", "yaw")
_SQUARE_DEG: Final = 45.0
# At a quarter turn from level a craft lies on its side.
_ON_ITS_SIDE_DEG: Final = 90.0
_USUAL_TILT_DEG: Final = 25.0  # common practice
_LEVELLING: Final = ("self_level", "position_hold", "return_home")


def calling(craft: Craft, functions: tuple[str, ...]) -> tuple[str, ...]:
    """The settings that call for one of these functions: the failsafe's action, the switches.

    Raises NotStated where none is known to, and not all can be told.
    """
    found: list[str] = []
    lacks: list[str] = []
    try:
        if craft.failsafe.action in functions:
            found.append(craft.failsafe.path("action"))
    except NotStated as lack:
        lacks.append(lack.path)
    doubted = unreadable(craft)
    for function in functions:
        path = craft.switches.path_of(function)
        try:
            if path in doubted:
                lacks.append(path)
            elif craft.switches.of(function):
                found.append(path)
        except NotStated as lack:
            lacks.append(lack.path)
    if lacks and not found:
        raise NotStated(lacks[0])
    return tuple(found)


@rule("sensor/rotation-not-square", Level.NOTE)
def rotation_not_square(craft: Craft) -> Iterator[Yielded]:
    """The board or the compass is set to be turned by an angle that is no multiple of 45 degrees.

    In the air: if it does not stand so, the craft leans and drifts when it should be level, or
    flies a bent way home.
    Mend: if the angle was measured, leave it; else set the nearest multiple of 45 degrees, and
    the accelerometer's trim for what is left.
    Source: MAVLink's MAV_SENSOR_ORIENTATION, whose turns are multiples of 45 degrees but for one.
    """
    yield from each((_board, _compass), lambda check: check(craft))


def _board(craft: Craft) -> Iterator[Yielded]:
    yield from _not_square("board", craft.board.rotation)


def _compass(craft: Craft) -> Iterator[Yielded]:
    if craft.sensors.compass.enabled:
        yield from _not_square("compass", craft.sensors.compass.rotation)


def _not_square(what: str, turn: Turn) -> Iterator[Yielded]:
    angles = {axis: _angle(turn, axis) for axis in _AXES if turn.states(axis)}
    odd = [axis for axis, angle in angles.items() if not is_square(angle, 0, 0, _SQUARE_DEG)]
    if odd:
        told = listed([f"{number_text(angles[axis])} deg in {axis}" for axis in odd])
        nearest = {axis: _SQUARE_DEG * round(angles[axis] / _SQUARE_DEG) for axis in odd}
        usual = listed([f"{number_text(nearest[axis])} deg in {axis}" for axis in odd])
        yield Fires(
            f"The {what} is set to be turned by {told}, which is no multiple of 45 deg.",
            tuple(turn.path(axis) for axis in odd),
            (
                *((f"{axis}_deg", angles[axis]) for axis in odd),
                *((f"nearest_{axis}_deg", nearest[axis]) for axis in odd),
            ),
            advice=f"Leave it if it was measured so; else set {usual}.",
        )
    for axis in _AXES:
        _angle(turn, axis)  # raises for one that is not stated: the turn was not seen whole


def _angle(turn: Turn, axis: str) -> float:
    if axis == "roll":
        return turn.roll
    return turn.pitch if axis == "pitch" else turn.yaw


@rule("sensor/accelerometer-uncalibrated", Level.ERROR)
def accelerometer_uncalibrated(craft: Craft) -> Iterator[Yielded]:
    """The accelerometer was not calibrated; a note where no function that levels is assigned.

    In the air: the craft takes a slope for level: it leans, drifts off, and flies the way home
    askew.
    Mend: put the craft on a level place and calibrate the accelerometer; do not just state that
    it was done.
    Source: common practice.
    """
    accelerometer = craft.sensors.accelerometer
    if accelerometer.calibrated or (accelerometer.states("enabled") and not accelerometer.enabled):
        return
    callers = calling(craft, _LEVELLING)
    yield Fires(
        "The accelerometer was not calibrated, and "
        + (f"{listed(list(callers))} rely on level." if callers else "nothing relies on level."),
        (accelerometer.path("calibrated"), *callers),
        advice="Put the craft on a level place and calibrate the accelerometer.",
        level=Level.ERROR if callers else Level.NOTE,
    )


@rule("sensor/any-attitude-arming", Level.WARNING)
def any_attitude_arming(craft: Craft) -> Iterator[Yielded]:
    """The craft arms while it lies on its side or upside down.

    In the air: nothing; on the ground the motors start under the hand that turns it over, or
    drive it along the grass.
    Mend: let it arm up to 25 degrees or so.
    Source: common practice; at 90 degrees a craft lies on its side.
    """
    tilt = craft.arming.max_tilt
    if tilt >= _ON_ITS_SIDE_DEG:
        lies = "upside down" if tilt >= 2 * _ON_ITS_SIDE_DEG else "on its side"
        yield Fires(
            f"The craft arms at a tilt of up to {number_text(tilt)} deg, so {lies} too.",
            (craft.arming.path("max_tilt"),),
            (("max_tilt_deg", tilt), ("limit_deg", _ON_ITS_SIDE_DEG)),
            mend=(Edit(craft.arming.path("max_tilt"), f"{number_text(_USUAL_TILT_DEG)} deg"),),
        )


# What each check before arming guards against, in the vocabulary's order.
GUARDS: Final[Mapping[str, str]] = {
    "tilt": "motors that start while the craft lies on its side",
    "throttle": "motors that start with the throttle open",
    "calibration": "a gyro or accelerometer that has not found its zero",
    "position": "a take-off before the place of home is known",
    "battery": "a take-off on a flat pack",
    "receiver": "a take-off without a link",
    "compass": "a way home flown by a wrong north",
    "load": "a control loop that the processor can't keep up with",
}


@rule("sensor/checks-waived", Level.WARNING)
def checks_waived(craft: Craft) -> Iterator[Yielded]:
    """Checks that the firmware makes before it arms were switched off by somebody.

    In the air: whatever the check was to keep on the ground takes off.
    Mend: take every check back, and put right what it complains of.
    Source: common practice.
    """
    waived = craft.arming.waived
    if waived:
        named = [check for check in GUARDS if check in waived]
        count = len(named)
        guarded = "; ".join(f"{check} guards against {GUARDS[check]}" for check in named)
        yield Fires(
            f"{count} {'check' if count == 1 else 'checks'} before arming "
            f"{'is' if count == 1 else 'are'} waived: {guarded}.",
            (craft.arming.path("waived"),),
            (("checks", float(count)),),
            mend=(Edit(craft.arming.path("waived"), "none"),),
        )


@rule("position/few-satellites", Level.WARNING, limits=("position.satellites_least",))
def few_satellites(craft: Craft, least: float) -> Iterator[Yielded]:
    """The craft is to return home, and a position of few satellites counts.

    None at all with a failsafe that returns home is the matter of failsafe/home-without-position.

    In the air: the place of home, and the craft's own, may be many metres off: it comes down
    beside the field.
    Mend: want at least 6 satellites.
    Source: common practice; a fix by itself needs 4, three for the place and one for the time.
    """
    wanted = craft.position.min_satellites
    if wanted >= least:
        return
    callers = calling(craft, ("return_home",))
    path = craft.position.path("min_satellites")
    if callers and not (wanted == 0 and craft.failsafe.path("action") in callers):
        count = f"{wanted} satellite{'' if wanted == 1 else 's'}"
        yield Fires(
            f"The craft is to return home, and a position of {count} counts; "
            f"below {number_text(least)} it can be many metres off.",
            (path, *callers),
            (("min_satellites", float(wanted)), ("least", least)),
            mend=(Edit(path, str(ceil(least))),),
        )


RULES = (
    rotation_not_square,
    accelerometer_uncalibrated,
    any_attitude_arming,
    checks_waived,
    few_satellites,
)
