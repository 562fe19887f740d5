"""Causes on the screen and as data: the lines that are wrong, what they do, what to type."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from cfgaudit.audit.causes import Turn
from cfgaudit.audit.engine import Finding, is_secret, of_another
from cfgaudit.audit.guesses import Ground
from cfgaudit.dialects.plain import value_shown
from cfgaudit.reading.safe import safe
from cfgaudit.reports.data import place_json, value_json
from cfgaudit.reports.screen import LABEL, Piece, Screen, cells, wrapped
from cfgaudit.reports.wording import air_label, counted, counted_levels
from cfgaudit.rules.rule import Level, listed
from cfgaudit.settings import Origin
from cfgaudit.vocabulary.declare import HIDDEN

if TYPE_CHECKING:  # a craft without a fault has no causes
    from cfgaudit.work.causes import QuotedLine, ToldCause

_NUMBER: Final = 6  # places for a line's number
_WIDEST_QUOTE: Final = 34
_MOST_OTHERS: Final = 3  # rules of a cause that are told beside the gravest one
_NARROW: Final = 60  # below this width a line's meaning stands below it


def cause_lines(
    screen: Screen, told: "Sequence[ToldCause]", several: bool = False, first: int = 1
) -> None:
    """Each cause: its lines as they stand in the dump, what happens, what to do.

    With `several` files a line's number is told with the file that it is in. `first` is the number
    of the first cause.
    """
    for number, one in enumerate(told, first):
        screen.blank()
        _head(screen, number, one)
        _quotes(screen, one, several)
        speaker = one.cause.speaker
        screen.labelled(air_label(speaker.rule), [speaker.in_the_air], indent=3)
        typed = [text for _, text in one.put]
        typed += one.own.values()
        said = [in_its_words(text, one) for text in to_do(one)]
        screen.labelled("Do", said, indent=3, whole=typed)
        for text in _also(one):
            screen.paragraph(text, label="Also", hang=LABEL, indent=3, whole=one.own.values())


def _also(one: "ToldCause") -> list[str]:
    """What else is wrong, and what to do about it; that it is told already is not told again."""
    texts, told = [], {_advice(one.cause.speaker)}
    for finding in _left_over(one):
        advice = _advice(finding)
        texts.append(in_its_words(f"{finding.message} {'' if advice in told else advice}", one))
        told.add(advice)
    return texts


def in_its_words(text: str, one: "ToldCause") -> str:
    """A text with ports, pads and lines as the dump says them.

    A word without a letter is no name in a sentence: it is told beside ours, once.
    """
    for ours, own in one.own.items():
        if " = " in ours:
            text = text.replace(ours, own)
    names = {ours: own for ours, own in one.own.items() if " = " not in ours and ours in text}
    if not names:
        return text
    longest_first = map(re.escape, sorted(names, key=len, reverse=True))
    beside = set()

    def said(match: re.Match[str]) -> str:
        before, ours = match.groups()
        own = names[ours]
        if not (before or any(letter.isdigit() for letter in ours)):
            return ours  # may be a word like any other
        if any(letter.isalpha() for letter in own):
            return f"{before}{own}"
        first = ours not in beside
        beside.add(ours)
        return f"{before}{ours} ({own})" if first else match[0]

    found = rf"((?:[Pp]ort |[Pp]ad )?)(?<![\w.=])(?<!= )({'|'.join(longest_first)})(?!\w|\.\w)"
    return re.sub(found, said, text)


def _left_over(one: "ToldCause") -> Sequence[Finding]:
    """A finding of each other rule, where what is to be done is told of the gravest one alone."""
    if one.put or one.sure or one.cause.ground is Ground.WAS:
        return ()
    others = {f.rule.id: f for f in one.cause.findings if f.rule.id != one.cause.speaker.rule.id}
    return [*others.values()][:_MOST_OTHERS]


def _head(screen: Screen, number: int, one: "ToldCause") -> None:
    """The number, what is wrong, and how many findings say so."""
    counts, level = counted_levels(one.cause.findings), one.cause.level.value
    *above, last = wrapped(headline_of(one), screen.width - 3)
    leads = [f"{number:<3}", *("   " for _ in above)]
    for lead, part in zip(leads, above, strict=False):
        screen.line(Piece(lead, level), Piece(part, "strong"))
    room = screen.width - 3 - cells(last) - cells(counts)
    beside = (" " * room, Piece(counts, level)) if room > 1 else ()
    screen.line(Piece(leads[-1], level), Piece(last, "strong"), *beside)
    if room <= 1:
        screen.line("   ", Piece(counts, level))


def headline_of(one: "ToldCause") -> str:
    """What is wrong, as its gravest rule says it, in one sentence."""
    wrong = one.cause.speaker.rule.doc.wrong
    first, mark, _ = wrong.partition(". ")
    return first if mark else wrong.removesuffix(".")


def _quotes(screen: Screen, one: "ToldCause", several: bool) -> None:
    """The dump's own lines, what each means beside it; those at fault are marked."""
    rows = [*((q, ">") for q in one.at_fault), *((q, " ") for q in one.beside)]
    widest = max((cells(safe(q.text)) for q, _ in rows), default=0)
    width = min(widest, _WIDEST_QUOTE if screen.width >= _NARROW else screen.width - _NUMBER - 4)
    for quoted, mark in rows:
        where = f"{quoted.place.file}:{quoted.place.line}" if several else f"{quoted.place.line}"
        lead = f" {mark}{where:>{_NUMBER}}  "
        style = "strong" if mark == ">" else ""
        first, *more = wrapped(quoted.text, max(width, screen.width - cells(lead)), 2)
        means = meaning(quoted)
        room = screen.width - cells(lead) - width - 2
        short = not more and cells(first) <= width and cells(safe(means)) <= room
        if screen.width >= _NARROW and not several and short:
            gap = " " * (width - cells(first) + 2) if means else ""
            screen.line(Piece(lead), Piece(first, style), gap, Piece(means, "quiet"))
        else:  # below, whole: the word that a cut takes may be the one at fault
            screen.line(Piece(lead), Piece(first, style))
            for part in more:
                screen.line(" " * cells(lead), Piece(part, style))
            if means:
                screen.paragraph(means, indent=_NUMBER + 4)
    for turn in one.cause.turns:
        if turn.now is None:
            screen.paragraph(f"{turn.path} is not stated", indent=_NUMBER + 4)
        elif turn.now.origin is not Origin.DUMP:
            says = value_shown(turn.path, turn.now.value)
            screen.paragraph(f"{turn.path}  {says}, which no line says", indent=_NUMBER + 4)


def meaning(quoted: "QuotedLine") -> str:
    """What a quoted line states: the setting and its value; nothing of one that says just that."""
    if is_secret(quoted.path, quoted.entry):
        return f"{quoted.path}  {HIDDEN}"
    also = f"  ({quoted.also})" if quoted.also else ""
    if quoted.text.partition("=")[0].strip() == quoted.path:  # the plain form
        return also.strip()
    return f"{quoted.path}  {value_shown(quoted.path, quoted.entry.value)}{also}"


def to_do(one: "ToldCause") -> list[str]:
    """What to do, in the dump's own words where they are known."""
    cause = one.cause
    if of_another(cause.findings):  # no line renames a craft or a board
        return [next(f.advice for f in cause.findings if of_another([f]))]
    told = [(line, text.replace("\t", "<tab>")) for line, text in one.put]
    put = [f"{line}: {text}" if line else f"a new line: {text}" for line, text in told]
    typed = ("line " if one.put and one.put[0].line else "") + "; ".join(put)
    if cause.ground is Ground.WAS:
        return [_capital(f"{typed or _edits(cause.turns)}, as it was before.")]
    if one.sure:
        return [_capital(f"{typed or _edits(cause.turns)}  (mend)")]
    finding = cause.speaker
    learnt = any(turn.path.startswith(_LEARNT) for turn in cause.turns)
    if learnt and cause.ground > Ground.SHEET:
        could = _advice(finding)
    elif one.put and finding.choice:
        could = f"Look first: {finding.choice}. Else {typed}."
    elif one.put and finding.advice and len(cause.turns) == 1 and cause.ground in _WEAK:
        could = f"{finding.advice} Or, {_GROUNDS[cause.ground]}, {typed}."
    elif one.put:
        could = f"Look first; then, {_GROUNDS[cause.ground]}, {typed}."
    else:
        could = _advice(finding)
    if one.ends:  # of a value that is told, in the line's own numbers; else the advice stands
        low, high = (end.replace("\t", "<tab>") for end in one.ends)
        could += f" Anywhere from {low} to {high} clears it."
    if cause.rivals:
        others = [
            listed([turn.path for turn in rival])
            + (" alone" if rival[0].path in cause.paths else "")
            for rival in cause.rivals[:2]
        ]
        verb = "is" if len(cause.rivals[: len(others)][-1]) == 1 else "are"
        could += f" Or it is {', or '.join(others)} that {verb} wrong."
    return [could]


def _advice(finding: Finding) -> str:
    """What a finding says is to be done, else its rule."""
    text = finding.advice or finding.rule.doc.mend
    return text[:1].upper() + text[1:]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:] if text.startswith(("line ", "a new ")) else text


# What the controller learns from the transmitter: typed, it would say what nobody's stick does.
_LEARNT: Final = ("receiver.ends.", "receiver.low", "receiver.centre", "receiver.high")
_WEAK: Final = (Ground.FACTORY, Ground.SIBLING)  # what the rule itself advises goes before
_GROUNDS: Final = {
    Ground.WAS: "as it was",
    Ground.MEND: "as what is stated elsewhere has it",
    Ground.SHEET: "as the build sheet has it",
    Ground.RECKONED: "as it works out",
    Ground.SWAPPED: "if they were changed about",
    Ground.MIRRORED: "if it was turned round",
    Ground.FACTORY: "as the firmware comes",
    Ground.SIBLING: "as another of its kind has it",
}


def _edits(turns: Sequence[Turn]) -> str:
    return "; ".join(
        f"{turn.path} = {value_shown(turn.path, turn.back)}"
        if turn.back is not None
        else f"{turn.path} not stated"
        for turn in turns
    )


def first_verdict(findings: Sequence[Finding], told: "Sequence[ToldCause]") -> tuple[str, str]:
    """What stands above the causes: what to do, and how much was found.

    How many causes there are of the gravest is said where each of them belongs to one.
    """
    said = counted_levels(findings)
    gravest = [f for f in findings if f.level is findings[0].level]
    if told and all(any(one.cause.explains(f) for one in told) for f in gravest):
        first, mark, rest = said.partition(",")
        own = sum(any(one.cause.explains(f) for f in gravest) for one in told)
        said = f"{first} from {counted(own, 'cause')}{mark}{rest}"
    error = any(finding.level is Level.ERROR for finding in findings)
    return ("DO NOT FLY" if error else "LOOK FIRST"), said


def causes_json(told: "Sequence[ToldCause]") -> list[dict[str, Any]]:
    """The causes of one craft, in order of danger."""
    return [
        {
            "headline": headline_of(one),
            "level": one.cause.level.value,
            "ground": one.cause.ground.name.lower(),
            "sure": one.sure,
            "turns": [_turn_json(turn) for turn in one.cause.turns],
            "rivals": [[turn.path for turn in rival] for rival in one.cause.rivals],
            "within": list(one.cause.within) if one.cause.within is not None else None,
            "lines": [_quoted_json(q) for q in one.at_fault],
            "beside": [_quoted_json(q) for q in one.beside],
            "put": [{"line": line or None, "text": text} for line, text in one.put],
            "findings": [finding.fingerprint for finding in one.cause.findings],
        }
        for one in told
    ]


def _turn_json(turn: Turn) -> dict[str, Any]:
    return {
        "path": turn.path,
        "now": None if turn.now is None else value_json(turn.now.value),
        "back": None if turn.back is None else value_json(turn.back),
    }


def _quoted_json(quoted: "QuotedLine") -> dict[str, Any]:
    return {"path": quoted.path, "text": quoted.text, "place": place_json(quoted.place)}
