"""A setting that a judged step asks for, as the dump can write it: rounded to its own steps."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from cfgaudit.bench.judging import Verdict
from cfgaudit.bench.steps import steps_of
from cfgaudit.bench.work import Step
from cfgaudit.craft.kinds import value_text
from cfgaudit.craft.spelling import beyond_limits
from cfgaudit.craft.vocabulary import declared
from cfgaudit.dialects.joint_edit import Dumps, edit_dumps
from cfgaudit.dialects.saying import LineChange, line_changes

_DIGITS: Final = Fraction(1, 1000)  # where the dump counts in no steps of its own


class PutRight(NamedTuple):
    """One setting's new value as text, or why it can't be."""

    path: str
    value: str
    why_not: str = ""


class Recorded(NamedTuple):
    """What was recorded of a step, and what would put it right.

    `opened` are the steps that are no longer shut, now that this one is done.
    """

    step: Step
    verdict: Verdict
    settings: tuple[PutRight, ...]
    changes: tuple[LineChange, ...]
    opened: tuple[str, ...]


class Undone(NamedTuple):
    """What was taken back of a step, and the steps that are shut again by that."""

    step: str
    shut: tuple[str, ...]


def put_right(
    dumps: Dumps, sets: Sequence[tuple[str, float]]
) -> tuple[tuple[PutRight, ...], tuple[LineChange, ...]]:
    """The settings as they would be written, and the lines of the dumps that change."""
    steps = _steps(dumps)
    wanted: dict[str, float] = {}
    found: list[PutRight] = []
    for path, value in sets:
        entry = declared(path)
        assert entry is not None  # as the list took it from the vocabulary
        new = _rounded(value, *steps.get(path, (_DIGITS, Fraction(0))))
        why = beyond_limits(entry.kind, new)
        found.append(PutRight(path, value_text(entry.kind, new), why))
        if not why:
            wanted[path] = new
    if not dumps or not wanted:
        return tuple(found), ()
    after, refused = edit_dumps(dumps, wanted)
    told = tuple(one._replace(why_not=one.why_not or refused.get(one.path, "")) for one in found)
    return told, line_changes(dumps, after)


def _steps(dumps: Dumps) -> dict[str, tuple[Fraction, Fraction]]:
    """The size of a setting's steps and where their count begins, by path."""
    return {
        path: (step.size, step.start)
        for dump in dumps
        for path, several in steps_of(dump).items()
        for step in several
        if not step.part
    }


def _rounded(value: float, size: Fraction, start: Fraction) -> float:
    """The nearest value on a step.

    >>> _rounded(26.418, Fraction(1, 10), Fraction(0))
    26.4
    """
    return float(round((Fraction(str(value)) - start) / size) * size + start)
