"""Edits a craft that several dumps tell of: each value goes where it is stated."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from cfgaudit.craft.settings import Origin, Settings
from cfgaudit.craft.values import Value
from cfgaudit.dialects.editing import edit
from cfgaudit.dialects.opening import Opened

Dumps = tuple[Opened, ...]


class EditedDumps(NamedTuple):
    """The dumps after an edit, and what could not be written, by path, with the reason."""

    dumps: Dumps
    refused: Mapping[str, str]


def joined(dumps: Sequence[Opened]) -> Settings:
    """The settings of one craft from all its dumps."""
    settings = dumps[0].settings
    for other in dumps[1:]:
        settings = settings.joined(other.settings)
    return settings


def edit_dumps(dumps: Sequence[Opened], wanted: Mapping[str, Value]) -> EditedDumps:
    """Every value in each dump that states it; else in the first dump that has a line for it.

    What one of the dumps that state it can't say is written into none of them.
    """
    now, refused = _where_stated(dumps, wanted)
    whole = joined(dumps)
    rest = {
        path: value
        for path, value in wanted.items()
        if not any(_states(dump, path) for dump in dumps)
        and (path not in whole or whole[path].value != value)
    }
    for number in range(len(now)):
        if rest:
            made = edit(now[number], rest)
            now[number] = made.opened
            refused = {**made.refused, **refused}
            for path in made.written:
                refused.pop(path, None)
            rest = {path: value for path, value in rest.items() if path in made.refused}
    return EditedDumps(tuple(now), refused)


def _where_stated(
    dumps: Sequence[Opened], wanted: Mapping[str, Value]
) -> tuple[list[Opened], dict[str, str]]:
    """The dumps with the values that they state changed, and what one of them can't say."""
    now = list(dumps)
    written: set[str] = set()
    refused: dict[str, str] = {}
    for number, dump in enumerate(dumps):
        own = {path: value for path, value in wanted.items() if _states(dump, path)}
        if own:
            made = edit(dump, own)
            now[number] = made.opened
            written.update(made.written)
            refused.update(made.refused)
    halves = {path: why for path, why in refused.items() if path in written}
    if not halves:
        return now, refused
    now, others = _where_stated(dumps, {p: v for p, v in wanted.items() if p not in halves})
    return now, {**halves, **others}


def _states(dump: Opened, path: str) -> bool:
    """Whether a dump has a line for a path, be it one with a value that can't be."""
    stated = dump.settings.stated.get(path)
    if stated is not None and stated.origin is Origin.DUMP:
        return True
    return any(trouble.path == path for trouble in dump.settings.troubles)
