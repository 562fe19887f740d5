"""Link loss as a sequence over time: what each channel does, stage by stage, until the motors stop.

From the last good frame the last inputs hold until the loss is noticed (`failsafe.detect_after`).
From then, for `failsafe.hold_for`, each channel takes its own value (`failsafe.channels.N`) and is
flown by it. Then `failsafe.action` rules, and the channels no longer count, unless
`failsafe.channels_until` says that they count to the end. Rules ask for the parts that they judge;
`link_loss` puts all of it in order.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Asked, Craft, if_stated
from cfgaudit.craft.switches import active_at, joined, travel
from cfgaudit.physics.flight import (
    Lift,
    blind_distance_m,
    descent_time_s,
    fall_height_m,
    fall_speed_m_per_s,
    fall_time_s,
    frames_missed,
    ground_speed_m_per_s,
    height_left_m,
    lift_of_weight,
)
from cfgaudit.physics.serial import receiver_frame_period_s
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet

CLOSED_PERCENT: Final = (
    5.0  # of its travel: how far up a throttle counts as closed (common practice)
)
HALF_THE_WEIGHT: Final = 0.5  # a lift below this is a fall and no landing
SINKS_LEAST: Final = 0.3  # m/s; slower is no choice: 40 m would take two minutes
SINKS_MOST: Final = 2.0  # m/s: a landing should come down slower (common practice)
LOW_FLIGHT_S: Final = 10.0  # of landing: less will do from below an ordinary tree alone
CLIMBS_AT: Final = 1.1  # times the hover throttle: from there on the craft climbs away
STICK_ROOM_US: Final = (
    25.0  # how far off its middle a stick may be set by rounding (common practice)
)
STICKS: Final = ("roll", "pitch", "yaw")
FLIES_ON: Final = ("land", "return_home")  # the actions before which the craft must stay in the air
UNSTEERED: Final = ("none", "hold_inputs")  # the actions after which nobody steers, without an end
_ROUNDING: Final = 1e-9


class ChannelLoss(NamedTuple):
    """What a channel takes once the loss is noticed: a pulse in us, or None: what came last."""

    channel: int
    pulse: float | None
    path: str


class Counting(NamedTuple):
    """For how long the channels' own values are flown, in s; None: to the end, without an action.

    `paths` say so. `reckoned`: nothing says until when, so it is reckoned that the action ends it.
    """

    lasts: float | None
    paths: tuple[str, ...]
    reckoned: bool = False


class Drop(NamedTuple):
    """A fall with the throttle closed: how long, how deep, how fast at its end, drag left out.

    `height_m` is the height that it begins at where that ends the fall, on the ground; else None.
    """

    seconds: float
    metres: float
    m_per_s: float
    height_m: float | None


class Landing(NamedTuple):
    """The way down: from where, how fast, how long it takes and is let last, and what is left."""

    height_m: float
    m_per_s: float
    needs_s: float
    lasts_s: float  # 0: without an end
    left_m: float
    paths: tuple[str, ...]  # those of the height and of the speed


class LandingThrottle(NamedTuple):
    """The throttle of a landing: its pulse in us, its part of the travel, and what it lifts.

    `hover` is the throttle that hovers, as a part of full; `lift` follows from both.
    """

    pulse: float
    share: float
    hover: float
    lift: Lift


def receiver_on_loss(sheet: "Sheet | None") -> tuple[str, str]:
    """What the receiver sends on link loss, and where the sheet says so. Raises NotStated."""
    wanted = "sheet.devices.receiver.on_loss"
    if sheet is None or not sheet.devices.names():
        raise NotStated(wanted)
    receivers = sheet.devices_of("receiver")
    for device in receivers:
        if device.states("on_loss"):
            return device.on_loss, device.path("on_loss")
    raise NotStated(receivers[0].path("on_loss") if receivers else wanted)


def hides_the_loss(craft: Craft, sheet: "Sheet | None") -> bool:
    """Whether the receiver is said to go on sending, so that the board never notices.

    Values of its own that throw the failsafe switch tell the board. Raises NotStated where that
    hangs on what its channel takes.
    """
    sends = if_stated(lambda: receiver_on_loss(sheet)[0], "")
    return sends == "hold" or (sends == "preset" and not throws_failsafe(craft))


def throws_failsafe(craft: Craft) -> bool:
    """Whether the channels' values on link loss switch failsafe on. Raises NotStated."""
    if "failsafe" not in craft.switches.ranges.stated():
        return False
    thrown = [on and taken.pulse is not None for taken, on in on_loss(craft, "failsafe")]
    return joined(craft, thrown)


def channel_on_loss(craft: Craft, channel: int) -> ChannelLoss:
    """What a channel takes once the loss is noticed. Raises NotStated."""
    value = craft.failsafe.channel(channel)
    path = craft.failsafe.channels.path(str(channel))
    return ChannelLoss(channel, None if isinstance(value, str) else value, path)


def counting(craft: Craft, sheet: "Sheet | None" = None) -> Counting:
    """For how long the channels' own values are flown. Raises NotStated.

    A receiver that sends preset values is flown by them to the end, unless they throw the failsafe
    switch: no loss is noticed. The dump's values are taken for those, as no dump has the
    receiver's own.
    """
    failsafe = craft.failsafe
    if hides_the_loss(craft, sheet):
        return Counting(None, (receiver_on_loss(sheet)[1],))
    action = failsafe.path("action")
    if failsafe.action in UNSTEERED:
        return Counting(None, (action,))
    until = failsafe.path("channels_until")
    stated = failsafe.states("channels_until")
    if stated and failsafe.channels_until == "end":
        return Counting(None, (until,))
    paths = (failsafe.path("hold_for"), *((until,) if stated else ()))
    return Counting(failsafe.hold_for, paths, not stated)


def travel_share(craft: Craft, pulse: float) -> float:
    """Where a pulse lies in the throttle channel's travel: 0 at its low end, 1 at its high end.

    Raises NotStated; also where the travel has no length.
    """
    low, high = _throttle_travel(craft)
    return (pulse - low) / (high - low)


def pulse_at(craft: Craft, share: float) -> float:
    """The pulse, in us, at a share of the throttle channel's travel. Raises as `travel_share`."""
    low, high = _throttle_travel(craft)
    return low + share * (high - low)


def _throttle_travel(craft: Craft) -> tuple[float, float]:
    channel = craft.receiver.map["throttle"]
    low, high = travel(craft, channel)
    if high <= low:
        raise NotStated(craft.receiver.end_path(channel, "high"))
    return low, high


def closed(craft: Craft, pulse: float) -> bool:
    """Whether a pulse closes the throttle. Raises NotStated."""
    return travel_share(craft, pulse) <= CLOSED_PERCENT / 100 + _ROUNDING


def throttle_on_loss(craft: Craft) -> ChannelLoss:
    """What the throttle channel takes once the loss is noticed. Raises NotStated."""
    return channel_on_loss(craft, craft.receiver.map["throttle"])


def flight_height(craft: Craft) -> tuple[float, str]:
    """The height in m that the craft is taken to fly at, and where it is stated.

    The height of the way home, else the greatest height. Raises NotStated.
    """
    leaf = "altitude"
    if craft.home.states("ceiling") and not craft.home.states("altitude"):
        craft.settings.need_all("home", "", craft.home.path("altitude"))
        leaf = "ceiling"
    return (craft.home.ceiling if leaf == "ceiling" else craft.home.altitude), craft.home.path(leaf)


def drop(craft: Craft, lasts: float | None) -> Drop:
    """The fall of a craft whose throttle is closed for so many s; None: until the ground.

    The ground ends it too, where the height is stated. Raises NotStated where only the height
    tells.
    """
    height: float | None
    if lasts is None:
        height = flight_height(craft)[0]
    else:
        height = if_stated(lambda: flight_height(craft)[0], None)
    if height is not None and (lasts is None or fall_time_s(height) <= lasts):
        return Drop(fall_time_s(height), height, ground_speed_m_per_s(height), height)
    assert lasts is not None  # as the height ends it otherwise
    return Drop(lasts, fall_height_m(lasts), fall_speed_m_per_s(lasts), None)


def on_loss(craft: Craft, function: str) -> Iterator[tuple[ChannelLoss, bool]]:
    """Each channel of a function, with what it takes on link loss and whether it is then on.

    One that holds what came last is on as it was: True. Raises NotStated.
    """
    spans = craft.switches.of(function)
    for channel in sorted({span.channel for span in spans if span.low < span.high}):
        taken = channel_on_loss(craft, channel)
        held = taken.pulse is None
        yield taken, held or function in active_at({function: spans}, channel, taken.pulse or 0.0)


def arm_on_loss(craft: Craft) -> Iterator[tuple[ChannelLoss, bool]]:
    """As `on_loss`, for arm: one that holds is armed as it was."""
    return on_loss(craft, "arm")


def off_centre(craft: Craft, control: str) -> tuple[ChannelLoss, float] | None:
    """What a stick's channel takes on link loss and its middle in us, where it is off it.

    Off is further than the deadband, or 25 us where that is more. Raises NotStated.
    """
    channel = craft.receiver.map[control]
    taken = channel_on_loss(craft, channel)
    if taken.pulse is None:
        return None
    middle = craft.receiver.centre_of(channel)
    room = STICK_ROOM_US
    if craft.receiver.states("yaw_deadband" if control == "yaw" else "deadband"):
        band = craft.receiver.yaw_deadband if control == "yaw" else craft.receiver.deadband
        room = max(room, band)
    return (taken, middle) if abs(taken.pulse - middle) > room else None


def middle_in_doubt(craft: Craft, channel: int) -> bool:
    """Whether a channel's middle is away from 1,500 us, to which its value on link loss is set.

    1,500 us is the middle of every link (common practice): it is then the middle that may be
    mistyped. One that was measured is trusted up to 60 us, which a trim may bring.

    Raises NotStated.
    """
    taken, middle = channel_on_loss(craft, channel), craft.receiver.centre_of(channel)
    learnt = craft.receiver.states("ends_are") and craft.receiver.ends_are == "measured"
    away = abs(middle - _MIDDLE_US) > (_TRIM_US if learnt else STICK_ROOM_US)
    return taken.pulse is not None and away and abs(taken.pulse - _MIDDLE_US) <= STICK_ROOM_US


_MIDDLE_US: Final = 1500.0
_TRIM_US: Final = 60.0


class OpenLanding(NamedTuple):
    """A way down at a fixed throttle: from where, and how long it is let last.

    How fast it sinks then hangs on drag and on what turns in its own wash: no setting tells.
    """

    height_m: float
    lasts_s: float  # 0: without an end
    path: str  # of the height
    flown: bool = True  # there, for all that is stated: without a position no way home goes there

    @property
    def wants_m_per_s(self) -> float:
        """How fast it has to sink to be down when the motors stop; 0 without an end."""
        return self.height_m / self.lasts_s if self.lasts_s else 0.0

    @property
    def ends_in_air(self) -> bool:
        """Whether that is faster than a landing comes down."""
        return self.wants_m_per_s > SINKS_MOST - _ROUNDING

    @property
    def is_wrong(self) -> bool:
        """Whether that is so where the craft flies, or from hardly any height at all."""
        return self.ends_in_air and (self.flown or self.lasts_s < LOW_FLIGHT_S)


def lands_by_throttle(craft: Craft) -> bool:
    """Whether it comes down at a throttle of its own, and at no set speed. Raises NotStated."""
    return craft.failsafe.action == "land" and craft.failsafe.states("throttle")


def open_landing(craft: Craft) -> OpenLanding:
    """The way down of a craft that lands by throttle. Raises NotStated."""
    height, where = flight_height(craft)
    flown = not craft.position.states("enabled") or craft.position.enabled
    return OpenLanding(height, craft.failsafe.land_for, where, flown)


def landing(craft: Craft) -> Landing:
    """The way down of a craft that lands at a set speed, at the end of link loss.

    Raises NotStated.
    """
    height, where = flight_height(craft)
    speed, lasts = craft.home.descent, craft.failsafe.land_for
    if speed <= 0:
        raise NotStated(craft.home.path("descent"))
    left = height_left_m(height, speed, lasts) if lasts else 0.0
    paths = (where, craft.home.path("descent"))
    return Landing(height, speed, descent_time_s(height, speed), lasts, left, paths)


def landing_throttle(craft: Craft, sheet: "Sheet | None") -> LandingThrottle:
    """The throttle of the landing against the one that hovers. Raises NotStated."""
    pulse = craft.failsafe.throttle
    share = travel_share(craft, pulse)
    if sheet is None:
        raise NotStated("sheet.propulsion.hover_throttle")
    hover = sheet.propulsion.hover_throttle / 100
    return LandingThrottle(pulse, share, hover, lift_of_weight(max(share, 0.0), hover))


def blind_s(craft: Craft) -> float:
    """How long nobody steers before the action, in s. Raises NotStated."""
    return craft.failsafe.detect_after + craft.failsafe.hold_for


# What happens in a stage, in the words that the screen and the picture say.
WHAT: Final = {
    "last_inputs": "the last inputs hold",
    "channels": "the channels' own values are flown",
    "hidden": "the receiver goes on sending, and the loss is not noticed",
    "return_home": "it turns home",
    "land": "it comes down",
    "motors_off": "the motors stop",
}


class LossStage(NamedTuple):
    """One stage: a word of WHAT, when it begins and how long it lasts, in s.

    `begins` is None where it hangs on the flight; `lasts` where it does so, or has no end.
    `throttle`, `arm` and `sticks` say what each does; empty where that no longer counts. `figures`
    are the numbers of it, `says` the same as sentences, `wrong` what is wrong in it.
    """

    what: str
    begins: float | None
    lasts: float | None
    throttle: str = ""
    arm: str = ""
    sticks: str = ""
    figures: tuple[tuple[str, float], ...] = ()
    says: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()


class LinkLoss(NamedTuple):
    """The whole sequence. `reckoned` says what nothing states, `lacks` what would tell more."""

    stages: tuple[LossStage, ...]
    reckoned: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()


def link_loss(craft: Craft, sheet: "Sheet | None" = None) -> LinkLoss:
    """The sequence from the last good frame. Raises NotStated where no action is stated."""
    action = craft.failsafe.action
    asked = Asked()
    counts = asked.of(lambda: counting(craft, sheet))
    stages = [_last_inputs(craft, asked)]
    reckoned: list[str] = []
    if counts is not None and counts.reckoned:
        reckoned.append("The channels' own values count until the action begins: reckoned, as the "
                        "dump does not say until when.")  # fmt: skip
    noticed = asked.of(lambda: receiver_on_loss(sheet))
    if noticed is None:
        asked.lacks.pop()  # it is said in words
        reckoned.append("The receiver falls silent, so that the board notices the loss: reckoned, "
                        "as no build sheet says what it sends.")  # fmt: skip
    elif noticed[0] == "preset" and asked.of(lambda: throws_failsafe(craft)):
        reckoned.append("The receiver's own values throw the failsafe switch: reckoned after "
                        "failsafe.detect_after, as nothing says how soon.")  # fmt: skip
    elif noticed[0] != "silent":
        stages = [_hidden(craft, asked, noticed[0])]
        return LinkLoss(tuple(stages), tuple(reckoned), tuple(dict.fromkeys(asked.lacks)))
    begins = asked.of(lambda: craft.failsafe.detect_after)
    lasts = None if counts is None else counts.lasts
    if counts is None or lasts is None or lasts > 0:
        stages.append(_channels(craft, asked, begins, counts))
    after = None if begins is None or lasts is None else begins + lasts
    stages += _action(craft, sheet, asked, action, after)
    return LinkLoss(tuple(stages), tuple(reckoned), tuple(dict.fromkeys(asked.lacks)))


def _last_inputs(craft: Craft, asked: Asked) -> LossStage:
    lasts = asked.of(lambda: craft.failsafe.detect_after)
    figures, says = [], []
    period = asked.of(lambda: receiver_frame_period_s(craft.receiver.link))
    if lasts is not None and period is not None:
        missed = frames_missed(lasts, period)
        figures.append(("frames_missed", missed))
        says.append(f"{int(missed)} frames of the {craft.receiver.link} link are missed")
    if lasts is not None and craft.home.states("speed"):
        way = blind_distance_m(craft.home.speed, lasts)
        figures.append(("distance_m", way))
        says.append(f"{_n(way)} m flown blind at {_n(craft.home.speed)} m/s")
    return LossStage("last_inputs", 0.0, lasts, "held", "held", "held", tuple(figures), tuple(says))


def _hidden(craft: Craft, asked: Asked, how: str) -> LossStage:
    """What is flown, without an end, by a receiver that hides the loss."""
    wrong = "nobody steers, and nothing notices"
    if how == "hold":
        return LossStage("hidden", 0.0, None, "held", "held", "held", wrong=(wrong,))
    counts = Counting(None, ())
    return _channels(craft, asked, 0.0, counts)._replace(what="hidden")


def _channels(
    craft: Craft, asked: Asked, begins: float | None, counts: Counting | None
) -> LossStage:  # fmt: skip
    lasts = None if counts is None else counts.lasts
    throttle = asked.of(lambda: throttle_on_loss(craft))
    figures: list[tuple[str, float]] = []
    says: list[str] = []
    wrong: list[str] = []
    flies_on = craft.failsafe.action in FLIES_ON
    shut = (
        throttle is not None
        and throttle.pulse is not None
        and asked.of(lambda: closed(craft, throttle.pulse or 0.0))
    )
    if shut and counts is not None and flies_on:
        fell = asked.of(lambda: drop(craft, lasts))
        if fell is not None:
            figures += [("fall_m", fell.metres), ("fall_m_per_s", fell.m_per_s)]
            wrong.append(f"it falls {_n(fell.metres)} m, to {_n(fell.m_per_s)} m/s")
    if not shut and throttle is not None and lasts is None and counts is not None:
        wrong.append("the throttle is open to the end")
    armed = asked.of(lambda: [on for _, on in arm_on_loss(craft)])
    held = asked.of(lambda: all(taken.pulse is None for taken, _ in arm_on_loss(craft)))
    on = asked.of(lambda: joined(craft, armed or []))
    arm = "" if not armed or on is None else "held" if held else "on" if on else "off"
    if arm == "off" and flies_on:
        wrong.append("the arm channel stops the motors in the air")
    if arm == "on":
        wrong.append("the arm channel arms")
    off = [(name, asked.of(lambda name=name: off_centre(craft, name))) for name in STICKS]  # type: ignore[misc]
    wrong += [
        f"{name} is off its middle: {_n(found[0].pulse or 0)} us" for name, found in off if found
    ]
    return LossStage(
        "channels", begins, lasts, _throttle(craft, asked, throttle), arm,
        "off centre" if any(found for _, found in off) else _sticks(craft, asked),
        tuple(figures), tuple(says), tuple(wrong),
    )  # fmt: skip


def _throttle(craft: Craft, asked: Asked, taken: ChannelLoss | None) -> str:
    if taken is None:
        return ""
    if taken.pulse is None:
        return "held"
    share = asked.of(lambda: travel_share(craft, taken.pulse or 0.0))
    if share is None:
        return f"{_n(taken.pulse)} us"
    if share <= CLOSED_PERCENT / 100 + _ROUNDING:
        return f"closed ({_n(taken.pulse)} us)"
    return f"{_n(taken.pulse)} us, {share * 100:.0f} % of its travel"


def _sticks(craft: Craft, asked: Asked) -> str:
    def taken() -> list[ChannelLoss]:
        return [channel_on_loss(craft, craft.receiver.map[name]) for name in STICKS]

    found = asked.of(taken)
    if found is None:
        return ""
    held = [one.pulse is None for one in found]
    return "held" if all(held) else "centred, some held" if any(held) else "centred"


def _action(
    craft: Craft, sheet: "Sheet | None", asked: Asked, action: str, begins: float | None
) -> Iterator[LossStage]:
    if action in UNSTEERED:
        return
    if action == "motors_off":
        yield _motors_off(craft, asked, begins)
        return
    if action == "return_home":
        yield _home(craft, asked, begins)
        begins = None
    yield from _down(craft, sheet, asked, begins, by_throttle=action == "land")


def _motors_off(craft: Craft, asked: Asked, begins: float | None) -> LossStage:
    height = asked.of(lambda: flight_height(craft)[0])
    if height is None:
        return LossStage("motors_off", begins, None)
    speed = ground_speed_m_per_s(height)
    figures = (("fall_m", height), ("fall_m_per_s", speed))
    says = (f"it falls from {_n(height)} m and reaches the ground at {_n(speed)} m/s, drag left "
            "out",)  # fmt: skip
    return LossStage("motors_off", begins, fall_time_s(height), figures=figures, says=says)


def _home(craft: Craft, asked: Asked, begins: float | None) -> LossStage:
    height = asked.of(lambda: craft.home.altitude)
    speed = asked.of(lambda: craft.home.speed)
    figures = [("altitude_m", height)] if height is not None else []
    figures += [("speed_m_per_s", speed)] if speed is not None else []
    said = [f"at {_n(height)} m"] if height is not None else []
    said += [f"with {_n(speed)} m/s"] if speed is not None else []
    says = (" ".join(said),) if said else ()
    wrong = ("it never gets there: the speed is 0",) if speed == 0 else ()
    return LossStage("return_home", begins, None, figures=tuple(figures), says=says, wrong=wrong)


_Parts = tuple[list[tuple[str, float]], list[str], list[str]]  # figures, says, wrong


def _coming_down(craft: Craft, asked: Asked) -> _Parts:
    """A way down at a set speed."""
    way = asked.of(lambda: landing(craft))
    if way is None:
        return [], [], []
    figures = [("height_m", way.height_m), ("needs_s", way.needs_s), ("left_m", way.left_m)]
    says = f"from {_n(way.height_m)} m with {_n(way.m_per_s)} m/s it needs {_n(way.needs_s)} s"
    left = [f"its motors stop {_n(way.left_m)} m above the ground"] if way.left_m > 0 else []
    return figures, [says], left


def _sinking(craft: Craft, asked: Asked) -> _Parts:
    """A way down at a fixed throttle."""
    says = ["how fast it sinks at a fixed throttle is not known"]
    way = asked.of(lambda: open_landing(craft))
    if way is None:
        return [], says, []
    figures = [("height_m", way.height_m)]
    if way.lasts_s:
        figures.append(("wants_m_per_s", way.wants_m_per_s))
        says.append(f"from {_n(way.height_m)} m it has to sink at {_n(way.wants_m_per_s)} m/s to "
                    "be down in time")  # fmt: skip
    return figures, says, ["its motors stop in the air, unless it falls"] * way.is_wrong


def _down(
    craft: Craft, sheet: "Sheet | None", asked: Asked, begins: float | None, *, by_throttle: bool
) -> Iterator[LossStage]:
    fixed = by_throttle and craft.failsafe.states("throttle")
    figures, says, wrong = (_sinking if fixed else _coming_down)(craft, asked)
    lasts = asked.of(lambda: craft.failsafe.land_for)
    lift = asked.of(lambda: landing_throttle(craft, sheet)) if by_throttle else None
    if lift is not None:
        figures += [("lift_least", lift.lift.least), ("lift_most", lift.lift.most)]
        says.append(f"it lifts {lift.lift.least * 100:.0f} to {lift.lift.most * 100:.0f} % of the "
                    "weight")  # fmt: skip
        if lift.lift.most < HALF_THE_WEIGHT:
            wrong.append("it falls")
        elif lift.share > CLIMBS_AT * lift.hover + _ROUNDING:
            wrong.append("it climbs away")
    throttle = ""
    if by_throttle and craft.failsafe.states("throttle"):
        throttle = _throttle(craft, asked, ChannelLoss(0, craft.failsafe.throttle, ""))
    yield LossStage("land", begins, lasts or None, throttle,
                figures=tuple(figures), says=tuple(says), wrong=tuple(wrong))  # fmt: skip
    if lasts:
        yield LossStage("motors_off", None if begins is None else begins + lasts, None)


def _n(value: float) -> str:
    return number_text(round(value, 2))
