"""Motors: which way they turn and which output drives them."""

from collections.abc import Iterator

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.allocation import yaw_sum
from cfgaudit.physics.layouts import neighbours_alike
from cfgaudit.rules.motor_signs import (
    SPINS,
    TURN_WORDS,
    control_sign,
    positions,
    rank_too_low,
    spins_of_the_frame,
)
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, rule


@rule("motor/reversal-mismatch", Level.ERROR)
def reversal_mismatch(craft: Craft) -> Iterator[Yielded]:
    """The turn that the mixer takes for granted is not the one the craft is set up for.

    Two statements are compared with the mixer's spins. Layout and rotation say how each
    propeller must turn. The directions set in the speed controllers must be all alike (the
    wiring then makes the difference) or differ exactly as the spins do (motors wired alike);
    anything else is a warning only, since a dump can't show how one motor is wired.

    In the air: with all turns the other way yaw feeds back the wrong way and the craft spins
    up; with some of them wrong it turns by itself and may flip.
    Mend: with the propellers off, look which way each motor turns, then correct the mixer's
    spin, the frame's rotation or the direction in the speed controller, whichever is untrue.
    Source: common practice; Mahony, Kumar, Corke 2012 for the part of the turns (from memory).
    """
    spins: dict[str, int] = {}
    for motor in craft.motors.arms:
        try:
            spins[motor.name] = SPINS[motor.spin]
        except NotStated as lack:
            yield Lacks(lack.path)
    for check in (_against_rotation, _against_directions):
        try:
            yield from check(craft, spins)
        except NotStated as lack:
            yield Lacks(lack.path)


def _against_rotation(craft: Craft, spins: dict[str, int]) -> Iterator[Yielded]:
    expected = spins_of_the_frame(craft)
    wrong = [arm for arm in spins if arm in expected and spins[arm] != expected[arm]]
    if not wrong:
        return
    told = ", ".join(f"{arm} {TURN_WORDS[spins[arm]]}" for arm in wrong)
    judged = sum(arm in expected for arm in spins)
    yield Fires(
        f"The mixer takes for granted that {len(wrong)} of {judged} propellers turn the other "
        f"way than {craft.frame.layout} with rotation {craft.frame.rotation} asks for: {told}.",
        (
            *(craft.motors.arms[arm].path("spin") for arm in wrong),
            craft.frame.path("rotation"),
            craft.frame.path("layout"),
        ),
        (("wrong_arms", len(wrong)), ("arms", judged)),
        advice="Propellers off: look which way each motor turns. "
        + (
            "Then correct the rotation or all spins, whichever is untrue."
            if len(wrong) == judged
            else f"Then correct {', '.join(wrong)}."
        ),
    )


def _against_directions(craft: Craft, spins: dict[str, int]) -> Iterator[Yielded]:
    directions = {}
    for arm in [part.name for part in craft.esc.arms]:
        if arm in spins:
            directions[arm] = craft.esc.arms[arm].direction == "reversed"
    missing = [arm for arm in spins if arm not in directions]
    yield from (Lacks(craft.esc.arms[arm].path("direction")) for arm in missing)
    backward = {arm for arm, turned in directions.items() if turned}
    clockwise = {arm for arm in directions if spins[arm] > 0}
    every = set(directions)
    patterns = (every - every, every, clockwise, every - clockwise)
    count = min(len(backward ^ pattern) for pattern in patterns)
    if count == 0:
        return
    near = [backward ^ pattern for pattern in patterns if len(backward ^ pattern) == count]
    arms = [arm for arm in directions if any(arm in odd for odd in near)]
    yield Fires(
        f"The directions set in the speed controllers are neither all alike nor do they follow "
        f"the spins: {len(backward)} of {len(directions)} are reversed. At least {count} of "
        f"{', '.join(arms)} must be wired the other way than the rest, or turn wrong.",
        (
            *(craft.esc.arms[arm].path("direction") for arm in arms),
            *(craft.motors.arms[arm].path("spin") for arm in arms),
        ),
        (("reversed", len(backward)), ("arms", len(directions)), ("odd_arms", count)),
        advice=f"Propellers off: look which way the motors of {', '.join(arms)} turn.",
        level=Level.WARNING,
    )


@rule("motor/yaw-unbalanced", Level.ERROR)
def yaw_unbalanced(craft: Craft) -> Iterator[Yielded]:
    """Not as many propellers turn clockwise as anticlockwise.

    In the air: the drag of the propellers does not cancel, so the craft turns by itself at any
    thrust, and holding its heading costs thrust on some arms.
    Mend: give neighbouring arms opposite turns.
    Source: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1 (from memory).
    """
    motors = list(craft.motors.arms)
    spins = [SPINS[motor.spin] for motor in motors]
    total = yaw_sum(spins)
    if total == 0:
        return
    many, few = spins.count(1), spins.count(-1)
    yield Fires(
        f"{many} propeller{' turns' if many == 1 else 's turn'} clockwise and {few} "
        "anticlockwise: their drag does not cancel, "
        f"and the craft turns {'anticlockwise' if total > 0 else 'clockwise'} by itself.",
        tuple(motor.path("spin") for motor in motors),
        (("clockwise", many), ("anticlockwise", few), ("sum", total)),
        advice="Give neighbouring arms opposite turns, in the mixer and on the craft.",
    )


@rule("motor/neighbours-alike", Level.ERROR)
def neighbours_turn_alike(craft: Craft) -> Iterator[Yielded]:
    """Two neighbouring arms of a quad turn the same way.

    In the air: yaw moves together with roll or pitch, or the craft turns by itself; it can't be
    held and flips or spins.
    Mend: let the turns alternate round the craft: diagonals alike, neighbours opposite.
    Source: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1 (from memory).
    """
    motors = list(craft.motors.arms)
    if len(motors) != 4:
        return
    spins = {motor.name: SPINS[motor.spin] for motor in motors}
    pairs = neighbours_alike(positions(craft, list(spins)), spins)
    if not pairs:
        return
    told = "; ".join(f"{a} and {b} both turn {TURN_WORDS[spins[a]]}" for a, b in pairs)
    met = {arm for pair in pairs for arm in pair}
    yield Fires(
        f"Neighbouring propellers turn the same way: {told}.",
        tuple(motor.path("spin") for motor in motors if motor.name in met),
        (("pairs", len(pairs)),),
        advice="Let the turns alternate round the craft: diagonals alike, neighbours opposite.",
    )


@rule("motor/output-twice", Level.ERROR)
def output_twice(craft: Craft) -> Iterator[Yielded]:
    """One output drives two arms.

    In the air: two motors get the same command whatever the mixer wants, and another motor gets
    none: the craft flips as it leaves the ground.
    Mend: give every arm an output of its own, the one that its motor is wired to.
    Source: common practice.
    """
    arms: dict[int, list[str]] = {}
    for motor in craft.motors.arms:
        try:
            arms.setdefault(motor.output, []).append(motor.name)
        except NotStated as lack:
            yield Lacks(lack.path)
    for output, names in arms.items():
        if len(names) > 1:
            yield Fires(
                f"Output {output} drives {len(names)} arms: {' and '.join(names)}.",
                tuple(craft.motors.arms[name].path("output") for name in names),
                (("output", output), ("arms", len(names))),
                advice="Give every arm the output that its motor is wired to.",
            )


RULES = (
    reversal_mismatch,
    yaw_unbalanced,
    neighbours_turn_alike,
    output_twice,
    control_sign,
    rank_too_low,
)
