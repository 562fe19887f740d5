"""Takes sentences apart: a key, a colon, then words that name values, between commas.

`front left motor: pad M2, output 2, turns clockwise`, `arm: channel 5 from 1700 to 2100`.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise

from cfgaudit.reading.shapes import Assignment, Directive, Row, Span, named, words
from cfgaudit.teach.indices import HOLE
from cfgaudit.teach.labels import NOTHING, SAID
from cfgaudit.teach.measures import glued_pieces, part_of, same_dimension, unit_of
from cfgaudit.teach.scoped import Phrase, Scope, ScopedLine
from cfgaudit.teach.words import choices, is_choice, is_corner, is_word, pair_up, root, tokens
from cfgaudit.vocabulary.dump import CHECKS, ROLES

_KEYED = re.compile(
    r"(?P<key>[A-Za-z][\w .()/'&-]*:) {1,3}(?P<rest>[^\s\"(\[{=|;#][^\"()\[\]{}=|;#]*)"
)
_LED = re.compile(
    r"(?P<key>[A-Za-z][\w ()/'&-]* \.{2,}) (?P<rest>[^\s\"(\[{=|;#.][^\"()\[\]{}=|;#]*)"
)
_JOINERS = frozenset(
    {"at", "with", "from", "to", "on", "by", "of", "in", "for", "as", "via", "using", "through",
     "between", "and", "under", "over", "within"}
)  # fmt: skip
_ENDS = {"from": "low", "between": "low", "": "low", "to": "high", "and": "high"}
# Words behind a length that say which way it counts, and whether that is the other one.
_WAYS = {word: ("ahead", turned)
         for turned, own in ((False, "forward ahead"), (True, "back backward behind aft"))
         for word in own.split()}  # fmt: skip
_WAYS |= {"right": ("to the right", False), "left": ("to the right", True)}
_ROW = 3  # lines that make a row of things
_EITHER = 2  # ways that a clause says one thing or the other
_SHARE = 0.6  # of the lines of a sort that a word stands in which names a value
_Clause = tuple[Span, ...]


class _Sentence:
    """One line in the making: its key, and its clauses word by word."""

    def __init__(self, number: int, entry: ScopedLine, body: Span, found: re.Match[str]) -> None:
        self.number, self.entry, self.body = number, entry, body
        self.key = re.sub(r"\.{2,}$", "*", " ".join(found["key"].split()))  # however many dots
        self.rest = Span(found["rest"], body.start + found.start("rest"))
        self.clauses = tuple(_clauses(self.rest))
        self.usual: frozenset[str] = frozenset()  # words that name values in lines of its sort
        self.alone = True  # no other line is of its sort
        self.valued: set[int] = set()  # clauses that stand in its like too, and say other things
        self.whole: list[_Clause] = []  # those that are one value, whatever their words are
        self.row = False  # it is one of many things of a sort that numbers tell apart

    @property
    def key_sort(self) -> str:
        """The key but for its figures; a verb alone, whatever it says of which subject."""
        verb = next((verb for verb, front, _ in _verb_in(f"{self.key} .") if front == self.key), "")
        return f"# {verb}" if verb else re.sub(r"\d+", "#", self.key)

    @property
    def form(self) -> str:
        """Where its words and its figures stand."""
        return ",".join("".join("#" if _figure(w) else "w" for w in own) for own in self.clauses)

    def words(self) -> frozenset[str]:
        """The words behind its key that may name a value: those that have one behind them."""
        return frozenset(w.text for own in self.clauses for w in own[:-1] if not _figure(w))


_BLOCK = re.compile(
    r"(?P<mark>[-*+] )?(?P<key>\{[A-Za-z][\w -]*: )(?P<first>[^{}\[\],]+)(?P<rest>,.*\})"
)
_BLOCK_PIECE = re.compile(
    r"(?P<label>[A-Za-z][^{}\[\],:]*):|(?P<number>[+-]?\d+\.?\d*)(?: ?(?P<unit>[A-Za-z%]+))?"
    r"|(?P<word>[^\s{}\[\],/][^{}\[\],/]*)|(?P<sign>[,\[\]{}/])"
)
_ENDS_OF_TRAVEL = ("low", "centre", "high")


def cut_blocks(scope: Scope) -> None:
    """Mark the values of blocks in braces whose first value says what each is of.

    `- {do: arm, ch: 7, from: 1700, to: 2100}`, `- {do: level, ch: 5, from: 900, to: 1300}`.
    """
    sorts: dict[tuple[str, ...], list[tuple[int, re.Match[str], Span, tuple[Phrase, ...]]]] = {}
    for number, entry in enumerate(scope.entries):
        body = entry.shape.body if isinstance(entry.shape, Directive) else Span("", 0)
        found = _BLOCK.fullmatch(body.text) if entry.whole else None
        if found:
            rest = Span(found["rest"], body.start + found.start("rest"))
            phrases = tuple(_block_phrases(rest, scope.remark))
            labels = tuple(phrase.label for phrase in phrases)
            if len(set(labels)) == len(labels) > 0:
                sorts.setdefault(labels, []).append((number, found, rest, phrases))
    for labels, own in sorts.items():
        if len({found["first"] for _, found, _, _ in own}) < max(2, len(own)):
            continue
        for number, found, rest, phrases in own:
            scope.entries[number] = replace(
                scope.entries[number], head=(found["mark"] or "").strip(), whole="",
                index=(found["first"],), parts=tuple(phrase.span for phrase in phrases),
                phrases=phrases, skeleton=" ".join(labels), opening=f"{found['key']}{HOLE}",
                rest=rest,
            )  # fmt: skip


def _block_phrases(rest: Span, remark: str) -> Iterator[Phrase]:
    """The values of a block, each with the word before it; those of a list by their places.

    Of two numbers with a slash between a remark says what they are: `at row/column`.
    """
    label, made = "", list[Phrase]()
    for found in _BLOCK_PIECE.finditer(rest.text):
        if found["label"]:
            yield from _listed_names(made, remark)
            label, made = found["label"], []
        elif not found["sign"]:
            text = found["number"] or found["word"].rstrip()
            made.append(Phrase(label, Span(text, rest.start + found.start()), found["unit"] or ""))
    yield from _listed_names(made, remark)


def _listed_names(made: Sequence[Phrase], remark: str) -> Iterator[Phrase]:
    if len(made) < 2:
        yield from made
        return
    told = re.search(r"\b([a-z]+)/([a-z]+)\b", remark)
    names = told.groups() if told and len(made) == 2 else ()
    values = [float(one.span.text) if _figure(one.span) else 0.0 for one in made]
    if len(made) == len(_ENDS_OF_TRAVEL) and values == sorted(set(values)):
        names = _ENDS_OF_TRAVEL
    for at, one in enumerate(made):
        yield one._replace(label=f"{one.label} {names[at] if names else at + 1}")


def cut_sentences(scope: Scope) -> None:
    """Mark the values of lines that are sentences."""
    found = list(_sentences(scope.entries))
    groups: dict[tuple[bool, str], list[_Sentence]] = {}
    for one in found:
        groups.setdefault((True, one.key_sort), []).append(one)
        groups.setdefault((False, one.form), []).append(one)
    for group in groups.values():
        _listen(group)
    made = {one.number: (one, cut) for one in found if (cut := _phrases(one))}
    made |= dict(_short(found, made))
    switched = any(is_range(cut) for _, cut in made.values())
    for one in found:
        entry = scope.entries[one.number]
        if one.number in made:
            scope.entries[one.number] = _cut(entry, one, made[one.number][1])
        elif switched and one.rest.text.casefold() in NOTHING:
            scope.entries[one.number] = replace(entry, switched_off=one.key)


def cut_pairs(scope: Scope) -> None:
    """Mark the values of lines with `name:value` words and others between or behind them.

    `The turn rate is read rate:8000 and flown every:2`. Lines that have their like are rows, and
    are not cut here.
    """
    found: dict[tuple[str, ...], list[tuple[int, tuple[Span, ...], int]]] = {}
    for number, entry in enumerate(scope.entries):
        if not isinstance(entry.shape, Directive) or entry.is_cut or entry.statement.joints:
            continue
        own = words(entry.shape.body)
        pairs = [named(word) for word in own]
        first = next((at for at, pair in enumerate(pairs) if pair is not None), 0)
        if first and not all(pairs[first:]):
            behind = zip(pairs[first:], own[first:], strict=True)
            texts = [f"{pair[0]}:" if pair else word.text for pair, word in behind]
            sort = tuple(re.sub(r"\d+", "#", text) for text in (own[0].text, *texts))
            found.setdefault(sort, []).append((number, own, first))
    for lines in found.values():
        for number, own, first in lines if len(lines) == 1 else ():
            entry = scope.entries[number]
            phrases = tuple(_pair_phrases(own[first:]))
            scope.entries[number] = replace(
                entry, head=" ".join(word.text for word in own[:first]), negated=False, before="",
                parts=tuple(phrase.span for phrase in phrases), phrases=phrases,
                rest=Span(entry.line[own[first].start - own[0].start :], own[first].start),
            )  # fmt: skip


def _pair_phrases(own: Sequence[Span]) -> Iterator[Phrase]:
    """The value of each pair; its name with the words before it, and the unit behind it."""
    waiting: list[str] = []
    for at, word in enumerate(own):
        pair = named(word)
        if pair is None:
            waiting.append(word.text)
            continue
        behind = own[at + 1].text if at + 1 < len(own) else ""
        unit = behind if unit_of(behind) is not None or part_of(behind) is not None else ""
        yield Phrase(" ".join([*waiting, pair[0]]), pair[1], unit)
        waiting = []


def _cut(entry: ScopedLine, one: _Sentence, phrases: tuple[Phrase, ...]) -> ScopedLine:
    parts = tuple(phrase.span for phrase in phrases)
    shape = Directive(one.body)
    return replace(
        entry, shape=shape, head=one.key, parts=parts, negated=False, before="",
        phrases=phrases, rest=one.rest,
    )  # fmt: skip


_LIST_OF_WORDS = re.compile(r"[A-Za-z][A-Za-z ]*:( [A-Za-z][A-Za-z ]*,)+ [A-Za-z][A-Za-z ]*")


def _lists_words(line: str) -> bool:
    """Whether a line states a set of words: `checks left out: compass, battery`."""
    said = [word.strip() for word in line.partition(":")[2].split(",")]
    if not _LIST_OF_WORDS.fullmatch(line):
        return False
    return any(len(pair_up(said, kind, _SURELY)) == len(said) for kind in (ROLES, CHECKS))


_SURELY = 0.9  # likeness of words to those of a set


def _sentences(entries: Sequence[ScopedLine]) -> Iterator[_Sentence]:
    verbs = _verbs_of(entries)
    for number, entry in enumerate(entries):
        shape = entry.shape
        if entry.statement.joints or entry.header or entry.titles or entry.whole:
            continue
        if entry.document.look.colons:
            continue  # the word with the colon is no key of a sentence, as it begins many lines
        if isinstance(shape, Assignment):
            if shape.sign != ":":
                continue
            line = entry.document.lines[entry.statement.first]
            body = Span(line[shape.key.start : shape.value.end], shape.key.start)
        else:
            body = shape.body
        if _lists_words(body.text):
            continue
        found = _KEYED.fullmatch(body.text) or _LED.fullmatch(body.text)
        found = found or _with_verb(body.text, verbs, talks=_talks(entry))
        if found and "  " not in found["rest"] and len(found["key"].split()) <= 6:
            yield _Sentence(number, entry, body, found)


_NO_SIGNS = re.compile(r"[A-Za-z][^\":=;|#]*")
_HELPS = frozenset({"to", "at", "on", "by", "in", "as", "for"})
_VERB = re.compile(r"[a-z]{3,}s|is|are|has|have")


def _verbs_of(entries: Sequence[ScopedLine]) -> Counter[str]:
    """How often each verb, with what goes with it, says something of a subject before it.

    `answers to`, `is shown at`; only where numbers are said.
    """
    return Counter(
        verb
        for entry in entries
        if isinstance(entry.shape, Directive | Row) and not entry.is_cut
        for verb, _, rest in _verb_in(entry.shape.body.text, talks=_talks(entry))
        if any(letter.isdigit() for letter in rest)
    )


def _talks(entry: ScopedLine) -> bool:
    """Whether most lines of the dump are whole sentences, which end with a full stop."""
    return "." in entry.document.look.blanks


def _verb_in(text: str, *, talks: bool = False) -> Iterator[tuple[str, str, str]]:
    """The first verb of a line that has one: the verb, all up to its end, and the rest.

    Where all `talks` in sentences `is` and `has` alone are verbs, too.
    """
    cut = text.split(" ")
    for at, word in enumerate(cut[1:-1], 1):
        if not _VERB.fullmatch(word):
            continue
        end = at + 1
        if word in ("is", "are") and cut[end][-2:] in ("ed", "wn", "en", "pt"):
            end += 1
        while end < len(cut) and cut[end] in _HELPS:
            end += 1
        if end == at + 1 and not (talks and word in ("is", "are", "has", "have")):
            continue  # `line usb jobs 1`: a label as well may be
        yield " ".join(cut[at:end]), " ".join(cut[:end]), " ".join(cut[end:])
        return


def _with_verb(
    text: str, verbs: Mapping[str, int], *, talks: bool = False
) -> "re.Match[str] | None":
    """A line as a subject with a verb, and what it says, where several lines have that verb."""
    for verb, front, rest in _verb_in(text, talks=talks):
        said = verbs.get(verb, 0) >= _ROW and any(letter.isdigit() for letter in rest)
        if said and _NO_SIGNS.fullmatch(text):
            return re.fullmatch(rf"(?P<key>.{{{len(front)}}}) (?P<rest>[^\s(].*)", text)
    return None


def _clauses(rest: Span) -> Iterator[_Clause]:
    for clause in re.finditer(r"[^,()]+", rest.text):
        own = words(Span(clause.group(), rest.start + clause.start()))
        if own:
            yield own


def _figure(word: Span) -> bool:
    return any(letter.isdigit() for letter in word.text)


def _listen(group: Sequence[_Sentence]) -> None:
    """Which words name values, where several lines are alike."""
    if len(group) < 2:
        return
    if "#" in group[0].key_sort and len({one.key_sort for one in group}) == 1:
        for one in group:  # things of one sort, by their numbers
            one.alone, one.row = False, len(group) >= _ROW
    for at in range(min(len(one.clauses) for one in group) if len(group) >= _ROW else 0):
        texts = {_joined(one.clauses[at]).text for one in group}
        if 1 < len(texts) < len(group) or all(map(is_corner, texts)):
            for one in group:
                one.valued.add(at)
    if group[0].key_sort.startswith("# "):
        _either_or(group)
    often = Counter(word for one in group for word in one.words())
    least = max(2.0, _SHARE * len(group))
    usual = {word for word, count in often.items() if count >= least}
    if not usual:
        return
    for one in group:
        one.alone &= not usual & one.words()
        one.usual |= usual


def _either_or(group: Sequence[_Sentence]) -> None:
    """Clauses that say one thing or the other: `inverted`, `not inverted`."""
    for at in range(1, max(len(one.clauses) for one in group)):
        own = [one for one in group if len(one.clauses) > at]
        if len({_joined(one.clauses[at]).text for one in own}) == _EITHER < len(own):
            for one in own:
                one.whole.append(one.clauses[at])


def _phrases(one: _Sentence) -> tuple[Phrase, ...]:
    """The values of a sentence; none where it is no sentence."""
    found: list[Phrase] = []
    for number, clause in enumerate(one.clauses):
        own = _of_clause(one, clause, first=number == 0 or number in one.valued)
        if found and own and _are_one_set(found[-1], own[0]):
            found[-1:] = [_as_one(one, found[-1], own.pop(0))]
        found += own
    labels = [phrase.label for phrase in found if phrase.label]
    if len(one.clauses) == 1 and labels == ["low", "high"]:
        return ()  # a range and nothing else
    measured = (one.row or len(one.clauses) > 1) and any(phrase.unit for phrase in found)
    told = labels or measured or any(phrase.flag for phrase in found)
    if (len(found) < 2 and not one.row) or not told or len(set(labels)) < len(labels):
        return ()
    if sum(not phrase.label and not phrase.unit for phrase in found) > 2:
        return ()  # a list
    *before, last = found
    bare = not any(phrase.label or phrase.flag for phrase in found)
    if bare and last.unit and not any(p.unit or not _NUMBER.fullmatch(p.span.text) for p in before):
        return ()  # a list, and the unit of all of it
    return tuple(found)


_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")


def _are_one_set(one: Phrase, other: Phrase) -> bool:
    """Whether two values are both what a port carries: `receiver, telemetry at 420000 baud`."""
    words = one.span.text, other.span.text
    return not one.label and not other.unit and len(pair_up(words, ROLES, 0.9)) == len(words)


def _as_one(line: _Sentence, one: Phrase, other: Phrase) -> Phrase:
    start = line.rest.start
    text = line.rest.text[one.span.start - start : other.span.end - start]
    return Phrase("", Span(text, one.span.start))


def _of_clause(one: _Sentence, clause: _Clause, *, first: bool) -> list[Phrase]:
    if not any(map(_figure, clause)):
        if clause in one.whole:
            return [Phrase("", _joined(clause))]
        return [_worded(one, clause, first=first)]
    if first and one.alone and clause[0].text[:1].isupper() and not is_word(clause[0].text.lower()):
        return [Phrase("", _joined(clause))]  # a name with a number
    found: list[Phrase] = []
    waiting: list[Span] = []
    for word in clause:
        if not _figure(word):
            waiting.append(word)
            continue
        if found:
            waiting = _unit_first(found, waiting)
        value, label = _value_before(one, waiting)
        found += [_worded(one, value, first=first)._replace(flag=False)] if value else []
        number, *glued = glued_pieces(word)
        unit = glued[0][0].text if glued else ""
        found.append(Phrase(" ".join(w.text for w in label), number[0], unit))
        waiting = []
    left = _unit_first(found, waiting)
    way = _WAYS.get(left[-1].text.casefold()) if left and not found[-1].label else None
    if way and same_dimension(found[-1].unit or "m", "m"):
        found[-1] = found[-1]._replace(label=way[0], turned=way[1])
    elif left and not found[-1].label and not found[-1].unit:  # `4 cells`
        found[-1] = found[-1]._replace(label=" ".join(w.text for w in left))
    return _range_named(found)


def _unit_first(found: list[Phrase], waiting: Sequence[Span]) -> list[Span]:
    """What waits without the unit of the number before, which is told so."""
    if waiting and not found[-1].unit and unit_of(waiting[0].text) is not None:
        found[-1] = found[-1]._replace(unit=waiting[0].text)
        return list(waiting[1:])
    return list(waiting)


def _range_named(found: Sequence[Phrase]) -> list[Phrase]:
    """The values, the two of a range by its ends: `from 1700 to 2100`."""
    made = list(found)
    for at, (one, other) in enumerate(pairwise(found)):
        if other.label in ("to", "and") and one.label in _ENDS and _ENDS[one.label] == "low":
            made[at] = one._replace(label="low")
            made[at + 1] = other._replace(label="high")
    return made


def _value_before(one: _Sentence, waiting: Sequence[Span]) -> tuple[Sequence[Span], Sequence[Span]]:
    """Of words before a figure those that are a value, and those that name the figure."""
    texts = [word.text for word in waiting]
    if not one.alone:
        at = len(texts)
        while at and texts[at - 1] in one.usual:
            at -= 1
        if at < len(texts):
            joined = at == 0 or texts[at].casefold() in _JOINERS
            return (waiting[:at], waiting[at:]) if joined else (waiting, ())
    at = next((n for n, text in enumerate(texts) if n and text.casefold() in _JOINERS), 0)
    if at and (pair_up([" ".join(texts[:at])], choices(), 1.9) or _is_choice(texts[at - 1])):
        return waiting[:at], waiting[at:]
    return (), waiting


def _worded(one: _Sentence, clause: Sequence[Span], *, first: bool) -> Phrase:
    """A clause without figures: a value, with a word before that names it, or what is so."""
    texts = [word.text for word in clause]
    whole = _joined(clause)
    at = 0
    if _is_choice(whole.text):
        at = 0
    elif not one.alone and texts[0] in one.usual:
        while at < len(texts) - 1 and texts[at] in one.usual:
            at += 1
    elif one.alone and (_is_choice(texts[-1]) or re.fullmatch("[A-Z]", texts[-1])):
        at = len(texts) - 1
    if at:
        return Phrase(" ".join(texts[:at]), _joined(clause[at:]))
    flag = not first and not _is_choice(whole.text) and not pair_up([whole.text], choices(), 1.9)
    return Phrase(whole.text if flag else "", whole, flag=flag)


def _joined(clause: Sequence[Span]) -> Span:
    text = " ".join(word.text for word in clause)
    return Span(text, clause[0].start)


@cache
def _is_choice(text: str) -> bool:
    """Whether a text is one of the words that settings are set to."""
    low = text.casefold()
    return low in SAID | NOTHING or is_choice(low)


def _short(
    found: Sequence[_Sentence], made: Mapping[int, tuple[_Sentence, tuple[Phrase, ...]]]
) -> Iterator[tuple[int, tuple[_Sentence, tuple[Phrase, ...]]]]:
    """Lines of a sort with sentences that end behind the first value: `line 5: unused`."""
    sorts: dict[str, list[tuple[Phrase, ...]]] = {}
    for one, cut in made.values():
        sorts.setdefault(one.key_sort, []).append(cut)
    for one in found:
        kin = sorts.get(one.key_sort, [])
        plain = len(one.clauses) == 1 and not any(map(_figure, one.clauses[0]))
        if one.number not in made and plain and len(kin) > 1:
            labels = {cut[0].label for cut in kin}
            if len(labels) == 1 and (labels == {""} or max(map(len, kin)) == 1):
                yield one.number, (one, (Phrase(labels.pop(), _joined(one.clauses[0])),))


def is_range(phrases: Sequence[Phrase]) -> bool:
    """Whether they are the channel and the range of a switch."""
    return {"channel", "low", "high"} <= {root(t) for p in phrases for t in tokens(p.label)}
