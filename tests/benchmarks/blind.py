"""How blind the audit is to the four corpus craft with their build sheets, held against a table.

`python -m tests.benchmarks.blind` prints it; with `--write` it writes the table anew. The table may
only rise: tests/audit/test_blind.py holds it. Settings in which no plain wrong value matters stand
in it as reviewed, each with the reason.
"""

import sys
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from cfgaudit.audit.blind import Blindness, blindness
from cfgaudit.audit.incremental import Auditor
from cfgaudit.rules.book import book
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.paths import declared
from tests.audit.seeding import GOLDEN, settings_of, sheet_of

TABLE: Final = Path(__file__).parent / "blind.toml"


@cache
def reviewed() -> Mapping[str, Any]:
    """The committed table: what was noticed, which settings are equivalent whatever they say."""
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


@cache
def blindness_of(craft: str) -> Blindness:
    """How blind the rule book is to one of the corpus craft."""
    return blindness(settings_of(craft), Auditor(book(), sheet=sheet_of(craft)).of_values)


def equivalents(craft: str) -> dict[str, str]:
    """The settings of a craft in which no plain wrong value matters, each with the reason."""
    return {
        path: entry["why"]
        for entry in reviewed()["equivalent"]
        for path in entry["craft"].get(craft, ())
    }


def share(craft: str, cls: Class) -> float:
    """The part of a class's settings in which a wrong value is noticed, equivalents left out."""
    seen = blindness_of(craft).seen[cls]
    same = set(equivalents(craft)) & set(seen.unnoticed)
    judged = seen.stated - len(same)
    return 1.0 if not judged else seen.noticed / judged


def unseen(craft: str, cls: Class) -> list[str]:
    """The settings in which a wrong value goes unnoticed and would matter."""
    same = equivalents(craft)
    return [path for path in blindness_of(craft).seen[cls].unnoticed if path not in same]


def left_over() -> tuple[str, ...]:
    """The safety settings in which a wrong value goes unnoticed on some craft, as patterns."""
    paths = {path for craft in GOLDEN for path in unseen(craft, Class.SAFETY)}
    return tuple(sorted({entry.pattern for path in paths if (entry := declared(path))}))


def _printed() -> str:
    lines = ["craft      class    stated  noticed  share  unnoticed and no equivalent"]
    for craft in GOLDEN:
        for cls, seen in blindness_of(craft).seen.items():
            lines.append(
                f"{craft:10} {cls.name.lower():8} {seen.stated:6} {seen.noticed:8} "
                f"{share(craft, cls) * 100:5.1f} %  {', '.join(unseen(craft, cls))}"
            )
    return "\n".join(lines)


def _table_text() -> str:
    """The first part of the table, as measured now."""
    lines = ["[noticed]"]
    for craft in GOLDEN:
        found = blindness_of(craft)
        counts = ", ".join(f"{cls.name.lower()} = {s.noticed}" for cls, s in found.seen.items())
        lines.append(f"{craft} = {{ looked_at = {found.looked_at}, {counts} }}")
    return "\n".join(lines)


def main() -> None:
    """Print the shares; write the counts where that is asked for."""
    print(_printed())
    if "--write" in sys.argv[1:]:
        head, _, rest = TABLE.read_text(encoding="utf-8").partition("[noticed]")
        kept = rest[rest.index("[[equivalent]]") :]
        TABLE.write_text(f"{head}{_table_text()}\n\n{kept}", encoding="utf-8")


if __name__ == "__main__":
    main()
