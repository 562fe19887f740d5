"""Takes off what a terminal, a forum or an editor put into a pasted dump: for reading only.

The file's text stays as it is. What is read is a repaired copy of its lines, each of which still
knows where in the file its stretches stand. A dump that shows no trace of pasting costs one quick
look at its text.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from cfgaudit.reading.pasted_letters import ODD_LETTERS, mend_letters
from cfgaudit.reading.pasted_lines import (
    looks_indented,
    looks_numbered,
    looks_quoted,
    pass_over_echoes,
    pass_over_fences,
    strip_indentation,
    strip_numbers,
    strip_quoting,
)
from cfgaudit.reading.pasted_sheet import Joints, Sheet
from cfgaudit.reading.pasted_wraps import join_wrapped, may_be_wrapped

_ECHO = re.compile(
    r"^(?:[\w.-]+@[\w.-]+[: ]|\(hidden\)[: ]|\$ |[A-Za-z][\w-]{0,30}>(?:[ \t]|$))", re.MULTILINE
)


class Line(NamedTuple):
    """A line as it is read. `joints` is empty where it is the file's own line, as it stands.

    Else it lists (index in `text`, line index, column index) for each of its stretches.
    """

    text: str
    first: int  # the index of its first line in the file
    joints: Joints = ()


class Repaired(NamedTuple):
    """The lines to read in place of a pasted text's own, and what was done, in plain words."""

    lines: tuple[Line, ...]
    notes: tuple[str, ...]


def repaired(lines: Sequence[str], prompts: Sequence[str] = ()) -> Repaired | None:
    """What to read in place of these lines; None where they show no trace of pasting.

    `prompts` are those that the dialect itself takes off.
    """
    whole = "\n".join(lines)
    pasted, echoes = _looks_pasted(lines, whole), _shows_echoes(whole, prompts)
    if not (pasted or echoes):
        return None
    sheet = Sheet(lines)
    if pasted:
        mend_letters(sheet)
        strip_quoting(sheet)
        strip_numbers(sheet)
        strip_quoting(sheet)  # a quotation that was numbered
        pass_over_fences(sheet)
        strip_indentation(sheet)
    pass_over_echoes(sheet, prompts)
    if pasted:
        join_wrapped(sheet)
    if not sheet.notes:
        return None
    made = tuple(Line(text, first, joints) for text, first, joints in sheet.read())
    return Repaired(made, tuple(sheet.notes))


def _looks_pasted(lines: Sequence[str], whole: str) -> bool:
    """Whether there is any trace but a prompt, at the cost of a few searches over the text."""
    if "\x1b" in whole or "^[[" in whole or "[0m" in whole:
        return True
    if not whole.isascii() and ODD_LETTERS.search(whole) is not None:
        return True
    if ("\n>" in whole or whole[:1] == ">") and looks_quoted(lines):
        return True
    if "```" in whole or "[/" in whole:
        return True
    if looks_numbered(lines) or looks_indented(lines):
        return True
    return may_be_wrapped(lines, whole)


def _shows_echoes(whole: str, prompts: Sequence[str]) -> bool:
    """Whether prompts are there that the dialect does not take off itself."""
    ends = whole.count("> ") + whole.count(">\n") + whole.endswith(">")
    if "@" not in whole and "$ " not in whole and ends < 2:
        return False
    found = [match.group() for match in _ECHO.finditer(whole)]
    own = tuple(prompts) or "\0"
    return sum(not echo.rstrip().endswith(own) for echo in found) > ("$ " not in whole)
