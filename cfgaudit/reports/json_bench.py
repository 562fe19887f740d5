"""Machine output, version 1: the JSON of bench's working list."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC
from typing import Any

from cfgaudit import __version__
from cfgaudit.reports.json_lines import files_json
from cfgaudit.reports.json_report import VERSION
from cfgaudit.work.judging import Recorded
from cfgaudit.work.record import Listed, RecordEntry, StepState, sections


def bench_json(
    names: tuple[str, str, str | None, str], steps: Sequence[Listed], recorded: Recorded | None
) -> dict[str, Any]:
    """The whole list, and what was recorded by this call; `names` as on the screen."""
    name, build, dump, record = names
    count = Counter(one.state for one in steps)
    return {
        "version": VERSION,
        "tool": f"cfgaudit {__version__}",
        "craft": name,
        "build": build,
        "dump": dump,
        "record": record,
        "counts": {state.value: count[state] for state in StepState},
        "sections": [
            {"title": section.title, "steps": [_step(one) for one in section.steps]}
            for section in sections(steps)
        ],
        "recorded": None if recorded is None else _recorded(recorded),
    }


def _step(one: Listed) -> dict[str, Any]:
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
        "changed": one.changed,
        "asks": {
            "kind": step.ask.kind,
            "unit": step.ask.unit or None,
            "low": step.ask.low,
            "high": step.ask.high,
            "sample": step.ask.sample or None,
        },
        "entry": None if one.entry is None else _entry(one.entry),
    }


def _entry(entry: RecordEntry) -> dict[str, Any]:
    at = entry.at.astimezone(UTC).replace(tzinfo=None, microsecond=0)
    return {
        "at": f"{at.isoformat()}Z",
        "outcome": entry.outcome.value,
        "value": entry.value or None,
        "says": entry.says,
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
