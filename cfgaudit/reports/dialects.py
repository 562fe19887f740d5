"""What the dialect commands tell: coverage, faults, what was learnt; screens and data."""

from collections.abc import Sequence

from cfgaudit.dialects.dialect import Dialect, Fault
from cfgaudit.dialects.raw import is_secret_path
from cfgaudit.reports.data import head
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.secrets import mask
from cfgaudit.reports.wording import counted
from cfgaudit.teach.coverage import Coverage
from cfgaudit.teach.learn import LearntKey
from cfgaudit.vocabulary.declare import HIDDEN

_SHOWN = 12  # of a long list; the JSON has all


def coverage_screen(found: Coverage, dump: str, dialect: str, width: int) -> Screen:
    """What a dialect makes of a dump, and what to map next."""
    screen = Screen(width)
    screen.say(f"{dump} in {dialect}")
    screen.blank()
    screen.table(
        [
            ("lines that state something", f"{found.lines:,}"),
            ("  read as settings", f"{found.read:,}  ({_share(found.read, found.lines)})"),
            ("  known to mean nothing neutral", f"{found.known:,}"),
            ("  not mapped", f"{len(found.unknown):,}"),
            ("lines that can't be read", f"{found.unread:,}"),
            ("settings stated", f"{found.settings:,}"),
            ("values that failed", f"{len(found.failed):,}"),
            ("rules that can run", f"{found.checked} of {found.rules}"),
        ]
    )
    _listed(
        screen,
        "Values that failed",
        [(f"line {t.place.line if t.place else '-'}", t.message) for t in found.failed],
    )
    _listed(screen, "Keys not mapped", [(r.key, _short(r.value, 30)) for r in found.unknown])
    _idle(screen, found.idle)
    if found.wanted:
        screen.heading("Map next: rules wait for these settings")
        screen.table(
            (
                counted(len(w.rules), "rule"),
                Piece(w.pattern, "strong"),
                w.says,
            )
            for w in found.wanted[:_SHOWN]
        )
        screen.paragraph(
            "A rule names the first setting that it misses; it may miss others too.", indent=2
        )
    return screen


def _idle(screen: Screen, lines: Sequence[str]) -> None:
    """Mapping lines that read nothing; they may wait for another dump, or have a slip in them."""
    if not lines:
        return
    screen.heading("Mapping lines that read nothing here", "warning")
    for line in lines[:_SHOWN]:
        screen.paragraph(line, indent=2)
    _more(screen, lines)


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.0%}" if whole else "-"


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."


def _listed(screen: Screen, title: str, rows: list[tuple[str, str]]) -> None:
    if not rows:
        return
    screen.heading(title)
    screen.table((_short(name, 42), text) for name, text in rows[:_SHOWN])
    _more(screen, rows)


def _more(screen: Screen, entries: Sequence[object]) -> None:
    if len(entries) > _SHOWN:
        screen.paragraph(f"and {len(entries) - _SHOWN} more; --format json has all", indent=2)


def masked_coverage(found: Coverage, secret: Sequence[str]) -> Coverage:
    """The coverage with every secret hidden."""
    return found._replace(
        unknown=tuple(mask(raw) for raw in found.unknown),
        failed=tuple(
            trouble._replace(message=f"{trouble.path}: {HIDDEN}")
            if is_secret_path(trouble.path, secret)
            else trouble
            for trouble in found.failed
        ),
    )


def list_screen(counted: Sequence[tuple[Dialect, int]], every: int, width: int) -> Screen:
    """The dialects known here."""
    screen = Screen(width)
    for dialect, count in counted:
        screen.line(Piece(dialect.name, "strong"), f"  {count} of {every} settings")
        screen.paragraph(dialect.about, indent=2)
        screen.paragraph(dialect.file, indent=2)
    return screen


def problems_screen(
    problems: Sequence[Fault], file: str, width: int, idle: Sequence[str] = ()
) -> Screen:
    """Everything wrong with a dialect file, and the lines of it that read nothing."""
    screen = Screen(width)
    if not problems:
        screen.say(f"{file}: nothing wrong was found")
        _idle(screen, idle)
        return screen
    for one in problems:
        column = f":{one.column}" if one.column else ""
        screen.line(Piece(f"{file}:{one.line}{column}", "error"))
        screen.paragraph(one.message, indent=2)
    screen.blank()
    screen.line(counted(len(problems), "problem"))
    _idle(screen, idle)
    return screen


def learnt_screen(
    path: str, best: Sequence[LearntKey], found: Sequence[LearntKey], width: int
) -> Screen:
    """What was learnt of one setting: the plainest way, or those that are equally plain."""
    screen = Screen(width)
    if len(best) > 1:
        screen.line(
            Piece(f"{len(best)} keys explain {path} equally well", "warning"),
            "; another pair may tell them apart",
        )
    for one in best:
        screen.heading(f"{path} is {one.key}")
        screen.paragraph(one.says, label="how", hang=8)
        screen.paragraph("; ".join(f"{a} -> {b}" for a, b in one.texts), label="seen", hang=8)
        before = one.was or "no value that this pair tells"
        screen.paragraph(f"{one.texts[0][0]} then meant {before}", label="before", hang=8)
        if one.under:
            screen.paragraph(" / ".join(one.under), label="under", hang=8)
        for line in one.lines:
            screen.paragraph(line, label="line", hang=8)
        for name, words in one.words:
            said = ", ".join(f"{theirs} = {ours}" for theirs, ours in words)
            screen.paragraph(f"words.{name}: {said}", label="words", hang=8)
    others = [one for one in found if one not in best]
    if others:
        screen.blank()
        screen.line("Less plainly:")
        screen.table((one.key, one.says) for one in others[:_SHOWN])
    return screen


def coverage_json(found: Coverage, dump: str, dialect: str) -> dict[str, object]:
    """What a dialect makes of a dump."""
    return {
        **head(),
        "dump": dump,
        "dialect": dialect,
        "lines": found.lines,
        "read": found.read,
        "unread": found.unread,
        "settings": found.settings,
        "known": found.known,
        "unknown": [
            {"key": raw.key, "value": raw.value, "line": raw.place and raw.place.line}
            for raw in found.unknown
        ],
        "failed": [
            {"path": t.path, "message": t.message, "line": t.place and t.place.line}
            for t in found.failed
        ],
        "rules": found.rules,
        "checked": found.checked,
        "wanted": [{"path": w.pattern, "rules": list(w.rules)} for w in found.wanted],
        "idle": list(found.idle),
    }


def list_json(counted: Sequence[tuple[Dialect, int]], every: int) -> dict[str, object]:
    """The dialects known here."""
    return {
        **head(),
        "vocabulary": every,
        "dialects": [
            {"name": d.name, "about": d.about, "file": d.file, "mapped": n} for d, n in counted
        ],
    }


def problems_json(
    problems: Sequence[Fault], file: str, idle: Sequence[str] = ()
) -> dict[str, object]:
    """Everything wrong with a dialect file."""
    return {
        **head(),
        "file": file,
        "problems": [
            {"line": one.line, "column": one.column, "message": one.message} for one in problems
        ],
        "idle": list(idle),
    }


def learnt_json(
    path: str, best: Sequence[LearntKey], found: Sequence[LearntKey]
) -> dict[str, object]:
    """What was learnt of one setting; `equal` says how many explain the pairs as well."""
    return {
        **head(),
        "path": path,
        "equal": len(best),
        "found": [
            {
                "key": one.key,
                "texts": [list(pair) for pair in one.texts],
                "says": one.says,
                "before": one.was,
                "under": list(one.under),
                "lines": list(one.lines),
                "words": {name: dict(words) for name, words in one.words},
                "flags": dict(one.flags),
            }
            for one in found
        ],
    }
