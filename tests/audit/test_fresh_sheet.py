"""A build sheet as it is made brings nothing that the dump does not bring by itself."""

from collections.abc import Iterator
from itertools import islice
from random import Random

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.rules.book import book
from cfgaudit.settings import Settings
from cfgaudit.work.build_sheet import new_sheet, proposal
from tests.audit.seeding import GOLDEN, settings_of
from tests.audit.sound import CRAFT, MISTAKES, dump_of, edited, told

LOOKS = [rule for rule in book() if rule.sheet or rule.sheet_wanted]  # others read no sheet
EVERY = 4
DUMPS = {**{name: settings_of(name) for name in GOLDEN}, **{name: dump_of(name) for name in CRAFT}}


def brought(dump: Settings) -> set[str]:
    """What the rules that look at a sheet find with a fresh one, and do not find without."""
    fresh = read_sheet(new_sheet(proposal(dump)).encode(), "fresh.build.toml")
    before = {(f.rule.id, f.paths) for f in audit(dump, LOOKS).findings}
    found = audit(dump, LOOKS, sheet=fresh).findings
    return {f"{f.rule.id}: {f.message}" for f in found if (f.rule.id, f.paths) not in before}


def thinner(dump: Settings) -> Iterator[Settings]:
    """The dump as a dialect reads it that knows less of its lines."""
    groups = sorted({path.partition(".")[0] for path in dump})
    leaves = ("roles", "baud", "output", "spin", "use", "enabled", "layout", "poles")
    for group in groups:
        yield Settings({p: s for p, s in dump.stated.items() if not p.startswith(f"{group}.")})
    for leaf in leaves:
        yield Settings({p: s for p, s in dump.stated.items() if p.rpartition(".")[2] != leaf})
    for seed in range(3):
        kept = set(Random(seed).sample(sorted(dump.stated), len(dump.stated) // 2))
        yield Settings({p: s for p, s in dump.stated.items() if p in kept})


@pytest.mark.parametrize("name", DUMPS)
def test_a_fresh_sheet_brings_no_finding_that_the_dump_alone_does_not(name: str) -> None:
    assert brought(DUMPS[name]) == set()
    first = list(DUMPS).index(name) % EVERY  # so each part is left out of one craft or another
    for part in islice(thinner(DUMPS[name]), first, None, EVERY):
        assert brought(part) == set()


@pytest.mark.long
@pytest.mark.parametrize("name", DUMPS)
def test_a_fresh_sheet_brings_none_whatever_part_of_the_dump_is_read(name: str) -> None:
    for part in thinner(DUMPS[name]):
        assert brought(part) == set()


def test_a_fresh_sheet_of_a_craft_with_a_mistake_brings_nothing_more() -> None:
    """What it takes from the dump is no second witness."""
    made = {told(edit): brought(edited(edit)[0]) for edit in MISTAKES if not edit.get("sheet")}
    assert {name: found for name, found in made.items() if found} == {}
