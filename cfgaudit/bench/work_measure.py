"""The working list's meters: voltage, current, and what the video transmitter sends."""

from collections.abc import Iterator
from typing import Final

from cfgaudit.bench.work import LITHIUM, RADIO, Ask, Known, Step, find_out
from cfgaudit.bench.work_power import has_video
from cfgaudit.units import number_text

# How far the craft's reading may be from a meter's: common practice.
_VOLTS_PART: Final = 0.01
_AMPS_LEAST: Final = 0.2
_CHARGE_PART: Final = 0.05
_MHZ: Final = 1.0


def measuring(known: Known) -> Iterator[Step]:
    """Voltage and current as shown, against a meter."""
    battery = known.craft.battery
    after = ("warm", "console", *(() if known.has_dump else ("read-dump",)))
    yield from _voltage(known, after)
    source = known.told(lambda: battery.current_from)
    if source == "none" or (source is None and known.has_dump):
        if source is None:
            lacks = [battery.path("current_from")]
            yield find_out(known, "current", "measuring", lacks, after)
        return
    offset, scale = (known.told(lambda: battery.current_offset), _scale(known))
    by_adc = source == "adc"
    yield Step(
        "current", "measuring",
        "Motors still. Compare the current shown with the supply's, or with a meter in the pack's "
        "lead.",
        f"The two differ by no more than {number_text(_AMPS_LEAST)} A. The scale comes later, "
        "from what the charger puts back.",
        after,
        LITHIUM,
        Ask(
            "pair", "A", least=_AMPS_LEAST, sample="N A, shown N A", way="offset",
            sets=battery.path("current_offset") if by_adc else "", now=offset, scale=scale,
        ),
        _against(("offset", offset, "mV"), ("scale", scale, "mV/A")),
    )  # fmt: skip


def _scale(known: Known) -> float | None:
    return known.told(lambda: known.craft.battery.current_scale)


def _against(*values: tuple[str, float | None, str]) -> str:
    return ", ".join(
        f"{word} {number_text(value)} {unit}".rstrip()
        for word, value, unit in values
        if value is not None
    )


def _voltage(known: Known, after: tuple[str, ...]) -> Iterator[Step]:
    battery = known.craft.battery
    source = known.told(lambda: battery.voltage_from)
    if known.has_dump and source in (None, "none"):
        lacks = [battery.path("voltage_from")]
        if source is None:
            yield find_out(known, "voltage", "measuring", lacks, after)
            return
        yield Step(
            "voltage", "measuring",
            "The craft measures no voltage. Settle by what you will land: a timer, or a cell "
            "alarm on the pack.",
            "You know when to land without the craft telling you.",
            after,
            LITHIUM,
        )  # fmt: skip
        return
    divider = known.told(lambda: battery.divider)
    yield Step(
        "voltage", "measuring",
        "Meter on volts at the pack's plug. Read it, and at once what the craft shows.",
        f"The two differ by no more than {_VOLTS_PART * 100:g} %.",
        after,
        LITHIUM,
        Ask(
            "pair", "V", part=_VOLTS_PART, sample="N V, shown N V", way="divider",
            sets=battery.path("divider") if source == "adc" else "", now=divider,
        ),
        _against(("divider", divider, "")),
    )  # fmt: skip


def charge(known: Known, after: tuple[str, ...]) -> Iterator[Step]:
    """After the hover: what the charger puts back against what the craft counted."""
    battery = known.craft.battery
    source = known.told(lambda: battery.current_from)
    if source in (None, "none"):
        return
    scale = _scale(known)
    yield Step(
        "charge", "after",
        "Let the pack cool, charge it watched, and compare what went in with what the craft "
        "counted.",
        f"The two differ by no more than {_CHARGE_PART * 100:g} %.",
        after,
        LITHIUM,
        Ask(
            "pair", "mAh", part=_CHARGE_PART, sample="N mAh, shown N mAh", way="scale",
            sets=battery.path("current_scale") if source == "adc" else "", now=scale,
        ),
        _against(("scale", scale, "mV/A")),
    )  # fmt: skip


def video(known: Known) -> Iterator[Step]:
    """Frequency, power and picture."""
    if not has_video(known):
        return
    sender = known.craft.video.transmitter
    after = ("warm", "antenna-video", *(() if known.has_dump else ("read-dump",)))
    frequency, power = known.told(lambda: sender.frequency), known.told(lambda: sender.power)
    lacks = [sender.path("frequency")] if frequency is None else []
    lacks += [sender.path("power")] if power is None else []
    if lacks and known.has_dump:
        yield find_out(known, "video", "video", lacks, after)
        after = (*after, "find-out-video")
    yield _frequency(frequency, after)
    yield _power(known, power, after)
    standard = known.told(lambda: known.craft.camera.standard, lambda: known.sheet.camera.standard)
    yield Step(
        "picture", "video",
        "Look at the picture in goggles or on the screen.",
        f"It stands still, with the overlay on it{f' ({standard})' if standard else ''}; nothing "
        "vital is cut off.",
        ("video-frequency",),
        against=standard or "",
    )  # fmt: skip


def _frequency(frequency: float | None, after: tuple[str, ...]) -> Step:
    told = "the frequency that you set" if frequency is None else f"{number_text(frequency)} MHz"
    ask = Ask()
    if frequency is not None:
        ask = Ask("number", "MHz", frequency - _MHZ, frequency + _MHZ, sample="N MHz")
    return Step(
        "video-frequency", "video",
        "Find the picture by tuning through the band; ask who else is on the air first.",
        f"It is best at {told}, and nobody else's is there.",
        after,
        RADIO,
        ask,
        "" if frequency is None else told,
    )  # fmt: skip


def _power(known: Known, power: float | None, after: tuple[str, ...]) -> Step:
    sender = known.craft.video.transmitter
    standby = known.told(lambda: sender.standby_power)
    told = "the power that you set" if power is None else f"{number_text(power)} mW"
    waiting = "" if standby is None else f", and {number_text(standby)} mW before arming"
    return Step(
        "video-power", "video",
        "Read the power off the transmitter's display, lights or menu.",
        f"It sends {told}{waiting}. Whether that is allowed here, local rules say.",
        after,
        RADIO,
        against="" if power is None else told + waiting,
    )  # fmt: skip
