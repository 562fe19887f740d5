"""Edits dumps: wanted values by path become a new text, read back, and the lines to type."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from cfgaudit.dialects.collect import target_of
from cfgaudit.dialects.edits import (
    NeedsLines,
    line_writer,
    relined,
    revalue,
    version_of,
    with_rework,
)
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.patch import Hunk, Rework, hunks, together
from cfgaudit.dialects.placing import Placed, Placer, on_off_of
from cfgaudit.dialects.template import CannotWrite
from cfgaudit.dialects.tracing import Traced, base_of, lines_of_statement, place_of, trace, whole_of
from cfgaudit.dialects.writer import ContextLines
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import read_text
from cfgaudit.settings import Origin, Settings, Stated
from cfgaudit.vocabulary.kinds import Value, value_text
from cfgaudit.vocabulary.paths import declared


@dataclass(frozen=True)
class Edited:
    """A dump after an edit; what could not be written is there by path, with the reason."""

    opened: Opened
    written: tuple[str, ...]
    refused: Mapping[str, str]


def edit(opened: Opened, wanted: Mapping[str, Value]) -> Edited:
    """The dump with the wanted values in it.

    A value that is stated is put in the place of the old one; one that is not gets the line that
    the dialect would write. What comes out was read again: nothing but wanted settings changed.
    """
    refused: dict[str, str] = {}
    todo: dict[str, Value] = {}
    for path, value in wanted.items():
        why = _hopeless(opened, path)
        if why:
            refused[path] = why
        elif not _holds(opened.settings.stated.get(path), value):
            todo[path] = value
    now = trace(opened.document, opened.dialect)
    now, rest = _valued(now, todo, refused)
    placer = Placer(opened.dialect, version_of(now), on_off_of(now.settings)) if rest else None
    for path, value in rest.items():
        assert placer is not None  # there is something to write
        try:
            now = _lined(now, path, value, todo, placer)
        except CannotWrite as error:
            refused[path] = str(error)
    written = tuple(path for path in todo if path not in refused)
    return Edited(Opened(now.document, opened.dialect, now.settings), written, refused)


def _hopeless(opened: Opened, path: str) -> str:
    """Why a path can't be written whatever its value; or nothing."""
    if not opened.dialect.name:
        return "no dialect knows this dump"
    if declared(path) is None:
        return f"{path} is no setting of the vocabulary"
    stated = opened.settings.stated.get(path)
    if stated is not None and stated.origin is Origin.GIVEN:
        return "it is always so in this firmware"
    return ""


def _valued(
    traced: Traced, todo: Mapping[str, Value], refused: dict[str, str]
) -> tuple[Traced, dict[str, Value]]:
    """All that can be put in stretches of its own, at once where that goes well; and the rest."""
    tables = traced.dialect.tables_for(version_of(traced))
    reworks: dict[str, Rework] = {}
    rest: dict[str, Value] = {}
    for path, value in todo.items():
        try:
            reworks[path] = revalue(traced, path, value, tables)
        except NeedsLines:
            rest[path] = value
        except CannotWrite as error:
            rest[path] = value
            if traced.of(path)[-1].statement < 0:
                refused[path] = str(error)
                del rest[path]
    if not reworks:
        return traced, rest
    made = _checked(traced, with_rework(traced.document, together(reworks.values())), todo, reworks)
    if isinstance(made, Traced):
        return made, rest
    now = traced
    for path in reworks:  # one of them goes wrong: each by itself
        try:
            rework = revalue(now, path, todo[path], tables)
            made = _checked(now, with_rework(now.document, rework), todo, (path,))
        except (NeedsLines, CannotWrite):
            made = ""
        if isinstance(made, Traced):
            now = made
        else:
            rest[path] = todo[path]
    return now, rest


def _lined(
    traced: Traced, path: str, value: Value, todo: Mapping[str, Value], placer: Placer
) -> Traced:
    """The dump with the lines for one setting. Raises CannotWrite."""
    if _holds(traced.settings.stated.get(path), value):
        return traced  # another setting's line has said it
    why = ""
    for document in _tries(traced, path, value, todo, placer):
        made = _checked(traced, document, todo, (path,))
        if isinstance(made, Traced):
            return made
        why = why or made
    raise CannotWrite(why or f"there is no place in this dump for the line that states {path}")


def _tries(
    traced: Traced, path: str, value: Value, todo: Mapping[str, Value], placer: Placer
) -> Iterator[Document]:
    """The ways to write it: with all else as it is, then with what else is wanted."""
    why: CannotWrite | None = None
    for known in ({path: value}, todo):
        try:
            yield from relined(traced, path, value, line_writer(traced, placer, known))
        except CannotWrite as error:
            why = why or error
    if why is not None:
        raise why


def _checked(
    before: Traced, document: Document, wanted: Mapping[str, Value], must: Iterable[str]
) -> Traced | str:
    """The document as it is read again, or why it won't do."""
    after = trace(document, before.dialect)
    why = misread(before.settings, after.settings, wanted, tuple(must))
    if not why and not _is_kept(document):
        why = f"this file's encoding, {document.text.encoding}, can't hold it"
    return why or after


def _is_kept(document: Document) -> bool:
    """Whether the file's bytes would be read as this very text."""
    try:
        again = read_text(document.to_bytes())
    except UnicodeEncodeError:
        return False
    return (again.lines, again.ends) == (document.text.lines, document.text.ends)


def misread(
    before: Settings, after: Settings, wanted: Mapping[str, Value], must: tuple[str, ...]
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
    if {k: r.value for k, r in before.raw.items()} != {k: r.value for k, r in after.raw.items()}:
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
    return value_text(found.kind, stated.value)


Dumps = tuple[Opened, ...]


class EditedDumps(NamedTuple):
    """The dumps after an edit, and what could not be written, by path, with the reason."""

    dumps: Dumps
    refused: Mapping[str, str]


def joined(dumps: Sequence[Opened]) -> Settings:
    """The settings of one craft from all its dumps."""
    settings = dumps[0].settings
    for other in dumps[1:]:
        settings = settings.joined(other.settings)
    return settings


def edit_dumps(dumps: Sequence[Opened], wanted: Mapping[str, Value]) -> EditedDumps:
    """Every value in each dump that states it; else in the first dump that has a line for it.

    What one of the dumps that state it can't say is written into none of them.
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
            made = edit(now[number], rest)
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


class TypedLines(NamedTuple):
    """Lines of a dialect; and what no line of it can say, in plain words."""

    lines: tuple[str, ...]
    unsaid: tuple[str, ...] = ()


class LineChange(NamedTuple):
    """One file's change: its hunks, the lines to type in, and those to take it back with."""

    file: str
    dialect: str
    hunks: tuple[Hunk, ...]
    forth: TypedLines
    back: TypedLines


def line_changes(before: Sequence[Opened], after: Sequence[Opened]) -> tuple[LineChange, ...]:
    """How each dump of a craft was changed, of those that were."""
    made = [line_change(old, new) for old, new in zip(before, after, strict=True)]
    return tuple(change for change in made if change is not None)


def line_change(before: Opened, after: Opened) -> LineChange | None:
    """How a dump was changed; None where it was not."""
    made = hunks(before.document.text, after.document.text)
    if not made:
        return None
    old = trace(before.document, before.dialect)
    new = trace(after.document, after.dialect)
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
    )


def _stretch(runs: Sequence[tuple[int, int]]) -> frozenset[int]:
    return frozenset(line for start, count in runs for line in range(start, start + count))


def _said(
    traced: Traced, changed: frozenset[int], other: Traced, gone: frozenset[int]
) -> TypedLines:
    """The lines that say what one side of a change states, and what they leave unsaid."""
    block = ContextLines()
    for number in _statements(traced, changed):
        block.add(Placed(_chain(traced, number), _text(traced, number)))
    mine = _stated_on(traced, changed)
    theirs = [path for path in _stated_on(other, gone) if path not in mine]
    unsaid = [
        f"line {other.document.statements[number].line} goes: {_text(other, number)}"
        for number in _rows_that_go(traced, changed, other, gone)
    ]
    for path in theirs:  # the other side's lines state it, and no line of this side does
        stated = traced.settings.stated.get(path)
        if stated is None:
            unsaid.append(f"{path} is not stated then: the line that states it must go")
        elif stated.origin is Origin.FACTORY:
            unsaid += _said_anew(traced, path, stated.value, block)
    return TypedLines(tuple(block.text(traced.dialect.look)), tuple(unsaid))


def _rows_that_go(
    traced: Traced, changed: frozenset[int], other: Traced, gone: frozenset[int]
) -> list[int]:
    """The other side's lines without another in their place: no line says that they go.

    They are of lists that have a line an element, and fewer elements on this side, if not none.
    """
    mine = Counter(_rows(traced, changed).values())
    found: list[int] = []
    for number, path in _rows(other, gone).items():
        mine[path] -= 1
        stated = traced.settings.stated.get(path)
        if mine[path] < 0 and stated and stated.origin is Origin.DUMP and stated.value != ():
            found.append(number)
    return found


def _rows(traced: Traced, lines: frozenset[int]) -> dict[int, str]:
    """The statements on these lines that state one element of a list each, with its path."""
    numbers = set(_statements(traced, lines))
    goals = [(mark.statement, target_of(mark.path)) for mark in traced.marks]
    return {
        number: goal.path
        for number, goal in goals
        if number in numbers and goal.part and not goal.label
    }


def _said_anew(traced: Traced, path: str, value: Value, block: ContextLines) -> list[str]:
    """Add the lines for a factory value that no line of the dump states; else say why not."""
    version = version_of(traced)
    placer = Placer(traced.dialect, version, on_off_of(traced.settings))
    try:
        lines = line_writer(traced, placer, {}).lines(path, value)
    except CannotWrite as error:
        return [f"{path} goes back to the factory value, which no line says: {error}"]
    for line in lines:
        block.add(line.placed)
    return []


def _stated_on(traced: Traced, lines: frozenset[int]) -> list[str]:
    """The settings that statements on these lines state, in order."""
    numbers = set(_statements(traced, lines))
    return list(
        dict.fromkeys(base_of(mark.path) for mark in traced.marks if mark.statement in numbers)
    )


def _statements(traced: Traced, lines: frozenset[int]) -> list[int]:
    """The statements on these lines that say something."""
    return [
        number
        for number, statement in enumerate(traced.document.statements)
        if whole_of(statement.shape) is not None
        and number in traced.read
        and lines.intersection(lines_of_statement(statement))
    ]


def _chain(traced: Traced, number: int) -> tuple[tuple[type, str], ...]:
    """The context lines that a statement stands under, as the dump has them."""
    return tuple(
        (form, _text(traced, opener))
        for (form, _), opener in zip(traced.frames[number], traced.runs[number], strict=True)
    )


def _text(traced: Traced, number: int) -> str:
    """A statement as the dump has it, without prompt and comment; a pasted one as it is read."""
    document = traced.document
    statement, text = document.statements[number], document.texts[number]
    whole = whole_of(statement.shape)
    if whole is None:
        return text.strip()
    lines = [document.text.lines[line] for line in lines_of_statement(statement)]
    lead = document.look.lead
    had_lead = lead and lines[0][: statement.column].rstrip().endswith(lead)
    text = text[whole[0] : whole[1]]
    if len(lines) > 1 and not document.repairs:  # a continued line stays in its parts
        lines[-1] = lines[-1][: place_of(statement, whole[1] - 1)[1] + 1]
        lines[0] = lines[0][place_of(statement, whole[0])[1] :]
        text = "\n".join(lines)
    return f"{lead} {text}" if had_lead else text
