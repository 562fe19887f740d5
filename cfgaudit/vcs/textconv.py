"""A dump as git shows it: the plain form, and behind it what has no neutral meaning."""

from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path

from cfgaudit import __version__
from cfgaudit.craft.settings import Settings, TroubleKind
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.plain import stated_text, write_plain


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


def _behind(opened: Opened, settings: Settings) -> Iterator[str]:
    """As comments: what the plain form can't say, in an order of its own."""
    own = sorted(f"#   {key} = {raw.value}".rstrip() for key, raw in settings.raw.items())
    yield from _headed("the firmware's own:", own)
    again = [f"#   {other.path} = {stated_text(other)}" for _, other in settings.repeats]
    yield from _headed("said before, and overruled:", sorted(again))
    yield from _headed("can't be read:", (f"#   {line}" for line in _unread(opened)))
    doubts = (t for t in settings.troubles if t.kind in (TroubleKind.IMPOSSIBLE, TroubleKind.UNIT))
    told = [f"#   {t.path}: {_message(t.path, t.message)}" for t in doubts if t.path]
    yield from _headed("in doubt:", sorted(told))


def _unread(opened: Opened) -> list[str]:
    """The lines that can't be read, what they promise to be secret hidden."""
    unread = opened.document.unread
    if not unread:
        return []
    from cfgaudit.dialects.redaction import redact
    from cfgaudit.reading.lines import read_text

    lines = read_text(redact(opened, names=False).data).lines
    return [lines[statement.first] for statement, _ in unread]


def _headed(head: str, lines: Iterable[str]) -> Iterator[str]:
    found = list(lines)
    if found:
        yield f"# {head}"
        yield from found


def _message(path: str, message: str) -> str:
    known = declared(path)
    return "(hidden)" if known and known.traits.secret else message


def mark_of(dialects: Iterable[Path]) -> str:
    """What the text depends on besides the dump: this version and the dialects, as one word.

    It is part of the command that git is given: git throws its cache away when that changes.
    """
    digest = sha256()
    for path in sorted(set(dialects)):
        digest.update(path.read_bytes())
    return f"{__version__}-{digest.hexdigest()[:8]}"
