"""Takes off what a terminal, a forum or an editor put into a pasted dump."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from html import unescape
from itertools import pairwise
from typing import NamedTuple

from cfgaudit.reading.pasted import (
    MOST_RESTS,
    NARROWEST,
    NUMBER,
    QUOTE,
    VALUE_FIRST,
    WIDEST,
    PastedText,
    Rest,
    breaks,
)
from cfgaudit.reading.shapes import (
    Assignment,
    Closer,
    Comment,
    Directive,
    Opener,
    Row,
    Section,
    Unread,
)
from cfgaudit.reading.statements import parse_line

# Source: ECMA-48 (published): control sequences (CSI), operating system commands (OSC) and the
# short escapes; then the ways in which forums and pagers show a colour code.
_ESCAPE = re.compile(
    r"\x1b\[[0-?]*+[ -/]*+[@-~]"
    r"|\x1b\][^\x07\x1b]*+(?:\x07|\x1b\\)"
    r"|\x1b[()][0-9A-B]|\x1b[=>78MDEHc]"
    r"|\^\[\[[0-9;]*+[mK]|\u241b\[[0-9;]*+[mK]"
)
_BARE = re.compile(r"\[[0-9]{1,3}(?:;[0-9]{1,3})*+m(?!\])")  # its escape letter was lost
_HIDDEN = re.compile("[\u200b\u200c\u200d\u2060\ufeff\u00ad]")  # no width at all
_SPACES = re.compile("[\u00a0\u2007\u202f]")  # as wide as a space, and none
_QUOTES = re.compile('[\u201c\u201d\u201e\u201f][^"\u201c\u201d\u201e\u201f]*+[\u201c\u201d\u201f]')
_SINGLE = re.compile("(?<!\\w)[\u2018\u201a][^'\"\u2018\u2019\u201a]*+\u2019(?!\\w)")
# a minus before a number, a dash between two numbers, a dash that is a whole cell
_DASHES = re.compile(
    "(?<![\\w.])[\u2010-\u2014\u2212](?=\\.?[0-9])|(?<=[0-9])[\u2010-\u2014\u2212](?=[0-9])"
    "|(?<=[,\t])[\u2010-\u2014\u2212](?=[,\t]|[ \t]*+$)"
)
_FRONT_DASH = re.compile("[ \t]*+([\u2013\u2014])(?=[ \t])")


def mend_letters(sheet: PastedText) -> None:
    """Take off terminal codes and hidden marks; set spaces, quotation marks and dashes right."""
    _cut_all(sheet, _ESCAPE, "a terminal code was taken off", "{} terminal codes were taken off")
    _cut_bare_codes(sheet)
    _cut_all(sheet, _HIDDEN, "a mark without width was taken off",
             "{} marks without width were taken off")  # fmt: skip
    _set_spaces(sheet)
    _set_quotes(sheet)
    _set_dashes(sheet)


def _outside(line: str, pattern: re.Pattern[str]) -> Iterator[re.Match[str]]:
    """The matches outside of quoted text: what stands inside is the pilot's own."""
    at = quotes = 0
    closed = line.count('"')
    for match in pattern.finditer(line):
        quotes += line.count('"', at, match.start())
        at = match.start()
        if quotes % 2 == 0 or quotes == closed:
            yield match


def _cut_all(sheet: PastedText, pattern: re.Pattern[str], one: str, many: str) -> None:
    count = 0
    for index, line in sheet.short():
        for match in reversed(list(_outside(line, pattern))):
            sheet.cut(index, match.start(), match.end())
            count += 1
    sheet.note(count, one, many)


def _cut_bare_codes(sheet: PastedText) -> None:
    """Colour codes whose escape letter was lost: only where a text has several, and their end."""
    found = [(index, m) for index, line in sheet.short() for m in _outside(line, _BARE)]
    if len(found) < 3 or not any(match.group() == "[0m" for _, match in found):
        return
    for index, match in reversed(found):
        sheet.cut(index, match.start(), match.end())
    sheet.note(
        len(found),
        "the rest of a colour code was taken off",
        "the rests of {} colour codes were taken off",
    )


def _set_spaces(sheet: PastedText) -> None:
    """Where odd spaces stand between words, those inside of quotes came the same way."""
    lines = list(sheet.short())
    if not any(next(_outside(line, _SPACES), None) for _, line in lines if not line.isascii()):
        return
    count = 0
    for index, line in lines:
        for match in _SPACES.finditer(line):
            sheet.put(index, match.start(), match.end(), " ")
            count += 1
    sheet.note(count, "an unbreakable space was read as a space",
               "{} unbreakable spaces were read as spaces")  # fmt: skip


def _set_quotes(sheet: PastedText) -> None:
    count = 0
    for pattern, mark in ((_QUOTES, '"'), (_SINGLE, "'")):
        for index, line in sheet.short():
            if line.isascii():
                continue
            for match in list(_outside(line, pattern)):
                sheet.put(index, match.start(), match.start() + 1, mark)
                sheet.put(index, match.end() - 1, match.end(), mark)
                count += 2
    sheet.note(count, "", "{} typographic quotation marks were read as plain ones")


def _set_dashes(sheet: PastedText) -> None:
    count = 0
    for index, line in sheet.short():
        if line.isascii():
            continue
        for match in list(_outside(line, _DASHES)):
            sheet.put(index, match.start(), match.end(), "-")
            count += 1
        front = _FRONT_DASH.match(line)
        if front is not None:  # two hyphens make a comment, and an editor one dash of them
            count += 1
            if line.rstrip()[-1] == front.group(1) and len(line.strip()) > 1:
                last = len(line.rstrip()) - 1
                sheet.put(index, last, last + 1, "--")
                count += 1
            sheet.put(index, front.start(1), front.end(1), "--")
    sheet.note(count, "a typographic dash was read as a plain one",
               "{} typographic dashes were read as plain ones")  # fmt: skip


_QUOTE, _NUMBER = re.compile(QUOTE), re.compile(NUMBER)
_SHELL = re.compile(r"(?:[\w.-]{1,40}@[\w.-]{1,60}|\(hidden\))[: ][^$#%]{0,80}[$#%](?=[ \t]|$)")
_BARE_SHELL = re.compile(r"\$ [A-Za-z./]")
_DEVICE = re.compile(r"([A-Za-z][\w-]{0,30}>)(?:[ \t]+([A-Za-z][A-Za-z _-]*))?[ \t]*$")
_FENCE = re.compile(
    r"[ \t]*(?:```[\w-]*|\[/?(?:code|quote|pre)\]|(?:</?(?:code|pre|samp)[^<>]{0,80}>)+)[ \t]*$",
    re.IGNORECASE,
)
_STARTS_STATEMENT = re.compile(r"[A-Za-z_\[<#;/}{%\-]")

_OWN = Assignment | Section | Comment | Opener | Closer

_FEWEST = 8  # lines that must bear a mark before it is taken for one


_MARKUP = re.compile(
    r"<br ?/?>|&(?:nbsp|lt|gt|amp|quot|#[0-9]{1,5}|#x[0-9a-f]{1,4});", re.IGNORECASE
)


def set_markup(sheet: PastedText) -> None:
    """Read what a web page writes for signs and ends of lines, where many lines have it."""
    found = [(index, list(_MARKUP.finditer(line))) for index, line in sheet.short()]
    marked = [(index, matches) for index, matches in found if matches]
    if len(marked) < _FEWEST or 2 * len(marked) < sum(bool(line.strip()) for line in sheet.lines):
        return
    for index, matches in marked:
        for match in reversed(matches):
            said = "" if match[0].startswith("<") else unescape(match[0]).replace("\xa0", " ")
            sheet.put(index, match.start(), match.end(), said)
    sheet.note(len(marked), "", "the markup of a web page was taken off {} lines")


def strip_indentation(sheet: PastedText) -> None:
    """Take off the blanks that all lines begin with."""
    filled = [(index, line) for index, line in enumerate(sheet.lines) if line.strip()]
    if len(filled) < _FEWEST:
        return
    first, last = min(line for _, line in filled), max(line for _, line in filled)
    alike = next((n for n, (a, b) in enumerate(zip(first, last, strict=False)) if a != b), None)
    common = first[:alike]
    width = len(common) - len(common.lstrip(" \t"))
    if not width:
        return
    for index, _ in filled:
        sheet.cut(index, 0, width)
    sheet.note(len(filled), "", "the indentation that all {} lines have was taken off")


def strip_quoting(sheet: PastedText) -> None:
    """Take off the marks of quoted lines, where most lines have them."""
    found = [(index, _QUOTE.match(line)) for index, line in sheet.short()]
    marked = [(index, match) for index, match in found if match is not None]
    filled = sum(bool(line.strip()) for line in sheet.lines)
    if len(marked) < _FEWEST or len(marked) * 2 <= filled:
        return
    for index, match in marked:
        sheet.cut(index, 0, match.end())
    sheet.note(len(marked), "", "the quoting marks of {} lines were taken off")


def strip_numbers(sheet: PastedText) -> None:
    """Take off line numbers, each one more than the last.

    A line without one, between two that follow on one another, is the rest of the line above it.
    """
    found = [(index, _NUMBER.match(line)) for index, line in sheet.short()]
    numbered = _in_sequence([(index, match) for index, match in found if match is not None])
    rests = _rests_between(numbered, sheet)
    if not _are_line_numbers(numbered, sheet, len(rests)):
        return
    uppers = [rest - 1 for rest in rests if rest - 1 not in rests]
    widths = {len(sheet.lines[upper]) for upper in uppers}
    in_mid_word = widths == {max(map(len, sheet.lines))} and len(uppers) > 1
    for index, match in numbered:
        sheet.cut(index, 0, match.end())
    sheet.note(len(numbered), "", "{} line numbers were taken off")
    upper = -1
    for rest in rests:
        upper = upper if rest - 1 in rests else rest - 1
        blank = in_mid_word or sheet.lines[rest - 1].endswith(" ")
        sheet.go_on(Rest(rest, upper, "" if blank else " "))
    which = ", ".join(str(rest + 1) for rest in rests)
    sheet.note(
        len(rests),
        f"line {which} has no number and was read as the rest of the one above: look at it",
        f"lines {which} have no number and were read as the rests of those above: look at them",
    )


Numbered = list[tuple[int, re.Match[str]]]


def _in_sequence(found: Numbered) -> Numbered:
    """The lines whose number follows on the last one, or begins a sequence; no value in front."""
    counts = [int(match.group(1)) for _, match in found]
    kept: Numbered = []
    last = -1
    for at, count in enumerate(counts):
        if count == last + 1 or (at + 1 < len(counts) and counts[at + 1] == count + 1):
            kept.append(found[at])
            last = count
    return kept


def _rests_between(numbered: Numbered, sheet: PastedText) -> list[int]:
    """The lines without a number between two whose numbers follow on one another."""
    return [
        index
        for (above, one), (below, other) in pairwise(numbered)
        if int(other.group(1)) == int(one.group(1)) + 1
        for index in range(above + 1, below)
        if sheet.lines[index].strip() and not _FENCE.match(sheet.lines[index])
    ]


def _are_line_numbers(numbered: Numbered, sheet: PastedText, without: int) -> bool:
    """Whether numbers count lines, and what stands behind them are statements of their own.

    A table whose first column counts is told from it by what stands behind: words and values,
    and no statement of a shape that stands alone.
    """
    filled = sum(bool(line.strip()) for line in sheet.lines) - without
    if len(numbered) < max(_FEWEST, without) or len(numbered) * 10 < filled * 9:
        return False
    counts = [int(match.group(1)) for _, match in numbered]
    steps = sum(later == before + 1 for before, later in pairwise(counts))
    if steps * 20 < (len(counts) - 1) * 19:
        return False
    rests = [sheet.lines[index][match.end() :].strip() for index, match in numbered]
    quoted = [_QUOTE.match(rest) for rest in rests]
    if 2 * sum(mark is not None for mark in quoted) > len(rests):  # a quotation that was numbered
        marks = zip(rests, quoted, strict=True)
        rests = [rest[mark.end() :].strip() if mark else rest for rest, mark in marks]
    said = [rest for rest in rests if rest]
    starts = sum(_STARTS_STATEMENT.match(rest) is not None for rest in said)
    own = len(said) < len(rests) or any(isinstance(parse_line(rest), _OWN) for rest in said)
    return own and starts * 10 >= len(said) * 7


def pass_over_fences(sheet: PastedText) -> None:
    """Read the marks around a piece of text in a forum as blank lines, where there are two."""
    found = [index for index, line in sheet.short() if _FENCE.match(line)]
    closing = any("/" in sheet.lines[index] or "`" in sheet.lines[index] for index in found)
    if len(found) < 2 or not closing:
        return
    for index in found:
        sheet.pass_over(index)
    sheet.note(len(found), "", "{} marks around the text were passed over")


def pass_over_echoes(sheet: PastedText, prompts: Sequence[str]) -> None:
    """Read prompts and the commands behind them as blank lines.

    A shell's prompt is known by its form; a device's by standing there at least twice with
    nothing but words behind it, unless the dialect knows it anyway.
    """
    own = tuple(prompts)
    shell = [i for i, line in sheet.short() if _SHELL.match(line)]
    if shell:
        shell += [i for i, line in sheet.short() if _BARE_SHELL.match(line)]
    else:
        shell = _with_commands(sheet)
    device = [
        (index, match.group(1))
        for index, line in sheet.short()
        if ">" in line and (match := _DEVICE.match(line)) and not line.startswith(own or "\0")
    ]
    often = Counter(prompt for _, prompt in device)
    echoes = {*shell, *(index for index, prompt in device if often[prompt] > 1)}
    for index in sorted(echoes):
        sheet.pass_over(index)
    sheet.note(len(echoes), "a prompt was passed over", "{} prompts were passed over")


def _with_commands(sheet: PastedText) -> list[int]:
    """Lines of a nameless prompt, `$ `, where a text begins or ends with one."""
    filled = [index for index, line in sheet.short() if line.strip()]
    edges = {*filled[:1], *filled[-1:]}
    found = [
        i for i in filled if _BARE_SHELL.match(sheet.lines[i]) or sheet.lines[i].strip() == "$"
    ]
    return found if edges & set(found) else []


_SCREENS = (80, 100, 120, 132)  # widths at which a terminal breaks a line in mid-word


class _Break(NamedTuple):
    """A line that goes on in the next one, and whether its text leaves no doubt of that."""

    line: int
    sure: bool


def wrapped_rests(sheet: PastedText) -> Iterator[Rest]:
    """The rests of lines that were broken at one width, where the text shows that they were."""
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
    upper = -1
    for index in range(len(sheet.lines) - 1):
        if index not in breaks:
            continue
        upper = upper if index - 1 in breaks else index
        if index - upper < MOST_RESTS:
            yield Rest(index + 1, upper, "" if sheet.lines[index].endswith(" ") else between)


def _in_mid_word(lines: Sequence[str], sure: Sequence[int], width: int) -> bool:
    """Whether lines were broken wherever the width was reached, as a terminal does."""
    full = all(len(lines[index]) == width for index in sure)
    return full and (len(sure) > 1 or width in _SCREENS)


def _breaks_of(lines: Sequence[str], width: int) -> Iterator[_Break]:
    commas = 3 * sum(line.endswith(",") for line in lines) > sum(map(bool, lines))
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
        # where so many lines end in a comma, one of them does not go on for it
        sure = _values_go_on(line.rstrip(",") if commas else line, below, index - 1 == broken)
        if sure or _remark_goes_on(line, below):
            yield _Break(index, sure)
            broken = index
        index += 1


def _open_quotation(lines: Sequence[str], index: int, width: int) -> int:
    """How many lines further a quotation that a line leaves open is closed; 0 where it is not."""
    if lines[index].count('"') % 2 == 0 or not isinstance(parse_line(lines[index]), Unread):
        return 0
    for rests in range(1, MOST_RESTS):
        if index + rests >= len(lines) or not lines[index + rests].strip():
            return 0
        if lines[index + rests].count('"') % 2:
            whole = " ".join(lines[index : index + rests + 1])
            return 0 if isinstance(parse_line(whole), Unread) else rests
        if rests + 1 < MOST_RESTS and not breaks(
            lines[index + rests], lines[min(index + rests + 1, len(lines) - 1)], width
        ):
            return 0
    return 0


_COLUMNS = re.compile(r"\S {2,}\S+ {2,}\S")


def _values_go_on(line: str, below: str, broken: bool) -> bool:
    """Whether values alone stand below a setting, or a row ends in a comma.

    `broken`: the line is itself the rest of a broken one. Rows of a table are as long as each
    other, and none goes on in the next.
    """
    if _COLUMNS.search(line) and _COLUMNS.search(below):
        return False
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


def mended(
    lines: Sequence[str],
    prompts: Sequence[str],
    *,
    all_of_it: bool,
    rests: tuple[Rest, ...] | None = None,
) -> tuple[PastedText, tuple[Rest, ...]]:
    """The lines with every repair done, and the rests that were put to their lines.

    Only prompts are passed over unless `all_of_it`. Which lines are `rests` is told by the text's
    looks where nobody else does.
    """
    sheet = PastedText(lines)
    if all_of_it:
        set_markup(sheet)
        mend_letters(sheet)
        strip_quoting(sheet)
        strip_numbers(sheet)
        strip_quoting(sheet)  # a quotation that was numbered
        pass_over_fences(sheet)
        strip_indentation(sheet)
    pass_over_echoes(sheet, prompts)
    if rests is None:
        rests = tuple(wrapped_rests(sheet)) if all_of_it else ()
    sheet.put_together(rests)
    return sheet, rests
