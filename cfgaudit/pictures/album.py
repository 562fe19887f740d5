"""Every picture of a craft, in the order of the page."""

from collections.abc import Callable, Sequence
from types import ModuleType
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.pictures import (
    battery,
    filters,
    frame,
    link_loss,
    load,
    overlay,
    ports,
    rails,
    rates,
    switches,
    video,
)
from cfgaudit.pictures.drawing import WHOLE, Missing, Picture, beside
from cfgaudit.reading.safe import fault_of
from cfgaudit.vocabulary.declare import NotStated

Maker = Callable[..., Picture]  # of a craft and its sheet, perhaps in a view
Drawn = Picture | Missing
_EVERY: Final[tuple[tuple[ModuleType, tuple[str, ...]], ...]] = (
    # each with what it shows, by the first words of a path
    (frame, ("motors", "frame", "esc", "board")),
    (switches, ("switches", "receiver.ends")),
    (link_loss, ("failsafe", "home")),
    (ports, ("ports", "telemetry", "position", "receiver", "pads")),
    (load, ()),
    (filters, ("filters", "notches", "loop", "gyro")),
    (rates, ("rates", "banks")),
    (battery, ("battery",)),
    (rails, ("sheet.rails",)),
    (overlay, ("overlay",)),
    (video, ("video",)),
)
PICTURES: Final[tuple[tuple[str, str, Maker], ...]] = tuple(
    (made.NAME, made.TITLE, made.picture) for made, _ in _EVERY
)


def shown_by(paths: Sequence[str]) -> str:
    """The name of the picture that shows the most of some settings; empty where none does."""

    def shows(begins: tuple[str, ...]) -> int:
        return sum(any(f"{path}.".startswith(f"{b}.") for b in begins) for path in paths)

    best, begins = max(_EVERY, key=lambda one: shows(one[1]))  # the first of equals
    return best.NAME if shows(begins) else ""


class PicturePair(NamedTuple):
    """One picture of a craft before and after, on one scale and with the rows that differ.

    `whole` is the later one as it is by itself, `alike` names the rows that are left out.
    """

    old: Drawn
    new: Drawn
    whole: Drawn
    alike: tuple[str, ...] = ()


Built = tuple[Craft, Sheet | None]


def album(
    craft: Craft, sheet: Sheet | None, others: Sequence[tuple[str, Craft]] = ()
) -> tuple[Drawn, ...]:
    """The pictures, or for one that can't be drawn what it lacks. `others` fly beside it."""
    more = {video.NAME: {"others": others}}
    return tuple(_made(entry, craft, sheet, **more.get(entry[0], {})) for entry in PICTURES)


def album_of_change(old: Built, new: Built) -> tuple[PicturePair, ...]:
    """The pictures of a craft before and after, each side by its own build sheet."""
    return tuple(_pair(entry, old, new) for entry in PICTURES)


def _pair(entry: tuple[str, str, Maker], old: Built, new: Built) -> PicturePair:
    one, other = _made(entry, *old), _made(entry, *new)
    if one == other or isinstance(one, Missing) or isinstance(other, Missing):
        return PicturePair(one, other, other)
    view = beside(one.drawing, other.drawing)
    if view == WHOLE:
        return PicturePair(one, other, other)
    alike = tuple(name for name, _ in one.drawing.rows if not view.shows(name))
    return PicturePair(_made(entry, *old, view=view), _made(entry, *new, view=view), other, alike)


def _made(
    entry: tuple[str, str, Maker], craft: Craft, sheet: Sheet | None, **more: object
) -> Drawn:
    name, title, make = entry
    try:
        return make(craft, sheet, **more)
    except NotStated as lack:
        return Missing(name, title, (lack.path,))
    except Exception as error:  # a picture's fault must not hide the others, nor the findings
        return Missing(name, title, (), fault_of(error))
