"""What a folder's settings file says of the audit: limits moved, rules of its own, waivers."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from math import isfinite
from typing import Any, NamedTuple

from cfgaudit.audit.plugins import Plugins
from cfgaudit.audit.waivers import RULES as WAIVER_RULES
from cfgaudit.audit.waivers import Waiver
from cfgaudit.cli import InputError, did_you_mean
from cfgaudit.cli.folder import FolderTables
from cfgaudit.reading.toml import Key
from cfgaudit.rules.book import every_rule
from cfgaudit.rules.house import (
    COMPARISONS,
    Condition,
    HouseLimit,
    Others,
    TermsError,
    clashes,
    compared_with,
    condition,
    house_rule,
    related,
)
from cfgaudit.rules.rule import Level, LimitError, Limits, Rule, moved, usual_limits
from cfgaudit.vocabulary.paths import declared_anywhere, nearest
from cfgaudit.vocabulary.units import number_text

_LIMIT_KEYS = ("setting", *COMPARISONS, "when", "level", "because")
_WHEN_KEYS = ("setting", *COMPARISONS)
_OTHER_KEYS = ("setting", "sum", "times")
_WAIVER_KEYS = ("rule", "at", "craft", "because", "until")
_MARKS = {"limits": "[limits]", "limit": "[[limit]]", "waive": "[[waive]]"}


class HouseRules(NamedTuple):
    """A folder's say in the audit."""

    limits: Limits  # all of them, some moved
    rules: tuple[Rule, ...]  # to run behind the book
    waivers: tuple[Waiver, ...]


def read_house(house: FolderTables, plugins: Plugins) -> HouseRules:
    """Understand the tables. Raises InputError, with file and line, for the first fault.

    A waiver may be of a plug-in's rule, also where that plug-in had to be left out.
    """
    tables = _Tables(*house)
    limits = _limits(tables)
    own = _house_limits(tables)
    rules = tuple(house_rule(limit) for limit in own)
    known = [rule.id for rule in (*every_rule(), *plugins.rules, *rules)]
    absent = {entry.area for entry in plugins.left_out}
    return HouseRules(limits, rules, tuple(_waivers(tables, known, absent)))


class _Tables(FolderTables):
    """The tables of one file, as they are understood one by one."""

    def table(self, name: str) -> Mapping[str, Any]:
        """The table of this name, perhaps empty."""
        found = self.tables.get(name, {})
        if not isinstance(found, dict):
            self.refuse((name,), f"{_MARKS[name]} must be one table{self._meant(name)}")
        return found

    def entries(self, name: str, keys: Iterable[str]) -> Iterator[tuple[Key, Mapping[str, Any]]]:
        """The tables of an array of tables, each with its path, holding no other keys."""
        found = self.tables.get(name, [])
        if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
            self.refuse((name,), f"{_MARKS[name]} is expected, in two brackets{self._meant(name)}")
        for number, entry in enumerate(found):
            at = (name, number)
            self.only(entry, at, keys, _MARKS[name])
            yield at, entry

    def _meant(self, name: str) -> str:
        """A word on the two tables whose names are alike."""
        if name not in ("limits", "limit"):
            return ""
        return "; [limits] moves limits of the rule book, each [[limit]] is a rule of your own"

    def only(self, entry: Mapping[str, Any], at: Key, keys: Iterable[str], where: str) -> None:
        known = tuple(keys)
        for key in entry:
            if key not in known:
                hint = did_you_mean(key, known, start="; did") or f"; it holds {', '.join(known)}"
                self.refuse((*at, key), f"{key} is no key of {where}{hint}")

    def needed(self, entry: Mapping[str, Any], at: Key, key: str, example: str) -> str:
        """A text that must be there."""
        found = entry.get(key, "")
        if not isinstance(found, str) or not found.strip():
            what = f"{_MARKS[str(at[0])]} wants" if len(at) == 2 else f"{at[-1]} wants"
            self.refuse((*at, key), f"{what} {key} = {example}")
        return found

    def optional(self, entry: Mapping[str, Any], at: Key, key: str) -> str:
        """A text that may be there."""
        found = entry.get(key, "")
        if not isinstance(found, str) or (key in entry and not found.strip()):
            self.refuse((*at, key), f"{key} must be a text")
        return found


def _limits(tables: _Tables) -> Limits:
    """The limits of the rule book, with those of [limits] moved."""
    limits = usual_limits()
    done: set[str] = set()
    for path, value in _leaves(tables.table("limits"), ("limits",)):
        name = ".".join(str(word) for word in path[1:])
        if name in done:
            tables.refuse(path, f"{name} is moved twice")
        done.add(name)
        known = limits.get(name)
        unit = known.unit if known is not None else ""
        bare = isinstance(value, int | float) and not isinstance(value, bool)
        text = number_text(value) if bare else value
        if known is not None and (not isinstance(text, str) or (unit and _is_bare(text))):
            wanted = f'"{number_text(known.value)} {unit}"' if unit else number_text(known.value)
            tables.refuse(path, f"{name} wants a number with its unit, such as {wanted}")
        try:
            limits = moved(limits, {name: str(text)}, str(tables.place(path)))
        except LimitError as error:
            tables.refuse(path, str(error))
    return limits


def _leaves(table: Mapping[str, Any], above: Key) -> Iterator[tuple[Key, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield (*above, key), value


def _is_bare(text: str) -> bool:
    """Whether a text is a number without a unit."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def _house_limits(tables: _Tables) -> list[HouseLimit]:
    found = [_house_limit(tables, at, entry) for at, entry in tables.entries("limit", _LIMIT_KEYS)]
    for limit, first in clashes(found):
        raise InputError(f"{limit.place}: {limit.id} is said already, at {first.place}")
    return found


def _house_limit(tables: _Tables, at: Key, entry: Mapping[str, Any]) -> HouseLimit:
    wanted = _condition(tables, at, entry)
    when = None
    if "when" in entry:
        asked = entry["when"]
        path = (*at, "when")
        if not isinstance(asked, dict):
            example = 'when = { setting = "battery.chemistry", equals = "lipo" }'
            tables.refuse(path, f"when must be a table such as {example}")
        tables.only(asked, path, _WHEN_KEYS, "when")
        when = _condition(tables, path, asked)
        if when.others is not None:
            tables.refuse((*path, when.word), f"{when.word} wants a value here, no other setting")
        try:
            related(wanted, when)
        except TermsError as error:
            tables.refuse((*path, error.key), str(error))
    level = entry.get("level", "warning")
    if level not in list(Level):
        tables.refuse((*at, "level"), f"level must be {', '.join(Level)}")
    because = tables.needed(entry, at, "because", '"the reason, in a sentence"')
    return HouseLimit(wanted, when, Level(level), because, tables.place(at))


def _condition(tables: _Tables, at: Key, entry: Mapping[str, Any]) -> Condition:
    """A setting and its one comparison."""
    setting = tables.needed(entry, at, "setting", '"a neutral path", such as "home.ceiling"')
    words = [word for word in entry if word in COMPARISONS]
    if not words:
        tables.refuse(at, f"{setting}: one comparison is expected: {', '.join(COMPARISONS)}")
    word = words[0]
    if len(words) > 1:
        tables.refuse((*at, words[1]), f"{setting}: {word} and {words[1]} are one too many")
    try:
        if isinstance(entry[word], dict):
            return compared_with(setting, word, _others(tables, (*at, word), entry[word]))
        return condition(setting, word, _texts(tables, (*at, word), entry[word]))
    except TermsError as error:
        tables.refuse((*at, error.key), str(error))


def _others(tables: _Tables, path: Key, value: Mapping[str, Any]) -> Others:
    """Other settings that make a limit: `{ setting = A, times = 0.8 }` or `{ sum = [A, B] }`."""
    tables.only(value, path, _OTHER_KEYS, str(path[-1]))
    named = value.get("sum", [value.get("setting")])
    if ("sum" in value) == ("setting" in value) or not isinstance(named, list) or not named:
        tables.refuse(path, f'{path[-1]} wants {{ setting = "PATH" }} or {{ sum = ["PATH", ...] }}')
    times = value.get("times", 1)
    if not all(isinstance(name, str) and name for name in named):
        tables.refuse(path, f"{path[-1]} wants settings by their paths, in quotes")
    if isinstance(times, bool) or not isinstance(times, int | float) or not isfinite(times):
        tables.refuse((*path, "times"), "times must be a number, as 0.8")
    return Others(tuple(named), float(times))


def _texts(tables: _Tables, path: Key, value: object) -> list[str]:
    """The values of a comparison as texts in the plain form's spelling."""
    word = path[-1]
    if word == "stated":
        if value is not True:
            tables.refuse(path, "stated can only be true: leave it out where it need not be stated")
        return []
    if word == "one_of" and (not isinstance(value, list) or not value):
        tables.refuse(path, 'one_of wants a list of values, such as ["4", "6"]')
    members = value if word == "one_of" and isinstance(value, list) else [value]
    texts: list[str] = []
    for member in members:
        if isinstance(member, bool):
            texts.append("on" if member else "off")
        elif isinstance(member, int | float):
            texts.append(number_text(member))
        elif isinstance(member, str) and member.strip():
            texts.append(member)
        else:
            tables.refuse(path, f'{word} wants a value in quotes, with its unit, such as "120 m"')
    return texts


def _waivers(tables: _Tables, known: Sequence[str], absent: Collection[str]) -> Iterator[Waiver]:
    """The waivers of rules that are known, or would be if their area's plug-in were whole."""
    for at, entry in tables.entries("waive", _WAIVER_KEYS):
        rule_id = tables.needed(entry, at, "rule", '"the id of a rule"')
        if rule_id in [rule.id for rule in WAIVER_RULES]:
            tables.refuse((*at, "rule"), f"{rule_id} can't be waived: it watches over the waivers")
        if rule_id not in known and rule_id.partition("/")[0] not in absent:
            hint = did_you_mean(rule_id, known, start="; did")
            tables.refuse((*at, "rule"), f"there is no rule {rule_id!r}{hint}")
        path = tables.optional(entry, at, "at")
        if path and declared_anywhere(path) is None:
            near = nearest(path)
            hint = f"; did you mean {near[0]}?" if near else ""
            tables.refuse((*at, "at"), f"there is no setting {path!r}{hint}")
        yield Waiver(
            rule_id,
            tables.needed(entry, at, "because", '"the reason, in a sentence"'),
            _until(tables, at, entry),
            tables.place(at),
            path,
            tables.optional(entry, at, "craft"),
        )


def _until(tables: _Tables, at: Key, entry: Mapping[str, Any]) -> date:
    found = entry.get("until")
    if isinstance(found, datetime) or not isinstance(found, date):
        tables.refuse((*at, "until"), "[[waive]] wants until = a day without quotes, as 2026-12-31")
    return found
