"""The stages that a signal passes from gyro to motors, as the dump states them."""

from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.values import Filter
from cfgaudit.physics.filters import Stage, above_nyquist, group_delay_s, stage
from cfgaudit.physics.layouts import arm_names
from cfgaudit.units import number_text


class Part(NamedTuple):
    """One stage in series, or several alike."""

    chain: str  # gyro, moving notches, D-term
    kind: str
    says: str
    figure: str  # how its figures begin
    stage: Stage
    times: int
    paths: tuple[str, ...]


def gyro_rate(craft: Craft) -> float:
    """The rate of the gyro's filters in Hz: the gyro's, or the loop's where that alone is stated.

    Raises NotStated.
    """
    stated = craft.gyro.states("sample_rate") or not craft.loop.states("rate")
    return craft.gyro.sample_rate if stated else craft.loop.rate


def gyro_parts(craft: Craft) -> list[Part]:
    """The gyro's own filters that are on. Raises NotStated."""
    stages = craft.filters.gyro
    path = craft.filters.path("gyro")
    rate_path = craft.gyro.path("sample_rate")
    if not craft.gyro.states("sample_rate") and craft.loop.states("rate"):
        rate_path = craft.loop.path("rate")
    return _fixed("gyro", stages, gyro_rate(craft), (path, rate_path)) if _any(stages) else []


def dterm_parts(craft: Craft) -> list[Part]:
    """The D term's filters that are on. Raises NotStated."""
    stages = craft.filters.dterm
    paths = craft.filters.path("dterm"), craft.loop.path("rate")
    return _fixed("D-term", stages, craft.loop.rate, paths) if _any(stages) else []


def _any(stages: tuple[Filter, ...]) -> bool:
    return any(one.cutoff > 0 for one in stages)


def _fixed(
    name: str, stages: tuple[Filter, ...], rate: float, paths: tuple[str, str]
) -> list[Part]:
    parts: list[Part] = []
    for index, one in enumerate(stages, 1):
        if one.cutoff > 0 and not above_nyquist(one.cutoff, rate):
            says = f"{name} {one.kind} {one.cutoff:,.6g} Hz"
            if one.kind == "notch":
                says += f" q {number_text(one.q)}"
            figure = f"{name.replace('-', '').lower()}_{index}_{one.kind}"
            parts.append(Part(name, one.kind, says, figure, at_work(one, rate, paths[0]), 1, paths))
    return parts


def at_work(one: Filter, rate_hz: float, path: str = "") -> Stage:
    """A stated stage at its rate. Raises NotStated for a notch whose quality is not stated."""
    if one.kind == "notch" and not one.q > 0:
        raise NotStated(path)
    return stage(one.kind, one.cutoff, rate_hz, one.q or None)


def tracking_parts(craft: Craft) -> list[Part]:
    """The notches that follow peaks, where they are on: all at the lowest frequency followed."""
    notches = craft.notches.tracking
    if not notches.enabled or not notches.count:
        return []
    paths = tuple(notches.path(leaf) for leaf in ("enabled", "low", "q", "count"))
    return _moving(craft, "tracking", "tracking", notches.low, notches.q, notches.count, paths)


def motor_notch_parts(craft: Craft) -> list[Part]:
    """The notches that follow the motors, where they are on: all motors at the lowest speed."""
    notches = craft.notches.motor
    if not notches.enabled or not notches.harmonics:
        return []
    paths = tuple(notches.path(leaf) for leaf in ("enabled", "low", "q", "harmonics"))
    motors = motor_count(craft)
    return [
        part
        for n in range(1, notches.harmonics + 1)
        for part in _moving(
            craft, "motor-speed", f"motor_{n}", notches.low * n, notches.q, motors, paths
        )
    ]


def _moving(
    craft: Craft, word: str, figure: str, at_hz: float, q: float, times: int, paths: tuple[str, ...]
) -> list[Part]:
    """Notches alike, at one frequency. Raises NotStated where that or the quality is left at 0."""
    for path, value in ((paths[1], at_hz), (paths[2], q)):
        if not value > 0:
            raise NotStated(path)
    rate = craft.loop.rate
    if above_nyquist(at_hz, rate):
        return []
    says = f"{times} {word} {'notch' if times == 1 else 'notches'} at {at_hz:,.6g} Hz"
    at = stage("notch", at_hz, rate, q)
    return [Part("moving notches", "notch", says, f"{figure}_notches", at, times, paths)]


def in_series(craft: Craft) -> tuple[list[Part], list[str]]:
    """Every stage from gyro to D term in order, and the settings lacking to know them all."""
    series: list[Part] = []
    lacks: list[str] = []
    for read in (gyro_parts, tracking_parts, motor_notch_parts, dterm_parts):
        try:
            series += read(craft)
        except NotStated as lack:
            lacks.append(lack.path)
    return series, lacks


def motor_count(craft: Craft) -> int:
    """How many motors the craft has, by its layout, else by the motors stated.

    Raises NotStated where neither tells.
    """
    if craft.frame.states("layout") and craft.frame.layout != "custom":
        return len(arm_names(craft.frame.layout))
    return len(list(craft.motors.arms))


def delay_ms(part: Part, at_hz: float) -> float:
    """Group delay of a part in milliseconds; 0 where its rate has no room for the frequency."""
    if above_nyquist(at_hz, part.stage.rate_hz):
        return 0.0
    return group_delay_s(part.stage, at_hz) * part.times * 1000
