"""The closed loop: whether each axis feeds back the right way, and what the mixer leaves over."""

from collections.abc import Iterator, Sequence
from statistics import median
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.allocation import (
    AXES,
    AxisVerdict,
    Coupling,
    classify_axes,
    couplings,
    decoupled_mixer,
    lone_sign_fault,
    mixer_rank,
    odd_corner_sign,
    response_shares,
    room_beside_yaw,
    sign_test,
    yaw_sum,
)
from cfgaudit.physics.matrices import Matrix
from cfgaudit.rules.geometry import (
    COMMANDS,
    loop_of,
    matrices_of,
    measured,
    mixer_of,
    mixer_paths,
    no_servo,
    spins,
)
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Yielded, listed, rule
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


_ROUNDING: Final = 1 + 1e-9


@rule("motor/mixer-lopsided", Level.WARNING, limits=("motor.coupling_most",))
def lopsided(craft: Craft, most: float) -> Iterator[Yielded]:
    """A command on one axis moves another one too: a sign or a size in the mixer is off.

    An error from half of the own effect on; a note up to twice the limit where all arms have the
    same share and only the signs differ, as firmwares have it for a layout: on a frame whose arms
    are not evenly long it moves another axis a little, and most such craft are flown so.

    Where nothing but the arms' names, or the signs themselves, tells where they stand, one sign
    that is against all the others is told, and no size.

    Judged where every axis answers the right way; motor/control-sign and motor/mixer-rank speak
    where one does not. Each axis is measured by the most that the arms can do on it, so yaw's small
    lever counts no less than roll's. Where the turns do not balance, yaw is left out here:
    motor/yaw-unbalanced says it.

    In the air: a roll pulls the nose round, or a turn lifts one side; the loop has to undo what
    the mixer did, and the craft wobbles or drifts off its heading at every stick movement.
    Mend: give every arm the share that its place asks for, with the sign of its side; arms of one
    pair keep the same size.
    Source: Mahony, Kumar, Corke, IEEE Robotics and Automation Magazine 2012 (from memory); the
    measure is our own hand calculation, the limit common practice.
    """
    no_servo(craft)
    try:
        measured(craft)
    except NotStated:  # how far off the arms stand is not known; on which sides may be
        found = _odd_sign(craft)
        if found is None:
            raise
        yield found
        return
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
    for command in AXES:
        mine = [found for found in strong if found.command == command]
        if not mine or (odd is not None and odd[1] != command):
            continue
        told = Fires(
            f"{_what_it_does(command, mine)}.",
            mixer_paths(craft, arms, (command,)),
            tuple((f"{found.axis}_percent", found.share * 100) for found in mine),
            level=_how_grave(mine),
        )
        if odd is not None:
            yield _by_one_sign(craft, arms, mixer, odd, told)
        else:
            column = [row[AXES.index(command)] for row in mixer]
            little = max(abs(found.share) for found in mine) * 100 <= 2 * most * _ROUNDING
            stock = len({abs(share) for share in column}) == 1
            yield told._replace(
                advice="Compare each arm's share with where the arm stands and how it turns."
                + _alone(arms, column, effect, command),
                level=Level.NOTE if little and stock else told.level,
            )


def _odd_sign(craft: Craft) -> Fires | None:
    """The one sign of a mixer that is against where an arm stands by its name, or by the others.

    Where names or turns tell nothing, four arms still stand at four corners by their signs.
    """
    arms, mixer = mixer_of(craft)
    try:
        _, effect, _ = matrices_of(craft)
    except NotStated:
        odd, against = odd_corner_sign(mixer), "what makes four corners of the arms"
    else:
        if _signs_are_wrong(effect, mixer):
            return None  # motor/control-sign says it
        odd, against = _against_its_side(effect, mixer), "the place that its name tells"
    if odd is None:
        return None
    row, axis = odd
    value = mixer[row][AXES.index(axis)]
    path, *others = mixer_paths(craft, [arms[row], *(a for a in arms if a != arms[row])], (axis,))
    if axis == "yaw" and against.startswith("the place"):
        against = "the way that it turns"
    return Fires(
        f"{axis.capitalize()} is lopsided: {arms[row]} has {number_text(value)}, against "
        f"{against}; all other signs agree.",
        (path, *others),
        (("share", value),),
        (Edit(path, number_text(-value)),),
        level=Level.ERROR,
    )


def _against_its_side(effect: Matrix, mixer: Matrix) -> tuple[int, str] | None:
    """The one share, (arm, axis), whose sign is against what the arm does; yaw if it balances."""
    found = [
        (row, axis)
        for axis, does in zip(AXES, effect, strict=True)
        if axis != "yaw" or not round(sum(does), 9)
        for row, share in enumerate(mixer)
        if share[AXES.index(axis)] * does[row] < -_NO_SIDE
    ]
    return found[0] if len(found) == 1 else None


_NO_SIDE: Final = 1e-9  # on neither side of the middle


def _alone(arms: Sequence[str], column: Sequence[float], effect: Matrix, command: str) -> str:
    """The shares with which a command moves its own axis alone, of the arms that have others."""
    size = median(map(abs, column))  # one share of ten times the others is not the measure
    fits = [size * row[AXES.index(command)] for row in decoupled_mixer(effect)]
    told = [
        f"{arm} {number_text(round(fit, 2))}"
        for arm, now, fit in zip(arms, column, fits, strict=True)
        if abs(fit - now) >= _TOLD * size
    ]
    return f" With {command} of {listed(told)} together it moves its own axis alone."


_TOLD: Final = 0.02  # of a share: a smaller step moves nothing that is told here


def _signs_are_wrong(effect: Matrix, mixer: Matrix) -> bool:
    return (
        response_shares(effect, mixer)[0][0] < 0
        or mixer_rank(effect, mixer) < len(AXES)
        or any(verdict.state != "ok" for verdict in classify_axes(effect, mixer))
    )


def _by_one_sign(
    craft: Craft, arms: Sequence[str], mixer: Matrix, odd: tuple[int, str], found: Fires
) -> Fires:
    """A finding that is cleared by turning one sign of the mixer, which is told before all else."""
    row, axis = odd
    path = craft.motors.arms[arms[row]].mix.path(axis)
    value = mixer[row][AXES.index(axis)]
    return found._replace(
        message=f"{found.message} One sign does it: {arms[row]} has {number_text(value)}.",
        paths=(path, *(other for other in found.paths if other != path)),
        mend=(Edit(path, number_text(-value)),),
        advice="",
    )


_HALF: Final = 0.5


def _how_grave(mine: Sequence[Coupling]) -> Level:
    """An error where a command moves another axis half as much as its own, or more."""
    return Level.ERROR if max(abs(found.share) for found in mine) >= _HALF else Level.WARNING


def _what_it_does(command: str, mine: Sequence[Coupling]) -> str:
    moved = [f"{found.axis} by {abs(found.share) * 100:.0f} %" for found in mine]
    return (
        f"{command.capitalize()} is lopsided: {COMMANDS[command]} also moves {listed(moved)} of "
        "its effect on its own axis"
    )


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
    no_servo(craft)
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
        room_beside_yaw(mixer, axis, yaw) / room_beside_yaw(mixer, axis, 0.0)
        for axis in ("roll", "pitch")
    )
    return roll * 100, pitch * 100


RULES = (lopsided, clips)


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
    taken as mounted the way its rotation is set. Yaw that a servo makes is not judged.

    In the air: the control loop pushes the craft further the way it already goes, and it flips.
    Mend: compare the signs of the mixer's rows with where the arms stand and how they turn;
    look for rows, arms or outputs that changed places, and at the board's arrow. Propellers off
    until it is put right.
    Source: Mahony, Kumar, Corke, IEEE Robotics and Automation Magazine 2012 (from memory);
    the sign test is our own hand calculation.
    """
    loop = loop_of(craft, sheet)
    yield from (Lacks(path) for path in loop.lacks)
    share = response_shares(loop.effect, loop.mixer)[0][0]
    yield from _thrust_the_wrong_way(craft, loop.arms, share)
    lowest = sign_test(loop.effect, loop.mixer, loop.rotation)[0].real
    by_servo = {"yaw"} if len(loop.arms) < len(craft.motors.arms.names()) else set()
    odd = None
    if not (loop.turned or loop.paths or by_servo):
        odd = lone_sign_fault(loop.effect, loop.mixer, _LITTLE)
    for verdict in classify_axes(loop.effect, loop.mixer, loop.rotation):
        if verdict.state != "ok" and verdict.axis not in by_servo:
            told = Fires(
                _seen(verdict, loop.turned),
                (*mixer_paths(craft, loop.arms, (verdict.axis,)), *loop.paths),
                _sign_figures(verdict, lowest),
                advice="Take the propellers off. " + _ADVICE[loop.turned, bool(loop.paths)],
                air=_in_the_air(verdict),
            )
            if odd is not None and odd[1] == verdict.axis:
                told = _by_one_sign(craft, loop.arms, loop.mixer, odd, told)
            yield told


def _in_the_air(verdict: AxisVerdict) -> str:
    if verdict.partner is not None:
        return "the craft corrects the wrong axis and tumbles as it leaves the ground."
    if verdict.state == "reversed":
        return (
            "the control loop pushes the craft further the way it already goes: "
            f"{_REVERSED[verdict.axis]}."
        )
    return f"{_NO_AUTHORITY[verdict.axis]}."


_LITTLE: Final = 0.1  # of a command's own effect: what a sound mixer moves of another axis at most


def _thrust_the_wrong_way(craft: Craft, arms: Sequence[str], share: float) -> Iterator[Yielded]:
    if share < 0:
        yield Fires(
            f"Thrust works the wrong way: {COMMANDS['thrust']} gives less ({_percent(share)} of a "
            "full effect). The craft does not lift, and falls when it should climb.",
            mixer_paths(craft, arms, ("thrust",)),
            (("own_share", share),),
            advice="Take the propellers off. Every arm's share of the thrust must be above 0.",
        )


def _sign_figures(verdict: AxisVerdict, lowest: float) -> tuple[tuple[str, float], ...]:
    own = (("own_share", verdict.share), ("lowest_eigenvalue", lowest))
    return (*own, ("partner_share", verdict.partner_share)) if verdict.partner else own


def _seen(verdict: AxisVerdict, turned: bool) -> str:
    """What the pilot sees; where the board is not mounted as set what the loop takes a turn for.

    A stick still works there as the mixer has it; what is wrong is how the loop answers the turn.
    """
    axis, own = verdict.axis.capitalize(), _percent(verdict.share)
    command, when = COMMANDS[verdict.axis], f"when the craft {_MOVES[verdict.axis]}, the loop"
    if verdict.partner is not None:
        does = f"{command} {_EFFECTS[verdict.partner][verdict.partner_share > 0]}"
        if turned:
            does = f"{when} answers in {verdict.partner}"
        return (
            f"{axis} and {verdict.partner} are mixed up: {does} "
            f"({_percent(abs(verdict.partner_share))} of a full effect, against {own} on its own "
            "axis). The craft corrects the wrong axis and tumbles."
        )
    if verdict.state == "reversed":
        does = f"{command} {_EFFECTS[verdict.axis][0]} (own effect {own}). The craft adds to every "
        does += "disturbance"
        if turned:
            does = f"{when} pushes it further (own effect {own})"
        return f"{axis} feeds back the wrong way: {does}: {_REVERSED[verdict.axis]}."
    does = f"{command} has {own} of a full effect. With such a mixer"
    if turned:
        does = f"{when} answers with {own} of a full effect, and"
    return f"{axis} has no authority: {does} {_NO_AUTHORITY[verdict.axis]}."


def _percent(share: float) -> str:
    return f"{round(share * 100)} %"
