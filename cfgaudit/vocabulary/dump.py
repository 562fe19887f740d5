"""Every setting of a dump, declared once: its kind, its limits, its class, and what it is."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import NamedTuple, cast

from cfgaudit.vocabulary.declare import (
    Class,
    Group,
    Part,
    Setting,
    Sub,
    Table,
    Traits,
    either,
    filters,
    flag,
    kind_by,
    number,
    numbers,
    numbers_by,
    switches,
    text,
    whole,
    whole_by,
    word,
    word_set,
)
from cfgaudit.vocabulary.kinds import Either, PadUse, Quantity, SwitchRange, Text

_SAFETY, _POWER, _CONTROL, _IDENTITY = Class.SAFETY, Class.POWER, Class.CONTROL, Class.IDENTITY
_R, _C = Class.RADIO, Class.COMFORT


class Identity(Part):
    """The craft itself."""

    name = text(_IDENTITY, "the craft's name", own=True)
    owner = text(_IDENTITY, "whose it is", own=True, secret=True)
    serial = text(_IDENTITY, "its serial number", own=True, secret=True)


class Firmware(Part):
    """The firmware that the dump came from."""

    name = text(_IDENTITY, "the firmware's name")
    version = text(_IDENTITY, "the firmware's version, compared by its numbers")
    built = text(_IDENTITY, "the day the firmware was built")


class Rotation(Part):
    """A rotation: roll, then pitch, then yaw, in degrees."""

    roll = number(Class.SAFETY, "turn about the forward axis", "deg", -360, 360)
    pitch = number(Class.SAFETY, "turn about the right axis", "deg", -360, 360)
    yaw = number(Class.SAFETY, "turn about the down axis", "deg", -360, 360)

    def angles(self) -> tuple[float, float, float]:
        """Its three angles, in degrees. Raises NotStated."""
        return self.roll, self.pitch, self.yaw


class Board(Part):
    """The flight controller board, and how it is turned in the frame."""

    name = text(_IDENTITY, "the board's name")
    revision = text(_IDENTITY, "the board's revision")
    rotation = Sub(Rotation)


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


class Port(Part):
    """One serial port."""

    roles = word_set(_SAFETY, "what the port carries", *ROLES)
    baud = number(_SAFETY, "the port's rate", "Bd", 300, 20e6)
    baud_by_role = kind_by(
        "ROLE", Quantity("Bd", 300, 20e6), _SAFETY, "the port's rate for one role", leaf="baud"
    )
    inverted = flag(_SAFETY, "the port's idle level is turned round")
    half_duplex = flag(_SAFETY, "both directions on one wire")
    pins_swapped = flag(_SAFETY, "receive and transmit pins change places")
    software_driven = flag(_SAFETY, "the port's bits are timed by software, not by a UART")

    def rate_for(self, role: str) -> float:
        """The rate in Bd that the port uses for a role. Raises NotStated."""
        by_role = self.baud_by_role.stated()
        return cast(float, by_role[role]) if role in by_role else self.baud

    def rate_path(self, role: str) -> str:
        """The path at which that rate is stated."""
        return self.path(f"baud.{role}" if role in self.baud_by_role.stated() else "baud")


class Pad(Part):
    """One solder pad."""

    use: Setting[str] = Setting(Traits(PadUse(PAD_USES), _SAFETY, "what the pad is for"))
    timer = text(_SAFETY, "the timer behind the pad")
    dma = text(_SAFETY, "the transfer channel behind the pad")


LAYOUTS = ("quad_x", "quad_plus", "hex_x", "hex_plus", "octo_x", "custom")
DIGITAL = ("dshot150", "dshot300", "dshot600", "dshot1200")
PULSE = ("pwm", "oneshot125", "oneshot42", "multishot")


class ArmPosition(Part):
    """Where one arm ends."""

    x = number(_SAFETY, "metres forward of the centre", "m", -5, 5)
    y = number(_SAFETY, "metres to the right of the centre", "m", -5, 5)


class Frame(Part):
    """The frame."""

    layout = word(_SAFETY, "how the arms stand", *LAYOUTS)
    rotation = word(_SAFETY, "which way the propellers turn at the nose", "inward", "outward")
    arms = Group("ARM", ArmPosition)


class Mix(Part):
    """One arm's row of the mixer: roll right, nose up, yaw clockwise are positive."""

    thrust = number(_SAFETY, "share of the thrust command", "", -4, 4)
    roll = number(_SAFETY, "share of the roll command", "", -4, 4)
    pitch = number(_SAFETY, "share of the pitch command", "", -4, 4)
    yaw = number(_SAFETY, "share of the yaw command", "", -4, 4)


class Motor(Part):
    """The motor on one arm."""

    output = whole(_SAFETY, "the output that drives this arm", 1, 32)
    spin = word(_SAFETY, "the turn the mixer takes for granted, seen from above", "cw", "ccw")
    mix = Sub(Mix)
    servo = flag(_SAFETY, "this output turns a servo, no propeller")


class Motors(Part):
    """All motors."""

    poles = whole(_SAFETY, "magnets of a motor, not pairs; 0 where never set", 0, 64, own=True)
    stop_when_armed_idle = flag(_SAFETY, "propellers rest at zero throttle while armed")
    arms = Group("ARM", Motor, leaf="")


class EscArm(Part):
    """What is set inside one arm's speed controller."""

    direction = word(_SAFETY, "the direction set inside the speed controller", "normal", "reversed")
    protocol = word(
        _SAFETY, "how throttle is sent to this arm, where not as to the rest", *PULSE, *DIGITAL
    )


class Esc(Part):
    """The speed controllers."""

    protocol = word(_SAFETY, "how throttle is sent to them", *PULSE, *DIGITAL)
    update_rate = number(_SAFETY, "how often a pulse is sent", "Hz", 25, 40000)
    pulse_min = number(_SAFETY, "pulse at no throttle", "us", 1, 3000)
    pulse_max = number(_SAFETY, "pulse at full throttle", "us", 1, 3000)
    pulse_arm = number(_SAFETY, "pulse while disarmed", "us", 0, 3000)
    idle = number(_SAFETY, "throttle that keeps the motors turning", "%", 0, 100)
    reports = flag(_SAFETY, "speed is sent back on the signal wire")
    reversible_thrust = flag(_SAFETY, "motors may turn both ways in flight")
    brushed = flag(_SAFETY, "the motors are brushed, and driven by the pulse's share of its period")
    arms = Group("ARM", EscArm, leaf="")


class Battery(Part):
    """The pack, its thresholds, and how it is measured."""

    chemistry = word(_POWER, "what the cells are made of", "lipo", "lihv", "liion")
    cells = either(_POWER, "cells in series", ("auto",), 1, 14)
    full_cell = number(_POWER, "a full cell", "V", 2, 5)
    warn_cell = number(_POWER, "warn below this", "V", 2, 5)
    empty_cell = number(_POWER, "the cell is empty below this", "V", 2, 5)
    detect_cell = number(_POWER, "highest cell voltage when counting cells", "V", 2, 5)
    voltage_from = word(_POWER, "where the pack voltage comes from", "adc", "esc", "none")
    current_from = word(_POWER, "where the current comes from", "adc", "esc", "none")
    divider = number(_POWER, "pack volts for each ADC volt", "", 1, 100, own=True)
    adc_reference = number(_POWER, "the ADC's full scale", "V", 0.5, 6)
    current_scale = number(_POWER, "millivolts for each ampere", "mV/A", -500, 500, own=True)
    current_offset = number(_POWER, "millivolts at no current", "mV", -5000, 5000, own=True)
    capacity = number(_POWER, "the pack's capacity", "mAh", 0, 100000)


LINKS = ("ppm", "sbus", "ibus", "sumd", "crsf", "mavlink", "none")
PRIMARY = ("roll", "pitch", "throttle", "yaw")
FUNCTIONS = (
    "arm",
    "arm_interlock",
    "self_level",
    "altitude_hold",
    "position_hold",
    "return_home",
    "buzzer",
    "overlay_off",
    "self_right",
    "failsafe",
    "flight_log",
    "camera_menu",
    "video_full_power",
    "motors_kill",
)
CHECKS = ("tilt", "throttle", "calibration", "position", "battery", "receiver", "compass", "load")


class Ends(Part):
    """The travel of one channel."""

    low = number(_SAFETY, "lowest pulse of this channel", "us", 500, 2500)
    centre = number(_SAFETY, "middle pulse of this channel", "us", 500, 2500)
    high = number(_SAFETY, "highest pulse of this channel", "us", 500, 2500)


class Receiver(Part):
    """The receiver link and its channels."""

    link = word(_SAFETY, "how the receiver talks", *LINKS)
    channels = whole(_SAFETY, "how many channels the link carries", 1, 64)
    map = whole_by("CONTROL", _SAFETY, "the channel of a control, from 1", 1, 64)
    low = number(_SAFETY, "lowest pulse", "us", 500, 2500)
    centre = number(_SAFETY, "middle pulse", "us", 500, 2500)
    high = number(_SAFETY, "highest pulse", "us", 500, 2500)
    ends = Group("N", Ends)
    ends_are = word(
        _SAFETY, "whether the ends and the middle were measured or set", "measured", "set"
    )
    deadband = number(_SAFETY, "stick movement that counts as none", "us", 0, 200)
    yaw_deadband = number(_SAFETY, "yaw stick movement that counts as none", "us", 0, 200)
    signal_channel = whole(_SAFETY, "the channel that carries signal strength, 0 for none", 0, 64)
    smoothing: Setting[float | str] = Setting(
        Traits(
            Either(("off", "auto"), Quantity("Hz", 1, 1000)),
            _SAFETY,
            "the low-pass that smooths the sticks' steps from frame to frame",
        )
    )

    def low_of(self, channel: int) -> float:
        """The lowest pulse of a channel in us. Raises NotStated."""
        ends = self.ends[str(channel)]
        return ends.low if ends.states("low") else self.low

    def high_of(self, channel: int) -> float:
        """The highest pulse of a channel in us. Raises NotStated."""
        ends = self.ends[str(channel)]
        return ends.high if ends.states("high") else self.high

    def centre_of(self, channel: int) -> float:
        """The middle pulse of a channel in us. Raises NotStated."""
        ends = self.ends[str(channel)]
        return ends.centre if ends.states("centre") else self.centre

    def end_path(self, channel: int, leaf: str) -> str:
        """Where low, centre or high of a channel is stated: its own, else everybody's."""
        ends = self.ends[str(channel)]
        return ends.path(leaf) if ends.states(leaf) else self.path(leaf)


class Switches(Part):
    """Which channel ranges switch which function on."""

    ranges: Table[tuple[SwitchRange, ...]] = switches(
        _SAFETY, "the channel ranges that switch this function on", "FUNCTION", FUNCTIONS
    )

    def of(self, function: str) -> tuple[SwitchRange, ...]:
        """The ranges of one function; none where other functions have some and this has not."""
        return self.ranges.get(function, ())

    def path_of(self, function: str) -> str:
        """The neutral path of one function's ranges."""
        return self.path(function)


class Arming(Part):
    """How the motors are released."""

    by = word(_SAFETY, "what arms the craft", "switch", "sticks")
    max_tilt = number(_SAFETY, "greatest tilt at which it arms; 180 is any", "deg", 0, 180)
    throttle_below = number(_SAFETY, "throttle must be below this to arm", "us", 500, 2500)
    waived = word_set(_SAFETY, "pre-arm checks that somebody switched off", *CHECKS)


class Failsafe(Part):
    """What happens when the link is lost."""

    detect_after = number(_SAFETY, "silence after which the link counts as lost", "s", 0, 60)
    hold_for = number(_SAFETY, "how long the channels' own values are flown", "s", 0, 600)
    land_for = number(_SAFETY, "how long the landing lasts before the motors stop", "s", 0, 3600)
    action = word(
        _SAFETY,
        "what the craft then does",
        "motors_off",
        "land",
        "return_home",
        "hold_inputs",
        "none",
    )
    throttle = number(_SAFETY, "throttle while landing", "us", 500, 2500)
    channels = kind_by(
        "N",
        Either(("hold",), Quantity("us", 500, 2500)),
        _SAFETY,
        "what a channel does on link loss",
    )
    channels_until = word(
        _SAFETY,
        "until when those values count: until the action begins, or to the end",
        "action",
        "end",
    )

    def channel(self, number: int) -> float | str:
        """`hold`, or the pulse in us that a channel takes on link loss. Raises NotStated."""
        return cast("float | str", self.channels[str(number)])


class Gyro(Part):
    """The gyro."""

    sample_rate = number(_CONTROL, "how often the gyro is read", "Hz", 10, 64000)
    full_scale = number(_CONTROL, "the greatest rate the gyro can tell", "deg/s", 10, 10000)


class Loop(Part):
    """The control loop."""

    rate = number(_CONTROL, "how often the control loop runs", "Hz", 10, 64000)
    yaw_most = number(_CONTROL, "the most that is let through of a full yaw command", "%", 0, 100)


class FilterChains(Part):
    """The filters in series."""

    gyro = filters(_CONTROL, "the stages behind the gyro; cutoff 0 is off")
    dterm = filters(_CONTROL, "the stages of the D term; cutoff 0 is off")


class TrackingNotches(Part):
    """Notches that follow peaks in the spectrum."""

    enabled = flag(_CONTROL, "notches follow peaks in the spectrum")
    low = number(_CONTROL, "lowest frequency followed", "Hz", 0, 2000)
    high = number(_CONTROL, "highest frequency followed", "Hz", 0, 4000)
    q = number(_CONTROL, "quality of each notch", "", 0, 1000)
    count = whole(_CONTROL, "notches an axis", 0, 32)


class MotorNotches(Part):
    """Notches that follow the reported motor speed."""

    enabled = flag(_CONTROL, "notches follow the reported motor speed")
    harmonics = whole(_CONTROL, "harmonics of each motor", 0, 16)
    low = number(_CONTROL, "lowest frequency followed", "Hz", 0, 2000)
    q = number(_CONTROL, "quality of each notch", "", 0, 1000)


class Notches(Part):
    """All notches that move."""

    tracking = Sub(TrackingNotches)
    motor = Sub(MotorNotches)


class Gains(Part):
    """One axis's gains, in the firmware's own numbers."""

    p = number(_CONTROL, "proportional gain", "", -10000, 10000)
    i = number(_CONTROL, "integral gain", "", -10000, 10000)
    d = number(_CONTROL, "derivative gain", "", -10000, 10000)
    ff = number(_CONTROL, "feed-forward gain", "", -10000, 10000)


class Rates(Part):
    """One axis's stick rates."""

    centre = number(_CONTROL, "turn rate for each stick unit at the centre", "deg/s", 0, 10000)
    max = number(_CONTROL, "turn rate at full stick", "deg/s", 0, 10000)
    # The rule book judges what is outside of 0 to 1; beyond these limits it is meant in per cent.
    expo = number(_CONTROL, "how much softer the centre is, 0 to 1", "", -1, 2)


class Bank(Part):
    """One bank of gains and rates."""

    gains = Group("AXIS", Gains)
    rates = Group("AXIS", Rates)


class Banks(Part):
    """The banks, and which of them is in use."""

    active = whole(_CONTROL, "the bank in use", 1, 16)
    all = Group("N", Bank, leaf="")


class Trim(Part):
    """The accelerometer's level trim."""

    roll: Setting[float] = Setting(
        Traits(
            Quantity("deg", -45, 45), _SAFETY, "level trim in roll", craft_own=True, volatile=True
        )
    )
    pitch: Setting[float] = Setting(
        Traits(
            Quantity("deg", -45, 45), _SAFETY, "level trim in pitch", craft_own=True, volatile=True
        )
    )


class Accelerometer(Part):
    """The accelerometer."""

    enabled = flag(_SAFETY, "the accelerometer is in use")
    calibrated = flag(_SAFETY, "the accelerometer was calibrated", own=True)
    trim = Sub(Trim)


class Barometer(Part):
    """The barometer."""

    enabled = flag(_SAFETY, "the barometer is in use")


class Compass(Part):
    """The compass."""

    enabled = flag(_SAFETY, "the compass is in use")
    rotation = Sub(Rotation)


class Sensors(Part):
    """All sensors but the gyro."""

    accelerometer = Sub(Accelerometer)
    barometer = Sub(Barometer)
    compass = Sub(Compass)


class PositionReceiver(Part):
    """The satellite position receiver."""

    enabled = flag(_SAFETY, "position is in use")
    protocol = word(_SAFETY, "how the position receiver talks", "nmea", "ubx")
    rate = number(_SAFETY, "fixes a second", "Hz", 0.1, 50)
    min_satellites = whole(_SAFETY, "satellites wanted before it counts", 0, 50)


class Home(Part):
    """The way home."""

    altitude = number(_SAFETY, "height on the way home", "m", 0, 2000)
    ceiling = number(_SAFETY, "greatest height", "m", 0, 10000)
    min_distance = number(_SAFETY, "no way home is flown nearer than this", "m", 0, 1000)
    speed = number(_SAFETY, "speed on the way home", "m/s", 0, 60)
    descent = number(_SAFETY, "speed of the landing", "m/s", 0, 20)
    place: Setting[str] = Setting(  # set anew where the craft first wakes
        Traits(Text(), _SAFETY, "where home is, as the dump writes it", True, True, volatile=True)
    )


class Transmitter(Part):
    """The video transmitter."""

    enabled = flag(_R, "the video transmitter is in use")
    control = word(_R, "how it is told what to do", "serial", "pad", "none")
    half_duplex = flag(_R, "its control uses one wire for both directions")
    band = text(_R, "the band of its frequency plan")
    channel = whole(_R, "the channel within the band", 1, 64)
    frequency = number(_R, "its frequency", "MHz", 100, 10000)
    power = number(_R, "its power", "mW", 0, 10000)
    standby_power = number(_R, "its power before arming", "mW", 0, 10000)


class Plan(Part):
    """The frequency plan that the dump carries."""

    powers = numbers(_R, "the powers that the transmitter has", "mW", 0, 10000)
    bands = numbers_by("BAND", _R, "the frequencies of a band", "MHz", 100, 10000, leaf="")


class Video(Part):
    """The video side."""

    transmitter = Sub(Transmitter)
    plan = Sub(Plan)


class Camera(Part):
    """The camera."""

    standard = word(_C, "the picture's standard", "pal", "ntsc")
    control = word(_C, "how the camera's menu is worked", "none", "pad", "serial")


class OverlayElement(Part):
    """One element of the overlay."""

    shown = flag(_C, "the element is shown")
    row = whole(_C, "its row, from 1 at the top", 1, 64)
    column = whole(_C, "its column, from 1 at the left", 1, 128)
    width = whole(_C, "characters that it takes, where the catalogue's number is wrong", 1, 128)


class OverlayGrid(Part):
    """The characters that the overlay has room for, where not those of its analog standard."""

    columns = whole(_C, "characters side by side", 1, 128)
    rows = whole(_C, "characters one below the other", 1, 64)


class Overlay(Part):
    """What is written over the picture."""

    enabled = flag(_C, "the overlay is in use")
    standard = word(_C, "the overlay's standard", "pal", "ntsc", "auto")
    grid = Sub(OverlayGrid)
    elements = Group("NAME", OverlayElement)


class Telemetry(Part):
    """What the craft sends back."""

    enabled = flag(Class.SAFETY, "telemetry is sent")
    protocol = text(Class.SAFETY, "how telemetry talks")
    half_duplex = flag(Class.SAFETY, "telemetry uses one wire for both directions")
    inverted = flag(Class.SAFETY, "telemetry's idle level is turned round")
    rate = number(Class.SAFETY, "reports a second", "Hz", 0, 1000)


class Finder(Part):
    """What helps to find the craft again."""

    by = word(_C, "what sounds, one on a pad or the motors", "pad", "motors")
    buzzer = flag(_C, "the buzzer is in use")
    buzzer_on_link_loss = flag(_C, "the buzzer sounds when the link is lost")
    led = flag(_C, "the lights show where it lies")


class FlightLog(Part):
    """The flight log."""

    enabled = flag(_C, "a log is kept in flight")
    device = word(_C, "where it is kept", "none", "flash", "card", "serial")
    rate = number(_C, "records a second", "Hz", 0, 64000)
    size = number(_C, "how much it holds", "MB", 0, 1000000)


class Dump(Part):
    """Every setting of a dump, under its neutral path."""

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
    switches_join = word(
        Class.SAFETY,
        "how two ranges of one function on two channels join: any is enough, or all must hold",
        "any",
        "all",
    )
    arming = Sub(Arming)
    failsafe = Sub(Failsafe)
    battery = Sub(Battery)
    gyro = Sub(Gyro)
    loop = Sub(Loop)
    filters = Sub(FilterChains)
    notches = Sub(Notches)
    banks = Sub(Banks)
    sensors = Sub(Sensors)
    position = Sub(PositionReceiver)
    home = Sub(Home)
    video = Sub(Video)
    camera = Sub(Camera)
    overlay = Sub(Overlay)
    telemetry = Sub(Telemetry)
    finder = Sub(Finder)
    flight_log = Sub(FlightLog)


class ElementKind(NamedTuple):
    """One element that can be written over the picture.

    `example` is as wide as the element gets; `height` counts rows. `tells` is what it tells the
    pilot of that is vital (voltage, time, warning), `reads` what it is read from (voltage,
    current, position, height, heading, level); both are empty where there is nothing to say.
    """

    name: str
    example: str
    height: int = 1
    tells: str = ""
    reads: str = ""

    @property
    def width(self) -> int:
        """How many characters it takes."""
        return len(self.example)


@cache
def element_kinds() -> Mapping[str, ElementKind]:
    """Every element of the catalogue by its name, in the file's order.

    >>> element_kinds()["cell_voltage"].width
    6
    """
    import tomllib

    text = Path(__file__).with_name("elements.toml").read_text(encoding="utf-8")
    return {name: ElementKind(name, **entry) for name, entry in tomllib.loads(text).items()}
