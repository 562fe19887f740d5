"""Lines that were broken at the width of a terminal or a mail, put together again."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from cfgaudit.reading.pasted_sheet import Sheet
from cfgaudit.reading.pasted_signs import NARROWEST, VALUE_FIRST, WIDEST, breaks
from cfgaudit.reading.shapes import Assignment, Comment, Directive, Row, Unread
from cfgaudit.reading.statements import parse_line

_SCREENS = (80, 100, 120, 132)  # widths at which a terminal breaks a line in mid-word
_MOST_RESTS = 6


class _Break(NamedTuple):
    """A line that goes on in the next one, and whether its text leaves no doubt of that."""

    line: int
    sure: bool


def join_wrapped(sheet: Sheet) -> None:
    """Put lines together that were broken at one width, where the text shows that they were."""
    width = max(map(len, sheet.lines), default=0)
    if not NARROWEST <= width <= WIDEST:
        return
    found = list(_breaks_of(sheet.lines, width))
    sure = [each.line for each in found if each.sure]
    if not sure:
        return
    between = "" if _in_mid_word(sheet.lines, sure, width) else " "
    doubtful_too = len(sure) > 1 and _says_by_signs(sheet.lines)
    breaks = {each.line for each in found if each.sure or doubtful_too}
    count = 0
    upper = -1
    for index in range(len(sheet.lines) - 1):
        if index not in breaks:
            continue
        upper = upper if index - 1 in breaks else index
        if index - upper < _MOST_RESTS:
            sheet.go_on(index + 1, upper, "" if sheet.lines[index].endswith(" ") else between)
            count += 1
    sheet.note(
        count,
        f"a line broken at {width} characters was put together",
        f"{{}} lines broken at {width} characters were put together",
    )


def _in_mid_word(lines: Sequence[str], sure: Sequence[int], width: int) -> bool:
    """Whether lines were broken wherever the width was reached, as a terminal does."""
    full = all(len(lines[index]) == width for index in sure)
    return full and (len(sure) > 1 or width in _SCREENS)


def _breaks_of(lines: Sequence[str], width: int) -> Iterator[_Break]:
    index, broken = 0, -2
    while index + 1 < len(lines):
        line, below = lines[index], lines[index + 1]
        if not line.strip() or not breaks(line, below, width):
            index += 1
            continue
        rests = _open_quotation(lines, index, width)
        if rests:
            yield from (_Break(index + n, True) for n in range(rests))
            index += rests
            continue
        sure = _values_go_on(line, below, index - 1 == broken)
        if sure or _remark_goes_on(line, below):
            yield _Break(index, sure)
            broken = index
        index += 1


def _open_quotation(lines: Sequence[str], index: int, width: int) -> int:
    """How many lines further a quotation that a line leaves open is closed; 0 where it is not."""
    if lines[index].count('"') % 2 == 0 or not isinstance(parse_line(lines[index]), Unread):
        return 0
    for rests in range(1, _MOST_RESTS):
        if index + rests >= len(lines) or not lines[index + rests].strip():
            return 0
        if lines[index + rests].count('"') % 2:
            whole = " ".join(lines[index : index + rests + 1])
            return 0 if isinstance(parse_line(whole), Unread) else rests
        if rests + 1 < _MOST_RESTS and not breaks(
            lines[index + rests], lines[min(index + rests + 1, len(lines) - 1)], width
        ):
            return 0
    return 0


def _values_go_on(line: str, below: str, broken: bool) -> bool:
    """Whether values alone stand below a setting, or a row ends in a comma.

    `broken`: the line is itself the rest of a broken one.
    """
    upper, lower = parse_line(line), parse_line(below)
    if not isinstance(lower, Directive | Row):
        return False
    if isinstance(upper, Row | Assignment) and line.endswith(","):
        return True
    if not re.match(VALUE_FIRST, below) or ("," in below and "," not in line):
        return False
    return isinstance(upper, Assignment) or (broken and isinstance(upper, Directive | Row))


def _remark_goes_on(line: str, below: str) -> bool:
    """Whether words stand below a remark, or other words, that fill their line."""
    upper, lower = parse_line(line), parse_line(below)
    return isinstance(upper, Comment | Directive | Row) and isinstance(lower, Directive)


def _says_by_signs(lines: Sequence[str]) -> bool:
    """Whether a text states its settings with signs, so that words alone are out of place."""
    kinds = Counter(type(parse_line(line)) for line in lines)
    return kinds[Assignment] > 4 * kinds[Directive]
