"""What stands in front of a pasted dump's lines or between them: quoting, numbers, prompts."""

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from cfgaudit.reading.pasted_sheet import Sheet
from cfgaudit.reading.pasted_signs import NUMBER, QUOTE
from cfgaudit.reading.shapes import Assignment, Closer, Comment, Opener, Section
from cfgaudit.reading.statements import parse_line

_QUOTE, _NUMBER = re.compile(QUOTE), re.compile(NUMBER)
_SHELL = re.compile(r"(?:[\w.-]{1,40}@[\w.-]{1,60}|\(hidden\))[: ][^$#%]{0,80}[$#%](?=[ \t]|$)")
_BARE_SHELL = re.compile(r"\$ [A-Za-z./]")
_DEVICE = re.compile(r"([A-Za-z][\w-]{0,30}>)(?:[ \t]+([A-Za-z][A-Za-z _-]*))?[ \t]*$")
_FENCE = re.compile(r"[ \t]*(?:```[\w-]*|\[/?(?:code|quote|pre)\])[ \t]*$", re.IGNORECASE)
_STARTS_STATEMENT = re.compile(r"[A-Za-z_\[<#;/}{%\-]")

_OWN = Assignment | Section | Comment | Opener | Closer

_FEWEST = 8  # lines that must bear a mark before it is taken for one


def strip_indentation(sheet: Sheet) -> None:
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


def strip_quoting(sheet: Sheet) -> None:
    """Take off the marks of quoted lines, where most lines have them."""
    found = [(index, _QUOTE.match(line)) for index, line in sheet.short()]
    marked = [(index, match) for index, match in found if match is not None]
    filled = sum(bool(line.strip()) for line in sheet.lines)
    if len(marked) < _FEWEST or len(marked) * 2 <= filled:
        return
    for index, match in marked:
        sheet.cut(index, 0, match.end())
    sheet.note(len(marked), "", "the quoting marks of {} lines were taken off")


def strip_numbers(sheet: Sheet) -> None:
    """Take off line numbers: a number in front of nearly every line, each one more."""
    found = [(index, _NUMBER.match(line)) for index, line in sheet.short()]
    numbered = [(index, match) for index, match in found if match is not None]
    if not _are_line_numbers(numbered, sheet):
        return
    for index, match in numbered:
        sheet.cut(index, 0, match.end())
    sheet.note(len(numbered), "", "{} line numbers were taken off")


def _are_line_numbers(numbered: Sequence[tuple[int, re.Match[str]]], sheet: Sheet) -> bool:
    """Whether numbers count lines, and what stands behind them are statements of their own.

    A table whose first column counts is told from it by what stands behind: words and values,
    and no statement of a shape that stands alone.
    """
    filled = sum(bool(line.strip()) for line in sheet.lines)
    if len(numbered) < _FEWEST or len(numbered) * 10 < filled * 9:
        return False
    counts = [int(match.group(1)) for _, match in numbered]
    steps = sum(later == before + 1 for before, later in pairwise(counts))
    if steps * 20 < (len(counts) - 1) * 19:
        return False
    rests = [sheet.lines[index][match.end() :].strip() for index, match in numbered]
    said = [rest for rest in rests if rest]
    starts = sum(_STARTS_STATEMENT.match(rest) is not None for rest in said)
    own = len(said) < len(rests) or any(isinstance(parse_line(rest), _OWN) for rest in said)
    return own and starts * 10 >= len(said) * 7


def pass_over_fences(sheet: Sheet) -> None:
    """Read the marks around a piece of text in a forum as blank lines, where there are two."""
    found = [index for index, line in sheet.short() if _FENCE.match(line)]
    closing = any("/" in sheet.lines[index] or "`" in sheet.lines[index] for index in found)
    if len(found) < 2 or not closing:
        return
    for index in found:
        sheet.pass_over(index)
    sheet.note(len(found), "", "{} marks around the text were passed over")


def pass_over_echoes(sheet: Sheet, prompts: Sequence[str]) -> None:
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


def _with_commands(sheet: Sheet) -> list[int]:
    """Lines of a nameless prompt, `$ `, where a text begins or ends with one."""
    filled = [index for index, line in sheet.short() if line.strip()]
    edges = {*filled[:1], *filled[-1:]}
    found = [
        i for i in filled if _BARE_SHELL.match(sheet.lines[i]) or sheet.lines[i].strip() == "$"
    ]
    return found if edges & set(found) else []
