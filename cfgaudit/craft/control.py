"""Gyro, loop, filters, gains and rates."""

from cfgaudit.craft.declare import Class, Group, Part, Sub
from cfgaudit.craft.fields import filters, flag, number, whole

_C = Class.CONTROL


class Gyro(Part):
    """The gyro."""

    sample_rate = number(_C, "how often the gyro is read", "Hz", 10, 64000)
    full_scale = number(_C, "the greatest rate the gyro can tell", "deg/s", 10, 10000)


class Loop(Part):
    """The control loop."""

    rate = number(_C, "how often the control loop runs", "Hz", 10, 64000)
    yaw_most = number(_C, "the most that is let through of a full yaw command", "%", 0, 100)


class FilterChains(Part):
    """The filters in series."""

    gyro = filters(_C, "the stages behind the gyro; cutoff 0 is off")
    dterm = filters(_C, "the stages of the D term; cutoff 0 is off")


class TrackingNotches(Part):
    """Notches that follow peaks in the spectrum."""

    enabled = flag(_C, "notches follow peaks in the spectrum")
    low = number(_C, "lowest frequency followed", "Hz", 0, 2000)
    high = number(_C, "highest frequency followed", "Hz", 0, 4000)
    q = number(_C, "quality of each notch", "", 0, 1000)
    count = whole(_C, "notches an axis", 0, 32)


class MotorNotches(Part):
    """Notches that follow the reported motor speed."""

    enabled = flag(_C, "notches follow the reported motor speed")
    harmonics = whole(_C, "harmonics of each motor", 0, 16)
    low = number(_C, "lowest frequency followed", "Hz", 0, 2000)
    q = number(_C, "quality of each notch", "", 0, 1000)


class Notches(Part):
    """All notches that move."""

    tracking = Sub(TrackingNotches)
    motor = Sub(MotorNotches)


class Gains(Part):
    """One axis's gains, in the firmware's own numbers."""

    p = number(_C, "proportional gain", "", -10000, 10000)
    i = number(_C, "integral gain", "", -10000, 10000)
    d = number(_C, "derivative gain", "", -10000, 10000)
    ff = number(_C, "feed-forward gain", "", -10000, 10000)


class Rates(Part):
    """One axis's stick rates."""

    centre = number(_C, "turn rate for each stick unit at the centre", "deg/s", 0, 10000)
    max = number(_C, "turn rate at full stick", "deg/s", 0, 10000)
    # The rule book judges what is outside of 0 to 1; beyond these limits it is meant in per cent.
    expo = number(_C, "how much softer the centre is, 0 to 1", "", -1, 2)


class Bank(Part):
    """One bank of gains and rates."""

    gains = Group("AXIS", Gains)
    rates = Group("AXIS", Rates)


class Banks(Part):
    """The banks, and which of them is in use."""

    active = whole(_C, "the bank in use", 1, 16)
    all = Group("N", Bank, leaf="")
