"""Gyro, loop, filters and stick rates."""

from collections.abc import Callable, Iterator
from functools import partial

from cfgaudit.craft.control import Rates
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.values import Filter
from cfgaudit.physics.filters import above_nyquist
from cfgaudit.physics.gyro import loop_divisor
from cfgaudit.physics.rates import rate_share
from cfgaudit.rules.rule import Fires, Level, Yielded, each, rule

_CLOSE = 0.95  # of full scale: noise and overshoot reach the rest (common practice)


@rule("loop/not-a-divisor", Level.ERROR)
def loop_no_divisor(craft: Craft) -> Iterator[Yielded]:
    """The gyro's sample rate is not a whole multiple of the loop's rate.

    In the air: the loop works now with fresh samples, now with old ones; gains and filters act
    with uneven delay, and the craft may shake.
    Mend: choose a loop rate that divides the sample rate.
    Source: common practice; round figures count as whole within 0.1 %.
    """
    sample, rate = craft.gyro.sample_rate, craft.loop.rate
    if loop_divisor(sample, rate) is not None:
        return
    ratio = sample / rate
    below = max(1, int(ratio))
    fits = sorted({sample / below, sample / (below + 1)}, reverse=True)
    yield Fires(
        f"The gyro is sampled at {sample:,.6g} Hz and the loop runs at {rate:,.6g} Hz: "
        f"{ratio:,.4g} samples to a turn is not a whole number.",
        (craft.loop.path("rate"), craft.gyro.path("sample_rate")),
        (("sample_hz", sample), ("loop_hz", rate), ("ratio", ratio)),
        advice=f"Rates that fit: {' or '.join(f'{fit:,.6g}' for fit in fits)} Hz.",
    )


@rule("filter/above-nyquist", Level.ERROR)
def filter_above_nyquist(craft: Craft) -> Iterator[Yielded]:
    """A filter's cutoff is at or above half of the rate it runs at.

    Gyro filters run at the gyro's sample rate, those of the D term at the loop's.

    In the air: the filter does not do what is set; it may pass all noise on to the motors, which
    get hot, or make the loop unstable.
    Mend: lower the cutoff, or switch the stage off with a cutoff of 0.
    Source: W3C Audio EQ Cookbook (published) and the sampling theorem (textbook).
    """

    def gyro() -> Iterator[Yielded]:
        path = craft.filters.path("gyro"), craft.gyro.path("sample_rate")
        return _chain("gyro", craft.filters.gyro, lambda: craft.gyro.sample_rate, path)

    def dterm() -> Iterator[Yielded]:
        path = craft.filters.path("dterm"), craft.loop.path("rate")
        return _chain("D-term", craft.filters.dterm, lambda: craft.loop.rate, path)

    yield from each((gyro, dterm), lambda chain: chain())


def _chain(
    name: str, stages: tuple[Filter, ...], read_rate: Callable[[], float], paths: tuple[str, str]
) -> Iterator[Yielded]:
    active = [(index, stage) for index, stage in enumerate(stages, 1) if stage.cutoff > 0]
    if not active:
        return
    rate = read_rate()
    for index, stage in active:
        if above_nyquist(stage.cutoff, rate):
            yield Fires(
                f"Stage {index} of the {name} filters, {stage.kind} at {stage.cutoff:,.6g} Hz, is "
                f"not below half of the {rate:,.6g} Hz it runs at ({rate / 2:,.6g} Hz).",
                paths,
                (("stage", index), ("cutoff_hz", stage.cutoff), ("rate_hz", rate)),
                advice=f"Set the cutoff well below {rate / 2:,.6g} Hz, or 0 to leave it out.",
            )


@rule("rate/beyond-gyro", Level.ERROR)
def rate_beyond_gyro(craft: Craft) -> Iterator[Yielded]:
    """Full stick asks for a turn rate that the gyro can't measure, or only just.

    In the air: beyond its full scale the gyro reads a wrong rate, so the loop drives the craft
    faster and faster and it does not stop turning when the stick is let go.
    Mend: lower the rate at full stick, or choose a greater full scale if the gyro has one.
    Source: InvenSense RM-MPU-6000A rev 4.2 for the scales (published); error at 100 % and
    warning at 95 % of full scale: common practice.
    """
    yield from each(craft.banks.all, lambda bank: each(bank.rates, partial(_beyond, craft)))


def _beyond(craft: Craft, axis: Rates) -> Iterator[Yielded]:
    asked, scale = axis.max, craft.gyro.full_scale
    share = rate_share(asked, scale)
    if share < _CLOSE - 1e-9:
        return
    bank = axis.path("max").split(".")[1]
    yield Fires(
        f"Full {axis.name} stick in bank {bank} asks for {asked:,.6g} deg/s, {share * 100:,.4g} % "
        f"of the {scale:,.6g} deg/s that the gyro can measure.",
        (axis.path("max"), craft.gyro.path("full_scale")),
        (("asked_dps", asked), ("full_scale_dps", scale), ("share_percent", share * 100)),
        advice=f"Keep the rate below {_CLOSE * scale:,.6g} deg/s (95 % of full scale), or choose "
        "a greater full scale if the gyro has one.",
        level=Level.ERROR if share >= 1 - 1e-9 else Level.WARNING,
    )


RULES = (loop_no_divisor, filter_above_nyquist, rate_beyond_gyro)
