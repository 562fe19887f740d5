"""The one editor: wanted values by path become the smallest change of a dump, read back once.

Whatever writes lines writes by it. A value that is stated is put in the place of the old one; one
that is not gets the line that the dialect would write. What can't be said is refused, and why.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import NamedTuple

from cfgaudit.dialects.edits import (
    NeedsLines,
    OwnLine,
    lines_of_statement,
    new_lines,
    put_all_own,
    put_own,
    relined,
    revalue,
    sections_of,
    with_new_lines,
    with_rework,
)
from cfgaudit.dialects.opening import Opened, joined
from cfgaudit.dialects.patch import Hunk, Rework, hunks, together
from cfgaudit.dialects.raw import whole_of
from cfgaudit.dialects.reader import Reading, read
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.dialects.writing import ContextLines, LineWriter, Placed, WholeLine
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.vocabulary.paths import declared
from cfgaudit.vocabulary.units import is_unit


@dataclass(frozen=True)
class Edited:
    """A dump after an edit; what could not be written is there by path, with the reason."""

    opened: Opened
    written: tuple[str, ...]
    refused: Mapping[str, str]


def edit(
    opened: Opened, wanted: Mapping[str, Value], beside: Mapping[str, Value] | None = None
) -> Edited:
    """The dump with the wanted values in it.

    A line that states several settings takes those that the dump does not state from `beside`.
    What comes out was read again: nothing but wanted settings changed.
    """
    refused: dict[str, str] = {}
    todo: dict[str, Value] = {}
    for path, value in wanted.items():
        why = _hopeless(opened, path)
        if why:
            refused[path] = why
        elif not _holds(opened.settings.stated.get(path), value):
            todo[path] = value
    now = read(opened.document, opened.dialect)
    if todo:
        work = _WantedEdit({**_hanging(now, todo), **todo}, dict(beside or {}))
        now = work.lined(*work.valued(now, refused), refused)
    refused = {path: why for path, why in refused.items() if path in wanted}
    written = tuple(path for path in todo if path not in refused)
    return Edited(Opened(now.document, opened.dialect, now.settings), written, refused)


def _hanging(reading: Reading, todo: Mapping[str, Value]) -> dict[str, Value]:
    """What hangs on a setting that shall change, with the values that it has and keeps."""
    found: dict[str, Value] = {}
    for _ in reading.marks:
        more = {
            mark.path: mark.stated.value
            for mark in reading.marks
            if mark.stated and mark.spec.by in {**todo, **found} and mark.path not in found
        }
        if not more:
            break
        found |= more
    return found


@dataclass(frozen=True)
class _WantedEdit:
    """What is wanted, and what may stand beside it in a line."""

    todo: Mapping[str, Value]
    beside: Mapping[str, Value]

    def _writer(self, reading: Reading, wanted: Mapping[str, Value]) -> LineWriter:
        return LineWriter(reading, {**self.beside, **_trusted(reading)}, wanted)

    def valued(self, reading: Reading, refused: dict[str, str]) -> tuple[Reading, dict[str, Value]]:
        """All that can be put in stretches of its own, at once where that goes; and the rest."""
        shared = {mark.path if mark.spec.cut else mark.spec.by for mark in reading.marks}
        writer = self._writer(reading, {p: v for p, v in self.todo.items() if p in shared})
        reworks: dict[str, Rework] = {}
        rest: dict[str, Value] = {}
        for path, value in self.todo.items():
            try:
                reworks[path] = revalue(reading, path, value, writer)
            except NeedsLines:
                rest[path] = value
            except CannotWrite as error:
                if reading.of(path)[-1].statement < 0:
                    refused[path] = str(error)
                else:
                    rest[path] = value
        document = with_rework(reading.document, together(reworks.values()))
        with suppress(CannotWrite):
            return self._checked(reading, document, reworks) if reworks else reading, rest
        for path in reworks:  # one of them goes wrong: each by itself
            try:
                rework = revalue(reading, path, self.todo[path], writer)
                document = with_rework(reading.document, rework)
                reading = self._checked(reading, document, (path,))
            except (NeedsLines, CannotWrite):
                rest[path] = self.todo[path]
        return reading, rest

    def lined(
        self, reading: Reading, rest: Mapping[str, Value], refused: dict[str, str]
    ) -> Reading:
        """The dump with lines for the rest, as far as they can be written."""
        reading, left = self._new_lined(reading, rest, refused)
        for path, value in left.items():
            try:
                reading = self._with_lines(reading, path, value)
            except CannotWrite as error:
                refused[path] = str(error)
        left = {path: value for path, value in rest.items() if path in refused}
        whole = self._together(reading, left) if len(left) > 1 else None
        if whole is None:
            return reading
        for path in left:
            del refused[path]
        return whole

    def _together(self, reading: Reading, left: Mapping[str, Value]) -> Reading | None:
        """The dump with lines for all that could not be written one by one; None where it can't be.

        Two that change places stand in each other's way while only one of them has moved.
        """
        now = reading
        try:
            for path, value in left.items():
                if _holds(now.settings.stated.get(path), value):
                    continue
                document = next(relined(now, path, value, self._writer(now, self.todo)))
                now = read(document, now.dialect, now.version)
            return self._checked(reading, now.document, left)
        except (CannotWrite, StopIteration):
            return None

    def _new_lined(
        self, reading: Reading, rest: Mapping[str, Value], refused: dict[str, str]
    ) -> tuple[Reading, Mapping[str, Value]]:
        """New lines put in at once, where that reads back as it should; and what is left.

        Where it does not, each half of them is put in by itself.
        """
        writer, sections = self._writer(reading, self.todo), sections_of(reading)
        fresh: dict[str, list[WholeLine]] = {}
        for path, value in rest.items() if len(rest) > 1 else ():
            with suppress(CannotWrite):
                fresh[path] = new_lines(reading, path, value, writer, sections)
        fresh = {path: lines for path, lines in fresh.items() if lines}
        if len(fresh) < 2:
            return reading, rest
        lines = dict.fromkeys(line for made in fresh.values() for line in made)
        document = with_new_lines(
            reading, reading.document, [(line.placed, line.paths) for line in lines]
        )
        left = {path: value for path, value in rest.items() if path not in fresh}
        with suppress(CannotWrite):
            return self._checked(reading, document, fresh), left
        half, paths = len(fresh) // 2, list(fresh)
        for some in (paths[:half], paths[half:]):
            reading = self.lined(reading, {path: rest[path] for path in some}, refused)
        return reading, left

    def _with_lines(self, reading: Reading, path: str, value: Value) -> Reading:
        """The dump with the lines for one setting. Raises CannotWrite."""
        if _holds(reading.settings.stated.get(path), value):
            return reading  # another setting's line has said it
        why = ""
        try:
            for document in self._tries(reading, path, value):
                try:
                    return self._checked(reading, document, (path,))
                except CannotWrite as error:
                    why = str(error)  # the last way knows most of what is wanted beside
        except CannotWrite as error:
            why = why or str(error)
        raise CannotWrite(why or f"there is no place in this dump for the line that states {path}")

    def _tries(self, reading: Reading, path: str, value: Value) -> Iterator[Document]:
        """The ways to write it: with all else as it is, then with what else is wanted."""
        why: CannotWrite | None = None
        for wanted in ({path: value}, self.todo):
            try:
                yield from relined(reading, path, value, self._writer(reading, wanted))
            except CannotWrite as error:
                why = error
        if why is not None:
            raise why

    def _checked(self, before: Reading, document: Document, must: Iterable[str]) -> Reading:
        """The document as it is read again. Raises CannotWrite, with why, where it won't do."""
        after = read(document, before.dialect, before.version)
        may_say = {**self.beside, **self.todo}
        return _kept(after, misread(before.settings, after.settings, may_say, must))


def _trusted(reading: Reading) -> dict[str, Value]:
    """What a dump states, but for what is doubted."""
    stated = reading.settings.stated
    return {path: entry.value for path, entry in stated.items() if not entry.doubt}


def _hopeless(opened: Opened, path: str) -> str:
    """Why a path can't be written whatever its value; or nothing."""
    if not opened.dialect.name:
        return "no dialect knows this dump"
    if declared(path) is None:
        return f"{path} is no setting of the vocabulary"
    if opened.settings.unmerged is not None:
        return "a merge was left unfinished in it: choose one side of each conflict first"
    stated = opened.settings.stated.get(path)
    if stated is not None and stated.origin is Origin.GIVEN:
        return "it is always so in this firmware"
    unclear = opened.settings.unclear.get(path)
    if unclear is not None and unclear.place is not None:
        line = opened.document.text.lines[unclear.place.line - 1].strip()
        return f"line {unclear.place.line} says it in words that the dialect does not know: {line}"
    return ""


def _kept(reading: Reading, why: str) -> Reading:
    """A reading of which nothing is amiss, and whose text the file's encoding can hold.

    Raises CannotWrite, with why, where it can't be kept.
    """
    if not why and not _is_kept(reading.document):
        why = f"this file's encoding, {reading.document.text.encoding}, can't hold it"
    if why:
        raise CannotWrite(why)
    return reading


def _is_kept(document: Document) -> bool:
    """Whether the file's bytes would be read as this very text."""
    try:
        again = read_text(document.to_bytes())
    except UnicodeEncodeError:
        return False
    return (again.lines, again.ends) == (document.text.lines, document.text.ends)


def misread(
    before: Settings, after: Settings, wanted: Mapping[str, Value], must: Iterable[str]
) -> str:
    """What an edited dump says amiss: a wanted value not there, or anything else changed."""
    for path in must:
        stated = after.stated.get(path)
        if not _holds(stated, wanted[path]):
            return f"{path} reads back as {_shown(path, stated)}"
    for path in dict.fromkeys([*before.stated, *after.stated]):
        old, new = before.stated.get(path), after.stated.get(path)
        if _same(old, new) or (path in wanted and _holds(new, wanted[path])):
            continue
        if new is None:
            return f"the line for it leaves no room for {path}, which this dump states"
        return f"the line for it would also say {path} = {_shown(path, new)}"
    olds, news = ({k: r.value for k, r in side.raw.items()} for side in (before, after))
    apart = [(olds.get(k), news.get(k)) for k in {*olds, *news} if olds.get(k) != news.get(k)]
    # a unit that a mapping passes over comes and goes with its number
    if any(None not in pair or not is_unit(str(pair[0] or pair[1])) for pair in apart):
        return "a line that this dialect does not know would be changed"
    if _more(_troubles(before), _troubles(after)) or _more(_repeats(before), _repeats(after)):
        return "something would be said twice, or could not be read"
    return ""


def _troubles(settings: Settings) -> Counter[tuple[str, str]]:
    return Counter((trouble.kind.value, trouble.message) for trouble in settings.troubles)


def _repeats(settings: Settings) -> Counter[tuple[str, str]]:
    return Counter((again.path, "") for again, _ in settings.repeats)


def _more(before: Counter[tuple[str, str]], after: Counter[tuple[str, str]]) -> bool:
    return any(count > before[key] for key, count in after.items())


def _holds(stated: Stated | None, value: Value) -> bool:
    """Whether a setting has a value, beyond doubt."""
    if stated is None or stated.doubt:
        return False
    return stated.value == value and isinstance(stated.value, bool) is isinstance(value, bool)


def _same(old: Stated | None, new: Stated | None) -> bool:
    if old is None or new is None:
        return old is new
    return old.value == new.value and old.doubt == new.doubt


def _shown(path: str, stated: Stated | None) -> str:
    found = declared(path)
    if stated is None or found is None:
        return "nothing"
    return found.kind.spell(stated.value)


Dumps = tuple[Opened, ...]


class EditedDumps(NamedTuple):
    """The dumps after an edit, and what could not be written, by path, with the reason."""

    dumps: Dumps
    refused: Mapping[str, str]


def edit_dumps(dumps: Sequence[Opened], wanted: Mapping[str, Value]) -> EditedDumps:
    """Every value in each dump that states it; else in the first dump that has a line for it.

    What one of the dumps that state it can't say is written into none of them. What its only dump
    can't say by itself is tried again with what is new there: one line may want them all.
    """
    now, refused = _where_stated(dumps, wanted)
    whole = joined(dumps)
    rest = {
        path: value
        for path, value in wanted.items()
        if not any(_states(dump, path) for dump in dumps)
        and (path not in whole or whole[path].value != value)
    }
    for number in range(len(now)):
        if rest:
            again = {
                path: wanted[path]
                for path in refused
                if path not in rest and [_states(dump, path) for dump in dumps].count(True) == 1
                if _states(dumps[number], path)
            }
            made = edit(now[number], {**rest, **again})
            now[number] = made.opened
            refused = {**made.refused, **refused}
            for path in made.written:
                refused.pop(path, None)
            rest = {path: value for path, value in rest.items() if path in made.refused}
    return EditedDumps(tuple(now), refused)


def _where_stated(
    dumps: Sequence[Opened], wanted: Mapping[str, Value]
) -> tuple[list[Opened], dict[str, str]]:
    """The dumps with the values that they state changed, and what one of them can't say."""
    now = list(dumps)
    written: set[str] = set()
    refused: dict[str, str] = {}
    for number, dump in enumerate(dumps):
        own = {path: value for path, value in wanted.items() if _states(dump, path)}
        if own:
            made = edit(dump, own)
            now[number] = made.opened
            written.update(made.written)
            refused.update(made.refused)
    halves = {path: why for path, why in refused.items() if path in written}
    if not halves:
        return now, refused
    now, others = _where_stated(dumps, {p: v for p, v in wanted.items() if p not in halves})
    return now, {**halves, **others}


def _states(dump: Opened, path: str) -> bool:
    """Whether a dump has a line for a path, be it one with a value that can't be."""
    stated = dump.settings.stated.get(path)
    if stated is not None and stated.origin is Origin.DUMP:
        return True
    return any(trouble.path == path for trouble in dump.settings.troubles)


def put_lines(opened: Opened, lines: Iterable[OwnLine]) -> Edited:
    """The dump with lines that no mapping covers: in the place of those they stand for, or put in.

    What comes out was read again: nothing else changed.
    """
    refused: dict[str, str] = {}
    ordered = sorted(lines, key=lambda line: line.place is None)  # places are those of the dump
    now = _put(read(opened.document, opened.dialect), ordered, refused)
    written = tuple(line.name for line in ordered if line.name not in refused)
    return Edited(Opened(now.document, opened.dialect, now.settings), written, refused)


def _put(now: Reading, lines: Sequence[OwnLine], refused: dict[str, str]) -> Reading:
    """All lines at once where that reads back as it should; else each half on its own."""
    if len(lines) > 1:
        document = put_all_own(now, lines)
        if document is not None:
            with suppress(CannotWrite):
                return _own_checked(now, document, len(lines))
        half = len(lines) // 2
        return _put(_put(now, lines[:half], refused), lines[half:], refused)
    for line in lines:
        why = "there is no place in this dump for it"
        for document in put_own(now, line):
            try:
                return _own_checked(now, document, 1)
            except CannotWrite as error:
                why = str(error)
        refused[line.name] = why
    return now


def _own_checked(before: Reading, document: Document, many: int) -> Reading:
    """The dump with so many more lines of its own as it is read again. Raises CannotWrite."""
    after = read(document, before.dialect, before.version)
    was, now = (replace(reading.settings, raw={}) for reading in (before, after))
    olds, news = Counter(_own_texts(before)), Counter(_own_texts(after))
    if max((olds - news).total(), (news - olds).total()) > many:
        raise CannotWrite("another line that this dialect does not know would be changed")
    return _kept(after, misread(was, now, {}, ()))


def _own_texts(reading: Reading) -> Iterator[tuple[str, str, str]]:
    """Every line and field that no mapping takes: its heads, its key where it is a field, text."""
    for entry in reading.statements:
        for left in entry.leftovers:
            text = reading.document.lines[entry.statement.first].strip()
            yield left.context, left.key, left.span.text if left.span is not None else text


class TypedLines(NamedTuple):
    """Lines of a dialect; and what no line of it can say, in plain words."""

    lines: tuple[str, ...]
    unsaid: tuple[str, ...] = ()


class LineChange(NamedTuple):
    """One file's change: its hunks, the lines to type in, and those to take it back with.

    `saves` tells whether the dialect knows the lines by which the firmware keeps what is typed.
    """

    file: str
    dialect: str
    hunks: tuple[Hunk, ...]
    forth: TypedLines
    back: TypedLines
    saves: bool


def line_changes(before: Sequence[Opened], after: Sequence[Opened]) -> tuple[LineChange, ...]:
    """How each dump of a craft was changed, of those that were."""
    made = [line_change(old, new) for old, new in zip(before, after, strict=True)]
    return tuple(change for change in made if change is not None)


def line_change(before: Opened, after: Opened) -> LineChange | None:
    """How a dump was changed; None where it was not."""
    made = hunks(before.document.text, after.document.text)
    if not made:
        return None
    old = read(before.document, before.dialect)
    new = read(after.document, after.dialect)
    olds = _stretch([(hunk.line, len(hunk.old)) for hunk in made])
    moved, news = 0, []
    for hunk in made:
        news.append((hunk.line + moved, len(hunk.new)))
        moved += len(hunk.new) - len(hunk.old)
    return LineChange(
        before.document.name,
        before.dialect.name,
        made,
        _said(new, _stretch(news), old, olds),
        _said(old, olds, new, _stretch(news)),
        bool(before.dialect.after) or before.dialect.keys_are_paths,
    )


def _stretch(runs: Sequence[tuple[int, int]]) -> frozenset[int]:
    return frozenset(line for start, count in runs for line in range(start, start + count))


def _said(
    reading: Reading, changed: frozenset[int], other: Reading, gone: frozenset[int]
) -> TypedLines:
    """The lines that say what one side of a change states, and what they leave unsaid."""
    block = ContextLines()
    for number in _statements(reading, changed):
        block.add(Placed(_chain(reading, number), _text(reading, number)))
    mine = _stated_on(reading, changed)
    theirs = [path for path in _stated_on(other, gone) if path not in mine]
    unsaid = [
        f"line {other.document.statements[number].line} goes: {_text(other, number)}"
        for number in _rows_that_go(reading, changed, other, gone)
    ]
    for path in theirs:  # the other side's lines state it, and no line of this side does
        stated = reading.settings.stated.get(path)
        if stated is None:
            unsaid.append(f"{path} is not stated then: the line that states it must go")
        elif stated.origin is Origin.FACTORY:
            unsaid += _said_anew(reading, path, stated.value, block)
    said, lines = reading.dialect, block.text(reading.dialect.look)
    wrapped = (*said.before, *lines, *said.after) if lines else ()
    return TypedLines(wrapped, tuple(unsaid))


def _rows_that_go(
    reading: Reading, changed: frozenset[int], other: Reading, gone: frozenset[int]
) -> list[int]:
    """The other side's lines without another in their place: no line says that they go.

    They are of lists that have a line an element, and fewer elements on this side, if not none.
    """
    mine = Counter(_rows(reading, changed).values())
    found: list[int] = []
    for number, path in _rows(other, gone).items():
        mine[path] -= 1
        stated = reading.settings.stated.get(path)
        if mine[path] < 0 and stated and stated.origin is Origin.DUMP and stated.value != ():
            found.append(number)
    return found


def _rows(reading: Reading, lines: frozenset[int]) -> dict[int, str]:
    """The statements on these lines that state one element of a list each, with its path."""
    numbers = set(_statements(reading, lines))
    goals = [(mark.statement, mark.target) for mark in reading.marks]
    return {
        number: goal.path
        for number, goal in goals
        if number in numbers and goal.part and not goal.label
    }


def _said_anew(reading: Reading, path: str, value: Value, block: ContextLines) -> list[str]:
    """Add the lines for a factory value that no line of the dump states; else say why not."""
    try:
        lines = LineWriter(reading, _trusted(reading), {}).lines(path, value)
    except CannotWrite as error:
        return [f"{path} goes back to the factory value, which no line says: {error}"]
    for line in lines:
        block.add(line.placed)
    return []


def _stated_on(reading: Reading, lines: frozenset[int]) -> list[str]:
    """The settings that statements on these lines state, in order."""
    numbers = set(_statements(reading, lines))
    return list(
        dict.fromkeys(mark.target.path for mark in reading.marks if mark.statement in numbers)
    )


def _statements(reading: Reading, lines: frozenset[int]) -> list[int]:
    """The statements on these lines that say something."""
    return [
        number
        for number, statement in enumerate(reading.document.statements)
        if whole_of(statement.shape) is not None
        and reading.statements[number].says
        and lines.intersection(lines_of_statement(statement))
    ]


def _chain(reading: Reading, number: int) -> tuple[tuple[type, str], ...]:
    """The context lines that a statement stands under, as the dump has them."""
    chain = reading.statements[number].context.chain
    return tuple(
        (context.form or object, _text(reading, opener))
        for context, opener in zip(chain, reading.openers[number], strict=True)
    )


def _text(reading: Reading, number: int) -> str:
    """A statement as the dump has it, without prompt and comment; a pasted one as it is read."""
    document = reading.document
    statement, text = document.statements[number], document.texts[number]
    whole = whole_of(statement.shape)
    if whole is None:
        return text.strip()
    lines = [document.text.lines[line] for line in lines_of_statement(statement)]
    lead = document.look.lead
    had_lead = lead and lines[0][: statement.column].rstrip().endswith(lead)
    if document.look.parts and len(lines) == 1:  # with the signs that part its words or cells
        return lines[0][statement.column :].strip()
    text = text[whole[0] : whole[1]]
    if len(lines) > 1 and not document.repairs:  # a continued line stays in its parts
        lines[-1] = lines[-1][: statement.at(whole[1] - 1)[1] + 1]
        lines[0] = lines[0][statement.at(whole[0])[1] :]
        text = "\n".join(lines)
    return f"{lead} {text}" if had_lead else text
