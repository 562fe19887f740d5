"""Opens the dumps that are right, and seeds one fault in one of them.

The faults stand in seeded/AREA.toml, the rules' areas; each is one edit of a golden dump:

dump   which of corpus/*.dump is edited
under  the line below which `old` is looked for, where `old` alone is not unique
old    the line, as it stands there; new puts another text in its place, add puts a line
       below it, and neither of the two takes the line out
rule   the rule that must have a finding that it did not have before
also   rules that rightly fire with it, and why

What an edit means was read off the dialect's file in corpus/dialects by hand.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.craft.settings import Settings
from cfgaudit.dialects.load import load_dialect
from cfgaudit.dialects.model import Dialect
from cfgaudit.dialects.opening import Opened, bundled_dialects, open_dump

CORPUS: Final = Path(__file__).parents[2] / "corpus"
GOLDEN: Final = ("dipper", "wagtail", "goosander", "sandpiper")


@dataclass(frozen=True, slots=True)
class Fault:
    """One edit of one dump, and what must be found after it."""

    rule: str
    dump: str
    old: str
    new: str | None = None  # in place of `old`
    add: str | None = None  # below `old`; where neither is given, `old` is taken out
    under: str = ""
    also: tuple[str, ...] = ()
    why: str = ""


@cache
def faults() -> tuple[Fault, ...]:
    """The table of seeded faults."""
    files = sorted((Path(__file__).parent / "seeded").glob("*.toml"))
    tables = [tomllib.loads(file.read_text(encoding="utf-8"))["faults"] for file in files]
    rows = [row for table in tables for row in table]
    return tuple(Fault(**{**row, "also": tuple(row.get("also", ()))}) for row in rows)


@cache
def dialects() -> tuple[Dialect, ...]:
    """The team's dialects and the bundled ones, as the corpus folder's settings name them."""
    files = sorted((CORPUS / "dialects").glob("*.toml"))
    return (*(load_dialect(file) for file in files), *bundled_dialects())


def text_of(dump: str) -> str:
    """The text of a dump of the corpus, by its name without the suffix."""
    return (CORPUS / f"{dump}.dump").read_text(encoding="utf-8")


def opened(dump: str, text: str | None = None) -> Opened:
    """A dump of the corpus, or the text that stands in for it."""
    data = (text_of(dump) if text is None else text).encode("utf-8")
    return open_dump(f"{dump}.dump", data, dialects())


def settings_of(dump: str, text: str | None = None) -> Settings:
    """The settings of a dump of the corpus, or of the text that stands in for it."""
    return opened(dump, text).settings


@cache
def golden_audit(dump: str) -> Audit:
    """The whole book over a dump that is right."""
    return audit(settings_of(dump))


def seeded(fault: Fault) -> str:
    """The dump's text with the fault in it. Raises ValueError where its line is not found once."""
    lines = text_of(fault.dump).split("\n")
    start = _only(lines, fault.under) + 1 if fault.under else 0
    at = lines.index(fault.old, start) if fault.under else _only(lines, fault.old)
    if fault.add is not None:
        lines.insert(at + 1, fault.add)
    elif fault.new is not None:
        lines[at] = fault.new
    else:
        del lines[at]
    return "\n".join(lines)


def _only(lines: list[str], line: str) -> int:
    if lines.count(line) != 1:
        raise ValueError(f"{line!r} stands there {lines.count(line)} times")
    return lines.index(line)
