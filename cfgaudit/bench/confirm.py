"""Whether what was written took: each intended setting against what the craft reads back."""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

from cfgaudit.bench.steps import Step, is_rounded, is_stopped_short, limit_reached, steps_of
from cfgaudit.changes.meaning import meaning
from cfgaudit.changes.model import natural
from cfgaudit.craft.kinds import Kind, value_text
from cfgaudit.craft.settings import Origin, Raw, Settings, Stated
from cfgaudit.craft.versions import version_numbers
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.plain import path_order, stated_text
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.dialects.renames import old_names, renamed_between
from cfgaudit.dialects.writer import mapped_paths
from cfgaudit.reading.place import Place
from cfgaudit.units import number_text


class Fate(StrEnum):
    """What became of an intended setting."""

    TAKEN = "taken"
    ROUNDED = "rounded"  # to the firmware's own step: no difference
    CLAMPED = "clamped"  # stopped at a limit on the way to the intended value
    IGNORED = "ignored"  # still what it was, or what the firmware comes with
    OTHER = "other"
    LACKING = "lacking"


TOOK = frozenset({Fate.TAKEN, Fate.ROUNDED})


class Confirmed(NamedTuple):
    """One intended setting: what became of it, and why that is said."""

    path: str  # or the dump's own key where `raw`
    fate: Fate
    intended: str
    found: str  # empty where nothing is read back
    why: str = ""
    renamed: str = ""  # the name it is read back under, where that is another one
    raw: bool = False
    intended_at: Place | None = None
    found_at: Place | None = None


class Confirmation(NamedTuple):
    """Every intended setting in order, and how many lines could not be compared."""

    entries: tuple[Confirmed, ...]
    uncompared: int

    @property
    def amiss(self) -> tuple[Confirmed, ...]:
        """What did not take."""
        return tuple(entry for entry in self.entries if entry.fate not in TOOK)


def confirm(intended: Opened, readback: Opened, before: Settings | None = None) -> Confirmation:
    """Hold each setting that one dump states against what another one reads back.

    `before` is what the craft had: with it, a setting that is still as it was is told from one
    that became something else.
    """
    entries = list(_mapped(intended, readback, before))
    shared = intended.dialect.name == readback.dialect.name
    raw = {key: entry for key, entry in intended.settings.raw.items() if not entry.volatile}
    if shared:
        entries += _raw(raw, intended, readback)
    return Confirmation(tuple(entries), 0 if shared else len(raw))


def _mapped(intended: Opened, readback: Opened, before: Settings | None) -> Iterator[Confirmed]:
    steps = steps_of(readback)
    patterns = mapped_paths(readback.dialect)
    names = _old_names(intended, readback)
    stated = intended.settings.stated
    for path in sorted(stated, key=path_order):
        entry = stated[path]
        known = declared(path)
        if known is None or known.traits.volatile or not _is_meant(entry):
            continue
        found = readback.settings.stated.get(path)
        old = _old_values(path, readback, before)
        fate, why = _fate(entry, found, old, steps.get(path, ()))
        if fate is Fate.LACKING and known.pattern not in patterns:
            why = f"{readback.dialect.name or 'this dump'} has no line for it"
        yield Confirmed(
            path,
            fate,
            stated_text(entry),
            stated_text(found) if found else "",
            why,
            names.get(known.pattern, "") if found and found.place else "",
            intended_at=entry.place,
            found_at=found.place if found else None,
        )


def _is_meant(entry: Stated) -> bool:
    """Whether somebody set it: no factory value, nothing that the firmware writes of itself."""
    if entry.origin is not Origin.DUMP or entry.volatile:
        return False
    return not entry.path.startswith(("firmware.", "board.name", "board.revision"))


def _old_values(path: str, readback: Opened, before: Settings | None) -> list[Stated]:
    """What the setting was before, and what the firmware comes with."""
    found = [before[path]] if before is not None and path in before else []
    value = readback.settings.factory.get(path)
    if value is not None:
        found.append(Stated(path, value, None, Origin.FACTORY))
    return found


def _fate(
    entry: Stated, found: Stated | None, old: Sequence[Stated], steps: Sequence[Step]
) -> tuple[Fate, str]:
    """What became of it, and the words for it."""
    if found is None:
        return Fate.LACKING, "not read back"
    kind = _kind(entry.path)
    if meaning(found.value) == meaning(entry.value) and not found.doubt:
        return Fate.TAKEN, "the factory value" if found.origin is Origin.FACTORY else ""
    if found.origin is Origin.FACTORY:
        return Fate.IGNORED, "not stated, so the factory value stands"
    step = is_rounded(entry.value, found.value, steps)
    if step is not None:
        unit = value_text(kind, 1.0).partition(" ")[2]
        return Fate.ROUNDED, f"the firmware's step is {number_text(step)} {unit}".rstrip()
    for was in old:
        if meaning(was.value) == meaning(found.value):
            whose = "the factory value" if was.origin is Origin.FACTORY else "what it was before"
            return Fate.IGNORED, f"still {whose}"
    limit = limit_reached(kind, entry.value, found.value)
    if limit:
        return Fate.CLAMPED, f"{limit} of this setting"
    if is_stopped_short(entry.value, found.value, old[0].value if old else None):
        if old:
            return Fate.CLAMPED, "stopped on the way, as at a limit of the firmware's own"
        return (
            Fate.CLAMPED,
            "a rounder number, perhaps a limit; --before tells if it is the old one",
        )
    return Fate.OTHER, ""


def _kind(path: str) -> Kind:
    known = declared(path)
    assert known is not None  # the caller looked
    return known.kind


def _versions(intended: Opened, readback: Opened) -> tuple[tuple[int, ...], tuple[int, ...]]:
    def of(opened: Opened) -> tuple[int, ...]:
        stated = opened.settings.stated.get("firmware.version")
        return version_numbers(str(stated.value)) if stated else ()

    return of(intended), of(readback)


def _old_names(intended: Opened, readback: Opened) -> dict[str, str]:
    """The name that a path's line has in the read-back dump, where it is another one."""
    if intended.dialect.name != readback.dialect.name:
        return {}
    old, new = _versions(intended, readback)
    now_of = renamed_between(readback.dialect, old, new)
    return {
        pattern: now_of[then]
        for pattern, then in old_names(readback.dialect, old, new).items()
        if then in now_of
    }


def _raw(raw: Mapping[str, Raw], intended: Opened, readback: Opened) -> Iterator[Confirmed]:
    """Lines that no mapping covers, by their text."""
    renames = raw_renames(raw, renamed_between(readback.dialect, *_versions(intended, readback)))
    for key in sorted(raw, key=natural):
        entry = raw[key]
        name = renames.get(key, key)
        found = readback.settings.raw.get(name)
        fate, why = Fate.TAKEN, ""
        if found is None:
            fate, why = Fate.LACKING, "not read back"
        elif found.value != entry.value:
            fate = Fate.OTHER
        yield Confirmed(
            key,
            fate,
            entry.value,
            found.value if found else "",
            why,
            name if found and name != key else "",
            raw=True,
            intended_at=entry.place,
            found_at=found.place if found else None,
        )
