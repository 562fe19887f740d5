"""Opens the dumps that are right, and seeds one fault in one of them.

The faults stand in seeded/AREA.toml, the rules' areas; each is one edit of a golden dump:

dump   which of corpus/*.dump is edited
under  the line below which `old` is looked for, where `old` alone is not unique
old    the line, or several in a row, as it stands there; new puts another text in its place, add
       puts a line below it, and neither of the two takes the line out
rule   the rule that must have a finding that it did not have before
also   rules that rightly fire with it, and why
scene  edits made beforehand, [line, line in its place]: they make the craft one of the kind that
       the rule judges, and are right in themselves
sheet  true where the edit is one of the craft's build sheet, corpus/*.build.toml; its scene too
build  edits of the build sheet made beforehand where the fault is one of the dump, [text, text in
       its place]: what was soldered otherwise, or is not told, to go with the scene

What an edit means was read off the dialect's file in corpus/dialects by hand.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.opening import Opened, bundled_dialects, open_dump
from cfgaudit.rules.rule import Rule, Yielded
from cfgaudit.settings import Settings

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
    scene: tuple[tuple[str, str], ...] = ()
    sheet: bool = False
    build: tuple[tuple[str, str], ...] = ()


def faults() -> tuple[Fault, ...]:
    """The seeded faults that one craft has by itself."""
    return tuple(fault for fault in _table() if not fault.rule.startswith("fleet/"))


def fleet_faults() -> tuple[Fault, ...]:
    """Those that show only where all the golden dumps are looked at together."""
    return tuple(fault for fault in _table() if fault.rule.startswith("fleet/"))


@cache
def _table() -> tuple[Fault, ...]:
    files = sorted((Path(__file__).parent / "seeded").glob("*.toml"))
    tables = [tomllib.loads(file.read_text(encoding="utf-8"))["faults"] for file in files]
    rows = [row for table in tables for row in table]
    return tuple(_fault(row) for row in rows)


def _fault(row: dict[str, Any]) -> Fault:
    edits = {key: tuple((old, new) for old, new in row.get(key, ())) for key in ("scene", "build")}
    return Fault(**{**row, "also": tuple(row.get("also", ())), **edits})


@cache
def dialects() -> tuple[Dialect, ...]:
    """The team's dialects and the bundled ones, as the corpus folder's settings name them."""
    files = sorted((CORPUS / "dialects").glob("*.toml"))
    return (*(load_dialect(file) for file in files), *bundled_dialects())


def text_of(dump: str, *, sheet: bool = False) -> str:
    """The text of a dump of the corpus, by its name without the suffix; or of its build sheet."""
    file = f"{dump}.build.toml" if sheet else f"{dump}.dump"
    return (CORPUS / file).read_text(encoding="utf-8")


def sheet_of(dump: str, text: str | None = None) -> Settings:
    """The build sheet of a craft of the corpus, or the text that stands in for it."""
    data = (text_of(dump, sheet=True) if text is None else text).encode("utf-8")
    return read_sheet(data, f"{dump}.build.toml")


def opened(dump: str, text: str | None = None) -> Opened:
    """A dump of the corpus, or the text that stands in for it."""
    data = (text_of(dump) if text is None else text).encode("utf-8")
    return open_dump(f"{dump}.dump", data, dialects())


def settings_of(dump: str, text: str | None = None) -> Settings:
    """The settings of a dump of the corpus, or of the text that stands in for it."""
    return opened(dump, text).settings


@cache
def golden_audit(dump: str) -> Audit:
    """The whole book over a dump that is right, and its build sheet."""
    return audit_of(dump)


def audit_of(
    dump: str,
    text: str | None = None,
    *,
    sheet: bool = False,
    build: tuple[tuple[str, str], ...] = (),
) -> Audit:
    """The whole book over a craft; `text` stands in for its dump, or with `sheet` for its sheet."""
    if sheet:
        return audit(settings_of(dump), sheet=sheet_of(dump, text))
    return audit(settings_of(dump, text), sheet=sheet_of(dump, _built(dump, build)))


def _built(dump: str, build: tuple[tuple[str, str], ...]) -> str:
    """The build sheet's text with edits made; each must find its own text once."""
    text = text_of(dump, sheet=True)
    for old, new in build:
        if text.count(old) != 1:
            raise ValueError(f"{old!r} stands there {text.count(old)} times")
        text = text.replace(old, new)
    return text


@cache
def audit_before(
    dump: str,
    scene: tuple[tuple[str, str], ...],
    *,
    sheet: bool = False,
    build: tuple[tuple[str, str], ...] = (),
) -> Audit:
    """The whole book over a craft before the fault, its scene set."""
    if not scene and not build:
        return golden_audit(dump)
    return audit_of(dump, "\n".join(_set(dump, scene, sheet)), sheet=sheet, build=build)


def audit_after(fault: Fault) -> Audit:
    """The whole book over a craft with the fault in it."""
    return audit_of(fault.dump, seeded(fault), sheet=fault.sheet, build=fault.build)


def _set(dump: str, scene: tuple[tuple[str, str], ...], sheet: bool) -> list[str]:
    lines = text_of(dump, sheet=sheet).split("\n")
    for old, new in scene:
        lines[_only(lines, old)] = new
    return lines


def seeded(fault: Fault) -> str:
    """The dump's or the sheet's text with the fault in it.

    Raises ValueError where its line is not found once.
    """
    lines = _set(fault.dump, fault.scene, fault.sheet)
    start = _only(lines, fault.under) + 1 if fault.under else 0
    first, *more = fault.old.split("\n")
    at = lines.index(first, start) if fault.under else _only(lines, first)
    end = at + 1 + len(more)
    if lines[at:end] != [first, *more]:
        raise ValueError(f"the lines below {first!r} are others")
    if fault.add is not None:
        lines.insert(end, fault.add)
    elif fault.new is not None:
        lines[at:end] = [fault.new]
    else:
        del lines[at:end]
    return "\n".join(lines)


def _only(lines: list[str], line: str) -> int:
    if lines.count(line) != 1:
        raise ValueError(f"{line!r} stands there {lines.count(line)} times")
    return lines.index(line)


def counted(rule: Rule, runs: list[str]) -> Rule:
    """The rule, noting each of its runs."""

    def check(*given: Any) -> Iterator[Yielded]:
        runs.append(rule.id)
        yield from rule.check(*given)

    return rule._replace(check=check)
