"""Serial ports and solder pads."""

from typing import cast

from cfgaudit.craft.declare import Class, Part, Setting, Traits
from cfgaudit.craft.fields import flag, kind_by, number, text, word_set
from cfgaudit.craft.kinds import PadUse, Quantity

ROLES = (
    "console",
    "receiver",
    "telemetry",
    "position",
    "video_control",
    "camera_control",
    "esc_reports",
    "flight_log",
    "range_finder",
    "optical_flow",
)
PAD_USES = (
    "motor",
    "led_strip",
    "camera_key",
    "buzzer",
    "voltage_sense",
    "current_sense",
    "pulse_input",
    "free",
)
_C = Class.SAFETY


class Port(Part):
    """One serial port."""

    roles = word_set(_C, "what the port carries", *ROLES)
    baud = number(_C, "the port's rate", "Bd", 300, 20e6)
    baud_by_role = kind_by(
        "ROLE", Quantity("Bd", 300, 20e6), _C, "the port's rate for one role", leaf="baud"
    )
    inverted = flag(_C, "the port's idle level is turned round")
    half_duplex = flag(_C, "both directions on one wire")
    pins_swapped = flag(_C, "receive and transmit pins change places")
    software_driven = flag(_C, "the port's bits are timed by software, not by a UART")

    def rate_for(self, role: str) -> float:
        """The rate in Bd that the port uses for a role. Raises NotStated."""
        by_role = self.baud_by_role.stated()
        return cast(float, by_role[role]) if role in by_role else self.baud

    def rate_path(self, role: str) -> str:
        """The path at which that rate is stated."""
        return self.path(f"baud.{role}" if role in self.baud_by_role.stated() else "baud")


class Pad(Part):
    """One solder pad."""

    use: Setting[str] = Setting(Traits(PadUse(PAD_USES), _C, "what the pad is for"))
    timer = text(_C, "the timer behind the pad")
    dma = text(_C, "the transfer channel behind the pad")
