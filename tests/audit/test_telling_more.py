"""Who tells more of a craft hears no less: no true line of a build sheet silences a rule.

A rule may leave a matter to another one that looks at the build sheet. That one must then be able
to look: a mistake that is caught without a sheet is caught with any part of the craft's own.
"""

from collections.abc import Iterator
from random import Random
from typing import Any

import pytest

from cfgaudit.audit.engine import RANK, audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.book import book
from cfgaudit.rules.rule import Level, Rule
from cfgaudit.settings import Settings
from tests.audit.sound import MISTAKES, edited, is_about, sheet_of, told

LOOKS = [rule for rule in book() if rule.sheet or rule.sheet_wanted]
ALONE = [rule for rule in book() if not rule.fleet and rule not in LOOKS]


def catching(edit: dict[str, Any], sheet: Settings | None, rules: list[Rule]) -> list[Rule]:
    """The rules that catch a mistake."""
    return [
        found.rule
        for found in audit(edited(edit)[0], rules, sheet=sheet).findings
        if RANK[found.level] <= RANK[Level(edit["level"])] and is_about(found, edit["paths"])
    ]


def parts_of(sheet: Settings) -> Iterator[Settings]:
    """Parts of a sheet: each table alone, all but each table, and halves drawn by lot."""
    tables = sorted({path.rpartition(".")[0] for path in sheet.stated})
    lines = sorted(sheet.stated)
    for table in tables:
        yield Settings({p: s for p, s in sheet.stated.items() if p.rpartition(".")[0] == table})
        yield Settings({p: s for p, s in sheet.stated.items() if p.rpartition(".")[0] != table})
    for seed in range(20):
        drawn = set(Random(seed).sample(lines, len(lines) // 2))
        yield Settings({p: s for p, s in sheet.stated.items() if p in drawn})


def test_a_mistake_that_is_caught_without_a_sheet_is_caught_with_any_part_of_it() -> None:
    tried, silenced = 0, set()
    for edit in MISTAKES:
        usual = [] if edit.get("sheet") else catching(edit, None, LOOKS)
        if not usual or catching(edit, None, ALONE):
            continue
        tried += 1
        for part in parts_of(sheet_of(edit["craft"])):
            # as a rule they catch it with a part too; where they don't, any other may
            if not (catching(edit, part, usual) or catching(edit, part, LOOKS)):
                silenced.add(told(edit))
    assert silenced == set()
    assert tried >= 20


def silent_with(dump: str, sheet: str) -> bool:
    """Whether no rule finds an error in a dump, whatever is told of the craft."""
    found = audit(read_plain(dump), LOOKS, sheet=read_sheet(sheet.encode(), "x.toml")).findings
    return all(finding.level is not Level.ERROR for finding in found)


DEAF = """
receiver.link = sbus
ports.uart2.roles = receiver
ports.uart2.baud = 115200 Bd
ports.uart2.inverted = off
"""


@pytest.mark.parametrize("port", ["", "[ports.uart2]\nkind = 'hardware'\n", "[ports.uart2]\n"])
@pytest.mark.parametrize("framing", ["", "framing = '8E2'\n"])
@pytest.mark.parametrize("at", ["", "port = 'uart2'\n"])
def test_a_receiver_of_which_the_sheet_tells_the_truth_is_no_less_deaf(
    port: str, framing: str, at: str
) -> None:
    device = f"[devices.rx]\nkind = 'receiver'\nrate = 100000\ninverted = true\n{at}{framing}"
    assert not silent_with(DEAF, port + device)
