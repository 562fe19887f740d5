"""Proposes, for every field of a dump, the settings that it may be, the likeliest first."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise, permutations
from math import exp
from typing import NamedTuple

from cfgaudit.reading.shapes import Directive
from cfgaudit.teach.codes import are_bits, codes_in
from cfgaudit.teach.fit import (
    ARMS_UNKNOWN,
    BEHIND_STICKS,
    NEGATIVE,
    UNSURE_BASE,
    WHICH_AXIS,
    Goal,
    ValueFit,
    arm_of_motor,
    control_of_channel,
    counts,
    goals,
    hint_for,
    is_auxiliary,
    pad_of_motor,
    pads_of_things,
    value_fit,
)
from cfgaudit.teach.indices import HOLE
from cfgaudit.teach.keys import Family, Field, Sample, without_aside
from cfgaudit.teach.measures import aside_of, part_of, unit_of
from cfgaudit.teach.scopes import OFF_VERBS, VERBS
from cfgaudit.teach.words import (
    EVERY_ARM,
    NO,
    Match,
    arms_of,
    chunks,
    ideas_of,
    index_match,
    root,
    tokens,
    without_kinds,
)
from cfgaudit.vocabulary.kinds import Bool, Quantities, Quantity, Text, Value
from cfgaudit.vocabulary.units import number_text

# For each setting of an arm, the sign that each arm has by the vocabulary's axes; common practice
# for an x frame: roll right lifts the left arms, nose up lifts the front ones.
_FRONT = {arm: ("front" in arm) - ("rear" in arm) for arm in EVERY_ARM}
_LEFT = {arm: ("left" in arm) - ("right" in arm) for arm in EVERY_ARM}
_CROSS = {"front_left": 1, "front_right": -1, "rear_left": -1, "rear_right": 1}
_SAME = dict.fromkeys(EVERY_ARM, 1)
SIGNS: Mapping[str, Mapping[str, int]] = {
    "frame.arms.ARM.x": _FRONT,
    "frame.arms.ARM.y": {arm: -sign for arm, sign in _LEFT.items()},
    "motors.ARM.mix.thrust": _SAME,
    "motors.ARM.mix.roll": _LEFT,
    "motors.ARM.mix.pitch": _FRONT,
    "motors.ARM.mix.yaw": _CROSS,
    "motors.ARM.output": _SAME,
}


def signs_of(seen: Field, depth: int, words: Mapping[str, str]) -> dict[str, int]:
    """The sign of each arm's number."""
    found: dict[str, int] = {}
    for sample in seen.samples:
        arm = words.get(sample.under[depth], "")
        try:
            number = float(sample.text)
        except ValueError:
            continue
        found[arm] = (number > 0) - (number < 0)
    return found


def agreement(target: str, signs: Mapping[str, int]) -> int:
    """1 where the signs are those of the setting, -1 where all are turned, 0 where neither."""
    wanted = SIGNS.get(target)
    if wanted is _CROSS and not signs.keys() <= _CROSS.keys() and signs.keys() <= _FRONT.keys():
        return _alternate(signs)
    if wanted is None or not signs or any(arm not in wanted for arm in signs):
        return 0
    if all(not sign for sign in signs.values()):
        return 0
    if target == "motors.ARM.output":
        return 1 if all(sign >= 0 for sign in signs.values()) else 0
    if all(signs[arm] == wanted[arm] for arm in signs):
        return 1
    return -1 if all(signs[arm] == -wanted[arm] for arm in signs) else 0


def _alternate(signs: Mapping[str, int]) -> int:
    """1 where half of more than four arms yaw one way, and not just those of one side."""
    sides = [{arm: sign * side[arm] for arm, sign in signs.items()} for side in (_FRONT, _LEFT)]
    even = sum(signs.values()) == 0 and all(signs.values())
    mixed = all({1, -1} <= set(side.values()) for side in sides)
    return 1 if even and mixed else 0


def yaw_sign(signs: Mapping[str, int], spins: Mapping[str, str]) -> int:
    """How the yaw column counts, where the spins are known: an arm that turns ccw yaws clockwise.

    1 where those arms are positive, -1 where they are negative, 0 where nobody can tell.
    """
    told: Sequence[int] = [
        sign if spins[arm] == "ccw" else -sign for arm, sign in signs.items() if arm in spins
    ]
    if len(told) < 3:
        return 0
    return 1 if all(t > 0 for t in told) else -1 if all(t < 0 for t in told) else 0


_KEPT = 24  # candidates a field
_FLOOR = 1.2  # points from which a candidate is likelier than none
_NEIGHBOURS = 1.7  # points for standing among settings of the same group
_IN_ORDER = 0.35  # points for following the setting before as in the vocabulary
_SAME_LINE, _SAME_SCOPE = 2.5, 0.6  # how much fields of the same line, section count
_WORDED = 1000  # fields from which only settings count that their words speak of
_WINDOW = 4  # lines to either side that count as neighbours


Matches = tuple[tuple[str, int, Match], ...]  # our index, the family's, how they match


class Candidate(NamedTuple):
    """A setting that a field may be, and what speaks for it."""

    goal: Goal
    points: float
    fit: ValueFit
    matches: Matches
    alike: float  # points for the words
    near: float = 0.0  # points for the neighbours
    explained: float = 1.0  # the share of the key's own words that it accounts for

    def path(self, sample: Sample) -> str:
        """The setting that one sample states."""
        path = self.goal.target
        before, bracket, rest = path.partition("[")
        parts = before.split(".")
        if self.goal.joins:
            own = dict(self.fit.words).get(sample.text, sample.text)
            parts = [own if part == self.goal.joins else part for part in parts]
        for index, depth, match in self.matches:
            ours = self.ours(index, match, sample.under[depth])
            parts = [ours if part == index else part for part in parts]
            rest = rest.replace("SLOT]", f"{ours}]") if index == "SLOT" else rest
        return ".".join(parts) + bracket + rest

    @staticmethod
    def ours(index: str, match: Match, word: str) -> str:
        """Our word for an index's; empty where it is not known."""
        if match.base != 1 and word.isdigit():
            return str(int(word) + 1 - match.base)
        if word in match.words or (match.words and index != "NAME"):
            return match.words.get(word, "")
        return "" if index == "NAME" and re.search(r"\W", word) else word

    @property
    def key(self) -> str:
        """What no two fields can be at once."""
        if self.goal.joins == "ARM":  # a line may tell each motor's output itself
            return self.goal.target
        return self.goal.target.replace("[SLOT]", "[]") + self.goal.joins + self.goal.joined


def plain_path(path: str) -> str:
    """A path without the label of an element's place in its list."""
    return re.sub(r"\[[^\]]*\]", "", path)


@dataclass
class Proposal:
    """What one field may be."""

    family: Family
    seen: Field
    position: int  # of the family among all
    candidates: list[Candidate] = field(default_factory=list)
    chosen: Candidate | None = None
    sure: float = 0.0
    told: bool = False  # by the builder
    known: dict[str, Value] = field(default_factory=dict)  # what some texts mean, as he told


def propose(families: Sequence[Family]) -> list[Proposal]:
    """Proposals for every field, each setting given out once."""
    found: list[Proposal] = []
    lists = _fullest_lists(families)
    worded = sum(len(family.fields) for family in families) > _WORDED
    for position, family in enumerate(families):
        for seen in family.fields:
            made = Proposal(family, seen, position)
            made.candidates = sorted(_candidates(family, seen, lists, worded), key=_rank)[:_KEPT]
            found.append(made)
    _one_bank_or_several(found)
    _pads_named_beside(found)
    _elements_without_place(found)
    _tell_arms(found)
    for _ in range(1 if worded else 3):
        _listen_to_neighbours(found)
    settle(found)
    return found


def _one_bank_or_several(found: Sequence[Proposal]) -> None:
    """A setting of the only bank is that of no line where lines tell of several banks.

    They say which one they are of, or two of them say the same of it.
    """
    best = [
        candidate for made in found for candidate in made.candidates[:3] if candidate.alike >= 1
    ]
    only = Counter(
        (made.candidates[0].goal.target, tuple(map(tuple, made.family.indices)))
        for made in found
        if made.candidates and made.candidates[0].goal.target.startswith("banks.1.")
        if made.candidates[0].alike >= 1
    )
    if max(only.values(), default=0) < 2 and not any(map(_is_of_a_bank, best)):
        return
    for made in found:
        kept = (one for one in made.candidates if not one.goal.target.startswith("banks.1."))
        made.candidates = list(kept)


def _is_of_a_bank(candidate: Candidate) -> bool:
    """Whether a field is of one bank of several: their numbers tell, or its words do clearly."""
    of_bank = candidate.goal.target.startswith("banks.N.")
    counted = any(index == "N" and match.points >= 1 for index, _, match in candidate.matches)
    return of_bank and (counted or candidate.alike >= _CLEAR_WORDS)


_CLEAR_WORDS = 2.5


def _pads_named_beside(found: Sequence[Proposal]) -> None:
    """Rows whose first word is a use, and which have a pin in another cell, name no pads by it."""
    for made in found:
        others = [one for one in made.family.fields if one is not made.seen]
        pinned = any(_PIN & set(name_tokens(name)) for one in others for name in one.names[:1])
        if pinned and any(map(_are_uses, made.family.indices)):
            kept = (c for c in made.candidates if not c.goal.target.startswith("pads.ID."))
            made.candidates = list(kept)


_PIN = frozenset({"pin", "pad"})


def _are_uses(words: Sequence[str]) -> bool:
    """Whether words say what pads are for: `motor1`, `led`, `buzzer`."""
    said = {idea for word in words for t in tokens(word) for idea in ideas_of(t)}
    return len(said & _USES) >= _USES_LEAST


_USES = frozenset({"motor", "led_strip", "buzzer", "voltage", "current", "camera_key"})
_USES_LEAST = 3


_FROM_ZERO = re.compile(r"\b(?:from|at|with) (?:0|zero|nought)\b", re.IGNORECASE)


def _elements_without_place(found: Sequence[Proposal]) -> None:
    """Where 0 is both row and column of an element it is hidden: nothing counts from 0 by that."""
    zeros: dict[int, list[set[int]]] = {}
    places = ("overlay.elements.NAME.row", "overlay.elements.NAME.column")
    own = [m for m in found if m.candidates and m.candidates[0].goal.target in places]
    for made in own:
        lines = {s.place.line for s in made.seen.samples if s.text == "0" and s.place.line}
        zeros.setdefault(made.position, []).append(lines)
    for made in own:
        both = zeros[made.position]
        if _FROM_ZERO.search(" ".join([*made.family.remarks, made.family.opening])):
            continue
        if len(both) == len(places) and both[0] == both[1] != set():
            made.candidates = [
                c._replace(fit=c.fit._replace(lacks=UNSURE_BASE)) if c.goal.target in places else c
                for c in made.candidates
            ]


def settle(found: Sequence[Proposal]) -> None:
    """Give each setting to one field, and let those that are sure tell what others count from."""
    _give_out(found)
    _count_alike(found)
    _count_by_kin(found)
    _volts_of_pack(found)
    _pads_by_outputs(found)
    _powers_by_place(found)
    _channel_by_plan(found)


def _tell_arms(found: Sequence[Proposal]) -> None:
    """Which number each arm has: a field names it, or it tells where it stands, ahead or behind, to
    the left or the right.
    """
    sides: dict[tuple[str, ...], dict[str, dict[str, float]]] = {}
    for made in found:
        best = max(made.candidates, key=lambda c: c.alike, default=None)
        if best is None or not best.goal.target.startswith("frame.arms.ARM.") or best.alike < 0.8:
            continue
        depth = next(d for index, d, _ in best.matches if index == "ARM")
        words = {sample.under[depth]: sample.under[depth] for sample in made.seen.samples}
        part = best.goal.target[-1]
        places = {s.under[depth]: float(s.text) for s in made.seen.samples if _is_number(s.text)}
        sides.setdefault(tuple(words), {})[part] = places
    arms: dict[str, str] = {}
    for both in sides.values():
        if both.keys() >= {"x", "y"}:
            arms |= _arms_at({w: (x, both["y"][w]) for w, x in both["x"].items() if w in both["y"]})
    arms = _arms_named(found) or _arms_counted(found) or _arms_listed(found) or arms
    name_arms(found, arms)


def name_arms(found: Sequence[Proposal], arms: Mapping[str, str]) -> None:
    """Take it that each number is that arm, if they tell three of them at least."""
    if len(set(arms.values())) < len(arms) or len(arms) < 3:
        return
    for made in found:
        number = next((n for n, c in enumerate(made.candidates) if c is made.chosen), -1)
        made.candidates = [_with_arms(made, candidate, arms) for candidate in made.candidates]
        made.chosen = made.candidates[number] if number >= 0 else made.chosen
        _pads_of_motors(made, arms)
        made.candidates.sort(key=_rank)


def _pads_of_motors(made: Proposal, arms: Mapping[str, str]) -> None:
    """Where the numbers of motors were taken for pads, its value is the pad: `A1PAD=M2`."""
    pads = next((c for c in made.candidates if c.goal.target == "pads.ID.use"), None)
    numbered = [listed for listed in made.family.indices if set(listed) == arms.keys()]
    named = all(sample.text not in arms for sample in made.seen.samples)
    if pads is None or pads.goal.joins or len(numbered) != 1 or not named or made.told:
        return
    joined = candidate_for(made, pad_of_motor())
    if joined is not None:
        new = _with_arms(made, joined._replace(points=pads.points), arms)
        made.candidates = [new if c is pads else c for c in made.candidates]
        made.chosen = new if made.chosen is pads else made.chosen


def _arms_listed(found: Sequence[Proposal]) -> dict[str, str]:
    """The arms that a remark lists by their numbers: `arms: 1 front left, 2 front right`."""
    for remark in dict.fromkeys(r for made in found for r in made.family.remarks if r):
        codes = codes_in(remark)
        named = arms_of(tuple(codes.values())) if 3 <= len(codes) <= 8 else {}
        if codes and len(named) == len(codes):
            return {number: named[words] for number, words in codes.items()}
    return {}


def _arms_counted(found: Sequence[Proposal]) -> dict[str, str]:
    """The arms by the numbers of the rows that are each of one: `1  rear left  4  cw`."""
    for family in {id(made.family): made.family for made in found if made.family.counts}.values():
        arms = arms_of(tuple(family.counts))
        if 3 <= len(arms) == len(family.counts):
            return {family.counts[word]: arm for word, arm in arms.items()}
    return {}


def _arms_named(found: Sequence[Proposal]) -> dict[str, str]:
    """The arms that the values of a field name, one a number: `motor_1_position = front_left`."""
    for made in found:
        ideas = {idea for token in tokens(made.family.head) for idea in ideas_of(token)}
        if not ideas & {"motor", "esc"}:
            continue  # lamps stand at corners, too
        samples = made.seen.samples
        texts = [sample.text for sample in samples]
        names = arms_of(texts) if 3 <= len(texts) <= 8 and len(set(texts)) == len(texts) else {}
        if len(names) == len(texts) > 0 and made.family.indices:
            told = {sample.under[-1]: names[sample.text] for sample in samples}
            if len(told) == len(texts) and all(word.isdigit() for word in told):
                return told
    return {}


def _arms_at(places: Mapping[str, tuple[float, float]]) -> dict[str, str]:
    """The arms by where they stand: ahead, and to the right."""
    found: dict[str, str] = {}
    for word, (x, y) in places.items():
        name = _ARM_AT.get(((x > 0) - (x < 0), (y > 0) - (y < 0)), "")
        if len(places) == 8 and abs(x) < abs(y) and "_" in name:  # nearer to the side: left_front
            name = "_".join(reversed(name.split("_")))
        if name:
            found[word] = name
    return found


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[+-]?(?:\d+\.?\d*|\.\d+)", text) is not None


_ARM_AT = {
    (1, -1): "front_left", (1, 1): "front_right", (-1, -1): "rear_left", (-1, 1): "rear_right",
    (1, 0): "front", (-1, 0): "rear", (0, 1): "right", (0, -1): "left",
}  # fmt: skip


def _with_arms(made: Proposal, candidate: Candidate, arms: Mapping[str, str]) -> Candidate:
    """The candidate with its arms told by their numbers, where it has such an index."""
    matches = []
    gained = 0.0
    for index, depth, match in candidate.matches:
        if index == "ARM" and not match.sure and match.words.keys() <= arms.keys():
            told = {word: arms[word] for word in match.words}
            gained += 2.5 - match.points
            matches.append((index, depth, Match(2.5, told)))
        else:
            matches.append((index, depth, match))
    fit = candidate.fit
    if fit.lacks == ARMS_UNKNOWN:
        words = tuple((theirs, _arm_named(ours, arms)) for theirs, ours in fit.words)
        if not any("arm_" in ours for _, ours in words):
            fit = fit._replace(words=words, lacks="")
    new = candidate._replace(matches=tuple(matches), points=candidate.points + gained, fit=fit)
    if gained:
        _, before = _signs(candidate.goal, made.family, made.seen, candidate.matches)
        turned, after = _signs(candidate.goal, made.family, made.seen, new.matches)
        new = new._replace(fit=fit._replace(turned=turned), points=new.points + after - before)
    return new


def _arm_named(ours: str, arms: Mapping[str, str]) -> str:
    before, mark, number = ours.partition("arm_")
    return f"{before}{arms[number]}" if mark and number in arms else ours


def _count_by_kin(found: Sequence[Proposal]) -> None:
    """What channels and banks count from, by those whose first number tells it."""
    first = {kin: base for kin, base in map(_first_number, found) if kin}
    sticks = [
        int(sample.text)
        for made in found
        if made.chosen and made.chosen.goal.target.startswith("receiver.map.") and made.sure > 0.6
        for sample in made.seen.samples
        if sample.text.isdigit()
    ]
    if {1, 2, 3, 4} <= set(sticks) and 0 not in sticks:
        first.setdefault("channel", 1)
    for numbers in _channels_named({id(made.family): made.family for made in found}):
        if {1, 2, 3} <= numbers:
            first.setdefault("channel", 0 if 0 in numbers else 1)
    for kin, begins in _told_by_others(found):
        first.setdefault(kin, begins)
    for made in found:
        chosen = made.chosen
        if chosen is None or not chosen.fit.lacks or not counts(chosen.goal):
            continue
        base = first.get(_counted_with(chosen.goal.target))
        if base is not None:
            fit = chosen.fit._replace(lacks="", spec="" if base else "from 0")
            put(made, chosen, chosen._replace(fit=fit))


def _told_by_others(found: Sequence[Proposal]) -> Iterator[tuple[str, int]]:
    """What things are counted from, as one of them or how many there are shows."""
    numbered = [
        (chosen.goal.target, chosen.fit, made.seen.numbers)
        for made in found
        if (chosen := made.chosen) and chosen.alike >= 1 and counts(chosen.goal)
    ]
    for target, fit, _ in numbered:
        if fit.spec == "from 0" and not fit.lacks and _counted_with(target) == "place":
            yield "place", 0  # rows and columns count alike
    for total, begins in _LASTS.items():
        every = next((m.seen.numbers[0] for m in found if _is_sure_of(m, total)), None)
        for target, _, numbers in numbered:
            if every in numbers and target.startswith(begins):
                yield _counted_with(target), 1  # counted from 0 the last one is one less


def _is_sure_of(made: Proposal, target: str) -> bool:
    """Whether a field is surely that setting, and has one number."""
    chosen = made.chosen
    sure = chosen is not None and chosen.goal.target == target and made.sure > 0.85
    return sure and len(set(made.seen.numbers)) == 1


def _channels_named(families: Mapping[int, Family]) -> Iterator[set[int]]:
    """The numbers of lines that are each of one channel: `channel 1 roll`, `failsafe ch3 1000`."""
    for family in families.values():
        words = [word for word, _ in chunks(family.head.replace(HOLE, " "))]
        if not words and family.chain:  # of a table, the title of the first column
            words = [word for name in family.chain[-1].names for word, _ in chunks(name)]
        if words and words[-1].casefold() in ("channel", "chan", "ch") and family.indices:
            last = family.indices[-1]
            if all(word.isdigit() for word in last):
                yield set(map(int, last))


def _pads_by_outputs(found: Sequence[Proposal]) -> None:
    """Which motor hangs on which pad, where pads number the motors as their outputs do."""
    arms: dict[int, str] = {}
    for made in found:
        chosen = made.chosen
        if chosen and chosen.goal.target == "motors.ARM.output" and made.sure > 0.7:
            shift = 1 if chosen.fit.spec == "from 0" else 0
            known = all(match.sure for _, _, match in chosen.matches)
            numbers = [s for s in made.seen.samples if s.text.isdigit()]
            if known and not made.seen.words:
                arms = {int(s.text) + shift: chosen.path(s).split(".")[1] for s in numbers}
    if len(arms) < 3 or sorted(arms) != list(range(1, len(arms) + 1)):
        return
    for made in found:
        chosen = made.chosen
        if chosen is None or chosen.goal.target != "pads.ID.use" or not made.seen.samples:
            continue
        words = dict(chosen.fit.words)
        if chosen.fit.lacks == ARMS_UNKNOWN:
            told = {t: int(o.rpartition("_")[2]) for t, o in words.items() if "arm_" in o}
            shift = 1 if 0 in told.values() else 0
            named = {t: f"motor {arms[n + shift]}" for t, n in told.items() if n + shift in arms}
            lacks = "" if len(named) == len(told) else ARMS_UNKNOWN
            fit = chosen.fit._replace(words=tuple({**words, **named}.items()), lacks=lacks)
            put(made, chosen, chosen._replace(fit=fit))
            continue
        texts = [s.text for s in made.seen.samples]
        outputs = {arm: number for number, arm in arms.items()}
        shifts = {
            int(text) - outputs.get(ours.removeprefix("motor "), 99)
            for text, ours in words.items()
            if ours.startswith("motor ") and text.isdigit()
        }
        if made.told and len(shifts) == 1:
            shift = shifts.pop()
            named = {str(number + shift): f"motor {arm}" for number, arm in arms.items()}
            if all(texts.count(text) == 1 for text in named):
                fit = chosen.fit._replace(words=tuple({**named, **words}.items()))
                put(made, chosen, chosen._replace(fit=fit))


def _volts_of_pack(found: Sequence[Proposal]) -> None:
    """Limits of a cell told for the whole pack: they are a cell's once divided by their count."""
    cells = next(
        (
            made.seen.numbers[0]
            for made in found
            if made.chosen and made.chosen.goal.target == "battery.cells" and made.sure > 0.85
            if len(set(made.seen.numbers)) == 1
        ),
        0.0,
    )
    limits = [
        made
        for made in found
        if made.chosen
        and made.chosen.goal.target.startswith("battery.")
        and made.chosen.goal.target.endswith("_cell")
        and made.chosen.alike >= 1
        and made.seen.numbers
        and not made.told
    ]
    if cells < 2 or len(limits) < 2:
        return
    for step in ("1", "0.1", "0.01", "0.001"):
        fits = True
        for made in limits:
            assert made.chosen is not None  # it is one of the limits
            low, high = made.chosen.goal.usual or (3.0, 4.4)
            own = [number * float(step) / cells for number in made.seen.numbers]
            fits = fits and all(low - 0.25 <= volts <= high + 0.1 for volts in own)
        if fits:
            for made in limits:
                assert made.chosen is not None  # it is one of the limits
                scale = "1" if step == "1" else step
                fit = ValueFit(0.8, f"{scale}/battery.cells V")
                put(made, made.chosen, made.chosen._replace(fit=fit))
            return


def put(made: Proposal, old: Candidate, new: Candidate) -> None:
    """Choose another form of the chosen candidate."""
    made.chosen = new
    made.candidates = [new if c is old else c for c in made.candidates]


def _powers_by_place(found: Sequence[Proposal]) -> None:
    """A power that is none of the list's, and a number within it: its place in the list."""
    listed = next(
        (
            [float(s.text) for s in made.seen.samples]
            for made in found
            if made.chosen and made.chosen.goal.target == "video.plan.powers" and made.sure > 0.6
        ),
        [],
    )
    for made in found:
        chosen = made.chosen
        if chosen is None or not chosen.goal.target.startswith("video.transmitter."):
            continue
        if not chosen.goal.target.endswith("power") or not listed or not made.seen.numbers:
            continue
        numbers = made.seen.numbers
        if set(numbers) <= set(listed) and len(listed) not in numbers:
            continue
        base = next((b for b in (1, 0) if all(0 <= n - b < len(listed) for n in numbers)), None)
        if base is None or set(numbers) <= set(listed):
            continue
        words = tuple((str(n + base), f"{number_text(p)} mW") for n, p in enumerate(listed))
        fit = chosen.fit._replace(spec="words", words=words, lacks="", points=0.2)
        put(made, chosen, chosen._replace(fit=fit))


def _channel_by_plan(found: Sequence[Proposal]) -> None:
    """What a video channel counts from, where the plan has the frequency at one of two places."""
    sure = {
        made.chosen.goal.target: made
        for made in found
        if made.chosen and made.chosen.goal.target.startswith("video.") and made.sure > 0.6
    }
    channel, frequency = (sure.get(f"video.transmitter.{k}") for k in ("channel", "frequency"))
    if channel is None or frequency is None or channel.chosen is None or channel.told:
        return
    if not channel.seen.numbers or not frequency.seen.numbers:
        return
    at, wanted = int(channel.seen.numbers[0]), frequency.seen.numbers[0]
    wanted = round(wanted * 1000) if wanted < _GHZ else wanted
    bases = set()
    for target, made in sure.items():
        listed = made.seen.numbers if target.startswith("video.plan.") else []
        bases |= {b for b in (0, 1) if 0 <= at - b < len(listed) and listed[at - b] == wanted}
    if len(bases) == 1:
        chosen = channel.chosen
        fit = chosen.fit._replace(lacks="", spec="" if bases == {1} else "from 0")
        put(channel, chosen, chosen._replace(fit=fit))


_GHZ = 10  # below that a frequency is told in them


def _first_number(made: Proposal) -> tuple[str, int | None]:
    """What a row of things begins with, where a field shows it: 0 or 1."""
    chosen = made.chosen
    if chosen is None or chosen.alike < 1 or made.sure < 0.6:
        return "", None
    target = chosen.goal.target
    if target == "receiver.map.CONTROL" and not chosen.goal.joins and not chosen.fit.lacks:
        return "channel", 0 if chosen.fit.spec == "from 0" else 1
    for index, depth, _ in chosen.matches:
        words = made.family.indices[depth]
        least = 1 if target.startswith("banks.") else 2
        if index != "N" or len(words) < least or not all(word.isdigit() for word in words):
            continue
        lowest = min(int(word) for word in words)
        if lowest in (0, 1):
            return _counted_with(target), lowest
    return "", None


def _counted_with(target: str) -> str:
    """What a number counts: channels, banks."""
    if target.startswith("banks."):
        return "bank"
    place = target.startswith("overlay.elements.")
    return "channel" if target.startswith(_CHANNELS) else "place" if place else ""


_CHANNELS = ("receiver.map.", "receiver.ends.", "receiver.signal", "switches.", "failsafe.ch")
# How many there are of what is counted, and the settings that are one of them.
_LASTS: Mapping[str, str | tuple[str, ...]] = {
    "receiver.channels": _CHANNELS,
    "overlay.grid.rows": "overlay.elements.NAME.row",
    "overlay.grid.columns": "overlay.elements.NAME.column",
}


def _count_alike(found: Sequence[Proposal]) -> None:
    """Where one number of a section shows what it counts from, the others beside it do so too."""
    from_zero = {
        _beside_key(made)
        for made in found
        if made.chosen is not None and made.chosen.fit.spec == "from 0"
    }
    for made in found:
        chosen = made.chosen
        if chosen is None or not counts(chosen.goal) or chosen.fit.spec or not made.family.chain:
            continue
        if _beside_key(made) in from_zero:
            put(made, chosen, chosen._replace(fit=chosen.fit._replace(spec="from 0", lacks="")))


def _beside_key(made: Proposal) -> tuple[object, ...]:
    """What numbers that count alike have in common: the section, and the group of settings."""
    group = made.chosen.goal.target.split(".")[0] if made.chosen else ""
    return (group, *(kin.line for kin in made.family.chain))


def _rank(candidate: Candidate) -> tuple[float, int]:
    return (-candidate.points, candidate.goal.order)


def _fullest_lists(families: Sequence[Family]) -> dict[tuple[str, ...], tuple[str, ...]]:
    """For each list of index words the longest one that holds them all: they mean the same.

    Numbers do so only behind the same first word: ports 1 to 6, and a port that has a name.
    """
    first: dict[tuple[str, ...], set[str]] = {}
    for family in families:
        for words in family.indices:
            first.setdefault(tuple(words), set()).add(family.head.partition(" ")[0])
    named = sorted(
        (words for words in first if not all(word.isdigit() for word in words)),
        key=lambda words: (-len(words), words),
    )

    def holds(full: tuple[str, ...], words: tuple[str, ...]) -> bool:
        numbers = all(word.isdigit() for word in words)
        return set(words) <= set(full) and (not numbers or bool(first[words] & first[full]))

    return {words: next((full for full in named if holds(full, words)), words) for words in first}


class WordsAbout(NamedTuple):
    """The words that tell of a field: its own, those of the contexts, those of remarks."""

    own: tuple[str, ...]
    around: tuple[str, ...]
    remarks: tuple[str, ...]


def _candidates(
    family: Family,
    seen: Field,
    lists: Mapping[tuple[str, ...], tuple[str, ...]],
    worded: bool,
) -> Iterator[Candidate]:
    """The settings that a field may be: of very many fields, those that its words speak of."""
    said = words_about(family, seen)
    hint = hint_for(family, seen)
    words = [(tuple(listed), lists[tuple(listed)]) for listed in family.indices]
    meant: frozenset[int] = frozenset()
    if worded:
        meant = frozenset().union(*map(_meant_by, (*said.own, *said.around)))
    listed = 0.0  # points of the words of a list that the number says whole
    for number, goal in enumerate(_goals_for(family, seen)):
        if worded and number < len(goals()) and (number not in meant or _alike(said, goal) < 0.5):
            continue
        if goal.spelled and not _says(said, goal.spelled):
            continue
        matched = _by_context(family, goal, _match_indices(words, goal))
        if matched is None or not _may_be(family, seen, goal, matched, said):
            continue
        fit = value_fit(goal, seen, hint)
        if fit.points <= -4:
            continue
        lacks = _lacks(goal, family, seen, said)
        fit = fit._replace(lacks=lacks) if lacks else fit
        turned, told = _signs(goal, family, seen, matched)
        by_value = _with_values(said, goal, fit)
        alike = _alike(by_value, goal)
        elsewhere = _is_elsewhere(said, goal)
        alike -= _ELSEWHERE if elsewhere else 0.0
        if goal.joins == "CONTROL" and _says(said, "channel"):
            alike = max(alike, _BY_VALUES)  # its words are the sticks, each of them once
        spelled = 0.6 if goal.spelled else 0.0
        if goal.target.endswith(".q") and not _says(said, "quality"):
            alike -= 1.0
        points = alike + fit.points + sum(m.points for _, _, m in matched) + told + spelled
        explained = _explained(
            by_value.own, tuple(t for alternatives in goal.needs for t in alternatives), goal.beside
        )
        explained *= 0.5 if elsewhere else 1.0
        fit = fit._replace(turned=turned)
        listed = max(listed, alike) if fit.spec == "flags" and fit.words else listed
        yield Candidate(goal, points, fit, matched, alike, 0.0, explained)
    if listed < 1.0:
        yield from _by_bits(said, seen, dict(hint.codes), words)


def _by_bits(
    said: WordsAbout,
    seen: Field,
    codes: Mapping[str, str],
    words: Sequence[tuple[tuple[str, ...], tuple[str, ...]]],
) -> Iterator[Candidate]:
    """Settings that are on or off, each a bit of one number: a remark names them."""
    numbers = [int(sample.text) if sample.text.isdigit() else -1 for sample in seen.samples]
    bits = {int(bit): text for bit, text in codes.items() if bit.isdigit() and int(bit)}
    if not are_bits(list(codes)) or any(n < 0 or n & ~sum(bits) for n in numbers):
        return
    around = tuple(dict.fromkeys((*said.own, *said.around)))
    likely = {
        bit: sorted(
            _switches_named(WordsAbout(tokens(text), around, ()), words), key=lambda c: -c.alike
        )
        for bit, text in bits.items()
    }
    found: dict[int, Candidate] = {}
    for bit in (*bits, *bits):  # what is clear first leaves fewer to the others
        taken = {one.goal.target for one in found.values()}
        free = [c for c in likely[bit] if c.goal.target not in taken and c.alike >= _NAMED]
        clear = all(free[0].alike - one.alike >= _CLEARLY for one in free[1:])
        if free and clear and bit not in found:
            found[bit] = free[0]
    targets = {bit: one.goal.target for bit, one in found.items()}
    if len(found) >= 2 and 2 * len(found) >= len(bits):
        first = max(found.values(), key=lambda c: c.alike)
        turned = " not" if NEGATIVE & {*said.own} else ""
        spelled = tuple((f"{bit}{turned}", target) for bit, target in targets.items())
        fit = ValueFit(1.0, "bits", spelled)
        yield first._replace(fit=fit, points=first.points + _NAMED * len(found), explained=1.0)


def _switches_named(
    about: WordsAbout, words: Sequence[tuple[tuple[str, ...], tuple[str, ...]]]
) -> Iterator[Candidate]:
    """The settings that are on or off which some words may mean, of things with these indices."""
    for goal in goals():
        alike = _alike(about, goal) if isinstance(goal.kind, Bool) and not goal.joins else 0.0
        matched = _match_indices(words, goal) if alike >= 1.0 else None
        if matched is not None and all(match.sure for _, _, match in matched):
            points = alike + sum(match.points for _, _, match in matched)
            yield Candidate(goal, points, ValueFit(0.0), matched, alike)


_NAMED = 1.8  # points from which the words of a remark name a setting
_CLEARLY = 0.4  # more than the next one's


_BY_VALUES = 1.5  # points of words for values that hardly another setting has


def _lacks(goal: Goal, family: Family, seen: Field, said: "WordsAbout") -> str:
    """Why a field can't be put to work as a setting, besides its values."""
    if seen.mixed:
        return "its numbers have several units"
    if goal.target == "battery.divider" and "resistor" in said.own:  # 10 k over 1 k divide by 11
        return "the other resistor is not known"
    if {root(word) for word in said.around} & _COUNTERS:
        return "it may be what was counted"
    listed = len(family.fields) > 1 and not seen.names[0]
    ordered = listed or seen.order[1] > 1  # the values of a list are in our order
    if goal.axis and not ordered and not _says(said, goal.axis):
        return f"{WHICH_AXIS}{goal.axis} is not known"
    if isinstance(goal.kind, Text) and _goes_on(family, seen):
        return "which of its words belong to it is not known"
    return ""


_COUNTERS = {"count", "counter", "tally", "statistic"}  # sections of these hold no settings
# What sections are of, by the words that name it; and points that a setting of another loses.
_AREAS = (
    "receiver",
    "camera",
    "overlay",
    "battery",
    "telemetry",
    "home",
    "failsafe",
    "video",
    "log",
    "finder",
)
_ELSEWHERE = 3.0


def _is_elsewhere(said: "WordsAbout", goal: Goal) -> bool:
    """Whether the section is about something that has nothing to do with the setting.

    A key that names what it is about itself is not told by its section; a pad is named in any.
    """
    if goal.joins == "ID" or any(_best((word,), _AREAS) > 0.9 for word in said.own):
        return False
    terms = (*(t for alternatives in goal.needs for t in alternatives), *goal.beside)
    areas = [word for word in said.around if _best((word,), _AREAS) > 0.9]
    return bool(areas) and not any(_best((word,), terms) >= 0.5 for word in said.around)


def _may_be(
    family: Family,
    seen: Field,
    goal: Goal,
    matched: Matches,
    said: "WordsAbout",
) -> bool:
    """Whether lines can state a setting: a list is no single value, a plan names its band.

    Which motor a row is of may be told by another field of it, where it says that it is of one
    and names its pad.
    """
    if family.many is not isinstance(goal.kind, Quantities):
        return False
    if goal.joins == "ID" and not goal.indices:  # its key says that it is one
        return not seen.numbers and any(_means(word, "pad") >= 0.8 for word in said.own)
    if goal.joins and not all(match.sure for _, _, match in matched):
        return goal.joins == "ID" and not seen.numbers and _says(said, "motor")
    return bool(matched) or goal.target != "video.plan.BAND"


def words_about(family: Family, seen: Field) -> WordsAbout:
    """The words that tell of a field; those that are a unit and nothing else are left out."""
    own = [t for name in seen.names for t in name_tokens(name)]
    own += ["enable"] if seen.switch else []
    around = [t for name in family.context for t in name_tokens(name)]
    remarks = [t for text in family.remarks for t in tokens(text)]
    return WordsAbout(*(tuple(dict.fromkeys(words)) for words in (own, around, remarks)))


def _with_values(said: WordsAbout, goal: Goal, fit: ValueFit) -> WordsAbout:
    """The same with the words that a thing that is so or not is set to: `motor type brushless`."""
    if not isinstance(goal.kind, Bool) or fit.spec != "words":
        return said
    words = [t for text, _ in fit.words for t in tokens(text) if t.isalpha() and len(t) > 2]
    terms = tuple(t for alternatives in goal.needs for t in alternatives)
    telling = [word for word in words if _means_any(word, terms) >= _TELLS]
    return said._replace(own=(*said.own, *telling))


_TELLS = 0.6  # how far a word means a setting that tells of it


def name_tokens(name: str) -> tuple[str, ...]:
    """The words of a name, without its figures, and without the unit at its end.

    >>> name_tokens("inverted (Y/N)"), name_tokens("X7LOW")
    (('inverted',), ('low',))
    """
    bare = _SIGNS_ASIDE.sub("", _COUNTED.sub("", without_kinds(name))).replace(HOLE, " ")
    if aside_of(bare) is not None:
        bare = without_aside(bare.strip())
    words = [word for word, _ in chunks(bare) if not word.isdigit()]
    if len(words) > 1 and _says_unit(words[-1]) and words[-1] not in _NO_UNIT:
        words.pop()
    return tuple(t for word in words for t in tokens(word))


_SIGNS_ASIDE = re.compile(r" *\([A-Za-z\d](?:[/,] ?[A-Za-z\d])+\)")  # (Y/N): what it is set to
# A letter before a number that counts the keys, or the things that they are of, and names none.
_COUNTED = re.compile(rf"^(?:[A-Za-z]{{1,2}}\d+(?=[A-Za-z])|[a-ceghj-orstuwA-CEGHJ-ORSTUW]{HOLE})")


_NO_UNIT = frozenset({"hz", "khz", "half", "raw"})  # at the end of a name, but for what it is


def _says_unit(word: str) -> bool:
    if part_of(word) is not None:
        return True
    return unit_of(word) is not None and len(word) > 1 and word not in _MEASURED


# Units' names that name what is measured as well.
_MEASURED = frozenset({"amps", "amp", "volts", "volt", "baud", "hertz", "second", "seconds", "min"})
_FILLERS = frozenset(
    {"value", "setting", "set", "number", "at", "in", "for", "to", "when", "with", "per", "is",
     "on", "be", "its", "time", "x", "y",
     "put", "let", "give", "define", "assign", "bind", "make", "config", "param", "key",
     "goes", "go", "does", "do", "comes", "come", "runs", "made", "told", "wanted", "it", "has",
     "have", "are"}
)  # fmt: skip


@lru_cache(maxsize=200_000)
def _means(word: str, term: str) -> float:
    """How far a word means a term of the lexicon."""
    ideas = ideas_of(word)
    return max(ideas.get(term, 0.0), ideas.get(f"={root(term)}", 0.0))


def _alike(said: WordsAbout, goal: Goal) -> float:
    """Points for the words: all that the setting needs are there, none that it can't explain."""
    if not said.own and not said.around:
        return 0.0
    covered = 0.0
    for alternatives in goal.needs:
        covered += max(
            _best(said.own, alternatives),
            0.85 * _best(said.around, alternatives),
            0.4 * _best(said.remarks, alternatives),
        )
    cover = covered / max(1, len(goal.needs))
    terms = tuple(term for alternatives in goal.needs for term in alternatives)
    own = _explained(said.own, terms, goal.beside)
    around = _explained(said.around, terms, goal.beside)
    shown = own if said.own else around
    points: float = 4.4 * cover**1.5 * (0.3 + 0.55 * shown + 0.15 * around)
    points *= _FOREIGN ** _foreign(said.own, terms, goal.beside)
    if goal.target in _SWITCHED_WHOLE and any(
        word not in _FILLERS | _NEUTRAL and _best((word,), (*terms, *goal.beside)) == 0
        for word in said.own
    ):
        points *= _FOREIGN**2  # `log raw` says of the log something else than on and off
    elif goal.target.endswith(".enabled") and _ELSE & set(said.own):
        points *= _FOREIGN**2
    return points + 0.25 * (len(goal.needs) - 1) * cover - 0.8 * (1 - cover)


# What a word beside its name may well say another thing of than that it is on.
_SWITCHED_WHOLE = frozenset(
    {"flight_log.enabled", "video.transmitter.enabled", "telemetry.enabled"}
)
_NEUTRAL = frozenset(
    {"feature", "function", "module", "output", "device", "system", "service", "option", "state",
     "have"}
)  # fmt: skip
_ELSE = frozenset({"zero", "scale", "offset", "bias", "calibrated", "raw", "smoothing", "smooth"})
_FOREIGN = 0.6  # what is left of the points for each word that says something else
# What whole groups of settings are about: a word that means one of them is not passed over.
_GROUPS = frozenset(
    {"receiver", "esc", "gyro", "battery", "home", "video", "camera", "overlay", "telemetry", "log",
     "accelerometer", "compass", "voltage"}
)  # fmt: skip


def _foreign(words: Sequence[str], terms: tuple[str, ...], beside: tuple[str, ...]) -> int:
    """How many words mean another group of settings, or a warning, and nothing of this one."""
    return sum(
        max(_best((word,), terms), _best((word,), beside)) < _SAYS_LITTLE
        and (
            word == "warn"  # what is warned at is not how much there is
            or word in _GROUPS
            or any(ideas_of(word).get(group) == 1.0 for group in _GROUPS)
        )
        for word in words
    )


_SAYS_LITTLE = 0.3


def settings_about(text: str) -> list[str]:
    """The settings that some words may mean, the likeliest first; indices in capitals.

    >>> settings_about("return home height")[0]
    'home.altitude'
    """
    said = WordsAbout(tuple(dict.fromkeys(tokens(text))), (), ())
    points = {_ELEMENT.sub("", goal.target): _alike(said, goal) for goal in reversed(goals())}
    likely = sorted((path for path in points if points[path] >= 1.0), key=lambda p: -points[p])
    return likely[:_TOLD]


_TOLD = 4  # settings that some words may mean
_ELEMENT = re.compile(r"\[.*")  # a filter is told whole


def _best(words: Sequence[str], terms: tuple[str, ...]) -> float:
    return max((_means_any(word, terms) for word in words), default=0.0)


@lru_cache(maxsize=200_000)
def _means_any(word: str, terms: tuple[str, ...]) -> float:
    """How far a word means the one of some terms that it means most."""
    return max((_means(word, term) for term in terms), default=0.0)


@lru_cache(maxsize=20_000)
def _meant_by(word: str) -> frozenset[int]:
    """The goals, by number, that need a word of this meaning."""
    return frozenset(
        number
        for number, goal in enumerate(goals())
        if any(_means_any(word, alternatives) >= 0.5 for alternatives in goal.needs)
    )


def _explained(words: Sequence[str], terms: tuple[str, ...], beside: tuple[str, ...]) -> float:
    """The share of some words that a setting's own account for."""
    shares = [
        max(_best((word,), terms), 0.9 * _best((word,), beside))
        for word in words
        if word not in _FILLERS
    ]
    return sum(shares) / len(shares) if shares else 1.0


def candidate_for(made: Proposal, goal: Goal) -> Candidate | None:
    """A field as a setting that has no index, whatever speaks against it."""
    lists = [(tuple(listed), tuple(listed)) for listed in made.family.indices]
    matched = _match_indices(lists, goal)
    if matched is None:
        return None
    said = words_about(made.family, made.seen)
    terms = tuple(t for alternatives in goal.needs for t in alternatives)
    alike = _alike(said, goal)
    explained = _explained(said.own, terms, goal.beside)
    return Candidate(goal, alike, ValueFit(0.0), matched, alike, 0.0, explained)


def _goes_on(family: Family, seen: Field) -> bool:
    """Whether words without a name of their own follow a field: its text may have several."""
    at = next((n for n, one in enumerate(family.fields) if one is seen), -1)
    behind = family.fields[at + 1 : at + 2]
    return family.form is Directive and any(one.words and not one.names[0] for one in behind)


def _goals_for(family: Family, seen: Field) -> Iterator[Goal]:
    """Every goal, and those that a field's own name has: of a channel behind the sticks, `aux1=5`.

    Of a list that no index tells from others, the plan of the band it names.
    """
    yield from goals()
    named = re.fullmatch(r"aux[ _]?(\d+)", seen.names[0].casefold())
    for goal in goals() if named else ():
        if named and goal.target == "receiver.map.CONTROL":
            beside = (*goal.beside, "aux", "switch", "knob")
            target = f"receiver.map.aux{named[1]}"
            yield replace(goal, target=target, indices=(), beside=beside, needs=(beside,))
    if family.indices:  # of several fields its number is the arm that all of them are of
        named_there = (pad_of_motor(), control_of_channel(), arm_of_motor())
        yield from named_there[: 3 if len(family.fields) == 1 else 2]
    yield from pads_of_things()
    if codes_of_row(family) is not None:
        for goal in goals():
            if goal.target.startswith("switches.FUNCTION."):
                target = goal.target.replace("FUNCTION.", "FUNCTION[SLOT].")
                yield replace(goal, target=target, indices=_ROW)
    band = _band_in(without_aside(family.head))
    if family.many and band and not family.own_index and HOLE not in family.head:
        for goal in goals():
            if goal.target == "video.plan.BAND":
                yield replace(goal, target=f"video.plan.{band}", indices=())


def _band_in(head: str) -> str:
    """The last word of a key, or what is written on to "plan" in it.

    >>> _band_in("video plan k"), _band_in("VIDEOPLANQ"), _band_in("plan.h_mhz")
    ('k', 'q', 'h')
    """
    said = re.findall(r"[A-Za-z0-9]+", head.casefold() if head.isupper() else head)
    said = [word for word in said if word != "to" and not word.casefold().endswith("hz")]
    last = said[-1] if said else ""
    pairs = pairwise(chunks(last))
    ends = [at for (before, _), (_, at) in pairs if before in ("plan", "band")]
    return last[ends[-1] :] if ends else last


def _says(said: WordsAbout, name: str) -> bool:
    return any(_means(word, name) >= 0.6 for word in said.own + said.around)


def _match_indices(
    lists: Sequence[tuple[tuple[str, ...], tuple[str, ...]]], goal: Goal
) -> Matches | None:
    """How the family's indices serve as the goal's: the best of all ways, None if there is none."""
    depth = len(lists)
    frozen = [number for number, (own, _) in enumerate(lists) if len(own) == 1]
    if not len(goal.indices) <= depth <= len(goal.indices) + len(frozen):
        return None
    best: Matches | None = None
    most = -5.0
    for order in permutations(range(depth), len(goal.indices)):
        left = set(range(depth)) - set(order)
        if not left <= set(frozen):
            continue
        made = []
        for index, number in zip(goal.indices, order, strict=True):
            names = goal.choices.get(index, ())
            own, fullest = lists[number]
            match = index_match(index, goal.target, fullest, names)
            if match is NO or (index == "AXIS" and own != fullest):
                match = index_match(index, goal.target, own, names)
            made.append((index, number, match))
        points = sum(match.points for _, _, match in made) - 0.3 * len(left)
        if points > most and all(match is not NO for _, _, match in made):
            best, most = tuple(made), points
    return best


_ROW = ("SLOT", "FUNCTION", "SLOT")  # the indices of a setting of a numbered row


def codes_of_row(family: Family) -> Mapping[str, str] | None:
    """What a remark says that numbers of rows stand for; None for what is in no numbered row."""
    above = family.chain[-1] if family.chain else None
    rows = above is not None and above.line.count(HOLE) == 2 and len(family.indices) == 3
    return codes_in(above.remark) if rows and above is not None else None


def _of_rows(family: Family, goal: Goal) -> Matches | None:
    """How the indices of a numbered row serve: which it is, what it is of, which it is again."""
    codes = codes_of_row(family)
    if codes is None:
        return None
    said = {text: codes.get(text, text) for text in family.indices[1]}
    found = index_match("FUNCTION", goal.target, tuple(said.values()), goal.choices["FUNCTION"])
    words = {text: found.words[word] for text, word in said.items() if word in found.words}
    unclear = frozenset(text for text, word in said.items() if word in found.unclear)
    match = found._replace(words=words, unclear=unclear)
    slots = Match(0.3, {})
    return (("SLOT", 0, slots), ("FUNCTION", 1, match), ("SLOT", 2, slots))


def _by_context(family: Family, goal: Goal, matched: Matches | None) -> Matches | None:
    """How the indices serve in a numbered row, and where one counts from behind the sticks."""
    if matched is None and goal.target == "receiver.map.CONTROL" and len(family.indices) == 1:
        front, numbers = family.head.split(HOLE)[0], family.indices[0]
        if is_auxiliary(front) and all(number.isdigit() for number in numbers):
            controls = {number: f"aux{int(number) + ('0' in numbers)}" for number in numbers}
            return (("CONTROL", 0, Match(2.5, controls)),)
    if goal.indices == _ROW:
        return _of_rows(family, goal)
    if matched is None or not goal.target.startswith(("failsafe.channels.", "receiver.ends.")):
        return matched
    before = " ".join([*(kin.line for kin in family.chain), family.head]).split(HOLE)
    return tuple(
        (index, at, match._replace(base=BEHIND_STICKS) if is_auxiliary(before[at]) else match)
        for index, at, match in matched
    )


def _signs(goal: Goal, family: Family, seen: Field, matched: Matches) -> tuple[bool, float]:
    """Whether the numbers are turned round, and points for their signs."""
    arm = next((entry for entry in matched if entry[0] == "ARM"), None)
    if goal.target not in SIGNS or arm is None:
        return False, 0.0
    _, depth, match = arm
    told = agreement(goal.target, signs_of(seen, depth, match.words))
    if goal.target == "motors.ARM.output":
        return False, 0.0 if told else -4.0
    weight = 0.3 if goal.target.endswith("thrust") else 1.2
    known = match.words and set(match.words.values()) <= _FRONT.keys()
    return told < 0, weight if told else -4.0 if known else -1.5


def _shares(made: Proposal) -> dict[str, float]:
    """How likely each group of the vocabulary is for a field."""
    weights = [(c.goal.group, exp(1.6 * (c.points - _FLOOR))) for c in made.candidates[:8]]
    total = 1 + sum(weight for _, weight in weights)
    found: dict[str, float] = {}
    for group, weight in weights:
        found[group] = found.get(group, 0.0) + weight / total
    return found


@dataclass
class _Sums:
    """Group shares of several fields added up."""

    count: int = 0
    loose: bool = False  # of lines that stand in no section
    shares: dict[str, float] = field(default_factory=dict)

    def add(self, share: Mapping[str, float], weight: float = 1.0) -> None:
        """Add one field's shares."""
        for group, part in share.items():
            self.shares[group] = self.shares.get(group, 0.0) + weight * part


def _listen_to_neighbours(found: Sequence[Proposal]) -> None:
    """Raise the candidates of the groups that a field's neighbours seem to belong to."""
    shares = [_shares(made) for made in found]
    heads = [made.candidates[0].goal.order if made.candidates else -1 for made in found]
    by_family: dict[int, _Sums] = {}
    by_scope: dict[tuple[int, ...], _Sums] = {}
    for made, share in zip(found, shares, strict=True):
        for sums in (
            by_family.setdefault(made.position, _Sums()),
            by_scope.setdefault(_scope(made), _Sums()),
        ):
            sums.count += 1
            sums.loose = not made.family.chain
            sums.add(share)
    for number, made in enumerate(found):
        family, scope = by_family[made.position], by_scope[_scope(made)]
        near = _Sums()
        near.add(family.shares, _SAME_LINE)
        near.add(shares[number], -_SAME_LINE)
        total = 0.3 + _SAME_LINE * (family.count - 1)
        if made.family.chain:
            near.add(scope.shares, _SAME_SCOPE)
            near.add(family.shares, -_SAME_SCOPE)
            total += _SAME_SCOPE * (scope.count - family.count)
        else:
            total += _hear_window(near, made, by_family)
        before, after = _side(found, heads, number, -1), _side(found, heads, number, 1)
        made.candidates = sorted(
            (_heard(c, near, total, before, after) for c in made.candidates), key=_rank
        )


def _scope(made: Proposal) -> tuple[int, ...]:
    """What tells one sort of scope from another."""
    return tuple(id(kin) for kin in made.family.chain)


def _hear_window(near: _Sums, made: Proposal, by_family: Mapping[int, _Sums]) -> float:
    """Add what the lines nearby seem to be, where nothing puts lines into sections."""
    total = 0.0
    for away in (*range(-_WINDOW, 0), *range(1, _WINDOW + 1)):
        sums = by_family.get(made.position + away)
        if sums is not None and sums.loose:
            near.add(sums.shares, _SAME_SCOPE / abs(away))
            total += _SAME_SCOPE / abs(away) * sums.count
    return total


def _heard(
    candidate: Candidate,
    near: _Sums,
    total: float,
    before: tuple[int, float],
    after: tuple[int, float],
) -> Candidate:
    order = candidate.goal.order
    points = _NEIGHBOURS * _group_share(near.shares, candidate.goal.group) / total
    points += before[1] * _next(before[0], order) + after[1] * _next(order, after[0])
    return _nearer(candidate, points)


def _side(
    found: Sequence[Proposal], heads: Sequence[int], number: int, step: int
) -> tuple[int, float]:
    """What the field to one side seems to be, and the points for following in order."""
    other = number + step
    if not 0 <= other < len(found):
        return -100, 0.0
    if found[other].family is found[number].family:
        return heads[other], 2 * _IN_ORDER
    loose = not found[number].family.chain
    apart = abs(found[other].position - found[number].position)
    beside = _scope(found[other]) == _scope(found[number]) and (apart == 1 or not loose)
    return (heads[other], _IN_ORDER) if beside else (-100, 0.0)


def _next(one: int, other: int) -> float:
    """1 where a setting comes right behind another in the vocabulary."""
    return 1.0 if 0 < other - one <= 10 else 0.4 if 10 < other - one <= 20 else 0.0


def _group_share(near: Mapping[str, float], group: str) -> float:
    """A group's share, and half the share of those that have its first word in common."""
    top = group.split(".")[0]
    own = near.get(group, 0.0)
    kin = sum(part for other, part in near.items() if other.split(".")[0] == top and other != group)
    return own + 0.5 * kin


def _nearer(candidate: Candidate, near: float) -> Candidate:
    return candidate._replace(points=candidate.points - candidate.near + near, near=near)


def _in_order(found: Sequence[Proposal]) -> None:
    """Where nothing but its place tells one number of a line from another, order must do so."""
    lines: dict[tuple[int, tuple[str, ...]], list[Proposal]] = {}
    for made in found:
        if made.chosen is not None:
            lines.setdefault((made.position, made.seen.names), []).append(made)
    for mates in lines.values():
        orders = [made.chosen.goal.order for made in mates if made.chosen]
        if len(mates) > 1 and orders != sorted(orders):
            for made in mates:
                made.sure = made.sure if made.told else min(made.sure, 0.4)


class _Bid(NamedTuple):
    """What a field stands to lose by waiting, and the settings that this hangs on."""

    regret: float
    first: Candidate
    keys: tuple[str, ...]


def _bid(made: Proposal, taken: set[str]) -> _Bid | None:
    """The bid of a field for the likeliest setting that is free; None where none is likely."""
    free = [c for c in made.candidates if c.key not in taken][:2]
    if not free or free[0].points < _FLOOR:
        return None
    second = max(free[-1].points if len(free) > 1 else _FLOOR, _FLOOR)
    regret = free[0].points - second + 0.3 * free[0].points
    return _Bid(regret, free[0], tuple(c.key for c in free))


def _give_out(found: Sequence[Proposal]) -> None:
    """Give each setting to one field: those first that would lose most by waiting."""
    taken = {made.chosen.key for made in found if made.told and made.chosen}
    given: dict[str, list[Proposal]] = {}  # to which fields a setting with an index is given
    for made in found:
        if made.told and made.chosen and made.chosen.matches:
            given.setdefault(made.chosen.key, []).append(made)
        made.chosen = made.chosen if made.told else None
    bids = {
        n: bid
        for n, made in enumerate(found)
        if not made.told and (bid := _bid(made, taken - _of_others(made, given))) is not None
    }
    while bids:
        best = max(bids, key=lambda n: (bids[n].regret, -n))
        chosen = bids.pop(best).first
        found[best].chosen = chosen
        taken.add(chosen.key)
        if chosen.matches:
            given.setdefault(chosen.key, []).append(found[best])
        for number in [n for n, bid in bids.items() if chosen.key in bid.keys]:
            bid = _bid(found[number], taken - _of_others(found[number], given))
            if bid is None:
                del bids[number]
            else:
                bids[number] = bid
    for made in found:
        if not made.told:
            made.sure = _sureness(made, taken)
            _order(made, taken)
    _in_order(found)


def _of_others(made: Proposal, given: Mapping[str, Sequence[Proposal]]) -> set[str]:
    """The settings that are given to fields of other ports, pads or elements than a field is of.

    The builder told so, or nothing but what says on or off tells their lines apart: `show batt`,
    `hide sats`; or they are of the sticks, and it is of the channels behind them.
    """
    own = {sample.under for sample in made.seen.samples}
    front = _without_verb(made.family.head)
    mine = next((c for c in made.candidates if c.goal.target == "receiver.map.CONTROL"), None)

    def are_others(key: str, one: Proposal) -> bool:
        if mine is not None and key == mine.key and not _controls(one.chosen) & _controls(mine):
            return True
        told = one.told or _without_verb(one.family.head) == front != ""
        return told and own.isdisjoint(sample.under for sample in one.seen.samples)

    return {k for k, holders in given.items() if all(are_others(k, one) for one in holders)}


def _controls(candidate: Candidate | None) -> set[str]:
    """The controls that a field is taken to be of."""
    matches = candidate.matches if candidate is not None else ()
    return {ours for _, _, match in matches for ours in match.words.values()}


@lru_cache(maxsize=2_000)
def _without_verb(head: str) -> str:
    """A key without the word that says on or off; empty where it has none."""
    words = head.split()
    kept = [word for word in words if word not in VERBS and word not in OFF_VERBS]
    return " ".join(kept) if len(kept) < len(words) else ""


def _sureness(made: Proposal, taken: set[str]) -> float:
    """How sure the chosen setting is, by what is left besides."""
    chosen = made.chosen
    if chosen is None:
        return 0.0
    rivals = [c.points for c in made.candidates if c.key != chosen.key and c.key not in taken]
    margin = chosen.points - max([_FLOOR, *rivals])
    margin -= 0.5 * (not all(match.sure for _, _, match in chosen.matches))
    return 1 / (1 + exp(-2 * margin)) * (1 - exp(-max(0.0, chosen.points - _FLOOR)))


def _order(made: Proposal, taken: set[str]) -> None:
    """The chosen one first, those that nobody took next."""
    chosen = made.chosen
    rest = [c for c in made.candidates if c is not chosen]
    rest.sort(key=lambda c: (c.key in taken, *_rank(c)))
    made.candidates = rest if chosen is None else [chosen, *rest]


def reasons_for(made: Proposal, candidate: Candidate) -> list[str]:
    """What speaks for a candidate, the most telling first."""
    found: list[str] = []
    common = common_words(made, candidate.goal)
    if common:
        found.append("words: " + ", ".join(common[:4]))
    if made.seen.unit:
        found.append(f"its line says {made.seen.unit}")
    if candidate.fit.words:
        found.append("values: " + ", ".join(f"{a} = {b}" for a, b in candidate.fit.words[:3]))
    elif candidate.fit.points >= 0.5 and made.seen.numbers:
        found.append(f"values fit {usual_text(candidate.goal)}")
    if any(match.words for _, _, match in candidate.matches):
        found.append(f"{len(candidate.matches[0][2].words)} names as of {candidate.matches[0][0]}")
    if candidate.near >= 0.6:
        found.append(f"neighbours belong to {candidate.goal.group}")
    if candidate.fit.lacks:
        found.append(candidate.fit.lacks)
    return found


def common_words(made: Proposal, goal: Goal) -> list[str]:
    """The words of a key and its contexts that tell of a setting."""
    said = words_about(made.family, made.seen)
    terms = tuple(term for alternatives in goal.needs for term in alternatives)
    return [word for word in said.own + said.around if _best((word,), (*terms, *goal.beside)) > 0.5]


def usual_text(goal: Goal) -> str:
    """What values a setting usually has, in words."""
    unit = goal.kind.unit if isinstance(goal.kind, Quantity) else ""
    if goal.usual is not None:
        ends = f"{number_text(goal.usual[0])}..{number_text(goal.usual[1])}"
        return f"the usual {ends} {unit}".rstrip()
    return f"its usual values in {unit}" if unit else "its usual values"
