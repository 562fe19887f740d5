"""What the signs of four arms' numbers tell: which of them is forward, to the left, in between."""

from collections.abc import Mapping, Sequence

from cfgaudit.teaching.keys import Field

# For each setting of an arm, the sign that each arm has by the vocabulary's axes; common practice
# for an x frame: roll right lifts the left arms, nose up lifts the front ones.
_FRONT = {"front_left": 1, "front_right": 1, "rear_left": -1, "rear_right": -1}
_LEFT = {"front_left": 1, "front_right": -1, "rear_left": 1, "rear_right": -1}
_CROSS = {"front_left": 1, "front_right": -1, "rear_left": -1, "rear_right": 1}
_SAME = dict.fromkeys(_FRONT, 1)
SIGNS: Mapping[str, Mapping[str, int]] = {
    "frame.arms.ARM.x": _FRONT,
    "frame.arms.ARM.y": {arm: -sign for arm, sign in _LEFT.items()},
    "motors.ARM.mix.thrust": _SAME,
    "motors.ARM.mix.roll": _LEFT,
    "motors.ARM.mix.pitch": _FRONT,
    "motors.ARM.mix.yaw": _CROSS,
    "motors.ARM.output": _SAME,
}


def signs_of(seen: Field, depth: int, words: Mapping[str, str]) -> dict[str, int]:
    """The sign of each arm's number."""
    found: dict[str, int] = {}
    for sample in seen.samples:
        arm = words.get(sample.under[depth], "")
        try:
            number = float(sample.text)
        except ValueError:
            continue
        found[arm] = (number > 0) - (number < 0)
    return found


def agreement(target: str, signs: Mapping[str, int]) -> int:
    """1 where the signs are those of the setting, -1 where all are turned, 0 where neither."""
    wanted = SIGNS.get(target)
    if wanted is None or not signs or any(arm not in wanted for arm in signs):
        return 0
    if all(not sign for sign in signs.values()):
        return 0
    if target == "motors.ARM.output":
        return 1 if all(sign >= 0 for sign in signs.values()) else 0
    if all(signs[arm] == wanted[arm] for arm in signs):
        return 1
    return -1 if all(signs[arm] == -wanted[arm] for arm in signs) else 0


def yaw_sign(signs: Mapping[str, int], spins: Mapping[str, str]) -> int:
    """How the yaw column counts, where the spins are known: an arm that turns ccw yaws clockwise.

    1 where those arms are positive, -1 where they are negative, 0 where nobody can tell.
    """
    told: Sequence[int] = [
        sign if spins[arm] == "ccw" else -sign for arm, sign in signs.items() if arm in spins
    ]
    if len(told) < 3:
        return 0
    return 1 if all(t > 0 for t in told) else -1 if all(t < 0 for t in told) else 0
