"""A rule's own fixture as an example: the fewest settings that part what is wrong from what is not.

The fixtures stand in tests/rules; a wheel has them below the package.
"""

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final, NamedTuple

from cfgaudit.audit.engine import audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.plain import read_plain, stated_text
from cfgaudit.rules.rule import Level, Rule
from cfgaudit.settings import Settings, Stated
from cfgaudit.testing.fixtures import Case, load_fixture

_PACKAGE: Final = Path(__file__).parents[1]
FOLDERS: Final = (_PACKAGE / "rules" / "fixtures", _PACKAGE.parent / "tests" / "rules")
_MOST_SHOWN: Final = 6
_MOST_WRONG, _MOST_RIGHT = 2, 2  # cases of each kind that are held against each other
# What the sticks' travel is where an example leaves it out: an arm switch is at rest at its end.
_ENDS: Final = "receiver.low = 1000 us\nreceiver.centre = 1500 us\nreceiver.high = 2000 us\n"
Shown = dict[str, Stated | None]
ByPath = dict[str, Stated]


class Example(NamedTuple):
    """Settings as a rule finds them wrong, and as it says nothing; None where not stated.

    Both have the same paths: those that the finding is about, and those that differ.
    """

    wrong: Shown
    right: Shown


def example_of(rule: Rule) -> Example | None:
    """The example of a rule over one craft of the book; None for others, and without fixtures.

    Nor is there one of what no setting tells, but a line of a dialect alone.
    """
    area, _, name = rule.id.partition("/")
    file = next((f for f in (d / area / f"{name}.toml" for d in FOLDERS) if f.is_file()), None)
    if file is None or rule.fleet:
        return None
    cases = [case for case in load_fixture(file).cases if not case.dialect]
    bad = [(case, _stated(case)) for case in cases if case.kind == "fires"][:_MOST_WRONG]
    silent = [_stated(case) for case in cases if case.kind == "quiet"]
    good = [(_ills(rule, stated), stated) for stated in silent]
    apart: list[tuple[tuple[_Distance, int], Case, ByPath, ByPath]] = []
    for number, (case, wrong) in enumerate(bad):
        near = [(ills, right) for ills, right in good if {*_between(wrong, right)} & {*wrong}]
        for ills, silent_one in _nearer(near, case, wrong)[:_MOST_RIGHT]:
            right = _nearest(rule, case, wrong, silent_one, ills)
            distance = _distance(ills, case, wrong, right)
            apart.append(((distance, number), case, wrong, right))
    if not apart:
        return None
    _, case, wrong, right = min(apart, key=lambda entry: entry[0])
    about = [path for path in case.paths if path in wrong or path in right]
    paths = list(dict.fromkeys([*_between(wrong, right), *about]))[:_MOST_SHOWN]
    return Example({p: wrong.get(p) for p in paths}, {p: right.get(p) for p in paths})


class _Distance(NamedTuple):
    """How far what is right is from being a plain answer to what is wrong."""

    ills: int  # what else is found of it
    beside: int  # settings that differ and that the finding does not name
    digits: int  # of the values that differ


def _distance(ills: int, case: Case, wrong: ByPath, right: ByPath) -> _Distance:
    between = _between(wrong, right)
    return _Distance(ills, len({*between} - {*case.paths}), _digits(between, right))


def _nearer(
    good: Iterable[tuple[int, ByPath]], case: Case, wrong: ByPath
) -> list[tuple[int, ByPath]]:
    """What is right, the nearest to what is wrong first."""
    return sorted(good, key=lambda entry: _distance(entry[0], case, wrong, entry[1]))


def _ills(rule: Rule, stated: ByPath) -> int:
    """How many errors and warnings the whole book finds; many where the rule is not content.

    What another rule calls wrong is no example of what is right.
    """
    own = {path: entry for path, entry in stated.items() if not path.startswith("sheet.")}
    own = {**read_plain(_ENDS, "example").stated, **own}
    said = {path: entry for path, entry in stated.items() if path.startswith("sheet.")}
    sheet = Settings(said) if said else None
    alone = audit(Settings(own), [rule], sheet=sheet)
    if alone.findings or rule.id not in alone.checked_ids:
        return 1_000
    found = audit(Settings(own), sheet=sheet)
    return sum(finding.level is not Level.NOTE for finding in found.findings)


def _digits(paths: Iterable[str], stated: ByPath) -> int:
    """How many digits the values have that are no mere zeros: a limit's very edge has many.

    What is given up is no better an answer than a number.
    """
    given = [stated_text(stated[path]) if path in stated else "none" for path in paths]
    texts = ["1" * 8 if re.match(r"none|0\b(?!\.)", text) else text for text in given]
    return sum(len(number.rstrip("0")) for text in texts for number in re.findall(r"\d+", text))


def _nearest(rule: Rule, case: Case, wrong: ByPath, right: ByPath, ills: int) -> ByPath:
    """The right settings with all from the wrong ones that the finding does not name, as far as
    they are no worse for it. What it names stays as somebody who knew wrote it down.
    """
    for path in (path for path in _between(wrong, right) if path not in case.paths):
        tried = {name: entry for name, entry in right.items() if name != path}
        if path in wrong:
            tried[path] = wrong[path]
        if {*_between(wrong, tried)} & {*wrong} and _ills(rule, tried) <= ills:
            right = tried
    return right


def _stated(case: Case) -> ByPath:
    found = dict(read_plain(case.dump, "example").stated)
    if case.sheet:
        found |= read_sheet(case.sheet.encode(), "example").stated
    return found


def _between(one: ByPath, other: ByPath) -> list[str]:
    """The paths whose value differs, those that only one states among them."""
    return [
        path
        for path in {**one, **other}
        if path not in one or path not in other or one[path].value != other[path].value
    ]
