"""The whole of a firmware change: fates, where factory values came from, lines to bring back."""

from collections import Counter
from dataclasses import dataclass, replace

from cfgaudit.changes.bring_back import Lines, bring_back
from cfgaudit.changes.upgrade import Fate, Fated, Side, upgrade, wanted_back
from cfgaudit.craft.settings import Settings
from cfgaudit.craft.versions import version_numbers
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.dialects.renames import old_names, renamed_between
from cfgaudit.dialects.unsaid import unsaid

SECRET = "it is secret; --secrets writes it too"
TAKEN_OUT = "the old dump has no line for it that could be written"


@dataclass(frozen=True)
class Firmware:
    """What one side of the change ran, and how its factory values are known."""

    name: str
    version: str
    dump: str | None  # the dump of an untouched board
    recorded: int  # values that the dialect records
    known: int  # settings of which a factory value is known, by whichever


@dataclass(frozen=True)
class Upgrade:
    """What became of one craft's settings."""

    old: Firmware
    new: Firmware
    fates: tuple[Fated, ...]
    lines: Lines
    notes: tuple[str, ...] = ()

    def count(self, *fates: Fate) -> int:
        """How many settings have one of the fates."""
        counts = Counter(entry.fate for entry in self.fates)
        return sum(counts[fate] for fate in fates)

    @property
    def may_be_lost(self) -> int:
        """How many may have been lost, for all that is known."""
        return sum(entry.may_be_lost for entry in self.fates)


def review(
    old: Opened,
    new: Opened,
    old_factory: Opened | None = None,
    new_factory: Opened | None = None,
    *,
    hidden: frozenset[str] = frozenset(),
) -> Upgrade:
    """Look at one craft before and after; `hidden` paths are not written as lines.

    The own lines of two dialects are not compared: no two share their keys.
    """
    before = Side(old.settings, old_factory.settings if old_factory else None)
    after = Side(new.settings, new_factory.settings if new_factory else None)
    versions = _version(old.settings), _version(new.settings)
    one_dialect = old.dialect.name == new.dialect.name
    if not one_dialect:
        before, after = _without_own_lines(before), _without_own_lines(after)
    keys = renamed_between(new.dialect, *versions) if one_dialect else {}
    fates = upgrade(
        before,
        after,
        keys=raw_renames(before.raw, keys),
        names=old_names(new.dialect, *versions) if one_dialect else {},
        unsaid=unsaid(new.dialect, before.settings, new.settings),
    )
    back = wanted_back(fates)
    lines = bring_back([e for e in back if e.path not in hidden], old, new, versions[1])
    refused = tuple((entry.path, SECRET) for entry in back if entry.path in hidden)
    refused += tuple((e.path, TAKEN_OUT) for e in fates if e.may_be_lost and e.old is None)
    return Upgrade(
        _firmware(before, old_factory),
        _firmware(after, new_factory),
        fates,
        lines + Lines(refused=refused),
        tuple(_notes(old, new, old_factory, new_factory)),
    )


def _version(settings: Settings) -> tuple[int, ...]:
    return version_numbers(_said(settings, "firmware.version"))


def _said(settings: Settings, path: str) -> str:
    stated = settings.stated.get(path)
    return str(stated.value) if stated is not None else ""


def _without_own_lines(side: Side) -> Side:
    factory = None if side.factory is None else replace(side.factory, raw={})
    return Side(replace(side.settings, raw={}), factory)


def _firmware(side: Side, dump: Opened | None) -> Firmware:
    name, version = (_said(side.settings, f"firmware.{word}") for word in ("name", "version"))
    return Firmware(
        name,
        version,
        dump.document.name if dump else None,
        len(side.settings.factory),
        len(side.factory_entries()),
    )


def _notes(
    old: Opened, new: Opened, old_factory: Opened | None, new_factory: Opened | None
) -> list[str]:
    """What speaks against taking the dumps for what they were given as."""
    said: list[str] = []
    for path, what in (("craft.serial", "serial number"), ("craft.name", "name")):
        both = [_said(opened.settings, path) for opened in (old, new)]
        if all(both) and both[0] != both[1]:
            said.append(f"The two dumps have each its own {what}: they may be of two craft.")
    for dump, of in ((old_factory, old), (new_factory, new)):
        if dump is not None:
            said += _factory_notes(dump, of)
    if old.dialect.name != new.dialect.name:
        said.append(
            "The two dumps are of two dialects: their own lines, which have no neutral meaning, "
            "are not compared."
        )
    return said


def _factory_notes(dump: Opened, of: Opened) -> list[str]:
    for word in ("name", "version"):
        path = f"firmware.{word}"
        given, wanted = _said(dump.settings, path), _said(of.settings, path)
        if given != wanted:
            return [
                f"{dump.document.name} is of the firmware {_spoken(dump)}, but "
                f"{of.document.name} of {_spoken(of)}."
            ]
    return []


def _spoken(opened: Opened) -> str:
    words = (_said(opened.settings, f"firmware.{word}") for word in ("name", "version"))
    return " ".join(word for word in words if word) or "an unknown name"
