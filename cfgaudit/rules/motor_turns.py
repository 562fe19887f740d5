"""The turn that each propeller really makes against the one the mixer takes for granted."""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.rules.rule import Fires, Lacks, Yielded
from cfgaudit.rules.true_turns import Turns, true_turns
from cfgaudit.rules.wording import listed

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet

_WORDS = {1: "clockwise", -1: "anticlockwise"}
_SWAPPED = {"straight": "swapped", "swapped": "straight"}
_TURNED = {"normal": "reversed", "reversed": "normal"}


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
    pattern = {arm: turn for arm, turn in turns.only_by_pattern().items() if arm in wanted}
    yield from _by_pattern(craft, sheet, wanted, pattern)
    for arm in wanted:
        if arm not in known and arm not in pattern:
            yield Lacks(sheet.motors[arm].path("turns"))
    yield from _contradictions(sheet, wanted, turns)


def _turn_wrong(
    craft: Craft, sheet: "Sheet", wanted: Mapping[str, int], wrong: Sequence[str]
) -> Fires:
    told = listed([f"{arm} {_WORDS[-wanted[arm]]}" for arm in wrong])
    every = len(wrong) == len(wanted)
    spins = any(craft.motors.arms[arm].states("spin") for arm in wrong)
    stated = "the mixer's spins and yaw" if spins else "the frame's rotation and the mixer's yaw"
    return Fires(
        f"{len(wrong)} of {len(wanted)} propellers turn the other way than the mixer takes for "
        f"granted{_where(wanted, wrong)}: {told}.",
        (
            *(_says_turn(sheet, arm) for arm in wrong),
            *dict.fromkeys(_says_spin(craft, arm) for arm in wrong),
        ),
        (("wrong_arms", len(wrong)), ("arms", len(wanted))),
        advice=f"Propellers off. {_ways(craft, sheet, wanted, wrong)}"
        + (f" Or, as all of them are wrong, turn round {stated}." if every else "")
        + f" {propellers(wanted)}",
    )


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
    ends = listed([f"{arm} {_WORDS[wanted[arm]]}" for arm in arms])
    return (
        f"Either swap two of the three wires of {many}{listed(list(arms))}: {listed(swap)}; or set "
        f"the direction in the speed controller instead: {listed(turn)}. Do one of the two, not "
        f"both. Then {ends} is how it must turn."
    )


def propellers(wanted: Mapping[str, int]) -> str:
    """Which propeller goes on which arm."""
    parts = [
        f"one made to turn {_WORDS[turn]} on {listed([a for a in wanted if wanted[a] == turn])}"
        for turn in (1, -1)
        if turn in wanted.values()
    ]
    return f"Propellers go: {listed(parts)}."


def _says_turn(sheet: "Sheet", arm: str) -> str:
    motor = sheet.motors[arm]
    return motor.path("turns" if motor.states("turns") else "wires")


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
        f"{alike}By their wires and directions {'exactly' if diagonal else 'at least'} {fewest} of "
        f"{len(wanted)} propellers turn the other way than the mixer takes for granted{diagonal}: "
        f"either {listed(first)}, or {listed(second)}.",
        (
            *(sheet.motors[arm].path("wires") for arm in pattern),
            *dict.fromkeys(_says_spin(craft, arm) for arm in pattern),
        ),
        (("wrong_arms", fewest), ("arms", len(wanted))),
        advice=f"Propellers off: spin {first[0]} and look. If it turns "
        f"{_WORDS[-wanted[first[0]]]}, turn round {listed(first)}, else "
        f"{listed(second)}. Swap two of the three wires (straight ends up swapped), or set the "
        "direction in the speed controller (normal ends up reversed); do one of the two, not both. "
        f"{propellers(wanted)}",
    )


def _contradictions(sheet: "Sheet", wanted: Mapping[str, int], turns: Turns) -> Iterator[Yielded]:
    """Arms whose seen turn does not go with their wires and direction, as all motors are alike."""
    both = [arm for arm in turns.seen if arm in turns.wired and arm in wanted]
    groups = [[a for a in both if turns.seen[a] * turns.wired[a] == sign] for sign in (1, -1)]
    fewer, more = sorted(groups, key=len)
    if not fewer:
        return
    tie = len(fewer) == len(more)
    who = f"either {listed(fewer)} or {listed(more)}" if tie else listed(fewer)
    odd = both if tie else fewer
    yield Fires(
        f"The build sheet contradicts itself: by wires and direction, {who} must turn the other "
        f"way than was seen. If the wires are told rightly, {len(fewer)} of {len(wanted)} "
        "propellers turn otherwise than the mixer takes for granted.",
        (
            *(sheet.motors[arm].path("wires") for arm in odd),
            *(sheet.motors[arm].path("turns") for arm in odd),
        ),
        (("doubtful_arms", len(fewer)), ("arms", len(wanted))),
        advice=f"Propellers off: spin {listed(odd)} and look, then put the sheet right. "
        f"{propellers(wanted)}",
    )
