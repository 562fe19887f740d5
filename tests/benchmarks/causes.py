"""How often the causes are the right ones: `python -m tests.benchmarks.causes`, to be read.

A case is a sound craft of corpus/sound with several of the real mistakes of tests/audit in it at
once, none of two about the same setting, and with harmless changes of its numbers beside them. A
mistake counts where it brings an error or a warning by itself. With the craft as it was beforehand
the changes are the suspects; without it there is the faulty dump (and its sheet) alone. Told are:

named   of the settings that causes name, how many somebody really changed for the worse
faults  of the mistakes, how many have a setting of theirs named
exact   of the cases, in how many each mistake is named and nothing else, and no more is told of
        any once just the settings named are as they were before
whole   of the cases, in how many the settings named are all that the mistakes changed

A cause of nothing but what the sound craft is rightly told of already is not counted: its fault is
none of the mistakes. Many a mistake changes settings that no finding needs (all three gains of an
axis, where two are spoken of), and a cause is the smallest set that clears, so not every case can
be whole: how many can is what the same cases come to with the craft as it was.

`python -m tests.benchmarks.causes FIRST COUNT` measures COUNT other cases of each form, from the
one numbered FIRST on: what nobody looked at while the causes were made better.
"""

import random
import sys
from collections.abc import Iterator, Mapping, Set
from dataclasses import replace
from functools import cache
from time import process_time
from typing import Any, NamedTuple

from cfgaudit.audit.causes import Cause, likely, since
from cfgaudit.audit.engine import audit
from cfgaudit.audit.incremental import Auditor
from cfgaudit.rules.book import book
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import declared
from tests.audit.sound import CRAFT, MISTAKES, dump_of, edited, sheet_of

SEED = 20261128
HARMLESS = 20  # changes beside the mistakes
FORMS = (
    (6, 20, True),
    (3, 25, True),
    (3, 25, False),
)  # mistakes a case, cases, whether the craft as it was is known


class Score(NamedTuple):
    """What was told over many cases."""

    named: int = 0
    right: int = 0
    faults: int = 0
    found: int = 0
    exact: int = 0
    whole: int = 0
    cases: int = 0
    seconds: float = 0.0  # of processor time, all together

    def __str__(self) -> str:
        return (
            f"named {self.right}/{self.named} ({100 * self.right / max(1, self.named):.0f} %), "
            f"faults {self.found}/{self.faults} ({100 * self.found / max(1, self.faults):.0f} %), "
            f"exact {self.exact}/{self.cases} ({100 * self.exact / max(1, self.cases):.0f} %), "
            f"whole {self.whole}/{self.cases}, {self.seconds / max(1, self.cases):.2f} s a case"
        )


@cache
def own_of(craft: str) -> frozenset[tuple[str, tuple[str, ...]]]:
    """What a sound craft is told of as it stands, by rule and settings."""
    found = audit(dump_of(craft), sheet=sheet_of(craft)).findings
    return frozenset((finding.rule.id, finding.paths) for finding in found)


@cache
def telling(craft: str) -> list[tuple[Mapping[str, Any], frozenset[str]]]:
    """The mistakes of a craft's dump that the audit tells of, each with the settings changed."""
    found: list[tuple[Mapping[str, Any], frozenset[str]]] = []
    base = own_of(craft)
    for edit in MISTAKES:
        if edit["craft"] != craft or edit.get("sheet"):
            continue
        after, sheet = edited(edit)
        told = [f for f in audit(after, sheet=sheet).findings if f.level is not Level.NOTE]
        if any((f.rule.id, f.paths) not in base for f in told):
            found.append((edit, frozenset({*edit.get("set", {}), *edit.get("remove", ())})))
    return found


def cases(
    mistakes: int, count: int, first: int = 0
) -> Iterator[tuple[str, Settings, list[frozenset[str]]]]:
    """Seeded cases: the craft, its settings with the mistakes in, what each of them changed.

    They are always the same ones in the same order; those before the `first` are left out.
    """
    drawn = random.Random(SEED + mistakes)
    ready = {craft: telling(craft) for craft in CRAFT}
    fit = [craft for craft in CRAFT if len(ready[craft]) >= mistakes]
    for number in range(first + count):
        craft = fit[number % len(fit)]
        chosen: list[frozenset[str]] = []
        stated = dict(dump_of(craft).stated)
        for edit, paths in drawn.sample(ready[craft], len(ready[craft])):
            if len(chosen) == mistakes or any(not paths.isdisjoint(other) for other in chosen):
                continue
            after = edited(edit)[0].stated
            for path in paths:
                stated.pop(path, None)
                if path in after:
                    stated[path] = after[path]
            chosen.append(paths)
        if number >= first:
            yield craft, replace(dump_of(craft), stated=stated), chosen


def tuned(settings: Settings, craft: str, kept: frozenset[str], drawn: random.Random) -> Settings:
    """The settings with harmless changes: gains, rates and the like by some hundredths."""
    stated = dict(settings.stated)
    base = {(f.rule.id, f.paths) for f in audit(settings, sheet=sheet_of(craft)).findings}
    open_to = [
        path
        for path, entry in stated.items()
        if isinstance(entry.value, float) and path not in kept and entry.value
    ]
    changed = 0
    for path in drawn.sample(open_to, len(open_to)):
        value = round(float(stated[path].value) * drawn.choice((0.95, 1.05)), 3)  # type: ignore[arg-type]
        known = declared(path)
        if known is None or known.kind.beyond(value):
            continue
        tried = {**stated, path: stated[path]._replace(value=value)}
        now = audit(replace(settings, stated=tried), sheet=sheet_of(craft)).findings
        if {(f.rule.id, f.paths) for f in now} == base:
            stated, changed = tried, changed + 1
        if changed == HARMLESS:
            break
    return replace(settings, stated=stated)


def scored(mistakes: int, count: int, *, before: bool, first: int = 0) -> Score:
    """The score over seeded cases."""
    score = Score()
    drawn = random.Random(SEED)
    for craft, faulty, chosen in cases(mistakes, count, first):
        every = frozenset().union(*chosen)
        settings = tuned(faulty, craft, every, drawn) if before else faulty
        auditor = Auditor(book(), sheet=sheet_of(craft)).of_values
        began = process_time()
        made = since(dump_of(craft), settings, auditor) if before else likely(settings, auditor)
        seconds = process_time() - began
        causes = [cause for cause in made.causes if not _is_own(cause, craft)]
        named = {path for cause in causes for path in cause.paths}
        exact = named <= every and all(not paths.isdisjoint(named) for paths in chosen)
        score = Score(
            score.named + len(named),
            score.right + len(named & every),
            score.faults + len(chosen),
            score.found + sum(not paths.isdisjoint(named) for paths in chosen),
            score.exact + (exact and _is_answered(settings, craft, named)),
            score.whole + (named == every),
            score.cases + 1,
            score.seconds + seconds,
        )
    return score


def _is_answered(settings: Settings, craft: str, named: Set[str]) -> bool:
    """Whether no more is told than of the sound craft with these settings as that one has them."""
    kept = {path: entry for path, entry in settings.stated.items() if path not in named}
    was = {path: entry for path, entry in dump_of(craft).stated.items() if path in named}
    now = audit(replace(settings, stated={**kept, **was}), sheet=sheet_of(craft)).findings
    told = [finding for finding in now if finding.level is not Level.NOTE]
    return all((finding.rule.id, finding.paths) in own_of(craft) for finding in told)


def _is_own(cause: Cause, craft: str) -> bool:
    return all((found.rule.id, found.paths) in own_of(craft) for found in cause.findings)


def main(first: int = 0, count: int = 0) -> None:
    """Print the scores; of `count` other cases from the `first` on, where that is given."""
    for mistakes, usual, before in FORMS:
        what = "the earlier dump known" if before else "one dump alone"
        print(f"{count or usual} cases of {mistakes} mistakes, {what}: ", end="")
        sys.stdout.flush()
        print(scored(mistakes, count or usual, before=before, first=first))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
