"""Rules from other installed packages: the entry-point group `cfgaudit.rules`.

An entry point's name is the area of all its rules, so no two packages' ids meet by chance; it
names a tuple of rules. Looking whether there is any costs about a millisecond; only where there
is one is importlib.metadata loaded, which takes twenty times as long.
"""

import os
import re
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from cfgaudit.rules.rule import Doc, Level, Rule

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint


GROUP = "cfgaudit.rules"
_HEAD = f"[{GROUP}]".encode()
_INSTALLED = (".dist-info", ".egg-info")


class PluginError(Exception):
    """Why a plug-in can't be used; the text says it in one line."""


class LeftOut(NamedTuple):
    """A plug-in that is not used. `area` is empty where the package's own list can't be read."""

    area: str
    package: str
    why: str


class Plugins(NamedTuple):
    """The rules of all plug-ins, in order of package and area, and what had to be left out."""

    rules: tuple[Rule, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    @property
    def single(self) -> tuple[Rule, ...]:
        """The rules over one craft."""
        return tuple(rule for rule in self.rules if not rule.fleet)

    @property
    def fleet(self) -> tuple[Rule, ...]:
        """The rules over several craft."""
        return tuple(rule for rule in self.rules if rule.fleet)


def plugins_here() -> Plugins:
    """The plug-ins that are installed here."""
    records = installed(sys.path)
    if not records:
        return Plugins()
    from cfgaudit.audit.waivers import RULES
    from cfgaudit.rules.book import every_rule

    areas = {rule.area for rule in (*every_rule(), *RULES)} | {"house"}
    return load_plugins(records, areas)


def installed(folders: Iterable[str]) -> list[str]:
    """The records of installed packages that offer rules; `folders` are those of sys.path.

    Folders that can't be read are passed over, and so are packages inside archives.
    """
    found: list[str] = []
    for folder in folders:
        try:
            with os.scandir(folder or ".") as entries:  # quicker than pathlib
                records = [entry.path for entry in entries if entry.name.endswith(_INSTALLED)]
        except OSError:
            continue
        found += [record for record in sorted(records) if _offers_rules(record)]
    return found


def _offers_rules(record: str) -> bool:
    try:
        with open(f"{record}/entry_points.txt", "rb", buffering=0) as file:  # noqa: PTH123 quicker
            return _HEAD in file.read()
    except OSError:
        return False


def load_plugins(records: Iterable[str], areas: Collection[str]) -> Plugins:
    """The rules that these packages offer. `areas` are taken already.

    Never raises for a plug-in's fault: one that has any is left out whole, and told of.
    """
    rules: list[Rule] = []
    owners: dict[str, str] = {}  # the package of each id
    left_out: list[LeftOut] = []
    for package, record in _by_package(records):
        try:
            entries = _entries(record)
        except PluginError as error:
            left_out.append(LeftOut("", package, str(error)))
            continue
        for entry in entries:
            try:
                made = _rules(entry, areas, owners)
            except PluginError as error:
                left_out.append(LeftOut(entry.name, package, str(error)))
            else:
                rules += made
                owners.update((rule.id, package) for rule in made)
    return Plugins(tuple(rules), tuple(left_out))


def _by_package(records: Iterable[str]) -> list[tuple[str, str]]:
    """Each package's name and record, in order; of two of one name, the first, as in imports."""
    found: dict[str, str] = {}
    for record in records:
        name = os.path.basename(record).rpartition(".")[0].partition("-")[0]  # noqa: PTH119
        found.setdefault(re.sub(r"[-_.]+", "-", name).lower(), record)
    return sorted(found.items())


def _entries(record: str) -> "list[EntryPoint]":
    from importlib.metadata import Distribution

    try:
        entries = Distribution.at(record).entry_points.select(group=GROUP)
        return sorted(entries, key=lambda entry: (entry.name, entry.value))
    except Exception as error:
        raise PluginError(f"its list of entry points can't be read ({_told(error)})") from None


def _rules(entry: "EntryPoint", areas: Collection[str], owners: dict[str, str]) -> tuple[Rule, ...]:
    """The rules of one entry point. Raises PluginError."""
    if not re.fullmatch("[a-z]+", entry.name):
        raise PluginError("an area of its own is expected for a name: small letters, nothing else")
    if entry.name in areas:
        raise PluginError(f"{entry.name} is an area of cfgaudit's own; take another name")
    try:
        offered = entry.load()
    except (Exception, SystemExit) as error:  # another's code: anything may happen in it
        raise PluginError(f"{entry.value} can't be imported ({_told(error)})") from None
    if not isinstance(offered, tuple | list) or isinstance(offered, Rule):
        raise PluginError(
            f"{entry.value} is of type {type(offered).__name__}; a tuple of rules is expected"
        )
    if not offered:
        raise PluginError(f"{entry.value} holds no rule")
    for fault in _faults(entry.name, offered, owners, entry.value):
        raise PluginError(fault)
    return tuple(offered)


def _faults(
    area: str, rules: Iterable[object], owners: Mapping[str, str], where: str
) -> Iterator[str]:
    """What is wrong with what an entry point offers; it may have been made without @rule."""
    seen: set[str] = set()
    for number, rule in enumerate(rules, start=1):
        if not isinstance(rule, Rule):
            yield (
                f"number {number} of {where} is of type {type(rule).__name__}; what @rule makes "
                "is expected"
            )
            continue
        yield from _rule_faults(area, rule)
        if rule.id in seen:
            yield f"the id {rule.id} is there twice"
        if rule.id in owners:
            yield f"the id {rule.id} is taken, by {owners[rule.id]}"
        seen.add(rule.id)


def _rule_faults(area: str, rule: Rule) -> Iterator[str]:
    fields: dict[str, Any] = rule._asdict()  # no more is known of them than that they are there
    if not isinstance(fields["id"], str) or not re.fullmatch(f"{area}/[a-z0-9-]+", rule.id):
        yield f"the id {rule.id} is not {area}/what-is-wrong"
    if not isinstance(fields["level"], Level):
        yield f"{rule.id}: the level {rule.level!r} is none of Level's"
    doc = fields["doc"] if isinstance(fields["doc"], Doc) else ("",)
    if not all(isinstance(part, str) and part.strip() for part in doc):
        yield f"{rule.id}: a text is expected in each part of its Doc"
    if not callable(fields["check"]):
        yield f"{rule.id}: its check is no function"
    if rule.limits:
        from cfgaudit.rules.rule import usual_limits

        for name in rule.limits:
            if name not in usual_limits():
                yield f"{rule.id}: there is no limit {name}"


def _told(error: BaseException) -> str:
    """An error in one line."""
    return " ".join(f"{type(error).__name__}: {error}".split())
