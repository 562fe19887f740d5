"""Speed controllers: what they are sent and how often, the pulses they know, idle, both ways."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft, is_servo, there
from cfgaudit.physics.flight import lift_of_weight
from cfgaudit.physics.motors import (
    DIGITAL_BIT_RATES,
    PULSE_RANGES_US,
    digital_frame_time_s,
    is_digital,
    pulse_duty,
    pulse_on_wire_us,
)
from cfgaudit.rules.geometry import turning
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Level,
    NotApplicable,
    Yielded,
    each,
    grouped,
    in_groups,
    listed,
    rule,
)

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet

_ROUNDING = 1 + 1e-9  # 16 bits at 150 kbit/s fill a 9,375 Hz loop exactly, in binary too
_WITHOUT_REPORTS = " That is without reports, which are not stated and would take longer."


@rule("esc/frame-longer-than-loop", Level.ERROR)
def frame_longer_than_loop(craft: Craft) -> Iterator[Yielded]:
    """A command to a speed controller, with its report, takes longer than a turn of the loop.

    Pulse protocols are left out: they are sent at a rate of their own. A note where less than a
    twentieth of the turn is left: clocks are not that exact.

    In the air: commands are cut short or skipped; motors stutter, lag behind the loop or stop.
    Mend: a faster protocol, a slower loop, or no speed reports on the signal wire.
    Source: common practice: 16 bits out, about 30 us to turn round, 21 bits back at 5/4 of
    the rate.
    """
    protocol = craft.esc.protocol
    if not is_digital(protocol):
        return
    rate = craft.loop.rate
    period = 1 / rate
    alone = digital_frame_time_s(DIGITAL_BIT_RATES[protocol])
    whole = digital_frame_time_s(DIGITAL_BIT_RATES[protocol], reports=True)
    if whole <= period * _FILLED:
        return
    # Without reports stated: a frame too long by itself is too long either way.
    known = craft.esc.states("reports") or alone <= period * _ROUNDING
    reports = known and craft.esc.reports
    frame = whole if reports else alone
    if frame <= period * _FILLED:
        return
    paths = [craft.esc.path("protocol"), craft.loop.path("rate")]
    yield Fires(
        f"A {protocol} command{' with its report' if reports else ''} takes {frame * 1e6:,.1f} us, "
        f"and a turn of the loop at {rate:,.6g} Hz only {period * 1e6:,.1f} us.",
        (*paths, craft.esc.path("reports")) if reports else tuple(paths),
        (("frame_us", frame * 1e6), ("loop_us", period * 1e6), ("loop_hz", rate)),
        advice=_advice(period, frame, reports) + ("" if known else _WITHOUT_REPORTS),
        level=Level.NOTE if frame <= period * _ROUNDING else None,
    )


_FILLED: Final = 0.95  # of a turn of the loop (common practice)


def _advice(period: float, frame: float, reports: bool) -> str:
    slower = f"a loop rate of at most {int(_FILLED / frame):,} Hz"
    for protocol, bits in sorted(DIGITAL_BIT_RATES.items(), key=lambda item: item[1]):
        needed = digital_frame_time_s(bits, reports)
        if needed <= period * _FILLED:
            return (
                f"Use {protocol} ({needed * 1e6:,.1f} us) if the controllers know it, or {slower}."
            )
    return f"No digital protocol is fast enough: use {slower}."


@rule("esc/pulse-longer-than-period", Level.ERROR)
def pulse_longer_than_period(craft: Craft) -> Iterator[Yielded]:
    """The pulse at full throttle lasts as long as the time from one pulse to the next, or longer.

    A pulse protocol other than the plain one whose pulses are stated on the plain one's scale
    is reckoned with the pulse that really goes out. Digital protocols are left out, and brushed
    motors, which are driven by the pulse's share of its period: stated so, or plain
    pulses above 4 kHz, which nothing else can follow.

    In the air: towards full throttle the pulses run together; motors stutter, stop or stay at
    full.
    Mend: a lower update rate, or a protocol with shorter pulses.
    Source: common practice; a hand calculation.
    """
    protocol = craft.esc.protocol
    if is_digital(protocol):
        return
    rate = craft.esc.update_rate
    if _is_brushed(craft, rate):
        raise NotApplicable("Brushed motors are driven by the pulse's share of its period.")
    pulse = pulse_on_wire_us(protocol, craft.esc.pulse_max)
    duty = pulse_duty(pulse, rate)
    if duty * _ROUNDING < 1:
        return
    yield Fires(
        f"A {protocol} pulse at full throttle lasts {grouped(pulse)} us, and at "
        f"{grouped(rate)} Hz the next one begins after {grouped(1e6 / rate)} us.",
        tuple(craft.esc.path(leaf) for leaf in ("update_rate", "pulse_max", "protocol")),
        (("pulse_us", pulse), ("period_us", 1e6 / rate), ("rate_hz", rate)),
        advice=f"Stay well below {grouped(1e6 / pulse)} Hz, or use a protocol with shorter pulses.",
    )


@rule("esc/update-slow", Level.ERROR)
def update_slow(craft: Craft) -> Iterator[Yielded]:
    """The motors are told so seldom what to do that the craft can't be held.

    For pulses an error below 150 Hz and a warning below 250 Hz; for brushed motors, whose current
    is switched on and off at that rate, an error below 1 kHz and a warning below 4 kHz. Digital
    protocols are sent with each turn of the loop.

    In the air: each correction comes late; the craft swings up and flips. Brushed motors shake at
    the rate, whine, and their transistors get hot.
    Mend: pulses as fast as the speed controllers take them, commonly 400 to 490 Hz, shorter ones a
    few kilohertz; brushed motors commonly 8 to 32 kHz. 50 Hz is a servo's.
    Source: common practice.
    """
    if is_digital(craft.esc.protocol):
        return
    rate = craft.esc.update_rate
    brushed = _is_brushed(craft, rate)
    error, warning = _SLOW_BRUSHED_HZ if brushed else _SLOW_PULSES_HZ
    if rate >= warning:
        return
    usual = "commonly 8,000 to 32,000 Hz" if brushed else "commonly 400 to 490 Hz, or more"
    yield Fires(
        f"The motors are told {grouped(rate)} times a second what to do; "
        f"{'brushed ones' if brushed else f'by {craft.esc.protocol}'} it is {usual}.",
        tuple(craft.esc.path(leaf) for leaf in ("update_rate", "protocol")),
        (("rate_hz", rate), ("least_hz", warning)),
        advice="Set what the speed controllers take: look it up in their papers."
        if not brushed
        else "Set what the board's papers name for brushed motors.",
        level=Level.ERROR if rate < error else Level.WARNING,
    )


_SLOW_PULSES_HZ, _SLOW_BRUSHED_HZ = (150.0, 250.0), (1000.0, 4000.0)
_BRUSHED_ONLY_HZ: Final = 4000.0  # the shortest pulses of the trade are updated less often


def _is_brushed(craft: Craft, rate_hz: float) -> bool:
    if craft.esc.states("brushed"):
        return craft.esc.brushed
    return craft.esc.protocol == "pwm" and rate_hz > _BRUSHED_ONLY_HZ


@rule("esc/brushed-signal", Level.ERROR)
def brushed_signal(craft: Craft) -> Iterator[Yielded]:
    """Brushed motors are sent what only a speed controller reads.

    In the air: the transistors that drive them get a stream of bits: the motors twitch, stand, or
    stay at full.
    Mend: choose plain pulses, whose share of the period drives the motors.
    Source: common practice.
    """
    if not craft.esc.states("brushed") or not craft.esc.brushed:
        return
    protocol = craft.esc.protocol
    if protocol != "pwm":
        yield Fires(
            f"The motors are brushed, and {protocol} is sent to them.",
            (craft.esc.path("protocol"), craft.esc.path("brushed")),
            mend=(Edit(craft.esc.path("protocol"), "pwm"),),
        )


_TRAVEL_ERROR, _TRAVEL_WARNING = 0.6, 0.75  # of the protocol's own travel (common practice)
_BEYOND: Final = 0.15


@rule("esc/pulse-travel", Level.ERROR)
def pulse_travel(craft: Craft) -> Iterator[Yielded]:
    """The pulses from no throttle to full use little of what the protocol has; or go beyond it.

    An error below 60 % of the protocol's travel, a warning below 75 % and where an end lies
    outside of it by more than 15 %. Pulses stated on the plain pulse's scale are taken so.

    In the air: full stick is part of full throttle: hardly anything is left to climb or to right
    itself with. Beyond the ends the speed controllers stand still or do not start.
    Mend: set the ends that the speed controllers were calibrated to.
    Source: common practice: 1,000 to 2,000 us and its fractions.
    """
    protocol = craft.esc.protocol
    if is_digital(protocol):
        raise NotApplicable("A digital protocol sends numbers, no lengths.")
    if craft.esc.states("brushed") and craft.esc.brushed:
        raise NotApplicable("Brushed motors are driven by the pulse's share of its period.")
    low, high = craft.esc.pulse_min, craft.esc.pulse_max
    plain = PULSE_RANGES_US["pwm"]
    own = PULSE_RANGES_US[protocol]
    first, last = plain if high > 2 * own[1] else own
    share, width = (high - low) / (last - first), last - first
    outside = max(first - low, high - last) / width
    if low >= high or (share >= _TRAVEL_WARNING - 1e-9 and outside <= _BEYOND + 1e-9):
        return
    beyond = outside > _BEYOND + 1e-9
    yield Fires(
        f"From no throttle to full the pulses go from {grouped(low)} to {grouped(high)} us, "
        f"{share * 100:.0f} % of the {grouped(first)} to {grouped(last)} us of {protocol}"
        + (", and beyond its ends." if beyond else ": full stick is not full throttle."),
        (craft.esc.path("pulse_max"), craft.esc.path("pulse_min"), craft.esc.path("protocol")),
        (("share_percent", share * 100), ("pulse_min_us", low), ("pulse_max_us", high)),
        advice="Set the pulses that the speed controllers were calibrated to.",
        level=Level.ERROR if share < _TRAVEL_ERROR - 1e-9 else Level.WARNING,
    )


@rule("esc/pulse-order", Level.ERROR)
def pulse_order(craft: Craft) -> Iterator[Yielded]:
    """The pulses for disarmed, no throttle and full throttle are not in that order.

    Digital protocols are left out: they send numbers, no lengths.

    In the air: motors turn as soon as the craft has power, or do not answer the throttle, or
    answer it the wrong way.
    Mend: disarmed at or below no throttle, no throttle below full throttle.
    Source: common practice.
    """
    if is_digital(craft.esc.protocol):
        return
    yield from each((_disarmed_first, _full_last), lambda check: check(craft))


def _disarmed_first(craft: Craft) -> Iterator[Yielded]:
    disarmed, none = craft.esc.pulse_arm, craft.esc.pulse_min
    if disarmed > none:
        yield Fires(
            f"The pulse while disarmed is {grouped(disarmed)} us, longer than the one for no "
            f"throttle, {grouped(none)} us.",
            (craft.esc.path("pulse_arm"), craft.esc.path("pulse_min")),
            (("pulse_arm_us", disarmed), ("pulse_min_us", none)),
            advice="Set the pulses that the speed controllers were calibrated to.",
        )


def _full_last(craft: Craft) -> Iterator[Yielded]:
    none, full = craft.esc.pulse_min, craft.esc.pulse_max
    if none >= full:
        yield Fires(
            f"The pulse for no throttle is {grouped(none)} us, and the one for full throttle "
            f"{grouped(full)} us is no longer.",
            (craft.esc.path("pulse_min"), craft.esc.path("pulse_max")),
            (("pulse_min_us", none), ("pulse_max_us", full)),
            advice="Set the pulses that the speed controllers were calibrated to.",
        )


@rule("esc/idle-low", Level.WARNING, limits=("esc.idle_least",))
def idle_low(craft: Craft, least: float) -> Iterator[Yielded]:
    """The throttle that keeps the motors turning is very low.

    A warning however low it is, as where the propellers are meant to rest at zero throttle.

    In the air: at closed throttle, in a dive or a fast turn, a motor may stop. It starts again with
    more throttle, but late: the craft dips to that side meanwhile, and near the ground there may be
    no time to catch it.
    Mend: propellers off, raise it until every motor starts and turns evenly, then a little more.
    Source: common practice.
    """
    idle = craft.esc.idle
    if idle < least:
        yield Fires(
            f"The motors idle at {grouped(idle)} % throttle; below {grouped(least)} % they may "
            "stop.",
            (craft.esc.path("idle"),),
            (("idle_percent", idle), ("least_percent", least)),
            advice="Propellers off: raise it until every motor starts and turns evenly.",
        )


@rule(
    "esc/idle-high",
    Level.WARNING,
    limits=("esc.idle_most", "motor.hover_most"),
    sheet="wanted",
)
def idle_high(
    craft: Craft, sheet: "Sheet | None", most: float, hover_most: float
) -> Iterator[Yielded]:
    """The throttle that keeps the motors turning is very high.

    An error where it is the build sheet's hover throttle or more: that carries the craft. Without
    the sheet's, from where hardly any craft hovers higher.

    In the air: the craft hardly comes down with the throttle closed and runs on after touching
    the ground; armed on the bench it may walk off. From the hover throttle on it takes off as it is
    armed, and no stick brings it down: only stopping the motors does, and then it falls.
    Mend: propellers off, lower it to where every motor still starts and turns evenly.
    Source: common practice; the lift goes with the throttle to its square (the propeller's thrust
    coefficient; textbook, from memory).
    """
    idle = craft.esc.idle
    told = sheet is not None and sheet.propulsion.states("hover_throttle")
    hover = sheet.propulsion.hover_throttle if sheet is not None and told else hover_most
    carries = idle >= hover
    may_carry = not told and idle >= _CARRIES_MANY
    if idle <= most and not carries:
        return
    so = f"above {grouped(most)} % the craft hardly comes down"
    if may_carry:
        so = "many craft hover at less, and would take off as they are armed"
    figures = [("idle_percent", idle), ("most_percent", most)]
    if carries:
        so = f"hardly any craft needs more than {grouped(hover)} % to hover, so that carries it"
    if carries and told:
        lift = lift_of_weight(idle, hover)
        least, greatest = lift.least * 100, lift.most * 100
        so = f"it hovers at {grouped(hover)} %, so that lifts {least:.0f} to {greatest:.0f} % of "
        so += "the weight"
        figures += [("lift_least_percent", least), ("lift_most_percent", greatest)]
    if carries:
        so += ". It takes off as it is armed and can't be landed"
        figures.append(("hover_percent", hover))
    yield Fires(
        f"The motors idle at {grouped(idle)} % throttle; {so}.",
        (
            craft.esc.path("idle"),
            *((sheet.propulsion.path("hover_throttle"),) if sheet and told and carries else ()),
        ),
        tuple(figures),
        advice="Propellers off: lower it to where every motor still starts and turns evenly.",
        level=Level.ERROR if carries or may_carry else None,
    )


_CARRIES_MANY: Final = 30.0  # % of throttle: many a craft of 5 inch hovers there (common practice)


@rule("esc/reversible-by-surprise", Level.ERROR)
def reversible_by_surprise(craft: Craft) -> Iterator[Yielded]:
    """Motors may turn both ways in flight.

    Righting a craft that lies upside down needs no more than a command to the speed controllers;
    a switch for it (switches.self_right) does not make reversible thrust in flight right.

    In the air: the lower part of the throttle may turn the propellers backward, so that closing
    it pushes the craft down.
    Mend: switch reversible thrust off.
    Source: common practice.
    """
    if not craft.esc.reversible_thrust:
        return
    path = craft.esc.path("reversible_thrust")
    yield Fires(
        "Reversible thrust is on: the lower part of the throttle runs the motors backward.",
        (path,),
        mend=(Edit(path, "off"),),
    )


@rule("esc/reports-need-digital", Level.ERROR)
def reports_need_digital(craft: Craft) -> Iterator[Yielded]:
    """Speed reports on the signal wire are on, and the protocol is one of pulses.

    In the air: no report ever comes; notches and displays that follow the motors' speed have
    nothing to follow, and some speed controllers do not start at all.
    Mend: a digital protocol, if the speed controllers know one, or no reports.
    Source: common practice: a pulse has no answer.
    """
    if not craft.esc.reports:
        return
    protocol = craft.esc.protocol
    if not is_digital(protocol):
        yield Fires(
            f"Speed reports on the signal wire are on, and {protocol} sends pulses, which nothing "
            "answers.",
            (craft.esc.path("reports"), craft.esc.path("protocol")),
            advice="Use a digital protocol if the speed controllers know one, or switch the "
            "reports off.",
        )


@rule("esc/protocols-mixed", Level.ERROR)
def protocols_mixed(craft: Craft) -> Iterator[Yielded]:
    """The speed controllers of one craft are spoken to in different protocols.

    An arm without a protocol of its own has the craft's. A servo is left to motor/servo-signal.

    In the air: the motors answer one later or more coarsely than another, and the same throttle
    is not the same thrust; the craft tilts whenever the throttle moves.
    Mend: one protocol that all of the craft's speed controllers know.
    Source: common practice.
    """
    own = {arm.name: arm.protocol for arm in there(craft.esc.arms) if arm.states("protocol")}
    if not own:
        _ = craft.esc.protocol  # one for all, or not stated at all
        return
    own = {arm: protocol for arm, protocol in own.items() if not is_servo(craft, arm)}
    others = [motor.name for motor in turning(craft) if motor.name not in own]
    spoken = in_groups((*own, *others), lambda arm: own.get(arm) or craft.esc.protocol)
    if len(spoken) == 1:
        return
    rarest_first = sorted(spoken.items(), key=lambda item: len(item[1]))
    told = "; ".join(f"{protocol} to {listed(arms)}" for protocol, arms in rarest_first)
    stated = [arm for _, arms in rarest_first for arm in arms if arm in own]
    yield Fires(
        f"The throttle goes out in {len(spoken)} protocols: {told}.",
        (
            *(craft.esc.arms[arm].path("protocol") for arm in stated),
            *((craft.esc.path("protocol"),) if others else ()),
        ),
        (("protocols", len(spoken)), ("arms", len(own) + len(others))),
        advice="Use one protocol that every speed controller of the craft knows.",
    )


RULES = (
    frame_longer_than_loop,
    pulse_longer_than_period,
    update_slow,
    brushed_signal,
    pulse_travel,
    pulse_order,
    idle_low,
    idle_high,
    reversible_by_surprise,
    reports_need_digital,
    protocols_mixed,
)
