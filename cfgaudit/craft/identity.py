"""Who it is: the craft, its firmware, its board."""

from cfgaudit.craft.declare import Class, Part, Sub
from cfgaudit.craft.fields import number, text

_C = Class.IDENTITY


class Identity(Part):
    """The craft itself."""

    name = text(_C, "the craft's name", own=True)
    owner = text(_C, "whose it is", own=True, secret=True)
    serial = text(_C, "its serial number", own=True, secret=True)


class Firmware(Part):
    """The firmware that the dump came from."""

    name = text(_C, "the firmware's name")
    version = text(_C, "the firmware's version, compared by its numbers")
    built = text(_C, "the day the firmware was built")


class Turn(Part):
    """A rotation: roll, then pitch, then yaw, in degrees."""

    roll = number(Class.SAFETY, "turn about the forward axis", "deg", -360, 360)
    pitch = number(Class.SAFETY, "turn about the right axis", "deg", -360, 360)
    yaw = number(Class.SAFETY, "turn about the down axis", "deg", -360, 360)


class Board(Part):
    """The flight controller board, and how it is turned in the frame."""

    name = text(_C, "the board's name")
    revision = text(_C, "the board's revision")
    rotation = Sub(Turn)
