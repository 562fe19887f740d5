"""The build sheet's drive: motors, propellers, the pack."""

from cfgaudit.craft.declare import Class, Part
from cfgaudit.craft.fields import number, text, whole, word

_C, _P = Class.SAFETY, Class.POWER


class SheetMotor(Part):
    """The motor on one arm. What is seen to turn is stated, or what makes it turn so."""

    output = whole(_C, "follow the signal wire: the board's output it comes from", 1, 32)
    pad = text(_C, "follow the signal wire: the pad it is soldered to")
    wires = word(
        _C, "look: straight, or swapped where two of the three changed places",
        "straight", "swapped",
    )  # fmt: skip
    direction = word(
        _C, "read it out of the speed controller: the direction set there", "normal", "reversed"
    )
    turns = word(_C, "propellers OFF, spin it at the bench: its turn, seen from above", "cw", "ccw")
    poles = whole(_C, "count the magnets in the bell, not the pairs", 2, 64)


class Propulsion(Part):
    """Motors and propellers, all alike."""

    kv = number(_C, "read it off the motor: speed for each volt", "rpm/V", 10, 50000)
    diameter = number(_C, "measure tip to tip: the propeller", "mm", 10, 2000)
    blades = whole(_C, "count the blades of one propeller", 1, 12)
    hover_throttle = number(_C, "from a flight log: throttle while hovering", "%", 1, 100)
    peak_current = number(
        _P, "from a log or the motors' data sheet: the whole craft at full throttle", "A", 0, 1000
    )
    all_up_weight = number(_C, "weigh it, ready to fly with its pack", "g", 1, 100000)


class Pack(Part):
    """The pack that is flown."""

    chemistry = word(_P, "read the label: what the cells are made of", "lipo", "lihv", "liion")
    cells = whole(_P, "read the label: cells in series", 1, 14)
    capacity = number(_P, "read the label: its capacity", "mAh", 1, 100000)
