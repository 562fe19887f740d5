"""Every setting of a build sheet, declared once: what the builder soldered, bolted and saw."""

from cfgaudit.vocabulary.declare import (
    Class,
    Group,
    NotStated,
    Part,
    Sub,
    any_of,
    between,
    flag,
    number,
    numbers,
    text,
    whole,
    word,
    word_set,
)
from cfgaudit.vocabulary.dump import LAYOUTS

_SAFETY, _POWER, _RADIO = Class.SAFETY, Class.POWER, Class.RADIO


class SheetPort(Part):
    """What one serial port of the board can do."""

    kind = word(
        _SAFETY, "look up in the board's manual: who times its bits", "hardware", "software", "usb"
    )
    highest_rate = number(_SAFETY, "look up: its highest rate", "Bd", 300, 20e6)
    clock = number(_SAFETY, "look up in the processor's manual: its clock", "Hz", 1e5, 1e9)
    oversampling = any_of(_SAFETY, "look up: how often it samples each bit", 16, 8)
    inverter = flag(_SAFETY, "look up: whether it can turn its idle level round")
    one_wire = flag(_SAFETY, "look up: whether both directions can share its one wire")
    stands_for = text(
        _SAFETY, "look up on the board: the name that its own file has for it", leaf="as"
    )
    printed = text(Class.IDENTITY, "read the print on the board beside it")


class SheetPad(Part):
    """One solder pad of the board."""

    timer = text(_SAFETY, "look up in the board's manual: the timer behind the pad")
    printed = text(Class.IDENTITY, "read the print on the board beside it")


class RailSource(Part):
    """One of the sources that reach a rail."""

    source = text(_POWER, "follow the wire: where it comes from, such as pack or usb", leaf="from")
    diode = flag(_POWER, "look: whether a diode keeps the others' current out of it")


class SheetRail(Part):
    """One supply rail: of one voltage, of a range (the pack's), or of choices (a bridge)."""

    voltage = between(
        _POWER, "measure with the pack connected: its voltage, or a range", "V", 0, 80
    )
    choices = numbers(_POWER, "look up: voltages that a bridge or jumper chooses from", "V", 0, 80)
    choice = number(_POWER, "look at the bridge or jumper: the voltage it has now", "V", 0, 80)
    rating = number(_POWER, "look up: the most current that its regulator gives", "A", 0, 500)
    fed_by = word_set(_POWER, "follow the wires: every source that reaches it, such as pack or usb")
    sources = Group("N", RailSource)

    def volts(self) -> tuple[float, float]:
        """Its lowest and highest voltage as it is now, in V. Raises NotStated."""
        if self.states("choice") or self.states("choices"):
            return self.choice, self.choice
        return self.voltage

    def volts_path(self) -> str:
        """The path at which that voltage is stated."""
        return self.path("choice" if self.states("choice") else "voltage")


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
    "receiver": "pulse_input",
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

    kind = word(_SAFETY, "what it is", *KINDS)
    port = text(_SAFETY, "follow its data wires: the port they end at")
    pad = text(_SAFETY, "follow its signal wire: the pad it ends at")
    wires = word(
        _SAFETY,
        "look: the device's transmit to the port's receive is tx_to_rx",
        "tx_to_rx",
        "tx_to_tx",
        "one_wire",
    )
    one_wire = flag(_SAFETY, "look up: whether it talks and listens on one wire")
    protocol = text(_SAFETY, "look up: how it talks, in the dump's words")
    rate = number(_SAFETY, "look up in its manual: the rate it talks at", "Bd", 300, 20e6)
    framing = word(
        _SAFETY, "look up: data bits, parity (N none, E even) and stop bits", "8N1", "8E1", "8E2"
    )
    inverted = flag(_SAFETY, "look up: whether its idle level is low instead of high")
    on_loss = word(
        _SAFETY,
        "transmitter OFF at the bench: what the receiver then sends to the board",
        "silent",
        "hold",
        "preset",
    )
    rail = text(_POWER, f"follow its red wire: the rail it draws from, or {NO_RAIL}")
    supply = between(_POWER, "look up in its manual: lowest and highest supply", "V", 0, 80)
    current = number(_POWER, "look up or measure: the most it draws", "A", 0, 500)
    fed_by = word_set(_POWER, "look: what else can power it, such as a USB plug of its own")
    frequencies = between(_RADIO, "look up: lowest and highest it can be set to", "MHz", 100, 10000)
    powers = numbers(_RADIO, "look up: the powers it can be set to", "mW", 0, 10000)

    def role(self) -> str:
        """The role of the port that serves it; empty where no port does. Raises NotStated."""
        return PORT_ROLES.get(self.kind, "")

    def pad_use(self) -> str:
        """The use of the pad that serves it; empty where no pad does. Raises NotStated."""
        return PAD_USES.get(self.kind, "")


class SheetMotor(Part):
    """The motor on one arm. What is seen to turn is stated, or what makes it turn so."""

    output = whole(_SAFETY, "follow the signal wire: the board's output it comes from", 1, 32)
    pad = text(_SAFETY, "follow the signal wire: the pad it is soldered to")
    wires = word(
        _SAFETY, "look: straight, or swapped where two of the three changed places",
        "straight", "swapped",
    )  # fmt: skip
    direction = word(
        _SAFETY,
        "read it out of the speed controller: the direction set there",
        "normal",
        "reversed",
    )
    turns = word(
        _SAFETY, "propellers OFF, spin it at the bench: its turn, seen from above", "cw", "ccw"
    )
    poles = whole(_SAFETY, "count the magnets in the bell, not the pairs", 2, 64)


class Propulsion(Part):
    """Motors and propellers, all alike."""

    kv = number(_SAFETY, "read it off the motor: speed for each volt", "rpm/V", 10, 50000)
    diameter = number(_SAFETY, "measure tip to tip: the propeller", "mm", 10, 2000)
    blades = whole(_SAFETY, "count the blades of one propeller", 1, 12)
    hover_throttle = number(_SAFETY, "from a flight log: throttle while hovering", "%", 1, 100)
    peak_current = number(
        _POWER,
        "from a log or the motors' data sheet: the whole craft at full throttle",
        "A",
        0,
        1000,
    )
    all_up_weight = number(_SAFETY, "weigh it, ready to fly with its pack", "g", 1, 100000)


class Pack(Part):
    """The pack that is flown."""

    chemistry = word(_POWER, "read the label: what the cells are made of", "lipo", "lihv", "liion")
    cells = whole(_POWER, "read the label: cells in series", 1, 14)
    capacity = number(_POWER, "read the label: its capacity", "mAh", 1, 100000)


ROOT = "sheet"  # the first word of all its paths

# What a sheet may still say in words of before: the key and its values, as they are called now.
BEFORE = {
    "devices.NAME.wiring": ("wires", {"straight": "tx_to_rx", "crossed": "tx_to_tx"}),
}


class SheetIdentity(Part):
    """Which craft it is."""

    name = text(Class.IDENTITY, "the craft's name, as its dump has it")


class SheetArm(Part):
    """Where one arm ends."""

    x = number(
        _SAFETY, "measure to the motor shaft: metres forward of the centre, minus behind it", "m",
        -5, 5,
    )  # fmt: skip
    y = number(
        _SAFETY, "measure to the motor shaft: metres to the right of the centre, minus left of it",
        "m", -5, 5,
    )  # fmt: skip


class SheetFrame(Part):
    """The frame."""

    layout = word(_SAFETY, "look from above, nose forward: how the arms stand", *LAYOUTS)
    rotation = word(
        _SAFETY,
        "look at the nose: whether its propellers turn inward or outward",
        "inward",
        "outward",
    )
    arms = Group("ARM", SheetArm)


class Turned(Part):
    """How something is really turned: roll, then pitch, then yaw."""

    roll = number(_SAFETY, "look: turned about the forward axis, right side down", "deg", -360, 360)
    pitch = number(_SAFETY, "look: turned about the right axis, nose up", "deg", -360, 360)
    yaw = number(
        _SAFETY, "look: turned about the down axis, clockwise from above", "deg", -360, 360
    )

    def stated(self) -> list[str]:
        """The axes that it states."""
        return [axis for axis in ("roll", "pitch", "yaw") if self.states(axis)]

    def angles(self) -> tuple[float, float, float]:
        """Its three angles, in degrees: 0 where it states another one. Raises NotStated."""
        told = self.stated()
        if not told:
            raise NotStated(self.path("roll"))
        roll, pitch, yaw = (
            getattr(self, axis) if axis in told else 0.0 for axis in ("roll", "pitch", "yaw")
        )
        return roll, pitch, yaw


class SheetBoard(Part):
    """The flight controller board."""

    name = text(Class.IDENTITY, "read the print on the board: its name")
    file = text(Class.IDENTITY, "the file that says what the board can do")
    turned = Sub(Turned)


class SheetCompass(Part):
    """The compass."""

    turned = Sub(Turned)


class SheetCamera(Part):
    """The camera."""

    standard = word(
        Class.COMFORT, "look in the camera's menu: the picture's standard", "pal", "ntsc"
    )


class BuildSheet(Part):
    """Every setting of a build sheet, below `sheet.`."""

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
