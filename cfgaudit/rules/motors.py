"""Motors: outputs, turns, speeds, and what the build sheet says of them."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from math import atan2, degrees, hypot
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Craft, if_stated, is_servo
from cfgaudit.physics.allocation import (
    BEARINGS_DEG,
    arm_names,
    clockwise_order,
    neighbours_alike,
    yaw_sum,
)
from cfgaudit.physics.motors import (
    SOUND_M_PER_S,
    blade_pass_hz,
    motor_range_hz,
    no_load_rpm,
    rpm_of_hz,
    tip_mach,
    tip_speed_m_per_s,
)
from cfgaudit.physics.power import cell_limits
from cfgaudit.rules import motor_control
from cfgaudit.rules.geometry import (
    SPINS,
    TURN_WORDS,
    against_the_sheet,
    all_turning,
    can_be_flown,
    layout_of,
    no_servo,
    positions,
    rank_too_low,
    spins_of_the_frame,
    told_by_the_sheet,
    turning,
)
from cfgaudit.rules.motor_control import control_sign
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Lacks,
    Level,
    NotApplicable,
    Yielded,
    each,
    grouped,
    in_groups,
    lacking,
    listed,
    rule,
)
from cfgaudit.rules.wiring import (
    SHEET_MAY_BE_OLD,
    first_stated,
    pads_used_for,
    told_by_both,
    unreadable,
)
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import Motor
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


# What the propeller leaves of Kv times volts at full throttle: commonly 0.7 to 0.85.
LOADED_SHARE: Final = 0.8


class Speeds(NamedTuple):
    """Turns a second at a low throttle on an empty pack, and at full throttle on a full one.

    Full throttle is reckoned at LOADED_SHARE of Kv times volts.
    """

    low_hz: float
    full_hz: float
    paths: tuple[str, ...]


def speeds_from(sheet: "Sheet", throttle_share: float) -> Speeds:
    """From this throttle, a part of 1, to full. Raises NotStated.

    At full throttle with what the propeller holds the motors back, at the other without: there it
    holds them back by little.
    """
    drive, pack = sheet.propulsion, sheet.battery
    cell = cell_limits(pack.chemistry)
    low, full = motor_range_hz(
        drive.kv, pack.cells * cell.floor_v, pack.cells * cell.full_v, throttle_share, LOADED_SHARE
    )
    return Speeds(low, full, (drive.path("kv"), pack.path("cells"), pack.path("chemistry")))


def hover_speeds(sheet: "Sheet") -> Speeds:
    """From hovering to full. Raises NotStated."""
    drive = sheet.propulsion
    found = speeds_from(sheet, drive.hover_throttle / 100)
    return found._replace(paths=(*found.paths, drive.path("hover_throttle")))


def hover_between(sheet: "Sheet") -> tuple[float, float]:
    """Turns a second at the hover throttle, on an empty and on a full pack. Raises NotStated."""
    found = hover_speeds(sheet)
    return found.low_hz, found.full_hz / LOADED_SHARE * sheet.propulsion.hover_throttle / 100


def blades_hz(sheet: "Sheet", turns_hz: float) -> float:
    """How often a blade passes an arm at this many turns a second. Raises NotStated."""
    return blade_pass_hz(rpm_of_hz(turns_hz), sheet.propulsion.blades)


@rule("motor/reversal-mismatch", Level.ERROR, sheet="wanted")
def reversal_mismatch(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """The turn that the mixer takes for granted is not the one the propeller really makes.

    A build sheet tells the true turns: as seen, or by wires and direction of motors that are all
    alike. Layout and rotation say how each propeller must turn. Where no build sheet tells it,
    the directions set in the speed controllers must be all alike (the wiring then makes the
    difference) or differ exactly as the spins do (motors wired alike); anything else is a
    note only, since a dump can't show how one motor is wired.

    In the air: with all turns the other way yaw feeds back the wrong way and the craft spins
    up; with some of them wrong it turns by itself and may flip.
    Mend: with the propellers off, look which way each motor turns, then swap two of its three
    wires or set the direction in the speed controller, one of the two; or correct the mixer's
    spin or the frame's rotation where that is untrue.
    Source: common practice; Mahony, Kumar, Corke 2012 for the part of the turns (from memory).
    """
    motors = turning(craft)
    spins = {motor.name: SPINS[motor.spin] for motor in motors if motor.states("spin")}
    yield from lacking(motors, "spin")
    yield from each((_against_rotation,), lambda check: check(craft, spins))
    told = False
    if sheet:
        wanted = _wanted_turns(craft, spins)
        told = told_by_the_sheet(craft, sheet, wanted)
        build = sheet
        yield from each((against_the_sheet,), lambda check: check(craft, build, wanted))
    if not told:
        yield from each((_against_directions,), lambda check: check(craft, spins))


def _wanted_turns(craft: Craft, spins: dict[str, int]) -> dict[str, int]:
    """The mixer's turns, and the frame's where the mixer states none at all."""
    return spins or if_stated(lambda: spins_of_the_frame(craft), {})


def _against_rotation(craft: Craft, spins: dict[str, int]) -> Iterator[Yielded]:
    expected = spins_of_the_frame(craft)
    if expected and not expected.keys() & spins.keys():
        expected = _by_place(craft, list(spins), list(expected.values()))
    wrong = [arm for arm in spins if arm in expected and spins[arm] != expected[arm]]
    if not wrong:
        return
    told = ", ".join(f"{arm} {TURN_WORDS[spins[arm]]}" for arm in wrong)
    judged = sum(arm in expected for arm in spins)
    every = len(wrong) == judged
    yield Fires(
        f"The mixer takes for granted that {len(wrong)} of {judged} propellers "
        f"turn{'s' if len(wrong) == 1 else ''} the other way than {layout_of(craft)} with "
        f"rotation {craft.frame.rotation} asks for: {told}.",
        (
            *(craft.motors.arms[arm].path("spin") for arm in wrong),
            craft.frame.path("rotation"),
            *([craft.frame.path("layout")] if craft.frame.states("layout") else []),
        ),
        (("wrong_arms", len(wrong)), ("arms", judged)),
        advice="Propellers off: look which way each motor turns. Then correct "
        + ("the rotation or all spins, whichever is untrue." if every else f"{', '.join(wrong)}."),
    )


def _by_place(craft: Craft, arms: list[str], turns: list[int]) -> dict[str, int]:
    """The layout's turns for arms of other names, by their order round the craft.

    None where there are not as many of them (motor/count says it). Raises NotStated.
    """
    order = clockwise_order(positions(craft, arms))
    return dict(zip(order, turns, strict=True)) if len(order) == len(turns) else {}


def _against_directions(craft: Craft, spins: dict[str, int]) -> Iterator[Yielded]:
    directions = {
        arm.name: arm.direction == "reversed" for arm in craft.esc.arms if arm.name in spins
    }
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
        level=Level.NOTE,
    )


@rule("motor/yaw-unbalanced", Level.ERROR)
def yaw_unbalanced(craft: Craft) -> Iterator[Yielded]:
    """Not as many propellers turn clockwise as anticlockwise.

    In the air: the drag of the propellers does not cancel, so the craft turns by itself at any
    thrust, and holding its heading costs thrust on some arms.
    Mend: give neighbouring arms opposite turns.
    Source: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1 (from memory).
    """
    motors = all_turning(craft)
    no_servo(craft)
    spins = {motor.name: SPINS[motor.spin] for motor in motors}
    total = yaw_sum(list(spins.values()))
    if total == 0:
        return
    many, few = (list(spins.values()).count(turn) for turn in (1, -1))
    odd = _odd_one(craft, spins)
    yield Fires(
        f"{many} propeller{' turns' if many == 1 else 's turn'} clockwise and {few} "
        "anticlockwise: their drag does not cancel, "
        f"and the craft turns {'anticlockwise' if total > 0 else 'clockwise'} by itself.",
        tuple(craft.motors.arms[arm].path("spin") for arm in _first(odd, spins)),
        (("clockwise", many), ("anticlockwise", few), ("sum", total)),
        advice=_alternate(craft, spins, odd),
    )


def _odd_one(craft: Craft, turns: Mapping[str, int]) -> str:
    """The one arm that, turned round, lets the turns alternate; empty where it is not just one."""
    odd = [arm for arm in turns if can_be_flown(craft, {**turns, arm: -turns[arm]})]
    return odd[0] if len(odd) == 1 else ""


def _alternate(craft: Craft, turns: Mapping[str, int], odd: str) -> str:
    """What to do where the turns do not alternate, and which arm to look at first."""
    every = "Let the turns alternate round the craft: diagonals alike, neighbours opposite"
    if not odd:
        return f"{every}, in the mixer and on the craft."
    other = f"{craft.motors.arms[odd].path('spin')} = {'ccw' if turns[odd] > 0 else 'cw'}"
    return (
        f"{every}. Propellers off: look which way {odd} turns. With {other}, and its motor turning "
        "so, they do."
    )


def _first(name: str, names: Iterable[str]) -> list[str]:
    """The names with one of them in front."""
    return sorted(names, key=lambda other: other != name)


@rule("motor/neighbours-alike", Level.ERROR)
def neighbours_turn_alike(craft: Craft) -> Iterator[Yielded]:
    """Two neighbouring arms of a quad turn the same way.

    In the air: yaw moves together with roll or pitch, or the craft turns by itself; it can't be
    held and flips or spins.
    Mend: let the turns alternate round the craft: diagonals alike, neighbours opposite.
    Source: Lee, Leok, McClamroch, arXiv:1003.2005, equation 1 (from memory).
    """
    motors = all_turning(craft)
    if len(motors) != 4:
        return
    no_servo(craft)
    spins = {motor.name: SPINS[motor.spin] for motor in motors}
    pairs = neighbours_alike(positions(craft, list(spins)), spins)
    if not pairs:
        return
    told = "; ".join(f"{a} and {b} both turn {TURN_WORDS[spins[a]]}" for a, b in pairs)
    odd, met = _odd_one(craft, spins), {arm for pair in pairs for arm in pair}
    yield Fires(
        f"Neighbouring propellers turn the same way: {told}.",
        tuple(craft.motors.arms[arm].path("spin") for arm in _first(odd, spins) if arm in met),
        (("pairs", len(pairs)),),
        advice=_alternate(craft, spins, odd),
    )


@rule("motor/output-twice", Level.ERROR)
def output_twice(craft: Craft) -> Iterator[Yielded]:
    """One output drives two arms.

    In the air: two motors get the same command whatever the mixer wants, and another motor gets
    none: the craft flips as it leaves the ground.
    Mend: give every arm an output of its own, the one that its motor is wired to.
    Source: common practice.
    """
    yield from lacking(craft.motors.arms, "output")
    having = [motor for motor in craft.motors.arms if motor.states("output")]
    for output, motors in in_groups(having, lambda motor: motor.output).items():
        if len(motors) > 1:
            yield Fires(
                f"Output {output} drives {len(motors)} arms: "
                f"{' and '.join(motor.name for motor in motors)}.",
                tuple(motor.path("output") for motor in motors),
                (("output", output), ("arms", len(motors))),
                advice="Give every arm the output that its motor is wired to.",
            )


@rule("motor/output-missing", Level.ERROR)
def output_missing(craft: Craft) -> Iterator[Yielded]:
    """An arm has no output, though other arms have one.

    In the air: that motor never turns; the craft flips over it as it leaves the ground.
    Mend: give the arm the output that its motor is wired to.
    Source: common practice.
    """
    motors = list(craft.motors.arms)
    having = [motor for motor in motors if motor.states("output")]
    if not having:
        raise NotStated(motors[0].path("output"))
    lacking = [motor for motor in motors if not motor.states("output")]
    doubted = [motor for motor in lacking if motor.path("output") in unreadable(craft)]
    yield from (Lacks(motor.path("output")) for motor in doubted)
    bare = [motor for motor in lacking if motor not in doubted]
    if not bare:
        return
    craft.settings.need_all("motors", "output", bare[0].path("output"))
    taken = [motor.output for motor in having]
    # An output that can't be read may be any of them.
    first = range(1, len(motors) + 1) if not doubted else ()
    free = [str(output) for output in first if output not in taken]
    yield Fires(
        f"{listed([motor.name for motor in bare])} {'has' if len(bare) == 1 else 'have'} no "
        f"output; the other {len(motors) - len(bare)} of {len(motors)} arms have one.",
        tuple(
            path for motor in bare for path in (motor.path("output"), first_stated(craft, motor))
        ),
        (("without", len(bare)), ("arms", len(motors))),
        advice=f"Give {'the' if len(bare) == 1 else 'each'} arm the output that its motor is wired "
        "to" + (f"; of the first {len(motors)}, nothing uses {listed(free)}." if free else "."),
    )


@rule("motor/pad-missing", Level.ERROR)
def pad_missing(craft: Craft) -> Iterator[Yielded]:
    """The pads say which arm's motor each of them drives, and one arm is on none of them.

    In the air: that motor never turns; the craft flips over it as it leaves the ground.
    Mend: give the pad that the motor is soldered to back to the motor.
    Source: common practice.
    """
    arms = [motor.name for motor in craft.motors.arms]
    uses = [pad.use.split() for pad in pads_used_for(craft, "motor")]
    named = {use[1] for use in uses if len(use) > 1}
    without = [arm for arm in arms if arm not in named]
    # A pad that drives a motor without saying whose may serve any arm.
    if not named or len(without) <= sum(len(use) == 1 for use in uses):
        return
    craft.settings.need_all("pads", "use", "pads.ID.use")
    yield Fires(
        f"No pad drives the motor of {listed(without)}, though the pads name those of "
        f"{listed([*(arm for arm in arms if arm in named), *sorted(named - set(arms))])}.",
        tuple(first_stated(craft, craft.motors.arms[arm]) for arm in without),
        (("without", len(without)), ("arms", len(arms))),
        advice="Say on the pad that the motor is soldered to which arm it drives.",
    )


@rule("motor/count", Level.ERROR)
def wrong_count(craft: Craft) -> Iterator[Yielded]:
    """More or fewer motors are stated than the frame has arms, or those of another layout.

    In the air: an arm of the frame stands still, or the mixer counts on one that is not there;
    the craft can't be held level. With the layout of another frame every answer goes to the
    wrong arms.
    Mend: set the layout that the frame has, or state the motor of every arm.
    Source: common practice.
    """
    motors = all_turning(craft)
    layout = craft.frame.layout
    own = layout not in BEARINGS_DEG
    arms = [arm.name for arm in craft.frame.arms] if own else list(arm_names(layout))
    arms = [arm for arm in arms if not is_servo(craft, arm)]
    if len(motors) == len(arms):
        yield from _of_another_layout(craft, motors)
        return
    bare = [arm for arm in arms if arm not in [motor.name for motor in motors]]
    over = [motor for motor in motors if motor.name not in arms]
    told = f" {listed(bare)} {'has' if len(bare) == 1 else 'have'} none." if bare else ""
    if over:
        told += f" {listed([motor.name for motor in over])} stands for no arm of it."
    yield Fires(
        f"{'The frame' if own else layout} has {len(arms)} arms, and {len(motors)} "
        f"{'motor is' if len(motors) == 1 else 'motors are'} stated.{told}",
        (
            craft.frame.path("layout"),
            *(path for motor in over for path in (first_stated(craft, motor), *_no_servo(motor))),
        ),
        (("motors", len(motors)), ("arms", len(arms))),
        advice="Set the layout that the frame has, or state the motor of every arm.",
    )


def _placed_as(craft: Craft, layout: str) -> bool:
    """Whether the arms' stated places lie nearer to this layout's bearings than half way off."""
    if not craft.frame.arms.names():
        return False
    spots = [(arm.x, arm.y) for arm in craft.frame.arms]
    stand = sorted(degrees(atan2(y, x)) % 360 for x, y in spots)
    own = sorted(bearing % 360 for bearing in BEARINGS_DEG[layout].values())
    if len(stand) != len(own):
        return False
    half = 180 / len(own) / 2
    return any(
        all(
            abs((at - bearing + 180) % 360 - 180) < half
            for at, bearing in zip(stand[turn:] + stand[:turn], own, strict=True)
        )
        for turn in range(len(own))
    )


def _of_another_layout(craft: Craft, motors: list[Motor]) -> Iterator[Yielded]:
    """The motors bear the names of another layout's arms, and no place of an arm says otherwise."""
    layout = craft.frame.layout
    names = {motor.name for motor in motors}
    others = [
        other
        for other in BEARINGS_DEG
        if layout in BEARINGS_DEG and other != layout and names == set(arm_names(other))
    ]
    if not others or names == set(arm_names(layout)) or _placed_as(craft, layout):
        return
    other = others[0]
    ahead, beside = sorted((layout, other), key=lambda one: "front" not in arm_names(one))
    yield Fires(
        f"The layout is {layout}, and the motors are named as the arms of {other}: "
        f"{listed([motor.name for motor in motors])}.",
        (craft.frame.path("layout"),),
        (("motors", len(motors)), ("arms", len(motors))),
        advice="Propellers off: look whether an arm points where the nose does. If one does, the "
        f"layout is {ahead}, if none does {beside}: set it, and name the motors' arms as it does.",
        air="every answer goes to the wrong arms: the craft can't be held level.",
    )


@rule("motor/poles-odd", Level.ERROR, sheet="wanted")
def poles_odd(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """The motors' magnets are an odd number, which no motor has.

    In the air: every speed that the motors report is off, and the notches that follow the speed
    sit beside the noise they should take out.
    Mend: count the magnets in one motor's bell; every second one is a pair's first.
    Source: electrical speed is mechanical speed times pole pairs (textbook).
    """
    poles = craft.motors.poles
    if poles % 2 == 0 and poles >= 2:
        return
    if poles == 0 and not craft.notches.motor.enabled and not craft.esc.reports:
        raise NotApplicable("Nothing reads the motors' speed, so the poles are not asked for.")
    counted = _counted_poles(craft, sheet) if sheet else 0
    path = craft.motors.path("poles")
    told = f"The motors are said to have {poles} magnet{'' if poles == 1 else 's'}"
    yield Fires(
        f"{told}; they come in pairs, north beside south, so the number is even."
        if poles
        else f"{told}: the number was never set.",
        (path,),
        (("poles", poles),),
        advice="Count the magnets in the bell of one motor, not the coils inside it.",
    ).mended([Edit(path, str(counted))] if counted else [])


def _counted_poles(craft: Craft, sheet: "Sheet") -> int:
    """The even number of magnets that the build sheet has of every motor; 0 where it has none."""
    motors = [part for part in sheet.motors if not is_servo(craft, part.name)]
    counted = {motor.poles if motor.states("poles") else 0 for motor in motors}
    found = counted.pop() if len(counted) == 1 else 0
    return 0 if found % 2 else found


def _no_servo(motor: Motor) -> tuple[str, ...]:
    """Where a motor is said to be no servo."""
    return (motor.path("servo"),) if motor.states("servo") else ()


@rule("motor/wired-elsewhere", Level.ERROR, sheet=True)
def wired_elsewhere(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """A motor's signal wire comes from another output than the one that drives its arm.

    An output that drives two arms is left to motor/output-twice.

    In the air: the motor gets another arm's command, or never turns; the craft flips as it
    leaves the ground.
    Mend: give each arm the output that its motor is wired to.
    Source: common practice.
    """
    driven: dict[str, int] = {}
    wired: dict[str, int] = {}
    arms = [part.name for part in (*craft.motors.arms, *sheet.motors)]
    for arm in dict.fromkeys(arms):
        try:
            driven[arm] = craft.motors.arms[arm].output
            wired[arm] = sheet.motors[arm].output
        except NotStated as lack:
            yield Lacks(lack.path)
    count = Counter(driven.values())
    odd = [arm for arm in wired if wired[arm] != driven[arm] and count[driven[arm]] == 1]
    if not odd:
        return
    told = "; ".join(
        f"{arm}'s is on output {wired[arm]}, and output {driven[arm]} drives {arm}" for arm in odd
    )
    old = any(told_by_both(craft, sheet, arm) for arm in odd)
    outputs = {**driven, **wired}.values()
    mends = len(set(outputs)) == len(outputs) and not old
    yield Fires(
        f"{len(odd)} of {len(wired)} motors {'is' if len(odd) == 1 else 'are'} wired to another "
        f"output than the dump has for the arm: {told}.",
        (
            *(craft.motors.arms[arm].path("output") for arm in odd),
            *(sheet.motors[arm].path("output") for arm in odd),
        ),
        (("odd_arms", float(len(odd))), ("arms", float(len(wired)))),
        advice=_by_the_wires(old),
        choice=SHEET_MAY_BE_OLD if old else "",
    ).mended(Edit(craft.motors.arms[arm].path("output"), str(wired[arm])) for arm in odd if mends)


def _by_the_wires(old: bool) -> str:
    if not old:
        return "Follow every motor's signal wire: each has an output of its own."
    return (
        "Follow every motor's signal wire: the dump's outputs and its pads agree with each other, "
        "so they are both wrong, or the build sheet is old; correct that which is."
    )


@rule("motor/poles-mismatch", Level.ERROR, sheet=True)
def poles_mismatch(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The motors have another number of magnets than is set.

    A number that no motor can have is left to motor/poles-odd.

    In the air: every speed that the motors report is off by the ratio of the two numbers, and
    the notches that follow it stand beside the noise.
    Mend: set the number counted in the bell.
    Source: electrical speed is mechanical speed times pole pairs (textbook).
    """
    poles = craft.motors.poles
    motors = [part for part in sheet.motors if not is_servo(craft, part.name)]
    yield from lacking(motors, "poles")
    counted = {motor.name: motor.poles for motor in motors if motor.states("poles")}
    odd = [arm for arm, true in counted.items() if true != poles]
    if poles % 2 or poles < 2 or not odd:
        return
    path = craft.motors.path("poles")
    alike = len(set(counted.values())) == 1 and len(counted) == len(motors)
    true = counted[odd[0]]
    told = listed([f"{arm} has {counted[arm]}" for arm in odd])
    yield Fires(
        f"The motors are set to have {poles} magnets, and {told}: every speed that "
        f"{odd[0]} reports is told as {number_text(round(true / poles, 3))} times the true one.",
        (path, *(sheet.motors[arm].path("poles") for arm in odd)),
        (
            ("set_poles", float(poles)),
            ("true_poles", float(true)),
            ("ratio", true / poles),
            ("motors", float(len(odd))),
        ),
        advice="Count the magnets in each bell again; they are even, and alike on all arms.",
    ).mended([Edit(path, str(true))] if alike and true % 2 == 0 else [])


@rule("motor/tip-speed", Level.NOTE, ("motor.tip_mach_most",), sheet=True)
def tip_speed(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The propellers' tips come near the speed of sound at full throttle; a warning above it.

    Reckoned at 0.8 of Kv times the voltage of a full pack, which is what the propeller commonly
    leaves of it (0.7 to 0.85). In dry air at 20 degrees Celsius.

    In the air: the nearer to the speed of sound, the louder and the hotter, and the less of the
    power becomes thrust; beyond it the windings burn.
    Mend: a smaller propeller, a motor with a lower Kv or a pack of fewer cells.
    Source: speed is Kv times voltage, the tip's is pi times diameter times turns; the speed of
    sound: textbook. The share under load and the limit: common practice.
    """
    drive, pack = sheet.propulsion, sheet.battery
    full = pack.cells * cell_limits(pack.chemistry).full_v
    rpm, diameter = no_load_rpm(drive.kv, full) * LOADED_SHARE, drive.diameter / 1000
    mach = tip_mach(diameter, rpm)
    if mach <= most * (1 + 1e-9):
        return
    speed = tip_speed_m_per_s(diameter, rpm)
    fine = int(drive.diameter * most / mach)
    yield Fires(
        f"At full throttle the tips of a {number_text(drive.diameter)} mm propeller run at about "
        f"{speed:.0f} m/s, Mach {mach:.2f}: {number_text(drive.kv)} rpm/V on {full:.1f} V are "
        f"{grouped(rpm)} rpm at {LOADED_SHARE:g} of the speed without a propeller.",
        (drive.path("kv"), drive.path("diameter"), pack.path("cells"), pack.path("chemistry")),
        (
            ("tip_m_per_s", speed),
            ("mach", mach),
            ("rpm", rpm),
            ("full_v", full),
            ("loaded_share", LOADED_SHARE),
            ("sound_m_per_s", SOUND_M_PER_S),
            ("limit_mach", most),
        ),
        advice=f"Fly propellers of {fine} mm or less, a lower Kv or fewer cells.",
        level=Level.WARNING if mach > 1 else Level.NOTE,
    )


def _servos(craft: Craft) -> list[Motor]:
    return [motor for motor in craft.motors.arms if motor.states("servo") and motor.servo]


@rule("motor/servo-signal", Level.ERROR, over=_servos)
def servo_signal(craft: Craft, motor: Motor) -> Iterator[Yielded]:
    """A servo is sent what only a speed controller reads.

    A servo reads plain pulses. An output without a protocol of its own has the craft's.

    In the air: the servo runs to its stop, stands or twitches: the axis that it works is lost.
    Mend: give the servo's output the plain pulse protocol.
    Source: common practice.
    """
    own = craft.esc.arms[motor.name]
    said = own if own.states("protocol") else craft.esc
    if said.protocol != "pwm":
        yield Fires(
            f"The servo on {motor.name} is sent {said.protocol}, and a servo reads plain pulses.",
            (*dict.fromkeys((own.path("protocol"), said.path("protocol"))), motor.path("servo")),
            advice=f"Set {own.path('protocol')} to pwm.",
        )


@rule("motor/thrust-uneven", Level.WARNING, limits=("motor.thrust_share_least",))
def thrust_uneven(craft: Craft, least: float) -> Iterator[Yielded]:
    """The mixer gives one arm much less of the thrust than the others; an error below half.

    In the air: the other motors carry the craft and run hot; it leans to the weak arm, or tips
    over it as it leaves the ground.
    Mend: give each arm the share that its place asks for, mostly 1.
    Source: common practice.
    """
    motors = turning(craft)
    shares = {motor.name: motor.mix.thrust for motor in motors}
    most = max(shares.values())
    weak = [arm for arm, share in shares.items() if share * 100 < most * least * (1 - 1e-9)]
    if most <= 0 or not weak:  # none lifts: motor/control-sign says it
        return
    lowest = min(shares[arm] for arm in weak)
    yield Fires(
        f"{listed([f'{arm} has {number_text(shares[arm])}' for arm in weak])} of the thrust, where "
        f"the strongest arm has {number_text(most)}.",
        tuple(craft.motors.arms[arm].mix.path("thrust") for arm in weak),
        (("weakest", lowest), ("strongest", most), ("least_percent", least)),
        advice=f"Give every arm its share, mostly {number_text(most)}.",
        level=Level.ERROR if lowest < most * _HALF else Level.WARNING,
    )


_HALF: Final = 0.5


@rule("motor/hover-high", Level.WARNING, ("motor.hover_most",), sheet=True)
def hover_high(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The craft hovers at so much throttle that little is left.

    In the air: it hardly climbs, can't right itself in a gust or against the weight of a swing,
    and the pack is soon empty.
    Mend: less weight, greater propellers, or more cells.
    Source: common practice.
    """
    hover = sheet.propulsion.hover_throttle
    if hover > most * (1 + 1e-9):
        yield Fires(
            f"It hovers at {number_text(hover)} % throttle; above {number_text(most)} % little is "
            "left to climb or to right itself with.",
            (sheet.propulsion.path("hover_throttle"),),
            (("hover_percent", hover), ("most_percent", most)),
            advice="Take weight off, or fit greater propellers or more cells.",
        )


@rule("motor/discs-cross", Level.ERROR, sheet=True)
def discs_cross(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """Two propellers are closer together than they are wide.

    Taken to turn in one plane, each at the end of its arm. Arms one above the other, closer than
    a tenth of the diameter, are not judged.

    In the air: the blades strike each other at the first start.
    Mend: smaller propellers, or longer arms; measure to the motor's shaft.
    Source: geometry.
    """
    diameter = sheet.propulsion.diameter / 1000
    arms = [(arm.name, arm.x, arm.y) for arm in sheet.frame.arms]
    apart = sorted(
        (hypot(x - a, y - b), one, other)
        for (one, x, y), (other, a, b) in combinations(arms, 2)
        if hypot(x - a, y - b) >= _STACKED * diameter * (1 - 1e-9)
    )
    close = [pair for pair in apart if pair[0] < diameter * (1 - 1e-9)]
    if not close:
        return
    nearest, one, other = close[0]
    met = list(dict.fromkeys(arm for _, *pair in close for arm in pair))
    yield Fires(
        f"Propellers of {number_text(sheet.propulsion.diameter)} mm cross: {one} and {other} are "
        f"{number_text(round(nearest * 1000))} mm apart.",
        (
            sheet.propulsion.path("diameter"),
            *(sheet.frame.arms[arm].path(axis) for arm in met for axis in ("x", "y")),
        ),
        (("apart_mm", nearest * 1000), ("diameter_mm", sheet.propulsion.diameter)),
        advice=f"Fit propellers of {int(nearest * 1000 * _ROOM_BETWEEN)} mm at most, or longer "
        "arms.",
    )


_ROOM_BETWEEN: Final = 0.95  # of the way from motor to motor: arms bend (common practice)
_STACKED: Final = 0.1  # of the diameter: two motors on one arm, one above the other


RULES = (
    reversal_mismatch,
    yaw_unbalanced,
    neighbours_turn_alike,
    output_twice,
    output_missing,
    pad_missing,
    wrong_count,
    control_sign,
    rank_too_low,
    *motor_control.RULES,
    poles_odd,
    wired_elsewhere,
    poles_mismatch,
    tip_speed,
    servo_signal,
    thrust_uneven,
    hover_high,
    discs_cross,
)
