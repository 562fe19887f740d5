"""What changed between two sets of settings."""

from collections.abc import Iterator, Mapping
from difflib import SequenceMatcher

from cfgaudit.changes.meaning import entry_meaning
from cfgaudit.changes.model import (
    Added,
    Change,
    Changed,
    Entry,
    Removed,
    Renamed,
    sort_key,
    subject,
)
from cfgaudit.changes.structured import parts_of
from cfgaudit.craft.declare import Class
from cfgaudit.craft.settings import Raw, Settings, Stated
from cfgaudit.craft.vocabulary import declared

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
    gone: dict[str, Entry] = {path: old[path] for path in old if path not in new}
    come: dict[str, Entry] = {path: new[path] for path in new if path not in old}
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


def _plainly_same(before: Entry, after: Entry) -> bool:
    """Whether two entries have one value, as one sees without asking what it means."""
    if before is after:
        return True
    if isinstance(before, Raw) or isinstance(after, Raw):
        return type(before) is type(after) and before.value == after.value
    return before.value is after.value and before.doubt == after.doubt


def _about(entry: Entry) -> tuple[str, Class | None, bool, bool, bool]:
    about = subject(entry)
    return about.path, about.cls, about.craft_own, about.raw, about.volatile


def _parts(before: Entry, after: Entry) -> tuple[str, ...]:
    """How a list or set differs; only such values are worth the closer look."""
    if isinstance(before, Raw) or isinstance(after, Raw):
        return ()
    if entry_meaning(before) == entry_meaning(after):
        return ()
    known = declared(after.path)
    return parts_of(known.kind if known else None, before.value, after.value)


def _known_pairs(
    gone: Mapping[str, Entry], come: Mapping[str, Entry], renames: Mapping[str, str]
) -> list[tuple[str, str]]:
    """Renames that the dialect knows; of two old names for one the first by letters holds."""
    pairs: dict[str, str] = {}
    for was in sorted(gone):
        is_now = renames.get(was)
        if is_now in come and is_now is not None:
            pairs.setdefault(is_now, was)
    return [(was, is_now) for is_now, was in pairs.items()]


def _likely_pairs(gone: Mapping[str, Entry], come: Mapping[str, Entry]) -> list[tuple[str, str]]:
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
