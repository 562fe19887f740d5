"""Motors and propellers as the build sheet states them: outputs, magnets, tips."""

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.physics.battery import cell_limits
from cfgaudit.physics.motors import no_load_rpm, sound_speed_m_per_s, tip_mach, tip_speed_m_per_s
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Yielded, rule
from cfgaudit.rules.wording import grouped, listed
from cfgaudit.units import number_text

if TYPE_CHECKING:  # a craft without a build sheet has no use for it
    from cfgaudit.craft.sheet import Sheet


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
    mends = _is_one_to_one({**driven, **wired})
    yield Fires(
        f"{len(odd)} of {len(wired)} motors {'is' if len(odd) == 1 else 'are'} wired to another "
        f"output than the dump has for the arm: {told}.",
        (
            *(craft.motors.arms[arm].path("output") for arm in odd),
            *(sheet.motors[arm].path("output") for arm in odd),
        ),
        (("odd_arms", float(len(odd))), ("arms", float(len(wired)))),
        mend=tuple(
            Edit(craft.motors.arms[arm].path("output"), str(wired[arm])) for arm in odd if mends
        ),
        advice="" if mends else "Follow every motor's signal wire: each has an output of its own.",
    )


def _is_one_to_one(outputs: Mapping[str, int]) -> bool:
    return len(set(outputs.values())) == len(outputs)


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
    motors = list(sheet.motors)
    yield from (Lacks(motor.path("poles")) for motor in motors if not motor.states("poles"))
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
        mend=(Edit(path, str(true)),) if alike and true % 2 == 0 else (),
        advice=""
        if alike and true % 2 == 0
        else "Count the magnets in each bell again; they are even, and alike on all arms.",
    )


@rule("motor/tip-speed", Level.NOTE, ("motor.tip_mach_most",), sheet=True)
def tip_speed(craft: Craft, sheet: "Sheet", most: float) -> Iterator[Yielded]:
    """The propellers' tips come near the speed of sound at full throttle.

    Reckoned without the propeller's own drag and on a full pack: the most that it can be. In dry
    air at 20 degrees Celsius.

    In the air: above it the propeller gets loud and wastes the pack; more throttle gives little
    more thrust.
    Mend: a smaller propeller, a motor with a lower Kv or a pack of fewer cells.
    Source: speed is Kv times voltage, the tip's is pi times diameter times turns; the speed of
    sound: textbook. The limit: common practice.
    """
    drive, pack = sheet.propulsion, sheet.battery
    full = pack.cells * cell_limits(pack.chemistry).full_v
    rpm, diameter = no_load_rpm(drive.kv, full), drive.diameter / 1000
    mach = tip_mach(diameter, rpm)
    if mach <= most * (1 + 1e-9):
        return
    speed = tip_speed_m_per_s(diameter, rpm)
    fine = int(drive.diameter * most / mach)
    yield Fires(
        f"At full throttle the tips of a {number_text(drive.diameter)} mm propeller run at up to "
        f"{speed:.0f} m/s, Mach {mach:.2f}: {number_text(drive.kv)} rpm/V on {full:.1f} V are "
        f"{grouped(rpm)} rpm. Above Mach {number_text(most)} it is noise more than thrust.",
        (
            drive.path("diameter"),
            drive.path("kv"),
            pack.path("cells"),
            pack.path("chemistry"),
        ),
        (
            ("tip_m_per_s", speed),
            ("mach", mach),
            ("rpm", rpm),
            ("full_v", full),
            ("sound_m_per_s", sound_speed_m_per_s()),
            ("limit_mach", most),
        ),
        advice=f"Fly propellers of {fine} mm or less, a lower Kv or fewer cells.",
    )


RULES = (wired_elsewhere, poles_mismatch, tip_speed)
