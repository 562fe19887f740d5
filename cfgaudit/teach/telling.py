"""What one answer makes of the proposals: the field that it is about, and how that is written."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from cfgaudit.reading.shapes import unquoted
from cfgaudit.teach.fit import (
    NEGATIVE,
    UNSURE_STEP,
    WHICH_AXIS,
    Goal,
    Hint,
    ValueFit,
    counts,
    goals,
    is_divider,
    is_ordinary,
    is_period,
    spec_text,
)
from cfgaudit.teach.keys import Sample
from cfgaudit.teach.labels import SAID
from cfgaudit.teach.lines import SURE, is_sure, is_told_by_words
from cfgaudit.teach.measures import Measure, same_dimension, unit_of
from cfgaudit.teach.propose import (
    SIGNS,
    Candidate,
    Proposal,
    candidate_for,
    plain_path,
    put,
    settle,
    words_about,
)
from cfgaudit.teach.words import Match, arms_of, is_corner, pair_up, tokens
from cfgaudit.vocabulary.kinds import (
    OFF_WORDS,
    ON_WORDS,
    BadValue,
    Bool,
    Either,
    Filter,
    Filters,
    Int,
    Kind,
    PadUse,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import declared
from cfgaudit.vocabulary.units import convert, number_text

_NO_HINT = Hint()
_CODES = 32  # a number below may be a code for another one; 1050 that is 15 m would be none
_DECIDES = 0.5  # points of the words by which a field must be ahead of others with the same value
_NEAR = 1.5  # points that a field may be behind another and still be as likely
_SAYS = 0.8  # points of the words from which a key says whose small number it has
_KIN = 0.4  # points of the words from which a field may be what an answer without a line is about
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")
# Steps that a firmware may count in, the likeliest first.
STEPS = tuple(
    Fraction(text)
    for text in (
        "1", "1/10", "1/100", "1/1000", "10", "100", "1000", "1/2", "1/4", "1/5", "1/8", "1/16",
        "2", "5", "20", "25", "50", "125", "250", "500", "1/20", "1/25", "1/50", "1/10000", "10000",
    )
)  # fmt: skip
# Pulses as steps from a lowest one, or from the middle.
PULSES = tuple(
    (Fraction(step), Fraction(least))
    for step, least in ((5, 1500), (25, 900), (20, 500), (10, 0), (8, 880), (4, 1000), (1, 1500))
)


class ToldSetting(NamedTuple):
    """One setting, or one part of an element of a list setting, as an answer states it."""

    path: str
    kind: Kind
    value: Value
    place: int = -1  # of the element in its list, where that is what tells it


def told_of(path: str, text: str) -> list[ToldSetting]:
    """What an answer states. Raises BadValue."""
    found = declared(path)
    if found is None:
        raise BadValue(f"{path} is no setting of the vocabulary")
    value = found.kind.read(text)
    if isinstance(found.kind, SwitchRanges) and isinstance(value, tuple):
        parts = SwitchRanges.parts
        ranges = [one for one in value if isinstance(one, SwitchRange)]
        return [
            ToldSetting(f"{path}.{name}", kind, getattr(one, name), n if len(ranges) > 1 else -1)
            for n, one in enumerate(ranges)
            for name, kind in parts.items()
        ]
    if isinstance(found.kind, Filters) and isinstance(value, tuple):
        stages = [one for one in value if isinstance(one, Filter)]
        return [
            ToldSetting(f"{path}.{name}", kind, getattr(one, name), n)
            for n, one in enumerate(stages)
            for name, kind in Filters.parts.items()
            if name != "q" or one.q
        ]
    return [ToldSetting(path, found.kind, value)]


def arm_told(found: Sequence[Proposal], path: str, line: int) -> dict[str, str]:
    """The arm that a line is of, by the setting that it states: its word there, and ours."""
    own = declared(path)
    if own is None or "ARM" not in own.pattern.split("."):
        return {}
    at = own.pattern.split(".").index("ARM")
    for made in found:
        for sample in made.seen.samples if any(c.alike > 0 for c in made.candidates) else ():
            for candidate in made.candidates if sample.place.line == line else ():
                depth = next((d for index, d, _ in candidate.matches if index == "ARM"), -1)
                if candidate.goal.target == own.pattern and depth >= 0:
                    return {sample.under[depth]: path.split(".")[at]}
    return {}


class Placing(StrEnum):
    """What became of an answer."""

    YES = ""
    NOWHERE = "no line fits it"
    TORN = "fit it equally well"


class Placement(NamedTuple):
    """What became of an answer; where several lines fit it, their numbers."""

    how: Placing
    lines: tuple[int, ...] = ()

    @property
    def why(self) -> str:
        """Why nothing came of it, in words; empty where it was taken."""
        if self.how is not Placing.TORN:
            return str(self.how)
        *most, last = map(str, self.lines)
        return (
            f"lines {', '.join(most)} and {last} {self.how}" if most else f"line {last} {self.how}"
        )


def tell(
    found: Sequence[Proposal],
    path: str,
    text: str,
    line: int = 0,
    columns: Mapping[str, int] | None = None,
) -> Placement:
    """Take an answer: what a setting is set to, on which line, if that was told too.

    `columns` are where the line says which part, from 1; a part that is not among them is on no
    word of it. Returns whether a field was found for it. Raises BadValue.
    """
    parts = told_of(path, text)
    if columns is not None:
        parts = [told for told in parts if told.path in columns]
    if path.startswith("switches."):
        _name_switch(found, path.rpartition(".")[2], parts, line)
    became = [_tell_one(found, told, line, (columns or {}).get(told.path, 0)) for told in parts]
    if any(one.how is Placing.YES for one in became):
        settle(found)
    order = [Placing.NOWHERE, Placing.TORN, Placing.YES]
    return max(became, key=lambda one: order.index(one.how), default=_NOWHERE)


_SWITCH = "FUNCTION"


def _name_switch(
    found: Sequence[Proposal], function: str, parts: Sequence[ToldSetting], line: int
) -> None:
    """Take a word that nobody knows for the function whose range its line has, if one line does.

    `wag: channel 5 from 1700 to 2100` is what arms, where that is set so.
    """
    believed, otherwise = _taken_for(found, function, parts)
    if believed and not otherwise:
        return
    fitting: list[set[str]] = []
    for told in parts:
        goal = f"switches.{_SWITCH}.{told.path.rpartition('.')[2]}"
        own: set[str] = set()
        for made, candidate, depth, match in _switches(found):
            known = {w: candidate.ours(_SWITCH, match, w) for w in made.family.indices[depth]}
            own |= {
                sample.under[depth]
                for sample in made.seen.samples
                if candidate.goal.target == goal
                and (not known[sample.under[depth]] or sample.under[depth] in match.unclear)
                and (not line or sample.place.line == line)
                and _says(made, candidate, sample.text, told)
            }
        fitting.append(own - believed)
    words = set.intersection(*fitting) if fitting else set()
    if len(words) != 1:
        return
    word = words.pop()
    for made, candidate, depth, match in list(_switches(found)):
        if word in made.family.indices[depth]:
            kept = {theirs: ours for theirs, ours in match.words.items() if theirs not in believed}
            unclear = (match.unclear | believed & match.words.keys()) - {word}
            named = match._replace(words={**kept, word: function}, unclear=unclear)
            others = (
                m if m[2] is not match else (_SWITCH, depth, named) for m in candidate.matches
            )
            put(made, candidate, candidate._replace(matches=tuple(others)))


def _taken_for(
    found: Sequence[Proposal], function: str, parts: Sequence[ToldSetting]
) -> tuple[set[str], bool]:
    """The words that are taken for a function, and whether their lines say another range."""
    wanted = {f"switches.{_SWITCH}.{told.path.rpartition('.')[2]}": told for told in parts}
    words: set[str] = set()
    otherwise = False
    for made, candidate, depth, match in _switches(found):
        own = {
            w for w in made.family.indices[depth] if candidate.ours(_SWITCH, match, w) == function
        }
        words |= own
        told = wanted.get(candidate.goal.target)
        otherwise = otherwise or any(
            told is not None and not _says(made, candidate, sample.text, told)
            for sample in made.seen.samples
            if sample.under[depth] in own
        )
    return words, otherwise


def _switches(found: Sequence[Proposal]) -> Iterator[tuple[Proposal, Candidate, int, Match]]:
    """The fields that are parts of switches' ranges, each with the index of their functions."""
    for made in found:
        chosen = made.chosen
        if chosen is not None and chosen.goal.target.startswith(f"switches.{_SWITCH}."):
            yield from (
                (made, chosen, at, m) for index, at, m in chosen.matches if index == _SWITCH
            )


def _says(made: Proposal, candidate: Candidate, text: str, told: ToldSetting) -> bool:
    """Whether a text is the value as the field counts, or would be where that is not known."""
    fit = fit_for(candidate.goal, candidate.fit, made, told.kind, {text: told.value})
    return fit is not None and (fit.spec == candidate.fit.spec or bool(candidate.fit.lacks))


_NOWHERE, _YES = Placement(Placing.NOWHERE), Placement(Placing.YES)


def _tell_one(
    found: Sequence[Proposal], told: ToldSetting, line: int, column: int = 0
) -> Placement:
    free = [made for made in found if line or not is_another(made, told.path)]
    if column:  # that field alone
        free = [m for m in free if any(s.place[1:3] == (line, column) for s in m.seen.samples)]
    ways = [way for way in _ways(free, told, line) if line or not _is_fancied(way)]
    if not ways:
        ways = list(_by_value(free, told, line))
    if not ways:
        return _NOWHERE
    best = max(ways, key=lambda way: (_weight(way), -way[0].position))
    rivals = [] if line else list(_rivals(best, ways))
    if rivals:
        return Placement(Placing.TORN, tuple(sorted({_line_of(way) for way in (best, *rivals)})))
    made, candidate, sample_text, fit = best
    made.known[sample_text] = told.value
    made.told, made.sure = True, 1.0
    fit = fit or fit_for(candidate.goal, candidate.fit, made, told.kind)
    if fit is None:
        return _NOWHERE
    if not fit.stands and fit.spec != "words":  # what stands for nothing does so still
        fit = fit._replace(stands=candidate.fit.stands)
    new = candidate._replace(fit=fit)
    made.candidates = [new, *(c for c in made.candidates if c is not candidate)]
    made.chosen = new
    _pass_on(found, made, candidate.goal)
    return _YES


def _weight(way: "TellingWay") -> float:
    return way[1].points + _manner(way) - _taken(way)


def _manner(way: "TellingWay") -> float:
    """Points for how a field says the value: as it stands, or in a word that means it, at best."""
    _, candidate, text, fit = way
    if fit is not None and fit.spec == "not" and candidate.fit.spec != "not":
        return -1.0  # its words don't say that it is turned round
    if fit is None or fit.spec != "words":
        return _plainness(fit)
    ours = dict(fit.words).get(unquoted(text), "")
    meant = dict(candidate.fit.words).get(unquoted(text)) == ours or pair_up([text], [ours])
    return 0.5 if meant else -1.0


def _is_fancied(way: "TellingWay") -> bool:
    """Whether a field would say it in an odd step or a strange word, and is not thought to say it.

    Such a one says any number, or anything: no answer without a line is about it.
    """
    made, candidate, text, fit = way
    if _manner(way) > -1.0:
        return False
    coded = fit is not None and fit.spec == "words"
    if coded and isinstance(candidate.goal.kind, Quantity):
        return True
    strange = coded and not _NUMBER.fullmatch(unquoted(text))
    known = made.chosen is not None and made.chosen.key == candidate.key
    return not known or (not strange and made.sure < SURE)


def _line_of(way: "TellingWay") -> int:
    """The number of the line that has the text."""
    return next(s.place.line for s in way[0].seen.samples if s.text == way[2])


def _rivals(best: "TellingWay", ways: Sequence["TellingWay"]) -> Iterator["TellingWay"]:
    """Other fields that have the value just as plainly, where the words don't decide."""
    axis = best[1].fit.lacks.startswith(WHICH_AXIS)
    if not axis and best[0].sure >= SURE and best[0].chosen is best[1]:
        return  # it was surely that before, but for what it counts in or says by a word
    for way in ways:
        made, candidate, _, _ = way
        near = candidate.points > best[1].points - _NEAR
        near = axis or (near and candidate.alike > best[1].alike - _DECIDES)
        if made is not best[0] and near and _manner(way) >= _manner(best):
            yield way


def is_another(made: Proposal, path: str) -> bool:
    """Whether a field is another setting by its words: an answer without a line is not about it.

    In which steps it counts, or from what, may still have to be told.
    """
    if made.chosen is None or not made.seen.samples:
        return False
    if not made.told and made.chosen.fit.lacks.startswith(WHICH_AXIS):
        return False
    worded = made.sure >= SURE and is_told_by_words(made.chosen)
    if not (worded or is_sure(made)):
        return False
    return all(plain_path(made.chosen.path(sample)) != path for sample in made.seen.samples)


def _taken(way: "TellingWay") -> float:
    """Points that a field loses which is another setting already, and surely so."""
    made, candidate = way[0], way[1]
    other = made.chosen is not None and made.chosen.key != candidate.key
    return 3.0 * made.sure if other else 0.0


def _plainness(fit: ValueFit | None) -> float:
    """Points for a value that stands there as it is, or in an ordinary step."""
    if fit is None:
        return -1.0
    step = fit.spec.split(" ")[0]
    return (
        0.5
        if step in ("0.1", "0.01", "0.001", "10", "100", "1000")
        else (1.5 if not step[:1].isdigit() and not step.startswith("-") else -1.0)
    )


TellingWay = tuple[Proposal, Candidate, str, ValueFit | None]


def _ways(found: Sequence[Proposal], told: ToldSetting, line: int) -> Iterator[TellingWay]:
    """The fields that may be the setting by their words, and can have the value."""
    for made in found:
        for candidate in made.candidates:
            if candidate.points < 0 or (made.told and candidate is not made.chosen):
                continue
            hits = [
                sample
                for sample in made.seen.samples
                if plain_path(candidate.path(sample)) == told.path
                and (not line or sample.place.line == line)
            ]
            hits = [sample for sample in hits if sample.text.strip()]  # a title says nothing
            live = [sample for sample in hits if sample.text not in ("0", "-")]
            if told.place >= 0:
                own = live if len(live) > told.place else hits
                hits = own[told.place : told.place + 1]
            if not hits:
                continue
            known = {**made.known, hits[0].text: told.value}
            fit = fit_for(candidate.goal, candidate.fit, made, told.kind, known)
            coded = fit is not None and fit.spec == "words" and isinstance(told.kind, Quantity)
            coded_word = fit is not None and fit.spec == "words"
            figures = isinstance(told.kind, Int) and not candidate.matches  # small ones stand often
            kin = is_told_by_words(candidate) if coded_word else candidate.alike > _SAYS * figures
            kin = kin and (not figures or _says_stick(made, told.path))
            kin = kin or bool(line) or _is_distinct(hits[0].text, fit)
            kin = kin or (
                coded_word and candidate.alike >= _KIN and _is_meant(candidate, fit, hits)
            )
            if fit is not None and kin and not (coded and candidate.explained < 0.6):
                yield made, candidate, hits[0].text, fit


def _says_stick(made: Proposal, path: str) -> bool:
    """Whether a field names the stick whose channel a setting is; true for other settings."""
    group, _, stick = path.rpartition(".")
    said = words_about(made.family, made.seen)
    return group != "receiver.map" or bool(pair_up([*said.own, *said.around], [stick]))


def _is_meant(candidate: Candidate, fit: ValueFit | None, hits: Sequence[Sample]) -> bool:
    """Whether a text was taken for the told word before it was told: FLASH for flash."""
    text = unquoted(hits[0].text)
    ours = dict(fit.words).get(text, "") if fit is not None else ""
    return bool(ours) and dict(candidate.fit.words).get(text) == ours


def may_be_found(found: Sequence[Proposal], path: str) -> bool:
    """Whether an answer without a line could be taken: by words, or by the value of a field."""
    goal = next((g for g in goals() if g.target == path and not g.indices), None)
    for made in found:
        if made.told or is_another(made, path):
            continue
        for candidate in made.candidates:
            plain = (plain_path(candidate.path(sample)) for sample in made.seen.samples)
            if candidate.points >= 0 and any(path in (p, p.rpartition(".")[0]) for p in plain):
                return True
        alone = candidate_for(made, goal) if goal and len(made.seen.samples) == 1 else None
        if goal and alone is not None:
            figures = isinstance(goal.kind, Quantity | Int) and _is_long(made.seen.samples[0].text)
            if alone.alike >= _KIN or figures:
                return True
    return False


def may_be_placed(found: Sequence[Proposal], path: str) -> bool:
    """Whether a field could be taken for the setting by most answers, of a setting of few words."""
    own = declared(path)
    kind: Kind | None = own.kind if own else None
    if isinstance(kind, Filters):
        path, kind = f"{path}.kind", kind.parts["kind"]
    if not isinstance(kind, Words | WordSet):
        return True
    free = [made for made in found if not is_another(made, path)]
    words = [one for one in kind.choices if not isinstance(kind, PadUse)]
    values = [frozenset({one}) if isinstance(kind, WordSet) else one for one in words]
    told = [ToldSetting(path, kind, value) for value in values]
    found_for = sum(
        any(next(ways(free, one, 0), None) is not None for ways in (_ways, _by_value))
        for one in told
    )
    return 2 * found_for >= len(told)


def _by_value(found: Sequence[Proposal], told: ToldSetting, line: int) -> Iterator[TellingWay]:
    """The one field that has the value, in plain steps, and whose words don't speak against it."""
    goal = next((g for g in goals() if g.target == told.path and not g.indices), None)
    if goal is None:
        return
    ways: list[tuple[float, TellingWay]] = []
    for made in found:
        if made.told or len(made.seen.samples) != 1:
            continue
        sample = made.seen.samples[0]
        if line and sample.place.line != line:
            continue
        candidate = candidate_for(made, goal)
        if candidate is None or not (line or _says_stick(made, told.path)):
            continue
        known = {sample.text: told.value}
        fit = fit_for(goal, ValueFit(0.0), made, told.kind, known)
        if fit is None or (fit.spec == "words" and not line and candidate.alike < 0.8):
            continue
        coded = fit.spec == "words" and isinstance(goal.kind, Quantity)
        if not line and (coded or (fit.spec != "words" and _plainness(fit) < 0)):
            continue  # in such a step, or as a code, a number says anything
        ways.append((candidate.alike, (made, candidate._replace(fit=fit), sample.text, fit)))
    ways.sort(key=lambda way: -way[0])
    if not ways:
        return
    clear = len(ways) == 1 or ways[0][0] > ways[1][0] + 0.4
    alike, way = ways[0]
    if line or (clear and (alike >= _KIN or (alike > -0.5 and _is_distinct(way[2], way[3])))):
        yield way


def _is_distinct(text: str, fit: ValueFit | None) -> bool:
    """Whether a value stands there as it is, in figures that hardly stand twice by chance."""
    plain = fit is not None and fit.spec != "words" and not fit.spec[:1].isdigit()
    return plain and _is_long(text)


def _is_long(text: str) -> bool:
    return len(re.sub(r"\D", "", text).strip("0")) >= 3


def fit_for(
    goal: Goal,
    fit: ValueFit,
    made: Proposal,
    kind: Kind,
    known: Mapping[str, Value] | None = None,
) -> ValueFit | None:
    """How a field is written, by the values that some of its texts are known to mean."""
    known = made.known if known is None else known
    if goal.joins:  # a control's channel is told by its row
        use = goal.joined.partition(" ")[0]
        same = all(f"{value}".partition(" ")[0] == use for value in known.values())
        return fit if same or goal.joins == "CONTROL" else None
    if isinstance(kind, Either):
        return _either_fit(goal, fit, made, kind, known)
    if isinstance(kind, Bool):
        return _bool_fit(made, known)
    if isinstance(kind, Words | PadUse | WordSet):
        return _word_fit(fit, made, kind, known)
    if isinstance(kind, Text):
        if all(unquoted(text) == value for text, value in known.items()):
            return ValueFit(1.0)
        if any(_NUMBER.fullmatch(text) and not _is_code(text) for text in known):
            return None
        return _table(kind, known)
    if isinstance(kind, Int):
        return _whole_fit(goal, kind, known)
    if isinstance(kind, Quantity):
        return _number_fit(goal, fit, made, kind, known)
    return None


def _table(kind: Kind, known: Mapping[str, Value]) -> ValueFit:
    words = tuple((unquoted(text), _spelled(kind, value)) for text, value in known.items())
    return ValueFit(1.0, "words", words)


def _spelled(kind: Kind, value: Value) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, frozenset):
        return ", ".join(sorted(value)) or "none"
    return kind.spell(value)


def _bool_fit(made: Proposal, known: Mapping[str, Value]) -> ValueFit | None:
    pairs = [(text.casefold(), value) for text, value in known.items()]
    if all(text in ON_WORDS | OFF_WORDS for text, _ in pairs):
        same = [(text in ON_WORDS) is value for text, value in pairs]
        if len(set(same)) == 1:
            return ValueFit(1.0, "" if same[0] else "not")
    if made.seen.switch:
        return None
    words = {text: "on" if value else "off" for text, value in known.items()}
    others = {s.text for s in made.seen.samples} - words.keys()
    if len(others) == 1 and len(set(words.values())) == 1:
        words[others.pop()] = "off" if "on" in words.values() else "on"
    return ValueFit(1.0, "words", tuple(words.items()))


def _word_fit(
    fit: ValueFit, made: Proposal, kind: Kind, known: Mapping[str, Value]
) -> ValueFit | None:
    if any(" " in text and not text.startswith('"') and "," in text for text in known):
        return None
    if fit.spec == "flags" and all(_of_bits(fit, text) == value for text, value in known.items()):
        return fit
    texts = [s.text for s in made.seen.samples]
    for text, value in known.items():
        if _NUMBER.fullmatch(text) and not _is_code(text):
            return None  # it is a number of something, and stands for no word
        if str(value).startswith("motor ") and texts.count(text) > 1:
            return None  # each motor has a pad of its own
    words = dict(fit.words) if fit.spec == "words" else {}
    if isinstance(kind, PadUse):  # which arm a number is, is not known
        words = {theirs: ours for theirs, ours in words.items() if "arm_" not in ours}
    words |= {unquoted(text): _spelled(kind, value) for text, value in known.items()}
    others = {unquoted(text) for text in texts} - words.keys()
    if isinstance(kind, Words) and len(kind.choices) == 2 and len(others) == len(words) == 1:
        left = set(kind.choices) - set(words.values())
        words |= dict(zip(others, left, strict=True))
    if isinstance(kind, WordSet) and len(words) >= 2 and "0" in others:
        words["0"] = "none"
    return ValueFit(1.0, "words", tuple(words.items()))


def _of_bits(fit: ValueFit, text: str) -> frozenset[str] | None:
    """The words whose bits add up to a number; None where some bit is not known."""
    bits = {int(bit): ours for bit, ours in fit.words}
    number = int(text) if text.isdigit() else -1
    known = number >= 0 and not number & ~sum(bits)
    return frozenset(ours for bit, ours in bits.items() if number & bit) if known else None


def _is_code(text: str) -> bool:
    """Whether a number may stand for a word."""
    return re.fullmatch(r"[+-]?\d{1,4}", text) is not None and abs(int(text)) < _CODES


def _whole_fit(goal: Goal, kind: Int, known: Mapping[str, Value]) -> ValueFit | None:
    if any(not re.fullmatch(r"-?\d{1,6}", text) for text in known):
        return None
    shifts = {value - int(text) for text, value in known.items() if isinstance(value, int)}
    if len(shifts) == 1:
        shift = shifts.pop()
        if shift == 0:
            return ValueFit(1.0)
        return ValueFit(1.0, "from 0") if counts(goal) and shift == 1 else None
    return _table(kind, known) if len(shifts) > 1 else None


def _either_fit(
    goal: Goal, fit: ValueFit, made: Proposal, kind: Either, known: Mapping[str, Value]
) -> ValueFit | None:
    words = {text: str(value) for text, value in known.items() if isinstance(value, str)}
    numbers = {text: value for text, value in known.items() if not isinstance(value, str)}
    if not numbers and fit.lacks == "":
        base: ValueFit | None = fit
    else:
        base = fit_for(goal, fit, made, kind.other, numbers) if numbers else ValueFit(1.0)
    own = {text: word for text, word in words.items() if text.casefold() != word}
    if not own or base is None:
        return base
    if not numbers and len({s.text for s in made.seen.samples}) == len(words):
        return _table(kind, words)
    return base._replace(stands=tuple({**dict(fit.stands), **own}.items()), lacks="")


def _number_fit(  # noqa: C901 (a case a line)
    goal: Goal, fit: ValueFit, made: Proposal, kind: Quantity, known: Mapping[str, Value]
) -> ValueFit | None:
    if made.seen.glued:
        return ValueFit(1.0)
    pairs: list[tuple[Fraction, Fraction]] = []
    for text, value in known.items():
        if not _NUMBER.fullmatch(text) or not isinstance(value, int | float):
            return None
        pairs.append((Fraction(text), Fraction(str(value))))
    telling = [(raw, value) for raw, value in pairs if raw or value]
    if not telling:
        if fit.lacks and any(made.seen.numbers):
            return None  # nothing is nothing in any step
        return fit._replace(lacks="") if fit.points > -4 else ValueFit(1.0)
    divides = goal.target == "loop.rate" and all(is_divider_of_gyro(*pair) for pair in pairs)
    if divides and is_divider(made.seen):
        return OF_GYRO
    sign = -1 if goal.target in SIGNS and all(raw * value < 0 for raw, value in telling) else 1
    for step in STEPS:
        if all(raw * step * sign == value for raw, value in pairs):
            return ValueFit(1.0, spec_text(step, Fraction(0), kind.unit), turned=sign < 0)
    if kind.unit == "us":
        for step, least in PULSES:
            if all(raw * step + least == value for raw, value in pairs):
                return ValueFit(1.0, spec_text(step, least, kind.unit))
    if kind.unit == "Hz" and is_period(made.seen.names, _NO_HINT) and all(r for r, _ in pairs):
        return _periods(made, pairs)
    if any(not raw for raw, _ in pairs):
        return None
    if divides:
        return OF_GYRO
    if kind.unit == "V" and goal.target.endswith("_cell"):
        for scale in ("0.1", "0.01", "0.001", "1"):
            cells = {raw * Fraction(scale) / value for raw, value in pairs}
            if len(cells) == 1 and (count := cells.pop()).denominator == 1 and 2 <= count <= 14:
                return ValueFit(1.0, f"{scale}/battery.cells V")
    ratio = telling[0][1] / telling[0][0]
    if abs(ratio) > 10_000 or abs(ratio) < Fraction(1, 10_000):
        return None
    codes = len(known) > 1 or all(raw.denominator == 1 and raw < _CODES for raw, _ in pairs)
    return _table(kind, dict(known)) if made.candidates and codes else None


OF_GYRO = ValueFit(1.0, "gyro.sample_rate/n")
# What gyros give, in Hz; common practice, and the data sheets of several makers.
_GYRO_RATES = frozenset((1000, 1600, 2000, 3200, 4000, 6400, 6660, 6664, 8000, 16000, 32000))


def is_divider_of_gyro(raw: Fraction, rate_hz: Fraction) -> bool:
    """Whether a small number times a rate of the loop is a rate that gyros have."""
    return raw.denominator == 1 and 0 < raw <= _CODES and raw * rate_hz in _GYRO_RATES


def _periods(made: Proposal, pairs: Sequence[tuple[Fraction, Fraction]]) -> ValueFit | None:
    products = {raw * value for raw, value in pairs}
    if len(products) != 1 or products.pop() not in (1, 1000, 10**6):
        return None
    step = pairs[0][0] * pairs[0][1]
    words = tuple(
        (s.text, f"{number_text(float(step / Fraction(s.text)))} Hz")
        for s in made.seen.samples
        if _NUMBER.fullmatch(s.text) and Fraction(s.text)
    )
    return ValueFit(1.0, "words", words)


def _pass_on(found: Sequence[Proposal], made: Proposal, goal: Goal) -> None:
    """Let fields of the same sort learn from one that was told: counts, and words."""
    if made.chosen is None:
        return
    fit = made.chosen.fit
    top = goal.target.split(".")[0]
    for other in found:
        chosen = other.chosen
        if other is made or chosen is None or other.told:
            continue
        kin = chosen.goal.target.split(".")[0] == top
        if (
            kin
            and counts(goal)
            and counts(chosen.goal)
            and chosen.fit.lacks
            and _same_sort(goal.target, chosen.goal.target)
        ):
            new = chosen._replace(fit=chosen.fit._replace(spec=fit.spec, lacks=""))
            other.candidates = [new if c is chosen else c for c in other.candidates]
            other.chosen = new
        if (
            isinstance(goal.kind, Quantity)
            and isinstance(chosen.goal.kind, Quantity)
            and goal.group == chosen.goal.group
            and goal.kind.unit == chosen.goal.kind.unit
            and chosen.fit.lacks == UNSURE_STEP
            and fit.spec != "words"
            and any(value for value in made.known.values())  # nothing is nothing in any step
            and _fits_step(chosen.goal, other, fit.spec)
        ):
            new = chosen._replace(fit=chosen.fit._replace(spec=fit.spec, lacks=""))
            other.candidates = [new if c is chosen else c for c in other.candidates]
            other.chosen = new
        if (
            fit.spec == "words"
            and isinstance(goal.kind, Words | WordSet)
            and (goal.kind == chosen.goal.kind and chosen.fit.lacks and kin)
        ):
            words = {**dict(chosen.fit.words), **dict(fit.words)}
            texts = {unquoted(s.text) for s in other.seen.samples}
            if texts <= words.keys():
                new = chosen._replace(fit=ValueFit(0.5, "words", tuple(words.items())))
                other.candidates = [new if c is chosen else c for c in other.candidates]
                other.chosen = new


def _fits_step(goal: Goal, made: Proposal, spec: str) -> bool:
    """Whether a field may well be a setting in the step that another one of its sort has."""
    first = spec.split(" ")[0]
    step = float(Fraction(first)) if re.fullmatch(r"[\d.]+(?:/\d+)?", first) else 1.0
    plain = "+" not in spec and "/n" not in spec and "battery" not in spec
    return plain and is_ordinary(goal, [number * step for number in made.seen.numbers])


def _same_sort(one: str, other: str) -> bool:
    pairs = ({"row", "column"}, {"channel"})
    leaves = {one.rpartition(".")[2], other.rpartition(".")[2]}
    return any(leaves <= pair for pair in pairs)


def renamed(found: Sequence[Proposal], group: str, theirs: str, ours: str) -> bool:
    """Take it that a pad, a port or a control has another name, and those beside it likewise.

    `01` is `p1`, so `02` is `p2`; of `D1` and `E1` each has letters of its own. Returns whether any
    is called so.
    """
    cut, own = _NUMBERED.fullmatch(ours), _NUMBERED.fullmatch(theirs)
    if cut is None or own is None or int(own[2]) != int(cut[2]):
        return False
    hit = False
    for made in found:
        for number, candidate in enumerate(made.candidates):
            matches = []
            for index, depth, match in candidate.matches:
                words = {w: candidate.ours(index, match, w) for w in made.family.indices[depth]}
                of_group = index in ("ID", "CONTROL") and candidate.goal.target.startswith(
                    f"{group}."
                )
                if of_group and theirs in words.values():
                    named = {w: _numbered(cut[1], name, own[1]) for w, name in words.items()}
                    matches.append((index, depth, Match(match.points, named)))
                    hit = True
                else:
                    matches.append((index, depth, match))
            new = candidate._replace(matches=tuple(matches))
            if made.chosen is candidate:
                made.chosen = new
            made.candidates[number] = new
    return hit


_NUMBERED = re.compile(r"(\D*)0*(\d+)")


def _numbered(prefix: str, name: str, letters: str) -> str:
    """A name with other letters before its number, where it has those."""
    cut = _NUMBERED.fullmatch(name)
    return f"{prefix}{int(cut[2])}" if cut and cut[1] == letters else name


def copied(found: Sequence[Proposal]) -> list[Proposal]:
    """The proposals once more, for telling them something without changing these."""
    return [
        replace(made, candidates=list(made.candidates), known=dict(made.known)) for made in found
    ]


def problem_of(path: str, value: str) -> str:
    """Why a value can't be a setting's, in words; empty where it can."""
    found = declared(path)
    if found is None:
        return f"{path} is no setting of the vocabulary"
    try:
        return found.kind.beyond(found.kind.read(value))
    except BadValue as error:
        return str(error)


def meant(value: str) -> tuple[str, bool]:
    """A value as it was typed, and whether he insists on it: `52 !`."""
    bare = value.rstrip()
    return (bare[:-1].rstrip(), True) if bare.endswith("!") else (value, False)


def in_our_words(path: str, value: str) -> str:
    """A value as the vocabulary has it, where it says so in other words, or as it stands.

    >>> in_our_words("motors.front_left.spin", "anticlockwise")
    'ccw'
    >>> in_our_words("switches.arm", "7: 1700-2100 us"), in_our_words("esc.protocol", "sparrow")
    ('7: 1700..2100 us', 'sparrow')
    """
    found = declared(path)
    if found is None or not problem_of(path, value):
        return value
    kind = found.kind
    if isinstance(kind, SwitchRanges):
        ranged = re.sub(r"(?<=\d) ?(?:-|–|to) ?(?=\d)", "..", value)
        return value if problem_of(path, ranged) else ranged
    if not isinstance(kind, Words | WordSet):
        return value
    cut = re.split(r" ?[,+] ?", value) if isinstance(kind, WordSet) else [value]
    ours = [pair_up([part], kind.choices, _SURELY).get(part, part) for part in cut]
    return ", ".join(ours)


_SURELY = 1.0  # likeness from which another word for one of ours is taken for it


def contradiction(line: str, path: str, value: str) -> str:
    """That a line says another value in as many words; empty where it does not.

    One of its words is another one that the setting can have, or its only number is in no ordinary
    step the one told: that may be what it should be set to, and is not.
    """
    own = declared(path)
    kind = own.kind.other if own and isinstance(own.kind, Either) else own.kind if own else None
    if kind is None or problem_of(path, value):
        return ""
    theirs = ""
    if isinstance(kind, Bool):
        theirs = _switched_otherwise(line, told=kind.read(value) is True)
    elif isinstance(kind, Words) and not isinstance(kind, PadUse):
        theirs = _other_word(line, kind.choices, str(kind.read(value)))
    elif isinstance(kind, PadUse):
        theirs = _other_arm(line, str(kind.read(value)))
    elif isinstance(kind, WordSet):
        theirs = _other_words(line, kind, kind.read(value))
    elif isinstance(kind, SwitchRanges):
        theirs = _other_ends(line, kind.read(value))
    elif place := _other_place(line, path, value):
        theirs = place
    elif isinstance(kind, Quantity | Int) and not re.fullmatch(r"[a-z_]+", value):
        theirs = _other_number(line, path, kind, kind.read(value))
    if not theirs:
        return ""
    return (
        f"the line says {theirs}. Type what the craft is set to now, not what it should be; if "
        f"{theirs} stands for {value} in this firmware, type {value} !"
    )


def _switched_otherwise(line: str, *, told: bool) -> str:
    """The only word of a line that says on or off, where it says the other one."""
    words = [word for word in re.findall(r"[A-Za-z]+", line) if word.casefold() in SAID]
    turned = NEGATIVE & {token for word in re.findall(r"\w+", line) for token in tokens(word)}
    same = len(words) != 1 or bool(turned) or (words[0].casefold() in ON_WORDS) is told
    return "" if same else words[0]


def _other_word(line: str, choices: Sequence[str], told: str) -> str:
    """A word of a line that is another choice, where none is the one told."""
    single = _WORDS.findall(line)
    if len(choices) == 2:
        found = {word: pair_up([word], choices, 0.9).get(word, "") for word in single}
    else:
        texts = (*(f"{one} {other}" for one, other in pairwise(single)), *single)
        found = {text: re.sub("[ -]", "_", text.casefold()) for text in texts}
    said = {word: ours for word, ours in found.items() if ours in choices}
    return next(iter(said)) if said and told not in said.values() else ""


def _other_arm(line: str, told: str) -> str:
    """The one motor that a line names, where it is another than the one told."""
    single = re.findall(r"[A-Za-z]+", line)
    texts = [*(f"{one} {other}" for one, other in pairwise(single)), *single]
    named = {arms_of([text]).get(text, ""): text for text in texts if is_corner(text)}
    arm = told.partition(" ")[2]
    return next(iter(named.values())) if arm and len(named) == 1 and arm not in named else ""


def _other_words(line: str, kind: WordSet, told: Value) -> str:
    """A word of a line that the setting can have, where it has none of those told."""
    said = [word.casefold() for word in re.findall(r"[A-Za-z_]+", line)]
    there = [word for word in said if word in kind.choices]
    same = isinstance(told, frozenset) and (not told or told & set(there))
    return there[0] if there and not same else ""


def _other_place(line: str, path: str, value: str) -> str:
    """The number behind "row" or "column" in a line, where it is another one."""
    found = re.search(rf"\b{path.rpartition('.')[2]}\W{{0,3}}(\d+)", line.casefold())
    there = int(found[1]) if found and path.startswith("overlay.elements.") else None
    near = there is not None and value.isdigit() and int(value) - there in (0, 1)  # or from 0
    return "" if there is None or near or found is None else found[0]


_WORDS = re.compile(r"(?:counter|contra|anti)[- _]?clock(?:wise)?|[A-Za-z][\w-]*", re.IGNORECASE)


def _other_ends(line: str, told: Value) -> str:
    """The two pulses of a line, where the only range told has other ends."""
    pulses = [
        text for text in re.findall(r"(?<![\w.])\d{3,4}(?![\w.])", line) if 750 <= int(text) <= 2250
    ]
    one = told[0] if isinstance(told, tuple) and len(told) == 1 else None
    if not isinstance(one, SwitchRange) or len(pulses) != 2:
        return ""
    same = [float(text) for text in pulses] == [one.low, one.high]
    return "" if same else f"{pulses[0]} to {pulses[1]}"


def _other_number(line: str, path: str, kind: Quantity | Int, told: Value) -> str:
    """The numbers of a line, where each is another one in every step that a firmware may have."""
    found = list(_NUMBER_AND_UNIT.finditer(line))
    if not isinstance(told, int | float) or re.search(r"\d/\d", line):
        return ""
    value = Fraction(str(told))
    steps = STEPS[:_ORDINARY] if len(found) > 1 else STEPS
    texts = []
    for one in found:
        measure = unit_of(one[2]) if one[2] else None
        there = Fraction(one[1])
        if len(found) > 1:  # of which one has another sign, it is asked about by itself
            there = abs(there) if value >= 0 else -abs(there)
        if _may_say(there, measure, kind, value, steps):
            return ""
        if path == "loop.rate" and is_divider_of_gyro(there, value):
            return ""
        texts.append(one[0] if measure is not None else one[1])
    return " and ".join(filter(None, (", ".join(texts[:-1]), *texts[-1:])))


_NUMBER_AND_UNIT = re.compile(r"(?<![\w.])([+-]?\d+(?:\.\d+)?)(?: ?([A-Za-z%]+)(?![\w/]))?")
_ORDINARY = 7  # of the steps: powers of ten


def _may_say(
    there: Fraction,
    measure: Measure | None,
    kind: Quantity | Int,
    value: Fraction,
    steps: Sequence[Fraction],
) -> bool:
    """Whether a number can mean a value, in a step, a unit or a count that firmwares have."""
    unit = kind.unit if isinstance(kind, Quantity) else ""
    if isinstance(kind, Int):
        steps = STEPS[:1]
    if measure is not None and measure.unit and same_dimension(measure.unit, unit):
        there, steps = convert(there * measure.scale, measure.unit, unit), STEPS[:1]
    cells = unit == "V" and value and there / value in range(2, 15)
    pulses = unit == "us" and any(there * step + least == value for step, least in PULSES)
    same = any(there * step == value for step in steps)
    same = same or (isinstance(kind, Int) and value - there == 1)  # we count from 1, it from 0
    period = unit == "Hz" and there * value in (1, 1000, 10**6)
    return bool(cells or pulses or same or period)
