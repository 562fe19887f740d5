"""The receiver: channel map, link, travel, middle, telemetry."""

from collections.abc import Iterator, Sequence
from math import pi
from typing import TYPE_CHECKING, Final

from cfgaudit.craft.craft import Craft, if_stated, there
from cfgaudit.craft.link_loss import STICKS, middle_in_doubt
from cfgaudit.craft.switches import travel
from cfgaudit.physics.filters import above_nyquist
from cfgaudit.physics.serial import (
    PULSE_TRAIN_LONGEST_PULSE_S,
    RECEIVER_LINKS,
    ReceiverLink,
    allowed_error,
    pulse_train_gap_s,
    rate_error,
    receiver_frame_period_s,
    receiver_link,
)
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
    listed,
    rule,
)
from cfgaudit.rules.switches import untrusted
from cfgaudit.rules.wiring import carrying, devices_in, pads_used_for, stands_for, unreadable
from cfgaudit.vocabulary.dump import PRIMARY, Port
from cfgaudit.vocabulary.kinds import SwitchRange
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.vocabulary.sheet import Device


@rule("receiver/map-clash", Level.ERROR)
def map_clash(craft: Craft) -> Iterator[Yielded]:
    """Two controls stand on one channel.

    In the air: one stick moves two things at once, and another stick moves nothing.
    Mend: give every control a channel of its own, in the order that the transmitter sends.
    Source: common practice.
    """
    mapped = craft.receiver.map.all()
    for channel, controls in in_groups(mapped, mapped.__getitem__).items():
        if len(controls) > 1:
            primary_first = sorted(controls, key=lambda control: control not in PRIMARY)
            yield Fires(
                f"Channel {channel} works {len(controls)} controls: {listed(primary_first)}.",
                tuple(craft.receiver.map.path(control) for control in primary_first),
                (("channel", float(channel)), ("controls", float(len(controls)))),
                advice="Give each control the channel on which the transmitter sends it.",
            )


@rule("receiver/map-gap", Level.ERROR)
def map_gap(craft: Craft) -> Iterator[Yielded]:
    """Roll, pitch, throttle or yaw has no channel, or one that the link does not carry.

    In the air: that stick does nothing; without throttle or roll the craft can't be flown.
    Mend: give the control the channel on which the transmitter sends it.
    Source: common practice.
    """
    craft.receiver.map.all()  # raises where no control is mapped
    paths = {control: craft.receiver.map.path(control) for control in PRIMARY}
    said, unread = craft.settings, unreadable(craft)
    missing = [
        control for control, path in paths.items() if path not in said and path not in unread
    ]
    if missing:
        craft.settings.need_all("receiver.map", "", paths[missing[0]])
    for control in missing:
        yield Fires(
            f"{control.capitalize()} has no channel.",
            (paths[control],),
            (("controls_without_channel", float(len(missing))),),
            advice=f"Give {control} the channel on which the transmitter sends it.",
        )
    stated = [control for control in PRIMARY if control not in missing]
    carried = craft.receiver.channels
    yield from each(stated, lambda control: _above(craft, control, carried))


def _above(craft: Craft, control: str, carried: int) -> Iterator[Yielded]:
    channel = craft.receiver.map[control]
    if channel > carried:
        yield Fires(
            f"{control.capitalize()} is on channel {channel}, "
            f"but the link carries {carried} channels.",
            (craft.receiver.map.path(control), "receiver.channels"),
            (("channel", float(channel)), ("channels", float(carried))),
            advice=f"Give {control} a channel from 1 to {carried}.",
        )


_ROUNDING: Final = 1e-9
_IDLE: Final = {True: "inverted", False: "not inverted"}


@rule("receiver/link-port-mismatch", Level.ERROR, sheet="wanted")
def link_port_mismatch(craft: Craft, sheet: "Sheet | None") -> Iterator[Yielded]:
    """The receiver link needs another rate or idle level than its port is set to.

    Where a build sheet states the receiver's own rate or idle level, that counts in place of the
    link's usual one: makers agree on other rates, and a wire may be tapped before the level is
    turned round. Of a receiver that the sheet has on a port, serial/baud-mismatch and
    serial/inversion-mismatch say it, and serial/wired-elsewhere where the dump has it on another.

    A rate within the error that a UART forgives is no mismatch: 2 % with eight bits, 1.5 %
    with parity. Parity itself no dump tells, and it is not checked.

    In the air: not one frame is read; the craft does not arm, or goes straight to failsafe.
    Mend: set the port to the link's own rate and idle level.
    Source: Microchip USART "Error Tolerance" for the allowed error; the links' rates and levels
    are common practice and partly from memory.
    """
    link = craft.receiver.link
    known = receiver_link(link)
    if known is not None:
        fitted = devices_in(sheet, "receiver")
        checks = [
            check(craft, known, port, told)
            for port in carrying(craft, "receiver")
            for leaf, check in (("rate", _wrong_rate), ("inverted", _wrong_level))
            if not (told := [part for part in fitted if part.states(leaf)])
            or not any(part.states("port") for part in told)
        ]
        yield from each(checks, iter)


def _or_likelier(craft: Craft, known: ReceiverLink, port: Port, found: Fires) -> Fires:
    """What is found of a port's rate or level, unless another thing is likelier wrong than that.

    That is another port which stands just as the link wants it, or another link that this one fits.
    A rate that many devices have tells nothing.
    """
    link, own = craft.receiver.link, port.name
    ports = there(craft.ports) if known.baud not in _ORDINARY_BAUDS else []
    for other in ports:
        if other.name != own and other.states("inverted") and stands_for(other, known):
            return found._replace(
                paths=(port.path("roles"), other.path("baud"), *found.paths),
                mend=(),
                choice="",
                advice=f"Port {other.name} stands at the {link} link's own rate and level: look to "
                f"which of the two the receiver is wired. If to {other.name}, give that one the "
                f"receiver role, and {own} what is wired there.",
            )
    fits = [
        name
        for name, one in RECEIVER_LINKS.items()
        if name != link and one.baud not in _ORDINARY_BAUDS and stands_for(port, one)
    ]
    if not fits or not port.states("inverted"):
        return found
    return found._replace(
        paths=("receiver.link", *(path for path in found.paths if path != "receiver.link")),
        mend=(),
        choice="",
        advice=f"Port {own} stands as {listed(fits)} would have it: look which link the receiver "
        "talks, and name that; else set the port to the link's own rate and idle level.",
    )


_ORDINARY_BAUDS: Final = (9600, 19200, 38400, 57600, 115200)


def _wrong_rate(
    craft: Craft, known: ReceiverLink, port: Port, told: "Sequence[Device]"
) -> Iterator[Yielded]:
    """`told` are the receivers of the build sheet that state a rate, none of them on this port."""
    link = craft.receiver.link
    baud, path = port.rate_for("receiver"), port.rate_path("receiver")
    wanted = told[0].rate if told else float(known.baud)
    off, allowed = rate_error(baud, wanted), allowed_error(known.framing)
    if abs(off) > allowed + _ROUNDING:
        alone = bool(told) or (port.states("inverted") and port.inverted == known.inverted)
        found = Fires(
            f"The {link} link runs at {grouped(wanted)} Bd, but port {port.name} is set to "
            f"{grouped(baud)} Bd: {grouped(abs(off) * 100)} % off, where "
            f"{grouped(allowed * 100)} % is allowed.",
            (path, *(part.path("rate") for part in told[:1]), "receiver.link"),
            (
                ("link_baud", wanted),
                ("baud", baud),
                ("off_percent", off * 100),
                ("allowed_percent", allowed * 100),
            ),
            mend=(Edit(path, f"{number_text(wanted)} Bd"),),
            choice="" if alone else _WHICH_LINK,
        )
        yield found if told else _or_likelier(craft, known, port, found)


_WHICH_LINK: Final = "to which port the receiver is wired, and which link it talks"
_BEFORE_IT: Final = "whether its wire is tapped before the receiver turns the level round"


def _wrong_level(
    craft: Craft, known: ReceiverLink, port: Port, told: "Sequence[Device]"
) -> Iterator[Yielded]:
    """`told` are the receivers of the build sheet that state it, none of them on this port."""
    link = craft.receiver.link
    path = port.path("inverted")
    wanted = told[0].inverted if told else known.inverted
    if port.inverted != wanted:
        found = Fires(
            f"The {link} link is {_IDLE[wanted]}, but port {port.name} is set "
            f"{_IDLE[port.inverted]}.",
            (path, *(part.path("inverted") for part in told[:1]), "receiver.link"),
            mend=(Edit(path, "on" if wanted else "off"),),
            choice="" if told else f"{_WHICH_LINK}, and {_BEFORE_IT}",
        )
        yield found if told else _or_likelier(craft, known, port, found)


@rule("receiver/port-without-link", Level.WARNING)
def port_without_link(craft: Craft) -> Iterator[Yielded]:
    """A port carries the receiver, and the receiver link is not a serial one.

    In the air: the port's receiver is not listened to; if it is the one on board, the sticks do
    nothing.
    Mend: name the link that the receiver on the port talks, or free the port.
    Source: common practice.
    """
    ports = carrying(craft, "receiver")
    link = craft.receiver.link
    if ports and link in ("ppm", "none"):
        names = listed([port.name for port in ports])
        yield Fires(
            f"The receiver is given to {names}, but its link is {link}, which no port reads.",
            ("receiver.link", *(port.path("roles") for port in ports)),
            (("ports", float(len(ports))),),
            advice=f"Name the link that the receiver on {names} talks, or free the port.",
        )


@rule("receiver/frame-too-slow", Level.NOTE, limits=("receiver.rounds_most",))
def frame_too_slow(craft: Craft, most: float) -> Iterator[Yielded]:
    """Frames come so rarely for the loop that the sticks move in steps that nothing smooths.

    Smoothing does its work where its cutoff lies below half the frames' rate; above that it
    lets the steps through.

    In the air: the motors twitch with every frame while a stick moves, the more so with much
    feed-forward.
    Mend: switch stick smoothing to auto, or set its cutoff below half the frames' rate.
    Source: the sampling theorem for the half; the links' periods and the number of loop rounds
    are common practice.
    """
    smoothing = craft.receiver.smoothing
    if smoothing == "auto":
        return
    link = craft.receiver.link
    if link == "none":
        return
    period = receiver_frame_period_s(link)
    if period is None:  # both ends agree on a rate, and the dump does not tell it
        yield Lacks("receiver.link")
    elif isinstance(smoothing, str):
        yield from _unsmoothed(link, period, craft.loop.rate, most)
    else:
        yield from _let_through(link, period, smoothing)


def _unsmoothed(link: str, period: float, loop_hz: float, most: float) -> Iterator[Yielded]:
    rounds = period * loop_hz
    if rounds > most:
        yield Fires(
            f"The {link} link sends a frame every {grouped(period * 1000)} ms, which is "
            f"{grouped(rounds)} rounds of the loop, and stick smoothing is off: the sticks move "
            "in steps.",
            ("receiver.smoothing", "receiver.link", "loop.rate"),
            (
                ("frame_ms", period * 1000),
                ("loop_hz", loop_hz),
                ("rounds_a_frame", rounds),
                ("most_rounds", most),
            ),
            mend=(Edit("receiver.smoothing", "auto"),),
        )


def _let_through(link: str, period: float, cutoff: float) -> Iterator[Yielded]:
    frames, half = 1 / period, 0.5 / period
    if above_nyquist(cutoff, frames):
        yield Fires(
            f"Stick smoothing lets {grouped(cutoff)} Hz through, but the {link} link sends "
            f"{grouped(frames)} frames a second: from {grouped(half)} Hz on the steps remain.",
            ("receiver.smoothing", "receiver.link"),
            (("cutoff_hz", cutoff), ("frames_hz", frames), ("half_hz", half)),
            mend=(Edit("receiver.smoothing", "auto"),),
        )


@rule("receiver/telemetry-impossible", Level.WARNING)
def telemetry_impossible(craft: Craft) -> Iterator[Yielded]:
    """Telemetry stands on the receiver's port alone, and that link leaves it no way back.

    One port has one rate and one framing for both directions: telemetry of eight bits without
    parity can't go out beside a link with parity, and telemetry that travels in the frames of
    one link can't go back on another. Telemetry on no port at all is
    telemetry/enabled-unassigned, and a port that can't be shared serial/roles-cannot-share.

    In the air: the handset shows no pack voltage and gives no low-battery call.
    Mend: give telemetry a port of its own, with the protocol that what is wired there reads, or
    switch it off.
    Source: common practice.
    """
    if not craft.telemetry.enabled:
        return
    ports = carrying(craft, "telemetry")
    if not ports or any("receiver" not in port.roles for port in ports):
        return
    link = craft.receiver.link
    known = receiver_link(link)
    if known is None or known.two_way:
        return
    reason = _no_way_back(craft.telemetry.protocol.lower(), link, known)
    if reason:
        yield Fires(
            f"Telemetry has only {listed([port.name for port in ports])}, the receiver's port, "
            f"but {reason}.",
            (*(port.path("roles") for port in ports), "receiver.link", "telemetry.protocol"),
            (("ports", float(len(ports))),),
            advice=_ITS_OWN.format(_readers(craft.telemetry.protocol.lower())),
        )


_ITS_OWN = (
    "Give telemetry a port of its own, with the protocol that what is wired there reads{}, or "
    "switch it off."
)


def _readers(protocol: str) -> str:
    """Who alone reads a protocol that travels in the frames of a link."""
    framed = protocol in RECEIVER_LINKS and RECEIVER_LINKS[protocol].two_way
    return f" ({protocol} is read by {protocol} receivers alone)" if framed else ""


def _no_way_back(protocol: str, link: str, known: ReceiverLink) -> str:
    """Why telemetry can't go out on a one-way link's port; empty where it can."""
    if protocol == link:
        return ""
    if protocol in RECEIVER_LINKS and RECEIVER_LINKS[protocol].two_way:
        return f"{protocol} goes back in the frames of a {protocol} link, and the link is {link}"
    if known.framing != "8N1":
        return f"{link} sets the port to {known.framing}, and {protocol} needs 8N1"
    return ""


@rule("receiver/ends-too-narrow", Level.WARNING, limits=("receiver.reach_least",))
def ends_too_narrow(craft: Craft, least: float) -> Iterator[Yielded]:
    """A channel's travel does not reach, or only just reaches, where it must go.

    The throttle must come down below the arming threshold, and a switch that enters its range
    near the end of its travel must get well into it. A range wholly out of reach is
    switch/range-unreachable. A stick must go about as far from its middle one way as the other.

    In the air: the craft arms one time and does not the next; a switch lets go of its function
    as a worn or cold transmitter drifts; full stick does more one way than the other.
    Mend: widen the channel's travel in the transmitter, or move the threshold or the range: the
    threshold where the throttle comes down as far as is usual, as many boards take lower pulses for
    a lost link.
    Source: common practice.
    """
    yield from each((_throttle_travel, _switch_travels), lambda check: check(craft, least))
    for control, channel in craft.receiver.map.stated().items():
        if control in STICKS:
            yield from _stick_halves(craft, control, channel)


_ENDS: Final = ("low", "centre", "high")
_HALF_LEAST: Final = 0.6  # of the other half: no trim and no wear takes more (common practice)


def _stick_halves(craft: Craft, control: str, channel: int) -> Iterator[Fires]:
    """A stick that goes much less far from its middle one way than the other."""
    paths = [craft.receiver.end_path(channel, leaf) for leaf in _ENDS]
    if any(path not in craft.settings for path in paths):
        return
    (low, high), centre = travel(craft, channel), craft.receiver.centre_of(channel)
    below, above = centre - low, high - centre
    if min(below, above) <= 0 or min(below, above) >= _HALF_LEAST * max(below, above):
        return  # ends that are not in order are receiver/ends-reversed
    short = paths[0] if below < above else paths[2]
    yield Fires(
        f"Channel {channel}, {control}, goes {grouped(below)} us below its middle and "
        f"{grouped(above)} us above: full stick one way is "
        f"{min(below, above) / max(below, above) * 100:.0f} % of the other.",
        (short, paths[1]),
        (("below_us", below), ("above_us", above)),
        advice=f"Set both ends of channel {channel} in the transmitter as far from its middle, and "
        "measure or state them anew.",
    )


def _throttle_travel(craft: Craft, least: float) -> Iterator[Yielded]:
    channel = craft.receiver.map["throttle"]
    low, below = craft.receiver.low_of(channel), craft.arming.throttle_below
    left = below - low
    if left >= least or "throttle" in craft.arming.waived:
        return
    told = f"{grouped(left)} us are left" if left > 0 else "it never gets there"
    yield Fires(
        f"The throttle comes down to {grouped(low)} us and must be below {grouped(below)} us "
        f"to arm: {told}, at least {grouped(least)} us are wanted.",
        (craft.receiver.end_path(channel, "low"), "arming.throttle_below"),
        (("low_us", low), ("below_us", below), ("left_us", left), ("least_us", least)),
        advice=f"Set the low end of channel {channel} lower in the transmitter, to about 1,000 us.",
    ).mended(
        [Edit("arming.throttle_below", f"{number_text(low + _ABOVE_LOW_US)} us")]
        if low <= _LOW_AS_USUAL_US
        else []
    )


_LOW_AS_USUAL_US: Final = 1020.0  # common practice: 988 or 1,000 us, and what a trim leaves
_ABOVE_LOW_US: Final = 50.0  # common practice


def _switch_travels(craft: Craft, least: float) -> Iterator[Yielded]:
    yield from untrusted(craft)
    by_function = craft.switches.ranges.all()
    used = [(function, on) for function, ranges in by_function.items() for on in ranges]
    yield from each(used, lambda switch: _switch_travel(craft, *switch, least))


def _switch_travel(craft: Craft, function: str, on: SwitchRange, least: float) -> Iterator[Yielded]:
    low, high = travel(craft, on.channel)
    upper = on.low > low and on.high > high  # entered from below, left beyond the travel
    lower = on.low < low and on.high < high
    reach = high - on.low if upper else on.high - low
    if on.low >= on.high or not (upper or lower) or not 0 <= reach < least:
        return
    end, leaf = (high, "high") if upper else (low, "low")
    yield Fires(
        f"Channel {on.channel} ends at {grouped(end)} us, only {grouped(reach)} us within "
        f"{function}'s range of {grouped(on.low)} to {grouped(on.high)} us; at least "
        f"{grouped(least)} us are wanted.",
        (craft.switches.path_of(function), craft.receiver.end_path(on.channel, leaf)),
        (
            ("channel", float(on.channel)),
            ("end_us", end),
            ("reach_us", reach),
            ("low_us", on.low),
            ("high_us", on.high),
            ("least_us", least),
        ),
        advice=f"Widen the travel of channel {on.channel} in the transmitter, or move the range.",
    )


_LEARNT_MOST_US: Final = 60.0  # further off no trim and no worn spring brings a stick
_AWAY_US: Final = 100.0  # a fifth of half the usual travel


@rule(
    "receiver/centre-off",
    Level.WARNING,
    limits=("receiver.centre_usual",),
    over=lambda craft: STICKS,
)
def centre_off(craft: Craft, stick: str, usual: float) -> Iterator[Yielded]:
    """A stick rests further from the middle than the deadband forgives.

    A middle that was measured is the stick's zero, wherever it lies: it is told only where it is
    off by more than 60 us, which no trim explains. An error from 100 us on.

    In the air: the craft turns slowly by itself with the sticks let go, and with self-levelling
    it leans and drifts off.
    Mend: bring the channel's middle to 1,500 us in the transmitter; where no stick rests so far
    off, correct the middle that was typed.
    Source: common practice.
    """
    channel = craft.receiver.map[stick]
    centre = craft.receiver.centre_of(channel)
    yaw = stick == "yaw"
    deadband = craft.receiver.yaw_deadband if yaw else craft.receiver.deadband
    off, path = abs(centre - usual), craft.receiver.end_path(channel, "centre")
    learnt = craft.receiver.states("ends_are") and craft.receiver.ends_are == "measured"
    if off > (max(deadband, _LEARNT_MOST_US) if learnt else deadband):
        mistyped = off > _LEARNT_MOST_US and if_stated(
            lambda: middle_in_doubt(craft, channel), False
        )
        yield Fires(
            f"{stick.capitalize()} rests at {grouped(centre)} us, {grouped(off)} us from "
            f"{grouped(usual)} us; the deadband is {grouped(deadband)} us.",
            (
                path,
                f"receiver.{'yaw_' if yaw else ''}deadband",
                craft.receiver.map.path(stick),
            ),
            (
                ("channel", float(channel)),
                ("centre_us", centre),
                ("usual_us", usual),
                ("off_us", off),
                ("deadband_us", deadband),
            ),
            advice=f"Bring the middle of channel {channel} to {grouped(usual)} us in the "
            "transmitter.",
            level=Level.ERROR if off >= _AWAY_US else Level.WARNING,
        ).mended([Edit(path, f"{number_text(usual)} us")] if mistyped else [])


def _channels(craft: Craft) -> list[int]:
    """The channels with ends of their own; 0, for all of them, where none has."""
    return [int(name) for name in craft.receiver.ends.names()] or [0]


@rule("receiver/ends-reversed", Level.ERROR, over=_channels)
def ends_reversed(craft: Craft, channel: int) -> Iterator[Yielded]:
    """A channel's low end, middle and high end are not in that order, or lie close together.

    Less than 100 us on either side of the middle is as if there were none: a warning.

    In the air: the control works the wrong way round: with the throttle's ends exchanged the
    stick at rest is full throttle. With hardly any travel the least movement is full deflection.
    Mend: read the channel's ends off the transmitter again, the lower one first.
    Source: common practice.
    """
    low, high = travel(craft, channel)
    centre = craft.receiver.centre_of(channel)
    sides = centre - low, high - centre
    if min(sides) >= _LEAST_SIDE_US:
        return
    name = f"Channel {channel}" if channel else "Every channel"
    reversed_ends = low >= high or min(sides) <= 0
    yield Fires(
        f"{name} goes from {grouped(low)} us over {grouped(centre)} us to {grouped(high)} us: "
        + ("not in that order." if reversed_ends else "hardly any travel on one side."),
        tuple(dict.fromkeys(craft.receiver.end_path(channel, leaf) for leaf in _ENDS)),
        (("low_us", low), ("centre_us", centre), ("high_us", high)),
        advice="Read the channel's ends off the transmitter again, the lower one first.",
        level=Level.ERROR if reversed_ends else Level.WARNING,
    )


_LEAST_SIDE_US: Final = 100.0  # common practice: a full travel has 500 us on either side


@rule(
    "receiver/deadband-wide",
    Level.WARNING,
    limits=("receiver.deadband_most",),
    over=lambda craft: ("deadband", "yaw_deadband"),
)
def deadband_wide(craft: Craft, leaf: str, most: float) -> Iterator[Yielded]:
    """So much of a stick's movement counts as none that small corrections do nothing.

    In the air: the stick does nothing, then the craft jumps: it can't be flown finely, and near
    the ground it is put right too late.
    Mend: a few microseconds more than the resting stick wanders, commonly 2 to 10.
    Source: common practice.
    """
    wide = craft.receiver.deadband if leaf == "deadband" else craft.receiver.yaw_deadband
    if wide > most:
        part = wide / 500
        yield Fires(
            f"{'Yaw ignores' if leaf == 'yaw_deadband' else 'Roll and pitch ignore'} the first "
            f"{grouped(wide)} us to either side, {part * 100:.0f} % of a usual half travel.",
            (craft.receiver.path(leaf),),
            (("deadband_us", wide), ("most_us", most)),
            advice="Set a few microseconds more than the resting stick wanders.",
        )


@rule("receiver/smoothing-slow", Level.WARNING, limits=("receiver.smoothing_lag_most",))
def smoothing_slow(craft: Craft, most_ms: float) -> Iterator[Yielded]:
    """The sticks are smoothed so much that the craft follows them late.

    In the air: the craft answers when the pilot has already asked for more; who chases it swings
    it up and down.
    Mend: set the smoothing to auto, or to some tens of hertz.
    Source: a low-pass of the first order lags by 1 / (2 pi f), textbook; the limit: common
    practice.
    """
    cutoff = craft.receiver.smoothing
    if isinstance(cutoff, str):
        return
    lag = 1000 / (2 * pi * cutoff)
    if lag > most_ms:
        yield Fires(
            f"Stick smoothing at {grouped(cutoff)} Hz makes the craft follow {lag:.0f} ms late; "
            f"above {grouped(most_ms)} ms a pilot chases it.",
            ("receiver.smoothing",),
            (("lag_ms", lag), ("cutoff_hz", cutoff), ("most_ms", most_ms)),
            mend=(Edit("receiver.smoothing", "auto"),),
        )


@rule("receiver/pulse-train", Level.ERROR)
def pulse_train(craft: Craft) -> Iterator[Yielded]:
    """A pulse-train receiver has no pad to be read on, or more channels than its frame holds.

    In the air: the board reads no pulses, or can't tell where a frame begins: the sticks are dead
    or work each other's controls.
    Mend: give the pulse_input use to the pad that the receiver is soldered to; ask for eight
    channels or fewer.
    Source: common practice: eight pulses of up to 2 ms leave 4 ms of a frame of 20 ms, and a
    pause no longer than a pulse can't be told from one.
    """
    if craft.receiver.link != "ppm":
        raise NotApplicable("The receiver sends no pulse train.")
    yield from each((_no_pad, _frame_too_full), lambda check: check(craft))


def _no_pad(craft: Craft) -> Iterator[Yielded]:
    if not pads_used_for(craft, "pulse_input"):
        yield Fires(
            "The receiver sends a pulse train, and no pad is there to read it.",
            ("receiver.link",),
            advice="Give the pulse_input use to the pad that the receiver is soldered to.",
        )


def _frame_too_full(craft: Craft) -> Iterator[Yielded]:
    channels = craft.receiver.channels
    gap = pulse_train_gap_s(channels)
    if gap <= PULSE_TRAIN_LONGEST_PULSE_S + _ROUNDING:
        yield Fires(
            f"A pulse train of {channels} channels leaves {gap * 1000:.1f} ms of its 20 ms for "
            "the pause, and a pulse lasts up to 2 ms: where a frame begins can't be told.",
            ("receiver.channels", "receiver.link"),
            (("channels", float(channels)), ("pause_ms", gap * 1000)),
            advice="Set the channels that the receiver sends, eight or fewer.",
        )


@rule("receiver/signal-on-switch", Level.ERROR)
def signal_on_switch(craft: Craft) -> Iterator[Yielded]:
    """Signal strength is read from a channel that also works a switch or a stick.

    In the air: if the channel carries the signal's strength, the function goes on and off, or
    the stick moves, as the craft flies nearer and farther; if it carries the switch, the
    strength shown is a switch's.
    Mend: read the strength from the channel on which the receiver sends it, which nothing else
    uses; or from none.
    Source: common practice.
    """
    channel = craft.receiver.signal_channel
    if channel:
        yield from untrusted(craft)
        both = (_functions_on, _sticks_on)
        yield from each(both, lambda find: _shared(channel, dict(find(craft, channel))))


def _functions_on(craft: Craft, channel: int) -> Iterator[tuple[str, str]]:
    """The functions that a channel works, each with its path."""
    for function, ranges in craft.switches.ranges.all().items():
        if any(on.channel == channel for on in ranges):
            yield function, craft.switches.path_of(function)


def _sticks_on(craft: Craft, channel: int) -> Iterator[tuple[str, str]]:
    """The sticks that a channel carries, each with its path."""
    mapped = craft.receiver.map.all()
    for control in PRIMARY:
        if mapped.get(control) == channel:
            yield control, craft.receiver.map.path(control)


def _shared(channel: int, works: dict[str, str]) -> Iterator[Yielded]:
    if works:
        yield Fires(
            f"Signal strength is read from channel {channel}, which also works "
            f"{listed(list(works))}.",
            ("receiver.signal_channel", *works.values()),
            (("channel", float(channel)), ("works", float(len(works)))),
            advice="Read it from the channel on which the receiver sends it and which nothing "
            "else uses, or set it to 0 for none.",
        )


@rule("receiver/signal-not-carried", Level.WARNING)
def signal_not_carried(craft: Craft) -> Iterator[Yielded]:
    """Signal strength is read from a channel that the link does not carry.

    In the air: the overlay and the handset show no strength, or one that never changes, so
    nothing warns before the link is lost.
    Mend: read it from a channel that the link carries, or from none.
    Source: common practice.
    """
    channel = craft.receiver.signal_channel
    if channel and channel > craft.receiver.channels:
        carried = craft.receiver.channels
        yield Fires(
            f"Signal strength is read from channel {channel}, but the link carries {carried} "
            "channels.",
            ("receiver.signal_channel", "receiver.channels"),
            (("channel", float(channel)), ("channels", float(carried))),
            advice=f"Read it from a channel from 1 to {carried} that nothing else uses, or set "
            "it to 0 for none.",
        )


RULES = (
    map_clash,
    map_gap,
    link_port_mismatch,
    port_without_link,
    frame_too_slow,
    telemetry_impossible,
    ends_too_narrow,
    centre_off,
    ends_reversed,
    deadband_wide,
    smoothing_slow,
    pulse_train,
    signal_on_switch,
    signal_not_carried,
)
