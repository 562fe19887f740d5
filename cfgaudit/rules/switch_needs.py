"""The switches: what a function needs besides its range, and what no switch does."""

from collections.abc import Callable, Iterator
from itertools import product
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft, if_stated
from cfgaudit.physics.motors import is_digital
from cfgaudit.rules.rule import Edit, Fires, Level, NotApplicable, Yielded, each, listed, rule
from cfgaudit.rules.switches import ranges_of, real
from cfgaudit.rules.wiring import carrying, give_a_port

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


@rule("switch/needs-sensor", Level.ERROR, sheet="wanted")
def needs_sensor(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """A switch works a function whose sensor is missing or switched off.

    In the air: the function does nothing when it is wanted, or the craft flies by a sensor that
    tells it nothing: it drifts off, climbs or sinks.
    Mend: switch the sensor on and see that it is wired; or take the function off the switch.
    Source: common practice. The way home and position_hold need a position, they and self_level
    an accelerometer, altitude_hold a barometer or a range finder. A compass that the build sheet
    says is fitted is wanted by position_hold and the way home; where none is, a note.
    """
    fitted = sheet is not None and bool(sheet.compass.turned.stated())
    checks: list[Callable[[], Iterator[Yielded]]] = [
        lambda: _without_position(craft, sheet),
        lambda: _without_height(craft),
        lambda: _without_level(craft),
    ]
    if fitted or craft.sensors.compass.states("enabled"):
        checks.append(lambda: _without_compass(craft, fitted))
    yield from each(checks, lambda check: check())


def _without_compass(craft: Craft, fitted: bool) -> Iterator[Yielded]:
    functions = _switched(craft, "position_hold", "return_home")
    if not functions or craft.sensors.compass.enabled:
        return
    if not fitted:
        yield Fires(
            f"{_worked(functions)}, and there is no compass: which way the craft points it can "
            "tell by its way over the ground alone, once it moves.",
            _paths(craft, functions, "sensors.compass.enabled"),
            level=Level.NOTE,
            advice="Look up whether the firmware does this without a compass, and try it above "
            "open ground, ready to take over.",
        )
    else:
        yield Fires(
            f"{_worked(functions)}, and the compass that is fitted is switched off.",
            _paths(craft, functions, "sensors.compass.enabled"),
            mend=(Edit("sensors.compass.enabled", "on"),),
        )


def _switched(craft: Craft, *functions: str) -> list[str]:
    """Those of the functions that a switch works."""
    return [function for function in functions if real(ranges_of(craft, function))]


def _worked(functions: list[str]) -> str:
    return f"{'A switch works' if len(functions) == 1 else 'Switches work'} {listed(functions)}"


def _paths(craft: Craft, functions: list[str], *more: str) -> tuple[str, ...]:
    return (*(craft.switches.path_of(function) for function in functions), *more)


def _without_position(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    functions = _switched(craft, "position_hold", "return_home")
    if "position_hold" in functions and if_stated(lambda: carrying(craft, "optical_flow"), []):
        functions.remove("position_hold")  # an optical flow sensor sees the place to hold
    if not functions:
        return
    said = _worked(functions)
    if not craft.position.enabled:
        yield Fires(
            f"{said}, but position is switched off.",
            _paths(craft, functions, "position.enabled"),
            mend=(Edit("position.enabled", "on"),) if carrying(craft, "position") else (),
            advice="Wire a position receiver and switch position on.",
        )
    elif not carrying(craft, "position"):
        yield Fires(
            f"{said}, but no port carries position.",
            _paths(craft, functions),
            advice=give_a_port(craft, "position", sheet),
        )


def _without_height(craft: Craft) -> Iterator[Yielded]:
    functions = _switched(craft, "altitude_hold")
    if not functions or craft.sensors.barometer.enabled:
        return
    if not carrying(craft, "range_finder"):
        yield Fires(
            f"{_worked(functions)}, but the barometer is switched off and no port "
            "carries a range finder.",
            _paths(craft, functions, "sensors.barometer.enabled"),
            mend=(Edit("sensors.barometer.enabled", "on"),),
        )


def _without_level(craft: Craft) -> Iterator[Yielded]:
    functions = _switched(craft, "self_level", "position_hold", "return_home")
    if functions and not craft.sensors.accelerometer.enabled:
        yield Fires(
            f"{_worked(functions)}, but the accelerometer is switched off.",
            _paths(craft, functions, "sensors.accelerometer.enabled"),
            mend=(Edit("sensors.accelerometer.enabled", "on"),),
        )


@rule("switch/no-kill", Level.NOTE)
def no_kill(craft: Craft) -> Iterator[Yielded]:
    """Nothing stops the motors but what arms the craft.

    In the air: if that switch fails, or a check keeps the craft from disarming, nothing is left
    to stop the propellers with, on a person or in a tree.
    Mend: give motors_kill a switch of its own.
    Source: common practice. A failsafe switch counts where link loss stops the motors.
    """
    if ranges_of(craft, "motors_kill"):
        return
    if ranges_of(craft, "failsafe") and craft.failsafe.action == "motors_off":
        return
    yield Fires(
        "No switch stops the motors apart from arming.",
        (craft.switches.path_of("motors_kill"),),
        advice="Give motors_kill a switch of its own.",
    )


@rule("switch/no-finder", Level.NOTE)
def no_finder(craft: Craft) -> Iterator[Yielded]:
    """Nothing sounds the buzzer when the pilot asks for it.

    In the air: nothing; down in reeds or high grass the craft is looked for by eye alone.
    Mend: give buzzer a switch, and switch the buzzer on.
    Source: common practice.
    """
    path = craft.switches.path_of("buzzer")
    if not ranges_of(craft, "buzzer"):
        yield Fires("No switch sounds the buzzer.", (path,), advice="Give buzzer a switch.")
    elif not craft.finder.buzzer:
        yield Fires(
            "A switch is to sound the buzzer, but the buzzer is switched off.",
            ("finder.buzzer", path),
            mend=(Edit("finder.buzzer", "on"),),
        )


_WORKED: Final = ("pad", "serial")  # how the controller can work the camera's menu


@rule("switch/overlay-covers-camera-menu", Level.NOTE)
def overlay_covers_camera_menu(craft: Craft) -> Iterator[Yielded]:
    """The sticks work the camera's own menu, and nothing hides the overlay while it is open.

    In the air: nothing; on the ground the overlay's text lies over the menu's, and a wrong entry
    is soon chosen.
    Mend: give overlay_off a switch that can be on while the menu is open.
    Source: common practice.
    """
    if craft.camera.control not in _WORKED or not craft.overlay.enabled:
        return
    hiding, menu = ranges_of(craft, "overlay_off"), ranges_of(craft, "camera_menu")
    path = craft.switches.path_of("overlay_off")
    advice = "Give overlay_off a switch that can be on while the menu is open."
    if not hiding:
        yield Fires(
            "The sticks work the camera's menu, and no switch hides the overlay over it.",
            ("camera.control", path),
            advice=advice,
        )
    elif menu and not any(
        one.channel != other.channel or one.meets(other) for one, other in product(hiding, menu)
    ):  # no two of them can be on at once
        yield Fires(
            f"Channel {menu[0].channel} opens the camera's menu, and no position of it hides the "
            "overlay as well.",
            (path, craft.switches.path_of("camera_menu"), "camera.control"),
            (("channel", float(menu[0].channel)),),
            advice=advice,
        )


@rule("switch/stick-arming-meets-camera-menu", Level.WARNING)
def stick_arming_meets_camera_menu(craft: Craft) -> Iterator[Yielded]:
    """The sticks arm the craft, and the sticks work the camera's menu.

    In the air: nothing; on the bench a stick corner meant for the menu starts the motors.
    Mend: arm by a switch, or take the camera's menu off the sticks.
    Source: common practice.
    """
    if craft.arming.by == "sticks" and craft.camera.control in _WORKED:
        yield Fires(
            f"The sticks arm the craft and also work the camera's menu, by {craft.camera.control}.",
            ("arming.by", "camera.control"),
            advice="Arm by a switch, or take the camera's menu off the sticks.",
        )


@rule("switch/self-right-does-nothing", Level.WARNING)
def self_right_does_nothing(craft: Craft) -> Iterator[Yielded]:
    """A switch is to turn the craft over, and its motors can't run backward.

    In the air: nothing; the craft that lies on its back stays there, its propellers pushing it
    into the ground.
    Mend: choose a digital protocol, if the speed controllers know one; or take self_right off its
    switch.
    Source: common practice: a digital protocol turns the motors round by a command, reversible
    thrust does without.
    """
    if not real(ranges_of(craft, "self_right")):
        raise NotApplicable("No switch turns the craft over.")
    protocol = craft.esc.protocol
    if not is_digital(protocol) and not craft.esc.reversible_thrust:
        yield Fires(
            f"A switch is to turn the craft over, but {protocol} can't turn the motors round and "
            "reversible thrust is off: it does nothing.",
            (craft.switches.path_of("self_right"), craft.esc.path("protocol")),
            advice="Choose a digital protocol, if the speed controllers know one.",
        )


@rule("switch/idle-stop-without-level", Level.WARNING)
def idle_stop_without_level(craft: Craft) -> Iterator[Yielded]:
    """The propellers rest at zero throttle while armed, and no switch levels the craft.

    In the air: with the throttle closed, in a dive or over the top of a loop, nothing holds the
    craft's attitude: it tumbles.
    Mend: let the motors idle while armed.
    Source: common practice: where the craft levels itself it is flown with the throttle up.
    """
    if craft.motors.stop_when_armed_idle and not real(ranges_of(craft, "self_level")):
        yield Fires(
            "The propellers rest at zero throttle while armed, and no switch levels the craft.",
            (craft.motors.path("stop_when_armed_idle"), craft.switches.path_of("self_level")),
            advice="Let the motors idle while armed.",
        )


RULES = (
    needs_sensor,
    self_right_does_nothing,
    idle_stop_without_level,
    no_kill,
    no_finder,
    overlay_covers_camera_menu,
    stick_arming_meets_camera_menu,
)
