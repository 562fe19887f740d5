"""A dump as git shows it: the plain form, and behind it what has no neutral meaning."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

from cfgaudit import __version__
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.plain import stated_text, write_plain
from cfgaudit.dialects.raw import is_secret_path, row_key
from cfgaudit.reading.shapes import Assignment
from cfgaudit.settings import BAD_VALUE, Annotation, Settings, TroubleKind
from cfgaudit.vocabulary.declare import HIDDEN

IN_DOUBT = "# not as it should be shown:"  # begins the line that tells it, in what is shown


def shown(opened: Opened, settings: Settings) -> str | None:
    """The text that git shows for a dump; None where the dump had better be shown as it is.

    `settings` are its own, those that are secret masked by the caller. The text depends on them
    alone: no line numbers, no name of a file. So it changes only where something that is set does.
    """
    kinds = {trouble.kind for trouble in settings.troubles}
    if not any(entry.place for entry in settings.stated.values()):
        return None
    if TroubleKind.CONFLICT_MARKER in kinds:
        return None
    parts = [write_plain(settings), *_behind(opened, settings)]
    return "".join(part if part.endswith("\n") else part + "\n" for part in parts)


def sides_of(data: bytes) -> tuple[bytes, bytes] | None:
    """Both sides of a file that a merge left its marks in; None for a file without all of them."""
    ours: list[bytes] = []
    theirs: list[bytes] = []
    into: tuple[list[bytes], ...] = (ours, theirs)
    marks = 0
    for line in data.splitlines(keepends=True):
        mark = line[:7] if line[7:8] in (b" ", b"\n", b"\r", b"") else b""
        if mark == b"<<<<<<<" and len(into) == 2:
            into, marks = (ours,), marks + 1
        elif mark == b"|||||||" and len(into) == 1:
            into = ()
        elif mark == b"=======" and len(into) < 2:
            into = (theirs,)
        elif mark == b">>>>>>>" and len(into) < 2:
            into = (ours, theirs)
        else:
            for side in into:
                side.append(line)
    return (b"".join(ours), b"".join(theirs)) if marks and len(into) == 2 else None


def _behind(opened: Opened, settings: Settings) -> Iterator[str]:
    """As comments: what the plain form can't say, in an order of its own."""
    yield from _headed("the firmware's own:", _own(opened, settings))
    idle = (f"#   {key} = {raw.value}" for key, raw in settings.idle.items())
    yield from _headed("of what is off:", sorted(idle))
    again = [f"#   {other.path} = {stated_text(other)}" for _, other in settings.repeats]
    yield from _headed("said before, and overruled:", sorted(again))
    unread, notes = _unread(opened, settings)
    yield from _headed("can't be read:", (f"#   {line}" for line in unread))
    doubts = (t for t in settings.troubles if t.kind in BAD_VALUE)
    secret = opened.dialect.secret
    told = [f"#   {t.path}: {_message(t.path, t.message, secret)}" for t in doubts if t.path]
    yield from _headed("in doubt:", sorted(told))
    notes = sorted(notes, key=lambda note: note.about)  # each one's in their order
    yield from _headed("comments:", (f"#   {n.about}: # {n.text}" for n in notes))


def _own(opened: Opened, settings: Settings) -> Iterator[str]:
    """The raw settings, so that one row more or less changes no other row's line."""
    assigned = {s.line for s in opened.document.statements if isinstance(s.shape, Assignment)}
    stems = {key: row_key(key, settings.raw) for key in settings.raw}
    rows: list[tuple[str, str]] = []
    for key, raw in settings.raw.items():
        sign = " = " if raw.part or (raw.place and raw.place.line in assigned) else " "
        first = stems[key].partition(" ")[0]  # rows of one list keep the order that they have
        rows.append((first, f"#   {stems[key]}{sign}{raw.value}".rstrip()))
    return (row for _, row in sorted(rows, key=lambda row: row[0]))


def _unread(opened: Opened, settings: Settings) -> tuple[list[str], Sequence[Annotation]]:
    """The lines that can't be read, and all comments: what those promise to be secret hidden."""
    unread = opened.document.unread
    if not unread:
        return [], settings.annotations
    from cfgaudit.dialects.reader import read_settings
    from cfgaudit.dialects.redaction import redact
    from cfgaudit.reading.text import read_text

    text = read_text(redact(opened, names=False).data)
    hidden = replace(opened.document, text=text)
    return (
        [text.lines[statement.first] for statement, _ in unread],
        read_settings(hidden, opened.dialect).annotations,
    )


def _headed(head: str, lines: Iterable[str]) -> Iterator[str]:
    found = list(lines)
    if found:
        yield f"# {head}"
        yield from found


def _message(path: str, message: str, secret: Sequence[str]) -> str:
    return HIDDEN if is_secret_path(path, secret) else message


def mark_of(dialects: Iterable[Path]) -> str:
    """What the text depends on besides the dump: this version and the dialects, as one word.

    It is part of the command that git is given: git throws its cache away when that changes.
    """
    digest = sha256()
    for path in sorted(set(dialects)):
        digest.update(path.read_bytes())
    return f"{__version__}-{digest.hexdigest()[:8]}"
