"""Machine output, version 1: what the data of every command is made of."""

import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePath
from typing import Any, Final

from cfgaudit import __version__
from cfgaudit.reading.text import Place
from cfgaudit.reports.screen import named_in
from cfgaudit.rules.rule import Edit
from cfgaudit.settings import Raw, Stated
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Filter, SwitchRange, Value

VERSION: Final = 1


def head() -> dict[str, Any]:
    """What each output begins with: the version of its form, and who made it."""
    return {"version": VERSION, "tool": f"cfgaudit {__version__}"}


def from_top(file: str) -> PurePath:
    """A file as seen from the top of the repository that we stand in, else from this folder.

    That is what a forge takes the names of files from. One outside of it keeps its whole path.
    """
    here = Path.cwd()
    top = next((folder for folder in (here, *here.parents) if (folder / ".git").exists()), here)
    path = PurePath(os.path.normpath(here / file))
    return path.relative_to(top) if path.is_relative_to(top) else path


def dumped(data: object) -> str:
    """JSON text, the same for the same data, with a last newline. Only ASCII, so always safe."""
    import json  # a screen has no use for it

    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def called(data: Any, also: Mapping[str, str]) -> Any:
    """The data with a member `called` behind each `path` or `paths`.

    It holds, by name, what else the ports and pads in the texts of that object are called.
    """
    if isinstance(data, list):
        return [called(one, also) for one in data]
    if not isinstance(data, dict):
        return data
    made: dict[str, Any] = {}
    for key, value in data.items():
        made[key] = called(value, also)
        if key in ("path", "paths"):
            made["called"] = named_in(_texts(data.values()), also)
    return made


def _texts(values: Iterable[Any]) -> Iterator[str]:
    for value in values:
        if isinstance(value, str):
            yield value
        elif isinstance(value, list):
            yield from _texts(value)


def value_json(value: Value | SwitchRange | Filter) -> Any:
    """A value as JSON: lists of objects for structured ones, sorted lists for sets."""
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, SwitchRange):
        return {"channel": value.channel, "low": value.low, "high": value.high}
    if isinstance(value, Filter):
        return {"kind": value.kind, "cutoff": value.cutoff, "q": value.q}
    if isinstance(value, tuple):
        return [value_json(element) for element in value]
    return value


def entry_json(entry: Stated | Raw | None) -> Any:
    """The value of a setting or a line; null where there is none."""
    return None if entry is None else value_json(entry.value)


def place_json(place: Place | None) -> dict[str, Any] | None:
    """A place; null where it stands nowhere."""
    if place is None:
        return None
    return {"file": place.file, "line": place.line, "column": place.column}


def spot_json(place: Place | None) -> dict[str, Any]:
    """The members `file` and `line` of what stands somewhere, both null where it does not."""
    return {"file": place and place.file, "line": place and place.line}


def class_json(cls: Class | None) -> str | None:
    """What a setting touches; null where the vocabulary does not know it."""
    return cls.name.lower() if cls is not None else None


def edits_json(edits: Iterable[Edit]) -> list[dict[str, Any]]:
    """New values of settings."""
    return [{"path": edit.path, "value": edit.value} for edit in edits]
