"""The lines that bring lost settings back, in the new firmware's dialect."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from cfgaudit.changes.upgrade import Fated
from cfgaudit.craft.settings import Raw, Stated
from cfgaudit.craft.values import Value
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.placing import Placed
from cfgaudit.dialects.spec import CannotWrite
from cfgaudit.dialects.writer import Writer, laid_out
from cfgaudit.reading.document import Document, Statement


@dataclass(frozen=True)
class Lines:
    """Lines of a dump; what they bring back, by path or key; what can't be written, and why."""

    text: str = ""
    brings: tuple[str, ...] = ()
    refused: tuple[tuple[str, str], ...] = ()

    def __add__(self, other: "Lines") -> "Lines":
        return Lines(
            self.text + other.text, self.brings + other.brings, self.refused + other.refused
        )


def bring_back(
    lost: Iterable[Fated], old: Opened, new: Opened, version: tuple[int, ...] = ()
) -> Lines:
    """Lines in the new dump's dialect that give lost settings their old values again.

    A line that states several settings takes the others as the new dump has them; what that
    does not state, as the old one had it.
    """
    entries = tuple(lost)
    known = replace(new.settings, stated={**old.settings.stated, **new.settings.stated})
    new = new._replace(settings=known)
    values = {entry.path: entry.old.value for entry in entries if isinstance(entry.old, Stated)}
    return _stated_lines(values, new, version) + _raw_lines(
        [entry for entry in entries if entry.raw], old.document, new
    )


def _stated_lines(values: Mapping[str, Value], new: Opened, version: tuple[int, ...]) -> Lines:
    """All of the values that can be written, written together."""
    refused: list[tuple[str, str]] = []
    fit: dict[str, Value] = {}
    writer = Writer(new.dialect, version, new.settings)
    for part in _writable(list(values.items()), writer, refused):
        fit |= part
    while fit:
        try:
            text = writer.write(fit)
        except CannotWrite as error:  # each alone fits, but not with the others: the last gives way
            path = next(reversed(fit))
            del fit[path]
            refused.append((path, str(error)))
        else:
            return Lines(text, tuple(fit), tuple(refused))
    return Lines("", (), tuple(refused))


def _writable(
    items: Sequence[tuple[str, Value]], writer: Writer, refused: list[tuple[str, str]]
) -> Iterable[dict[str, Value]]:
    """Groups of values that can be written; the others go to `refused`, each with its reason."""
    if not items:
        return
    try:
        writer.write(dict(items))
    except CannotWrite as error:
        if len(items) == 1:
            refused.append((items[0][0], str(error)))
            return
        half = len(items) // 2
        yield from _writable(items[:half], writer, refused)
        yield from _writable(items[half:], writer, refused)
    else:
        yield dict(items)


def _raw_lines(entries: Sequence[Fated], old: Document, new: Opened) -> Lines:
    """The own lines of the firmware, with the old values in their places."""
    placed: list[Placed] = []
    brings: list[str] = []
    refused: list[tuple[str, str]] = []
    at = {statement.line: statement for statement in old.statements}
    for entry in entries:
        line = _raw_line(entry, old, at)
        if line is None:
            refused.append((entry.path, "its line stands in another dump, or over several lines"))
        else:
            placed.append(line)
            brings.append(entry.path)
    text = laid_out(placed, new.dialect.look) if placed else ""
    return Lines(text, tuple(brings), tuple(refused))


def _raw_line(entry: Fated, old: Document, at: Mapping[int, Statement]) -> Placed | None:
    """The old dump's line, under the new name and the new dump's opening lines.

    None where that line is not whole in the old dump; `at` has its statements by line.
    """
    was, now = entry.old, entry.new
    assert isinstance(was, Raw)  # what was lost was there before
    if was.place is None or was.place.file != old.name:
        return None
    statement = at.get(was.place.line)
    if statement is None or len(statement.joints) > 1:
        return None
    line = old.text.lines[statement.first][statement.column :].strip()
    old_word, new_word = _last_word(was.key), _last_word(entry.path)
    under = now.under if isinstance(now, Raw) and now.place is not None else was.under
    return Placed(under, line.replace(old_word, new_word, 1))


def _last_word(key: str) -> str:
    return key.rpartition("/")[2].partition(" ")[0]
