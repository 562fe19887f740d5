"""A rule's own fixture as an example: the fewest settings that part what is wrong from what is not.

The fixtures stand in tests/rules; a wheel has them below the package.
"""

from pathlib import Path
from typing import Final, NamedTuple

from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.rule import Rule
from cfgaudit.settings import Stated
from cfgaudit.testing.fixtures import Case, load_fixture

_PACKAGE: Final = Path(__file__).parents[1]
FOLDERS: Final = (_PACKAGE / "rules" / "fixtures", _PACKAGE.parent / "tests" / "rules")
_MOST_SHOWN: Final = 6
Shown = dict[str, Stated | None]


class Example(NamedTuple):
    """Settings as a rule finds them wrong, and as it says nothing; None where not stated.

    Both have the same paths: those that the finding is about, and those that differ.
    """

    wrong: Shown
    right: Shown


def example_of(rule: Rule) -> Example | None:
    """The example of a rule over one craft of the book; None for others, and without fixtures."""
    area, _, name = rule.id.partition("/")
    file = next((f for f in (d / area / f"{name}.toml" for d in FOLDERS) if f.is_file()), None)
    if file is None or rule.fleet:
        return None
    cases = load_fixture(file).cases
    bad = [(case, _stated(case)) for case in cases if case.kind == "fires"]
    good = [_stated(case) for case in cases if case.kind == "quiet"]
    apart = [
        (number, len(between - {*case.paths}), len(between), case, wrong, right)
        for number, (case, wrong) in enumerate(bad)
        for right in good
        if (between := {*_between(wrong, right)}) & {*wrong}
    ]
    if not apart:
        return None
    *_, case, wrong, right = min(apart, key=lambda entry: entry[:3])
    about = [path for path in case.paths if path in wrong or path in right]
    paths = list(dict.fromkeys([*_between(wrong, right), *about]))[:_MOST_SHOWN]
    return Example({p: wrong.get(p) for p in paths}, {p: right.get(p) for p in paths})


def _stated(case: Case) -> dict[str, Stated]:
    found = dict(read_plain(case.dump, "example").stated)
    if case.sheet:
        found |= read_sheet(case.sheet.encode(), "example").stated
    return found


def _between(one: dict[str, Stated], other: dict[str, Stated]) -> list[str]:
    """The paths whose value differs, those that only one states among them."""
    return [
        path
        for path in {**one, **other}
        if path not in one or path not in other or one[path].value != other[path].value
    ]
