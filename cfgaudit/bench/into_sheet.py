"""Adds to a build sheet what a dump tells and the sheet lacks; all that stands there is kept."""

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from cfgaudit.bench.new_sheet import block_lines, line_text
from cfgaudit.bench.proposal import Block, Line
from cfgaudit.craft.settings import Settings
from cfgaudit.craft.sheet import Sheet
from cfgaudit.craft.sheet_file import SheetError, read_sheet
from cfgaudit.reading.toml_places import Key, places

_INSTEAD = {"port": "pad", "pad": "port"}  # a device has the one or the other


class CantAddError(ValueError):
    """The sheet is written so that nothing can be added to it without touching what is there."""


class Added(NamedTuple):
    """A sheet with what was added: whole tables, and settings in tables that it had."""

    text: str
    tables: tuple[str, ...]
    settings: tuple[str, ...]


def added_to(text: str, blocks: Iterable[Block], file: str) -> Added:
    """The sheet's text with what it lacks; every line of its own is kept as it is.

    A table that is not there comes behind the last one, its examples with it; into one that is
    there come only settings that the dump tells. Raises SheetError where the sheet is faulty,
    CantAddError where a table is written without a head, so that nothing can be put below it.
    """
    before = read_sheet(text.encode(), file)
    page = _Page(text)
    tables: list[str] = []
    settings: list[str] = []
    for block in _wanted(tuple(blocks), before):
        lines = _missing(block, before)
        if page.has_head(block.table):
            page.put_into(block, lines)
            settings += [".".join((*block.table, line.key)) for line in lines]
        elif not _states_some(block, before):
            page.put_behind(block)
            tables.append(".".join(block.table))
        elif lines:
            name = ".".join(block.table)
            raise CantAddError(f"{name} must have a head of its own, [{name}]")
    whole = page.text() if tables or settings else text
    _see_that_all_is_kept(before, whole, file)
    return Added(whole, tuple(tables), tuple(settings))


class _Page:
    """The lines of a sheet, with what is to be put between and behind them."""

    def __init__(self, text: str) -> None:
        self._end = "\r\n" if "\r\n" in text else "\n"
        self._lines = text.split("\n")  # each keeps its own carriage return
        plain = text.removeprefix("\ufeff").replace("\r\n", "\n")
        self._plain = plain.split("\n")
        self._places = places(plain)
        self._heads = _heads(self._plain, self._places)
        self._between: dict[int, list[str]] = {}  # by the number of the line above
        self._behind: list[str] = []

    def has_head(self, table: tuple[str, ...]) -> bool:
        """Whether a table has a head of its own."""
        return table in self._heads

    def put_into(self, block: Block, lines: Iterable[Line]) -> None:
        """Put settings behind the last one that stands below the table's head."""
        head = self._heads[block.table]
        after = min((line for line in self._heads.values() if line > head), default=1 << 60)
        depth = len(block.table) + 1
        own = [
            line
            for path, line in self._places.items()
            if path[:-1] == block.table and len(path) == depth and head < line < after
        ]
        above = _last_line(self._plain, max(own)) if own else head
        self._between.setdefault(above, []).extend(line_text(block, line) for line in lines)

    def put_behind(self, block: Block) -> None:
        """Put a whole table behind everything."""
        self._behind += ["", *block_lines(block)]

    def text(self) -> str:
        """The sheet with all of it, new lines ended as its own are."""
        out: list[str] = []
        carriage = self._end[:-1]
        for number, line in enumerate(self._lines, start=1):
            new = self._between.get(number, [])
            last = number == len(self._lines)
            out.append(line + carriage if last and line and (new or self._behind) else line)
            out += [one + carriage for one in new]
        while self._behind and out and not out[-1].strip():
            out.pop()
        out += [one + carriage for one in self._behind]
        return "\n".join([*out, ""] if out[-1].strip() else out)


def _heads(lines: list[str], found: Mapping[Key, int]) -> dict[tuple[str, ...], int]:
    """The line of every table that has a head of its own."""
    heads: dict[tuple[str, ...], int] = {}
    for line in set(found.values()):
        if lines[line - 1].lstrip().startswith("["):
            words = _head_words(lines[line - 1])
            if words and found.get(words) == line:
                heads[words] = line
    return heads


def _head_words(line: str) -> tuple[str, ...]:
    """The words of a table's head; none where the line is something else, such as a list's."""
    try:
        inner: dict[str, Any] = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return ()
    words: list[str] = []
    while isinstance(inner, dict) and inner:
        word, inner = next(iter(inner.items()))
        words.append(word)
    return tuple(words)


def _last_line(lines: list[str], first: int) -> int:
    """The line at which a setting ends that begins at a line: a list may take several."""
    for end in range(first, len(lines) + 1):
        try:
            tomllib.loads("\n".join(lines[first - 1 : end]))
        except tomllib.TOMLDecodeError:
            continue
        return end
    return first


def _wanted(blocks: tuple[Block, ...], before: Settings) -> list[Block]:
    """The blocks without devices that the sheet has under a name of its own, and its own rails."""
    sheet = Sheet(before)
    devices = [block for block in blocks if block.table[0] == "devices"]
    return [
        block
        for block in blocks
        if not (block.table[0] == "devices" and _has_device(sheet, block, devices))
        and not (block.table[0] == "rails" and sheet.rails.names())
    ]


def _has_device(sheet: Sheet, block: Block, every: list[Block]) -> bool:
    """Whether the sheet has this device, under whatever name: by kind and place, or by kind."""
    kind, place = _told(block, "kind"), _told(block, "port") or _told(block, "pad")
    alone = sum(_told(other, "kind") == kind for other in every) == 1
    for name in sheet.devices.names():
        device = sheet.devices[name]
        if name == block.table[1]:
            if device.states("kind") and device.kind != kind:
                return True  # its name stands for another thing; nothing of this goes in there
        elif device.states("kind") and device.kind == kind:
            at = [sheet.settings[device.path(k)].value for k in _INSTEAD if device.states(k)]
            if alone or place in at:
                return True
    return False


def _told(block: Block, key: str) -> str:
    """What the dump tells of one setting of a block; empty where it tells nothing."""
    return next((str(line.value) for line in block.lines if line.key == key and line.told), "")


def _missing(block: Block, before: Settings) -> list[Line]:
    """What the dump tells of a table and the sheet lacks."""
    return [
        line
        for line in block.lines
        if line.told
        and f"{block.path}.{line.key}" not in before
        and f"{block.path}.{_INSTEAD.get(line.key, line.key)}" not in before
    ]


def _states_some(block: Block, before: Settings) -> bool:
    """Whether the sheet states a setting of a table, head or no head."""
    return any(path.rpartition(".")[0] == block.path for path in before)


def _see_that_all_is_kept(before: Settings, text: str, file: str) -> None:
    """Read the sheet again. Raises CantAddError where it no longer says all that it said."""
    try:
        after = read_sheet(text.encode(), file)
    except SheetError as error:
        raise CantAddError(f"what the dump tells does not go with it: {error}") from None
    for path, stated in before.stated.items():
        if path not in after or after[path].value != stated.value:
            raise CantAddError(f"{path} would not be kept")
