"""Where values can belong: settings of the vocabulary, hints of the dump, how well they fit."""

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from fractions import Fraction
from functools import cache, lru_cache
from math import log10, pi
from typing import NamedTuple

from cfgaudit.teach.codes import are_bits, code_of, codes_in, letters_in, mask_of, told_of
from cfgaudit.teach.indices import END_SCALE, HOLE, SCALE
from cfgaudit.teach.keys import Family, Field
from cfgaudit.teach.labels import NOTHING
from cfgaudit.teach.measures import (
    Measure,
    aside_of,
    measure_of,
    measures_in,
    part_of,
    same_dimension,
    unit_of,
)
from cfgaudit.teach.words import (
    AXES,
    CONTROLS,
    about,
    arms_of,
    chunks,
    data_table,
    ideas_of,
    index_match,
    is_corner,
    likest,
    pair_up,
    root,
    tokens,
)
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.kinds import (
    OFF_WORDS,
    ON_WORDS,
    Bool,
    Either,
    Filters,
    Int,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Text,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import Declared, vocabulary
from cfgaudit.vocabulary.units import UnitError, convert, number_text

_ONLY_BANK = "1"
# Names that a firmware may spell out in the key instead of in an index of its own.
_SPELLED = {"AXIS": AXES, "CONTROL": CONTROLS, "ID": ("usb",)}
# Settings of each axis that the vocabulary has by their names: one index for all of them.
_LEAVES = {
    "board.rotation": AXES, "sensors.compass.rotation": AXES,
    "sensors.accelerometer.trim": ("roll", "pitch"),
}  # fmt: skip


@dataclass(frozen=True)
class Goal:
    """One setting, or one part of an element of a list setting, with its indices in capitals."""

    target: str  # as a dialect names it: `ports.ID.baud`, `switches.FUNCTION.low`
    indices: tuple[str, ...]
    kind: Kind
    order: int  # in the vocabulary
    group: str  # the part of the vocabulary that it belongs to
    needs: tuple[tuple[str, ...], ...]  # words that a key can't do without, each with others for it
    beside: tuple[str, ...]  # words that may stand beside them
    choices: Mapping[str, tuple[str, ...]]  # closed lists of names, by index
    usual: tuple[float, float] | None = None
    one_of: frozenset[float] = frozenset()
    contrary: frozenset[str] = frozenset()  # words of a name that say the opposite
    spelled: str = ""  # the word of the key that it needs
    axis: str = ""  # of a setting that the vocabulary has for each axis: its own
    joins: str = ""  # the index that the value is: the pad, on a motor's line
    joined: str = ""  # what the line states then: the motor, the use that its thing has for a pad

    def spelled_out(self, index: str) -> bool:
        """Whether no placeholder can stand for an index: the vocabulary has a name for each."""
        return index == "AXIS" and ".".join(self.target.split(".")[:-1]) in _LEAVES


@cache
def goals() -> tuple[Goal, ...]:
    """Every goal, in the order of the vocabulary."""
    return tuple(goal for order, entry in enumerate(vocabulary()) for goal in _of(entry, order))


def _of(entry: Declared, order: int) -> Iterator[Goal]:
    parts = entry.kind.parts
    if not parts:
        yield from _variants(entry, entry.pattern, entry.kind, order)
        return
    for number, (name, kind) in enumerate(parts.items()):
        target = f"{entry.pattern}.{name}"
        if isinstance(entry.kind, Filters):
            yield _goal(entry, f"{entry.pattern}[SLOT].{name}", target, kind, order, "", number)
            yield _goal(entry, f"{entry.pattern}[].{name}", target, kind, order, "", number)
        else:
            yield _goal(entry, target, target, kind, order, "", number)


def _variants(entry: Declared, pattern: str, kind: Kind, order: int) -> Iterator[Goal]:
    yield _goal(entry, pattern, pattern, kind, order)
    above, _, leaf = pattern.rpartition(".")
    if leaf == "roll" and above in _LEAVES:
        yield _goal(entry, f"{above}.AXIS", pattern, kind, order, leaf)
    banked = pattern.startswith("banks.N.")  # of a firmware that has one bank no line says which
    if banked:
        yield _goal(entry, pattern.replace("N", _ONLY_BANK, 1), pattern, kind, order)
    for index, names in _SPELLED.items():
        if index not in pattern.split(".") or (index == "ID" and not pattern.startswith("ports.")):
            continue
        for number, name in enumerate(names):
            target = ".".join(name if word == index else word for word in pattern.split("."))
            yield _goal(entry, target, pattern, kind, order, name, number)
            if banked:
                only = target.replace("N", _ONLY_BANK, 1)
                yield _goal(entry, only, pattern, kind, order, name, number)


def _goal(
    entry: Declared, target: str, key: str, kind: Kind, order: int, spelled: str = "", at: int = 0
) -> Goal:
    facts = data_table("usual")
    words = target.replace("[SLOT]", "").replace("[]", "").split(".")
    capital = tuple(w for w in words if w.isupper())
    if "[SLOT]" in target:
        capital = (*capital, "SLOT")
    needs, beside = _lexicon(key)
    one_name = target.rpartition(".")[2] == "AXIS"
    if one_name:
        needs = tuple(alternatives for alternatives in needs if spelled not in alternatives)
    elif spelled:
        needs = (*needs, (spelled,))
    pattern = entry.pattern
    span = facts["range"].get(target) or facts["range"].get(key) or facts["range"].get(pattern)
    group = [w for w in words[:-1] if w not in (spelled, "AXIS")]
    return Goal(
        target,
        capital,
        kind,
        order * 10 + at,
        ".".join(group) or words[0],
        needs,
        beside,
        dict(entry.choices),
        (float(span[0]), float(span[1])) if span else None,
        frozenset(float(v) for v in facts["one_of"].get(key, facts["one_of"].get(pattern, ()))),
        frozenset(facts["contrary"].get(entry.pattern, "").split()),
        "" if one_name else spelled,
        words[-1] if ".".join(words[:-1]) in _LEAVES and words[-1] in AXES else "",
    )


@cache
def _lexicon(key: str) -> tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]:
    """The words that a setting needs in its key, and those that may stand beside."""
    entry = data_table("lexicon").get(key)
    if entry is None:  # a setting that the lexicon lacks is named by its path
        words = [w for w in key.split(".") if not w.isupper()]
        return tuple((t,) for t in tokens(words[-1])), tuple(
            t for w in words[:-1] for t in tokens(w)
        )
    needs, _, beside = entry.partition("|")
    return tuple(tuple(word.split("/")) for word in needs.split()), tuple(beside.split())


@cache
def pad_of_motor() -> Goal:
    """The pad that a motor's line names: its value is an index, the motor is the pad's use."""
    pads = next(goal for goal in goals() if goal.target == "pads.ID.use")
    return replace(pads, indices=("ARM",), joins="ID", joined="motor ARM", needs=(("pad",),))


@cache
def pads_of_things() -> tuple[Goal, ...]:
    """The pads that lines of other things name: `pad B1` of the buzzer's."""
    own = pad_of_motor()
    uses = own.kind.choices if isinstance(own.kind, PadUse) else ()
    return tuple(
        replace(own, indices=(), joined=use, needs=(("pad",), (use, *use.split("_"))))
        for use in uses
        if use not in ("motor", "free")
    )


@cache
def control_of_channel() -> Goal:
    """The control that a channel's row names: its value is an index, the row tells the channel."""
    ours = next(goal for goal in goals() if goal.target == "receiver.map.CONTROL")
    return replace(ours, indices=("N",), joins="CONTROL", joined="N", needs=(("control",),))


def is_part(goal: Goal) -> bool:
    """Whether it is a part of one element of a list setting."""
    return "[" in goal.target or (
        goal.target.startswith("switches.") and goal.target.count(".") == 2
    )


_STEPS = re.compile(r"steps? of (\d+(?:\.\d+)?)")
_ABOVE = re.compile(r"(?:above|from|over|starting at|beyond) (\d{2,})")
_AWAY = re.compile(r"\b(?:us|microseconds) (?:from|above|over|beyond) (\d{3,4})\b")
_IN_TENS = re.compile(r"in (tens|fives|hundreds)\b")
_FROM_ZERO = re.compile(
    r"(?:(?:count(?:s|ed|ing)?\s*)?\bfrom|\b(?:corner|left|first)\b[a-z ]*\b(?:is|being)) "
    r"(0|zero|nought|naught|1|one)\b"
)


# `row 1, column 1 is the top left corner`.
_CORNER = re.compile(
    r"\b(?:row|line|column)s? (0|1)\b[^;.]{0,24} (?:is|are) [^;.]*\b(?:top|upper|corner|first)\b"
)


class Hint(NamedTuple):
    """What the dump tells of a field's numbers; None and empty where it tells nothing."""

    unit: str = ""  # as its line tells it: a cell, letters glued on, the end of the key
    step: Fraction | None = None
    said: tuple[Measure, ...] = ()  # what the remark above tells
    scale: Fraction | None = None
    above: Fraction = Fraction(0)
    shift: int | None = None  # what a count lacks to begin from 1
    counted: tuple[tuple[str, int], ...] = ()  # as the dump's first remarks say, of what
    sized: bool = False  # the key tells the size of a step
    codes: tuple[tuple[str, str], ...] = ()  # numbers, and the words that they stand for


def hint_for(family: Family, seen: Field) -> Hint:
    """The hints for a field, of its own line first, then of the remark above."""
    remarks = [*_of_this_key(family), *family.remarks]
    about = [told_of(remark, seen.names) for remark in remarks]
    codes = next((found for one in reversed(about) if (found := codes_in(one))), {})
    if seen.words and None in map(mask_of, seen.words):
        said = re.split(r"[;.] ", about[-1]) if about else []
        letters = next((found for one in said if (found := letters_in(one))), {})
        codes = {
            text: letters[text.casefold()] for text in seen.words if text.casefold() in letters
        }
    for name in seen.names if not codes else ():
        codes = codes or code_of(name)
    counted = tuple(found for one in (*family.remarks[::-1], family.opening)
                    for found in _counted_in(one))  # fmt: skip
    return _measured_hint(family, seen)._replace(codes=tuple(codes.items()), counted=counted)


def _of_this_key(family: Family) -> Iterator[str]:
    """What the dump's first remarks say of keys like this one: `bits of port.*.roles: 1 gps`."""
    key = family.head.replace(HOLE, "1")
    for sentence in family.opening.split(". ") if "*" in family.opening else ():
        if any("*" in word and fnmatchcase(key, word.strip(":,")) for word in sentence.split()):
            yield sentence


def _counted_in(remark: str) -> Iterator[tuple[str, int]]:
    """What a remark says of counts: of what, and what they lack to begin from 1.

    >>> list(_counted_in("channels and rows count from 0. Counting starts at one."))
    [('channels and rows', 1), ('', 0)]
    """
    for found in _COUNTS.finditer(remark.casefold()):
        what = [word for word in (found[1] or "").split() if not word.startswith("count")]
        yield " ".join(what), int(found[2] not in ("1", "one"))


_COUNTS = re.compile(
    r"(?:([a-z](?:[a-z, *]|[._](?=[\w*]))*?) )?"
    r"\b(?:count(?:s|ed|ing)?|start(?:s|ing)?|begin(?:s|ning)?)"
    r"(?: start(?:s)?| begin(?:s)?)? (?:from|at|with) (0|zero|nought|naught|1|one)\b"
)


def _measured_hint(family: Family, seen: Field) -> Hint:
    told = [remark.casefold() for remark in reversed(family.remarks) if remark]
    remark = "; ".join(told)
    counted = _count_of_all("; ".join(told))
    shift = None if counted is None else int(counted.group(1) not in ("1", "one"))
    step = _fraction(seen.step)
    measure = measure_of(seen.unit) if seen.unit else None
    if measure is not None and measure.unit:
        return Hint(measure.unit, measure.scale * (step or 1), shift=shift)
    if step is None and measure is not None and measure.scale != 1:
        step = measure.scale
    if step is not None:
        return Hint("", step, shift=shift)
    named = _measure_of(seen.names)
    if named is not None:
        return Hint(named.unit, named.scale, shift=shift, sized=True)
    scale: Fraction | None = None
    steps = _STEPS.search(remark)
    above = Fraction(0)
    over = _ABOVE.search(remark)
    tens = _IN_TENS.search(remark) if over else None
    if steps or tens:
        scale = Fraction(steps.group(1)) if steps else part_of(tens.group(1)) if tens else None
        above = Fraction(over.group(1)) if over else above
    away = _AWAY.search(remark)
    if away and scale is None:
        scale, above = Fraction(1), Fraction(away.group(1))
    said = next((found for one in told if (found := tuple(measures_in(one)))), ())
    numbers = [one for one in family.fields if one.numbers]
    at = next((n for n, one in enumerate(numbers) if one is seen), -1)
    if len(said) == len(numbers) and at >= 0:  # each is that of the value in its place
        said = said[at : at + 1]
    return Hint("", None, said, scale, above, shift)


def _measure_of(names: Sequence[str]) -> Measure | None:
    """The unit or the size of a step that a name ends in, where other words stand before it."""
    for name in names:
        aside = aside_of(name)
        if aside is not None:
            return aside
        steps = SCALE.search(name) or END_SCALE.search(name)
        if steps:
            own = _measure_of([name[: steps.start()].rstrip("_.- ")]) or Measure("")
            return Measure(own.unit, own.scale / int(steps[1]))
        speed = _SPEED_OF_KEY.search(name.casefold())
        if speed:
            return Measure(f"{speed[1]}/{speed[2]}")
        words = [(word, at) for word, at in chunks(name)]
        if len(words) < 2:
            continue
        last = re.sub(r"[^\w%/]+$", "", name[words[-1][1] :].strip("()[] "))  # `low-us :=`
        part = part_of(words[-1][0])
        if part is not None:
            return Measure("", part)
        apart = re.search(r"[_\-. ()\[\]/]", name) is not None
        small = apart and last in ("V", "A", "W", "%")
        if len(last) < 2 and not small and not re.search(r"(?<!per)_[smva]\b", name):
            continue
        if words[-1][0] in ("amps", "volts", "amp", "volt", "baud", "second", "seconds", "min"):
            continue  # they name what is measured
        measure = unit_of(last)
        if measure is not None and measure.unit:
            return measure
    return None


_SPEED_OF_KEY = re.compile(r"(?<=[_.-])(m|cm|km|deg)_(?:per_)?(s|h)$")  # descent_cm_s


def _fraction(text: str) -> Fraction | None:
    try:
        return Fraction(text) if text else None
    except (ValueError, ZeroDivisionError):
        return None


# How a number may have been written, and how much less likely that is than as it stands.
_SCALES = (
    ("1", 0.0), ("0.1", 0.35), ("0.01", 0.35), ("0.001", 0.35), ("10", 0.6), ("100", 0.6),
    ("1000", 0.6), ("0.5", 1.5), ("0.05", 1.5), ("0.25", 1.5), ("0.125", 1.5), ("2", 1.5),
    ("5", 1.5), ("20", 1.7), ("25", 1.7), ("50", 1.7), ("125", 1.5), ("250", 1.5), ("500", 1.5),
)  # fmt: skip
NEGATIVE = frozenset({"hidden", "hide", "hush", "mute", "without", "disabled", "suppress", "quiet"})
# What else says yes and no; a dialect needs a word list for them.
_YES = frozenset({"y", "t", "aye", "present", "set", "engaged", "active", "shown", "visible"})
_NO = frozenset({"n", "f", "nay", "absent", "clear", "idle", "inactive", "hidden"})
_SIGNS = ON_WORDS | OFF_WORDS | {"y", "n"}
UNSURE_BASE = "whether it counts from 0 or from 1 is not known"
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")


class ValueFit(NamedTuple):
    """How well values fit a goal: points, the specification for it, and what it needs."""

    points: float
    spec: str = ""
    words: tuple[tuple[str, str], ...] = ()  # a word list: theirs, ours
    lacks: str = ""  # why it can't be put to work as it is
    stands: tuple[tuple[str, str], ...] = ()  # texts that stand for a word, beside numbers
    coded: int = 0  # numbers that a remark lists, with words that the setting knows
    turned: bool = False  # the numbers have the other sign


IMPOSSIBLE = ValueFit(-9.0)
_PLAIN = (Fraction(1), Fraction(0))
_LONG = re.compile(r"\.\d{5,}$")


@cache
def arm_of_motor() -> Goal:
    """The arm that the line of a motor names: its value is an index, its number the output."""
    output = next(goal for goal in goals() if goal.target == "motors.ARM.output")
    beside = ("place", "position", "arm", "at", "sits", "stands", "corner", "output", "drives")
    needs = (("motor",),)
    return replace(output, indices=("N",), joins="ARM", joined="N", needs=needs, beside=beside)


_PER_CENT = (Measure("%"),)


_LEAST_PULSE = 700  # us
_SELDOM = 1.0  # what a setting that few firmwares state must have over another one


def value_fit(goal: Goal, seen: Field, hint: Hint) -> ValueFit:
    """How well a field's values fit a goal."""
    if goal.joins:
        texts = [sample.text for sample in seen.samples]
        if goal.joins == "CONTROL":
            return _controls_told(texts)
        if goal.joins == "ARM":
            arms = arms_of(texts)
            every = len(set(texts)) == len(set(arms.values())) == len(texts) >= _FEWEST_ARMS
            return ValueFit(0.2, words=tuple(arms.items())) if every else IMPOSSIBLE
        named = all(re.fullmatch(r"[A-Za-z]{0,5}\d{1,3}|[A-Z]", text) for text in texts)
        return ValueFit(0.8) if named and len(set(texts)) == len(texts) else IMPOSSIBLE
    coded = hint.codes and not seen.switch
    ends = goal.target in ("switches.FUNCTION.low", "switches.FUNCTION.high")
    if ends and "0" in (s.text for s in seen.samples):  # rows of what no channel switches
        kept = seen.without(["0"])
        seen = kept if kept.numbers and min(kept.numbers) >= _LEAST_PULSE else seen
    fit = (_coded_fit(goal, seen, hint) if coded else None) or _fit(goal, seen, hint)
    if goal.target.startswith("filters.") and goal.target.endswith(".q") and _counts_rows(seen):
        return IMPOSSIBLE
    if goal.target in data_table("usual")["seldom"]["paths"]:
        return fit._replace(points=max(fit.points - _SELDOM, IMPOSSIBLE.points))
    return fit


def _counts_rows(seen: Field) -> bool:
    """Whether numbers are those that count the rows of a list: `filter dterm 1`, and 2 below."""
    named = {word for name in seen.names for word, _ in chunks(name)}
    texts = [sample.text for sample in seen.samples]
    counted = [int(text) for text in texts if text.isdigit()]
    running = len(counted) == len(texts) and counted == list(range(1, len(counted) + 1))
    return running and not any(pair_up([word], ["quality"]) for word in named)


_FEWEST_ARMS = 3


def _controls_told(texts: Sequence[str]) -> ValueFit:
    """How words fit that each name another control: the four sticks, and no word unknown."""
    told = index_match("CONTROL", "receiver.map.CONTROL", tuple(texts), ()).words
    ours = [told.get(text, "") for text in texts]
    known = set(CONTROLS) <= set(ours) and all(ours)
    sticks = len(pair_up(texts, CONTROLS)) == len(CONTROLS)
    once = len(set(ours)) == len(ours)
    return ValueFit(2.0, words=tuple(told.items())) if known and sticks and once else IMPOSSIBLE


def _coded_fit(goal: Goal, seen: Field, hint: Hint) -> ValueFit | None:
    """How numbers fit that stand for words, as a remark lists them; None where it lists others."""
    codes = dict(hint.codes)
    texts = dict.fromkeys(s.text for s in seen.samples)
    if isinstance(goal.kind, WordSet) and are_bits(list(codes)):
        bits = sum(int(code) for code in codes)
        used = [mask for text in texts if (mask := mask_of(text)) is not None]
        if len(used) < len(texts) or any(number & ~bits for number in used):
            return None
        found = pair_up([word for code, word in codes.items() if int(code)], goal.kind.choices)
        named = tuple((code, found[word]) for code, word in codes.items() if word in found)
        known = sum(int(code) for code, _ in named)
        lacks = "" if all(not n & ~known for n in used) else "some of its bits are not understood"
        return ValueFit(1.0, "flags", named, lacks) if named else None
    if isinstance(goal.kind, Quantity) and texts.keys() <= codes.keys():
        return _coded_numbers(goal, goal.kind, seen, codes)
    if not isinstance(goal.kind, Words | WordSet | PadUse | Either) or not any(
        text in codes for text in texts
    ):
        return None
    if any(text not in codes and text != "0" for text in texts):
        return None
    own = [s._replace(text=codes.get(s.text, "none")) for s in seen.samples]
    said = Field(seen.names, own, "", "")
    fit = _fit(goal, said, Hint())
    if fit.points <= -0.5 or (fit.spec and fit.spec != "words"):
        return None
    ours = dict(fit.words)
    said_by = {text: codes.get(text, "none") for text in texts}
    if not fit.spec and any(
        word not in getattr(goal.kind, "choices", ()) for word in said_by.values()
    ):
        return None
    words = tuple((t, ours.get(w, w)) for t, w in said_by.items() if not fit.spec or w in ours)
    choices = [c for c in getattr(goal.kind, "choices", ()) if c != "motor"]
    known = len(pair_up(list(dict.fromkeys(codes.values())), choices)) if choices else 0
    return ValueFit(fit.points + 0.4, "words", words, fit.lacks, coded=known)


def _coded_numbers(
    goal: Goal, kind: Quantity, seen: Field, codes: Mapping[str, str]
) -> ValueFit | None:
    """How numbers fit that stand for other numbers: `0 9600, 1 19200`."""
    cut = {code: _MEASURED.fullmatch(said) for code, said in codes.items()}
    if len(cut) < 2 or not all(cut.values()) or any(int(code) >= 32 for code in cut):
        return None
    unit = next((m[2] for m in reversed(cut.values()) if m and m[2]), "")
    said = {code: m[1] for code, m in cut.items() if m}
    own = [s._replace(text=said[s.text]) for s in seen.samples]
    measure = measure_of(unit) if unit else None
    scale, name = (measure.scale, measure.unit) if measure else (Fraction(1), "")
    fit = _number_fit(
        goal, kind, Field(seen.names, own, "", ""), Hint(name, scale if name else None)
    )
    if fit.points <= -0.5 or fit.lacks or (name and not same_dimension(name, kind.unit)):
        return None
    words = {
        code: f"{number_text(float(Fraction(text) * scale))} {name or kind.unit}".rstrip()
        for code, text in said.items()
    }
    return ValueFit(fit.points + 0.4, "words", tuple(words.items()), coded=len(words))


_MEASURED = re.compile(r"(\d+(?:\.\d+)?) ?([a-z/%]*)")


_MEASURE = re.compile(r"\d+\.\d+ ?[a-zA-Z%\"]+")


def _fit(goal: Goal, seen: Field, hint: Hint) -> ValueFit:
    kind = goal.kind
    if isinstance(kind, Bool):
        return _flag_fit(goal, seen)
    if seen.switch or (seen.is_flag and isinstance(kind, Text | Int | Quantity | Quantities)):
        return IMPOSSIBLE
    if isinstance(kind, Text):
        return _name_fit(seen) if goal.target == "telemetry.protocol" else _text_fit(goal, seen)
    if isinstance(kind, PadUse):
        return _pad_fit(kind, seen)
    if isinstance(kind, Words):
        return _word_fit(kind.choices, seen)
    if isinstance(kind, WordSet):
        return _set_fit(kind, seen)
    if isinstance(kind, Either):
        return _either_fit(goal, kind, seen, hint)
    if isinstance(kind, Int):
        return _whole_fit(goal, kind, seen, hint)
    if isinstance(kind, Quantity | Quantities):
        return _number_fit(goal, kind, seen, hint)
    return IMPOSSIBLE


def _is_no_power(kind: Quantity | Quantities, seen: Field, hint: Hint) -> bool:
    """Whether 0 or 1 is on or off, or the first of some, where no word says that it is a power."""
    told = hint.unit or any("power" in ideas_of(t) for name in seen.names for t in tokens(name))
    return kind.unit == "mW" and set(seen.numbers) <= {0, 1} and not told


_DENIED = frozenset({"not", "no", "never", "non"})


def _flag_fit(goal: Goal, seen: Field) -> ValueFit:
    texts = {sample.text.casefold() for sample in seen.samples}
    if "-" in texts and len(texts) > 1:  # where it does not apply
        rest = _flag_fit(goal, seen.without(["-"]))
        if texts - {"-"} in _ANSWERS or rest.spec == "words":
            return rest
    names = {word for name in seen.names for word in tokens(name)}
    turned = bool(names & NEGATIVE - texts) or bool(names & goal.contrary)
    spec = "not" if turned else ""
    if seen.switch:
        denied = bool(_DENIED & set(seen.names[0].casefold().split()))
        return ValueFit(0.5, "not" if turned is not denied else "")
    if texts and texts <= _YES | _NO:
        words = [(t, "off" if (t in _NO) is not turned else "on") for t in sorted(texts)]
        return ValueFit(0.4, "words", tuple(words))
    said = _said_or_plain(goal, seen, texts)
    if said:
        clear = "on" in said.values() or any(text.endswith("less") for text in texts)
        return ValueFit(0.5 if clear else 0.0, "words", tuple(said.items()))
    if not texts or not texts <= ON_WORDS | OFF_WORDS:
        return IMPOSSIBLE
    return ValueFit(0.5 if seen.is_flag or not texts <= {"0", "1"} else -0.5, spec)


_ANSWERS = ({"y", "n"}, {"yes", "no"}, {"on", "off"}, {"y"}, {"n"}, {"yes"}, {"no"})
_PLAIN_WORDS = frozenset(
    {"normal", "straight", "plain", "upright", "regular", "standard", "ordinary", "usual", "direct"}
)


# What says that a port has one wire, or several.
_WIRES = {
    "1": "on", "one": "on", "half": "on", "2": "off", "two": "off", "full": "off",
    "single": "on", "shared": "on", "separate": "off", "both": "off",
}  # fmt: skip


def _wire_words(texts: Iterable[str]) -> set[str]:
    """Texts without the word for wires: `single wire`."""
    return {re.sub(r" (?:wires?|duplex)$", "", text) for text in texts}


def _said_or_plain(goal: Goal, seen: Field, texts: set[str]) -> dict[str, str]:
    """Words of which one says what the setting is, and the other that it is not so.

    `swapped` and `straight`, or the wires of a port: one where both ways share it.
    """
    own = {sample.text.casefold(): sample.text for sample in seen.samples}
    if texts and _wire_words(texts) <= _WIRES.keys() and goal.target.endswith("half_duplex"):
        said = (*seen.names, *own.values())
        wires = any("wire" in map(root, tokens(name)) for name in said)
        return {own[t]: _WIRES[min(_wire_words([t]))] for t in sorted(texts)} if wires else {}
    terms = {term for alternatives in goal.needs for term in alternatives}
    on = {
        text
        for text in texts
        if not text.isdigit()
        and not text.endswith("less")
        and any(ideas_of(token).get(term, 0.0) >= 0.6 for token in tokens(text) for term in terms)
    }
    denied = {text for text in on if text.removeprefix("not ").removeprefix("no ") != text}
    on -= denied
    turned = not goal.target.endswith(".enabled")  # plain is what is not turned round
    off = {t for t in texts - on if (turned and t in _PLAIN_WORDS) or _is_without(t, terms)}
    off |= denied
    if not off or texts != on | off or len(on) > 1 or len(off) > 1:
        return {}
    return {own[text]: "on" if text in on else "off" for text in sorted(texts)}


def _is_without(text: str, terms: Collection[str]) -> bool:
    """Whether a word says that what a setting is about is not there: `brushless`."""
    return text.endswith("less") and any(ideas_of(text).get(t, 0.0) >= 0.6 for t in terms)


# Names of the trade: they are told in small letters, however a dump prints them.
_TALKS = ("mavlink", "crsf", "sbus", "ibus", "sumd", "nmea", "ubx")


def _name_fit(seen: Field) -> ValueFit:
    if seen.numbers or {s.text.casefold() for s in seen.samples} <= _SIGNS:
        return ValueFit(-1.2, lacks="numbers stand for words")
    own = {sample.text: sample.text.strip('"').casefold() for sample in seen.samples}
    if not set(own.values()) <= {*_TALKS, "none"}:
        return ValueFit(0.0, lacks="words not understood: " + ", ".join(own))
    if all(theirs == ours for theirs, ours in own.items()):
        return ValueFit(0.2)
    return ValueFit(0.2, "words", tuple((t.strip('"'), ours) for t, ours in own.items()))


_LONGEST_ISSUE = 6  # letters of a board's issue: C, 2b, rev 3


def _text_fit(goal: Goal, seen: Field) -> ValueFit:
    texts = [sample.text for sample in seen.samples]
    where = {text.casefold() for text in texts} <= {"row", "column", "col", "line", "at"}
    if where or (goal.target == "craft.name" and all(text.isdigit() for text in texts)):
        return IMPOSSIBLE  # it says where the name is shown
    if goal.target in ("firmware.version", "firmware.built") and any(map(str.isdigit, texts)):
        return ValueFit(-0.45, lacks="how its figures are put together is not known")
    figures = any(map(str.isdigit, "".join(texts)))
    if goal.target in ("firmware.version", "firmware.built") and not figures:
        return IMPOSSIBLE
    if goal.target == "board.revision" and any(len(text) > _LONGEST_ISSUE for text in texts):
        return ValueFit(-1.5)  # a name
    if goal.target == "craft.serial" and not any(
        any(map(str.isdigit, text)) or HIDDEN in text for text in texts
    ):
        return ValueFit(-1.5)  # a name
    if any(text.startswith('"') for text in texts):
        return ValueFit(0.7)
    if {t.casefold() for t in texts} <= _SIGNS - {"0", "1"}:
        return IMPOSSIBLE
    return ValueFit(0.2 if not seen.numbers else -0.45)


def _pad_fit(kind: PadUse, seen: Field) -> ValueFit:
    """What pads are for: a motor, by its arm or its number, or another thing."""
    if seen.numbers:
        return ValueFit(-1.5, lacks="numbers stand for words")
    found: dict[str, str] = {}
    rest: list[str] = []
    for word in seen.words:
        text = word.strip('"')
        motor = _MOTOR.fullmatch(text)
        named = motor and (motor["arm"] or motor["before"])
        if motor and motor["number"]:
            found[text] = f"motor arm_{int(motor['number'])}"
        elif named and (arm := arms_of([named])):
            found[text] = f"motor {arm[named]}"
        elif root(text.casefold()) == "motor":
            found[text] = "motor"
        else:
            rest.append(text)
    corners = arms_of([word for word in rest if is_corner(word)])
    if len(corners) >= _LEAST_ARMS:  # a pad that carries an arm carries its motor
        found |= {word: f"motor {arm}" for word, arm in corners.items()}
    left = [word for word in rest if word not in found]
    found |= pair_up(left, [choice for choice in kind.choices if choice != "motor"])
    off = {s.text: "free" for s in seen.samples if s.text.casefold() in NOTHING}
    missing = [word for word in rest if word not in found]
    lacks = "words not understood: " + ", ".join(missing) if missing else ""
    if any("arm_" in ours for ours in found.values()):
        lacks = lacks or ARMS_UNKNOWN
    share = len(found) / max(1, len(seen.words))
    points = 1.3 * share - 0.5 + 0.3 * min(5, len(found)) * share
    return ValueFit(points, "words", (*found.items(), *off.items()), lacks)


_LEAST_ARMS = 3
_MOTOR = re.compile(
    r"(?:motor|mot|mtr|m|esc)[ ._-]?(?:(?P<number>\d{1,2})|(?P<arm>[a-z][a-z _-]*))"
    r"|(?P<before>[a-z][a-z _-]*)[ ._-]motor",
    re.IGNORECASE,
)
WHICH_AXIS = "whether it is "
ARMS_UNKNOWN = "which arm has which number is not known"


def _sign_fit(choices: tuple[str, ...], seen: Field) -> ValueFit | None:
    """Yes and no, where the key names one of two choices: clockwise = 1."""
    texts = {sample.text.casefold() for sample in seen.samples}
    if len(choices) != 2 or not texts or not texts <= ON_WORDS | OFF_WORDS:
        return None
    ideas = {idea for name in seen.names for word in tokens(name) for idea in ideas_of(word)}
    named = [choice for choice in choices if ideas & _ideas_of_choice(choice)]
    if len(named) != 1:
        return None
    other = next(choice for choice in choices if choice != named[0])
    words = tuple((t, named[0] if t in ON_WORDS else other) for t in sorted(texts))
    return ValueFit(0.6, "words", words)


def _ideas_of_choice(choice: str) -> set[str]:
    return {t for word in tokens(choice) for t in (word, f"={word}")} | {choice, f"={choice}"}


def _word_fit(choices: tuple[str, ...], seen: Field, *, many: bool = False) -> ValueFit:
    signs = _sign_fit(choices, seen)
    if signs is not None:
        return signs
    if all(_MEASURE.fullmatch(sample.text) for sample in seen.samples):
        return IMPOSSIBLE  # `7.0in` is a length, no way to turn
    theirs = [w for w in seen.words if w.casefold() not in _SIGNS]
    if not seen.words and not seen.numbers and "none" in choices:
        return ValueFit(0.1, "words", tuple((s.text, "none") for s in seen.samples))
    if seen.numbers or not seen.words:
        return ValueFit(-1.5, lacks="numbers stand for words") if seen.numbers else ValueFit(-1.0)
    if len(theirs) < len(seen.words) or (len(theirs) > len(choices)):
        return IMPOSSIBLE
    found = _paired(theirs, choices)
    within = len(theirs) == 2 and min(theirs, key=len) in max(theirs, key=len)
    if within and len(choices) == 2 and len(found) == 1:
        other = next(choice for choice in choices if choice not in found.values())
        found |= {word: other for word in theirs if word not in found}  # `clock`, `anticlock`
    share = len(found) / len(theirs)
    if "none" in choices:
        off = (s.text for s in seen.samples if s.text.casefold() in NOTHING)
        found |= {text: "none" for text in off if text not in found}
    lacks = "" if share == 1 else "words not understood: " + ", ".join(set(theirs) - found.keys())
    points = (
        1.3 * share - 0.5 + (0.3 * min(3, len(found)) * share if len(theirs) > 1 or many else 0)
    )
    if len(theirs) == 1 and theirs[0].casefold() in _telling_choices():
        points += _TELLS
    return ValueFit(points, "words", tuple(found.items()), lacks)


_TELLS = 0.7  # points for a word that hardly another setting is set to: crsf, pal


@cache
def _telling_choices() -> frozenset[str]:
    """The choices that one or two settings have, and no other kind of word."""
    kinds = [goal.kind for goal in goals() if isinstance(goal.kind, Words) and not goal.spelled]
    listed = Counter(choice for kind in dict.fromkeys(kinds) for choice in kind.choices)
    return frozenset(c for c, often in listed.items() if often <= 2 and len(c) > 2 and c.isalnum())


def _paired(theirs: Sequence[str], choices: tuple[str, ...]) -> dict[str, str]:
    """Words paired with choices, one each; what repeats a number of the choice counts first."""
    found: dict[str, str] = {}
    for word in theirs:
        digits = re.findall(r"\d{3,}", word)
        same = [choice for choice in choices if digits and choice.endswith(digits[0])]
        if len(same) == 1:
            found[word] = same[0]
    rest = [word for word in theirs if word not in found]
    free = [choice for choice in choices if choice not in found.values()]
    return found | pair_up(rest, free)


def _set_fit(kind: WordSet, seen: Field) -> ValueFit:
    numbers = seen.numbers
    if not numbers:
        return _word_set_fit(kind, seen)
    if seen.words:
        return IMPOSSIBLE
    if not numbers or any(n < 0 or n % 1 or n >= 2**16 for n in numbers):
        return IMPOSSIBLE
    powers = [n for n in numbers if n and not int(n) & (int(n) - 1)]
    several = 0.9 if len(set(powers)) >= 3 else 0.0
    return ValueFit(several - 0.2, "flags", lacks="which bit means what is not known")


def _word_set_fit(kind: WordSet, seen: Field) -> ValueFit:
    """Words of a set: several of them in one value, perhaps, or a word for none.

    Several that mean one thing together are one: `video transmitter`.
    """
    theirs = list(dict.fromkeys(word for text in seen.words for word in _set_words(kind, text)))
    if any(word.casefold() in _SIGNS for word in theirs):
        return IMPOSSIBLE
    if not theirs:
        return ValueFit(0.2)
    several = {word: cut for word in theirs if len(cut := _JOINED.split(word)) > 1}
    found = {word: ours for word in theirs if (ours := _what_it_receives(kind, word))}
    rest = [word for word in theirs if word not in several and word not in found]
    found |= pair_up(rest, [one for one in kind.choices if one not in found.values()])
    for word, cut in several.items():  # half of it would be a wrong set
        parts = pair_up(cut, kind.choices, 0.9)
        found |= {word: ", ".join(parts[part] for part in cut)} if len(parts) == len(cut) else {}
    idle = (word for word in theirs if word not in found)
    found |= {word: "none" for word in idle if any("free" in ideas_of(t) for t in tokens(word))}
    share = len(found) / len(theirs)
    lacks = "" if share == 1 else "words not understood: " + ", ".join(set(theirs) - found.keys())
    off = {s.text: "none" for s in seen.samples if s.text.casefold() in NOTHING}
    points = 1.5 * share - 0.5 + 0.25 * min(3, len(found)) * share
    return ValueFit(points, "words", (*found.items(), *off.items()), lacks)


def _what_it_receives(kind: WordSet, word: str) -> str:
    """Of a receiver of something else that: a satellite receiver tells the position."""
    front, _, last = word.casefold().rpartition(" ")
    return pair_up([front], kind.choices, 0.9).get(front, "") if last == "receiver" else ""


_JOINED = re.compile(r" and | ?& ?")  # `receiver and telemetry`


def _set_words(kind: WordSet, text: str) -> Iterator[str]:
    """The words that a set's value is made of; a part that is no set of our words stays whole."""
    for part in re.split(r"[,+|]", text.strip('"')):
        words = part.split()
        apart = len(pair_up(words, kind.choices, 0.9)) == len(words)
        apart &= _what_it_receives(kind, part.strip()) != "position"  # no port carries both
        apart = apart and all(
            likest(word, kind.choices) > likest(part.strip(), kind.choices) for word in words
        )
        yield from words if apart else filter(None, [part.strip()])


def _either_fit(  # noqa: C901 (a case a line)
    goal: Goal, kind: Either, seen: Field, hint: Hint
) -> ValueFit:
    texts = {sample.text.casefold() for sample in seen.samples}
    if texts <= set(kind.words):
        return ValueFit(0.3)
    if texts <= ON_WORDS | OFF_WORDS and not seen.numbers:
        return ValueFit(-0.6, lacks="on and off stand for words")
    others = [w for w in seen.words if w.casefold() not in kind.words]
    own = [w for w in seen.words if w.casefold() in kind.words]
    if own and len(own) < len({s.text for s in seen.samples}):
        rest = _either_fit(goal, kind, seen.without(own), hint)
        return rest._replace(points=rest.points + 0.5)
    others = [w for w in others if not w[:1].isdigit()]
    said = pair_up([word for _, word in hint.codes], kind.words, 0.6)
    coded = {text: said[word] for text, word in hint.codes if word in said}
    if any(s.text in coded for s in seen.samples):
        rest = _either_fit(goal, kind, seen.without(list(coded)), hint._replace(codes=()))
        if rest.points > -4:
            return rest._replace(points=rest.points + 0.5, stands=tuple(coded.items()))
    if others:
        found = pair_up(others, kind.words, 0.6)
        if len(others) == len(found) == 1:
            rest = _either_fit(goal, kind, seen.without(others), hint)
            if rest.points > -4:
                return rest._replace(points=rest.points + 0.5, stands=tuple(found.items()))
    if seen.glued and isinstance(kind.other, Quantity):
        return _glued_fit(goal, kind.other, seen)
    if others or not seen.numbers:
        return ValueFit(-1.5, lacks="words not understood") if len(others) < 2 else IMPOSSIBLE
    if isinstance(kind.other, Int):
        return _whole_fit(goal, kind.other, seen, hint)
    apart = _apart(seen) if len(kind.words) == 1 else ""
    if apart:
        rest = _number_fit(goal, kind.other, seen.without([apart]), hint)
        if rest.points > -0.5:
            return rest._replace(stands=((apart, kind.words[0]),))
    if set(seen.numbers) <= {0.0, 1.0} and not hint.above:
        return ValueFit(-0.4, lacks="numbers stand for words")
    return _number_fit(goal, kind.other, seen, hint)


def _apart(seen: Field) -> str:
    """A number that stands for a word: -1 or another that lies far from all others; or nothing."""
    texts = dict.fromkeys(s.text for s in seen.samples)
    for text in texts:
        others = [float(other) for other in texts if other != text and _NUMBER.fullmatch(other)]
        if text == "0" and others and min(others) >= 500:  # no pulse at all
            return text
        if not _NUMBER.fullmatch(text) or len(others) < 2:
            continue
        number, span = float(text), max(map(abs, others))
        alone = number == -1 and min(others) >= 0
        if (
            alone
            or (number > 3 * span and text.strip("9") in ("", "1"))
            or number in (65535, 32767)
        ):
            return text
    return ""


NO_SWITCH = "no channel"  # a row of a function that no channel switches
HIDDEN_ROW = "shown = off"  # a row that is none: its element isn't shown


_NO_CHANNEL = ("255", "-1", "99")
_STICKS = 4  # the first channels


def _count_of_all(remark: str) -> re.Match[str] | None:
    """Where a remark says what is counted from, and not that of some things alone."""
    clauses = re.split(r"; |[.] ", remark)
    kept = [c for c in clauses if not any(_things_in(what) for what, _ in _counted_in(c))]
    rest = "; ".join(kept)
    return _FROM_ZERO.search(rest) or _CORNER.search(rest)


def _things_in(text: str) -> set[str]:
    return {root(token) for token in tokens(text)} & _COUNTED_THINGS


_COUNTED_THINGS = {root(word) for word in ("row", "column", "channel", "bank", "slot", "line")}


def _told_shift(goal: Goal, seen: Field, hint: Hint) -> int | None:
    """What the dump's first remarks say that such a count lacks to begin from 1."""
    own = {root(t) for name in (*goal.target.split("."), *seen.names) for t in tokens(name)}
    own |= {root(word) for word in _counted_as(goal).split()}
    for what, shift in hint.counted:
        subject = {root(token) for token in tokens(what)}
        on_screen = goal.target.startswith("overlay.") and "overlay" in about(tokens(what))
        if not what or subject & own or on_screen:
            return shift
    return None


def _counted_as(goal: Goal) -> str:
    """What is counted where a number says that setting."""
    if goal.target.startswith(("receiver.", "switches.", "failsafe.channels")):
        return "channel"
    return "bank" if goal.target.startswith("banks.") else ""


def _shift(goal: Goal, seen: Field, hint: Hint) -> tuple[int, bool]:
    """What numbers lack to count from 1, and whether the dump tells that."""
    if not counts(goal):
        return 0, False
    told = hint.shift if hint.shift is not None else _told_shift(goal, seen, hint)
    if told is not None:
        return told, True
    if goal.target == "switches.FUNCTION.channel" and is_auxiliary(seen.names[0]):
        return 1 - BEHIND_STICKS, True
    return int(0 in seen.numbers and goal.target != "receiver.signal_channel"), False


def _whole_fit(goal: Goal, kind: Int, seen: Field, hint: Hint) -> ValueFit:
    numbers = seen.numbers
    hidden = any(sample.text == "-1" for sample in seen.samples)
    if goal.target == "overlay.elements.NAME.row" and hidden and len(set(numbers)) > 2:
        rest = _whole_fit(goal, kind, seen.without(["-1"]), hint)
        return rest._replace(stands=(("-1", HIDDEN_ROW),)) if rest.points > -4 else IMPOSSIBLE
    if goal.target == "switches.FUNCTION.channel" and len(set(numbers)) > 2:
        idle = _idle_channels(seen)
        rest = _whole_fit(goal, kind, seen.without(idle), hint) if idle else IMPOSSIBLE
        if rest.points > -4:
            lacks = "" if "0" in idle else rest.lacks  # where 0 is none the first one is 1
            stands = tuple((text, NO_SWITCH) for text in idle)
            return rest._replace(stands=stands, lacks=lacks)
    if seen.words or not numbers or any(n % 1 for n in numbers):
        return IMPOSSIBLE
    if hint.unit and not (goal.target == "battery.cells" and hint.unit == "s"):
        return ValueFit(-3.0)
    shift, told = _shift(goal, seen, hint)
    values = [n + shift for n in numbers]
    if not all(kind.low <= value <= kind.high for value in values):
        return IMPOSSIBLE
    if goal.target == "motors.poles" and "pair" in {root(w) for n in seen.names for w in tokens(n)}:
        return ValueFit(_usual(goal, [2 * n for n in numbers], (kind.low, kind.high)), "2")
    lacks = "" if shift or told or not counts(goal) else UNSURE_BASE
    if lacks and sorted(set(numbers)) == list(range(1, len(set(numbers)) + 1)) and len(numbers) > 2:
        lacks = ""  # 1, 2, 3 and so on: nobody begins to count at 1 and means 2
    if lacks and seen.lettered:
        lacks = ""
    spec = f"from {1 - shift}" if shift else ""
    return ValueFit(_usual(goal, values, (kind.low, kind.high)), spec, lacks=lacks)


def _idle_channels(seen: Field) -> list[str]:
    """What says that a switch has no channel: 0, too, where it were on a stick else."""
    texts = dict.fromkeys(sample.text for sample in seen.samples)
    idle = [t for t in texts if t in _NO_CHANNEL or t.casefold() in NOTHING]
    others = [number for number in seen.numbers if number]
    return [*idle, "0"] if "0" in texts and others and min(others) > _STICKS else idle


def is_auxiliary(before: str) -> bool:
    """Whether what stands before a channel's number says that it counts from behind the sticks.

    >>> is_auxiliary("lost AUX "), is_auxiliary("channel ")
    (True, False)
    """
    words = [word for word, _ in chunks(before)]
    return words[-1:] in (["aux"], ["auxiliary"]) and before[-1:] not in ":="


BEHIND_STICKS = 1 - len(CONTROLS)  # what such a count has for the first channel: common practice


def counts(goal: Goal) -> bool:
    """Whether a setting is a number in a row of things that a firmware may count from 0."""
    return goal.target.startswith("receiver.map.") or goal.target in (
        "receiver.signal_channel", "banks.active", "video.transmitter.channel",
        "switches.FUNCTION.channel",
        "overlay.elements.NAME.row", "overlay.elements.NAME.column", "motors.ARM.output",
    )  # fmt: skip


def _usual(goal: Goal, values: Sequence[float], limits: tuple[float, float]) -> float:
    """Points for values as they usually are: more where what is usual is narrow."""
    if goal.one_of:
        telling = [value for value in values if value] or values
        hits = sum(value in goal.one_of for value in telling) / len(telling)
        if hits > 0.8:
            return 0.2 if not any(values) else 1.1
        return 0.3 if hits > 0.3 else -0.5
    if goal.usual is None:
        return 0.0
    low, high = goal.usual
    own = [value for value in values if value] or list(values)
    hits = sum(low <= value <= high for value in own) / len(own)
    if hits < 0.5:
        return -0.5
    span = max(high - low, abs(high) * 0.02, 1e-6)
    narrow = log10(max(1.0, min(limits[1] - limits[0], 100 * span) / span))
    return 0.3 * hits + 0.45 * narrow * hits


def _number_fit(  # noqa: C901 (a case a line)
    goal: Goal, kind: Quantity | Quantities, seen: Field, hint: Hint
) -> ValueFit:
    if seen.glued:
        return _glued_fit(goal, kind, seen)
    numbers = seen.numbers
    if seen.words or not numbers or _is_no_power(kind, seen, hint):
        return IMPOSSIBLE
    many = isinstance(kind, Quantities)
    if goal.target == "loop.rate" and is_divider(seen):
        return ValueFit(0.7, "gyro.sample_rate/n")
    if kind.unit == "Hz" and not many and is_period(seen.names, hint):
        return _period_fit(goal, kind, seen, hint)
    counted = list(numbers) == list(range(1, len(numbers) + 1))  # they count the columns below
    if many and (len(numbers) < 2 or len(numbers) != len(seen.samples) or counted):
        return IMPOSSIBLE
    best, way = IMPOSSIBLE, None
    least, most = min(numbers), max(numbers)
    second, usual = -9.0, 0
    if _is_gain(goal) and hint.step is None:
        hint = hint._replace(said=())  # remarks on units are for what has one
        if max(abs(number) for number in numbers) <= _LIKELY_GAIN:
            hint = hint._replace(step=Fraction(1))  # a gain is what the firmware makes of it
    ways = _ways(kind.unit, hint)
    if kind.unit == "us" and not hint.unit and max(-least, most) >= _HALF_TRAVEL:
        signed = any(s.text[:1] in "+-" for s in seen.samples)
        ways = (*ways, _FROM_MIDDLE) if signed else ways
    for scale, offset, cost, by, more in ways:
        one, other = round(least * by + more, 9), round(most * by + more, 9)
        if min(one, other) < kind.low or max(one, other) > kind.high:
            continue
        values = [round(n * by + more, 9) for n in numbers]
        points = _usual(goal, values, (kind.low, kind.high))
        usual += points > 0.0 and cost < 1.0  # odd steps are no rivals of tenths and thousands
        points -= cost
        if points > best.points:
            second = best.points
            best, way = ValueFit(points), (scale, offset)
        else:
            second = max(second, points)
    if way is not None:
        best = best._replace(spec=spec_text(*way, kind.unit, many=many))
    if many and kind.unit == "MHz" and len(numbers) >= _FREQUENCIES and way == _PLAIN:
        best = best._replace(points=best.points + _NOTHING_ELSE * _are_of_video(numbers))
    told = hint.unit or hint.said or hint.step is not None or hint.scale is not None
    close = best.points - second < 0.2 or usual > 1
    plain = all(kind.low <= n <= kind.high for n in numbers) and is_ordinary(goal, numbers)
    small = all(n % 1 == 0 and abs(n) < 10 for n in numbers)
    plain |= small and way is not None and way[0] >= 100  # it may be a code as well
    if not told and any(numbers) and (plain or close if way != _PLAIN else not plain):
        best = best._replace(lacks=UNSURE_STEP)
    gain = _is_gain(goal)
    if gain and not told:  # 340 may be 34 in tenths as well
        best = best._replace(lacks=UNSURE_STEP)
    if told and not (hint.unit or gain) and way is not None and kind.unit != "us":
        worth = [n * float(way[0]) + float(way[1]) for n in numbers]
        if not is_ordinary(goal, worth):  # the remark is about other lines
            best = best._replace(lacks=UNSURE_STEP)
    turns = goal.target.startswith(("board.rotation.", "sensors.compass.rotation."))
    if turns and not hint.unit and way == _PLAIN and any(number % 45 for number in numbers):
        best = best._replace(lacks="whether its number is an angle is not known")
    if goal.one_of and 0 not in goal.one_of and not any(numbers) and not hint.unit:
        best = best._replace(lacks="numbers stand for words")
    if kind.unit in ("deg", "deg/s") and any(_LONG.search(s.text) for s in seen.samples):
        turned = [number * 180 / pi for number in numbers]
        if any(numbers) and all(abs(n * 20 - round(n * 20)) < 0.01 for n in turned):
            points = 0.5 + _usual(goal, [round(n, 2) for n in turned], (kind.low, kind.high))
            return ValueFit(points, kind.unit.replace("deg", "rad"))
        best = best._replace(lacks="whether its numbers are radians is not known")
    if hint.unit == "%" and kind.unit == "us" and least >= 0:
        best = best._replace(lacks=UNSURE_STEP)  # it may be of the whole travel
    if hint.sized and not hint.unit and kind.unit == "us":
        best = best._replace(lacks="the unit of its numbers is not known")
    if goal.target.startswith("switches.") and best.points <= -0.5 and not hint.unit:
        return ValueFit(
            -0.3, lacks="the step of its numbers, and what they count from, is not known"
        )
    return best


_FREQUENCIES = 4  # numbers in a row, from which nothing else of a craft has such ones
_NOTHING_ELSE = 2.0  # points


def _are_of_video(numbers: Sequence[float]) -> bool:
    """Whether numbers are frequencies, in MHz, of the band in which pictures are sent."""
    return all(5300 <= number <= 6000 for number in numbers)


def _is_gain(goal: Goal) -> bool:
    return re.match(rf"banks\.(?:N|{_ONLY_BANK})\.gains\.", goal.target) is not None


# A pulse with a sign is counted from the middle of the travel; to its ends there are 500 us, so
# numbers of less than four fifths may count in other steps.
_HALF_TRAVEL = 400
_FROM_MIDDLE = (Fraction(1), Fraction(1500), 0.3, 1.0, 1500.0)
_LIKELY_GAIN = 250  # up to which it is likelier whole than in tenths


UNSURE_STEP = "how large a step of its numbers is, is not known"
_ORDINARY = 4  # times what is usual that a setting may still well be


def is_ordinary(goal: Goal, values: Sequence[float]) -> bool:
    """Whether values may well be a setting's as they stand, by what is usual for it."""
    known = sorted(abs(value) for value in goal.one_of if value)
    if goal.usual is not None:
        least, most = min(map(abs, goal.usual)), max(map(abs, goal.usual))
        if goal.usual[0] < 0 <= goal.usual[1]:
            least = most / 100
    elif known:
        least, most = known[0], known[-1]
    else:
        return True
    pulse = isinstance(goal.kind, Quantity) and goal.kind.unit == "us" and least >= 500
    times = 1.2 if pulse else _ORDINARY if goal.usual is not None else 3
    if goal.target.startswith("switches."):  # a switch that is off may have any ends
        values = sorted(values)[len(values) // 5 :]
    return all(least / times <= abs(value) <= most * times for value in values if value)


_PERIODS = frozenset({"period", "interval", "gap", "pause", "every", "each", "between"})


_DIVIDERS = frozenset({"div", "divide", "divider", "divisor", "denominator", "denom", "every"})


def is_divider(seen: Field) -> bool:
    """Whether a number says which share of the gyro's samples the loop takes."""
    words = {word for name in seen.names for word, _ in chunks(name)}
    return bool(words & _DIVIDERS) and all(1 <= n <= 32 and n % 1 == 0 for n in seen.numbers)


def is_period(names: Sequence[str], hint: Hint) -> bool:
    """Whether numbers are the time between two of what a rate counts."""
    if hint.unit and same_dimension(hint.unit, "s"):
        return True
    words = {word for name in names for word, _ in chunks(name)}
    return bool(words & _PERIODS) and not hint.unit


def _period_fit(goal: Goal, kind: Quantity | Quantities, seen: Field, hint: Hint) -> ValueFit:
    """A rate of which the dump tells the period."""
    told = [m for m in hint.said if m.unit and same_dimension(m.unit, "s")]
    if hint.unit:
        step = convert(hint.step or Fraction(1), hint.unit, "s")
    elif told:
        step = convert(told[0].scale, told[0].unit, "s")
    else:
        step = _likely_step(goal, seen)
    if not step:
        return ValueFit(-0.2, lacks="the unit of the period is not known")
    if not all(seen.numbers):
        return IMPOSSIBLE
    values = [1 / (number * float(step)) for number in seen.numbers]
    if not all(kind.low <= rate <= kind.high for rate in values):
        return IMPOSSIBLE
    points = 0.3 + _usual(goal, values, (kind.low, kind.high))
    texts = dict.fromkeys(s.text for s in seen.samples)
    if all(text.isdigit() for text in texts):
        return ValueFit(points, f"{_short(1 / step)}/n {kind.unit}")
    numbers = (text for text in texts if _NUMBER.fullmatch(text))
    words = tuple((text, f"{_short(1 / (Fraction(text) * step))} Hz") for text in numbers)
    return ValueFit(points, "words", words)


def _likely_step(goal: Goal, seen: Field) -> Fraction:
    """The only unit of time that makes usual rates of periods; 0 where none or several do."""
    words = {word for name in seen.names for word, _ in chunks(name)}
    if not words & {"period", "interval"} or not all(seen.numbers):
        return Fraction(0)
    likely = [
        step
        for step in (Fraction(1), Fraction(1, 1000), Fraction(1, 1_000_000))
        if is_ordinary(goal, [1 / (number * float(step)) for number in seen.numbers])
    ]
    return likely[0] if len(likely) == 1 else Fraction(0)


def _glued_fit(goal: Goal, kind: Quantity | Quantities, seen: Field) -> ValueFit:
    """Numbers with a unit of their own each."""
    numbers = seen.numbers_of(kind.unit)
    if numbers is None or isinstance(kind, Quantities):
        return IMPOSSIBLE
    if not all(kind.low <= number <= kind.high for number in numbers):
        return IMPOSSIBLE
    return ValueFit(0.8 + _usual(goal, numbers, (kind.low, kind.high)))


@lru_cache(maxsize=5_000)
def _ways(unit: str, hint: Hint) -> tuple[tuple[Fraction, Fraction, float, float, float], ...]:
    """Scales and offsets that come into question, what each costs, and both as plain numbers."""
    return tuple((s, o, cost, float(s), float(o)) for s, o, cost in _scales(unit, hint))


def _scales(unit: str, hint: Hint) -> list[tuple[Fraction, Fraction, float]]:
    """Scales and offsets that come into question, each with what it costs."""
    if hint.unit == "%" and unit in ("", "us"):  # of pulses: of half the travel, from the middle
        step = hint.step or Fraction(1)
        return [(step / 100, Fraction(0), -0.8) if not unit else (5 * step, Fraction(1500), -0.8)]
    if hint.unit:
        try:
            stated = convert(Fraction(1), hint.unit, unit)
        except UnitError:
            return []
        return [(stated * (hint.step or 1), Fraction(0), -0.8)]
    if hint.sized and hint.step is not None:
        return [(hint.step, Fraction(0), -0.4)]
    ways = [(Fraction(text), Fraction(0), cost) for text, cost in _SCALES]
    if unit == "us":  # per cent of half the travel, from the middle
        ways.append((Fraction(5), Fraction(1500), -0.6 if hint.said == _PER_CENT else 0.5))
    if hint.step is not None:  # the line tells its step, and that it has no unit
        return [(hint.step, Fraction(0), 0.3 if unit else -0.5)]
    measured = (_in_unit(measure, unit) for measure in hint.said)
    told = [scale for scale in measured if scale is not None]
    if hint.scale is not None:
        ways = [(s, o, c + 0.5) for s, o, c in ways if s != hint.scale and not hint.above]
        if unit == "us" or not hint.above:
            ways += [(hint.scale, hint.above, -0.6)]
        else:
            ways += [(Fraction(text), Fraction(0), cost) for text, cost in _SCALES]
    elif told:
        ways = [(s, o, c + 0.6) for s, o, c in ways if s not in told]
        ways += [(scale, Fraction(0), -0.6) for scale in dict.fromkeys(told)]
    return ways


def _in_unit(measure: Measure, unit: str) -> Fraction | None:
    """What a step of a measure is worth in a unit; None where that is another dimension's."""
    if not measure.unit:
        return measure.scale
    if not unit or not same_dimension(measure.unit, unit):
        return measure.scale / 100 if measure.unit == "%" and not unit else None
    return convert(measure.scale, measure.unit, unit)


def spec_text(scale: Fraction, offset: Fraction, unit: str, *, many: bool = False) -> str:
    """A scale, a unit and an offset as a dialect writes them."""
    scaled = "" if scale == 1 else _short(scale)
    text = f"{scaled} {unit}".strip()
    if offset:
        text = f"{_short(scale)} {unit} + {_short(offset)} {unit}".strip()
    return f"list {text}".strip() if many else text


def _short(number: Fraction) -> str:
    if number.denominator == 1:
        return str(number.numerator)
    plain = f"{float(number):.6f}".rstrip("0")
    return plain if Fraction(plain) == number else str(number)
