"""The working list of the bench as a page of its own, to be printed and ticked."""

from collections.abc import Sequence
from typing import Final

from cfgaudit.reports.html import list_html
from cfgaudit.reports.html_view import Step, WorkingList
from cfgaudit.work.record import Listed, StepState, sections

_CAUTION: Final = (
    "Propellers off until the list says on. Antenna on before the video transmitter has power. "
    "Local rules and licensed practice go before this list; it is no proof that a craft is safe."
)


def bench_html(name: str, listed: Sequence[Listed], *, only_left: bool) -> str:
    """The whole list, or only what is left of it, under the heads of its sections."""
    steps = tuple(
        _step(section.title, one)
        for section in sections(listed)
        for one in section.steps
        if not (only_left and one.state is StepState.DONE)
    )
    return list_html(name, WorkingList("At the bench", steps, _CAUTION))


def _step(part: str, one: Listed) -> Step:
    step = one.step
    done = one.state is StepState.DONE
    told = [f"Expect: {step.expect}"] if step.expect else []
    if one.entry is not None and one.state in (StepState.DONE, StepState.FAILED):
        value = f" {one.entry.value}" if one.entry.value else ""
        told.append(f"{'Done' if done else 'Failed'}:{value or ' recorded'}.")
    return Step(f"{step.do} ({step.id})", " ".join(told), done, part, step.caution)
