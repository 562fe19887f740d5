"""A club's own rules: a limit for a setting, written in a folder's settings file, as a Rule."""

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.declare import HIDDEN, Class
from cfgaudit.craft.kinds import unit_of, value_text
from cfgaudit.craft.settings import NotStated, Settings
from cfgaudit.craft.values import Value
from cfgaudit.reading.place import Place
from cfgaudit.rules.house_terms import Condition, holds, terms_text
from cfgaudit.rules.rule import Doc, Edit, Fires, Lacks, Level, Rule, Yielded

_UNIT_NAMES = {"%": "percent", "°": "deg"}


class HouseLimit(NamedTuple):
    """One house limit as its table says it; `place` is where the table stands."""

    wanted: Condition
    when: Condition | None
    level: Level
    because: str
    place: Place

    @property
    def id(self) -> str:
        """Made of the setting, the comparison and the condition, so it stays while values move."""
        words = [self.wanted.setting, self.wanted.word]
        if self.when is not None:
            words += ["when", self.when.setting, self.when.word]
            if not self.when.secret:
                words += self.when.texts()
        return "house/" + re.sub("[^a-z0-9]+", "-", " ".join(words).casefold()).strip("-")


def house_rule(limit: HouseLimit) -> Rule:
    """The rule that a house limit makes."""

    def check(craft: Craft) -> Iterator[Yielded]:
        paths = list(_members(limit.wanted, craft.settings))
        if not paths:
            yield Lacks(limit.wanted.setting)
        for path in paths:
            try:
                yield from _check_one(limit, path, craft.settings)
            except NotStated as lack:
                yield Lacks(lack.path)

    return Rule(limit.id, limit.level, _doc(limit), check)


def _doc(limit: HouseLimit) -> Doc:
    wanted = f"{limit.wanted.setting} is to be {terms_text(limit.wanted)}"
    condition = f", when {limit.when.setting} is {terms_text(limit.when)}" if limit.when else ""
    return Doc(
        f"A limit of this house: {wanted}{condition}.",
        _sentence(limit.because),
        _advice(limit, limit.wanted.setting),
        f"[[limit]] at {limit.place}.",
    )


def _sentence(text: str) -> str:
    text = " ".join(text.split())
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _advice(limit: HouseLimit, path: str) -> str:
    if limit.wanted.word == "stated":
        return f"State {path}."
    if limit.wanted.secret:
        return f"Set {path} {terms_text(limit.wanted)}."
    do = "Bring" if limit.wanted.declared.cls is Class.IDENTITY else "Set"
    return f"{do} {path} to {terms_text(limit.wanted)}."


def _members(wanted: Condition, settings: Settings) -> Iterator[str]:
    """The paths that a pattern stands for: a name that the dump knows for every index."""
    found = [""]
    indices = wanted.indices
    for number, word in enumerate(wanted.setting.split(".")):
        last = number == len(indices) - 1
        if not indices[number]:
            found = [f"{prefix}.{word}" if prefix else word for prefix in found]
            continue
        found = [
            f"{prefix}.{name}"
            for prefix in found
            for name, below in settings.below(prefix).items()
            if last or f"{prefix}.{name}" not in below  # a setting beside a group's members
        ]
    return (path for path in found if wanted.named(path) is not None)


def _check_one(limit: HouseLimit, path: str, settings: Settings) -> Iterator[Yielded]:
    wanted, when = limit.wanted, limit.when
    paths: tuple[str, ...] = (path,)
    figures: tuple[tuple[str, float], ...] = ()
    if when is not None:
        other = when.filled(wanted.named(path) or {})
        if not _is_so(when, other, settings):
            return
        paths += (other,)
        figures = tuple((f"when_{name}", n) for name, n in _figures(when, other, settings))
    if _is_so(wanted, path, settings):
        return
    yield Fires(
        f"{path} is {_told(wanted, path, settings)}; {_asked(limit)}.",
        paths,
        _figures(wanted, path, settings) + figures,
        _mend(wanted, path, settings),
        _advice(limit, path),
    )


def _is_so(condition: Condition, path: str, settings: Settings) -> bool:
    """Whether a condition holds. Raises NotStated where that can't be told."""
    if condition.word == "stated":
        try:
            return settings.need(path) != ""
        except NotStated:
            return False
    value = settings.need(path)
    found = None if condition.secret and value == HIDDEN else holds(condition, value)
    if found is None:  # `auto` is neither above nor below a number
        raise NotStated(path)
    return found


def _told(wanted: Condition, path: str, settings: Settings) -> str:
    if wanted.word == "stated":
        return "empty" if path in settings and settings[path].value == "" else "not stated"
    if wanted.secret:
        return "not as it should be"
    return wanted.spelled(settings.need(path))


def _asked(limit: HouseLimit) -> str:
    said = f"this house wants it {terms_text(limit.wanted)}"
    if limit.when is not None:
        said += f" when {limit.when.setting} is {terms_text(limit.when)}"
    return said


def _figures(condition: Condition, path: str, settings: Settings) -> tuple[tuple[str, float], ...]:
    """The numbers compared: the craft's own, then those of the limit."""
    if condition.secret or path not in settings:
        return ()
    unit = unit_of(condition.declared.kind)
    suffix = "".join("_" + _UNIT_NAMES.get(part, part) for part in re.split("/", unit) if part)
    leaf = path.rpartition(".")[2]
    leaf = "value" if leaf.isdigit() else leaf
    rows = [(leaf, settings[path].value)]
    rows += [(f"{leaf}_{condition.word}", value) for value in condition.values]
    return tuple(
        (f"{name}{suffix}".replace("-", "_").lower(), float(value))
        for name, value in rows
        if isinstance(value, int | float) and not isinstance(value, bool)
    )


def _mend(wanted: Condition, path: str, settings: Settings) -> tuple[Edit, ...]:
    """The limit itself, where one value is sure to clear it and can be set."""
    declared = wanted.declared
    value: Value | None = settings[path].value if path in settings else None
    single = wanted.word == "equals" or (
        wanted.word in ("at_most", "at_least") and isinstance(value, int | float)
    )
    if not single or declared.cls is Class.IDENTITY or wanted.secret:
        return ()
    return (Edit(path, value_text(declared.kind, wanted.values[0])),)


def clashes(limits: Sequence[HouseLimit]) -> Iterator[tuple[HouseLimit, HouseLimit]]:
    """Each limit that says for the same case what an earlier one says, and that earlier one."""
    seen: dict[str, HouseLimit] = {}
    for limit in limits:
        first = seen.setdefault(limit.id, limit)
        if first is not limit:
            yield limit, first
