"""Every key of some dumps, with the values seen: lines of one sort together, cut into fields."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from cfgaudit.reading.shapes import Assignment, Directive, Row, Span, named
from cfgaudit.reading.text import Place
from cfgaudit.teach.columns import CellTable, table_of
from cfgaudit.teach.indices import HOLE, Holed, counted_on, holed, lettered
from cfgaudit.teach.labels import NOTHING, SAID
from cfgaudit.teach.measures import GLUED_UNIT, glued_pieces, same_dimension, unit_of
from cfgaudit.teach.scoped import Kin, Scope, ScopedLine
from cfgaudit.teach.scopes import VERBS, inner_pieces, kin_of, opening_of
from cfgaudit.teach.sentences import is_range
from cfgaudit.teach.words import choices, is_channel, is_word, tokens
from cfgaudit.vocabulary.units import convert, is_unit

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")
# The first number's unit, if it has one, stands in what parts the two: 1700us..2100us.
_RANGE = re.compile(
    r"([+-]?\d+(?:\.\d+)?)"
    r"(\.\.\.?|-|:|/|(?P<unit>[A-Za-z%]{1,5})(?:\.\.\.?|-)(?=\d+(?:\.\d+)?(?P=unit)$))"
    r"(\d+(?:\.\d+)?)([A-Za-z%]{0,5})"
)
_LETTERED = re.compile(r"([A-Za-z]{1,7})(\d+(?:\.\d+)?)")
_LETTER = re.compile(rf"[A-Za-z]?{HOLE}")


class Sample(NamedTuple):
    """One value seen: its text, where it stands, and the words of the indices it stands under."""

    text: str
    place: Place
    under: tuple[str, ...]


@dataclass
class Field:
    """One place in lines of one sort where a value stands; looked at once it is whole."""

    names: tuple[str, ...]  # its own: the key, the name of the column, the words beside it
    samples: list[Sample] = field(default_factory=list)
    unit: str = ""  # as a cell of its line states it
    step: str = ""
    switch: bool = False  # the value is whether the line is negated
    lettered: bool = False  # letters stand glued before the number, as in ch5
    glued: bool = False  # each number has its own unit glued on
    mixed: bool = False  # numbers of several units, each in the word behind
    is_flag: bool = False  # the kind of its line has no other numbers than 0 and 1
    order: tuple[int, int] = (0, 1)  # which one of the values of one part of its line it is

    @cached_property
    def numbers(self) -> list[float]:
        """The samples that are numbers."""
        if self.glued:
            return []
        return [float(s.text) for s in self.samples if _NUMBER.fullmatch(s.text)]

    def numbers_of(self, unit: str) -> list[float] | None:
        """The samples that are numbers with units of their own, in another unit; None: some can't.

        Words among them are left out.
        """
        found: list[float] = []
        for sample in self.samples:
            cut = GLUED_UNIT.fullmatch(sample.text)
            measure = unit_of(cut.group(2)) if cut else None
            if cut is None or measure is None:
                if sample.text[:1].isalpha():
                    continue
                return None
            if not is_unit(cut.group(2)) or not same_dimension(measure.unit, unit):
                return None
            found.append(float(convert(Fraction(cut.group(1)), measure.unit, unit)))
        return found or None

    def without(self, texts: Sequence[str]) -> "Field":
        """The field without the samples that are these texts."""
        kept = [sample for sample in self.samples if sample.text not in texts]
        return Field(self.names, kept, self.unit, self.step, glued=self.glued)

    @cached_property
    def words(self) -> list[str]:
        """The samples that are no numbers, each once, those that mean nothing left out."""
        other = (s.text for s in self.samples if not _NUMBER.fullmatch(s.text))
        return [w for w in dict.fromkeys(other) if w and w.casefold() not in NOTHING]


FieldTemplate = tuple[
    str | int, ...
]  # literal text, and the numbers of fields (-1: the line's index)


@dataclass
class Family:
    """Lines of one sort: the contexts they stand in, their index words, their fields."""

    chain: tuple[Kin, ...]
    form: type
    head: str
    context: tuple[str, ...]  # words of the contexts and the remarks above
    remarks: tuple[str, ...]
    indices: list[list[str]] = field(default_factory=list)  # the words of each index, as seen
    fields: list[Field] = field(default_factory=list)
    parts: list[tuple[str, FieldTemplate]] = field(
        default_factory=list
    )  # name of name=value, pieces
    ways: dict[FieldTemplate, list[int]] = field(
        default_factory=dict
    )  # of sentences: what follows the key, and the numbers of the lines that are worded so
    flags: dict[int, str] = field(default_factory=dict)  # fields that words say by being there
    turned: set[tuple[FieldTemplate, int]] = field(default_factory=set)  # of a way, those that it
    # counts the other way round
    required: int = 0  # parts that every line has; the others are optional
    own_index: bool = False  # the last index is a word of the line itself
    many: bool = False  # the last field takes the rest of the line
    negated: bool = False  # some line of it was negated
    tail: str = ""  # cells behind, that every line has alike
    sign: str = "="  # of an assignment, or of its name=value words
    spaced: bool = False  # blanks stand around the sign
    between: str = ","  # of a row
    before_name: int = 0  # cells of a row before its name
    more: bool = False  # other columns stand behind the value
    between_name: int = 0  # cells of a row between its name and its value
    off_row: str = ""  # the values of a row that has a word for nothing in each place
    switched_off: str = ""  # the word for nothing that a line has where others have their values
    before: tuple[tuple[bool, str], ...] = ()  # verbs before the head, each with whether it negates
    bare: bool = True  # some line has no verb before its head
    header: str = ""  # the head row above its rows, as the dump has it
    opening: str = ""  # the remarks at the top of the dump
    lines: list[int] = field(default_factory=list)  # the numbers of its lines, dump by dump
    counts: dict[str, str] = field(default_factory=dict)  # the number of each row that has a name
    lead: str = ""  # the word before the head that says of what kind the value is


def families_of(roots: Sequence[Scope]) -> list[Family]:
    """All families of some dumps of one firmware, in the order of the first."""
    top = Kin(Directive, "", False, (), "", tuple(("", root) for root in roots))
    found = list(_families((), [((), root) for _, root in top.members]))
    _mark_flags(found)
    return _opposites_joined(found)


def _opposites_joined(families: Sequence[Family]) -> list[Family]:
    """The families, what is hidden with what is shown where they differ in nothing but the verb.

    The words of both are those of one list: `show speed at row 2`, `hide horizon at row 8`.
    """
    gone: set[int] = set()
    for family in families:
        others = [
            other
            for other in families
            if family.own_index and other.own_index and other.head == VERBS.get(family.head)
            if other.chain == family.chain and other.parts == family.parts
        ]
        for other in others:
            new = [word for word in other.indices[-1] if word not in family.indices[-1]]
            family.indices[-1] += new
            gone.add(id(other))
    return [family for family in families if id(family) not in gone]


_FEWEST_FLAGS = 4  # sorts of lines whose kind has no other numbers than 0 and 1


def _mark_flags(families: Sequence[Family]) -> None:
    """Tell of the fields whose kind, the word before their key, is for what is on or off."""
    kinds: dict[str, list[Field]] = {}
    for family in families:
        if family.lead:
            kinds.setdefault(family.lead, []).extend(family.fields)
    for fields in kinds.values():
        texts = {sample.text for one in fields for sample in one.samples}
        if len(fields) >= _FEWEST_FLAGS and texts == {"0", "1"}:
            for one in fields:
                one.is_flag = True


ScopeMembers = Sequence[
    tuple[tuple[str, ...], Scope]
]  # scopes of one sort, each with its index words


def _families(chain: tuple[Kin, ...], members: ScopeMembers) -> Iterator[Family]:
    lines: list[tuple[tuple[str, ...], ScopedLine]] = []
    tables: list[tuple[tuple[str, ...], CellTable]] = []
    told: dict[tuple[str, ...], list[tuple[tuple[str, ...], CellTable]]] = {}
    for index, scope in members:
        named_rows = [e for e in scope.entries if isinstance(e.shape, Row) and e.titles]
        for titles in dict.fromkeys(entry.titles for entry in named_rows):
            own = tuple(entry for entry in named_rows if entry.titles == titles)
            told.setdefault(titles, []).append((index, CellTable(titles, own, "", items=False)))
        others = [entry for entry in scope.entries if entry not in named_rows]
        rows = [entry for entry in others if isinstance(entry.shape, Row)]
        table = table_of(rows)
        longer = _longer_rows(table) if table is not None and table.items else ()
        if table is not None and longer:
            kept = tuple(row for row in table.rows if row not in longer)
            table = replace(table, rows=kept)
        lines += [
            (index, entry) for entry in others if not isinstance(entry.shape, Row) or table is None
        ]
        lines += [(index, replace(entry, parts=entry.parts[1:])) for entry in longer]
        if table is not None:
            tables.append((index, table))
    for (form, head, *_), entries in _sorted_out(lines, chain).items():
        yield from _line_families(chain, form, head, entries)
    for of_one_sort in (tables, *told.values()):
        if of_one_sort:
            yield from _table_families(chain, of_one_sort)
    paired = [(index, scope, below) for index, scope in members for below in scope.inner]
    owner = {id(below): index for index, _, below in paired}
    for kin in kin_of([below for _, _, below in paired]):
        under = [
            ((*owner[id(s)], *word.split(HOLE)) if kin.varies else owner[id(s)], s)
            for word, s in kin.members
        ]
        yield from _families((*chain, kin), under)


def _longer_rows(table: CellTable) -> tuple[ScopedLine, ...]:
    """The rows of a table of settings that have more values than one, and no cells besides."""
    usual = Counter(len(row.parts) for row in table.rows).most_common(1)[0][0]
    return tuple(
        row
        for row in table.rows
        if len(row.parts) > usual
        and sum(bool(_NUMBER.fullmatch(cell.text)) for cell in row.parts[1:]) > 2
    )


ScopedLines = list[tuple[tuple[str, ...], ScopedLine]]


Sort = tuple[type, str, bool, str]


def _sorted_out(lines: ScopedLines, chain: tuple[Kin, ...]) -> dict[Sort, ScopedLines]:
    """Lines of one sort together: the same key but for its indices, with a value or without."""
    context = [name for kin in chain for name in kin.names]
    found: dict[Sort, ScopedLines] = {}
    sorts: dict[tuple[type, bool], ScopedLines] = {}
    sentences, lines = _sentences_sorted(lines, context)
    found |= sentences
    lines = _words_beside_rows(lines)
    for index, entry in lines:
        bare = isinstance(entry.shape, Directive) and not entry.parts
        sorts.setdefault((type(entry.shape), bare), []).append((index, entry))
    for (form, bare), own in sorts.items():
        items = [entry.head for _, entry in own if entry.header and not entry.titles]
        others = [entry.head for _, entry in own if not entry.header or entry.titles]
        with_holes = lettered(holed(items, context, lists=False) | holed(others, context))
        with_holes |= _last_word_out([entry.head for _, entry in own if entry.whole])
        with_holes |= counted_on({entry.head: entry.remark for _, entry in own[::-1]}, context)
        with_holes |= _words_beside_lists(own, with_holes)
        with_holes |= _names_before_labels(own)
        for index, entry in own:
            pattern, words = with_holes[entry.head]
            fresh = replace(entry, index=words, head=pattern)
            sort = entry.lead + (entry.sort or _items(entry))
            found.setdefault((form, pattern, bare, sort), []).append(((*index, *words), fresh))
    _join_idle(found)
    return found


_ONE_RANGE = r"\d+[a-z]* ?(?:to|-|\.\.) ?\d+[a-z]*"
_RANGES = re.compile(rf"{_ONE_RANGE}(?:, ?{_ONE_RANGE})+")


def _items(entry: ScopedLine) -> str:
    """How many items of several values a list has: of its sort are those of as many."""
    text = entry.parts[0].text if isinstance(entry.shape, Assignment) else ""
    ranges = _RANGES.fullmatch(text) is not None  # `900us to 1250us, 1400us to 1600us`
    items = text.strip("[] ").split(",") if text.startswith("[") or ranges else []
    several = items and all(re.search(r"\w \S|\d\.\.", item.strip()) for item in items)
    return f"{len(items)} items" if several else ""


def _names_before_labels(lines: ScopedLines) -> dict[str, Holed]:
    """First words that name things of one sort, as the same labels follow: `o1 use motor timer t2`.

    Their letters differ, so none is known by its number alone.
    """
    sorts: dict[tuple[str, ...], list[str]] = {}
    for _, entry in lines:
        labels = tuple(span.text for span in entry.parts[::2])
        pairs = len(entry.parts) >= 4 and len(entry.parts) % 2 == 0
        own = not entry.is_cut and not entry.header
        if pairs and own and all(label.isidentifier() for label in labels):
            sorts.setdefault(labels, []).append(entry.head)
    return {
        head: Holed(HOLE, (head,))
        for heads in sorts.values()
        if len(heads) == len(set(heads)) >= _LEAST_LISTS and not any(" " in h for h in heads)
        if len({head.rstrip("0123456789") for head in heads}) > 1
        for head in heads
    }


def _join_idle(found: dict[Sort, ScopedLines]) -> None:
    """Put lines that say nothing but off to the one sort of their key: `name: hidden`."""
    for (form, pattern, bare, sort), entries in list(found.items()):
        others = [own for own in found if own[:3] == (form, pattern, bare) and own[3]]
        off = [len(e.parts) == 1 and e.parts[0].text.casefold() in NOTHING for _, e in entries]
        if not sort and HOLE in pattern and all(off) and len(others) == 1:
            found[others[0]] += found.pop((form, pattern, bare, sort))


def _words_beside_lists(lines: ScopedLines, with_holes: Mapping[str, Holed]) -> dict[str, Holed]:
    """Keys of their own whose value is a word, where their like have several numbers each.

    `osd_picture = pal`, beside `osd_timer = 15, 23`; what is off is one of them.
    """
    sorts: dict[str, list[ScopedLine]] = {}
    for _, entry in lines:
        if not entry.is_cut and entry.parts and with_holes[entry.head].words:
            sorts.setdefault(with_holes[entry.head].pattern, []).append(entry)
    found: dict[str, Holed] = {}
    for entries in sorts.values():
        lists = [e for e in entries if _has_numbers(e)]
        if len(lists) >= _LEAST_LISTS and len(lists) > 0.5 * len(entries):
            found |= {
                e.head: Holed(e.head, ())
                for e in entries
                if all(p.text.isalpha() for p in e.parts)
                if e.parts[0].text.casefold() not in NOTHING
            }
    return found


_LEAST_LISTS = 3


def _has_numbers(entry: ScopedLine) -> bool:
    """Whether a line has several numbers, with or without other words."""
    single = sum(bool(_NUMBER.fullmatch(span.text)) for span in entry.parts)
    return single > 1 or len(_listed(entry.parts)[0]) > 1 or bool(_items(entry))


def _words_beside_rows(lines: ScopedLines) -> ScopedLines:
    """The lines; two words behind a key that others have before rows of numbers: name and value.

    `travel source measured`, beside `travel 1 1004 1502 1998`.
    """
    rows = Counter(
        entry.head
        for _, entry in lines
        if isinstance(entry.shape, Directive) and not entry.header and len(entry.parts) > 2
        if _has_numbers(entry)
    )
    return [
        (
            index,
            replace(
                entry,
                head=f"{entry.head} {entry.parts[0].text}",
                parts=entry.parts[1:],
                titles=(),
                indexed=False,
            ),
        )
        if rows[entry.head] >= _LEAST_LISTS
        and len(entry.parts) == 2
        and all(span.text.isalpha() for span in entry.parts)
        and entry.parts[1].text.casefold() not in NOTHING
        else (index, entry)
        for index, entry in lines
    ]


def _sentences_sorted(
    lines: ScopedLines, context: Sequence[str]
) -> tuple[dict[Sort, ScopedLines], ScopedLines]:
    """Sentences of one sort together, with lines that say off beside switches; the other lines."""
    said = [(index, entry) for index, entry in lines if entry.phrases]
    found: dict[Sort, ScopedLines] = {}
    if not said:
        return found, lines
    left = [(index, entry) for index, entry in lines if not entry.phrases]
    for switched in (True, False):
        own = [(i, entry) for i, entry in said if is_range(entry.phrases) is switched]
        labels = [phrase.label for _, entry in own for phrase in entry.phrases]
        heads = [entry.head for _, entry in own]
        idle = [entry.switched_off for _, entry in left if switched and entry.switched_off]
        with_holes = lettered(holed([*heads, *idle], [*context, *labels]))
        with_holes |= _letters_out([h for h in heads if not with_holes[h].words])
        if switched and not any(with_holes[head].words for head in heads):
            with_holes |= _whole_keys([*heads, *idle])
        for index, entry in own:
            known = Holed(entry.head, entry.index) if entry.index else None
            pattern, words = known or with_holes[entry.head]
            fresh = replace(entry, index=words, head=pattern)
            sort = (Directive, pattern, False, entry.skeleton or "sentence")
            found.setdefault(sort, []).append(((*index, *words), fresh))
        for index, entry in list(left) if idle else ():
            pattern, words = with_holes.get(entry.switched_off, Holed("", ()))
            sort = (Directive, pattern, False, "sentence")
            if sort in found and words:
                left.remove((index, entry))
                fresh = replace(entry, index=words, head=pattern)
                found[sort].append(((*index, *words), fresh))
    return found, left


def _letters_out(heads: Sequence[str]) -> dict[str, Holed]:
    """Keys that differ in a letter alone: `Port A talks to`, `Port B talks to`."""
    groups: dict[str, dict[str, str]] = {}
    for head in heads:
        for letter in re.finditer(r"(?<= )[A-Z](?= )", head):
            pattern = f"{head[: letter.start()]}{HOLE}{head[letter.end() :]}"
            groups.setdefault(pattern, {})[head] = letter.group()
    return {
        head: Holed(pattern, (letter,))
        for pattern, own in groups.items()
        if len(own) >= 3
        for head, letter in own.items()
    }


def _whole_keys(heads: Sequence[str]) -> dict[str, Holed]:
    """Keys of three switches or more as indices, but for the last word that they share."""
    keys = [head.rstrip(":").split() for head in dict.fromkeys(heads)]
    if len(keys) < 3:
        return {}
    last = {key[-1] for key in keys}
    shared = f" {last.pop()}:" if len(last) == 1 and all(len(key) > 1 for key in keys) else ":"
    return {head: Holed(f"{HOLE}{shared}", (head.removesuffix(shared),)) for head in heads}


def _last_word_out(heads: Sequence[str]) -> dict[str, Holed]:
    """Keys before a block in braces that differ in their last word: `pad a { ... }`."""
    groups: dict[str, list[str]] = {}
    for head in dict.fromkeys(heads):
        front, _, last = head.rpartition(" ")
        if front and '"' not in head and not last.isdigit():
            groups.setdefault(front, []).append(last)
    return {
        f"{front} {word}": Holed(f"{front} {HOLE}", (word,))
        for front, words in groups.items()
        if len(words) >= 3
        for word in words
    }


def _context(chain: tuple[Kin, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(n for kin in chain for n in kin.names), tuple(k.remark for k in chain)


def _line_families(
    chain: tuple[Kin, ...],
    form: type,
    head: str,
    entries: list[tuple[tuple[str, ...], ScopedLine]],
) -> Iterator[Family]:
    context, remarks = _context(chain)
    remarks = (*remarks, entries[0][1].remark)
    family = Family(chain, form, head, context, remarks, lead=entries[0][1].lead)
    if entries[0][1].phrases:
        _fill_sentences(family, entries)
        yield family
        return
    family.before = tuple(dict.fromkeys((e.negated, e.before) for _, e in entries if e.before))
    family.bare = not all(entry.before for _, entry in entries if not entry.negated)
    family.negated = any(entry.negated for _, entry in entries)
    family.header = entries[0][1].header
    if form is Directive and re.search(r"[;()]", head):
        return  # a key and a value in a shape that can't be taken apart
    family.more = any(entry.more for _, entry in entries)
    single = (
        " " not in head and not entries[0][1].header and HOLE not in head and form is not Assignment
    )
    family.own_index = single and not entries[0][1].is_cut and _is_indexed(entries)
    family.own_index = family.own_index or entries[0][1].indexed
    if family.own_index and (letters := _letters_of_channels(entries)):
        family.own_index = False
        head = family.head = f"{head} {letters}{HOLE}"
        entries = [
            ((*index, one.parts[0].text[len(letters) :]), _without_first(one))
            for index, one in entries
        ]
    rows: list[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]] = []
    family.counts = {index[-1]: one.count for index, one in entries if one.count and index}
    for index, entry in entries:
        if family.own_index:
            rows.append(((*index, entry.parts[0].text), entry, entry.parts[1:]))
        else:
            rows.append((index, entry, _words_joined(entry)))
    fill(family, rows, dict(enumerate(entries[0][1].titles or _names_behind(entries[0][1], rows))))
    for one in family.fields:
        one.unit = one.unit or entries[0][1].unit
        one.step = one.step or entries[0][1].step
    yield family


def _letters_of_channels(entries: list[tuple[tuple[str, ...], ScopedLine]]) -> str:
    """The letters before the numbers of the first words behind a head that say a channel's: ch5."""
    cut = [_LETTERED.fullmatch(entry.parts[0].text) for _, entry in entries if entry.parts]
    letters = {found.group(1) if found else "" for found in cut}
    last = min(letters, default="")
    own = len(letters) == 1 and last and is_channel(last)
    return last if own and not any(e.header or e.titles or e.barred for _, e in entries) else ""


def _without_first(entry: ScopedLine) -> ScopedLine:
    """A line without the first of its parts."""
    labels = frozenset(at - 1 for at in entry.labels)
    return replace(entry, parts=entry.parts[1:], labels=labels, indexed=False)


def _names_behind(
    entry: ScopedLine, rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]]
) -> tuple[str, ...]:
    """The names that a remark behind a line gives its values: `-24 66  # roll pitch`."""
    said = re.split(r"[;:]| of ", entry.behind)[0]
    names = tuple(re.findall(r"[A-Za-z][\w-]*", said))
    counts = {len(parts) for _, _, parts in rows}
    return names if len(names) > 1 and counts == {len(names)} else ()


def _words_joined(entry: ScopedLine) -> Sequence[Span]:
    """The parts of a line, words that follow each other behind a colon, or dots, as one."""
    parts = entry.parts
    if entry.barred and len(parts) == 2 and parts[1].text.isdigit():
        name = parts[0].text
        chosen = f"{name}{parts[1].text}".casefold() in choices()  # dshot 600
        if chosen or (name.istitle() and not is_word(name.casefold())):  # a name with a number
            return (Span(f"{name} {parts[1].text}", parts[0].start),)
    if not isinstance(entry.shape, Directive) or not (entry.barred or entry.head.endswith(":")):
        return entry.parts
    found: list[Span] = []
    for span in entry.parts:
        word = span.text[:1].isalpha() and named(span) is None and span.text not in _BETWEEN
        goes_on = bool(found) and named(found[-1]) is None and found[-1].text not in _BETWEEN
        if word and goes_on and found[-1].text[:1].isalpha():
            found[-1] = Span(f"{found[-1].text} {span.text}", found[-1].start)
        else:
            found.append(span)
    return found


_BETWEEN = frozenset({"at", "on", "from", "to", "by", "with"})  # words between values


def _is_indexed(entries: list[tuple[tuple[str, ...], ScopedLine]]) -> bool:
    """Whether the first word behind the head tells the lines apart."""
    seen: dict[tuple[str, ...], list[str]] = {}
    for index, entry in entries:
        if not entry.parts or named(entry.parts[0]):
            return False
        seen.setdefault(index, []).append(entry.parts[0].text)
    most = max(seen.values(), key=len)
    return len(set(most)) >= 2 and len(set(most)) >= 0.7 * len(most)


def _table_families(
    chain: tuple[Kin, ...], tables: list[tuple[tuple[str, ...], CellTable]]
) -> Iterator[Family]:
    context, remarks = _context(chain)
    header = tables[0][1].header
    title = tables[0][1].title
    if tables[0][1].items:
        lines = [(index, entry) for index, table in tables for entry in table.rows]
        for (_, head, *_), entries in _sorted_out(lines, chain).items():
            at = tables[0][1].value
            rows = [(index, entry, entry.parts[at : at + 1]) for index, entry in entries]
            told = (*remarks, entries[0][1].remark) if not chain else remarks
            family = Family(chain, Row, head, context, told, header=title)
            fill(family, rows, {})
            family.before_name = tables[0][1].name
            family.between_name = at - 1 - family.before_name
            tails = {
                family.between.join(["", *(span.text for span in entry.parts[at + 1 :])])
                for _, entry in entries
            }
            headed = tables[0][1].is_headed and tails != {""}
            blank = any(tail and not tail.strip() for tail in tails)  # a mapping line ends in none
            family.tail = (
                f"{family.between}..." if headed or blank or len(tails) > 1 else tails.pop()
            )
            for one in family.fields:
                unit, one.step = tables[0][1].unit_and_step(rows[0][1].parts)
                one.unit = unit or one.unit
                one.mixed = (
                    len({tables[0][1].unit_and_step(e.parts)[0] for _, e, _ in rows} - {""}) > 1
                )
            yield family
        return
    above = tables[0][1].rows[0].remark
    remarks = (*remarks, above) if above else remarks
    family = Family(chain, Row, "", context, remarks, own_index=True, header=title)
    names = {i - 1: name for i, name in enumerate(header) if i}
    all_rows = [
        ((*index, entry.head), entry, entry.parts[1:])
        for index, table in tables
        for entry in table.rows
    ]
    fill(family, all_rows, names)
    yield family


def fill(  # noqa: C901 (a sort of part a case)
    family: Family,
    rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]],
    columns: dict[int, str],
) -> None:
    """Give a family its index words and its fields from its lines."""
    depth = len(rows[0][0])
    shape = rows[0][1].shape
    if isinstance(shape, Assignment):
        family.sign = shape.sign
        family.spaced = shape.value.start > shape.key.end + 1
    elif isinstance(shape, Row) and "," not in shape.body.text:
        family.between = "\t"
    rows = _units_joined(rows) if family.form is Directive else rows
    family.lines = [entry.statement.line for _, entry, _ in rows]
    family.opening = opening_of(rows[0][1].document)
    family.switched_off = next(
        (p[0].text for _, _, p in rows if len(p) == 1 and p[0].text.casefold() in NOTHING),
        _lone_zero([p[0].text for _, _, p in rows if len(p) == 1]),
    )
    family.indices = [list(dict.fromkeys(index[d] for index, _, _ in rows)) for d in range(depth)]
    if family.form is Directive and not any(parts for _, _, parts in rows):
        _switch_field(family, rows)
        return
    family.off_row = next((row for _, _, parts in rows if (row := _off_row(parts))), "")
    slots = _slots(family, rows)
    counts = Counter(len(parts) for _, e, parts in rows if not e.negated)
    family.required = min(counts, default=0)
    ends = {parts[-1].text for _, _, parts in rows if len(parts) == family.required > 1}
    family.required -= bool(ends) and all(map(_is_mark, ends))  # other dumps may not have it
    usual = counts.most_common(1)[0][0] if counts else 0
    labels = {at - family.own_index for _, entry, _ in rows for at in entry.labels}
    titled = labels or (rows[0][1].titles and not _is_counted(rows[0][1].titles))
    if not titled and _is_list(family, rows):
        _list_field(family, rows, columns)
        return
    label = before = ""
    of_items = rows[0][1].header and not rows[0][1].titles
    columns_before = usual - 1 if of_items else 0  # of a table: they say nothing
    for name, found in slots.items():
        if name.isdigit() and int(name) < columns_before and found[0][2].text != "|":
            family.parts.append(("", (-1,)))
            continue
        if name.isdigit() and int(name) in labels:
            label = _label_behind(before, _end_of_range(found[0][2].text, rows[0][1]))
            before = before or label
            family.parts.append(("", (found[0][2].text,)))
            continue
        if (
            family.form is Directive
            and name.isdigit()
            and not titled
            and _is_unit_of(family, found)
        ):
            family.parts.append(("", (found[0][2].text,)))
            continue
        if family.form is Directive and family.fields and family.fields[-1].numbers:
            units = {span.text for _, _, span in found}
            family.fields[-1].mixed = len(units) > 1 and all(map(_is_unit_text, units))
        title = columns.get(int(name), "") if name.isdigit() else name
        texts = {span.text for _, _, span in found}
        constant = family.form is Directive and len(found) > 2 and len(texts) == 1 and not titled
        if _goes_on_behind_unit(family, texts):  # `3.5 V per cell`
            family.parts.append(("", (min(texts),)))
            continue
        if constant and name.isdigit() and int(name) + 1 < usual and _is_label(min(texts)):
            label = f"{label} {min(texts)}".strip()
            family.parts.append(("", (min(texts),)))
            continue
        _slot(family, "" if name.isdigit() else name, title or label, found)
        label = ""
    if family.form is Directive and family.negated:
        _switch_field(family, rows)
    if family.form is Directive:
        _name_by_key(family)
    behind = {entry.behind.strip("() .") for _, entry, _ in rows}
    numbers = [one for one in family.fields if one.numbers]
    if len(numbers) == len(behind) == 1 and _is_unit_text(min(behind)):  # `3800  # MB`
        numbers[0].unit = numbers[0].unit or min(behind)


def _name_by_key(family: Family) -> None:
    """Values in the order of their names, which a key ends with: `set roll p i d to 57 86 37`."""
    front = [word for word in family.head.removesuffix(" to").split() if word != "and"]
    count = len(family.fields)
    named_last = front[-count:]
    if not family.head.endswith(" to") or count < 2 or len(front) <= count:
        return
    if HOLE in named_last or len(set(named_last)) < count or not all(map(str.isalpha, named_last)):
        return
    for seen, name in zip(family.fields, named_last, strict=True):
        seen.names = (name, " ".join(front[:-count]))


def _lone_zero(texts: Sequence[str]) -> str:
    """The 0 that stands alone where most others of its sort are several numbers: it says none."""
    several = [text for text in texts if len(text.split()) > 1]
    alone = set(texts) - set(several) == {"0"} and 2 * len(several) > len(texts)
    return "0" if alone and all(_NUMBER.fullmatch(w) for t in several for w in t.split()) else ""


def _goes_on_behind_unit(family: Family, texts: set[str]) -> bool:
    """Whether a word says more of the unit before it, in every line."""
    units = [
        pieces for _, pieces in family.parts if len(pieces) == 1 and isinstance(pieces[0], str)
    ]
    last = family.parts[-1][1] if family.parts else ()
    after = len(last) == 1 and isinstance(last[0], str) and bool(family.fields)
    after = after and any(_is_unit_text(str(pieces[0])) for pieces in units)
    only = family.form is Directive and len(texts) == 1 and min(texts).isalpha()
    return after and only and len(family.fields) == 1 and bool(family.fields[0].unit)


def _off_row(parts: Sequence[Span]) -> str:
    """The parts of a row, where all of them say nothing: `- - -`; else nothing."""
    texts = [span.text for span in parts]
    nothing = len(texts) > 1 and len(set(texts)) == 1 and texts[0].casefold() in NOTHING
    return " ".join(texts) if nothing else ""


def _units_joined(
    rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]],
) -> Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]]:
    """The rows, the last number and the unit behind it as one part where not all have that unit."""
    last = [[span.text for span in parts[-2:]] for _, _, parts in rows]
    units = {
        own[1] if len(own) == 2 and _NUMBER.fullmatch(own[0]) and _is_unit_text(own[1]) else ""
        for own in last
    }
    if len(units) < 2 or max(len(parts) for _, _, parts in rows) > 2:
        return rows
    return [(index, entry, _with_unit(parts, units)) for index, entry, parts in rows]


def _with_unit(parts: Sequence[Span], units: set[str]) -> Sequence[Span]:
    """A number and one of some units behind it as one part; other parts as they are."""
    if len(parts) != 2 or parts[1].text not in units or not _NUMBER.fullmatch(parts[0].text):
        return parts
    return (Span(f"{parts[0].text} {parts[1].text}", parts[0].start),)


def _fill_sentences(family: Family, rows: ScopedLines) -> None:
    """Give a family of sentences its index words, its fields, and each way that one is worded."""
    family.lines = [entry.statement.line for _, entry in rows]
    family.opening = opening_of(rows[0][1].document)
    depth = len(rows[0][0])
    family.indices = [list(dict.fromkeys(index[d] for index, _ in rows)) for d in range(depth)]
    family.required = 1
    numbers: dict[tuple[str, int], int] = {}
    for index, entry in rows:
        if not entry.phrases:
            family.switched_off = entry.parts[-1].text
            continue
        way: list[str | int] = [entry.opening] if entry.opening else []
        at = entry.rest.start
        nameless = 0
        for phrase in entry.phrases:
            nameless += not phrase.label
            number = numbers.setdefault(
                (phrase.label, 0 if phrase.label else nameless), len(numbers)
            )
            if number == len(family.fields):
                names = (phrase.label, family.head)
                family.fields.append(Field(names, unit=phrase.unit, switch=phrase.flag))
                family.flags |= {number: phrase.span.text} if phrase.flag else {}
            text = "on" if phrase.flag else f"{'-' * phrase.turned}{phrase.span.text}"
            sample = Sample(text, _place(entry, phrase.span), index)
            units = {phrase.unit, family.fields[number].unit} - {""}
            family.fields[number].mixed |= len(units) > 1
            family.fields[number].samples.append(sample)
            start = phrase.span.start - entry.rest.start
            way += [entry.rest.text[at - entry.rest.start : start], number]
            at = phrase.span.end
        way.append(entry.rest.text[at - entry.rest.start :])
        template = tuple(piece for piece in way if piece != "")
        family.ways.setdefault(template, []).append(entry.statement.line)
        turned = [numbers[one.label, 0] for one in entry.phrases if one.turned]
        family.turned.update((template, number) for number in turned)
    family.parts = [("", next(iter(family.ways)))]


def _is_unit_of(family: Family, found: Sequence[tuple[tuple[str, ...], ScopedLine, Span]]) -> bool:
    """Whether a part is the unit of the numbers before it, in every line; they are told so."""
    texts = {span.text for _, _, span in found}
    text = min(texts)
    last = family.fields[-1] if family.fields and family.parts else None
    if last is None or len(texts) > 1 or not _is_unit_text(text) or not last.numbers:
        return False
    ends = {(s.place.line, s.place.end) for s in last.samples if _NUMBER.fullmatch(s.text)}
    places = [_place(entry, span) for _, entry, span in found]
    behind = {(place.line, (place.column or 0) - 1) for place in places}
    if not behind <= ends or last.words:
        return False
    last.unit = last.unit or text
    return True


def _label_behind(before: str, label: str) -> str:
    """A label; of one that says nothing alone, with the first of its line: `deadband 6 yaw 10`."""
    sticks = ("roll", "pitch", "yaw", "throttle")
    behind = label.casefold() in sticks and before.casefold() not in ("", *sticks)
    return f"{before} {label}" if behind else label


def _end_of_range(label: str, entry: ScopedLine) -> str:
    """Which end of a range a label says: `between 1750 and 2100`."""
    both = {"between": "low", "and": "high"} if "between" in entry.sort.split() else {}
    return both.get(label, label)


def _is_counted(titles: Sequence[str]) -> bool:
    """Whether the titles of columns are one word with a number: `ch1`, `ch2`."""
    return len({title.rstrip("0123456789") for title in titles}) == 1


def _slots(
    family: Family, rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]]
) -> dict[str, list[tuple[tuple[str, ...], ScopedLine, Span]]]:
    """The parts of lines by their names, or by their places where they have none."""
    slots: dict[str, list[tuple[tuple[str, ...], ScopedLine, Span]]] = {}
    for index, entry, parts in rows:
        position = 0
        for span in parts:
            pair = named(span) if family.form is Directive else None
            name = pair[0] if pair else str(position)
            family.sign = span.text[len(name)] if pair else family.sign
            position += pair is None
            slots.setdefault(name, []).append((index, entry, pair[1] if pair else span))
    return slots


def _is_list(
    family: Family, rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]]
) -> bool:
    """Whether a line is one list of numbers, perhaps with a unit behind it."""
    lists = [_listed(parts) for _, _, parts in rows]
    if not lists or not all(numbers for numbers, _ in lists):
        return False
    counts = [len(numbers) for numbers, _ in lists]
    units = {unit for _, unit in lists}
    if _is_plan(family):
        return max(counts) > 1
    usual = min(counts) if family.form is Assignment else Counter(counts).most_common(1)[0][0]
    if units == {""} and usual >= _LONG_LIST:
        return not _told_names(family.remarks[-1:], usual)
    values = [[float(number) for number in numbers] for numbers, _ in lists]
    powers = {"W", "mW"} & {m.unit for u in units if (m := unit_of(u))}
    powers |= {"power", "mw"} & set(tokens(family.head))
    rising = all(list(row) == sorted(set(row)) for row in values)
    video = all(_VIDEO[0] <= value <= _VIDEO[1] for row in values for value in row)
    return min(counts) > 2 and (video or (bool(powers) and rising))


_LONG_LIST = 5
_VIDEO = 4900, 6100  # MHz, of the band in which video is sent


def _listed(parts: Sequence[Span]) -> tuple[list[str], str]:
    """The numbers of a list, and the unit behind it; none where it is something else."""
    texts = " ".join(span.text for span in parts).replace(",", " ").split()
    if _in_brackets(parts):
        texts = " ".join(texts)[1:-1].split()
    glued = [GLUED_UNIT.fullmatch(text) for text in texts]
    last = glued[-1].group(2) if glued and glued[-1] else ""
    if last and _is_unit_text(last):  # behind the last number, or behind each
        each = [one.group(1) if one and one.group(2) == last else "" for one in glued]
        texts = [*(each if all(each) else [*texts[:-1], each[-1]]), last]
    unit = texts.pop() if len(texts) > 1 and _is_unit_text(texts[-1]) else ""
    return (texts if all(map(_NUMBER.fullmatch, texts)) else []), unit


def _is_mark(text: str) -> bool:
    """Whether a word at a line's end is a sign that says something of it: `* = not as shipped`."""
    return not re.search(r"[\w%°\"']", text) and text not in NOTHING


def _in_brackets(parts: Sequence[Span]) -> bool:
    return bool(parts) and parts[0].text.startswith("[") and parts[-1].text.endswith("]")


def _is_label(text: str) -> bool:
    """Whether a word that all lines have in one place names what stands behind it."""
    return text[:1].isalpha() and text.isalpha() and text.casefold() not in NOTHING | SAID


def without_aside(name: str) -> str:
    """A name without what stands in brackets at its end, which says its unit."""
    return re.sub(r"\s*[(\[][^()\[\]]*[)\]]$", "", name)


def _is_plan(family: Family) -> bool:
    """Whether the key says that a list stands behind it: of powers, of frequencies."""
    words = {t for name in (family.head, *family.context) for t in tokens(name)}
    last = without_aside(family.head).rstrip(": ").casefold()
    return last.endswith(("powers", "frequencies", "levels")) or bool(words & {"plan", "table"})


def _list_field(
    family: Family,
    rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]],
    columns: dict[int, str],
) -> None:
    own = Field((family.head, columns.get(0, "")))
    for index, entry, parts in rows:
        for span in parts:
            for match in _NUMBER.finditer(span.text):
                at = Span(match.group(), span.start + match.start())
                own.samples.append(Sample(at.text, _place(entry, at), index))
    own.unit = next((unit for _, _, parts in rows if (unit := _listed(parts)[1])), "")
    family.fields.append(own)
    first = rows[0][2][0].text
    blank = " " if first.startswith("[ ") else ""
    bracketed = _in_brackets(rows[0][2])
    family.parts.append(("", (f"[{blank}", 0, f"{blank}]") if bracketed else (0,)))
    family.many = True
    family.required = 1


def _switch_field(
    family: Family, rows: Sequence[tuple[tuple[str, ...], ScopedLine, Sequence[Span]]]
) -> None:
    if re.search(r"[=|<>,]", family.head):
        return
    own = Field((family.head,), switch=True)
    for index, entry, _ in rows:
        place = entry.statement.place(entry.document.name)
        own.samples.append(Sample("off" if entry.negated else "on", place, index))
    family.fields.append(own)


def _place(entry: ScopedLine, span: Span) -> Place:
    return entry.statement.place(entry.document.name, span)


def _slot(
    family: Family,
    name: str,
    title: str,
    found: list[tuple[tuple[str, ...], ScopedLine, Span]],
) -> None:
    """Cut the values of one part of the lines into literal text and fields."""
    off = (*NOTHING, family.switched_off)
    live = [item for item in found if item[2].text.casefold() not in off]
    falls = any(_falls(span.text) for _, _, span in live)  # no ranges: `timer 2-1`
    cuts = [
        [(span, True)] if falls else pieces_of(span, alone=len(found) == 1) for _, _, span in live
    ]
    shapes = Counter(tuple(p.text if not v else "" for p, v in cut) for cut in cuts)
    first = len(family.fields)
    lone = title and _LETTER.fullmatch(family.head)  # the letter of rows: it names nothing
    own = (title, *((family.head,) if family.head and not lone else ()))
    words = any(not v and _is_unit_text(p.text) for cut in cuts for p, v in cut)
    signs = {span.text for _, _, span in found}
    if (
        family.form is Directive
        and len(signs) == 1
        and re.fullmatch(r"[^\w\s\"'~]+(?<!^-)", min(signs))
    ):
        family.parts.append((name, (min(signs),)))
        return
    if len(shapes) != 1 and all(_LISTED.fullmatch(span.text) for _, _, span in found):
        inside = [(index, entry, _inside(span)) for index, entry, span in found]
        held = [item for item in inside if item[2].text]
        within = Field(own)
        within.samples = [Sample(s.text, _place(e, s), i) for i, e, s in held]
        blank = " " if held and held[0][2].start > found[0][2].start + 1 else ""
        family.fields.append(within)
        family.parts.append((name, (f"[{blank}", first, f"{blank}]")))
        return
    if len(shapes) != 1 or not cuts or all(len(cut) <= 1 for cut in cuts):
        whole = Field(own)
        whole.glued = words and any(len(cut) == 2 for cut in cuts)
        near = _UNIT_APART if whole.glued else _NOWHERE  # 57.6 kBd is read as 57.6kBd is
        whole.samples = [Sample(near.sub("", s.text), _place(e, s), i) for i, e, s in found]
        family.fields.append(whole)
        family.parts.append((name, (first,)))
        return
    template, beside = _template(cuts, first, family)
    for number, label in beside.items():
        listed = list_names(family, live, cuts, number) or _range_name(cuts[0], number)
        fresh = Field((*label, *listed, *own))
        fresh.lettered = number > 0 and cuts[0][number - 1][0].end == cuts[0][number][0].start
        behind = [cut[0] for cut in cuts[0][number + 1 :] if not cut[1]]
        unit = behind[0].text if behind else ""
        fresh.unit = unit if _is_unit_text(unit) else ""
        fresh.order = list(beside).index(number), len(beside)
        for (index, entry, _), cut in zip(live, cuts, strict=True):
            span = cut[number][0]
            fresh.samples.append(Sample(span.text, _place(entry, span), index))
        family.fields.append(fresh)
    family.parts.append((name, template))


def _falls(text: str) -> bool:
    """Whether a number, a sign and a number are no range: the second is not above the first."""
    found = _RANGE.fullmatch(text)
    return found is not None and float(found[1]) >= float(found[4])


_UNIT_APART = re.compile(r"(?<=\d) (?=[^\s\d]+$)")
_NOWHERE = re.compile(r"(?!)")
_LISTED = re.compile(r"\[[^\[\]{}\"\d]*\]")  # words in brackets, however many


def _inside(span: Span) -> Span:
    """What stands between the brackets of a list."""
    inner = span.text[1:-1]
    return Span(inner.strip(), span.start + 1 + len(inner) - len(inner.lstrip()))


def _range_name(cut: Sequence[tuple[Span, bool]], number: int) -> tuple[str, ...]:
    """Which end of a range a number is: 1000..2000."""
    behind = cut[number + 1][0].text if number + 1 < len(cut) else ""
    before = cut[number - 1][0].text if number else ""
    return ("low",) if behind.endswith(_TO) else ("high",) if before.endswith(_TO) else ()


_TO = ("..", "-")


def list_names(
    family: Family,
    live: Sequence[tuple[tuple[str, ...], ScopedLine, Span]],
    cuts: Sequence[Sequence[tuple[Span, bool]]],
    number: int,
) -> tuple[str, ...]:
    """What a number of a list in brackets is: as a remark says, or by what such lists hold."""
    texts = [span.text for span, _ in cuts[0]]
    own = [at for at, (_, varies) in enumerate(cuts[0]) if varies]
    initials = _by_initials(family.head, len(own))
    if initials and number in own:
        return (initials[own.index(number)],)
    if {text for text in texts if text not in [texts[at] for at in own]} <= {","}:
        told = _told_names(family.remarks[-1:], len(own))
        return (told[own.index(number)],) if told else ()
    if "[" not in texts[:number] or "]" in texts[texts.index("[") : number]:
        return ()
    if "]" not in texts[number:]:  # as in a damaged line
        return ()
    start, stop = texts.index("["), texts.index("]")
    own = [at for at in range(start, stop) if cuts[0][at][1]]
    rows = [[cut[at][0].text for at in own] for cut in cuts]
    ranged = any(text in _TO for text in texts[start:stop])  # its parts have names of their own
    if ranged or len(own) < 2 or not all(_NUMBER.fullmatch(t) for row in rows for t in row):
        return ()
    usual = _usual_names([[float(text) for text in row] for row in rows])
    names = usual if "high" in usual else _told_names(family.remarks, len(own)) or usual
    return (names[own.index(number)],) if names else ()


_INITIALS = {"r": "roll", "p": "pitch", "y": "yaw", "t": "throttle"}


def _by_initials(key: str, count: int) -> tuple[str, ...]:
    """The names of as many numbers as a word of the key has initials: `gain_d_rpy`, `PID_ROLL`.

    >>> _by_initials("gain_d_rpy", 3), _by_initials("roll_pid", 3), _by_initials("map_rpy", 4)
    (('roll', 'pitch', 'yaw'), ('p', 'i', 'd'), ())
    """
    for word in re.findall(r"[a-z]+", key.casefold()):
        if len(word) == count > 1:
            if word in ("pid", "pidf"):
                return tuple(letter.replace("f", "ff") for letter in word)
            if len(set(word)) == count > 2 and set(word) <= _INITIALS.keys():
                return tuple(_INITIALS[letter] for letter in word)
    return ()


def _told_names(remarks: Sequence[str], count: int) -> tuple[str, ...]:
    """The names that a remark lists: `channels: roll, pitch, throttle, yaw`."""
    full = [remark for remark in remarks if remark]
    near = full[-1:] if count == 2 else full  # two words behind each other are soon found
    for remark in reversed(near):
        told = remark.rpartition("=")[2]  # `places, at = row,column`
        for clause in re.split(r"[;:.]", told):
            items = [item.split() for item in re.split(r",|\band\b", clause) if item.split()]
            if len(items) == count > 1 and all(len(item) == 1 for item in items[1:-1]):
                return (items[0][-1], *(item[0] for item in items[1:]))
    return ()


def _usual_names(rows: Sequence[Sequence[float]]) -> tuple[str, ...]:
    count = len(rows[0])
    rising = all(list(row) == sorted(row) and row[0] < row[-1] for row in rows)
    if count == 2:
        return ("low", "high") if rising and all(row[0] > 20 for row in rows) else ("roll", "pitch")
    if count != 3:
        return ()
    if rising and all(500 <= value <= 2500 for row in rows for value in row):
        early = all(row[1] - row[0] < 0.25 * (row[2] - row[0]) for row in rows)
        return ("rest", "low", "high") if early else ("low", "centre", "high")
    return ("roll", "pitch", "yaw")


def _is_unit_text(text: str) -> bool:
    if text.casefold() in ("in", "inch", "inches"):  # the vocabulary has no such length
        return True
    return bool(text) and text[0] not in ",.[]-:" and unit_of(text) is not None


def _template(
    cuts: list[list[tuple[Span, bool]]], first: int, family: Family
) -> tuple[FieldTemplate, dict[int, tuple[str, ...]]]:
    """The pieces of a value's template; for each piece that is a field, the words beside it."""
    made: list[str | int] = []
    beside: dict[int, tuple[str, ...]] = {}
    label: list[str] = []
    after = 0
    for number, (span, varies) in enumerate(cuts[0]):
        if number and span.start > after:
            made.append(" ")
        after = span.end
        texts = {cut[number][0].text for cut in cuts}
        constant = len(texts) == 1 and len(cuts) >= 3 and not _NUMBER.fullmatch(span.text)
        constant = constant and span.text.casefold() not in SAID | NOTHING
        if not varies or (constant and not span.text.startswith('"')):
            made.append(span.text)
            if span.text not in ("[", "]", "{", "}", ","):
                label = [span.text]
            continue
        made.append(first + len(beside))
        beside[number] = tuple(label)
        following = cuts[0][number + 1][0].text if number + 1 < len(cuts[0]) else ""
        listed = any(span.text == "[" for span, _ in cuts[0][:number])
        label = label if listed and following == "," else []
    return tuple(made), beside


def pieces_of(span: Span, *, alone: bool = False) -> list[tuple[Span, bool]]:
    """The pieces of a value, each with whether it may vary."""
    text = span.text
    if text[-1:] in (";", ",") and len(text) > 1:  # what ends a value is none of it
        own = Span(text[:-1].rstrip(), span.start)
        return [*pieces_of(own, alone=alone), (Span(text[-1], span.end - 1), False)]
    if text[:1] in ("[", "{"):
        inner = inner_pieces(span)
        return [
            cut
            for own, varies in inner
            for cut in (_word_pieces(own) if varies else [(own, False)])
        ]
    if text.startswith('"') and text.endswith('"') and text.count('"') == 2:
        return _quoted_pieces(span)
    second = _SECOND.fullmatch(text)
    if second:  # `Owner : river survey        Saved : 57 times`
        label = Span(" ".join(second["label"].split()), span.start + second.start("label"))
        behind = Span(second["two"], span.start + second.start("two"))
        return [(Span(second["one"], span.start), True), (label, False), (behind, True)]
    if " " not in text.strip() and "," not in text and not _RANGE.fullmatch(text):
        return _word_pieces(span)
    if alone and re.fullmatch(r"[A-Za-z]{5,} \d{3,4}", text):  # a name with a figure
        return [(span, True)]
    found: list[tuple[Span, bool]] = []
    cut = list(re.finditer(r'"[^"]*"|[^\s,\[\]]+|[,\[\]]', text))
    terms = [_LETTERED.fullmatch(word.group()) for word in cut]
    names = [term.group(1).casefold() for term in terms if term]
    of_gains = len(names) == len(cut) >= 3 and {"p", "i", "d"} <= set(names)
    if not of_gains and re.fullmatch(r"[A-Za-z][\w-]*(?: [A-Za-z][\w-]*)+", text):
        return [(span, True)]
    for word in cut:
        own = Span(word.group(), span.start + word.start())
        found += _number_apart(own) if of_gains else _word_pieces(own)
    return _units_set(found)


# A value, and a wide gap before another key with its own.
_SECOND = re.compile(
    r"(?P<one>\S+(?: \S+)*)\s{3,}(?P<label>[A-Za-z][\w-]*(?: [\w-]+)*\s*:)\s+(?P<two>\S+(?: \S+)*)"
)


def _number_apart(span: Span) -> list[tuple[Span, bool]]:
    """The letters before a number as what stays: `p44`."""
    letters = span.text.rstrip("0123456789.")
    number = Span(span.text[len(letters) :], span.start + len(letters))
    return [(Span(letters, span.start), False), (number, True)]


def _quoted_pieces(span: Span) -> list[tuple[Span, bool]]:
    """A text in quotes whole; a number, or what is on or off, as what varies between them."""
    inner = Span(span.text[1:-1], span.start + 1)
    if not (re.match(r"[+-]?\.?\d", inner.text) or inner.text.casefold() in SAID):
        return [(span, True)]
    if _ISSUE.fullmatch(inner.text):  # 2b
        return [(span, True)]
    quotes = [(Span('"', at), False) for at in (span.start, span.end - 1)]
    return [quotes[0], *pieces_of(inner), quotes[1]]


_ISSUE = re.compile(r"\d{1,2}[A-Za-z]")


def _units_set(pieces: list[tuple[Span, bool]]) -> list[tuple[Span, bool]]:
    """The pieces, a unit behind a number as what stays: `1.14 kg`."""
    found = pieces[:1]
    for (before, _), (span, varies) in pairwise(pieces):
        unit = _NUMBER.fullmatch(before.text) and not _NUMBER.match(span.text)
        found.append((span, varies and not (unit and unit_of(span.text) is not None)))
    return found


def _word_pieces(span: Span) -> list[tuple[Span, bool]]:
    ranged = _RANGE.fullmatch(span.text)
    if ranged:
        found = [(Span(ranged.group(i), span.start + ranged.start(i)), i != 2) for i in (1, 2, 4)]
        if ranged.group(5):
            found.append((Span(ranged.group(5), span.start + ranged.start(5)), False))
        return found
    lettered = _LETTERED.fullmatch(span.text)
    if lettered and (is_channel(lettered.group(1)) or lettered.group(1).casefold() == "q"):
        return _number_apart(span)
    return glued_pieces(span) if span.text not in (",", "[", "]") else [(span, False)]
