"""Holds a rule against its fixture file; for any test framework, or none."""

from collections.abc import Iterator
from dataclasses import replace
from math import isclose
from os import PathLike
from pathlib import Path
from typing import NamedTuple

from cfgaudit.audit.engine import Audit, Finding, audit
from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.craft.sheet_file import read_sheet
from cfgaudit.dialects.collect import FactoryValues
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.rule import Rule
from cfgaudit.testing.fixtures import Case, FixtureError, load_fixture

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
    return found


class _Outcome(NamedTuple):
    """What one rule says of one case; a fleet rule's lacks with whose they are."""

    findings: tuple[Finding, ...]
    lacks: list[tuple[str, ...]]


def _outcome(rule: Rule, case: Case) -> _Outcome:
    if not rule.fleet:
        single = _audited(rule, case.dump, case)
        return _Outcome(single.findings, [entry.lacks for entry in single.not_checked])
    crafts = [read_plain(dump, f"{number}.cfg") for number, dump in enumerate(case.dumps)]
    fleet = audit_fleet(crafts, (rule,))
    lacks = [tuple(f"{lack.craft}: {lack.path}" for lack in e.lacks) for e in fleet.not_checked]
    return _Outcome(fleet.findings, lacks)


def _audited(rule: Rule, dump: str, case: Case) -> Audit:
    settings = replace(read_plain(dump), factory=FactoryValues(dict(case.factory)))
    sheet = read_sheet(case.sheet.encode(), "build.toml") if case.sheet else None
    return audit(settings, (rule,), sheet=sheet)


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
