"""What each role sends over its port: the messages, their sizes and how often they come."""

from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.messages import (
    LOG_RECORD_BYTES,
    MAVLINK_USUAL_RATES_HZ,
    NMEA_TYPICAL_BYTES,
    mavlink_messages,
    position_messages,
    receiver_link,
)
from cfgaudit.physics.serial import load_fraction

STREAMING = ("receiver", "position", "telemetry", "flight_log")  # roles whose messages are known


class Stream(NamedTuple):
    """What a role sends: (name, bytes, Hz) of each message, how a byte is framed, said where."""

    messages: tuple[tuple[str, float, float], ...]
    paths: tuple[str, ...]
    framing: str = "8N1"

    def load(self, baud: float) -> float:
        """The part of a link's time that it takes at a rate in Bd; above 1 it does not fit."""
        return load_fraction([(size, hz) for _, size, hz in self.messages], baud, self.framing)


def stream_of(craft: Craft, role: str) -> Stream | None:
    """What a role sends, or None where its messages are not known. Raises NotStated."""
    if role == "receiver":
        return _receiver_stream(craft.receiver.link)
    if role == "position":
        protocol, fixes = craft.position.protocol, craft.position.rate
        names = list(NMEA_TYPICAL_BYTES) if protocol == "nmea" else ["fix"]
        sizes = position_messages(protocol, fixes)
        messages = tuple((n, size, hz) for n, (size, hz) in zip(names, sizes, strict=True))
        return Stream(messages, ("position.rate", "position.protocol"))
    if role == "telemetry":
        return _telemetry_stream(craft)
    return Stream((("record", LOG_RECORD_BYTES, craft.flight_log.rate),), ("flight_log.rate",))


def _receiver_stream(link: str) -> Stream | None:
    known = receiver_link(link)
    if known is not None:
        frame = ("frame", float(known.frame_bytes), 1 / known.period_s)
        return Stream((frame,), ("receiver.link",), known.framing)
    return None if link == "mavlink" else Stream((), ("receiver.link",))


def _telemetry_stream(craft: Craft) -> Stream | None:
    """The MAVLink stream: the heartbeat once a second, the rest at the stated rate."""
    if craft.telemetry.protocol.lower() != "mavlink":
        return None
    rates = dict.fromkeys(MAVLINK_USUAL_RATES_HZ, craft.telemetry.rate)
    rates["HEARTBEAT"] = MAVLINK_USUAL_RATES_HZ["HEARTBEAT"]
    sizes = mavlink_messages(rates)
    messages = tuple((name, size, hz) for name, (size, hz) in zip(rates, sizes, strict=True))
    return Stream(messages, ("telemetry.rate", "telemetry.protocol"))
