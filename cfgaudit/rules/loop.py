"""Gyro and loop."""

from collections.abc import Iterator

from cfgaudit.craft.craft import Craft
from cfgaudit.physics.gyro import loop_divisor
from cfgaudit.rules.rule import Fires, Level, Yielded, rule


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


RULES = (loop_no_divisor,)
