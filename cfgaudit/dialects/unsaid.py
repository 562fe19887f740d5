"""Settings that a dump can't state as it is: what goes unsaid where something is off."""

from collections.abc import Iterable, Iterator

from cfgaudit.craft.settings import Settings
from cfgaudit.craft.spelling import BadValue
from cfgaudit.dialects.collect import plain_value
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.placing import Line, filled, fits, lines_of


def unsaid(dialect: Dialect, paths: Iterable[str], settings: Settings) -> frozenset[str]:
    """Those of the paths whose every line would also state something that is not so.

    A line such as `voice {telemetry.protocol} {telemetry.enabled = on}` is not written where
    telemetry is off; the protocol may yet be in force, and is not retired.
    """
    missing = [path for path in paths if path not in settings]
    lines = [line for line in lines_of(dialect.root) if line.template.constants] if missing else []
    return frozenset(path for path in missing if _silenced(path, lines, settings))


def _silenced(path: str, lines: Iterable[Line], settings: Settings) -> bool:
    return any(
        _contradicted(line, binds, settings) for line in lines for binds in _bindings(line, path)
    )


def _bindings(line: Line, path: str) -> Iterator[dict[str, str]]:
    """What the indices of a line are where one of its placeholders is the path."""
    for holder in line.template.holders:
        binds = None if holder.is_index else fits(holder.target, path, line.indices)
        if binds is not None:
            yield binds


def _contradicted(line: Line, binds: dict[str, str], settings: Settings) -> bool:
    """Whether the line would state a constant that the settings state otherwise."""
    for holder in line.template.constants:
        stated = settings.stated.get(filled(holder.target, binds))
        try:
            if stated and stated.value != plain_value(stated.path, holder.constant or ""):
                return True
        except BadValue:
            continue  # the dialect's own fault, told where the line is read
    return False
