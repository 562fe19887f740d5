"""Speed controllers."""

from collections.abc import Iterator

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.esc import DIGITAL_BIT_RATES, digital_frame_time_s, is_digital
from cfgaudit.rules.rule import Fires, Level, Yielded, rule

_ROUNDING = 1 + 1e-9  # 16 bits at 150 kbit/s fill a 9,375 Hz loop exactly, in binary too


@rule("esc/frame-longer-than-loop", Level.ERROR)
def frame_longer_than_loop(craft: Craft) -> Iterator[Yielded]:
    """A command to a speed controller, with its report, takes longer than a turn of the loop.

    Pulse protocols are left out: they are sent at a rate of their own.

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
    if whole <= period * _ROUNDING:
        return
    # Without reports stated: a frame too long by itself is too long either way.
    known = craft.esc.states("reports") or alone <= period * _ROUNDING
    reports = known and craft.esc.reports
    frame = whole if reports else alone
    if frame <= period * _ROUNDING:
        return
    paths = [craft.esc.path("protocol"), craft.loop.path("rate")]
    yield Fires(
        f"A {protocol} command{' with its report' if reports else ''} takes {frame * 1e6:,.1f} us, "
        f"and a turn of the loop at {rate:,.6g} Hz only {period * 1e6:,.1f} us.",
        (*paths, craft.esc.path("reports")) if reports else tuple(paths),
        (("frame_us", frame * 1e6), ("loop_us", period * 1e6), ("loop_hz", rate)),
        advice=_advice(period, frame, reports),
    )


def _advice(period: float, frame: float, reports: bool) -> str:
    slower = f"a loop rate of at most {int(1 / frame):,} Hz"
    for protocol, bits in sorted(DIGITAL_BIT_RATES.items(), key=lambda item: item[1]):
        needed = digital_frame_time_s(bits, reports)
        if needed <= period * _ROUNDING:
            return (
                f"Use {protocol} ({needed * 1e6:,.1f} us) if the controllers know it, or {slower}."
            )
    return f"No digital protocol is fast enough: use {slower}."


RULES = (frame_longer_than_loop,)
