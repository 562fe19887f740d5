"""A mapping line for one line of a dump, by what the builder says that it states.

Nothing is inferred of the line but which of its words is which of the settings told: all else
stands as it is. What no word of it says is stated by the whole line, so another value of it is read
as nothing, never as this one. Lines of its sort are read likewise where a word of theirs names
another motor, element, switch or number of the same list, or one that another line was told to be
of; a motor is known, too, by the signs of where it stands.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, takewhile
from types import MappingProxyType
from typing import NamedTuple

from cfgaudit.dialects.template import open_shape
from cfgaudit.reading.shapes import Assignment, Directive, Row, Span, cells, named, words
from cfgaudit.teach.fit import BEHIND_STICKS, spec_text
from cfgaudit.teach.keys import pieces_of
from cfgaudit.teach.learn import Trial, ValueRule, rules_for
from cfgaudit.teach.lines import WordTables, escaped
from cfgaudit.teach.scoped import Scope
from cfgaudit.teach.telling import (
    OF_GYRO,
    PULSES,
    STEPS,
    ToldSetting,
    is_divider_of_gyro,
    told_of,
)
from cfgaudit.teach.words import ARMS, AXES, FUNCTIONS, arms_of, chunks, index_match, pair_up
from cfgaudit.vocabulary.kinds import (
    BadValue,
    Bool,
    Either,
    Int,
    Kind,
    PadUse,
    Quantities,
    Quantity,
    Value,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import Declared, declared

_UNPLACED = (
    2.2  # what a part without a place costs; a step that no firmware would choose costs more
)
_STRANGE = 1.5  # what a word costs that does not mean what it would stand for: it rather names it
_SEEMS = 0.1  # what a place gains where a value seems to stand: it decides between equal ones
_STEADY = 1.2  # what a word costs that all lines of its sort have: it rather names what differs
_EARLIER = 0.01  # what a word or a code costs for each place behind it
_APART = 0.05  # what it costs that other words stand between the parts of a setting
_CODE = 1.5  # what a number costs that stands for a word
_CODES = 32  # a code of a number is below
_CODE_OF_NUMBER = 2.0  # what it costs: hardly less than no place at all
_MOTORS = 4  # at least, whose numbers tell what counts by them
_BEHIND_STICKS = 0.6  # what a channel costs that is counted so
_FROM_MIDDLE = 1.2  # what a pulse costs that is counted from another one
_WIDTHS = frozenset(
    (10, 16, 20, 24, 30, 32, 40, 50, 60, 64, 100, 128, 256, 1000)
)  # of a packed row
_LISTED = frozenset(("FUNCTION", "NAME", "CONTROL", "AXIS"))  # indices that are closed lists
_NEXT = 99  # the place of what is the next of its list, whichever that is
_IDLE = 3  # lines between those of a list: places of it that hold nothing
_FEW, _NEARLY_ALL = 4, 0.9  # lines of a scope, and the share of them, from which they are counted

_StatedShape = Assignment | Directive | Row


class SaidOfLine(NamedTuple):
    """A setting and its value, in the plain form's spelling."""

    path: str
    value: str


class Reach(StrEnum):
    """How far what a line was told to state is taken to tell of other lines."""

    FOREMOST = "foremost"  # of its like, before all that is inferred of them
    INFERRED = "inferred"  # of all that are inferred to be of its sort
    LIKE = "like"  # of those that have its very words but for a name or a number
    ALONE = "alone"  # of none
    REFUSED = "refused"  # it is not taken: even so other settings would be lost


class ToldLine(NamedTuple):
    """What somebody said that a line states."""

    said: Sequence[SaidOfLine]
    reach: Reach
    idle: bool  # it is not read so by what is inferred


class ExactLine(NamedTuple):
    """The lines above, as a dialect has them, and the mapping line."""

    under: tuple[str, ...]
    line: str
    like: bool = False  # it is of lines of its sort, which nobody told of

    @property
    def entry(self) -> tuple[tuple[str, ...], str]:
        """The lines above, and the mapping line."""
        return self.under, self.line


def exact_lines(
    top: Scope,
    number: int,
    said: Sequence[SaidOfLine],
    tables: WordTables,
    contexts: Collection[tuple[str, ...]] = (),
    columns: Collection[int] = (),
    names: "ToldNames | None" = None,
) -> Iterator[ExactLine]:
    """The mapping line for the line of that number; none where none can be written.

    A list, or the ends of a range, that lines beside it state has one for each of them, or none: it
    is never stated in part. `top` is the dump's tree of scopes; `contexts` are those in which lines
    are known already: in one that is of several motors the line is of each of them; `columns` are
    where values of the line seem to stand, from 1. Raises BadValue.
    """
    found = _surroundings(top, number, ())
    if found is None:
        return
    under, lines, at = found
    indices: Mapping[str, str] = {}
    for known in contexts:
        within = _within(known, under, tables)
        if within is not None:
            under, indices = known, within
            break
    on_line: list[tuple[SaidOfLine, list[ToldSetting]]] = []
    for one in said:
        told_parts = _parts_of(one)
        parts = [each for part in told_parts if (each := _of_each(part, indices)) is not None]
        if len(parts) < len(told_parts):
            return  # it is of another motor than its context says
        apart = len(parts) > 1 and len(_in_order(parts, lines[at])) < len(parts)
        if apart and not _says_all(parts, lines[at]):
            pieces = [[p for p in parts if p.place == n] for n in sorted({p.place for p in parts})]
            pieces = pieces if len(pieces) > 1 else [[p._replace(place=0)] for p in parts]
            if len(pieces[0]) > 1:  # filters, each a row: the next row is the next of them
                pieces = [[p._replace(place=_NEXT) for p in piece] for piece in pieces]
            start = max(0, at - len(pieces) + 1)
            around = lines[start : at + len(pieces) + _IDLE]
            below = _one_below_other(around, at - start, pieces, tables, _are_counted(lines))
            yield from (ExactLine(under, line) for line in below)
        else:
            on_line.append((one, parts))
    if on_line:
        names = names or NO_NAMES
        told = _with_others(_told(lines[at], on_line, columns, indices, lines), lines)
        told = _with_motors(told, lines, names)
        if _is_said_of_others(told, lines):
            return  # its words don't tell what it is of
        yield ExactLine(under, told.line(tables, _are_counted(lines)))
        like = (_of_like(one, lines, under, tables, names) for one in _with_all_off(told, lines))
        yield from (ExactLine(under, line, True) for own in like for line in own)


class ToldNames(NamedTuple):
    """What words of a dump were told to stand for, by the index and by what stands before them."""

    words: Mapping[tuple[str, str], Mapping[str, str]]

    def of(self, index: str, place: "_Varying") -> dict[str, str]:
        """Our words for those that stand in a place."""
        own = self.words.get((index, _kind_of_place(index, place)), {})
        return {text: own[text] for text in place.lines if text in own}


NO_NAMES = ToldNames(MappingProxyType({}))
_SIGNED = {"x": 0, "pitch": 0, "y": 1, "roll": 1}  # positive ahead, or to the right


def names_told(
    top: Scope,
    said: Mapping[int, Sequence[SaidOfLine]],
    columns: Mapping[int, Collection[int]],
) -> ToldNames:
    """What words stand for, by what the builder said of lines: `GLASS7_ROW` is of the speed.

    An arm is also known by the signs of where it stands, or of its row of the mixer.
    """
    found: dict[tuple[str, str], dict[str, str]] = {}
    signs: dict[str, dict[str, list[int]]] = {}
    for number, own_said in said.items():
        around = _surroundings(top, number, ())
        if around is None:
            continue
        under, lines, at = around
        parts = [(one, _parts_of(one)) for one in own_said]
        told = _told(lines[at], parts, columns.get(number, ()), {}, lines)
        for name, own in _common_indices(told):
            place = _place_of_index(told, lines, name, own, titled=bool(under))
            if place is not None:
                kind = _kind_of_place(name, place)
                found.setdefault((name, kind), {}).setdefault(place.span.text, own)
                if name == "ARM" and own in ARMS[:4]:
                    _add_signs(signs.setdefault(kind, {}), told, place, own)
    for kind, numbers in signs.items():
        arms = {
            word: f"{'front' if ahead > 0 else 'rear'}_{'right' if right > 0 else 'left'}"
            for word, (ahead, right) in numbers.items()
            if ahead and right
        }
        known = found.get(("ARM", kind), {})
        if len(set(arms.values())) == len(arms) and arms.items() >= known.items():
            found["ARM", kind] = arms
    return ToldNames(found)


def _place_of_index(
    told: "_Told", lines: Sequence[_StatedShape], name: str, own: str, *, titled: bool
) -> "_Varying | None":
    """Where a line says what it is of; None where nobody can tell."""
    places = [
        place
        for place in _varying(told, lines, _are_counted(lines), own, titled=titled)
        if len(place.lines) > 1
    ]
    for place in places:
        like = _named_like(name, own, place.span.text, list(place.lines), told.paths[0])
        if len(like) > 1 and like.get(place.span.text) == own:
            return place
    numbers = [place for place in places if place.span.text.isdigit()] or places
    return numbers[0] if len({place.span for place in numbers}) == 1 else None


def _kind_of_place(index: str, place: "_Varying") -> str:
    """Where a word of an index means the same: of motors everywhere, if they count alike."""
    if index != "ARM":
        return place.stem
    numbers = [int(text) for text in place.lines if text.isdigit()]
    return f"from {min(numbers)}" if numbers else ""


def _add_signs(signs: dict[str, list[int]], told: "_Told", place: "_Varying", own: str) -> None:
    """What the numbers of lines tell of their arms, by those of the arm that was told."""
    mine = list(_places(told.shape))
    for span, saying in told.ways.items():
        leaf = saying[0][0].path.rpartition(".")[2]
        if len(saying) > 1 or leaf not in _SIGNED or span not in mine:
            continue
        axis = _SIGNED[leaf]
        true = (1 if "front" in own else -1, 1 if "right" in own else -1)[axis]
        turned = true * _sign(span.text)
        for word, shape in place.lines.items():
            theirs = [one.text for one in _places(shape)]
            if len(theirs) == len(mine):
                signs.setdefault(word, [0, 0])[axis] = turned * _sign(theirs[mine.index(span)])


def _sign(text: str) -> int:
    try:
        number = Fraction(text)
    except (ValueError, ZeroDivisionError):
        return 0
    return (number > 0) - (number < 0)


def columns_of(
    top: Scope, number: int, said: Sequence[SaidOfLine], columns: Collection[int] = ()
) -> dict[str, int]:
    """Where a line says each part of what it was told to state, from 1. Raises BadValue."""
    where: dict[str, int] = {}
    for place, part, _ in _placed(top, number, said, columns):
        where.setdefault(part.path, place.start + 1)
    return where


def turned_in(
    top: Scope, number: int, said: Sequence[SaidOfLine], columns: Collection[int] = ()
) -> dict[str, str]:
    """What a line says with the other sign of what it was told to state. Raises BadValue."""
    placed = _placed(top, number, said, columns)
    return {part.path: place.text for place, part, rule in placed if rule.spec.startswith("-")}


def _placed(
    top: Scope, number: int, said: Sequence[SaidOfLine], columns: Collection[int]
) -> Iterator[tuple[Span, ToldSetting, ValueRule]]:
    found = _surroundings(top, number, ())
    if found is not None:
        _, lines, at = found
        told = _told(lines[at], [(one, _parts_of(one)) for one in said], columns, {}, lines)
        for place, saying in told.ways.items():
            yield from ((place, part, rule) for part, rule in saying)


def _surroundings(
    scope: Scope, number: int, under: tuple[str, ...]
) -> tuple[tuple[str, ...], list[_StatedShape], int] | None:
    """The lines above a line, those of its scope, and its place among these."""
    for entry in scope.entries:
        if entry.statement.line == number:
            several = len(entry.statement.joints) > 1 and not entry.document.look.starts
            if several:  # no mapping line can spell it
                return None
            shapes = [(e, open_shape(e.statement.shape, e.document.look)) for e in scope.entries]
            kept = [(e, shape) for e, shape in shapes if isinstance(shape, _StatedShape)]
            at = next((n for n, (e, _) in enumerate(kept) if e is entry), None)
            return None if at is None else (under, [shape for _, shape in kept], at)
    for below in scope.inner:
        found = _surroundings(below, number, (*under, below.line))
        if found is not None:
            return found
    return None


def heads_above(scope: Scope, number: int) -> tuple[str, ...] | None:
    """What heads a line: the titles above it, and the row of its table's titles."""
    for at, entry in enumerate(scope.entries):
        if entry.statement.line == number:
            rows = [e for e in scope.entries[:at] if isinstance(e.shape, Row)]
            first = rows[0] if rows and isinstance(entry.shape, Row) else None
            wide = first is not None and len(first.parts) == len(entry.parts)
            head = first.line if first and wide and not _FIGURE.search(first.line) else ""
            return tuple(filter(None, [entry.header or head.replace("\t", "|")]))
    for below in scope.inner:
        found = heads_above(below, number)
        if found is not None:
            return (below.line, *found)
    return None


_FIGURE = re.compile(r"\d")


def _within(
    known: Sequence[str], under: Sequence[str], tables: WordTables
) -> Mapping[str, str] | None:
    """The indices of a known context that some lines are, each with our word; None: it is not."""
    if len(known) != len(under):
        return None
    found: dict[str, str] = {}
    for line, own in zip(known, under, strict=True):
        cut = re.split(r"\{(\w+)(?:: ([^{}]*))?\}", line)
        pattern = "".join(
            re.escape(piece) if n % 3 == 0 else "(.+?)" if n % 3 == 1 else ""
            for n, piece in enumerate(cut)
        )
        match = re.fullmatch(pattern, own)
        if match is None:
            return None
        for name, spec, word in zip(cut[1::3], cut[2::3], match.groups(), strict=True):
            if not spec:
                found[name] = word
            elif spec.startswith("words "):
                found[name] = tables.lists.get(spec.removeprefix("words "), {}).get(word, "")
            else:  # it counts from 0
                found[name] = str(int(word) + 1) if word.isdigit() else ""
    return found


def _of_each(part: ToldSetting, indices: Mapping[str, str]) -> ToldSetting | None:
    """A part of a setting for each word of an index that its context has; None: of another one."""
    path = _path_of_each(part.path, indices)
    return None if path is None else part._replace(path=path)


def _path_of_each(path: str, indices: Mapping[str, str]) -> str | None:
    for name, own in _indices_of(path):
        if name in indices:
            path = _under_index(path, name)
            if indices[name] != own:
                return None
    return path


def _parts_of(one: SaidOfLine) -> list[ToldSetting]:
    """What a setting states, part by part: each number of a list, each end of a range."""
    told = told_of(one.path, one.value)
    kind, values = told[0].kind if told else None, told[0].value if told else None
    if isinstance(kind, Quantities) and kind.number and isinstance(values, tuple):
        numbers = [value for value in values if isinstance(value, float | int)]
        return [ToldSetting(one.path, kind.number, value, n) for n, value in enumerate(numbers)]
    return told


_Saying = tuple[ToldSetting, ValueRule]
NO_INDEX: Mapping[str, tuple[Span, str]] = MappingProxyType({})


class _Told(NamedTuple):
    """A line with the parts of settings that its places say, and what all of it says."""

    shape: _StatedShape
    ways: Mapping[Span, tuple["_Saying", ...]]  # several are packed in one number
    whole: tuple[SaidOfLine, ...]
    fixed: Mapping[Span, str] = MappingProxyType({})  # what stands in other lines in some places

    @property
    def paths(self) -> list[str]:
        """What the places say, and what all of it says."""
        parts = [part.path for said in self.ways.values() for part, _ in said]
        return [*parts, *(one.path for one in self.whole)]

    def line(
        self, tables: WordTables, counted: bool, indices: Mapping[str, tuple[Span, str]] = NO_INDEX
    ) -> str:
        """The mapping line of this line alone; or of each word of indices, where those stand."""

        def path_of_each(path: str) -> str:
            for name in indices:
                path = _under_index(path, name)
            return path

        taken = {
            at: "".join(
                _holder(part._replace(path=path_of_each(part.path)), rule, tables)
                for part, rule in said
            )
            for at, said in self.ways.items()
        }
        taken |= {**self.fixed, **dict(indices.values())}
        whole = (f"{{{path_of_each(one.path)} = {one.value}}}" for one in self.whole)
        return " ".join([_written(self.shape, taken, counted), *whole])


def _told(
    shape: _StatedShape,
    said: Sequence[tuple[SaidOfLine, Sequence[ToldSetting]]],
    columns: Collection[int],
    indices: Mapping[str, str],
    lines: Sequence[_StatedShape],
) -> _Told:
    told = [(one, part) for one, parts in said for part in parts]
    kin = [list(_places(other)) for other in lines if _is_of_sort(other, shape)]
    like = _texts_of_like(shape, lines)
    ways = _in_order([part for _, part in told], shape, columns, like, kin)
    if (order := _column_first([part for _, part in told])) is not None:
        other = _in_order([told[n][1] for n in order], shape, columns, like, kin)
        numbers = [n for n in order if not isinstance(told[n][1].kind, Bool)]
        turned = {order[n]: way for n, way in other.items()}
        if sum(n in turned for n in numbers) > sum(n in ways for n in numbers):
            ways = turned
    told_on = [n for n, (_, part) in enumerate(told) if isinstance(part.kind, Bool)]
    if len(told_on) > 1 and any(n not in ways for n in told_on):  # one number says all of them
        ways = {n: w for n, w in ways.items() if n not in told_on or not w[0].text.isdigit()}
    taken: dict[Span, tuple[_Saying, ...]] = {}
    left: list[SaidOfLine] = []
    for one, _ in said:
        own = {n for n, (other, _) in enumerate(told) if other is one}
        if own and own <= ways.keys():
            found = [(ways[n][0], told[n][1], ways[n][1]) for n in sorted(own)]
            taken |= _as_list(one, found, shape) or {at: ((p, rule),) for at, p, rule in found}
        else:
            left.append(one)
    free = [at for at in _places(shape) if at not in taken]
    packed = _packed([part for one, part in told if one in left], free)
    left = [one for one in left if one.path not in _paths_in(packed)]
    paths = [_path_of_each(one.path, indices) for one in left]
    whole = tuple(SaidOfLine(p, _spelled(o)) for p, o in zip(paths, left, strict=False) if p)
    return _Told(shape, {**taken, **packed}, whole)


def _column_first(parts: Sequence[ToldSetting]) -> list[int] | None:
    """The numbers of parts with an element's column before its row, and on or off last.

    None where they are not told. A firmware may have them in either order.
    """
    ends = [part.path.rpartition(".")[2] for part in parts]
    if sorted(set(ends) & {"row", "column"}) != ["column", "row"] or len(set(ends)) < len(ends):
        return None
    return sorted(range(len(parts)), key=lambda n: (ends[n] == "shown", ends[n] != "column"))


def _is_said_of_others(told: _Told, lines: Sequence[_StatedShape]) -> bool:
    """Whether another line has the very words of a line, and other values: `at: row 2`."""
    taken = [n for n, place in enumerate(_places(told.shape)) if place in told.ways]
    own = _without(told.shape, taken)
    return any(
        type(shape) is type(told.shape)
        and (other := _without(shape, taken))[0] == own[0]
        and other[1] != own[1]
        for shape in (lines if taken else ())
    )


def _without(shape: _StatedShape, taken: Sequence[int]) -> tuple[list[str], list[str]]:
    """The words of a line without what stands in the places of those numbers, and that."""
    places = list(_places(shape))
    own = [places[n] for n in taken if n < len(places)]
    holes = dict.fromkeys(own, "\0")
    return [_filled(span, holes) for span in _spans(shape)], [place.text for place in own]


def _with_others(told: _Told, lines: Sequence[_StatedShape]) -> _Told:
    """A word of two with the other one, where no third stands in the place in lines of its sort.

    They differ from it in numbers, and in one word more: `motor FR 0`, `motor RR 1`.
    """
    ways = dict(told.ways)
    places = list(_places(told.shape))
    kin = [list(_places(shape)) for shape in lines if _is_of_sort(shape, told.shape)]
    for at, ((part, rule), *others) in told.ways.items():
        if others or len(rule.words) > 1 or at not in places or not isinstance(part.kind, Words):
            continue
        number = places.index(at)
        texts = {own[number].text for own in kin if len(own) == len(places)} - rule.words.keys()
        left = set(part.kind.choices) - set(rule.words.values())
        if rule.words and len(left) == len(texts) == 1:
            words = {**rule.words, texts.pop(): left.pop()}
            ways[at] = ((part, rule._replace(words=words)),)
    return told._replace(ways=ways)


def _with_all_off(told: _Told, lines: Sequence[_StatedShape]) -> Iterator[_Told]:
    """The line, and that with a nought where the only number left says what is on: nothing."""
    yield told
    found = [(one, declared(one.path)) for one in told.whole]
    switches = {one for one, own in found if own is not None and isinstance(own.kind, Bool)}
    places = list(_places(told.shape))
    kin = [own for one in lines if _is_of_sort(one, told.shape) and (own := list(_places(one)))]
    kin = [own for own in kin if len(own) == len(places)]
    free: list[Span] = []
    for number, at in enumerate(places):
        texts = [own[number].text for own in kin]
        said = at not in told.ways and at.text.isdigit() and at.text != "0" and "0" in texts
        free += [at] if said and len({*texts}) < len(texts) else []  # else it is the line's own
    if len(switches) > 1 and len(free) == 1:
        off = tuple(one._replace(value="off") if one in switches else one for one in told.whole)
        yield told._replace(whole=off, fixed={free[0]: "0"})


def _is_of_sort(shape: _StatedShape, other: _StatedShape) -> bool:
    """Whether a line has the words of another one but for numbers and a few words behind the first.

    One word, or a third of them; where words have labels, whatever stands behind those.
    """
    mine, theirs = (_labels(one) for one in (shape, other))
    if type(shape) is not type(other) or len(mine) != len(theirs) or mine[:1] != theirs[:1]:
        return False
    differ = [a != b for a, b in zip(mine, theirs, strict=True)]
    return sum(differ) <= max(1, len(mine) // 3)


@lru_cache(maxsize=20_000)
def _labels(shape: _StatedShape) -> tuple[str, ...]:
    """The words of a line without numbers; of a word with a label, that alone: `at:aft` `at:`."""
    pairs = [(one.text, named(one)) for one in _tokens(shape)]
    bare = isinstance(shape, Directive)
    return tuple(f"{pair[0]}:" if bare and pair else _without_numbers(text) for text, pair in pairs)


def _with_motors(told: _Told, lines: Sequence[_StatedShape], names: ToldNames) -> _Told:
    """A code for a motor's pad with those of the other motors, where it goes by their numbers.

    Of motors 1 to 4 they are 21 to 24, say: each stands in a line.
    """
    ways = dict(told.ways)
    texts = dict(zip(_places(told.shape), _texts_of_like(told.shape, lines), strict=True))
    for at, ((part, rule), *others) in told.ways.items():
        arm = rule.words.get(at.text, "").removeprefix("motor ")
        if others or not isinstance(part.kind, PadUse) or not at.text.isdigit():
            continue
        for (index, _), arms in names.words.items():
            number = next((n for n, own in arms.items() if index == "ARM" and own == arm), "")
            if number.isdigit() and len(arms) >= _MOTORS:
                base = int(at.text) - int(number)
                codes = {f"{int(n) + base}": f"motor {own}" for n, own in arms.items()}
                if codes.keys() <= set(texts.get(at, ())):
                    ways[at] = ((part, rule._replace(words=codes)),)
    return told._replace(ways=ways)


def _packed(parts: Sequence[ToldSetting], free: Sequence[Span]) -> dict[Span, tuple[_Saying, ...]]:
    """Two counts in one number: how often a width goes into it, and what it leaves."""
    counts = [part for part in parts if isinstance(part.kind, Int)]
    if len(counts) != 2:
        return {}
    (over, first), (below, second) = ((part, int(str(part.value))) for part in counts)
    for place in free:
        for less in (1, 0) if re.fullmatch(r"\d{2,5}", place.text) else ():
            rest = int(place.text) - (second - less)
            width = rest // (first - less) if first > less else 0
            if width in _WIDTHS and width * (first - less) == rest and second - less < width:
                tail = " from 0" if less else ""
                cut = [f"over {width}{tail}", f"below {width}{tail}"]
                rules = [ValueRule(spec, "", 0.0) for spec in cut]
                return {place: ((over, rules[0]), (below, rules[1]))}
    return {}


def _paths_in(ways: Mapping[Span, Sequence[_Saying]]) -> set[str]:
    return {part.path for said in ways.values() for part, _ in said}


def _as_list(
    one: SaidOfLine, found: Sequence[tuple[Span, ToldSetting, ValueRule]], shape: _StatedShape
) -> dict[Span, tuple[_Saying, ...]]:
    """The numbers of a list as one place, where they are the last of their line, in one step."""
    first = found[0][0]
    rules = {rule.spec: rule for _, _, rule in found}
    own = declared(one.path)
    places = [at for at in _places(shape) if at.start >= first.start]
    if isinstance(shape, Row) or len(rules) > 1 or not own or not isinstance(own.kind, Quantities):
        return {}
    behind = places[len(found) :]  # a nought is none of the list
    if places[: len(found)] != [at for at, _, _ in found] or {at.text for at in behind} - {"0"}:
        return {}
    last, rule = (behind or [found[-1][0]])[-1], found[0][2]
    told = ToldSetting(one.path, own.kind, own.kind.read(one.value))
    stretch = Span(" " * (last.end - first.start), first.start)
    but = " but 0" if behind else ""
    return {stretch: ((told, rule._replace(spec=f"list {rule.spec}".strip() + but)),)}


def _spelled(one: SaidOfLine) -> str:
    found = declared(one.path)
    if found is None:
        raise BadValue(f"{one.path} is no setting of the vocabulary")
    return found.kind.spell(found.kind.read(one.value))


def _says_all(parts: Sequence[ToldSetting], shape: _StatedShape) -> bool:
    """Whether a line has every number of a list, perhaps one for several: `ch 6, 9 to 12 or 17`."""
    texts = [place.text for place in _places(shape)]
    said = ((rule for text in texts for rule in _rules(part, text)) for part in parts)
    return all(any(not rule.words for rule in rules) for rules in said)


def _one_below_other(
    lines: Sequence[_StatedShape],
    told: int,
    pieces: Sequence[Sequence[ToldSetting]],
    tables: WordTables,
    counted: bool,
) -> list[str]:
    """A line for each part of a list or of a range; none unless all are found, in their order.

    The line of that place is one of them. A line that says one number of a range has no other.
    """
    found: dict[int, str] = {}
    several = len(pieces[0]) > 1  # each on a line that begins as the others but for what it says
    for number, shape in enumerate(lines):
        if several and _front(shape, pieces) != _front(lines[told], pieces):
            continue
        left = pieces[len(found) :]
        ways = _in_order(left[0], shape) if left else {}
        alone = len(pieces[0]) > 1 or len(_numbers(shape, counted)) == 1
        if left and alone and len(ways) == len(left[0]):
            taken = {at: _holder(left[0][n], rule, tables) for n, (at, rule) in ways.items()}
            found[number] = _written(shape, taken, counted)
    return list(found.values()) if len(found) == len(pieces) and told in found else []


def _front(shape: _StatedShape, pieces: Sequence[Sequence[ToldSetting]]) -> str:
    """What stands on a line before its first number, or the first word that may say a part."""
    parts = [part for piece in pieces for part in piece]
    spans = list(_spans(shape))
    end = spans[-1].end
    for place in _places(shape):
        if any(next(_rules(part, place.text), None) for part in parts):
            end = place.start
            break
    before = " ".join(span.text[: max(0, end - span.start)] for span in spans)
    return re.split(r"\d", before, maxsplit=1)[0].strip()


def _numbers(shape: _StatedShape, counted: bool) -> list[Span]:
    """The numbers of a line; of counted lines those up to its value, the first one."""
    found = [at for at in _places(shape) if re.fullmatch(r"[+-]?\d[\d.]*", at.text)]
    return found[:1] if counted else found


_PlacedRule = tuple[Span, ValueRule]


def _in_order(
    parts: Sequence[ToldSetting],
    shape: _StatedShape,
    columns: Collection[int] = (),
    like: Sequence[Sequence[str]] = (),
    kin: Sequence[Sequence[Span]] = (),
) -> dict[int, _PlacedRule]:
    """The place of each part, by its number: as many as can be, in the order told, the plainest.

    Parts that no place says have none. `like` are the texts of each place, in lines that differ in
    numbers alone; `kin` the places of lines of its sort.
    """
    places = list(_places(shape))
    kin = [own for own in kin if len(own) == len(places)]
    count = [len({own[n].text for own in kin}) for n in range(len(places))]
    texts = [like[n] if n < len(like) else () for n in range(len(places))]
    wide = [[*texts[n], *(own[n].text for own in kin)] for n in range(len(places))]
    best: dict[int, tuple[float, dict[int, _PlacedRule]]] = {0: (0.0, {})}  # by the places passed
    for number, part in enumerate(parts):
        after = {at: (cost + _UNPLACED, found) for at, (cost, found) in best.items()}
        for at, (cost, found) in best.items():
            for place in range(at, len(places)):
                if part.path.startswith("receiver.map.") and _is_of_aux(places, place):
                    continue
                for rule in _rules(part, places[place].text, wide[place]):
                    own = cost + rule.cost + _strangeness(places[place].text, rule)
                    own += _APART * (0 < at < place and parts[number - 1].path == part.path)
                    own -= _SEEMS * (places[place].start + 1 in columns)
                    names = count[place] == 1 and places[place].text.isidentifier()
                    if rule.words and names and _may_be_said(part.kind, count):
                        own += _STEADY
                    if rule.words and _is_running(texts[place]):  # rather a number of the line
                        own += _EARLIER * (len(places) - place)
                    if place + 1 not in after or own < after[place + 1][0]:
                        after[place + 1] = own, {**found, number: (places[place], rule)}
        best = after
    return min(best.values(), key=lambda one: one[0])[1]


def _is_of_aux(places: Sequence[Span], at: int) -> bool:
    """Whether a number stands glued behind `aux`: it says which control, not which channel."""
    before = places[at - 1] if at else places[at]
    return before.text.casefold() == "aux" and before.end == places[at].start


def _may_be_said(kind: Kind, count: Sequence[int]) -> bool:
    """Whether a place differs in lines of a sort as often as a word of few choices can."""
    most = len(kind.choices) if isinstance(kind, Words) else 2
    return any(1 < number <= most for number in count)


def _is_running(texts: Sequence[str]) -> bool:
    """Whether the numbers of lines grow from each to the next, as those that count them do."""
    numbers = [int(text) for text in texts if text.isdigit()]
    return len(numbers) < len(texts) or all(a < b for a, b in pairwise(numbers))


def _rules(  # noqa: C901 (a case a line)
    part: ToldSetting, text: str, like: Sequence[str] = ()
) -> Iterator[ValueRule]:
    """The ways in which a text can say a value; a number in an ordinary step, or by a small code.

    Nor is it in a place where lines of its sort have `like`, more than it can have values.
    """
    kind = part.kind.other if isinstance(part.kind, Either) else part.kind
    most = 2 if isinstance(part.kind, Bool) else len(set(like))
    if isinstance(part.kind, Words) and not isinstance(part.kind, PadUse):  # each motor has a word
        most = len(part.kind.choices)
    if len(set(like)) > most:
        return
    if isinstance(part.kind, WordSet) and _is_code(part, text, like):
        yield ValueRule("words TABLE", "", _CODE, {text: part.kind.spell(part.value)})
        return
    if (
        part.path.endswith(".channel")
        and text.isdigit()
        and int(text) + 1 - BEHIND_STICKS == part.value
    ):
        yield ValueRule(f"from {BEHIND_STICKS}", "", _BEHIND_STICKS)
    for rule in rules_for(part.kind, [Trial(None, text, part.value, None)]):
        if not rule.words:
            if not (isinstance(kind, Quantity) and _is_odd(rule)):
                yield rule
        elif isinstance(part.kind, Quantity):
            divides = part.path == "loop.rate" and text.isdigit()
            if divides and is_divider_of_gyro(Fraction(text), Fraction(str(part.value))):
                yield ValueRule(OF_GYRO.spec, "", _CODE)
            if part.place < 0 and text.isdigit() and int(text) < _CODES:
                yield rule._replace(cost=_CODE_OF_NUMBER)
        elif not isinstance(part.kind, Int) and not (
            (isinstance(part.kind, Either) and text.isdigit())
            or (isinstance(part.kind, Words) and _is_no_code(text))
        ):
            # of a number or a word a code says whether a number beside it counts: it stays
            yield rule
    if isinstance(kind, Quantity) and kind.unit == "us":
        yield from _pulses(part.value, text)


def _is_no_code(text: str) -> bool:
    """Whether a number is too large for one that stands for a word, or has a sign or a point."""
    return _FIGURE.fullmatch(text) is not None and not (text.isdigit() and int(text) < _CODES)


_FIGURE = re.compile(r"[+-]?\d+(?:\.\d+)?")


def _is_odd(rule: ValueRule) -> bool:
    """Whether no firmware would choose that step."""
    first = rule.spec.split(" ")[0]
    step = Fraction(first) if re.fullmatch(r"[\d.]+(?:/\d+)?", first) else Fraction(1)
    return step not in STEPS


def _pulses(value: Value, text: str) -> Iterator[ValueRule]:
    """The ways in which a number says a pulse by steps from a lowest one or from the middle."""
    if re.fullmatch(r"[+-]?\d+", text) and isinstance(value, int | float):
        for step, least in PULSES:
            if int(text) * step + least == Fraction(str(value)):
                yield ValueRule(spec_text(step, least, "us"), "", _FROM_MIDDLE)


def _is_code(part: ToldSetting, text: str, like: Sequence[str]) -> bool:
    """Whether a number is a code for one word, no sum of bits: no bit, and none of its like large.

    >>> sets = ToldSetting("ports.1.roles", WordSet(("a", "b", "c", "d")), frozenset({"a"}))
    >>> _is_code(sets, "1", ("1", "2", "3")), _is_code(sets, "1", ("1", "2", "16"))
    (True, False)
    """
    numbers = [int(one) for one in {text, *like} if one.isdigit()]
    assert isinstance(part.kind, WordSet)
    assert isinstance(part.value, frozenset)
    few = len(part.value) < 2 and text.isdigit() and max(numbers) <= len(part.kind.choices) + 1
    return few and any(number & (number - 1) for number in numbers)


def _texts_of_like(shape: _StatedShape, lines: Sequence[_StatedShape]) -> list[Sequence[str]]:
    """What stands in each place, in the lines that differ in numbers alone."""
    own = _without_numbers(shape.body.text if not isinstance(shape, Assignment) else shape.key.text)
    found: list[list[str]] = [[] for _ in _places(shape)]
    for line in lines:
        text = line.body.text if not isinstance(line, Assignment) else line.key.text
        if type(line) is type(shape) and _without_numbers(text) == own:
            for texts, place in zip(found, _places(line), strict=False):
                texts.append(place.text)
    return list(found)


@lru_cache(maxsize=20_000)
def _without_numbers(text: str) -> str:
    return re.sub(r"[+-]?\d+(?:\.\d+)?", "#", text)


def _strangeness(text: str, rule: ValueRule) -> float:
    strange = any(not pair_up([text], [ours]) for ours in rule.words.values())
    return _STRANGE if strange and not text.lstrip("+-").isdigit() else 0.0


def _places(shape: _StatedShape) -> Iterator[Span]:
    """Where values may stand."""
    spans = list(_spans(shape))
    first = list(words(spans[0])) if isinstance(shape, Row) else []
    for span in [*first[1:], *(spans[1:] or spans)]:
        pair = named(span) if isinstance(shape, Directive) else None
        value = span if pair is None else pair[1]
        for piece in _numbers_apart(value) if isinstance(shape, Row) else _pieces(value):
            if re.search(r"\w", piece.text) or piece.text in ("-", "+"):
                yield piece


def _pieces(value: Span) -> Iterator[Span]:
    for piece, _ in pieces_of(value):
        if re.fullmatch(r"\d+(?:-\d+){2,}", piece.text):  # 992-1500-2008
            cut = re.finditer(r"\d+", piece.text)
            yield from (Span(one.group(), piece.start + one.start()) for one in cut)
        else:
            yield piece


def _numbers_apart(cell: Span) -> Iterator[Span]:
    """A cell without the brackets of the list that it begins or ends."""
    bare = cell.text.strip("[]{}() ")
    yield from _pieces(Span(bare, cell.start + cell.text.index(bare)))


def _spans(shape: _StatedShape) -> Iterator[Span]:
    if isinstance(shape, Assignment):
        yield from (shape.key, shape.value)
    else:
        yield from words(shape.body) if isinstance(shape, Directive) else cells(shape.body)


def _of_like(
    told: _Told,
    lines: Sequence[_StatedShape],
    under: Sequence[str],
    tables: WordTables,
    names: ToldNames,
) -> Iterator[str]:
    """The mapping line for lines that differ in what they are of: `motor FR ...`, `motor RR ...`.

    Nothing where no index of the told settings is a word of the line, and of its like as well, or
    where no word says a number that was told: others may well have another one.
    """
    whole = [one.kind for said in told.whole if (one := declared(said.path)) is not None]
    if any(isinstance(kind, Int | Quantity) for kind in whole):
        return
    counted = _are_counted(lines)
    told = _of_one_index(told)
    found: dict[str, tuple[Span, str]] = {}
    for name, own in _common_indices(told):
        target = _under_index(told.paths[0], name)
        for place in _varying(told, lines, counted, own, titled=bool(under)):
            theirs, texts = place.span.text, list(place.lines)
            ours = _named_like(name, own, theirs, texts, target) | names.of(name, place)
            every = set(texts) <= ours.keys()
            many = len(ours) > 1
            holder = _holder_of_index(name, target, ours, tables, every=every) if many else ""
            if holder and ours.get(theirs) == own:
                found[name] = place.span, holder
                yield told.line(tables, counted, {name: found[name]})
                break
    spans = sorted((span.start, span.end) for span in {span for span, _ in found.values()})
    if len(spans) > 1 and all(one[1] < other[0] for one, other in pairwise(spans)):
        yield told.line(tables, counted, found)  # nothing would tell two side by side apart


def _of_one_index(told: _Told) -> _Told:
    """A line without what all of it says besides of something else: of a pad's line, its motor."""
    indices = [_indices_of(part.path) for said in told.ways.values() for part, _ in said]
    first, *others = indices or [[]]
    common = [pair for pair in first if all(pair in one for one in others)]
    own = [one for one in told.whole if {*common} & {*_indices_of(one.path)}]
    return told._replace(whole=tuple(own)) if common else told


def _common_indices(told: _Told) -> list[tuple[str, str]]:
    """The indices that all told settings have, each with its word."""
    first, *others = [_indices_of(path) for path in told.paths] or [[]]
    return [pair for pair in first if all(pair in one for one in others)]


def _indices_of(path: str) -> list[tuple[str, str]]:
    """The indices of a setting, each with its word."""
    found = _declared_of(path)
    pairs = zip(found.pattern.split("."), path.split("."), strict=False) if found else ()
    return [(name, own) for name, own in pairs if name.isupper() and own != name]


def _declared_of(path: str) -> Declared | None:
    """The setting of a path, or of a part of it."""
    return declared(path) or declared(path.rpartition(".")[0])


def _under_index(path: str, name: str) -> str:
    """The path of the same of each word of an index."""
    found = _declared_of(path)
    if found is None:
        return path
    at = found.pattern.split(".").index(name)
    own = path.split(".")
    return ".".join([*own[:at], name, *own[at + 1 :]])


def _holder_of_index(
    name: str, path: str, ours: Mapping[str, str], tables: WordTables, *, every: bool
) -> str:
    """The placeholder of an index; empty where it counts otherwise than from 0 or 1.

    Any word may stand there where `every` one that does is known to be one of it.
    """
    if all(word.isdigit() and own.isdigit() for word, own in ours.items()):
        shifts = {int(own) - int(word) for word, own in ours.items()}
        return {0: f"{{{name}}}", 1: f"{{{name}: from 0}}"}.get(shifts.pop(), "")
    if every and all(word == own for word, own in ours.items()):
        return f"{{{name}}}"
    group = path.split(".")[0]
    return f"{{{name}: words {tables.put(f'{group}_told', ours)}}}"


class _Varying(NamedTuple):
    """A stretch of a line in which others of its sort differ: their texts, with a line of each."""

    span: Span
    lines: Mapping[str, _StatedShape]
    stem: str  # what stands before it, without figures


def _varying(
    told: _Told, lines: Sequence[_StatedShape], counted: bool, own_word: str, *, titled: bool
) -> Iterator[_Varying]:
    """Each stretch of a line in which others of its sort differ from it.

    Of a line's first word, or key, its beginning is the same; unless a title tells what it is of.
    """
    own = list(_tokens(told.shape))
    taken = [*told.ways, *told.fixed]
    free = [not any(p.start < s.end and p.end > s.start for p in taken) for s in own]
    count = len(list(_places(told.shape)))
    ends = len(own) - free[::-1].index(False) if counted and not all(free) else len(own)
    sort = [
        (shape, tokens)
        for shape in lines
        if type(shape) is type(told.shape) and (counted or len(list(_places(shape))) == count)
        if len(tokens := list(_tokens(shape))) >= ends
        if counted or len(tokens) == len(own)
    ]
    own = own[:ends]  # what stands behind the values of counted lines is left open
    stem = ""
    for at, span in enumerate(own):
        before, stem = stem, f"{stem}{_without_numbers(span.text)} "
        if not free[at] or (counted and not at):
            continue
        rest = [n for n in range(counted, len(own)) if n != at and free[n]]
        found: dict[str, _StatedShape] = {}
        for shape, tokens in sort:
            if all(tokens[n].text == own[n].text for n in rest):
                found.setdefault(tokens[at].text, shape)
        if at:
            yield _Varying(span, found, before)
        yield from _parts_of_word(_Varying(span, found, before), own_word)
        if at:
            continue
        first = chunks(span.text)[:1]
        kin = [text for text in found if chunks(text)[:1] == first]
        texts = kin if len(kin) > 1 else list(found) if titled else []
        if texts:
            starts = {0, *(start for _, start in chunks(span.text))}
            front = max(start for start in starts if start <= _alike(texts))
            back = _alike([text[front:][::-1] for text in texts])
            cut = Span(span.text[front : len(span.text) - back], span.start + front)
            named = {text[front : len(text) - back]: found[text] for text in texts}
            yield _Varying(cut, named, before + span.text[:front])


def _parts_of_word(place: _Varying, own: str) -> Iterator[_Varying]:
    """Each part of a word in which others differ and in nothing else: `bk_0_gain_1`, `lockBand`.

    A number of it, or the name that was told.
    """
    word = place.span
    named = [re.escape(own)] if own and not own.isdigit() and word.text != own else []
    for found in re.finditer("|".join([*named, r"\d+"]), word.text, re.IGNORECASE):
        if found.group() == word.text:
            continue
        front, back = word.text[: found.start()], word.text[found.end() :]
        own_lines = {
            text[len(front) : len(text) - len(back)]: shape
            for text, shape in place.lines.items()
            if text.startswith(front) and text.endswith(back)
            if len(text) > len(front) + len(back)
        }
        sort = str.isdigit if found.group().isdigit() else str.isalpha
        numbers = {text: shape for text, shape in own_lines.items() if sort(text)}
        if len(numbers) > 1:
            stem = place.stem + _without_numbers(front)
            yield _Varying(Span(found.group(), word.start + found.start()), numbers, stem)


def _tokens(shape: _StatedShape) -> Iterator[Span]:
    """The words of a line, without the brackets and commas around them."""
    for span in _spans(shape):
        for word in words(span) or [span]:
            core = re.search(r"[^\s{}\[\](),;:](?:.*[^\s{}\[\](),;:])?", word.text)
            yield Span(core.group(), word.start + core.start()) if core else word


def _alike(texts: Sequence[str]) -> int:
    """How many letters some texts begin with alike."""
    return sum(1 for _ in takewhile(lambda own: len(set(own)) == 1, zip(*texts, strict=False)))


def _named_like(
    name: str, own: str, theirs: str, texts: Sequence[str], target: str
) -> dict[str, str]:
    """Our words for those of an index, where one is told: of a closed list, or numbers."""
    listed = (
        index_match(name, target, tuple(texts), ()).words if target.startswith("ports.") else {}
    )
    if listed.get(theirs) == own:
        return dict(listed)
    letters = own.rstrip("0123456789")
    stem = theirs.rstrip("0123456789")
    if own != letters and "" != stem != theirs and theirs.casefold() != own.casefold():
        shift = int(own[len(letters) :]) - int(theirs[len(stem) :])  # switch-1 is aux1
        numbers = {t: t[len(stem) :] for t in texts if t.startswith(stem)}
        return {t: f"{letters}{int(n) + shift}" for t, n in numbers.items() if n.isdigit()}
    if theirs.isdigit() and own != letters and (name == "ID" or not letters):
        shift = int(own[len(letters) :]) - int(theirs)
        return {t: f"{letters}{int(t) + shift if shift else t}" for t in texts if t.isdigit()}
    if name == "AXIS" and len(texts) == len(AXES):  # common practice: in this order
        least = min((int(text) for text in texts if text.isdigit()), default=-1)
        told = dict(zip(map(str, range(least, least + len(AXES))), AXES, strict=True))
        if told.get(theirs) == own and set(texts) == told.keys():
            return told
    if name == "ARM":
        arms = arms_of(texts)
        return dict(arms) if arms.get(theirs) == own else {}
    numbered = own[-1:].isdigit()
    if theirs.casefold() == own.casefold() and (numbered or name not in _LISTED):
        alike = _look_of(theirs)
        near = {t for t in texts if name == "BAND" and abs(len(t) - len(theirs)) < 2}
        like = [text for text in texts if _look_of(text) == alike or text in near]
        return {text: text if theirs == own else text.casefold() for text in like}
    bare = {word: text for text in texts if (word := re.sub(r"\d+", "", text))}
    stems = Counter(re.sub(r"\d+", "", text) for text in texts)
    if name not in _LISTED or not bare:
        return {}
    match = index_match(name, target, tuple(bare), FUNCTIONS)
    clear = {word: ours for word, ours in match.words.items() if word not in match.unclear}
    others = {bare[w]: ours for w, ours in clear.items() if ours != own and stems[w] == 1}
    return {**others, theirs: own}


def _look_of(name: str) -> str:
    """A name that has a number, without what differs in the names of others: a for b04 and c11."""
    letters = name.rstrip("0123456789")
    return letters if letters == name or len(letters) > 1 else "a"


def _holder(part: ToldSetting, rule: ValueRule, tables: WordTables) -> str:
    target = part.path
    if part.place >= 0:  # one of a list: its parts, or a number of it
        above, _, leaf = target.rpartition(".")
        slot = "" if part.place == _NEXT else f"[told{part.place + 1}]"
        target = f"{target}{slot}" if declared(target) else f"{above}{slot}.{leaf}"
    spec = rule.spec
    if rule.words:
        spec = spec.replace("TABLE", tables.values(target, rule.words))
    if rule.flags:
        spec = spec.replace("TABLE", tables.bits(target, rule.flags))
    return f"{{{target}: {spec}}}" if spec else f"{{{target}}}"


def _written(shape: _StatedShape, taken: Mapping[Span, str], counted: bool) -> str:
    """The line with its placeholders; of counted lines without their number, and what is behind."""
    spans = list(_spans(shape))
    parts = [_filled(span, taken) for span in spans]
    if isinstance(shape, Assignment):
        return (" = " if shape.sign == "=" else f"{shape.sign} ").join(parts)
    kept = [n for n, s in enumerate(spans) if not any(t.start < s.start < t.end for t in taken)]
    parts, spans = [parts[n] for n in kept], [spans[n] for n in kept]  # a list is one word
    if not isinstance(shape, Directive):
        return ("," if "," in shape.body.text else "\t").join(parts)
    if counted and taken:
        last = max(n for n, s in enumerate(spans) if any(s.start <= t.start < s.end for t in taken))
        parts = ["*", *parts[1 : last + 1], *(["..."] if last + 1 < len(parts) else [])]
    return " ".join(parts)


def _are_counted(lines: Sequence[_StatedShape]) -> bool:
    """Whether nearly every line begins with a number of its own: `0412 pad out1 job MOTOR`."""
    firsts = [next(iter(_spans(s))).text for s in lines if isinstance(s, Directive)]
    numbers = {first for first in firsts if first.isdigit()}
    return len(firsts) > _FEW and len(numbers) >= _NEARLY_ALL * len(firsts)


def _filled(span: Span, taken: Mapping[Span, str]) -> str:
    """A stretch of the line with the placeholders of the places in it."""
    text, at = "", span.start
    inside = [place for place in taken if place.start < span.end and place.end > span.start]
    for place in sorted(inside, key=lambda place: place.start):
        text += escaped(span.text[at - span.start : max(0, place.start - span.start)])
        text += taken[place] if place.start >= span.start else ""
        at = place.end
    return text + escaped(span.text[max(0, at - span.start) :])
