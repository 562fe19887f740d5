"""Which way each propeller really turns, as far as the build sheet tells.

A turn that was seen is taken as it is, unless the direction in the speed controller was changed
since. Without one, wires and direction tell it by comparison with an arm whose turn was seen: two
motors alike turn alike where both are wired and set alike (three wires of a motor, two of them
swapped, or the direction reversed: each turns it over; common practice). Which way straight wires
turn a motor is its maker's choice, so with no turn seen only the pattern is known.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from cfgaudit.craft.craft import Craft

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet

_SIGNS = {"cw": 1, "ccw": -1, "straight": 1, "swapped": -1, "normal": 1, "reversed": -1}


class Turns(NamedTuple):
    """What is known of the turns, by arm: +1 clockwise seen from above, -1 anticlockwise.

    `seen` is as somebody saw it, `wired` what wires and direction make of it but for one sign
    that all the motors share.
    """

    seen: Mapping[str, int]
    wired: Mapping[str, int]

    def shared_sign(self) -> int:
        """The sign that all motors share, by the arms that were seen; 0 where they do not tell."""
        votes = sum(self.seen[arm] * self.wired[arm] for arm in self.seen if arm in self.wired)
        return (votes > 0) - (votes < 0)

    def known(self) -> dict[str, int]:
        """The turn of every arm that is sure: seen, or by comparison with those seen."""
        sign = self.shared_sign()
        compared = {arm: sign * turn for arm, turn in self.wired.items()} if sign else {}
        return {**compared, **self.seen}

    def only_by_pattern(self) -> dict[str, int]:
        """Arms whose turn is known but for the shared sign."""
        return (
            {}
            if self.shared_sign()
            else {a: t for a, t in self.wired.items() if a not in self.seen}
        )


def true_turns(craft: Craft, sheet: "Sheet") -> Turns:
    """What the build sheet tells of each arm, with the dump's directions where it has them."""
    seen: dict[str, int] = {}
    wired: dict[str, int] = {}
    for name in sheet.motors.names():
        motor, now = sheet.motors[name], craft.esc.arms[name]
        then = _SIGNS[motor.direction] if motor.states("direction") else 0
        direction = _SIGNS[now.direction] if now.states("direction") else then
        if motor.states("turns"):
            seen[name] = _SIGNS[motor.turns] * (-1 if then * direction < 0 else 1)
        if motor.states("wires") and direction:
            wired[name] = _SIGNS[motor.wires] * direction
    return Turns(seen, wired)
