"""Time grows no faster than the size, whatever the shape of the dump.

Work is counted, not timed: the calls that Python makes (of its own functions and of built-in
ones) from the bytes to the report. Eight times the lines may make no more than twelve times the
calls; where each line looked at every other, it would be sixty-four times. What calls can't show
(a search in a long list) the benchmarks time.
"""

import sys
from itertools import pairwise
from types import FrameType

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.redaction import redact
from cfgaudit.reading.statements import parse_line
from cfgaudit.reports.json_report import check_json, dumped
from cfgaudit.reports.terminal_check import check_screen
from tests.audit.seeding import dialects
from tests.growth import SHAPES

SMALL = 100
SIZES = (1, 2, 4, 8)
_SLACK = 1.5


def calls(text: str) -> int:
    """How many calls it takes to read a dump, audit it, report it and hide what is private."""
    counted = 0

    def count(_: FrameType, event: str, __: object) -> None:
        nonlocal counted
        counted += event in ("call", "c_call")

    parse_line.cache_clear()
    sys.setprofile(count)
    try:
        opened = open_dump("a.dump", text.encode(), dialects())
        outcome = audit(opened.settings)
        dumped(check_json([outcome], None))
        check_screen([outcome], width=80).plain()
        redact(opened)
    finally:
        sys.setprofile(None)
    return counted


@pytest.fixture(scope="module", autouse=True)
def everything_loaded() -> None:
    """What is made once is made before anything is counted."""
    for make in SHAPES.values():
        calls(make(SMALL))


@pytest.mark.parametrize("shape", SHAPES)
def test_the_work_grows_no_faster_than_the_dump(shape: str) -> None:
    counts = [calls(SHAPES[shape](SMALL * size)) for size in SIZES]
    for before, after in pairwise(counts):
        assert after <= before * 2 * _SLACK, counts
    assert counts[-1] <= counts[0] * SIZES[-1] * _SLACK, counts
