"""One craft before and after a change of firmware: each setting's fate, and lines to bring back."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

from cfgaudit.changes.diff import (
    Renamed,
    StatedOrRaw,
    Subject,
    diff,
    entry_meaning,
    sort_key,
    spelled,
    subject,
)
from cfgaudit.dialects.editor import TypedLines, edit, line_change, put_lines
from cfgaudit.dialects.edits import OwnLine
from cfgaudit.dialects.lines import old_names, renamed_between, unsaid
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.raw import raw_renames
from cfgaudit.dialects.writing import Placed
from cfgaudit.reading.document import Document, Statement
from cfgaudit.settings import Origin, Raw, Settings, Stated, TroubleKind
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import declared_anywhere


class Fate(StrEnum):
    """What became of a setting; the order is that of a report."""

    LOST = "lost"  # yours before, the factory's now
    UNTOLD = "untold"  # differs, and no factory value tells whose each side is
    CHANGED = "changed"  # now neither yours nor the factory's
    FOLLOWED = "followed"  # the factory's before and now, and the two differ
    HELD = "held"  # the factory's value moved, yours did not
    CARRIED = "carried"  # the same value under another name
    RESCALED = "rescaled"  # the same value in another unit, scale or word
    RETIRED = "retired"  # not in the new firmware
    NEW = "new"  # not in the old firmware
    MOVES = "moves"  # differs as it does by itself, and is not back at the factory's value
    KEPT = "kept"


_NO = "no "
RANK = {fate: rank for rank, fate in enumerate(Fate)}


@dataclass(frozen=True, slots=True)
class Fated(Subject):
    """One setting and its fate; None stands for what is not stated, or not known.

    `old_name` is what the old dump calls it, where that is another name; `guess` is True where
    only the likeness of names says so. `may_be_lost` holds of an untold one that may have been
    yours; its `old` is None where you may have taken out what is back now.
    """

    fate: Fate
    old: StatedOrRaw | None
    new: StatedOrRaw | None
    factory_old: StatedOrRaw | None
    factory_new: StatedOrRaw | None
    old_name: str = ""
    guess: bool = False
    may_be_lost: bool = False


@dataclass(frozen=True)
class Side:
    """The craft under one firmware: its settings, and what an untouched board would state.

    `factory` is the dump of an untouched board, where there is one; the values that the dialect
    records come behind it.
    """

    settings: Settings
    factory: Settings | None = None

    @cached_property
    def raw(self) -> dict[str, Raw]:
        """The dump's own keys, `no KEY` under that key."""
        return _switched(self.settings.raw)

    def factory_entries(self) -> dict[str, StatedOrRaw]:
        """What an untouched board has, by path or key, as far as it is known."""
        known: dict[str, StatedOrRaw] = {
            path: Stated(path, value, origin=Origin.FACTORY)
            for path, value in self.settings.factory.items()
        }
        if self.factory is not None:
            known.update(self.factory.stated)
            known.update(_switched(self.factory.raw))
        return {name: entry for name, entry in known.items() if not _of_firmware(name)}

    @cached_property
    def partial(self) -> bool:
        """Whether the dump leaves out what stands as the factory left it, as far as one sees.

        A whole dump may lack one or two of the values recorded: those of retired settings.
        """
        stand_in = sum(e.origin is Origin.FACTORY for e in self.settings.stated.values())
        return stand_in * 10 > len(self.settings.factory)

    @cached_property
    def tables(self) -> Counter[str]:
        """How many settings of each table the dump states, by the table's pattern."""
        known = map(declared_anywhere, self.settings.stated)
        return Counter(found.pattern for found in known if found is not None)

    @cached_property
    def heads(self) -> frozenset[str]:
        """The first words of the dump's own keys that have several."""
        return frozenset(key.partition(" ")[0] for key in self.raw if " " in key)

    def states(self, name: str) -> bool:
        """Whether the dump itself has a path or key."""
        stated = self.settings.stated.get(name)
        return name in self.raw or (stated is not None and stated.origin is not Origin.FACTORY)

    @cached_property
    def taken_out(self) -> frozenset[str]:
        """What the untouched board's dump has and this one lacks, one that has nearly all else."""
        if self.factory is None:
            return frozenset()
        untouched = {*self.factory.stated, *_switched(self.factory.raw)}
        lacks = frozenset(name for name in untouched if not self.states(name))
        return lacks if len(lacks) * 10 <= len(untouched) else frozenset()


def upgrade(
    old: Side,
    new: Side,
    *,
    keys: Mapping[str, str],
    names: Mapping[str, str],
    unsaid: frozenset[str] = frozenset(),
) -> tuple[Fated, ...]:
    """The fate of every setting but the firmware's own name, the gravest fate and class first.

    `keys` gives the new name of an old raw key, as the dialect knows it; `names` gives for the
    pattern of a path the key that the old firmware had for it, where the new one has another.
    `unsaid` paths are none that the new dump can state as it is; they may be in force.
    """
    tables = _Sides(old, new, old.factory_entries(), new.factory_entries(), unsaid)
    found = [
        *(tables.fated(path, path, names) for path in tables.paths()),
        *(tables.renamed(pair) for pair in tables.raw_pairs(keys)),
    ]
    return tuple(sorted(found, key=lambda entry: (RANK[entry.fate], sort_key(entry))))


def _of_firmware(name: str) -> bool:
    """Whether a path is about the firmware itself, which changes as a matter of course."""
    return name.startswith("firmware.")


@dataclass(frozen=True)
class _Sides:
    """Both sides, with the factory's values standing in where a dump leaves them out."""

    old: Side
    new: Side
    factory_old: Mapping[str, StatedOrRaw]
    factory_new: Mapping[str, StatedOrRaw]
    unsaid: frozenset[str]

    def paths(self) -> Iterator[str]:
        """Every path that either side states, or has from the factory."""
        known = (self.factory_old, self.factory_new)
        from_factory = (n for table in known for n, e in table.items() if isinstance(e, Stated))
        every = dict.fromkeys([*self.old.settings.stated, *self.new.settings.stated, *from_factory])
        return (path for path in every if not _of_firmware(path))

    def raw_pairs(self, keys: Mapping[str, str]) -> list[tuple[str, str, bool]]:
        """Every raw key as (old, new, guessed): the same twice where it was not renamed."""
        olds = _raw_keys(self.old, self.factory_old)
        news = _raw_keys(self.new, self.factory_new)
        pairs = {was: (is_now, False) for was, is_now in keys.items() if is_now in news}
        taken = {name for name, _ in pairs.values()}
        for was, is_now in self._guessed(keys):
            if was not in pairs and is_now not in taken:
                pairs[was] = (is_now, True)
                taken.add(is_now)
        pairs = {was: pair for was, pair in pairs.items() if was in olds and was not in news}
        came_by_renaming = {is_now for is_now, _ in pairs.values()}
        found = [(was, *pairs.get(was, (was, False))) for was in olds]
        return found + [
            (key, key, False) for key in news if key not in olds and key not in came_by_renaming
        ]

    def _guessed(self, keys: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        """Keys that look renamed, in the craft's dumps or in those of two untouched boards."""
        pairs = [(self.old.raw, self.new.raw)]
        if self.old.factory is not None and self.new.factory is not None:
            pairs.append((_switched(self.old.factory.raw), _switched(self.new.factory.raw)))
        for before, after in pairs:
            for change in diff(Settings(raw=before), Settings(raw=after), keys):
                if isinstance(change, Renamed) and change.guess:
                    yield change.old_path, change.path
            yield from _in_one_place(before, after)

    def renamed(self, pair: tuple[str, str, bool]) -> Fated:
        """The fate of a raw key."""
        was, is_now, guess = pair
        fated = self.fated(was, is_now, {})
        return replace(fated, guess=guess) if guess else fated

    def fated(self, was: str, is_now: str, names: Mapping[str, str]) -> Fated:
        """The fate of one setting, by its names on both sides."""
        before = _held(self.old, was, self.factory_old)
        after = _held(self.new, is_now, self.factory_new)
        factory_now = self.factory_new.get(is_now)
        back = was in self.old.taken_out and self.new.states(is_now) and _same(after, factory_now)
        if back:
            before = None
        known = declared_anywhere(is_now)
        old_name = was if was != is_now else names.get(known.pattern if known else "", "")
        given = _Given(before, after, self.factory_old.get(was), factory_now, bool(old_name))
        stated = after or before
        assert stated is not None  # the name came from one of the tables
        about = subject(stated)
        silent = self.new.partial or is_now in self.unsaid
        fate = given.fate(silent or _has_siblings(is_now, self.new)) if not back else Fate.UNTOLD
        if about.volatile and fate in (Fate.UNTOLD, Fate.CHANGED):
            fate = Fate.MOVES
        return Fated(
            about.path, about.cls, about.craft_own, about.raw, about.volatile,
            fate, before, after, given.factory_old, given.factory_new, old_name,
            may_be_lost=fate is Fate.UNTOLD and given.yours is not False,
        )  # fmt: skip


def _in_one_place(before: Mapping[str, Raw], after: Mapping[str, Raw]) -> Iterator[tuple[str, str]]:
    """Keys that stand between the same two neighbours with the same value, one gone, one come."""
    places = [
        {(a, c): b for a, b, c in zip(keys, keys[1:], keys[2:], strict=False)}
        for keys in (list(before), list(after))
    ]
    for around, was in places[0].items():
        is_now = places[1].get(around, was)
        if was not in after and is_now not in before and before[was].value == after[is_now].value:
            yield was, is_now


def _raw_keys(side: Side, factory: Mapping[str, StatedOrRaw]) -> dict[str, None]:
    known = (key for key, entry in factory.items() if isinstance(entry, Raw))
    return dict.fromkeys([*side.raw, *known])


def _switched(raws: Mapping[str, Raw]) -> dict[str, Raw]:
    """Raw settings by key; a line that begins with `no` says no to the key behind that word."""
    found: dict[str, Raw] = {}
    for key, raw in raws.items():
        bare = key.removeprefix(_NO)
        denied = bare != key and bare not in raws
        found[bare if denied else key] = raw._replace(key=bare, value="no") if denied else raw
    return found


def _held(side: Side, name: str, factory: Mapping[str, StatedOrRaw]) -> StatedOrRaw | None:
    """What one side has under a name: what the dump states, else what the factory left."""
    stated = side.settings.stated.get(name)
    if stated is not None and (stated.origin is not Origin.FACTORY or name not in factory):
        return stated
    return side.raw.get(name) or factory.get(name)


def _has_siblings(name: str, side: Side) -> bool:
    """Whether the dump states others of a table that a name belongs to, as of other ports.

    Then the firmware still has that table, and what lacks in it was not retired.
    """
    known = declared_anywhere(name)
    if known is not None:
        if not any(word.isupper() for word in known.pattern.split(".")):
            return False
        return side.tables[known.pattern] > (name in side.settings.stated)
    head, blank, _ = name.partition(" ")
    return bool(blank) and head in side.heads


@dataclass(frozen=True)
class _Given:
    """What is known of one setting."""

    old: StatedOrRaw | None
    new: StatedOrRaw | None
    factory_old: StatedOrRaw | None
    factory_new: StatedOrRaw | None
    renamed: bool

    @property
    def yours(self) -> bool | None:
        """Whether the old value was not the factory's; None where that is not known."""
        return None if self.factory_old is None else not _same(self.old, self.factory_old)

    @property
    def factory_now(self) -> bool | None:
        """Whether the new value is the factory's; None where that is not known."""
        return None if self.factory_new is None else _same(self.new, self.factory_new)

    def fate(self, still_there: bool) -> Fate:
        """The one fate that fits. `still_there`: a setting that lacks may yet be in force."""
        if self.old is None:
            return Fate.NEW
        if self.new is None:
            return Fate.UNTOLD if still_there and self.yours is not False else Fate.RETIRED
        return self._if_same() if _same(self.old, self.new) else self._if_not()

    def _if_same(self) -> Fate:
        if self.factory_old and self.factory_new and not _same(self.factory_old, self.factory_new):
            return Fate.HELD
        if self.renamed:
            return Fate.CARRIED
        then, now = spelled(self.old), spelled(self.new)
        return Fate.RESCALED if then and now and then != now else Fate.KEPT

    def _if_not(self) -> Fate:
        if self.factory_now is False:
            return Fate.CHANGED
        if self.factory_now is None or self.yours is None:
            return Fate.UNTOLD
        return Fate.LOST if self.yours else Fate.FOLLOWED


def _same(one: StatedOrRaw | None, other: StatedOrRaw | None) -> bool:
    return entry_meaning(one) == entry_meaning(other)


def wanted_back(found: Iterable[Fated]) -> tuple[Fated, ...]:
    """What was lost, and what may have been, with a value to bring back."""
    lost = (entry for entry in found if entry.fate is Fate.LOST or entry.may_be_lost)
    return tuple(entry for entry in lost if entry.old is not None)


@dataclass(frozen=True)
class BroughtLines:
    """Lines of a dump; what they bring back, by path or key; what can't be written, and why.

    `unsaved` names the dialect that does not know how its firmware keeps what is typed.
    """

    text: str = ""
    brings: tuple[str, ...] = ()
    refused: tuple[tuple[str, str], ...] = ()
    unsaved: str = ""

    def __add__(self, other: "BroughtLines") -> "BroughtLines":
        return BroughtLines(
            self.text + other.text,
            self.brings + other.brings,
            self.refused + other.refused,
            self.unsaved or other.unsaved,
        )


def bring_back(lost: Iterable[Fated], old: Opened, new: Opened) -> BroughtLines:
    """Lines in the new dump's dialect that give lost settings their old values again.

    A line that states several settings takes the others as the new dump has them; what that
    does not state, as the old one had it.
    """
    entries = tuple(lost)
    values = {entry.path: entry.old.value for entry in entries if isinstance(entry.old, Stated)}
    beside = {path: stated.value for path, stated in old.settings.stated.items()}
    own: list[OwnLine] = []
    refused: dict[str, str] = {}
    at = {statement.line: statement for statement in old.document.statements}
    for entry in entries:
        if entry.raw:
            line = _own_line(entry, old.document, at)
            own += [line] if line is not None else []
            if line is None:
                refused[entry.path] = "its line stands in another dump, or over several lines"
    for entry in entries:
        if isinstance(entry.old, Stated) and entry.old.doubt:
            del values[entry.path]
            refused[entry.path] = f"what the old dump says can't be: {entry.old.doubt}"
    for path, why in _not_by_lines(new, values, beside):
        del values[path]
        refused[path] = why
    after = put_lines(new, own)  # their places are those of the dump as it is
    done = edit(after.opened, values, beside)
    change = line_change(new, done.opened)
    typed = change.forth if change is not None else TypedLines(())
    refused |= {**after.refused, **done.refused}
    text = "".join(f"{line}\n" for line in typed.lines)
    unsaved = change.dialect if change is not None and not change.saves else ""
    return BroughtLines(text, (*done.written, *after.written), tuple(refused.items()), unsaved)


def _not_by_lines(
    new: Opened, values: Mapping[str, Value], beside: Mapping[str, Value]
) -> list[tuple[str, str]]:
    """The lists that lines to type in would not bring back, as no line takes a row away; why."""
    found: list[tuple[str, str]] = []
    for path, value in values.items():
        if isinstance(value, tuple):
            change = line_change(new, edit(new, {path: value}, beside).opened)
            if change is not None and change.forth.unsaid:
                found.append((path, f"no line says it: {'; '.join(change.forth.unsaid)}"))
    return found


def _own_line(entry: Fated, old: Document, at: Mapping[int, Statement]) -> OwnLine | None:
    """The old dump's line, under the new name and the new dump's opening lines.

    None where that line is not whole in the old dump; `at` has its statements by line.
    """
    was, now = entry.old, entry.new
    assert isinstance(was, Raw)  # what was lost was there before
    if was.place is None or was.place.file != old.name:
        return None
    statement = at.get(was.place.line)
    if statement is None or len(statement.joints) > 1:
        return None
    line = old.text.lines[statement.first][statement.column :].strip()
    old_word, new_word = _last_word(was.key), _last_word(entry.path)
    under = now.under if isinstance(now, Raw) and now.place is not None else was.under
    placed = Placed(under, line if was.part else line.replace(old_word, new_word, 1))
    place = now.place if isinstance(now, Raw) else None
    return OwnLine(entry.path, placed, place, was.value, was.part)


def _last_word(key: str) -> str:
    return key.rpartition("/")[2].partition(" ")[0]


# What says that something was done with the craft itself: a line does not do it.
MUST_BE_DONE = {
    "sensors.accelerometer.calibrated": "calibrate the accelerometer anew; the firmware sets it",
    "receiver.ends_are": "measure the ends of the channels anew; the firmware sets it",
}
SECRET = "it is secret; --secrets writes it too"
TAKEN_OUT = "the old dump has no line for it that could be written"


@dataclass(frozen=True)
class FirmwareSide:
    """What one side of the change ran, and how its factory values are known."""

    name: str
    version: str
    dump: str | None  # the dump of an untouched board
    recorded: int  # values that the dialect records
    known: int  # settings of which a factory value is known, by whichever


@dataclass(frozen=True)
class Upgrade:
    """What became of one craft's settings."""

    old: FirmwareSide
    new: FirmwareSide
    fates: tuple[Fated, ...]
    lines: BroughtLines
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
    both = old.settings, new.settings
    one_dialect = old.dialect.name == new.dialect.name
    if not one_dialect:
        before, after = _without_own_lines(before), _without_own_lines(after)
    keys = renamed_between(new.dialect, *both) if one_dialect else {}
    fates = upgrade(
        before,
        after,
        keys=raw_renames(before.raw, keys),
        names=old_names(new.dialect, *both) if one_dialect else {},
        unsaid=unsaid(new.dialect, before.settings, new.settings),
    )
    back = wanted_back(fates)
    done = {*hidden, *MUST_BE_DONE}
    lines = bring_back([e for e in back if e.path not in done], old, new)
    refused = tuple((e.path, MUST_BE_DONE[e.path]) for e in back if e.path in MUST_BE_DONE)
    refused += tuple((entry.path, SECRET) for entry in back if entry.path in hidden)
    refused += tuple((e.path, TAKEN_OUT) for e in fates if e.may_be_lost and e.old is None)
    return Upgrade(
        _firmware(before, old_factory),
        _firmware(after, new_factory),
        fates,
        lines + BroughtLines(refused=refused),
        tuple(_notes(old, new, old_factory, new_factory)),
    )


def _said(settings: Settings, path: str) -> str:
    stated = settings.stated.get(path)
    return str(stated.value) if stated is not None else ""


def _without_own_lines(side: Side) -> Side:
    factory = None if side.factory is None else replace(side.factory, raw={})
    return Side(replace(side.settings, raw={}), factory)


def _firmware(side: Side, dump: Opened | None) -> FirmwareSide:
    name, version = (_said(side.settings, f"firmware.{word}") for word in ("name", "version"))
    return FirmwareSide(
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
    for side, other, then in (
        (old, new, "what stands there is not compared."),
        (new, old, "what is called lost or retired may stand there."),
    ):
        cut = [t for t in side.settings.troubles if t.kind is TroubleKind.TRUNCATED]
        said += [
            f"{side.document.name} is cut off ({trouble.message}): what it lacks is not known, "
            "and the factory's value is taken for it where there is one. Read it out anew first."
            for trouble in cut
        ]
        if lines := _not_understood(side, other):
            first = ", ".join(map(str, lines[:5])) + (", and more" if len(lines) > 5 else "")
            count = "1 line" if len(lines) == 1 else f"{len(lines):,} lines"
            said.append(
                f"{count} of {side.document.name} not understood, and not in the other dump "
                f"(line {first}): {then}"
            )
    return said


def _not_understood(side: Opened, other: Opened) -> list[int]:
    """The lines of one side alone that could not be read, or whose meaning nobody knows."""
    raws = (raw for key, raw in side.settings.raw.items() if key not in other.settings.raw)
    lines = {raw.place.line for raw in raws if raw.place and not raw.known}
    return sorted(lines | {statement.line for statement, _ in side.document.unread})


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
