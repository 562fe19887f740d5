"""Finds the indices that stand inside of keys: figures, and words of a list such as the axes."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import takewhile
from typing import NamedTuple

from cfgaudit.teach.words import (
    AXES,
    CONTROLS,
    FUNCTIONS,
    about,
    arms_of,
    chunks,
    element_names,
    is_corner,
    is_kind_of_number,
    pair_up,
    tokens,
)

HOLE = "\0"  # where an index stands in a key
_ASIDE = re.compile(r"\([^()]*\)")  # says the unit, or what a number means: no index
SCALE = re.compile(r"(?<=[_.\- ])[xX](10+)(?![A-Za-z0-9])")  # how large the steps are: no index
_LONGEST = 4  # words of an index
_FEWEST = {"FUNCTION": 3, "NAME": 4}
_FEW = 3  # words that must all be of the list
# What a key or the section above it says beside the word of such an index.
_BESIDE = {
    "FUNCTION": ("switch", "mode", "channel", "low", "high"),
    "NAME": ("overlay", "shown", "row"),
}


# The same behind the last word, where no like key has another number: `hold.s10`, `q100`.
END_SCALE = re.compile(rf"(?<=[A-Za-z{HOLE}])(10{{1,3}})$")
_COUNTS = frozenset({"ch", "chan", "channel", "aux", "port", "uart", "pad", "out", "pin", "motor"})


def _scaled(keys: Sequence[str]) -> dict[str, tuple[int, int]]:
    """Where the size of a step stands at the end of keys."""
    stems = Counter(re.sub(r"\d+$", "", key) for key in keys)
    found = {key: match.span() for key in keys if (match := END_SCALE.search(key))}
    return {
        key: span
        for key, span in found.items()
        if stems[key[: span[0]]] == 1
        and re.split(r"[^A-Za-z]", key[: span[0]])[-1].casefold() not in _COUNTS
    }


class Holed(NamedTuple):
    """A key with holes for its indices, and the words that stood there."""

    pattern: str
    words: tuple[str, ...]


class _KeyWord(NamedTuple):
    text: str  # in small letters; a figure's is #
    start: int
    end: int


def holed(
    keys: Iterable[str], context: Sequence[str] = (), *, lists: bool = True
) -> dict[str, Holed]:
    """Each key with its indices taken out. `context` names the sections that the keys stand in.

    Where no `lists` are looked for, functions and elements are none: each key is a setting.

    >>> holed(["PORT1BAUD", "PORT2BAUD", "MODE"])["PORT2BAUD"]
    Holed(pattern='PORT\\x00BAUD', words=('2',))
    """
    listed = list(dict.fromkeys(keys))
    cut = {key: _cut(key) for key in listed}
    for key, span in _scaled(listed).items():
        cut[key] = [word for word in cut[key] if word.start != span[0]]
    holes: dict[str, list[tuple[int, int]]] = {key: [] for key in listed}
    for key, words in cut.items():
        holes[key] += [(w.start, w.end) for w in words if w.text == "#"]
    for key, span in _path_parts(listed):
        holes[key] = [hole for hole in holes[key] if not span[0] <= hole[0] < span[1]] + [span]
        cut[key] = [w for w in cut[key] if not span[0] <= w.start < span[1]]
    for key, span in (*_ordinals(cut), *_counting_letters(cut, 0), *_counting_letters(cut, -1)):
        holes[key].append(span)
        cut[key] = [w for w in cut[key] if not span[0] <= w.start < span[1]]
    about_all = set(about(t for name in context for t in tokens(name)))
    free = {key: words for key, words in cut.items() if len(words) > 1 or about_all}
    while True:
        best = _best(free, holes, about_all if lists else set())
        if best is None:
            break
        for key, span in best.items():
            holes[key].append(span)
            free[key] = [
                _KeyWord("\1", *span) if w.start == span[0] else w
                for w in free[key]
                if w.start <= span[0] or w.start >= span[1]
            ]
    return {key: _with_holes(key, sorted(spans)) for key, spans in holes.items()}


_COUNTED_ON = re.compile(r"([A-Za-z]{1,2})(\d+)([A-Za-z].*)")
_COUNTING = 0.6  # of the keys at least, and of those of a letter that have a number of their own


def counted_on(keys: Mapping[str, str], context: Sequence[str] = ()) -> dict[str, Holed]:
    """Keys that begin with a letter and a number that counts on: it says where they stand.

    It belongs to the word behind it. `keys` have each the remark above it.

    >>> counted_on({"R1LINK": "", "R2CHANNELS": "", "R3LOW": ""})["R3LOW"]
    Holed(pattern='R3LOW', words=())
    """
    groups: dict[str, list[re.Match[str]]] = {}
    cut = [found for key in keys if (found := _COUNTED_ON.fullmatch(key))]
    for found in cut if len(cut) >= _COUNTING * len(keys) else ():
        groups.setdefault(found[1], []).append(found)
    made: dict[str, Holed] = {}
    for letters, own in groups.items():
        if len(own) < _FEW or len({found[2] for found in own}) < _COUNTING * len(own):
            continue
        remarks = dict.fromkeys(keys[found.group()] for found in own)
        told = holed([found[3] for found in own], [*context, *remarks])
        for found in own:
            pattern, words = told[found[3]]
            if pattern.startswith(HOLE):
                first, *others = words
                made[found.group()] = Holed(letters + pattern, (found[2] + first, *others))
            else:
                made[found.group()] = Holed(f"{letters}{found[2]}{pattern}", words)
    return made


def lettered(found: Mapping[str, Holed]) -> dict[str, Holed]:
    """Keys that differ in the letter before their number, too: `use of s1`, `use of k1`.

    >>> lettered(holed(["use s1", "use k1"]))["use k1"]
    Holed(pattern='use \\x00', words=('k1',))
    """
    sorts: dict[str, set[str]] = {}
    for one in found.values():
        sorts.setdefault(_LETTER.sub(HOLE, one.pattern), set()).add(one.pattern)
    made = dict(found)
    for key, one in found.items():
        bare = _LETTER.sub(HOLE, one.pattern)
        letters = _LETTER.findall(one.pattern)
        if len(letters) == 1 and len(sorts[bare]) > 1 and one.pattern.count(HOLE) == 1:
            made[key] = Holed(bare, (letters[0] + one.words[0],))
    return made


_LETTER = re.compile(rf"(?<![A-Za-z0-9])([A-Za-z]){HOLE}")


def _path_parts(keys: Sequence[str]) -> Iterator[tuple[str, tuple[int, int]]]:
    """Where a part of a path tells things of one sort apart, as the same parts stand behind each.

    It says nothing by itself: `plug/a/use`, `plug/a/speed`, `plug/b/use` and so on.
    """
    sorts: dict[tuple[str, str, int], dict[str, dict[str, str]]] = {}
    for key in keys:
        sign = next((sign for sign in _PATH_SIGNS if key.count(sign) > 1), "")
        parts = key.split(sign) if sign else []
        for at in range(1, len(parts) - 1):
            before, behind = sign.join(parts[:at]), sign.join(parts[at + 1 :])
            sorts.setdefault((sign, before, at), {}).setdefault(parts[at], {})[behind] = key
    for (_, before, _), below in sorts.items():
        bare = {word for word in below if re.fullmatch(r"[A-Za-z]", word)}
        shared = set.intersection(*(set(below[word]) for word in bare)) if len(bare) > 1 else set()
        alike = [word for word, own in below.items() if word in bare or shared & own.keys()]
        if len(shared) < 2:
            alike = beside_numbered(below)
        for word in alike:
            start = len(before) + 1
            yield from ((key, (start, start + len(word))) for key in below[word].values())


def beside_numbered(below: Mapping[str, Mapping[str, str]], least: int = 2) -> list[str]:
    """All words, where some are a letter or two and a number and others have the same behind them.

    `pad.m1.use`, `pad.m2.use`, `pad.lamp.use`.
    """
    letters = Counter(found[1] for word in below if (found := _NUMBERED.fullmatch(word)))
    numbered = [w for w in below if (found := _NUMBERED.fullmatch(w)) and letters[found[1]] > 1]
    theirs = {rest for word in numbered for rest in below[word]}
    others = [word for word in below if word not in numbered]
    alike = bool(others) and all(theirs >= below[word].keys() for word in others)
    return list(below) if alike and len(theirs) >= least else []


_NUMBERED = re.compile(r"([A-Za-z]{1,2})\d{1,2}")
_PATH_SIGNS = ("/", ".", ":")
ORDINALS = frozenset({"first", "second", "third", "fourth", "1st", "2nd", "3rd", "4th"})


def _ordinals(
    cut: Mapping[str, Sequence[_KeyWord]],
) -> Iterator[tuple[str, tuple[int, int]]]:
    """Where keys that are alike but for an ordinal have it; the first may lack it.

    `D lowpass`, `D second lowpass`. The blank behind is the hole's, too.
    """
    texts = {key: tuple(word.text for word in words) for key, words in cut.items()}
    sorts: dict[tuple[str, ...], dict[str, tuple[int, int]]] = {}
    for key, words in texts.items():
        at = next((n for n, word in enumerate(words[:-1]) if word in ORDINALS), None)
        if at is not None:
            span = cut[key][at].start, cut[key][at + 1].start
            sorts.setdefault((*words[:at], "", *words[at + 1 :]), {})[key] = span
    bare: dict[tuple[str, ...], list[str]] = {}
    for key, words in texts.items():
        bare.setdefault(words, []).append(key)
    for sort, found in sorts.items():
        at = sort.index("")
        for key in bare.get((*sort[:at], *sort[at + 1 :]), ()):
            found[key] = cut[key][at].start, cut[key][at].start
        if len(found) > 1:
            yield from found.items()


def _counting_letters(
    cut: Mapping[str, Sequence[_KeyWord]], at: int
) -> Iterator[tuple[str, tuple[int, int]]]:
    """Where a letter tells things apart of which each has the same: `A roll`, `B roll`.

    It stands in front, `at` 0, or behind, -1: `port_baud_a`. The letters are the first ones of the
    alphabet, as they are counted by.
    """
    below: dict[str, dict[tuple[str, ...], str]] = {}
    for key, words in cut.items():
        if len(words) > 1 and len(words[at].text) == 1:
            others = words[1:] if at == 0 else words[:-1]
            below.setdefault(words[at].text, {})[tuple(w.text for w in others)] = key
    counted = list(takewhile(below.__contains__, "abcdefgh"))
    shared = set.intersection(*(set(below[letter]) for letter in counted)) if counted else set()
    if len(shared) > 1 and len(counted) > 1 and len(counted) * len(shared) >= _LEAST_LETTERED:
        for letter in counted:
            yield from ((key, cut[key][at][1:]) for rest in shared for key in [below[letter][rest]])


_LEAST_LETTERED = 8  # keys, before letters are taken to count


_PLAIN = re.compile(r"[A-Za-z0-9]+")


# The number of a line in an outline: `6.4 Stick centre`.
_OUTLINE = re.compile(r"^\d{1,2}\.\d{1,2}(?=\s)")


def _cut(key: str) -> list[_KeyWord]:
    aside = [found.span() for found in (*_ASIDE.finditer(key), *_OUTLINE.finditer(key))]
    aside += [found.span() for found in SCALE.finditer(key)]
    aside += [found.span() for found in _PLAIN.finditer(key) if is_kind_of_number(found[0])]
    return [
        _KeyWord("#" if word.isdigit() else word, at, at + len(word))
        for word, at in chunks(key)
        if not any(start <= at < end for start, end in aside)
    ]


def _with_holes(key: str, spans: Sequence[tuple[int, int]]) -> Holed:
    text, at = "", 0
    for start, end in spans:
        text += key[at:start] + HOLE
        at = end
    return Holed(text + key[at:], tuple(key[start:end] for start, end in spans))


IndexedKeys = dict[str, tuple[int, int]]  # the keys of one sort, and where the index stands in each


def _best(
    free: Mapping[str, Sequence[_KeyWord]],
    holes: Mapping[str, Sequence[tuple[int, int]]],
    context: set[str],
) -> IndexedKeys | None:
    """The most keys that differ in nothing but a word of one list."""
    groups: dict[tuple[tuple[str, ...], tuple[str, ...]], IndexedKeys] = {}
    for key, words in free.items():
        texts = [word.text for word in words]
        for start in range(len(words)):
            for stop in range(start + 1, min(len(words), start + _LONGEST) + 1):
                if texts[stop - 1] in "#\1":
                    break
                beside = (tuple(texts[:start]), tuple(texts[stop:]))
                groups.setdefault(beside, {})[key] = (words[start].start, words[stop - 1].end)
    best, most = None, 0.0
    for (before, behind), group in groups.items():
        if len(group) < 2:
            continue
        names = tuple(sorted({key[start:end].casefold() for key, (start, end) in group.items()}))
        if len(names) < 2:
            continue
        said = set(about(t for word in before + behind if word not in "#\1" for t in tokens(word)))
        score, meant = _score(names, said | context)
        score *= 1 + 0.25 * len(before + behind)
        if score > most:
            most = score
            best = {k: (a, b) for k, (a, b) in group.items() if k[a:b].casefold() in meant}
    return best


def _of_all(name: str) -> bool:
    """Whether a word beside those of elements names a setting of them all: `osd_on`."""
    own = {idea for idea, weight in about(tokens(name)).items() if weight > 0.7}
    return len(chunks(name)) == 1 and bool(own & {"enabled", "standard"})


def _score(names: tuple[str, ...], said: set[str]) -> tuple[float, Sequence[str]]:
    """How many of some words belong to one closed list, and those that do; 0 where none do."""
    count = len(names)
    words = {name: len(chunks(name)) for name in names}
    short = [name for name in names if words[name] == 1 or len(tokens(name)) == 1]
    controls = pair_up(short, CONTROLS, 1.0)
    if count == 4 and len(controls) == 4 and said & {"stick", "receiver", "map"}:
        return count * 2.2, names
    mixer = said & {"mix", "motor", "arm_of_frame"}  # each column of it counts in its own way
    axes = {} if mixer else pair_up(short, AXES, 1.0)
    if axes and len(axes) in (count, len(AXES)):
        return len(axes) * 2.0, list(axes)
    if 3 <= count <= 8 and len(arms_of(names)) == count:
        return count * 1.5, names
    corners = [name for name in names if is_corner(name)]
    if said & {"motor", "arm_of_frame", "esc", "mix"} and len(corners) in (4, 6, 8):
        return len(corners) * 1.5, corners  # beside settings of all of them
    for index, listed in (("FUNCTION", FUNCTIONS), ("NAME", element_names())):
        if count >= _FEWEST[index] and said & set(_BESIDE[index]):
            paired = pair_up(names, listed)
            matched = len(paired)
            names = tuple(name for name in names if name in paired or not _of_all(name))
            count = len(names)
            if matched >= (0.6 if count > _FEW else 1.0) * count:
                return matched - 0.7 * (count - matched), names
    return 0.0, ()
