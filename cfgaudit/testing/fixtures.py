"""Fixture files of rules, and what a rule does otherwise than its file says."""

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import isclose
from os import PathLike
from pathlib import Path
from typing import Any, Final, NamedTuple

from cfgaudit.audit.engine import Audit, Finding, audit
from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.collect import FactoryValues
from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.plain import read_plain
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import read_document
from cfgaudit.rules.rule import Rule
from cfgaudit.settings import Settings

# Cases of each kind.
LEAST: Final = {"fires": 2, "quiet": 2, "not_checked": 1, "not_applicable": 0}
_LEVELS: Final = ("error", "warning", "note")


class FixtureError(ValueError):
    """A fixture file that is not as it must be; the text names the file and what is wrong."""


@dataclass(frozen=True, slots=True)
class Case:
    """A dump in the plain form or a dialect, or several, and what the rule must say of it."""

    kind: str  # fires, quiet, not_checked or not_applicable
    name: str
    dump: str = ""
    dumps: tuple[str, ...] = ()  # in place of `dump`, for a fleet rule
    paths: tuple[str, ...] = ()
    message: tuple[str, ...] = ()
    figures: tuple[tuple[str, float], ...] = ()
    level: str = ""  # empty: not looked at
    mend: tuple[str, ...] | None = None  # None: not looked at
    advice: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    factory: tuple[tuple[str, str], ...] = ()
    sheet: str = ""
    dialect: str = ""  # the text of the one that the dump is in; empty: the plain form


@dataclass(frozen=True, slots=True)
class Fixture:
    """All cases of one rule."""

    rule: str
    cases: tuple[Case, ...]


def fixture_files(folder: Path) -> list[Path]:
    """Every fixture file below a folder, sorted."""
    return sorted(folder.glob("*/*.toml"))


def load_fixture(file: Path, *, fleet: bool = False) -> Fixture:
    """Read one file. Raises FixtureError where anything in it is not as it must be."""
    try:
        data = tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise FixtureError(f"{file}: {error}") from None
    unknown = sorted(data.keys() - {"rule", *LEAST})
    if unknown:
        raise FixtureError(f"{file}: unknown key {unknown[0]}")
    expected = f"{file.parent.name}/{file.stem}"
    if data.get("rule") != expected:
        raise FixtureError(f"{file}: rule = {expected!r} is expected")
    cases: list[Case] = []
    for kind, least in LEAST.items():
        tables = data.get(kind, [])
        if not isinstance(tables, list) or len(tables) < least:
            raise FixtureError(f"{file}: at least {least} of [[{kind}]] are expected")
        cases += [_case(file, kind, table, fleet) for table in tables]
    names = [(case.kind, case.name) for case in cases]
    twice = [f"{kind} {name!r}" for kind, name in names if names.count((kind, name)) > 1]
    if twice:
        raise FixtureError(f"{file}: {twice[0]} stands there twice")
    return Fixture(expected, tuple(cases))


# Key: (whether it must be there, how its value is read).
_FieldReader = Callable[[Any], Any]
_FixtureKeys = Mapping[str, tuple[bool, _FieldReader]]


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("a text is expected")
    return value


def _any_texts(value: object) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise ValueError("a list is expected")
    return tuple(_text(item) for item in value)


def _texts(value: object) -> tuple[str, ...]:
    texts = _any_texts(value)
    if not texts:
        raise ValueError("the list is empty")
    return texts


def _several(value: object) -> tuple[str, ...]:
    texts = _any_texts(value)
    if len(texts) < 2:
        raise ValueError("two or more are expected")
    return texts


def _figures(value: object) -> tuple[tuple[str, float], ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("a table of numbers is expected")
    for figure in value.values():
        if isinstance(figure, bool) or not isinstance(figure, int | float):
            raise ValueError("a table of numbers is expected")
    return tuple((name, float(figure)) for name, figure in value.items())


def _factory(value: object) -> tuple[tuple[str, str], ...]:
    if not isinstance(value, dict) or not value:
        raise ValueError("a table of texts is expected")
    return tuple((path, _text(text)) for path, text in value.items())


def _sheet(value: object) -> str:
    text = _text(value)
    read_sheet(text.encode(), "sheet")
    return text


def _dialect(value: object) -> str:
    text = _text(value)
    build_dialect(tomllib.loads(text), "dialect", text)
    return text


def _level(value: object) -> str:
    if value not in _LEVELS:
        raise ValueError(f"one of {', '.join(_LEVELS)} is expected")
    return str(value)


_ALWAYS: _FixtureKeys = {"name": (True, _text), "dump": (True, _text), "note": (False, _text),
                  "factory": (False, _factory), "sheet": (False, _sheet),
                  "dialect": (False, _dialect)}  # fmt: skip
_KEYS: Final[Mapping[str, _FixtureKeys]] = {
    "fires": {
        **_ALWAYS,
        # A line that can't be read has no path: there the list is empty.
        "paths": (True, _any_texts),
        "message": (True, _texts),
        "figures": (False, _figures),
        "level": (False, _level),
        "mend": (False, _any_texts),
        "advice": (False, _texts),
    },
    "quiet": _ALWAYS,
    "not_checked": {**_ALWAYS, "lacks": (True, _texts)},
    "not_applicable": {**_ALWAYS, "why": (True, _texts)},
}


def _case(file: Path, kind: str, table: object, fleet: bool) -> Case:
    if not isinstance(table, dict):
        raise FixtureError(f"{file}: [[{kind}]] is expected to be a table")
    where = f"{file}: {kind} {table.get('name', '')!r}"
    keys = dict(_KEYS[kind])
    if fleet:
        del keys["dump"], keys["factory"], keys["sheet"], keys["dialect"]
        keys["dumps"] = (True, _several)
    unknown = sorted(table.keys() - keys.keys())
    if unknown:
        raise FixtureError(f"{where}: unknown key {unknown[0]}")
    read: dict[str, Any] = {}
    for key, (needed, reader) in keys.items():
        if key in table:
            try:
                read[key] = reader(table[key])
            except ValueError as error:
                raise FixtureError(f"{where}: {key}: {error}") from None
        elif needed:
            raise FixtureError(f"{where}: lacks {key}")
    read.pop("note", None)
    return Case(kind, **read)


_NEAR = 1e-6  # how far a figure may be from the one in the file, as a part of it


def problems(rule: Rule, file: str | PathLike[str]) -> list[str]:
    """What the rule does otherwise than its fixture file says; empty where all is as it says.

    A file that can't be used is a problem too, so nothing is raised for it.
    """
    try:
        fixture = load_fixture(Path(file), fleet=rule.fleet)
    except FixtureError as error:
        return [str(error)]
    if fixture.rule != rule.id:
        return [f"{file}: it is about {fixture.rule}, the rule is {rule.id}"]
    return [
        f"{file}: {case.kind} {case.name!r}: {problem}"
        for case in fixture.cases
        for problem in case_problems(rule, case)
    ]


def case_problems(rule: Rule, case: Case) -> list[str]:
    """What the rule does otherwise than one case says."""
    said = _outcome(rule, case)
    failed = [finding.message for finding in said.findings if finding.failed]
    if failed:
        return failed
    if case.kind == "fires":
        return [*_firing(said, case), *_mending(rule, case, said)]
    lacks = [case.lacks] if case.kind == "not_checked" else []
    found = [f"it says: {finding.message}" for finding in said.findings]
    if said.lacks != lacks:
        found.append(f"it lacks {_listed(said.lacks)}; {_listed(lacks)} expected")
    if bool(said.unfit) != (case.kind == "not_applicable"):
        found.append(f"it is not applicable: {said.unfit}" if said.unfit else "it is applicable")
    found += [
        f"{part!r} is not in why: {said.unfit}" for part in case.why if part not in said.unfit
    ]
    return found


class _Outcome(NamedTuple):
    """What one rule says of one case; a fleet rule's lacks with whose they are."""

    findings: tuple[Finding, ...]
    lacks: list[tuple[str, ...]]
    unfit: str = ""  # why it is not about such a craft


def _outcome(rule: Rule, case: Case) -> _Outcome:
    if not rule.fleet:
        single = _audited(rule, case.dump, case)
        lacks = [entry.lacks for entry in single.not_checked]
        unfit = "".join(entry.why for entry in single.not_applicable)
        return _Outcome(single.findings, lacks, unfit)
    crafts = [read_plain(dump, f"{number}.cfg") for number, dump in enumerate(case.dumps)]
    fleet = audit_fleet(crafts, (rule,))
    lacks = [tuple(f"{lack.craft}: {lack.path}" for lack in e.lacks) for e in fleet.not_checked]
    return _Outcome(fleet.findings, lacks)


def _audited(rule: Rule, dump: str, case: Case) -> Audit:
    read = _read_in(case.dialect, dump) if case.dialect else read_plain(dump)
    settings = replace(read, factory=FactoryValues(dict(case.factory)))
    sheet = read_sheet(case.sheet.encode(), "build.toml") if case.sheet else None
    return audit(settings, (rule,), sheet=sheet)


def _read_in(text: str, dump: str) -> Settings:
    dialect = build_dialect(tomllib.loads(text), "dialect", text)
    return read_settings(read_document("dump", dump.encode(), dialect.look), dialect)


def _firing(said: _Outcome, case: Case) -> list[str]:
    """Why no finding is as the case says; told of the one that differs least."""
    differences = [list(_differences(finding, case)) for finding in said.findings]
    if not differences:
        return ["it says nothing"]
    return min(differences, key=len)


def _differences(finding: Finding, case: Case) -> Iterator[str]:
    paths = _told_paths(finding)
    if paths != case.paths:
        yield f"its paths are {_spelled(paths)}; {_spelled(case.paths)} expected"
    for part in case.message:
        if part not in finding.message:
            yield f"{part!r} is not in its message: {finding.message}"
    for part in case.advice:
        if part not in finding.advice:
            yield f"{part!r} is not in its advice: {finding.advice}"
    yield from _wrong_figures(dict(finding.figures), case)
    if case.level not in ("", finding.level.value):
        yield f"its level is {finding.level.value}; {case.level} expected"
    mend = _edits(finding)
    if case.mend not in (None, mend):
        yield f"its mend is {_spelled(mend)}; {_spelled(case.mend or ())} expected"


def _wrong_figures(figures: dict[str, float], case: Case) -> Iterator[str]:
    for name, value in case.figures:
        if name not in figures:
            yield f"it has no figure {name}"
        elif not isclose(figures[name], value, rel_tol=_NEAR):
            yield f"its figure {name} is {figures[name]!r}; {value!r} expected"


def _told_paths(finding: Finding) -> tuple[str, ...]:
    """A finding's paths; a fleet rule's with whose they are, as `0: craft.name`."""
    if not finding.crafts:
        return finding.paths
    owned = zip(finding.crafts, finding.paths, strict=True)
    return tuple(f"{craft}: {path}" for craft, path in owned)


def _edits(finding: Finding) -> tuple[str, ...]:
    return tuple(f"{edit.path} = {edit.value}" for edit in finding.mend)


def _mending(rule: Rule, case: Case, said: _Outcome) -> Iterator[str]:
    """Whether each change that the rule proposes clears its finding, stated in the case or not."""
    for finding in said.findings:
        if not finding.mend:
            continue
        if rule.fleet:
            yield "it proposes a change, and nobody can tell for which of the craft"
            continue
        mend = _edits(finding)
        after = _audited(rule, _mended(case.dump, finding), case)
        if finding.paths in [left.paths for left in after.findings]:
            yield f"{_spelled(mend)} does not clear it"
        elif case.mend and after.findings:
            yield f"{_spelled(mend)} leaves: {after.findings[0].message}"
        for trouble in after.settings.troubles:
            if trouble.path:
                yield f"{_spelled(mend)} is no change that can be made: {trouble.message}"


def _mended(dump: str, finding: Finding) -> str:
    """The dump with the edits in place of the lines that state their paths.

    The edits come first: below a section head their paths would be read as parts of it.
    """
    settings = read_plain(dump)
    lines = dump.split("\n")
    for edit in finding.mend:
        if edit.path in settings and (place := settings[edit.path].place) is not None:
            lines[place.line - 1] = ""
    return "\n".join([*_edits(finding), *lines])


def _spelled(parts: tuple[str, ...]) -> str:
    return ", ".join(parts) or "none"


def _listed(lacks: list[tuple[str, ...]]) -> str:
    return "; ".join(_spelled(paths) for paths in lacks) or "nothing"
