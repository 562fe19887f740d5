"""What a dialect makes of a dump: lines read, keys mapped and not, rules that can run."""

from collections import Counter
from typing import NamedTuple

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.lines import idle_lines
from cfgaudit.dialects.opening import Opened
from cfgaudit.dialects.reader import read
from cfgaudit.reading.shapes import Assignment, Directive, Row, Unread
from cfgaudit.settings import BAD_VALUE, Origin, Raw, Trouble
from cfgaudit.vocabulary.paths import declared


class WantedSetting(NamedTuple):
    """A setting that no line states, and the rules that wait for it."""

    pattern: str
    says: str
    rules: tuple[str, ...]


class Coverage(NamedTuple):
    """What a dialect makes of one dump. Lines are those that state something."""

    lines: int
    read: int  # lines that state settings in the dialect's words
    unread: int  # lines that the grammar can't read
    settings: int
    unknown: tuple[Raw, ...]
    known: int  # lines that the dialect knows to have no neutral meaning
    failed: tuple[Trouble, ...]
    checked: int  # rules that can run in full
    rules: int
    wanted: tuple[WantedSetting, ...]  # what would open the most further rules comes first
    idle: tuple[str, ...]  # mapping lines of the dialect that read no line of the dump


def coverage(opened: Opened) -> Coverage:
    """Count what the dialect understood of a dump."""
    settings = opened.settings
    statements = opened.document.statements
    stating = [s for s in statements if isinstance(s.shape, Assignment | Directive | Row)]
    own = {s.place.line for s in settings.stated.values() if s.place and s.origin is Origin.DUMP}
    failed = tuple(t for t in settings.troubles if t.kind in BAD_VALUE)
    troubled = {trouble.place.line for trouble in failed if trouble.place}
    unknown = tuple(raw for raw in settings.raw.values() if not raw.known)
    dumb = {raw.place.line for raw in settings.raw.values() if raw.place}
    found = audit(settings)
    return Coverage(
        len(stating),
        sum(s.line in own or (s.line not in dumb | troubled) for s in stating),
        sum(isinstance(s.shape, Unread) for s in statements),
        sum(s.origin is Origin.DUMP for s in settings.stated.values()),
        unknown,
        sum(raw.known for raw in settings.raw.values()),
        failed,
        found.checked,
        found.rules,
        _wanted([(entry.rule.id, entry.lacks) for entry in found.not_checked]),
        tuple(idle_lines(opened.dialect, [read(opened.document, opened.dialect)])),
    )


def _wanted(lacking: list[tuple[str, tuple[str, ...]]]) -> tuple[WantedSetting, ...]:
    """The settings that rules lack, those first for which the most rules wait.

    A rule tells the first settings that it misses: others may come to light once it has them.
    """
    waiting: dict[str, list[str]] = {}
    for rule, lacks in lacking:
        for pattern in dict.fromkeys(pattern_of(path) for path in lacks):
            if pattern:
                waiting.setdefault(pattern, []).append(rule)
    count = Counter({pattern: len(rules) for pattern, rules in waiting.items()})
    ordered = sorted(waiting, key=lambda pattern: (-count[pattern], pattern))
    return tuple(WantedSetting(p, _says(p), tuple(waiting[p])) for p in ordered)


def pattern_of(path: str) -> str:
    """The declared pattern of a path; empty for what is no setting of a dump."""
    words = path.split(".")
    sample = ".".join({"N": "1", "AXIS": "roll"}.get(word, word) for word in words)
    found = declared(sample)
    if found is not None:
        return found.pattern
    return path if any(word.isupper() and len(word) > 1 for word in words) else ""


def _says(pattern: str) -> str:
    found = declared(".".join({"N": "1", "AXIS": "roll"}.get(w, w) for w in pattern.split(".")))
    return found.traits.says if found is not None else ""
