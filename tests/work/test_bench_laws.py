"""Laws of the bench over random edits of a craft's sheet and dump.

A few are tried here; `python -m tests.work.test_bench_laws 500` tries many.
"""

import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from fnmatch import fnmatchcase
from fractions import Fraction
from functools import cache
from random import Random
from typing import NamedTuple

import pytest

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.dialect import load_dialect
from cfgaudit.dialects.editor import edit_dumps
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import PLAIN, stated_text, write_plain
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.kinds import (
    Between,
    Either,
    Filter,
    Filters,
    Kind,
    OneOf,
    Quantities,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Text,
    Value,
    WordSet,
)
from cfgaudit.vocabulary.paths import declared, declared_in_sheet
from cfgaudit.work.build_sheet import new_sheet, proposal
from cfgaudit.work.confirm import confirm, steps_of
from cfgaudit.work.mend import key_of, mend
from cfgaudit.work.record import RecordEntry, StepOutcome, StepState, progress, working_list
from cfgaudit.work.steps import BenchStep, known_of
from tests.work.spoonbill import DIALECT, DUMP, filled

AT = datetime(2026, 11, 25, tzinfo=UTC)


class Drawn(NamedTuple):
    """A craft with random edits in dump and sheet, and the paths that have another value."""

    dump: Opened
    sheet: Settings
    changed: frozenset[str]


@cache
def spoonbill() -> Drawn:
    opened = open_dump("spoonbill.dump", DUMP.encode(), (load_dialect(DIALECT),))
    sheet = filled(new_sheet(proposal(opened.settings), "spoonbill"))
    return Drawn(opened, read_sheet(sheet.encode(), "spoonbill.build.toml"), frozenset())


def value(random: Random, kind: Kind) -> Value:
    """A value that a kind takes: one of its samples, or any number within its limits."""
    if isinstance(kind, Quantity) and (random.random() < 0.5 or not kind.samples()):
        return round(random.uniform(kind.low, min(kind.high, 9 * abs(kind.low) + 9000)), 2)
    if isinstance(kind, Text):
        return random.choice(("reed", "rush"))
    if isinstance(kind, Quantities | Between):
        ends = sorted(
            round(random.uniform(max(kind.low, 0), min(kind.high, 6000)), 1) for _ in "ab"
        )
        return tuple(ends)
    if isinstance(kind, SwitchRanges):
        low = 20 * random.randint(45, 80)
        return (SwitchRange(random.randint(5, 9), float(low), low + 400.0),)
    if isinstance(kind, Filters):
        return (Filter("pt1", float(random.randint(20, 500)), 0.0),)
    if isinstance(kind, Either):
        return value(random, kind.other) if random.random() < 0.7 else random.choice(kind.words)
    if isinstance(kind, OneOf):
        return random.choice(kind.listed)
    if isinstance(kind, WordSet) and not kind.samples():
        return frozenset({"reed"})
    return random.choice(kind.samples())


def drawn(seed: int) -> Drawn:
    """Spoonbill with up to four edits, as far as its dialect can say them."""
    random, was = Random(seed), spoonbill()
    wanted: dict[str, Value] = {}
    for path in random.sample(sorted(was.dump.settings.stated), random.randint(0, 3)):
        known = declared(path)
        if known is not None:
            wanted[path] = on_a_step(was.dump, path, value(random, known.kind))
    ((dump,), _) = edit_dumps((was.dump,), wanted)
    stated = dict(was.sheet.stated)
    for path in random.sample(sorted(stated), random.randint(0, 2)):
        known = declared_in_sheet(path)
        assert known is not None
        stated[path] = stated[path]._replace(value=value(random, known.kind))
    changed = {
        path
        for old, new in (
            (was.dump.settings.stated, dump.settings.stated),
            (was.sheet.stated, stated),
        )
        for path in {*old, *new}
        if path not in old or path not in new or stated_text(old[path]) != stated_text(new[path])
    }
    return Drawn(dump, replace(was.sheet, stated=stated), frozenset(changed))


def on_a_step(dump: Opened, path: str, wanted: Value) -> Value:
    """A number as a firmware keeps it that rounds to the steps of its dump."""
    steps = [step for step in steps_of(dump).get(path, ()) if not step.part]
    if not steps or isinstance(wanted, bool) or not isinstance(wanted, int | float):
        return wanted
    size, start = steps[0].size, steps[0].start
    return float(round((Fraction(str(wanted)) - start) / size) * size + start)


@cache
def listed_before() -> Mapping[str, BenchStep]:
    was = spoonbill()
    return {s.id: s for s in working_list(known_of(was.dump.settings, was.sheet))}


def no_step_stays_done_that_proved_what_has_changed(craft: Drawn) -> None:
    """Also none that would tell or ask another thing now."""
    before = listed_before()
    record = [RecordEntry(s.id, AT, StepOutcome.DONE, proves=s.proves) for s in before.values()]
    after = working_list(known_of(craft.dump.settings, craft.sheet))
    for one in progress(after, record):
        if one.state is not StepState.DONE:
            continue
        was = before[one.step.id]
        assert (was.do, was.expect, was.ask) == (one.step.do, one.step.expect, one.step.ask)
        for path in craft.changed:
            known = declared(path) or declared_in_sheet(path)
            if known is None or known.traits.volatile or known.traits.secret:
                continue
            assert not any(
                path == name or path.startswith(f"{name}.") or fnmatchcase(path, name)
                for name in was.watches
            ), (one.step.id, path)


def no_mend_brings_an_error_or_leaves_a_rule_unchecked(craft: Drawn) -> None:
    def judge(settings: Settings) -> Audit:
        return audit(settings, sheet=craft.sheet)

    done = mend((craft.dump,), judge)
    first, last = done.first, judge(done.after[0].settings)
    errors = [
        {key_of(finding) for finding in one.findings if finding.level is Level.ERROR}
        for one in (first, last)
    ]
    assert errors[1] <= errors[0]
    lacking = [
        {entry.rule.id: set(entry.lacks) for entry in one.not_checked} for one in (first, last)
    ]
    for rule, lacks in lacking[1].items():
        assert lacks <= lacking[0].get(rule, set()), rule


def a_true_read_back_is_clean(craft: Drawn) -> None:
    """What is meant, in its own and the plain form; with what was before, and without."""
    again = open_dump("back.dump", craft.dump.document.to_bytes(), (craft.dump.dialect,))
    plain = open_dump("meant.cfg", write_plain(craft.dump.settings).encode(), (), PLAIN)
    for meant in (craft.dump, plain):
        for before in (None, spoonbill().dump.settings):
            found = confirm(meant, again, before)
            assert (found.amiss, found.doubts) == ((), ())


LAWS = (
    no_step_stays_done_that_proved_what_has_changed,
    no_mend_brings_an_error_or_leaves_a_rule_unchecked,
    a_true_read_back_is_clean,
)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.__name__)
def test_a_law_of_the_bench(law: Callable[[Drawn], None]) -> None:
    for seed in range(12):
        law(drawn(seed))


def test_edits_are_drawn_that_change_dump_and_sheet() -> None:
    changed = [drawn(seed).changed for seed in range(12)]
    assert any(path.startswith("sheet.") for paths in changed for path in paths)
    assert any(not path.startswith("sheet.") for paths in changed for path in paths)


if __name__ == "__main__":
    for number in range(int(sys.argv[1])):
        for each in LAWS:
            try:
                each(drawn(number))
            except Exception as error:  # the run goes on, and tells of each
                print(number, each.__name__, sorted(drawn(number).changed), error)
    print("done")
