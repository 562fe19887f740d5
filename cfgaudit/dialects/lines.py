"""What a dialect can say: its mapping lines, the settings that they state, and their old names."""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache

from cfgaudit.dialects.collect import goal_of, plain_value
from cfgaudit.dialects.dialect import Dialect, MappedLine
from cfgaudit.dialects.line_reader import PATH_STEPS, resolved
from cfgaudit.dialects.reader import Reading
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.kinds import BadValue, Kind, Value, version_numbers
from cfgaudit.vocabulary.paths import declared_with_holes, vocabulary


def idle_lines(dialect: Dialect, readings: Sequence[Reading]) -> list[str]:
    """The mapping lines that read nothing in any of the dumps, as the dialect has them.

    One that is another way to say what some line did say (a switch's off beside its on) is none.
    """
    took = {id(entry.template) for reading in readings for entry in reading.statements}
    lines = dialect.lines
    said = {_goals(line) for line in lines if id(line.template) in took}
    return [
        " / ".join([*(part.line for part in line.chain), line.template.line])
        for line in lines
        if id(line.template) not in took and _goals(line) not in said
    ]


def _goals(line: MappedLine) -> frozenset[str]:
    return frozenset(holder.target for holder in line.targets)


def kind_of(target: str) -> Kind:
    """The kind of a setting, or of a part of one element. Raises CannotWrite."""
    goal = goal_of(target)
    if goal is None:
        raise CannotWrite(f"{target} is no setting of the vocabulary")
    return goal.kind


def fits(pattern: str, target: str, indices: frozenset[str]) -> dict[str, str] | None:
    """What the indices of a placeholder's path must be for it to be this target.

    >>> fits("ports.ID.baud", "ports.uart2.baud", frozenset({"ID"}))
    {'ID': 'uart2'}
    """
    wanted, given = PATH_STEPS.findall(pattern), PATH_STEPS.findall(target)
    if len(wanted) != len(given):
        return None
    binds: dict[str, str] = {}
    for word, step in zip(wanted, given, strict=True):
        if word in indices:
            if binds.setdefault(word, step) != step:
                return None
        elif word != step:
            return None
    return binds


def mapped_paths(dialect: Dialect) -> frozenset[str]:
    """The patterns of the vocabulary that the dialect's lines can state."""
    if dialect.keys_are_paths:
        return _every_path()
    targets = (holder.target for line in dialect.lines for holder in line.targets)
    return frozenset(map(pattern_of, targets)) - {""}


@cache
def _every_path() -> frozenset[str]:
    return frozenset(entry.pattern for entry in vocabulary())


@lru_cache(maxsize=4_000)
def pattern_of(target: str) -> str:
    """The pattern of the setting that a placeholder states, or a part of; or nothing."""
    goal = goal_of(target, declared_with_holes)
    return "" if goal is None else goal.declared.pattern


@lru_cache(maxsize=16)
def own_names(dialect: Dialect) -> Mapping[str, str]:
    """By our name of a port or pad the dialect's own word for it, where that is another."""
    found: dict[str, str] = {}
    for line in dialect.lines:
        groups = {holder.target.partition(".")[0] for holder in line.targets}
        if groups.isdisjoint(("ports", "pads")):
            continue
        for holder in line.holders:
            if holder.is_index and holder.spec.table:
                words = dialect.tables.words.get(holder.spec.table, {})
                found |= {ours: own for own, ours in words.items() if own != ours}
    return found


def _version_of(settings: Settings) -> tuple[int, ...]:
    stated = settings.stated.get("firmware.version")
    return version_numbers(str(stated.value)) if stated is not None else ()


def renamed_between(dialect: Dialect, old: Settings, new: Settings) -> dict[str, str]:
    """Old key to new key, for a change from one version of a firmware to another.

    Empty where either version is not known. Taken backwards, the names go back.
    """
    versions = _version_of(old), _version_of(new)
    then, now = map(dialect.keys_then, versions)
    return {
        then.get(name, name): now.get(name, name)
        for name in {**then, **now}
        if all(versions) and then.get(name, name) != now.get(name, name)
    }


def old_names(dialect: Dialect, old: Settings, new: Settings) -> dict[str, str]:
    """For the pattern of each path whose key is another now: the key of the old version."""
    renamed = {now: then for then, now in renamed_between(dialect, old, new).items()}
    names_now = dialect.keys_then(_version_of(new))
    found: dict[str, str] = {}
    for line in dialect.lines if renamed else ():
        key = names_now.get(line.template.head, line.template.head)
        if key in renamed:
            found |= {pattern_of(holder.target): renamed[key] for holder in line.targets}
    return found


def unsaid(dialect: Dialect, paths: Iterable[str], settings: Settings) -> frozenset[str]:
    """Those of the paths whose every line would also state something that is not so.

    A line such as `voice {telemetry.protocol} {telemetry.enabled = on}` is not written where
    telemetry is off; the protocol may yet be in force, and is not retired.
    """
    missing = [path for path in paths if path not in settings]
    lines = [line for line in dialect.lines if line.template.constants] if missing else []
    values = {path: stated.value for path, stated in settings.stated.items()}
    return frozenset(
        path
        for path in missing
        if any(
            binds is not None and _contradicted(line, binds, values)
            for line in lines
            for holder in line.template.values
            for binds in [fits(holder.target, path, line.indices)]
        )
    )


def _contradicted(line: MappedLine, binds: dict[str, str], values: Mapping[str, Value]) -> bool:
    """Whether the line would state a constant that is stated otherwise."""
    for holder in line.template.constants:
        path = resolved(holder.target, binds)
        try:
            if path in values and values[path] != plain_value(path, holder.constant or ""):
                return True
        except BadValue:
            continue  # the dialect's own fault, told where the line is read
    return False
