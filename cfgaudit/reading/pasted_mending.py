"""Every repair of a pasted text, in the order in which they build on each other."""

from collections.abc import Sequence

from cfgaudit.reading.pasted_letters import mend_letters
from cfgaudit.reading.pasted_lines import (
    pass_over_echoes,
    pass_over_fences,
    strip_indentation,
    strip_numbers,
    strip_quoting,
)
from cfgaudit.reading.pasted_sheet import Sheet
from cfgaudit.reading.pasted_wraps import join_wrapped


def mended(lines: Sequence[str], prompts: Sequence[str], *, all_of_it: bool) -> Sheet:
    """The lines with every repair done; only prompts are passed over unless `all_of_it`."""
    sheet = Sheet(lines)
    if all_of_it:
        mend_letters(sheet)
        strip_quoting(sheet)
        strip_numbers(sheet)
        strip_quoting(sheet)  # a quotation that was numbered
        pass_over_fences(sheet)
        strip_indentation(sheet)
    pass_over_echoes(sheet, prompts)
    if all_of_it:
        join_wrapped(sheet)
    return sheet
