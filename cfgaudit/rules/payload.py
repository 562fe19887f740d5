"""The overlay (its grid, its elements and what they show) and how long the flight log has room."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import partial
from itertools import combinations
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Asked, Craft, there
from cfgaudit.craft.switches import swept
from cfgaudit.physics.serial import LOG_RECORD_BYTES, log_fills_after_s
from cfgaudit.physics.video import Box, fits, grid, overlap
from cfgaudit.rules.rule import (
    Edit,
    Fires,
    Lacks,
    Level,
    Yielded,
    each,
    grouped,
    in_groups,
    lacking,
    listed,
    rule,
)
from cfgaudit.vocabulary.dump import (
    Accelerometer,
    Barometer,
    Compass,
    OverlayElement,
    PositionReceiver,
    element_kinds,
)

Boxes = dict[str, Box]


def shown_boxes(craft: Craft, *, placed: bool = False) -> tuple[Boxes, list[Lacks]]:
    """The boxes of the elements that are shown, and what those lack that can't be placed.

    With `placed` those too that have a place while nothing says whether they are shown. Raises
    NotStated where no element is stated at all.
    """
    asked = Asked()

    def box(element: OverlayElement) -> Box | None:
        shown = (placed and not element.states("shown")) or element.shown
        return _box(element) if shown else None

    boxes = {one.name: asked.of(partial(box, one)) for one in craft.overlay.elements}
    shown = {name: box for name, box in boxes.items() if box is not None}
    return shown, [Lacks(path) for path in asked.lacks]


def _box(element: OverlayElement) -> Box:
    """An element that the catalogue lacks must state its width, else NotStated is raised."""
    known = element_kinds().get(element.name)
    width = known.width if known and not element.states("width") else element.width
    return Box(element.row, element.column, width, known.height if known else 1)


class OverlayRoom(NamedTuple):
    """What the overlay has room for: (columns, rows), whose grid that is, and what says so."""

    size: tuple[int, int]
    says: str
    paths: tuple[str, ...]


def overlay_room(craft: Craft) -> OverlayRoom:
    """The grid that is stated, else that of the standard; the camera's, where it follows that.

    Raises NotStated.
    """
    own = craft.overlay.grid
    if own.states("columns") or own.states("rows"):
        paths = own.path("columns"), own.path("rows")
        return OverlayRoom((own.columns, own.rows), "a grid of its own", paths)
    standard = craft.overlay.standard
    drawn = craft.camera.standard if standard == "auto" else standard
    return OverlayRoom(grid(drawn), drawn.upper(), (craft.overlay.path("standard"),))


@rule("overlay/off-the-grid", Level.WARNING)
def off_the_grid(craft: Craft) -> Iterator[Yielded]:
    """An element of the overlay does not lie wholly within the picture.

    An element takes the room that the catalogue of elements says, or its stated width. The picture
    is the grid that is stated, else that of the analog standard.

    In the air: it is cut off, wraps into the next row or is not seen at all: what it should
    tell, such as the pack's voltage, is missing.
    Mend: move it up or to the left, or set the overlay to the standard that the camera has.
    Source: Maxim MAX7456 data sheet (published): 30 columns, 13 rows NTSC, 16 rows PAL. Widths
    of elements: common practice.
    """
    if not craft.overlay.enabled:
        return
    boxes, lacks = shown_boxes(craft)
    yield from lacks
    if not boxes:
        return
    room = overlay_room(craft)
    for name, box in boxes.items():
        if not fits(box, room.size):
            yield _cut_off(craft, name, boxes, room)


def _cut_off(craft: Craft, name: str, boxes: Boxes, room: OverlayRoom) -> Fires:
    box, element = boxes[name], craft.overlay.elements[name]
    columns, rows = room.size
    picture = room.says if room.says.islower() else f"the picture of {room.says}"
    inside = _moved_inside(box, room.size)
    leaves = [leaf for leaf in ("row", "column") if getattr(inside, leaf) != getattr(box, leaf)]
    paths = [element.path(leaf) for leaf in leaves or ["column"]]
    if element.states("width"):
        paths.append(element.path("width"))
    mend = [Edit(element.path(leaf), str(getattr(inside, leaf))) for leaf in leaves]
    free = fits(inside, room.size) and not any(
        overlap(inside, _moved_inside(other, room.size))
        for other_name, other in boxes.items()
        if other_name != name
    )
    return Fires(
        f"{name} takes {_place(box)}, and {picture} ends at row {rows}, column {columns}.",
        (*paths, *room.paths),
        (
            ("row", box.row),
            ("column", box.column),
            ("last_row", box.row + box.height - 1),
            ("last_column", box.column + box.width - 1),
            ("rows", rows),
            ("columns", columns),
        ),
        advice=f"Move {name} to a free place within the picture, or hide it.",
    ).mended(mend if free else ())


def _moved_inside(box: Box, size: tuple[int, int]) -> Box:
    """The box moved as little as it takes; one that is wider than the picture starts at 1."""
    columns, rows = size
    row = max(1, min(box.row, rows - box.height + 1))
    column = max(1, min(box.column, columns - box.width + 1))
    return Box(row, column, box.width, box.height)


def _place(box: Box) -> str:
    return f"{_span('row', box.row, box.height)}, {_span('column', box.column, box.width)}"


def _span(what: str, first: int, count: int) -> str:
    return f"{what} {first}" if count == 1 else f"{what}s {first} to {first + count - 1}"


@rule("overlay/overlap", Level.WARNING)
def overlapping(craft: Craft) -> Iterator[Yielded]:
    """Elements of the overlay that are shown write over each other.

    An element takes the room that the catalogue of elements says, or its stated width.

    In the air: the one drawn last covers the other: a figure can't be read, or digits of two
    figures read as one.
    Mend: move one of them, or hide it.
    Source: common practice for the widths of elements; the rest is arithmetic.
    """
    if not craft.overlay.enabled:
        return
    boxes, lacks = shown_boxes(craft)
    yield from lacks
    for names in _heaps(boxes):
        told = [f"{name} ({_place(boxes[name])})" for name in names]
        elements = [craft.overlay.elements[name] for name in names]
        yield Fires(
            f"{listed(told)} write over each other.",
            tuple(element.path(leaf) for element in elements for leaf in ("row", "column")),
            (
                ("elements", len(names)),
                *((f"{name}_{leaf}", getattr(boxes[name], leaf)) for name in names
                  for leaf in ("row", "column", "width", "height")),
            ),
            advice=f"Move {listed(names[1:])} to a free place, or hide what is not needed.",
        )  # fmt: skip


def _heaps(boxes: Boxes) -> list[list[str]]:
    """The elements that hang together by overlapping, each heap in the dump's order."""
    heaps = {name: {name} for name in boxes}
    for first, second in combinations(boxes, 2):
        if overlap(boxes[first], boxes[second]) and heaps[first] is not heaps[second]:
            joined = heaps[first] | heaps[second]
            heaps.update(dict.fromkeys(joined, joined))
    found = [[name for name in boxes if name in heaps[first]] for first in boxes]
    return [heap for at, heap in enumerate(found) if len(heap) > 1 and heap not in found[:at]]


VITAL: Final[Mapping[str, str]] = {
    "voltage": "the voltage",
    "time": "the time flown",
    "warning": "a warning",
}


def shown_that_tell(craft: Craft, vital: tuple[str, ...]) -> list[str]:
    """The elements shown that tell one of these.

    Raises NotStated where there is none, but whether one of them is shown is not stated.
    """
    telling = _telling(craft.overlay.elements, vital)
    shown = [e.name for e in telling if e.states("shown") and e.shown]
    return shown or [e.name for e in telling if e.shown]


@rule("overlay/nothing-vital", Level.NOTE)
def nothing_vital(craft: Craft) -> Iterator[Yielded]:
    """The picture shows neither the pack's voltage nor the time flown nor a warning.

    A craft that sends no picture is left out. A warning where the overlay is off, though
    something of it is to be shown, and no telemetry tells the pilot either; and where overlay_off
    is on over the whole travel of its switch.

    In the air: the pilot who looks at the picture does not see when it is time to land.
    Mend: show at least one of them; the voltage of a cell is the most use.
    Source: common practice.
    """
    overlay, level = craft.overlay, Level.NOTE
    if overlay.enabled:
        if shown_that_tell(craft, tuple(VITAL)):
            yield from _never_seen(craft)
            return
        paths = tuple(element.path("shown") for element in _telling(overlay.elements, VITAL))
        says = f"The overlay shows neither {' nor '.join(VITAL.values())}."
        advice = "Show battery_voltage or cell_voltage, flight_timer, or warnings."
    else:
        if not craft.video.transmitter.enabled:
            return
        paths = (craft.video.transmitter.path("enabled"),)
        says = "The craft sends a picture and the overlay is off: it shows no voltage and no time."
        advice = "Switch the overlay on where the board has one."
        told = craft.telemetry.states("enabled") and craft.telemetry.enabled
        telling = _telling(there(craft.overlay.elements), VITAL)
        if not told and any(one.states("shown") and one.shown for one in telling):
            level = Level.WARNING
    yield Fires(says, (*paths, overlay.path("enabled")), advice=advice, level=level)


def _never_seen(craft: Craft) -> Iterator[Fires]:
    """What vital there is on an overlay that is hidden wherever its switch stands."""
    spans = craft.switches.ranges.stated().get("overlay_off", ())
    for channel in sorted({span.channel for span in spans}):
        stretches = swept(craft, {"overlay_off": spans}, channel)
        if all(stretch.active for stretch in stretches):
            yield Fires(
                f"The overlay is hidden over the whole travel of channel {channel}.",
                (craft.switches.path_of("overlay_off"), craft.overlay.path("enabled")),
                (("channel", float(channel)),),
                advice="Leave overlay_off one end of the travel only.",
                level=Level.WARNING,
            )


def _telling(elements: Iterable[OverlayElement], vital: Collection[str]) -> list[OverlayElement]:
    """The elements that tell one of these."""
    kinds = element_kinds()
    return [one for one in elements if one.name in kinds and kinds[one.name].tells in vital]


def _read_from(craft: Craft, source: str) -> tuple[bool, tuple[str, ...]]:
    """Whether there is something that measures this, and the settings that say so."""
    battery, sensors = craft.battery, craft.sensors
    measured = {"voltage": "voltage_from", "current": "current_from"}
    if source in measured:
        path = battery.path(measured[source])
        return craft.settings.need(path) != "none", (path,)
    parts: Mapping[str, tuple[Accelerometer | Barometer | Compass | PositionReceiver, ...]] = {
        "position": (craft.position,),
        "height": (sensors.barometer, craft.position),
        "heading": (sensors.compass, craft.position),
        "level": (sensors.accelerometer,),
    }
    measuring = parts[source]
    on = any(part.states("enabled") and part.enabled for part in measuring)
    paths = tuple(part.path("enabled") for part in measuring)
    return on or any(part.enabled for part in measuring), paths


@rule("overlay/without-source", Level.NOTE)
def without_source(craft: Craft) -> Iterator[Yielded]:
    """An element of the overlay is shown, and nothing on the craft measures what it tells.

    Elements that the catalogue lacks are left out.

    In the air: it stands at nought or at its last value, and may be taken for a true one.
    Mend: hide it, or switch on what it is read from.
    Source: common practice.
    """
    if not craft.overlay.enabled:
        return
    kinds = element_kinds()
    reading = [e for e in craft.overlay.elements if e.name in kinds and kinds[e.name].reads]
    yield from lacking(reading, "shown")
    shown = [element for element in reading if element.states("shown") and element.shown]
    by_source = in_groups(shown, lambda element: kinds[element.name].reads)
    yield from each(by_source.items(), lambda item: _unread(craft, *item))


def _unread(craft: Craft, source: str, elements: list[OverlayElement]) -> Iterator[Yielded]:
    found, paths = _read_from(craft, source)
    if found:
        return
    names = [element.name for element in elements]
    shown = tuple(element.path("shown") for element in elements)
    yield Fires(
        f"The overlay shows {listed(names)}, and nothing measures the {source}.",
        (*shown, *paths),
        (("elements", len(names)),),
        advice=f"Hide {listed(names)}, or switch on what measures the {source}.",
    )


_BYTES_PER_MB = 1e6
_SECONDS_PER_MINUTE = 60


@rule("log/fills-up", Level.NOTE, limits=("log.minutes_least",))
def fills_up(craft: Craft, least: float) -> Iterator[Yielded]:
    """The flight log's store is full after a few minutes at its rate.

    A record is taken as 44 bytes; with more in it the store is full sooner, and packed later. A
    warning where it is full in less than half of the limit: before most flights end.

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
            advice=_lasting(size, least)
            if size
            else "Look whether the controller finds its store at all (a card that is not in, one "
            "of another format).",
            level=Level.WARNING if minutes < least / 2 else Level.NOTE,
        )


def _lasting(size: float, minutes: float) -> str:
    """Advice for a store of so many bytes to last so long: the greatest whole rate, if any."""
    slower = int(size / (LOG_RECORD_BYTES * minutes * _SECONDS_PER_MINUTE))
    if slower < 1:
        return f"Take a larger store: at 1 Hz this one is full before {grouped(minutes)} min."
    return f"At {grouped(slower)} Hz or less it lasts {grouped(minutes)} min."


RULES = (
    off_the_grid,
    overlapping,
    nothing_vital,
    without_source,
    fills_up,
)
