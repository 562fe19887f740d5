"""A reading that remembers gives what a plain one gives, whatever it has read before."""

import random
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as budget
from hypothesis import strategies as st

from cfgaudit.dialects import reader
from cfgaudit.dialects.dialect import Dialect
from cfgaudit.dialects.raw import Leftover, raw_settings
from cfgaudit.dialects.reader import Reading, read, read_settings
from cfgaudit.reading.document import Document, read_document
from cfgaudit.settings import Raw
from tests.dialects.demo import BROKEN, DUMPS, FACTORY, opened

MARKS = (
    "<<<<<<< ours",
    "=======",
    ">>>>>>> theirs",
    "",
    "[",
    "]",
    "end",
    "begin x",
    'a = "b',
    "\\",
)


def same(document: Document, dialect: Dialect) -> bool:
    """Whether it reads as it does in a dialect that was never read with: nothing is remembered."""
    return read_settings(document, dialect) == read_settings(document, replace(dialect))


@pytest.mark.parametrize("path", [*DUMPS, *FACTORY], ids=lambda path: path.stem)
def test_the_second_reading_is_as_the_first(path: Path) -> None:
    found = opened(path)
    for _ in range(3):
        assert same(found.document, found.dialect)


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_broken_dumps_read_the_same_too(path: Path) -> None:
    for dump in DUMPS:
        dialect = opened(dump).dialect
        document = read_document(path.name, path.read_bytes(), dialect.look)
        assert same(document, dialect)
        assert same(document, dialect)


def test_lines_without_a_mapping_are_put_together_once_for_dumps_that_share_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = opened(DUMPS[0])
    dialect, lines = replace(found.dialect), list(found.document.text.lines)
    made: list[str] = []

    def counted(leftovers: Sequence[Leftover], file: str, *more: Any) -> dict[str, Raw]:
        made.append(file)
        return raw_settings(leftovers, file, *more)

    monkeypatch.setattr(reader, "raw_settings", counted)
    reading = read(found.document, dialect)
    left = reading.leftovers[0].statement.first
    (mapped, *_) = (mark.statement for mark in reading.marks if mark.statement >= 0)
    stating = reading.statements[mapped].statement.first
    for at, wanted in ((stating, 1), (stating, 1), (left, 2)):
        lines[at] += "1"
        document = read_document(found.document.name, "\n".join(lines).encode(), dialect.look)
        assert read_settings(document, dialect).stated
        assert len(made) == wanted


def edited(lines: list[str], chance: random.Random) -> list[str]:
    """A few lines moved, dropped, doubled, or swapped for something odd."""
    made = list(lines)
    for _ in range(chance.randint(1, 6)):
        at, to = chance.randrange(len(made)), chance.randrange(len(made))
        deed = chance.choice(("drop", "double", "move", "odd", "digit"))
        if deed == "drop":
            del made[at]
        elif deed == "double":
            made.insert(to, made[at])
        elif deed == "move":
            made.insert(to, made.pop(at))
        elif deed == "odd":
            made.insert(at, chance.choice(MARKS))
        else:
            made[at] = made[at].replace("1", "2", 1)
    return made


@given(path=st.sampled_from([*DUMPS, *FACTORY]), seed=st.integers(0, 10_000))
@budget(max_examples=12)  # each reads a whole dump eight times
def test_edits_one_upon_another_read_as_they_do_plainly(path: Path, seed: int) -> None:
    found, chance = opened(path), random.Random(seed)
    lines = list(found.document.text.lines)
    for _ in range(4):
        document = read_document(path.name, "\n".join(lines).encode(), found.dialect.look)
        assert same(document, found.dialect)
        lines = edited(lines, chance)


def told(reading: Reading) -> list[object]:
    """All that each statement came to, and the comments; contexts are told by what they hold."""
    every: list[object] = []
    for statement, role, context, *rest in reading.statements:
        every.append((statement, role, context.under, context.binds, *rest))
    return [*every, reading.settings.annotations, dict(reading.settings.idle)]


@given(path=st.sampled_from([*DUMPS, *FACTORY]), seed=st.integers(0, 10_000))
@budget(max_examples=8)
def test_of_a_dump_as_long_as_one_before_each_line_that_differs_is_read(
    path: Path, seed: int
) -> None:
    found, chance = opened(path), random.Random(seed)
    first = list(found.document.text.lines)
    for _ in range(4):
        lines = list(first)
        for _ in range(chance.randint(1, 8)):
            at = chance.randrange(len(lines))
            lines[at] = chance.choice((*MARKS, chance.choice(lines), f"{lines[at]} \\"))
        document = read_document(path.name, "\n".join(lines).encode(), found.dialect.look)
        assert told(read(document, found.dialect)) == told(read(document, replace(found.dialect)))
        assert same(document, found.dialect)
