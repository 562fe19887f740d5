"""The change that gives one craft the settings of another, its own ones left alone."""

from collections.abc import Mapping, Sequence
from fnmatch import fnmatchcase
from math import hypot
from types import MappingProxyType
from typing import Final, NamedTuple

from cfgaudit.audit.engine import new_and_cleared
from cfgaudit.audit.sure import Judge
from cfgaudit.changes.diff import meaning
from cfgaudit.dialects.editor import Dumps, edit_dumps
from cfgaudit.dialects.lines import mapped_paths
from cfgaudit.dialects.opening import Opened, joined
from cfgaudit.dialects.plain import path_order
from cfgaudit.physics.allocation import BEARINGS_DEG, arm_names
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import Declared, covers, declared

# What is soldered to a board or bolted to a frame: another craft has it or has it not.
_BUILT = ("ports", "pads", "motors", "esc", "frame.arms")

_WIRED = (
    "board.rotation.", "ports.", "pads.", "frame.", "motors.", "esc.front_", "esc.rear_",
    "esc.pulse_", "esc.brushed", "overlay.enabled", "video.transmitter.enabled",
    "video.transmitter.control",
    "sensors.compass.", "sensors.barometer.", "position.enabled", "position.protocol",
    "receiver.ends.", "receiver.link", "receiver.map.", "receiver.channels",
    "receiver.signal_channel", "telemetry.protocol", "telemetry.half_duplex", "telemetry.inverted",
    "battery.cells", "battery.capacity", "battery.chemistry", "battery.voltage_from",
    "battery.current_from", "video.plan.", "video.transmitter.band", "video.transmitter.channel",
    "video.transmitter.frequency", "video.transmitter.half_duplex", "camera.control",
    "camera.standard", "overlay.standard", "flight_log.device", "flight_log.size",
)  # fmt: skip

# What means something only beside settings that belong to a craft as it is built, and those.
_GOES_WITH: Final[Mapping[tuple[str, ...], tuple[str, ...]]] = MappingProxyType(
    {
        ("battery.full_cell", "battery.warn_cell", "battery.empty_cell", "battery.detect_cell"): (
            "battery.chemistry",
        ),
        ("receiver.low", "receiver.centre", "receiver.high"): ("receiver.ends.",),
        ("telemetry.",): ("telemetry.protocol",),
        ("video.transmitter.power", "video.transmitter.standby_power"): ("video.plan.powers",),
        ("overlay.grid.", "overlay.elements."): ("overlay.standard", "camera.standard"),
        ("home.", "switches.return_home", "switches.position_hold", "failsafe."): (
            "position.enabled",
        ),
    }
)
# What is one whole: of these all go or none does.
_WHOLE: Final = {"failsafe.": "link loss is one sequence"}
# What is tuned to how large and heavy a craft is; of what tells that, by how much it may differ.
_TUNED: Final = ("banks.*.gains", "filters", "notches", "esc.idle", "failsafe.throttle")
_SIZES: Final = (
    ("sheet.propulsion.diameter", "propellers of {:.4g} mm", 1.15),
    ("sheet.propulsion.all_up_weight", "a weight of {:.4g} g", 1.5),
    ("arms", "motors {:.3g} mm from its centre", 1.25),
    ("motors", "{:.0f} motors", 1.0),
    ("cells", "{:.0f} cells", 1.0),
    ("battery.capacity", "a pack of {:.0f} mAh", 2.0),
)
# What a board and its speed controllers can do; another board may not.
_OF_THE_BOARD: Final = ("esc.protocol", "esc.update_rate", "loop.rate", "gyro.sample_rate")
_TELLS_SIZE: Final = ("sheet.propulsion.diameter", "arms")  # without one of them it is not known
NOTHING_HELD: Final[Mapping[str, str]] = MappingProxyType({})


BothSheets = tuple[Settings | None, Settings | None]  # of the craft that gives, and of the other
NO_SHEETS: Final[BothSheets] = (None, None)


class Move(NamedTuple):
    """One setting that is carried: the value it gets, and what was stated before.

    `built` where it tells how a craft is wired or put together, what is fitted to it, and how its
    receiver and handset talk, which no change of it alters.
    """

    path: str
    value: Value
    old: Stated | None
    built: bool


class Stays(NamedTuple):
    """One setting that can't be carried, the value that it would have got, and why not."""

    path: str
    value: Value
    why: str


class Carried(NamedTuple):
    """A craft before and after, and what became of every setting of the other one."""

    before: Dumps
    after: Dumps
    moves: tuple[Move, ...]
    stays: tuple[Stays, ...]
    alike: int  # settings that were the same already
    own: tuple[str, ...]  # settings that differ and are each craft's own
    left: tuple[str, ...]  # settings that differ and belong to the craft as it is built
    held: tuple[Stays, ...]  # settings that differ, could be said and would do harm there
    one_size: bool | None = None  # whether both are of one size; None where nothing says so


def carry_soundly(
    source: Settings,
    dumps: Dumps,
    judge: Judge,
    excepted: Sequence[str] = (),
    sheets: BothSheets = NO_SHEETS,
) -> Carried:
    """As `carry`, without what brings an error by itself; what is one whole goes with it."""
    before, held = judge(joined(dumps)), dict(NOTHING_HELD)
    while True:
        done = carry(source, dumps, (), excepted, held, sheets)
        brought, _ = new_and_cleared(before, judge(joined(done.after)))
        moved = [move.path for move in done.moves]
        fresh: dict[str, str] = {}
        for finding in brought:
            at_fault = next((path for path in finding.paths if path in moved), "")
            if finding.level is Level.ERROR and at_fault:  # what a rule is about it names first
                says = finding.message.rstrip(".")
                fresh[at_fault] = f"it would bring an error, {finding.rule.id}: {says}"
        for prefix, why in _WHOLE.items():
            if any(path.startswith(prefix) for path in fresh):
                rest = {path: why for path in moved if path.startswith(prefix)}
                fresh = {**rest, **fresh}
        if not fresh:
            return done
        held |= fresh


def carry(
    source: Settings,
    dumps: Dumps,
    only: Sequence[str] = (),
    excepted: Sequence[str] = (),
    held: Mapping[str, str] = NOTHING_HELD,
    sheets: BothSheets = NO_SHEETS,
) -> Carried:
    """Write the settings of one craft into the dumps of another, as far as they can be said.

    `only` and `excepted` name paths, prefixes of paths or patterns with `*`. What a firmware does
    by itself, counts up, or what tells who a craft is, is never carried; what belongs to the craft
    as it is built (wires, arms, pack, sensors, camera, link, frequencies) only where `only` names
    it, and what means something only beside that stays with it; so does what is tuned to a size, by
    the dumps and the build `sheets` of both. `held` are settings that are not to be carried, with
    the reason.
    """
    target = joined(dumps)
    apart = _sizes_apart((source, target), sheets)
    wanted: dict[str, Value] = {}
    stays: list[Stays] = []
    own: list[str] = []
    left: list[str] = []
    alike = 0
    for path in sorted(source.stated, key=path_order):
        entry, known = source.stated[path], declared(path)
        if known is None or not _is_set(entry) or not is_named(path, only):
            continue
        if excepted and is_named(path, excepted):
            continue
        if _is_alike(entry, target.stated.get(path)):
            alike += 1
        elif known.traits.craft_own or known.cls is Class.IDENTITY:
            own.append(path)
        elif path.startswith(_WIRED) and not only:
            left.append(path)
        elif path in source.contested:
            why = f"it is stated more than once there, on lines {source.contested[path]}"
            stays.append(Stays(path, entry.value, why))
        elif why := _out_of_reach(path, known, target, dumps):
            stays.append(Stays(path, entry.value, why))
        else:
            wanted[path] = entry.value
    whys = {
        path: why
        for path in wanted
        if (
            why := held.get(path)
            or _beside(path, left)
            or ("" if only else _tuned(path, apart) or _hovers_apart(path, sheets))
            or ("" if only else _of_the_board(path, source, target))
            or ("" if only else _of_half_a_bank(path, apart, target))
        )
    }
    wanted = {path: value for path, value in wanted.items() if path not in whys}
    after, refused = edit_dumps(dumps, wanted)
    stays += [Stays(path, wanted[path], refused[path]) for path in wanted if path in refused]
    moves = tuple(
        Move(path, value, target.stated.get(path), path.startswith(_WIRED))
        for path, value in wanted.items()
        if path not in refused
    )
    stays.sort(key=lambda entry: path_order(entry.path))
    back = tuple(Stays(path, source[path].value, why) for path, why in whys.items())
    one_size = None if apart is None else not apart
    return Carried(
        dumps, after, moves, tuple(stays), alike, tuple(own), tuple(left), back, one_size
    )


def is_tuned(path: str) -> bool:
    """Whether a setting is tuned to how large and heavy its craft is."""
    return any(covers(pattern, path) for pattern in _TUNED)


def _hovers_apart(path: str, sheets: BothSheets) -> str:
    """Why the throttle of the landing stays where the two hover at unlike ones; or nothing."""
    stated = [sheet.stated.get(_HOVER) for sheet in sheets if sheet is not None]
    hover = [entry.value for entry in stated if entry and isinstance(entry.value, float)]
    if path != _LANDS_AT or len(hover) < 2 or max(hover) <= _UNLIKE * min(hover):
        return ""
    return f"it goes with the throttle that hovers: {hover[0]:g} % there, {hover[1]:g} % here"


_HOVER: Final = "sheet.propulsion.hover_throttle"
_LANDS_AT: Final = "failsafe.throttle"
_UNLIKE: Final = 1.05  # times: the lift goes with its square


def _tuned(path: str, apart: str | None) -> str:
    """Why a setting stays where the sizes lie apart; or nothing."""
    return f"it goes with the size of the craft: {apart}" if apart and is_tuned(path) else ""


def _of_the_board(path: str, source: Settings, target: Settings) -> str:
    """Why a setting stays that another board may not bear; or nothing."""
    names = [one.stated.get("board.name") for one in (source, target)]
    if path not in _OF_THE_BOARD or not all(names):
        return ""
    there, here = (str(name.value) for name in names if name is not None)
    alike = there.casefold() == here.casefold()
    return "" if alike else f"it is what the board bears: a {there} there, a {here} here"


def _of_half_a_bank(path: str, apart: str | None, target: Settings) -> str:
    """Why the rates of a bank stay whose gains do, where the other craft has none; or nothing."""
    group, _, rest = path.partition(".rates.")
    if not (apart and rest and group.startswith("banks.")):
        return ""
    own = any(other.startswith(f"{group}.gains.") for other in target.stated)
    return "" if own else "its bank's gains stay, as they go with the size of the craft"


def _sizes_apart(crafts: tuple[Settings, Settings], sheets: BothSheets) -> str | None:
    """How two craft differ in size; empty where they do not, None where nothing says so."""
    sizes = [_sizes(craft, sheet) for craft, sheet in zip(crafts, sheets, strict=True)]
    there, here = sizes
    for name, says, most in _SIZES:
        one, other = there.get(name), here.get(name)
        if one is None or other is None:
            continue
        if max(one, other) > most * min(one, other) * (1 + 1e-9):
            return f"{says.format(one)} there, {says.format(other)} here"
    return "" if any(all(name in size for size in sizes) for name in _TELLS_SIZE) else None


def _sizes(craft: Settings, sheet: Settings | None) -> Mapping[str, float]:
    """What a dump and a build sheet tell of a craft's size, by the names of `_SIZES`."""
    stated = {**craft.stated, **(sheet.stated if sheet is not None else {})}
    found = {
        name: float(entry.value)
        for name, _, _ in _SIZES
        if (entry := stated.get(name)) is not None and isinstance(entry.value, int | float)
    }
    arms: dict[str, dict[str, float]] = {}  # where both tell a place, the sheet's counts
    for path, entry in stated.items():
        words = path.removeprefix("sheet.").split(".")
        if words[:2] == ["frame", "arms"] and isinstance(entry.value, float):
            arms.setdefault(words[2], {})[words[3]] = entry.value
    if arms:
        found["arms"] = 1000 * max(hypot(*place.values()) for place in arms.values())
    layout = stated.get("sheet.frame.layout") or stated.get("frame.layout")
    if layout is not None and layout.value in BEARINGS_DEG:
        found["motors"] = len(arm_names(str(layout.value)))
    cells = stated.get("sheet.battery.cells") or stated.get("battery.cells")
    if cells is not None and isinstance(cells.value, int):
        found["cells"] = cells.value
    return found


def _beside(path: str, left: Sequence[str]) -> str:
    """Why a setting stays where others are left as the craft is built; or nothing."""
    for own, others in _GOES_WITH.items():
        found = next((other for other in left if other.startswith(others)), "")
        if found and path.startswith(own):
            return f"it goes with {found}, which is left as the craft is built"
    return ""


def is_named(path: str, only: Sequence[str]) -> bool:
    """Whether a path is among those asked for; every path is where none was.

    >>> is_named("battery.cells", ["battery"]), is_named("ports.usb.baud", ["ports.*.roles"])
    (True, False)
    """
    return not only or any(
        path == name
        or path.startswith(f"{name}.")
        or fnmatchcase(path, name)
        or fnmatchcase(path, f"{name}.*")
        for name in only
    )


def _is_set(entry: Stated) -> bool:
    return entry.origin is not Origin.GIVEN and not entry.doubt and not entry.volatile


def _is_alike(entry: Stated, other: Stated | None) -> bool:
    return other is not None and not other.doubt and meaning(entry.value) == meaning(other.value)


def _out_of_reach(path: str, known: Declared, target: Settings, dumps: Sequence[Opened]) -> str:
    """Why a setting can't be carried, before any line is tried; or nothing."""
    if not any(known.pattern in mapped_paths(dump.dialect) for dump in dumps):
        firmwares = (dump.dialect.name or "a dump without a dialect" for dump in dumps)
        return f"{' and '.join(firmwares)} has no line for it"
    for prefix in _BUILT:
        depth = prefix.count(".") + 1
        words, pattern = path.split("."), known.pattern.split(".")
        if not path.startswith(f"{prefix}.") or len(words) < depth + 2:
            continue
        there = _members(target, prefix)
        if pattern[depth].isupper() and there and words[depth] not in there:
            called = {"ports": "port", "pads": "pad"}.get(prefix, "arm")
            return f"that craft has no {called} {words[depth]}"
    return ""


def _members(target: Settings, prefix: str) -> list[str]:
    """The names right below a prefix that have settings of their own."""
    below = target.below(prefix)
    return [name for name, paths in below.items() if paths != [f"{prefix}.{name}"]]
