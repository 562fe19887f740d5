"""The video transmitter: where and how strongly it sends, and the camera's standard.

Nothing here says what is allowed: that is for local rules and licences.
"""

from collections.abc import Callable, Iterator
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING, Final, NamedTuple

from cfgaudit.craft.craft import Craft, if_stated
from cfgaudit.physics.video import (
    ISM_MHZ,
    LOW_ISM_MHZ,
    RASTERS_MHZ,
    dbm_of_mw,
    exempt_power_mw,
    fits,
    grid,
    in_ism,
)
from cfgaudit.rules.payload import shown_boxes
from cfgaudit.rules.rule import Edit, Fires, Level, Yielded, each, grouped, listed, rule
from cfgaudit.rules.wiring import devices_in
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet

_DECIDE: Final = "local rules and licences decide"


def _silent(craft: Craft) -> bool:
    """Whether the transmitter is stated to be out of use."""
    transmitter = craft.video.transmitter
    return transmitter.states("enabled") and not transmitter.enabled


class Planned(NamedTuple):
    """What the plan says of the band and the channel that are set."""

    path: str  # of the band in the plan; empty where the plan lacks the band
    frequencies: tuple[float, ...]  # the band's
    channel: int

    @property
    def has_channel(self) -> bool:
        """Whether the band goes as far as the channel."""
        return self.channel <= len(self.frequencies)


def _planned(craft: Craft) -> Planned:
    """Look the band and the channel up in the plan. Raises NotStated."""
    transmitter, bands = craft.video.transmitter, craft.video.plan.bands
    plan = bands.all()
    band, channel = transmitter.band, transmitter.channel
    names = [name for name in plan if name.casefold() == band.casefold()]
    path = bands.path(names[0]) if names else ""
    if not names:
        craft.settings.need_all("video.plan", "", bands.path(band))
    return Planned(path, plan[names[0]] if names else (), channel)


def tuned(craft: Craft) -> tuple[float, tuple[str, ...]]:
    """The frequency stated, else the plan's for the band and channel; and where it stands."""
    transmitter = craft.video.transmitter
    path = transmitter.path("frequency")
    if transmitter.states("frequency"):
        return transmitter.frequency, (path,)
    try:
        planned = _planned(craft)
    except NotStated:
        raise NotStated(path) from None
    if not planned.has_channel:
        raise NotStated(path)
    paths = transmitter.path("band"), transmitter.path("channel"), planned.path
    return planned.frequencies[planned.channel - 1], paths


@rule("video/outside-band", Level.WARNING)
def outside_band(craft: Craft) -> Iterator[Yielded]:
    """The video transmitter sends outside of 5,725 to 5,875 MHz and of 2,400 to 2,483.5 MHz.

    Inside of them a licence may be needed as well: nothing here says what is allowed.

    In the air: the picture may disturb other services, and a licence may be needed.
    Mend: look up the local rules, or choose a channel within the band.
    Source: 47 CFR 18.301 (published): the band 5,800 ± 75 MHz; ITU Radio Regulations 5.150 and,
    for 2,400 to 2,483.5 MHz, ERC Recommendation 70-03 annex 1 (from memory).
    """
    if _silent(craft):
        return
    frequency, paths = tuned(craft)
    if in_ism(frequency):
        return
    low, high = min(  # the nearest
        (ISM_MHZ, LOW_ISM_MHZ), key=lambda band: max(band[0] - frequency, frequency - band[1])
    )
    within = _channels_where(craft, in_ism)
    yield Fires(
        f"The video transmitter is tuned to {grouped(frequency)} MHz, outside of {grouped(low)} "
        f"to {grouped(high)} MHz: a licence may be needed; {_DECIDE}.",
        paths,
        (("frequency_mhz", frequency), ("band_low_mhz", low), ("band_high_mhz", high)),
        advice="Look up the local rules before it sends, or choose a channel within the band"
        + (f"; the plan has {listed(within)}." if within else "."),
    )


def _channels_where(craft: Craft, suits: Callable[[float], bool]) -> list[str]:
    """The channels of the plan whose frequency suits, each with its band."""
    return [
        f"{band} {channel}"
        for band, frequencies in craft.video.plan.bands.stated().items()
        for channel, frequency in enumerate(frequencies, start=1)
        if suits(frequency)
    ]


# A quarter of the power reaches half as far (free space); less is for the builder to choose.
_MUCH_LESS: Final = 4
_NEARER: Final = "a licence may allow it, and with less power the picture is lost nearer by"


@rule("video/power-above-exempt", Level.WARNING)
def power_above_exempt(craft: Craft) -> Iterator[Yielded]:
    """The video transmitter sends more than 25 mW, or more than 10 mW at 2.4 GHz.

    These count with the aerial's gain. A lower power may need a licence as well: nothing
    here says what is allowed.

    In the air: a licence may be needed, and others' pictures and links are disturbed further
    off.
    Mend: look up the local rules, or set a lower power.
    Source: ERC Recommendation 70-03 annex 1 (from memory): 25 mW e.i.r.p. from 5,725 to 5,875 MHz
    and 10 mW from 2,400 to 2,483.5 MHz without a licence of one's own, in countries of the CEPT
    that take it over.
    """
    if _silent(craft):
        return
    transmitter = craft.video.transmitter
    power = transmitter.power
    exempt = exempt_power_mw(if_stated(lambda: tuned(craft)[0], ISM_MHZ[0]))
    if power <= exempt:
        return
    offered = _powers_stated(craft)
    lower = sorted(p for p in offered if exempt / _MUCH_LESS <= p <= exempt)
    path = transmitter.path("power")
    yield Fires(
        f"The video transmitter sends {grouped(power)} mW ({dbm_of_mw(power):.2f} dBm), above the "
        f"{number_text(exempt)} mW ({dbm_of_mw(exempt):.2f} dBm, aerial "
        f"included) of the CEPT's recommendation: a licence may be needed; {_DECIDE}.",
        (path,),
        (
            ("power_mw", power),
            ("power_dbm", dbm_of_mw(power)),
            ("exempt_mw", exempt),
            ("exempt_dbm", dbm_of_mw(exempt)),
        ),
        advice="Look up the local rules before it sends, or set a lower power.",
        choice=_NEARER if power in offered else "",  # what the transmitter lacks nobody chose
    ).mended(Edit(path, f"{number_text(power)} mW") for power in lower[-1:])


def _powers_stated(craft: Craft, sheet: "Sheet | None" = None) -> tuple[float, ...]:
    """The powers that the transmitter has: by the build sheet, else by the dump's plan."""
    told = [part for part in devices_in(sheet) if part.states("kind") and part.states("powers")]
    fitted = [part.powers for part in told if part.kind == "video_transmitter"]
    plan = craft.video.plan
    return fitted[0] if fitted else plan.powers if plan.states("powers") else ()


@rule("video/plan-mismatch", Level.ERROR)
def plan_mismatch(craft: Craft) -> Iterator[Yielded]:
    """The frequency stated is not the plan's for the band and channel that are set.

    In the air: the picture is not where the pilot looks for it, and may lie on another pilot's
    channel.
    Mend: set the band, the channel and the frequency to one place of the plan.
    Source: arithmetic on what the dump states.
    """
    if _silent(craft):
        return
    transmitter = craft.video.transmitter
    planned = _planned(craft)
    frequency = transmitter.frequency
    band, channel = transmitter.path("band"), transmitter.path("channel")
    stated = transmitter.path("frequency")
    place = f"{transmitter.band} {planned.channel}"
    figures: tuple[tuple[str, float], ...] = (
        ("channel", planned.channel),
        ("stated_mhz", frequency),
    )
    if not planned.path:
        message = f"The plan has no band {transmitter.band}."
        paths: tuple[str, ...] = (band, stated)
    elif not planned.has_channel:
        count = len(planned.frequencies)
        message = f"The plan's band {transmitter.band} has {count} channels, and {place} is set."
        paths, figures = (channel, band, planned.path), (*figures, ("channels", count))
    else:
        wanted = planned.frequencies[planned.channel - 1]
        if abs(wanted - frequency) < 1e-6:
            return
        message = (
            f"{grouped(frequency)} MHz is stated, and {place} of the plan is "
            f"{grouped(wanted)} MHz: {grouped(abs(wanted - frequency))} MHz off."
        )
        paths, figures = (stated, channel, band, planned.path), (*figures, ("plan_mhz", wanted))
    planned_there = dict(figures).get("plan_mhz", 0.0)
    yield Fires(message, paths, figures, advice=_one_place(craft, frequency, planned_there))


def _one_place(craft: Craft, frequency: float, planned_there: float) -> str:
    """Where the plan has the stated frequency, if it has; else what it has at the place set."""
    places = _channels_where(craft, lambda planned: abs(planned - frequency) < 1e-6)
    if places:
        there = f"The plan has {grouped(frequency)} MHz at {listed(places)}."
    else:
        there = f"The plan has {grouped(frequency)} MHz nowhere"
        there += f", so {grouped(planned_there)} MHz is likelier." if planned_there else "."
    return f"Find out which of them is meant. {there}"


@rule("video/plan-duplicate", Level.WARNING, limits=("video.plan_span",))
def plan_duplicate(craft: Craft, span: float) -> Iterator[Yielded]:
    """A band of the frequency plan looks mistyped: a frequency twice, out of order or far off.

    Far off is measured from the middle one of the band's own frequencies. A band that is one of
    the rasters in common use may stand in any order, and two bands may share a frequency.

    In the air: a channel sends where nobody looks for it, or two pilots on different channels
    take each other's picture away.
    Mend: put the frequency right by the transmitter's handbook.
    Source: common practice.
    """
    if _silent(craft):
        return
    bands = craft.video.plan.bands
    for band, frequencies in bands.all().items():
        wrong = _mistyped(frequencies, span)
        if not wrong:
            continue
        places = sorted({place for found in wrong.values() for place in found})
        yield Fires(
            f"Band {band} of the plan looks mistyped: {'; '.join(wrong)}.",
            (bands.path(band),),
            tuple((f"channel_{n}_mhz", frequencies[n - 1]) for n in places),
            advice="Put it right by the transmitter's handbook.",
        )


def _mistyped(frequencies: tuple[float, ...], span: float) -> dict[str, tuple[int, ...]]:
    """What is odd about a band, in words, each with the channels that it is about, from 1."""
    wrong: dict[str, tuple[int, ...]] = {}
    numbered = list(enumerate(frequencies, start=1))
    for frequency in dict.fromkeys(frequencies):
        same = tuple(n for n, other in numbered if other == frequency)
        if len(same) > 1:
            wrong[f"channels {listed([str(n) for n in same])} are {grouped(frequency)} MHz"] = same
    if frequencies not in RASTERS_MHZ.values():
        for (before, earlier), (channel, later) in pairwise(numbered):
            if later < earlier:
                told = f"channel {channel} ({grouped(later)} MHz) lies below channel {before} "
                wrong[f"{told}({grouped(earlier)} MHz)"] = (before, channel)
    middle = median(frequencies) if frequencies else 0.0
    for channel, frequency in numbered:
        if abs(frequency - middle) * 100 > span * middle:
            wrong[
                f"channel {channel} ({grouped(frequency)} MHz) lies far from the band's middle, "
                f"{grouped(middle)} MHz"
            ] = (channel,)
    return wrong


@rule("video/power-not-in-plan", Level.ERROR)
def power_not_in_plan(craft: Craft) -> Iterator[Yielded]:
    """A power is set that the video transmitter does not have.

    In the air: it sends with another power than the pilot thinks: the picture is lost too
    early, or a power that should rest does not.
    Mend: set one of the powers that the plan lists.
    Source: arithmetic on what the dump states.
    """
    if _silent(craft):
        return
    transmitter, plan = craft.video.transmitter, craft.video.plan
    powers = plan.powers
    leaves = ["power"] + ["standby_power"] * transmitter.states("standby_power")

    def check(leaf: str) -> Iterator[Yielded]:
        power = float(getattr(transmitter, leaf))
        if power in powers:
            return
        told = listed([grouped(p) for p in powers]) if powers else "none"
        word = "power before arming" if leaf == "standby_power" else "power"
        yield Fires(
            f"The video transmitter's {word} is {grouped(power)} mW, and its powers are "
            f"{told}{' mW' if powers else ''}.",
            (transmitter.path(leaf), plan.path("powers")),
            (("power_mw", power), *((f"plan_{n}_mw", p) for n, p in enumerate(powers, 1))),
            advice="Set one of the powers that the transmitter has.",
        )

    yield from each(leaves, check)


@rule(
    "video/full-power-on-bench",
    Level.WARNING,
    limits=("video.low_power_most", "video.bench_power_most"),
    sheet="wanted",
)
def full_power_on_bench(
    craft: Craft, sheet: "Sheet | None", low_most: float, bench_most: float
) -> Iterator[Yielded]:
    """The video transmitter sends with much power before the craft is armed.

    One that has no lower power than a low one has nothing to choose, and is left in peace.

    In the air: nothing; on the bench, without the propellers' wind, the transmitter grows hot
    and may be damaged, and the pictures of those who are flying are disturbed.
    Mend: set a low power before arming.
    Source: common practice.
    """
    if _silent(craft):
        return
    transmitter = craft.video.transmitter
    power, standby = transmitter.power, transmitter.standby_power
    if standby <= bench_most or (standby < power and standby <= low_most):
        return
    powers = _powers_stated(craft, sheet)
    if powers and standby == min(powers) and standby <= low_most and power >= standby:
        return
    if not powers and standby <= low_most:  # perhaps it has no lower one
        raise NotStated(craft.video.plan.path("powers"))
    less = sorted(p for p in powers if p < power and p <= low_most)
    path = transmitter.path("standby_power")
    yield Fires(
        f"Before arming the video transmitter sends {grouped(standby)} mW, and in flight "
        f"{grouped(power)} mW: {'no low-power state' if standby >= power else 'that is not low'}.",
        (path, transmitter.path("power")),
        (
            ("standby_power_mw", standby),
            ("power_mw", power),
            ("low_most_mw", low_most),
            ("bench_most_mw", bench_most),
        ),
        advice="Set the lowest power that the transmitter has before arming.",
    ).mended(Edit(path, f"{number_text(power)} mW") for power in less[:1])


@rule("video/standard-mismatch", Level.WARNING)
def standard_mismatch(craft: Craft) -> Iterator[Yielded]:
    """The camera and the overlay are set to different picture standards.

    In the air: the overlay flickers, rolls or is missing, and its last rows fall outside of the
    picture.
    Mend: set the overlay to the standard that the camera has.
    Source: Maxim MAX7456 data sheet (published) for the rows; the rest is common practice.
    """
    if not craft.overlay.enabled or craft.overlay.standard == "auto":
        return
    camera, overlay = craft.camera.standard, craft.overlay.standard
    if camera == overlay:
        return
    path = craft.overlay.path("standard")
    boxes, _ = if_stated(lambda: shown_boxes(craft), ({}, []))
    room_for_all = all(fits(box, grid(camera)) for box in boxes.values())
    yield Fires(
        f"The camera is set to {camera.upper()} and the overlay to {overlay.upper()}.",
        (path, craft.camera.path("standard")),
        advice=f"Set the overlay to {camera} and move into the picture what then lies outside of "
        "it.",
    ).mended([Edit(path, camera)] if room_for_all else [])


RULES = (
    outside_band,
    power_above_exempt,
    plan_mismatch,
    plan_duplicate,
    power_not_in_plan,
    full_power_on_bench,
    standard_mismatch,
)
