"""Takes off what a terminal, a forum or an editor put into a pasted dump: for reading only.

The file's text stays as it is. What is read is a repaired copy of its lines, each of which still
knows where in the file its stretches stand. A dump that shows no trace of pasting costs one quick
look at its text.
"""

from collections.abc import Sequence
from typing import NamedTuple

from cfgaudit.reading.pasted_sheet import Joints
from cfgaudit.reading.pasted_signs import looks_pasted, shows_echoes


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
    pasted, echoes = looks_pasted(lines, whole), shows_echoes(whole, prompts)
    if not (pasted or echoes):
        return None
    from cfgaudit.reading.pasted_mending import mended  # takes a while to load

    sheet = mended(lines, prompts, all_of_it=pasted)
    if not sheet.notes:
        return None
    made = tuple(Line(text, first, joints) for text, first, joints in sheet.read())
    return Repaired(made, tuple(sheet.notes))
