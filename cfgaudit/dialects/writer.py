"""Writes settings in a dialect, read back first; what two versions call one setting."""

from collections import ChainMap
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from cfgaudit.dialects.collect import goal_of, plain_value
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.placing import (
    ListWriter,
    MappedLine,
    Placed,
    Placer,
    filled,
    fits,
    kind_of,
    lines_of,
    on_off_of,
)
from cfgaudit.dialects.reader import Reader
from cfgaudit.dialects.template import CannotWrite
from cfgaudit.reading.document import read_document
from cfgaudit.reading.shapes import Look, Opener, Section
from cfgaudit.settings import Origin, Settings, Stated, TroubleKind
from cfgaudit.vocabulary.kinds import BadValue, Filters, SwitchRanges, Value, is_older
from cfgaudit.vocabulary.paths import declared_with_holes, vocabulary

_RANKS: dict[object, int] = {
    Opener: 0,
    Section: 2,
}  # groups between: a block after one would be taken for its own


def write_settings(
    dialect: Dialect,
    values: Mapping[str, Value],
    version: tuple[int, ...] = (),
    known: Settings | None = None,
) -> str:
    """The lines of the dialect that state these values, context lines included.

    A line that states several settings takes those not given from `known`. Raises CannotWrite
    where the dialect can't say a value: what is given out was read back and found equal, and
    states nothing else anew.
    """
    return SettingsWriter(dialect, version, known or Settings()).write(values)


class SettingsWriter:
    """Writes one lot of settings after another beside what a dump states."""

    def __init__(self, dialect: Dialect, version: tuple[int, ...], known: Settings) -> None:
        self._dialect, self._version = dialect, version
        self._placer = Placer(dialect, version, on_off_of(known))
        self._before = {path: e.value for path, e in known.stated.items() if not e.doubt}
        self._counts = {p: len(v) for p, v in self._before.items() if isinstance(v, tuple)}

    def write(self, values: Mapping[str, Value]) -> str:
        """As write_settings does. Raises CannotWrite."""
        text = laid_out(self._placed(values), self._dialect.look)
        _check(values, self._before, _read_back(self._dialect, text, self._version))
        return text

    def _placed(self, values: Mapping[str, Value]) -> list[Placed]:
        """The lines of every value; a line that states two of them comes twice."""
        stock = ChainMap(dict(values), self._before)
        lists = ListWriter(self._placer, stock, self._counts)
        found: list[Placed] = []
        for path, value in values.items():
            kind = kind_of(path)
            if self._dialect.keys_are_paths:
                found.append(Placed((), f"{path} = {kind.spell(value)}"))
            elif isinstance(kind, SwitchRanges | Filters) and isinstance(value, tuple):
                found += lists.lines(path, value)
            else:
                found.append(self._placer.place(path, stock))
        return found


def laid_out(placed: Iterable[Placed], look: Look) -> str:
    """Lines as text, each once, those of one context together under its context lines."""
    block = ContextLines()
    for line in dict.fromkeys(placed):
        block.add(line)
    return "\n".join([*block.text(look), ""])


def _read_back(dialect: Dialect, text: str, version: tuple[int, ...]) -> Settings:
    document = read_document("written", text.encode("utf-8", "surrogatepass"), dialect.look)
    return Reader(document, dialect, version).settings()


def _check(values: Mapping[str, Value], before: Mapping[str, Value], found: Settings) -> None:
    """Raises CannotWrite where the lines state less, more or something else than asked for."""
    for trouble in found.troubles:
        if trouble.kind is not TroubleKind.TRUNCATED:  # an end mark is not promised here
            raise CannotWrite(f"the line for it reads back with trouble: {trouble.message}")
    for again, first in found.repeats:
        if again.value != first.value:
            raise CannotWrite(f"{again.path} would be said twice")
    if found.raw:
        raise CannotWrite(f"the line for it reads back as an unknown one: {next(iter(found.raw))}")
    dumped = {p: s for p, s in found.stated.items() if s.origin is Origin.DUMP}
    for path, value in values.items():
        back = dumped.get(path)
        if back is None or not _same(back.value, value):
            raise CannotWrite(f"{path} reads back as {_shown(back)}, not {_text(path, value)}")
    for path, stated in dumped.items():
        if path not in values and not (path in before and _same(before[path], stated.value)):
            raise CannotWrite(f"the line for it would also say {path} = {_shown(stated)}")


def _same(one: Value, other: Value) -> bool:
    return one == other and isinstance(one, bool) is isinstance(other, bool)


def _shown(stated: Stated | None) -> str:
    return _text(stated.path, stated.value) if stated else "nothing"


def _text(path: str, value: Value) -> str:
    return kind_of(path).spell(value)


@dataclass
class ContextLines:
    """The lines under one context line, and the contexts that open inside of it."""

    lines: list[str] = field(default_factory=list)
    inner: dict[tuple[type, str], "ContextLines"] = field(default_factory=dict)

    def add(self, placed: Placed) -> None:
        """Add a line under its context lines."""
        block = self
        for head in placed.chain:
            block = block.inner.setdefault(head, ContextLines())
        block.lines.append(placed.text)

    def text(self, look: Look) -> list[str]:
        """All lines: a context's own first, then blocks, groups and sections inside of it."""
        found = list(self.lines)
        inner = sorted(self.inner.items(), key=lambda item: _RANKS.get(item[0][0], 1))
        for (form, head), block in inner:
            found += [head, *block.text(look)]
            if form is Opener:
                found.append(closing(head, look))
        return found


def closing(head: str, look: Look) -> str:
    """The line that ends a block, by the line that begins it."""
    word, _, name = head.partition(" ")
    if head.endswith("{"):
        return "}"
    if word in look.opens:
        at = look.opens.index(word)
        return look.closes[min(at, len(look.closes) - 1)] if look.closes else "end"
    return f"end {name}".rstrip()


def mapped_paths(dialect: Dialect) -> frozenset[str]:
    """The patterns of the vocabulary that the dialect's lines can state."""
    if dialect.keys_are_paths:
        return frozenset(entry.pattern for entry in vocabulary())
    found: set[str] = set()
    for line in lines_of(dialect.root):
        for holder in (*line.template.holders, *line.template.constants):
            if not holder.is_index:
                found.add(pattern_of(holder.target))
    return frozenset(found - {""})


def pattern_of(target: str) -> str:
    """The pattern of the setting that a placeholder states, or a part of; or nothing."""
    goal = goal_of(target, declared_with_holes)
    return "" if goal is None else goal.declared.pattern


def renamed_between(dialect: Dialect, old: tuple[int, ...], new: tuple[int, ...]) -> dict[str, str]:
    """Old key to new key, for a change of firmware from one version to another.

    Empty where either version is not known. Taken backwards, the names go back.
    """
    then, now = _names(dialect, old), _names(dialect, new)
    today = {**{name: name for name in then}, **{name: name for name in now}}
    return {
        then.get(name, name): now.get(name, name)
        for name in today
        if old and new and then.get(name, name) != now.get(name, name)
    }


def _names(dialect: Dialect, version: tuple[int, ...]) -> dict[str, str]:
    """Today's key to the key of a version, the oldest that fits."""
    found: dict[str, str] = {}
    for variation in sorted(dialect.variations, key=lambda entry: entry.before, reverse=True):
        if version and is_older(version, variation.before):
            found.update(variation.renames)
    return found


def old_names(dialect: Dialect, old: tuple[int, ...], new: tuple[int, ...]) -> dict[str, str]:
    """For the pattern of each path whose key is another now: the key of the old version."""
    renamed = {now: then for then, now in renamed_between(dialect, old, new).items()}
    names_now = _names(dialect, new)
    found: dict[str, str] = {}
    for line in lines_of(dialect.root) if renamed else ():
        key = names_now.get(line.template.head, line.template.head)
        if key in renamed:
            for holder in (*line.template.constants, *line.template.holders):
                if not holder.is_index:
                    found[pattern_of(holder.target)] = renamed[key]
    return found


def unsaid(dialect: Dialect, paths: Iterable[str], settings: Settings) -> frozenset[str]:
    """Those of the paths whose every line would also state something that is not so.

    A line such as `voice {telemetry.protocol} {telemetry.enabled = on}` is not written where
    telemetry is off; the protocol may yet be in force, and is not retired.
    """
    missing = [path for path in paths if path not in settings]
    lines = [line for line in lines_of(dialect.root) if line.template.constants] if missing else []
    return frozenset(path for path in missing if _silenced(path, lines, settings))


def _silenced(path: str, lines: Iterable[MappedLine], settings: Settings) -> bool:
    return any(
        _contradicted(line, binds, settings) for line in lines for binds in _bindings(line, path)
    )


def _bindings(line: MappedLine, path: str) -> Iterator[dict[str, str]]:
    """What the indices of a line are where one of its placeholders is the path."""
    for holder in line.template.holders:
        binds = None if holder.is_index else fits(holder.target, path, line.indices)
        if binds is not None:
            yield binds


def _contradicted(line: MappedLine, binds: dict[str, str], settings: Settings) -> bool:
    """Whether the line would state a constant that the settings state otherwise."""
    for holder in line.template.constants:
        stated = settings.stated.get(filled(holder.target, binds))
        try:
            if stated and stated.value != plain_value(stated.path, holder.constant or ""):
                return True
        except BadValue:
            continue  # the dialect's own fault, told where the line is read
    return False
