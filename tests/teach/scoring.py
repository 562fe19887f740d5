"""How well a dialect that was worked out agrees with the true one, value by value."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.reader import read
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import FileText, read_text
from cfgaudit.teach.keys import Sample
from cfgaudit.teach.propose import Proposal
from cfgaudit.teach.write import Draft, draft_dialect, read_draft
from cfgaudit.vocabulary.kinds import Value

Spot = tuple[int, int]  # line, column (0: the whole line states it)
# What the head line tells is no part of the score: it is found by its form alone.
_HEAD = ("firmware.", "board.name", "board.revision")


@dataclass
class Score:
    """Counts of settings: those of the truth, and how they were proposed."""

    name: str
    settings: int = 0
    first: int = 0
    three: int = 0
    at_work: int = 0  # settings that the active lines state
    wrong: int = 0  # of these, with another path than the true one, or where there is none
    wrong_value: int = 0  # of these, with the right path and another value
    misses: list[str] = field(default_factory=list)

    def line(self) -> str:
        """The score in one line."""
        return (
            f"{self.name}: {self.settings} settings; first place {self.first / self.settings:.1%}, "
            f"first three {self.three / self.settings:.1%}; at work {self.at_work}, of these wrong "
            f"path {self.wrong / max(1, self.at_work):.1%}, wrong value "
            f"{self.wrong_value / max(1, self.at_work):.1%}"
        )


def score(name: str, dump: Path, dialect: Path) -> Score:
    """Work a dialect out of a dump that hides its own, and hold it against the true one."""
    text = read_text(dump.read_bytes())
    truth = stated_at(text, load_dialect(dialect))
    draft = _drafted(dump, name)
    found = Score(name)
    _proposed(found, truth, draft)
    _at_work(found, truth, text, read_draft(draft))
    return found


@cache
def _drafted(dump: Path, name: str) -> Draft:
    return draft_dialect([dump.name], [read_text(dump.read_bytes())], name)


def stated_at(text: FileText, dialect: Dialect) -> dict[Spot, dict[str, Value | None]]:
    """Every setting that a dump states in a dialect, by the spot of its text."""
    reading = read(Document("dump", text, dialect.look), dialect)
    found: dict[Spot, dict[str, Value | None]] = {}
    for mark in reading.marks:
        if mark.place is not None and not mark.path.startswith(_HEAD):
            spot = (mark.place.line, mark.place.column or 0)
            found.setdefault(spot, {})[plain(mark.path)] = None
    settings = reading.settings
    for values in found.values():
        for path in values:
            stated = settings.stated.get(path)
            if stated is not None:
                values[path] = stated.value
    return found


def plain(path: str) -> str:
    """A path without the label of a filter's place: it is a name of the file's own."""
    return re.sub(r"\[[^\]]*\]", "[]", path)


def _proposed(found: Score, truth: Mapping[Spot, Mapping[str, object]], draft: Draft) -> None:
    fields: dict[Spot, tuple[Proposal, Sample]] = {}
    for made in draft.proposals:
        for sample in made.seen.samples:
            fields[(sample.place.line, sample.place.column or 0)] = (made, sample)
    for spot, paths in truth.items():
        for path in paths:
            found.settings += 1
            ranks = [_rank(made, sample, spot, path) for made, sample in _at(fields, spot)]
            best = min(ranks, default=99)
            found.first += best == 0
            found.three += best < 3
            if best:
                found.misses.append(f"{spot[0]}: {path} at place {best + 1}")


def _at(
    fields: Mapping[Spot, tuple[Proposal, Sample]], spot: Spot
) -> Iterator[tuple[Proposal, Sample]]:
    """The proposal for a spot; where the whole line states something, those for its line."""
    if spot in fields:
        yield fields[spot]
    if spot[1] == 0:
        yield from (entry for at, entry in fields.items() if at[0] == spot[0] and at[1])


def _rank(made: Proposal, sample: Sample, spot: Spot, path: str) -> int:
    """The place of a path among the candidates, from 0; 99 where it is none.

    A line that states that a list is empty is about the list that its fields make elements of.
    """
    for rank, candidate in enumerate(made.candidates):
        proposed = plain(candidate.path(sample))
        if proposed == path or (spot[1] == 0 and proposed.rpartition(".")[0] == path):
            return rank
    return 99


def _at_work(
    found: Score,
    truth: Mapping[Spot, Mapping[str, Value | None]],
    text: FileText,
    drafted: Dialect,
) -> None:
    for spot, paths in stated_at(text, drafted).items():
        true = truth.get(spot, {})
        on_line = {p: v for at, own in truth.items() if at[0] == spot[0] for p, v in own.items()}
        for path, value in paths.items():
            found.at_work += 1
            known = true if spot[1] else on_line
            if path not in known:
                found.wrong += 1
                found.misses.append(f"{spot[0]}: at work as {path}, truly {', '.join(true) or '-'}")
            elif known[path] is not None and known[path] != value:
                found.wrong_value += 1
                found.misses.append(f"{spot[0]}: {path} reads {value}, truly {known[path]}")
