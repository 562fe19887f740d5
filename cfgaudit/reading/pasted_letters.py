"""Letters that a terminal or an editor put in place of plain ones, or between them."""

import re
from collections.abc import Iterator

from cfgaudit.reading.pasted_sheet import Sheet

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


def mend_letters(sheet: Sheet) -> None:
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


def _cut_all(sheet: Sheet, pattern: re.Pattern[str], one: str, many: str) -> None:
    count = 0
    for index, line in sheet.short():
        for match in reversed(list(_outside(line, pattern))):
            sheet.cut(index, match.start(), match.end())
            count += 1
    sheet.note(count, one, many)


def _cut_bare_codes(sheet: Sheet) -> None:
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


def _set_spaces(sheet: Sheet) -> None:
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


def _set_quotes(sheet: Sheet) -> None:
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


def _set_dashes(sheet: Sheet) -> None:
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
