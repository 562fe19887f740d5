"""What happens when the link is lost."""

from collections.abc import Iterator
from math import ceil
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.falls import blind_distance_m, ground_speed_m_per_s
from cfgaudit.physics.serial import receiver_frame_period_s
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Yielded, each, grouped, rule
from cfgaudit.rules.wiring import carrying, give_a_port
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

# How far above the lowest pulse a throttle still counts as closed (common practice).
CLOSED_THROTTLE_PERCENT: Final = 5.0


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


@rule("failsafe/throttle-held", Level.ERROR)
def throttle_held(craft: Craft) -> Iterator[Yielded]:
    """On link loss the throttle channel holds its last value, or takes one that is not closed.

    In the air: the motors go on pulling while nobody steers.
    Mend: set the throttle channel's failsafe value to its lowest pulse or below.
    Source: common practice. Closed is up to 5 % of the travel above the lowest pulse.
    """
    channel = craft.receiver.map["throttle"]
    value = craft.failsafe.channel(channel)
    path = craft.failsafe.channels.path(str(channel))
    if isinstance(value, str):
        yield Fires(
            f"On link loss the throttle channel {channel} holds its last value.",
            (path, "receiver.map.throttle"),
            (("channel", float(channel)),),
            mend=_closed(craft, channel, path),
            advice="Give the throttle channel its lowest pulse on link loss.",
        )
        return
    low, high = craft.receiver.low_of(channel), craft.receiver.high_of(channel)
    limit = low + (high - low) * CLOSED_THROTTLE_PERCENT / 100
    if value > limit:
        yield Fires(
            f"On link loss the throttle channel {channel} goes to {grouped(value)} us, "
            f"above {grouped(limit)} us ({grouped(low)} us and 5 % of the travel).",
            (path, "receiver.map.throttle"),
            (
                ("channel", float(channel)),
                ("value_us", value),
                ("limit_us", limit),
                ("low_us", low),
                ("high_us", high),
            ),
            mend=_closed(craft, channel, path),
        )


def _closed(craft: Craft, channel: int, path: str) -> tuple[Edit, ...]:
    """The change to the channel's lowest pulse, where that is stated."""
    try:
        return (Edit(path, f"{number_text(craft.receiver.low_of(channel))} us"),)
    except NotStated:
        return ()


@rule("failsafe/home-without-position", Level.ERROR)
def home_without_position(craft: Craft) -> Iterator[Yielded]:
    """On link loss the craft is to return home, but nothing tells it where it is.

    In the air: the way home can't be flown: the craft drifts, lands where it is, or flies off
    on a position that it never had.
    Mend: give the position role to a port, switch position on and want at least 6 satellites;
    or choose another action.
    Source: common practice.
    """
    if craft.failsafe.action == "return_home":
        checks = (_no_port, _no_satellites, _switched_off)
        yield from each(checks, lambda check: check(craft))


def _no_port(craft: Craft) -> Iterator[Yielded]:
    if not carrying(craft, "position"):
        yield Fires(
            "On link loss the craft is to return home, but no port carries position.",
            ("failsafe.action",),
            advice=give_a_port(craft, "position"),
        )


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


# Times of a tenth of a second have no exact binary form: 1.2 s and 0.3 s are 1.5 s all the same.
_ROUNDING_S: Final = 1e-9


@rule(
    "failsafe/too-slow",
    Level.WARNING,
    limits=("failsafe.blind_most", "failsafe.assumed_speed"),
)
def too_slow(craft: Craft, most: float, assumed: float) -> Iterator[Yielded]:
    """Much time goes by between the loss of the link and the failsafe's action.

    In the air: the craft flies on as the sticks last stood, and nobody steers.
    Mend: shorten the time to notice or the time to hold, until both come to 1.5 s or less.
    Source: common practice; the distance is speed times time.
    """
    failsafe = craft.failsafe
    notice, hold = failsafe.detect_after, failsafe.hold_for
    blind = notice + hold
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
    )


@rule("failsafe/too-nervous", Level.WARNING, limits=("failsafe.frames_least",))
def too_nervous(craft: Craft, least: float) -> Iterator[Yielded]:
    """The link counts as lost after so short a silence that a few missing frames are enough.

    In the air: the failsafe acts in the middle of a flight that was well in hand: with the
    motors set to stop, the craft falls.
    Mend: wait for at least three frames of the link; 0.3 to 0.5 s is usual.
    Source: common practice for the frames of each link.
    """
    link = craft.receiver.link
    if link == "none":
        return
    period = receiver_frame_period_s(link)
    notice = craft.failsafe.detect_after
    if period is None:
        yield Lacks(craft.receiver.path("link"))
        return
    shortest = least * period
    if notice < shortest - _ROUNDING_S:
        path = craft.failsafe.path("detect_after")
        enough = ceil(round(shortest * 10, 6)) / 10  # dumps tell it in tenths of a second
        yield Fires(
            f"The link counts as lost after {grouped(notice * 1000)} ms, less than "
            f"{grouped(least)} frames of the {link} link: {grouped(least)} × "
            f"{grouped(period * 1000)} ms = {grouped(shortest * 1000)} ms.",
            (path, craft.receiver.path("link")),
            (
                ("detect_after_ms", notice * 1000),
                ("frame_ms", period * 1000),
                ("frames", least),
                ("shortest_ms", shortest * 1000),
            ),
            mend=(Edit(path, f"{number_text(enough)} s"),),
        )


@rule("failsafe/never-stops", Level.WARNING)
def never_stops(craft: Craft) -> Iterator[Yielded]:
    """The landing on link loss has no end: the motors are never stopped.

    In the air: nothing; on the ground, or caught in a tree, the motors go on turning until the
    pack is empty, and whoever fetches the craft reaches between its blades.
    Mend: give the landing an end, long enough to come down from the usual height.
    Source: common practice.
    """
    failsafe = craft.failsafe
    if failsafe.action in ("land", "return_home") and failsafe.land_for == 0:
        yield Fires(
            "On link loss the landing has no end: after it the motors turn on without limit.",
            (failsafe.path("land_for"), failsafe.path("action")),
            (("land_for_s", 0.0),),
            advice="Give the landing an end, long enough to come down from the usual height.",
        )


@rule("failsafe/lands-without-lift", Level.WARNING)
def lands_without_lift(craft: Craft) -> Iterator[Yielded]:
    """On link loss the craft is to land, at a throttle that counts as closed.

    In the air: it does not sink but falls, as if the motors had been stopped.
    Mend: set the throttle at which the craft, with a fresh pack, sinks slowly.
    Source: common practice. Closed is up to 5 % of the travel above the lowest pulse.
    """
    failsafe = craft.failsafe
    if failsafe.action != "land":
        return
    channel = craft.receiver.map["throttle"]
    low, high = craft.receiver.low_of(channel), craft.receiver.high_of(channel)
    limit = low + (high - low) * CLOSED_THROTTLE_PERCENT / 100
    if failsafe.throttle <= limit:
        yield Fires(
            f"On link loss the craft is to land at a throttle of {grouped(failsafe.throttle)} us, "
            f"which counts as closed: up to {grouped(limit)} us, {grouped(low)} us and 5 % of "
            "the travel.",
            (failsafe.path("throttle"), failsafe.path("action")),
            (
                ("throttle_us", failsafe.throttle),
                ("limit_us", limit),
                ("low_us", low),
                ("high_us", high),
            ),
            advice="Set the throttle at which the craft, with a fresh pack, sinks slowly.",
        )


@rule("failsafe/descends-too-fast", Level.NOTE, limits=("failsafe.fall_speed_most",))
def descends_too_fast(craft: Craft, most: float) -> Iterator[Yielded]:
    """On link loss the motors stop, and the craft falls from the height at which it flies.

    In the air: it falls. Drag makes it slower than the figure, never soft.
    Mend: land or return home where the craft can; where it can't, fly low, over empty ground.
    Source: textbook: v = sqrt(2 g h), a fall without drag.
    """
    if craft.failsafe.action != "motors_off":
        return
    leaf = "ceiling" if _only_ceiling(craft) else "altitude"
    height = craft.home.ceiling if leaf == "ceiling" else craft.home.altitude
    speed = ground_speed_m_per_s(height)
    if speed > most:
        says = "the greatest height" if leaf == "ceiling" else "the height of the way home"
        yield Fires(
            f"On link loss the motors stop: from {grouped(height)} m, {says}, the craft reaches "
            f"the ground at {grouped(speed)} m/s ({grouped(speed * 3.6)} km/h), drag left out.",
            (craft.failsafe.path("action"), craft.home.path(leaf)),
            (
                ("height_m", height),
                ("speed_m_per_s", speed),
                ("speed_km_per_h", speed * 3.6),
                ("limit_m_per_s", most),
            ),
            advice="Let it land or return home, or fly low, over empty ground.",
        )


def _only_ceiling(craft: Craft) -> bool:
    return craft.home.states("ceiling") and not craft.home.states("altitude")


RULES = (
    none,
    throttle_held,
    home_without_position,
    too_slow,
    too_nervous,
    never_stops,
    lands_without_lift,
    descends_too_fast,
)
