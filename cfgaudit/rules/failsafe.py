"""What happens when the link is lost: rules over the sequence that craft/link_loss.py computes."""

from collections.abc import Iterator
from math import ceil, floor
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft, if_stated
from cfgaudit.craft.link_loss import (
    CLIMBS_AT,
    CLOSED_PERCENT,
    FLIES_ON,
    HALF_THE_WEIGHT,
    SINKS_LEAST,
    SINKS_MOST,
    STICK_ROOM_US,
    STICKS,
    UNSTEERED,
    ChannelLoss,
    Counting,
    Landing,
    arm_on_loss,
    blind_s,
    channel_on_loss,
    closed,
    counting,
    drop,
    flight_height,
    hides_the_loss,
    landing,
    landing_throttle,
    lands_by_throttle,
    middle_in_doubt,
    off_centre,
    on_loss,
    open_landing,
    pulse_at,
    receiver_on_loss,
    throttle_on_loss,
    throws_failsafe,
    travel_share,
)
from cfgaudit.craft.switches import joined, travel
from cfgaudit.physics.flight import blind_distance_m, ground_speed_m_per_s, lift_of_weight
from cfgaudit.physics.serial import receiver_frame_period_s
from cfgaudit.rules.rule import (
    BUILD_SHEET,
    FRAME_RATE,
    Edit,
    Fires,
    Lacks,
    Level,
    NotApplicable,
    Yielded,
    each,
    grouped,
    rule,
)
from cfgaudit.rules.wiring import carrying, devices_in, give_a_port
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet

# Times of a tenth of a second have no exact binary form: 1.2 s and 0.3 s are 1.5 s all the same.
_ROUNDING_S: Final = 1e-9
_SINKS_AT: Final = 0.92  # of the hover throttle: lift is 85 to 92 % of the weight then
_SINKS_FAST: Final = 0.75  # of its weight: with less lift a craft gains speed on its way down
_MOST_PERCENT: Final = 100 - CLOSED_PERCENT  # above it a throttle is open, whatever hovers
_HOVERS_BELOW: Final = 70.0  # %: a craft that hovers higher up can hardly climb (common practice)


def own_values(craft: Craft, sheet: "Sheet | None") -> Counting:
    """For how long the board's own link-loss values are flown.

    Raises NotApplicable where they never are, and NotStated.
    """
    # silent, as reckoned, where it is not known: failsafe/receiver-hides-loss says so
    if if_stated(lambda: receiver_on_loss(sheet)[0], "silent") == "hold":
        raise NotApplicable(
            "The receiver goes on sending what came last, so the board never flies its own values."
        )
    counts = counting(craft, sheet)
    if counts.lasts is not None and counts.lasts <= 0:
        raise NotApplicable(
            "The action begins as soon as the loss is noticed, so the channels' own values are "
            "never flown."
        )
    return counts


def _until_the_action(counts: Counting) -> str:
    """How the channels' values come to an end: by the board's setting, or by the receiver's."""
    if any(path.startswith("sheet.devices.") for path in counts.paths):
        return (
            "teach the receiver to fall silent on link loss, so that the board notices and acts, "
            "and try it at the bench"
        )
    return "let the channels' values count until the action begins"


def _for_so_long(counts: Counting) -> str:
    return "to the end" if counts.lasts is None else f"for {grouped(counts.lasts)} s"


_THEN: Final = {"land": "it lands", "return_home": "it turns home", "motors_off": "they stop"}


def _before(craft: Craft) -> str:
    """What is still to come after the channels' own values, in words."""
    return _THEN[craft.failsafe.action]


def _flies_on(craft: Craft) -> None:
    """Raise NotApplicable where the craft is not to stay in the air after the loss."""
    if craft.failsafe.action not in FLIES_ON:
        raise _other_action(craft, "it is neither to land nor to return home.")


def _other_action(craft: Craft, why: str) -> NotApplicable:
    return NotApplicable(f"On link loss the action is {craft.failsafe.action}: {why}")


@rule("failsafe/none", Level.ERROR)
def none(craft: Craft) -> Iterator[Yielded]:
    """When the link is lost, nothing is done, or the last inputs are held.

    In the air: the craft flies on as the sticks last stood until something stops it.
    Mend: choose what it is to do: stop the motors, land, or return home.
    Source: common practice.
    """
    action = craft.failsafe.action
    says = {
        "none": "When the link is lost the craft does nothing about it.",
        "hold_inputs": "When the link is lost the craft holds the last inputs and flies on.",
    }
    if action in says:
        yield Fires(
            says[action],
            ("failsafe.action",),
            advice="Set failsafe.action to motors_off, land or return_home.",
        )


@rule("failsafe/receiver-hides-loss", Level.ERROR, sheet=True)
def receiver_hides_loss(craft: Craft, sheet: "Sheet") -> Iterator[Yielded]:
    """The receiver goes on sending when the radio link is lost, and the board notices nothing.

    In the air: with what came last it flies on with nobody steering; with values that it was
    taught it flies by those to the end, and what the board is set to do never begins, unless they
    throw the failsafe switch.
    Mend: teach the receiver to fall silent on link loss, or to tell it, and try it at the bench.
    Source: common practice.
    """
    sends, path = receiver_on_loss(sheet)
    paths = (path, craft.failsafe.path("action"))
    if sends == "hold":
        yield Fires(
            "On link loss the receiver goes on sending what came last: the board never notices, "
            "and the craft flies on with nobody steering.",
            paths,
            advice="Teach the receiver to fall silent on link loss, and try it at the bench.",
        )
    elif sends == "preset":
        if throws_failsafe(craft):
            return  # which tells the board
        action = craft.failsafe.action
        if action == "motors_off" and closed(craft, throttle_on_loss(craft).pulse or float("inf")):
            yield from _idles_on(craft, path)  # the motors are stopped by the receiver's hand
            return
        yield Fires(
            "On link loss the receiver goes on sending values of its own: the board never notices, "
            f"so {action} never begins.",
            paths,
            level=Level.WARNING,
            advice="Teach the receiver to fall silent on link loss, and try it at the bench.",
        )


def _idles_on(craft: Craft, path: str) -> Iterator[Yielded]:
    """A craft whose receiver closes the throttle on link loss, and leaves it armed."""
    if craft.motors.states("stop_when_armed_idle") and craft.motors.stop_when_armed_idle:
        return
    if joined(craft, [on for _, on in arm_on_loss(craft)]):
        yield Fires(
            "On link loss the receiver goes on sending values of its own, which close the throttle "
            "and leave the craft armed: the board never notices, so motors_off never begins, and "
            "the propellers go on idling where it came down.",
            (path, craft.failsafe.path("action")),
            level=Level.WARNING,
            advice="Teach the receiver to fall silent on link loss, or to send the arm switch off "
            "too, and try it at the bench.",
        )


@rule("failsafe/throttle-held", Level.ERROR, sheet="wanted")
def throttle_held(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss the throttle is held, or set to an open value, and nothing ever ends that.

    Until the action begins a throttle that is held keeps the craft in the air, which is right;
    failsafe/too-slow says where that takes too long. A value at which it sinks, though slower than
    it would fall, is a landing's own where the landing's end stops the motors.

    In the air: the motors go on pulling while nobody steers.
    Mend: let the channels' values count until the action (a receiver that sends values of its own:
    teach it to fall silent), or close the throttle.
    Source: common practice. Closed is up to 5 % of the travel above the lowest pulse.
    """
    if craft.failsafe.action in UNSTEERED:
        raise NotApplicable("Nothing is done on link loss at all: failsafe/none says so.")
    counts = own_values(craft, sheet)
    if counts.lasts is not None:
        return
    taken = throttle_on_loss(craft)
    paths = (taken.path, craft.receiver.map.path("throttle"), *counts.paths)
    until = _until_the_action(counts)
    advice = f"{until[:1].upper()}{until[1:]}"
    if craft.failsafe.action not in FLIES_ON:  # else closed it would fall
        advice += ", or give the throttle channel its lowest pulse where the motors may stop"
    if taken.pulse is None:
        yield Fires(
            f"On link loss the throttle channel {taken.channel} holds its last value to the end.",
            paths,
            (("channel", float(taken.channel)),),
            advice=f"{advice}.",
        )
    elif not closed(craft, taken.pulse) and not _sinks_and_stops(craft, sheet, taken.pulse):
        if _is_the_landing_s(craft, taken.pulse):
            _wants_hover(sheet)
        low, high = travel(craft, taken.channel)
        limit = low + (high - low) * CLOSED_PERCENT / 100
        yield Fires(
            f"On link loss the throttle channel {taken.channel} stays at {grouped(taken.pulse)} us "
            f"to the end, above {grouped(limit)} us ({grouped(low)} us and 5 % of the travel).",
            paths,
            (
                ("channel", float(taken.channel)),
                ("value_us", taken.pulse),
                ("limit_us", limit),
                ("low_us", low),
                ("high_us", high),
            ),
            advice=f"{advice}.",
        )


def _is_the_landing_s(craft: Craft, pulse: float) -> bool:
    """Whether a throttle that is set to the end is that of a landing, which ends by itself."""
    failsafe = craft.failsafe
    lands = failsafe.action == "land" and failsafe.states("land_for") and failsafe.land_for > 0
    return lands and failsafe.states("throttle") and failsafe.throttle == pulse


def _sinks_and_stops(craft: Craft, sheet: "Sheet | None", pulse: float) -> bool:
    """Whether a throttle that is set to the end is a landing's: it sinks, and then it stops.

    Raises NotStated.
    """
    failsafe = craft.failsafe
    if failsafe.action != "land" or hides_the_loss(craft, sheet) or failsafe.land_for <= 0:
        return False
    if sheet is None or not sheet.propulsion.states("hover_throttle"):
        return False
    share, hover = travel_share(craft, pulse), sheet.propulsion.hover_throttle / 100
    return share < hover and lift_of_weight(share, hover).most >= HALF_THE_WEIGHT


@rule(
    "failsafe/throttle-closes",
    Level.ERROR,
    limits=("failsafe.drop_noticed", "failsafe.drop_most"),
    sheet="wanted",
)
def throttle_closes(
    craft: Craft, sheet: "Sheet | None", noticed: float, most: float
) -> Iterator[Yielded]:
    """The throttle closes before the craft lands or turns home.

    In the air: it falls, as deep as the figure says, before the motors pull again; flying lower
    than that it hits the ground.
    Mend: hold the throttle until the action begins, or let it begin at once.
    Source: textbook: g t^2 / 2, a fall without drag; to the end where nothing ends it.
    """
    _flies_on(craft)
    counts = own_values(craft, sheet)
    taken = throttle_on_loss(craft)
    if taken.pulse is None or not closed(craft, taken.pulse):
        return
    fell = drop(craft, counts.lasts)
    if fell.metres < noticed - _ROUNDING_S:
        return
    until = "reaches the ground" if fell.height_m is not None else _before(craft)
    yield Fires(
        f"On link loss the throttle channel {taken.channel} goes to {grouped(taken.pulse)} us, "
        f"closed, {_for_so_long(counts)}: the craft falls {grouped(fell.metres)} m and is at "
        f"{grouped(fell.m_per_s)} m/s before it {until.removeprefix('it ')}, drag left out.",
        (taken.path, *counts.paths, craft.failsafe.path("action")),
        (
            ("channel", float(taken.channel)),
            ("value_us", taken.pulse),
            ("seconds", fell.seconds),
            ("fall_m", fell.metres),
            ("speed_m_per_s", fell.m_per_s),
            ("limit_m", most),
        ),
        level=None if fell.metres >= most - _ROUNDING_S else Level.WARNING,
        mend=_held(taken.path, counts),
        advice=_hold_until(counts),
    )


@rule("failsafe/throttle-opens", Level.ERROR, sheet="wanted")
def throttle_opens(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss the throttle is set to a value at which the craft climbs away.

    In the air: it goes up, for as long as that value counts, with nobody steering.
    Mend: hold the throttle until the action begins, or set one at or below the hover throttle.
    Source: common practice: a tenth above the throttle that hovers; without the build sheet's
    hover throttle the last 5 % of the travel, and with a warning what is above 70 %.
    """
    counts = own_values(craft, sheet)
    taken = throttle_on_loss(craft)
    if taken.pulse is None or closed(craft, taken.pulse):
        return
    if _seen_changed_about(craft):
        return  # failsafe/values-fit-another-map says it
    share = travel_share(craft, taken.pulse) * 100
    limit, path = _climbs_above(sheet, share)
    if share > limit + _ROUNDING_S:
        yield Fires(
            f"On link loss the throttle channel {taken.channel} goes to {grouped(taken.pulse)} us, "
            f"{grouped(share)} % of its travel, {_for_so_long(counts)}: it climbs away above "
            f"{grouped(limit)} %{'' if path else ', as most craft do'}.",
            (taken.path, craft.receiver.map.path("throttle"), *path),
            (
                ("channel", float(taken.channel)),
                ("value_us", taken.pulse),
                ("throttle_percent", share),
                ("limit_percent", limit),
            ),
            mend=_held(taken.path, counts),
            advice=_hold_until(counts),
            level=None if path or share > _MOST_PERCENT else Level.WARNING,
        )


def _hold_until(counts: Counting) -> str:
    """What to do about a throttle that nobody holds: held to the end it would fly on."""
    if counts.lasts is not None:
        return "Hold the throttle channel until the action begins."
    until = _until_the_action(counts)
    return f"{until[:1].upper()}{until[1:]}, and hold the throttle channel until then: both."


def _held(path: str, counts: Counting) -> tuple[Edit, ...]:
    """The channel's last value held, where the action ends that; to the end it would fly on."""
    return (Edit(path, "hold"),) if counts.lasts is not None else ()


def _climbs_above(sheet: "Sheet | None", share: float) -> tuple[float, tuple[str, ...]]:
    """The throttle in % above which a craft climbs away, and where that is stated.

    Without a hover throttle one is judged at which hardly a craft hovers; else NotStated is raised.
    """
    if sheet is not None and sheet.propulsion.states("hover_throttle"):
        path = sheet.propulsion.path("hover_throttle")
        return sheet.propulsion.hover_throttle * CLIMBS_AT, (path,)
    if share <= _HOVERS_BELOW:
        _wants_hover(sheet)
    return _HOVERS_BELOW, ()


def _wants_hover(sheet: "Sheet | None") -> None:
    """Raise NotStated for the build sheet, or its hover throttle."""
    raise NotStated(BUILD_SHEET if sheet is None else sheet.propulsion.path("hover_throttle"))


@rule("failsafe/disarms-in-air", Level.ERROR, sheet="wanted")
def disarms_in_air(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss the arm channel goes where arm is off, before the craft lands or turns home.

    In the air: the motors stop, and what the craft is set to do never begins: it falls.
    Mend: let the arm channel hold what came last: that serves the bench and the air. Never give
    it the lowest pulse.
    Source: common practice; textbook for the fall: sqrt(2 g h), drag left out.
    """
    _flies_on(craft)
    told = craft.arming.states("by") or "arm" not in craft.switches.ranges.stated()
    if told and craft.arming.by != "switch":  # where nothing is said, arm's range tells of a switch
        raise NotApplicable("No switch arms the craft.")
    counts = own_values(craft, sheet)
    channels = list(arm_on_loss(craft))
    if joined(craft, [on for _, on in channels]):
        return
    for taken, on in channels:
        if not on and taken.pulse is not None:
            found = _goes_where(craft, counts, taken, "arm", "off: the motors stop in the air")
            yield found._replace(mend=_held(taken.path, counts))


def _goes_where(
    craft: Craft, counts: Counting, taken: ChannelLoss, function: str, does: str
) -> Fires:
    """A channel that goes on link loss where a function does what it must not yet do."""
    pulse = taken.pulse or 0.0
    return Fires(
        f"On link loss channel {taken.channel} goes to {grouped(pulse)} us "
        f"{_for_so_long(counts)}, where {function} is {does} before {_before(craft)}.",
        (taken.path, craft.switches.path_of(function), craft.failsafe.path("action")),
        (("channel", float(taken.channel)), ("value_us", pulse)),
        advice=f"Let channel {taken.channel} hold what came last.",
    )


# What a function does that is on while nobody steers, and is no answer to a lost link.
_COMES_ON: Final = {
    "motors_kill": "the motors stop in the air",
    "self_right": "the motors turn the craft over",
}


@rule("failsafe/function-comes-on", Level.ERROR, sheet="wanted")
def function_comes_on(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss a channel goes where the motor stop or self-righting is on.

    In the air: the motors stop, or turn the craft over, before it lands or turns home.
    Mend: let the channel hold what came last, or give it the end where the function is off.
    Source: common practice. Where the motors are to stop anyway, only self-righting is judged.
    """
    if craft.failsafe.action in UNSTEERED:
        _flies_on(craft)
    counts = own_values(craft, sheet)
    stops = craft.failsafe.action == "motors_off"
    functions = [one for one in _COMES_ON if not (stops and one == "motors_kill")]
    yield from each(functions, lambda function: _on_by_loss(craft, function, counts))


def _on_by_loss(craft: Craft, function: str, counts: Counting) -> Iterator[Yielded]:
    channels = list(on_loss(craft, function))
    if not joined(craft, [on for _, on in channels]):
        return
    for taken, on in channels:
        if on and taken.pulse is not None:
            yield _goes_where(craft, counts, taken, function, f"on: {_COMES_ON[function]}")


@rule("failsafe/sticks-off-centre", Level.ERROR, sheet="wanted")
def sticks_off_centre(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss roll, pitch or yaw is set off its middle, or held to the end.

    A warning where roll or pitch is held until the action begins, alone among sticks that go to
    their middles.

    In the air: the craft leans, or turns, for as long as that counts, with nobody steering.
    Mend: set the middle, or hold what came last until the action begins.
    Source: common practice. Off is further than the deadband, or 25 us where that is more.
    """
    counts = own_values(craft, sheet)
    yield from each(STICKS, lambda control: _stick(craft, control, counts))


def _stick(craft: Craft, control: str, counts: Counting) -> Iterator[Yielded]:
    channel = craft.receiver.map[control]
    path = craft.receiver.map.path(control)
    taken = channel_on_loss(craft, channel)
    if taken.pulse is None:
        if counts.lasts is None and craft.failsafe.action not in UNSTEERED:
            yield Fires(
                f"On link loss channel {channel}, {control}, holds its last value to the end.",
                (taken.path, path, *counts.paths),
                (("channel", float(channel)),),
                advice=f"Set the middle of {control}, or {_until_the_action(counts)}.",
            )
        elif control in _LEANS and _alone(craft, control):
            yield Fires(
                f"On link loss channel {channel}, {control}, holds its last value, and the other "
                "sticks go to their middles.",
                (taken.path, path),
                (("channel", float(channel)),),
                advice=f"Set the middle of {control}, and compare the map with the order in which "
                "the transmitter sends.",
                level=Level.WARNING,
            )
        return
    found = off_centre(craft, control)
    if found is not None:
        middle = found[1]
        doubt = middle_in_doubt(craft, channel)
        apart = _seen_changed_about(craft)
        where = craft.receiver.end_path(channel, "centre")
        yield Fires(
            f"On link loss channel {channel}, {control}, goes to {grouped(taken.pulse)} us "
            f"{_for_so_long(counts)}, {grouped(abs(taken.pulse - middle))} us off its middle at "
            f"{grouped(middle)} us.",
            (where, taken.path, path) if doubt else (taken.path, path, where),
            (
                ("channel", float(channel)),
                ("value_us", taken.pulse),
                ("middle_us", middle),
                ("off_us", abs(taken.pulse - middle)),
            ),
            advice="Compare the map with the order in which the transmitter sends."
            if apart
            else f"Look at {where} first: {grouped(middle)} us is no usual middle, and 1,500 us "
            "is.",
        ).mended([] if apart or doubt else [Edit(taken.path, f"{number_text(middle)} us")])


_LEANS: Final = ("roll", "pitch")


def _alone(craft: Craft, held: str) -> bool:
    """Whether the other sticks go to their middles on link loss, as far as that is stated."""
    others = [control for control in STICKS if control != held]

    def go_to_their_middles() -> bool:
        taken = [channel_on_loss(craft, craft.receiver.map[control]) for control in others]
        pulses = all(one.pulse is not None for one in taken)
        return pulses and not any(off_centre(craft, control) for control in others)

    return if_stated(go_to_their_middles, False)


@rule("failsafe/values-fit-another-map", Level.ERROR)
def values_fit_another_map(craft: Craft) -> Iterator[Yielded]:
    """The link-loss values fit if the throttle and a stick changed places in the channel map.

    The throttle goes to its middle; of roll, pitch and yaw one holds or goes below its middle, as
    a throttle does, and the other two go to their middles.

    In the air: if it is the map that is wrong, the stick that is pushed forward opens the throttle,
    and the throttle tips the craft over: it leaps and flips. If it is the values, link loss drives
    the motors while one stick stays where it was.
    Mend: see at the bench, propellers off, which control each stick moves; then correct the map,
    or the two values, whichever is untrue.
    Source: common practice: on link loss sticks go to their middles, the throttle holds, closes or
    sinks the craft.
    """
    stick = _changed_about(craft)
    if not stick:
        return
    throttle, one = throttle_on_loss(craft), channel_on_loss(craft, craft.receiver.map[stick])
    does = "holds" if one.pulse is None else f"goes to {grouped(one.pulse)} us"
    yield Fires(
        f"On link loss the throttle, channel {throttle.channel}, goes to its middle, "
        f"{grouped(throttle.pulse or 0.0)} us, and {stick}, channel {one.channel}, {does}: that "
        "fits if the two changed places in the map.",
        (
            craft.receiver.map.path("throttle"),
            craft.receiver.map.path(stick),
            throttle.path,
            one.path,
        ),
        (
            ("throttle_channel", float(throttle.channel)),
            (f"{stick}_channel", float(one.channel)),
            ("throttle_us", throttle.pulse or 0.0),
        ),
        advice="Propellers off: see which control each stick moves. Then correct the map, or the "
        "two values, whichever is untrue.",
    )


def _seen_changed_about(craft: Craft) -> bool:
    """Whether `_changed_about` names a stick, as far as what it looks at is stated."""
    return if_stated(lambda: bool(_changed_about(craft)), False)


def _changed_about(craft: Craft) -> str:
    """The stick that takes on link loss what a throttle should, where the throttle takes a stick's.

    Empty where there is none, or more than one. Raises NotStated.
    """
    throttle = throttle_on_loss(craft)
    if throttle.pulse is None:
        return ""
    if abs(throttle.pulse - craft.receiver.centre_of(throttle.channel)) > STICK_ROOM_US:
        return ""
    odd = []
    for control in STICKS:
        channel = craft.receiver.map[control]
        taken = channel_on_loss(craft, channel)
        if taken.pulse is None:
            odd.append(control)
        elif off_centre(craft, control) is not None:
            if taken.pulse > craft.receiver.centre_of(channel):
                return ""
            odd.append(control)
    return odd[0] if len(odd) == 1 else ""


@rule("failsafe/home-without-position", Level.ERROR, sheet="wanted")
def home_without_position(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss the craft is to return home, but nothing tells it where it is.

    In the air: the way home can't be flown: the craft drifts, lands where it is, or flies off
    on a position that it never had.
    Mend: give the position role to a port, switch position on and want at least 6 satellites;
    or choose another action.
    Source: common practice.
    """
    if craft.failsafe.action != "return_home":
        raise _other_action(craft, "no way home is flown.")
    checks = (lambda craft: _no_port(craft, sheet), _no_satellites, _switched_off)
    yield from each(checks, lambda check: check(craft))


def _no_port(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    bare = _has_no_position(sheet)
    ports = carrying(craft, "position")
    if ports and not bare:
        return
    lacks = "the build sheet lists no position receiver" if bare else "no port carries position"
    yield Fires(
        f"On link loss the craft is to return home, but {lacks}.",
        ("failsafe.action", *(port.path("roles") for port in ports)),
        advice="Let it land instead, failsafe.action = land; or fit a position receiver, and put "
        "it into the build sheet with its port."
        if bare
        else give_a_port(craft, "position", sheet),
    )


def _has_no_position(sheet: "Sheet | None") -> bool:
    """Whether a sheet that says of each of its devices what it is has no position receiver."""
    devices = devices_in(sheet)
    told = bool(devices) and all(device.states("kind") for device in devices)
    return told and all(device.kind != "position" for device in devices)


def _no_satellites(craft: Craft) -> Iterator[Yielded]:
    if craft.position.min_satellites == 0:
        yield Fires(
            "On link loss the craft is to return home, but a position without any satellites "
            "counts: min_satellites is 0.",
            ("position.min_satellites", "failsafe.action"),
            (("min_satellites", 0.0),),
            advice="Want at least 6 satellites.",
        )


def _switched_off(craft: Craft) -> Iterator[Yielded]:
    if not craft.position.enabled:
        yield Fires(
            "On link loss the craft is to return home, but position is switched off.",
            ("position.enabled", "failsafe.action"),
            mend=(Edit("position.enabled", "on"),),
        )


@rule("failsafe/needs-accelerometer", Level.ERROR)
def needs_accelerometer(craft: Craft) -> Iterator[Yielded]:
    """On link loss the craft is to land or return home, and the accelerometer is switched off.

    In the air: nothing tells it what is level while nobody steers: it tips over, or drifts off.
    Mend: switch the accelerometer on and calibrate it; or choose another action.
    Source: common practice. sensor/accelerometer-uncalibrated says where it was never calibrated.
    """
    _flies_on(craft)
    sensor = craft.sensors.accelerometer
    if not sensor.enabled:
        yield Fires(
            f"On link loss the action is {craft.failsafe.action}, but the accelerometer is "
            "switched off.",
            (craft.failsafe.path("action"), sensor.path("enabled")),
            advice="Switch the accelerometer on and calibrate it.",
        )


_RUNS_AWAY: Final = 2.5  # times the limit


@rule(
    "failsafe/too-slow",
    Level.WARNING,
    limits=("failsafe.blind_most", "failsafe.assumed_speed"),
)
def too_slow(craft: Craft, most: float, assumed: float) -> Iterator[Yielded]:
    """Much time goes by between the loss of the link and the failsafe's action.

    An error from two and a half times the limit on: then it runs away.

    In the air: the craft flies on as the sticks last stood, and nobody steers.
    Mend: shorten the time to notice or the time to hold, until both come to 2 s or less.
    Source: common practice; the distance is speed times time.
    """
    failsafe = craft.failsafe
    notice, hold = failsafe.detect_after, failsafe.hold_for
    blind = blind_s(craft)
    if blind <= most + _ROUNDING_S:
        return
    stated = craft.home.states("speed") and craft.home.speed > 0
    speed = craft.home.speed if stated else assumed
    distance = blind_distance_m(speed, blind)
    whose = "its speed on the way home" if stated else "an assumed speed"
    yield Fires(
        f"Between the loss of the link and the failsafe {grouped(blind)} s go by "
        f"({grouped(notice)} s to notice, {grouped(hold)} s on hold), more than "
        f"{grouped(most)} s: {grouped(distance)} m flown blind at {grouped(speed)} m/s, {whose}.",
        (
            failsafe.path("hold_for"),
            failsafe.path("detect_after"),
            *((craft.home.path("speed"),) if stated else ()),
        ),
        (
            ("blind_s", blind),
            ("detect_after_s", notice),
            ("hold_for_s", hold),
            ("limit_s", most),
            ("speed_m_per_s", speed),
            ("distance_m", distance),
        ),
        advice=f"Bring the two together to {grouped(most)} s or less.",
        level=Level.ERROR if blind >= _RUNS_AWAY * most - _ROUNDING_S else Level.WARNING,
    )


@rule(
    "failsafe/too-nervous", Level.WARNING, limits=("failsafe.frames_least", "failsafe.notice_least")
)
def too_nervous(craft: Craft, frames: float, shortest: float) -> Iterator[Yielded]:
    """The link counts as lost after so short a silence that a few missing frames are enough.

    In the air: the failsafe acts in the middle of a flight that was well in hand: with the
    motors set to stop, the craft falls, and it is an error.
    Mend: wait for at least three frames of the link and a tenth of a second; 0.3 to 0.5 s is
    usual.
    Source: common practice for the frames of each link.
    """
    link = craft.receiver.link
    if link == "none":
        raise NotApplicable("There is no receiver link.")
    notice = craft.failsafe.detect_after
    period = receiver_frame_period_s(link)
    least = shortest if period is None else max(shortest, frames * period)
    if notice < least - _ROUNDING_S:
        grave = craft.failsafe.states("action") and craft.failsafe.action == "motors_off"
        by = f"{grouped(shortest * 1000)} ms"
        if period is not None and frames * period > shortest:
            by = (
                f"{grouped(frames)} frames of the {link} link: {grouped(frames)} × "
                f"{grouped(period * 1000)} ms = {grouped(least * 1000)} ms"
            )
        yield Fires(
            f"The link counts as lost after {grouped(notice * 1000)} ms, less than {by}"
            + (", and then the motors stop." if grave else "."),
            ("failsafe.detect_after", "receiver.link", *(["failsafe.action"] * grave)),
            (
                ("detect_after_ms", notice * 1000),
                *((("frame_ms", period * 1000),) if period is not None else ()),
                ("frames", frames),
                ("shortest_ms", least * 1000),
            ),
            level=Level.ERROR if grave else None,
            advice="Wait for 0.3 to 0.5 s.",
        )
    elif period is None:
        yield Lacks(FRAME_RATE)


@rule("failsafe/never-stops", Level.ERROR)
def never_stops(craft: Craft) -> Iterator[Yielded]:
    """The landing on link loss lasts 0 s: by the firmware it has no end, or ends at once.

    In the air: where it ends at once the motors stop and the craft falls. Where it has no end they
    go on turning on the ground, or caught in a tree, until the pack is empty, and whoever fetches
    the craft reaches between its blades.
    Mend: give the landing an end, long enough to come down from the usual height.
    Source: common practice.
    """
    _flies_on(craft)
    failsafe = craft.failsafe
    if failsafe.land_for == 0:
        yield Fires(
            "On link loss the landing lasts 0 s: by the firmware the motors turn on without limit "
            "after it, or stop at once, in the air.",
            (failsafe.path("land_for"), failsafe.path("action")),
            (("land_for_s", 0.0),),
            advice="Give the landing an end, long enough to come down from the usual height.",
        )


@rule("failsafe/landing-throttle", Level.ERROR, sheet="wanted")
def landing_throttle_off(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """On link loss the craft is to land at a throttle at which it climbs away, or falls.

    A note, with what that throttle lifts, where it is near to either: where it may hang in the air,
    and where even the larger lift is below three quarters of the weight.

    In the air: a tenth above the throttle that hovers it goes up until the pack is empty; with
    less lift than half its weight it does not sink but fall.
    Mend: set the throttle at which the craft, with a fresh pack, sinks slowly: a little below the
    one that hovers.
    Source: thrust goes with the square of the turns (T = C n^2, textbook, from memory): lift
    lies between the square of throttle over hover throttle and that itself. Without the build
    sheet's hover throttle the 5 % at either end of the travel are judged, and with a warning what
    is above 70 %.
    """
    if craft.failsafe.action != "land":
        raise _other_action(craft, "no throttle of its own brings it down.")
    pulse = craft.failsafe.throttle
    share = travel_share(craft, pulse) * 100
    paths = (craft.failsafe.path("throttle"), craft.failsafe.path("action"))
    said = f"On link loss the craft is to land at {grouped(pulse)} us, {share:.0f} % of the travel"
    figures = (("throttle_us", pulse), ("throttle_percent", share))
    advice = "Set the throttle at which the craft, with a fresh pack, sinks slowly."
    if sheet is None or not sheet.propulsion.states("hover_throttle"):
        if CLOSED_PERCENT < share <= _HOVERS_BELOW:
            _wants_hover(sheet)
        if _HOVERS_BELOW < share < _MOST_PERCENT:
            likely = (
                f"{said}: most craft hover below {grouped(_HOVERS_BELOW)} %, so it likely climbs"
            )
            yield Fires(f"{likely} away.", paths, figures, advice=advice, level=Level.WARNING)
            _wants_hover(sheet)
        ends = "which counts as closed: it falls" if share <= CLOSED_PERCENT else "which is open"
        yield Fires(f"{said}, {ends}.", paths, figures, advice=advice)
        return
    found = landing_throttle(craft, sheet)
    sinks = round(pulse_at(craft, _SINKS_AT * found.hover), -1)
    advice = (
        f"Set the throttle a little below the one that hovers, about {grouped(sinks)} us, and see "
        "that at it the craft, with a fresh pack, sinks slowly."
    )
    least, most = found.lift.least * 100, found.lift.most * 100
    lifts = f"that lifts {least:.0f} to {most:.0f} % of the weight (it hovers at "
    lifts += f"{grouped(found.hover * 100)} %)"
    verdicts = {
        "climbs away": found.share > CLIMBS_AT * found.hover + _ROUNDING_S,
        "falls": found.lift.most < HALF_THE_WEIGHT - _ROUNDING_S,
        "may hang in the air": found.lift.least >= 1 - _ROUNDING_S,
        "sinks fast": found.lift.most < _SINKS_FAST - _ROUNDING_S,
    }
    does = next((does for does, so in verdicts.items() if so), "")
    if not does:
        return
    yield Fires(
        f"{said}: {lifts}, so it {does}.",
        (*paths, sheet.propulsion.path("hover_throttle")),
        (
            *figures,
            ("hover_percent", found.hover * 100),
            ("lift_least_percent", least),
            ("lift_most_percent", most),
        ),
        level=None if does in ("climbs away", "falls") else Level.NOTE,
        advice=advice,
    )


@rule("failsafe/lands-in-the-air", Level.ERROR)
def lands_in_the_air(craft: Craft) -> Iterator[Yielded]:
    """On link loss the landing ends before the craft is on the ground.

    In the air: the motors stop at the height that is left, and it falls.
    Mend: let the landing last longer, or let the craft come down faster where that is slow. A speed
    far below the usual 0.5 to 2 m/s is the likelier slip: look at that first. How fast it sinks at
    a fixed throttle no setting tells: there 2 m/s or more from its height is too much to ask.
    Source: hand calculation: height over the speed of the way down. The height is that of the way
    home, else the greatest one. The usual speeds: common practice.
    """
    _flies_on(craft)
    if craft.failsafe.land_for == 0:
        raise NotApplicable("The landing has no end: failsafe/never-stops says so.")
    if lands_by_throttle(craft):
        yield from _lands_too_soon(craft)
        return
    if craft.home.descent == 0:
        raise NotApplicable("It never comes down: home/never-arrives says so.")
    way = landing(craft)
    if way.left_m > _ROUNDING_S:
        speed = ground_speed_m_per_s(way.left_m)
        paths = (craft.failsafe.path("land_for"), *way.paths)
        advice = f"Let the landing last {ceil(way.needs_s * 1.25)} s or more: a quarter more than "
        advice += "the way down takes."
        in_time = ceil(way.height_m / way.lasts_s * 12.5) / 10
        if _too_high(craft, way):
            paths = (way.paths[0], craft.failsafe.path("land_for"), *way.paths[1:])
            advice = "So high a way home is hardly meant, perhaps a digit too many: set its height "
            advice += f"first. From {grouped(floor(way.m_per_s * way.lasts_s / 1.25))} m down it "
            advice += "is down in time, with a quarter to spare."
        elif way.m_per_s < SINKS_LEAST and in_time <= _USUAL_M_PER_S[1]:
            paths = way.paths[::-1]
            advice = "So slow a way down is hardly meant, {:g} to {:g} m/s is usual: perhaps its "
            advice = advice.format(*_USUAL_M_PER_S)
            advice += f"decimal point moved. From {grouped(in_time)} m/s on it is down in time."
        yield Fires(
            f"On link loss the way down from {grouped(way.height_m)} m at {grouped(way.m_per_s)} "
            f"m/s takes {grouped(way.needs_s)} s, and the landing ends after "
            f"{grouped(way.lasts_s)} s: the motors stop {grouped(way.left_m)} m above the ground, "
            f"which it reaches at {grouped(speed)} m/s, drag left out.",
            (*paths, craft.failsafe.path("action")),
            (
                ("height_m", way.height_m),
                ("descent_m_per_s", way.m_per_s),
                ("needs_s", way.needs_s),
                ("lasts_s", way.lasts_s),
                ("left_m", way.left_m),
                ("speed_m_per_s", speed),
            ),
            advice=advice,
        )


def _too_high(craft: Craft, way: Landing) -> bool:
    """Whether the height of the way home is above what the craft is let climb to by itself."""
    home = craft.home
    of_home = way.paths[0] == home.path("altitude")
    return of_home and home.states("ceiling") and way.height_m > home.ceiling > 0


def _lands_too_soon(craft: Craft) -> Iterator[Yielded]:
    """A landing by throttle that ends before a craft can be down that sinks as one should."""
    way = open_landing(craft)
    if not way.ends_in_air:
        return
    left = way.height_m - _SINKS_M_PER_S * way.lasts_s
    if not way.flown:
        yield Fires(  # no way home is flown at that height
            f"On link loss the landing ends after {grouped(way.lasts_s)} s: at an ordinary "
            f"{grouped(_SINKS_M_PER_S)} m/s that will do from {grouped(way.lasts_s)} m down. How "
            "high the craft is flown no setting tells.",
            (craft.failsafe.path("land_for"), craft.failsafe.path("action")),
            (("lasts_s", way.lasts_s),),
            level=None if way.is_wrong else Level.NOTE,
            advice="Time how long it takes down, with a fresh pack, from as high as it is flown, "
            "and let the landing last a quarter longer.",
        )
        return
    yield Fires(
        f"On link loss the craft comes down from {grouped(way.height_m)} m at a fixed throttle, "
        f"and the landing ends after {grouped(way.lasts_s)} s: it would have to sink at "
        f"{grouped(way.wants_m_per_s)} m/s. At an ordinary {grouped(_SINKS_M_PER_S)} m/s the "
        f"motors stop {grouped(left)} m above the ground.",
        (craft.failsafe.path("land_for"), way.path, craft.failsafe.path("action")),
        (
            ("height_m", way.height_m),
            ("lasts_s", way.lasts_s),
            ("wants_m_per_s", way.wants_m_per_s),
            ("left_m", left),
        ),
        advice="Time how long it takes down at that throttle, with a fresh pack, and let the "
        "landing last a quarter longer.",
    )


_SINKS_M_PER_S: Final = 1.0
_USUAL_M_PER_S: Final = (0.5, SINKS_MOST)  # of a way down (common practice)


@rule("failsafe/falls", Level.NOTE, limits=("failsafe.fall_speed_most",))
def falls(craft: Craft, most: float) -> Iterator[Yielded]:
    """On link loss the motors stop, and the craft falls from the height at which it flies.

    A warning where a switch brings it home by its position: the action may have been reset.

    In the air: it falls. Drag makes it slower than the figure, never soft.
    Mend: land or return home where the craft can; where it can't, fly low, over empty ground.
    Source: textbook: v = sqrt(2 g h), a fall without drag. The height is that of the way home
    where a switch asks for it, else the greatest one.
    """
    if craft.failsafe.action != "motors_off":
        raise _other_action(craft, "the motors go on.")
    if _no_way_home(craft):
        height, path = craft.home.ceiling, craft.home.path("ceiling")
    else:
        height, path = flight_height(craft)
    speed = ground_speed_m_per_s(height)
    if speed > most:
        ceiling = path.endswith("ceiling")
        says = "the greatest height" if ceiling else "the height of the way home"
        yield Fires(
            f"On link loss the motors stop: from {grouped(height)} m, {says}, the craft reaches "
            f"the ground at {grouped(speed)} m/s ({grouped(speed * 3.6)} km/h), drag left out.",
            (craft.failsafe.path("action"), path),
            (
                ("height_m", height),
                ("speed_m_per_s", speed),
                ("speed_km_per_h", speed * 3.6),
                ("limit_m_per_s", most),
            ),
            advice="It has a position and a switch for the way home: was return_home meant? Else "
            "let it land, or fly low, over empty ground."
            if _has_way_home(craft)
            else "Let it land or return home, or fly low, over empty ground.",
            level=Level.WARNING if _has_way_home(craft) else None,
        )


def _has_way_home(craft: Craft) -> bool:
    """Whether the craft is set up to fly home by a switch."""
    position = craft.position.states("enabled") and craft.position.enabled
    return position and "return_home" in craft.switches.ranges.stated()


def _no_way_home(craft: Craft) -> bool:
    """Whether nothing asks for the way home, so that its height tells nothing of the flights."""
    if craft.position.states("enabled") and not craft.position.enabled:
        return True
    functions = craft.switches.ranges.stated()
    return bool(functions) and "return_home" not in functions


RULES = (
    none,
    receiver_hides_loss,
    throttle_held,
    throttle_closes,
    throttle_opens,
    disarms_in_air,
    function_comes_on,
    sticks_off_centre,
    values_fit_another_map,
    home_without_position,
    needs_accelerometer,
    too_slow,
    too_nervous,
    never_stops,
    landing_throttle_off,
    lands_in_the_air,
    falls,
)
