"""What to type for each cause: the dump's own lines as they stand, and as they would clear it."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from difflib import SequenceMatcher
from types import MappingProxyType
from typing import Final, NamedTuple

from cfgaudit.audit.causes import Cause, Turn
from cfgaudit.audit.engine import FindingKey, is_secret, of_another
from cfgaudit.audit.guesses import FLOWN, Ground, gives_up
from cfgaudit.dialects.editor import Dumps, edit_dumps
from cfgaudit.dialects.lines import own_names
from cfgaudit.dialects.opening import Opened, joined
from cfgaudit.dialects.plain import value_shown
from cfgaudit.reading.text import Place
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.kinds import BadValue, Value
from cfgaudit.vocabulary.paths import declared

_MOST_LINES = 2  # quoted of one cause, those at fault among them
_MOST_TYPED = 8  # causes whose lines are worked out; a craft with more has other worries

# Of motors and sticks: that one agrees with others does not make it true.
_TO_SEE = re.compile(r"motors\..*\.spin|esc\..*\.direction|receiver\.map\..*")


NO_NAMES: Final[Mapping[str, str]] = MappingProxyType({})


class QuotedLine(NamedTuple):
    """A line of a dump, and what it states: `text` is the file's own, `entry` what it means.

    `also` is what else the port or pad that it is about is called.
    """

    place: Place
    text: str
    path: str
    entry: Stated
    also: str = ""


class Put(NamedTuple):
    """A line to put: its number in the file (0 for one that is new there), and its text."""

    line: int
    text: str


class ToldCause(NamedTuple):
    """A cause with its lines: those at fault, others that tell, those to put in their place.

    `sure` says that a rule's own mend, tried out, is the change; `refused` why no line can be told.
    `ends` are the line with the least and with the greatest value that clears it; none where the
    dump's own steps have no such values. `own` holds what its findings advise in our words, a
    setting with a value, or a port's or pad's name, with the same in the dump's.
    """

    cause: Cause
    at_fault: tuple[QuotedLine, ...]
    beside: tuple[QuotedLine, ...]
    put: tuple[Put, ...]
    sure: bool
    refused: str
    ends: tuple[str, ...] = ()
    own: Mapping[str, str] = NO_NAMES


def told(
    causes: Iterable[Cause],
    dumps: Dumps,
    settings: Settings,
    sure: Collection[FindingKey],
    names: Mapping[str, str] = NO_NAMES,
) -> tuple[ToldCause, ...]:
    """The causes with their lines, in order; `sure` are the findings that have a sure mend.

    `names` are what else a port or pad is called.
    """
    lines = {dump.document.name: _lines(dump) for dump in dumps}
    made: list[ToldCause] = []
    every = list(causes)
    own_words = _own_words(dumps)
    held_back = ["" if _is_mend(c, sure) else kept_back(c, settings) for c in every]
    typed_ones = every[:_MOST_TYPED]
    for number, cause in enumerate(every):
        at_fault = tuple(_quoted(cause.paths, settings, lines, names))
        findings = (cause.speaker, *cause.findings)
        others = [path for finding in findings for path in finding.paths]
        fresh = [path for path in dict.fromkeys(others) if path not in cause.paths]
        room = max(0, _MOST_LINES - len(at_fault))
        beside = tuple(_new_lines_first(_quoted(fresh, settings, lines, names), at_fault))[:room]
        met = [c for c in typed_ones if c is not cause and _on_one_line(c, cause)]
        held = held_back[number]
        if not held:  # its line would be told with another value in it that is not to be flown
            untold = [c for c, why in zip(every, held_back, strict=True) if why and c in met]
            held = next((f"its line has {c.paths[0]} in it, which comes first" for c in untold), "")
        told_so = number < _MOST_TYPED and not held
        put, refused = _put(cause, dumps, met) if told_so else ((), held)
        is_sure = all(_is_mend(one, sure) for one in (cause, *met))
        ends = _ends(cause, dumps) if len(put) == 1 and not met else ()
        lines_of = _own_lines(cause, dumps, settings) if number < _MOST_TYPED else {}
        own = {**own_words, **lines_of}
        made.append(ToldCause(cause, at_fault, beside, put, is_sure, refused, ends, own))
    return tuple(made)


def _own_words(dumps: Dumps) -> dict[str, str]:
    """The dumps' own words for ports and pads, by our names; none that the dialects disagree on."""
    found: dict[str, set[str]] = {}
    for dialect in {dump.dialect.name: dump.dialect for dump in dumps}.values():
        for ours, own in own_names(dialect).items():
            found.setdefault(ours, set()).add(own)
    return {ours: next(iter(own)) for ours, own in found.items() if len(own) == 1}


_ADVISED: Final = re.compile(r"(?<![\w.])([a-z]\w*(?:\.\w+)+) = (\S*\w%?)( [A-Za-z%]+)?")


def _own_lines(cause: Cause, dumps: Dumps, settings: Settings) -> dict[str, str]:
    """What the findings of a cause advise as `path = value`, by the line that would say it.

    Of a line with other values on it just the word that changes. What no line states yet stays as
    it is, and so does the plain form, which says just that.
    """
    found: dict[str, str] = {}
    advised = (one.groups("") for f in cause.findings for one in _ADVISED.finditer(f.advice))
    for path, word, unit in dict.fromkeys(advised):
        known, entry = declared(path), settings.stated.get(path)
        if known is None or entry is None or entry.place is None or is_secret(path, entry):
            continue
        for text in filter(None, dict.fromkeys((f"{word}{unit}", word))):
            try:
                line = typed({path: known.kind.read(text)}, dumps).get(path, "")
            except BadValue:
                continue
            if line and line.partition("=")[0].strip() != path:
                found[f"{path} = {text}"] = _shortly(line, entry.place, dumps)
            break
    return found


def _shortly(line: str, place: Place, dumps: Dumps) -> str:
    """The one word that a line would have instead and where, or all of the line."""
    lines = next((_lines(dump) for dump in dumps if dump.document.name == place.file), ())
    now = lines[place.line - 1].split() if 0 < place.line <= len(lines) else []
    fresh = [new for old, new in zip(now, line.split(), strict=False) if old != new]
    tells = len(fresh) == 1 and len(now) == len(line.split()) and not fresh[0].isalnum()
    whole = line.replace("\t", "<tab>")
    return f"{fresh[0]} on line {place.line}" if tells else f"line {place.line}: {whole}"


def _new_lines_first(quoted: Sequence[QuotedLine], shown: Sequence[QuotedLine]) -> list[QuotedLine]:
    """The same, those first of which the line is not there yet: the other of two pads, say."""
    there = {(one.place.file, one.place.line) for one in shown}
    firsts = {(q.place.file, q.place.line): q for q in reversed(quoted)}
    fresh = [firsts[line] for line in dict.fromkeys((q.place.file, q.place.line) for q in quoted)]
    fresh = [one for one in fresh if (one.place.file, one.place.line) not in there]
    return [*fresh, *(one for one in quoted if one not in fresh)]


def _ends(cause: Cause, dumps: Dumps) -> tuple[str, ...]:
    """The line with either end of the stretch that clears a cause, as the dump would say it."""
    if cause.within is None:
        return ()
    ((path, _, back),) = cause.turns
    values = (int(end) if isinstance(back, int) else end for end in cause.within)
    lines = [line for value in values for line in typed({path: value}, dumps).values()]
    return tuple(lines) if len(lines) == 2 else ()


def _quoted(
    paths: Iterable[str],
    settings: Settings,
    lines: dict[str, tuple[str, ...]],
    names: Mapping[str, str] = NO_NAMES,
) -> list[QuotedLine]:
    """Each path with its line, in the order given; what no line of a dump states is left out."""
    found: list[QuotedLine] = []
    for path in paths:
        entry = settings.stated.get(path)
        place = entry.place if entry is not None else None
        if entry is None or place is None or place.file not in lines:
            continue
        own = lines[place.file]
        if 0 < place.line <= len(own):
            text = HIDDEN if is_secret(path, entry) else own[place.line - 1].strip()
            group, _, rest = path.partition(".")
            also = names.get(rest.partition(".")[0], "") if group in ("ports", "pads") else ""
            found.append(QuotedLine(place, text, path, entry, also))
    return found


def _on_one_line(one: Cause, other: Cause) -> bool:
    """Whether a line of a dump states a setting of each."""
    lines, others = (
        {(t.now.place.file, t.now.place.line) for t in c.turns if t.now and t.now.place}
        for c in (one, other)
    )
    return not lines.isdisjoint(others)


def _put(cause: Cause, dumps: Dumps, met: Sequence[Cause]) -> tuple[tuple[Put, ...], str]:
    """A cause's lines; one that it has in common with others is told with all their changes."""
    wanted = {turn.path: turn.back for turn in cause.turns if turn.back is not None}
    if len(wanted) < len(cause.turns):
        return (), "no line states it then"
    after, refused = edit_dumps(dumps, wanted)
    if refused:
        return (), next(iter(refused.values()))
    beside = {t.path: t.back for one in met for t in one.turns if t.back is not None}
    if not wanted.keys() >= beside.keys():
        whole, unwritten = edit_dumps(dumps, {**beside, **wanted})
        after = after if unwritten else whole
    return tuple(
        put
        for one, other in zip(dumps, after, strict=True)
        for put in _differing(_lines(one), _lines(other))
    ), ""


def kept_back(cause: Cause, settings: Settings) -> str:
    """Why a value that clears the findings is not told to be typed; empty where it is.

    That nothing is found any more makes no value one to fly with. What is measured on the craft,
    seen at the bench or flown while nobody steers is only told where a rule or the build sheet says
    it; what others of its kind have, where all of them have it.
    """
    only_clears = cause.ground is Ground.RECKONED and cause.speaker.advice
    if cause.ground is Ground.SLIP or only_clears:  # and the rule says what to set
        return "which value it wants is for its builder to say"
    if of_another(cause.findings):
        return "which craft it is comes first"
    if cause.ground <= Ground.SHEET:
        return ""
    why = next(filter(None, map(_wants_a_look, cause.turns)), "")
    if why:
        return why
    if cause.ground is Ground.SIBLING and not all(
        _all_have(t, cause, settings) for t in cause.turns
    ):
        return "others of its kind differ"
    return ""


def _wants_a_look(turn: Turn) -> str:
    """Why a value that nobody wrote down is not told; empty where it is."""
    path, now, value = turn
    known = declared(path)
    if path.startswith("pads.") and _MEASURES & {value, now.value if now is not None else None}:
        return "where the wire that measures the pack ends is looked for with the pack off"
    if value is not None and gives_up(value) and now is not None and not gives_up(now.value):
        return "whether it is wanted is for its builder to say"
    if _TO_SEE.fullmatch(path):
        return "what it moves, and which way, is to be looked at first"
    if path.startswith(FLOWN) and value != "hold":
        return "it is flown by that value while nobody steers"
    if path.endswith(_CHOSEN_FROM):
        return "it is one of those that the part has"
    if known is not None and known.traits.craft_own:
        return "it is to be measured, or looked up"
    return ""


# On a pad without a divider the pack's voltage breaks the board: no use is typed to fit a guess.
_MEASURES: Final = frozenset({"voltage_sense", "current_sense"})
_CHOSEN_FROM: Final = ("transmitter.power", "transmitter.standby_power")


def _all_have(turn: Turn, cause: Cause, settings: Settings) -> bool:
    """Whether the settings of its kind, those at fault left out, all have the value.

    Switches are no guide to each other and are never guessed so; of link loss only `hold` is left.
    """
    if turn.path.startswith(("switches.", *FLOWN)):
        return True
    known = declared(turn.path)
    others = [
        entry.value
        for path, entry in settings.stated.items()
        if path not in cause.paths
        and (other := declared(path)) is not None
        and known is not None
        and other.pattern == known.pattern
    ]
    return len(others) > 1 and all(value == turn.back for value in others)


def typed(values: Mapping[str, Value], dumps: Dumps) -> Mapping[str, str]:
    """The line that says each setting, all of them at once, in the dumps' own words.

    What no line can say is left out; one line may say several.
    """
    wanted = dict(values)
    after, refused = edit_dumps(dumps, wanted)
    if refused:
        wanted = {path: value for path, value in wanted.items() if path not in refused}
        after, _ = edit_dumps(dumps, wanted)
    lines = {dump.document.name: _lines(dump) for dump in after}
    said = _quoted(wanted, joined(after), lines)
    return {one.path: one.text for one in said if one.entry.value == wanted[one.path]}


def _lines(dump: Opened) -> tuple[str, ...]:
    return dump.document.text.lines


def _differing(before: Sequence[str], after: Sequence[str]) -> list[Put]:
    """The lines that an edit puts, each with the number of the line it stands in for."""
    found: list[Put] = []
    for tag, start, stop, first, last in SequenceMatcher(
        None, before, after, autojunk=False
    ).get_opcodes():
        if tag in ("replace", "insert"):
            found += [
                Put(start + offset + 1 if start + offset < stop else 0, after[at].strip())
                for offset, at in enumerate(range(first, last))
                if after[at].strip()  # a free line before a head is not typed in
            ]
    return found


def _is_mend(cause: Cause, sure: Collection[FindingKey]) -> bool:
    """Whether one of its findings has the change as its own sure mend."""
    if cause.ground is Ground.WAS:
        return False
    mends = {
        (edit.path, edit.value)
        for finding in cause.findings
        if finding.key in sure
        for edit in finding.mend
    }
    return all(
        turn.back is not None and (turn.path, value_shown(turn.path, turn.back)) in mends
        for turn in cause.turns
    )
