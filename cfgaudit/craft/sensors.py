"""Sensors, position and the way home."""

from cfgaudit.craft.declare import Class, Part, Setting, Sub, Traits
from cfgaudit.craft.fields import flag, number, whole, word
from cfgaudit.craft.identity import Turn
from cfgaudit.craft.kinds import Quantity, Text

_C = Class.SAFETY


class Trim(Part):
    """The accelerometer's level trim."""

    roll: Setting[float] = Setting(
        Traits(Quantity("deg", -45, 45), _C, "level trim in roll", craft_own=True, volatile=True)
    )
    pitch: Setting[float] = Setting(
        Traits(Quantity("deg", -45, 45), _C, "level trim in pitch", craft_own=True, volatile=True)
    )


class Accelerometer(Part):
    """The accelerometer."""

    enabled = flag(_C, "the accelerometer is in use")
    calibrated = flag(_C, "the accelerometer was calibrated", own=True)
    trim = Sub(Trim)


class Barometer(Part):
    """The barometer."""

    enabled = flag(_C, "the barometer is in use")


class Compass(Part):
    """The compass."""

    enabled = flag(_C, "the compass is in use")
    rotation = Sub(Turn)


class Sensors(Part):
    """All sensors but the gyro."""

    accelerometer = Sub(Accelerometer)
    barometer = Sub(Barometer)
    compass = Sub(Compass)


class Position(Part):
    """The satellite position receiver."""

    enabled = flag(_C, "position is in use")
    protocol = word(_C, "how the position receiver talks", "nmea", "ubx")
    rate = number(_C, "fixes a second", "Hz", 0.1, 50)
    min_satellites = whole(_C, "satellites wanted before it counts", 0, 50)


class Home(Part):
    """The way home."""

    altitude = number(_C, "height on the way home", "m", 0, 2000)
    ceiling = number(_C, "greatest height", "m", 0, 10000)
    min_distance = number(_C, "no way home is flown nearer than this", "m", 0, 1000)
    speed = number(_C, "speed on the way home", "m/s", 0, 60)
    descent = number(_C, "speed of the landing", "m/s", 0, 20)
    place: Setting[str] = Setting(  # set anew where the craft first wakes
        Traits(Text(), _C, "where home is, as the dump writes it", True, True, volatile=True)
    )
