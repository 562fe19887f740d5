"""Asks for what a dump can't tell: the question that opens most first, and what its answer does.

The state of the asking is what was answered so far; everything else follows from it and from the
dumps. So it can be written down, taken up again, and kept by a page as well as by a terminal.
"""

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple
from zlib import crc32

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.text import FileText
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.teach.coverage import pattern_of
from cfgaudit.teach.exact import Reach, SaidOfLine, ToldLine, columns_of, heads_above, turned_in
from cfgaudit.teach.keys import Sample
from cfgaudit.teach.lines import Mapped, is_sure
from cfgaudit.teach.propose import (
    SIGNS,
    Candidate,
    Proposal,
    name_arms,
    plain_path,
    settings_about,
    settle,
)
from cfgaudit.teach.telling import (
    arm_told,
    contradiction,
    copied,
    in_our_words,
    is_another,
    may_be_found,
    may_be_placed,
    meant,
    problem_of,
    renamed,
    tell,
)
from cfgaudit.teach.words import ARMS, is_corner
from cfgaudit.teach.write import (
    Draft,
    DumpSurvey,
    KnownWords,
    draft_of,
    read_draft,
    read_dumps,
)
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Value,
)
from cfgaudit.vocabulary.paths import declared, nearest

_NOT_AT_WORK = "its line says it in a way that can't be told from what is known so far"
_AT_A_COST = "other settings would not be read any more: what it says is said on other lines"
_OF_RULE = 0.8  # settings that a rule is worth which waits for one: it may wait for others, too
_GRAVE = 1.5  # settings that it is worth besides where no craft may fly with a fault in it
_PLACED = 0.7  # how likely a line is found for an answer to a question about a setting
_LINELESS = 0.02  # how much a question is worth where no line seems to say what it asks for
_SHOWN = 5  # lines among which a question lets the builder choose
_ARM = "switches.arm"  # the one function that every craft has
_UNKNOWN = 0.15  # what is left of a question's worth where its like was not known, for each time
_IN_VAIN = 0.3  # the same, where nothing came of an answer
_READABLE = 0.9  # how likely a builder can say what a line states that he is shown
_STATES_ITS_LIKE = 0.95  # how likely a line states a setting where one of its sort does
_MOST_OF_LIKE = 32  # values of a sort that an answer may tell, at most
_OF_ITS_LIKE = 0.6  # how likely a value of a line tells one of another line of its sort
_ALIKE = 0.35  # what is left of that where all have the same values, or nothing but noughts
_FREE = 0.1  # and where others of the sort are read by one that was told, but those with noughts
_OF_ONE_LINE = 2.5  # settings that a line states which is alone in its sort, at most
# How likely a line that is not read states a setting of the vocabulary, by the points of what it
# may be at best: one that is alone in its sort, and one of several. Counted over the unread lines
# of 36 firmwares (tests/teach), as the two below.
_OF_VOCABULARY = ((5.0, 0.88), (4.0, 0.77), (3.0, 0.67), (2.0, 0.52), (1.0, 0.38), (-99.0, 0.29))
_OF_SEVERAL = ((6.0, 0.97), (3.0, 0.87), (2.0, 0.65), (-99.0, 0.55))
_OF_VALUES = 0.65  # the same of a line alone in its sort that has several values, at least
_BY_LINES = ((25, 0.5), (13, 0.85), (1, 1.2))  # by how many lines such a sort has, times that
_GUESSED = 3  # candidates of a value that are shown as what it may be
_MOST_ARMS = 3  # told by their numbers, of four: the last one is left over
_FAIR = 0.6  # points from which a candidate is worth a question


class Answer(NamedTuple):
    """What the builder said to a question. Without a value he doesn't know.

    To a question about a line there is one for each setting that it states.
    """

    asked: str  # the setting that the question was about, as the dump's words have it
    value: str = ""  # what it is set to, in the plain form's spelling
    path: str = ""  # the setting, where its name is another than the one asked for
    line: int = 0  # the line that says it, where he told that
    seen: str = ""  # the mark of that line's text: in another dump it may stand elsewhere

    @property
    def is_of_line(self) -> bool:
        """Whether the question was about a line."""
        return not self.asked


NOTHING_SAID = "nothing"  # in place of a setting: a line states none of a craft


class CandidateLine(NamedTuple):
    """A line that may say what is asked for."""

    number: int
    text: str


@dataclass(frozen=True)
class Question:
    """What to ask next: what a setting is set to, and which line says so."""

    path: str
    says: str  # what the setting is
    expects: str  # what an answer looks like
    lines: tuple[CandidateLine, ...]  # the likeliest first
    settings: int  # how many settings hang on it
    rules: int  # how many rules wait for it
    kin: tuple[str, ...] = ()  # settings of the same lines: the value of one tells as much


@dataclass(frozen=True)
class LineQuestion:
    """What to ask next: what a line states."""

    line: CandidateLine
    guesses: tuple[str, ...]  # settings that it may state, the likeliest first
    like: int  # how many values stand in lines of its sort
    rules: int  # how many rules wait for what it may be
    above: tuple[str, ...] = ()  # what heads it: titles, the titles of its table's columns


@dataclass(frozen=True)
class State:
    """The dumps and all answers so far."""

    names: tuple[str, ...]
    texts: tuple[FileText, ...]
    answers: tuple[Answer, ...] = ()
    name: str = ""
    words: KnownWords = ()  # the lists of the dialect that is taken up

    @property
    def questions(self) -> int:
        """How many questions were answered."""
        of_lines = {answer.line for answer in self.answers if answer.is_of_line}
        return len(of_lines) + sum(not answer.is_of_line for answer in self.answers)


class Unplaced(NamedTuple):
    """An answer that nothing came of, and why."""

    answer: Answer
    why: str


class Taught(NamedTuple):
    """What the answers make of the dumps."""

    draft: Draft
    settings: Settings  # as the first dump is read with the draft
    checked: int  # rules that can run
    rules: int
    waiting: Mapping[str, int]  # the settings that rules lack, each with how many wait for it
    grave: Set[str]  # those of them that a rule lacks which finds what no craft may fly with
    unplaced: tuple[Unplaced, ...] = ()  # answers that nothing came of


# How likely a builder knows a setting without looking it up, by how its path begins; the first one
# that fits counts. Rounded from 32 lists of what a craft's builder knows by heart, written by hand
# (tests/teach, known.cfg).
_KNOWN = (
    ("craft.serial", 0.1), ("craft.owner", 0.1), ("ports.*.roles", 0.9), ("ports.*", 0.05),
    ("pads.*.use", 0.5), ("pads.*", 0.01), ("frame.arms", 0.02), ("frame", 1.0),
    ("motors.*.mix", 0.01), ("motors.stop", 0.05), ("motors", 0.95), ("esc.protocol", 1.0),
    ("esc.idle", 0.8), ("esc.reports", 0.5), ("esc.*.direction", 0.15), ("esc", 0.1),
    ("receiver.ends", 0.01), ("receiver.link", 1.0), ("receiver.channels", 0.8),
    ("receiver.map", 0.5), ("receiver", 0.05), ("switches.arm", 1.0), ("switches", 0.7),
    ("arming.by", 0.7), ("arming.max_tilt", 0.55), ("arming", 0.1), ("failsafe.channels", 0.01),
    ("failsafe.action", 1.0), ("failsafe.throttle", 0.55), ("failsafe.detect_after", 0.95),
    ("failsafe", 0.3), ("battery.divider", 0.15), ("battery.current_scale", 0.05),
    ("battery.current_offset", 0.01), ("battery.adc", 0.01), ("battery.detect", 0.1),
    ("battery.voltage_from", 0.05), ("battery.current_from", 0.05), ("battery", 0.85),
    ("gyro.sample_rate", 0.75), ("loop.rate", 0.8), ("gyro", 0.02), ("loop", 0.02),
    ("filters", 0.4), ("notches.motor.enabled", 0.4), ("notches.tracking.enabled", 0.2),
    ("notches", 0.02), ("banks.active", 0.7), ("banks.1.gains.roll", 0.3), ("banks.1", 0.1),
    ("banks", 0.05), ("sensors.*.enabled", 0.4), ("sensors", 0.05), ("position", 0.55),
    ("home.altitude", 0.95), ("home", 0.4), ("video.plan", 0.01), ("video", 0.7),
    ("camera", 0.55), ("overlay.elements.battery_voltage", 0.45), ("overlay.elements", 0.01),
    ("overlay", 0.1), ("telemetry.protocol", 0.7), ("telemetry.rate", 0.3), ("telemetry", 0.15),
    ("finder", 0.2), ("flight_log.device", 0.7), ("flight_log", 0.15), ("board.rotation", 0.35),
)  # fmt: skip


def knowable(path: str) -> float:
    """How likely a builder knows a setting without looking it up.

    >>> knowable("switches.arm") > knowable("receiver.ends.3.low")
    True
    """
    for begin, share in _KNOWN:
        pattern = re.escape(begin).replace(r"\*", r"[^.]+")
        if re.match(pattern, path):
            return share
    return 0.5


@lru_cache(maxsize=4)
def _reading(names: tuple[str, ...], texts: tuple[FileText, ...]) -> DumpSurvey:
    return read_dumps(names, texts)


def begun(names: Sequence[str], texts: Sequence[FileText], name: str = "") -> State:
    """The state before the first question."""
    return State(tuple(names), tuple(texts), (), name)


def answered(state: State, answer: Answer) -> State:
    """The state after one more answer."""
    return replace(state, answers=(*state.answers, answer))


def undone(state: State) -> State:
    """The state before the last answer; to a question about a line, before all that he told."""
    *kept, last = state.answers or [Answer("")]
    while last.is_of_line and kept and kept[-1].is_of_line and kept[-1].line == last.line:
        kept.pop()
    return replace(state, answers=tuple(kept))


Reaches = tuple[tuple[int, Reach], ...]  # by the numbers of lines


def taught(state: State) -> Taught:
    """What the answers make of the dumps. Answers that no line fits change nothing."""
    return _taught(state, _reaches(state))


def _reaches(state: State) -> Reaches:
    """How far each told line reaches: as far as nothing else is read otherwise for it."""
    found: Reaches = ()
    for number, answer in enumerate(state.answers):
        behind = state.answers[number + 1 : number + 2]
        ends = not behind or behind[0].line != answer.line or not behind[0].is_of_line
        if answer.is_of_line and answer.value and ends:
            until = replace(state, answers=state.answers[: number + 1])
            found = (*found, (answer.line, _reach(until, found)))
    return found


@lru_cache(maxsize=300)
def _reach(state: State, before: Reaches) -> Reach:
    """How far the line reaches that the last answers are about: as far as most is read by it."""
    line = state.answers[-1].line
    own = [answer for answer in state.answers if answer.is_of_line and answer.line == line]
    old = replace(state, answers=tuple(a for a in state.answers if a not in own))
    kept = _taught(old, before).settings.stated
    told = {answer.path for answer in own}  # and what the line itself was taken for
    told |= {p for p, stated in kept.items() if stated.place and stated.place.line == line}
    signs = {pattern_of(path) for path in told} & SIGNS.keys()
    told |= {p for p in kept if _SPARE.match(p)}  # nobody named it
    told |= {p for p in kept if pattern_of(p) in signs} - {answer.path for answer in old.answers}
    far = [] if _hangs_on_more(state, line) else [Reach.INFERRED, Reach.FOREMOST]
    best: tuple[int, Reach] = 0, Reach.REFUSED
    for reach in (Reach.ALONE,) if _has_no_order(own) else (*far, Reach.LIKE, Reach.ALONE):
        now = _taught(state, (*before, (line, reach))).settings
        held = {p: now.stated.get(_called(now, p, ()) or p) for p in kept.keys() - told}
        if all(one is not None and one.value == kept[p].value for p, one in held.items()):
            best = max(best, (len(now), reach), key=lambda one: one[0])
            if reach is not Reach.INFERRED:
                break
    return best[1]


def _has_no_order(answers: Sequence[Answer]) -> bool:
    """Whether an element's row and column are one number, which tells not which comes first."""
    places = {answer.path: answer.value for answer in answers if "overlay.elements." in answer.path}
    ends = [value for path, value in places.items() if path.endswith((".row", ".column"))]
    return len(ends) > 1 and len(set(ends)) == 1


def _hangs_on_more(state: State, line: int) -> bool:
    """Whether a line says something besides what was told, by which others of its sort differ.

    What it is told may then be no value of theirs at all: `lost 3 2 1500`, `lost 4 1 1500`.
    """
    reading = _reading(state.names, state.texts)
    own = _said_by_line([a for a in state.answers if a.is_of_line]).get(line, [])
    told = columns_of(reading.roots[0], line, own, reading.columns.get(line, ()))
    unplaced = [declared(one.path) for one in own if one.path not in told]
    switches = sum(one is not None and isinstance(one.kind, Bool) for one in unplaced)
    allowed = switches > 1  # a number says them all
    for made in reading.proposals:
        here = {sample.place.column for sample in made.seen.samples if sample.place.line == line}
        texts = {sample.text for sample in made.seen.samples}
        more = here - set(told.values()) and 1 < len(texts) <= _CODES and not is_sure(made)
        if more and not all(map(is_corner, texts)):  # by which it says whose line it is
            if not allowed:
                return True
            allowed = False
    return False


_CODES = 4  # different words of one place, at most, that may say how another one is meant


@lru_cache(maxsize=8)
def _taught(state: State, reaches: Reaches) -> Taught:
    reading = _reading(state.names, state.texts)
    far = (Reach.INFERRED, Reach.FOREMOST)
    narrow = {line for line, reach in reaches if reach not in far}
    refused = {line for line, reach in reaches if reach is Reach.REFUSED}
    answers = [a for a in state.answers if not (a.is_of_line and a.line in refused)]
    proposals, unplaced = _told(reading, answers, narrow)
    values = _values_told(answers)
    draft = draft_of(reading, proposals, state.name, values, words=state.words)
    settings = read_settings(reading.documents[0], read_draft(draft))
    of_lines = _told_lines(reading, answers, settings, dict(reaches))
    if of_lines:
        draft = draft_of(reading, proposals, state.name, values, of_lines, state.words)
        settings = read_settings(reading.documents[0], read_draft(draft))
    found = audit(settings)
    waiting: Counter[str] = Counter()
    grave: set[str] = set()
    for entry in found.not_checked:
        patterns = {pattern for path in entry.lacks if (pattern := pattern_of(path))}
        waiting.update(patterns)
        grave |= patterns if entry.rule.level is Level.ERROR else set()
    every = found.checked + len(found.not_checked)
    why = {one.answer: one.why for one in unplaced}
    why |= {answer: _AT_A_COST for answer in state.answers if answer not in answers}
    left = [
        Unplaced(answer, said)
        for answer in dict.fromkeys(state.answers)
        if answer.value and (said := _idle(answer, settings, why.get(answer, "")))
    ]
    return Taught(draft, settings, found.checked, every, waiting, grave, tuple(left))


def _told_lines(
    reading: DumpSurvey,
    answers: Sequence[Answer],
    settings: Settings,
    reaches: Mapping[int, Reach],
) -> Mapping[int, ToldLine]:
    """What was told of lines, and whether they are read so by what is inferred of their like."""
    idle = {one.line for one in answers if one.value and _idle(one, settings, "")}
    whole = {one.line for one in answers if one.is_of_line}  # of those all was told that they say
    return {
        line: ToldLine(
            told if line in whole else _with_what_is_read(reading, line, told, settings),
            reaches.get(line, Reach.INFERRED),
            line in idle,
        )
        for line, told in _said_by_line(answers).items()
        if line in idle or line in reaches
    }


def _with_what_is_read(
    reading: DumpSurvey, line: int, told: Sequence[SaidOfLine], settings: Settings
) -> list[SaidOfLine]:
    """What a line was told to state, and what it is read as stating besides, in its order."""
    own = {one.path for one in told}
    at = columns_of(reading.roots[0], line, told, reading.columns.get(line, ()))
    read = sorted(
        (stated.place.column, SaidOfLine(path, found.kind.spell(stated.value)))
        for path, stated in settings.stated.items()
        if stated.place and stated.place.line == line and not stated.doubt and path not in own
        if (found := declared(path)) is not None and not found.kind.parts and stated.text
    )
    first = min(at.values(), default=0)
    before = [one for column, one in read if column < first]
    return [*before, *told, *(one for column, one in read if column > first)]


def _said_by_line(answers: Sequence[Answer]) -> dict[int, list[SaidOfLine]]:
    """What lines were told to state; nothing that can't be, and no secret: a dialect is shared."""
    lines: dict[int, list[SaidOfLine]] = {}
    for answer in answers:
        path, value = _stated(answer)
        if answer.line and value and not _is_secret(path) and not problem_of(path, value):
            lines.setdefault(answer.line, []).append(SaidOfLine(path, value))
    return lines


def _idle(answer: Answer, settings: Settings, why: str) -> str:
    """Why nothing came of an answer with a value; empty where it is read just so."""
    path = answer.path or answer.asked
    own, stated = declared(path), settings.stated.get(path)
    if own is None or _is_secret(path):
        return why
    if stated is None:
        return why or _NOT_AT_WORK
    try:
        same = own.kind.read(answer.value) == stated.value
    except BadValue as error:
        return str(error)
    if same or stated.place is None:
        return ""
    spell = own.kind.spell
    mine = spell(own.kind.read(answer.value))
    return f"line {stated.place.line} is read as {spell(stated.value)}, your answer is {mine}"


def _values_told(answers: Sequence[Answer]) -> dict[str, Value]:
    """The lists that answers state, whole, and what lines were told to state."""
    found: dict[str, Value] = {}
    for answer in answers:
        path, value = _stated(answer)
        own = declared(path)
        if own is not None and (own.kind.parts or answer.line) and not problem_of(path, value):
            found[path] = own.kind.read(value)
    return found


def _stated(answer: Answer) -> tuple[str, str]:
    return answer.path or answer.asked, answer.value


def _told(
    reading: DumpSurvey, answers: Sequence[Answer], narrow: Collection[int]
) -> tuple[list[Proposal], Sequence[Unplaced]]:
    proposals = copied(reading.proposals)
    left: list[Unplaced] = []
    columns = {
        line: columns_of(reading.roots[0], line, told, reading.columns.get(line, ()))
        for line, told in _said_by_line(answers).items()
    }
    arms: dict[str, str] = {}
    for answer in answers:
        arms |= arm_told(proposals, answer.path, answer.line) if answer.is_of_line else {}
    if len(arms) >= _MOST_ARMS:
        numbers = {str(n + ("0" not in arms)) for n in range(4)}
        left_over = zip(numbers - arms.keys(), set(ARMS[:4]) - set(arms.values()), strict=False)
        name_arms(proposals, arms | dict(left_over) if arms.keys() < numbers else arms)
        settle(proposals)
    for answer in answers:
        if not answer.value:
            continue
        path = answer.path or answer.asked
        if _is_secret(path):
            continue  # a dialect is passed on, and may not hold it
        _rename(proposals, answer)
        if answer.line in narrow and answer.is_of_line:
            continue
        try:
            where = columns.get(answer.line, {}) if answer.line else None
            where = where if where or answer.is_of_line else None
            became = tell(proposals, path, answer.value, answer.line, where)
        except BadValue as error:
            left.append(Unplaced(answer, str(error)))
            continue
        if became.why:
            left.append(Unplaced(answer, became.why))
    return proposals, left


def _rename(proposals: Sequence[Proposal], answer: Answer) -> None:
    """Call a pad or a port as the answer calls it, and its like: s3, no uart3; s4, no uart4."""
    group, name = _name_in(answer.path)
    if answer.asked and answer.path not in ("", answer.asked):
        renamed(proposals, *_name_in(answer.asked), name)
    if answer.asked or not group:
        return
    for made in proposals:
        for sample in made.seen.samples if made.chosen and is_sure(made) else ():
            own, theirs = _name_in(made.chosen.path(sample) if made.chosen else "")
            if sample.place.line == answer.line and own == group and theirs != name:
                renamed(proposals, group, theirs, name)
                return


def _name_in(path: str) -> tuple[str, str]:
    """The group of a setting whose things have names of the builder's own, and the name."""
    found = _NAMED.match(path)
    return (found[1], found[2]) if found else ("", "")


_NAMED = re.compile(r"(pads|ports|receiver\.map)\.([^.]+)")
_SPARE = re.compile(r"receiver\.map\.spare\d+")  # a control that the dump calls nothing we know


def _is_secret(path: str) -> bool:
    found = declared(path)
    return found is not None and found.traits.secret


def said_of_line(asked: LineQuestion, reply: str) -> list[Answer]:
    """The answers that a reply makes: `PATH = VALUE`, several parted by `;`. Raises BadValue.

    A number stands for the setting of that place among the guesses; a path that begins with a dot
    goes on where the one before left off: `motors.front_left.mix.roll = 1; .yaw = -1`.
    """
    found: list[Answer] = []
    for said in filter(None, map(str.strip, reply.split(";"))):
        name, sign, value = (part.strip() for part in said.partition("="))
        guess = int(name) if re.fullmatch(r"[1-9]", name) else 0
        path = asked.guesses[guess - 1] if 0 < guess <= len(asked.guesses) else name
        if path.startswith(".") and found:
            path = beside(found[-1].path, path)
        path = named_small(path)
        own = declared(path)
        if own is None:
            raise BadValue(f"{name} is no setting of the vocabulary; {_meant_perhaps(name)}")
        if not sign:
            raise BadValue(f"a value is expected, as in {path} = VALUE ({own.kind.says})")
        value, insists = meant(value)
        value = in_our_words(path, value)
        fault = problem_of(path, value)
        if not fault and not insists:
            fault = contradiction(asked.line.text, path, value)
        if fault:
            raise BadValue(f"{path}: {fault}")
        found.append(Answer("", value, path, asked.line.number, mark_of(asked.line.text)))
    if not found:
        raise BadValue("PATH = VALUE is expected, for each value of the line")
    return found


def beside(path: str, below: str) -> str:
    """The setting whose path ends so, of what another one is of: `.spin`, `.mix.roll`."""
    above = path
    while "." in above:
        above = above.rpartition(".")[0]
        if declared(above + below) is not None:
            return above + below
    return path.rpartition(".")[0] + below


def _meant_perhaps(name: str) -> str:
    """The settings that a name which is none may mean: by its letters, its words, its last word."""
    alike = nearest(name) if "." in name else ()
    about = [*settings_about(name), *alike, *settings_about(name.rpartition(".")[2])]
    near = ", ".join([*dict.fromkeys(about)][:_SHOWN])
    return f"perhaps: {near}" if near else "`cfgaudit explain` lists them"


def read_otherwise(state: State, path: str, value: str, line: int = 0) -> str:
    """That the line says, or is read as, another value than is told; empty where it does not."""
    lines = state.texts[0].lines
    own, stated = declared(path), taught(state).settings.stated.get(path)
    place = stated.place if stated else None
    if own is None or stated is None or place is None or line not in (0, place.line):
        return _said_otherwise(lines, line, path, value)
    if own.kind.read(value) == stated.value:
        return _said_otherwise(lines, line, path, value)
    return (
        f"line {place.line} is read as {own.kind.spell(stated.value)} so far. Type what the craft "
        f"is set to now, not what it should be; if the line does say {value}, type {value} !"
    )


def _said_otherwise(lines: Sequence[str], line: int, path: str, value: str) -> str:
    if not line:
        return ""
    fault = contradiction(lines[line - 1], path, value)
    return fault or _numbered_otherwise(lines, line, path, value)


def _numbered_otherwise(lines: Sequence[str], line: int, path: str, value: str) -> str:
    """That a line begins with the number before or behind that of the port or motor it is told of.

    Nothing where a line is of number 0: there they are counted from 0.
    """
    numbers = [int(word) for word in re.findall(r"\.[a-z]*(\d+)(?=\.)", path)]
    found = re.search(r"(?<![\d.])\d+(?![\d.])", lines[line - 1])
    if len(numbers) != 1 or found is None or found[0] == value:
        return ""
    number, there = numbers[0], int(found[0])
    front = lines[line - 1][: found.start()]
    from_0 = any(re.match(rf"{re.escape(front)}0(?!\d)", other) for other in lines)
    if not front.strip() or abs(number - there) != 1 or (from_0 and number == there + 1):
        return ""
    return (
        f"the line says {there}, and {path} is of number {number}. If both mean the same one in "
        f"this firmware, type {value} !"
    )


def found_otherwise(state: State, answer: Answer) -> str:
    """That the line which an answer was found on says another value; or nothing."""
    path = answer.path or answer.asked
    stated = taught(answered(state, answer)).settings.stated.get(path)
    if stated is None or stated.place is None or answer.line:
        return ""
    number = stated.place.line
    fault = contradiction(state.texts[0].lines[number - 1], path, answer.value)
    return f"line {number} seems to be meant, and {fault}" if fault else ""


def checked(state: State, answer: Answer) -> Answer:
    """An answer about a setting, in our words.

    Raises BadValue where it can't be its value, or a line says another: unless it ends with `!`.
    """
    path = answer.path or answer.asked
    value, insists = meant(answer.value)
    answer = answer._replace(value=in_our_words(path, value))
    fault = problem_of(path, answer.value)
    if not fault and not insists:
        fault = read_otherwise(state, path, answer.value, answer.line)
        fault = fault or found_otherwise(state, answer)
    if fault:
        raise BadValue(fault)
    return answer


def checked_of_line(state: State, asked: LineQuestion, reply: str) -> list[Answer]:
    """The answers that a reply about a line makes. Raises BadValue as `checked` does."""
    answers = said_of_line(asked, reply)
    if "!" not in reply:
        faults = [read_otherwise(state, one.path, one.value, one.line) for one in answers]
        if fault := next(filter(None, faults), "") or turned_round(state, answers):
            raise BadValue(fault)
    return answers


def turned_round(state: State, answers: Sequence[Answer]) -> str:
    """That a line says a number with the other sign than told, and none did before; or nothing."""
    reading = _reading(state.names, state.texts)
    new = _said_by_line(answers)
    found = {
        line: turned_in(reading.roots[0], line, said, reading.columns.get(line, ()))
        for line, said in (_said_by_line([a for a in state.answers if a.is_of_line]) | new).items()
    }
    before = {pattern_of(path) for line, own in found.items() if line not in new for path in own}
    for line, said in new.items():
        for path, text in found[line].items():
            if pattern_of(path) not in before:
                value = next((one.value for one in said if one.path == path), "the value")
                return (
                    f"the line says {text}, and {path} is told to be {value}. If plus and minus "
                    f"are the other way round in this firmware, type {value} !"
                )
    return ""


def named_small(path: str) -> str:
    """A path in which no pad and no port is called by a capital, which would be an index.

    >>> named_small("ports.A.roles"), named_small("ports.UART1.roles")
    ('ports.a.roles', 'ports.UART1.roles')
    """
    return re.sub(r"^((?:ports|pads)\.)([A-Z])(?=\.)", lambda m: m[1] + m[2].lower(), path)


def mark_of(line: str) -> str:
    """By what a line is known again."""
    return f"{crc32(' '.join(line.split()).encode()):08x}"


def in_place(answer: Answer, lines: Sequence[str]) -> Answer | None:
    """An answer with the line that it is about where these lines have it; None: they have none."""
    if not answer.seen or mark_of("".join(lines[answer.line - 1 : answer.line])) == answer.seen:
        return answer
    found = [n for n, line in enumerate(lines, 1) if mark_of(line) == answer.seen]
    return answer._replace(line=found[0]) if len(found) == 1 else None


class _Chance(NamedTuple):
    """A setting that a question could be about."""

    path: str
    worth: float
    settings: int
    kin: tuple[str, ...] = ()


def question(state: State) -> Question | LineQuestion | None:
    """The question that opens the most; None where nothing is left to ask."""
    made = taught(state)
    one, worth = _question_of_setting(state, made)
    other, its_worth = _question_of_line(state, made)
    return other if its_worth > worth else one


def question_of_setting(state: State) -> Question | None:
    """The question about a setting that opens the most; None where no setting is left to ask."""
    return _question_of_setting(state, taught(state))[0]


def _question_of_setting(state: State, made: Taught) -> tuple[Question | None, float]:
    """The question about a setting that opens the most, and what it is worth."""
    asked = {path for answer in state.answers for path in (answer.asked, answer.path)}
    left = [answer for answer in state.answers if not answer.value and not answer.is_of_line]
    unknown = Counter(pattern_of(answer.asked) for answer in left)
    vain = Counter(pattern_of(one.answer.asked) for one in made.unplaced)
    foreign = Counter(answer.asked.split(".")[0] for answer in left)
    foreign_lines = {a.line for a in state.answers if a.is_of_line and not a.value}
    chances = _chances(made, asked)
    chances += _wanted(made, asked | {chance.path for chance in chances})
    ranked: list[tuple[float, _Chance]] = []
    for chance in chances:
        pattern = pattern_of(chance.path)
        rules = made.waiting.get(pattern, 0)
        worth = (
            knowable(chance.path) * _UNKNOWN ** unknown[pattern] * (chance.worth + _OF_RULE * rules)
        )
        worth += _GRAVE * knowable(chance.path) * (pattern in made.grave)
        worth *= _PLACED * 0.8 ** foreign[chance.path.split(".")[0]] * _IN_VAIN ** vain[pattern]
        ranked.append((worth, chance))
    ranked.sort(key=lambda one: -one[0])
    best: tuple[float, _Chance, list[CandidateLine]] | None = None
    for worth, chance in ranked:
        if best is not None and best[0] >= worth:
            break
        lines = _lines(state, made, chance.path)
        if not lines and not may_be_found(made.draft.proposals, chance.path):
            continue
        placed = lines and may_be_placed(made.draft.proposals, chance.path)
        own = worth if placed else worth * _LINELESS
        if lines and foreign_lines.issuperset(line.number for line in lines):
            own *= _UNKNOWN  # he was shown each of them, and did not know what it says
        if best is None or own > best[0]:
            best = own, chance, lines
    if best is None:
        return None, 0.0
    worth, chance, lines = best
    found = declared(chance.path)
    assert found is not None  # such are no chances
    asked_for = Question(
        chance.path,
        found.traits.says,
        found.kind.says,
        tuple(lines),
        chance.settings,
        made.waiting.get(pattern_of(chance.path), 0),
        chance.kin,
    )
    return asked_for, worth


class _LineSort(NamedTuple):
    """Lines of the first dump that are alike but for names and numbers."""

    lines: Mapping[int, tuple[str, ...]]  # the number of each, and its values
    proposals: Sequence[Proposal]
    families: Sequence[Set[int]]  # lines that differ in numbers alone
    stem: str  # what their first word begins with, where a number is behind it: GLASS of GLASS7_ROW


def _sorts(state: State, made: Taught) -> list[_LineSort]:
    """The lines that have values, by their sorts."""
    found: dict[tuple[tuple[str, ...], str], list[Mapped]] = {}
    lines = state.texts[0].lines
    for one in made.draft.mapped:
        at = _values_of([one], state.names[0])
        if at:
            above = tuple(kin.line for kin in one.family.chain)
            found.setdefault((above, _skeleton(lines[min(at) - 1])), []).append(one)
    sorts = []
    for own in found.values():
        values = _values_of(own, state.names[0])
        families = [_values_of([one], state.names[0]).keys() for one in own]
        proposals = [proposal for one in own for proposal in one.proposals]
        sorts.append(_LineSort(values, proposals, families, _indexed(lines[min(values) - 1])[0]))
    return sorts


def _values_of(families: Sequence[Mapped], name: str) -> dict[int, tuple[str, ...]]:
    """The values of each line of some families in the dump of that name; of an empty list its text.

    Where it is the only dump: of several no family knows whose its lines are.
    """
    found: dict[int, list[tuple[int, str]]] = {}
    for made in (proposal for one in families for proposal in one.proposals):
        for sample in made.seen.samples:
            if sample.place.file == name:
                own = found.setdefault(sample.place.line, [])
                own.append((sample.place.column or 0, sample.text))
    others = any(s.place.file != name for one in families for s in _samples(one))
    for one in families if found and not others else ():
        found |= {line: [(0, _EMPTY)] for line in one.family.lines if line not in found}
    return {line: tuple(text for _, text in sorted(own)) for line, own in found.items()}


_EMPTY = "[]"


def _samples(one: Mapped) -> Iterator[Sample]:
    return (sample for made in one.proposals for sample in made.seen.samples)


def _skeleton(line: str) -> str:
    """What lines of a sort have alike; of one that has a single value its words stay."""
    first, *rest = line.split() or [""]
    cut = [re.sub(r"[+-]?\d+(?:\.\d+)?", "#", word) for word in rest]
    several = sum(word.count("#") for word in cut) > 1
    if several:  # a word may be a name, and a name before = or : is a label
        cut = [re.sub(r"\w+(?![\w:=])", "@", word) if "#" not in word else word for word in cut]
    return " ".join([re.sub(r"\d+(?:\.\d+)?", "#", first), *cut])


def _indexed(line: str) -> tuple[str, str]:
    """What a line's first word begins with, and the number behind it; nothing of other lines."""
    found = re.match(r"\s*([A-Za-z_]+?)_?(\d+)[A-Za-z_]", line)
    return (found[1], found[2]) if found else ("", "")


class _AskedLines(NamedTuple):
    """What was asked of lines so far, and which are not read."""

    told: Counter[int]  # how many settings each line was told to state
    idle: frozenset[int]  # lines of which the builder knew nothing
    vain: frozenset[int]
    unread: frozenset[int]
    torn: frozenset[int]  # of them, those of which a value is not known
    named: frozenset[int]  # lines that say by a name of a list what they are of
    half: Mapping[int, tuple[str, ...]]  # lines that are read in part, and the values that are not


def _asked_of_lines(state: State, made: Taught) -> _AskedLines:
    told = [a for a in state.answers if a.is_of_line and a.value]
    asked = {answer.line for answer in state.answers}
    raw = made.settings.raw.values()
    unread = {r.place.line for r in raw if r.place is not None and not r.known}
    torn = {t.place.line for t in made.settings.troubles if t.place is not None} - unread
    patterns = {a.line: (pattern_of(a.path) or "").split(".") for a in told}
    half: dict[int, tuple[str, ...]] = {}
    for one in made.draft.mapped:
        at_work = _values_of([one], state.names[0]).keys() - unread if one.active else set()
        if at_work and not at_work & asked:
            idle = replace(one, proposals=[p for p in one.proposals if not is_sure(p)])
            values = _values_of([idle], state.names[0])
            half |= {line: own for line, own in values.items() if line in at_work}
    return _AskedLines(
        Counter(answer.line for answer in told),
        frozenset(answer.line for answer in state.answers if answer.path == NOTHING_SAID),
        frozenset(one.answer.line for one in made.unplaced if one.answer.is_of_line),
        frozenset((unread | torn) - asked),
        frozenset(torn),
        frozenset(line for line, pattern in patterns.items() if {"NAME", "FUNCTION"} & {*pattern}),
        half,
    )


def _question_of_line(state: State, made: Taught) -> tuple[LineQuestion | None, float]:
    """The question about a line that opens the most, and what it is worth."""
    asked = _asked_of_lines(state, made)
    sorts = _sorts(state, made)
    lines = state.texts[0].lines
    best: tuple[float, int, _LineSort] | None = None
    for sort in sorts:
        left = _left_to_ask(sort, asked)
        if not left:
            continue
        kin = [other for other in sorts if sort.stem and other.stem == sort.stem]
        known, vainly = asked.told.keys() & sort.lines.keys(), asked.idle & sort.lines.keys()
        names = Counter(  # of which lines of a sort that was told are not read, by their numbers
            _indexed(lines[line - 1])[1]
            for other in kin
            if asked.told.keys() & other.lines.keys()
            for line in other.lines.keys() & asked.unread
        )
        if known:
            line, gain = _next_line(
                sort, left, asked, [names[_indexed(lines[n - 1])[1]] for n in left]
            )
            likely, rules = _STATES_ITS_LIKE * _share(len(known), len(vainly)), 0.0
        else:
            old = {
                _indexed(lines[n - 1])[1] for other in kin for n in other.lines if n in asked.told
            }
            of_old = [n for n in left if _indexed(lines[n - 1])[1] in old]
            line, gain = _first_line({n: left[n] for n in of_old} or left, left)
            half = left.keys() <= asked.half.keys()
            proposals = [p for p in sort.proposals if not (half and is_sure(p))]
            likely, rules = _states_some(proposals, left), _rules_waiting(made, proposals)
            likely *= _share(
                sum(bool(asked.told.keys() & other.lines.keys()) for other in kin),
                sum(bool(asked.idle & other.lines.keys()) for other in kin) + len(vainly),
            )
        worth = _READABLE * likely * (gain + _OF_RULE * rules)
        worth *= _IN_VAIN ** sum(len(asked.vain & other.lines.keys()) for other in kin or [sort])
        worth += _GRAVE * likely * bool(made.grave & set(_likely(sort.proposals)))
        if best is None or worth > best[0]:
            best = worth, line, sort
    if best is None:
        return None, 0.0
    worth, number, sort = best
    guesses = tuple(_guesses(sort.proposals, number))
    like = sum(map(len, _left_to_ask(sort, asked).values()))
    waiting = _waiting_for(made, sort.proposals)
    above = heads_above(_reading(state.names, state.texts).roots[0], number) or ()
    asked_for = CandidateLine(number, lines[number - 1].strip())
    return LineQuestion(asked_for, guesses, like, waiting, above), worth


def _left_to_ask(sort: _LineSort, asked: _AskedLines) -> dict[int, tuple[str, ...]]:
    """The lines of a sort that may be asked about, each with its values that are not read.

    None is like one that states nothing.
    """
    empty = {sort.lines[line] for line in asked.idle & sort.lines.keys()}
    return {
        line: own if line in asked.unread else asked.half[line]
        for family in sort.families
        if asked.told.keys() & family or not asked.idle & family
        for line, own in sort.lines.items()
        if line in family and (line in asked.unread or line in asked.half) and own not in empty
    }


def _share(known: int, vainly: int) -> float:
    """How likely something is stated where so many lines stated something, and nothing."""
    return (known + 0.5) / (known + vainly + 0.5)


def _states_some(proposals: Sequence[Proposal], left: Mapping[int, tuple[str, ...]]) -> float:
    """How likely lines of which nobody told state settings."""
    points = max((c.points for p in proposals for c in p.candidates), default=0.0)
    if len(left) == 1:
        likely = next(share for least, share in _OF_VOCABULARY if points >= least)
        return max(likely, _OF_VALUES) if len(*left.values()) > 1 else likely
    likely = next(share for least, share in _OF_SEVERAL if points >= least)
    likely *= next(times for least, times in _BY_LINES if len(left) >= least)
    values = set(left.values())
    alike = len(left) > 2 and len(values) == 1
    return min(0.97, likely) * (_ALIKE if alike or all(map(_is_bare, values)) else 1.0)


def _is_bare(values: Sequence[str]) -> bool:
    """Whether there is nothing but noughts."""
    return not any(text.strip("0.") for text in values)


def _first_line(
    few: Mapping[int, tuple[str, ...]], left: Mapping[int, tuple[str, ...]]
) -> tuple[int, float]:
    """Of few lines of a sort that is most like the others, and the settings it likely opens."""
    common = Counter(text for own in left.values() for text in own if not _is_bare([text]))
    line = max(few, key=lambda n: (sum(1 + common[text] for text in few[n]), -n))
    if len(left) == 1:
        return line, min(_OF_ONE_LINE, len(left[line]))
    rest = sum(map(len, left.values())) - len(left[line])
    return line, len(left[line]) + _OF_ITS_LIKE * min(_MOST_OF_LIKE, rest)


def _next_line(
    sort: _LineSort, left: Mapping[int, tuple[str, ...]], asked: _AskedLines, names: Sequence[int]
) -> tuple[int, float]:
    """The next line of a sort of which one was told, and how many settings it likely opens.

    As many as that one; where it says by a name what it is of, so do others of that name (`names`
    of each line that is left); where it has a number, so do those that have the same values.
    """
    same = Counter(left.values())
    told = asked.told.keys() & sort.lines.keys()
    carried = bool(sort.lines.keys() - told - asked.unread - asked.idle)
    worth = {
        line: _fullness(left[line], carried=carried)
        * (max(1, like) if told & asked.named else 1 if _is_bare(left[line]) else same[left[line]])
        for line, like in zip(left, names, strict=True)
    }
    most = max(asked.told[line] for line in told)
    worth = {line: own * (1 if line in asked.torn else most) for line, own in worth.items()}
    line = max(left, key=lambda line: (worth[line], -line))
    return line, worth[line]


def _fullness(values: Sequence[str], *, carried: bool) -> float:
    """How likely a line is no free place: it has more than noughts."""
    if carried and _is_bare(values):
        return _FREE
    noughts = sum(map(_is_bare, values))
    return _ALIKE if len(values) > 1 and 2 * noughts > len(values) else 1.0


def _rules_waiting(made: Taught, proposals: Sequence[Proposal]) -> float:
    """How many rules wait for what a field likely is, as sure as that is."""
    found = []
    for proposal in proposals:
        for candidate in proposal.candidates[:1] if proposal.candidates else ():
            path = pattern_of(plain_path(candidate.goal.target)) or candidate.goal.target
            if candidate.alike > 0:
                found.append(proposal.sure * made.waiting.get(path, 0))
    return max(found, default=0.0)


def _waiting_for(made: Taught, proposals: Sequence[Proposal]) -> int:
    """How many rules wait for what some fields likely are."""
    return max((made.waiting.get(path, 0) for path in _likely(proposals)), default=0)


def _likely(proposals: Sequence[Proposal]) -> list[str]:
    """The settings that some fields likely are, of many alike the one that stands for all."""
    firsts = [c for proposal in proposals for c in proposal.candidates[:1] if c.alike > 0]
    return [pattern_of(plain_path(c.goal.target)) or c.goal.target for c in firsts]


def _guesses(proposals: Sequence[Proposal], number: int) -> Iterator[str]:
    """What the values of a line may be: the likeliest of each in their order, then others."""
    found: dict[str, tuple[int, int, float]] = {}
    for proposal in proposals:
        for sample in proposal.seen.samples:
            own = [c for c in proposal.candidates if c.alike > 0][:_GUESSED]
            for place, candidate in enumerate(own if sample.place.line == number else ()):
                path = plain_path(candidate.path(sample))
                path = path if declared(path) is not None else path.rpartition(".")[0]
                if declared(path) and not _is_secret(path) and not _NO_ARM.search(path):
                    rank = (place, sample.place.column or 0, -candidate.points)
                    found[path] = min(found.get(path, rank), rank)
    yield from sorted(found, key=lambda path: found[path])[:_SHOWN]


_NO_ARM = re.compile(r"\barm_\d+\b")  # a motor of which it is not known where it stands


def _chances(made: Taught, asked: set[str]) -> list[_Chance]:
    """The settings that fields may be which are not at work yet."""
    active = {id(p) for one in made.draft.mapped if one.active for p in one.proposals if is_sure(p)}
    found: dict[str, _Chance] = {}
    for proposal in made.draft.proposals:
        if id(proposal) in active and not _unknown_texts(proposal):
            continue
        chosen = proposal.chosen or next(iter(proposal.candidates), None)
        if chosen is None or chosen.points < _FAIR:
            continue
        askable = {
            path: gain
            for path, gain in _askable(proposal, chosen)
            if path not in asked and path not in made.settings
            if declared(path) is not None and not _is_secret(path)
            if not _NO_ARM.search(path)
        }
        for path, gain in askable.items():
            sureness = 0.4 + 0.6 * (proposal.sure if proposal.chosen else 0.2)
            before = found.get(path, _Chance(path, 0.0, 0))
            kin = dict.fromkeys((*before.kin, *(other for other in askable if other != path)))
            worth = gain * sureness + before.worth
            found[path] = _Chance(path, worth, gain + before.settings, tuple(kin))
    return list(found.values())


def _unknown_texts(proposal: Proposal) -> set[str]:
    """The texts of a field whose words were told in part, that no word is known for."""
    chosen = proposal.chosen
    if chosen is None or chosen.fit.spec != "words" or not proposal.told:
        return set()
    known = {theirs for theirs, _ in chosen.fit.words}
    return {s.text for s in proposal.seen.samples if s.text.strip('"') not in known}


def _askable(proposal: Proposal, chosen: Candidate) -> list[tuple[str, int]]:
    """Settings that tell what a field is, each with how many settings that opens."""
    unknown = _unknown_texts(proposal)
    words = dict(chosen.fit.words)
    found: dict[str, int] = {}
    texts: Counter[str] = Counter(s.text for s in proposal.seen.samples)
    for sample in proposal.seen.samples:
        if unknown and sample.text not in unknown:
            continue
        if not unknown and chosen.fit.lacks.startswith("words") and sample.text in words:
            continue
        path = plain_path(chosen.path(sample))
        if declared(path) is None:
            path = path.rpartition(".")[0]
        coded = bool(unknown) or "stand for words" in chosen.fit.lacks
        gain = texts[sample.text] if coded else len(proposal.seen.samples)
        found.setdefault(path, gain)
    return list(found.items())


def _wanted(made: Taught, passed: set[str]) -> list[_Chance]:
    """Settings that rules lack and no field seems to be."""
    found = []
    for pattern in made.waiting:
        own = declared(pattern)
        known = pattern in passed or pattern in made.settings
        if own is not None and not re.search(r"[A-Z]", pattern) and not known:
            found.append(_Chance(pattern, 0.3, 1))
    if not {_ARM, "arming.by"} & set(made.settings) and _ARM not in passed:
        found.append(_Chance(_ARM, 10.0, 1))  # nothing tells more of a craft
    return found


def _lines(state: State, made: Taught, path: str) -> list[CandidateLine]:
    """The lines that may say a setting, the likeliest first; none of which all was told."""
    ranked: list[tuple[float, int]] = []
    first = state.names[0]
    told = {answer.line for answer in state.answers if answer.is_of_line and answer.path}
    for proposal in made.draft.proposals:
        for candidate in proposal.candidates[:6]:
            for sample in proposal.seen.samples if candidate.alike > 0 else ():
                plain = plain_path(candidate.path(sample))
                own = path in (plain, plain.rpartition(".")[0])
                own = own or (plain.startswith("switches..") and path.startswith("switches."))
                own = own and sample.place.file == first and sample.place.line not in told
                if own and not is_another(proposal, plain):
                    ranked.append((-candidate.points, sample.place.line))
    numbers = list(dict.fromkeys(line for _, line in sorted(ranked)))[:_SHOWN]
    return [CandidateLine(number, state.texts[0].lines[number - 1].strip()) for number in numbers]


def answer_from(known: Settings, asked: Question, read: Collection[str] = ()) -> Answer:
    """The answer of a builder who knows these settings and no line; if need be, of its kin.

    `read` are the settings that are read so far: what they call pads and ports is no other's name.
    """
    for own in (asked.path, *asked.kin):
        path = own if own in known else _called(known, own, read)
        if path is not None:
            found = declared(path)
            assert found is not None  # it was read by the vocabulary
            return Answer(own, found.kind.spell(known[path].value), path)
    return Answer(asked.path)


def _called(known: Settings, path: str, read: Collection[str]) -> str | None:
    """The same setting under the builder's own name for a pad or a port: p1 for 01."""
    group, _, below = path.partition(".")  # a setting may stand in no group: switches_join
    name, *rest = below.split(".")
    own = _numbered(name) if group in ("pads", "ports") else None
    if own is None:
        return None
    his = {p: cut for p in known if (cut := _numbered_in(p, group, rest))}
    mine = {cut[0] for p in (path, *read) if (cut := _numbered_in(p, group, rest))}
    both = mine & {letters for letters, _ in his.values()}  # d1 is no e1 where there is a d
    same = (p for p, cut in his.items() if cut == own)
    other = (
        p
        for p, (letters, number) in his.items()
        if number == own[1] and not {letters, own[0]} & both
    )
    return next(same, None) or next(other, None)


def _numbered_in(path: str, group: str, rest: Sequence[str]) -> tuple[str, int] | None:
    """The letters and the number by which a pad or a port is called, of such a setting of it."""
    own, *below = path.split(".")
    return _numbered(below[0]) if own == group and below[1:] == list(rest) else None


def _numbered(name: str) -> tuple[str, int] | None:
    cut = _NAMED_BY_NUMBER.fullmatch(name)
    return (cut[1].casefold(), int(cut[2])) if cut else None


_NAMED_BY_NUMBER = re.compile(r"(\D*)0*(\d+)")


LineTeller = Callable[[int], Sequence[Answer]]  # what the line of that number states


def taught_from(
    state: State, known: Settings, most: int, reader: LineTeller | None = None
) -> State:
    """The state after so many questions, answered from what a builder knows.

    Without a `reader` who can say what a line states no question is about one.
    """
    for _ in range(most):
        asked = question(state) if reader else question_of_setting(state)
        if asked is None:
            break
        if isinstance(asked, LineQuestion):
            assert reader is not None  # else it would not be asked
            number = asked.line.number
            for answer in reader(number) or [Answer("", path=NOTHING_SAID, line=number)]:
                state = answered(state, answer)
            continue
        read = taught(state).settings.stated
        state = answered(state, answer_from(known, asked, read))
    return state


def with_all(state: State, known: Settings) -> State:
    """The state with every setting that a builder knows and no question was about, too."""
    asked = {path for answer in state.answers for path in (answer.asked, answer.path)}
    read = taught(state).settings.stated
    called = {_called(known, path, read): path for path in read if path not in known}
    rest = [path for path in known if path not in asked]
    told = [(path, declared(path), known[path].value) for path in rest]
    answers = [
        Answer(called.get(path, path), one.kind.spell(value), path)
        for path, one, value in told
        if one
    ]
    return replace(state, answers=(*state.answers, *answers))
