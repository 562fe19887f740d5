"""Edits a dump: wanted values by path, every other byte left alone, read back before given out."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from cfgaudit.craft.kinds import value_text
from cfgaudit.craft.settings import Origin, Settings, Stated
from cfgaudit.craft.values import Value
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.lining import line_writer, relined, version_of, with_rework
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.placing import Placer, on_off_of
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.dialects.splicing import Rework, together
from cfgaudit.dialects.tracing import Traced, trace
from cfgaudit.dialects.valuing import NeedsLines, revalue
from cfgaudit.reading.document import Document
from cfgaudit.reading.lines import read_text


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
