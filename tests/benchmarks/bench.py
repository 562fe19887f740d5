"""Laws of the bench over random edits of sheet and dump: `python -m tests.benchmarks.bench 500`.

A case is one of the craft with up to four settings of its dump and two of its sheet changed at
random, to values that their kinds take. Of each is asked: whether a step of the list stays done
though what it proved is another now, whether a mend brings an error or blinds a rule, and whether
what is read back as it was meant is called clean. tests/work/test_bench_laws.py tries a few.
"""

import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from fnmatch import fnmatchcase
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random
from time import process_time
from typing import Final, NamedTuple

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
from cfgaudit.work.mend import mend
from cfgaudit.work.record import RecordEntry, StepOutcome, progress, working_list
from cfgaudit.work.steps import BenchStep, known_of
from tests.work.spoonbill import DIALECT, DUMP, filled

CORPUS: Final = Path(__file__).parents[2] / "corpus"
WIRED: Final = ("ports.", "motors.", "pads.", "telemetry.")  # for these a sheet makes mends sure
CRAFT: Final = ("spoonbill", "dipper", "goosander", "sandpiper", "wagtail")

AT = datetime(2026, 11, 25, tzinfo=UTC)


class Drawn(NamedTuple):
    """A craft with random edits in dump and sheet, and the paths that have another value."""

    name: str
    dump: Opened
    sheet: Settings
    changed: frozenset[str]


@cache
def craft_of(name: str) -> Drawn:
    """A craft as it is: Spoonbill with its sheet from nothing, or one of the corpus."""
    if name == "spoonbill":
        opened = open_dump("spoonbill.dump", DUMP.encode(), (load_dialect(DIALECT),))
        sheet = filled(new_sheet(proposal(opened.settings), name)).encode()
    else:
        file = CORPUS / f"{name}.dump"
        dialects = map(load_dialect, sorted((CORPUS / "dialects").glob("*.toml")))
        opened = open_dump(file.name, file.read_bytes(), tuple(dialects))
        sheet = (CORPUS / f"{name}.build.toml").read_bytes()
    return Drawn(name, opened, read_sheet(sheet, f"{name}.build.toml"), frozenset())


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
    """One of the craft with up to six edits, as far as its dialect can say them."""
    random, was = Random(seed), craft_of(CRAFT[seed % len(CRAFT)])
    wanted: dict[str, Value] = {}
    every = sorted(was.dump.settings.stated)
    paths = random.sample(every, random.randint(0, 2))
    paths += random.sample([p for p in every if p.startswith(WIRED)], random.randint(0, 2))
    for path in paths:
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
    return Drawn(was.name, dump, replace(was.sheet, stated=stated), frozenset(changed))


def on_a_step(dump: Opened, path: str, wanted: Value) -> Value:
    """A number as a firmware keeps it that rounds to the steps of its dump."""
    steps = [step for step in steps_of(dump).get(path, ()) if not step.part]
    if not steps or isinstance(wanted, bool) or not isinstance(wanted, int | float):
        return wanted
    size, start = steps[0].size, steps[0].start
    return float(round((Fraction(str(wanted)) - start) / size) * size + start)


@cache
def listed_before(name: str) -> Mapping[str, BenchStep]:
    """The list of a craft as it was."""
    was = craft_of(name)
    return {s.id: s for s in working_list(known_of(was.dump.settings, was.sheet))}


def no_step_stays_done_that_proved_what_has_changed(craft: Drawn) -> int:
    """Also none that would tell or ask another thing now, were it open or shut behind others.

    Gives how many steps are not wanted once more.
    """
    before = listed_before(craft.name)
    record = [RecordEntry(s.id, AT, StepOutcome.DONE, proves=s.proves) for s in before.values()]
    after = working_list(known_of(craft.dump.settings, craft.sheet))
    done = [one for one in progress(after, record) if one.entry is not None and not one.again]
    for one in done:
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
    return len(done)


def no_mend_brings_an_error_or_leaves_a_rule_unchecked(craft: Drawn) -> int:
    """Gives how many mends are taken."""

    def judge(settings: Settings) -> Audit:
        return audit(settings, sheet=craft.sheet)

    done = mend((craft.dump,), judge)
    first, last = done.first, judge(done.after[0].settings)
    errors = [
        {finding.key for finding in one.findings if finding.level is Level.ERROR}
        for one in (first, last)
    ]
    assert errors[1] <= errors[0]
    lacking = [
        {entry.rule.id: set(entry.lacks) for entry in one.not_checked} for one in (first, last)
    ]
    for rule, lacks in lacking[1].items():
        assert lacks <= lacking[0].get(rule, set()), rule
    return len(done.taken)


def a_true_read_back_is_clean(craft: Drawn) -> int:
    """What is meant, in its own and the plain form; with what was before, and without.

    Gives how many read-backs were held against what was meant.
    """
    again = open_dump("back.dump", craft.dump.document.to_bytes(), (craft.dump.dialect,))
    plain = open_dump("meant.cfg", write_plain(craft.dump.settings).encode(), (), PLAIN)
    for meant in (craft.dump, plain):
        for before in (None, craft_of(craft.name).dump.settings):
            found = confirm(meant, again, before)
            assert (found.amiss, found.doubts) == ((), ()), meant.document.name
    return 4


LAWS: Final[tuple[Callable[[Drawn], int], ...]] = (
    no_step_stays_done_that_proved_what_has_changed,
    no_mend_brings_an_error_or_leaves_a_rule_unchecked,
    a_true_read_back_is_clean,
)


def told(count: int) -> str:
    """What came of so many random craft, one a line: how many were looked at, and what broke."""
    made, seconds = [drawn(number) for number in range(count)], process_time()
    edits = sum(len(craft.changed) for craft in made)
    lines = [
        f"{count:,} random craft from {len(CRAFT)}, {edits:,} settings of dump or sheet changed"
    ]
    for law in LAWS:
        looked, broken = 0, []
        for number, craft in enumerate(made):
            try:
                looked += law(craft)
            except AssertionError as error:
                broken.append(f"  {number}, {craft.name}, {sorted(craft.changed)}: {error}")
        what = law.__name__.replace("_", " ")
        lines += [f"{what}: {looked:,} looked at, {len(broken)} craft break it", *broken]
    return "\n".join([*lines, f"{process_time() - seconds:.0f} s of processor time"])


if __name__ == "__main__":
    print(told(int(sys.argv[1]) if sys.argv[1:] else 500))
