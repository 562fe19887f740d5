"""Receiver, sticks, switches, arming and failsafe."""

from typing import cast

from cfgaudit.craft.declare import Class, Group, Part, Setting, Table, Traits
from cfgaudit.craft.fields import (
    kind_by,
    number,
    switches,
    whole,
    whole_by,
    word,
    word_set,
)
from cfgaudit.craft.kinds import Either, Quantity
from cfgaudit.craft.values import SwitchRange

_C = Class.SAFETY
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

    low = number(_C, "lowest pulse of this channel", "us", 500, 2500)
    centre = number(_C, "middle pulse of this channel", "us", 500, 2500)
    high = number(_C, "highest pulse of this channel", "us", 500, 2500)


class Receiver(Part):
    """The receiver link and its channels."""

    link = word(_C, "how the receiver talks", *LINKS)
    channels = whole(_C, "how many channels the link carries", 1, 64)
    map = whole_by("CONTROL", _C, "the channel of a control, from 1", 1, 64)
    low = number(_C, "lowest pulse", "us", 500, 2500)
    centre = number(_C, "middle pulse", "us", 500, 2500)
    high = number(_C, "highest pulse", "us", 500, 2500)
    ends = Group("N", Ends)
    deadband = number(_C, "stick movement that counts as none", "us", 0, 200)
    yaw_deadband = number(_C, "yaw stick movement that counts as none", "us", 0, 200)
    signal_channel = whole(_C, "the channel that carries signal strength, 0 for none", 0, 64)
    smoothing: Setting[float | str] = Setting(
        Traits(
            Either(("off", "auto"), Quantity("Hz", 1, 1000)),
            _C,
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
        _C, "the channel ranges that switch this function on", "FUNCTION", FUNCTIONS
    )

    def of(self, function: str) -> tuple[SwitchRange, ...]:
        """The ranges of one function; none where other functions have some and this has not."""
        return self.ranges.get(function, ())

    def path_of(self, function: str) -> str:
        """The neutral path of one function's ranges."""
        return self.path(function)


class Arming(Part):
    """How the motors are released."""

    by = word(_C, "what arms the craft", "switch", "sticks")
    max_tilt = number(_C, "greatest tilt at which it arms; 180 is any", "deg", 0, 180)
    throttle_below = number(_C, "throttle must be below this to arm", "us", 500, 2500)
    waived = word_set(_C, "pre-arm checks that somebody switched off", *CHECKS)


class Failsafe(Part):
    """What happens when the link is lost."""

    detect_after = number(_C, "silence after which the link counts as lost", "s", 0, 60)
    hold_for = number(_C, "how long the last inputs hold", "s", 0, 600)
    land_for = number(_C, "how long the landing lasts before the motors stop", "s", 0, 3600)
    action = word(
        _C, "what the craft then does", "motors_off", "land", "return_home", "hold_inputs", "none"
    )
    throttle = number(_C, "throttle while landing", "us", 500, 2500)
    channels = kind_by(
        "N", Either(("hold",), Quantity("us", 500, 2500)), _C, "what a channel does on link loss"
    )

    def channel(self, number: int) -> float | str:
        """`hold`, or the pulse in us that a channel takes on link loss. Raises NotStated."""
        return cast("float | str", self.channels[str(number)])
