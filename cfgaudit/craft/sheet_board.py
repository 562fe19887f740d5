"""The build sheet's board: its ports, its pads, its supply rails."""

from cfgaudit.craft.declare import Class, Part
from cfgaudit.craft.fields import any_of, between, flag, number, numbers, text, word, word_set

_C, _P = Class.SAFETY, Class.POWER


class SheetPort(Part):
    """What one serial port of the board can do."""

    kind = word(
        _C, "look up in the board's manual: who times its bits", "hardware", "software", "usb"
    )
    highest_rate = number(_C, "look up: its highest rate", "Bd", 300, 20e6)
    clock = number(_C, "look up in the processor's manual: its clock", "Hz", 1e5, 1e9)
    oversampling = any_of(_C, "look up: how often it samples each bit", 16, 8)
    inverter = flag(_C, "look up: whether it can turn its idle level round")
    one_wire = flag(_C, "look up: whether both directions can share its one wire")


class SheetPad(Part):
    """One solder pad of the board."""

    timer = text(_C, "look up in the board's manual: the timer behind the pad")


class SheetRail(Part):
    """One supply rail: of one voltage, of a range (the pack's), or of choices (a bridge)."""

    voltage = between(_P, "measure with the pack connected: its voltage, or a range", "V", 0, 80)
    choices = numbers(_P, "look up: voltages that a bridge or jumper chooses from", "V", 0, 80)
    choice = number(_P, "look at the bridge or jumper: the voltage it has now", "V", 0, 80)
    rating = number(_P, "look up: the most current that its regulator gives", "A", 0, 500)
    fed_by = word_set(_P, "follow the wires: every source that reaches it, such as pack or usb")

    def volts(self) -> tuple[float, float]:
        """Its lowest and highest voltage as it is now, in V. Raises NotStated."""
        if self.states("choice") or self.states("choices"):
            return self.choice, self.choice
        return self.voltage

    def volts_path(self) -> str:
        """The path at which that voltage is stated."""
        return self.path("choice" if self.states("choice") else "voltage")
