"""The working list of `cfgaudit bench`: shown, and its steps recorded in a file beside the sheet.

The record is read and added to by one run at a time, so that none is lost.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Final, NamedTuple

import click

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.cli import InputError, Refusing, did_you_mean, reason_of
from cfgaudit.cli.auditing import audited, rules_of
from cfgaudit.cli.files import locking, write_atomically
from cfgaudit.cli.inputs import Inputs, open_sheet
from cfgaudit.cli.options import JudgedBy, ReadBy
from cfgaudit.cli.output import Output
from cfgaudit.craft.sheet import record_name
from cfgaudit.dialects.editor import Dumps
from cfgaudit.dialects.opening import joined
from cfgaudit.reading.text import bounded_bytes
from cfgaudit.reports.bench import BenchReport, bench_json, bench_screen
from cfgaudit.reports.wording import counted
from cfgaudit.rules.rule import Level, first_of
from cfgaudit.settings import Settings
from cfgaudit.work.judging import BadAnswer, Judgement, Recorded, Undone, judge, put_right
from cfgaudit.work.record import (
    Listed,
    RecordEntry,
    RecordError,
    StepOutcome,
    StepState,
    latest,
    progress,
    read_record,
    waiting_for,
    with_entry,
    working_list,
)
from cfgaudit.work.steps import BenchStep, known_of
from cfgaudit.work.steps_flight import arms_of

AUDIT: Final = "audit"  # the step that no hand ticks
_NAMED: Final = 5  # rules of it that are named


class Bench(NamedTuple):
    """A craft at the bench: its files, its list, its record's file, its dumps."""

    build: str
    dump: str | None
    name: str
    steps: tuple[BenchStep, ...]
    arms: tuple[str, ...]
    record: Path
    dumps: Dumps
    found: Mapping[str, Judgement]  # of the steps that are worked out
    judge: Callable[[Settings], Audit]
    also: Mapping[str, str]  # by port or pad what else it is called

    def step(self, wanted: str) -> BenchStep:
        """One step by its id. Raises UsageError with a near miss."""
        for step in self.steps:
            if step.id == wanted:
                return step
        hint = did_you_mean(wanted, [step.id for step in self.steps])
        hint = hint or " `cfgaudit bench` lists them."
        raise click.UsageError(f"There is no step {wanted!r} in this list.{hint}")

    def listed(self, entries: Sequence[RecordEntry]) -> tuple[Listed, ...]:
        """The list as it stands."""
        return progress(self.steps, entries, self.found, has_dump=self.dump is not None)


def open_bench(build: str, dump: str | None, reading: ReadBy) -> Bench:
    """Read sheet and dumps, and make the list. Raises InputError, UsageError."""
    if build == "-":
        raise click.UsageError("the build sheet must be a file: the record is kept beside it")
    stated = _sheet(build)
    inputs = Inputs(reading)
    dumps = inputs.open_each(dump, reading.extra) if dump is not None else ()
    settings = joined(dumps) if dumps else None
    if settings is not None and not len(settings):
        raise InputError(f"{dump}: no dialect knows this dump, so it tells nothing")
    also = inputs.other_names(stated)
    known = known_of(settings, stated, also)
    name = known.told(lambda: known.sheet.who.name, lambda: known.craft.who.name)
    return Bench(
        build,
        dump,
        name or Path(build).name,
        working_list(known),
        tuple(one.arm for one in arms_of(known)),
        Path(record_name(build)),
        dumps,
        {}
        if dump is None or settings is None
        else {AUDIT: _audited(inputs, dump, settings, stated)},
        lambda settings: audit(settings, *rules_of(inputs, dump or build), stated),
        also,
    )


def _audited(inputs: Inputs, dump: str, settings: Settings, sheet: Settings) -> Judgement:
    """How the step stands that no hand ticks: whether `check` finds no error."""
    judged = audited(inputs, (dump,), (settings,), JudgedBy(), sheets=(sheet,), tell=False)[0]
    errors = [finding for finding in judged.findings if finding.level is Level.ERROR]
    if not errors:
        return Judgement(True, "no error is left")
    rules = list(dict.fromkeys(finding.rule.id for finding in errors))
    return Judgement(False, f"{counted(len(errors), 'error')}: {first_of(rules, _NAMED)}")


def _sheet(build: str) -> Settings:
    """What the build sheet states. Raises InputError, which says if it looks like a dump."""
    try:
        return open_sheet(build)
    except InputError as error:
        if Path(build).suffix == ".toml" or not Path(build).is_file():
            raise
        first = "the build sheet comes first: cfgaudit bench BUILD [DUMP]; --new writes one"
        raise InputError(*error.lines, first) from None


def show_list(bench: Bench, out: Output, *, only_left: bool) -> int:
    """Print the list."""
    _put(bench, bench.listed(_OpenRecord(bench.record).entries), (), out, only_left=only_left)
    return 0


class DoneStep(NamedTuple):
    """That a step is done: what was measured, and what was seen besides."""

    step: str
    value: str
    seen: str = ""


def record_steps(bench: Bench, told: Sequence[DoneStep], at: datetime, out: Output) -> int:
    """Judge and record steps: 0 where all passed, 1 where one failed. Raises InputError.

    Where one can't be recorded none is.
    """
    with _recording(bench.record) as record:
        begin = bench.listed(record.entries)
        made: list[tuple[BenchStep, Judgement]] = []
        added: list[RecordEntry] = []
        for one in told:
            step = bench.step(one.step)
            if step.id == AUDIT:
                raise InputError(
                    "audit is worked out anew each time, and never ticked: it is done once "
                    "`cfgaudit check DUMP --build BUILD` finds no error"
                )
            with Refusing(BadAnswer):
                verdict = judge(step, one.value, bench.arms)
            now = bench.listed((*record.entries, *added))
            mine = next(entry for entry in now if entry.step.id == step.id)
            if mine.state is StepState.SHUT:
                why = waiting_for(mine)
                raise InputError(f"{step.id} is not open yet: {why}; nothing was recorded")
            outcome = StepOutcome.DONE if verdict.passed else StepOutcome.FAILED
            added.append(
                RecordEntry(
                    step.id, at, outcome, one.value.strip(), verdict.says, one.seen.strip(),
                    step.proves,
                )
            )  # fmt: skip
            made.append((step, verdict))
        record.add(added)
        after = bench.listed(record.entries)
    done = {one.step.id for one in after if one.state is StepState.DONE}
    opened = tuple(step for step in _opened(begin, after) if step not in done)
    events = [
        Recorded(step, verdict, *put_right(bench.dumps, verdict.sets, bench.judge), opened)
        for step, verdict in made
    ]
    _put(bench, after, events, out)
    return int(not all(verdict.passed for _, verdict in made))


def undo_step(bench: Bench, wanted: str, at: datetime, out: Output) -> int:
    """Record that what was recorded of a step no longer counts. Raises InputError."""
    known = {step.id for step in bench.steps}
    with _recording(bench.record) as record:
        kept = latest(record.entries).get(wanted)
        if kept is None or kept.entry is None:
            if wanted not in known:
                bench.step(wanted)
            raise InputError(f"{wanted} was not recorded, so there is nothing to undo")
        before = bench.listed(record.entries)
        record.add([RecordEntry(wanted, at, StepOutcome.UNDONE)])
        after = bench.listed(record.entries)
    _put(bench, after, [Undone(wanted, _opened(after, before))], out)
    return 0


def _opened(before: Sequence[Listed], after: Sequence[Listed]) -> tuple[str, ...]:
    return tuple(
        new.step.id
        for old, new in zip(before, after, strict=True)
        if old.state is StepState.SHUT and new.state is not StepState.SHUT
    )


def _put(
    bench: Bench,
    listed: Sequence[Listed],
    events: Sequence[Recorded | Undone],
    out: Output,
    *,
    only_left: bool = False,
) -> None:
    """Tell the list, or what was recorded, or what was undone and is shut again by that."""
    report = BenchReport(
        bench.name,
        bench.build,
        bench.dump,
        str(bench.record),
        listed,
        events,
        only_left,
        bench.also,
    )
    if out.form == "html":
        from cfgaudit.reports.html import bench_html  # a screen has no use for templates

        out.put_text(bench_html(report))
    else:
        told = out.form == "terminal" and not events  # each step of the list has it beside
        also = None if told else lambda: bench.also
        out.put(lambda width: bench_screen(report, width), lambda: bench_json(report), also)


class _OpenRecord:
    """What is recorded, and can be added to; what stands in the file is kept byte for byte.

    Nothing where there is no file. Raises InputError.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        try:
            self._was = bounded_bytes(path) if path.exists() else None
            self._text = (self._was or b"").decode("utf-8")
            self.entries = read_record(self._text)
        except UnicodeDecodeError:
            raise InputError(f"{path} is not UTF-8 text") from None
        except OSError as error:
            raise InputError(f"{path} can't be read: {reason_of(error)}") from None
        except RecordError as error:
            raise InputError(f"{path} {error}") from None

    def add(self, more: Sequence[RecordEntry]) -> None:
        """Write more entries, the file whole or not at all. Raises InputError."""
        for entry in more:
            self._text = with_entry(self._text, entry)
        self.entries = (*self.entries, *more)
        data = self._text.encode("utf-8")
        write_atomically(self._path, data, was=self._was, locked=True)
        self._was = data


@contextmanager
def _recording(path: Path) -> Iterator[_OpenRecord]:
    """The record while nobody else can add to it, waiting for whoever does. Raises InputError."""
    try:
        with locking(path.resolve().parent):
            yield _OpenRecord(path)
    except OSError as error:
        raise InputError(f"{path} can't be locked: {reason_of(error)}") from None
