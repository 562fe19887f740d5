"""Puts a dump's lines under the sections, blocks and groups that they stand in."""

import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise, takewhile

from cfgaudit.dialects.spec import SpecError
from cfgaudit.dialects.template import Pieces, match_text, open_shape, text_pieces
from cfgaudit.reading.document import Document, Statement, front
from cfgaudit.reading.shapes import (
    Assignment,
    Blank,
    Closer,
    Comment,
    Directive,
    Look,
    Opener,
    Row,
    Section,
    Shape,
    Span,
    cells,
    named,
    titled,
    without_comment,
    words,
)
from cfgaudit.teach.codes import codes_in
from cfgaudit.teach.columns import (
    bars_as_words,
    cut_columns,
    cut_rows_below_remarks,
    cut_rows_below_titles,
    joined,
    keyed_rows_as_words,
    title_below_remarks,
    title_by_usage,
    word_kind,
)
from cfgaudit.teach.indices import ORDINALS, holed
from cfgaudit.teach.labels import NOTHING, SAID, cut_directives, leads_of
from cfgaudit.teach.legends import cut_legends
from cfgaudit.teach.look import LED_BY_DOTS, bracketed_remark, is_rule, remark_mark, which_one
from cfgaudit.teach.measures import glued_pieces, unit_of
from cfgaudit.teach.scoped import LIST_ITEM, Kin, Scope, ScopedLine, scopes_within
from cfgaudit.teach.sentences import cut_blocks, cut_pairs, cut_sentences
from cfgaudit.teach.words import (
    FUNCTIONS,
    chunks,
    is_closed_list,
    is_kind_of_number,
    is_word,
    pair_up,
)

NEGATIONS = frozenset({"no", "not", "without", "un"})


# Pairs of verbs before what is on or off.
VERBS = {
    "enable": "disable", "show": "hide", "enabled": "disabled", "with": "without",
    "activate": "deactivate", "allow": "forbid", "permit": "refuse",
    "engage": "disengage",
}  # fmt: skip


OFF_VERBS = {off: on for on, off in VERBS.items()} | {"deny": "allow"}


_LETTERS = re.compile(r"[A-Za-z]{3,}")


_GLUED = re.compile(r"(.*?[A-Za-z_.-])(\d+)")


# What is no number to count by: longer than a value's may be, or digits that no number is made of.
_NO_NUMBER = re.compile(r"\d{41}|[^\W\d_a-zA-Z]")


def _noise_pieces(line: str) -> Pieces:
    """The pieces of a noise line; one of the dump's own that means nothing else is text."""
    try:
        return text_pieces(line)
    except SpecError:
        return (line,)


def scopes_of(  # noqa: C901 (one pass)
    document: Document, noise: Sequence[str], *, headed: bool = False
) -> Scope:
    """The tree of a document's scopes.

    `headed` says that words a single blank apart may head rows of as many.
    """
    top = Scope(Directive, "", ())
    stack = [top]
    remark, told_at = "", -1
    patterns = [_noise_pieces(line) for line in noise]
    lines, look = document.lines, document.look
    titles = _titles_by_indent(document)
    alone = _titles_alone(document)
    rows = {} if titles else _titles_of_rows(document)
    row_ends = -1  # the last line of the row's block that is open
    indents: list[tuple[int, Scope]] = []  # the open titles, each with its indentation
    for statement in document.statements:
        shape = open_shape(statement.shape, document.look)
        line = lines[statement.first]
        whole = line[front(line, document.look) :].strip()
        above = remark if told_at == statement.first - 1 else ""  # right above, for a title
        if isinstance(shape, Blank):
            remark = ""  # what a remark says is said of the lines right below
        elif isinstance(shape, Comment):
            goes_on = told_at == statement.first - 1 and remark
            remark = f"{remark}; {shape.body.text}" if goes_on else shape.body.text
            told_at = statement.first
        elif any(match_text(pattern, whole) is not None for pattern in patterns):
            mark = remark_mark(whole)
            said = bracketed_remark(whole) or (whole[len(mark) :].strip() if mark else "")
            if said:
                goes_on = told_at == statement.first - 1 and remark
                remark, told_at = f"{remark}; {said}" if goes_on else said, statement.first
            if bracketed_remark(whole):
                stack[-1].remark = joined(stack[-1].remark, said)  # of all that stands below
        elif isinstance(shape, Row) and _is_remark(shape):
            remark = " ".join(span.text for span in cells(shape.body)[1:]).strip()
            told_at = statement.first
        elif isinstance(shape, Section):
            row_ends, indents = -1, []
            while len(stack) > 1 and stack[-1].form is not Opener:
                stack.pop()
            _push(stack, shape, whole, shape.name, above, look)
            remark = ""
        elif isinstance(shape, Opener):
            row_ends, indents = -1, []
            _push(stack, shape, whole, shape.name, above, look)
            remark = ""
        elif isinstance(shape, Closer):
            row_ends, indents = -1, []
            _close(stack)
            remark = ""
        elif isinstance(shape, Assignment | Directive | Row):
            if has_no_number(line):
                continue
            if statement.first in alone:
                while len(stack) > 1 and stack[-1].form not in (Section, Opener):
                    stack.pop()
                _push(stack, shape, whole, Span(whole, 0), above, look)
                row_ends, indents, remark = -1, [], ""
                continue
            if row_ends >= 0 and (statement.first > row_ends or statement.first in rows):
                row_ends = -1
                stack.pop()
            if statement.first in rows:
                _push(stack, shape, whole, Span(whole.rstrip(":"), 0), above, look)
                row_ends = rows[statement.first]
                continue
            if titles:
                indent = _indent_of(line)
                while indents and indent <= indents[-1][0]:
                    indents.pop()
                    stack.pop()
            if statement.first in titles:
                name = Span(whole.rstrip(":"), 0)
                _push(stack, shape, whole, name, above, look)
                indents.append((_indent_of(line), stack[-1]))
                remark = ""
            else:
                stack[-1].entries.append(_entry(document, statement, shape, remark))
    column, led = _value_column_of(document), _led_columns(document)
    kinds = _kinds_before_keys(top)
    for scope in scopes_within(top):
        _keyed_behind_kinds(scope, kinds)
        _keyed_by_gap(scope, column)
        scope.entries = keyed_rows_as_words(scope.entries)
        cut_blocks(scope)
        cut_sentences(scope)
        cut_pairs(scope)
        _keyed_by_colon(scope)
        _keyed_before_pairs(scope)
        _keyed_by_dots(scope, led)
        _keyed_by_to(scope)
        scope.entries = [
            bars_as_words(e) for e in scope.entries if re.search(r"[A-Za-z0-9]", e.line)
        ]
        cut_rows_below_remarks(scope)
        title_by_usage(scope)
        title_below_remarks(scope)
        cut_rows_below_titles(scope)
        cut_columns(scope, headed=headed)
    leads = leads_of(top)
    for scope in scopes_within(top):
        _find_groups(scope)
        _find_rows(scope)
    for scope in scopes_within(top):
        cut_legends(scope)
        cut_directives(scope, leads)
    return top


@lru_cache(maxsize=8)
def opening_of(document: Document) -> str:
    """The remarks above the first statement of a dump."""
    found: list[str] = []
    for statement in document.statements:
        if isinstance(statement.shape, Comment):
            found.append(statement.shape.body.text)
        elif (not isinstance(statement.shape, Blank) and len(found) > 0) or statement.first > 6:
            break
    return ". ".join(found)


def has_no_number(text: str) -> bool:
    """Whether a text has digits that can't be counted by; nothing is learnt from it.

    >>> has_no_number("port ²"), has_no_number("1" * 41), has_no_number("id é31 " + "1" * 40)
    (True, True, False)
    """
    found = _NO_NUMBER.search(text)
    return found is not None and (len(found[0]) > 1 or any(_odd_digit(each) for each in text))


def _odd_digit(letter: str) -> bool:
    return letter.isdigit() and not letter.isdecimal()


_KEYED = re.compile(r"(?P<key>[^,:=]*[A-Za-z][^,:=<>]*(?::=|[-=]>|<-|:)) (?P<rest>\S+ .*)")


def _keyed_by_colon(scope: Scope) -> None:
    """Take lines of words whose key a colon ends as such, though a comma parts what is behind it.

    Their like with a key of one word, too: `arm: channel 5, 900 to 1300 us`.
    """
    keyed = {
        number: found
        for number, entry in enumerate(scope.entries)
        if not isinstance(entry.shape, Directive) and (found := _KEYED.fullmatch(_whole(entry)))
    }
    said = [
        re.sub(r"\d+", "#", found["rest"])
        for number, found in keyed.items()
        if isinstance(scope.entries[number].shape, Row)
    ]
    for number, found in keyed.items():
        entry = scope.entries[number]
        if re.sub(r"\d+", "#", found["rest"]) not in said:
            continue
        own = entry.shape
        start = (own.key if isinstance(own, Assignment) else own.body).start
        shape = Directive(Span(found.group(), start))
        parts = tuple(w for w in words(shape.body) if w.start >= start + found.start("rest"))
        scope.entries[number] = replace(
            entry,
            shape=shape,
            head=" ".join(found["key"].split()),
            parts=parts,
            negated=False,
            before="",
            barred=True,
            skeleton=re.sub(r"\d+", "#", found["rest"]),
        )


def _kinds_before_keys(top: Scope) -> frozenset[str]:
    """The words that say of what kind a value is, before its key: `u16 battery.capacity 850`.

    Few of them stand before nearly all keys of a dump, none of which comes twice.
    """
    keys: dict[str, list[str]] = {}
    every = [entry for scope in scopes_within(top) for entry in scope.entries]
    for entry in every:
        if not isinstance(entry.shape, Assignment) and not entry.statement.joints:
            kind, key, *rest = [*entry.shape.body.text.split(maxsplit=2), "", ""]
            if any(rest) and key[:1].isalpha() and re.search(r"[._/]", key):
                keys.setdefault(kind, []).append(key)
    led = [key for own in keys.values() for key in own]
    told = all(is_kind_of_number(kind.partition("[")[0]) for kind in keys)
    few = len(keys) < 0.15 * len(led) and not any(re.search(r"[._/]", kind) for kind in keys)
    few = few and keys.keys().isdisjoint({*VERBS, *VERBS.values(), *NEGATIONS})
    alike = len(set(led)) > 0.95 * len(led) > 0.8 * len(every)
    return frozenset(keys) if alike and (told or (few and len(keys) > 2)) else frozenset()


def _keyed_behind_kinds(scope: Scope, kinds: Collection[str]) -> None:
    """Take lines apart that begin with the word for a kind: its key, and what stands behind."""
    for number, entry in enumerate(scope.entries if kinds else ()):
        if isinstance(entry.shape, Assignment) or entry.statement.joints:
            continue
        body = entry.shape.body
        cut = words(body)
        if len(cut) > 2 and cut[0].text in kinds:
            scope.entries[number] = replace(
                entry,
                shape=Directive(body),
                head=cut[1].text,
                parts=tuple(cut[2:]),
                lead=f"{cut[0].text} ",
                negated=False,
                before="",
                barred=True,
            )


def _keyed_before_pairs(scope: Scope) -> None:
    """Take `key: name=value name=value` as a line of words: the values are told by their names."""
    found: dict[int, tuple[Span, ...]] = {}
    for number, entry in enumerate(scope.entries):
        shape = entry.shape
        if isinstance(shape, Assignment) and shape.sign == ":" and not entry.statement.joints:
            pairs = words(shape.value)
            if pairs and all(named(pair) is not None for pair in pairs):
                found[number] = pairs
    if max(map(len, found.values()), default=0) < 2:
        return
    for number, pairs in found.items():
        entry = scope.entries[number]
        assert isinstance(entry.shape, Assignment)  # only such were found
        body = Span(_whole(entry), entry.shape.key.start)
        scope.entries[number] = replace(
            entry, shape=Directive(body), head=f"{entry.head}:", parts=pairs, barred=True
        )


def _keyed_by_dots(scope: Scope, columns: frozenset[int]) -> None:
    """Take labels that dots lead from to their values as keys: `fw name ....... brookweed`."""
    led = {
        number: (entry.shape.body, found)
        for number, entry in enumerate(scope.entries)
        if isinstance(entry.shape, Directive | Row)
        and not entry.is_cut
        and (found := LED_BY_DOTS.fullmatch(_whole(entry)))
    }
    for number, (body, found) in led.items():
        if body.start + found.start("value") not in columns:
            continue
        start = body.start + found.start("value")
        scope.entries[number] = replace(
            scope.entries[number],
            shape=Directive(body),
            head=" ".join([*found["key"].split()[:-1], "*"]),  # as many dots as the key leaves
            parts=tuple(word for word in words(body) if word.start >= start),
            negated=False,
            before="",
            barred=True,
        )


def _keyed_by_to(scope: Scope) -> None:
    """Take words up to "to" as keys, where most lines of a verb say so: `set arm tilt to 30`.

    Up to "at", too, behind what is switched: `show battery voltage at row 12 column 3`.
    """
    by_verb: dict[str, list[tuple[int, int]]] = {}  # the entries, each with where its key ends
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Directive) and not entry.is_cut and not entry.statement.joints:
            cut = [word.text for word in words(entry.shape.body)] or [""]
            switch = cut[0] in VERBS or cut[0] in OFF_VERBS
            by_verb.setdefault("" if switch else cut[0], []).append((number, _key_end(cut, switch)))
    for verb, lines in by_verb.items():
        told = [(number, at) for number, at in lines if at > 0]
        if len(told) < _LEAST_TOLD or (verb and len(told) < _MOST_TOLD * len(lines)):
            continue
        for number, at in told:
            entry = scope.entries[number]
            own = words(entry.shape.body) if isinstance(entry.shape, Directive) else ()
            first = own[0].text
            scope.entries[number] = replace(
                entry,
                head=" ".join(word.text for word in own[not verb : at + 1]),
                parts=tuple(own[at + 1 :]),
                negated=first in OFF_VERBS,
                before="" if verb else f"{first} ",
                barred=True,
            )


def _key_end(cut: Sequence[str], switch: bool) -> int:
    """Where the key of a line ends: at a "to" that parts no two ends of a range; -1 for nowhere.

    >>> _key_end("bind port 1 to gps".split(), False), _key_end("arm 5 from 9 to 12".split(), False)
    (3, -1)
    """
    for at in range(2, len(cut) - 1):
        if cut[at] == "to":
            return -1 if "from" in cut[:at] or (cut[at - 1].isdigit() and cut[-1].isdigit()) else at
    if switch and cut[-1].isdigit() and "at" in cut[2:-1]:
        return cut.index("at", 2)
    return -1


_LEAST_TOLD, _MOST_TOLD = 5, 0.8  # lines of a verb, and the share of them, that say "to"


def _led_columns(document: Document) -> frozenset[int]:
    """The columns to which dots lead in a dump, where they do so in some lines."""
    bodies = (s.shape.body for s in document.statements if isinstance(s.shape, Directive))
    found = ((body, LED_BY_DOTS.fullmatch(body.text)) for body in bodies)
    usual = [body.start + led.start("value") for body, led in found if led and "..." in led["key"]]
    return frozenset(usual) if len(usual) >= _LEAST_LED else frozenset()


def _value_column_of(document: Document) -> int:
    """The column in which most lines of two columns have their values; -1 where there is none.

    `Idle throttle              5.0 %`: blanks part the key's words from the value.
    """
    found = (
        _GAPPED.fullmatch(document.lines[s.first])
        for s in document.statements
        if isinstance(s.shape, Directive | Row) and not s.joints
    )
    starts = Counter(one.start("value") for one in found if one)
    column, often = starts.most_common(1)[0] if starts else (-1, 0)
    return column if often >= _LEAST_GAPPED and often > 0.5 * starts.total() else -1


_GAPPED = re.compile(r"\s*(?P<key>[A-Za-z]\S*(?: \S+)*)  +(?P<value>\S+(?: \S+)*)\s*")
_LEAST_GAPPED = 10  # lines of a dump that have their values in one column


def _keyed_by_gap(scope: Scope, column: int) -> None:
    """Take the words before the values of lines in two columns as their keys."""
    for number, entry in enumerate(scope.entries if column >= 0 else ()):
        if isinstance(entry.shape, Assignment) or entry.is_cut or entry.statement.joints:
            continue
        found = _GAPPED.fullmatch(entry.document.lines[entry.statement.first])
        if found is None or found.start("value") != column:
            continue
        body = entry.shape.body
        scope.entries[number] = replace(
            entry,
            shape=Directive(body),
            head=" ".join(found["key"].split()),
            parts=tuple(word for word in words(body) if word.start >= column),
            negated=False,
            before="",
            barred=True,
        )


def _whole(entry: ScopedLine) -> str:
    """A row, or an assignment, as it stands; nothing of one that goes over several lines."""
    shape = entry.shape
    if entry.statement.joints:
        return ""
    if isinstance(shape, Assignment):
        line = entry.document.lines[entry.statement.first]
        return line[shape.key.start : shape.value.end]
    return shape.body.text


def _is_remark(shape: Row) -> bool:
    return cells(shape.body)[0].text.casefold() in ("rem", "remark", "comment", "note")


def _titles_by_indent(document: Document) -> frozenset[int]:
    """Lines that end in a colon and stand above lines that are indented further, if there are many.

    By index of the line, from 0.
    """
    found: set[int] = set()
    items: dict[str, list[int]] = {}
    told = [s for s in document.statements if not isinstance(s.shape, Blank | Comment)]
    pairs = [
        (one.first, document.lines[one.first], document.lines[other.first])
        for one, other in pairwise(told)
        if isinstance(one.shape, _STATING) and isinstance(other.shape, _STATING)
    ]
    for at, line, following in pairs:
        deeper = _indent_of(following) > _indent_of(line)
        if line.rstrip().endswith(":") and deeper:
            found.add(at)
        elif deeper and (item := LIST_ITEM.match(line.strip())):
            items.setdefault(item["key"], []).append(at)
    listed = frozenset(at for own in items.values() if len(own) > 1 for at in own)
    if len(found) >= 3:
        return frozenset(found) | listed
    return _indented_titles(pairs) | listed


_STATING = (Assignment, Directive, Row)
_FENCES = (Section, Opener, Closer)


def _titles_of_rows(document: Document) -> dict[int, int]:
    """Lines that say nothing but which one of a row of things the lines below are of.

    `motor 1`, `front left:`. Each with the last line that is below it: what stands below the one
    stands below the others, too. By index of the line, from 0.
    """
    told = [s for s in document.statements if not isinstance(s.shape, Comment)]
    sorts: dict[str, dict[str, int]] = {}
    for at, statement in enumerate(told):
        sort, word = which_one(_said_alone(statement))
        if word:
            sorts.setdefault(sort, {}).setdefault(word, at)
    rows = sorted((own for own in sorts.values() if len(own) >= _LEAST_BLOCKS), key=_first_place)
    kept: list[frozenset[str]] = []  # the words that tell leaders apart, sort by sort
    below: set[str] = set()  # the first words of what stands below them
    found: dict[int, int] = {}
    for own in rows:
        named = frozenset(own)
        if {_first_word(told[at]) for at in own.values()} & below and named not in kept:
            continue  # `output 1`, below `motor 1`
        beside = [other for other in rows if other is own or frozenset(other) == named]
        every = frozenset(told[at].first for other in beside for at in other.values())
        blocks, shared = _blocks_below(told, sorted(own.values()), every | found.keys())
        if blocks:
            found |= blocks
            below |= shared
            kept.append(named)
    return found


def _first_place(own: Mapping[str, int]) -> int:
    return min(own.values())


def _said_alone(statement: Statement) -> str:
    """The words of a line that states nothing by itself; else nothing."""
    shape = statement.shape
    if statement.joints:
        return ""
    if isinstance(shape, Assignment):
        return shape.key.text.strip() if not shape.value.text else ""
    return shape.body.text.rstrip(": ") if isinstance(shape, Directive) else ""


def _blocks_below(
    told: Sequence[Statement], leaders: Sequence[int], others: frozenset[int]
) -> tuple[dict[int, int], set[str]]:
    """The leaders of blocks, by their lines, each with the last line of its block; their keys.

    None where what follows the one is not what follows the others.
    """
    blocks: list[list[tuple[str, int]]] = []
    fenced = sum(isinstance(told[at - 1].shape, _FENCES) for at in leaders if at)
    for at, stop in pairwise([*leaders, len(told)]):
        block: list[tuple[str, int]] = []
        for statement in told[at + 1 : stop]:
            if not isinstance(statement.shape, _STATING) or statement.first in others:
                fenced += isinstance(statement.shape, _FENCES)
                break
            block.append((_first_word(statement), statement.first))
        blocks.append(block)
    count = Counter(head for block in blocks for head in {head for head, _ in block})
    shared = {head for head, often in count.items() if often > 0.5 * len(blocks)}
    kept = [list(takewhile(lambda one: one[0] in shared, block)) for block in blocks]
    full = sum(bool(block) for block in kept)
    if full < 0.8 * len(blocks) or len(shared) < 2 or fenced > 2:  # they stand in what has them
        return {}, shared
    if {_first_word(told[at]) for at in leaders} & shared:
        return {}, shared
    made = {told[at].first: block[-1][1] for at, block in zip(leaders, kept, strict=True) if block}
    return made, shared


_LEAST_BLOCKS = 3


def _first_word(statement: Statement) -> str:
    """The key of an assignment, the first word of another line."""
    shape = statement.shape
    if isinstance(shape, Assignment):
        return shape.key.text
    return (shape.body.text.split() or [""])[0] if isinstance(shape, Directive | Row) else ""


def _indented_titles(pairs: Sequence[tuple[int, str, str]]) -> frozenset[int]:
    """Lines above lines that are indented further, where those of one sort with numbers, or words
    alone in any number, do so: `PART 2 ...`, `motor front left`. Of numbered ones two will do
    where nothing else is indented: `bank 1 begin`.
    """
    sorts: dict[str, list[int]] = {}
    steps = 0  # how often lines go further in
    for at, line, following in pairs:
        deeper = _indent_of(following) > _indent_of(line)
        steps += deeper
        begun = re.match(r"\s*([A-Za-z]+) \d+\b", line) or _ORDINAL_TITLE.match(line)
        said = without_comment(line).strip()
        bare = said.isdigit()
        names = said.split()
        named = 0 < len(names) - len(following.split()) < 3  # it may name their columns
        title = _INDENTED_TITLE.fullmatch(said) or (named and _NAMES_ONLY.fullmatch(said))
        if deeper and (begun or bare or title):
            sorts.setdefault(begun[1] if begun else "#" * bare, []).append(at)
    most = max(map(len, sorts.values()), default=0)
    every = frozenset(at for own in sorts.values() for at in own)
    pair = most == 2 and "" not in sorts and len(every) == steps  # nothing else is indented
    return every if most >= 3 or pair else frozenset()


_ORDINAL_TITLE = re.compile(
    rf"\s*(?:{'|'.join(ORDINALS)}) ([a-z]+)[\w ]*,?(?: \"[^\"]*\")?$", re.IGNORECASE
)
_NAMES_ONLY = re.compile(
    r"[A-Za-z]\w* [A-Za-z]\w*(?: {2,}[A-Za-z][\w/%-]*)+"
)  # `table port  id  baud`
_INDENTED_TITLE = re.compile(r"[A-Za-z][\w/-]*(?: [A-Za-z\d][\w/-]*){0,5}(?: \([^()]*\))?")


_LEAST_LED = 3  # lines with dots before a value


_TITLE = re.compile(r"[A-Za-z][A-Za-z'&/-]*(?: [A-Za-z'&/-]+){0,5}")


def _titles_alone(document: Document) -> frozenset[int]:
    """Lines of words alone that others stand under: above a rule, or below a blank line.

    By index of the line, from 0. Where no rule says so, keys and values must make up the rest.
    """
    lines, look = document.lines, document.look
    words_alone = [
        s.first
        for s in document.statements
        if isinstance(open_shape(s.shape, look), Directive)
        and _TITLE.fullmatch(lines[s.first][front(lines[s.first], look) :].strip())
    ]
    ruled = {at for at in words_alone if at + 1 < len(lines) and is_rule(lines[at + 1])}
    ruled |= _numbered_titles(document)
    indented = any(line[:1].isspace() and line.strip() for line in lines)
    if ruled and not (indented and ruled == {0}):  # one above indented sections is the dump's own
        return frozenset(ruled)
    apart = {
        at
        for at in words_alone
        if (at == 0 or not lines[at - 1].strip())
        and at + 1 < len(lines)
        and re.search(r"[:=] ?\S", lines[at + 1])
    }
    if len(apart) >= 3 and 2 * len(apart) > len(words_alone):
        return frozenset(apart)
    return _words_that_head(document, words_alone)


def _words_that_head(document: Document, words_alone: Sequence[int]) -> frozenset[int]:
    """Single words below a blank line or a remark, and above lines that state something.

    Where nearly all words that stand alone on a line do so: `FRAME`, then its rows.
    """
    lines = document.lines
    said = {s.first: s.shape for s in document.statements}
    single = [at for at in words_alone if len(lines[at].split()) == 1]
    heads = {
        at
        for at in single
        if (at == 0 or isinstance(said.get(at - 1), Blank | Comment))
        and isinstance(said.get(at + 1), _STATING)
        and at + 1 not in single
        and _indent_of(lines[at + 1]) <= _indent_of(lines[at])  # else indentation tells
    }
    most = len(heads) >= _LEAST_HEADS and len(heads) >= _NEARLY_ALL * len(single)
    return frozenset(heads) if most else frozenset()


def _indent_of(line: str) -> int:
    return len(line) - len(line.lstrip())


_LEAST_HEADS = 4
_NEARLY_ALL = 0.8  # of the words that stand alone


def _numbered_titles(document: Document) -> set[int]:
    """Titles with a number that counts them, above a rule: `3  FRAME AND MOTORS`."""
    lines = document.lines
    found = {
        at: int(cut[1])
        for at, line in enumerate(lines[:-1])
        if (cut := _NUMBERED_TITLE.fullmatch(line.strip())) and is_rule(lines[at + 1])
    }
    counted = list(found.values()) == list(range(1, len(found) + 1))
    return set(found) if counted and len(found) >= _LEAST_BLOCKS else set()


_NUMBERED_TITLE = re.compile(r"(\d{1,2})[.)]? +[A-Za-z][A-Za-z'&/,-]*(?: [A-Za-z'&/,-]+){0,5}")


_OWN_NAME = re.compile(r"(?<=[\w,]) \"[^\"*]*\"$")


def _push(stack: list[Scope], shape: Shape, line: str, name: Span, remark: str, look: Look) -> None:
    bare = without_comment(line)
    if titled(line, look.titles) and not titled(bare, look.titles):
        bare = line
    remark = joined(remark, line[len(bare) :].strip(" \t#;/"))
    said = name.text if not has_no_number(name.text) else ""
    own = _OWN_NAME.search(bare)  # `bank 1 begin "survey"`
    if own and isinstance(shape, Directive | Row):
        bare, said = f"{bare[: own.start()]} *", said[: said.index(own[0])]
    cut = tuple(word for word in re.split(r"[\s.:/]+", said) if word)
    item = LIST_ITEM.fullmatch(bare)
    if item and said:
        cut = (bare[0], *item["key"].split(), item["value"])
    scope = Scope(type(shape), bare, cut, remark)
    stack[min(len(stack), _DEEPEST) - 1].inner.append(scope)
    stack.append(scope)


_DEEPEST = 40  # scopes in each other; what lies deeper is put beside each other


def _close(stack: list[Scope]) -> None:
    depth = next((i for i in range(len(stack) - 1, 0, -1) if stack[i].form is Opener), 0)
    if depth:
        del stack[depth:]


def _entry(
    document: Document, statement: Statement, shape: Assignment | Directive | Row, remark: str
) -> ScopedLine:
    entry = _entry_of(document, statement, shape, remark)
    said = shape.value if isinstance(shape, Assignment) else shape.body
    rest = "" if statement.joints else document.lines[statement.first][said.end :]
    behind = rest.strip(" \t#;/")
    return replace(entry, remark=joined(remark, behind), behind=behind)


def _entry_of(
    document: Document, statement: Statement, shape: Assignment | Directive | Row, remark: str
) -> ScopedLine:
    if isinstance(shape, Assignment):
        head = " ".join(shape.key.text.split())
        kept = "".join(w.text for w, varies in inner_pieces(shape.value) if not varies)
        block = kept if re.fullmatch(r"\{.*\w: .*\}", shape.value.text) else ""
        own = (shape.value,)
        return ScopedLine(document, statement, shape, head, own, False, remark, whole=block)
    bracketed = _BRACKETED.fullmatch(shape.body.text) or _BRACED.fullmatch(shape.body.text)
    if bracketed:
        value = Span(bracketed["value"], shape.body.start + bracketed.start("value"))
        head, form = " ".join(bracketed["head"].split()), Directive(shape.body)
        kept = " ".join(w.text for w, varies in inner_pieces(value) if not varies)
        return ScopedLine(document, statement, form, head, (value,), False, remark, whole=kept)
    if isinstance(shape, Row):
        parts = cells(shape.body)
        return ScopedLine(document, statement, shape, parts[0].text, parts, False, remark)
    parts = words(shape.body) or (shape.body,)  # of blanks that no grammar skips, there is none
    first = parts[0].text
    verb = first in OFF_VERBS or first in VERBS
    numbers = [word_kind(span.text) == "number" for span in parts]
    whole = verb and any(numbers[2:-1]) and not numbers[-1]  # `disable port 1 inversion`
    if whole and unit_of(parts[-1].text) is None and all(span.text.isalnum() for span in parts):
        head = " ".join(span.text for span in parts[1:])
        off = first not in VERBS
        return ScopedLine(document, statement, shape, head, (), off, remark, f"{first} ")
    if verb and (any(numbers) or any(span.text.startswith("--") for span in parts)):
        verb = False
    if verb and len(parts) == 2 and parts[1].text.casefold() in SAID:
        verb = False  # `enabled true`: the word is the key
    if len(parts) > 1 and (first in NEGATIONS or verb):
        negated = first not in VERBS
        head, rest = parts[1].text, parts[2:]
        return ScopedLine(document, statement, shape, head, rest, negated, remark, f"{first} ")
    return ScopedLine(document, statement, shape, first, parts[1:], False, remark)


# A key, and a list in brackets or a block in braces behind it, on one line.
_BRACKETED = re.compile(r"(?P<head>[^\[\]{}\"]*?[^\[\]{}\" ]) +(?P<value>\[[^\[\]]*\])")


_BRACED = re.compile(r"(?P<head>[^{}]*?[^{} ]) +(?P<value>\{.*\})")


_PAIR = r"(?P<key>[A-Za-z][^{}\[\],:\"]*:)(?= )"
_TOLD = r"(?<=: )(?P<word>[A-Za-z](?:\w*|[^\d{}\[\],:\"]*))(?<! )(?=\s*[,}])"
_INNER = re.compile(rf'"[^"]*"|[\[\]{{}},]|{_PAIR}|{_TOLD}|[^\s\[\]{{}},"]+')


# In a block of keys besides: a list, a word that says yes or no by itself, any other word.
_IN_BLOCK = re.compile(
    rf'"[^"]*"|(?<=: )\[(?P<list>[^\[\]{{}}]*)\]|[\[\]{{}},]|{_PAIR}'
    r"|(?:(?<=: )|(?<=\{)|(?<=, ))(?P<word>[A-Za-z][^\s{}\[\],:\"]*(?: [A-Za-z][^\s{}\[\],:\"]*)*)"
    r"(?=\s*[,}])"
    r"|[^\s\[\]{},\"]+"
)


def inner_pieces(value: Span) -> list[tuple[Span, bool]]:
    """The pieces of a list in brackets or a block in braces, each with whether it varies.

    In braces words and a colon name what stands behind them: `{kept on: flash, rate: 2 kHz}`.
    """
    listed = value.text.startswith("[")
    found: list[tuple[Span, bool]] = []
    keyed = not listed and re.search(r"[A-Za-z]:\s", value.text) is not None
    for match in (_IN_BLOCK if keyed else _INNER).finditer(value.text):
        text = match.group()
        if keyed and match["list"] is not None:  # a list within
            at = value.start + match.start("list")
            sides = Span("[", at - 1), Span("]", at + len(match["list"]))
            found += [(sides[0], False), (Span(match["list"], at), True), (sides[1], False)]
            continue
        sign = text in "[]{}," or match["key"]
        varies = not sign and (
            listed
            or bool(match["word"])
            or text in SAID
            or re.match(r'[+-]?\.?\d|"', text) is not None
        )
        own = Span(text, value.start + match.start())
        found += glued_pieces(own) if varies and not listed else [(own, varies)]
    return found


_NUMBERED_KEY = re.compile(r"(?P<pre>\D*)(?P<number>\d+)(?P<post>\D*)")
_LEAST_NUMBERED = 3  # rows, and lines of each

_RowKeys = tuple[tuple[str, str], ...]  # of each line of a row what stands round its number


def _find_rows(scope: Scope) -> None:
    """Put lines of a numbered row below the one that says which switch it is of.

    `fn1 = arm`, `ch1 = 5`, `lo1 = 1700`, `hi1 = 2100`, `fn2 = level`, ...
    """
    taken: set[int] = set()
    for keys, rows in _numbered_rows(scope).items():
        lines = [[scope.entries[number] for number in at] for _, at in rows]
        if len(rows) < _LEAST_NUMBERED or not _are_switches(lines):
            continue
        remark = next((leader.remark for leader, *_ in lines if leader.remark), "")
        for (which, at), (leader, *rest) in zip(rows, lines, strict=True):
            sign = leader.shape.sign if isinstance(leader.shape, Assignment) else ""
            between = " = " if sign == "=" else f"{sign} "
            (pre, post), value = keys[0], leader.parts[0].text
            taken.update(at)
            if _says_nothing(leader):
                known = tuple(f"{one}{{SLOT}}{other}{between}..." for one, other in keys[1:])
                scope.idle[f"{pre}{{SLOT}}{post}{between}{value}"] = known
                continue
            row = f"{pre}\0{post}{between}\0", f"{which}\0{value}"
            line = f"{pre}{which}{post}{between}{value}"
            below = Scope(type(leader.shape), line, tuple(line.split()), remark, row)
            below.entries = rest
            scope.inner.append(below)
    scope.entries = [e for number, e in enumerate(scope.entries) if number not in taken]


def _numbered_rows(scope: Scope) -> dict[_RowKeys, list[tuple[str, list[int]]]]:
    """Lines of one number behind each other, by their keys; the number, and which entries."""
    rows: list[tuple[str, list[int]]] = []
    keys: dict[int, tuple[str, str]] = {}
    for number, entry in enumerate(scope.entries):
        plain = isinstance(entry.shape, Assignment | Directive) and not entry.is_cut
        found = _NUMBERED_KEY.fullmatch(entry.head) if plain and len(entry.parts) == 1 else None
        if found is None:
            rows.append(("", []))
            continue
        keys[number] = found["pre"], found["post"]
        if rows and rows[-1][0] == found["number"]:
            rows[-1][1].append(number)
        else:
            rows.append((found["number"], [number]))
    sorts: dict[_RowKeys, list[tuple[str, list[int]]]] = {}
    for which, at in rows:
        if len(at) >= _LEAST_NUMBERED:
            sorts.setdefault(tuple(keys[number] for number in at), []).append((which, at))
    return sorts


def _are_switches(rows: Sequence[Sequence[ScopedLine]]) -> bool:
    """Whether rows say first what a switch does, in words or by a remark's numbers, then where."""
    used = [row for row in rows if not _says_nothing(row[0])]
    codes = next((found for row in used if (found := codes_in(row[0].remark))), {})
    said = [codes.get(text, text) for text in dict.fromkeys(row[0].parts[0].text for row in used)]
    switches = len(pair_up(said, FUNCTIONS)) >= max(_LEAST_NUMBERED, 0.6 * len(said))
    return switches and all(_have_a_range(row[1:]) for row in used)


def _says_nothing(entry: ScopedLine) -> bool:
    text = entry.parts[0].text
    return text == "0" or text.casefold() in NOTHING


def _have_a_range(entries: Sequence[ScopedLine]) -> bool:
    """Whether values are a channel and two pulses, in some order."""
    texts = [entry.parts[0].text.removesuffix("us").rstrip() for entry in entries]
    numbers = [int(text) for text in texts if text.isdigit()]
    pulses = sum(500 <= number <= 2500 for number in numbers)
    return pulses >= 2 and len(numbers) > pulses


def _find_groups(scope: Scope) -> None:
    """Lines that put those after them into a group: the lines between repeat themselves."""
    stems: dict[str, list[int]] = {}
    for number, entry in enumerate(scope.entries):
        if isinstance(entry.shape, Directive) and not entry.negated and entry.parts:
            stem = " ".join([entry.head, *(span.text for span in entry.parts[:-1])])
            stems.setdefault(stem, []).append(number)
    leaders: set[int] = set()
    closers: set[int] = set()
    beyond = -1
    for places in sorted(stems.values()):
        own, ends = _leading(scope.entries, places)
        ends += [at[0] for at in stems.values() if len(at) > 1 and at[0] > own[-1] + 1]
        if own[0] > beyond and len(own) >= 2 and _repeats(scope.entries, own, ends):
            leaders.update(own)
            beyond = min([at for at in ends if at > own[-1]], default=len(scope.entries))
            closers.update({beyond, *(set(places) - set(own))})
            beyond -= 1
    if not leaders:
        return
    kept: list[ScopedLine] = []
    group: Scope | None = None
    for number, entry in enumerate(scope.entries):
        if number in leaders:
            cut = (entry.head, *(span.text for span in entry.parts))
            group = Scope(Directive, entry.line, cut, entry.remark)
            scope.inner.append(group)
            continue
        if number in closers:
            group = None
        if number not in closers or entry.head not in {scope.entries[at].head for at in leaders}:
            (group.entries if group else kept).append(entry)
    scope.entries = kept + _beyond_last(scope.inner[-len(leaders) :])


def _beyond_last(groups: Sequence[Scope]) -> list[ScopedLine]:
    """What follows the last group: lines that no group before it has. They are taken out of it."""
    if len(groups) < 2:
        return []
    known = {_sort_of(entry) for group in groups[:-1] for entry in group.entries}
    last = groups[-1].entries
    stop = max((n for n, entry in enumerate(last, 1) if _sort_of(entry) in known), default=0)
    groups[-1].entries = last[:stop]
    return last[stop:]


def _sort_of(entry: ScopedLine) -> str:
    """What a line says but for its figures."""
    words = [entry.head, *(span.text for span in entry.parts)]
    return " ".join(word for word in words if not any(c.isdigit() for c in word))


def _leading(entries: Sequence[ScopedLine], places: list[int]) -> tuple[list[int], list[int]]:
    """Of lines alike, those that begin a group, and those that end one or go back to the first."""
    words = [entries[at].parts[-1].text for at in places]
    if 2 <= sum(word.isdigit() for word in words) < len(words):  # `bank 1`, `bank 2`, `bank end`
        begun = [at for at, word in zip(places, words, strict=True) if word.isdigit()]
    else:
        begun = list(places)
    if len(begun) > 2 and words[places.index(begun[-1])] == words[places.index(begun[0])]:
        begun.pop()
    return begun, [at for at in places if at not in begun]


def _repeats(entries: Sequence[ScopedLine], places: list[int], ends: list[int]) -> bool:
    """Whether what follows one leader is much like what follows the next."""
    if len({entries[at].parts[-1].text for at in places}) < len(places):
        return False
    last = min([at for at in ends if at > places[-1]], default=len(entries))
    segments = [
        frozenset(entry.head for entry in entries[at + 1 : stop])
        for at, stop in zip(places, [*places[1:], last], strict=True)
    ]
    own = entries[places[0]].head
    if any(len(s) < 2 or own in s for s in segments[:-1]) or len(segments[-1]) < 2:
        return False
    before = segments[-2]
    alike_all = all(alike(a, b) > 0.6 for a, b in pairwise(segments[:-1]))
    return alike_all and len(before & segments[-1]) > 0.75 * len(before)


def alike(one: frozenset[str], other: frozenset[str]) -> float:
    """The share that two sets have in common."""
    return len(one & other) / len(one | other) if one or other else 0.0


def kin_of(scopes: Sequence[Scope]) -> list[Kin]:
    """Scopes that differ in one word and hold the same, together; the others alone."""
    left = list(scopes)
    found: list[Kin] = []
    for pattern in dict.fromkeys(scope.row[0] for scope in left if scope.row[0]):
        rows = tuple((scope.row[1], scope) for scope in left if scope.row[0] == pattern)
        names = tuple(word for word, _ in chunks(pattern.replace("\0", " ")))
        found.append(Kin(rows[0][1].form, pattern, True, names, rows[0][1].remark, rows))
    left = [scope for scope in left if not scope.row[0]]
    by_words = _kin_by_words(left)
    while left:
        first = left[0]
        if LIST_ITEM.fullmatch(first.line):
            own = [s for s in left if LIST_ITEM.fullmatch(s.line) and s.sort == first.sort]
            found.append(_kin(first, [(s.cut[-1], s) for s in own], (first.cut[-1], "")))
            left = [scope for scope in left if scope not in own]
            continue
        if id(first) in by_words:
            kin = by_words[id(first)]
            found.append(kin)
            taken = {id(scope) for _, scope in kin.members}
            left = [scope for scope in left if id(scope) not in taken]
            continue
        best: list[tuple[str, Scope]] = []
        varying: tuple[str, str] = ("", "")
        for place in range(len(first.cut) - 1, -1, -1):
            prefixes = _prefixes(first.cut[place])
            glued = len(first.cut) == 1 or is_word(prefixes[0].casefold())
            for prefix in prefixes if glued else reversed(prefixes):
                members = _like(first, left, place, prefix)
                if len(members) > len(best):
                    best, varying = members, (first.cut[place], prefix)
        if len({word for word, _ in best}) >= 2 and _is_sort(best):
            found.append(_kin(first, best, varying))
            taken = {id(scope) for _, scope in best}
        else:
            same = [s for s in left if s.line == first.line and s.form is first.form]
            alone = tuple(("", scope) for scope in same)
            found.append(Kin(first.form, first.line, False, first.cut, first.remark, alone))
            taken = {id(scope) for scope in same}
        left = [scope for scope in left if id(scope) not in taken]
    return _kin_of_kin(found)


_LONE_NUMBER = re.compile(r"(?<!\w)(?<!\d\.)\d+(?!\w)(?!\.\d)")


def _kin_of_kin(found: Sequence[Kin]) -> list[Kin]:
    """Sorts of scopes whose lines differ in one number, together: `[Tune 1 *]`, `[Tune 2 *]`."""
    groups: dict[tuple[type, str], list[tuple[str, Kin]]] = {}
    for kin in found:
        numbers = list(_LONE_NUMBER.finditer(kin.line)) if kin.varies else []
        line, number = kin.line, ""
        if len(numbers) == 1:
            start, end = numbers[0].span()
            line, number = f"{line[:start]}\0{line[end:]}", numbers[0].group()
        groups.setdefault((kin.form, line), []).append((number, kin))
    made: list[Kin] = []
    for (_, line), kins in groups.items():
        first = kins[0][1]
        if len(kins) < 2 or "" in (number for number, _ in kins):
            made += [kin for _, kin in kins]
            continue
        found_first = _LONE_NUMBER.search(first.line)
        ahead = found_first is not None and line.index("\0") == found_first.start()
        members = tuple(
            (f"{number}\0{word}" if ahead else f"{word}\0{number}", scope)
            for number, kin in kins
            for word, scope in kin.members
        )
        names = tuple(name for name in first.names if not name.isdigit())
        made.append(Kin(first.form, line, True, names, first.remark, members))
    return made


def filled(line: str, word: str) -> str:
    """A scope's line with the word, or the words, of one member in its holes."""
    for each in word.split("\0"):
        line = line.replace("\0", each, 1)
    return line


def _kin_by_words(scopes: Sequence[Scope]) -> dict[int, Kin]:
    """Scopes whose names differ in a word, or several, of one list of the trade: the arms, say."""
    found: dict[int, Kin] = {}
    lines: dict[str, list[Scope]] = {}
    for scope in scopes:
        lines.setdefault(" ".join(scope.cut), []).append(scope)
    names = list(lines)
    if len(names) < 2:
        return found
    inside = {head for scope in scopes for head in scope.heads()}
    sorts: dict[str, list[tuple[str, Scope]]] = {}
    for name, with_holes in holed(names, tuple(inside)).items():
        if len(with_holes.words) == 1 and not with_holes.words[0].isdigit():
            sorts.setdefault(with_holes.pattern, []).extend(
                (with_holes.words[0], scope) for scope in lines[name]
            )
    for pattern, own in sorts.items():
        if len({word for word, _ in own}) < 2:
            continue
        members = [(_as_in_line(scope.line, word), scope) for word, scope in own]
        first = members[0][1]
        at = first.line.find(members[0][0])
        if at < 0 or "" in (word for word, _ in members):
            continue
        line = f"{first.line[:at]}\0{first.line[at + len(members[0][0]) :]}"
        words = tuple(word for word in pattern.replace("\0", " ").split() if word)
        remark = next((scope.remark for _, scope in members if scope.remark), "")
        kin = Kin(first.form, line, True, words, remark, tuple(members))
        found.update({id(scope): kin for _, scope in members})
    return found


def _as_in_line(line: str, name: str) -> str:
    """Words of a scope's name as its line has them: `front.left`; nothing where it parts them."""
    found = re.search(r"[\s.:/]".join(map(re.escape, name.split())), line)
    return found[0] if found else ""


def _is_sort(members: list[tuple[str, Scope]]) -> bool:
    """Two scopes whose varying words are no numbers must hold just the same."""
    words = {word for word, _ in members}
    counted = {word.isdigit() or word.casefold() in ORDINALS for word in words}
    if len(words) > 2 or counted == {True}:
        return True
    if all(map(is_word, words)) and not is_closed_list(tuple(words)):
        return False  # each says what it is about: `board turn`, `compass turn`
    first = members[0][1]
    return len(first.cut) > 1 and all(scope.lengths() == first.lengths() for _, scope in members)


def _prefixes(word: str) -> tuple[str, ...]:
    glued = _GLUED.fullmatch(word)
    return (glued.group(1), "") if glued else ("",)


def _like(
    first: Scope, scopes: Sequence[Scope], place: int, prefix: str
) -> list[tuple[str, Scope]]:
    found: list[tuple[str, Scope]] = []
    for scope in scopes:
        if scope.form is not first.form or len(scope.cut) != len(first.cut):
            continue
        rest = scope.cut[:place] + scope.cut[place + 1 :]
        if rest != first.cut[:place] + first.cut[place + 1 :]:
            continue
        word = scope.cut[place]
        if prefix and not (word.startswith(prefix) and word[len(prefix) :].isdigit()):
            continue
        ordinals = {word.casefold(), first.cut[place].casefold()} <= ORDINALS
        if (
            prefix
            or (rest and word.isdigit())
            or (ordinals and not scope.heads().isdisjoint(first.heads()))
            or alike(scope.heads(), first.heads()) >= (0.3 if rest else 0.7)
            or (scope.heads() and len(first.heads()) <= 4 and scope.heads() < first.heads())
        ):
            found.append((word[len(prefix) :], scope))
    return found


def _kin(first: Scope, members: list[tuple[str, Scope]], varying: tuple[str, str]) -> Kin:
    word, prefix = varying
    at = first.line.rindex(word)
    line = f"{first.line[:at]}{prefix}\0{first.line[at + len(word) :]}"
    names = tuple(w if w != word else prefix for w in first.cut if w != word or prefix)
    if not names:  # what tells of them is told by the words that vary
        names = tuple(dict.fromkeys(m.group() for w, _ in members if (m := _LETTERS.match(w))))
        names = names if len(names) <= 2 else ()
    remark = next((scope.remark for _, scope in members if scope.remark), "")
    return Kin(first.form, line, True, names, remark, tuple(members))
