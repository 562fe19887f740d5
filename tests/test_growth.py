"""Time grows no faster than the size, whatever the shape of the dump.

Work is counted, not timed: the calls that Python makes (of its own functions and of built-in
ones) from the bytes to the report. Eight times the lines may make no more than twelve times the
calls; where each line looked at every other, it would be sixty-four times. What calls can't show
(a search in a long list) the benchmarks time.
"""

from collections.abc import Callable, Iterable
from cProfile import Profile
from functools import partial
from itertools import pairwise

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.changes.diff import diff
from cfgaudit.dialects import raw
from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.editor import line_changes
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.plain import formatted
from cfgaudit.dialects.redaction import redact
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import read_text
from cfgaudit.reports.check import CheckReport, check_json, check_screen
from cfgaudit.reports.data import dumped
from cfgaudit.reports.upgrade import UpgradeReport, upgrade_screen
from cfgaudit.teach.write import draft_dialect
from cfgaudit.work.carry import carry
from cfgaudit.work.mend import mend
from cfgaudit.work.upgrade import review
from tests.audit.seeding import dialects
from tests.growth import SHAPES

SMALL = 100
SIZES = (1, 2, 8)
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


def counted(work: Callable[[], object]) -> int:
    """How many calls some work makes, with no line remembered from before."""
    for remembering in (parse_line, *vars(raw).values()):
        forget = getattr(remembering, "cache_clear", None)
        if forget is not None:
            forget()
    made = Profile()
    made.runcall(work)
    return sum(entry.callcount for entry in made.getstats())


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
        calls(make(SMALL // 2))
    for unlike in UNLIKE.values():
        calls_for_two(unlike, SMALL // 2)


# Dialects of as many lines, and what is done with as many lines of a dump by other ways.
def _dialect(lines: Iterable[str], words: str = "", under: str = '"[x]"') -> str:
    mapped = ",".join(f'"{line}"' for line in lines)
    return f'name = "x"\nlines = [{{ under = {under}, map = [{mapped}] }}]\n{words}'


def _words(n: int) -> str:
    return "[words.w]\n" + "".join(f'w{i} = "none"\n' for i in range(n))


DIALECTS: dict[str, Callable[[int], str]] = {
    "lines with keys": lambda n: _dialect(f"k{i} = {{ports.u{i}.baud}}" for i in range(n)),
    "lines that begin alike": lambda n: _dialect(
        f"a k{i} {{ID}} {{ports.ID.baud}}" for i in range(n)
    ),
    "lines that end alike": lambda n: _dialect(
        f"a {{ID}} k{i} {{ports.ID.baud}}" for i in range(n)
    ),
    "lines of constants": lambda n: _dialect(
        f"a w{i} {{battery.cells = {i % 9}}}" for i in range(n)
    ),
    "words that many lines share": lambda n: _dialect(
        (f"k{i} = {{esc.protocol: words w}}" for i in range(n)), _words(n)
    ),
    "nested heads": lambda n: _dialect(
        ["k = {battery.cells}"], under="[" + ",".join(f'"begin a{i}"' for i in range(n)) + "]"
    ),
}


@pytest.mark.parametrize("shape", DIALECTS)
def test_a_dialect_is_checked_in_no_more_time_than_it_has_lines(shape: str) -> None:
    make = DIALECTS[shape]
    check_text(make(3).replace("k", "q"))  # other lines than those counted, as lines are remembered
    counts = [counted(partial(check_text, make(25 * size))) for size in SIZES]
    assert grows_no_faster(counts), counts


def _formatted(n: int) -> None:
    formatted("a.cfg", "".join(f"# c{i}\n[h{i}]\nk = 1\n" for i in range(n)).encode())


def _drafted(n: int) -> None:
    text = "".join(f"lamp{i}_x w{i} {i}\n[h{i}]\n" for i in range(n))
    draft_dialect(("a",), (read_text(text.encode()),))


def _long_keys_compared(n: int) -> None:
    texts = (
        "".join(f"{'lamp_of_the_left_' * 8}{s}{i}_end = {s}{i}\n" for i in range(n)) for s in "xy"
    )
    old, new = (open_dump("a.cfg", text.encode(), dialects()) for text in texts)
    diff(old.settings, new.settings)


def _banks(n: int, more: int = 0) -> str:
    return "".join(
        f"[banks.{i}]\ngains.roll.p = {45 + more}\nrates.roll.max = {700 + more}\n"
        for i in range(1, n + 1)
    )


def _carried(source: str, target: str) -> None:
    head = "[battery]\ncells = 4\n"
    old, new = (open_dump("a.cfg", (head + t).encode(), dialects()) for t in (source, target))
    done = carry(old.settings, (new,), (), ())
    line_changes(done.before, done.after)


def _values_carried(n: int) -> None:
    _carried(_banks(n), _banks(n, 1))


def _sections_carried(n: int) -> None:
    _carried(_banks(n), "")


def _mended(n: int) -> None:
    text = f"battery.cells = 4\nbattery.warn_cell = 2.1 V\n{_banks(n)}"
    mend((open_dump("a.cfg", text.encode(), dialects()),), audit)


@pytest.mark.parametrize(
    ("work", "least"),
    [
        (_formatted, 50),
        (_drafted, 50),
        (_long_keys_compared, 8),
        (_values_carried, 20),
        (_sections_carried, 20),
        (_mended, 20),
    ],
)
def test_other_work_grows_no_faster_than_the_dump(work: Callable[[int], None], least: int) -> None:
    work(least * SIZES[-1])  # whatever is remembered is so of all sizes
    counts = [counted(partial(work, least * size)) for size in SIZES]
    assert grows_no_faster(counts), counts


def grows_no_faster(counts: list[int]) -> bool:
    """Whether counts grow as the sizes do from any one to the next and in all, with some slack."""
    steps = [*pairwise(zip(SIZES, counts, strict=True))]
    steps.append(((SIZES[0], counts[0]), (SIZES[-1], counts[-1])))
    return all(
        after * size <= before * larger * _SLACK for (size, before), (larger, after) in steps
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_the_work_grows_no_faster_than_the_dump(shape: str) -> None:
    counts = [calls(SHAPES[shape](SMALL * size)) for size in SIZES]
    assert grows_no_faster(counts), counts


@pytest.mark.parametrize("shape", UNLIKE)
def test_the_work_of_two_dumps_grows_no_faster_than_they_do(shape: str) -> None:
    counts = [calls_for_two(UNLIKE[shape], SMALL * size) for size in SIZES]
    assert grows_no_faster(counts), counts
