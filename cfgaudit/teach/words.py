"""Takes names apart and finds what they are about; the words that tell ports, arms, axes apart."""

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

from cfgaudit.vocabulary.dump import element_kinds
from cfgaudit.vocabulary.kinds import Words, WordSet
from cfgaudit.vocabulary.paths import vocabulary

_CHUNK = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+")
_STOP = frozenset({"the", "a", "an", "and", "of", "it", "is", "as", "that", "this", "each", "its"})
_NEAR = 0.92  # likeness from which two words of five letters or more count as one


@cache
def data_table(name: str) -> Mapping[str, Any]:
    """One of the data files beside this module."""
    text = (files("cfgaudit.teach") / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@lru_cache(maxsize=20_000)
def chunks(text: str) -> tuple[tuple[str, int], ...]:
    """The words that a name is made of, in small letters, each with where it starts.

    Words that are written as one are taken apart where all of it is words of the trade.

    >>> [word for word, _ in chunks("BATWARNCELL3")]
    ['bat', 'warn', 'cell', '3']
    """
    found: list[tuple[str, int]] = []
    for chunk in _CHUNK.finditer(text):
        at = chunk.start()
        for part in _taken_apart(chunk.group().lower()):
            found.append((part, at))
            at += len(part)
    return tuple(found)


@lru_cache(maxsize=20_000)
def tokens(text: str) -> tuple[str, ...]:
    """The words of a name, small letters, short forms spelled out.

    >>> tokens("maxThr_us"), tokens("Counter-clockwise")
    (('most', 'throttle', 'pulse'), ('anticlockwise',))
    """
    short = data_table("abbreviations")
    found: list[str] = []
    for word, _ in chunks(_AGAINST_CLOCK.sub("anticlockwise", without_kinds(text))):
        for part in _measured_by_letter(word):
            found += short[part].split() if part in short else [part]
    return tuple(word for word in found if word not in _STOP)


# A letter before a short form that says what is measured, or about which axis: `vdiv`, `ydead`.
_BY_LETTER = {"v": "voltage", "a": "current", "y": "yaw"}


def _measured_by_letter(word: str) -> tuple[str, ...]:
    """The words of one that a letter begins which nobody knows with it; else the word itself.

    >>> _measured_by_letter("vdiv"), _measured_by_letter("yaw")
    (('voltage', 'div'), ('yaw',))
    """
    rest = word[1:]
    if len(rest) < min(_SHORT) or word in _dictionary() or root(word) in _dictionary():
        return (word,)
    by_letter = word[0] in _BY_LETTER and rest in data_table("abbreviations")
    return (_BY_LETTER[word[0]], rest) if by_letter else (word,)


def without_kinds(text: str) -> str:
    """A text without the words that say how a number is kept.

    >>> without_kinds("gain.roll.p:f32")
    'gain.roll.p:'
    """
    return _PLAIN.sub(lambda word: "" if is_kind_of_number(word[0]) else word[0], text)


_PLAIN = re.compile(r"[A-Za-z]+[0-9]+(?![A-Za-z0-9])")
_AGAINST_CLOCK = re.compile(r"(?:counter|contra|anti)[-_ ]?clock(?:[-_ ]?wise)?", re.IGNORECASE)

# What a word of one, two, three letters or more costs where words are taken apart, and each
# letter of what is no word: long words are likelier than several short ones.
_SHORT_COST = {1: 3.0, 2: 1.7, 3: 1.25}
_LETTER_COST = 3.0
_SINGLE = frozenset("pidfqxyzv")  # letters that are words of the trade by themselves


@cache
def _dictionary() -> frozenset[str]:
    """Every word that a name may be made of."""
    found = set(data_table("abbreviations"))
    for words in data_table("thesaurus").values():
        found.update(words.split())
    for entry in data_table("lexicon").values():
        found.update(re.findall(r"[a-z]+", entry))
    found |= {word for name in element_kinds() for word in name.split("_")}
    found.update(_PLAIN_WORDS.split())
    return frozenset(w for w in found if w.isalpha() and (len(w) > 1 or w in _SINGLE))


_PLAIN_WORDS = (
    "a at to in on off of by up down it if no not and or all any each per for with under over back "
    "out both same than then when while time delay total last first next start stop begin done "
    "ready count value state set test check load free raw step steps level limit tenths tenth "
    "hundreds hundredths tens thousandths percent permille degrees volts millivolts seconds "
    "grams metres hertz baud uptime boot flights flight bias zero slope sag comp settle buffer "
    "temp hot warm cold tone tones beep lamp colour color hue curve stack table sum mass weight "
    "sky sun sea plug way ways width height depth one two three four cut"
)


@lru_cache(maxsize=20_000)
def _taken_apart(chunk: str) -> tuple[str, ...]:
    """A run of letters as the likeliest words that it is made of; else whole."""
    known = _dictionary()
    if len(chunk) < 4 or not chunk.isalpha() or chunk in known or root(chunk) in known:
        return (chunk,)
    best: list[tuple[float, tuple[str, ...]]] = [(0.0, ())]
    for end in range(1, len(chunk) + 1):
        ways = []
        for start in range(max(0, end - 14), end):
            word = chunk[start:end]
            if word in known or (len(word) > 4 and root(word) in known):
                cost = _SHORT_COST.get(len(word), 1.0)
                if len(word) == 1:
                    edge = end == len(chunk) or (start == 0 and word in "dq")
                    cost += -1.0 if edge and word != "v" else 1.5
                    of_axis = best[start][1][-1:] in (("roll",), ("pitch",), ("yaw",))
                    cost -= 0.5 if of_axis and end == len(chunk) else 0.0  # `ROLLP`, no low-pass
                ways.append((best[start][0] + cost, (*best[start][1], word)))
        if not ways:
            start = end - 1
            before = best[start]
            glue = before[1][-1] if before[1] and before[1][-1] not in known else ""
            kept = before[1][:-1] if glue else before[1]
            ways.append((before[0] + _LETTER_COST, (*kept, glue + chunk[start:end])))
        best.append(min(ways))
    words = best[-1][1]
    strange = sum(len(word) for word in words if word not in known and root(word) not in known)
    return (chunk,) if strange > 0.25 * len(chunk) or best[-1][0] > len(chunk) else words


@lru_cache(maxsize=20_000)
def root(word: str) -> str:
    """A word without the endings of number and time.

    >>> root("lamps"), root("counted")
    ('lamp', 'count')
    """
    for ending, least in (("ing", 4), ("ies", 3), ("ed", 4), ("s", 3)):
        if word.endswith(ending) and len(word) - len(ending) >= least and not word.endswith("ss"):
            stem = word[: -len(ending)]
            return stem + "y" if ending == "ies" else stem
    return word


@cache
def _ideas() -> Mapping[str, frozenset[str]]:
    """Each root of the thesaurus with the lines that it stands on."""
    table: dict[str, set[str]] = {}
    for idea, words in data_table("thesaurus").items():
        for word in words.split():
            table.setdefault(root(word), set()).add(idea)
    return {word: frozenset(ideas) for word, ideas in table.items()}


@lru_cache(maxsize=20_000)
def ideas_of(word: str) -> Mapping[str, float]:
    """What a word may be about: the lines of the thesaurus, each with a weight, and itself."""
    table = _ideas()
    stem = root(word)
    found = table.get(word, frozenset()) | table.get(stem, frozenset())
    if not found and len(stem) >= 5:
        near = _near(stem)
        found = table[near] if near else found
    if not found:
        found = _short_for(word)
    share = max(0.75, 1 / max(1, len(found)) ** 0.25)
    return {f"={stem}": 1.0, **dict.fromkeys(sorted(found), share)}


_SHORT = range(3, 6)  # letters of a short form that nobody listed


def _short_for(word: str) -> frozenset[str]:
    """What all the words of the thesaurus that a word may be short for are about.

    A short form leaves out the vowels behind the first letter, or the end: `rcv`, `bzr`, `lev`.
    """
    if len(word) not in _SHORT or not word.isalpha() or word in _dictionary():
        return frozenset()
    bare = _without_vowels(word)
    if bare == word:
        longer = [w for w in _ideas() if len(w) > len(word) and _without_vowels(w) == word]
        longer = longer or [w for w in _ideas() if _without_vowels(w).startswith(word)]
    else:
        longer = [w for w in _ideas() if len(w) > len(word) and w.startswith(word)]
    return frozenset.intersection(*(_ideas()[w] for w in longer)) if longer else frozenset()


@lru_cache(maxsize=5_000)
def _without_vowels(word: str) -> str:
    """The first letter and the consonants behind it, each of two alike but once."""
    return word[:1] + re.sub(r"[aeiou]", "", re.sub(r"(.)\1", r"\1", word)[1:])


def _near(word: str) -> str:
    """The word of the thesaurus that is written almost alike, else nothing."""
    from difflib import get_close_matches

    near = get_close_matches(word, _by_letter().get(word[0], ()), 1, _NEAR)
    return near[0] if near else ""


@cache
def _by_letter() -> Mapping[str, Sequence[str]]:
    """The words of the thesaurus by their first letter, of those that are long enough."""
    found: dict[str, list[str]] = {}
    for word in _ideas():
        if len(word) >= 5:
            found.setdefault(word[0], []).append(word)
    return found


def about(words: Iterable[str], weight: float = 1.0) -> dict[str, float]:
    """What several words are about together: ideas, each with its greatest weight."""
    found: dict[str, float] = {}
    for word in words:
        for idea, share in ideas_of(word).items():
            found[idea] = max(found.get(idea, 0.0), share * weight)
    return found


def likeness(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """How far two tables of ideas overlap: 0 for nothing, about 1 a word in common."""
    return sum(weight * other[idea] for idea, weight in one.items() if idea in other)


ARMS = ("front_left", "front_right", "rear_left", "rear_right", "front", "rear", "left", "right")
EVERY_ARM = (*ARMS, "left_front", "left_rear", "right_front", "right_rear")
AXES = ("roll", "pitch", "yaw")
CONTROLS = ("roll", "pitch", "throttle", "yaw")
FUNCTIONS = next(
    names for entry in vocabulary() for index, names in entry.choices if index == "FUNCTION"
)
_MOST = 150  # words of one index; no list of ours is nearly as long
_FAIR = 0.4  # likeness from which two names count as the same thing
_CLEAR = 0.45  # and from which that may be put to work
_NUMBERED = re.compile(r"(\D*)(\d+)")


class Match(NamedTuple):
    """How well index words fit an index of the vocabulary: points, ours for each of theirs."""

    points: float
    words: Mapping[str, str]  # empty where the words are taken as they are
    base: int = 1  # what the dump counts from
    sure: bool = True
    unclear: frozenset[str] = frozenset()  # words whose meaning is too doubtful to be put to work


NO = Match(-9.0, {}, 1, False)


@lru_cache(maxsize=50_000)
def index_match(index: str, target: str, words: tuple[str, ...], names: tuple[str, ...]) -> Match:
    """How well the words of one index fit one of ours. `names` is our closed list, if any."""
    count = len(words)
    if count > _MOST:
        return NO
    numbers = [int(word) for word in words if word.isdigit()]
    if index == "ID" and target.startswith("ports."):
        return _ports(words) if 2 <= count <= 12 else NO
    if index in ("ID", "BAND"):
        fits = count >= 2 if index == "ID" else count <= 8 and not _are_frequencies(words)
        return Match(0.4, {}) if fits else NO
    if index == "SLOT":
        told = {word: word.strip() or "first" for word in words}  # an ordinal, or none
        spelled = any(word != said for word, said in told.items())
        return Match(0.3, told if spelled else {}) if count <= 4 else NO
    if index == "N":
        return _counted(target, words, numbers)
    if index == "ARM":
        return _arms(words) if 3 <= count <= 8 else NO
    if index == "AXIS":
        return _axes(words) if 2 <= count <= 4 else NO
    if index == "CONTROL":
        return _controls(words) if count >= 3 else NO
    if index == "NAME":
        return _named(words, element_names()) if count >= 3 else NO
    return _named(words, names) if count >= 3 and names else NO


def _are_frequencies(words: Sequence[str]) -> bool:
    """Whether lines begin with frequencies: they go on with the list before, and name no band."""
    return any(re.fullmatch(r"\d{4}", word) for word in words)


def _ports(words: Sequence[str]) -> Match:
    """The one without a number, or the first, is taken for usb; the others by number or order."""
    parts = [_NUMBERED.fullmatch(word) for word in words]
    found: dict[str, str] = {}
    sure = True
    if all(parts):
        numbers = [int(part.group(2)) for part in parts if part]
        ranked = sorted(numbers)
        apart = len(ranked) > 2 and ranked[-1] > ranked[-2] + 5  # one that is numbered otherwise
        for word, number in zip(words, numbers, strict=True):
            if apart:
                found[word] = "usb" if number == ranked[-1] else f"uart{number + (0 in numbers)}"
            else:
                found[word] = f"uart{number}" if number else "usb"
    else:
        bare = [word for word, part in zip(words, parts, strict=True) if not part]
        letters = [word for word in words if word.casefold() != "usb"]
        if len(letters) > 1 and all(len(w) == 1 and w.isalpha() for w in letters):
            return Match(0.6, {word: word.casefold() for word in words})
        sure = len(bare) == 1
        rest = [word for word in words if word != bare[0]]
        found[bare[0]] = "usb"
        for order, word in enumerate(rest, 1):
            part = _NUMBERED.fullmatch(word)
            found[word] = f"uart{int(part.group(2))}" if part and sure else f"uart{order}"
    return Match(0.6, found, sure=sure)


def _counted(target: str, words: Sequence[str], numbers: Sequence[int]) -> Match:
    if target.startswith("banks."):
        if len(numbers) == len(words) and len(words) <= 6 and max(numbers) <= 6:
            return Match(1.0, {}, 0 if 0 in numbers else 1)
        if numbers or len(words) > 6:
            return NO
        return Match(0.2, {word: str(n) for n, word in enumerate(words, 1)})
    if len(numbers) < len(words) or max(numbers) > 32:
        return NO
    return Match(0.8, {}, 0 if 0 in numbers else 1)


_SEVERAL = 2


def pair_up(words: Sequence[str], names: Sequence[str], fair: float = _FAIR) -> dict[str, str]:
    """Each of their words with the one of our names that is most like it, no name twice.

    >>> pair_up(["dshot", "pwm"], ["dshot300", "dshot600", "pwm"])  # a number is lacking
    {'pwm': 'pwm'}
    """
    stems = Counter(name.rstrip("0123456789") for name in names if name[-1:].isdigit())
    words = [word for word in words if stems[word.casefold()] < _SEVERAL]
    scored = sorted(
        (
            (-_alike(word, name), order, number, word, name)
            for order, word in enumerate(words)
            for number, name in enumerate(names)
        ),
    )
    found: dict[str, str] = {}
    for less, _, _, word, name in scored:
        if -less >= fair and word not in found and name not in found.values():
            found[word] = name
    return found


def likest(word: str, names: Sequence[str]) -> float:
    """How like a word is to the one of our names that it is most like."""
    return max(_alike(word, name) for name in names)


@lru_cache(maxsize=50_000)
def _alike(word: str, name: str) -> float:
    """How like two names are: the ideas that they share, word by word and as a whole."""
    theirs, ours = tokens(word.lstrip("0123456789") or word), tokens(name)
    if not theirs or not ours:
        return 0.0
    if theirs == ours or re.sub(r"[\W_]", "", word).casefold() == name.replace("_", ""):
        return 3.0  # LiPo is no po of li
    if name == "telemetry" and "esc" in theirs:
        return 0.0  # what speed controllers tell the board is no radio's
    # `video channel` is no power, whatever one switch may do for both
    table = {
        idea: n for idea, n in about(theirs).items() if idea != "video_full_power" or idea == name
    }
    parts = [min(1.0, likeness(about([o]), table)) for o in ours]
    whole = min(1.2, sum(about([t]).get(name, 0.0) for t in theirs))
    idle = sum(not likeness(about([t]), about(ours)) for t in theirs)
    return sum(parts) / len(parts) + whole - 0.1 * idle


@cache
def element_names() -> tuple[str, ...]:
    """The elements that can be written over the picture."""
    return tuple(element_kinds())


def is_channel(prefix: str) -> bool:
    """Whether letters glued before a number say that it is a channel's: ch5."""
    return any("channel" in ideas_of(token) for token in tokens(prefix))


@cache
def choices() -> tuple[str, ...]:
    """Every word that a setting may be set to."""
    kinds = [entry.kind for entry in vocabulary()]
    listed = [kind.choices for kind in kinds if isinstance(kind, Words | WordSet)]
    return tuple(dict.fromkeys(choice for own in listed for choice in own))


def is_choice(text: str) -> bool:
    """Whether a setting may be set to that word: quad-x, mavlink."""
    return re.sub("[ -]", "_", text.casefold()) in choices()


_KIND_OF_NUMBER = re.compile(r"(?:u?int|[ui])(?:8|16|32|64)|(?:float|f)(?:32|64)")


def is_kind_of_number(text: str) -> bool:
    """Whether a word says how a number is kept: `u8 battery.cells 4`, `gain.roll.p:f32 = 45`."""
    return _KIND_OF_NUMBER.fullmatch(text) is not None


def is_word(word: str) -> bool:
    """Whether it is a word of the trade, in some form."""
    return word in _dictionary() or root(word) in _dictionary()


# Corners and sides by the points of the compass (the nose is north), and by their first letters.
_CORNERS = {
    "ne": "front_right", "nw": "front_left", "se": "rear_right", "sw": "rear_left",
    "n": "front", "s": "rear", "e": "right", "w": "left",
    "fr": "front_right", "fl": "front_left", "rr": "rear_right", "rl": "rear_left",
    "br": "rear_right", "bl": "rear_left",
}  # fmt: skip


def arms_of(words: Sequence[str]) -> dict[str, str]:
    """Each word with the arm that it names, no arm twice; those that name none are left out.

    >>> arms_of(("NE", "SE", "tail left"))
    {'NE': 'front_right', 'SE': 'rear_right', 'tail left': 'rear_left'}
    """
    found = {word: _CORNERS[word.casefold()] for word in words if word.casefold() in _CORNERS}
    rest = [word for word in words if word not in found]
    corners = pair_up(rest, [arm for arm in ARMS[:4] if arm not in found.values()], 0.65)
    if len(corners) == len(rest):
        return found | corners
    return found | pair_up(rest, [arm for arm in ARMS if arm not in found.values()], 0.9)


def is_corner(name: str) -> bool:
    """Whether a name says both sides of one arm, or its point of the compass.

    >>> is_corner("back left"), is_corner("sw"), is_corner("left")
    (True, True, False)
    """
    if name in _CORNERS:
        return True
    sides = {arms_of([word]).get(word, "") for word, _ in chunks(name)}
    return len(sides) == 2 and all(sides & both for both in ({"front", "rear"}, {"left", "right"}))


def is_closed_list(words: Sequence[str]) -> bool:
    """Whether most words are axes, controls, arms, switch functions or overlay elements."""
    count = len(set(words))
    if count < 2 or count > _MOST:
        return False
    if count <= 3 and len(pair_up(words, AXES)) == count:
        return True
    controls = pair_up(words, CONTROLS) if 3 <= count <= 12 else {}
    others = [w for w in set(words) - set(controls) if not any(map(str.isdigit, w))]
    if len(controls) >= min(4, count) and 2 * len(others) <= len(controls):
        return True
    if 3 <= count <= 8 and len(arms_of(words)) == count:
        return True
    return count >= 3 and len(pair_up(words, FUNCTIONS)) >= 0.6 * count


def are_elements(words: Sequence[str]) -> bool:
    """Whether most words, of three or more, each name another element of the overlay."""
    count = len(set(words))
    return 3 <= count == len(words) <= _MOST and len(pair_up(words, element_names())) >= 0.6 * count


def _by_name(words: Sequence[str], names: Sequence[str], points: float) -> Match:
    found = pair_up(words, names)
    if len(found) == len(words):
        return Match(points, found)
    left = [word for word in words if word not in found]
    free = [name for name in names if name not in found.values()]
    if len(left) == 1 and len(free) >= 1 and len(found) >= 2:
        return Match(points * 0.8, {**found, left[0]: free[0]})
    if len(words) == len(names):  # in our order, for want of better
        return Match(-0.8, dict(zip(words, names, strict=True)), sure=False)
    return NO


def _axes(words: Sequence[str]) -> Match:
    """The axes; a throttle beside all three has settings of its own."""
    if len(words) == len(AXES) + 1:
        named = pair_up(words, CONTROLS)
        if sorted(named.values()) != sorted(CONTROLS):
            return NO
        return Match(2.0, {word: axis for word, axis in named.items() if axis in AXES})
    return _by_name(words, AXES, 2.0)


def _arms(words: Sequence[str]) -> Match:
    found = arms_of(words)
    if len(found) == len(words):
        return Match(3.0, found)
    if all(word.isdigit() for word in words):  # which arm has which number, the craft must tell
        return Match(0.3, {word: f"arm_{word}" for word in words}, sure=False)
    return _by_name(words, ARMS[: max(4, len(words))], 3.0)


def _controls(words: Sequence[str]) -> Match:
    found = pair_up(words, CONTROLS)
    if len(found) < 3:
        return NO
    left = [word for word in words if word not in found]
    free = [n for n in CONTROLS if n not in found.values()]
    if free and left:
        found[left.pop(0)] = free[0]
    spare = {
        word: word.casefold() if _NUMBERED.fullmatch(word) and word.isalnum() else f"spare{n}"
        for n, word in enumerate(left, 1)
    }
    return Match(2.5, {**found, **spare})


def _is_clear(word: str, name: str, names: Sequence[str]) -> bool:
    """Whether a word means one name, and no other nearly as well."""
    own = _alike(word, name)
    others = [_alike(word, other) for other in names if other != name]
    return own >= _CLEAR and own > max(others, default=0.0) + 0.05


def _named(words: Sequence[str], names: Sequence[str]) -> Match:
    found = pair_up(words, names)
    share = len(found) / len(words)
    if share < 0.25:
        return NO
    unclear = frozenset(w for w, name in found.items() if not _is_clear(w, name, names))
    return Match(3.0 * share - 0.5, found, sure=share > 0.5, unclear=unclear)
