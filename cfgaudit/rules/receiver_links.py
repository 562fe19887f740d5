"""The receiver link against the port, the loop and the telemetry that hang on it."""

from collections.abc import Iterator
from typing import Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.ports import Port
from cfgaudit.physics.filters import above_nyquist
from cfgaudit.physics.messages import (
    RECEIVER_LINKS,
    ReceiverLink,
    receiver_frame_period_s,
    receiver_link,
)
from cfgaudit.physics.serial import allowed_error, rate_error
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Yielded, each, rule
from cfgaudit.rules.wiring import carrying
from cfgaudit.rules.wording import grouped, listed

_ROUNDING: Final = 1e-9
_IDLE: Final = {True: "inverted", False: "not inverted"}


@rule("receiver/link-port-mismatch", Level.ERROR)
def link_port_mismatch(craft: Craft) -> Iterator[Yielded]:
    """The receiver link needs another rate or idle level than its port is set to.

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
        checks = [
            check(link, known, port)
            for port in carrying(craft, "receiver")
            for check in (_wrong_rate, _wrong_level)
        ]
        yield from each(checks, iter)


def _wrong_rate(link: str, known: ReceiverLink, port: Port) -> Iterator[Yielded]:
    baud, path = port.rate_for("receiver"), port.rate_path("receiver")
    off, allowed = rate_error(baud, known.baud), allowed_error(known.framing)
    if abs(off) > allowed + _ROUNDING:
        yield Fires(
            f"The {link} link runs at {grouped(known.baud)} Bd, but port {port.name} is set to "
            f"{grouped(baud)} Bd: {grouped(abs(off) * 100)} % off, where "
            f"{grouped(allowed * 100)} % is allowed.",
            (path, "receiver.link"),
            (
                ("link_baud", float(known.baud)),
                ("baud", baud),
                ("off_percent", off * 100),
                ("allowed_percent", allowed * 100),
            ),
            mend=(Edit(path, f"{known.baud} Bd"),),
        )


def _wrong_level(link: str, known: ReceiverLink, port: Port) -> Iterator[Yielded]:
    path = port.path("inverted")
    if port.inverted != known.inverted:
        yield Fires(
            f"The {link} link is {_IDLE[known.inverted]}, but port {port.name} is set "
            f"{_IDLE[port.inverted]}.",
            (path, "receiver.link"),
            mend=(Edit(path, "on" if known.inverted else "off"),),
        )


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
    Mend: give telemetry a port of its own, or switch it off.
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
            advice="Give telemetry a port of its own, or switch it off.",
        )


def _no_way_back(protocol: str, link: str, known: ReceiverLink) -> str:
    """Why telemetry can't go out on a one-way link's port; empty where it can."""
    if protocol == link:
        return ""
    if protocol in RECEIVER_LINKS and RECEIVER_LINKS[protocol].two_way:
        return f"{protocol} goes back in the frames of a {protocol} link, and the link is {link}"
    if known.framing != "8N1":
        return f"{link} sets the port to {known.framing}, and {protocol} needs 8N1"
    return ""


RULES = (
    link_port_mismatch,
    port_without_link,
    frame_too_slow,
    telemetry_impossible,
)
