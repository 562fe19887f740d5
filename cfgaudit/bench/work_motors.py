"""The working list's motors: which turns, which way; and later which propeller goes where."""

from collections.abc import Iterator
from typing import NamedTuple

from cfgaudit.bench.work import SPINNING, STANDING, Ask, Known, Step, find_out, named
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.layouts import BEARINGS_DEG, expected_spins, rotation_has_meaning
from cfgaudit.rules.motor_signs import SPINS, TURN_WORDS, spins

_WORDS = {turn: word for word, turn in SPINS.items()}  # +1: cw


class ArmFacts(NamedTuple):
    """One arm: its output by dump and by sheet, and `cw` or `ccw`, empty where not told.

    `turn` is the one that is wanted, `seen` the one that the sheet says was seen.
    """

    arm: str
    output: int | None
    sheet_output: int | None
    turn: str
    seen: str

    @property
    def turn_words(self) -> str:
        """The turn in words: clockwise or anticlockwise."""
        return TURN_WORDS[SPINS[self.turn]]


def arms_of(known: Known) -> list[ArmFacts]:
    """Every arm that dump or sheet names, in the dump's order, else in the sheet's."""
    craft, sheet = known.craft, known.sheet
    names = dict.fromkeys((*craft.motors.arms.names(), *sheet.motors.names()))
    if not names:
        names = dict.fromkeys(_by_frame(known))
    return [
        ArmFacts(
            arm,
            known.told(lambda arm=arm: craft.motors.arms[arm].output),  # type: ignore[misc]
            known.told(lambda arm=arm: sheet.motors[arm].output),  # type: ignore[misc]
            _turn(known, arm),
            known.told(lambda arm=arm: sheet.motors[arm].turns) or "",  # type: ignore[misc]
        )
        for arm in names
    ]


def _by_frame(known: Known) -> dict[str, int]:
    """The turns by layout and rotation, of the dump or else the sheet; perhaps none."""
    frames: tuple[Craft | Sheet, ...] = (known.craft, known.sheet)
    for part in frames:
        try:
            layout, rotation = part.frame.layout, part.frame.rotation
        except NotStated:
            continue
        if layout in BEARINGS_DEG and rotation_has_meaning(layout):
            return expected_spins(layout, rotation)
    return {}


def _turn(known: Known, arm: str) -> str:
    """The turn that the mixer takes for granted, else the frame's."""
    by_mixer = known.told(lambda: spins(known.craft, [arm])[arm])
    turn = _by_frame(known).get(arm) if by_mixer is None else by_mixer
    return "" if turn is None else _WORDS[turn]


def motors(known: Known) -> Iterator[Step]:
    """A step for each arm: which motor turns, and which way."""
    arms = arms_of(known)
    if not arms:
        lacks = ["sheet.frame.layout", "sheet.frame.rotation", "sheet.motors.ARM.output"]
        yield find_out(known, "motors", "motors", lacks, ("warm",))
    lacks = [f"motors.{one.arm}.spin" for one in arms if not one.turn]
    lacks += [f"sheet.motors.{one.arm}.output" for one in arms if _output(one) is None]
    if lacks:
        yield find_out(known, "motors", "motors", lacks, ("warm",))
    for one in arms:
        yield _motor(one, ("warm", "console", *(("find-out-motors",) if lacks else ())))


def _output(one: ArmFacts) -> int | None:
    return one.sheet_output if one.output is None else one.output


def _motor(one: ArmFacts, after: tuple[str, ...]) -> Step:
    output = _output(one)
    which = f"Spin output {output} alone" if output is not None else "Spin one output alone"
    expect = f"The {named(one.arm)} motor turns and no other"
    if one.turn:
        expect += f", {one.turn_words} seen from above"
    differ = ""
    if None not in (one.output, one.sheet_output) and one.output != one.sheet_output:
        differ = f" The sheet has it on output {one.sheet_output}: one of the two is wrong."
    if one.turn and one.seen not in ("", one.turn):
        differ += " The sheet says that it was seen to turn the other way."
    return Step(
        f"motor-{one.arm}", "motors",
        f"{which}, at the lowest throttle; a strip of tape on the bell shows the turn.",
        f"{expect}.{differ}",
        after,
        STANDING,
        Ask("turn", arm=one.arm, turn=one.turn, sample="ARM cw or ccw"),
        f"output {output}, {one.arm} {one.turn}",
    )  # fmt: skip


def propellers(known: Known, before: tuple[str, ...]) -> Iterator[Step]:
    """Which propeller goes where, and that it stays there. Everything else comes first."""
    arms = [one for one in arms_of(known) if one.turn]
    where = "; ".join(f"{named(one.arm)} {one.turn_words}" for one in arms)
    size = known.told(lambda: known.sheet.propulsion.diameter)
    blades = known.told(lambda: known.sheet.propulsion.blades)
    kind = f"{blades} blades, " if blades else ""
    kind += f"{size:g} mm, " if size else ""
    yield Step(
        "propellers-on", "propellers",
        f"Pack unplugged. Put on the propellers ({kind}none chipped or bent), each for its arm's "
        f"turn{f': {where}' if where else ''}.",
        "The raised edge of each blade leads in the motor's turn, and all push air down.",
        before,
        SPINNING,
        against=where,
    )  # fmt: skip
    yield Step(
        "nuts", "propellers",
        "Tighten every nut or screw; hold the bell, not the blade, and try to turn the propeller.",
        "None turns on its shaft, and none touches frame, wire or antenna when turned by hand.",
        ("propellers-on",),
        SPINNING,
    )  # fmt: skip
