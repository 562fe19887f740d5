"""The build sheet: what the builder soldered and bolted, as typed settings below `sheet.`."""

from cfgaudit.craft.declare import Class, Group, Part, Sub
from cfgaudit.craft.fields import number, text, word
from cfgaudit.craft.motors import LAYOUTS
from cfgaudit.craft.settings import Settings
from cfgaudit.craft.sheet_board import SheetPad, SheetPort, SheetRail
from cfgaudit.craft.sheet_devices import Device
from cfgaudit.craft.sheet_motors import Pack, Propulsion, SheetMotor

ROOT = "sheet"  # the first word of all its paths
_C = Class.SAFETY


class SheetIdentity(Part):
    """Which craft it is."""

    name = text(Class.IDENTITY, "the craft's name, as its dump has it")


class SheetArm(Part):
    """Where one arm ends."""

    x = number(_C, "measure to the motor shaft: metres forward of the centre", "m", -5, 5)
    y = number(_C, "measure to the motor shaft: metres to the right of the centre", "m", -5, 5)


class SheetFrame(Part):
    """The frame."""

    layout = word(_C, "look from above, nose forward: how the arms stand", *LAYOUTS)
    rotation = word(
        _C, "look at the nose: whether its propellers turn inward or outward", "inward", "outward"
    )
    arms = Group("ARM", SheetArm)


class Turned(Part):
    """How something is really turned: roll, then pitch, then yaw."""

    roll = number(_C, "look: turned about the forward axis, right side down", "deg", -360, 360)
    pitch = number(_C, "look: turned about the right axis, nose up", "deg", -360, 360)
    yaw = number(_C, "look: turned about the down axis, clockwise from above", "deg", -360, 360)


class SheetBoard(Part):
    """The flight controller board."""

    name = text(Class.IDENTITY, "read the print on the board: its name")
    turned = Sub(Turned)


class SheetCompass(Part):
    """The compass."""

    turned = Sub(Turned)


class SheetCamera(Part):
    """The camera."""

    standard = word(
        Class.COMFORT, "look in the camera's menu: the picture's standard", "pal", "ntsc"
    )


class Sheet(Part):
    """A typed build sheet. Reading what it does not state raises NotStated."""

    who = Sub(SheetIdentity, leaf="craft")
    frame = Sub(SheetFrame)
    board = Sub(SheetBoard)
    compass = Sub(SheetCompass)
    ports = Group("ID", SheetPort)
    pads = Group("ID", SheetPad)
    rails = Group("NAME", SheetRail)
    devices = Group("NAME", Device)
    motors = Group("ARM", SheetMotor)
    propulsion = Sub(Propulsion)
    battery = Sub(Pack)
    camera = Sub(SheetCamera)

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings, ROOT)

    @property
    def settings(self) -> Settings:
        """All that it states."""
        return self._settings

    def devices_of(self, kind: str) -> list[Device]:
        """The devices of a kind, in the sheet's order. Raises NotStated without any device.

        A device whose kind is not stated is of none.
        """
        return [part for part in self.devices if part.states("kind") and part.kind == kind]

    def devices_on(self, port: str) -> list[Device]:
        """The devices wired to a port, in the sheet's order. Raises as `devices_of` does."""
        return [part for part in self.devices if part.states("port") and part.port == port]
