"""Where the arms stand, how each propeller really turns, and what a command then does."""

from collections.abc import Iterator, Mapping, Sequence
from math import sqrt
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Craft, if_stated, is_servo, there
from cfgaudit.physics.allocation import (
    ANTICLOCKWISE,
    AXES,
    BEARINGS_DEG,
    CLOCKWISE,
    arm_positions,
    cosine,
    effectiveness,
    expected_spins,
    mixer_rank,
    neighbours_alike,
    rotation_has_meaning,
    yaw_sum,
)
from cfgaudit.physics.matrices import (
    IDENTITY_3,
    Matrix,
    angle_between_deg,
    believed_rates,
    rotation_matrix,
)
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, NotApplicable, Yielded, listed, rule
from cfgaudit.settings import TroubleKind
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.dump import Motor, Rotation
    from cfgaudit.vocabulary.sheet import Turned


SPINS = {"cw": CLOCKWISE, "ccw": ANTICLOCKWISE}
TURN_WORDS = {CLOCKWISE: "clockwise", ANTICLOCKWISE: "anticlockwise"}
COMMANDS = {
    "thrust": "a command for more thrust",
    "roll": "a command to roll right",
    "pitch": "a command to lift the nose",
    "yaw": "a command to turn clockwise",
}


def positions(craft: Craft, arms: Sequence[str]) -> dict[str, tuple[float, float]]:
    """(forward, right) of every arm: as stated, else as the layout has it, else as they are named.

    Stated places are in metres, a layout's on a circle of radius 1. The two are not mixed.
    Where no layout is stated, names that are those of one layout's arms tell on which side of the
    craft each stands; how far off they do not tell.
    Raises NotStated for an arm whose place none of them tells, or which stands at the centre.
    """
    if craft.frame.arms.names():
        found = {arm: (craft.frame.arms[arm].x, craft.frame.arms[arm].y) for arm in arms}
    else:
        layout = _named_layout(arms) if not craft.frame.states("layout") else craft.frame.layout
        layout = layout or craft.frame.layout
        found = dict(arm_positions(layout)) if layout in BEARINGS_DEG else {}
    for arm in arms:
        if found.get(arm, (0, 0)) == (0, 0):
            raise NotStated(craft.frame.arms[arm].path("x"))
    return {arm: found[arm] for arm in arms}


def _named_layout(arms: Sequence[str]) -> str:
    """The layout whose arms have just these names; empty where there is none."""
    return next((name for name, own in BEARINGS_DEG.items() if set(own) == set(arms)), "")


def layout_of(craft: Craft) -> str:
    """The layout, as stated, else the one whose arms are named as the motors are.

    Names tell on which side of the craft an arm stands, and so how its propeller is to turn; not
    how far off it stands. Raises NotStated.
    """
    if not craft.frame.states("layout") and not craft.frame.arms.names():
        named = _named_layout([motor.name for motor in turning(craft)])
        if named:
            return named
    return craft.frame.layout


def measured(craft: Craft) -> None:
    """Raise NotStated where nothing but their names tells where the arms stand."""
    if not craft.frame.arms.names():
        craft.frame.layout  # noqa: B018 (it raises)


def spins(craft: Craft, arms: Sequence[str]) -> dict[str, int]:
    """Spin of every arm: as stated, else as layout and rotation have it. Raises NotStated."""
    return {arm: _spin(craft, arm) for arm in arms}


def _spin(craft: Craft, arm: str) -> int:
    motor = craft.motors.arms[arm]
    if not motor.states("spin") and craft.frame.states("rotation"):
        expected = spins_of_the_frame(craft)
        if arm in expected:
            return expected[arm]
    return SPINS[motor.spin]


def spins_of_the_frame(craft: Craft) -> dict[str, int]:
    """Spin of every arm by layout and rotation; none where inward and outward name no turn.

    Raises NotStated.
    """
    layout = layout_of(craft)
    if layout not in BEARINGS_DEG or not rotation_has_meaning(layout):
        return {}
    return expected_spins(layout, craft.frame.rotation)


def turning(craft: Craft) -> "list[Motor]":
    """The motors that turn a propeller, in the dump's order. Raises NotStated without any."""
    return [motor for motor in craft.motors.arms if not is_servo(craft, motor.name)]


def all_turning(craft: Craft) -> "list[Motor]":
    """The same, where every motor of the dump was read.

    Raises NotStated without any, and of an arm that the dialect has no word for, or no line.
    """
    for trouble in craft.settings.troubles:
        if trouble.kind is TroubleKind.NO_WORD:
            raise NotStated(trouble.path)
    motors = turning(craft)
    names = [motor.name for motor in motors]
    layout = craft.frame.layout if craft.frame.states("layout") else _named_layout(names)
    if not set(names) >= {*BEARINGS_DEG.get(layout, [""])}:
        craft.settings.need_all("motors", "", "motors.ARM.spin")
    return motors


def no_servo(craft: Craft) -> None:
    """Raises NotApplicable where a servo makes yaw: the propellers' drag does not have to."""
    if any(is_servo(craft, motor.name) for motor in craft.motors.arms):
        raise NotApplicable("A servo makes part of its movement, not the propellers alone.")


def mixer_of(craft: Craft) -> tuple[list[str], Matrix]:
    """The arms with a propeller, and the dump's mixer: a row an arm, the columns as in AXES.

    Raises NotStated.
    """
    motors = all_turning(craft)
    rows = [motor.mix for motor in motors]
    mixer = tuple((row.thrust, row.roll, row.pitch, row.yaw) for row in rows)
    return [motor.name for motor in motors], mixer


def matrices_of(craft: Craft) -> tuple[list[str], Matrix, Matrix]:
    """The arms, the effectiveness (4 x n) of their stated geometry and turns, and the mixer.

    Raises NotStated.
    """
    arms, mixer = mixer_of(craft)
    return arms, _effect(arms, positions(craft, arms), spins(craft, arms)), mixer


def _effect(arms: Sequence[str], places: "ArmPositions", turns: Mapping[str, int]) -> Matrix:
    return effectiveness([places[arm] for arm in arms], [turns[arm] for arm in arms])


def mixer_paths(craft: Craft, arms: Sequence[str], axes: Sequence[str]) -> tuple[str, ...]:
    """The mixer's settings for these axes, and the spins where yaw is one of them."""
    motors = [craft.motors.arms[arm] for arm in arms]
    mixes = [motor.mix.path(axis) for axis in axes for motor in motors]
    if "yaw" not in axes:
        return tuple(mixes)
    turns = [motor.path("spin") for motor in motors if motor.states("spin")]
    if len(turns) < len(motors):
        turns.append(craft.frame.path("rotation"))
    return (*mixes, *turns)


@rule("motor/mixer-rank", Level.ERROR)
def rank_too_low(craft: Craft) -> Iterator[Yielded]:
    """Thrust, roll, pitch and yaw can't all be commanded apart from one another.

    In the air: one axis can't be held, or moves whenever another one is commanded.
    Mend: let neighbouring propellers turn opposite ways, and give every axis a mixer column of
    its own.
    Source: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1 (from memory).
    """
    no_servo(craft)
    arms, effect, mixer = matrices_of(craft)
    found = mixer_rank(effect, mixer)
    if found == len(AXES):
        return
    yield Fires(
        f"Only {found} of thrust, roll, pitch and yaw can be commanded apart over {len(arms)} "
        f"arms{_why(effect, mixer)}.",
        mixer_paths(craft, arms, AXES),
        (("rank", found), ("arms", len(arms))),
        advice="Let neighbouring propellers turn opposite ways and give each axis its own "
        "pattern of signs in the mixer.",
    )


def _why(effect: Matrix, mixer: Matrix) -> str:
    """The plain cause where there is one: an axis without effect, or two that act alike."""
    columns = tuple(zip(*mixer, strict=True))
    if len(mixer) < len(AXES):
        return ": there are fewer arms than axes"
    for axis, row, column in zip(AXES, effect, columns, strict=True):
        if not any(column):
            return f": the mixer gives {axis} to no arm"
        if not any(row):
            return f": the arms have no effect in {axis}"
    for rows, where in ((effect, "on this frame"), (columns, "in the mixer")):
        for i, first in enumerate(AXES):
            for j, second in enumerate(AXES[i + 1 :], i + 1):
                if _parallel(rows[i], rows[j]):
                    return f": {first} and {second} work the same arms {where}"
    return ""


def _parallel(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether one row is the other times some number: no 2 x 2 part has a determinant."""
    size = max(map(abs, a)) * max(map(abs, b))
    return all(
        abs(a[i] * b[j] - a[j] * b[i]) <= 1e-9 * size for i in range(len(a)) for j in range(i)
    )


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
        if self.shared_sign():
            return {}
        return {arm: turn for arm, turn in self.wired.items() if arm not in self.seen}


def true_turns(craft: Craft, sheet: "Sheet") -> Turns:
    """What the build sheet tells of each arm, with the dump's directions where it has them."""
    seen: dict[str, int] = {}
    wired: dict[str, int] = {}
    for motor in there(sheet.motors):
        name, now = motor.name, craft.esc.arms[motor.name]
        then = _SIGNS[motor.direction] if motor.states("direction") else 0
        direction = _SIGNS[now.direction] if now.states("direction") else then
        if motor.states("turns"):
            seen[name] = _SIGNS[motor.turns] * (-1 if then * direction < 0 else 1)
        if motor.states("wires") and direction:
            wired[name] = _SIGNS[motor.wires] * direction
    return Turns(seen, wired)


ArmPositions = Mapping[str, tuple[float, float]]
_HALF_RIGHT_ANGLE = sqrt(0.5)  # its cosine


class ClosedLoop(NamedTuple):
    """The closed loop's three matrices, and the build sheet's settings that shaped them."""

    arms: list[str]
    effect: Matrix  # 4 x n, of the true places and turns
    mixer: Matrix  # n x 4, each row at the arm that it reaches
    rotation: Matrix  # 3 x 3, from the craft's true rates to the believed ones
    turned: bool  # whether those two differ
    paths: tuple[str, ...]  # of what the build sheet tells otherwise than the dump
    lacks: tuple[str, ...] = ()  # of the board's rotation, which is then taken as mounted


def loop_of(craft: Craft, sheet: "Sheet | None") -> ClosedLoop:
    """The loop by the dump, corrected by the build sheet where there is one. Raises NotStated."""
    arms, mixer = mixer_of(craft)
    if not sheet:
        effect = _effect(arms, positions(craft, arms), spins(craft, arms))
        return ClosedLoop(arms, effect, mixer, IDENTITY_3, False, ())
    rows, crossed = _as_wired(craft, sheet, arms, mixer)
    (stand, moved), (turns, odd) = _places(craft, sheet, arms), _turns(craft, sheet, arms)
    effect = _effect(arms, stand, turns)
    lacks: tuple[str, ...] = ()
    try:
        rotation, apart, board = _rotation(craft, sheet)
    except NotStated as lack:
        rotation, apart, board, lacks = IDENTITY_3, 0.0, (), (lack.path,)
    paths = (*moved, *crossed, *odd, *board)
    return ClosedLoop(arms, effect, rows, rotation, apart > 1e-6, paths, lacks)


def _places(
    craft: Craft, sheet: "Sheet", arms: Sequence[str]
) -> tuple[ArmPositions, tuple[str, ...]]:
    """(forward, right) of the arms, and where the sheet has an arm elsewhere than the dump.

    As measured, else as the sheet's layout or the dump has it.
    """
    frame = sheet.frame
    measured = [frame.arms[arm] for arm in arms]
    if all(arm.states("x") and arm.states("y") for arm in measured):
        found = {arm.name: (arm.x, arm.y) for arm in measured}
        if (0, 0) not in found.values():
            away = _elsewhere(craft, found, arms)
            return found, tuple(frame.arms[arm].path(axis) for arm in away for axis in ("x", "y"))
    if frame.states("layout") and frame.layout in BEARINGS_DEG:
        by_layout = arm_positions(frame.layout)
        if all(arm in by_layout for arm in arms):
            away = _elsewhere(craft, by_layout, arms)
            return by_layout, (frame.path("layout"),) if away else ()
    return positions(craft, arms), ()


def _elsewhere(craft: Craft, found: ArmPositions, arms: Sequence[str]) -> list[str]:
    """The arms whose bearing is off by more than half a right angle from what the dump has."""
    told = if_stated(lambda: positions(craft, arms), found)
    return [arm for arm in arms if cosine(found[arm], told[arm]) < _HALF_RIGHT_ANGLE]


def _turns(
    craft: Craft, sheet: "Sheet", arms: Sequence[str]
) -> tuple[dict[str, int], tuple[str, ...]]:
    """The turn of every arm, and where the sheet tells another one than the dump."""
    known = true_turns(craft, sheet).known()
    turns = {arm: known[arm] if arm in known else spins(craft, [arm])[arm] for arm in arms}
    odd = []
    for arm in arms:
        motor = sheet.motors[arm]
        stated = arm in known and craft.motors.arms[arm].states("spin")
        if stated and spins(craft, [arm])[arm] != known[arm]:
            odd.append(motor.path("turns" if motor.states("turns") else "wires"))
    return turns, tuple(odd)


def _as_wired(
    craft: Craft, sheet: "Sheet", arms: Sequence[str], mixer: Matrix
) -> tuple[Matrix, tuple[str, ...]]:
    """The mixer's rows at the arms that their outputs are wired to, and the wires in question.

    As they stand where the outputs are not told, or are not the same ones on both sides.
    """
    motors = [craft.motors.arms[arm] for arm in arms]
    wires = [sheet.motors[arm] for arm in arms]
    if not all(part.states("output") for part in (*motors, *wires)):
        return mixer, ()
    drives = {motor.output: row for motor, row in zip(motors, mixer, strict=True)}
    if len(drives) < len(arms) or {wire.output for wire in wires} != set(drives):
        return mixer, ()
    crossed = [
        wire.path("output")
        for motor, wire in zip(motors, wires, strict=True)
        if motor.output != wire.output
    ]
    return tuple(drives[wire.output] for wire in wires), tuple(crossed)


def _rotation(craft: Craft, sheet: "Sheet") -> tuple[Matrix, float, tuple[str, ...]]:
    """What the loop makes of a turn, how far the board is from where it is set, and why."""
    turned = sheet.board.turned
    if not turned.stated():
        return IDENTITY_3, 0.0, ()
    set_to, mounted = rotation_of(craft.board.rotation), rotation_of(turned)
    apart = angle_between_deg(set_to, mounted)
    paths = tuple(turned.path(axis) for axis in turned.stated())
    return believed_rates(set_to, mounted), apart, paths if apart > 1e-6 else ()


def rotation_of(turn: "Rotation | Turned") -> Matrix:
    """The matrix of a rotation, set or mounted. Raises NotStated as its angles do."""
    return rotation_matrix(*turn.angles())


_SWAPPED = {"straight": "swapped", "swapped": "straight"}
_TURNED = {"normal": "reversed", "reversed": "normal"}


def _so_many_turn(some: int, every: Mapping[str, int]) -> str:
    return f"{some} of {len(every)} propellers turn{'s' if some == 1 else ''}"


def _by_arm(words: Mapping[str, str]) -> str:
    """A word of each arm; of a single arm the word alone."""
    if len(words) == 1:
        return next(iter(words.values()))
    return listed([f"{arm} {word}" for arm, word in words.items()])


def told_by_the_sheet(craft: Craft, sheet: "Sheet", wanted: Mapping[str, int]) -> bool:
    """Whether the sheet tells the turn of every arm of the mixer."""
    return bool(wanted) and wanted.keys() <= true_turns(craft, sheet).known().keys()


def against_the_sheet(craft: Craft, sheet: "Sheet", wanted: Mapping[str, int]) -> Iterator[Yielded]:
    """Arms that turn otherwise than the mixer has it; `wanted` holds its spins by arm.

    Raises NotStated where the sheet states no motor.
    """
    list(sheet.motors)  # raises where there is none
    turns = true_turns(craft, sheet)
    known = turns.known()
    wrong = [arm for arm in wanted if known.get(arm, wanted[arm]) != wanted[arm]]
    if wrong:
        yield _turn_wrong(craft, sheet, wanted, wrong)
    yield from _direction_unlike(craft, sheet, wanted, wrong)
    pattern = {arm: turn for arm, turn in turns.only_by_pattern().items() if arm in wanted}
    yield from _by_pattern(craft, sheet, wanted, pattern)
    for arm in wanted:
        if arm not in known and arm not in pattern:
            yield Lacks(sheet.motors[arm].path("turns"))
    yield from _contradictions(craft, sheet, wanted, turns)


def _turn_wrong(
    craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], wrong: Sequence[str]
) -> Fires:
    """Arms that turn the wrong way, and what is the likeliest to be put right about it."""
    told = listed([f"{arm} {TURN_WORDS[-wanted[arm]]}" for arm in wrong])
    against = _outvoted(craft, wanted, wrong)
    where = "" if against is not None else _where(wanted, wrong)
    found = Fires(
        f"{_so_many_turn(len(wrong), wanted)} the other way than the mixer takes for "
        f"granted{where}: {told}.",
        (),
        (("wrong_arms", len(wrong)), ("arms", len(wanted))),
    )
    if against is not None:
        return _dump_wrong(craft, sheet, wanted, wrong, against, found)
    if all(_set_since(craft, sheet, arm) for arm in wrong):
        return _direction_wrong(craft, sheet, wanted, wrong, found)
    every = len(wrong) == len(wanted)
    spins = any(craft.motors.arms[arm].states("spin") for arm in wrong)
    stated = "the mixer's spins and yaw" if spins else "the frame's rotation and the mixer's yaw"
    return found._replace(
        paths=(
            *(path for arm in wrong for path in _say_turn(craft, sheet, arm)),
            *dict.fromkeys(_says_spin(craft, arm) for arm in wrong),
        ),
        advice=f"Propellers off. {_ways(craft, sheet, wanted, wrong)}"
        + (f" Or, as all of them are wrong, turn round {stated}." if every else "")
        + f" {propellers(wanted)}"
        if can_be_flown(craft, wanted)
        else _NEITHER,
    )


def _direction_unlike(
    craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], wrong: Sequence[str]
) -> Iterator[Yielded]:
    """Arms whose direction the sheet has otherwise than the dump, and whose turn nobody saw."""
    unlike = [
        arm
        for arm in wanted
        if arm not in wrong
        and sheet.motors[arm].states("direction")
        and not sheet.motors[arm].states("turns")
        and craft.esc.arms[arm].states("direction")
        and craft.esc.arms[arm].direction != sheet.motors[arm].direction
    ]
    if not unlike:
        return
    one = len(unlike) == 1
    each = listed(unlike)
    now = _by_arm({arm: craft.esc.arms[arm].direction for arm in unlike})
    then = _by_arm({arm: sheet.motors[arm].direction for arm in unlike})
    turns = _by_arm({arm: TURN_WORDS[wanted[arm]] for arm in unlike})
    yield Fires(
        f"The direction set in the speed controller{'s' * (not one)} of {each} is {now}, and the "
        f"build sheet has read out {then}. Which way the motor{'s' * (not one)} "
        f"turn{'s' * one} nobody has seen.",
        (
            *(craft.esc.arms[arm].path("direction") for arm in unlike),
            *(sheet.motors[arm].path("direction") for arm in unlike),
        ),
        (("wrong_arms", len(unlike)), ("arms", len(wanted))),
        advice=f"Propellers off: look which way {each} turn{'s' * one}. It must be {turns}: where "
        "it is not, set the direction the other way. Then note turn and direction in the build "
        "sheet.",
    )


def _set_since(craft: Craft, sheet: "Sheet", arm: str) -> bool:
    """Whether an arm was seen to turn with its direction set otherwise than the dump has it."""
    motor, now = sheet.motors[arm], craft.esc.arms[arm]
    told = motor.states("turns") and motor.states("direction") and now.states("direction")
    return told and motor.direction != now.direction


def _direction_wrong(
    craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], wrong: Sequence[str], found: Fires
) -> Fires:
    """The motors were seen to turn as they must: the direction was set since, it is no wire."""
    each, one = listed(list(wrong)), len(wrong) == 1
    turns = _by_arm({arm: TURN_WORDS[wanted[arm]] for arm in wrong})
    set_to = listed([f"{arm} {sheet.motors[arm].direction}" for arm in wrong])
    return found._replace(
        message=f"{found.message} The build sheet has them right, with other directions in the "
        "speed controllers.",
        paths=(
            *(craft.esc.arms[arm].path("direction") for arm in wrong),
            *(sheet.motors[arm].path(leaf) for arm in wrong for leaf in ("direction", "turns")),
            *dict.fromkeys(_says_spin(craft, arm) for arm in wrong),
        ),
        mend=tuple(
            Edit(craft.esc.arms[arm].path("direction"), sheet.motors[arm].direction)
            for arm in wrong
        ),
        choice=f"propellers off, which way {each} turn{'s' * one}; where that is {turns} already, "
        "the build sheet is out of date, and the dump is right",
        advice=f"Propellers off: look which way {each} turn{'s' * one}. It must be {turns}: where "
        f"it is not, set the directions in the speed controllers as the build sheet has them "
        f"({set_to}); where it is, correct the build sheet. Leave the wires alone.",
    )


# Where no propeller may be fitted as the dump has it, and the wires must not be changed to go
# with it either.
_NEITHER: Final = (
    "Propellers off. The turns that the dump states do not balance, so swap no wire to go with "
    "them: first let the turns alternate in the dump, diagonals alike and neighbours opposite, "
    "then make each motor turn so."
)


def can_be_flown(craft: Craft, turns: Mapping[str, int]) -> bool:
    """Whether as many propellers turn each way and, of four, neighbours turn opposite ways.

    True where a servo holds the heading. Where it is not told who stands beside whom their number
    alone counts.
    """
    if any(is_servo(craft, motor.name) for motor in craft.motors.arms):
        return True
    if yaw_sum(list(turns.values())):
        return False
    if len(turns) != 4:
        return True
    places = if_stated(lambda: positions(craft, list(turns)), None)
    return places is None or not neighbours_alike(places, turns)


class _Against(NamedTuple):
    """What speaks for the sheet's turns and against the dump's spins, in words and by paths."""

    says: str
    paths: tuple[str, ...]


def _outvoted(craft: Craft, wanted: Mapping[str, int], wrong: Sequence[str]) -> _Against | None:
    """What asks for the turns that the sheet has, against the spins of the dump, if anything does.

    The frame's rotation, the shares of yaw in the mixer, or that only with the sheet's turns the
    propellers balance.
    """
    if not all(craft.motors.arms[arm].states("spin") for arm in wrong):
        return None
    frame = craft.frame
    if frame.states("layout") and frame.states("rotation"):
        asked = spins_of_the_frame(craft)
        if all(asked.get(arm) == -wanted[arm] for arm in wrong):
            says = f"So {frame.layout} with rotation {frame.rotation} asks for"
            return _Against(says, (frame.path("layout"), frame.path("rotation")))
    seen = {arm: -turn if arm in wrong else turn for arm, turn in wanted.items()}
    if not can_be_flown(craft, seen):
        return None
    rows = {arm: craft.motors.arms[arm].mix for arm in wanted}
    if all(row.states("yaw") and row.yaw * seen[arm] < 0 for arm, row in rows.items()):
        return _Against("So the mixer's shares of yaw have it", ())
    if not can_be_flown(craft, wanted):
        return _Against("Only so the turns balance", ())
    return None


def _dump_wrong(
    craft: Craft,
    sheet: "Sheet",
    wanted: Mapping[str, int],
    wrong: Sequence[str],
    against: _Against,
    found: Fires,
) -> Fires:
    """The sheet is not alone with its turns: it is the dump's spins that are wrong, and no wire."""
    return found._replace(
        message=f"{found.message} {against.says}, and so the build sheet has it: the dump's spins "
        "are the ones to look at, not the wires.",
        paths=(
            *(craft.motors.arms[arm].path("spin") for arm in wrong),
            *(path for arm in wrong for path in _say_turn(craft, sheet, arm)),
            *against.paths,
        ),
        mend=tuple(edit for arm in wrong for edit in _turned_round(craft, arm, -wanted[arm])),
        advice="Propellers off: set the mixer's spins, and its shares of yaw with them, as the "
        "motors turn. Leave the wires alone.",
    )


def _turned_round(craft: Craft, arm: str, turn: int) -> tuple[Edit, ...]:
    """The dump's spin of an arm, and its share of yaw where that does not go with it yet."""
    motor = craft.motors.arms[arm]
    spin = Edit(motor.path("spin"), {CLOCKWISE: "cw", ANTICLOCKWISE: "ccw"}[turn])
    if not motor.mix.states("yaw") or motor.mix.yaw * turn <= 0:
        return (spin,)
    return (spin, Edit(motor.mix.path("yaw"), number_text(-motor.mix.yaw)))


def _where(wanted: Mapping[str, int], wrong: Sequence[str]) -> str:
    """Whether two wrong ones of four are a diagonal: arms that are to turn alike."""
    diagonal = len(wanted) == 4 and len(wrong) == 2 and len({wanted[arm] for arm in wrong}) == 1
    return ", on one diagonal" if diagonal else ""


def _ways(craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], arms: Sequence[str]) -> str:
    """Each way of turning these arms round, and how it ends up."""
    many = "each of " if len(arms) > 1 else ""
    swap, turn = [], []
    for arm in arms:
        motor, now = sheet.motors[arm], craft.esc.arms[arm]
        wires = _SWAPPED[motor.wires] if motor.states("wires") else ""
        stated = now if now.states("direction") else motor
        direction = _TURNED[stated.direction] if stated.states("direction") else ""
        swap.append(f"{arm} ends up {wires or 'the other way round'}")
        turn.append(f"{arm} ends up {direction or 'the other way round'}")
    ends = listed([f"{arm} {TURN_WORDS[wanted[arm]]}" for arm in arms])
    return (
        f"Either swap two of the three wires of {many}{listed(list(arms))}: {listed(swap)}; or set "
        f"the direction in the speed controller instead: {listed(turn)}. Do one of the two, not "
        f"both. Then {ends} is how it must turn."
    )


def propellers(wanted: Mapping[str, int]) -> str:
    """Which propeller goes on which arm."""
    parts = [
        f"one made to turn {TURN_WORDS[turn]} on {listed([a for a in wanted if wanted[a] == turn])}"
        for turn in (1, -1)
        if turn in wanted.values()
    ]
    return f"Propellers go: {listed(parts)}."


def _say_turn(craft: Craft, sheet: "Sheet", arm: str) -> tuple[str, ...]:
    """What says how an arm turns: as seen, or by its wires and the direction set for it."""
    motor, now = sheet.motors[arm], craft.esc.arms[arm]
    direction = (now.path("direction"),) if now.states("direction") else ()
    if motor.states("turns") and not (motor.states("direction") and direction):
        return (motor.path("turns"),)
    return (motor.path("turns" if motor.states("turns") else "wires"), *direction)


def _says_spin(craft: Craft, arm: str) -> str:
    motor = craft.motors.arms[arm]
    return motor.path("spin") if motor.states("spin") else craft.frame.path("rotation")


def _by_pattern(
    craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], pattern: Mapping[str, int]
) -> Iterator[Yielded]:
    """Arms of which only the pattern is known: whichever way these motors turn, some are wrong."""
    if not pattern:
        return
    first, second = (
        [arm for arm in pattern if sign * pattern[arm] != wanted[arm]] for sign in (1, -1)
    )
    if not first or not second:  # right or all wrong: only a look tells
        yield from (Lacks(sheet.motors[arm].path("turns")) for arm in pattern)
        return
    fewest = min(len(first), len(second))
    alike = (
        "All are wired and set alike, so they turn alike. "
        if len(set(pattern.values())) == 1
        else ""
    )
    diagonal = _where(wanted, first) if len(first) == len(second) else ""
    yield Fires(
        f"{alike}By their wires and directions {'exactly' if diagonal else 'at least'} "
        f"{_so_many_turn(fewest, wanted)} the other way than the mixer takes for "
        f"granted{diagonal}: either {listed(first)}, or {listed(second)}.",
        (
            *(sheet.motors[arm].path("wires") for arm in pattern),
            *dict.fromkeys(_says_spin(craft, arm) for arm in pattern),
        ),
        (("wrong_arms", fewest), ("arms", len(wanted))),
        advice=f"Propellers off: spin {first[0]} and look. If it turns "
        f"{TURN_WORDS[-wanted[first[0]]]}, turn round {listed(first)}, else "
        f"{listed(second)}. Swap two of the three wires (straight ends up swapped), or set the "
        "direction in the speed controller (normal ends up reversed); do one of the two, not both. "
        f"{propellers(wanted)}"
        if can_be_flown(craft, wanted)
        else _NEITHER,
    )


def _contradictions(
    craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], turns: Turns
) -> Iterator[Yielded]:
    """Arms whose seen turn does not go with their wires and direction, as all motors are alike.

    What was seen counts; where it is what the mixer wants, only the sheet's wires are in doubt:
    "straight" says nothing across a board whose pads mirror.
    """
    both = [arm for arm in turns.seen if arm in turns.wired and arm in wanted]
    groups = [[a for a in both if turns.seen[a] * turns.wired[a] == sign] for sign in (1, -1)]
    fewer, more = sorted(groups, key=len)
    if not fewer:
        return
    tie = len(fewer) == len(more)
    who = f"either {listed(fewer)} or {listed(more)}" if tie else listed(fewer)
    odd = both if tie else fewer
    yield Fires(
        f"By the wires and directions of the build sheet {who} must turn the other way than was "
        "seen. What was seen counts; perhaps the board's pads mirror, or a wire is told wrongly.",
        (
            *(sheet.motors[arm].path("wires") for arm in odd),
            *(sheet.motors[arm].path("turns") for arm in odd),
        ),
        (("doubtful_arms", len(fewer)), ("arms", len(wanted))),
        advice=f"Propellers off: spin {listed(odd)} and look once more, then put the sheet right."
        + (f" {propellers(wanted)}" if can_be_flown(craft, wanted) else ""),
        level=Level.NOTE,
    )
