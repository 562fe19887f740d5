"""What `bench` tells: the list as it stands, what was recorded of a step; screen and data."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import UTC
from itertools import groupby
from typing import Any, Final, NamedTuple

from cfgaudit.reports.data import head
from cfgaudit.reports.lines import files_json, typed_changes
from cfgaudit.reports.screen import NO_NAMES, Piece, Screen, also_called, named_in
from cfgaudit.reports.wording import sentence
from cfgaudit.rules.rule import listed as in_a_row
from cfgaudit.work.judging import Recorded, Undone
from cfgaudit.work.record import (
    BOXES,
    Listed,
    ListSection,
    RecordEntry,
    StepState,
    sections,
    waiting_for,
)

_STYLES: Final = {
    StepState.OPEN: "strong",
    StepState.DONE: "quiet",
    StepState.FAILED: "error",
    StepState.SHUT: "quiet",
}
_HANG: Final = 8
NO_PROOF: Final = "A list worked through is no proof that a craft is safe."


class BenchReport(NamedTuple):
    """The working list of a craft as it stands, and what has just become of a step of it."""

    name: str
    build: str
    dump: str | None
    record: str  # its file
    steps: Sequence[Listed]
    events: Sequence[Recorded | Undone] = ()
    only_left: bool = False  # just what is still to be done, in full where it is open
    also: Mapping[str, str] = NO_NAMES  # by port or pad what else it is called


def bench_screen(report: BenchReport, width: int) -> Screen:
    """The whole list; or what was recorded, or undone."""
    screen = Screen(width)
    for event in report.events:
        if isinstance(event, Recorded):
            _recorded_lines(screen, event, report.steps)
        else:
            _undone_lines(screen, event)
    if not report.events:
        _list_lines(screen, report)
        return screen
    opened = [event.opened for event in report.events if isinstance(event, Recorded)]
    if opened and opened[-1]:
        screen.say(f"Open now: {in_a_row(list(opened[-1]))}.")
    _standing(screen, report.steps)
    return screen


def _list_lines(screen: Screen, report: BenchReport) -> None:
    files = f"{report.build}, {report.dump}" if report.dump else report.build
    screen.say(f"{report.name} · {files}")
    screen.say(f"{standing_of(report.steps)}; kept in {report.record}")
    for section in sections(report.steps):
        _section(screen, section, report.also, only_left=report.only_left)
    _next(screen, report)


def standing_of(steps: Sequence[Listed]) -> str:
    """How many steps there are, and how they stand."""
    count = Counter(one.state for one in steps)
    parts = [f"{count[state]} {state.value}" for state in StepState if count[state]]
    return f"{len(steps)} steps: {', '.join(parts)}"


def _section(
    screen: Screen, section: ListSection, also: Mapping[str, str], *, only_left: bool
) -> None:
    steps = [one for one in section.steps if not (only_left and one.state is StepState.DONE)]
    if not steps:
        return
    screen.heading(section.title.upper())
    told: set[str] = set()
    for shut, some in groupby(steps, lambda one: only_left and waiting_for(one)):
        if shut:
            names = ", ".join(one.step.id for one in some)
            screen.paragraph(f"{names}: {shut}", label=BOXES[StepState.SHUT], indent=0, hang=4)
            continue
        for one in some:
            _head(screen, one, also)
            if one.state is not StepState.DONE:
                _body(screen, one, told)


def _head(screen: Screen, one: Listed, also: Mapping[str, str]) -> None:
    mark = ""
    if one.state is StepState.SHUT:
        before = one.entry is not None and one.step.ask.kind != "audit"
        mark = waiting_for(one) + (", though it was done before" if before else "")
    elif one.again:
        called = also_called([one.again], also).rstrip(".")
        mark = f"once more: {one.again}" + (f" ({called})" if called else "")
    elif one.entry is not None and one.step.ask.kind == "audit":
        mark = "worked out now"
    elif one.entry is not None:
        value = f"{one.entry.value}, " if one.entry.value else ""
        mark = f"{value}{one.entry.at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    head = Piece(f"{one.box} {one.step.id}", _STYLES[one.state])
    screen.beside(head, "  " if mark else "", mark, indent=4, style="quiet")


def _body(screen: Screen, one: Listed, told: set[str]) -> None:
    """What to do and to expect; a caution once in each section."""
    step = one.step
    screen.paragraph(step.do, label="Do", indent=4, hang=_HANG)
    screen.paragraph(step.expect, label="Expect", indent=4, hang=_HANG)
    if one.state is StepState.FAILED and one.entry is not None:
        screen.labelled("Failed", [sentence(one.entry.says)], indent=4, hang=_HANG)
    if step.ask.sample:
        screen.paragraph(f'--value "{step.ask.sample}"', label="Tell", indent=4, hang=_HANG)
    if step.caution and step.caution not in told:
        told.add(step.caution)
        screen.paragraph(step.caution, label="CARE", indent=4, hang=_HANG)


def _open(steps: Sequence[Listed]) -> list[Listed]:
    return [one for one in steps if one.state in (StepState.OPEN, StepState.FAILED)]


def _next(screen: Screen, report: BenchReport) -> None:
    screen.blank()
    now = _open(report.steps)
    if not now:
        screen.say(f"Every step is done. {NO_PROOF}")
        return
    first = now[0].step
    told = f' --value "{first.ask.sample}"' if first.ask.sample else ""
    screen.say(f"Next: {first.id}. Once it is so:")
    files = f"{report.build} {report.dump}" if report.dump else report.build
    screen.line(f"  cfgaudit bench {files} --done {first.id}{told}")
    screen.say("or with `--value no` where it is not; `--undo` takes it back.")


def _recorded_lines(screen: Screen, recorded: Recorded, steps: Sequence[Listed]) -> None:
    """What was recorded, what would put it right, and what can be done now."""
    step, verdict = recorded.step, recorded.verdict
    mine = next(one for one in steps if one.step.id == step.id)
    style = _STYLES[mine.state]
    screen.line(Piece(f"{mine.box} {step.id}  {'done' if verdict.passed else 'FAILED'}", style))
    screen.paragraph(sentence(verdict.says), indent=4)
    for one in recorded.settings:
        why = f"  (no line for it: {one.why_not})" if one.why_not else ""
        screen.paragraph(f"{one.path} = {one.value}{why}", indent=6)
    typed_changes(screen, recorded.changes, (), can_write=False)
    if recorded.settings:
        screen.blank()
        screen.say(f"Then read the dump anew, and do {step.id} once more with it.")
    screen.blank()
    shut = [one.step.id for one in steps if step.id in one.failed_before]
    if shut and not verdict.passed:
        what = "step stays" if len(shut) == 1 else "steps stay"
        screen.say(f"{len(shut)} {what} shut until {step.id} is done.")


def _undone_lines(screen: Screen, undone: Undone) -> None:
    """What was taken back, and what is shut again by that."""
    screen.line(Piece(f"{BOXES[StepState.OPEN]} {undone.step}  undone", "strong"))
    if undone.shut:
        count = len(undone.shut)
        what = "step is" if count == 1 else "steps are"
        screen.paragraph(
            f"{count} {what} shut again until it is done, and wanted once more then.", indent=4
        )
    screen.blank()


def _standing(screen: Screen, steps: Sequence[Listed]) -> None:
    """What comes next, and how far the list is."""
    now = _open(steps)
    if now:
        screen.say(f"Next: {now[0].step.id}. {standing_of(steps)}.")
    else:
        screen.say(f"Every step is done. {NO_PROOF}")


def bench_json(report: BenchReport) -> dict[str, Any]:
    """The whole list, and what was recorded by this call."""
    count = Counter(one.state for one in report.steps)
    recorded = [_recorded(event) for event in report.events if isinstance(event, Recorded)]
    return {
        **head(),
        "craft": report.name,
        "build": report.build,
        "dump": report.dump,
        "record": report.record,
        "counts": {state.value: count[state] for state in StepState},
        "sections": [
            {"title": section.title, "steps": [_step(one, report.also) for one in section.steps]}
            for section in sections(report.steps)
        ],
        "recorded": recorded[-1] if recorded else None,
        "all_recorded": recorded,
    }


def _step(one: Listed, also: Mapping[str, str]) -> dict[str, Any]:
    step = one.step
    return {
        "id": step.id,
        "state": one.state.value,
        "do": step.do,
        "expect": step.expect,
        "caution": step.caution or None,
        "after": list(step.after),
        "waits_for": list(one.waits_for),
        "failed_before": list(one.failed_before),
        "changed": bool(one.again),
        "again": one.again or None,
        "called": named_in([one.again, *step.proves], also),
        "proves": list(step.proves),
        "asks": {
            "kind": step.ask.kind,
            "unit": step.ask.unit or None,
            "low": step.ask.low,
            "high": step.ask.high,
            "sample": step.ask.sample or None,
        },
        "entry": None
        if one.entry is None
        else _entry(one.entry, worked_out=step.ask.kind == "audit"),
    }


def _entry(entry: RecordEntry, *, worked_out: bool) -> dict[str, Any]:
    at = entry.at.astimezone(UTC).replace(tzinfo=None, microsecond=0)
    return {
        "at": None if worked_out else f"{at.isoformat()}Z",
        "outcome": entry.outcome.value,
        "value": entry.value or None,
        "says": entry.says,
        "seen": entry.seen or None,
    }


def _recorded(recorded: Recorded) -> dict[str, Any]:
    return {
        "step": recorded.step.id,
        "passed": recorded.verdict.passed,
        "says": recorded.verdict.says,
        "settings": [
            {"path": one.path, "value": one.value, "why_not": one.why_not or None}
            for one in recorded.settings
        ],
        "files": files_json(recorded.changes, ()),
        "opened": list(recorded.opened),
    }
