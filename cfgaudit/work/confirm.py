"""Whether what was written took, to a firmware's own steps and limits."""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from fractions import Fraction
from itertools import chain
from typing import Final, NamedTuple, TypeGuard

from cfgaudit.changes.diff import meaning, natural
from cfgaudit.dialects.editor import LineChange, edit_dumps, line_changes
from cfgaudit.dialects.lines import kind_of, mapped_paths, old_names, renamed_between
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.plain import path_order, stated_text
from cfgaudit.dialects.raw import is_secret_path, raw_renames
from cfgaudit.dialects.reader import read
from cfgaudit.dialects.spec import CannotWrite, Spec, SpecForm, digits_of
from cfgaudit.physics.serial import STANDARD_BAUDS
from cfgaudit.reading.private import HIDDEN
from cfgaudit.reading.text import Place
from cfgaudit.settings import Origin, Raw, Settings, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.kinds import (
    Either,
    Filter,
    Int,
    Kind,
    Quantities,
    Quantity,
    SwitchRange,
    Value,
)
from cfgaudit.vocabulary.paths import declared, nearest
from cfgaudit.vocabulary.units import UnitError, convert, number_text


class CountStep(NamedTuple):
    """A number's step and where its count begins, in the vocabulary's unit, by element's part."""

    part: str  # empty for a setting with one number, or a list of plain ones
    size: Fraction
    start: Fraction


def steps_of(opened: Opened, like: Opened | None = None) -> dict[str, tuple[CountStep, ...]]:
    """The steps of every number that a dump states, by path; none for one written as it is.

    A number that is printed with a point steps by its last digit; how many digits there are is
    seen from all that are printed by the same line, also in a dump `like` it of that dialect.
    """
    dumps = [opened] if like is None or like.dialect.name != opened.dialect.name else [opened, like]
    marks, *others = (read(one.document, one.dialect).marks for one in dumps)
    digits: dict[tuple[str, Spec], int] = {}
    for mark in chain(marks, *others):
        line = _pattern(mark.path), mark.spec
        digits[line] = max(digits.get(line, 0), digits_of(mark.text) or 0)
    found: dict[str, dict[str, CountStep]] = {}
    for mark in marks:
        step = _step(mark.spec, mark.path, digits[_pattern(mark.path), mark.spec])
        if step is not None:
            goal = mark.target
            found.setdefault(goal.path, {})[goal.part] = CountStep(goal.part, *step)
    return {path: tuple(parts.values()) for path, parts in found.items()}


def _pattern(path: str) -> str:
    known = declared(path)
    return path if known is None else known.pattern


def _step(spec: Spec, path: str, digits: int) -> tuple[Fraction, Fraction] | None:
    """The size of a step and where the count begins."""
    if spec.form is not SpecForm.SCALED or spec.inexact:
        return None
    try:
        unit = kind_of(path).unit
        size, start = spec.scale / 10**digits, spec.offset
        if spec.unit and unit:
            size, start = convert(size, spec.unit, unit), convert(start, spec.unit, unit)
    except (CannotWrite, UnitError):
        return None
    return abs(size), start


def is_rounded(wanted: Value, found: Value, steps: Sequence[CountStep]) -> float | None:
    """The step that a value was rounded by, up or down; None where that explains nothing."""
    by_part = {step.part: step for step in steps}
    ours, others = _numbers(wanted), _numbers(found)
    if ours is None or others is None or len(ours) != len(others):
        return None
    largest: Fraction | None = None
    for (part, mine), (other, theirs) in zip(ours, others, strict=True):
        if part != other:
            return None
        if mine == theirs:
            continue
        step = by_part.get(part)
        if step is None or isinstance(mine, str) or isinstance(theirs, str):
            return None
        gap = Fraction(str(mine)) - step.start
        if gap % step.size == 0 or abs(Fraction(str(mine)) - Fraction(str(theirs))) >= step.size:
            return None
        largest = max(largest or step.size, step.size)
    return None if largest is None else float(largest)


def _numbers(value: Value) -> list[tuple[str, float | str]] | None:
    """A value's numbers with the part that each is; None for what has none."""
    if isinstance(value, bool | str | frozenset):
        return None
    if isinstance(value, int | float):
        return [("", value)]
    found: list[tuple[str, float | str]] = []
    for element in value:
        if isinstance(element, SwitchRange):
            found += [("on", str(element.channel)), ("low", element.low), ("high", element.high)]
        elif isinstance(element, Filter):
            found += [("is", element.kind), ("cutoff", element.cutoff), ("q", element.q)]
        else:
            found.append(("", element))
    return found


def limit_reached(kind: Kind, wanted: Value, found: Value) -> str:
    """Which of the vocabulary's limits a value was stopped at; or nothing."""
    bounds = kind.other if isinstance(kind, Either) else kind
    if not isinstance(bounds, Int | Quantity | Quantities):
        return ""
    if not (_is_number(wanted) and _is_number(found)):
        return ""
    if found == bounds.high and wanted > bounds.high:
        return "the highest value"
    return "the lowest value" if found == bounds.low and wanted < bounds.low else ""


def is_stopped_short(wanted: Value, found: Value, old: Value) -> bool:
    """Whether a number moved from the old value towards the intended one and not all the way."""
    if not (_is_number(wanted) and _is_number(found) and _is_number(old)):
        return False
    return min(old, wanted) < found < max(old, wanted)


def _is_number(value: Value) -> TypeGuard[int | float]:
    return isinstance(value, int | float) and not isinstance(value, bool)


class ReadBack(StrEnum):
    """What became of an intended setting."""

    TAKEN = "taken"
    ROUNDED = "rounded"  # to the firmware's own step: no difference
    CLAMPED = "clamped"  # stopped at a limit on the way to the intended value
    IGNORED = "ignored"  # still what it was, or what the firmware comes with
    OTHER = "other"
    LACKING = "lacking"


TOOK = frozenset({ReadBack.TAKEN, ReadBack.ROUNDED})


class Confirmed(NamedTuple):
    """One intended setting: what became of it, and why that is said."""

    path: str  # or the dump's own key where `raw`
    fate: ReadBack
    intended: str
    found: str  # empty where nothing is read back
    why: str = ""
    renamed: str = ""  # the name it is read back under, where that is another one
    raw: bool = False
    intended_at: Place | None = None
    found_at: Place | None = None


class Unconfirmed(NamedTuple):
    """A line of what is intended that states nothing to hold against anything: why, and where."""

    why: str
    place: Place | None = None


class Confirmation(NamedTuple):
    """Every intended setting in order, and how many lines could not be compared.

    `doubts` says why the read-back dump may not be whole, or of another craft; `unread` are the
    intended lines that could not be understood; `unmeant` counts the settings that nobody means to
    set: what the firmware writes of itself, and what was hidden.
    """

    entries: tuple[Confirmed, ...]
    uncompared: int
    unmeant: int
    doubts: tuple[str, ...] = ()
    unread: tuple[Unconfirmed, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether all that is intended was held against something, and that is not nothing."""
        return bool(self.entries) and not self.unread

    @property
    def amiss(self) -> tuple[Confirmed, ...]:
        """What did not take."""
        return tuple(entry for entry in self.entries if entry.fate not in TOOK)


class Again(NamedTuple):
    """Lines to type once more; what can't be said by path; lines without a neutral meaning."""

    changes: tuple[LineChange, ...] = ()
    refused: Mapping[str, str] = {}
    by_hand: tuple[str, ...] = ()


def confirm(intended: Opened, readback: Opened, before: Settings | None = None) -> Confirmation:
    """Hold each setting that one dump states against what another one reads back.

    `before` is what the craft had: with it, a setting that is still as it was is told from one
    that became something else.
    """
    entries = list(_mapped(intended, readback, before))
    shared = intended.dialect.name == readback.dialect.name
    stated = [one for one in intended.settings.stated.values() if one.origin is not Origin.FACTORY]
    own = sum(one.origin is Origin.DUMP for one in stated)
    # a few lines by themselves say nothing of the firmware, though their dialect does
    unmeant = len(stated) - len(entries) if own > len(entries) else 0
    raw = {key: entry for key, entry in intended.settings.raw.items() if not entry.volatile}
    if shared:
        entries += _raw(raw, intended, readback)
    unread = tuple(_unread(intended))
    misspelt = len(raw) if intended.dialect.keys_are_paths else 0
    return Confirmation(
        tuple(entries),
        0 if shared else len(raw) - misspelt,
        unmeant,
        tuple(_doubts(intended, readback, before)),
        unread,
    )


_NOT_READ = frozenset([TroubleKind.UNREAD, TroubleKind.IMPOSSIBLE, TroubleKind.NOT_LISTED])


def _unread(intended: Opened) -> Iterator[Unconfirmed]:
    """Each intended line that nothing can be held against: misspelt, impossible, not to be read."""
    found: list[Unconfirmed] = []
    for trouble in intended.settings.troubles:
        if trouble.kind in _NOT_READ and trouble.place is not None:
            said = _said_of(trouble, intended)
            found.append(Unconfirmed(f"{trouble.path}: {said}" if trouble.path else said,
                                     trouble.place))  # fmt: skip
    if intended.dialect.keys_are_paths:
        for key, raw in intended.settings.raw.items():
            near = nearest(key)
            hint = f"; did you mean {near[0]}?" if near else ""
            found.append(Unconfirmed(f"{key} is no setting{hint}", raw.place))
    yield from sorted(found, key=lambda one: one.place.line if one.place else 0)


def _said_of(trouble: Trouble, opened: Opened) -> str:
    """What is wrong with a value, without the value where that is private."""
    hidden = trouble.secret or is_secret_path(trouble.path, opened.dialect.secret)
    return "its value is none for it" if hidden else trouble.message


# By what two dumps show that they are of one craft; a firmware may be another one by now.
_WHOSE: Final = ("craft.name", "craft.serial", "board.name", "firmware.name")


def _doubts(intended: Opened, readback: Opened, before: Settings | None) -> Iterator[str]:
    """Why the dump read back may not be whole, or not of the craft that was meant."""
    for trouble in readback.settings.troubles:
        if trouble.kind is TroubleKind.TRUNCATED:
            yield f"{trouble.message}: what is lacking may be behind it"
    unread = sum(fact.unread for fact in readback.settings.dumps)
    if unread:
        yield f"{unread} of its lines can't be read"
    for path in _WHOSE:
        found = readback.settings.stated.get(path)
        meant, whose = intended.settings.stated.get(path), "was meant to be"
        if meant is None and before is not None:  # what is meant may be a new name
            meant, whose = before.stated.get(path), "was before"
        if meant is None or found is None or HIDDEN in meant.text or found.value == meant.value:
            continue
        known = declared(path)
        told = ""
        if known is not None and not (known.traits.secret or found.secret or meant.secret):
            told = f": {stated_text(found)}, and it {whose} {stated_text(meant)}"
        yield f"it may be of another craft, for {path} is another one{told}"


def again(intended: Opened, readback: Opened, outcome: Confirmation) -> Again:
    """What is to be typed once more: the lines that give the craft what did not take.

    What was clamped would be clamped again, so it is left out.
    """
    wanted = {
        entry.path: intended.settings[entry.path].value
        for entry in outcome.amiss
        if not entry.raw and entry.fate is not ReadBack.CLAMPED
    }
    after, refused = edit_dumps((readback,), wanted)
    document = intended.document
    lines = document.text.lines if document.look.parts else document.lines
    raw = intended.settings.raw  # a key that the dialect has nearly is mistyped: not once more
    by_hand = [
        lines[entry.intended_at.line - 1].strip()
        for entry in outcome.amiss
        if entry.raw and entry.intended_at is not None and not raw[entry.path].near
    ]
    return Again(line_changes((readback,), after), refused, tuple(by_hand))


def _mapped(intended: Opened, readback: Opened, before: Settings | None) -> Iterator[Confirmed]:
    steps = steps_of(readback, intended)
    bases = _bases(readback.settings)
    patterns = mapped_paths(readback.dialect)
    names = _old_names(intended, readback)
    doubted = {t.path: t for t in readback.settings.troubles if t.kind in _NOT_READ and t.path}
    stated = intended.settings.stated
    for path in sorted(stated, key=path_order):
        entry = stated[path]
        known = declared(path)
        if known is None or known.traits.volatile or not _is_meant(entry):
            continue
        found = readback.settings.stated.get(path)
        old = _old_values(path, readback, before)
        fate, why = _fate(entry, found, old, steps.get(path, ()), bases.get(path))
        there = found is not None and found.origin is not Origin.FACTORY
        unreadable = None if there else doubted.get(path)
        if unreadable is not None:
            fate, why = ReadBack.OTHER, _said_of(unreadable, readback)
        elif fate is ReadBack.LACKING and known.pattern not in patterns:
            why = f"{readback.dialect.name or 'this dump'} has no line for it"
        place = unreadable.place if unreadable is not None else None
        yield Confirmed(
            path,
            fate,
            stated_text(entry),
            "what can't be read" if unreadable else stated_text(found) if found else "",
            why,
            names.get(known.pattern, "") if found and found.place else "",
            intended_at=entry.place,
            found_at=place or (found.place if found else None),
        )


def _is_meant(entry: Stated) -> bool:
    """Whether somebody set it: no factory value, nothing that the firmware writes of itself, and
    nothing that was hidden, as what it was is not known.
    """
    if entry.origin is not Origin.DUMP or entry.volatile or HIDDEN in entry.text:
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
    entry: Stated,
    found: Stated | None,
    old: Sequence[Stated],
    steps: Sequence[CountStep],
    base: float | None,
) -> tuple[ReadBack, str]:
    """What became of it, and the words for it."""
    if found is None:
        return ReadBack.LACKING, "not read back"
    kind = _kind(entry.path)
    if meaning(found.value) == meaning(entry.value) and not found.doubt:
        return ReadBack.TAKEN, "the factory value" if found.origin is Origin.FACTORY else ""
    if found.origin is Origin.FACTORY:
        return ReadBack.IGNORED, "not stated, so the factory value stands"
    rounded = _rounded(entry, found, steps, base)
    if rounded:
        return ReadBack.ROUNDED, rounded
    for was in old:
        if meaning(was.value) == meaning(found.value):
            whose = "the factory value" if was.origin is Origin.FACTORY else "what it was before"
            return ReadBack.IGNORED, f"still {whose}"
    before = next((was.value for was in old if was.origin is not Origin.FACTORY), None)
    if before is None:  # without what it was nothing tells whether it moved at all
        return ReadBack.OTHER, "--before, with what it was, tells whether it was stopped on the way"
    limit = limit_reached(kind, entry.value, found.value)
    if limit:
        return ReadBack.CLAMPED, f"{limit} of this setting"
    if is_stopped_short(entry.value, found.value, before):
        return ReadBack.CLAMPED, "stopped on the way, as at a limit of the firmware's own"
    return ReadBack.OTHER, ""


def _rounded(entry: Stated, found: Stated, steps: Sequence[CountStep], base: float | None) -> str:
    """How a firmware rounds the intended value to what was found; empty where it does not."""
    step = is_rounded(entry.value, found.value, steps)
    if step is None:
        return _divided(entry.path, entry.value, found.value, base)
    unit = _kind(entry.path).spell(1.0).partition(" ")[2]
    return f"the firmware's step is {number_text(step)} {unit}".rstrip()


# What a firmware gets by dividing another of its rates by a whole number.
_DIVIDED: Final = {
    "loop.rate": "gyro.sample_rate", "esc.update_rate": "loop.rate", "flight_log.rate": "loop.rate",
}  # fmt: skip
_UART_NEAR: Final = 0.025  # a rate nearer than this still talks (common practice, half a bit in 20)
_SHOWN: Final = 0.5  # Hz: how far a divided rate is off when it is shown as a whole number


def _bases(settings: Settings) -> dict[str, float]:
    """The rate that each rate is a part of, as it was read back."""
    found = {}
    for path, base in _DIVIDED.items():
        stated = settings.stated.get(base)
        if stated is not None and isinstance(stated.value, int | float):
            found[path] = float(stated.value)
    return found


def _divided(path: str, wanted: Value, found: Value, base: float | None) -> str:
    """How a divider rounds a rate to another one; empty where none does."""
    if not (_is_number(wanted) and _is_number(found)):
        return ""
    if path.startswith("ports.") and ".baud" in path:
        is_near = abs(found - wanted) <= _UART_NEAR * wanted and found not in STANDARD_BAUDS
        return "as near as a whole divider of the port's clock comes" if is_near else ""
    if base is None or found <= 0 or wanted <= 0:
        return ""
    parts = round(base / found)
    if parts < 1 or abs(base / parts - found) > _SHOWN:
        return ""
    above = base / (parts - 1) if parts > 1 else float("inf")
    if not base / (parts + 1) < wanted < above:
        return ""  # another divider comes nearer
    return f"{_DIVIDED[path]} divided by {parts}"


def _kind(path: str) -> Kind:
    known = declared(path)
    assert known is not None  # the caller looked
    return known.kind


def _old_names(intended: Opened, readback: Opened) -> dict[str, str]:
    """The name that a path's line has in the read-back dump, where it is another one."""
    if intended.dialect.name != readback.dialect.name:
        return {}
    old, new = intended.settings, readback.settings
    now_of = renamed_between(readback.dialect, old, new)
    return {
        pattern: now_of[then]
        for pattern, then in old_names(readback.dialect, old, new).items()
        if then in now_of
    }


def _raw(raw: Mapping[str, Raw], intended: Opened, readback: Opened) -> Iterator[Confirmed]:
    """Lines that no mapping covers, by their text."""
    names = renamed_between(readback.dialect, intended.settings, readback.settings)
    renames = raw_renames(raw, names)
    for key in sorted(raw, key=natural):
        entry = raw[key]
        name = renames.get(key, key)
        found = readback.settings.raw.get(name)
        fate, why = ReadBack.TAKEN, ""
        if found is None:
            fate, why = ReadBack.LACKING, "not read back"
            why += f"; did you mean {entry.near}?" if entry.near else ""
        elif found.value != entry.value:
            fate = ReadBack.OTHER
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
