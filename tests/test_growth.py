"""Time grows no faster than the size, whatever the shape of the dump.

Work is counted, not timed: the calls that Python makes (of its own functions and of built-in
ones) from the bytes to the report. Eight times the lines may make no more than twelve times the
calls; where each line looked at every other, it would be sixty-four times. What calls can't show
(a search in a long list) the benchmarks time.
"""

import sys
from collections.abc import Callable
from itertools import pairwise
from types import FrameType

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.changes.diff import diff
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.redaction import redact
from cfgaudit.reading.statements import parse_line
from cfgaudit.reports.check import CheckReport, check_json, check_screen
from cfgaudit.reports.data import dumped
from cfgaudit.reports.upgrade import UpgradeReport, upgrade_screen
from cfgaudit.work.upgrade import review
from tests.audit.seeding import dialects
from tests.growth import SHAPES

SMALL = 100
SIZES = (1, 2, 4, 8)
_SLACK = 1.5


# Two dumps of as many lines, the old one (0) and the new one (1), that have next to nothing alike.
UNLIKE: dict[str, Callable[[int, int], str]] = {
    "own lines with other values": lambda n, side: "".join(
        f"own{i} = {side}{i}\n" for i in range(n)
    ),
    "words with other values": lambda n, side: "".join(f"lamp k{i} {side}{i}\n" for i in range(n)),
    "ports under other names": lambda n, side: "".join(
        f"ports.u{i}{'x' * side}.baud = {i % 9}00\n" for i in range(n)
    ),
}


def counted(work: Callable[[], None]) -> int:
    """How many calls some work makes, with no line remembered from before."""
    made = 0

    def count(_: FrameType, event: str, __: object) -> None:
        nonlocal made
        made += event in ("call", "c_call")

    parse_line.cache_clear()
    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(None)
    return made


def calls(text: str) -> int:
    """How many calls it takes to read a dump, audit it, report it and hide what is private."""

    def work() -> None:
        opened = open_dump("a.dump", text.encode(), dialects())
        outcome = audit(opened.settings)
        report = CheckReport([outcome])
        dumped(check_json(report))
        check_screen(report, width=80, unchecked=False, waived=False, every=True, most=None).plain()
        redact(opened)

    return counted(work)


def calls_for_two(make: Callable[[int, int], str], lines: int) -> int:
    """How many calls it takes to compare two dumps and to review them as an upgrade."""

    def work() -> None:
        texts = (f"battery.cells = 4\n{make(lines, side)}" for side in (0, 1))
        old, new = (open_dump("a.cfg", text.encode(), dialects()) for text in texts)
        diff(old.settings, new.settings)
        found = review(old, new, None, None)
        report = UpgradeReport(("a.cfg", "b.cfg"), found, (), (), everything=True)
        upgrade_screen(report, 80).plain()

    return counted(work)


@pytest.fixture(scope="module", autouse=True)
def everything_loaded() -> None:
    """What is made once is made before anything is counted."""
    for make in SHAPES.values():
        calls(make(SMALL))
    for unlike in UNLIKE.values():
        calls_for_two(unlike, SMALL)


def grows_no_faster(counts: list[int]) -> bool:
    """Whether counts at sizes that double grow as the size does, with some slack."""
    doubled = all(after <= before * 2 * _SLACK for before, after in pairwise(counts))
    return doubled and counts[-1] <= counts[0] * SIZES[-1] * _SLACK


@pytest.mark.parametrize("shape", SHAPES)
def test_the_work_grows_no_faster_than_the_dump(shape: str) -> None:
    counts = [calls(SHAPES[shape](SMALL * size)) for size in SIZES]
    assert grows_no_faster(counts), counts


@pytest.mark.parametrize("shape", UNLIKE)
def test_the_work_of_two_dumps_grows_no_faster_than_they_do(shape: str) -> None:
    counts = [calls_for_two(UNLIKE[shape], SMALL * size) for size in SIZES]
    assert grows_no_faster(counts), counts
