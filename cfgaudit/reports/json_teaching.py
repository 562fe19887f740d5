"""The JSON of the dialect commands."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cfgaudit import __version__

if TYPE_CHECKING:  # only their shapes are wanted
    from cfgaudit.dialects.dialect import Dialect
    from cfgaudit.teach.checking import Fault
    from cfgaudit.teach.coverage import Coverage
    from cfgaudit.teach.learn import Learnt

_HEAD = {"version": 1, "tool": f"cfgaudit {__version__}"}


def coverage_json(found: "Coverage", dump: str, dialect: str) -> dict[str, object]:
    """What a dialect makes of a dump."""
    return {
        **_HEAD,
        "dump": dump,
        "dialect": dialect,
        "lines": found.lines,
        "read": found.read,
        "unread": found.unread,
        "settings": found.settings,
        "known": found.known,
        "unknown": [
            {"key": raw.key, "value": raw.value, "line": raw.place.line if raw.place else None}
            for raw in found.unknown
        ],
        "failed": [
            {
                "path": trouble.path,
                "message": trouble.message,
                "line": trouble.place.line if trouble.place else None,
            }
            for trouble in found.failed
        ],
        "rules": found.rules,
        "checked": found.checked,
        "wanted": [{"path": w.pattern, "rules": list(w.rules)} for w in found.wanted],
    }


def list_json(counted: "Sequence[tuple[Dialect, int]]", every: int) -> dict[str, object]:
    """The dialects known here."""
    return {
        **_HEAD,
        "vocabulary": every,
        "dialects": [
            {"name": d.name, "about": d.about, "file": d.file, "mapped": n} for d, n in counted
        ],
    }


def problems_json(problems: "Sequence[Fault]", file: str) -> dict[str, object]:
    """Everything wrong with a dialect file."""
    return {
        **_HEAD,
        "file": file,
        "problems": [{"line": one.line, "message": one.message} for one in problems],
    }


def learnt_json(
    path: str, best: "Sequence[Learnt]", found: "Sequence[Learnt]"
) -> dict[str, object]:
    """What was learnt of one setting; `equal` says how many explain the pairs as well."""
    return {
        **_HEAD,
        "path": path,
        "equal": len(best),
        "found": [
            {
                "key": one.key,
                "texts": [list(pair) for pair in one.texts],
                "says": one.says,
                "under": list(one.under),
                "lines": list(one.lines),
                "words": {name: dict(words) for name, words in one.words},
                "flags": dict(one.flags),
            }
            for one in found
        ],
    }
