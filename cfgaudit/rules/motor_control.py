"""The sign test of the closed loop: does every axis answer, on its own axis, the right way."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.allocation import AxisVerdict, classify_axes, response_shares, sign_test
from cfgaudit.rules.motor_signs import COMMANDS, mixer_paths
from cfgaudit.rules.rule import Fires, Level, Yielded, rule
from cfgaudit.rules.true_geometry import loop_of

if TYPE_CHECKING:  # most audits have no sheet
    from cfgaudit.craft.sheet import Sheet

_EFFECTS = {
    "roll": ("rolls it left", "rolls it right"),
    "pitch": ("drops the nose", "lifts the nose"),
    "yaw": ("turns it anticlockwise", "turns it clockwise"),
}
_REVERSED = {
    "roll": "it flips over sideways as it leaves the ground",
    "pitch": "it flips over its nose or its tail as it leaves the ground",
    "yaw": "it spins faster and faster as it leaves the ground",
}
_NO_AUTHORITY = {
    "roll": "nothing holds it level, and it tips over sideways",
    "pitch": "nothing holds it level, and it tips over its nose or its tail",
    "yaw": "nothing holds its heading, and it turns as it likes",
}
_MOVES = {"roll": "rolls right", "pitch": "lifts its nose", "yaw": "turns clockwise"}
_MIXER = (
    "Compare the mixer's signs, row by row, with where the arms stand and how they turn; rows may "
    "have changed places."
)
# By whether the board is turned otherwise than set, and whether the sheet differs from the dump.
_ADVICE = {
    (False, False): _MIXER,
    (False, True): "Compare places, turns and outputs, arm by arm, with what the dump has of them.",
    (True, True): "Set the board's rotation as it is mounted, then compare places, turns and "
    "outputs.",
}


@rule("motor/control-sign", Level.ERROR, sheet="wanted")
def control_sign(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """The mixer answers a turn about an axis the wrong way, in another axis, or not at all.

    So does thrust, where more of it lifts less. Judged by where the arms stand, how they turn,
    which arm each row reaches and how the board is mounted, as the build sheet has it; what it
    does not tell, and all of it without one, is taken as the dump states it. There the board is
    taken as mounted the way its rotation is set.

    In the air: the control loop pushes the craft further the way it already goes, and it flips.
    Mend: compare the signs of the mixer's rows with where the arms stand and how they turn;
    look for rows, arms or outputs that changed places, and at the board's arrow. Propellers off
    until it is put right.
    Source: Mahony, Kumar, Corke, IEEE Robotics and Automation Magazine 2012 (from memory);
    the sign test is our own hand calculation.
    """
    loop = loop_of(craft, sheet)
    share = response_shares(loop.effect, loop.mixer)[0][0]
    yield from _thrust_the_wrong_way(craft, loop.arms, share)
    lowest = sign_test(loop.effect, loop.mixer, loop.rotation)[0].real
    for verdict in classify_axes(loop.effect, loop.mixer, loop.rotation):
        if verdict.state != "ok":
            seen = _what_the_craft_does if loop.turned else _what_the_pilot_sees
            yield Fires(
                seen(verdict),
                (*mixer_paths(craft, loop.arms, (verdict.axis,)), *loop.paths),
                _figures(verdict, lowest),
                advice="Take the propellers off. " + _ADVICE[loop.turned, bool(loop.paths)],
            )


def _thrust_the_wrong_way(craft: Craft, arms: Sequence[str], share: float) -> Iterator[Yielded]:
    if share < 0:
        yield Fires(
            f"Thrust works the wrong way: {COMMANDS['thrust']} gives less ({_percent(share)} of a "
            "full effect). The craft does not lift, and falls when it should climb.",
            mixer_paths(craft, arms, ("thrust",)),
            (("own_share", share),),
            advice="Take the propellers off. Every arm's share of the thrust must be above 0.",
        )


def _figures(verdict: AxisVerdict, lowest: float) -> tuple[tuple[str, float], ...]:
    own = (("own_share", verdict.share), ("lowest_eigenvalue", lowest))
    return (*own, ("partner_share", verdict.partner_share)) if verdict.partner else own


def _what_the_pilot_sees(verdict: AxisVerdict) -> str:
    axis, command = verdict.axis.capitalize(), COMMANDS[verdict.axis]
    own, partner = _percent(verdict.share), _percent(abs(verdict.partner_share))
    if verdict.partner is not None:
        effect = _EFFECTS[verdict.partner][verdict.partner_share > 0]
        return (
            f"{axis} and {verdict.partner} are mixed up: {command} {effect} "
            f"({partner} of a full effect, against {own} on "
            f"its own axis). The craft corrects the wrong axis and tumbles."
        )
    if verdict.state == "reversed":
        effect = _EFFECTS[verdict.axis][0]
        return (
            f"{axis} feeds back the wrong way: {command} {effect} (own effect "
            f"{own}). The craft adds to every disturbance: {_REVERSED[verdict.axis]}."
        )
    return (
        f"{axis} has no authority: {command} has {own} of a full effect. "
        f"With such a mixer {_NO_AUTHORITY[verdict.axis]}."
    )


def _what_the_craft_does(verdict: AxisVerdict) -> str:
    """As above where the board is not mounted as it is set: told of what the loop takes a turn for.

    A stick still works as the mixer has it; what is wrong is how the loop answers the turn.
    """
    axis, moves = verdict.axis.capitalize(), _MOVES[verdict.axis]
    own, partner = _percent(verdict.share), _percent(abs(verdict.partner_share))
    if verdict.partner is not None:
        return (
            f"{axis} and {verdict.partner} are mixed up: when the craft {moves}, the loop answers "
            f"in {verdict.partner} ({partner} of a full effect, against {own} on its own axis). "
            "The craft corrects the wrong axis and tumbles."
        )
    if verdict.state == "reversed":
        return (
            f"{axis} feeds back the wrong way: when the craft {moves}, the loop pushes it further "
            f"(own effect {own}): {_REVERSED[verdict.axis]}."
        )
    return (
        f"{axis} has no authority: when the craft {moves}, the loop answers with {own} of a full "
        f"effect, and {_NO_AUTHORITY[verdict.axis]}."
    )


def _percent(share: float) -> str:
    return f"{round(share * 100)} %"
