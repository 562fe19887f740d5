"""Sensors as mounted and as set, position, and the way home."""

from collections.abc import Iterator, Mapping
from functools import partial
from math import atan2, ceil, degrees, hypot
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Asked, Craft, if_stated
from cfgaudit.craft.link_loss import SINKS_LEAST
from cfgaudit.physics.matrices import (
    Matrix,
    angle_between_deg,
    believed_rates,
    is_square,
    transpose,
)
from cfgaudit.rules.geometry import rotation_of
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Level,
    NotApplicable,
    Yielded,
    each,
    grouped,
    listed,
    rule,
)
from cfgaudit.rules.wiring import unreadable
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import FUNCTIONS, Rotation
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.sheet import Turned


_AXES: Final = ("roll", "pitch", "yaw")
_SQUARE_DEG: Final = 45.0
# At a quarter turn from level a craft lies on its side.
_ON_ITS_SIDE_DEG: Final = 90.0
_USUAL_TILT_DEG: Final = 25.0  # common practice
# Functions and actions on link loss that level the craft by themselves.
_LEVELLING: Final = ("self_level", "position_hold", "return_home", "land")


def calling(craft: Craft, functions: tuple[str, ...]) -> tuple[str, ...]:
    """The settings that call for one of these functions: the failsafe's action, the switches.

    An action on link loss that no switch works may be among them.

    Raises NotStated where none is known to, and not all can be told.
    """
    found: list[str] = []
    asked = Asked()
    if asked.of(lambda: craft.failsafe.action in functions):
        found.append(craft.failsafe.path("action"))
    doubted = unreadable(craft)
    for function in filter(FUNCTIONS.__contains__, functions):
        path = craft.switches.path_of(function)
        if path in doubted:
            asked.lacks.append(path)
        elif asked.of(partial(craft.switches.of, function)):
            found.append(path)
    if asked.lacks and not found:
        raise NotStated(asked.lacks[0])
    return tuple(found)


@rule("sensor/rotation-not-square", Level.NOTE, over=lambda craft: ("board", "compass"))
def rotation_not_square(craft: Craft, what: str) -> Iterator[Yielded]:
    """The board or the compass is set to be turned by an angle that is no multiple of 45 degrees.

    In the air: if it does not stand so, the craft leans and drifts when it should be level, or
    flies a bent way home.
    Mend: if the angle was measured, leave it; else set the nearest multiple of 45 degrees, and
    the accelerometer's trim for what is left.
    Source: MAVLink's MAV_SENSOR_ORIENTATION, whose turns are multiples of 45 degrees but for one.
    """
    if what == "compass" and not craft.sensors.compass.enabled:
        return
    turn = craft.board.rotation if what == "board" else craft.sensors.compass.rotation
    angles = {axis: _angle(turn, axis) for axis in _AXES if turn.states(axis)}
    odd = [axis for axis, angle in angles.items() if not is_square(angle, _SQUARE_DEG)]
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


def _angle(turn: Rotation, axis: str) -> float:
    return float(getattr(turn, axis))


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
    """The craft arms while it lies on its side or upside down; a note where it can right itself.

    In the air: nothing; on the ground the motors start under the hand that turns it over, or
    drive it along the grass.
    Mend: let it arm up to 25 degrees or so.
    Source: common practice; at 90 degrees a craft lies on its side.
    """
    tilt, senses = craft.arming.max_tilt, craft.sensors.accelerometer
    if senses.states("enabled") and not senses.enabled:
        raise NotApplicable("Without an accelerometer no tilt is told.")
    if tilt >= _ON_ITS_SIDE_DEG:
        lies = "upside down" if tilt >= 2 * _ON_ITS_SIDE_DEG else "on its side"
        path = craft.arming.path("max_tilt")
        rights = bool(craft.switches.ranges.stated().get("self_right"))
        yield Fires(
            f"The craft arms at a tilt of up to {number_text(tilt)} deg, so {lies} too"
            + (": as it must to right itself." if rights else "."),
            (path,),
            (("max_tilt_deg", tilt), ("limit_deg", _ON_ITS_SIDE_DEG)),
            advice="Keep hands off it while it lies.",
            level=Level.NOTE if rights else Level.WARNING,
        ).mended([] if rights else [Edit(path, f"{number_text(_USUAL_TILT_DEG)} deg")])


@rule("sensor/arming-tilt-small", Level.WARNING, limits=("sensor.arming_tilt_least",))
def arming_tilt_small(craft: Craft, least: float) -> Iterator[Yielded]:
    """The craft arms only where it stands more level than ordinary ground is.

    In the air: nothing: on a slope or in the grass it does not arm; so it is armed in the hand, or
    the check is switched off.
    Mend: let it arm up to 25 degrees or so.
    Source: common practice. Where the check is switched off, the tilt is of no account.
    """
    tilt = craft.arming.max_tilt
    if tilt >= least or (craft.arming.states("waived") and "tilt" in craft.arming.waived):
        return
    yield Fires(
        f"The craft arms at a tilt of up to {number_text(tilt)} deg only, and ground is seldom "
        f"level to {number_text(least)} deg.",
        (craft.arming.path("max_tilt"),),
        (("max_tilt_deg", tilt), ("limit_deg", least)),
        advice=f"Let it arm up to {number_text(_USUAL_TILT_DEG)} degrees or so.",
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


_RELYING_ON_POSITION: Final = ("position_hold", "return_home")


@rule("sensor/checks-waived", Level.WARNING)
def checks_waived(craft: Craft) -> Iterator[Yielded]:
    """Checks that the firmware makes before it arms were switched off by somebody.

    An error where it is that of the throttle, or that of the position on a craft that flies by
    it. On one that does not there is nothing to check about the position.

    In the air: whatever the check was to keep on the ground takes off.
    Mend: take every check back, and put right what it complains of.
    Source: common practice.
    """
    waived = craft.arming.waived
    callers = _flown_by_position(craft) if "position" in waived else ()
    needless = {"position"} if callers == () else set()
    named = [check for check in GUARDS if check in waived and check not in needless]
    if named:
        count = len(named)
        guarded = "; ".join(f"{check} guards against {GUARDS[check]}" for check in named)
        grave = "position" in named and bool(callers)
        kept = ", ".join(sorted(waived - set(named))) or "none"
        yield Fires(
            f"{count} {'check' if count == 1 else 'checks'} before arming "
            f"{'is' if count == 1 else 'are'} waived: {guarded}.",
            (craft.arming.path("waived"), *(callers or ())),
            (("checks", float(count)),),
            mend=(Edit(craft.arming.path("waived"), kept),),
            # without the one it takes off with the throttle open, without the other with no home
            level=Level.ERROR if "throttle" in named or grave else Level.WARNING,
        )


def _flown_by_position(craft: Craft) -> tuple[str, ...] | None:
    """What calls for a function that relies on the position; None where that can't be told."""
    return if_stated(lambda: calling(craft, _RELYING_ON_POSITION), None)


@rule("position/too-seldom", Level.WARNING, limits=("position.rate_least",))
def too_seldom(craft: Craft, least: float) -> Iterator[Yielded]:
    """The craft flies by its position, and gets it so seldom that it is old before it is used.

    In the air: it overshoots home or the place that it holds, and swings about it.
    Mend: five to ten fixes a second.
    Source: arithmetic, way is speed times time; the limit: common practice.
    """
    rate = craft.position.rate
    if rate >= least:
        return
    callers = calling(craft, _RELYING_ON_POSITION)
    if callers:
        yield Fires(
            f"A fix comes every {number_text(round(1 / rate, 2))} s, and the craft flies by it.",
            (craft.position.path("rate"), *callers),
            (("rate_hz", rate), ("least_hz", least), ("seconds", 1 / rate)),
            advice="Set five to ten fixes a second, and a rate of the port that carries them.",
        )


@rule("home/height-unmeasured", Level.WARNING)
def height_unmeasured(craft: Craft) -> Iterator[Yielded]:
    """The craft is to fly home at a height that only satellites tell it.

    In the air: their height wanders by tens of metres: it comes home through the trees, or takes
    the ground for higher or lower than it is.
    Mend: switch the barometer on where the board has one.
    Source: common practice: satellites stand above and never below, so height is told worst.
    """
    if craft.sensors.barometer.enabled:
        return
    callers = calling(craft, ("return_home",))
    if callers:
        yield Fires(
            "The craft is to fly home, and its barometer is off: only satellites tell its height.",
            (craft.sensors.barometer.path("enabled"), *callers),
            advice="Switch the barometer on where the board has one.",
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


@rule("position/many-satellites", Level.WARNING, limits=("position.satellites_most",))
def many_satellites(craft: Craft, most: float) -> Iterator[Yielded]:
    """So many satellites are wanted that a position may never count.

    In the air: no place of home is set, and no hold and no way home begin; a craft that waits for
    them does not arm.
    Mend: want 8 to 12 satellites.
    Source: common practice.
    """
    wanted = craft.position.min_satellites
    if wanted > most:
        path = craft.position.path("min_satellites")
        yield Fires(
            f"A position counts from {wanted} satellites on; more than {number_text(most)} are "
            "seldom had, however open the sky.",
            (path,),
            (("min_satellites", float(wanted)), ("most", most)),
            advice="Want 8 to 12 satellites.",
        )


_STICKS: Final = ("roll right", "nose up", "turn clockwise")
_TURNS: Final = (("roll left", "roll right"), ("nose down", "nose up"),
                 ("turn anticlockwise", "turn clockwise"))  # fmt: skip
_PART: Final = 0.1  # a smaller part of a turn is not told
_WHOLE: Final = 0.99  # and from here on it is the whole of it


@rule("sensor/board-rotation", Level.ERROR, ("sensor.turn_most",), sheet=True)
def board_rotation(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The board is set to be turned otherwise than it is mounted.

    Told is the turn with which the loop would be content: the one that the board, set as it is,
    takes for what the stick asks. Angles written otherwise that mean the same turn are no
    mismatch.

    In the air: the loop corrects the wrong axis or pushes the wrong way, and the craft tumbles
    as it leaves the ground; by a small angle it leans and drifts.
    Mend: set the rotation as the board is mounted; look at its arrow.
    Source: MAVLink's MAV_SENSOR_ORIENTATION for the order of the turns (published); the rest is
    our own hand calculation, the limit common practice.
    """
    board = _Mounting(craft.board.rotation, sheet.board.turned)
    apart = board.apart_deg()
    if apart <= most + 1e-6:
        return
    content = transpose(board.believed())
    wrong = [
        f"{_STICKS[stick]} on the stick ends as {says}"
        for stick, says in enumerate(_turn_for(content, stick) for stick in range(3))
        if says != _STICKS[stick]
    ]
    so = f"As far as it flies at all, {listed(wrong)}." if wrong else "It leans and drifts."
    yield board.differs("board", apart, so)


def _turn_for(content: Matrix, stick: int) -> str:
    """What the craft does when the board takes it for what this stick asks."""
    parts = [(content[axis][stick], axis) for axis in range(3)]
    strong = [(part, axis) for part, axis in parts if abs(part) >= _PART]
    if len(strong) == 1 or max(abs(part) for part, _ in strong) >= _WHOLE:
        part, axis = max(strong, key=lambda entry: abs(entry[0]))
        return _TURNS[axis][part > 0]
    return listed([f"{_TURNS[axis][part > 0]} by {abs(part) * 100:.0f} %" for part, axis in strong])


_RUNS_AWAY_DEG: Final = 45.0  # a heading further off than this makes a hold spiral out


@rule("sensor/compass-rotation", Level.WARNING, ("sensor.turn_most",), sheet=True)
def compass_rotation(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The compass is set to be turned otherwise than it is mounted.

    An error above 45 degrees where the craft holds its position or flies home.

    In the air: north is wrong: the way home is flown askew, by a large angle in a growing
    circle, and a held position is left the same way.
    Mend: set the rotation as the compass is mounted, then calibrate it and compare its heading
    with a hand compass.
    Source: MAVLink's MAV_SENSOR_ORIENTATION for the order of the turns (published); the rest is
    our own hand calculation, the limit common practice.
    """
    compass = craft.sensors.compass
    if not compass.enabled:
        return
    turned = _Mounting(compass.rotation, sheet.compass.turned)
    apart = turned.apart_deg()
    if apart <= most + 1e-6:
        return
    callers = _flown_by_position(craft) if apart > _RUNS_AWAY_DEG + 1e-6 else ()
    found = turned.differs("compass", apart, _heading(turned.believed()))
    yield found._replace(
        paths=(*found.paths, *(callers or ())), level=Level.ERROR if callers else Level.WARNING
    )


def _heading(seen: Matrix) -> str:
    """What a level craft takes its heading for. Turned about the down axis alone it is off by
    one angle throughout; else it hangs on where the nose points, and on the field's dip."""
    if hypot(seen[2][0], seen[2][1]) < 1e-6 and seen[2][2] > 0:
        # A field turned by an angle is the heading turned back by it.
        off = -degrees(atan2(seen[1][0], seen[0][0]))
        way = "clockwise" if off > 0 else "anticlockwise"
        return f"The heading is told {number_text(round(abs(off), 1))} deg too far {way}."
    return "The heading is wrong by an angle that changes as the nose turns."


class _Mounting(NamedTuple):
    """A part as it is set to be turned and as it is mounted, and what is told where they differ."""

    set_to: Rotation
    mounted: "Turned"

    def apart_deg(self) -> float:
        """By what angle the two differ. Raises NotStated."""
        return angle_between_deg(rotation_of(self.set_to), rotation_of(self.mounted))

    def believed(self) -> Matrix:
        """What the loop takes a turn of the craft for. Raises NotStated."""
        return believed_rates(rotation_of(self.set_to), rotation_of(self.mounted))

    def differs(self, what: str, apart: float, so: str) -> Fires:
        """What is found where they differ; never without a path, since the turns differ."""
        angles = list(zip(_AXES, self.set_to.angles(), self.mounted.angles(), strict=True))
        odd = [axis for axis, one, other in angles if one != other]
        seen = [axis for axis in odd if self.mounted.states(axis)] or self.mounted.stated()
        told = ", ".join(f"{axis} {number_text(angle)}" for axis, angle, _ in angles)
        true = ", ".join(f"{axis} {number_text(angle)}" for axis, _, angle in angles)
        return Fires(
            f"The {what} is set to {told} deg and mounted at {true} deg: "
            f"{number_text(round(apart, 1))} deg apart. {so}",
            (
                *(self.set_to.path(axis) for axis in odd),
                *(self.mounted.path(axis) for axis in seen),
            ),
            (
                ("apart_deg", apart),
                *((f"set_{axis}_deg", angle) for axis, angle, _ in angles),
                *((f"{axis}_deg", angle) for axis, _, angle in angles),
            ),
            mend=tuple(
                Edit(self.set_to.path(axis), f"{number_text(angle)} deg")
                for axis, _, angle in angles
                if axis in odd
            ),
        )


_NAMES = {"altitude": "height on the way home", "ceiling": "greatest height"}


@rule("home/above-limit", Level.WARNING, limits=("home.height_most",), over=lambda craft: _NAMES)
def above_limit(craft: Craft, leaf: str, most: float) -> Iterator[Yielded]:
    """The way home or the greatest height is above what many authorities set as their limit.

    The setting counts from where the craft took off, the limit from the ground below it: over a
    valley the craft is higher still.

    In the air: it may meet other aircraft, or leave what its operator may fly.
    Mend: look up what the local rules decide, and set a height within it.
    Source: EU 2019/947, UAS.OPEN.010(2): 120 m from the closest point of the surface; 14 CFR
    107.51 has 400 ft. A caution only: local rules decide.
    """
    height = craft.home.altitude if leaf == "altitude" else craft.home.ceiling
    if height > most:
        yield Fires(
            f"The {_NAMES[leaf]} is {grouped(height)} m, above {grouped(most)} m. Many "
            "authorities set a limit near 120 m above the ground; local rules decide.",
            (craft.home.path(leaf),),
            (("height_m", height), ("limit_m", most)),
            advice="Look up what the local rules decide, and set a height within it.",
        )


@rule("home/altitude-above-ceiling", Level.WARNING)
def altitude_above_ceiling(craft: Craft) -> Iterator[Yielded]:
    """The way home is to be flown above the greatest height.

    In the air: the two contradict each other: the craft comes home lower than was meant, perhaps
    into what the height was to clear, or breaks through its ceiling.
    Mend: raise the ceiling above the height of the way home, or lower that height.
    Source: common practice.
    """
    _finds_home(craft)
    altitude, ceiling = craft.home.altitude, craft.home.ceiling
    if altitude > ceiling > 0:
        yield Fires(
            f"The way home is to be flown at {grouped(altitude)} m, "
            f"but the greatest height is {grouped(ceiling)} m.",
            (craft.home.path("altitude"), craft.home.path("ceiling")),
            (("altitude_m", altitude), ("ceiling_m", ceiling)),
            advice="Raise the ceiling above the way home, or lower the way home.",
        )


@rule("home/too-low", Level.NOTE, limits=("home.height_least",))
def too_low(craft: Craft, least: float) -> Iterator[Yielded]:
    """The height on the way home is below that of an ordinary tree.

    A warning below half of the limit: hedges, fences, houses and the pilot stand there.

    In the air: on its way home the craft meets a tree, a roof or a wire that the pilot flew
    around on the way out.
    Mend: set it above whatever stands between the craft and home.
    Source: common practice.
    """
    _finds_home(craft)
    altitude = craft.home.altitude
    if altitude < least:
        yield Fires(
            f"The way home is flown at {grouped(altitude)} m, below {grouped(least)} m: "
            "trees and wires stand higher.",
            (craft.home.path("altitude"),),
            (("altitude_m", altitude), ("limit_m", least)),
            advice="Set it above whatever stands between the craft and home.",
            level=Level.WARNING if altitude < least / 2 else None,
        )


_A_FALL: Final = 2.0  # times the limit


@rule("home/descent-fast", Level.WARNING, limits=("home.descent_most",))
def descent_fast(craft: Craft, most: float) -> Iterator[Yielded]:
    """The craft comes down to its landing faster than a small craft should.

    An error above twice the limit: it lands as if it fell.

    In the air: it sinks into its own wash, wobbles or drops, and hits the ground hard.
    Mend: let it come down at 1 to 2 m/s.
    Source: common practice.
    """
    _finds_home(craft)
    descent = craft.home.descent
    if descent > most:
        yield Fires(
            f"The craft comes down at {grouped(descent)} m/s, above {grouped(most)} m/s.",
            (craft.home.path("descent"),),
            (("descent_m_per_s", descent), ("limit_m_per_s", most)),
            advice="Let it come down at 1 to 2 m/s.",
            level=Level.ERROR if descent > _A_FALL * most else Level.WARNING,
        )


@rule(
    "sensor/trim-far",
    Level.WARNING,
    limits=("sensor.trim_most",),
    over=lambda craft: ("roll", "pitch"),
)
def trim_far(craft: Craft, axis: str, most: float) -> Iterator[Yielded]:
    """The accelerometer's level trim is larger than any trim should be.

    In the air: the craft takes a slope for level, leans and drifts off; on the way home it flies
    askew.
    Mend: look how the board is mounted, calibrate the accelerometer on level ground, then trim.
    Source: common practice: a trim makes good some degrees of a board that is not quite level.
    """
    trim = craft.sensors.accelerometer.trim
    angle = trim.roll if axis == "roll" else trim.pitch
    if abs(angle) > most:
        yield Fires(
            f"The level trim in {axis} is {number_text(angle)} deg, more than "
            f"{grouped(most)} deg either way.",
            (trim.path(axis),),
            (("trim_deg", angle), ("limit_deg", most)),
            advice="Calibrate the accelerometer on level ground, then trim anew.",
        )


@rule("home/never-arrives", Level.ERROR, limits=("home.speed_least",))
def never_arrives(craft: Craft, least: float) -> Iterator[Yielded]:
    """The way home is flown, or come down, at no speed or hardly any.

    A warning where it is flown so slowly that a light wind holds the craft, or comes down below
    0.3 m/s, a fifth of what is usual.

    In the air: the craft hangs where it lost the link, or above home, until its pack is empty.
    Mend: set a speed above that of the winds flown in, and one at which the landing is soft.
    Source: common practice.
    """
    _finds_home(craft)
    yield from each(_SPEEDS, lambda leaf: _standing(craft, leaf))
    yield from each((_slow_on_the_way, _slow_descent), lambda check: check(craft, least))


def _slow_on_the_way(craft: Craft, least: float) -> Iterator[Yielded]:
    speed = craft.home.speed
    if 0 < speed < least:
        yield Fires(
            f"The way is flown home at {grouped(speed)} m/s: a wind of {grouped(least)} m/s, which "
            "is a light one, carries the craft the other way.",
            (craft.home.path("speed"),),
            (("speed_m_per_s", speed), ("least_m_per_s", least)),
            level=Level.WARNING,
            advice="Set 5 m/s or more, as fast as the craft flies home with a pack that is low.",
        )


def _slow_descent(craft: Craft, _: float) -> Iterator[Yielded]:
    descent = craft.home.descent
    if 0 < descent < SINKS_LEAST:
        height = craft.home.altitude if craft.home.states("altitude") else 0.0
        takes = f": from {grouped(height)} m that takes {grouped(round(height / descent))} s"
        yield Fires(
            f"The craft comes down to its landing at {grouped(descent)} m/s"
            f"{takes if height else ''}.",
            (craft.home.path("descent"), *([craft.home.path("altitude")] if height else [])),
            (("descent_m_per_s", descent), ("least_m_per_s", SINKS_LEAST)),
            level=Level.WARNING,
            advice="So slow a way down is hardly meant, 0.5 to 2 m/s is usual: perhaps its decimal "
            "point moved.",
        )


@rule("home/too-fast", Level.WARNING, limits=("home.speed_most",))
def too_fast(craft: Craft, most: float) -> Iterator[Yielded]:
    """The way home is flown faster than a small craft should fly by itself.

    In the air: it leans as far as it may, sinks or overshoots home, and nobody who stands in its
    way sees it come.
    Mend: set 5 to 15 m/s, as fast as the craft flies home with a pack that is low.
    Source: common practice.
    """
    _finds_home(craft)
    speed = craft.home.speed
    if speed > most:
        yield Fires(
            f"The way is flown home at {grouped(speed)} m/s, above {grouped(most)} m/s.",
            (craft.home.path("speed"),),
            (("speed_m_per_s", speed), ("limit_m_per_s", most)),
            advice="Set 5 to 15 m/s, as fast as the craft flies home with a pack that is low.",
        )


_SPEEDS: Final = {"speed": "flown home", "descent": "come down"}


def _standing(craft: Craft, leaf: str) -> Iterator[Yielded]:
    if (craft.home.speed if leaf == "speed" else craft.home.descent) == 0:
        yield Fires(
            f"The way is {_SPEEDS[leaf]} at 0 m/s: the craft never arrives.",
            (craft.home.path(leaf),),
            ((f"{leaf}_m_per_s", 0.0),),
            advice="Set a speed at which it gets there before the pack is empty.",
        )


@rule("home/starts-too-far", Level.WARNING)
def starts_too_far(craft: Craft) -> Iterator[Yielded]:
    """No way home is flown nearer than further off than the craft may be high.

    In the air: on most flights nothing brings it home: it does where it is whatever it does
    instead.
    Mend: set the least distance to some 15 to 30 m.
    Source: common practice: a small craft flown by sight is seldom further off than its ceiling.
    """
    _finds_home(craft)
    least, ceiling = craft.home.min_distance, craft.home.ceiling
    if least > ceiling > 0:
        yield Fires(
            f"Nearer than {grouped(least)} m no way home is flown, and the greatest height is "
            f"{grouped(ceiling)} m.",
            (craft.home.path("min_distance"), craft.home.path("ceiling")),
            (("min_distance_m", least), ("ceiling_m", ceiling)),
            advice="Set the least distance to some 15 to 30 m.",
        )


def _finds_home(craft: Craft) -> None:
    """Raise NotApplicable where the craft is known to have no position."""
    if craft.position.states("enabled") and not craft.position.enabled:
        raise NotApplicable("Position is switched off: the craft has no way home.")


RULES = (
    rotation_not_square,
    accelerometer_uncalibrated,
    any_attitude_arming,
    arming_tilt_small,
    checks_waived,
    too_seldom,
    height_unmeasured,
    few_satellites,
    many_satellites,
    board_rotation,
    compass_rotation,
    above_limit,
    altitude_above_ceiling,
    too_low,
    descent_fast,
    trim_far,
    never_arrives,
    too_fast,
    starts_too_far,
)
