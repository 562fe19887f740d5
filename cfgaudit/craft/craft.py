"""The craft as a whole: every subsystem over one set of settings."""

from cfgaudit.craft.control import Banks, FilterChains, Gyro, Loop, Notches
from cfgaudit.craft.controls import Arming, Failsafe, Receiver, Switches
from cfgaudit.craft.declare import Group, Part, Sub
from cfgaudit.craft.identity import Board, Firmware, Identity
from cfgaudit.craft.motors import Esc, Frame, Motors
from cfgaudit.craft.payload import Camera, Finder, FlightLog, Overlay, Telemetry, Video
from cfgaudit.craft.ports import Pad, Port
from cfgaudit.craft.power import Battery
from cfgaudit.craft.sensors import Home, Position, Sensors
from cfgaudit.craft.settings import Settings


class Craft(Part):
    """A typed craft. Reading a setting that the dump does not state raises NotStated."""

    who = Sub(Identity, leaf="craft")
    firmware = Sub(Firmware)
    board = Sub(Board)
    ports = Group("ID", Port)
    pads = Group("ID", Pad)
    frame = Sub(Frame)
    motors = Sub(Motors)
    esc = Sub(Esc)
    receiver = Sub(Receiver)
    switches = Sub(Switches)
    arming = Sub(Arming)
    failsafe = Sub(Failsafe)
    battery = Sub(Battery)
    gyro = Sub(Gyro)
    loop = Sub(Loop)
    filters = Sub(FilterChains)
    notches = Sub(Notches)
    banks = Sub(Banks)
    sensors = Sub(Sensors)
    position = Sub(Position)
    home = Sub(Home)
    video = Sub(Video)
    camera = Sub(Camera)
    overlay = Sub(Overlay)
    telemetry = Sub(Telemetry)
    finder = Sub(Finder)
    flight_log = Sub(FlightLog)

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings, "")

    @property
    def settings(self) -> Settings:
        """All settings, for rules about the dump itself."""
        return self._settings

    def ports_with(self, role: str) -> list[Port]:
        """The ports that carry a role, in the dump's order. Raises NotStated without any port.

        A port whose roles are not stated carries none.
        """
        return [port for port in self.ports if port.states("roles") and role in port.roles]

    def pads_for(self, use: str) -> list[Pad]:
        """The pads with a use, in the dump's order. Raises NotStated without any pad."""
        return [pad for pad in self.pads if pad.states("use") and pad.use.split()[0] == use]
