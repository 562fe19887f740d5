"""Frame, motors and speed controllers."""

from cfgaudit.craft.declare import Class, Group, Part, Sub
from cfgaudit.craft.fields import flag, number, whole, word

_C = Class.SAFETY
LAYOUTS = ("quad_x", "quad_plus", "hex_x", "hex_plus", "octo_x", "custom")
DIGITAL = ("dshot150", "dshot300", "dshot600", "dshot1200")
PULSE = ("pwm", "oneshot125", "oneshot42", "multishot")


class ArmPosition(Part):
    """Where one arm ends."""

    x = number(_C, "metres forward of the centre", "m", -5, 5)
    y = number(_C, "metres to the right of the centre", "m", -5, 5)


class Frame(Part):
    """The frame."""

    layout = word(_C, "how the arms stand", *LAYOUTS)
    rotation = word(_C, "which way the propellers turn at the nose", "inward", "outward")
    arms = Group("ARM", ArmPosition)


class Mix(Part):
    """One arm's row of the mixer: roll right, nose up, yaw clockwise are positive."""

    thrust = number(_C, "share of the thrust command", "", -4, 4)
    roll = number(_C, "share of the roll command", "", -4, 4)
    pitch = number(_C, "share of the pitch command", "", -4, 4)
    yaw = number(_C, "share of the yaw command", "", -4, 4)


class Motor(Part):
    """The motor on one arm."""

    output = whole(_C, "the output that drives this arm", 1, 32)
    spin = word(_C, "the turn the mixer takes for granted, seen from above", "cw", "ccw")
    mix = Sub(Mix)


class Motors(Part):
    """All motors."""

    poles = whole(_C, "magnets of a motor, not pairs; 0 where never set", 0, 64, own=True)
    stop_when_armed_idle = flag(_C, "propellers rest at zero throttle while armed")
    arms = Group("ARM", Motor, leaf="")


class EscArm(Part):
    """What is set inside one arm's speed controller."""

    direction = word(_C, "the direction set inside the speed controller", "normal", "reversed")
    protocol = word(
        _C, "how throttle is sent to this arm, where not as to the rest", *PULSE, *DIGITAL
    )


class Esc(Part):
    """The speed controllers."""

    protocol = word(_C, "how throttle is sent to them", *PULSE, *DIGITAL)
    update_rate = number(_C, "how often a pulse is sent", "Hz", 25, 40000)
    pulse_min = number(_C, "pulse at no throttle", "us", 1, 3000)
    pulse_max = number(_C, "pulse at full throttle", "us", 1, 3000)
    pulse_arm = number(_C, "pulse while disarmed", "us", 0, 3000)
    idle = number(_C, "throttle that keeps the motors turning", "%", 0, 100)
    reports = flag(_C, "speed is sent back on the signal wire")
    reversible_thrust = flag(_C, "motors may turn both ways in flight")
    arms = Group("ARM", EscArm, leaf="")
