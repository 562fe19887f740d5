"""The build sheet's devices: what hangs on the board, on which port, pad and rail."""

from cfgaudit.craft.declare import Class, Part
from cfgaudit.craft.fields import between, flag, number, numbers, text, word, word_set

_C, _P, _R = Class.SAFETY, Class.POWER, Class.RADIO

# What a port carries for a device (see ports.ROLES), and what a pad does for one (PAD_USES).
PORT_ROLES = {
    "receiver": "receiver",
    "telemetry": "telemetry",
    "position": "position",
    "video_transmitter": "video_control",
    "camera": "camera_control",
    "esc_reports": "esc_reports",
    "flight_log": "flight_log",
    "range_finder": "range_finder",
    "optical_flow": "optical_flow",
}
PAD_USES = {
    "buzzer": "buzzer",
    "led": "led_strip",
    "camera": "camera_key",
    "voltage_sensor": "voltage_sense",
    "current_sensor": "current_sense",
    "pulse_source": "pulse_input",
}
KINDS = (*PORT_ROLES, *(kind for kind in PAD_USES if kind not in PORT_ROLES), "other")
NO_RAIL = "none"  # said in place of a rail by a device that draws from none


class Device(Part):
    """One thing that was soldered or plugged on."""

    kind = word(_C, "what it is", *KINDS)
    port = text(_C, "follow its data wires: the port they end at")
    pad = text(_C, "follow its signal wire: the pad it ends at")
    wiring = word(
        _C,
        "look: transmit to receive is straight, transmit to transmit is crossed",
        "straight",
        "crossed",
    )
    one_wire = flag(_C, "look up: whether it talks and listens on one wire")
    protocol = text(_C, "look up: how it talks, in the dump's words")
    rate = number(_C, "look up in its manual: the rate it talks at", "Bd", 300, 20e6)
    framing = word(
        _C, "look up: data bits, parity (N none, E even) and stop bits", "8N1", "8E1", "8E2"
    )
    inverted = flag(_C, "look up: whether its idle level is low instead of high")
    rail = text(_P, f"follow its red wire: the rail it draws from, or {NO_RAIL}")
    supply = between(_P, "look up in its manual: lowest and highest supply", "V", 0, 80)
    current = number(_P, "look up or measure: the most it draws", "A", 0, 500)
    fed_by = word_set(_P, "look: what else can power it, such as a USB plug of its own")
    frequencies = between(_R, "look up: lowest and highest it can be set to", "MHz", 100, 10000)
    powers = numbers(_R, "look up: the powers it can be set to", "mW", 0, 10000)

    def role(self) -> str:
        """The role of the port that serves it; empty where no port does. Raises NotStated."""
        return PORT_ROLES.get(self.kind, "")

    def pad_use(self) -> str:
        """The use of the pad that serves it; empty where no pad does. Raises NotStated."""
        return PAD_USES.get(self.kind, "")
