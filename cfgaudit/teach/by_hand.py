"""What somebody changed by hand in a dialect that was written from answers, kept through the next.

By lines: what was put in, taken out or typed otherwise goes into the new text beside the lines that
it stood beside.
"""

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import NamedTuple

from cfgaudit.dialects.checking import check_text
from cfgaudit.dialects.dialect import DialectError

_ALIKE = 0.7  # of two texts: less is no change by hand, but another dump's dialect


class HandEdit(NamedTuple):
    """Lines of the written text, by their indices, and what stands there in their place."""

    start: int
    stop: int
    lines: tuple[str, ...]


class HandEdits(NamedTuple):
    """The text as it was written, by lines, and what was changed in it since, in its order."""

    written: tuple[str, ...] = ()
    edits: tuple[HandEdit, ...] = ()

    def put_into(self, text: str) -> str:
        """A newly written text with the changes. Raises DialectError where it would be no dialect.

        What is taken out, and what stands in place of something, is so where the new text still
        has the lines; what is put in stands behind the line that it stood behind, or the last one
        before that which is still there.
        """
        if not self.edits:
            return text
        new = text.split("\n")
        at = dict(_matched(self.written, new))
        gone: set[int] = set()
        behind: dict[int, list[str]] = {}
        for edit in self.edits:
            before = next((at[n] for n in range(edit.start - 1, -1, -1) if n in at), -1)
            gone |= {at[n] for n in range(edit.start, edit.stop) if n in at}
            behind.setdefault(before, []).extend(edit.lines)
        made = [*behind.get(-1, [])]
        for number, line in enumerate(new):
            made += [] if number in gone else [line]
            made += behind.get(number, [])
        whole = "\n".join(made)
        known = {fault.message for fault in check_text(text)}
        new_fault = next((f for f in check_text(whole) if f.message not in known), None)
        if new_fault is not None:
            raise DialectError(f"line {new_fault.line}: {new_fault.message}")
        return whole


def by_hand(written: Sequence[str], found: Sequence[str]) -> HandEdits | None:
    """What was changed in a text since it was written; None where it is hardly that text."""
    matcher = SequenceMatcher(None, written, found, autojunk=False)
    if matcher.ratio() < _ALIKE:
        return None
    edits = [
        HandEdit(start, stop, tuple(found[first:last]))
        for kind, start, stop, first, last in matcher.get_opcodes()
        if kind != "equal"
    ]
    return HandEdits(tuple(written), tuple(edits))


def _matched(one: Sequence[str], other: Sequence[str]) -> Iterator[tuple[int, int]]:
    for start, first, count in SequenceMatcher(
        None, one, other, autojunk=False
    ).get_matching_blocks():
        yield from ((start + n, first + n) for n in range(count))
