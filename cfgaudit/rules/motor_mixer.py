"""The mixer's proportions: what a command moves besides its own axis, and what it leaves."""

from collections.abc import Iterator, Sequence
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.allocation import (
    AXES,
    Coupling,
    classify_axes,
    couplings,
    lone_sign_fault,
    mixer_rank,
    response_shares,
    room_left,
    yaw_sum,
)
from cfgaudit.physics.matrices import Matrix
from cfgaudit.rules.motor_signs import COMMANDS, matrices_of, mixer_of, mixer_paths, spins
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, rule
from cfgaudit.rules.wording import listed
from cfgaudit.units import number_text

_ROUNDING: Final = 1 + 1e-9


@rule("motor/mixer-lopsided", Level.WARNING, limits=("motor.coupling_most",))
def lopsided(craft: Craft, most: float) -> Iterator[Yielded]:
    """A command on one axis moves another one too: a sign or a size in the mixer is off.

    Judged where every axis answers the right way; motor/control-sign and motor/mixer-rank speak
    where one does not. Each axis is measured by the most that the arms can do on it, so yaw's
    small lever counts no less than roll's. Where the turns do not balance, yaw is left out here:
    motor/yaw-unbalanced says it.

    In the air: a roll pulls the nose round, or a turn lifts one side; the loop has to undo what
    the mixer did, and the craft wobbles or drifts off its heading at every stick movement.
    Mend: give every arm the share that its place asks for, with the sign of its side.
    Source: Mahony, Kumar, Corke, IEEE Robotics and Automation Magazine 2012 (from memory); the
    measure is our own hand calculation, the limit common practice.
    """
    arms, effect, mixer = matrices_of(craft)
    if _signs_are_wrong(effect, mixer):
        return
    balanced = yaw_sum(list(spins(craft, arms).values())) == 0
    strong = [
        found
        for found in couplings(effect, mixer)
        if abs(found.share) * 100 > most * _ROUNDING
        and (balanced or "yaw" not in (found.command, found.axis))
    ]
    if not strong:
        return
    odd = lone_sign_fault(effect, mixer, most / 100 * _ROUNDING) if balanced else None
    if odd:
        yield _one_sign(craft, arms, mixer, odd, strong)
        return
    for command in AXES:
        mine = [found for found in strong if found.command == command]
        if mine:
            yield Fires(
                f"{_what_it_does(command, mine)}.",
                mixer_paths(craft, arms, (command,)),
                _figures(mine),
                advice="Compare each arm's share with where the arm stands and how it turns.",
            )


def _signs_are_wrong(effect: Matrix, mixer: Matrix) -> bool:
    return (
        response_shares(effect, mixer)[0][0] < 0
        or mixer_rank(effect, mixer) < len(AXES)
        or any(verdict.state != "ok" for verdict in classify_axes(effect, mixer))
    )


def _one_sign(
    craft: Craft,
    arms: Sequence[str],
    mixer: Matrix,
    odd: tuple[int, str],
    strong: Sequence[Coupling],
) -> Fires:
    row, axis = odd
    path = craft.motors.arms[arms[row]].mix.path(axis)
    value = mixer[row][AXES.index(axis)]
    mine = [found for found in strong if found.command == axis]
    others = mixer_paths(craft, arms, (axis,))
    return Fires(
        f"{_what_it_does(axis, mine)}. One sign does it: {arms[row]} has {number_text(value)}.",
        (path, *(other for other in others if other != path)),
        _figures(mine),
        (Edit(path, number_text(-value)),),
    )


def _what_it_does(command: str, mine: Sequence[Coupling]) -> str:
    moved = [f"{found.axis} by {abs(found.share) * 100:.0f} %" for found in mine]
    return (
        f"{command.capitalize()} is lopsided: {COMMANDS[command]} also moves {listed(moved)} of "
        "its effect on its own axis"
    )


def _figures(mine: Sequence[Coupling]) -> tuple[tuple[str, float], ...]:
    return tuple((f"{found.axis}_percent", found.share * 100) for found in mine)


@rule("motor/mixer-clips", Level.NOTE, limits=("motor.room_least",))
def clips(craft: Craft, least: float) -> Iterator[Yielded]:
    """A full yaw command leaves the motors too little room for roll and pitch.

    A command of 1 in a mixer whose shares are 1 spreads the motors from rest to full, whichever
    axis it is on. What the loop lets through of a full yaw command (loop.yaw_most) is taken into
    account; it is asked for only where the mixer by itself would leave too little.

    In the air: in a hard turn of the nose the motors reach their ends, roll and pitch can't be
    held any more, and the craft drops a side or its height until the turn ends.
    Mend: lower the most that yaw may take, or the arms' shares of yaw.
    Source: Mahony, Kumar, Corke, IEEE Robotics and Automation Magazine 2012 (from memory) for
    the spread; the limit is common practice.
    """
    arms, mixer = mixer_of(craft)
    if min(_rooms(mixer, 1.0)) >= least:
        return
    share = craft.loop.yaw_most
    roll, pitch = _rooms(mixer, share / 100)
    if min(roll, pitch) * _ROUNDING >= least:
        return
    yield Fires(
        f"A full yaw command, of which the loop lets {number_text(share)} % through, leaves "
        f"{roll:.0f} % of a full roll and {pitch:.0f} % of a full pitch command; "
        f"{number_text(least)} % is the least that should be left.",
        (
            craft.loop.path("yaw_most"),
            *(craft.motors.arms[arm].mix.path("yaw") for arm in arms),
        ),
        (("roll_percent", roll), ("pitch_percent", pitch), ("yaw_percent", share)),
        advice="Lower the most that yaw may take, or every arm's share of yaw alike.",
    )


def _rooms(mixer: Matrix, yaw: float) -> tuple[float, float]:
    """How much of full roll and of full pitch fits beside this yaw, in per cent of what fits
    without any."""
    roll, pitch = (
        room_left(mixer, "yaw", axis, command=yaw) / room_left(mixer, "yaw", axis, command=0.0)
        for axis in ("roll", "pitch")
    )
    return roll * 100, pitch * 100


RULES = (lopsided, clips)
