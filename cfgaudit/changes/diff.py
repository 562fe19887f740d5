"""What changed between two sets of settings, in a total order; and changes put to use."""

import math
import re
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from cfgaudit.dialects.raw import row_key
from cfgaudit.settings import Annotation, Origin, Raw, Settings, Stated
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Filter, Kind, SwitchRange, Value, version_meaning
from cfgaudit.vocabulary.paths import declared, declared_anywhere, vocabulary
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:
    from deepdiff import DeepDiff


StatedOrRaw = Stated | Raw


def name_of(entry: StatedOrRaw) -> str:
    """The path of a stated setting, the key of a raw one."""
    return entry.path if isinstance(entry, Stated) else entry.key


@dataclass(frozen=True, slots=True)
class Subject:
    """What a change is about. `path` is a neutral path, or the dump's own key where `raw`.

    `cls` is None where the vocabulary does not know the path: a raw key's risk is unknown.
    `volatile` is True where it moves by itself, by the vocabulary or by the dialect: nobody set it.
    """

    path: str
    cls: Class | None
    craft_own: bool
    raw: bool
    volatile: bool


@dataclass(frozen=True, slots=True)
class Added(Subject):
    """Stated in the new settings only."""

    new: StatedOrRaw


@dataclass(frozen=True, slots=True)
class Removed(Subject):
    """Stated in the old settings only."""

    old: StatedOrRaw


@dataclass(frozen=True, slots=True)
class Changed(Subject):
    """Stated in both with different values; `parts` says how a list or set differs."""

    old: StatedOrRaw
    new: StatedOrRaw
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Renamed(Subject):
    """Stated under another name in the new settings; `path` is the new name.

    `guess` is True where only the likeness of names and the same value speak for it.
    """

    old: StatedOrRaw
    new: StatedOrRaw
    guess: bool
    parts: tuple[str, ...] = ()

    @property
    def old_path(self) -> str:
        """The name in the old settings."""
        return name_of(self.old)


Change = Added | Removed | Changed | Renamed

SortKey = tuple[bool, int, int, tuple[tuple[str, int, str], ...], str]


def subject(entry: StatedOrRaw) -> Subject:
    """What a change of this entry would be about."""
    if isinstance(entry, Raw):
        return Subject(entry.key, None, False, True, entry.volatile)
    known = declared_anywhere(entry.path)
    if known is None:
        return Subject(entry.path, None, False, False, entry.volatile)
    traits = known.traits
    return Subject(
        entry.path, known.cls, traits.craft_own, False, traits.volatile or entry.volatile
    )


def sort_key(about: Subject) -> SortKey:
    """The gravest class first, then the vocabulary's order, then the path; raw keys last."""
    known = None if about.raw else declared_anywhere(about.path)
    ranks = _ranks()  # a build sheet's settings come behind the craft's
    place = len(ranks) if known is None else ranks.get(known.pattern, len(ranks))
    grave = len(Class) if about.cls is None else about.cls
    return about.raw, grave, place, natural(about.path), about.path


def natural(path: str) -> tuple[tuple[str, int, str], ...]:
    """A key that sorts numbers inside a path by their size.

    >>> sorted(["ports.uart10.baud", "ports.uart2.baud"], key=natural)
    ['ports.uart2.baud', 'ports.uart10.baud']
    """
    return tuple(  # digits compare as (how many, which): no limit on their length
        (words, len(digits.lstrip("0")), digits.lstrip("0"))
        for words, digits in re.findall(r"([^0-9]*)([0-9]*)", path)
    )


@cache
def _ranks() -> dict[str, int]:
    return {known.pattern: rank for rank, known in enumerate(vocabulary())}


DIGITS = 12  # far below what a dump can say, far above the noise of a change of unit


def meaning(value: Value) -> Hashable:
    """A key that is equal for two values if they mean the same.

    Numbers are equal to twelve digits, whole or not. The order of switch ranges means nothing,
    nor does that of filter stages in series; that of plain numbers does (a band's channels).

    >>> meaning(57.6 * 1000) == meaning(57600), meaning(True) == meaning(1)
    (True, False)
    """
    if isinstance(value, bool):
        return "bool", value
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, str | frozenset):
        return value
    if all(isinstance(element, int | float) for element in value):
        return tuple(_element(element) for element in value)
    return tuple(sorted((_element(element) for element in value), key=repr))


def entry_meaning(entry: StatedOrRaw | None) -> Hashable:
    """The same for a whole entry: a doubtful value differs from one that can be trusted.

    A raw value means its text, since nothing is known of it.
    """
    if entry is None:
        return None
    if isinstance(entry, Raw):
        return "raw", entry.value
    if entry.path == "firmware.version":
        return "stated", version_meaning(str(entry.value)), bool(entry.doubt)
    return "stated", meaning(entry.value), bool(entry.doubt)


def _element(element: SwitchRange | Filter | float) -> Hashable:
    if isinstance(element, SwitchRange):
        return "range", element.channel, _number(element.low), _number(element.high)
    if isinstance(element, Filter):
        return "filter", element.kind, _number(element.cutoff), _number(element.q)
    return _number(element)


def settled(value: float) -> float:
    """A number cut to what can be meant, without the noise of a change of unit.

    >>> settled(0.1 + 0.2), settled(1500)
    (0.3, 1500)
    """
    if isinstance(value, int) or not math.isfinite(value):
        return value
    return float(f"{round(value, DIGITS):.{DIGITS}g}") + 0.0  # no minus nought


def _number(value: float) -> Hashable:
    """A settled number; what is not a number equals itself here."""
    return "number", "nan" if value != value else settled(value)


def parts_of(kind: Kind | None, old: Value, new: Value) -> tuple[str, ...]:
    """What changed inside a list or set, a line each; nothing for other values.

    >>> parts_of(None, (), (SwitchRange(8, 1900.0, 2100.0),))
    ('channel 8: 1900..2100 us added',)
    """
    if isinstance(old, frozenset) and isinstance(new, frozenset):
        return _set_parts(old, new)
    if not (isinstance(old, tuple) and isinstance(new, tuple)):
        return ()
    if all(isinstance(element, int | float) for element in (*old, *new)):
        return _number_parts(kind.unit if kind else "", old, new)
    return _element_parts(_by_subject(old), _by_subject(new))


def _nested_differences(old: object, new: object, *, by_place: bool = False) -> "DeepDiff":
    """What differs in nested values; the order of a list counts only where asked for."""
    from deepdiff import DeepDiff  # heavy, and rarely needed

    return DeepDiff(
        old,
        new,
        view="tree",
        ignore_order=not by_place,
        zip_ordered_iterables=by_place,  # else what is put in front would be one entry added
        threshold_to_diff_deeper=0,
    )


def _levels(found: "DeepDiff", *names: str) -> Iterator[Any]:
    for name in names:
        yield from found.get(name, ())


def _set_parts(old: frozenset[str], new: frozenset[str]) -> tuple[str, ...]:
    found = _nested_differences(set(old), set(new))
    gone = sorted(level.t1 for level in _levels(found, "set_item_removed"))
    come = sorted(level.t2 for level in _levels(found, "set_item_added"))
    return (*(f"{word} removed" for word in gone), *(f"{word} added" for word in come))


def _number_parts(unit: str, old: tuple[object, ...], new: tuple[object, ...]) -> tuple[str, ...]:
    """The place of a number is its meaning: each part names its entry, counted from 1.

    A number that stands elsewhere now is told with the place that it had.
    """
    olds, news = ([f"{_plain(number)} {unit}".rstrip() for number in side] for side in (old, new))
    lines: dict[int, str] = {}
    found = _nested_differences(olds, news, by_place=True)
    for level in _levels(found, "values_changed"):
        lines[_index(level)] = f"{level.t1} is now {level.t2}"
    for level in _levels(found, "iterable_item_removed"):
        lines[_index(level)] = f"{level.t1} removed"
    for level in _levels(found, "iterable_item_added"):
        lines[_index(level)] = f"{level.t2} added"
    moved = {
        index: olds.index(news[index]) + 1
        for index in lines
        if index < len(news) and olds.count(news[index]) == news.count(news[index]) == 1
    }
    return tuple(
        f"entry {index + 1}: {line}"
        + (f", which was entry {moved[index]}" if index in moved else "")
        for index, line in sorted(lines.items())
    )


def _index(level: Any) -> int:
    return int(level.path(output_format="list")[-1])


def _plain(number: object) -> str:
    return number_text(settled(number)) if isinstance(number, int | float) else str(number)


def _by_subject(elements: tuple[object, ...]) -> dict[str, list[str]]:
    """What the elements say, by the channel or the kind of filter that they speak of."""
    counts: dict[str, Counter[str]] = {}
    for element in elements:
        if isinstance(element, SwitchRange):
            about = f"channel {element.channel}"
            says = f"{_plain(element.low)}..{_plain(element.high)} us"
        elif isinstance(element, Filter):
            about = element.kind
            quality = f" q {_plain(element.q)}" if element.q else ""
            says = f"{_plain(element.cutoff)} Hz{quality}"
        else:
            about, says = "entry", _plain(element)
        counts.setdefault(about, Counter())[says] += 1
    return {
        about: [text if times == 1 else f"{times} × {text}" for text, times in said.items()]
        for about, said in counts.items()
    }


def _element_parts(old: dict[str, list[str]], new: dict[str, list[str]]) -> tuple[str, ...]:
    gone: dict[str, list[str]] = {}
    come: dict[str, list[str]] = {}
    found = _nested_differences(old, new)
    for level in _levels(found, "values_changed", "iterable_item_removed"):
        gone.setdefault(_about_equal(level), []).append(level.t1)
    for level in _levels(found, "values_changed", "iterable_item_added"):
        come.setdefault(_about_equal(level), []).append(level.t2)
    for level in _levels(found, "dictionary_item_removed"):
        gone[_about_equal(level)] = level.t1
    for level in _levels(found, "dictionary_item_added"):
        come[_about_equal(level)] = level.t2
    order = [*old, *(about for about in new if about not in old)]
    return tuple(
        line for about in order for line in _lines(about, gone.get(about, []), come.get(about, []))
    )


def _about_equal(level: Any) -> str:
    return str(level.path(output_format="list")[0])


def _lines(about: str, gone: list[str], come: list[str]) -> Iterator[str]:
    if len(gone) == len(come) == 1:
        yield f"{about}: {gone[0]} is now {come[0]}"
        return
    yield from (f"{about}: {text} removed" for text in sorted(gone))
    yield from (f"{about}: {text} added" for text in sorted(come))


def spelled(entry: StatedOrRaw | None) -> tuple[str, ...]:
    """The words and numbers that a dump has for a value, in no order; none where none are known.

    How a number is padded, or a word quoted, is no spelling: 0350 and 350.0 are one.

    >>> spelled(Stated("a", 1.0, text="0350 cV, x")) == spelled(Stated("a", 1.0, text="X, 350 cV"))
    True
    """
    if not isinstance(entry, Stated) or entry.origin is not Origin.DUMP:
        return ()
    parts = entry.text.casefold().replace(",", " ").replace('"', " ").split()
    return tuple(sorted(_settled(part) for part in parts))


def _settled(part: str) -> str:
    try:
        return f"{float(part):g}"
    except ValueError:
        return part


NEAR = 0.7  # how alike two names must be (difflib's ratio) for a rename to be guessed
# A value that so many keys share (pairs of a key gone and a key come) tells nothing of them.
TELLING_PAIRS = 900

NO_RENAMES: Mapping[str, str] = {}


def diff(
    old: Settings, new: Settings, renames: Mapping[str, str] = NO_RENAMES
) -> tuple[Change, ...]:
    """Every difference in value, the gravest first; places and origins are not compared.

    `renames` gives the new name of an old path or key, as a dialect knows it. A key that
    is gone and one that has come with the same value and a near name are said to be renamed,
    as a guess. Craft-own and volatile settings are among the changes, marked as such.
    """
    changes = [
        *_differences(old.stated, new.stated, renames, guessing=False),
        *_differences(old.raw, new.raw, renames, guessing=True),
    ]
    return tuple(sorted(changes, key=sort_key))


def told_changes(
    old: Settings, new: Settings, renames: Mapping[str, str] = NO_RENAMES
) -> tuple[Change, ...]:
    """As diff, for people: rows of one list are matched by what they are, whatever their number.

    So one row more is one change, though others are counted or cut otherwise for it. What is said
    otherwise of elements that are off on both sides is among the changes.
    """
    before, after, same = old, new, _same_rows(old.raw, new.raw)
    if same:
        known = set(same.values())
        before = replace(old, raw={key: raw for key, raw in old.raw.items() if key not in same})
        after = replace(new, raw={key: raw for key, raw in new.raw.items() if key not in known})
    both = old.idle.keys() & new.idle.keys()
    idles = [{key: side.idle[key] for key in both} for side in (old, new)]
    more = _differences(idles[0], idles[1], renames, guessing=False)
    return tuple(sorted((*diff(before, after, renames), *more), key=sort_key))


def _same_rows(old: Mapping[str, Raw], new: Mapping[str, Raw]) -> dict[str, str]:
    """Old key to new key of the rows that say the same in the same order, list by list."""
    if old.keys() == new.keys():
        return {}  # no row came and none went
    sides = _lists(old), _lists(new)
    found: dict[str, str] = {}
    for name, before in sides[0].items():
        after = sides[1].get(name, [])
        matcher = SequenceMatcher(None, [t for t, _ in before], [t for t, _ in after], False)
        for at, to, size in matcher.get_matching_blocks():
            pairs = zip(before[at : at + size], after[to : to + size], strict=True)
            found.update((one[1], other[1]) for one, other in pairs)
    return found


def _lists(side: Mapping[str, Raw]) -> dict[Hashable, list[tuple[str, str]]]:
    """The rows of each list, that is of one first word, in order: the whole text, and its key."""
    found: dict[Hashable, list[tuple[str, str]]] = {}
    for key, raw in side.items():
        stem = row_key(key, side)
        first = stem.rpartition("/")[2].partition(" ")[0]
        found.setdefault((raw.under, first), []).append((f"{stem} {raw.value}", key))
    return found


def _differences(
    old: Mapping[str, Stated] | Mapping[str, Raw],
    new: Mapping[str, Stated] | Mapping[str, Raw],
    renames: Mapping[str, str],
    *,
    guessing: bool,
) -> Iterator[Change]:
    if old is new:
        return
    for path, before in old.items():
        after = new.get(path)
        if after is None or _plainly_same(before, after):
            continue
        if entry_meaning(before) != entry_meaning(after):
            yield Changed(*_about(after), before, after, _parts(before, after))
    gone: dict[str, StatedOrRaw] = {path: old[path] for path in old if path not in new}
    come: dict[str, StatedOrRaw] = {path: new[path] for path in new if path not in old}
    pairs = _known_pairs(gone, come, renames)
    sure = len(pairs)
    if guessing:
        taken = {name for pair in pairs for name in pair}
        pairs += _likely_pairs(
            {path: entry for path, entry in gone.items() if path not in taken},
            {path: entry for path, entry in come.items() if path not in taken},
        )
    for number, (was, is_now) in enumerate(pairs):
        before, after = gone.pop(was), come.pop(is_now)
        yield Renamed(*_about(after), before, after, number >= sure, _parts(before, after))
    yield from (Removed(*_about(entry), entry) for entry in gone.values())
    yield from (Added(*_about(entry), entry) for entry in come.values())


def _plainly_same(before: StatedOrRaw, after: StatedOrRaw) -> bool:
    """Whether two entries have one value, as one sees without asking what it means."""
    if before is after:
        return True
    if isinstance(before, Raw) or isinstance(after, Raw):
        return type(before) is type(after) and before.value == after.value
    return before.value is after.value and before.doubt == after.doubt


def _about(entry: StatedOrRaw) -> tuple[str, Class | None, bool, bool, bool]:
    about = subject(entry)
    return about.path, about.cls, about.craft_own, about.raw, about.volatile


def _parts(before: StatedOrRaw, after: StatedOrRaw) -> tuple[str, ...]:
    """How a list or set differs; only such values are worth the closer look."""
    if isinstance(before, Raw) or isinstance(after, Raw):
        return ()
    if entry_meaning(before) == entry_meaning(after):
        return ()
    known = declared(after.path)
    return parts_of(known.kind if known else None, before.value, after.value)


def _known_pairs(
    gone: Mapping[str, StatedOrRaw], come: Mapping[str, StatedOrRaw], renames: Mapping[str, str]
) -> list[tuple[str, str]]:
    """Renames that the dialect knows; of two old names for one the first by letters holds."""
    pairs: dict[str, str] = {}
    for was in sorted(gone):
        is_now = renames.get(was)
        if is_now in come and is_now is not None:
            pairs.setdefault(is_now, was)
    return [(was, is_now) for is_now, was in pairs.items()]


def _likely_pairs(
    gone: Mapping[str, StatedOrRaw], come: Mapping[str, StatedOrRaw]
) -> list[tuple[str, str]]:
    """Keys with one value and near names, where each is the other's one best match."""
    by_value: dict[object, tuple[list[str], list[str]]] = {}
    for side, entries in enumerate((gone, come)):
        for path, entry in entries.items():
            by_value.setdefault(entry_meaning(entry), ([], []))[side].append(path)
    pairs: list[tuple[str, str]] = []
    for olds, news in by_value.values():
        if len(olds) * len(news) <= TELLING_PAIRS:
            pairs += _mutual_best(_likeness(olds, news))
    return pairs


def _likeness(olds: list[str], news: list[str]) -> dict[tuple[str, str], float]:
    """How alike the names are, for each pair that is near."""
    found: dict[tuple[str, str], float] = {}
    matcher = SequenceMatcher(autojunk=False)
    for is_now in news:
        matcher.set_seq2(is_now)
        for was in olds:
            matcher.set_seq1(was)
            if matcher.real_quick_ratio() >= NEAR and matcher.quick_ratio() >= NEAR:
                ratio = matcher.ratio()
                if ratio >= NEAR:
                    found[was, is_now] = ratio
    return found


def _mutual_best(likeness: Mapping[tuple[str, str], float]) -> list[tuple[str, str]]:
    """The pairs in which each is the other's best, and no other is as good."""
    of_old: dict[str, list[float]] = {}
    of_new: dict[str, list[float]] = {}
    for (was, is_now), ratio in likeness.items():
        of_old.setdefault(was, []).append(ratio)
        of_new.setdefault(is_now, []).append(ratio)
    return [
        (was, is_now)
        for (was, is_now), ratio in likeness.items()
        if all(
            max(ratios) == ratio and ratios.count(ratio) == 1
            for ratios in (of_old[was], of_new[is_now])
        )
    ]


class CommentChanges(NamedTuple):
    """The comments that came and those that went; one that stands elsewhere now is both."""

    added: tuple[Annotation, ...] = ()
    removed: tuple[Annotation, ...] = ()

    @property
    def number(self) -> int:
        """How many there are."""
        return len(self.added) + len(self.removed)


NO_COMMENTS = CommentChanges()


def comment_changes(old: Iterable[Settings], new: Iterable[Settings]) -> CommentChanges:
    """What became of the comments of one file's dumps, whatever lines they stand in."""
    was, now = ([note for one in side for note in one.annotations] for side in (old, new))
    return CommentChanges(tuple(_less(now, was)), tuple(_less(was, now)))


def _less(some: Sequence[Annotation], others: Sequence[Annotation]) -> Iterator[Annotation]:
    left = Counter((note.about, note.text) for note in others)
    for note in some:
        if left[note.about, note.text]:
            left[note.about, note.text] -= 1
        else:
            yield note


IDENTITY = ("craft.serial", "craft.name")


def one_craft(old: Settings, new: Settings) -> bool:
    """Whether two sets of settings are of one and the same craft: by the serial, else the name."""
    told = _told_apart(old, new)
    return bool(told) and next(iter(told.values()))


def other_craft(old: Settings, new: Settings) -> tuple[str, ...]:
    """The paths by which two sets of settings are of two craft: all that could tell, or none."""
    told = _told_apart(old, new)
    return () if any(told.values()) else tuple(told)


def _told_apart(old: Settings, new: Settings) -> dict[str, bool]:
    """Whose they are, as far as both say so, the surest first: whether it is the same."""
    return {
        path: entry_meaning(old[path]) == entry_meaning(new[path])
        for path in IDENTITY
        if path in old and path in new
    }


E = TypeVar("E", Stated, Raw)


class DoesNotFit(ValueError):  # noqa: N818 (named for what it says)
    """A change does not start from what the settings state; `path` names it."""

    def __init__(self, path: str) -> None:
        super().__init__(f"{path} is not as the change expects it")
        self.path = path


def apply(changes: Iterable[Change], settings: Settings) -> Settings:
    """The settings with the changes made; what was given is left as it is.

    A renamed or changed setting keeps its place in the order, an added one comes last. What
    was noted of a changed path (trouble, a second statement of a removed one) is dropped
    with the old value. Raises DoesNotFit where a change starts from another value.
    """
    changes = tuple(changes)
    stated = _made(changes, settings.stated, Stated)
    touched = {name_of(change.old) for change in changes if not isinstance(change, Added)}
    touched |= {change.path for change in changes}
    return replace(
        settings,
        stated=stated,
        raw=_made(changes, settings.raw, Raw),
        repeats=tuple(
            (stated[holds.path], other) for holds, other in settings.repeats if holds.path in stated
        ),
        troubles=tuple(t for t in settings.troubles if not t.path or t.path not in touched),
    )


def _made(changes: Iterable[Change], entries: Mapping[str, E], sort: type[E]) -> dict[str, E]:
    """One of the two tables, with the changes that are about it made."""
    instead: dict[str, E | None] = {}
    added: dict[str, E] = {}
    for change in changes:
        if isinstance(change, Added):
            if isinstance(change.new, sort):
                _check(change.path, None, entries.get(change.path))
                added[change.path] = change.new
        elif isinstance(change.old, sort):
            was = name_of(change.old)
            _check(was, change.old, entries.get(was))
            instead[was] = _after(change, sort)
            if isinstance(change, Renamed):
                _check(change.path, None, entries.get(change.path))
    made: dict[str, E] = {}
    for path, entry in entries.items():
        held = instead.get(path, entry)
        if held is not None:
            made[name_of(held)] = held
    return made | added


def _after(change: Removed | Changed | Renamed, sort: type[E]) -> E | None:
    if isinstance(change, Removed) or not isinstance(change.new, sort):
        return None
    return change.new


def _check(path: str, expected: StatedOrRaw | None, found: StatedOrRaw | None) -> None:
    if entry_meaning(expected) != entry_meaning(found):
        raise DoesNotFit(path)


@dataclass(frozen=True, slots=True)
class RowOfCraft(Subject):
    """One setting that differs: a cell a craft in the order given, None where not stated.

    `odd` is the index of the one craft that differs where all others, at least two, agree.
    """

    cells: tuple[StatedOrRaw | None, ...]
    odd: int | None


def compare(
    crafts: Sequence[tuple[str, Settings]], *, everything: bool = False
) -> tuple[RowOfCraft, ...]:
    """The settings in which the craft differ, in the order of a diff.

    `crafts` are names with settings. What belongs to one craft alone (its calibration, its
    name) and what moves by itself is left out unless `everything` is asked for. A craft that
    does not state a setting differs from one that does.
    """
    tables: list[list[dict[str, StatedOrRaw]]] = [
        [dict(settings.stated) for _, settings in crafts],
        [dict(settings.raw) for _, settings in crafts],
    ]
    rows = [
        row
        for table in tables
        for path in dict.fromkeys(path for entries in table for path in entries)
        if (row := _row_of(tuple(entries.get(path) for entries in table))) is not None
    ]
    wanted = [row for row in rows if everything or not (row.craft_own or row.volatile)]
    return tuple(sorted(wanted, key=sort_key))


def odd_ones(crafts: Sequence[tuple[str, Settings]]) -> tuple[RowOfCraft, ...]:
    """The settings in which one craft stands alone among those that state it, at least three.

    Nothing is said of one that lacks a setting: boards and firmwares differ in what they have.
    Lines without a neutral meaning, and what belongs to one craft alone, are left out.
    """
    found: list[RowOfCraft] = []
    for row in compare(crafts):
        stating = [number for number, cell in enumerate(row.cells) if cell is not None]
        meanings = [entry_meaning(row.cells[number]) for number in stating]
        odd = _odd_one([meanings.count(held) for held in meanings])
        if odd is not None and not row.raw:
            found.append(replace(row, odd=stating[odd]))
    return tuple(found)


def _row_of(cells: tuple[StatedOrRaw | None, ...]) -> RowOfCraft | None:
    meanings = [entry_meaning(cell) for cell in cells]
    if len(set(meanings)) < 2:
        return None
    about = subject(next(cell for cell in cells if cell is not None))
    odd = _odd_one([meanings.count(held) for held in meanings])
    return RowOfCraft(about.path, about.cls, about.craft_own, about.raw, about.volatile, cells, odd)


def _odd_one(counts: list[int]) -> int | None:
    """The craft that stands alone, given how many craft hold each craft's value."""
    if len(counts) < 3 or sorted(counts) != [1, *[len(counts) - 1] * (len(counts) - 1)]:
        return None
    return counts.index(1)
