"""The screens of `bench`: the working list as it stands, and what was recorded of one step."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC
from itertools import groupby
from typing import Final

from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_lines import change_lines
from cfgaudit.rules.rule import listed as in_a_row
from cfgaudit.work.judging import Recorded, Undone
from cfgaudit.work.record import BOXES, Listed, ListSection, StepState, sections, waiting_for

_STYLES: Final = {
    StepState.OPEN: "strong",
    StepState.DONE: "quiet",
    StepState.FAILED: "error",
    StepState.SHUT: "quiet",
}
_HANG: Final = 8
Names = tuple[str, str, str | None, str]  # craft, build sheet, dump, record

NO_PROOF: Final = "A list worked through is no proof that a craft is safe."


def list_screen(screen: Screen, names: Names, steps: Sequence[Listed], *, only_left: bool) -> None:
    """The whole list; with `only_left` just what is still to be done, in full where it is open."""
    name, build, dump, record = names
    screen.paragraph(f"{name} · {build}{f', {dump}' if dump else ''}", indent=0)
    screen.paragraph(f"{counted(steps)}; kept in {record}", indent=0)
    for section in sections(steps):
        _section(screen, section, only_left=only_left)
    _next(screen, names, steps)


def counted(steps: Sequence[Listed]) -> str:
    """How many steps there are, and how they stand."""
    count = Counter(one.state for one in steps)
    parts = [f"{count[state]} {state.value}" for state in StepState if count[state]]
    return f"{len(steps)} steps: {', '.join(parts)}"


def _section(screen: Screen, section: ListSection, *, only_left: bool) -> None:
    steps = [one for one in section.steps if not (only_left and one.state is StepState.DONE)]
    if not steps:
        return
    screen.blank()
    screen.line(Piece(section.title.upper(), "strong"))
    told: set[str] = set()
    for shut, some in groupby(steps, lambda one: only_left and waiting_for(one)):
        if shut:
            names = ", ".join(one.step.id for one in some)
            screen.paragraph(f"{names}: {shut}", label=BOXES[StepState.SHUT], indent=0, hang=4)
            continue
        for one in some:
            _head(screen, one)
            if one.state is not StepState.DONE:
                _body(screen, one, told)


def _head(screen: Screen, one: Listed) -> None:
    mark = ""
    if one.state is StepState.SHUT:
        mark = waiting_for(one) + (", though it was done before" if one.entry else "")
    elif one.changed:
        mark = "once more: what it was judged by has changed"
    elif one.entry is not None:
        value = f"{one.entry.value}, " if one.entry.value else ""
        mark = f"{value}{one.entry.at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    head = Piece(f"{one.box} {one.step.id}", _STYLES[one.state])
    screen.line(head, Piece(f"  {mark}" if mark else "", "quiet"))


def _body(screen: Screen, one: Listed, told: set[str]) -> None:
    """What to do and to expect; a caution once in each section."""
    step = one.step
    screen.paragraph(step.do, label="Do", indent=4, hang=_HANG)
    screen.paragraph(step.expect, label="Expect", indent=4, hang=_HANG)
    if one.state is StepState.FAILED and one.entry is not None:
        says = f"{one.entry.says[:1].upper()}{one.entry.says[1:]}."
        screen.paragraph(says, label="Failed", indent=4, hang=_HANG)
    if step.ask.sample:
        screen.paragraph(f'--value "{step.ask.sample}"', label="Tell", indent=4, hang=_HANG)
    if step.caution and step.caution not in told:
        told.add(step.caution)
        screen.paragraph(step.caution, label="CARE", indent=4, hang=_HANG)


def _next(screen: Screen, names: Names, steps: Sequence[Listed]) -> None:
    screen.blank()
    _, build, dump, _ = names
    now = [one for one in steps if one.state in (StepState.OPEN, StepState.FAILED)]
    if not now:
        screen.paragraph(f"Every step is done. {NO_PROOF}", indent=0)
        return
    first = now[0].step
    told = f' --value "{first.ask.sample}"' if first.ask.sample else ""
    screen.paragraph(f"Next: {first.id}. Once it is so:", indent=0)
    files = f"{build} {dump}" if dump else build
    screen.line(f"  cfgaudit bench {files} --done {first.id}{told}")
    screen.paragraph("or with `--value no` where it is not; `--undo` takes it back.", indent=0)


def recorded_screen(screen: Screen, recorded: Recorded, steps: Sequence[Listed]) -> None:
    """What was recorded, what would put it right, and what can be done now."""
    step, verdict = recorded.step, recorded.verdict
    mine = next(one for one in steps if one.step.id == step.id)
    style = _STYLES[mine.state]
    says = f"{verdict.says[:1].upper()}{verdict.says[1:]}"
    screen.line(Piece(f"{mine.box} {step.id}  {'done' if verdict.passed else 'FAILED'}", style))
    screen.paragraph(f"{says}.", indent=4)
    for one in recorded.settings:
        why = f"  (can't be written: {one.why_not})" if one.why_not else ""
        screen.paragraph(f"{one.path} = {one.value}{why}", indent=6)
    change_lines(screen, recorded.changes, (), can_write=False)
    if recorded.settings:
        screen.blank()
        screen.paragraph(f"Then read the dump anew, and do {step.id} once more with it.", indent=0)
    screen.blank()
    shut = [one.step.id for one in steps if step.id in one.failed_before]
    if shut and not verdict.passed:
        what = "step stays" if len(shut) == 1 else "steps stay"
        screen.paragraph(f"{len(shut)} {what} shut until {step.id} is done.", indent=0)
    if recorded.opened:
        screen.paragraph(f"Open now: {in_a_row(list(recorded.opened))}.", indent=0)
    _standing(screen, steps)


def undone_screen(screen: Screen, undone: Undone, steps: Sequence[Listed]) -> None:
    """What was taken back, and what is shut again by that."""
    screen.line(Piece(f"{BOXES[StepState.OPEN]} {undone.step}  undone", "strong"))
    if undone.shut:
        count = len(undone.shut)
        what = "step is" if count == 1 else "steps are"
        screen.paragraph(f"{count} {what} shut again until it is done.", indent=4)
    screen.blank()
    _standing(screen, steps)


def _standing(screen: Screen, steps: Sequence[Listed]) -> None:
    """What comes next, and how far the list is."""
    now = [one for one in steps if one.state in (StepState.OPEN, StepState.FAILED)]
    if now:
        screen.paragraph(f"Next: {now[0].step.id}. {counted(steps)}.", indent=0)
    else:
        screen.paragraph(f"Every step is done. {NO_PROOF}", indent=0)
