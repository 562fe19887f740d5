"""The overlay's grid with the box of every element that is shown."""

from itertools import combinations
from typing import Final, NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet
from cfgaudit.physics.video import Box, fits, overlap
from cfgaudit.pictures.drawing import WIDTH, Drawing, NumberTable, Picture, rect, text
from cfgaudit.rules.payload import overlay_room, shown_boxes
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import element_kinds

NAME, TITLE = "overlay", "What is written over the picture"
_CELL: Final = (14.0, 20.0)  # width and height of a character's cell
_OWN_NAME: Final = "craft_name"  # the element that shows the craft's name
_EDGE: Final = (10.0, 22.0)


class DrawnElement(NamedTuple):
    """One element that is shown. `lines` is an example as wide as it gets."""

    name: str
    box: Box
    lines: tuple[str, ...]
    cut_off: bool  # it does not lie wholly within the picture
    under: tuple[str, ...]  # elements that share a cell with it


class Grid(NamedTuple):
    """The picture's characters and the elements in the dump's order."""

    says: str  # a standard's name, or whose grid it is
    columns: int
    rows: int
    elements: tuple[DrawnElement, ...]
    unplaced: tuple[str, ...]  # settings lacking to place one
    taken: tuple[str, ...]  # elements that have a place; whether they are shown is not stated
    enabled: bool


def data(craft: Craft) -> Grid:
    """The boxes as shown. Raises NotStated without elements or a standard."""
    boxes, lacks = shown_boxes(craft, placed=True)
    room = overlay_room(craft)
    under: dict[str, list[str]] = {name: [] for name in boxes}
    for first, second in combinations(boxes, 2):
        if overlap(boxes[first], boxes[second]):
            under[first].append(second)
            under[second].append(first)
    elements = tuple(
        DrawnElement(
            name, box, _example(craft, name, box), not fits(box, room.size), tuple(under[name])
        )
        for name, box in boxes.items()
    )
    if not elements:
        raise NotStated("overlay.elements.NAME.shown")
    enabled = not craft.overlay.states("enabled") or craft.overlay.enabled
    lacking = tuple(lack.path for lack in lacks)
    taken = tuple(name for name in boxes if not craft.overlay.elements[name].states("shown"))
    return Grid(room.says, *room.size, elements, lacking, taken, enabled)


def _example(craft: Craft, name: str, box: Box) -> tuple[str, ...]:
    """The catalogue's example, or the element's name, in as many cells as the box has.

    The craft's name stands for itself, since it is known.
    """
    known = element_kinds().get(name)
    said = known.example if known else name
    if name == _OWN_NAME and craft.who.states("name"):
        # a letter that could act, or take two cells, would push the others aside
        said = "".join(
            one if one.isascii() and one.isprintable() else "?" for one in str(craft.who.name)
        )
    line = said.ljust(box.width)[: box.width]
    middle = box.height // 2
    return tuple(line if row == middle else " " * box.width for row in range(box.height))


def picture(craft: Craft, sheet: Sheet | None) -> Picture:
    """Draw it. Raises NotStated."""
    told = data(craft)
    table = NumberTable(
        ("element", "row", "column", "wide", "example", ""),
        tuple(
            (one.name, str(one.box.row), str(one.box.column), str(one.box.width),
             max(one.lines).strip(), _fault(one))
            for one in told.elements
        ),
    )  # fmt: skip
    return Picture(NAME, TITLE, _says(told), _draw(told), table, notes(told))


def notes(told: Grid) -> tuple[str, ...]:
    """What is to be known besides."""
    said = ["The examples are as wide as each element gets; they are not what it shows now."]
    if not told.enabled:
        said.append("The overlay is switched off.")
    said += [f"▲ {one.name}: {_fault(one)}." for one in told.elements if _fault(one)]
    if told.taken:
        said.append(f"Drawn as placed, for nothing says if it is shown: {', '.join(told.taken)}.")
    if told.unplaced:
        said.append(f"Not drawn, for these are not stated: {', '.join(told.unplaced)}.")
    return tuple(said)


def _fault(one: DrawnElement) -> str:
    said = ["cut off"] * one.cut_off + [f"writes over {', '.join(one.under)}"] * bool(one.under)
    return "; ".join(said)


def _says(told: Grid) -> str:
    placed = "; ".join(
        f"{one.name} at row {one.box.row}, column {one.box.column}"
        + (f" ({_fault(one)})" if _fault(one) else "")
        for one in told.elements
    )
    return f"{told.columns} × {told.rows} characters, {told.says}. {placed}."


def _draw(told: Grid) -> Drawing:
    wide, high = _CELL
    left, top = _EDGE
    width, height = told.columns * wide, told.rows * high
    lowest = max(one.box.row + one.box.height - 1 for one in told.elements)
    body = [
        text((left, 15), f"{told.columns} columns × {told.rows} rows, {told.says}", "t m"),
        rect(left, top, width, height, "screen"),
    ]
    for row in range(1, told.rows):
        body.append(rect(left, top + row * high, width, 0.5, "ruled"))
    body += [_element(one) for one in told.elements]
    bottom = top + max(told.rows, min(lowest, told.rows + 3)) * high
    return Drawing(WIDTH, bottom + 10, "".join(body))


def _element(one: DrawnElement) -> str:
    wide, high = _CELL
    x = _EDGE[0] + (one.box.column - 1) * wide
    y = _EDGE[1] + (one.box.row - 1) * high
    faulty = one.cut_off or one.under
    box = x, y + 1, one.box.width * wide, one.box.height * high - 2
    parts = [rect(*box, "screen", 2)] if one.cut_off else []
    parts.append(rect(*box, "element faulty" if faulty else "element", 2))
    for row, said in enumerate(one.lines):
        for column, letter in enumerate(said):
            if letter != " ":
                at = x + (column + 0.5) * wide, y + row * high + 15
                parts.append(text(at, letter, "t cell-letter", "middle"))
    return "".join(parts)
