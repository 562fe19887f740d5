"""The flight log."""

from collections.abc import Iterator

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.messages import LOG_RECORD_BYTES, log_fills_after_s
from cfgaudit.rules.rule import Fires, Level, Yielded, rule
from cfgaudit.rules.wording import grouped

_BYTES_PER_MB = 1e6
_SECONDS_PER_MINUTE = 60


@rule("log/fills-up", Level.NOTE, limits=("log.minutes_least",))
def fills_up(craft: Craft, least: float) -> Iterator[Yielded]:
    """The flight log's store is full after a few minutes at its rate.

    A record is taken as 44 bytes; with more in it the store is full sooner, and packed later.

    In the air: nothing; but the end of the flight, which is what one wants to see after a
    crash, is not in the log.
    Mend: write fewer records a second, or empty the store before each flight.
    Source: common practice for the record; the rest is arithmetic.
    """
    log = craft.flight_log
    if not log.enabled or log.device not in ("flash", "card") or log.rate == 0:
        return
    size, rate = log.size * _BYTES_PER_MB, log.rate
    minutes = log_fills_after_s(size, rate) / _SECONDS_PER_MINUTE
    if minutes < least:
        yield Fires(
            f"The flight log is full after {grouped(minutes)} min: {grouped(log.size)} MB, "
            f"{grouped(LOG_RECORD_BYTES)} bytes × {grouped(rate)} Hz.",
            (log.path("rate"), log.path("size")),
            (
                ("minutes", minutes),
                ("limit_minutes", least),
                ("size_mb", log.size),
                ("rate_hz", rate),
                ("record_bytes", LOG_RECORD_BYTES),
            ),
            advice=_lasting(size, least),
        )


def _lasting(size: float, minutes: float) -> str:
    """Advice for a store of so many bytes to last so long: the greatest whole rate, if any."""
    slower = int(size / (LOG_RECORD_BYTES * minutes * _SECONDS_PER_MINUTE))
    if slower < 1:
        return f"Take a larger store: at 1 Hz this one is full before {grouped(minutes)} min."
    return f"At {grouped(slower)} Hz or less it lasts {grouped(minutes)} min."


RULES = (fills_up,)
